"""A trainee's practice day by day: answers, how many were right, and what was known that evening."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fsrs import Card, Rating

from listen.practice.schedule import is_known, reviewed
from listen.practice.session import Answered

MOST_DAYS = 28


@dataclass(frozen=True)
class PracticeDay:
    """One day, in the zone of the time that was given: answers, right ones among them, and topics known."""

    day: date
    answers: int
    right: int
    known: int

    @property
    def wrong(self) -> int:
        """Answers that were not right."""
        return self.answers - self.right


def practice_days(
    answers: Sequence[Answered], topics: Collection[str], now: datetime, most: int = MOST_DAYS
) -> tuple[PracticeDay, ...]:
    """The last days up to `now`, from the first answer to these topics (their keys) on; () without any.

    What was known is worked out again from the answers, which are in the order they were given.
    """
    given, right, known_at = Counter[date](), Counter[date](), dict[date, int]()
    cards: dict[str, Card] = {}
    known: set[str] = set()
    for answer in answers:
        if answer.topic not in topics:
            continue
        day = answer.at.astimezone(now.tzinfo).date()
        given[day] += 1
        right[day] += answer.right
        card = cards[answer.topic] = reviewed(cards.get(answer.topic), Rating(answer.rating), answer.at)
        if is_known(card):
            known.add(answer.topic)
        else:
            known.discard(answer.topic)
        known_at[day] = len(known)
    if not given:
        return ()
    first, last = min(given), now.date()
    found, so_far = [], 0
    for number in range((last - first).days + 1):
        day = first + timedelta(days=number)
        so_far = known_at.get(day, so_far)
        found.append(PracticeDay(day, given[day], right[day], so_far))
    return tuple(found[-most:])


def days_in_a_row(days: Sequence[PracticeDay]) -> int:
    """How many days of practice in a row lead up to today; today itself may still be to come."""
    answered = [one.answers > 0 for one in reversed(days)]
    if answered and not answered[0]:
        answered = answered[1:]
    return next((n for n, some in enumerate(answered) if not some), len(answered))
