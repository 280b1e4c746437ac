"""A segmenter that can be asked, in a short pause, for what was said so far.

Most utterances end with the pause they pause in: hearing them already in that pause, and throwing the
result away where speech goes on, takes the engine's time out of the wait.
"""

from __future__ import annotations

import numpy as np

from listen.engine import SAMPLE_RATE_HZ
from listen.segments import FRAME, FRAME_S, Segmenter, Utterance

EARLY_S = 0.096
"""A pause as long as this is worth a guess."""
_EARLY_FRAMES = round(EARLY_S / FRAME_S)


class EarlySegmenter(Segmenter):
    """As `Segmenter`, and it shows the utterance that is still going on."""

    @property
    def voiced_frames(self) -> int:
        """Frames up to and including the last voiced one of the present utterance; 0 outside one."""
        for at in range(len(self._voiced), 0, -1):
            if self._voiced[at - 1]:
                return at
        return 0

    @property
    def pausing(self) -> bool:
        """Whether somebody has spoken and has been silent for `EARLY_S`."""
        return self.speaking and self.silent_frames >= _EARLY_FRAMES

    @property
    def silent_frames(self) -> int:
        """Frames since the last voiced one of the present utterance; 0 outside one."""
        return len(self._voiced) - self.voiced_frames

    def end(self) -> list[Utterance]:
        """Give what was being said as if it had ended; the next block starts a new stream at 0 s."""
        said = [self.so_far()] if self.speaking else []
        self._restart()
        return said

    def so_far(self) -> Utterance:
        """The present utterance as if it ended here.

        The padding that a finished utterance has, and that was not heard yet, is the pause played backwards.
        """
        begin = max(self._kept_from, self._start - self._pad)
        kept = self._kept[begin - self._kept_from :]
        pause = self.silent_frames
        if 0 < pause < self._pad:
            silence = np.concatenate(kept[-pause:])[::-1]
            kept = [*kept, np.resize(silence, (self._pad - pause) * FRAME)]
        samples = np.concatenate(kept).astype(np.float32)
        end = min((self._start + self.voiced_frames) * FRAME, self._heard)
        return Utterance(self._start * FRAME_S, end / SAMPLE_RATE_HZ, samples)
