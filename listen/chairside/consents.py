"""Keeps who consented to learning from when to when, and which sessions are left out, as safely as the log.

It takes consent given or withdrawn and sessions to leave out, and gives the `Learning` that follows. Each
change is a record of its own that is never rewritten, so a confirmed change stays, whatever else changes at
the same time.
"""

from __future__ import annotations

import threading
from collections import defaultdict
from contextlib import suppress
from pathlib import Path

from pydantic import TypeAdapter, ValidationError
from sqlalchemy import Boolean, Column, Connection, Double, Integer, MetaData, String, Table, insert, select

from listen.chairside.learning import Consent, Learning, LearningError
from listen.database import Database, Holds
from vocab.files import private_folder

FILE = "consents.db"
EARLIER, TAKEN_OVER = "learning.json", "learning.json.taken-over"
"""The file in which the first versions kept everything, and its name once the database has taken it over."""
WAIT_S = 5.0

_TABLES = MetaData()
_SWITCHED = Table(
    "consent_switched",
    _TABLES,
    Column("id", Integer, primary_key=True),
    Column("dentist", String(80), nullable=False),
    Column("given", Boolean, nullable=False),
    Column("at_s", Double, nullable=False),
)
_LEFT_OUT = Table(
    "session_left_out", _TABLES, Column("session", Integer, primary_key=True, autoincrement=False)
)
_HOLDS = Holds("list of consents", _TABLES)
_EARLIER_FORMAT = TypeAdapter(Learning)


class Consents:
    """The setting of one data folder. Safe to use from many threads and from several processes.

    Every method raises `LearningError` where the database cannot be used.

    Args:
        data: the app's data folder; nothing is created in it until there is something to keep.
    """

    def __init__(self, data: Path) -> None:
        self._data, self._lock = data, threading.Lock()
        self._opened: Database | None = None

    def learning(self) -> Learning:
        """The setting as it is now; off where nothing was ever kept."""
        if not any((self._data / name).exists() for name in (FILE, EARLIER)):
            return Learning()
        with self._database().reading() as connection:
            return _read(connection)

    def switch(self, on: bool, now_s: float, dentist: str | None = None) -> Learning:
        """Give or withdraw a dentist's consent (None: no specific dentist); safe once this returns.

        Returns the setting after it.
        """
        with self._database().writing() as connection:
            before = _read(connection)
            if before.of(dentist).is_on != on:
                values = {"dentist": dentist or "", "given": on, "at_s": now_s}
                connection.execute(insert(_SWITCHED).values(**values))
            return _read(connection)

    def leave_out(self, *sessions: int) -> Learning:
        """Leave sessions out for good. Returns the setting after it."""
        with self._database().writing() as connection:
            new = set(sessions) - set(_read(connection).left_out)
            if new:
                connection.execute(insert(_LEFT_OUT), [{"session": number} for number in sorted(new)])
            return _read(connection)

    def close(self) -> None:
        """Release the database; this object can still be used."""
        with self._lock:
            if self._opened is not None:
                self._opened.close()

    def _database(self) -> Database:
        with self._lock:
            if self._opened is None:
                try:
                    private_folder(self._data)
                except OSError as error:
                    raise LearningError(f"{self._data} cannot be created: {error.strerror}.") from None
                opened = Database(self._data / FILE, _HOLDS, LearningError, WAIT_S)
                _take_over(self._data / EARLIER, opened)
                self._opened = opened
            return self._opened


def read_learning(data: Path) -> Learning:
    """The setting kept in a data folder; off where there is none."""
    return Consents(data).learning()


def _read(connection: Connection) -> Learning:
    on_s: dict[str, list[float]] = defaultdict(list)
    off_s: dict[str, list[float]] = defaultdict(list)
    for row in connection.execute(select(_SWITCHED).order_by(_SWITCHED.c.id)):
        (on_s if row.given else off_s)[row.dentist].append(row.at_s)
    left_out = connection.execute(select(_LEFT_OUT.c.session).order_by(_LEFT_OUT.c.session)).scalars()
    consents = {dentist: Consent(tuple(on_s[dentist]), tuple(off_s[dentist])) for dentist in on_s}
    return Learning(consents, tuple(left_out))


def _take_over(earlier: Path, database: Database) -> None:
    """Move what the first versions kept in a file into a database that is still empty; the file stays
    beside it under another name."""
    try:
        kept = _EARLIER_FORMAT.validate_json(earlier.read_bytes())
    except FileNotFoundError:
        return
    except (ValidationError, OSError) as error:
        raise LearningError(f"{earlier} cannot be read; move it away to go on, with learning off.") from error
    with database.writing() as connection:
        if _read(connection) == Learning():
            switched = [
                {"dentist": dentist, "given": given, "at_s": at_s}
                for dentist, consent in kept.consents.items()
                for given, at_s in _in_turn(consent)
            ]
            if switched:
                connection.execute(insert(_SWITCHED), switched)
            if kept.left_out:
                connection.execute(insert(_LEFT_OUT), [{"session": one} for one in set(kept.left_out)])
    with suppress(FileNotFoundError):  # another process has just done the same
        earlier.rename(earlier.with_name(TAKEN_OVER))


def _in_turn(consent: Consent) -> list[tuple[bool, float]]:
    """When consent was given (True) and withdrawn (False), in the order it happened."""
    turns: list[tuple[bool, float]] = []
    for number, on_s in enumerate(consent.on_s):
        turns.append((True, on_s))
        turns += [(False, off_s) for off_s in consent.off_s[number : number + 1]]
    return turns
