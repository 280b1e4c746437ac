"""One trainee at practice: the next question, answers by voice, text or touch, and what is stored of them.

It takes questions, a judge, a store, a course, times and a random generator, and gives questions and
`Reply`s. The command line and the web pages both use it; it never displays anything and keeps no sound.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from fsrs import Card

from listen.engine import Samples
from listen.practice.judging import Judge, Marking, Outcome
from listen.practice.laying import Laying
from listen.practice.questions import LAID, Question, Questions
from listen.practice.reasons import why_not_there
from listen.practice.reports import name_weights
from listen.practice.schedule import Course, SessionSettings
from listen.practice.session import MOST_AGAIN, Answered, By, PracticeSession, answered, laid
from listen.practice.store import PracticeStore, Review
from listen.practice.story import Story, told
from listen.practice.topics import Drill
from vocab.errors import TraycallError

_SURELY = 1e9
"""The weight of a name that is to be drawn."""


@dataclass(frozen=True)
class Reply:
    """What came of one answer.

    stored: what was kept, None if the question stays open or was put aside; open: the same question waits
    for another answer (it was unclear, to be repeated, or a row is not laid yet); aside: it stayed unclear
    and was left; explain: what to tell the trainee.
    """

    judgement: Marking
    stored: Answered | None
    open: bool
    aside: bool
    explain: str


class Desk:
    """A session of one trainee. Not for use by several threads at once.

    Args:
        trainee: must be known to the store.
        started: when the session begins.
        rng: draws wordings, synonyms and faults.
        new_names: names by which items are asked for first, by item.
    """

    def __init__(
        self,
        questions: Questions,
        judge: Judge,
        store: PracticeStore,
        trainee: str,
        course: Course,
        started: datetime,
        rng: np.random.Generator,
        settings: SessionSettings | None = None,
        new_names: Mapping[str, str] | None = None,
    ) -> None:
        self._questions, self._judge, self._store = questions, judge, store
        self.words = questions.words
        self._trainee, self._rng = trainee, rng
        self._new_names = dict(new_names or {})
        self.session = PracticeSession(course, store.deck(trainee), started, settings)
        self._reviews = list(store.reviews(trainee))
        self.question: Question | None = None
        self.laying: Laying | None = None
        self.story: Story | None = None
        self._unclear = 0
        self._likely: Mapping[str, float] = {}
        self._repeated = self._offered = False
        self._placed_s: list[float] = []

    def next(self, now: datetime) -> Question | None:
        """The next question; the open one while it waits for an answer; None once the session is over."""
        if self.question is not None:
            return self.question
        topic = self.session.next(now)
        if topic is None:
            return None
        weights: dict[str, float] = {}
        if topic.drill is Drill.SLOT:
            weights = name_weights(self._reviews, topic.subject)
            if name := self._new_names.pop(topic.subject, None):
                weights[name] = _SURELY
        self.question = self._questions.ask(topic, self._rng, weights)
        self.laying = Laying(self.question) if topic.drill is Drill.LAY else None
        self.story = None
        if topic.drill is Drill.NEXT:
            self.story = told(self._questions, self.question, self.card(), self._rng)
        self._unclear, self._repeated, self._offered, self._placed_s = 0, False, False, []
        self._likely = {}
        return self.question

    def offer(self) -> tuple[str, ...]:
        """The ids of the choices that the open question has to choose from; they count as shown now."""
        offered = self._open().offered
        self._offered = self._offered or bool(offered)
        return offered

    @property
    def answers(self) -> tuple[Answered, ...]:
        """All that the trainee answered, in this session and before, in the order it was given."""
        return tuple(review.answer for review in self._reviews)

    def card(self) -> Card | None:
        """The memory of the open question's topic; None where it is new or nothing is open."""
        return self.session.card(self.question.topic) if self.question else None

    def by_text(self, said: str, now: datetime, token: str, response_s: float | None) -> Reply:
        """Take a typed answer."""
        return self._take(self._judge.text(self._open(), said), now, token, response_s, "text")

    def by_voice(self, samples: Samples, now: datetime, token: str, response_s: float | None) -> Reply:
        """Take a spoken answer, shape = (n,), float32, 16 kHz mono; what was heard before counts with it
        where the question was asked again."""
        judgement = self._judge.speech(self._open(), samples, self._likely)
        return self._take(judgement, now, token, response_s, "voice")

    def by_touch(self, choice_id: str, now: datetime, token: str, response_s: float | None) -> Reply:
        """Take a touched choice, or "item@slot" for what was dragged into a slot."""
        return self._take(self._judge.touch(self._open(), choice_id), now, token, response_s, "touch")

    def object_to(self, token: str) -> None:
        """Mark a stored answer as one that the trainee holds to be right."""
        self._store.object_to(self._trainee, token)

    def by_silence(self) -> Reply:
        """Take silence: the question stays open, as after an unclear answer."""
        self._open()
        return self._again(Marking(Outcome.AGAIN, None, "", 0.0))

    # --- parts ----------------------------------------------------------------------------------------

    def _open(self) -> Question:
        if self.question is None:
            raise ValueError("no question is open; call next() first")
        return self.question

    def _take(self, judgement: Marking, now: datetime, token: str, response_s: float | None, by: By) -> Reply:
        question, self._likely = self._open(), {}
        if judgement.outcome is Outcome.AGAIN:
            return self._again(judgement)
        if self.laying is not None and not judgement.gave_up:
            return self._placed(self.laying, judgement, now, token, response_s, by)
        card = self.session.card(question.topic)
        if self.laying is not None:
            answer = laid(self.laying, card, now, token, None, by)
        else:
            answer = answered(
                question, judgement, card, now, token, response_s, by, self._repeated, self._offered
            )
        return self._done(judgement, answer)

    def _again(self, judgement: Marking) -> Reply:
        """A request to repeat, or an unclear answer: the question stays open, but not for ever."""
        if judgement.repeat:
            self._repeated = True
            return Reply(judgement, None, True, False, "")
        self._unclear += 1
        if self._unclear < MOST_AGAIN:
            self._likely = judgement.likely
            said = judgement.said.rstrip(".")
            heard = self.words.unclear.format(said=said) if said else ""
            return Reply(judgement, None, True, False, f"{heard} {self.words.again}".strip())
        question = self._open()
        self.session.put_aside(question.topic)
        self.question = self.laying = None
        return Reply(judgement, None, False, True, f"{self.words.aside} {question.answer}")

    def _placed(
        self,
        laying: Laying,
        judgement: Marking,
        now: datetime,
        token: str,
        response_s: float | None,
        by: By,
    ) -> Reply:
        """One item was put into a slot of the row."""
        item, _, at = (judgement.choice or "").partition(LAID)
        laying.place(item, at)
        if response_s is not None:
            self._placed_s.append(response_s)
        if not laying.done:
            right = judgement.outcome is Outcome.RIGHT
            why = "" if right else why_not_there(self._questions, laying.question, item, at)
            return Reply(judgement, None, True, False, why)
        mean_s = sum(self._placed_s) / len(self._placed_s) if self._placed_s else None
        try:
            return self._done(judgement, laid(laying, self.card(), now, token, mean_s, by))
        except TraycallError:  # not kept: the last piece is laid again
            laying.laid.pop()
            raise

    def _done(self, judgement: Marking, answer: Answered) -> Reply:
        question = self._open()
        self._store.record(self._trainee, answer)
        self.session.take(answer)
        self._reviews.append(Review(self._trainee, answer))
        self.question = self.laying = None
        return Reply(judgement, answer, False, False, explanation(question, judgement))


def explanation(question: Question, judgement: Marking) -> str:
    """What to tell after an answer: the right one, and how the wrong one differs from it."""
    if judgement.outcome is Outcome.RIGHT:
        return question.answer
    return " ".join(part for part in (question.answer, judgement.tell) if part)
