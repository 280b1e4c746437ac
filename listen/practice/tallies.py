"""What the reports count, counted in the database, so that a hundred thousand answers take no second.

Comes in: the practice store's database. Goes out: counts as plain values. Shares and intervals are made of
them in `listen.practice.reports`.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from statistics import median
from typing import Any

from sqlalchemy import ColumnElement, Connection, case, func, select

from listen.database import Database
from listen.practice.schedule import KNOWN_DAYS
from listen.practice.tables import AnswerRow, MemoryRow, TraineeRow
from listen.practice.topics import Drill


@dataclass(frozen=True)
class TraineeTally:
    """One trainee: answers, first answers of a day and how many of them were right, median seconds of right
    answers, topics asked, known and due, the last answer, and whether they have chosen a code."""

    trainee: str
    has_code: bool
    answers: int = 0
    firsts: int = 0
    right: int = 0
    response_s: float | None = None
    asked: int = 0
    known: int = 0
    due: int = 0
    last: datetime | None = None


@dataclass(frozen=True)
class ItemTally:
    """First answers about an item, or to one name of it: how many, how many wrong, by how many trainees."""

    item: str
    name: str | None
    firsts: int
    wrong: int
    trainees: int


@dataclass(frozen=True)
class NameTally:
    """A name that requests were made by: asked how often, by how many, and known by how many now."""

    item: str
    name: str
    asked: int
    trainees: int
    known_by: int


class Tallies:
    """The counts of one store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def stamp(self) -> tuple[object, ...]:
        """Another one whenever what is counted here was changed; answers go only with their trainee."""
        a, t = AnswerRow, TraineeRow
        with self._counting() as connection:
            newest = (
                connection.execute(select(func.max(a.id))).scalar(),
                connection.execute(select(func.max(a.at))).scalar(),
            )
            trainees = select(func.count(), func.sum(t.id), func.max(t.since), func.count(t.code))
            return (*newest, *connection.execute(trainees).one())

    def trainees(self, now: datetime) -> tuple[TraineeTally, ...]:
        """Every trainee, by name, those without an answer included."""
        a, m, t = AnswerRow, MemoryRow, TraineeRow
        whole = a.trainee_id + 0  # the table is read through: faster than by the index
        firsts = select(
            whole.label("trainee_id"),
            func.count().label("answers"),
            _number_of(a.first_on_day).label("firsts"),
            _number_of(a.first_on_day & a.right).label("right"),
            func.max(a.at, type_=a.at.type).label("last"),
        ).group_by(whole)
        taken = select(a.trainee_id, a.response_s).where(a.right, a.response_s.is_not(None))
        asked = m.trainee_id + 0
        decks = select(
            asked.label("trainee_id"),
            func.count().label("asked"),
            _number_of(m.stability >= KNOWN_DAYS).label("known"),
            _number_of(m.due <= now).label("due"),
        ).group_by(asked)
        with self._counting() as connection:
            everybody = connection.execute(select(t.id, t.name, t.code.is_not(None)).order_by(t.name)).all()
            given = {row.trainee_id: row._asdict() for row in connection.execute(firsts)}
            times = defaultdict[int, list[float]](list)
            for number, seconds in connection.execute(taken):
                times[number].append(float(seconds or 0.0))
            memories = {row.trainee_id: row._asdict() for row in connection.execute(decks)}
        found = []
        for number, name, has_code in everybody:
            counts = {**given.get(number, {}), **memories.get(number, {})}
            counts.pop("trainee_id", None)
            typical = median(times[number]) if times[number] else None
            found.append(TraineeTally(name, bool(has_code), response_s=typical, **counts))
        return tuple(found)

    def items(self, since: date | None = None) -> tuple[ItemTally, ...]:
        """First answers of a day to what slots, names and pairs asked, by item."""
        a = AnswerRow
        query = _first_answers(a.first_on_day, since).group_by(a.item)
        with self._counting() as connection:
            return tuple(ItemTally(item, None, *counts) for item, *counts in connection.execute(query))

    def names(self, since: date | None = None) -> tuple[ItemTally, ...]:
        """The same for each name that a request was made by."""
        a = AnswerRow
        query = (
            _first_answers(a.first_of_name, since).add_columns(a.asked_name).group_by(a.item, a.asked_name)
        )
        with self._counting() as connection:
            return tuple(
                ItemTally(item, name, firsts, wrong, trainees)
                for item, firsts, wrong, trainees, name in connection.execute(query)
            )

    def requests(self) -> tuple[NameTally, ...]:
        """All answers to requests by the name that was used; the latest of each trainee says who knows it."""
        a = AnswerRow
        query = select(a.item, a.asked_name, a.trainee_id, a.right).where(
            a.item.is_not(None), a.asked_name.is_not(None)
        )
        asked: Counter[tuple[str, str]] = Counter()
        latest: dict[tuple[str, str], dict[int, bool]] = defaultdict(dict)
        with self._counting() as connection:
            for item, name, trainee, right in connection.execute(query.order_by(a.at, a.id)):
                key = str(item), str(name)
                asked[key] += 1
                latest[key][trainee] = right
        return tuple(
            NameTally(*key, count, len(latest[key]), sum(latest[key].values()))
            for key, count in asked.items()
        )

    def confusions(self, since: date | None = None) -> dict[tuple[str, str], int]:
        """How often an item (first) was taken for another or itself (second), in names and pairs."""
        a = AnswerRow
        query = select(a.item, a.choice, func.count()).where(
            a.item.is_not(None), a.choice.is_not(None), a.topic.not_like(f"{Drill.SLOT}:%")
        )
        if since is not None:
            query = query.where(a.day >= since)
        with self._counting() as connection:
            rows = connection.execute(query.group_by(a.item, a.choice))
            return {(str(right), str(said)): count for right, said, count in rows}

    def latest_firsts(self) -> dict[tuple[str, str], bool]:
        """One answer for each trainee and topic: the first of the latest day on which it was asked.

        Later answers of a day are to what was just explained, so they say little; earlier days say what was
        known then, not now.
        """
        m, t = MemoryRow, TraineeRow
        query = select(t.name, m.topic, m.first_right).join(t, t.id == m.trainee_id)
        with self._counting() as connection:
            rows = connection.execute(query.where(m.first_right.is_not(None)))
            return {(who, topic): bool(right) for who, topic, right in rows}

    @contextmanager
    def _counting(self) -> Iterator[Connection]:
        with self._database.reading() as connection:
            yield connection


def _number_of(condition: Any) -> ColumnElement[int]:
    """How many rows meet it."""
    return func.sum(case((condition, 1), else_=0))


def _first_answers(first: Any, since: date | None) -> Any:
    """Item, first answers, wrong ones, trainees."""
    a = AnswerRow
    query = select(
        a.item, func.count(), _number_of(a.right.is_(False)), func.count(a.trainee_id.distinct())
    ).where(a.item.is_not(None), first)
    return query if since is None else query.where(a.day >= since)
