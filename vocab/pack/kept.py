"""Shipped packs as they were once read and checked, kept for later starts.

Given a pack's files and how to read them, it gives the pack: from the user's cache folder where the same
files were read before by the same code, else read anew and kept. What is kept is plain JSON with its own
checksum; it is validated as a pack again when it is read, and whatever differs, is damaged or cannot be read
or written is left aside. Deleting the folder costs nothing but time.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Callable, Iterable
from contextlib import suppress
from functools import cache
from importlib import resources
from pathlib import Path

import pydantic
from platformdirs import user_cache_path

from vocab.files import write_atomically
from vocab.pack.schema import Pack

FOLDER = "vocabularies"
_SUM = hashlib.sha256


def default_cache() -> Path:
    """Where the packs of this user are kept."""
    return user_cache_path("traycall", appauthor=False) / FOLDER


def kept_pack(name: str, sources: Iterable[Path], read: Callable[[], Pack], folder: Path) -> Pack:
    """The pack of these files.

    Args:
        name: tells it from other packs in the folder.
        sources: every file that is read for it.
        read: reads and checks it; what this raises is raised.
        folder: where it is kept.
    """
    file = folder / f"{name}-{_checksum(sources)}.json"
    with suppress(OSError, ValueError):
        return _held(file.read_bytes())
    pack = read()
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        for outdated in folder.glob(f"{name}-*.json"):
            outdated.unlink()
        write_atomically(file, _written(pack), private=True)
    return pack


def _written(pack: Pack) -> bytes:
    """The checksum of a pack as JSON, a line's end, and the JSON."""
    text = pack.model_dump_json(by_alias=True, exclude_unset=True).encode()
    return _SUM(text).hexdigest().encode() + b"\n" + text


def _held(data: bytes) -> Pack:
    """The pack in what was written; raises ValueError where it is damaged."""
    total, _, text = data.partition(b"\n")
    if total != _SUM(text).hexdigest().encode():
        raise ValueError("the checksum differs")
    return Pack.model_validate_json(text)


def _checksum(sources: Iterable[Path]) -> str:
    """Of the files, and of what reads them: another version of either makes another pack."""
    total = _SUM(_code().encode())
    for file in sources:
        data = file.read_bytes()
        total.update(f"{file.name} {len(data)}\n".encode() + data)
    return total.hexdigest()[:32]


@cache
def _code() -> str:
    """The checksum of all code of `vocab`, with the versions of Python and pydantic."""
    total = _SUM(f"{sys.version} {pydantic.VERSION}".encode())
    with resources.as_file(resources.files("vocab")) as folder:
        for file in sorted(folder.rglob("*.py")):
            total.update(file.read_bytes())
    return total.hexdigest()
