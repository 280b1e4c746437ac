"""Decides what to ask when: the published FSRS algorithm keeps the memories, `next_topic` picks the topic.

Takes answers with their speed and any doubt they showed, a time, and what is to be learned; returns new
memories and the next topic. Clocks are passed in and nothing is random. It does not ask or judge.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from fsrs import Card, Rating, Scheduler

from listen.practice.topics import Drill, Topic

Deck = Mapping[str, Card]
"""The memory of every topic that was ever asked, by the topic's key."""

KNOWN_DAYS = 2.0
"""A topic counts as known once its memory's stability reaches this many days."""

SCHEDULER = Scheduler(desired_retention=0.9, learning_steps=(), relearning_steps=(), enable_fuzzing=False)
"""FSRS with its published weights. Its learning steps of minutes are left out: a missed topic comes back
once in the same session, after some other questions, and then on another day. Fuzzing is off because it is
random."""


@dataclass(frozen=True)
class Pace:
    """Seconds from question end to answer start: up to `quick_s` is quick, from `slow_s` on slow."""

    quick_s: float
    slow_s: float


PACES = {
    Drill.SLOT: Pace(2.0, 5.0),
    Drill.NAME: Pace(2.5, 6.0),
    Drill.APART: Pace(2.5, 6.0),
    Drill.NEXT: Pace(3.0, 8.0),
    Drill.FACT: Pace(2.5, 7.0),
    Drill.LAY: Pace(3.0, 8.0),
    Drill.FAULT: Pace(5.0, 15.0),
    Drill.PASS: Pace(5.0, 15.0),
}
"""By drill; LAY uses the mean over its placements. Set by hand: a request is met within a few seconds."""

FEW_CHOICES = frozenset((Drill.APART, Drill.FACT, Drill.LAY, Drill.FAULT, Drill.PASS))
"""Drills in which a quick first answer may be a lucky guess, however it is given."""


def rating(
    drill: Drill, right: bool, response_s: float | None, unsure: bool, new: bool, chosen: bool = False
) -> Rating:
    """How well a topic was known.

    A wrong answer is Again. A right one is Hard if slow or unsure, Easy if quick, Good otherwise. Without a
    time (None) speed does not count, and a new topic that can be guessed, as it always can where some answers
    were there to choose from (`chosen`), is never Easy.
    """
    if not right:
        return Rating.Again
    pace = PACES[drill]
    if unsure or (response_s is not None and response_s >= pace.slow_s):
        return Rating.Hard
    quick = response_s is not None and response_s <= pace.quick_s
    guessed = new and (chosen or drill in FEW_CHOICES)
    return Rating.Easy if quick and not guessed else Rating.Good


def rating_of_row(share: float, response_s: float | None, new: bool) -> Rating:
    """The rating of a laid row: all in place counts as right, at least three quarters as Hard."""
    if share >= 1.0:
        return rating(Drill.LAY, True, response_s, False, new)
    return Rating.Hard if share >= 0.75 else Rating.Again


def reviewed(card: Card | None, given: Rating, now: datetime) -> Card:
    """The memory after an answer; `card` is None for a new topic."""
    before = card if card is not None else Card(card_id=0, due=now)
    return SCHEDULER.review_card(before, given, now.astimezone(UTC))[0]


def recall_p(card: Card, at: datetime) -> float:
    """The probability that the topic is remembered at this time."""
    return float(SCHEDULER.get_card_retrievability(card, at))


def is_known(card: Card | None) -> bool:
    """Whether the memory is stable enough to count as known."""
    return card is not None and (card.stability or 0.0) >= KNOWN_DAYS


@dataclass(frozen=True)
class SessionSettings:
    """Length and pacing of a session.

    length: how long it lasts; group: most new topics among any 2 * `group` questions; gap: other questions
    before a topic comes back; most_extra: most questions asked past `length` to end on a success; new: most
    new topics, after which the session ends once nothing is due and what was missed came once more, None
    for as many as fit; first: topics (keys) that are asked before all others.
    """

    length: timedelta = timedelta(minutes=10)
    group: int = 5
    gap: int = 4
    most_extra: int = 5
    new: int | None = None
    first: frozenset[str] = frozenset()


