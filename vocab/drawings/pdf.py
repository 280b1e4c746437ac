"""Writes a laid-out tray card as PDF, with reportlab.

Takes a card and gives the bytes of a PDF without date or random parts, so that equal cards give equal
files. Its typeface, Vera, has the letters of western European languages; other letters are refused, not
guessed.
"""

from __future__ import annotations

from io import BytesIO

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from vocab.drawings.layout import Box, Card, CardError, CardText, Cell
from vocab.drawings.shapes import HEIGHT, Drawing, Fill, Label, Mark, Point, Shape, warning_sign
from vocab.drawings.svg import FRAME, TINT
from vocab.drawings.typeface import BOLD, REGULAR, font, missing


def card_pdf(card: Card) -> bytes:
    """The card, one PDF page for each of its pages; raises `CardError` for letters it cannot set."""
    _check_letters(card)
    for bold in (False, True):
        pdfmetrics.registerFont(font(bold))
    out = BytesIO()
    canvas = Canvas(out, pagesize=(card.width, card.height), invariant=1, lang=card.language)
    canvas.setTitle(card.title)
    for page in card.pages:
        canvas.setLineCap(1)
        canvas.setLineJoin(1)
        canvas.setLineWidth(FRAME)
        for group in page.groups:
            canvas.roundRect(group.x, card.height - group.low, group.w, group.h, 4)
        for text in page.texts:
            _print(canvas, text, card.height)
        for cell in page.cells:
            _cell(canvas, cell, card.height)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _check_letters(card: Card) -> None:
    lines = [t for page in card.pages for t in (*page.texts, *(t for c in page.cells for t in c.texts))]
    lacking = "".join(dict.fromkeys(c for t in lines for c in missing(t.text, t.bold)))
    if lacking:
        raise CardError(f"the PDF's typeface has no letters {lacking!r}; print the card from its SVG instead")


def _cell(canvas: Canvas, cell: Cell, high: float) -> None:
    canvas.setLineWidth(FRAME / 2)
    canvas.rect(cell.frame.x, high - cell.frame.low, cell.frame.w, cell.frame.h)
    for text in cell.texts:
        _print(canvas, text, high)
    _draw(canvas, cell.drawing, cell.picture, high)
    if cell.sign:
        _draw(canvas, warning_sign(), cell.sign, high)


def _print(canvas: Canvas, text: CardText, high: float) -> None:
    canvas.setFillGray(0)
    canvas.setFont(BOLD if text.bold else REGULAR, text.size)
    canvas.drawString(text.x, high - text.y, text.text)


def _draw(canvas: Canvas, marks: Drawing, into: Box, high: float) -> None:
    """Marks drawn into a box; PDF counts heights from the lower edge of the page."""
    factor = into.h / HEIGHT

    def onto(p: Point) -> Point:
        return (into.x + p[0] * factor, high - into.y - p[1] * factor)

    for mark in marks:
        _mark(canvas, mark, factor, *(onto(p) for p in _points(mark)))


def _points(mark: Mark) -> tuple[Point, ...]:
    return (mark.at,) if isinstance(mark, Label) else tuple(p for s in mark.path for p in s.points)


def _mark(canvas: Canvas, mark: Mark, factor: float, *points: Point) -> None:
    """One mark whose points have been brought onto the page."""
    if isinstance(mark, Label):
        canvas.setFillGray(0)
        canvas.setFont(BOLD, mark.size * factor)
        canvas.drawCentredString(*points[0], mark.text)
        return
    _outline(canvas, mark, factor, list(points))


def _outline(canvas: Canvas, shape: Shape, factor: float, points: list[Point]) -> None:
    path = canvas.beginPath()
    for segment in shape.path:
        here = [points.pop(0) for _ in segment.points]
        flat = [v for p in here for v in p]
        match segment.kind:
            case "M":
                path.moveTo(*flat)
            case "L":
                path.lineTo(*flat)
            case "C":
                path.curveTo(*flat)
            case _:
                path.close()
    canvas.setLineWidth(shape.width * factor)
    canvas.setFillGray(1 - TINT if shape.fill is Fill.TINT else 0)
    canvas.drawPath(path, stroke=1, fill=0 if shape.fill is Fill.NONE else 1)
