"""Databases of every version open with the tables of today, or are left as they are."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import Column, Connection, Integer, MetaData, String, Table, create_engine, inspect, text
from sqlalchemy.engine import URL

import listen.chairside.consents
import listen.chairside.log
from listen.database import Database, Holds, what_to_do
from listen.practice.tables import PRACTICE
from tests.listen.chairside.log_of_old import write_log_of_old
from tests.listen.practice.stores_of_old import OldStore
from vocab.errors import TraycallError


class Unusable(TraycallError):
    """What the databases here raise."""


def adds_a_column(name: str) -> Callable[[Connection], None]:
    def migration(connection: Connection) -> None:
        connection.execute(text(f"ALTER TABLE thing ADD COLUMN {name} VARCHAR(9)"))
        connection.execute(text(f"UPDATE thing SET {name} = 'of old'"))

    return migration


COLUMNS = ("size", "colour", "weight")


def things(version: int, numbered: bool = True) -> Holds:
    """Version 1 has numbers only; each further version has one more of `COLUMNS`."""
    names = COLUMNS[: version - 1]
    tables = MetaData()
    Table("thing", tables, Column("id", Integer, primary_key=True), *(Column(n, String(9)) for n in names))
    known = {} if numbered else {"thing": frozenset({"id"})}
    return Holds("list of things", tables, tuple(adds_a_column(name) for name in names), known)


def opened(url: URL, holds: Holds) -> Database:
    Path(url.database or "").parent.mkdir(exist_ok=True)
    return Database(url.render_as_string(hide_password=False), holds, Unusable)


def rows(url: URL, query: str) -> list[tuple[object, ...]]:
    engine = create_engine(url)
    with engine.connect() as connection:
        found = [tuple(row) for row in connection.execute(text(query))]
    engine.dispose()
    return found


@pytest.mark.parametrize("version", [1, 2, 3, 4])
def test_every_earlier_version_is_brought_up_to_date_in_order(empty: URL, version: int) -> None:
    old = opened(empty, things(version))
    with old.writing() as connection:
        connection.execute(text("INSERT INTO thing (id) VALUES (7)"))
    old.close()
    for _ in range(2):  # brought up to date, and opened again
        opened(empty, things(4)).close()
        assert rows(empty, "SELECT version FROM list_of_things_version") == [(4,)]
        kept = [None] * (version - 1) + ["of old"] * (4 - version)
        assert rows(empty, "SELECT id, size, colour, weight FROM thing") == [(7, *kept)]


def test_a_database_from_before_there_were_versions_is_of_the_first(empty: URL) -> None:
    opened(empty, things(1)).close()
    engine = create_engine(empty)
    with engine.begin() as connection:
        connection.execute(text("DROP TABLE list_of_things_version"))
        connection.execute(text("INSERT INTO thing (id) VALUES (7)"))
    engine.dispose()
    with pytest.raises(Unusable, match="is not a traycall list of things .* left as it is"):
        opened(empty, things(3))
    opened(empty, things(3, numbered=False)).close()
    assert rows(empty, "SELECT version FROM list_of_things_version") == [(3,)]
    assert rows(empty, "SELECT id, size, colour FROM thing") == [(7, "of old", "of old")]


def test_a_newer_database_is_refused_and_left_as_it_is(empty: URL) -> None:
    opened(empty, things(3)).close()
    with pytest.raises(Unusable, match=r"newer traycall \(its version is 3, .* knows 2\): update traycall"):
        opened(empty, things(2))
    assert rows(empty, "SELECT version FROM list_of_things_version") == [(3,)]
    assert rows(empty, "SELECT id, size, colour FROM thing") == []


def write_store_of_old(url: URL) -> None:
    OldStore(url.render_as_string(hide_password=False)).engine.dispose()


@pytest.mark.parametrize(
    ("holds", "write_old"),
    [(listen.chairside.log._HOLDS, write_log_of_old), (PRACTICE, write_store_of_old)],
    ids=["chair log", "practice store"],
)
def test_a_database_of_old_ends_up_with_the_tables_of_a_new_one(
    empty: URL, holds: Holds, write_old: Callable[[URL], None]
) -> None:
    Path(empty.database or "").parent.mkdir(exist_ok=True)
    write_old(empty)
    opened(empty, holds).close()
    engine = create_engine(empty)
    found = inspect(engine)
    assert set(found.get_table_names()) == set(holds.tables.tables)
    for name, table in holds.tables.tables.items():
        columns = {column["name"]: column["nullable"] for column in found.get_columns(name)}
        assert columns == {column.name: bool(column.nullable) for column in table.columns}
        assert {str(i.name) for i in table.indexes} <= {str(i["name"]) for i in found.get_indexes(name)}
    engine.dispose()


def test_no_two_stores_share_the_name_of_their_version() -> None:
    """They may lie in one PostgreSQL."""
    stores = (listen.chairside.consents._HOLDS, listen.chairside.log._HOLDS, PRACTICE)
    assert len({store.version_table.name for store in stores}) == len(stores)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("connection failed: fe_sendauth: no password supplied", "~/.pgpass"),
        ('FATAL:  password authentication failed for user "traycall"', "the password is wrong"),
        ('FATAL:  Peer authentication failed for user "traycall"', "run traycall as that user"),
    ],
)
def test_who_is_not_let_in_is_told_why(said: str, told: str) -> None:
    assert told in what_to_do(said)
