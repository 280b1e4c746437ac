"""What is wrong with a pack: one `Problem` a mistake, one `PackError` for all of them.

Comes in: places and messages. Goes out: text that names file, line and field. It never reads a file.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from rapidfuzz import fuzz, process

from vocab.errors import TraycallError


@dataclass(frozen=True)
class Problem:
    """One mistake. `line` counts from 1; 0 means the file as a whole. `field` may be empty."""

    file: Path
    line: int
    field: str
    message: str

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else str(self.file)
        return ": ".join(part for part in (where, self.field, self.message) if part)


class PackError(TraycallError):
    """A pack that cannot be used; `problems` holds every mistake found, in file and line order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(
            sorted(set(problems), key=lambda p: (p.file, p.line, p.field, p.message))
        )
        super().__init__("\n".join(str(p) for p in self.problems))


def nearest(word: str, known: Iterable[str]) -> str:
    """`; did you mean ...?` if something known is spelled much like `word`, else nothing."""
    found = process.extractOne(word, tuple(known), scorer=fuzz.WRatio, score_cutoff=60)
    return f"; did you mean {found[0]}?" if found else ""
