"""A row or a kit counted aloud: "far row complete", "burs complete, one 330 missing".

Takes text, typed or freely written by an engine, and the places of the count, and gives what it says of each
line. It records nothing: what is said is proposed, and a touch takes it over. Where it is not plain what is
missing, nothing of it is proposed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from listen.chairside.count import CountLine, CountPlace
from listen.chairside.timers import MISHEARD, Far
from vocab.language.by_language import read_words, tables
from vocab.language.tables import CountWords
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import understand

LONGEST_PLACE, LONGEST_NAME = 5, 6
"""In words."""
UNLIKE = 0.1
"""How much further away the next place or item must sound."""
AS_LIKELY = 0.5
"""Another item counts as named too from this share of the likeliest one's probability on."""

_Words = tuple[str, ...]
_T = TypeVar("_T")


@dataclass(frozen=True)
class CountSaid:
    """What was counted aloud: pieces by item, for the lines of the named places that are still open and for
    those that were said to be short; empty where it was not plain what is missing. places: their names."""

    places: tuple[str, ...]
    pieces: dict[str, int] = field(default_factory=dict)


def count_said(
    text: str, places: Sequence[CountPlace], lexicon: Lexicon, far: Far | None = None
) -> CountSaid | None:
    """What a text says of the count; None where it says nothing of it.

    Args:
        far: how far apart two texts sound, 0 to 1, for what was heard; None for what was typed.
    """
    language = lexicon.pack.language
    known = tables(language).counts
    said = read_words(text, language)
    for whole in sorted(known.whole, key=len, reverse=True):
        at = _find(said, tuple(whole.split()))
        if at is None or "?" in text:
            continue
        named = _named(_plain(said[:at], known), places, known, language, far)
        if not named:
            continue
        lines = [line for place in named for line in place.lines]
        missing = _missing(said[at + len(whole.split()) :], lines, known, lexicon, far)
        names = tuple(place.name for place in named)
        if missing is None:
            return CountSaid(names)
        pieces = {line.item: line.expected for line in lines if line.counted is None}
        pieces |= {
            line.item: max(0, line.expected - missing[line.item]) for line in lines if line.item in missing
        }
        return CountSaid(names, pieces)
    return None


def _named(
    said: _Words, places: Sequence[CountPlace], known: CountWords, language: str, far: Far | None
) -> tuple[CountPlace, ...]:
    """The places that the words name, all of them; () if any of it is no place."""
    whole = _place(" ".join(said), places, known, language, None)
    if whole is not None:
        return (whole,)
    found = []
    for name in _cut(said, known.joiners):
        place = _place(" ".join(name), places, known, language, far)
        if place is None:
            return ()
        found.append(place)
    return tuple(dict.fromkeys(found)) if found else ()


def _place(
    name: str, places: Sequence[CountPlace], known: CountWords, language: str, far: Far | None
) -> CountPlace | None:
    called = {place: _called(place, known, language) for place in places}
    for place, names in called.items():
        if name in names:
            return place
    if far is None or not name or len(name.split()) > LONGEST_PLACE:
        return None
    apart = {place: min(far(name, one) for one in names) for place, names in called.items()}
    return _nearest(apart)


def _called(place: CountPlace, known: CountWords, language: str) -> tuple[str, ...]:
    """What a place may be called: "far row"; "bur kit", "bur", "burs"."""
    names = [_plain(read_words(place.name, language), known)]
    if place.kit is not None:
        names.append(_plain(read_words(place.kit.address, language), known))
    texts = dict.fromkeys(" ".join(name) for name in names)
    for name in names:
        short = " ".join(word for word in name if word != known.kit)
        if short and len(short.split()) < len(name):
            texts |= dict.fromkeys((short, f"{short}s"))
    return tuple(texts)


def _missing(
    said: _Words, lines: Sequence[CountLine], known: CountWords, lexicon: Lexicon, far: Far | None
) -> dict[str, int] | None:
    """How many pieces of which items are missing; None where that is not plain."""
    missing: dict[str, int] = {}
    for part in _cut(said, known.joiners):
        named = _stripped(part, known)
        if not named:
            return None
        found = _item(named, lines, lexicon, far)
        if found is None:
            return None
        item, pieces = found
        missing[item] = missing.get(item, 0) + pieces
    return missing


def _stripped(said: _Words, known: CountWords) -> _Words:
    """The words without those that say that something is missing."""
    gone = sorted((tuple(one.split()) for one in known.gone), key=len, reverse=True)
    but = sorted((tuple(one.split()) for one in known.but), key=len, reverse=True)
    said = _plain(said, known)
    while lead := next((one for one in but if said[: len(one)] == one), None):
        said = said[len(lead) :]
    while end := next((one for one in gone if said and said[-len(one) :] == one), None):
        said = said[: -len(end)]
    return said


def _item(
    said: _Words, lines: Sequence[CountLine], lexicon: Lexicon, far: Far | None
) -> tuple[str, int] | None:
    """The one item of these lines that is named, and how many pieces of it."""
    here = {line.item for line in lines}
    requests = understand(" ".join(said), lexicon, lexicon.pack.speech)
    if len(requests) == 1 and requests[0].kind == "item":
        found = [candidate for candidate in requests[0].candidates if candidate.item in here]
        meant = {candidate.item for candidate in found if candidate.p > AS_LIKELY * found[0].p}
        if len(meant) == 1:
            return meant.pop(), requests[0].quantity or 1
        if meant:
            return None
    pieces, name = (int(said[0]), said[1:]) if said[0].isdecimal() and len(said) > 1 else (1, said)
    if far is None or len(name) > LONGEST_NAME or pieces > len(lines) * 12:
        return None
    text = " ".join(name)
    apart = {
        line: min(far(text, way) for way in lexicon.pack.item(line.item).ways_to_say)
        for line in lines
        if line.item in lexicon.pack.by_id
    }
    nearest = _nearest(apart)
    return None if nearest is None else (nearest.item, pieces)


def _nearest(apart: dict[_T, float]) -> _T | None:
    """What sounds nearest, if it is near enough and nothing else is as near."""
    ranked = sorted(apart, key=lambda one: apart[one])
    if not ranked or apart[ranked[0]] > MISHEARD:
        return None
    return None if len(ranked) > 1 and apart[ranked[1]] - apart[ranked[0]] < UNLIKE else ranked[0]


def _plain(said: _Words, known: CountWords) -> _Words:
    return tuple(word for word in said if word not in known.dropped)


def _cut(said: _Words, joiners: frozenset[str]) -> list[_Words]:
    """The parts between joiners, without empty ones."""
    parts: list[list[str]] = [[]]
    for word in said:
        if word in joiners:
            parts.append([])
        else:
            parts[-1].append(word)
    return [tuple(part) for part in parts if part]


def _find(said: _Words, part: _Words) -> int | None:
    """Where the part begins, which is never at the front."""
    return next((i for i in range(1, len(said)) if said[i : i + len(part)] == part), None)
