"""The training sound: speech synthesized on all cores, then rooms, masks and noise added on one device.

It turns `TeachingUtterance`s into a `SpeechBatch`, all of them in one tensor; `Surroundings` makes batches
from it with the same words twice, alone and as the chair hears them. Voices, rooms, filters and noises are
the benchmark's, from seeds that the benchmark never uses. It knows nothing of words.
"""

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import soundfile
import soxr
import torch
from numpy.typing import NDArray
from torch import Tensor

from listen.adapt.data import TeachingUtterance
from listen.bench.clips import without_silence
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.neural.engine import LEVEL
from listen.speech import noise, programs, voices

ACTIVE_DB = -26.0
"""Active speech level (ITU-T P.56) of every utterance as it is stored."""
_ACTIVE_RMS = 10.0 ** (ACTIVE_DB / 20.0)
LONGEST_S = 6.5
_FFT = 1 << 17
PAD_S = (0.1, 0.5)
NOISE_S = 10.0
ROOMS = 256
MURMURS = 15
"""Sentences from each speaker that babble is mixed from."""

LEVELS_DB = (None, 30.0, 20.0, 15.0, 10.0, 5.0, 0.0, -3.0)
LEVEL_SHARES = (0.14, 0.05, 0.11, 0.12, 0.19, 0.19, 0.14, 0.06)
LEVEL_JITTER_DB = 2.0
ROOM_SHARE, FILTER_SHARE, COLOUR_DB = 0.6, 0.3, 3.0


_Maker = Callable[[int, np.random.Generator], Samples]

# ---------------------------------------------------------------- speech


@dataclass(frozen=True)
class SpeechBatch:
    """Utterances one after the other. sound: shape = (all samples,), int16; starts, lengths: shape = (n,)."""

    sound: Tensor
    starts: NDArray[np.int64]
    lengths: NDArray[np.int64]
    speakers: tuple[str, ...]


def speak_all(said: Sequence[TeachingUtterance], jobs: int) -> list[NDArray[np.int16]]:
    """Every utterance, shape = (n,) each, without silence around it; empty where a program made nothing
    or something longer than `LONGEST_S`."""
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(_spoken, said, chunksize=32))


def gathered(
    said: Sequence[TeachingUtterance], spoken: Sequence[NDArray[np.int16]], device: torch.device
) -> SpeechBatch:
    """Put utterances into one tensor on the device."""
    lengths = np.array([len(one) for one in spoken], np.int64)
    return SpeechBatch(
        torch.from_numpy(np.concatenate(spoken)).to(device),
        np.cumsum(lengths) - lengths,
        lengths,
        tuple(voices.voice(one.voice).speaker for one in said),
    )


def _spoken(one: TeachingUtterance) -> NDArray[np.int16]:
    try:
        samples = without_silence(_pronounced(one))
    except voices.VoiceFailed:
        return np.zeros(0, np.int16)
    level = noise.speech_level(samples).active_db
    if level <= noise.LOWEST_DB or len(samples) > LONGEST_S * SAMPLE_RATE_HZ:
        return np.zeros(0, np.int16)
    wave = samples * 10.0 ** ((ACTIVE_DB - level) / 20.0) * 32_768.0
    return np.clip(np.round(wave), -32_768, 32_767).astype(np.int16)


def _pronounced(one: TeachingUtterance) -> Samples:
    """A shorter tract is played faster, which moves the formants up; pace and pitch are set to compensate."""
    voice = voices.voice(one.voice)
    pace = one.rate * one.vocal_tract
    if voice.family == "flite":
        samples = _flite(voice.setting, one.text, pace, 2.0 ** (one.pitch / 12.0) * one.vocal_tract)
    else:
        samples = voices.synthesize(voice, one.text, 1.0 if voice.setting.endswith("_hts") else pace)
    stretched: Samples = soxr.resample(samples, SAMPLE_RATE_HZ, SAMPLE_RATE_HZ * one.vocal_tract)
    return stretched.astype(np.float32)


def _flite(setting: str, text: str, rate: float, pitch: float) -> Samples:
    """flite can move its pitch itself, which costs nothing; `pitch` is a factor."""
    with tempfile.TemporaryDirectory() as folder:
        out = str(Path(folder) / "speech.wav")
        changes = ["--setf", f"duration_stretch={1.0 / rate:.4f}", "--setf", f"f0_shift={pitch:.4f}"]
        command = ["flite", "-voice", setting, *changes, "-t", text, "-o", out]
        try:
            subprocess.run(command, capture_output=True, timeout=programs.RUN_LIMIT_S, check=True)
        except (subprocess.SubprocessError, OSError) as error:
            raise voices.VoiceFailed(f"flite failed on {text!r}: {error}") from error
        samples, _ = soundfile.read(out, dtype="float32")
        return np.asarray(samples, np.float32)


# ---------------------------------------------------------------- noise


