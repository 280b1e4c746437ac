"""The two phrases that have an open microphone heard, or let it wait again.

From what the engine wrote of an utterance it says which of the two was meant, if either. The phrases are
compared by sound, since a noisy room changes a word or two of them.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

from vocab.language.tokens import words

Far = Callable[[str, str], float]
MISHEARD = 0.15
"""The share of a phrase's phones that may be wrong; author's judgement."""
MOST_WORDS = 6
"""A longer sentence is talk."""
COURTESIES = frozenset({"okay", "ok", "please", "now", "thanks"})


class Switch(StrEnum):
    """What was said, word for word."""

    START = "chairside ready"
    STOP = "chairside finished"


def spoken_switch(text: str, far: Far) -> Switch | None:
    """The phrase that an utterance is, and nothing besides; None for any other.

    Args:
        text: as the engine wrote it down, unbound by any vocabulary.
        far: how far apart two texts sound, 0 to 1.
    """
    said = [word for word in words(text) if word not in COURTESIES]
    if not said or len(said) > MOST_WORDS:
        return None
    apart = {phrase: far(" ".join(said), phrase) for phrase in Switch}
    nearest = min(Switch, key=lambda phrase: apart[phrase])
    return nearest if apart[nearest] <= MISHEARD else None
