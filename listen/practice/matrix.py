"""The confusion matrix as a table, for pages and in a file of its own.

Takes a `Confusion` and gives rows of cells, or HTML. Rows are what was right, columns what was answered; a
cell is darker the larger its share of the row's answers, and holds their number.
"""

from __future__ import annotations

from importlib.resources import files
from math import ceil
from pathlib import Path

from jinja2 import Environment, StrictUndefined

from listen.practice.reports import Confusion, most_mixed_up
from listen.practice.topics import PracticeError
from vocab.files import write_atomically
from vocab.pack.schema import Pack

LEVELS = 4
"""Shades of a cell on a page, beside that of a cell with nothing."""
LIGHT, DARK = (243, 246, 244), (7, 88, 74)
"""A cell with none and with all of its row's answers, as red, green and blue."""
WHITE_FROM = 0.745
"""From this share on white print has more contrast than black; both have at least 4.5 to 1 there."""


Shaded = tuple[list[str], list[tuple[str, list[tuple[int, int]]]]]


def shaded(found: Confusion, pack: Pack, most: int) -> Shaded:
    """The names of the items mixed up most, and for each of them a row of (times, shade from 0 to `LEVELS`).

    Raises:
        PracticeError: nothing was answered yet.
    """
    names, counts = most_mixed_up(found, pack, most)
    shares = counts / counts.sum(axis=1, keepdims=True).clip(1)
    return names, [
        (name, [(n, ceil(LEVELS * share)) for n, share in zip(row, of_row, strict=True)])
        for name, row, of_row in zip(names, counts.tolist(), shares.tolist(), strict=True)
    ]


def write_confusion(found: Confusion, pack: Pack, path: Path) -> None:
    """Write the items that are mixed up most as an HTML table, a page that needs no other file.

    Raises:
        PracticeError: the file's name does not end in .html, or nothing was answered yet.
    """
    if path.suffix.lower() != ".html":
        raise PracticeError(f"{path.name}: the name must end in .html.")
    write_atomically(path, _table(found, pack).encode())


def _table(found: Confusion, pack: Pack) -> str:
    names, counts = most_mixed_up(found, pack)
    shares = counts / counts.sum(axis=1, keepdims=True).clip(1)
    rows = [
        (name, [(count, *_colours(share)) for count, share in zip(row, of_row, strict=True)])
        for name, row, of_row in zip(names, counts.tolist(), shares.tolist(), strict=True)
    ]
    text = files(__package__).joinpath("matrix.html").read_text(encoding="utf-8")
    page = Environment(autoescape=True, trim_blocks=True, undefined=StrictUndefined).from_string(text)
    return page.render(pack=pack, names=names, rows=rows)


def _colours(share: float) -> tuple[str, str]:
    """A cell's filling and its print."""
    shade = ",".join(str(round(a + (b - a) * share)) for a, b in zip(LIGHT, DARK, strict=True))
    return f"rgb({shade})", "white" if share > WHITE_FROM else "black"
