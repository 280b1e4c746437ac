"""A PostgreSQL server of one's own on this machine's loopback address, for tests and benchmarks.

Takes nothing but the programs that are installed; gives a URL, and leaves nothing behind. As the server
refuses to run as root, root runs it as the user `postgres`.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from vocab.errors import TraycallError

_USER = "postgres"


class NoPostgres(TraycallError):
    """It is not installed, or does not start; the text says what to do."""


@contextmanager
def postgres(durable: bool = True) -> Iterator[str]:
    """The URL of an empty database, which ends with the block.

    Args:
        durable: whether what is committed is on the disk, as in use; without it tests are quicker.

    Raises:
        NoPostgres: there is none.
    """
    programs, user = _programs(), _as_server_user()
    folder = Path(tempfile.mkdtemp(prefix="traycall-postgres-"))
    try:
        if user:
            shutil.chown(folder, _USER)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]

        def run(program: str, *options: str) -> None:
            command = [*user, str(programs / program), "-D", str(folder / "data"), *options]
            done = subprocess.run(command, capture_output=True, text=True, cwd=folder)
            if done.returncode:
                raise NoPostgres(
                    f"PostgreSQL does not start here: {done.stderr.strip() or done.stdout.strip()}"
                )

        run("initdb", "-U", "traycall", "-A", "trust", "-E", "UTF8", "--no-sync")
        settings = f"-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories=''"
        settings += "" if durable else " -c fsync=off"
        run("pg_ctl", "-w", "-l", str(folder / "log"), "-o", settings, "start")
        try:
            yield f"postgresql://traycall@127.0.0.1:{port}/postgres"
        finally:
            run("pg_ctl", "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _programs() -> Path:
    """Where PostgreSQL's server programs are: on the path, or where Debian puts them."""
    found = shutil.which("initdb")
    if found:
        return Path(found).parent
    for folder in sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True):
        return folder
    raise NoPostgres("PostgreSQL's server is not installed: apt install postgresql")


def _as_server_user() -> list[str]:
    """How to run the server."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return []
    import pwd

    try:
        pwd.getpwnam(_USER)
    except KeyError:
        raise NoPostgres("PostgreSQL's server is not installed: apt install postgresql") from None
    return ["runuser", "-u", _USER, "--"]
