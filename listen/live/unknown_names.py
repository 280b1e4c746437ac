"""Keeps names that were asked for but not known, where the clinic has switched that on.

From what was typed, or what the engine wrote, once per utterance, it puts a name on the clinic's list
(`vocab.layers.unknown_words`), never a sentence. It keeps nothing unless the list exists.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from datetime import UTC, datetime

from listen.chair import Chair, layers_of
from vocab.errors import TraycallError
from vocab.layers import Vocabulary
from vocab.layers.unknown_words import unknown_words


def noting(chair: Chair, clock: Callable[[], float]) -> Callable[[str], None]:
    """The function that notes the unknown name in an utterance at this chair.

    Args:
        clock: seconds since 1970; only the day is kept.
    """
    words = unknown_words(Vocabulary(chair.pack, layers_of(chair.options, chair.pack)))

    def note(text: str) -> None:
        if words.on:
            day = datetime.fromtimestamp(clock(), UTC).date()
            with contextlib.suppress(TraycallError):  # a request matters more than the list
                words.note(text, chair.lexicon, chair.pack.speech, day)

    return note
