"""Judges answers to a question: right, wrong, or say it again.

Takes a question and an answer by voice, text or touch; returns a `Marking`. A spoken answer is scored against
the question's own closed set of answers, so that a mumbled right one is heard, and against every name of the
pack, so that a wrong one is heard too; what stays unclear is asked again and never marked wrong. It does not
decide what is asked next, and keeps no sound.
"""

from __future__ import annotations

import json
import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property, lru_cache
from importlib.resources import files
from threading import Lock
from typing import TYPE_CHECKING, Protocol

import numpy as np

from listen.engine import Engine, Hearing, Samples
from listen.practice.answers import (
    answers_pack,
    asks_again,
    bare,
    between,
    doubts,
    gives_up,
    unit_words,
    value_key,
    without_units,
)
from listen.practice.free_words import (
    Mention,
    Said,
    chosen,
    is_at_a_loss,
    mentions,
    said_in,
    wants_it_again,
)
from listen.practice.questions import LAID, AnswerChoice, Question, Questions, item_choice
from listen.practice.topics import Drill
from vocab.language.by_language import read_words, tables
from vocab.language.tokens import is_number, words, written_forms
from vocab.pack.schema import Pack
from vocab.requests.lexicon import Candidate, Lexicon

if TYPE_CHECKING:
    from listen.neural.engine import NeuralEngine

Key = tuple[str, ...]

UNKNOWN, REPEAT, OTHER, SHARED, OPEN = "?unknown", "?repeat", "?other", "?shared", "?open"
"""Meanings that are not choices: "I don't know", "say that again", a number that is none of the choices, a
name that several items share, so that more must be said, and answers of which none is settled on ("seven or
eight", "not the mirror")."""
UNMARKED = frozenset((REPEAT, SHARED, OPEN))
"""Those for which a question is asked again."""

OTHER_WAYS = 8
"""About how many wordings a meaning has that is not a choice."""
TEXT_P = 0.5
"""The least probability at which a typed name is taken to mean an item."""
COUNTED = frozenset(("percent", "hundred", "points", "minutes", "minute", "second", "seconds", "times"))
"""Words behind a number by which it is no slot."""
LONGEST_VALUE = 9
"""Words of the longest value that is looked for in a free answer."""
MAYBE_P = 0.1
"""A typed name that means the right item with at least this probability is asked again, not marked wrong."""


class Outcome(StrEnum):
    """What an answer is worth."""

    RIGHT = "right"
    WRONG = "wrong"
    AGAIN = "say again"


@dataclass(frozen=True)
class Marking:
    """The verdict on one answer.

    choice: id of the choice (or item) that was meant, None if none was; said: the answer in words; p: how
    sure the judge is of that; unsure: the trainee showed doubt; gave_up: "I don't know" (outcome WRONG);
    repeat: the trainee asked for the question again; tell: how the wrong choice differs from the right one.
    """

    outcome: Outcome
    choice: str | None
    said: str
    p: float
    unsure: bool = False
    gave_up: bool = False
    repeat: bool = False
    tell: str = ""


class AnswerEngine(Protocol):
    """An engine that can be bound to some of its names without cost."""

    def hear(self, samples: Samples) -> Hearing:
        """Score one utterance, shape = (n,), float32, 16 kHz mono."""
        ...

    def among(self, names: Iterable[str], pairs: bool = False, within: bool = False) -> AnswerEngine:
        """The same engine bound to these names; with `pairs` two of them may be joined, with `within` they
        are also put into what was freely written."""
        ...


EngineFactory = Callable[[Pack], AnswerEngine]


@dataclass(frozen=True)
class JudgeWeights:
    """Weights of the judge of spoken answers.

    spellings: how much of the log of a choice's number of wordings is taken off its score; prior: nats by
    which a right choice leads before anything is heard; scale: multiplies score differences; bias, evidence,
    free_words: log-odds that "this was an answer at all" (see `evidence`); bias_free, evidence_free: the same
    of a sentence in free words (see `Listened`); unnamed: nats by which free words that give up or ask again
    lead over names that might be put into them; right, wrong, repeat: least
    probability for each outcome.
    """

    spellings: float
    prior: float
    scale: float
    bias: float
    evidence: float
    free_words: float
    bias_free: float
    evidence_free: float
    unnamed: float
    right: float
    wrong: float
    repeat: float


