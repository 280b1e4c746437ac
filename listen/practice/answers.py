"""How people answer: the words around an answer, giving up, asking again, and values in one form.

Comes in: text, or the ways of saying a set of choices. Goes out: text without the words around it, and a
small `Pack` whose only names are answers, for an engine to be bound to. It never decides on an answer.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from vocab.schema import Item, ItemClass, Pack, Reprocessing, Speech
from vocab.spoken import is_number, words

HEDGES = (
    "i think it's the",
    "i think it's a",
    "i think it's",
    "i think that's the",
    "i think the",
    "i think",
    "is it the",
    "is it a",
    "is it",
    "maybe it's the",
    "maybe the",
    "maybe a",
    "maybe",
    "perhaps the",
    "perhaps",
    "probably the",
    "probably",
    "i guess it's the",
    "i guess the",
)
"""Openers that show doubt."""

OPENERS = (
    "the",
    "a",
    "an",
    "it's the",
    "it's a",
    "it's an",
    "it's",
    "it's in",
    "it's in slot",
    "it's in the",
    "it is the",
    "it is a",
    "that's the",
    "that's a",
    "that's an",
    "that's",
    "that is the",
    "this is the",
    "you mean the",
    "i'd say the",
    "i'd say",
    "they're",
    "slot",
    "in slot",
    "in",
    "in the",
    "about",
    *HEDGES,
)
DOUBTS = ("i think", "i guess", "maybe", "or not", "i believe")
"""Endings that show doubt."""
ENDINGS = (*DOUBTS, "please")
UNKNOWN = (
    "i don't know",
    "don't know",
    "i do not know",
    "i don't remember",
    "i can't remember",
    "i forgot",
    "i have no idea",
    "no idea",
    "not sure",
    "i'm not sure",
    "tell me",
    "skip it",
)
REPEAT = (
    "repeat",
    "repeat that",
    "please repeat",
    "say that again",
    "say it again",
    "say again",
    "can you say that again",
    "can you repeat that",
    "could you repeat that",
    "what was that",
    "one more time",
    "once more",
    "pardon",
    "again please",
)
BETWEEN = ("in", "in slot", "slot", "goes in", "goes in slot", "on", "at", "to", "into")
"""What stands between item and slot when a tray is laid by voice."""

_UNITS = {
    "mm": "millimetre",
    "millimeter": "millimetre",
    "micrometer": "micrometre",
    "micron": "micrometre",
    "s": "second",
    "sec": "second",
    "%": "percent",
}
_UNIT_WORDS = frozenset(("millimetre", "micrometre", "second", "percent", "degree", "turn", "minute"))
_SMALL_WORDS = frozenset(words("the a an in about around roughly of is it up usually some for per"))


def bare(text: str) -> tuple[tuple[str, ...], ...]:
    """Every reading of an answer without words around it, the longest first, as canonical words."""
    said = words(text)
    starts = [0, *(len(o) for o in _OPENERS if said[: len(o)] == o)]
    ends = [0, *(len(e) for e in _ENDINGS if said[-len(e) :] == e)]
    cores = {said[start : len(said) - end] for start in starts for end in ends if start + end < len(said)}
    return tuple(sorted(cores, key=lambda core: -len(core)))


def doubts(text: str) -> bool:
    """Whether an answer says that it is not sure of itself."""
    said = words(text)
    return (
        text.rstrip().endswith("?")
        or any(said[: len(h)] == h for h in _HEDGES)
        or any(said[-len(d) :] == d for d in _DOUBTS)
    )


def gives_up(text: str) -> bool:
    """Whether an answer says that it is not known."""
    return words(text) in _UNKNOWN


def asks_again(text: str) -> bool:
    """Whether an answer asks to hear the question again."""
    said = words(text)
    return said in _REPEAT or (said[-1:] == ("please",) and said[:-1] in _REPEAT)


def value_key(text: str) -> tuple[str, ...]:
    """A value in one form: "15 s", "about fifteen seconds" and "15 seconds" are the same.

    >>> value_key("about 8,000 to thirty thousand turns a minute")
    ('8000', 'to', '30000', 'turn', 'minute')
    """
    plain = (
        re.sub(r"(?<=\d),(?=\d{3}\b)", "", text.lower())
        .replace("%", " percent ")
        .replace("rpm", "turns a minute")
    )
    plain = re.sub(r"(?<=\d)(mm|s|sec)\b", r" \1", plain)
    out: list[str] = []
    for word in words(plain):
        if word == "thousand" and out and is_number(out[-1]):
            out[-1] += "000"
        elif word == AND and out and is_number(out[-1]) or word in _SMALL_WORDS:
            continue
        else:
            single = word[:-1] if word.endswith("s") and len(word) > 3 else word
            out.append(_UNITS.get(single, single))
    if len(out) == 3 and out[1] == "to" and out[2].endswith("000") and len(out[0]) <= 2:
        out[0] += "000"  # "eight to thirty thousand"
    return tuple(_joined_thousands(out))


def without_units(key: tuple[str, ...]) -> tuple[str, ...]:
    """The same value without its unit."""
    return tuple(word for word in key if word not in _UNIT_WORDS)


def answers_pack(names: Iterable[str], language: str = "en") -> Pack:
    """A pack whose names are answers and whose cues are the words around them."""
    first, *others = dict.fromkeys(names)
    item = Item.model_validate(
        {
            "id": "answer",
            "name": first,
            "synonyms": others,
            "class": ItemClass.EXAMINATION,
            "purpose": "an answer",
            "look": "an answer",
            "reprocessing": Reprocessing.STERILISE,
        }
    )
    speech = Speech(cues=OPENERS, endings=ENDINGS, joiners=BETWEEN, refusals=UNKNOWN, repeats=REPEAT)
    return Pack(id="answers", name="Answers", language=language, version="1", items=(item,), speech=speech)


def _joined_thousands(out: list[str]) -> Iterable[str]:
    """ "200" "50000", as "two hundred fifty thousand" may be read, is one number."""
    for i, word in enumerate(out):
        nxt = out[i + 1] if i + 1 < len(out) else ""
        before = out[i - 1] if i else ""
        if _is_hundreds(word) and nxt.endswith("000") and len(nxt) == 5:
            yield str(int(word) * 1000 + int(nxt))
        elif not (_is_hundreds(before) and word.endswith("000") and len(word) == 5):
            yield word


def _is_hundreds(word: str) -> bool:
    return len(word) == 3 and word.endswith("00")


AND = "and"
_OPENERS = tuple(words(text) for text in OPENERS)
_HEDGES = tuple(words(text) for text in HEDGES)
_ENDINGS = tuple(words(text) for text in ENDINGS)
_DOUBTS = tuple(words(text) for text in DOUBTS)
_UNKNOWN = frozenset(words(text) for text in UNKNOWN)
_REPEAT = frozenset(words(text) for text in REPEAT)
