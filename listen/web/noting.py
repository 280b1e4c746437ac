"""A reader that keeps names that were asked for and not known, where the clinic has switched that on.

Comes in: what was typed, or what the engine wrote. Goes out: the same readings as from any reader, and a
name on the clinic's list (`vocab.heard`), never a sentence. It keeps nothing unless the list is there.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping
from datetime import UTC, datetime

from listen.chair import Chair, layers_of
from listen.engine import Hearing
from listen.readings import Reader, Readings
from vocab.edit_cli import unknown_words
from vocab.errors import TraycallError
from vocab.layers import Vocabulary


class NotingReader(Reader):
    """Understands what the chair's pack understands.

    Args:
        clock: seconds since 1970; only the day is kept.
    """

    def __init__(self, chair: Chair, clock: Callable[[], float]) -> None:
        super().__init__(chair.pack, chair.lexicon, chair.calibration)
        self._chair, self._clock = chair, clock
        self._words = unknown_words(Vocabulary(chair.pack, layers_of(chair.options, chair.pack)))

    def of_text(self, text: str, log_prior: Mapping[str, float]) -> Readings:
        """See `Reader`."""
        self._note(text)
        return super().of_text(text, log_prior)

    def of_hearing(self, hearing: Hearing, log_prior: Mapping[str, float]) -> Readings:
        """See `Reader`."""
        self._note(hearing.free_text)
        return super().of_hearing(hearing, log_prior)

    def _note(self, text: str) -> None:
        if self._words.on:
            day = datetime.fromtimestamp(self._clock(), UTC).date()
            with contextlib.suppress(OSError, TraycallError):  # a request is worth more than a list
                self._words.note(text, self._chair.lexicon, self._chair.pack.speech, day)
