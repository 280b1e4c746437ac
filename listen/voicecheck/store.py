"""Keeps recordings of voice checks as long as the person who spoke agrees, and what was measured.

Without consent nothing is written, not even the file. A person's consent and recordings are one: withdrawing
it deletes them, and what is deleted is overwritten. Each recording, each measurement and the clinic's two
numbers (`listen.voicecheck.fit`) are rows of one private SQLite file.
"""

from __future__ import annotations

import io
import json
import threading
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import soundfile
from sqlalchemy import (
    Boolean,
    Column,
    Connection,
    Double,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    delete,
    func,
    insert,
    select,
    update,
)

from listen.database import Database, Holds
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.readings import AS_SHIPPED, Adjustment, Calibration
from listen.voicecheck.lines import Kind, Line
from listen.voicecheck.outcome import Outcome, Tally
from listen.voicecheck.room import Running
from listen.voicecheck.round import Read
from vocab.errors import Declined, TraycallError
from vocab.files import private_folder

FILE = "voices.db"
LONGEST_WHO = 40
PURPOSE = (
    "Only to measure how well traycall hears me in this clinic, now and after changes to it or to the names, "
    "and to fit two numbers of its hearing. The recordings stay on this machine until I or the lead delete "
    "them."
)
WAIT_S = 5.0

_TABLES = MetaData()
_PERSON = Table(
    "voice_person",
    _TABLES,
    Column("id", Integer, primary_key=True),
    Column("who", String(LONGEST_WHO), nullable=False, unique=True),
    Column("agreed_s", Double, nullable=False),
    Column("purpose", Text, nullable=False),
)
_RECORDING = Table(
    "voice_recording",
    _TABLES,
    Column("id", Integer, primary_key=True),
    Column("person", ForeignKey("voice_person.id", ondelete="CASCADE"), nullable=False),
    Column("at_s", Double, nullable=False),
    Column("running", String(20), nullable=False),
    Column("line", Text, nullable=False),
    Column("sound", LargeBinary, nullable=False),
)
_MEASURED = Table(
    "voice_measured",
    _TABLES,
    Column("id", Integer, primary_key=True),
    Column("at_s", Double, nullable=False),
    Column("version", String(40), nullable=False),
    Column("engine", String(120), nullable=False),
    Column("vocabulary", String(64), nullable=False),
)
_OUTCOME = Table(
    "voice_outcome",
    _TABLES,
    Column("measured", ForeignKey("voice_measured.id", ondelete="CASCADE"), primary_key=True),
    Column("recording", ForeignKey("voice_recording.id", ondelete="CASCADE"), primary_key=True),
    Column("outcome", String(20), nullable=False),
)
_ADJUSTED = Table(
    "voice_adjusted",
    _TABLES,
    Column("id", Integer, primary_key=True),
    Column("at_s", Double, nullable=False),
    Column("shift", Double, nullable=False),
    Column("factor", Double, nullable=False),
    Column("weights", String(64), nullable=False),
    Column("told", Text, nullable=False),
    Column("on", Boolean, nullable=False),
)
_HOLDS = Holds("store of voice recordings", _TABLES)


class VoiceStoreError(TraycallError):
    """The store cannot be used, or has no such recording or person."""


@dataclass(frozen=True)
class Person:
    """Someone who agreed. who: a name or initials of their own choice; agreed_s: seconds since 1970."""

    id: int
    who: str
    agreed_s: float
    purpose: str
    recordings: int


@dataclass(frozen=True)
class Recording:
    """A line as somebody read it; its sound is fetched by its id. at_s: seconds since 1970."""

    id: int
    person: int
    who: str
    at_s: float
    running: Running
    line: Line


@dataclass(frozen=True)
class Conditions:
    """What recordings were measured with: traycall's version, the engine's name, the vocabulary's
    checksum."""

    version: str
    engine: str
    vocabulary: str


@dataclass(frozen=True)
class Measurement:
    """outcomes: by the id of each recording that was measured and is still here; at_s: seconds since 1970."""

    id: int
    at_s: float
    conditions: Conditions
    outcomes: Mapping[int, Outcome]

    def tally(self, recordings: Mapping[int, Recording]) -> Tally:
        """The counts, of those of its recordings that are given."""
        return Tally.of(
            (recordings[key].line.asks, outcome)
            for key, outcome in self.outcomes.items()
            if key in recordings
        )


@dataclass(frozen=True)
class Adopted:
    """The two numbers in use or switched off. weights: of which shipped weights they are a change; told: the
    figures that they were adopted by, in words."""

    at_s: float
    own: Adjustment
    weights: str
    told: str
    on: bool

    def applied(self, shipped: Calibration) -> Calibration:
        """The weights with the two numbers on top; as shipped if off, or fitted on other weights."""
        return shipped.adjusted(self.own) if self.on and self.weights == shipped.checksum else shipped


