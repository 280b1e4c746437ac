"""From the words of a name to the items it may mean, each with an honest probability.

A pack goes in once; then text goes in and scored candidates come out: exact names first, then
parts of names, then names that sound alike, then names that are spelled alike. The probabilities
add up to less than one; the rest is "none of these". It never looks at cues or at what was asked
before.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, TypeVar

from rapidfuzz import process
from rapidfuzz.distance import OSA, Levenshtein

from vocab.language.by_language import fold_word, read_numbers
from vocab.language.english import (
    BUR,
    GENERIC,
    NAME_ARTICLES,
    PLAIN,
    SHADE_LETTERS,
)
from vocab.language.pronounce import PHONES, Phones, Pronouncer, edit_cost
from vocab.language.tokens import is_number, words
from vocab.pack.schema import Item, ItemClass, Name, Pack

How = Literal["exact", "sound", "spelling", "description"]
_T = TypeVar("_T")


EXACT_MASS = 0.97
RIVAL_COST = 0.08
"""How much each further item whose name ends with the same words takes from an exact name."""
PART_MASS = 0.93
FRONT_PART_MASS = 0.8
PART_WORD_MASS = 0.75
FRONT_PART_WORD_MASS = 0.6
"""The same for a single word, which may well be about something else."""
"""Mass where the part is not the end of a name ("hollenback" of "hollenback carver")."""
BUR_NUMBER_MASS = 0.7
PLAIN_MASS = 0.25
ANY_ORDER_MASS = 0.85
FRONT_WEIGHT = 0.5
NEAR_MASS = 0.93
SOUND_SPREAD = 0.22
SPELLING_SPREAD = 0.2
LONG_ENOUGH = 6
"""Names of fewer sounds (letters) need a closer match."""
WRONG_NUMBER = 0.3
"""Factor for a near name whose numbers differ: a 556 is no 557."""
LEAST_P = 0.02
LEAST_SPELLING = 0.65
LEAST_SOUND = 0.5
SHORTLIST = 25
LONGEST_NAME_SLACK = 2
MOST_ITEMS_OF_A_WORD = 6
REMEMBERED = 4096


@dataclass(frozen=True)
class Candidate:
    """An item that was perhaps meant, by which of its names, how sure, and how it was matched.

    variant: the size or pattern that the name says; None where it says none, or not which.
    """

    item: str
    name: Name
    p: float
    how: How
    variant: str | None = None


@dataclass(frozen=True)
class _Key:
    """One way of writing one name."""

    item: str
    name: Name
    words: tuple[str, ...]
    variant: str | None


@dataclass(frozen=True)
class _SoundKey:
    """A name, or one telling word of it, as phones."""

    keys: tuple[int, ...]
    phones: Phones
    whole: bool


class Lexicon:
    """The names of a pack, ready to be looked up."""

    def __init__(self, pack: Pack, pronouncer: Pronouncer | None = None) -> None:
        self.pack = pack
        self._pronouncer = pronouncer or Pronouncer()
        self._keys = tuple(key for item in pack.items for key in _keys_of(item, pack.language))
        self._exact = _grouped((key.words, i) for i, key in enumerate(self._keys))
        self._joined = _grouped((_join(key.words), i) for i, key in enumerate(self._keys))
        self._bags = _grouped((tuple(sorted(key.words)), i) for i, key in enumerate(self._keys))
        self._by_word = _grouped((word, i) for i, key in enumerate(self._keys) for word in set(key.words))
        self._burs = {item.id for item in pack.items if item.item_class is ItemClass.BUR}
        self._longest = max(len(key.words) for key in self._keys)
        self._spellings = [_join(key.words) for key in self._keys]
        self._remembered: dict[tuple[str, ...], tuple[Candidate, ...]] = {}

    @property
    def longest_name(self) -> int:
        """Words of the longest name."""
        return self._longest

    def prepare(self) -> None:
        """Works out how every name sounds, which the first look-up of a near name does otherwise."""
        _ = self._sound_codes

    def find(self, text: str | Sequence[str]) -> tuple[Candidate, ...]:
        """Candidates, the likeliest first, for a name without cue or ending; empty for a foreign phrase.

        Args:
            text: as typed, or canonical words from `vocab.language.tokens`.
        """
        query = self._query(text)
        known = self._remembered.get(query)
        if known is None:
            if len(self._remembered) >= REMEMBERED:
                self._remembered.clear()
            known = self._remembered[query] = self._look_up(query)
        return known

    def is_name(self, text: str | Sequence[str]) -> bool:
        """True where the words are exactly a name of some item."""
        query = self._query(text)
        return bool(query) and bool(self._exact_keys(query))

    def knows_word(self, word: str) -> bool:
        """True where some name holds this word."""
        folded = fold((word,), self.pack.language)
        return bool(folded) and folded[0] in self._by_word

    def _query(self, text: str | Sequence[str]) -> tuple[str, ...]:
        language = self.pack.language
        parts = words(read_numbers(text, language)) if isinstance(text, str) else text
        plain = self._with_compounds(fold(parts, language))
        lettered = self._with_compounds(fold(with_letters(parts), language))
        if lettered == plain or self._exact_keys(lettered):
            return lettered
        if self._exact_keys(plain) or not self._holding(lettered):
            return plain
        return lettered

    def _look_up(self, query: tuple[str, ...]) -> tuple[Candidate, ...]:
        if not query:
            return ()
        exact = self._exact_keys(query)
        if exact:
            return self._exact_candidates(query, exact)
        part = self._part_candidates(query)
        if part:
            return part
        bare = tuple(word for word in query if word not in GENERIC)
        if bare and bare != query:
            found = self._look_up(bare)
            whole = () if found and found[0].how == "exact" else self._near_candidates(query)
            if whole and (not found or whole[0].p > found[0].p):  # "acrilic bur" is nearer than "acrilic"
                return whole
            return self._burs_only(found) if BUR in query else found
        return self._near_candidates(query)

    # --- exact names ----------------------------------------------------------------------------

    def _exact_keys(self, query: tuple[str, ...]) -> list[int]:
        found = self._exact.get(query) or self._joined.get(_join(query))
        if not found and any(is_number(word) for word in query):
            found = self._bags.get(tuple(sorted(query)))
        return found or []

    def _exact_candidates(self, query: tuple[str, ...], exact: list[int]) -> tuple[Candidate, ...]:
        names = self._best_by_item(exact)
        said = self._variants(exact)
        rivals = self._best_by_item(
            i for i in self._holding(query) if self._keys[i].words[-len(query) :] == query
        )
        rivals = {item: i for item, i in rivals.items() if item not in names}
        rivals = {item: i for item, i in rivals.items() if self._is_rival(query, i, names)}
        share = EXACT_MASS / (1 + RIVAL_COST * len(rivals))
        out = [self._candidate(i, share / len(names), "exact", said.get(item)) for item, i in names.items()]
        out += [self._candidate(i, (EXACT_MASS - share) / len(rivals), "exact") for i in rivals.values()]
        return _ranked(out)

    def _is_rival(self, query: tuple[str, ...], key: int, names: Iterable[str]) -> bool:
        """Whether a name that ends with an exact one may be meant by it as well.

        "College pliers" is a whole name: only what must not be confused is its rival. A word is also short
        for longer names, above all of the same class: "tweezers" for "locking tweezers", but "clamp" is
        never short for a "paper clamp".
        """
        item = self.pack.item(self._keys[key].item)
        if self._must_differ(item.id, names):
            return True
        kindred = any(self.pack.item(name).item_class is item.item_class for name in names)
        return len(query) == 1 and (kindred or self._keys[key].name == item.name)

    def _must_differ(self, item: str, names: Iterable[str]) -> bool:
        """Whether an item and one of those named must never be confused silently."""
        pairs = self.pack.wide_margin
        return any((item, other) in pairs or (other, item) in pairs for other in names)

    def _burs_only(self, candidates: tuple[Candidate, ...]) -> tuple[Candidate, ...]:
        """With "bur" said, a lone number ("a number two bur") can only be a bur's."""
        burs = tuple(c for c in candidates if c.item in self._burs)
        total = sum(c.p for c in burs)
        if not burs or total >= BUR_NUMBER_MASS or burs[0].how != "exact":
            return burs or candidates
        return tuple(replace(c, p=c.p * BUR_NUMBER_MASS / total) for c in burs)

    def _with_compounds(self, query: tuple[str, ...]) -> tuple[str, ...]:
        """ "hand piece" as one word where names write it as one."""
        out: list[str] = []
        for word in query:
            if out and out[-1] + word in self._by_word and not is_number(word):
                out[-1] += word
            else:
                out.append(word)
        return tuple(out)

    # --- parts of names -------------------------------------------------------------------------

    def _part_candidates(self, query: tuple[str, ...]) -> tuple[Candidate, ...]:
        weights: dict[str, float] = {}
        best: dict[str, int] = {}
        mass = 0.0
        holding = self._holding(query)
        said = self._variants(holding)
        for i in sorted(holding, key=lambda i: len(self._keys[i].words)):
            item, name = self._keys[i].item, self._keys[i].words
            at_end = name[-len(query) :] == query or len(name) == len(query)
            weight = 1.0 if at_end else FRONT_WEIGHT
            mass = max(mass, _part_mass(query, name))
            if weight > weights.get(item, 0.0):
                weights[item], best[item] = weight, i
        if all(word in PLAIN or len(word) == 1 or _is_small_number(word) for word in query):
            mass = min(mass, PLAIN_MASS)
        total = sum(weights.values())
        return _ranked(
            self._candidate(best[item], mass * w / total, "exact", said.get(item))
            for item, w in weights.items()
        )

    def _holding(self, query: tuple[str, ...]) -> set[int]:
        """The keys that hold every word of the query."""
        sets = [set(self._by_word.get(word, ())) for word in set(query)]
        return set.intersection(*sets) if sets else set()

    # --- names that sound or look alike ---------------------------------------------------------

    def _near_candidates(self, query: tuple[str, ...]) -> tuple[Candidate, ...]:
        if len(query) > self._longest + LONGEST_NAME_SLACK:
            return ()
        near: dict[str, tuple[float, int, How]] = {}
        for i, confidence in self._spelled_alike(query):
            _keep_best(near, self._keys[i].item, confidence, i, "spelling")
        for i, confidence in self._sounding_alike(query):
            _keep_best(near, self._keys[i].item, confidence, i, "sound")
        if not near:
            return ()
        top = max(confidence for confidence, _, _ in near.values())
        weights = {item: confidence**3 for item, (confidence, _, _) in near.items()}
        total = sum(weights.values()) or 1.0
        return _ranked(
            self._candidate(i, top * weights[item] / total, how, self._keys[i].variant)
            for item, (_, i, how) in near.items()
        )

    def _spelled_alike(self, query: tuple[str, ...]) -> list[tuple[int, float]]:
        joined = _join(query)
        hits = process.extract(
            joined,
            self._spellings,
            scorer=OSA.normalized_similarity,
            score_cutoff=LEAST_SPELLING,
            limit=SHORTLIST,
        )
        out = []
        for spelling, similarity, i in hits:
            confidence = _nearness((1.0 - similarity) / SPELLING_SPREAD, min(len(joined), len(spelling)))
            out.append((i, confidence * _number_factor(query, self._keys[i].words)))
        return out

    def _sounding_alike(self, query: tuple[str, ...]) -> list[tuple[int, float]]:
        phones = self._pronouncer.phrase(query)
        if not phones:
            return []
        hits = process.extract(
            coarse(phones),
            self._sound_codes,
            scorer=Levenshtein.normalized_similarity,
            score_cutoff=LEAST_SOUND,
            limit=SHORTLIST,
        )
        out = []
        for _, _, at in hits:
            sound = self._sounds[at]
            distance = edit_cost(phones, sound.phones) / max(len(phones), len(sound.phones))
            confidence = _nearness(distance / SOUND_SPREAD, min(len(phones), len(sound.phones)))
            if not sound.whole:
                confidence *= FRONT_PART_MASS
            for i in sound.keys:
                out.append((i, confidence * _number_factor(query, self._keys[i].words)))
        return out

    @cached_property
    def _sound_codes(self) -> list[str]:
        return [coarse(sound.phones) for sound in self._sounds]

    @cached_property
    def _sounds(self) -> tuple[_SoundKey, ...]:
        self._pronouncer.prepare(self._by_word)
        out = []
        for i, key in enumerate(self._keys):
            phones = self._pronouncer.phrase(key.words)
            if phones:
                out.append(_SoundKey((i,), phones, whole=True))
        for word, indices in self._by_word.items():
            items = {self._keys[i].item for i in indices}
            telling = not is_number(word) and word not in PLAIN and word not in GENERIC
            if telling and len(items) <= MOST_ITEMS_OF_A_WORD and (word,) not in self._exact:
                phones = self._pronouncer.phones(word)
                if len(phones) >= LONG_ENOUGH - 1:
                    out.append(_SoundKey(tuple(self._best_by_item(indices).values()), phones, whole=False))
        return tuple(out)

    # --- small parts ----------------------------------------------------------------------------

    def _best_by_item(self, indices: Iterable[int]) -> dict[str, int]:
        """The first key of each item (names are in written order, the preferred one first)."""
        best: dict[str, int] = {}
        for i in sorted(indices):
            best.setdefault(self._keys[i].item, i)
        return best

    def _variants(self, indices: Iterable[int]) -> dict[str, str]:
        """The variant of each item that all of its keys agree on."""
        said: dict[str, set[str | None]] = {}
        for i in indices:
            said.setdefault(self._keys[i].item, set()).add(self._keys[i].variant)
        alone = {item: next(iter(variants)) for item, variants in said.items() if len(variants) == 1}
        return {item: variant for item, variant in alone.items() if variant is not None}

    def _candidate(self, key: int, p: float, how: How, variant: str | None = None) -> Candidate:
        return Candidate(self._keys[key].item, self._keys[key].name, p, how, variant)


