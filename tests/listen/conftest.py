"""A real PostgreSQL server, started on loopback, and empty databases for whatever is kept in one."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import URL, make_url


def _programs() -> Path | None:
    """Where PostgreSQL's server programs are: on the path, or where Debian puts them."""
    found = shutil.which("initdb")
    if found:
        return Path(found).parent
    return next(iter(sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)), None)


def _as_server_user() -> list[str] | None:
    """How to run the server, which refuses to run as root; None where there is no other user."""
    if os.geteuid() != 0:
        return []
    try:
        pwd.getpwnam("postgres")
    except KeyError:
        return None
    return ["runuser", "-u", "postgres", "--"]


@pytest.fixture(scope="session")
def postgres_url() -> Iterator[str]:
    """A PostgreSQL of its own that lives as long as the tests."""
    pytest.importorskip("psycopg", reason="no PostgreSQL driver: pip install psycopg[binary]")
    programs, user = _programs(), _as_server_user()
    if programs is None or user is None:
        pytest.skip("PostgreSQL's server is not installed: apt install postgresql")
    folder = Path(tempfile.mkdtemp(prefix="traycall-postgres-"))
    if user:
        shutil.chown(folder, "postgres")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]

    def run(program: str, *options: str) -> None:
        done = subprocess.run(
            [*user, str(programs / program), "-D", str(folder / "data"), *options],
            capture_output=True,
            text=True,
            cwd=folder,
        )
        if done.returncode:
            pytest.skip(f"PostgreSQL does not start here: {done.stderr.strip() or done.stdout.strip()}")

    run("initdb", "-U", "traycall", "-A", "trust", "-E", "UTF8", "--no-sync")
    settings = f"-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories='' -c fsync=off"
    run("pg_ctl", "-w", "-l", str(folder / "log"), "-o", settings, "start")
    try:
        yield f"postgresql://traycall@127.0.0.1:{port}/postgres"
    finally:
        run("pg_ctl", "-w", "-m", "immediate", "stop")
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(params=["sqlite", "postgres"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> URL:
    """An SQLite file that is not there yet, or an empty database of a real PostgreSQL."""
    if request.param == "sqlite":
        folder = tmp_path / "folder that is new"
        return make_url("sqlite://").set(database=str(folder / "sessions.db"))
    server = make_url(request.getfixturevalue("postgres_url")).set(drivername="postgresql+psycopg")
    name = f"chair_{uuid.uuid4().hex}"
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    engine.dispose()
    return server.set(database=name)
