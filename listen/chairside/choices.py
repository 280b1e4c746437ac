"""Which of the offered choices is meant by "the first one", "number two", "yes" or "none of these".

It takes text and how many choices were offered, and gives a number from 1, 0 for none of them, or None where
the text says neither. Names are not looked at here.
"""

from __future__ import annotations

import re
from functools import cache

from vocab.language.by_language import plain_word, read_numbers, tables
from vocab.language.forms import Templates, Words

_ONE, _YES, _NONE = "one", "yes", "none"


def confirms(text: str, language: str = "en") -> bool:
    """Whether somebody confirms a choice: "label read", "yes"."""
    return _whole(language).whole(_plain(text, language)) == _YES


def choice_of(text: str, offered: int, language: str = "en") -> int | None:
    """The number chosen (from 1), 0 for none of them, None where the text chooses nothing.

    "The left one" and "the right one" count from the screen's left; "the last one" is the last offered.
    """
    said = _plain(text, language)
    whole = _whole(language).whole(said)
    if whole == _NONE:
        return 0
    if offered == 1 and whole == _YES:
        return 1
    frame = tables(language).choices.frame
    telling = tuple(word for word in said if word not in frame)
    place = "1" if whole == _ONE else _places(language).whole(telling)
    if place == "last":
        return offered
    if place == "middle":
        return 2 if offered == 3 else None
    if place == "right":
        return offered if offered > 1 else None
    return int(place) if place is not None and int(place) <= offered else None


@cache
def _whole(language: str) -> Templates[str]:
    """What is an answer as it stands."""
    known = tables(language).choices
    table = {_ONE: known.one, _YES: known.yes, _NONE: known.none}
    return Templates(table, lambda text: _plain(text, language))


@cache
def _places(language: str) -> Templates[str]:
    return Templates(tables(language).choices.places, lambda text: _plain(text, language))


def _plain(text: str, language: str) -> Words:
    """Lower-case words without punctuation and accents; unlike canonical ones, "one" stays a word."""
    plain = plain_word(read_numbers(text, language), language).lower().replace("-", " ")
    return tuple(re.sub(r"[^a-z0-9 ]", "", plain).split())
