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
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property
from importlib.resources import files
from threading import Lock
from typing import TYPE_CHECKING, Protocol

import numpy as np

from listen.engine import Engine, Hearing, Samples
from listen.practice.answers import answers_pack, doubts, places
from listen.practice.choices import AnswerChoice
from listen.practice.meanings import OPEN, OTHER, REPEAT, SHARED, UNKNOWN, UNMARKED, Meanings
from listen.practice.questions import LAID, Question, Questions
from listen.practice.slot_and_name import Both, heard, typed
from listen.practice.topics import Drill
from vocab.language.tokens import words
from vocab.pack.schema import Pack
from vocab.requests.lexicon import Lexicon

if TYPE_CHECKING:
    from listen.neural.engine import NeuralEngine

OTHER_WAYS = 8
"""About how many wordings a meaning has that is not a choice."""


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
    repeat: the trainee asked for the question again; tell: how the wrong choice differs from the right one;
    likely: where it has to be said again, how likely each thing is that may have been said.
    """

    outcome: Outcome
    choice: str | None
    said: str
    p: float
    unsure: bool = False
    gave_up: bool = False
    repeat: bool = False
    tell: str = ""
    likely: Mapping[str, float] = field(default_factory=dict)


class AnswerEngine(Protocol):
    """An engine that can be bound to some of its names without cost."""

    def hear(self, samples: Samples, expected: Sequence[str] = ()) -> Hearing:
        """Score one utterance, shape = (n,), float32, 16 kHz mono; names that are expected are put into what
        was freely written however they sound."""
        ...

    def among(
        self,
        names: Iterable[str],
        pairs: bool = False,
        within: bool = False,
        places: Iterable[str] = (),
    ) -> AnswerEngine:
        """The same engine bound to these names; with `pairs` two of them may be joined, with `within` they
        are also put into what was freely written, alone and after each of `places`."""
        ...


EngineFactory = Callable[[Pack], AnswerEngine]


@dataclass(frozen=True)
class JudgeWeights:
    """Weights of the judge of spoken answers.

    spellings: how much of the log of a choice's number of wordings is taken off its score; prior: nats by
    which a right choice leads before anything is heard; unsettled: nats that an answer costs which leaves
    open what it means; same: probability that who is asked again says the same thing; scale: multiplies score
    differences; bias, evidence, free_words: log-odds that "this was an answer at all" (see `evidence`);
    bias_free, evidence_free: the same of a sentence in free words (see `Listened`); unnamed: nats by which
    free words that give up, ask again or say a place or a value just as they were written lead over what
    might be put into them; more_words: nats that a wording of the closed set costs for each word that was
    freely written beyond its own and one more; right, wrong, repeat: least probability for each outcome.
    """

    spellings: float
    prior: float
    unsettled: float
    same: float
    scale: float
    bias: float
    evidence: float
    free_words: float
    bias_free: float
    evidence_free: float
    unnamed: float
    more_words: float
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
        engine_factory: gives the engine for the judge's answers at each spoken one; None for text only.
    """

    def __init__(
        self,
        questions: Questions,
        lexicon: Lexicon,
        engine_factory: EngineFactory | None = None,
        weights: JudgeWeights | None = None,
    ) -> None:
        self._questions, self._meanings = questions, Meanings(questions, lexicon)
        self._factory, self._weights = engine_factory, weights or load_weights()
        self._language = questions.pack.language
        self._hearing = Lock()
        self._bound: tuple[AnswerEngine, AnswerEngine] | None = None

    def touch(self, question: Question, choice_id: str) -> Marking:
        """Judge a choice that was touched or dragged ("item@slot" where a row is laid)."""
        shown = choice_id if LAID in choice_id else self._shown(question, choice_id)
        return self._of_choice(question, choice_id, shown, 1.0)

    def text(self, question: Question, said: str) -> Marking:
        """Judge a typed answer."""
        meaning, p = self._meanings.typed(question, said)
        if meaning is None:
            return Marking(Outcome.AGAIN, None, said, p)
        marking = self._of_meaning(question, meaning, said, p)
        return self._with_name(question, marking, typed(self._meanings, question, said))

    def speech(
        self, question: Question, samples: Samples, before: Mapping[str, float] | None = None
    ) -> Marking:
        """Judge a spoken answer, shape = (n,), float32, 16 kHz mono.

        Args:
            before: `likely` of its last marking, where it is said again.
        """
        listened = self.listen(question, samples)
        both = self._listen_for_both(question, listened.hearing, samples)
        return self._with_name(question, self.weigh(question, listened, before), both)

    def listen(self, question: Question, samples: Samples) -> Listened:
        """Score a spoken answer against the question's own answers, against every name, and as free words."""
        return self.understand(question, self.hear(question, samples))

    def hear(self, question: Question, samples: Samples) -> AnswerHearing:
        """What the engine hears, bound to the question's own answers, and to every name where one is asked
        for."""
        with self._hearing:
            drill, engine = question.topic.drill, self._engine
            bound = engine.among(
                _ways(question.choices),
                pairs=drill is Drill.LAY,
                within=not question.items,
                places=places(self._language) if drill in (Drill.SLOT, Drill.LAY) else (),
            )
            expected = _ways(c for c in question.choices if c.id in (*question.right, *question.tells))
            own = bound.hear(samples, expected)
            names = self._every_name(engine).hear(samples, expected) if question.items else None
            return AnswerHearing(own, names)

    def understand(self, question: Question, hearing: AnswerHearing) -> Listened:
        """What each thing heard would mean."""
        own, free = hearing.own, hearing.names or hearing.own
        written, heard = len(words(own.free_text)), dict[str, float]()
        for one in (own, free):
            for phrasing in one.phrasings:
                more = max(0, written - len(words(phrasing.text)) - 1)
                score = phrasing.log_p - one.log_p_free - self._weights.more_words * more
                heard.setdefault(phrasing.text, score)
        for sentence in free.spliced:
            heard[sentence.text] = float(np.logaddexp(heard.get(sentence.text, -math.inf), sentence.log_p))
        evidence_free = -math.inf
        if any(self._meanings.of(question, sentence.text) for sentence in free.spliced):
            evidence_free = min(0.0, free.evidence_spliced)
        plainly = self._meanings.of(question, own.free_text)
        if plainly & {UNKNOWN, REPEAT} or (plainly and not question.items):
            heard[own.free_text] = max(heard.get(own.free_text, -math.inf), self._weights.unnamed)
            evidence_free = 0.0
        texts: defaultdict[str, list[str]] = defaultdict(list)
        for text in heard:
            for meaning in self._meanings.of(question, text):
                texts[meaning].append(text)
        ways = self._meanings.ways(question)
        meanings = {
            meaning: HeardMeaning(
                float(np.logaddexp.reduce([heard[text] for text in some])),
                max(1, ways.get(meaning, OTHER_WAYS)),
                max(some, key=lambda text: heard[text]),
            )
            for meaning, some in texts.items()
        }
        return Listened(meanings, own, evidence_free)

    def weigh(
        self, question: Question, listened: Listened, before: Mapping[str, float] | None = None
    ) -> Marking:
        """Decide what was meant, and mark it; `before` as in `speech`."""
        expected = Expected(question, self._weights, len(self._meanings.ways(question)), before or {})
        p = probabilities(listened, self._weights, expected)
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
        return Marking(Outcome.AGAIN, None, listened.meanings[best].wording, p[best], likely=p)

    # --- a slot and its item, said together -----------------------------------------------------------

    def _listen_for_both(self, question: Question, hearing: Hearing, samples: Samples) -> Both | None:
        """Slot and item, where more was heard than a slot; what lies in the slots is listened for, unless
        both are right as they were freely written."""
        if not self._meanings.beyond_a_slot(question, hearing.free_text):
            return None
        written = typed(self._meanings, question, hearing.free_text)
        if written is not None and written.slot in question.right and written.agrees(question):
            return written
        lying = self._meanings.ways_of(place.item for place in question.scene if place.item is not None)
        ways = tuple(dict.fromkeys((*_ways(question.choices), *lying)))
        with self._hearing:
            pairs = self._engine.among(ways, pairs=True, within=True).hear(samples)
        known = self._weights
        return heard(self._meanings, question, pairs, known.prior, known.scale, known.wrong) or written

    def _with_name(self, question: Question, marking: Marking, both: Both | None) -> Marking:
        """The marking of a slot with the item that was said with it: right only if both are."""
        if both is None or marking.gave_up or marking.repeat:
            return marking
        words, named = self._questions.words, both.agrees(question)
        of_slot = self._of_choice(question, both.slot, marking.said, marking.p, marking.unsure)
        if of_slot.outcome is Outcome.RIGHT and named:
            return of_slot
        asked, other = (self._questions.called(item) for item in (question.topic.subject, min(both.items)))
        if named:
            tell = words.name_right
        elif of_slot.outcome is Outcome.RIGHT:
            tell = words.slot_right.format(named=other, item=asked)
        else:
            tell = words.both_wrong.format(named=other, item=asked)
        slot = None if of_slot.outcome is Outcome.RIGHT else both.slot
        return replace(
            of_slot, outcome=Outcome.WRONG, choice=slot, tell=" ".join(filter(None, (tell, of_slot.tell)))
        )

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

    def _every_name(self, engine: AnswerEngine) -> AnswerEngine:
        """The engine bound to every name; kept while the engine is the same, as their sounds take a while."""
        if self._bound is None or self._bound[0] is not engine:
            self._bound = (engine, engine.among(self._every_way, within=True))
        return self._bound[1]

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
        for choice in self._meanings.known(question):
            if choice.id == choice_id:
                return choice.shown
        return choice_id