def noise_pool(
    said: Sequence[TeachingUtterance], spoken: Sequence[NDArray[np.int16]], pieces: int, jobs: int
) -> dict[str, NDArray[np.float32]]:
    """Noises by kind, shape = (pieces, `NOISE_S`); "babble SPEAKER" is murmured by other recorded speakers.

    Seeds begin with a word that no seed of the benchmark begins with.
    """
    makers: dict[str, _Maker] = {**noise.NOISES, "chair": noise.chair}
    talk: dict[str, list[Samples]] = {}
    for one, sound in zip(said, spoken, strict=True):
        voice = voices.voice(one.voice)
        chatting = one.part == "train" and not one.written and len(sound) > 0 and voice.kind == "recorded"
        if chatting and len(talk.setdefault(voice.speaker, [])) < MURMURS:
            talk[voice.speaker].append(sound.astype(np.float32) / 32_768.0)
    for speaker in talk:
        others = [piece for other, pieces_ in talk.items() if other != speaker for piece in pieces_]
        if others:
            makers[f"babble {speaker}"] = partial(noise.babble, recordings=others)
    work = [(kind, maker, number) for kind, maker in makers.items() for number in range(pieces)]
    with ProcessPoolExecutor(jobs) as pool:
        made = list(pool.map(_noise, work, chunksize=4))
    return {kind: np.stack([m for m, w in zip(made, work, strict=True) if w[0] == kind]) for kind in makers}


def _noise(work: tuple[str, _Maker, int]) -> NDArray[np.float32]:
    kind, maker, number = work
    return maker(round(NOISE_S * SAMPLE_RATE_HZ), noise.generator_for("adapt", kind, number))


# ---------------------------------------------------------------- what the chair hears


@dataclass(frozen=True)
class SpeechPair:
    """The same words twice, at the engine's level: alone, and as they are heard. shape = (n, longest)."""

    alone: Tensor
    heard: Tensor
    lengths: Tensor


class Surroundings:
    """Rooms, filters and noises on the training device.

    Args:
        noises: what `noise_pool` made.
        check: use the last fifth of the pieces, which training never uses.
    """

    def __init__(
        self, noises: dict[str, NDArray[np.float32]], device: torch.device, seed: int, check: bool = False
    ) -> None:
        self._device = device
        self._rng = np.random.default_rng([seed, int(check)])
        self._made = torch.Generator(device).manual_seed(seed)
        cut = next(len(pieces) for pieces in noises.values()) * 4 // 5
        chosen = {kind: pieces[cut:] if check else pieces[:cut] for kind, pieces in noises.items()}
        self._kinds = sorted({kind.partition(" ")[0] if "babble" in kind else kind for kind in chosen})
        self._noises = {kind: torch.from_numpy(pieces).to(device) for kind, pieces in chosen.items()}
        self._rooms = torch.fft.rfft(torch.from_numpy(_rooms(self._rng)).to(device), _FFT)
        self._filters = torch.from_numpy(_filters()).to(device)

    def batch(
        self,
        speech: SpeechBatch,
        which: Sequence[int],
        level_db: float | None | str = "any",
        silent: float = 0.0,
    ) -> SpeechPair:
        """Some utterances, each in its own surroundings.

        Args:
            level_db: one active speech level over the noise for all; "any" draws one for each.
            silent: share of utterances that are left out: then `alone` is silence and `heard` only noise.
        """
        rng, n = self._rng, len(which)
        index = np.asarray(which)
        starts, counts = (
            torch.from_numpy(a[index]).to(self._device) for a in (speech.starts, speech.lengths)
        )
        low, high = (round(s * SAMPLE_RATE_HZ) for s in PAD_S)
        pads = rng.integers(low, high, size=(2, n))
        lead, tail = torch.from_numpy(pads).to(self._device)
        lengths = counts + lead + tail
        at = torch.arange(int(lengths.max()), device=self._device) - lead[:, None]
        spoken = (at >= 0) & (at < counts[:, None])
        place = (starts[:, None] + at.clamp(min=0)).clamp(max=len(speech.sound) - 1)
        dry = torch.where(spoken, speech.sound[place].float() / 32_768.0, 0.0)
        inside = torch.arange(dry.shape[1], device=self._device) < lengths[:, None]
        wet = self._coloured(dry) * inside
        wet = (
            wet
            * (dry.square().sum(1, keepdim=True) / wet.square().sum(1, keepdim=True).clamp(min=1e-9)).sqrt()
        )
        off = torch.from_numpy(rng.random(n) < silent).to(self._device)[:, None]
        under = self._noise([speech.speakers[i] for i in which], lengths, dry.shape[1]) * inside
        heard = torch.where(off, 0.0, wet) + under * self._gains(n, level_db)
        alone = torch.where(off, 0.0, dry)
        return SpeechPair(at_level(alone, lengths), at_level(heard, lengths), lengths)

    def _gains(self, n: int, level_db: float | None | str) -> Tensor:
        """Factors for noise at the active level of speech, shape = (n, 1)."""
        rng = self._rng
        if level_db == "any":
            drawn = [LEVELS_DB[int(i)] for i in rng.choice(len(LEVELS_DB), size=n, p=LEVEL_SHARES)]
            jitter = rng.uniform(-LEVEL_JITTER_DB, LEVEL_JITTER_DB, n)
            # Quiet is sometimes true silence and sometimes a quiet room.
            quiet = np.where(rng.random(n) < 0.5, 200.0, rng.uniform(40.0, 60.0, n))
            db = np.array([q if d is None else d + j for d, j, q in zip(drawn, jitter, quiet, strict=True)])
        else:
            db = np.full(n, 200.0 if level_db is None else level_db)
        return torch.from_numpy(10.0 ** (-db / 20.0)).float().to(self._device)[:, None]

    def _noise(self, speakers: Sequence[str], lengths: Tensor, longest: int) -> Tensor:
        """Noise for each utterance at the active level of speech, shape = (n, longest)."""
        rng, rows = self._rng, []
        for speaker in speakers:
            kind = self._kinds[int(rng.integers(len(self._kinds)))]
            if kind == "babble":
                murmurs = sorted(k for k in self._noises if k.startswith("babble"))
                own = f"babble {speaker}"
                kind = own if own in murmurs else murmurs[int(rng.integers(len(murmurs)))]
            pieces = self._noises[kind]
            start = int(rng.integers(pieces.shape[1] - longest + 1))
            rows.append(pieces[int(rng.integers(len(pieces))), start : start + longest])
        noises = torch.stack(rows)
        inside = torch.arange(longest, device=self._device) < lengths[:, None]
        power = (noises.square() * inside).sum(1, keepdim=True) / lengths[:, None]
        return noises * (_ACTIVE_RMS / power.sqrt().clamp(min=1e-9))

    def _coloured(self, dry: Tensor) -> Tensor:
        """Room, mask or turned head, and the microphone's own colour, drawn for each. shape = (n, m)."""
        n, rng = len(dry), self._rng
        spectrum = torch.fft.rfft(dry, _FFT)
        roomy = torch.from_numpy(rng.random(n) < ROOM_SHARE).to(self._device)[:, None]
        rooms = torch.from_numpy(rng.integers(len(self._rooms), size=n)).to(self._device)
        spectrum = torch.where(roomy, spectrum * self._rooms[rooms], spectrum)
        muffled = rng.random(n) < FILTER_SHARE
        which = np.where(muffled, rng.integers(1, len(self._filters), size=n), 0)
        bins = spectrum.shape[1]
        spectrum = spectrum * _stretched(self._filters[torch.from_numpy(which).to(self._device)], bins)
        db = torch.randn(n, 12, device=self._device, generator=self._made) * COLOUR_DB
        return torch.fft.irfft(spectrum * _stretched(10.0 ** (db / 20.0), bins), _FFT)[:, : dry.shape[1]]


