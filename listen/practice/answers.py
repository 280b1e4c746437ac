"""How people answer: the words around an answer, giving up, asking again, and values in one form.

Takes text, or the ways of saying a set of choices; returns the text without the words around it, and a small
`Pack` whose only names are answers, for an engine to be bound to. It does not decide whether an answer is
right.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache, partial

from listen.practice.free_words import is_doubtful, said_in
from vocab.language.by_language import read_words, tables
from vocab.language.forms import Templates, Words
from vocab.language.tables import AnswerWords
from vocab.language.tokens import is_number
from vocab.pack.schema import Item, ItemClass, Pack, Reprocessing, Speech


class _AnswerForms:
    """What stands around answers in one language, ready to be compared."""

    def __init__(self, language: str) -> None:
        known = tables(language).answers
        self.hesitations = _templates(language, (f"{text} N" for text in known.hesitations))
        self.frames = _templates(language, (f"{text} N" for text in (*known.frames, *known.hedges)))
        before = (*known.articles, *known.places, *known.about)
        self.before = _templates(language, (f"{text} N" for text in before))
        self.endings = _templates(language, (f"N {text}" for text in (*known.doubts, *known.endings)))
        self.hedges = _templates(language, (f"{text} [N]" for text in known.hedges))
        self.doubts = _templates(language, (f"[N] {text}" for text in known.doubts))
        self.unknown = _templates(language, known.unknown)
        asked = (known.repeat, (f"{text} {courtesy}" for text in known.repeat for courtesy in known.please))
        self.repeat = _templates(language, (text for some in asked for text in some))

    def hesitated(self, said: Words) -> set[Words]:
        """What was said, and what follows one or more hesitations."""
        found = new = {said}
        while new:
            new = {rest for some in new for rest in self.hesitations.gaps(some)} - found
            found = found | new
        return found


def _templates(language: str, some: Iterable[str]) -> Templates[bool]:
    return Templates({True: some}, partial(read_words, language=language))


@cache
def _forms(language: str) -> _AnswerForms:
    return _AnswerForms(language)


def bare(text: str, language: str = "en") -> tuple[Words, ...]:
    """Every reading of an answer without the words around it, longest first, as canonical words."""
    forms = _forms(language)
    said = read_words(text, language)
    cores = forms.hesitated(said)
    for around in (forms.frames, forms.before, forms.endings):
        cores |= {rest for core in cores for rest in around.gaps(core)}
    return tuple(sorted((core for core in cores if core), key=lambda core: (-len(core), core)))


def doubts(text: str, language: str = "en") -> bool:
    """Whether an answer expresses doubt."""
    forms = _forms(language)
    said = read_words(text, language)
    return (
        text.rstrip().endswith("?")
        or any(forms.hedges.fits(rest) for rest in forms.hesitated(said))
        or bool(forms.doubts.fits(said))
        or is_doubtful(said_in(text, language))
    )


def gives_up(text: str, language: str = "en") -> bool:
    """Whether an answer says "I don't know" or the like, in this language or in English."""
    return any(_forms(one).unknown.whole(read_words(text, one)) for one in dict.fromkeys((language, "en")))


def asks_again(text: str, language: str = "en") -> bool:
    """Whether an answer asks to hear the question again, in this language or in English."""
    return any(_forms(one).repeat.whole(read_words(text, one)) for one in dict.fromkeys((language, "en")))


def between(language: str = "en") -> frozenset[str]:
    """The words that may stand between an item and its slot when a tray is laid."""
    known = tables(language).answers
    return frozenset(
        word for text in (*known.between, *known.articles) for word in read_words(text, language)
    )


def places(language: str = "en") -> tuple[str, ...]:
    """What may stand before a slot."""
    return tables(language).answers.places


def linking(language: str = "en") -> frozenset[str]:
    """The words that may stand between a slot and the item that is said with it ("seven, I think it's the
    mirror")."""
    known = tables(language).answers
    frames = (text for some in (known.frames, known.usual, known.placed) for text in some)
    return between(language) | {word for text in frames for word in read_words(text, language)}


def value_key(text: str, language: str = "en") -> Words:
    """A value in one form: "15 s", "about fifteen seconds" and "15 seconds" are the same.

    >>> value_key("about 8,000 to thirty thousand turns a minute")
    ('8000', 'to', '30000', 'turn', 'minute')
    """
    known = tables(language).answers
    plain = re.sub(rf"(?<=\d)[{known.thousands}](?=\d{{3}}\b)", "", text.lower())
    for sign, spelled in known.spelled.items():
        plain = plain.replace(sign, f" {spelled} ")
    plain = re.sub(r"(?<=\d)(mm|s|sec)\b", r" \1", plain)
    out: list[str] = []
    for word in read_words(plain, language):
        if word == known.thousand and out and is_number(out[-1]):
            out[-1] += "000"
        elif word == known.joined and out and is_number(out[-1]) or word in known.small_words:
            continue
        else:
            single = word[:-1] if word.endswith("s") and len(word) > 3 else word
            out.append(known.units.get(single, single))
    if len(out) == 3 and out[1] == known.to and out[2].endswith("000") and len(out[0]) <= 2:
        out[0] += "000"  # "eight to thirty thousand"
    return tuple(_joined_thousands(out))


def without_units(key: Words, language: str = "en") -> Words:
    """The same value without its unit."""
    return tuple(word for word in key if word not in unit_words(language))


def unit_words(language: str = "en") -> frozenset[str]:
    """The units of values, as `value_key` gives them."""
    return tables(language).answers.unit_words


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
    known = tables(language).answers
    speech = Speech(
        cues=tuple(_openers(known)),
        endings=(*known.doubts, *known.endings),
        joiners=known.between,
        refusals=known.unknown,
        repeats=known.repeat,
    )
    return Pack(id="answers", name="Answers", language=language, version="1", items=(item,), speech=speech)


def _openers(known: AnswerWords) -> Iterator[str]:
    """What an answer may begin with, as written; rarer combinations are read but not listened for."""
    before = ("", *known.articles)
    yield from (*known.articles, *known.places, *known.about)
    for frame in (*known.frames, *known.hedges):
        yield from (f"{frame} {article}".strip() for article in before)
    yield from (f"{frame} {place}" for frame in known.placed for place in known.places)
    for hesitation in known.hesitations:
        for frame in ("", *known.usual):
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