def fold(parts: Sequence[str], language: str = "en") -> tuple[str, ...]:
    """Canonical words without articles, plurals and spelling variants: what names are compared by."""
    kept = [fold_word(word, language) for word in parts if word not in NAME_ARTICLES]
    return tuple(kept) if kept else tuple(fold_word(word, language) for word in parts if len(word) == 1)


def with_letters(parts: Sequence[str]) -> tuple[str, ...]:
    """Canonical words with a number and its letter as one: "14", "a" is a 14A clamp, "a", "2" the shade A2.

    Else the letter would be taken for the article.
    """
    out: list[str] = []
    for part in parts:
        before = out[-1] if out else ""
        lettered = part == "a" and before.isdigit()
        shade = before in SHADE_LETTERS and part.isdigit() and len(part) == 1
        if lettered or shade:
            out[-1] += part
        else:
            out.append(part)
    return tuple(out)


def _keys_of(item: Item, language: str) -> Iterable[_Key]:
    seen: set[tuple[str, ...]] = set()
    plain: list[tuple[Name, str | None]] = [(name, None) for name in item.own_names]
    for name, variant in (*plain, *item.variant_name_pairs):
        for text in name.ways_to_say:
            key = fold(with_letters(words(read_numbers(text, language))), language)
            if key and key not in seen:
                seen.add(key)
                yield _Key(item.id, name, key, variant)


