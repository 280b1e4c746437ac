"""Stores layers, one file each, never half written and never lost.

Takes a folder and a layer's name. A save writes a numbered backup of the new text, then the file itself;
each is written to a temporary file, forced to the disk and put in place in one step. A file that cannot be
read, because it was truncated or broken by hand, is set aside, and the newest readable backup takes its
place.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from vocab.errors import Problem, TraycallError
from vocab.files import PART, write_atomically
from vocab.layers.canonical import LayerError, Lost, lost_changes, read_layer, to_text
from vocab.layers.changes import Layer
from vocab.layers.lock import editing_alone
from vocab.pack.schema import Pack

KEPT = 10
"""Backups of each layer; the newest equals the file."""

BACKUPS = "backups"
CLINIC = "clinic"


def whose(layer: str) -> str:
    """A layer in words: "our changes", "the changes of dr_kim"."""
    return "our changes" if layer == CLINIC else f"the changes of {layer}"


class CannotSave(TraycallError):
    """A layer that cannot be written: the disk is full, or the folder may not be changed. It is as before."""


@dataclass(frozen=True)
class Read:
    """A layer as it was read.

    `recovered` says what was wrong with its file, or is empty; `missing` are the changes that the file held
    and the backup in its place does not.
    """

    layer: Layer
    recovered: str = ""
    missing: tuple[Lost, ...] = ()


class Editing:
    """A layer while its lock is held."""

    def __init__(self, store: LayerStore, read: Read) -> None:
        self._store = store
        self.layer = read.layer
        self.recovered = read.recovered

    def save(self, layer: Layer) -> None:
        """Makes `layer` what the file holds; when this returns it is on the disk."""
        self._store._write(layer)
        self.layer = layer


class LayerStore:
    """The file of one layer. Reading needs no lock and changes nothing."""

    def __init__(self, folder: Path, name: str, pack: Pack) -> None:
        self.folder, self.name = folder, name
        self.file = folder / f"{name}.yaml"
        self._pack = pack
        self._empty = Layer(name=name, pack=pack.id, pack_version=pack.version)

    def read(self) -> Read:
        """What the file holds; an empty layer where nothing was ever saved.

        Raises:
            LayerError: neither the file nor any backup can be read, or it belongs to another pack.
        """
        backups = self.backups()
        if not self.file.exists():
            if not backups:
                return Read(self._empty)
            broken = LayerError([Problem(self.file, 0, "", "the file is gone")])
        else:
            try:
                return Read(self._ours(self.file))
            except LayerError as error:
                broken = error
        for backup in reversed(backups):
            try:
                layer = self._ours(backup)
            except LayerError:
                continue
            said = (
                f"{broken}\nThe newest good backup, {backup.name} with {len(layer.changes)} changes, is used"
            )
            return Read(layer, f"{said} instead.", self._lost(layer))
        raise broken

    def _lost(self, kept: Layer) -> tuple[Lost, ...]:
        try:
            return lost_changes(self.file.read_bytes(), kept)
        except OSError:
            return ()

    def backups(self) -> tuple[Path, ...]:
        """The backup files of this layer, oldest first."""
        found = (self.folder / BACKUPS).glob(f"{self.name}.*.yaml")
        return tuple(sorted((f for f in found if _number(f)), key=_number))

    @contextmanager
    def editing(self, who: str, when: datetime) -> Iterator[Editing]:
        """The layer under its lock. A broken file is first set aside and replaced.

        Raises:
            Held: someone else is editing this layer.
            LayerError: see `read`.
            CannotSave: the disk is full, or the folder may not be changed.
        """
        try:
            (self.folder / BACKUPS).mkdir(parents=True, exist_ok=True)
            with editing_alone(self.folder / f".{self.name}.lock", whose(self.name), who, when):
                for left in self.folder.glob(f"**/.{self.name}.*{PART}"):
                    left.unlink()
                yield Editing(self, self._put_right())
        except OSError as error:
            raise CannotSave(
                f"{self.file} cannot be written ({error.strerror or error}), so nothing was changed; "
                "free some space or check that the folder is writable, then save again"
            ) from error

    def _put_right(self) -> Read:
        """The layer, after setting aside and replacing a broken file."""
        read = self.read()
        if not read.recovered:
            return read
        kept = self._keep_broken()
        self._write(read.layer)
        if kept is None:
            return read
        return Read(read.layer, f"{read.recovered} The broken file is kept as {kept.name}.", read.missing)

    def _ours(self, file: Path) -> Layer:
        layer = read_layer(file)
        for field, found, wanted in (("pack", layer.pack, self._pack.id), ("layer", layer.name, self.name)):
            if found != wanted:
                message = f"is {found!r}, but {wanted!r} belongs here; move the file to its own place"
                raise LayerError([Problem(file, 0, field, message)])
        return layer

    def _keep_broken(self) -> Path | None:
        if not self.file.exists():
            return None
        number = 1
        while (kept := self.folder / f"{self.file.name}.broken-{number}").exists():
            number += 1
        write_atomically(kept, self.file.read_bytes())
        return kept

    def _write(self, layer: Layer) -> None:
        text = to_text(layer.model_copy(update={"pack_version": self._pack.version})).encode()
        backups = self.backups()
        number = _number(backups[-1]) + 1 if backups else 1
        backup = self.folder / BACKUPS / f"{self.name}.{number:05d}.yaml"
        # The backup goes first, except at the first save: a lone backup would look like a lost file.
        first, second = (backup, self.file) if self.file.exists() else (self.file, backup)
        write_atomically(first, text)
        try:
            write_atomically(second, text)
        except OSError:
            with suppress(OSError):
                first.unlink()  # what was refused must not come back
            raise
        for old in self.backups()[:-KEPT]:
            with suppress(OSError):
                old.unlink()


def _number(backup: Path) -> int:
    match = re.fullmatch(r".*\.(\d+)\.yaml", backup.name)
    return int(match[1]) if match else 0
