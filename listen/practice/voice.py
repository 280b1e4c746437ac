"""Sound in and out of a drill: spoken answers, and requests heard in chair noise.

Takes a clock and something that opens a stream of sound; returns spoken answers with the time they began, and
requests as sound, with more chair noise the better the topic is known. No answer is kept once it is judged.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
import soundfile
import soxr
from fsrs import Card

from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.segments import Segmenter
from listen.speech import replies

NOISE_STEPS: tuple[tuple[float, float | None], ...] = ((2.0, None), (7.0, 20.0), (21.0, 10.0))
LOUDEST_DB = 5.0
"""Speech-to-noise ratio by a memory's stability in days: none below 2, then 20 dB, 10 dB from 7, 5 dB from
21."""


@dataclass(frozen=True)
class SpokenAnswer:
    """An answer and when it began, in seconds on the listener's clock. samples: shape = (n,), 16 kHz mono."""

    samples: Samples
    start_s: float


class AnswerListener(Protocol):
    """Waits for a spoken answer."""

    def answer(self, wait_s: float) -> SpokenAnswer | None:
        """The next utterance, or None if nobody has begun to speak within `wait_s`."""
        ...


class StreamListener:
    """Listens to a stream of sound that is opened for each answer and closed after it.

    Args:
        open_blocks: opens the sound, as `listen.audio.microphone_blocks` does.
        clock: in seconds; read once when the stream opens, after that time is counted in samples.
    """

    def __init__(
        self,
        open_blocks: Callable[[], AbstractContextManager[Iterable[Samples]]],
        clock: Callable[[], float],
        endpoint_s: float = 0.6,
    ) -> None:
        self._open, self._clock, self._endpoint_s = open_blocks, clock, endpoint_s

    def answer(self, wait_s: float) -> SpokenAnswer | None:
        segmenter = Segmenter(endpoint_s=self._endpoint_s)
        with self._open() as blocks:
            began_s, heard_s = self._clock(), 0.0
            for block in blocks:
                heard_s += len(block) / SAMPLE_RATE_HZ
                for utterance in segmenter.push(block):
                    return SpokenAnswer(utterance.samples, began_s + utterance.start_s)
                if heard_s >= wait_s and not segmenter.speaking:
                    return None
        for utterance in segmenter.flush():
            return SpokenAnswer(utterance.samples, began_s + utterance.start_s)
        return None


def noise_level_db(card: Card | None) -> float | None:
    """Decibels of the request above the chair noise: fewer the better it is known; None for quiet."""
    days = card.stability or 0.0 if card is not None else 0.0
    return next((level for below, level in NOISE_STEPS if days < below), LOUDEST_DB)


def in_chair_noise(samples: Samples, snr_db: float | None, rng: np.random.Generator) -> Samples:
    """Speech in chair noise, shape = (n,); unchanged if `snr_db` is None."""
    from listen.speech import noise

    if snr_db is None:
        return samples
    padded = noise.pad(samples, 0.3, 0.2)
    return noise.mix(padded, noise.chair(len(padded), rng), snr_db).samples


def any_voice(text: str, rng: np.random.Generator, folder: Path) -> Samples | None:
    """A request in a random English voice of this machine, cached in `folder`; None if there is none."""
    from listen.speech import voices

    speaking = voices.available(formant=True)
    if not speaking:
        return None
    return voices.cached(speaking[int(rng.integers(len(speaking)))], text, folder)


def as_wav(samples: Samples) -> bytes:
    """Sound as a WAV file, 16 bit, 16 kHz mono."""
    out = io.BytesIO()
    soundfile.write(out, np.clip(samples, -1, 1), SAMPLE_RATE_HZ, format="WAV", subtype="PCM_16")
    return out.getvalue()


def plainly(text: str, language: str) -> Samples | None:
    """The text in the app's one voice for a language, sentence by sentence, shape = (n,), 16 kHz."""
    said = []
    for part in spoken_parts(text):
        wav = replies.speech(part, language)
        if wav is None:
            return None
        samples, rate_hz = soundfile.read(io.BytesIO(wav), dtype="float32", always_2d=True)
        said.append(soxr.resample(samples.mean(axis=1), rate_hz, SAMPLE_RATE_HZ).astype(np.float32))
    return np.concatenate(said) if said else None


def spoken_parts(text: str) -> list[str]:
    """The text in parts that the voice accepts, cut between words."""
    parts: list[str] = []
    for word in text.split():
        full = not parts or len(parts[-1]) + 1 + len(word) > replies.LONGEST
        sentence = bool(parts) and parts[-1].endswith((".", "?", "!"))
        if full or sentence:
            parts.append(word)
        else:
            parts[-1] += f" {word}"
    return parts
