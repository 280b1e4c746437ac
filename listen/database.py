"""Opens the databases that traycall keeps: SQLite files, or PostgreSQL by a URL.

It takes a database's location and a description of its tables, and gives transactions that are kept whole
or not at all; every failure is reported in plain words with what to do. Opening creates the tables or brings
them up to date, even if others do the same at that moment; a file that is not ours is left untouched.

A database keeps the number of its version; a list of migrations leads from each version to the next. The
stores are few and small and the list never branches, so Alembic, with its scripts and environment for what is
one loop here, would be more to carry than it saves.
"""

from __future__ import annotations

import sqlite3
import threading
import time
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import (
    Column,
    Connection,
    Engine,
    Integer,
    MetaData,
    Table,
    create_engine,
    event,
    exc,
    func,
    insert,
    inspect,
    make_url,
    select,
    text,
    update,
)
from sqlalchemy.engine import URL
from sqlalchemy.pool import NullPool

from vocab.errors import TraycallError
from vocab.files import private_file

WAIT_S = 10.0
"""How long another program may hold a database before it counts as locked."""
_MOMENT_MS = 500
CONNECTIONS = 70
"""The most connections to one PostgreSQL at a time."""


@dataclass(frozen=True)
class Holds:
    """What a database of ours holds.

    called: its name in messages ("practice store"); tables: as they are now; migrations: in order, from
    version 1 to 2, from 2 to 3 and so on; unnumbered: the tables, with their columns, that identify a
    database of version 1 made before versions were recorded.
    """

    called: str
    tables: MetaData
    migrations: tuple[Callable[[Connection], None], ...] = ()
    unnumbered: Mapping[str, frozenset[str]] = field(default_factory=dict)

    @property
    def version(self) -> int:
        """The number of the tables as they are now."""
        return len(self.migrations) + 1

    @property
    def version_table(self) -> Table:
        """The table that holds the version number."""
        name = f"{self.called.replace(' ', '_')}_version"
        known = self.tables.tables.get(name)
        if known is not None:
            return known
        return Table(name, self.tables, Column("version", Integer, primary_key=True, autoincrement=False))


