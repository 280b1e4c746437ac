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
    value_key,
    without_units,
)
from listen.practice.choices import AnswerChoice, item_choice
from listen.practice.questions import LAID, Question, Questions
from listen.practice.topics import Drill
from vocab.language.by_language import read_words
from vocab.language.tokens import is_number, words, written_forms
from vocab.pack.schema import Pack
from vocab.requests.lexicon import Candidate, Lexicon

if TYPE_CHECKING:
    from listen.neural.engine import NeuralEngine

Key = tuple[str, ...]

UNKNOWN, REPEAT, OTHER, SHARED = "?unknown", "?repeat", "?other", "?shared"
"""Meanings that are not choices: "I don't know", "say that again", a number that is none of the choices, and
a name that several items share, so that more must be said."""

OTHER_WAYS = 8
"""About how many wordings a meaning has that is not a choice."""
TEXT_P = 0.5
"""The least probability at which a typed name is taken to mean an item."""
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

    def among(self, names: Iterable[str], pairs: bool = False) -> AnswerEngine:
        """The same engine bound to these names; with `pairs` two of them may be joined."""
        ...


EngineFactory = Callable[[Pack], AnswerEngine]


@dataclass(frozen=True)
class JudgeWeights:
    """Weights of the judge of spoken answers.

    spellings: how much of the log of a choice's number of wordings is taken off its score; prior: nats by
    which a right choice leads before anything is heard; scale: multiplies score differences; bias, evidence,
    free_words: log-odds that "this was an answer at all" (see `evidence`); right, wrong, repeat: least
    probability for each outcome.
    """

    spellings: float
    prior: float
    scale: float
    bias: float
    evidence: float
    free_words: float
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
class Listened:
    """One spoken answer as it was heard, before weighing; hearing: of the question's closed set."""

    meanings: Mapping[str, HeardMeaning]
    hearing: Hearing


class Judge:
    """Judges answers to the questions of one pack. Thread-safe; spoken answers are heard one at a time.

    Args:
        lexicon: of the same pack.
        engine_factory: gives the engine for the judge's answers at each spoken one; None for text only.
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
        """Score a spoken answer against the question's own answers and against every name."""
        with self._hearing:
            pairs = question.topic.drill is Drill.LAY
            engine = self._engine
            hearing = engine.among(_ways(question.choices), pairs).hear(samples)
            heard = {phrasing.text: phrasing.log_p for phrasing in hearing.phrasings}
            if question.items:
                for phrasing in engine.among(self._every_way).hear(samples).phrasings:
                    heard.setdefault(phrasing.text, phrasing.log_p)
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
        return Listened(meanings, hearing)

    def weigh(self, question: Question, listened: Listened) -> Marking:
        """Decide what was meant, and mark it."""
        p = probabilities(question, listened, self._weights)
        if not p:
            return Marking(Outcome.AGAIN, None, listened.hearing.free_text, 0.0)
        right = {meaning for meaning in p if meaning in question.right}
        wrong = p.keys() - right - {REPEAT, SHARED}
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

    @property
    def _engine(self) -> AnswerEngine:
        if self._factory is None:
            raise ValueError("this judge has no engine and only judges text and touch")
        return self._factory(self._answers)

    @cached_property
    def _answers(self) -> Pack:
        return answers_pack(self._questions.all_ways, self._language)

    @cached_property
    def _every_way(self) -> tuple[str, ...]:
        items = self._questions.pack.items
        return tuple(dict.fromkeys(text for item in items for text in item.ways_to_say))

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
        return set()

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
        numbered = any(is_number(word) for key in keys for word in key)
        return (OTHER, 1.0) if numbered else (None, 0.0)

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
        if meaning == SHARED:
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
    logit = weights.bias + weights.evidence * nats + weights.free_words * free_words
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


class AnswerEngines:
    """The one engine of all judges in English, the language that it hears. It knows the answers of every
    vocabulary that was practised by voice; those of a further one are added to it, so that only new names
    take time. Thread-safe.

    Args:
        in_use: waits for the engine in use and returns it; None if there is none.
    """

    def __init__(self, in_use: Callable[[], Engine | None] = lambda: None) -> None:
        self._in_use = in_use
        self._last: NeuralEngine | None = None
        self._known: dict[str, None] = {}
        self._lock = Lock()

    def __call__(self, answers: Pack) -> AnswerEngine:
        """The engine that knows these answers; raises `TraycallError` where the model is missing."""
        from listen.chair import cache_folder
        from listen.neural.engine import NeuralEngine

        ways = dict.fromkeys(text for item in answers.items for text in item.ways_to_say)
        with self._lock:
            if self._last is not None and ways.keys() <= self._known.keys():
                return self._last
            known = self._known | ways
            answers = answers_pack(known, answers.language)
            engine = self._last or self._in_use()
            if isinstance(engine, NeuralEngine):
                self._last = engine.renewed(answers)
            else:
                self._last = NeuralEngine(answers, cache_folder())
            self._known = known
            return self._last
