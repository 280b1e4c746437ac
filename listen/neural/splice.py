"""Puts names into the free decode by their sound: open words around, closed names inside.

It takes what the network wrote freely and the names that the grammar's search favours, and returns the same
sentence with a name in place of some of its words, once for each name that sounds like them, for the network
to score; a second name may be put beside a first one. It never hears sound and never decides on an item.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np
from numpy.typing import NDArray
from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from listen.neural.tokenizer import Tokenizer
from vocab.language.pronounce import PHONES, Pronouncer
from vocab.language.tokens import spoken_forms, words, written_forms

MOST_WORDS = 6
"""Words of the free decode that one name may stand for."""
WORST = 0.55
"""Edits of phones, as a share of the longer of the two, from which they no longer sound alike."""
LONGER = 0.012
"""How much farther apart a longer match may be, per phone of its length, and still come first."""
EXPECTED = 8
"""How many of the names that are expected are put in however they sound."""
AFTER = 4
"""Tokens after a name that are scored with it; what follows is the same for all."""
_EDGES = ".,?!;:\"'"
_CODE = {phone: chr(0xE000 + number) for number, phone in enumerate(PHONES)}


@dataclass(frozen=True)
class Spliced:
    """A sentence with a name in it.

    text: all of it; tokens: from the beginning to `AFTER` tokens after the name; name: the tokens of the
    name, as they stand in the grammar's trie of names; kept: tokens of the free decode up to the same place;
    at: where the name stands in the text, from its first letter to after its last.
    """

    text: str
    tokens: tuple[int, ...]
    name: tuple[int, ...]
    kept: int
    at: tuple[int, int]


@dataclass(frozen=True)
class _Span:
    """Some neighbouring words: where they begin and end, without punctuation at the end, and their phones."""

    start: int
    end: int
    phones: str


class NamesBySound:
    """The names of a pack by their sound.

    Args:
        names: as the pack writes them.
        places: what may stand before a name and is then put in with it ("in", "in slot"), as the sound of a
            short name alone is too little to find it by.
    """

    def __init__(self, names: Iterable[str], pronouncer: Pronouncer, places: Iterable[str] = ()) -> None:
        self._pronouncer = pronouncer
        sounds: dict[tuple[str, str, str], None] = {}
        self._written: dict[str, str] = {}
        names, before = tuple(names), ("", *places)
        pronouncer.prepare(word for name in names for form in spoken_forms(name) for word in words(form))
        for name in names:
            for form in spoken_forms(name):
                sounds |= {(_coded(pronouncer.phrase(f"{p} {form}".strip())), name, p): None for p in before}
            for written in written_forms(name):
                self._written.setdefault(written, name)
        self._sounds = [sound for sound, *_ in sounds if sound]
        self._names = [name for sound, name, _ in sounds if sound]
        self._places = [place for sound, _, place in sounds if sound]
        self._forms: dict[str, list[int]] = {}
        for place, name in enumerate(self._names):
            self._forms.setdefault(name, []).append(place)
        self._lengths = np.array([len(sound) for sound in self._sounds])
        self._longest = max((len(written.split()) for written in self._written), default=0)

    def splices(
        self,
        free: Sequence[int],
        favoured: Iterable[str],
        tokenizer: Tokenizer,
        most: int,
        beside: tuple[int, int] | None = None,
        expected: Iterable[str] = (),
    ) -> tuple[Spliced, ...]:
        """Sentences to be scored, those that sound most like the free decode first.

        Args:
            free: tokens of the free decode.
            favoured: phrasings of the grammar; the names in them go in where they fit best.
            most: how many sentences.
            expected: names of which the `EXPECTED` nearest go in where they fit best, too.
            beside: the place in the text that stays as it is, because a name was put there already.
        """
        text = tokenizer.decode(free)
        kept = beside or (0, 0)
        spans = [span for span in self._spans(text) if span.end <= kept[0] or span.start >= kept[1]]
        if not spans:
            return ()
        said = [span.phones for span in spans]
        apart = process.cdist(said, self._sounds, scorer=Levenshtein.normalized_distance, dtype=np.float32)
        pairs = chain(self._favoured(favoured, apart), self._expected(expected, apart), self._nearest(apart))
        made: dict[tuple[int, ...], Spliced] = {}
        for span, name in pairs:
            for written in _spellings(self._names[name]):
                one = _spliced(text, free, spans[span], self._places[name], written, tokenizer)
                if one is not None and len(made) < most:
                    made.setdefault(one.tokens, one)
            if len(made) >= most:
                break
        return tuple(made.values())

    def _favoured(self, phrasings: Iterable[str], apart: NDArray[np.float32]) -> Iterable[tuple[int, int]]:
        """Each name of the phrasings where it is nearest."""
        for name in dict.fromkeys(name for text in phrasings for name in self._within(text)):
            yield self._where_nearest(name, apart)

    def _expected(self, names: Iterable[str], apart: NDArray[np.float32]) -> Iterable[tuple[int, int]]:
        """The nearest of some names, each where it is nearest."""
        pairs = [self._where_nearest(name, apart) for name in dict.fromkeys(names) if name in self._forms]
        return sorted(pairs, key=lambda pair: float(apart[pair]))[:EXPECTED]

    def _where_nearest(self, name: str, apart: NDArray[np.float32]) -> tuple[int, int]:
        forms = self._forms[name]
        span, form = np.unravel_index(int(apart[:, forms].argmin()), (len(apart), len(forms)))
        return int(span), forms[int(form)]

    def _within(self, text: str) -> list[str]:
        """The longest names in a phrasing."""
        words, found, at = text.split(), list[str](), 0
        while at < len(words):
            ends = range(min(len(words), at + self._longest), at, -1)
            end = next((end for end in ends if " ".join(words[at:end]) in self._written), 0)
            if end:
                found.append(self._written[" ".join(words[at:end])])
            at = end or at + 1
        return found

    def _nearest(self, apart: NDArray[np.float32]) -> Iterable[tuple[int, int]]:
        """Pairs that sound alike, best first."""
        cost = apart - LONGER * self._lengths
        order = np.argsort(cost, axis=None, kind="stable")
        for place in order[: 4 * len(self._sounds)]:
            span, form = divmod(int(place), apart.shape[1])
            if apart[span, form] <= WORST:
                yield span, form

    def _spans(self, text: str) -> list[_Span]:
        words = [(found.start(), found.end()) for found in re.finditer(r"\S+", text)]
        phones = [_coded(self._pronouncer.phrase(text[a:b])) for a, b in words]
        spans = []
        for first in range(len(words)):
            for last in range(first, min(len(words), first + MOST_WORDS)):
                start, end = words[first][0], words[last][1]
                end -= len(text[start:end]) - len(text[start:end].rstrip(_EDGES))
                sound = "".join(phones[first : last + 1])
                if end > start and sound:
                    spans.append(_Span(start, end, sound))
        return spans


def _spliced(
    text: str, free: Sequence[int], span: _Span, place: str, written: str, tokenizer: Tokenizer
) -> Spliced | None:
    """The sentence with a name, spelt as given, and what stands before it, in place of the span."""
    before, after = text[: span.start], text[span.end :]
    shown = f"{place} {written}" if place else written
    shown = shown if before else shown[:1].upper() + shown[1:]
    head, own = tokenizer.encode(before.rstrip()), tokenizer.encode(shown)
    rest = tokenizer.encode_after_word(after)
    kept = len(tokenizer.encode(text[: span.end]))
    behind = min(AFTER, len(rest))
    if tuple(free[: len(head)]) != head:
        return None
    name = tokenizer.encode(written) if place else own
    at = (len(before), len(before) + len(shown))
    return Spliced(before + shown + after, (*head, *own, *rest[:behind]), name, kept + behind, at)


def _spellings(name: str) -> tuple[str, ...]:
    """How the name is written: its commonest form, and a second where it holds a number."""
    return written_forms(name)[: 2 if any(letter.isdigit() for letter in name) else 1]


def _coded(phones: Sequence[str]) -> str:
    """Phones as one character each."""
    return "".join(_CODE[phone] for phone in phones if phone in _CODE)
