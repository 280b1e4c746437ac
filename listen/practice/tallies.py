"""The counts behind the reports, made in the database: a hundred thousand answers take under a second.

Takes the practice store's database and returns counts as plain values. `listen.practice.reports` turns them
into shares and intervals.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from statistics import median
from typing import Any

from sqlalchemy import ColumnElement, Connection, case, func, select

from listen.database import Database
from listen.practice.schedule import KNOWN_DAYS
from listen.practice.tables import AnswerRow, MemoryRow, ObservationRow, RehearsalRow, TraineeRow
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
    """A name used in requests: how often it was asked, of how many trainees, and how many know it now."""

    item: str
    name: str
    asked: int
    trainees: int
    known_by: int


@dataclass(frozen=True)
class Missed:
    """First answers of a trainee about an item, and how many of them were wrong."""

    trainee: str
    item: str
    firsts: int
    wrong: int


class Tallies:
    """The counts of one store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def stamp(self) -> tuple[object, ...]:
        """A value that changes whenever these counts may; answers are deleted only with their trainee."""
        a, t = AnswerRow, TraineeRow
        with self._counting() as connection:
            newest = (
                connection.execute(select(func.max(a.id))).scalar(),
                connection.execute(select(func.max(a.at))).scalar(),
                connection.execute(select(func.count()).where(a.objection.is_not(None), a.right)).scalar(),
            )
            seen = connection.execute(select(func.count(ObservationRow.id))).scalar()
            trainees = select(func.count(), func.sum(t.id), func.max(t.since), func.count(t.code))
            return (*newest, seen, *connection.execute(trainees).one())

    def topics(self) -> frozenset[str]:
        """Every topic that was asked, as it is stored."""
        with self._counting() as connection:
            return frozenset(connection.scalars(select(MemoryRow.topic).distinct()))

    def latest_topics(self, most: int, trainee: int | None = None) -> tuple[str, ...]:
        """The topics of the latest answers, the last first, of one trainee (by number) or of all."""
        query = select(AnswerRow.topic).order_by(AnswerRow.at.desc(), AnswerRow.id.desc()).limit(most)
        if trainee is not None:
            query = query.where(AnswerRow.trainee_id == trainee)
        with self._counting() as connection:
            return tuple(connection.scalars(query))

    def trainees(self, now: datetime, topics: Collection[str] | None = None) -> tuple[TraineeTally, ...]:
        """Every trainee in order of name, including those without an answer; counts only these topics, if
        some are given."""
        a, m, t = AnswerRow, MemoryRow, TraineeRow
        whole = a.trainee_id + 0  # `+ 0` makes it scan the table, which is faster than the index
        firsts = select(
            whole.label("trainee_id"),
            func.count().label("answers"),
            _number_of(a.first_on_day).label("firsts"),
            _number_of(a.first_on_day & a.right).label("right"),
            func.max(a.at, type_=a.at.type).label("last"),
        ).group_by(whole)
        taken = select(a.trainee_id, a.response_s).where(a.right, a.response_s.is_not(None))
        if topics is not None:
            firsts, taken = firsts.where(a.topic.in_(topics)), taken.where(a.topic.in_(topics))
        asked = m.trainee_id + 0
        decks = select(
            asked.label("trainee_id"),
            func.count().label("asked"),
            _number_of(m.stability >= KNOWN_DAYS).label("known"),
            _number_of(m.due <= now).label("due"),
        ).group_by(asked)
        if topics is not None:
            decks = decks.where(m.topic.in_(topics))
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
        """First answers of a day in the slot, name and pair drills, by item."""
        a = AnswerRow
        query = _first_answers(a.first_on_day, since).group_by(a.item)
        with self._counting() as connection:
            return tuple(ItemTally(item, None, *counts) for item, *counts in connection.execute(query))

    def names(self, since: date | None = None) -> tuple[ItemTally, ...]:
        """The same for each name used in a request."""
        a = AnswerRow
        query = (
            _first_answers(a.first_of_name, since).add_columns(a.asked_name).group_by(a.item, a.asked_name)
        )
        with self._counting() as connection:
            return tuple(
                ItemTally(item, name, firsts, wrong, trainees)
                for item, firsts, wrong, trainees, name in connection.execute(query)
            )

    def missed(self) -> tuple[Missed, ...]:
        """What each trainee got wrong at first, by item."""
        a, t = AnswerRow, TraineeRow
        wrong = _number_of(a.right.is_(False))
        query = (
            select(t.name, a.item, func.count(), wrong)
            .join(t, t.id == a.trainee_id)
            .where(a.item.is_not(None), a.first_on_day)
            .group_by(t.name, a.item)
            .having(wrong > 0)
        )
        with self._counting() as connection:
            return tuple(Missed(who, str(item), *counts) for who, item, *counts in connection.execute(query))

    def memories(self) -> dict[str, dict[str, bool]]:
        """The topics that each trainee was asked, and whether each is known; by the trainee's name."""
        m, t = MemoryRow, TraineeRow
        query = select(t.name, m.topic, m.stability >= KNOWN_DAYS).join(t, t.id == m.trainee_id)
        found = defaultdict[str, dict[str, bool]](dict)
        with self._counting() as connection:
            for who, topic, known in connection.execute(query):
                found[who][topic] = bool(known)
        return dict(found)

    def rehearsals(self) -> tuple[tuple[str, str, str, int, int], ...]:
        """Every rehearsal: the trainee's name, field and procedure, requests and how many were right."""
        r, t = RehearsalRow, TraineeRow
        query = select(t.name, r.field, r.procedure, r.requests, r.right).join(t, t.id == r.trainee_id)
        with self._counting() as connection:
            return tuple((who, field, done, n, k) for who, field, done, n, k in connection.execute(query))

    def requests(self) -> tuple[NameTally, ...]:
        """All answers to requests by the name used; each trainee's latest one says whether they know it."""
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
        """How often an item (first) was taken for another or itself (second), in name and pair drills."""
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

        Later answers of the same day follow the explanation, so they say little; earlier days say what was
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
    """How many rows meet the condition."""
    return func.sum(case((condition, 1), else_=0))


def _first_answers(first: Any, since: date | None) -> Any:
    """A query of items with their first answers, wrong ones and trainees."""
    a = AnswerRow
    query = select(
        a.item, func.count(), _number_of(a.right.is_(False)), func.count(a.trainee_id.distinct())
    ).where(a.item.is_not(None), first)
    return query if since is None else query.where(a.day >= since)
