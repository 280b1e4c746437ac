"""What is made once from the model and kept: its graphs, and the prior tables of vocabularies.

Given a cache folder, it returns paths of complete files, each as it was made: a half-written folder is never
seen, and one whose checksums no longer match is made again. Deleting the folder costs nothing but time.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

from platformdirs import user_cache_path

from listen.neural.network import write_graphs
from listen.neural.weights import (
    ADAPTER,
    check_base,
    fingerprint,
    merged,
    model_folder,
    read_adapter,
    read_weights,
)
from vocab.errors import TraycallError
from vocab.files import force_names, locked, write_atomically

_RECIPE = "1"
"""Raise it when the graphs made from the same weights change."""
_SUMS = "SHA256SUMS"
_LONGEST_MAKING_S = 600.0
"""How long to wait for another process that is making the same."""


class CacheProblem(TraycallError):
    """What is made once cannot be stored; the text says where and what to do."""


def default_cache() -> Path:
    """The user's own cache folder for this tool."""
    return user_cache_path("traycall", appauthor=False)


def identity(model: Path | None = None, adapter: Path | None = ADAPTER) -> str:
    """Tells one engine from another by the checksums of its files; everything kept is named by it.

    Args:
        model: the folder of the model; the installed one when left out.
        adapter: as in `graphs`.

    Raises:
        listen.neural.weights.ModelMissing: no model is installed.
    """
    base = fingerprint(model or model_folder())
    return base if adapter is None else f"{base}-{hashlib.sha256(adapter.read_bytes()).hexdigest()[:16]}"


def graphs(model: Path, cache: Path, adapter: Path | None = ADAPTER) -> Path:
    """The folder with the graphs of the model's weights, made on first use (2 s, 145 MB).

    Args:
        adapter: what is added to the weights; None leaves the model as it comes.

    Raises:
        listen.neural.weights.AdapterMismatch: the adapter is missing, broken or made for another model.
        CacheProblem: they cannot be stored.
    """
    taught, base = None if adapter is None else read_adapter(adapter), fingerprint(model)
    if taught is not None:
        check_base(taught, base)

    def make(part: Path) -> None:
        weights = read_weights(model)
        write_graphs(weights if taught is None else merged(weights, taught, base), part)

    return made(cache / f"graphs-{_RECIPE}-{identity(model, adapter)}", make)


def made(folder: Path, make: Callable[[Path], None], fits: Callable[[Path], bool] = lambda _: True) -> Path:
    """`folder` as `make` fills it: at once if it is there and whole, else made, by one process at a time.

    Args:
        folder: its name holds no dot; beside it lie only other folders of this kind.
        make: fills the folder it is given with files.
        fits: says whether a complete folder is the right one.

    Raises:
        CacheProblem: the disk is full or not writable.
    """
    if _is_whole(folder) and fits(folder):
        return folder
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with locked(folder.parent / ".lock", _LONGEST_MAKING_S):
            if not (_is_whole(folder) and fits(folder)):  # no other process was quicker
                _make(folder, make)
    except OSError as error:
        raise CacheProblem(
            f"the tables for later starts cannot be kept in {folder.parent} ({error}): check that "
            "there are 200 MB of space and that you own the folder, or delete it"
        ) from error
    return folder


def _make(folder: Path, make: Callable[[Path], None]) -> None:
    for left in _unfinished(folder.parent):
        shutil.rmtree(left)
    part = folder.with_name(f"{folder.name}.part")
    part.mkdir()
    try:
        make(part)
        for file in part.iterdir():
            _force(file)
        write_atomically(part / _SUMS, _sums(part).encode())
        if folder.exists():
            shutil.rmtree(folder)
        part.rename(folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    force_names(folder.parent)


def _unfinished(cache: Path) -> Iterator[Path]:
    """Folders that were being made when their process was killed."""
    for kind in ("graphs", "prior"):
        yield from cache.glob(f"{kind}-*.*")


def _is_whole(folder: Path) -> bool:
    with suppress(OSError):
        return (folder / _SUMS).read_bytes() == _sums(folder).encode()
    return False


def _sums(folder: Path) -> str:
    """A line with the SHA-256 of each file, as `sha256sum` writes it."""
    lines = []
    for path in sorted(folder.iterdir()):
        if path.name != _SUMS:
            with path.open("rb") as file:
                lines.append(f"{hashlib.file_digest(file, 'sha256').hexdigest()}  {path.name}\n")
    return "".join(lines)


def _force(path: Path) -> None:
    with path.open("r+b") as file:
        os.fsync(file.fileno())