def load_weights() -> JudgeWeights:
    """The weights fitted on tuning voices (`python -m listen.bench judge --fit`)."""
    data = json.loads(files("listen").joinpath("calibration", "judge.json").read_text("utf-8"))
    return JudgeWeights(**data["weights"])


@dataclass(frozen=True)
class HeardMeaning:
    """A meaning that was heard: log-score of all its wordings together (nats), how many wordings it has in
    all, and the best of those that were heard."""

    log_p: float
    ways: int
    wording: str


@dataclass(frozen=True)
class AnswerHearing:
    """One spoken answer as the engine heard it, bound to the question's own answers, and to every name of the
    pack where an item is asked for; sentences with an answer put in are in the second where there is one."""

    own: Hearing
    names: Hearing | None


@dataclass(frozen=True)
class Listened:
    """One spoken answer as it was heard, before weighing.

    hearing: of the question's closed set; evidence_free: log-probability of the likeliest sentence in free
    words that means anything, less that of what was freely written (nats, at most 0), -inf for none.
    """

    meanings: Mapping[str, HeardMeaning]
    hearing: Hearing
    evidence_free: float = -math.inf


class Judge:
    """Judges answers to the questions of one pack. Thread-safe; spoken answers are heard one at a time.

    Args:
        lexicon: of the same pack.
        engine_factory: makes the engine once, at the first spoken answer; None for text only.
    """

    def __init__(
        self,
        questions: Questions,
        lexicon: Lexicon,
        engine_factory: EngineFactory | None = None,
        weights: JudgeWeights | None = None,
    ) -> None:
        self._questions, self._lexicon = questions, lexicon
        self._factory, self._weights = engine_factory, weights or load_weights()
        self._language = questions.pack.language
        self._index = lru_cache(maxsize=512)(_index)
        self._hearing = Lock()

    def touch(self, question: Question, choice_id: str) -> Marking:
        """Judge a choice that was touched or dragged ("item@slot" where a row is laid)."""
        shown = choice_id if LAID in choice_id else self._shown(question, choice_id)
        return self._of_choice(question, choice_id, shown, 1.0)

    def text(self, question: Question, said: str) -> Marking:
        """Judge a typed answer."""
        special = _special(said, self._language)
        if special is not None:
            return self._of_meaning(question, special, said, 1.0)
        meaning, p = self._text_meaning(question, said)
        if meaning is None:
            return Marking(Outcome.AGAIN, None, said, p)
        return self._of_meaning(question, meaning, said, p)

    def speech(self, question: Question, samples: Samples) -> Marking:
        """Judge a spoken answer, shape = (n,), float32, 16 kHz mono."""
        return self.weigh(question, self.listen(question, samples))

    def listen(self, question: Question, samples: Samples) -> Listened:
        """Score a spoken answer against the question's own answers, against every name, and as free words."""
        return self.understand(question, self.hear(question, samples))

    def hear(self, question: Question, samples: Samples) -> AnswerHearing:
        """What the engine hears, bound to the question's own answers, and to every name where one is asked
        for."""
        with self._hearing:
            pairs = question.topic.drill is Drill.LAY
            own = self._engine.among(_ways(question.choices), pairs, within=not question.items).hear(samples)
            return AnswerHearing(own, self._every_name.hear(samples) if question.items else None)

    def understand(self, question: Question, hearing: AnswerHearing) -> Listened:
        """What each thing heard would mean."""
        own, free = hearing.own, hearing.names or hearing.own
        heard = {phrasing.text: phrasing.log_p - own.log_p_free for phrasing in own.phrasings}
        for phrasing in free.phrasings:
            heard.setdefault(phrasing.text, phrasing.log_p - free.log_p_free)
        for sentence in free.spliced:
            heard[sentence.text] = float(np.logaddexp(heard.get(sentence.text, -math.inf), sentence.log_p))
        evidence_free = -math.inf
        if any(self._meanings(question, sentence.text) for sentence in free.spliced):
            evidence_free = min(0.0, free.evidence_spliced)
        if self._meanings(question, own.free_text) & {UNKNOWN, REPEAT}:
            heard[own.free_text] = max(heard.get(own.free_text, -math.inf), self._weights.unnamed)
            evidence_free = 0.0
        texts: defaultdict[str, list[str]] = defaultdict(list)
        for text in heard:
            for meaning in self._meanings(question, text):
                texts[meaning].append(text)
        ways = {choice.id: len(_choice_forms(choice, self._language)) for choice in self._known(question)}
        meanings = {
            meaning: HeardMeaning(
                float(np.logaddexp.reduce([heard[text] for text in some])),
                max(1, ways.get(meaning, OTHER_WAYS)),
                max(some, key=lambda text: heard[text]),
            )
            for meaning, some in texts.items()
        }
        return Listened(meanings, own, evidence_free)

    def weigh(self, question: Question, listened: Listened) -> Marking:
        """Decide what was meant, and mark it."""
        p = probabilities(question, listened, self._weights)
        if not p:
            return Marking(Outcome.AGAIN, None, listened.hearing.free_text, 0.0)
        right = {meaning for meaning in p if meaning in question.right}
        wrong = p.keys() - right - UNMARKED
        for group, least in (
            (right, self._weights.right),
            (wrong, self._weights.wrong),
            (p.keys() & {REPEAT}, self._weights.repeat),
        ):
            total = sum(p[meaning] for meaning in group)
            if group and total >= least:
                best = max(sorted(group), key=lambda meaning: p[meaning])
                return self._of_meaning(question, best, listened.meanings[best].wording, total)
        best = max(sorted(p), key=lambda meaning: p[meaning])
        return Marking(Outcome.AGAIN, None, listened.meanings[best].wording, p[best])

    # --- meanings -------------------------------------------------------------------------------------

    @cached_property
    def _engine(self) -> AnswerEngine:
        if self._factory is None:
            raise ValueError("this judge has no engine and only judges text and touch")
        return self._factory(answers_pack(self._questions.all_ways, self._language))

    @cached_property
    def _every_name(self) -> AnswerEngine:
        items = self._questions.pack.items
        return self._engine.among(
            dict.fromkeys(text for item in items for text in item.ways_to_say), within=True
        )

    def _known(self, question: Question) -> tuple[AnswerChoice, ...]:
        """The choices and, where items are asked for, every other item too."""
        return (*question.choices, *self._others) if question.items else question.choices

    @cached_property
    def _others(self) -> tuple[AnswerChoice, ...]:
        return tuple(item_choice(item) for item in self._questions.pack.items)

    @cached_property
    def _shared(self) -> frozenset[Key]:
        return _forms((way for choice in self._others for way in choice.shared), self._language)

    def _meanings(self, question: Question, text: str) -> set[str]:
        special = _special(text, self._language)
        if special is not None:
            return {special}
        index = self._index(question.choices, self._others if question.items else (), self._language)
        for core in bare(text, self._language):
            if question.topic.drill is Drill.LAY:
                if placed := _placement(core, index, question, between(self._language)):
                    return {placed}
            elif core in index:
                return set(index[core])
            elif question.items and core in self._shared:
                return {SHARED}
        return self._freely(question, text, index)

    def _freely(self, question: Question, text: str, index: Mapping[Key, tuple[str, ...]]) -> set[str]:
        """The meanings of an answer in free words."""
        said, drill = said_in(text, self._language), question.topic.drill

        def find(said: Said, start: int, end: int) -> tuple[str, ...]:
            key = said.words[start:end]
            if end - start == 1 and said.is_pronoun(start):
                return ()
            if drill is Drill.FACT:
                return _value_at(question, said, start, end)
            if key not in index and question.items and key in self._shared:
                return (SHARED,)
            return (
                index.get(key) or index.get(said.owner(start, end)) or _other_slot(question, said, start, end)
            )

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

    def _text_meaning(self, question: Question, said: str) -> tuple[str | None, float]:
        """The choice (or item) that a text means and its probability; None where that is unclear."""
        exact = self._meanings(question, said)
        if exact:
            right = [meaning for meaning in exact if meaning in question.right]
            return (right[0] if right else sorted(exact)[0]), 1.0
        if question.items:
            return self._item_meaning(question, said)
        if question.topic.drill is Drill.LAY:
            return None, 0.0
        language = self._language
        forms = (*(" ".join(core) for core in bare(said, language)), said)
        keys = dict.fromkeys(value_key(form, language) for form in forms)
        for key in keys:
            found = [c.id for c in question.choices if key in _value_keys(c, language)]
            if len(found) == 1:
                return found[0], 1.0
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

    # --- outcomes -------------------------------------------------------------------------------------

    def _of_meaning(self, question: Question, meaning: str, said: str, p: float) -> Marking:
        if meaning == REPEAT:
            return Marking(Outcome.AGAIN, None, said, p, repeat=True)
        if meaning in (SHARED, OPEN):
            return Marking(Outcome.AGAIN, None, said, p)
        if meaning == UNKNOWN:
            return Marking(Outcome.WRONG, None, said, p, unsure=True, gave_up=True)
        if meaning == OTHER:
            return Marking(Outcome.WRONG, None, said, p, unsure=doubts(said, self._language))
        return self._of_choice(question, meaning, said, p, unsure=doubts(said, self._language))

    def _of_choice(
        self, question: Question, choice: str, said: str, p: float, unsure: bool = False
    ) -> Marking:
        right = choice in question.right
        return Marking(
            Outcome.RIGHT if right else Outcome.WRONG,
            choice,
            said,
            p,
            unsure,
            tell="" if right else question.tells.get(choice, ""),
        )

    def _shown(self, question: Question, choice_id: str) -> str:
        for choice in self._known(question):
            if choice.id == choice_id:
                return choice.shown
        return choice_id


