"""How a word sounds: ARPAbet phones without stress, and how far apart two sound sequences are.

A word comes in, phones go out: from the CMU Pronouncing Dictionary where it knows the word or both
halves of a compound, else guessed from its letters (`g2p`). Numbers and lone letters are said, and a word
without vowels ("gmt") is spelled out.

Measured in tests/vocab/language/test_pronounce.py: phone error rate 24 % (71 of 293 phones) on the 42 words
that joined the dictionary after the network was published, most of them names; 8 % (1,028 of 12,663)
on 2,000 random dictionary words, nearly all of which the network was trained on.
"""

from __future__ import annotations

import gzip
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from functools import cache

from vocab.language.data import data_file
from vocab.language.g2p import spelling_network
from vocab.language.tokens import is_number, spoken_forms, words

Phones = tuple[str, ...]
Cost = Callable[[str, str], float]

VOWEL_LETTERS = frozenset("aeiouy")
SHORTEST_HALF = 4
"""A new word is cut into two known ones only if each has this many letters."""

# Consonants: place (lips 0 ... throat 7), manner (stop, affricate, fricative, nasal, liquid, glide), voiced.
_CONSONANTS: dict[str, tuple[int, int, int]] = {
    "P": (0, 0, 0),
    "B": (0, 0, 1),
    "M": (0, 3, 1),
    "W": (0, 5, 1),
    "F": (1, 2, 0),
    "V": (1, 2, 1),
    "TH": (2, 2, 0),
    "DH": (2, 2, 1),
    "T": (3, 0, 0),
    "D": (3, 0, 1),
    "S": (3, 2, 0),
    "Z": (3, 2, 1),
    "N": (3, 3, 1),
    "L": (3, 4, 1),
    "R": (4, 4, 1),
    "SH": (4, 2, 0),
    "ZH": (4, 2, 1),
    "CH": (4, 1, 0),
    "JH": (4, 1, 1),
    "Y": (5, 5, 1),
    "K": (6, 0, 0),
    "G": (6, 0, 1),
    "NG": (6, 3, 1),
    "HH": (7, 2, 0),
}
# Vowels: height (high 0 ... low 3), backness (front 0 ... back 2), gliding.
_VOWELS: dict[str, tuple[float, float, int]] = {
    "IY": (0, 0, 0),
    "IH": (0.5, 0.3, 0),
    "EY": (1, 0, 1),
    "EH": (1.5, 0.2, 0),
    "AE": (2.5, 0.3, 0),
    "AH": (1.7, 1, 0),
    "ER": (1.3, 1, 0),
    "AA": (3, 1.7, 0),
    "AO": (2, 2, 0),
    "OW": (1, 2, 1),
    "UH": (0.5, 1.7, 0),
    "UW": (0, 2, 0),
    "AY": (2.5, 1, 1),
    "AW": (2.5, 1.2, 1),
    "OY": (1.8, 1.6, 1),
}
_HALF_VOWELS = {frozenset(("W", "UW")): 0.5, frozenset(("Y", "IY")): 0.5, frozenset(("R", "ER")): 0.3}
_WEAK = {"AH": 0.6, "HH": 0.6, "IH": 0.8, "T": 0.8, "D": 0.8}
"""Sounds that are easily dropped or added."""

PHONES: tuple[str, ...] = (*_CONSONANTS, *_VOWELS)


class Pronouncer:
    """Words to phones; every word is worked out once."""

    def __init__(self) -> None:
        self._dictionary = _dictionary()
        self._known: dict[str, Phones] = {}

    def phones(self, word: str) -> Phones:
        """The phones of one word, without stress; empty where nothing can be said.

        >>> Pronouncer().phones("mirror")
        ('M', 'IH', 'R', 'ER')
        """
        word = word.lower()
        if word not in self._known:
            self.prepare((word,))
        return self._known[word]

    def phrase(self, text: str | Sequence[str]) -> Phones:
        """The phones of several words in a row; text is made canonical first."""
        parts = words(text) if isinstance(text, str) else text
        return tuple(phone for word in parts for phone in self.phones(word))

    def in_dictionary(self, word: str) -> bool:
        """True where the dictionary itself knows the word."""
        return word.lower() in self._dictionary

    def guess(self, word: str) -> Phones:
        """What the network makes of a word, whether or not the dictionary knows it."""
        letters = _plain_letters(word)
        return spelling_network().phones([letters])[0] if letters else ()

    def prepare(self, words: Iterable[str]) -> None:
        """Works out many words at once; `phones` and `phrase` then only look them up."""
        new: dict[str, str] = {}
        for word in dict.fromkeys(word.lower() for word in words):
            if word not in self._known:
                known = self._from_dictionary(word)
                if known is None:
                    new[word] = _plain_letters(word)
                else:
                    self._known[word] = known
        if new:
            self._known.update(zip(new, spelling_network().phones(list(new.values())), strict=True))

    def _from_dictionary(self, word: str) -> Phones | None:
        """The phones of a word that needs no guess, or None."""
        if is_number(word):
            said = spoken_forms(word)
            return tuple(p for part in said[0].split() for p in self.phones(part)) if said else ()
        entry = self._dictionary.get(word) or self._dictionary.get(_with_apostrophe(word))
        if entry is not None:
            return entry_phones(entry)
        letters = _plain_letters(word)
        if not letters:
            return ()
        if letters != word and letters in self._dictionary:
            return entry_phones(self._dictionary[letters])
        if not VOWEL_LETTERS & set(letters):
            return tuple(p for letter in letters for p in entry_phones(self._dictionary.get(letter, "")))
        halves = self._halves(letters)
        return tuple(p for half in halves for p in self.phones(half)) if halves else None

    def _halves(self, letters: str) -> tuple[str, str] | None:
        """The most even cut of a compound into two dictionary words ("beaver", "tail"), if any."""
        cuts = range(SHORTEST_HALF, len(letters) - SHORTEST_HALF + 1)
        for at in sorted(cuts, key=lambda at: abs(2 * at - len(letters))):
            if letters[:at] in self._dictionary and letters[at:] in self._dictionary:
                return letters[:at], letters[at:]
        return None


