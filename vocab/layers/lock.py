"""One editor at a time: a lock that says who holds it and that a dead process cannot keep.

Comes in: a lock file, a name and a time. The operating system holds the lock for an open file and frees it
when the process ends, however it ends; the file's text only says who it is.
"""

from __future__ import annotations

import json
import os
import sys
from datetime import datetime
from pathlib import Path
from types import TracebackType

from vocab.errors import TraycallError

FAR = 1 << 30
"""Windows locks a byte, and a locked byte cannot be read: one far behind the text is taken."""


class Held(TraycallError):
    """Somebody else is editing; `who` and `since` say who it is (empty where that cannot be read)."""

    def __init__(self, what: str, who: str, since: str) -> None:
        self.who, self.since = who, since
        by = f"{who or 'somebody'} has been editing {what}{f' since {since}' if since else ''}"
        super().__init__(f"{by}; wait until they are done, or ask them to close the editor")


class Lock:
    """Held from entering to leaving; entering raises `Held` at once where another holds it."""

    def __init__(self, file: Path, what: str, who: str, when: datetime) -> None:
        self._file, self._what, self._who, self._when = file, what, who, when
        self._handle: int | None = None

    def __enter__(self) -> Lock:
        self.take()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.free()

    def take(self) -> None:
        """Takes the lock or raises `Held`."""
        handle = os.open(self._file, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            _lock(handle)
        except OSError:
            said = os.pread(handle, 4096, 0) if hasattr(os, "pread") else b""
            os.close(handle)
            raise Held(self._what, *_holder(said)) from None
        os.ftruncate(handle, 0)
        text = {"who": self._who, "since": f"{self._when:%Y-%m-%d %H:%M} UTC", "process": os.getpid()}
        os.write(handle, json.dumps(text).encode())
        self._handle = handle

    def free(self) -> None:
        """Lets go of the lock; the file stays, empty."""
        if self._handle is not None:
            os.ftruncate(self._handle, 0)
            os.close(self._handle)
            self._handle = None


def _holder(said: bytes) -> tuple[str, str]:
    try:
        data = json.loads(said)
        return str(data["who"]), str(data["since"])
    except (ValueError, KeyError, TypeError):
        return "", ""


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        os.lseek(handle, FAR, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        os.lseek(handle, 0, os.SEEK_SET)

else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
