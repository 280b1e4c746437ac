"""How far one trainee is: what is known, how fast, what gets mixed up, and what will be remembered.

From a course, a trainee's memories and answers, and a time it makes a `Progress`. It compares trainees with
nobody.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median

from fsrs import Card

from listen.practice.schedule import Deck, is_known, recall_p
from listen.practice.session import Answered
from listen.practice.topics import Drill, Topic, item_of

FORECAST_DAYS = (0, 1, 7, 30)
DUE_DAYS = 14
RECENT = 30
"""How many answers the speed of a drill is taken from."""


@dataclass(frozen=True)
class Standing:
    """One drill: topics in the course, asked so far, known; median seconds of recent right answers."""

    drill: Drill
    topics: int
    asked: int
    known: int
    response_s: float | None


@dataclass(frozen=True)
class Mixed:
    """One item answered for another, and how often."""

    right: str
    answered: str
    count: int


@dataclass(frozen=True)
class Progress:
    """Where a trainee stands.

    forecast: for some numbers of days from now, how many of the topics asked so far will be remembered if
    nothing is practised (expected number); due: topics due now, and then on each of the coming days.
    """

    standings: tuple[Standing, ...]
    mixed: tuple[Mixed, ...]
    forecast: tuple[tuple[int, float], ...]
    due: tuple[int, ...]
    answers: int
    last: datetime | None

    @property
    def known(self) -> int:
        """Topics known in all drills."""
        return sum(s.known for s in self.standings)

    @property
    def topics(self) -> int:
        """Topics of the course in all drills."""
        return sum(s.topics for s in self.standings)


def progress(topics: Sequence[Topic], deck: Deck, answers: Sequence[Answered], now: datetime) -> Progress:
    """Where a trainee stands on these topics at a given time."""
    cards = {t.key: deck[t.key] for t in topics if t.key in deck}
    drills = [d for d in Drill if any(t.drill is d for t in topics)]
    return Progress(
        standings=tuple(_standing(d, [t for t in topics if t.drill is d], cards, answers) for d in drills),
        mixed=mixed_up(answers),
        forecast=tuple(
            (days, sum(recall_p(c, now + timedelta(days=days)) for c in cards.values()))
            for days in FORECAST_DAYS
        ),
        due=_due(cards.values(), now),
        answers=len(answers),
        last=answers[-1].at if answers else None,
    )


def mixed_up(answers: Iterable[Answered]) -> tuple[Mixed, ...]:
    """What was answered instead of what, the most frequent first; topics with one right item only."""
    counts = Counter(
        (right, answer.choice)
        for answer in answers
        if not answer.right and answer.choice and (right := right_item(answer))
    )
    return tuple(Mixed(right, said, n) for (right, said), n in counts.most_common())


def right_item(answer: Answered) -> str | None:
    """The item that a NAME or APART question was about, if that is certain; otherwise None."""
    slot = answer.topic.startswith(f"{Drill.SLOT}:")
    return None if slot else item_of(answer.topic, answer.right, answer.choice)


def _standing(drill: Drill, topics: Sequence[Topic], cards: Deck, answers: Sequence[Answered]) -> Standing:
    of_drill = f"{drill}:"
    times = [
        a.response_s for a in answers if a.right and a.response_s is not None and a.topic.startswith(of_drill)
    ][-RECENT:]
    asked = [cards[t.key] for t in topics if t.key in cards]
    return Standing(
        drill, len(topics), len(asked), sum(is_known(c) for c in asked), median(times) if times else None
    )


def _due(cards: Iterable[Card], now: datetime) -> tuple[int, ...]:
    """Topics due now, then within each of the next days."""
    counts = [0] * (DUE_DAYS + 1)
    for card in cards:
        days = max(0, -((now - card.due) // timedelta(days=1)))
        if days <= DUE_DAYS:
            counts[days] += 1
    return tuple(counts)
