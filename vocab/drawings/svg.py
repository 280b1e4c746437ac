"""Writes drawings and tray cards as SVG.

Takes marks of `vocab.pack.shapes` or a laid-out card and gives SVG text without scripts, styles or
outside references; any text that may come from a pack is escaped. A drawing takes its colour from the text
around it; a card is black on white.
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from vocab.drawings.layout import Box, Card, CardText, Cell, Page
from vocab.drawings.warning import warning_sign
from vocab.pack.shapes import HEIGHT, LINE, WIDTH, Drawing, Fill, Mark, Shape

TINT = 0.22
"""Opacity of the current colour in a tinted area."""

FRAME = 0.8
"""Thickness of a row's frame on a card, in points; a cell's is half of it."""

FACES = "Arial, Helvetica, 'Liberation Sans', sans-serif"

NAMESPACE = "http://www.w3.org/2000/svg"


def picture(drawing: Drawing, title: str) -> str:
    """A whole SVG picture of one drawing, named `title` for those who do not see it."""
    return (
        f'<svg xmlns="{NAMESPACE}" viewBox="0 0 {number(WIDTH)} {number(HEIGHT)}" role="img" '
        f"{strokes()}><title>{words(title)}</title>{''.join(mark_svg(m) for m in drawing)}</svg>"
    )


def card_svg(card: Card) -> str:
    """A whole card, its pages one below the other, at its printed size."""
    high = card.height * len(card.pages)
    pages = "".join(
        f'<g transform="translate(0,{number(i * card.height)})">{_page(page)}</g>'
        for i, page in enumerate(card.pages)
    )
    return (
        f'<svg xmlns="{NAMESPACE}" viewBox="0 0 {number(card.width)} {number(high)}" '
        f'width="{number(card.width)}pt" height="{number(high)}pt" lang={attribute(card.language)} '
        f'color="#000" {strokes()}><title>{words(card.title)}</title>'
        f'<rect width="{number(card.width)}" height="{number(high)}" fill="#fff" stroke="none"/>{pages}</svg>'
    )


def _page(page: Page) -> str:
    return (
        "".join(_frame(group, FRAME, 4) for group in page.groups)
        + "".join(_print(text) for text in page.texts)
        + "".join(_cell(cell) for cell in page.cells)
    )


def _cell(cell: Cell) -> str:
    sign = _scaled(warning_sign(), cell.sign) if cell.sign else ""
    return (
        f"<g>{_frame(cell.frame, FRAME / 2, 0)}{''.join(_print(text) for text in cell.texts)}"
        f"{_scaled(cell.drawing, cell.picture)}{sign}</g>"
    )


def _scaled(marks: Drawing, into: Box) -> str:
    """Marks drawn into a box, hidden from screen readers because the name stands beside them."""
    factor = into.h / HEIGHT
    return (
        f'<g aria-hidden="true" transform="translate({number(into.x)},{number(into.y)}) scale({factor:.5g})">'
        f"{''.join(mark_svg(m) for m in marks)}</g>"
    )


def _frame(frame: Box, width: float, r: float) -> str:
    return (
        f'<rect x="{number(frame.x)}" y="{number(frame.y)}" width="{number(frame.w)}" '
        f'height="{number(frame.h)}" rx="{number(r)}" stroke-width="{number(width)}"/>'
    )


def _print(text: CardText) -> str:
    weight = ' font-weight="700"' if text.bold else ""
    return (
        f'<text x="{number(text.x)}" y="{number(text.y)}" font-family="{FACES}" '
        f'font-size="{number(text.size)}"{weight} fill="currentColor" stroke="none">{words(text.text)}</text>'
    )


def strokes() -> str:
    """The attributes of whatever holds marks."""
    return (
        f'fill="none" stroke="currentColor" stroke-width="{number(LINE)}" '
        'stroke-linecap="round" stroke-linejoin="round"'
    )


def mark_svg(mark: Mark) -> str:
    """One mark as an SVG element."""
    if isinstance(mark, Shape):
        fill = "" if mark.fill is Fill.NONE else ' fill="currentColor"'
        fill += f' fill-opacity="{TINT}"' if mark.fill is Fill.TINT else ""
        width = "" if mark.width == LINE else f' stroke-width="{number(mark.width)}"'
        return f'<path d="{_path(mark)}"{fill}{width}/>'
    x, y = mark.at
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-family="sans-serif" font-size="{number(mark.size)}" '
        f'font-weight="700" text-anchor="middle" fill="currentColor" stroke="none">{words(mark.text)}</text>'
    )


def words(text: str) -> str:
    """Text escaped for SVG; characters XML does not allow become the replacement character."""
    return escape("".join(c if _allowed(c) else "\N{REPLACEMENT CHARACTER}" for c in text))


def attribute(text: str) -> str:
    """Text escaped and quoted for an SVG attribute."""
    return quoteattr("".join(c if _allowed(c) else "\N{REPLACEMENT CHARACTER}" for c in text))


def number(value: float) -> str:
    """A coordinate in at most two decimals."""
    return f"{round(value, 2) + 0.0:.7g}"


def _path(shape: Shape) -> str:
    return "".join(s.kind + " ".join(f"{number(x)},{number(y)}" for x, y in s.points) for s in shape.path)


def _allowed(c: str) -> bool:
    """Whether XML 1.0 allows the character (https://www.w3.org/TR/xml/#charsets)."""
    code = ord(c)
    return code in (9, 10, 13) or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code >= 0x10000