class Database:
    """One database. Safe to use from many threads; other processes may use it, too.

    Args:
        where: the path of an SQLite file, or a URL ("sqlite:///FILE", "postgresql://USER@HOST/NAME").
        error: what is raised where it cannot be used, now or later; its text says what to do.
        wait_s: how long to wait for another program.
    """

    def __init__(
        self, where: str | Path, holds: Holds, error: type[TraycallError], wait_s: float = WAIT_S
    ) -> None:
        self._holds, self._error = holds, error
        url = self._url(where)
        self._writers = threading.Lock() if _is_sqlite(url) else None
        self._refused_s = 0.0
        self.shown = url.database if _is_sqlite(url) else url.render_as_string(hide_password=True)
        self.engine = self._engine(url, wait_s)
        holds.version_table  # noqa: B018 - it is one of the tables
        try:
            with self.reading() as connection:
                current = self._found(connection) == holds.version
            if not current:
                with self.writing() as connection:
                    self._prepare(connection)
            if _is_sqlite(url):
                self._let_readers_and_a_writer_work_side_by_side()
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Let go of all connections."""
        self.engine.dispose()

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that may write.

        In SQLite it holds the write lock from the start, so that it never has to give up half-way; in
        PostgreSQL lock the rows that are read first.
        """
        with self._speaking_plainly(), self._turn(), self.engine.connect() as connection:
            try:
                beginning = connection.begin()
            except exc.OperationalError:
                self._refused_s = time.monotonic()
                raise
            with beginning:
                yield connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that only reads; it sees the data of one moment."""
        with self._speaking_plainly():
            readers = self.engine.execution_options(reads_only=True)
            with readers.connect() as connection, connection.begin():
                yield connection

    @contextmanager
    def _turn(self) -> Iterator[None]:
        """SQLite lets one writer in at a time while the others poll, some of them for ever: here they queue
        instead. If another program holds the database, those in the queue do not wait for it again."""
        if self._writers is None:
            yield
            return
        came_s = time.monotonic()
        with self._writers:
            if self._refused_s > came_s:
                raise self._error(f"the {self._holds.called} {self.shown} cannot be used: {_HELD}")
            yield

    # --- opening --------------------------------------------------------------------------------

    def _url(self, where: str | Path) -> URL:
        if isinstance(where, Path):
            return make_url("sqlite+pysqlite://").set(database=str(where))
        try:
            url = make_url(where)
        except exc.ArgumentError:
            raise self._error(
                f"{where!r} is not a database URL; write sqlite:///FILE or postgresql://USER@HOST/NAME."
            ) from None
        return url.set(drivername="postgresql+psycopg") if url.drivername in _POSTGRES else url

    def _engine(self, url: URL, wait_s: float) -> Engine:
        if _is_sqlite(url):
            return self._sqlite(url, wait_s)
        scheme = f"{url.get_backend_name()}://"
        given: dict[str, Any] = {}
        if scheme == "postgresql://":
            ms = round(1000 * wait_s)
            given = {"connect_timeout": max(2, round(wait_s)), "options": f"-c lock_timeout={ms}"}
        try:
            return create_engine(
                url,
                connect_args=given,
                pool_size=10,
                max_overflow=CONNECTIONS - 10,
                pool_timeout=wait_s,
                pool_pre_ping=True,
            )
        except (exc.ArgumentError, exc.NoSuchModuleError):
            raise self._error(
                f"{scheme}... is not a database URL; write sqlite:///FILE or postgresql://USER@HOST/NAME."
            ) from None
        except ModuleNotFoundError as error:
            raise self._error(
                f"{scheme}... needs the package {error.name}: pip install '{error.name}[binary]'"
            ) from None

    def _sqlite(self, url: URL, wait_s: float) -> Engine:
        if not url.database or url.database == ":memory:":
            raise self._error(f"the {self._holds.called} is kept in a file; write sqlite:///FILE.")
        file = Path(url.database)
        if file.is_dir():
            raise self._error(f"{file} is a folder; name a file in it.")
        try:
            private_file(file)
        except OSError as error:
            raise self._error(
                f"the {self._holds.called} {file} cannot be used: {error.strerror}; check that its folder "
                "exists and is writable, or name another file."
            ) from None
        engine = create_engine(url, poolclass=NullPool, connect_args={"timeout": wait_s})
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine

    def _prepare(self, connection: Connection) -> None:
        """Make the tables, or bring them up to date; all of it or nothing."""
        holds, numbers = self._holds, self._holds.version_table
        if connection.dialect.name == "postgresql":
            turn = zlib.crc32(holds.called.encode())
            connection.execute(text("SELECT pg_advisory_xact_lock(:turn)"), {"turn": turn})
        found = self._found(connection)
        if found is None:
            holds.tables.create_all(connection)
            connection.execute(insert(numbers).values(version=holds.version))
            return
        if found > holds.version:
            raise self._error(
                f"the {holds.called} {self.shown} was written by a newer traycall (its version is {found}, "
                f"this one knows {holds.version}): update traycall, or name another one."
            )
        for migration in holds.migrations[found - 1 :]:
            migration(connection)
        if found < holds.version:
            holds.tables.create_all(connection)
            if not connection.execute(update(numbers).values(version=holds.version)).rowcount:
                connection.execute(insert(numbers).values(version=holds.version))

    def _found(self, connection: Connection) -> int | None:
        """The version found; None where there is nothing yet."""
        holds, there = self._holds, inspect(connection)
        names = set(there.get_table_names())
        if holds.version_table.name in names:
            number = connection.execute(select(func.max(holds.version_table.c.version))).scalar()
            if isinstance(number, int) and number >= 1:
                return number
        elif holds.unnumbered and holds.unnumbered.keys() <= names:
            columns = {name: {c["name"] for c in there.get_columns(name)} for name in holds.unnumbered}
            if all(holds.unnumbered[name] <= columns[name] for name in columns):
                return 1
        elif not names & holds.tables.tables.keys() and (
            not names or connection.dialect.name == "postgresql"  # which may be shared with others
        ):
            return None
        raise self._error(
            f"{self.shown} is not a traycall {holds.called} and is left as it is: its tables "
            f"({', '.join(sorted(names)[:5])}) are different. Name another one."
        )

    def _let_readers_and_a_writer_work_side_by_side(self) -> None:
        """The file remembers the mode; if another program holds it just now, the next to open it sets it."""
        with self.engine.connect() as connection, suppress(sqlite3.OperationalError):
            plain = connection.connection
            if plain.execute("PRAGMA journal_mode").fetchone() != ("wal",):
                plain.execute(f"PRAGMA busy_timeout={_MOMENT_MS}")
                plain.execute("PRAGMA journal_mode=WAL")

    @contextmanager
    def _speaking_plainly(self) -> Iterator[None]:
        try:
            yield
        except exc.SQLAlchemyError as error:
            said = str(getattr(error, "orig", None) or error).strip()
            raise self._error(
                f"the {self._holds.called} {self.shown} cannot be used: {what_to_do(said)}"
            ) from error
        except (ValueError, OverflowError) as error:  # a value that traycall never wrote
            raise self._error(
                f"the {self._holds.called} {self.shown} cannot be used: {_DAMAGED} ({error})"
            ) from error


_POSTGRES = ("postgres", "postgresql", "postgresql+psycopg")
_DAMAGED = "it is damaged; copy it away, then restore a backup or begin a new one."
_HELD = "another program holds it; close that program, or try again in a moment."
_ADVICE = (
    ("file is not a database", "this is not a database and is left as it is; name another file."),
    ("file is encrypted", "this is not a traycall database and is left as it is; name another file."),
    ("malformed", _DAMAGED),
    ("decode to utf-8", _DAMAGED),
    ("locked", _HELD),
    ("lock timeout", _HELD),
    ("unable to open", "it cannot be opened; check that its folder exists and is writable."),
    ("readonly", "it is not writable; check the permissions of the file and its folder."),
    ("read-only", "it is not writable; check the permissions of the user who connects."),
    ("disk is full", "the disk is full; free some space. What was saved before is safe."),
    ("no space left", "the disk is full; free some space. What was saved before is safe."),
    ("disk i/o", "the disk failed; check it. What was saved before is safe."),
    ("no password supplied", "it wants a password; put one into ~/.pgpass, or into PGPASSWORD."),
    ("password authentication", "the password is wrong; check ~/.pgpass, PGPASSWORD or the URL."),
    ("peer authentication", "it lets in only the user of that name; run traycall as that user."),
    ("permission denied", "the user who connects has no access to it; check the user in the URL."),
    ("no such table", _DAMAGED),
    ("no such column", _DAMAGED),
)


def what_to_do(said: str) -> str:
    """What to do about a failure, found by the database's own words."""
    for sign, advice in _ADVICE:
        if sign in said.lower():
            return advice
    return f"{' '.join(said.split())}. Check that the database is running and can be reached, then try again."


def _is_sqlite(url: URL) -> bool:
    return url.get_backend_name() == "sqlite"


def _prepare_sqlite(connection: Any, _record: object) -> None:
    """The driver leaves transactions to us; commits reach the disk; what is deleted is gone."""
    connection.isolation_level = None
    for pragma in ("synchronous=FULL", "foreign_keys=ON", "secure_delete=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    reads = connection.get_execution_options().get("reads_only", False)
    connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")