class VoiceStore:
    """The recordings of one data folder. Safe to use from many threads and from several processes.

    Every method raises `VoiceStoreError` where the database cannot be used.

    Args:
        data: the app's data folder; nothing is created in it until somebody has agreed.
    """

    def __init__(self, data: Path) -> None:
        self._data, self._lock = data, threading.Lock()
        self._opened: Database | None = None

    # --- what is there ----------------------------------------------------------------------------

    def people(self) -> tuple[Person, ...]:
        """Those who agreed, by name."""
        if self._is_empty:
            return ()
        count = func.count(_RECORDING.c.id)
        joined = _PERSON.outerjoin(_RECORDING, _RECORDING.c.person == _PERSON.c.id)
        wanted = select(_PERSON, count).select_from(joined).group_by(_PERSON.c.id).order_by(_PERSON.c.who)
        with self._database().reading() as connection:
            return tuple(Person(*row) for row in connection.execute(wanted))

    def recordings(self) -> tuple[Recording, ...]:
        """All recordings, oldest first."""
        if self._is_empty:
            return ()
        columns = [_RECORDING.c[name] for name in ("id", "person", "at_s", "running", "line")]
        wanted = select(*columns, _PERSON.c.who).join(_PERSON).order_by(_RECORDING.c.id)
        with self._database().reading() as connection:
            return tuple(
                Recording(row.id, row.person, row.who, row.at_s, Running(row.running), _line(row.line))
                for row in connection.execute(wanted)
            )

    def sound_file(self, recording: int) -> bytes:
        """A recording as a FLAC file."""
        if not self._is_empty:
            wanted = select(_RECORDING.c.sound).where(_RECORDING.c.id == recording)
            with self._database().reading() as connection:
                sound = connection.execute(wanted).scalar()
            if sound is not None:
                return bytes(sound)
        raise VoiceStoreError(f"there is no recording {recording}; the list shows those there are.")

    def sound(self, recording: int) -> Samples:
        """The samples of a recording, shape = (n,), 16 kHz."""
        samples, _ = soundfile.read(io.BytesIO(self.sound_file(recording)), dtype="float32")
        return np.asarray(samples, np.float32)

    def measurements(self) -> tuple[Measurement, ...]:
        """What was measured of recordings that are still here, oldest first."""
        if self._is_empty:
            return ()
        with self._database().reading() as connection:
            found: dict[int, dict[int, Outcome]] = defaultdict(dict)
            for row in connection.execute(select(_OUTCOME).order_by(_OUTCOME.c.recording)):
                found[row.measured][row.recording] = Outcome(row.outcome)
            return tuple(
                Measurement(
                    row.id, row.at_s, Conditions(row.version, row.engine, row.vocabulary), found[row.id]
                )
                for row in connection.execute(select(_MEASURED).order_by(_MEASURED.c.id))
                if row.id in found
            )

    # --- keeping ----------------------------------------------------------------------------------

    def keep(
        self, who: str, agreed: bool, read: Sequence[Read], conditions: Conditions, now_s: float
    ) -> tuple[int, ...]:
        """Keep what somebody read, and what came of it, if they agree. Returns the recordings' ids.

        Raises:
            Declined: they did not agree, gave no name, or read nothing; nothing is written then.
        """
        who = " ".join(who.split())
        if not agreed:
            raise Declined("nothing was kept: recordings are kept only if the person who spoke agrees.")
        if not 0 < len(who) <= LONGEST_WHO:
            raise Declined(
                f"give a name or initials of at most {LONGEST_WHO} characters, to find them again."
            )
        spoken = [one for one in read if len(one.sound)]
        if not spoken:
            raise Declined("nothing was read yet, so there is nothing to keep.")
        with self._database().writing() as connection:
            person = connection.execute(select(_PERSON.c.id).where(_PERSON.c.who == who)).scalar()
            if person is None:
                values = {"who": who, "agreed_s": now_s, "purpose": PURPOSE}
                person = _inserted(connection, _PERSON, values)
            ids = tuple(
                _inserted(
                    connection,
                    _RECORDING,
                    {
                        "person": person,
                        "at_s": now_s,
                        "running": one.running.value,
                        "line": json.dumps(asdict(one.line), ensure_ascii=False),
                        "sound": as_flac(one.sound),
                    },
                )
                for one in spoken
            )
            outcomes = {key: one.result.outcome for key, one in zip(ids, spoken, strict=True)}
            _note(connection, conditions, outcomes, now_s)
        return ids

    def note(self, conditions: Conditions, outcomes: Mapping[int, Outcome], now_s: float) -> None:
        """Keep what recordings measured; of those deleted meanwhile nothing is kept."""
        with self._database().writing() as connection:
            there = set(connection.execute(select(_RECORDING.c.id)).scalars())
            kept = {key: outcome for key, outcome in outcomes.items() if key in there}
            if kept:
                _note(connection, conditions, kept, now_s)

    # --- deleting ---------------------------------------------------------------------------------

    def delete(self, *recordings: int) -> None:
        """Delete recordings for good; a person without any has no longer agreed to anything."""
        if self._is_empty:
            return
        with self._database().writing() as connection:
            connection.execute(delete(_RECORDING).where(_RECORDING.c.id.in_(recordings)))
            self._tidy(connection)

    def withdraw(self, person: int) -> None:
        """A person no longer agrees: all of their recordings are deleted for good, and the two numbers that
        were fitted with them."""
        if self._is_empty:
            return
        with self._database().writing() as connection:
            if not connection.execute(delete(_PERSON).where(_PERSON.c.id == person)).rowcount:
                raise VoiceStoreError("there is no such person; the list shows who has agreed.")
            connection.execute(delete(_ADJUSTED))
            self._tidy(connection)

    def delete_everything(self) -> None:
        """Delete every recording and every consent, what was measured, and the two numbers."""
        if self._is_empty:
            return
        with self._database().writing() as connection:
            for table in (_OUTCOME, _MEASURED, _RECORDING, _PERSON, _ADJUSTED):
                connection.execute(delete(table))

    def _tidy(self, connection: Connection) -> None:
        connection.execute(delete(_PERSON).where(_PERSON.c.id.not_in(select(_RECORDING.c.person))))
        connection.execute(delete(_MEASURED).where(_MEASURED.c.id.not_in(select(_OUTCOME.c.measured))))
        if not connection.execute(select(func.count()).select_from(_PERSON)).scalar():
            connection.execute(delete(_ADJUSTED))

    # --- the two numbers --------------------------------------------------------------------------

    def adopted(self) -> Adopted | None:
        """The clinic's two numbers, on or off; None where none were adopted."""
        if self._is_empty:
            return None
        with self._database().reading() as connection:
            row = connection.execute(select(_ADJUSTED).order_by(_ADJUSTED.c.id.desc()).limit(1)).first()
        if row is None:
            return None
        return Adopted(row.at_s, Adjustment(row.shift, row.factor), row.weights, row.told, row.on)

    def adopt(self, own: Adjustment, weights: str, told: str, now_s: float) -> None:
        """Use these two numbers from now on."""
        values = {"shift": own.shift, "factor": own.factor, "weights": weights, "told": told}
        with self._database().writing() as connection:
            connection.execute(delete(_ADJUSTED))
            if own != AS_SHIPPED:
                connection.execute(insert(_ADJUSTED).values(at_s=now_s, on=True, **values))

    def switch(self, on: bool) -> None:
        """Use the two numbers, or hear as shipped."""
        if not self._is_empty:
            with self._database().writing() as connection:
                connection.execute(update(_ADJUSTED).values(on=on))

    def close(self) -> None:
        """Release the database; this object can still be used."""
        with self._lock:
            if self._opened is not None:
                self._opened.close()

    @property
    def _is_empty(self) -> bool:
        return not (self._data / FILE).exists()

    def _database(self) -> Database:
        with self._lock:
            if self._opened is None:
                try:
                    private_folder(self._data)
                except OSError as error:
                    raise VoiceStoreError(f"{self._data} cannot be created: {error.strerror}.") from None
                self._opened = Database(self._data / FILE, _HOLDS, VoiceStoreError, WAIT_S)
            return self._opened


def as_flac(samples: Samples) -> bytes:
    """A FLAC file of 16 bits, from samples at 16 kHz, shape = (n,)."""
    file = io.BytesIO()
    soundfile.write(file, np.clip(samples, -1, 1), SAMPLE_RATE_HZ, format="FLAC", subtype="PCM_16")
    return file.getvalue()


def _note(
    connection: Connection, conditions: Conditions, outcomes: Mapping[int, Outcome], now_s: float
) -> None:
    measured = _inserted(connection, _MEASURED, {"at_s": now_s, **asdict(conditions)})
    rows = [
        {"measured": measured, "recording": key, "outcome": outcome.value}
        for key, outcome in outcomes.items()
    ]
    connection.execute(insert(_OUTCOME), rows)


def _inserted(connection: Connection, table: Table, values: Mapping[str, object]) -> int:
    key = connection.execute(insert(table).values(**values)).inserted_primary_key
    assert key is not None
    return int(key[0])


def _line(text: str) -> Line:
    values = json.loads(text)
    return Line(**{**values, "kind": Kind(values["kind"])})
