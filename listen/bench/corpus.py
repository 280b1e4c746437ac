"""Sentences to speak: requests made from a pack, and chatter that asks for nothing.

A pack and a side (tune or test) come in, texts with the item they ask for go out. What decides the side is
a hash of the words themselves, so a sentence stays on its side when others are added, and no sentence is
ever on both. Nothing here makes sound.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from listen.speech.voices import Side
from vocab.language.tokens import spoken_forms
from vocab.pack.schema import Name, Pack, Reprocessing

VOWELS = frozenset("aeiou")
LONG_U = ("uni", "use", "usu", "u ")
"""Words that begin with a vowel letter and are said with a y ("a universal composite")."""

FIRST_FORM_P = 0.7
"""How often a name with several spoken forms is said in its likeliest one."""

BARE_P = 0.2
"""How often a name is said with nothing before it."""


@dataclass(frozen=True)
class RequestText:
    """One request as words: `text` is spoken, `item` is asked for, `name` is how (as the pack writes it)."""

    text: str
    item: str
    name: str


@cache
def chatter(side: Side | None = None) -> tuple[str, ...]:
    """Clinic talk that asks for nothing, in written order; both sides when `side` is None."""
    lines = files("listen.bench").joinpath("chatter.txt").read_text(encoding="utf-8").splitlines()
    return tuple(line for line in lines if line and side in (None, side_of(line)))


def side_of(words: str) -> Side:
    """The side these words belong to, capital letters aside: half of all sentences on each."""
    odd = hashlib.sha256(words.strip().lower().encode()).digest()[0] & 1
    return "test" if odd else "tune"


def requests(pack: Pack, side: Side, rng: np.random.Generator, per_name: int = 1) -> list[RequestText]:
    """Ask for every name of the pack, each time in other words.

    A cue before a name (or none) stands on one side only, so tune and test share no sentence. A name that
    belongs to several items is left out, since no single answer would be right.

    Args:
        side: which half of the cue and name combinations.
        rng: draws cue, spoken form and ending.
        per_name: how many different requests to try for each name; fewer where the words run out.
    """
    owners = Counter(form for item in pack.items for form in {f for n in item.names for f in _forms(n)})
    made: list[RequestText] = []
    for item in pack.items:
        seen: set[str] = set()
        mass = item.reprocessing is Reprocessing.MULTI_DOSE
        for name in item.names:
            forms = [form for form in _forms(name) if owners[form] == 1]
            if not forms:
                continue
            for _ in range(per_name):
                text = _request(pack, side, rng, forms, mass)
                if text is not None and text not in seen:
                    seen.add(text)
                    made.append(RequestText(with_letters(text, name.text), item.id, name.text))
    return made


def _request(pack: Pack, side: Side, rng: np.random.Generator, forms: list[str], mass: bool) -> str | None:
    """One request in words of this side; None when no cue puts any form on it.

    `mass` marks what comes from a container and is not counted ("some etch").
    """
    form = forms[0] if rng.random() < FIRST_FORM_P else forms[int(rng.integers(len(forms)))]
    for said in (form, *forms):
        heads = [
            head
            for head in (f"{cue} {said}" for cue in pack.speech.cues if fits(cue, said, mass))
            if side_of(head) == side
        ]
        if side_of(said) == side and (rng.random() < BARE_P or not heads):
            heads = [said]
        if heads:
            head = heads[int(rng.integers(len(heads)))]
            ending = str(rng.choice(["", *pack.speech.endings])) if rng.random() < 0.5 else ""
            return as_sentence(f"{head}, {ending}" if ending else head)
    return None


def _forms(name: Name) -> tuple[str, ...]:
    """Spoken forms of a name, likeliest first."""
    said = (form for text in name.ways_to_say for form in spoken_forms(text))
    return tuple(dict.fromkeys(said))


def fits(cue: str, name: str, mass: bool) -> bool:
    """Whether people put this cue before this name: a or an by sound, one, many or some by kind."""
    last = cue.split()[-1]
    many = name.endswith("s") and not name.endswith("ss")
    if last == "and":
        return False
    if last in ("some", "more"):
        return many or mass
    if last in ("little", "of"):
        return mass and not many
    if last in ("a", "an"):
        vowel = name[0] in VOWELS and not name.startswith(LONG_U)
        return not many and not mass and (last == "an") == vowel
    return not (many and last in ("another", "new", "fresh"))


def with_letters(text: str, name: str) -> str:
    """Abbreviations of the written name as single letters ("I P C"), as they are read out."""
    for short in re.findall(r"[A-Z]{2,}", name):
        text = re.sub(rf"\b{short}\b", " ".join(short), text, flags=re.IGNORECASE)
    return text


def as_sentence(words: str) -> str:
    """A capital at the start, for the lone "i" and a full stop, as speech programs expect."""
    said = " ".join("I" + word[1:] if word.split("'")[0] == "i" else word for word in words.split())
    return said[0].upper() + said[1:] + "."
