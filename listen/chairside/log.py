"""The log of what happened at the chairs: events are appended and read, never changed or removed.

It takes `Event`s and gives them back with their numbers. `append` returns only once the event would survive
the process being killed and, as far as the disk keeps its promises, a power failure. Several processes may
use one log. It keeps what `Event` can hold and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from sqlalchemy import (
    Boolean,
    Column,
    Connection,
    Double,
    ForeignKey,
    Integer,
    MetaData,
    RowMapping,
    String,
    Table,
    func,
    insert,
    select,
    text,
)
from sqlalchemy.schema import CreateColumn

from listen.chairside.events import (
    LONGEST_BY,
    LONGEST_REASON,
    LONGEST_SIZE,
    Event,
    EventError,
    EventKind,
    Source,
)
from listen.database import Database, Holds
from vocab.errors import TraycallError
from vocab.files import private_folder

WAIT_S = 5.0
"""How long another process may hold the log before it counts as locked."""

_TABLES = MetaData()
_SESSIONS = Table(
    "chair_sessions",
    _TABLES,
    Column("id", Integer, primary_key=True),
    Column("opened_s", Double, nullable=False),
    Column("pack", String(80), nullable=False),
    Column("tray", String(80)),
    Column("procedure", String(80)),
    Column("clinic", String(80)),
    Column("dentist", String(80)),
)
_EVENTS = Table(
    "chair_events",
    _TABLES,
    Column("session", ForeignKey("chair_sessions.id"), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("kind", String(40), nullable=False),
    Column("at_s", Double, nullable=False),
    Column("source", String(40), nullable=False),
    Column("item", String(80)),
    Column("quantity", Integer, nullable=False),
    Column("slot", String(40)),
    Column("about", String(40)),
    Column("seconds_s", Double),
    Column("verdict", String(40)),
    Column("predicted", String(1000), nullable=False),
    Column("good", Boolean),
    Column("corrects", Integer),
    Column("size", String(LONGEST_SIZE)),
    Column("by", String(LONGEST_BY)),
    Column("reason", String(LONGEST_REASON)),
    Column("short", Integer),
    Column("uncounted", Integer),
    Column("beyond", Integer),
)


def _to_version_2(connection: Connection) -> None:
    """Add sizes, who ended a session and why, and how its count stood then."""
    for name in ("size", "by", "reason", "short", "uncounted", "beyond"):
        column = CreateColumn(_EVENTS.c[name]).compile(dialect=connection.dialect)
        connection.execute(text(f"ALTER TABLE {_EVENTS.name} ADD COLUMN {column}"))


_HOLDS = Holds("chair log", _TABLES, migrations=(_to_version_2,))
MOST_PREDICTED = 10
"""How many of the items expected before a request are kept."""


class LogError(TraycallError):
    """The log cannot be opened, read or written; the text says what to do."""


@dataclass(frozen=True)
class LoggedSession:
    """One session at a chair. `clinic` and `dentist` are labels that the clinic chooses, never a patient.

    opened_s, closed_s: seconds since 1970; closed_s is None while it runs, or if it was cut short. ended_by,
    reason: who ended it with something open in the count, and why; short, uncounted, beyond: how many lines
    of the count were so at its end, None where that was not kept. See `listen.chairside.closing.ending_text`.
    """

    id: int
    opened_s: float
    closed_s: float | None
    pack: str
    tray: str | None
    procedure: str | None
    clinic: str | None
    dentist: str | None
    ended_by: str | None = None
    reason: str | None = None
    short: int | None = None
    uncounted: int | None = None
    beyond: int | None = None


class SessionLog:
    """The log in an SQLite file, or in any database that SQLAlchemy reaches by URL.

    Args:
        where: a path, or a URL such as `postgresql://host/name`.
        wait_s: how long to wait for another process.

    Raises:
        LogError: it cannot be opened, is not a database, or was written by a newer version.
    """

    def __init__(self, where: str | Path, wait_s: float = WAIT_S) -> None:
        place = where if isinstance(where, str) and "://" in where else Path(where).expanduser()
        if isinstance(place, Path):
            try:
                private_folder(place.parent)
            except OSError as error:
                raise LogError(
                    f"cannot make the folder {place.parent} ({error.strerror}); name a log in a writable one."
                ) from error
        self._database = Database(place, _HOLDS, LogError, wait_s)

    def close(self) -> None:
        """Release the connections; the log can still be used."""
        self._database.close()

    def open_session(
        self,
        at_s: float,
        pack: str,
        tray: str | None = None,
        procedure: str | None = None,
        clinic: str | None = None,
        dentist: str | None = None,
        source: Source = Source.KEYBOARD,
    ) -> LoggedSession:
        """Begin a session; its first event is already in the log when this returns."""
        named = {"pack": pack, "tray": tray, "procedure": procedure, "clinic": clinic, "dentist": dentist}
        too_long = [what for what, name in named.items() if name is not None and len(name) > 80]
        if too_long:
            raise LogError(f"the name of the {too_long[0]} is longer than 80 characters; shorten it.")
        opened = Event(EventKind.OPENED, at_s, source)
        with self._database.writing() as connection:
            row = connection.execute(insert(_SESSIONS).values(opened_s=at_s, **named))
            session = int(row.inserted_primary_key[0]) if row.inserted_primary_key else 0
            connection.execute(insert(_EVENTS).values(session=session, **_as_row(replace(opened, seq=1))))
        return LoggedSession(session, at_s, None, pack, tray, procedure, clinic, dentist)

    def append(self, event: Event, session: int) -> int:
        """Keep an event and return its seq; when this returns, it will not be lost.

        Raises:
            LogError: no such session, or the log cannot be written (then the event is not kept).
        """
        return self.append_all((event,), session)

    def append_all(self, events: Iterable[Event], session: int) -> int:
        """Keep events, all or none of them, and return the seq of the last.

        Raises:
            LogError: as of `append`.
        """
        with self._database.writing() as connection:
            held = select(_SESSIONS.c.id).where(_SESSIONS.c.id == session).with_for_update()
            if connection.execute(held).first() is None:
                raise LogError(f"there is no session {session} in {self._database.shown}; open one first.")
            last = connection.execute(select(func.max(_EVENTS.c.seq)).where(_EVENTS.c.session == session))
            seq = last.scalar() or 0
            for event in events:
                seq += 1
                kept = replace(event, seq=seq, predicted=event.predicted[:MOST_PREDICTED])
                connection.execute(insert(_EVENTS).values(session=session, **_as_row(kept)))
        return seq

    def events(self, session: int, after: int = 0) -> tuple[Event, ...]:
        """The events of a session in order, from the one after seq `after`; () for an unknown session."""
        wanted = (
            select(_EVENTS).where(_EVENTS.c.session == session, _EVENTS.c.seq > after).order_by(_EVENTS.c.seq)
        )
        with self._database.reading() as connection:
            rows = connection.execute(wanted).mappings().all()
        try:
            return tuple(_from_row(row) for row in rows)
        except EventError as error:
            raise LogError(
                f"session {session} of {self._database.shown} contains something that this version of "
                f"traycall does not know: {error} Update traycall, or name another log; this one "
                "is left as it is."
            ) from error

    def sessions(self) -> tuple[LoggedSession, ...]:
        """All sessions, oldest first."""
        of = _EVENTS.c
        first = (
            select(of.session, func.min(of.seq).label("seq"))
            .where(of.kind == EventKind.CLOSED.value)
            .group_by(of.session)
            .subquery()
        )
        closed = _EVENTS.join(first, (of.session == first.c.session) & (of.seq == first.c.seq))
        how = (
            of.at_s.label("closed_s"),
            of.by.label("ended_by"),
            of.reason,
            of.short,
            of.uncounted,
            of.beyond,
        )
        wanted = (
            select(_SESSIONS, *how)
            .select_from(_SESSIONS.outerjoin(closed, of.session == _SESSIONS.c.id))
            .order_by(_SESSIONS.c.id)
        )
        with self._database.reading() as connection:
            return tuple(LoggedSession(**row) for row in connection.execute(wanted).mappings())


def _as_row(kept: Event) -> dict[str, object]:
    return {
        "seq": kept.seq,
        "kind": kept.kind.value,
        "at_s": kept.at_s,
        "source": kept.source.value,
        "item": kept.item,
        "quantity": kept.quantity,
        "slot": kept.slot,
        "about": kept.about,
        "seconds_s": kept.seconds_s,
        "verdict": kept.verdict,
        "predicted": " ".join(kept.predicted),
        "good": kept.good,
        "corrects": kept.corrects,
        "size": kept.size,
        "by": kept.by,
        "reason": kept.reason,
        "short": kept.short,
        "uncounted": kept.uncounted,
        "beyond": kept.beyond,
    }


_KINDS, _SOURCES = frozenset(EventKind), frozenset(Source)


def _from_row(row: RowMapping) -> Event:
    if row["kind"] not in _KINDS or row["source"] not in _SOURCES:
        raise EventError(f"line {row['seq']} is “{row['kind']}”, by “{row['source']}”.")
    return Event(
        kind=EventKind(row["kind"]),
        at_s=row["at_s"],
        source=Source(row["source"]),
        item=row["item"],
        quantity=row["quantity"],
        slot=row["slot"],
        about=row["about"],
        seconds_s=row["seconds_s"],
        verdict=row["verdict"],
        predicted=tuple(row["predicted"].split()),
        good=row["good"],
        corrects=row["corrects"],
        size=row["size"],
        by=row["by"],
        reason=row["reason"],
        short=row["short"],
        uncounted=row["uncounted"],
        beyond=row["beyond"],
        seq=row["seq"],
    )
