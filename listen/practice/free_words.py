"""What an answer in free words means: which of the things that it names is the answer.

Takes a text and a way of finding answers in it; returns the names or values that are the answer ("seven, no,
eight": the eight), and tells doubt, giving up and asking again wherever in a sentence they stand. It does not
know what the question was and never judges.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

from vocab.language.by_language import fold_word, plain_word, read_numbers, read_words, tables
from vocab.language.english import OH
from vocab.language.forms import Words
from vocab.language.tokens import Token, tidy, tokens

Finder = Callable[["Said", int, int], tuple[str, ...]]
"""Gives the meanings of the words from one place to another, () where they are no answer."""


@dataclass(frozen=True)
class Said:
    """A text as it is read. text: what the places of `tokens` refer to."""

    text: str
    tokens: tuple[Token, ...]
    language: str

    @cached_property
    def words(self) -> Words:
        """Its canonical words, one for each token."""
        return tuple(plain_word(token.text, self.language) for token in self.tokens)

    def between(self, start: int, end: int) -> str:
        """The text of some tokens."""
        return self.text[self.tokens[start].start : self.tokens[end - 1].end]

    def forms(self, start: int, end: int) -> tuple[Words, ...]:
        """The words of some tokens: as they are, without an "'s" at their end ("the chisel's gone"), and
        without its plural, as what is written of speech leaves the apostrophe out."""
        words = self.words[start:end]
        owned = self.between(start, end).endswith("'s") and words[-1].endswith("s")
        lasts = (words[-1], words[-1][:-1] if owned else "", fold_word(words[-1], self.language))
        return tuple((*words[:-1], last) for last in dict.fromkeys(lasts) if last)

    def breaks(self, start: int, end: int) -> bool:
        """Whether a comma or the end of a sentence parts some tokens."""
        return any(token.comma or token.stop for token in self.tokens[start : end - 1])

    def is_pronoun(self, place: int) -> bool:
        """Whether a number here only stands for a thing ("the one beside it")."""
        token, known = self.tokens[place], tables(self.language).answers
        written = self.text[token.start : token.end]
        if written not in (known.one, f"{known.one}s", f"{known.one}'s"):
            return False
        before = self.words[place - 1] if place and not self.breaks(place - 1, place + 1) else ""
        after = self.words[place + 1] if place + 1 < len(self.words) else ""
        return (
            written != known.one
            or before in known.before_one
            or (after in known.after_one and not token.stop and not token.comma)
        )


@dataclass(frozen=True)
class Mention:
    """Something named: its meanings, and its tokens from `start` up to `end`."""

    meanings: tuple[str, ...]
    start: int
    end: int


class _Lists:
    """The lists of a language as canonical words."""

    def __init__(self, language: str) -> None:
        known = tables(language).answers

        def read(some: Iterable[str]) -> tuple[Words, ...]:
            found = dict.fromkeys(read_words(text, language) for text in some)
            return tuple(sorted((words for words in found if words), key=len, reverse=True))

        self.hesitations = frozenset(
            one for one in read(known.hesitations) if len(one) == 1 and one[0] not in OH
        )
        self.small = read((*known.articles, *known.places, *known.about, *known.hesitations))
        self.denied, self.landmarks = read(known.denied), read(known.landmarks)
        self.joining = frozenset(read(known.joining))
        self.taken_back, self.assured = read(known.taken_back), read(known.assured)
        self.doubtful, self.at_a_loss, self.once_more = (
            read(some) for some in (known.doubtful, known.at_a_loss, known.once_more)
        )


_lists = cache(_Lists)


def said_in(text: str, language: str) -> Said:
    """The text without hesitations ("the, um, Hollenback"), ready to be searched."""
    plain, hesitations = tidy(read_numbers(text, language)), _lists(language).hesitations
    kept: list[Token] = []
    for token in tokens(plain):
        if (plain_word(token.text, language),) not in hesitations:
            kept.append(token)
        elif kept:
            kept[-1] = replace(kept[-1], comma=False, stop=kept[-1].stop or token.stop)
    return Said(plain, tuple(kept), language)


def chosen(said: Said, find: Finder, longest: int) -> tuple[Mention, ...]:
    """What is settled on among all that is named, from left to right: the last that is neither denied nor a
    landmark, and what "and" or "or" joins to it; () where nothing is.

    Args:
        longest: words of the longest answer.
    """
    lists = _lists(said.language)
    kept = [
        one
        for one in mentions(said, find, longest)
        if not _stands_behind(said, one.start, (*lists.denied, *lists.landmarks), lists)
    ]
    if kept and _is_taken_back(said.words[kept[-1].end :], lists):
        return ()
    group = kept[-1:]
    for one in reversed(kept[:-1]):
        if _without_small(said.words[one.end : group[0].start], lists) not in lists.joining:
            break
        group.insert(0, one)
    return tuple(group)


def mentions(said: Said, find: Finder, longest: int) -> tuple[Mention, ...]:
    """Everything that is named, from left to right, the longest first where several overlap."""
    taken, found = set[int](), list[Mention]()
    for length in range(min(longest, len(said.words)), 0, -1):
        for start in range(len(said.words) - length + 1):
            end = start + length
            if taken.isdisjoint(range(start, end)) and not said.breaks(start, end):
                meanings = find(said, start, end)
                if meanings:
                    taken.update(range(start, end))
                    found.append(Mention(meanings, start, end))
    return tuple(sorted(found, key=lambda one: one.start))


def is_doubtful(said: Said) -> bool:
    """Whether an answer shows doubt anywhere."""
    return said.text.rstrip().endswith("?") or _holds(said.words, _lists(said.language).doubtful)


def is_at_a_loss(said: Said) -> bool:
    """Whether what names no answer gives up."""
    return _holds(said.words, _lists(said.language).at_a_loss)


def wants_it_again(said: Said) -> bool:
    """Whether what names no answer asks for the question again."""
    return _holds(said.words, _lists(said.language).once_more)


def _stands_behind(said: Said, place: int, phrases: Sequence[Words], lists: _Lists) -> bool:
    """Whether one of these phrases stands right before a place, small words aside, in the same clause."""
    before = said.words[:place]
    while True:
        for phrase in phrases:
            if before[-len(phrase) :] == phrase:
                return not said.breaks(len(before) - 1, place + 1)
        small = next((one for one in lists.small if before[-len(one) :] == one), ())
        if not small:
            return False
        before = before[: -len(small)]


def _is_taken_back(after: Words, lists: _Lists) -> bool:
    """Whether what follows an answer takes it back, and names nothing in its place."""

    def stands(at: int, phrases: Iterable[Words]) -> bool:
        return any(after[at : at + len(one)] == one for one in phrases)

    return any(stands(at, lists.taken_back) and not stands(at, lists.assured) for at in range(len(after)))


def _without_small(words: Words, lists: _Lists) -> Words:
    """Words without the small ones at their end."""
    while small := next((one for one in lists.small if words[-len(one) :] == one), ()):
        words = words[: -len(small)]
    return words


def _holds(words: Words, phrases: Iterable[Words]) -> bool:
    return any(words[at : at + len(one)] == one for one in phrases for at in range(len(words)))