@dataclass(frozen=True)
class Expected:
    """What is expected of an answer before it is heard: a right choice more than any other; and where it is
    said again, what was heard before, as the person most likely says the same thing twice.

    known: how many things an answer to the question may mean; before: `Marking.likely` of the hearing before,
    empty for the first, for which `known` makes no difference.
    """

    question: Question
    weights: JudgeWeights
    known: int = 0
    before: Mapping[str, float] = field(default_factory=dict)

    def log_p(self, meaning: str) -> float:
        """How likely a meaning is, as a logarithm (nats)."""
        lead, right = self.weights.scale * self.weights.prior, len(self.question.right)
        each = 1.0 / (right * math.exp(lead) + max(1, self.known - right))
        first = each * (math.exp(lead) if meaning in self.question.right else 1.0)
        if meaning in (OPEN, SHARED):
            first *= math.exp(-self.weights.scale * self.weights.unsettled)
        if not self.before:
            return math.log(first)
        again = 0.0 if meaning in UNMARKED else self.before.get(meaning, 0.0)
        return math.log(self.weights.same * again + (1 - self.weights.same) * first)


def probabilities(listened: Listened, weights: JudgeWeights, expected: Expected) -> dict[str, float]:
    """The probability of each meaning of a spoken answer; the remainder to 1 is "no answer at all"."""
    if not listened.meanings:
        return {}
    nats, free_words = evidence(listened.hearing)
    logit = max(
        weights.bias + weights.evidence * nats + weights.free_words * free_words,
        weights.bias_free + weights.evidence_free * listened.evidence_free,
    )
    p_answer = 1.0 / (1.0 + math.exp(-max(-50.0, min(50.0, logit))))
    log_p = np.array(
        [
            weights.scale * (heard.log_p - weights.spellings * math.log(heard.ways)) + expected.log_p(meaning)
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


def _ways(choices: Iterable[AnswerChoice]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(way for choice in choices for way in (*choice.ways, *choice.shared)))


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