def entry_phones(entry: str) -> Phones:
    """The phones of a dictionary entry ("M IH1 R ER0"), stress dropped."""
    return tuple(phone.rstrip("012") for phone in entry.split("#", 1)[0].split())


def phone_distance(a: Sequence[str], b: Sequence[str]) -> float:
    """How far apart two phone sequences are: 0 for the same, 1 for nothing in common."""
    longest = max(len(a), len(b))
    return edit_cost(a, b) / longest if longest else 0.0


def substitution_cost(a: str, b: str) -> float:
    """0..1 for one phone heard as another; "" stands for none (a sound dropped or added)."""
    if a == b:
        return 0.0
    if not a or not b:
        return _WEAK.get(a or b, 1.0)
    pair = _HALF_VOWELS.get(frozenset((a, b)))
    if pair is not None:
        return pair
    if a in _VOWELS and b in _VOWELS:
        (height_a, back_a, glide_a), (height_b, back_b, glide_b) = _VOWELS[a], _VOWELS[b]
        return min(
            0.8,
            0.1 + 0.2 * abs(height_a - height_b) + 0.15 * abs(back_a - back_b) + 0.1 * abs(glide_a - glide_b),
        )
    if a in _CONSONANTS and b in _CONSONANTS:
        (place_a, manner_a, voice_a), (place_b, manner_b, voice_b) = _CONSONANTS[a], _CONSONANTS[b]
        cost = 0.2 * (voice_a != voice_b) + 0.4 * (manner_a != manner_b)
        return min(1.0, cost + (0.2 + 0.05 * abs(place_a - place_b) if place_a != place_b else 0.0))
    return 1.0


def edit_cost(a: Sequence[str], b: Sequence[str], cost: Cost = substitution_cost) -> float:
    """The cheapest way from `a` to `b` by substituting, dropping and adding phones.

    With a cost of 1 for every change it is the Levenshtein distance.
    """
    costs = _all_costs() if cost is substitution_cost else _costs_between(a, b, cost)
    adds = [costs["", phone] for phone in b]
    row = [0.0]
    for add in adds:
        row.append(row[-1] + add)
    for phone_a in a:
        drop = costs[phone_a, ""]
        above, left = row[0], row[0] + drop
        row[0] = left
        for j, add in enumerate(adds):
            other = above + costs[phone_a, b[j]]
            above = row[j + 1]
            left += add
            if other < left:
                left = other
            if above + drop < left:
                left = above + drop
            row[j + 1] = left
    return row[-1]


def _costs_between(a: Sequence[str], b: Sequence[str], cost: Cost) -> dict[tuple[str, str], float]:
    return {(x, y): cost(x, y) for x in {"", *a} for y in {"", *b} if x or y}


@cache
def _all_costs() -> dict[tuple[str, str], float]:
    """What each phone costs as each other, "" for none."""
    every = ("", *PHONES)
    return _costs_between(every, every, substitution_cost)


@cache
def _dictionary() -> dict[str, str]:
    """Word to its first entry, unparsed."""
    with data_file("cmudict.dict.gz") as path:
        text = gzip.decompress(path.read_bytes()).decode()
        if not text:
            raise EOFError("it is empty")
    entries: dict[str, str] = {}
    for line in text.splitlines():
        word, _, entry = line.partition(" ")
        if entry and not word.endswith(")"):
            entries[word] = entry
    return entries


def _plain_letters(word: str) -> str:
    plain = unicodedata.normalize("NFD", word.lower())
    return "".join(letter for letter in plain if "a" <= letter <= "z")


def _with_apostrophe(word: str) -> str:
    return f"{word[:-1]}'s" if word.endswith("s") else word
