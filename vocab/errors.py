"""The one kind of error a user is meant to read: its text says what is wrong and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from rapidfuzz import fuzz, process


class TraycallError(Exception):
    """Something the person at the keyboard can put right; printed without a traceback, exit code 2."""


class Declined(TraycallError):
    """Something that a running program was asked to do and will not or cannot; the text says what to do."""


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