def probabilities(question: Question, listened: Listened, weights: JudgeWeights) -> dict[str, float]:
    """The probability of each meaning of a spoken answer; the remainder to 1 is "no answer at all"."""
    if not listened.meanings:
        return {}
    nats, free_words = evidence(listened.hearing)
    logit = max(
        weights.bias + weights.evidence * nats + weights.free_words * free_words,
        weights.bias_free + weights.evidence_free * listened.evidence_free,
    )
    p_answer = 1.0 / (1.0 + math.exp(-max(-50.0, min(50.0, logit))))
    log_p = weights.scale * np.array(
        [
            heard.log_p
            - weights.spellings * math.log(heard.ways)
            + (weights.prior if meaning in question.right else 0.0)
            for meaning, heard in listened.meanings.items()
        ]
    )
    share = np.exp(log_p - np.logaddexp.reduce(log_p))
    return {meaning: p_answer * float(s) for meaning, s in zip(listened.meanings, share, strict=True)}


def evidence(hearing: Hearing) -> tuple[float, float]:
    """Features that tell an answer from something else: log-probability of the best wording minus that of the
    free text (nats, cut at -40), and the number of words in the free text (cut at 12)."""
    nats = max(-40.0, hearing.log_p_best - hearing.log_p_free)
    return nats, float(min(12, len(words(hearing.free_text))))


def _special(text: str, language: str) -> str | None:
    if gives_up(text, language):
        return UNKNOWN
    return REPEAT if asks_again(text, language) else None


def _ways(choices: Iterable[AnswerChoice]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(way for choice in choices for way in (*choice.ways, *choice.shared)))


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
    counts = end < len(said.words) and said.words[end] in COUNTED and not said.breaks(start, end + 1)
    return (OTHER,) if is_slot and not counts else ()


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


class AnswerEngines:
    """Makes a judge's engine, after a vocabulary change from the last one, so that only new names take time.

    Args:
        in_use: waits for the engine in use and returns it; None if there is none.
    """

    def __init__(self, in_use: Callable[[], Engine | None] = lambda: None) -> None:
        self._in_use = in_use
        self._last: NeuralEngine | None = None

    def __call__(self, answers: Pack) -> AnswerEngine:
        """The engine for these answers; raises `TraycallError` where the model is missing."""
        from listen.chair import cache_folder
        from listen.neural.engine import NeuralEngine

        engine = self._last or self._in_use()
        if isinstance(engine, NeuralEngine):
            self._last = engine.renewed(answers)
        else:
            self._last = NeuralEngine(answers, cache_folder())
        return self._last
