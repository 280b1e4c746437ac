"""A segmenter that can be asked, in a short pause, for what was said so far, and told to end it there.

Most utterances end with the pause they pause in: hearing them already in that pause, and throwing the
result away where speech goes on, takes the engine's time out of the wait.
"""

from __future__ import annotations

import numpy as np

from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.segments import FRAME, FRAME_S, Segmenter, SileroVoice, Utterance

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
