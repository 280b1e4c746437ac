"""Finds names of different items that sound alike, quickly among thousands.

Takes the names of a pack as phones and gives pairs, each with the cost of mishearing one as the other. What
two names share does not tell them apart, so what counts is the cost of the difference, not its share of the
name: "ball burnisher" and "egg burnisher" are far apart, "band" and "bond" are not. It works on text only
and listens to nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from vocab.language.by_language import read_numbers
from vocab.language.pronounce import PHONES, Phones, Pronouncer, edit_cost, substitution_cost
from vocab.language.tokens import words
from vocab.pack.schema import Name, Pack
from vocab.requests.lexicon import coarse, fold

NEAR_COST = 2.75
"""Names whose difference costs up to this much may be mixed up; carver and carrier differ by 1.4."""
NEAR_SHARE = 0.45
"""At most this much per phone of the longer name, too: "hoe" and "bur" have nothing in common."""
MOST_CLASSES = 3
"""Names that differ in more classes of similar sounds are never near."""
ROWS = 512
_INDEX = {phone: i for i, phone in enumerate(PHONES)}


@dataclass(frozen=True)
class Sounding:
    """One way of saying one name; `key` is what names are compared by in look-up."""

    item: str
    name: Name
    text: str
    phones: Phones
    key: tuple[str, ...] = ()


@dataclass(frozen=True)
class Pair:
    """Two names of different items; `cost` is 0 where they sound the same."""

    one: Sounding
    other: Sounding
    cost: float


@dataclass(frozen=True)
class _SoundGroup:
    """All names of one length: `codes` are classes of sounds, `owner` (n,) items, `phones` (n, length)."""

    soundings: tuple[Sounding, ...]
    codes: tuple[str, ...]
    owner: NDArray[np.int32]
    phones: NDArray[np.int16]


class NameSounds:
    """The names of a pack by how they sound."""

    def __init__(self, pack: Pack, pronouncer: Pronouncer | None = None) -> None:
        self._say = pronouncer or Pronouncer()
        self._language = pack.language
        texts = [
            (item.id, name, text, self._words(text))
            for item in pack.items
            for name in item.names
            for text in dict.fromkeys(name.ways_to_say)
        ]
        self._say.prepare(word for *_, parts in texts for word in parts)
        self.all = tuple(
            Sounding(item, name, text, self._say.phrase(parts), fold(parts, pack.language))
            for item, name, text, parts in texts
        )
        self.by_key: dict[tuple[str, ...], list[Sounding]] = {}
        for sounding in self.all:
            self.by_key.setdefault(sounding.key, []).append(sounding)
        self._groups = _grouped(self.all)
        self._costs = _cost_table()

    def phones(self, text: str) -> Phones:
        """The phones of a text; empty if it cannot be said."""
        return self._say.phrase(self._words(text))

    def key(self, text: str) -> tuple[str, ...]:
        """What a text is compared by in look-up."""
        return fold(self._words(text), self._language)

    def near(self, item: str, name: Name, most: float = NEAR_COST) -> tuple[Pair, ...]:
        """The names of other items that a new name of `item` is near to, the nearest first."""
        found: list[Pair] = []
        for text in dict.fromkeys(name.ways_to_say):
            phones = self.phones(text)
            new = Sounding(item, name, text, phones)
            code = coarse(phones)
            for length in range(len(code) - MOST_CLASSES, len(code) + MOST_CLASSES + 1):
                group = self._groups.get(length)
                for other_code, other in zip(group.codes, group.soundings, strict=True) if group else ():
                    apart = Levenshtein.distance(code, other_code, score_cutoff=MOST_CLASSES)
                    if other.item != item and apart <= MOST_CLASSES:
                        pair = Pair(new, other, edit_cost(phones, other.phones))
                        if pair.cost <= _limit(most, len(phones), len(other.phones)):
                            found.append(pair)
        return _nearest(found)

    def pairs(self, most: float = NEAR_COST) -> tuple[Pair, ...]:
        """Every near pair of names of different items, the nearest first."""
        found: list[Pair] = []
        for length, group in self._groups.items():
            for longer in range(length, length + MOST_CLASSES + 1):
                other = self._groups.get(longer)
                if other is not None:
                    found += self._pairs(group, other, _limit(most, length, longer))
        return _nearest(found)

    def _pairs(self, group: _SoundGroup, other: _SoundGroup, most: float) -> Iterator[Pair]:
        for start in range(0, len(group.codes), ROWS):
            apart = process.cdist(
                group.codes[start : start + ROWS],
                other.codes,
                scorer=Levenshtein.distance,
                score_cutoff=MOST_CLASSES,
                dtype=np.uint8,
            )
            i, j = np.nonzero(apart <= MOST_CLASSES)
            i += start
            kept = group.owner[i] != other.owner[j]
            if group is other:
                kept &= i < j
            i, j = i[kept], j[kept]
            costs = _edit_costs(group.phones[i], other.phones[j], self._costs)
            for k in np.flatnonzero(costs <= most):
                yield Pair(group.soundings[i[k]], other.soundings[j[k]], float(costs[k]))

    def _words(self, text: str) -> tuple[str, ...]:
        return words(read_numbers(text, self._language))


def _grouped(soundings: Sequence[Sounding]) -> dict[int, _SoundGroup]:
    by_length: defaultdict[int, list[Sounding]] = defaultdict(list)
    for sounding in soundings:
        if sounding.phones:
            by_length[len(sounding.phones)].append(sounding)
    number = {item: i for i, item in enumerate(dict.fromkeys(s.item for s in soundings))}
    return {
        length: _SoundGroup(
            tuple(some),
            tuple(coarse(s.phones) for s in some),
            np.array([number[s.item] for s in some], np.int32),
            np.array([[_INDEX[phone] for phone in s.phones] for s in some], np.int16),
        )
        for length, some in sorted(by_length.items())
    }


def _cost_table() -> NDArray[np.float32]:
    """The cost of each phone heard as each other, (n + 1, n + 1); the last stands for no phone."""
    every = (*PHONES, "")
    return np.array([[substitution_cost(a, b) for b in every] for a in every], np.float32)


def _edit_costs(
    a: NDArray[np.int16], b: NDArray[np.int16], costs: NDArray[np.float32]
) -> NDArray[np.float32]:
    """`edit_cost` of many pairs at once: phones (n, length of a) and (n, length of b) to (n,)."""
    none = len(PHONES)
    row = [np.zeros(len(a), np.float32)]
    for j in range(b.shape[1]):
        row.append(row[-1] + costs[none, b[:, j]])
    for i in range(a.shape[1]):
        drop = costs[a[:, i], none]
        new = [row[0] + drop]
        for j in range(b.shape[1]):
            change = row[j] + costs[a[:, i], b[:, j]]
            new.append(np.minimum(np.minimum(change, row[j + 1] + drop), new[j] + costs[none, b[:, j]]))
        row = new
    return row[-1]


def _limit(most: float, length: int, other: int) -> float:
    """What a pair of these lengths may cost; short names need to be nearer."""
    return most * min(1.0, NEAR_SHARE * max(length, other) / NEAR_COST)


def _nearest(pairs: Sequence[Pair]) -> tuple[Pair, ...]:
    return tuple(sorted(pairs, key=lambda p: (p.cost, p.one.item, p.other.item, p.one.text, p.other.text)))