def _grouped(pairs: Iterable[tuple[_T, int]]) -> dict[_T, list[int]]:
    out: defaultdict[_T, list[int]] = defaultdict(list)
    for key, value in pairs:
        out[key].append(value)
    return dict(out)


def _join(parts: Sequence[str]) -> str:
    return "".join(parts)


def _part_mass(query: tuple[str, ...], name: tuple[str, ...]) -> float:
    """How surely a query that is part of a name (or all of it, in another order) stands for it."""
    if name[-len(query) :] == query:
        return PART_MASS if len(query) > 1 else PART_WORD_MASS
    if len(name) == len(query):
        return ANY_ORDER_MASS
    if len(query) == 1:
        return FRONT_PART_WORD_MASS
    in_order = _is_subsequence(query, name) or any(is_number(word) for word in query)
    return FRONT_PART_MASS if in_order else FRONT_PART_MASS * ANY_ORDER_MASS


def _is_small_number(word: str) -> bool:
    return word.isdigit() and len(word) <= 2


def _is_subsequence(part: Sequence[str], whole: Sequence[str]) -> bool:
    rest = iter(whole)
    return all(word in rest for word in part)


def _nearness(distance: float, length: int) -> float:
    """Confidence 0..NEAR_MASS from a distance in units of its spread; short names need more."""
    if distance == 0.0:
        return NEAR_MASS
    return NEAR_MASS * math.exp(-distance * distance) * min(1.0, length / LONG_ENOUGH)


