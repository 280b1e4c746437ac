"""How people answer: the words around an answer, giving up, asking again, and values in one form.

Takes text, or the ways of saying a set of choices; returns the text without the words around it, and a small
`Pack` whose only names are answers, for an engine to be bound to. It does not decide whether an answer is
right.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from vocab.language.tokens import is_number, words
from vocab.pack.schema import Item, ItemClass, Pack, Reprocessing, Speech

Key = tuple[str, ...]

HESITATIONS = (
    "um",
    "uh",
    "er",
    "erm",
    "hm",
    "hmm",
    "oh",
    "ah",
    "well",
    "so",
    "okay",
    "let me see",
    "let's see",
    "let me think",
)
"""What people say while they look for an answer."""
FRAMES = (
    "it's",
    "it is",
    "that's",
    "that is",
    "this is",
    "they're",
    "that would be",
    "that'd be",
    "it would be",
    "it'd be",
    "that's called",
    "it's called",
    "the answer is",
    "you mean",
    "i'd say",
    "i would say",
    "i'd say it's",
    "i'd say that's",
)
HEDGES = (
    "i think",
    "i think it's",
    "i think that's",
    "i think that is",
    "i think it is",
    "i think that would be",
    "i guess",
    "i guess it's",
    "i guess that's",
    "i believe it's",
    "i believe that's",
    "is it",
    "is that",
    "would that be",
    "maybe",
    "maybe it's",
    "perhaps",
    "perhaps it's",
    "probably",
    "it's probably",
    "that's probably",
    "it might be",
    "it could be",
)
"""Frames that show doubt."""
ARTICLES = ("the", "a", "an")
PLACES = ("in", "in the", "in slot", "in the slot", "slot")
"""Words before a slot."""
_USUAL = ("it's", "that's", "that would be")
"""Frames that the engine listens for after a hesitation too."""
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
"""Words between item and slot when a tray is laid by voice."""

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
    """Every reading of an answer without the words around it, longest first, as canonical words."""
    said = words(text)
    ends = [0, *(len(e) for e in _ENDINGS if said[-len(e) :] == e)]
    cores = {said[start : len(said) - end] for start in _starts(said) for end in ends}
    return tuple(sorted((core for core in cores if core), key=lambda core: (-len(core), core)))


def doubts(text: str) -> bool:
    """Whether an answer expresses doubt."""
    said = words(text)
    return (
        text.rstrip().endswith("?")
        or any(_follows(said, at, _HEDGES) for at in _hesitated(said))
        or any(said[-len(d) :] == d for d in _DOUBTS)
    )


def _starts(said: Key) -> set[int]:
    """Where the answer itself may begin: after hesitations, a frame, and an article or "in slot"."""
    starts = _hesitated(said)
    for forms in (_FRAMES, _BEFORE):
        starts |= {at + length for at in starts for length in _follows(said, at, forms)}
    return starts


def _hesitated(said: Key) -> set[int]:
    """The start, and every position that follows one or more hesitations."""
    found, new = {0}, {0}
    while new:
        new = {at + length for at in new for length in _follows(said, at, _HESITATIONS)} - found
        found |= new
    return found


def _follows(said: Key, at: int, forms: Iterable[Key]) -> list[int]:
    """The lengths of the forms found at this position."""
    return [len(form) for form in forms if said[at : at + len(form)] == form]


def gives_up(text: str) -> bool:
    """Whether an answer says "I don't know" or the like."""
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
    speech = Speech(
        cues=tuple(_openers()), endings=ENDINGS, joiners=BETWEEN, refusals=UNKNOWN, repeats=REPEAT
    )
    return Pack(id="answers", name="Answers", language=language, version="1", items=(item,), speech=speech)


def _openers() -> Iterator[str]:
    """What an answer may begin with, as written; rarer combinations are read but not listened for."""
    before = ("", *ARTICLES)
    yield from (*ARTICLES, *PLACES, "about")
    for frame in (*FRAMES, *HEDGES):
        yield from (f"{frame} {article}".strip() for article in before)
    yield from (f"it's {place}" for place in PLACES)
    for hesitation in HESITATIONS:
        for frame in ("", *(frame for frame in FRAMES if frame in _USUAL)):
            yield from (" ".join(f"{hesitation}, {frame} {article}".split()) for article in before)


def _joined_thousands(out: list[str]) -> Iterable[str]:
    """ "200" "50000", a reading of "two hundred fifty thousand", become one number."""
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
_HESITATIONS = tuple(words(text) for text in HESITATIONS)
_FRAMES = tuple(words(text) for text in (*FRAMES, *HEDGES))
_BEFORE = tuple(words(text) for text in (*ARTICLES, *PLACES, "about"))
_HEDGES = tuple(words(text) for text in HEDGES)
_ENDINGS = tuple(words(text) for text in ENDINGS)
_DOUBTS = tuple(words(text) for text in DOUBTS)
_UNKNOWN = frozenset(words(text) for text in UNKNOWN)
_REPEAT = frozenset(words(text) for text in REPEAT)