class Course:
    """What a trainee is to learn, in teaching order, with the look-alikes of each item."""

    def __init__(self, topics: Sequence[Topic], partners: Mapping[str, Collection[str]]) -> None:
        self.topics = tuple(_woven(topics))
        self._partners = partners
        self._of_item: dict[str, list[str]] = {}
        for topic in self.topics:
            if topic.drill in (Drill.NAME, Drill.SLOT):
                self._of_item.setdefault(topic.subject, []).append(topic.key)

    def may_start(self, topic: Topic, deck: Deck) -> bool:
        """Whether a new topic may be begun.

        A pair is told apart once each of its items was met by itself, where this course teaches it by itself;
        an item waits while one of its look-alikes is being learned, so that the two are not introduced
        together.
        """
        if topic.drill is Drill.APART:
            return all(self.met(item, deck) for item in topic.items if item in self._of_item)
        return not any(
            self._learning(other, deck) for item in topic.items for other in self._partners.get(item, ())
        )

    def met(self, item: str, deck: Deck) -> bool:
        """Whether this item alone was asked about before."""
        return any(key in deck for key in self._of_item.get(item, []))

    def _learning(self, item: str, deck: Deck) -> bool:
        """Whether an item has been started but is not known yet."""
        cards = [deck[key] for key in self._of_item.get(item, []) if key in deck]
        return any(not is_known(card) for card in cards)


@dataclass(frozen=True)
class Trail:
    """What a session has asked so far.

    asked: keys in order; new: whether each was new when it was asked; missed: keys answered wrong and not
    asked again since, the oldest first.
    """

    asked: tuple[str, ...] = ()
    new: tuple[bool, ...] = ()
    missed: tuple[str, ...] = ()

    def after(self, key: str, new: bool, right: bool) -> Trail:
        """The trail with one more question; a missed topic gets a second turn only once."""
        missed = tuple(k for k in self.missed if k != key)
        if not right and key not in self.missed:
            missed = (*missed, key)
        return Trail((*self.asked, key), (*self.new, new), missed)


def next_topic(
    course: Course, deck: Deck, now: datetime, trail: Trail, settings: SessionSettings
) -> Topic | None:
    """What to ask now; None only for an empty course, or when all that was wanted is done.

    In this order: what comes first, the weakest memory that is due, something new while there is room, the
    second turn of a missed topic, and, unless new topics are limited, the topic not asked for longest.
    """
    last = set(trail.asked[-settings.gap :]) if settings.gap else set()
    first = [t for t in course.topics if t.key in settings.first and t.key not in trail.asked]
    if first:
        return first[0]
    seen = {t.key: t for t in course.topics if t.key in deck}
    free = [key for key in seen if key not in last and key not in trail.missed]
    due = [key for key in free if deck[key].due <= now]
    if due:
        return seen[min(due, key=lambda key: recall_p(deck[key], now))]
    if _has_room(trail, settings):
        fresh = _fresh(course, deck, last)
        if fresh is not None:
            return fresh
    waiting = [key for key in trail.missed if key in seen and key not in last]
    if waiting:
        return seen[waiting[0]]
    if settings.new is not None:
        soon = [key for key in trail.missed if key in seen and key not in trail.asked[-1:]]
        return seen[soon[0]] if soon else None
    rest = free or [key for key in seen if key not in trail.asked[-1:]] or list(seen)
    if not rest:
        return _fresh(course, deck)
    return seen[min(rest, key=lambda key: deck[key].last_review or now)]


def _has_room(trail: Trail, settings: SessionSettings) -> bool:
    """Whether something new may be begun."""
    if settings.new is not None:
        return sum(trail.new) < settings.new
    return sum(trail.new[-2 * settings.group :]) < settings.group


def surest_topic(course: Course, deck: Deck, now: datetime, last: str) -> Topic | None:
    """The best-known topic, to end on; the last one again only if no other was seen."""
    seen = [t for t in course.topics if t.key in deck]
    others = [t for t in seen if t.key != last] or seen
    return max(others, key=lambda t: (is_known(deck[t.key]), recall_p(deck[t.key], now)), default=None)


def _fresh(course: Course, deck: Deck, last: Collection[str] = ()) -> Topic | None:
    """The next new topic: the first pair ready to be told apart, else the next in teaching order."""
    new = [t for t in course.topics if t.key not in deck and t.key not in last]
    pairs = [t for t in new if t.drill is Drill.APART and course.may_start(t, deck)]
    if pairs:
        return pairs[0]
    single = [t for t in new if t.drill is not Drill.APART]
    return next((t for t in single if course.may_start(t, deck)), None)


def _woven(topics: Sequence[Topic]) -> list[Topic]:
    """Items in their order, with the other drills spread evenly among them."""
    lanes = [
        [t for t in topics if t.drill in (Drill.NAME, Drill.SLOT)],
        *([t for t in topics if t.drill is d] for d in Drill if d not in (Drill.NAME, Drill.SLOT)),
    ]
    placed = [
        ((i + 0.5) / len(lane) if n else i / max(1, len(lane)), n, i, topic)
        for n, lane in enumerate(lanes)
        for i, topic in enumerate(lane)
    ]
    return [topic for *_, topic in sorted(placed, key=lambda entry: entry[:3])]
