"""The tables of the practice store, and the migrations from version 1 to version 4.

A migration takes a connection and changes the tables in place. Version 2 knows a trainee by name regardless
of case and of how letters are composed, gives each a code of their own, and keeps beside an answer the
columns that the reports count by. Version 3 keeps what a trainee objects to, version 4 rehearsals.
"""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, date, datetime
from typing import Any

from fsrs import Card, Rating, State
from sqlalchemy import (
    Boolean,
    Connection,
    Date,
    DateTime,
    Float,
    ForeignKey,
    Index,
    Integer,
    RowMapping,
    String,
    Text,
    bindparam,
    delete,
    false,
    select,
    update,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeDecorator

from listen.database import Holds
from listen.practice.schedule import reviewed
from listen.practice.topics import item_of

LONGEST_NAME = 40
LONGEST_KEY = 200
"""Longer than a name, because case folding can add letters."""


class UtcTime(TypeDecorator[datetime]):
    """A time stored from any zone and read back in UTC."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Any) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without a zone cannot be stored")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Any) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    pass


class TraineeRow(Base):
    """name_key: the name as it is compared; code: hash of the trainee's own code, None until it is chosen."""

    __tablename__ = "trainee"
    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    name: Mapped[str] = mapped_column(String(LONGEST_NAME), unique=True)
    since: Mapped[datetime] = mapped_column(UtcTime)
    name_key: Mapped[str] = mapped_column(String(LONGEST_KEY), server_default="")
    code: Mapped[str | None] = mapped_column(String(200))
    __table_args__ = (Index("trainee_by_key", "name_key", unique=True),)


def _owner() -> Mapped[int]:
    return mapped_column(ForeignKey("trainee.id", ondelete="CASCADE"))


class AnswerRow(Base):
    """day: in UTC; item: the one it was about, where that is certain; first_on_day: whether it is the
    trainee's first answer to this topic on that day; first_of_name: the same for this name of it;
    objection: "open" where the trainee holds a wrong answer to be right, then what was decided ("right" or
    "wrong"), otherwise None."""

    __tablename__ = "answer"
    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    trainee_id: Mapped[int] = _owner()
    token: Mapped[str] = mapped_column(String(64))
    at: Mapped[datetime] = mapped_column(UtcTime)
    topic: Mapped[str] = mapped_column(String(200))
    right: Mapped[bool] = mapped_column(Boolean)
    choice: Mapped[str | None] = mapped_column(String(200))
    asked_name: Mapped[str | None] = mapped_column(String(200))
    said: Mapped[str] = mapped_column(String(400))
    response_s: Mapped[float | None] = mapped_column(Float)
    unsure: Mapped[bool] = mapped_column(Boolean)
    rating: Mapped[int] = mapped_column(Integer)
    by: Mapped[str] = mapped_column(String(10))
    day: Mapped[date] = mapped_column(Date, server_default="1970-01-01")
    item: Mapped[str | None] = mapped_column(String(200))
    first_on_day: Mapped[bool] = mapped_column(Boolean, server_default=false())
    first_of_name: Mapped[bool] = mapped_column(Boolean, server_default=false())
    objection: Mapped[str | None] = mapped_column(String(10))
    __table_args__ = (
        Index("answer_once", "trainee_id", "token", unique=True),
        Index("answer_by_time", "at"),
        Index("answer_by_topic", "trainee_id", "topic", "day"),
    )


class MemoryRow(Base):
    """first_right: whether the first answer of the latest day was right."""

    __tablename__ = "memory"
    trainee_id: Mapped[int] = mapped_column(ForeignKey("trainee.id", ondelete="CASCADE"), primary_key=True)
    topic: Mapped[str] = mapped_column(String(200), primary_key=True)
    state: Mapped[int] = mapped_column(Integer)
    step: Mapped[int | None] = mapped_column(Integer)
    stability: Mapped[float | None] = mapped_column(Float)
    difficulty: Mapped[float | None] = mapped_column(Float)
    due: Mapped[datetime] = mapped_column(UtcTime)
    last_review: Mapped[datetime | None] = mapped_column(UtcTime)
    first_right: Mapped[bool | None] = mapped_column(Boolean)


class ObservationRow(Base):
    __tablename__ = "observation"
    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    trainee_id: Mapped[int] = _owner()
    point: Mapped[str] = mapped_column(String(100))
    passed: Mapped[bool] = mapped_column(Boolean)
    observer: Mapped[str] = mapped_column(String(LONGEST_NAME))
    at: Mapped[datetime] = mapped_column(UtcTime)


class RehearsalRow(Base):
    """The fields of `Played`; timeline: as JSON text."""

    __tablename__ = "rehearsal"
    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    trainee_id: Mapped[int] = _owner()
    token: Mapped[str] = mapped_column(String(64))
    at: Mapped[datetime] = mapped_column(UtcTime)
    field: Mapped[str] = mapped_column(String(200))
    procedure: Mapped[str] = mapped_column(String(200))
    level: Mapped[int] = mapped_column(Integer)
    requests: Mapped[int] = mapped_column(Integer)
    right: Mapped[int] = mapped_column(Integer)
    wrong: Mapped[int] = mapped_column(Integer)
    slow: Mapped[int] = mapped_column(Integer)
    false_alarms: Mapped[int] = mapped_column(Integer)
    median_s: Mapped[float | None] = mapped_column(Float)
    counted: Mapped[int] = mapped_column(Integer)
    counted_right: Mapped[int] = mapped_column(Integer)
    seconds: Mapped[float] = mapped_column(Float)
    timeline: Mapped[str] = mapped_column(Text)
    __table_args__ = (Index("rehearsal_once", "trainee_id", "token", unique=True),)


_OF_CARD = ("step", "stability", "difficulty", "due", "last_review")
"""Fields of a card that a memory stores unchanged."""


def memory_values(card: Card) -> dict[str, Any]:
    """The columns of a memory, except its trainee and topic."""
    return {"state": int(card.state), **{name: getattr(card, name) for name in _OF_CARD}}


def card_of(memory: MemoryRow) -> Card:
    """The memory as a card of the scheduler."""
    return Card(card_id=0, state=State(memory.state), **{name: getattr(memory, name) for name in _OF_CARD})


def name_key(name: str) -> str:
    """A name as it is compared: composed letters, no case."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


# --- from version 1 to 2 --------------------------------------------------------------------------------

_OF_VERSION_1 = {
    "trainee": frozenset(("id", "name", "since")),
    "answer": frozenset(
        ("id", "trainee_id", "token", "at", "topic", "right", "choice", "asked_name", "said")
        + ("response_s", "unsure", "rating", "by")
    ),
    "memory": frozenset(("trainee_id", "topic", "state", "due", "last_review", *_OF_CARD)),
    "observation": frozenset(("id", "trainee_id", "point", "passed", "observer", "at")),
}
_NEW_COLUMNS = (
    f"trainee ADD COLUMN name_key VARCHAR({LONGEST_KEY}) DEFAULT '' NOT NULL",
    "trainee ADD COLUMN code VARCHAR(200)",
    "answer ADD COLUMN day DATE DEFAULT '1970-01-01' NOT NULL",
    "answer ADD COLUMN item VARCHAR(200)",
    "answer ADD COLUMN first_on_day BOOLEAN DEFAULT FALSE NOT NULL",
    "answer ADD COLUMN first_of_name BOOLEAN DEFAULT FALSE NOT NULL",
    "memory ADD COLUMN first_right BOOLEAN",
)


def _names_and_counts(connection: Connection) -> None:
    """Migrate to version 2: one trainee per name, however written, and the columns the reports count by."""
    for column in _NEW_COLUMNS:
        connection.exec_driver_sql(f"ALTER TABLE {column}")
    trainees = connection.execute(select(TraineeRow.id, TraineeRow.name).order_by(TraineeRow.id)).all()
    same: dict[str, list[int]] = defaultdict(list)
    for number, name in trainees:
        same[name_key(name)].append(number)
    for key, (first, *others) in same.items():
        for other in others:
            _merge(connection, other, first)
        name = next(name for number, name in trainees if number == first)
        kept = update(TraineeRow).where(TraineeRow.id == first)
        connection.execute(kept.values(name=unicodedata.normalize("NFC", name), name_key=key))
    _count(connection)
    for table in (TraineeRow.__table__, AnswerRow.__table__):
        for index in table.indexes:  # type: ignore[attr-defined]
            index.create(connection, checkfirst=True)


def _merge(connection: Connection, other: int, first: int) -> None:
    """Move everything of one trainee to another; memories of topics both were asked are computed again."""

    def topics(trainee: int) -> set[str]:
        return set(connection.scalars(select(MemoryRow.topic).where(MemoryRow.trainee_id == trainee)))

    both = topics(first) & topics(other)
    known = select(AnswerRow.token).where(AnswerRow.trainee_id == first)
    twice = delete(AnswerRow).where(AnswerRow.trainee_id == other, AnswerRow.token.in_(known))
    connection.execute(twice)
    connection.execute(delete(MemoryRow).where(MemoryRow.trainee_id == other, MemoryRow.topic.in_(both)))
    for table in (AnswerRow, MemoryRow, ObservationRow):
        connection.execute(update(table).where(table.trainee_id == other).values(trainee_id=first))
    connection.execute(delete(TraineeRow).where(TraineeRow.id == other))
    for topic in both:
        given = select(AnswerRow.rating, AnswerRow.at).where(
            AnswerRow.trainee_id == first, AnswerRow.topic == topic
        )
        card: Card | None = None
        for rating, at in connection.execute(given.order_by(AnswerRow.at, AnswerRow.id)):
            card = reviewed(card, Rating(rating), at)
        if card is not None:
            own = (MemoryRow.trainee_id == first) & (MemoryRow.topic == topic)
            connection.execute(update(MemoryRow).where(own).values(**memory_values(card)))


def _count(connection: Connection) -> None:
    """Fill in the columns that the reports count by."""
    a = AnswerRow
    columns = (a.id, a.trainee_id, a.topic, a.at, a.right, a.choice, a.asked_name)
    given = connection.execute(select(*columns).order_by(a.at, a.id)).mappings().all()
    filled = update(a.__table__).where(a.id == bindparam("number"))  # type: ignore[arg-type]
    found = [{"number": row["id"], **about} for row, about in zip(given, counted_by(given), strict=True)]
    for part in _parts(found, 5000):
        connection.execute(filled, part)
    latest = {
        (row["trainee_id"], row["topic"]): row["right"]
        for row, about in zip(given, found, strict=True)
        if about["first_on_day"]
    }
    m = MemoryRow
    known = update(m.__table__).where(  # type: ignore[arg-type]
        m.trainee_id == bindparam("who"), m.topic == bindparam("what")
    )
    firsts = [{"who": who, "what": what, "first_right": right} for (who, what), right in latest.items()]
    for part in _parts(firsts, 5000):
        connection.execute(known, part)


def counted_by(answers: Iterable[Mapping[str, Any] | RowMapping]) -> Iterator[dict[str, Any]]:
    """The columns that the reports count by, for answers in the order they were given."""
    seen: set[tuple[object, ...]] = set()
    for one in answers:
        day, name = one["at"].date(), one["asked_name"]
        by_topic = (one["trainee_id"], one["topic"], day)
        by_name = (*by_topic, name)
        yield {
            "day": day,
            "item": item_of(one["topic"], one["right"], one["choice"]),
            "first_on_day": by_topic not in seen,
            "first_of_name": name is not None and by_name not in seen,
        }
        seen |= {by_topic, by_name}


def _objections(connection: Connection) -> None:
    """Migrate to version 3: an answer may be objected to."""
    connection.exec_driver_sql("ALTER TABLE answer ADD COLUMN objection VARCHAR(10)")


def _rehearsals(connection: Connection) -> None:
    """Migrate to version 4: rehearsals are kept."""
    Base.metadata.tables[RehearsalRow.__tablename__].create(connection, checkfirst=True)


def _parts(rows: list[dict[str, Any]], most: int) -> Iterator[list[dict[str, Any]]]:
    for start in range(0, len(rows), most):
        yield rows[start : start + most]


PRACTICE = Holds(
    "practice store", Base.metadata, (_names_and_counts, _objections, _rehearsals), _OF_VERSION_1
)
