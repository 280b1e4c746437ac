"""One practice session: a set length, the next topic, answers taken in, and an end on a success.

Takes a course, the trainee's memories at the start, the time of each call, and answers; returns the topic to
ask and what to store about each answer. It does not store, ask or judge.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from fsrs import Card, Rating

from listen.practice.judging import Marking, Outcome
from listen.practice.laying import Laying
from listen.practice.questions import Question
from listen.practice.schedule import (
    Course,
    Deck,
    SessionSettings,
    Trail,
    next_topic,
    rating,
    rating_of_row,
    reviewed,
    surest_topic,
)
from listen.practice.topics import Topic

By = Literal["voice", "text", "touch"]

LONGEST_SAID = 400
MOST_AGAIN = 3
"""A question that stays unclear this often is put aside, neither right nor wrong."""


@dataclass(frozen=True)
class Answered:
    """One answer that counts, as it is stored.

    token: made by whoever sends it, so that the same answer sent twice counts once; topic: the topic's key;
    choice: what was answered (an item, slot or value), None for "I don't know"; asked_name: the synonym in
    the question; said: the answer in words; response_s: from the end of the question to the start of the
    answer; rating: 1 to 4 as FSRS counts.
    """

    token: str
    at: datetime
    topic: str
    right: bool
    choice: str | None
    asked_name: str | None
    said: str
    response_s: float | None
    unsure: bool
    rating: int
    by: By


def response_time(question_end_s: float, answer_start_s: float) -> float:
    """Seconds from the end of a question to the start of the answer, both on one clock; never negative."""
    return max(0.0, answer_start_s - question_end_s)


def answered(
    question: Question,
    judgement: Marking,
    card: Card | None,
    at: datetime,
    token: str,
    response_s: float | None,
    by: By,
    repeated: bool = False,
    chosen: bool = False,
) -> Answered:
    """What to store about a judged answer; a question that had to be repeated counts as unsure, and `chosen`
    is whether some answers were there to choose from.

    Raises:
        ValueError: the answer has to be said again, so it does not count.
    """
    if judgement.outcome is Outcome.AGAIN:
        raise ValueError("an unclear answer is asked again and never stored")
    right = judgement.outcome is Outcome.RIGHT
    unsure = judgement.unsure or repeated
    given = rating(question.topic.drill, right, response_s, unsure, card is None, chosen)
    return Answered(
        token=token,
        at=at,
        topic=question.topic.key,
        right=right,
        choice=judgement.choice,
        asked_name=question.asked_name,
        said=_kept(judgement.said),
        response_s=response_s,
        unsure=unsure,
        rating=int(given),
        by=by,
    )


def laid(
    laying: Laying, card: Card | None, at: datetime, token: str, response_s: float | None, by: By
) -> Answered:
    """What to store about a row that was laid (or given up); response_s is the mean of its placements."""
    share = laying.share if laying.done else 0.0
    given = rating_of_row(share, response_s, card is None)
    return Answered(
        token=token,
        at=at,
        topic=laying.question.topic.key,
        right=given is not Rating.Again,
        choice=None,
        asked_name=None,
        said=f"{len(laying.laid)} placed, {laying.mistakes} wrong",
        response_s=response_s,
        unsure=False,
        rating=int(given),
        by=by,
    )


def _kept(said: str) -> str:
    """Words as they are stored: printable, on one line and of limited length."""
    return "".join(c for c in said if c.isprintable())[:LONGEST_SAID]


class PracticeSession:
    """A session in progress.

    Args:
        deck: the memories at its start; it is copied.
        started: when it began; it goes on for `settings.length`.
    """

    def __init__(
        self, course: Course, deck: Deck, started: datetime, settings: SessionSettings | None = None
    ) -> None:
        self._course, self._settings = course, settings or SessionSettings()
        self._ends = started + self._settings.length
        self._trail = Trail()
        self._last_right = True
        self._extra = 0
        self.deck: dict[str, Card] = dict(deck)
        self.asked = 0
        self.right = 0

    def next(self, now: datetime) -> Topic | None:
        """What to ask now; None once the session is over.

        Past its length, or once all that was wanted is done, it goes on with the best-known topics until an
        answer is right, but for at most `most_extra` questions.
        """
        if now < self._ends and not self._extra:
            topic = next_topic(self._course, self.deck, now, self._trail, self._settings)
            if topic is not None or self._settings.new is None:
                return topic
        if self._last_right or self._extra >= self._settings.most_extra:
            return None
        self._extra += 1
        return surest_topic(self._course, self.deck, now, "".join(self._trail.asked[-1:]))

    def card(self, topic: Topic) -> Card | None:
        """The memory of a topic; None if it is new."""
        return self.deck.get(topic.key)

    def take(self, answer: Answered) -> None:
        """Take in an answer that counts."""
        self._trail = self._trail.after(answer.topic, answer.topic not in self.deck, answer.right)
        self.deck[answer.topic] = reviewed(self.deck.get(answer.topic), Rating(answer.rating), answer.at)
        self._last_right = answer.right
        self.asked += 1
        self.right += answer.right

    def put_aside(self, topic: Topic) -> None:
        """Leave a question that stayed unclear; something else comes first."""
        self._trail = self._trail.after(topic.key, False, True)
