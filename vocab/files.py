"""Where a user's data is kept, and writing files so that none is half written or written by two at once.

Takes paths and bytes and leaves whole files. It does not know what a file holds.
"""

from __future__ import annotations

import os
import secrets
import stat
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path

from filelock import FileLock, Timeout
from platformdirs import user_data_path

APP = "traycall"
PART = ".part"
"""Suffix of a file that is still being written; only a killed process leaves such a file behind."""
WAIT_S, LOOK_S = 10.0, 0.005
"""How long a lock is waited for, and how often it is tried."""


class Busy(OSError):
    """Another process has kept a lock for longer than anybody would wait."""


def data_folder() -> Path:
    """This user's data, the same for every part of the tool, unless a folder is given.

    On Windows `%LOCALAPPDATA%\\traycall`; see `earlier_data_folder`.
    """
    return user_data_path(APP, appauthor=False)


def earlier_data_folder() -> Path:
    """Where the first versions kept a clinic's layers: on Windows `%LOCALAPPDATA%\\traycall\\traycall`,
    elsewhere the same as `data_folder`."""
    return user_data_path(APP)


def write_atomically(path: Path, data: bytes, private: bool = False) -> None:
    """Make `data` what a file holds; when this returns it is on the disk. Whatever happens before, the file
    holds the old bytes or the new ones.

    Args:
        path: its folder must exist; a file that is replaced keeps its permissions.
        private: only its owner may read it.

    Raises:
        OSError: it cannot be written; the old file stays.
    """
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}{PART}")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    try:
        with open(os.open(part, flags, 0o600 if private else 0o666), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if not private:
            with suppress(FileNotFoundError):
                part.chmod(stat.S_IMODE(path.stat().st_mode))
        os.replace(part, path)
    except BaseException:
        with suppress(OSError):
            part.unlink()
        raise
    force_names(path.parent)


def private_file(path: Path) -> None:
    """Make sure that a file exists and that only its owner may read it, before anything is written into it.

    An existing file is not opened: closing it again would end the locks that a database of this process
    holds on it.

    Raises:
        OSError: its folder does not exist, or it cannot be made.
    """
    try:
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    except FileExistsError:
        if os.name != "nt" and path.stat().st_mode & 0o077:
            with suppress(PermissionError):  # it belongs to another owner, who decides
                path.chmod(0o600)


def private_folder(path: Path) -> None:
    """Make a folder, for its owner only; an existing one stays as it is.

    Raises:
        OSError: it cannot be made.
    """
    path.mkdir(mode=0o700, parents=True, exist_ok=True)


def force_names(folder: Path) -> None:
    """Force the names in a folder to the disk, where the system can; Windows does not need it."""
    if os.name == "nt":
        return
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextmanager
def locked(lock: Path, wait_s: float = WAIT_S) -> Iterator[None]:
    """Keeps out all other threads and processes that lock the same file, from entering to leaving.

    The file stays, empty; the system frees it when a process ends, however it ends.

    Raises:
        Busy: another process kept it for `wait_s` seconds.
        OSError: the file cannot be made.
    """
    held = FileLock(lock, timeout=wait_s, poll_interval=LOOK_S)
    with _threads(lock.absolute()):
        try:
            held.acquire()
        except Timeout:
            raise Busy(f"{lock} is held by another process; end it, then try again") from None
        try:
            yield
        finally:
            held.release()


@cache
def _threads(lock: Path) -> threading.Lock:
    """The one lock by which the threads of this process take turns."""
    return threading.Lock()
