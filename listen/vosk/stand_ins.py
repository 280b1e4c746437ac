"""Stand-ins for words that a recogniser's lexicon lacks: the words it does have that sound nearest.

From the missing words, the lexicon, a pronouncer and a distance between pronunciations it finds for each
missing word one lexicon word, or up to three in a row, or nothing when none sounds close. It never asks
the recogniser anything, and never gives two words the same stand-in, so what was heard can be mapped back.
"""

from __future__ import annotations

import heapq
import itertools
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

Phones = tuple[str, ...]

MAX_WORDS = 3
MIN_PHONES = 1
"""The shortest piece of a longer stand-in ("a" counts: an exact sound matters more than long words)."""
KEPT_PIECES = 4
RESCORED = 24


@dataclass(frozen=True)
class Pronunciations:
    """How words sound.

    `phones` gives any word's pronunciation, () if it cannot; it may be slow. `lexicon_phones` does
    so for the recogniser's own words, which can be half a million: it must be quick (a dictionary
    look-up), and () leaves the word out. `distance` compares two pronunciations, from 0 for the same
    to 1 for nothing in common; anything above `worst` no longer counts as alike.
    """

    phones: Callable[[str], Phones]
    lexicon_phones: Callable[[str], Phones]
    distance: Callable[[Phones, Phones], float]
    worst: float = 0.3


@dataclass(frozen=True)
class Bridge:
    """`word` is given to the recogniser as `stand_in`, which sounds `distance` away from it."""

    word: str
    stand_in: str
    distance: float


class _SoundPieces:
    """The lexicon by sound: one word for each pronunciation, as texts with one character per phone."""

    def __init__(self, lexicon: Iterable[str], sounds: Pronunciations, longest: int) -> None:
        self._letters: dict[str, str] = {}
        self._phones: dict[str, str] = {}
        self._word: dict[str, list[str]] = defaultdict(list)
        for word in lexicon:
            phones = sounds.lexicon_phones(word)
            if 0 < len(phones) <= longest:
                self._word[self.encode(phones)].append(word)
        by_length: dict[int, list[str]] = defaultdict(list)
        for text in self._word:
            by_length[len(text)].append(text)
        self._by_length = dict(by_length)

    def encode(self, phones: Phones) -> str:
        for phone in phones:
            if phone not in self._letters:
                letter = chr(0xE000 + len(self._letters))
                self._letters[phone], self._phones[letter] = letter, phone
        return "".join(self._letters[phone] for phone in phones)

    def decode(self, text: str) -> Phones:
        return tuple(self._phones[letter] for letter in text)

    def words(self, text: str) -> list[str]:
        return self._word[text]

    def near(self, texts: list[str], kept: int) -> dict[str, list[tuple[int, str]]]:
        """For each text its nearest lexicon pronunciations (edits, text), `kept` at most."""
        found: dict[str, list[tuple[int, str]]] = {}
        for length, group in itertools.groupby(sorted(set(texts), key=len), key=len):
            queries = list(group)
            allowed = max(1, round(0.34 * length))
            choices = [
                t for n in range(length - allowed, length + allowed + 1) for t in self._by_length.get(n, ())
            ]
            if not choices:
                continue
            edits = process.cdist(
                queries, choices, scorer=Levenshtein.distance, score_cutoff=allowed, dtype=np.uint8
            )
            for query, row in zip(queries, edits, strict=True):
                few = np.flatnonzero(row <= allowed)
                best = few[np.argsort(row[few], kind="stable")[:kept]]
                found[query] = [(int(row[i]), choices[i]) for i in best]
        return found


def find_bridges(
    missing: Iterable[str],
    lexicon: Iterable[str],
    sounds: Pronunciations,
    reserved: Collection[tuple[str, ...]] = (),
) -> dict[str, Bridge]:
    """The nearest-sounding stand-in for each missing word that has one.

    Args:
        missing: words the lexicon lacks.
        lexicon: the recogniser's words.
        sounds: how words sound and how far sounds are apart.
        reserved: word sequences that mean something already and cannot stand for another word.

    Returns:
        by missing word; the nearest pairs choose first, and no stand-in serves twice.
    """
    said = {word: phones for word in dict.fromkeys(missing) if (phones := sounds.phones(word))}
    if not said:
        return {}
    pieces = _SoundPieces(lexicon, sounds, longest=max(map(len, said.values())) + 2)
    texts = {word: pieces.encode(phones) for word, phones in said.items()}
    wholes = pieces.near(list(texts.values()), RESCORED)
    parts = pieces.near(
        [
            t[i:j]
            for t in texts.values()
            for i, j in itertools.combinations(range(len(t) + 1), 2)
            if j - i >= MIN_PHONES
        ],
        KEPT_PIECES,
    )
    offers = [
        (distance, len(words), word, words)
        for word, text in texts.items()
        for distance, words in _stand_ins(text, said[word], wholes, parts, pieces, sounds)
        if words not in reserved
    ]
    bridges: dict[str, Bridge] = {}
    taken: set[tuple[str, ...]] = set()
    for distance, _, word, words in sorted(offers):
        if word not in bridges and words not in taken:
            bridges[word] = Bridge(word, " ".join(words), distance)
            taken.add(words)
    return bridges


def _stand_ins(
    text: str,
    phones: Phones,
    wholes: dict[str, list[tuple[int, str]]],
    parts: dict[str, list[tuple[int, str]]],
    pieces: _SoundPieces,
    sounds: Pronunciations,
) -> Iterator[tuple[float, tuple[str, ...]]]:
    """Word sequences near `phones` with their distance; those with few edits are looked at first."""
    combinations: list[tuple[int, tuple[str, ...]]] = [
        (edits, (piece,)) for edits, piece in wholes.get(text, ())
    ]
    combinations += list(_combinations(text, parts))
    for _, chosen in heapq.nsmallest(RESCORED, combinations, key=lambda c: (c[0], len(c[1]))):
        distance = sounds.distance(phones, pieces.decode("".join(chosen)))
        if distance <= sounds.worst:
            for words in itertools.islice(itertools.product(*map(pieces.words, chosen)), KEPT_PIECES):
                yield distance, words


def _combinations(
    text: str, parts: dict[str, list[tuple[int, str]]]
) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Ways of covering `text` with two to MAX_WORDS pieces, with their total edits."""
    for cuts in itertools.chain.from_iterable(
        itertools.combinations(range(MIN_PHONES, len(text) - MIN_PHONES + 1), n) for n in range(1, MAX_WORDS)
    ):
        edges = (0, *cuts, len(text))
        spans = [text[i:j] for i, j in itertools.pairwise(edges)]
        if all(parts.get(span) for span in spans):
            for chosen in itertools.product(*(parts[span] for span in spans)):
                yield sum(edits for edits, _ in chosen), tuple(piece for _, piece in chosen)
