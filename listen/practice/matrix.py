"""The confusion matrix as a picture for pages, and as a table in a file of its own.

Takes a `Confusion` and gives SVG or HTML. Rows are what was right, columns what was answered; a cell is
darker the larger its share of the row's answers, and holds their number.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, StrictUndefined

from listen.practice.reports import Confusion, most_mixed_up
from listen.practice.topics import PracticeError
from vocab.files import write_atomically
from vocab.pack.schema import Pack

CELL, LETTER = 24, 7.4
"""Width of a cell and approximate width of a letter, in pixels."""
LIGHT, DARK = (247, 251, 255), (8, 48, 107)
"""A cell with none and with all of its row's answers, as red, green and blue."""
WHITE_FROM = 0.65
"""From this share on white print has more contrast than black; both have at least 4.5 to 1 there."""


def confusion_svg(found: Confusion, pack: Pack) -> str:
    """The items that are mixed up most, as a picture.

    Raises:
        PracticeError: nothing was answered yet.
    """
    names, counts = most_mixed_up(found, pack)
    side = round(max(map(len, names)) * LETTER) + 16
    size = side + CELL * len(names) + 8
    shares = counts / counts.sum(axis=1, keepdims=True).clip(1)

    def parts() -> Iterator[str]:
        yield f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}" width="{size}" '
        yield f'height="{size}" font-family="sans-serif" font-size="12">'
        yield f'<rect width="{size}" height="{size}" fill="white"/>'
        for row, name in enumerate(names):
            middle = side + CELL * row + CELL / 2
            yield f'<text x="{side - 6}" y="{middle + 4:g}" text-anchor="end">{escape(name)}</text>'
            yield f'<text transform="translate({middle + 4:g} {side - 6}) rotate(-90)">{escape(name)}</text>'
            for column in range(len(names)):
                yield from _square(
                    side + CELL * column, side + CELL * row, int(counts[row, column]), shares[row, column]
                )
        yield "</svg>\n"

    return "".join(parts())


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


def _square(x: int, y: int, count: int, share: float) -> Iterator[str]:
    """A cell of the picture."""
    fill, ink = _colours(share)
    yield f'<rect x="{x}" y="{y}" width="{CELL - 1}" height="{CELL - 1}" fill="{fill}"/>'
    if count:
        at = f'x="{x + CELL / 2 - 0.5:g}" y="{y + CELL / 2 + 4:g}"'
        yield f'<text {at} text-anchor="middle" font-size="10" fill="{ink}">{count}</text>'


def _colours(share: float) -> tuple[str, str]:
    """A cell's filling and its print."""
    shade = ",".join(str(round(a + (b - a) * share)) for a, b in zip(LIGHT, DARK, strict=True))
    return f"rgb({shade})", "white" if share > WHITE_FROM else "black"
