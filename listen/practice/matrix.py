"""The confusion matrix as an SVG image for pages, drawn at once where a plotting library would take seconds.

Takes a `Confusion` and returns SVG text. Files for print come from `listen.practice.reports.plot_confusion`.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape

from listen.practice.reports import Confusion, most_mixed_up
from vocab.pack.schema import Pack

CELL, LETTER = 24, 7.4
"""Width of a cell and approximate width of a letter, in pixels."""
_LIGHT, _DARK = (247, 251, 255), (8, 48, 107)


def confusion_svg(found: Confusion, pack: Pack) -> str:
    """The items that are mixed up most: rows are what was right, columns what was answered.

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
                yield from _cell(
                    side + CELL * column, side + CELL * row, int(counts[row, column]), shares[row, column]
                )
        yield "</svg>\n"

    return "".join(parts())


def _cell(x: int, y: int, count: int, share: float) -> Iterator[str]:
    """A square, darker the larger its share of the row's answers."""
    shade = ",".join(str(round(a + (b - a) * share)) for a, b in zip(_LIGHT, _DARK, strict=True))
    yield f'<rect x="{x}" y="{y}" width="{CELL - 1}" height="{CELL - 1}" fill="rgb({shade})"/>'
    if count:
        ink = "white" if share > 0.5 else "black"
        at = f'x="{x + CELL / 2 - 0.5:g}" y="{y + CELL / 2 + 4:g}"'
        yield f'<text {at} text-anchor="middle" font-size="10" fill="{ink}">{count}</text>'
