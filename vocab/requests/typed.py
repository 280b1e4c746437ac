"""Items while somebody is still typing a name.

A lexicon goes in once; then the letters typed so far go in and the items that they may become come out: names
that begin with them, then names with a word that does, then what sounds or is spelled alike. It never looks
at cues.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from vocab.pack.schema import Name
from vocab.requests.lexicon import Lexicon

LEAST_P = 0.4
"""What sounds or is spelled alike with less probability, all together, is not offered."""
NEAR_SHARE = 0.06
"""Nor is what is so much less likely than the likeliest."""
MOST = 8


@dataclass(frozen=True)
class Suggested:
    """An item, and the name of it that fits what was typed."""

    item: str
    name: Name


@dataclass(frozen=True)
class _Written:
    item: str
    name: Name
    words: tuple[str, ...]
    preferred: bool


class Suggester:
    """The names of a lexicon, ready to be completed; safe to use from many threads."""

    def __init__(self, lexicon: Lexicon) -> None:
        self._lexicon = lexicon

    def suggest(self, text: str, most: int = MOST) -> tuple[Suggested, ...]:
        """At most `most` items, the likeliest first, each once; () for a foreign word and for nothing."""
        typed = _words(text)
        if not typed:
            return ()
        found: dict[str, Suggested] = {}
        for one in (*self._begun(typed), *self._alike(text)):
            found.setdefault(one.item, one)
        return tuple(found.values())[:most]

    @cached_property
    def _written(self) -> tuple[_Written, ...]:
        return tuple(
            _Written(item.id, name, _words(form), name == item.name)
            for item in self._lexicon.pack.items
            for name in item.names
            for form in name.ways_to_say
        )

    def _begun(self, typed: tuple[str, ...]) -> list[Suggested]:
        """Names of which each typed word begins a word of its own: whole names first, then
        those that the names begin with, preferred and shorter ones before others."""
        hits = [
            (_rank(typed, one.words), not one.preferred, len(one.words), len("".join(one.words)), at)
            for at, one in enumerate(self._written)
            if _begins_words(typed, one.words)
        ]
        return [Suggested(self._written[at].item, self._written[at].name) for *_, at in sorted(hits)]

    def _alike(self, text: str) -> Iterator[Suggested]:
        """What sounds or is spelled alike, each followed by the items whose names hold that name, too."""
        candidates = self._lexicon.find(text)
        if sum(candidate.p for candidate in candidates) < LEAST_P:
            return
        for near in candidates:
            if near.p < candidates[0].p * NEAR_SHARE:
                return
            yield Suggested(near.item, near.name)
            yield from self._begun(_words(near.name.text))


def _words(text: str) -> tuple[str, ...]:
    """Words in small letters without accents."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return tuple(re.findall(r"[^\W_]+", "".join(c for c in plain if not unicodedata.combining(c))))


def _begins_words(typed: Iterable[str], words: tuple[str, ...]) -> bool:
    left = list(words)
    for begun in typed:
        fits = next((word for word in left if word.startswith(begun)), None)
        if fits is None:
            return False
        left.remove(fits)
    return True


def _rank(typed: tuple[str, ...], words: tuple[str, ...]) -> int:
    if typed == words:
        return 0
    return 1 if " ".join(words).startswith(" ".join(typed)) else 2
