"""A real PostgreSQL server, started on loopback, and empty databases for whatever is kept in one."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import URL, make_url

from listen.bench.postgres import NoPostgres, postgres


@pytest.fixture(scope="session")
def postgres_url() -> Iterator[str]:
    """A PostgreSQL of its own that lives as long as the tests."""
    pytest.importorskip("psycopg", reason="no PostgreSQL driver: pip install psycopg[binary]")
    with ExitStack() as until_the_end:
        try:
            url = until_the_end.enter_context(postgres(durable=False))
        except NoPostgres as error:
            pytest.skip(str(error))
        yield url


@pytest.fixture
def empty_postgres(postgres_url: str) -> URL:
    """An empty database of a real PostgreSQL."""
    server = make_url(postgres_url).set(drivername="postgresql+psycopg")
    name = f"chair_{uuid.uuid4().hex}"
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    engine.dispose()
    return server.set(database=name)


@pytest.fixture(params=["sqlite", "postgres"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> URL:
    """An SQLite file that is not there yet, or an empty database of a real PostgreSQL."""
    if request.param == "sqlite":
        folder = tmp_path / "folder that is new"
        return make_url("sqlite://").set(database=str(folder / "sessions.db"))
    url: URL = request.getfixturevalue("empty_postgres")
    return url