def _number_factor(query: Sequence[str], name: Sequence[str]) -> float:
    numbers = {word for word in query if is_number(word)}
    return 1.0 if numbers == {word for word in name if is_number(word)} else WRONG_NUMBER


def _keep_best(
    near: dict[str, tuple[float, int, How]], item: str, confidence: float, key: int, how: How
) -> None:
    if confidence > near.get(item, (0.0, 0, how))[0]:
        near[item] = (confidence, key, how)


def _ranked(candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    kept = (candidate for candidate in candidates if candidate.p >= LEAST_P)
    return tuple(sorted(kept, key=lambda candidate: (-candidate.p, candidate.item)))


_SOUND_CLASSES = (
    ("P", "B"),
    ("T", "D"),
    ("K", "G"),
    ("M", "N", "NG"),
    ("F", "V", "TH", "DH"),
    ("S", "Z", "SH", "ZH", "CH", "JH"),
    ("L",),
    ("R", "ER"),
    ("W", "UW", "UH", "OW"),
    ("Y", "IY", "IH", "EY"),
    ("HH",),
    ("EH", "AE", "AH"),
    ("AA", "AO", "AY", "AW", "OY"),
)
_CODES = {phone: chr(ord("a") + i) for i, group in enumerate(_SOUND_CLASSES) for phone in group}
assert set(_CODES) == set(PHONES)


def coarse(phones: Phones) -> str:
    """Phones as one letter for each class of similar sounds: a quick first sieve."""
    return "".join(_CODES[phone] for phone in phones)
