"""Writes a laid-out tray card as PDF, with fpdf2.

Takes a card and gives the bytes of a PDF with a fixed date and no random parts, so that equal cards give
equal files. Letters it cannot set are refused, not guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from vocab.drawings.layout import Box, Card, CardError, CardText, Cell, Page
from vocab.drawings.svg import FRAME, TINT
from vocab.drawings.typeface import FAMILY, add_typeface, finished, missing, style, width
from vocab.drawings.warning import warning_sign
from vocab.pack.shapes import HEIGHT, Drawing, Fill, Label, Shape, placed

if TYPE_CHECKING:
    from fpdf import FPDF

MADE = datetime(2000, 1, 1, tzinfo=UTC)
"""The date in every file."""

OPERATORS = {"M": "m", "L": "l", "C": "c", "Z": "h"}
"""What PDF calls the movements of the pen (ISO 32000-1, 8.5.2)."""


def cards_pdf(cards: Sequence[Card]) -> bytes:
    """Cards on the same paper, one PDF page for each of their pages; raises `CardError` for letters it cannot
    set. Several have their titles as bookmarks."""
    from fpdf import FPDF

    first, *others = cards
    for card in cards:
        _check_letters(card)
    pdf = FPDF(unit="pt", format=(first.width, first.height))
    pdf.set_creation_date(MADE)
    pdf.set_title("Tray cards" if others else first.title)
    pdf.set_lang(first.language)
    add_typeface(pdf)
    for card in cards:
        for number, page in enumerate(card.pages):
            pdf.add_page()
            if others and number == 0:
                pdf.start_section(card.title)
            _page(pdf, page)
    return finished(pdf)


def _check_letters(card: Card) -> None:
    lines = [t for page in card.pages for t in (*page.texts, *(t for c in page.cells for t in c.texts))]
    lacking = "".join(dict.fromkeys(c for t in lines for c in missing(t.text, t.bold)))
    if lacking:
        raise CardError(f"a PDF cannot show the letters {lacking!r}; print the card from its SVG instead")


def _page(pdf: FPDF, page: Page) -> None:
    pdf.set_line_width(FRAME)
    for group in page.groups:
        pdf.rect(group.x, group.y, group.w, group.h, round_corners=True, corner_radius=4)
    for text in page.texts:
        _print(pdf, text)
    for cell in page.cells:
        _cell(pdf, cell)


def _cell(pdf: FPDF, cell: Cell) -> None:
    pdf.set_line_width(FRAME / 2)
    pdf.rect(cell.frame.x, cell.frame.y, cell.frame.w, cell.frame.h)
    for text in cell.texts:
        _print(pdf, text)
    _draw(pdf, cell.drawing, cell.picture)
    if cell.sign:
        _draw(pdf, warning_sign(), cell.sign)


def _print(pdf: FPDF, text: CardText) -> None:
    pdf.set_font(FAMILY, style(text.bold), text.size)
    pdf.text(text.x, text.y, text.text)


def _draw(pdf: FPDF, marks: Drawing, into: Box) -> None:
    """Marks drawn into a box."""
    factor = into.h / HEIGHT
    for mark in placed(marks, factor, into.x, into.y):
        if isinstance(mark, Label):
            left = mark.at[0] - width(mark.text, mark.size, bold=True) / 2
            _print(pdf, CardText(mark.text, left, mark.at[1], mark.size, bold=True))
        else:
            _outline(pdf, mark, mark.width * factor)


def _outline(pdf: FPDF, shape: Shape, thick: float) -> None:
    """One outline, in PDF's own operators: fpdf2's path objects take several times as long. PDF counts
    heights from the lower edge of the page."""
    steps = [f"q 1 J 1 j {thick:.2f} w {1 - TINT if shape.fill is Fill.TINT else 0:g} g"]
    for segment in shape.path:
        points = (f"{x:.2f} {pdf.h - y:.2f}" for x, y in segment.points)
        steps.append(" ".join((*points, OPERATORS[segment.kind])))
    steps.append("S Q" if shape.fill is Fill.NONE else "B Q")
    pdf._out(" ".join(steps))
