"""The log of what happened at the chairs: events are appended and read, never changed or removed.

Comes in: `Event`s. Goes out: the same, with their numbers. `append` returns only once the event would
survive the process being killed and, as far as the disk keeps its promises, the power going. Several
processes may use one log. It keeps what `Event` can hold and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Connection,
    Double,
    Engine,
    ForeignKey,
    Integer,
    MetaData,
    RowMapping,
    String,
    Table,
    create_engine,
    event,
    exc,
    func,
    insert,
    make_url,
    select,
)

from listen.chairside.events import Event, EventKind, Source
from vocab.errors import TraycallError

SCHEMA_VERSION = 1
WAIT_S = 5.0
"""How long another process may hold the log before it counts as locked."""

_TABLES = MetaData()
_VERSION = Table("chair_log_version", _TABLES, Column("version", Integer, primary_key=True))
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
)
MOST_PREDICTED = 10
"""Of the items expected before a request, so many are kept."""


class LogError(TraycallError):
    """The log cannot be opened, read or written; the text says what to do."""


@dataclass(frozen=True)
class Session:
    """One session at a chair. `clinic` and `dentist` are labels of the clinic's choice, never a patient.

    opened_s, closed_s: seconds since 1970; closed_s is None while it runs, or if it was cut short.
    """

    id: int
    opened_s: float
    closed_s: float | None
    pack: str
    tray: str | None
    procedure: str | None
    clinic: str | None
    dentist: str | None


class SessionLog:
    """The log in an SQLite file, or in any database that SQLAlchemy reaches by URL.

    Args:
        where: a path, or a URL such as `postgresql://host/name`.
        wait_s: how long to wait for another process.

    Raises:
        LogError: it cannot be opened, is no database, or was written by a newer version.
    """

    def __init__(self, where: str | Path, wait_s: float = WAIT_S) -> None:
        self._engine, self._shown = _open(where, wait_s)
        with self._speaking_plainly():
            self._prepare()

    def close(self) -> None:
        """Give the connections back; the log can go on being used."""
        self._engine.dispose()

    def open_session(
        self,
        at_s: float,
        pack: str,
        tray: str | None = None,
        procedure: str | None = None,
        clinic: str | None = None,
        dentist: str | None = None,
        source: Source = Source.KEYBOARD,
    ) -> Session:
        """Begin a session; its first event is already in the log when this returns."""
        named = {"pack": pack, "tray": tray, "procedure": procedure, "clinic": clinic, "dentist": dentist}
        too_long = [what for what, name in named.items() if name is not None and len(name) > 80]
        if too_long:
            raise LogError(f"the name of the {too_long[0]} is longer than 80 characters; shorten it.")
        opened = Event(EventKind.OPENED, at_s, source)
        with self._speaking_plainly(), _writing(self._engine) as connection:
            row = connection.execute(insert(_SESSIONS).values(opened_s=at_s, **named))
            session = int(row.inserted_primary_key[0]) if row.inserted_primary_key else 0
            connection.execute(insert(_EVENTS).values(session=session, **_as_row(replace(opened, seq=1))))
        return Session(session, at_s, None, pack, tray, procedure, clinic, dentist)

    def append(self, event: Event, session: int) -> int:
        """Keep an event and return its seq; when this returns, it will not be lost.

        Raises:
            LogError: no such session, or the log cannot be written (then the event is not kept).
        """
        with self._speaking_plainly(), _writing(self._engine) as connection:
            held = select(_SESSIONS.c.id).where(_SESSIONS.c.id == session).with_for_update()
            if connection.execute(held).first() is None:
                raise LogError(f"there is no session {session} in {self._shown}; open one first.")
            last = connection.execute(select(func.max(_EVENTS.c.seq)).where(_EVENTS.c.session == session))
            seq = (last.scalar() or 0) + 1
            kept = replace(event, seq=seq, predicted=event.predicted[:MOST_PREDICTED])
            connection.execute(insert(_EVENTS).values(session=session, **_as_row(kept)))
        return seq

    def events(self, session: int, after: int = 0) -> tuple[Event, ...]:
        """The events of a session in order, from the one after seq `after`; () for an unknown session."""
        wanted = (
            select(_EVENTS).where(_EVENTS.c.session == session, _EVENTS.c.seq > after).order_by(_EVENTS.c.seq)
        )
        with self._speaking_plainly(), self._engine.connect() as connection:
            return tuple(_from_row(row) for row in connection.execute(wanted).mappings())

    def sessions(self) -> tuple[Session, ...]:
        """All sessions, the oldest first."""
        closed = (
            select(_EVENTS.c.session, func.max(_EVENTS.c.at_s).label("closed_s"))
            .where(_EVENTS.c.kind == EventKind.CLOSED.value)
            .group_by(_EVENTS.c.session)
            .subquery()
        )
        wanted = (
            select(_SESSIONS, closed.c.closed_s)
            .outerjoin(closed, closed.c.session == _SESSIONS.c.id)
            .order_by(_SESSIONS.c.id)
        )
        with self._speaking_plainly(), self._engine.connect() as connection:
            return tuple(Session(**row) for row in connection.execute(wanted).mappings())

    def _prepare(self) -> None:
        """Make the tables of a new log; all of them or none, whoever else does the same."""
        try:
            with _writing(self._engine) as connection:
                self._make(connection)
        except (exc.IntegrityError, exc.ProgrammingError):  # somebody else was making them
            with _writing(self._engine) as connection:
                self._make(connection)

    def _make(self, connection: Connection) -> None:
        _TABLES.create_all(connection)
        version = connection.execute(select(func.max(_VERSION.c.version))).scalar()
        if version is None:
            connection.execute(insert(_VERSION).values(version=SCHEMA_VERSION))
        elif version > SCHEMA_VERSION:
            raise LogError(
                f"{self._shown} was written by a newer traycall (log version {version}, this one knows "
                f"{SCHEMA_VERSION}); update traycall, or name another log."
            )

    @contextmanager
    def _speaking_plainly(self) -> Iterator[None]:
        try:
            yield
        except exc.DBAPIError as error:
            raise LogError(f"{self._shown}: {_what_to_do(str(error.orig))}") from error


def _open(where: str | Path, wait_s: float) -> tuple[Engine, str]:
    """An engine, and how to call it in messages (without a password)."""
    if isinstance(where, str) and "://" in where:
        scheme = where.split("://")[0]
        try:
            url = make_url(where)
            if url.drivername in ("postgres", "postgresql"):
                url = url.set(drivername="postgresql+psycopg")
            engine = create_engine(url, pool_pre_ping=True)
        except (exc.ArgumentError, exc.NoSuchModuleError) as error:
            raise LogError(f"{scheme}://... is no database URL: {error}") from error
        except ModuleNotFoundError as error:
            raise LogError(f"{scheme}://... needs the package {error.name!r}; pip install it.") from error
        shown = url.render_as_string(hide_password=True)
    else:
        path = Path(where).expanduser()
        if path.is_dir():
            raise LogError(f"{path} is a folder; name a file in it, such as {path / 'sessions.db'}.")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise LogError(
                f"cannot make the folder {path.parent} ({error.strerror}); name a log in a writable one."
            ) from error
        shown = str(path)
        url = make_url("sqlite+pysqlite://").set(database=str(path))
        engine = create_engine(url, connect_args={"timeout": wait_s})
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    return engine, shown


def _set_up_sqlite(connection: Any, _record: object) -> None:
    """Commits reach the disk, the rollback journal's removal included; transactions are begun by us."""
    connection.isolation_level = None
    for pragma in ("synchronous = EXTRA", "foreign_keys = ON"):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def _writing(engine: Engine) -> Iterator[Connection]:
    """A transaction that holds the log from its start, and is committed when this ends well."""
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        yield connection


def _what_to_do(said: str) -> str:
    """The database's own words, and what helps."""
    for sign, advice in (
        ("file is not a database", "this is no log of traycall's and is left as it is; name another file."),
        ("malformed", "the file is damaged; copy it away, restore a backup, or begin a new log."),
        ("database is locked", "another program holds the log; close it, or try again."),
        ("unable to open", "it cannot be opened; see that the folder is writable, or name another log."),
        ("readonly", "it cannot be written; see that file and folder are writable, or name another log."),
        ("disk is full", "the disk is full; make room. What was acknowledged before is kept."),
        ("disk I/O", "the disk failed; check it. What was acknowledged before is kept."),
        ("no such column", "its tables are not those of a log of traycall's; name another file."),
    ):
        if sign in said:
            return f"{said.strip()}: {advice}"
    return f"{said.strip()}; see that the database runs and may be written."


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
    }


def _from_row(row: RowMapping) -> Event:
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
        seq=row["seq"],
    )
