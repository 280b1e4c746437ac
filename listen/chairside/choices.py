"""Which of the offered choices is meant by "the first one", "number two", "yes" or "none of these".

It takes text and how many choices were offered, and gives a number from 1, 0 for none of them, or None where
the text says neither. Names are not looked at here.
"""

from __future__ import annotations

import re

_PLACES: tuple[frozenset[str], ...] = (
    frozenset({"first", "1st", "one", "1", "won", "left", "top"}),
    frozenset({"second", "2nd", "two", "2", "too", "middle"}),
    frozenset({"third", "3rd", "three", "3", "right"}),
)
_FRAME = frozenset(
    {"the", "one", "number", "option", "choice", "please", "that", "thats", "its", "take", "um", "uh"}
)
_YES = frozenset(
    {"yes", "yeah", "yep", "yes please", "correct", "right", "thats right", "that is right", "thats correct",
     "confirmed", "confirm", "read back", "label read", "label read back", "checked"}
)  # fmt: skip
_NONE = frozenset(
    {"none", "neither", "none of these", "none of those", "none of them", "neither one", "no", "nope",
     "never mind", "nevermind", "cancel", "forget it", "not those", "no neither"}
)  # fmt: skip


def confirms(text: str) -> bool:
    """Whether somebody confirms a choice: "label read", "yes"."""
    return _plain(text) in _YES


def choice_of(text: str, offered: int) -> int | None:
    """The number chosen (from 1), 0 for none of them, None where the text chooses nothing.

    "The left one" and "the right one" count from the screen's left; "the last one" is the last offered.
    """
    plain = _plain(text)
    said = plain.split()
    if plain in _NONE:
        return 0
    if offered == 1 and plain in _YES:
        return 1
    telling = [word for word in said if word not in _FRAME]
    if not telling and said.count("one") and set(said) <= _FRAME - {"please", "take", "um", "uh"}:
        telling = ["one"] if plain in ("one", "number one", "option one", "choice one") else []
    if len(telling) != 1:
        return None
    if telling[0] == "last":
        return offered
    if telling[0] == "middle":
        return 2 if offered == 3 else None
    if telling[0] == "right":
        return offered if offered > 1 else None
    place = next((i for i, words in enumerate(_PLACES, 1) if telling[0] in words), None)
    return place if place is not None and place <= offered else None


def _plain(text: str) -> str:
    """Lower-case words without punctuation, one space between them."""
    return " ".join(re.sub(r"[^a-z0-9 ]", "", text.lower().replace("-", " ")).split())
