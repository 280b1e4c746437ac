"""A log as version 1 wrote it: its tables, and rows of every kind that it knew."""

from __future__ import annotations

from sqlalchemy import create_engine, text
from sqlalchemy.engine import URL, make_url

TABLES = (
    "CREATE TABLE chair_log_version (version INTEGER NOT NULL, PRIMARY KEY (version))",
    """CREATE TABLE chair_sessions (
    id {serial} NOT NULL, opened_s DOUBLE PRECISION NOT NULL, pack VARCHAR(80) NOT NULL, tray VARCHAR(80),
    "procedure" VARCHAR(80), clinic VARCHAR(80), dentist VARCHAR(80), PRIMARY KEY (id))""",
    """CREATE TABLE chair_events (
    session INTEGER NOT NULL, seq INTEGER NOT NULL, kind VARCHAR(40) NOT NULL,
    at_s DOUBLE PRECISION NOT NULL, source VARCHAR(40) NOT NULL, item VARCHAR(80),
    quantity INTEGER NOT NULL, slot VARCHAR(40), about VARCHAR(40), seconds_s DOUBLE PRECISION,
    verdict VARCHAR(40), predicted VARCHAR(1000) NOT NULL, good BOOLEAN, corrects INTEGER,
    PRIMARY KEY (session, seq), FOREIGN KEY(session) REFERENCES chair_sessions (id))""",
)
ROWS: tuple[dict[str, object], ...] = (
    {"kind": "session_opened"},
    {
        "kind": "asked",
        "item": "wedge",
        "quantity": 2,
        "slot": "9",
        "verdict": "answer",
        "predicted": "wedge a",
    },
    {"kind": "passed", "item": "wedge"},
    {"kind": "dropped", "item": "wedge"},
    {"kind": "corrected", "corrects": 4},
    {"kind": "timer_started", "about": "etch", "seconds_s": 15.0},
    {"kind": "checked", "about": "barriers_on", "good": True},
    {"kind": "step", "about": "check_result"},
    {"kind": "counted", "item": "wedge", "quantity": 0},
    {"kind": "session_closed", "at_s": 99.5},
)


def write_log_of_old(url: str | URL) -> None:
    """Two sessions as version 1 kept them, each with one row of `ROWS` after the other."""
    engine = create_engine(make_url(url))
    serial = "SERIAL" if engine.dialect.name == "postgresql" else "INTEGER"
    with engine.begin() as connection:
        for table in TABLES:
            connection.execute(text(table.format(serial=serial)))
        connection.execute(text("INSERT INTO chair_log_version VALUES (1)"))
        for session in (1, 2):
            connection.execute(
                text(
                    "INSERT INTO chair_sessions (opened_s, pack, dentist) VALUES (10.5, 'operative', 'green')"
                )
            )
            for seq, row in enumerate(ROWS, 1):
                kept: dict[str, object] = {"session": session, "seq": seq, "at_s": 10.5 + seq}
                kept |= {"source": "touch", "quantity": 1, "predicted": ""} | row
                columns, values = ", ".join(kept), ", ".join(f":{column}" for column in kept)
                connection.execute(text(f"INSERT INTO chair_events ({columns}) VALUES ({values})"), kept)
    engine.dispose()