def at_level(samples: Tensor, lengths: Tensor) -> Tensor:
    """`listen.neural.engine.at_level` for a batch, shape = (n, longest)."""
    n, longest = samples.shape
    count = lengths // 320
    whole = longest // 320
    power = samples[:, : whole * 320].reshape(n, whole, 320).square().mean(2)
    inside = torch.arange(whole, device=samples.device) < count[:, None]
    ordered = power.masked_fill(~inside, float("inf")).sort(dim=1).values
    middle = torch.stack([(count - 1) // 2, count // 2], dim=1)
    median = ordered.gather(1, middle).mean(1, keepdim=True)
    loud = inside & (power >= median)
    rms = ((power * loud).sum(1, keepdim=True) / loud.sum(1, keepdim=True)).sqrt()
    return torch.where(rms < 1e-6, samples, samples * (LEVEL / rms.clamp(min=1e-9)))


def _stretched(gains: Tensor, bins: int) -> Tensor:
    """Gains at evenly spaced frequencies as gains of `bins`, interpolated linearly. (n, k) -> (n, bins)."""
    return torch.nn.functional.interpolate(gains[:, None], bins, mode="linear", align_corners=True)[:, 0]


def _rooms(rng: np.random.Generator) -> NDArray[np.float32]:
    """Impulse responses of small rooms, shape = (`ROOMS`, longest), zeros after each one's end."""
    responses = []
    for _ in range(ROOMS):
        room = noise.Room(rng.uniform(18.0, 60.0), rng.uniform(0.2, 0.65), rng.uniform(0.3, 1.5))
        responses.append(noise.room_response(room, rng))
    out = np.zeros((ROOMS, max(map(len, responses))), np.float32)
    for row, response in zip(out, responses, strict=True):
        row[: len(response)] = response
    return out


def _filters() -> NDArray[np.float32]:
    """Gains of nothing, a mask, a shield, and turned heads by the benchmark's filters, shape = (k, 513)."""
    impulse = np.zeros(1_024, np.float32)
    impulse[512] = 1.0
    made: Iterable[Samples] = (
        impulse,
        noise.mask_filter(impulse),
        noise.mask_filter(impulse, face_shield=True),
        *(noise.turned_head_filter(impulse, angle) for angle in (30.0, 60.0, 90.0, 120.0)),
    )
    return np.abs(np.stack([np.fft.rfft(one) for one in made])).astype(np.float32)
