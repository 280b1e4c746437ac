"""What an answer to a question means: a choice, another item, giving up, asking again, or nothing.

Takes a question and words, typed or as an engine wrote them; returns the ids of what is meant, or one of the
meanings below that are no choices. `listen.practice.answers` reads the words around an answer,
`listen.practice.free_words` sentences of free words. It does not say whether an answer is right.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from functools import cached_property, lru_cache

from listen.practice.answers import (
    asks_again,
    bare,
    between,
    gives_up,
    linking,
    unit_words,
    value_key,
    without_units,
)
from listen.practice.choices import AnswerChoice, item_choice
from listen.practice.free_words import (
    Mention,
    Said,
    chosen,
    is_at_a_loss,
    mentions,
    said_in,
    wants_it_again,
)
from listen.practice.questions import LAID, Question, Questions
from listen.practice.topics import Drill
from vocab.language.by_language import read_words, tables
from vocab.language.tokens import is_number, written_forms
from vocab.requests.lexicon import Candidate, Lexicon

Key = tuple[str, ...]

UNKNOWN, REPEAT, OTHER, SHARED, OPEN = "?unknown", "?repeat", "?other", "?shared", "?open"
"""Meanings that are not choices: "I don't know", "say that again", a number that is none of the choices, a
name that several items share, so that more must be said, and answers of which none is settled on ("seven or
eight", "not the mirror")."""
UNMARKED = frozenset((REPEAT, SHARED, OPEN))
"""Those for which a question is asked again."""

TEXT_P = 0.5
"""The least probability at which a typed name is taken to mean an item."""
LONGEST_VALUE = 9
"""Words of the longest value that is looked for in a free answer."""
MAYBE_P = 0.1
"""A typed name that means the right item with at least this probability is asked again, not marked wrong."""


class Meanings:
    """Reads answers to the questions of one pack; nothing changes after construction.

    Args:
        lexicon: of the same pack.
    """

    def __init__(self, questions: Questions, lexicon: Lexicon) -> None:
        self._pack, self._lexicon = questions.pack, lexicon
        self._language = questions.pack.language
        self._index = lru_cache(maxsize=512)(_index)

    def ways(self, question: Question) -> dict[str, int]:
        """In how many ways each choice, or item, may be said."""
        return {choice.id: len(_choice_forms(choice, self._language)) for choice in self.known(question)}

    def known(self, question: Question) -> tuple[AnswerChoice, ...]:
        """The choices and, where items are asked for, every other item too."""
        return (*question.choices, *self._others) if question.items else question.choices

    @cached_property
    def _others(self) -> tuple[AnswerChoice, ...]:
        return tuple(item_choice(item) for item in self._pack.items)

    @cached_property
    def _shared(self) -> frozenset[Key]:
        return _forms((way for choice in self._others for way in choice.shared), self._language)

    def of(self, question: Question, text: str) -> set[str]:
        """Everything that words mean; several where one wording stands for several, or all are meant."""
        alone = _special(text, self._language)
        if alone is not None:
            return {alone}
        if both := self.together(question, text):
            return {both[0]}
        index = self._index(question.choices, self._others if question.items else (), self._language)
        for core in bare(text, self._language):
            if question.topic.drill is Drill.LAY:
                if placed := _placement(core, index, question, between(self._language)):
                    return {placed}
            elif core in index:
                return set(index[core])
            elif question.items and core in self._shared:
                return {SHARED}
        if question.topic.drill is Drill.FACT and (value := self._whole_value(question, text)):
            return {value}
        return self._freely(question, text, index)

    def together(self, question: Question, text: str) -> tuple[str, frozenset[str]] | None:
        """The slot of an answer that says a slot and an item ("slot seven, the mirror"; "the mirror, seven"),
        and the items that its name may mean; None for any other answer."""
        if question.topic.drill is not Drill.SLOT:
            return None
        slots = self._index(question.choices, (), self._language)
        skipped = linking(self._language)
        for core in bare(" ".join(said_in(text, self._language).words), self._language):
            for at in range(1, len(core)):
                first, rest = core[:at], core[at:]
                while rest and rest[0] in skipped:
                    rest = rest[1:]
                for slot, name in ((first, rest), (rest, first)):
                    if slot in slots and name in self._named and name not in slots:
                        return slots[slot][0], self._named[name]
        return None

    def beyond_a_slot(self, question: Question, text: str) -> bool:
        """Whether an answer to where something lies says more than a slot."""
        slots = self._index(question.choices, (), self._language)
        return question.topic.drill is Drill.SLOT and not any(
            core in slots for core in bare(text, self._language)
        )

    def ways_of(self, items: Iterable[str]) -> tuple[str, ...]:
        """Everything that these items are called."""
        wanted = set(items)
        ways = (way for one in self._others if one.id in wanted for way in (*one.ways, *one.shared))
        return tuple(dict.fromkeys(ways))

    @cached_property
    def _named(self) -> dict[Key, frozenset[str]]:
        """The items that each name may mean."""
        named: defaultdict[Key, set[str]] = defaultdict(set)
        for choice in self._others:
            for form in _forms((*choice.ways, *choice.shared), self._language):
                named[form].add(choice.id)
        return {form: frozenset(items) for form, items in named.items()}

    def _whole_value(self, question: Question, text: str) -> str | None:
        """The value that an answer is, whole; None where it is none, or several."""
        forms = (*(" ".join(core) for core in bare(text, self._language)), text)
        for key in dict.fromkeys(value_key(form, self._language) for form in forms):
            found = [c.id for c in question.choices if key in _value_keys(c, self._language)]
            if len(found) == 1:
                return found[0]
        return None

    def _freely(self, question: Question, text: str, index: Mapping[Key, tuple[str, ...]]) -> set[str]:
        """The meanings of an answer in free words."""
        said, drill = said_in(text, self._language), question.topic.drill

        def find(said: Said, start: int, end: int) -> tuple[str, ...]:
            forms = said.forms(start, end)
            if end - start == 1 and said.is_pronoun(start):
                return ()
            if drill is Drill.FACT:
                return _value_at(question, said, start, end)
            if forms[0] not in index and question.items and forms[0] in self._shared:
                return (SHARED,)
            found = next((index[form] for form in forms if form in index), ())
            return found or _other_slot(question, said, start, end)

        longest = LONGEST_VALUE if drill is Drill.FACT else max(map(len, index), default=0)
        if drill is Drill.LAY:
            placed = _placed(mentions(said, find, longest), question)
            return {placed} if placed else _without_answer(said)
        settled = chosen(said, find, longest)
        if not settled:
            return {OPEN} if mentions(said, find, longest) else _without_answer(said)
        meant = [set(mention.meanings) for mention in settled]
        right = [bool(some & set(question.right)) for some in meant]
        if len(meant) > 1 and any(right) and not all(right):
            return {OPEN}
        return set().union(*meant)

    def typed(self, question: Question, said: str) -> tuple[str | None, float]:
        """The choice (or item) that a text means and its probability; None where that is unclear."""
        exact = self.of(question, said)
        if exact:
            right = [meaning for meaning in exact if meaning in question.right]
            return (right[0] if right else sorted(exact)[0]), 1.0
        if question.items:
            return self._item_meaning(question, said)
        return None, 0.0

    def _item_meaning(self, question: Question, said: str) -> tuple[str | None, float]:
        best: tuple[Candidate, ...] = ()
        for core in bare(said, self._language):
            found = self._lexicon.find(core)
            if found and (not best or found[0].p > best[0].p):
                best = found
        right = sum(c.p for c in best if c.item in question.right)
        if right >= TEXT_P:
            return next(c.item for c in best if c.item in question.right), right
        if best and best[0].item not in question.right and best[0].p >= TEXT_P and right < MAYBE_P:
            return best[0].item, best[0].p
        return None, right


def _special(text: str, language: str) -> str | None:
    if gives_up(text, language):
        return UNKNOWN
    return REPEAT if asks_again(text, language) else None


def _forms(ways: Iterable[str], language: str) -> frozenset[Key]:
    """The wordings of a choice as an engine writes them: canonical words without punctuation."""
    from listen.neural.engine import plain

    forms = (form for way in ways for form in (way, *written_forms(way)))
    return frozenset(key for form in forms if (key := read_words(plain(form), language)))


def _index(
    choices: tuple[AnswerChoice, ...], others: tuple[AnswerChoice, ...], language: str
) -> dict[Key, tuple[str, ...]]:
    """Which choices a wording means; other items count only for wordings that no choice has."""
    index: dict[Key, tuple[str, ...]] = {}
    for choice in choices:
        for form in _choice_forms(choice, language):
            index[form] = (*index.get(form, ()), choice.id)
    for other in others:
        for form in _choice_forms(other, language):
            index.setdefault(form, (other.id,))
    return index


@lru_cache(maxsize=2048)
def _choice_forms(choice: AnswerChoice, language: str) -> frozenset[Key]:
    return _forms(choice.ways, language)


@lru_cache(maxsize=2048)
def _value_keys(choice: AnswerChoice, language: str) -> frozenset[Key]:
    keys = {value_key(way, language) for way in (choice.shown, *choice.ways)}
    return frozenset(key for k in keys for key in (k, without_units(k, language)) if key)


def _placement(
    core: Key, index: Mapping[Key, tuple[str, ...]], question: Question, skipped: frozenset[str]
) -> str | None:
    """ "wedge in slot 14" as "wedge@14", whichever of the two comes first."""
    items = {placement.split(LAID)[0] for placement in question.right}
    for at in range(1, len(core)):
        left = index.get(core[:at])
        rest = core[at:]
        while rest and rest[0] in skipped:
            rest = rest[1:]
        right = index.get(rest)
        if left and right and (left[0] in items) != (right[0] in items):
            return LAID.join((left[0], right[0]) if left[0] in items else (right[0], left[0]))
    return None


def _placed(named: Iterable[Mention], question: Question) -> str | None:
    """The item and the slot that were named last, as a placement; None where either is missing."""
    items = {placement.split(LAID)[0] for placement in question.right}
    last: dict[bool, str] = {}
    for mention in named:
        for meaning in mention.meanings[:1]:
            last[meaning in items] = meaning
    return LAID.join((last[True], last[False])) if len(last) == 2 else None


def _without_answer(said: Said) -> set[str]:
    """What is meant by words that name no answer."""
    if wants_it_again(said):
        return {REPEAT}
    return {UNKNOWN} if is_at_a_loss(said) else set()


def _other_slot(question: Question, said: Said, start: int, end: int) -> tuple[str, ...]:
    """A number of no slot, where a slot is asked for and this one is given for it."""
    is_slot = question.topic.drill is Drill.SLOT and end - start == 1 and said.words[start].isdigit()
    if not is_slot or end == len(said.words) or said.breaks(start, end + 1):
        return (OTHER,) if is_slot else ()
    unit = set(value_key(said.words[end], said.language))
    return () if unit & unit_words(said.language) else (OTHER,)


def _value_at(question: Question, said: Said, start: int, end: int) -> tuple[str, ...]:
    """The values that these words are, whole: no part of a larger number, and none without its unit."""
    language, words_ = said.language, said.words
    to = tables(language).answers.to
    before, after = words_[max(0, start - 2) : start], words_[end : end + 2]
    if not said.breaks(end - 1, min(len(words_), end + 2)) and is_number(words_[end - 1]) and after:
        unit = value_key(after[0], language)[:1]
        if set(unit) & unit_words(language) or is_number(after[0]) or after[0] == to and is_number(after[-1]):
            return ()
    if len(before) == 2 and is_number(words_[start]) and before[1] == to and is_number(before[0]):
        return ()
    key = value_key(said.between(start, end), language)
    found = tuple(c.id for c in question.choices if key and key in _value_keys(c, language))
    mere = bool(key) and all(is_number(word) or word == to or word in unit_words(language) for word in key)
    return found or ((OTHER,) if mere and is_number(key[0]) and is_number(words_[start]) else ())
