"""Databases of their own for the tests of the log."""

from __future__ import annotations

import uuid
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import URL, make_url

from tests.practice.conftest import postgres_url  # noqa: F401  (the server is a fixture)


@pytest.fixture(params=["sqlite", "postgres"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> URL:
    """An SQLite file that is not there yet, or an empty database of a real PostgreSQL."""
    if request.param == "sqlite":
        folder = tmp_path / "folder that is new"
        return make_url("sqlite://").set(database=str(folder / "sessions.db"))
    server = make_url(request.getfixturevalue("postgres_url")).set(drivername="postgresql+psycopg")
    name = f"chair_{uuid.uuid4().hex}"
    with create_engine(server, isolation_level="AUTOCOMMIT").connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    return server.set(database=name)
