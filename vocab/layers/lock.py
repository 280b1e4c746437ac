"""One editor at a time: a lock that names its holder and that a dead process cannot keep.

Takes a lock file, the editor's name and the time. The operating system holds the lock and frees it when the
process ends, however it ends; the file beside it only says who holds it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from filelock import FileLock, Timeout

from vocab.errors import TraycallError

SAYS_WHO = ".who"
"""Suffix of the file beside the lock; Windows lets nobody read a locked file."""


class Held(TraycallError):
    """Someone else is editing; `who` and `since` say who it is (empty where that cannot be read)."""

    def __init__(self, what: str, who: str, since: str) -> None:
        self.who, self.since = who, since
        by = f"{who or 'someone'} has been editing {what}{f' since {since}' if since else ''}"
        super().__init__(f"{by}; wait until they are done, or ask them to close the editor")


@contextmanager
def editing_alone(lock: Path, what: str, who: str, when: datetime) -> Iterator[None]:
    """Holds the lock from entering to leaving.

    Raises:
        Held: someone else holds it; raised at once.
        OSError: the files cannot be written; the lock is not held then.
    """
    says = lock.with_name(lock.name + SAYS_WHO)
    held = FileLock(lock, timeout=0)
    try:
        held.acquire()
    except Timeout:
        raise Held(what, *_holder(says)) from None
    try:
        text = {"who": who, "since": f"{when:%Y-%m-%d %H:%M} UTC", "process": os.getpid()}
        says.write_text(json.dumps(text), encoding="utf-8")
        yield
    finally:
        with suppress(OSError):
            says.unlink()
        held.release()


def _holder(says: Path) -> tuple[str, str]:
    try:
        data = json.loads(says.read_bytes())
        return str(data["who"]), str(data["since"])
    except (OSError, ValueError, KeyError, TypeError):
        return "", ""
