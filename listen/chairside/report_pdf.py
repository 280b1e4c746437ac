"""The report of a session as a PDF to print and to keep, black on white, with fpdf2.

Takes a `SessionReport` and gives the bytes of an A4 PDF: the same words and the same picture as the page,
without the single events and times out. Equal reports give equal bytes. Letters it cannot set are refused,
not guessed.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from listen.chairside.report import (
    EVERY_EVENT,
    FEWER,
    MORE,
    TIME_OUT,
    ReportTable,
    SessionReport,
    lists,
    sentences,
    summary,
    tables,
)
from listen.chairside.timeline_picture import FORMS, RADIUS_PX, TITLE, Bar, Look, Mark, Picture, lay_out
from vocab.drawings.typeface import FAMILY, add_typeface, finished, missing, style
from vocab.errors import TraycallError

if TYPE_CHECKING:
    from fpdf import FPDF

MADE = datetime(2000, 1, 1, tzinfo=UTC)
"""The date in every file."""
EDGE_PT, TEXT_PT, SMALL_PT = 42.0, 9.5, 8.0
SCALE = 0.5
"""Points for each px of the picture."""
GREYS = {Look.STEP: 225, Look.TIMER: 90, Look.COUNT: 0, Look.SHARPS: 130}


class LettersError(TraycallError):
    """A report with letters that a PDF cannot show."""


def report_pdf(report: SessionReport) -> bytes:
    """The report on one or two pages; raises `LettersError` for letters it cannot set."""
    from fpdf import FPDF

    said = [report.title, summary(report), *sentences(report)]
    items = {title: ", ".join(f"{name} ({times})" for name, times in some) for title, some in lists(report)}
    shown = [table for table in tables(report) if table[0] not in (EVERY_EVENT, TIME_OUT, *items)]
    _check_letters([*said, *items.values(), *(cell for _, _, rows in shown for row in rows for cell in row)])
    pdf = FPDF(unit="pt", format="A4")
    pdf.set_creation_date(MADE)
    pdf.set_title(f"{report.title}, session {report.number}")
    pdf.set_lang("en")
    add_typeface(pdf)
    pdf.set_margin(EDGE_PT)
    pdf.c_margin = 0
    pdf.set_auto_page_break(True, margin=EDGE_PT)
    pdf.add_page()
    _write(pdf, report.title, 16, bold=True)
    _write(pdf, summary(report), TEXT_PT)
    for table in (table for table in shown if table[0] in (FEWER, MORE)):
        _tabulate(pdf, table)
    if report.course.requests or report.course.timers:
        _write(pdf, TITLE, 11, bold=True, before=8)
        _draw(pdf, lay_out(report.course))
    for heading, line in items.items():
        _write(pdf, heading, 11, bold=True, before=8)
        _write(pdf, line, TEXT_PT)
    for table in (table for table in shown if table[0] not in (FEWER, MORE)):
        _tabulate(pdf, table)
    pdf.ln(6)
    for sentence in sentences(report):
        _write(pdf, sentence, SMALL_PT)
    return finished(pdf)


def _check_letters(texts: list[str]) -> None:
    lacking = missing("".join(texts))
    if lacking:
        raise LettersError(f"a PDF cannot show the letters {lacking!r}; print the report's page instead.")


def _write(pdf: FPDF, text: str, size: float, bold: bool = False, before: float = 0.0) -> None:
    pdf.ln(before)
    pdf.set_font(FAMILY, style(bold), size)
    pdf.multi_cell(0, size * 1.4, text, align="L", new_x="LMARGIN", new_y="NEXT")


def _tabulate(pdf: FPDF, table: ReportTable) -> None:
    heading, heads, rows = table
    high = TEXT_PT * 1.4
    if pdf.will_page_break(3 * high + 8):
        pdf.add_page()
    _write(pdf, heading, 11, bold=True, before=8)
    pdf.set_font(FAMILY, "", SMALL_PT)
    wide = [5.0] + [2.0] * (len(heads) - 1)
    with pdf.table(
        borders_layout="HORIZONTAL_LINES", col_widths=wide, line_height=SMALL_PT * 1.5, text_align="LEFT"
    ) as lines:
        for cells in ([head.capitalize() for head in heads], *rows):
            lines.row(cells)


def _draw(pdf: FPDF, picture: Picture) -> None:
    """The picture across the page, in greys; what lies on a step tells by its form."""
    if pdf.will_page_break(picture.high * SCALE):
        pdf.add_page()
    left, top, wide = pdf.l_margin, pdf.get_y(), pdf.epw

    def across(x: float) -> float:
        return left + x * wide

    def down(y: float) -> float:
        return top + y * SCALE

    pdf.set_line_width(0.4)
    pdf.set_draw_color(190)
    for rule in picture.rules:
        far = across(rule.x) if rule.high else left + wide
        pdf.line(across(rule.x), down(rule.y), far, down(rule.y + rule.high))
    for bar in picture.bars:
        _bar(pdf, bar, across(bar.x), down(bar.y), wide)
    pdf.set_draw_color(0)
    for mark in picture.marks:
        _mark(pdf, mark, across(mark.x), down(mark.y))
    pdf.set_font(FAMILY, "", SMALL_PT)
    for words in picture.words:
        half = pdf.get_string_width(words.text) / 2 if words.middle else 0.0
        pdf.text(across(words.x) + words.shift * SCALE - half, down(words.y), words.text)
    pdf.set_y(top + picture.high * SCALE)


def _bar(pdf: FPDF, bar: Bar, x: float, y: float, wide: float) -> None:
    pdf.set_fill_color(GREYS[bar.look])
    pdf.rect(x, y, bar.wide * wide, bar.high * SCALE, style="DF" if bar.look is Look.STEP else "F")


def _mark(pdf: FPDF, mark: Mark, x: float, y: float) -> None:
    size = RADIUS_PX * SCALE
    pdf.set_line_width(0.8)
    if mark.look is Look.ANSWERED:
        pdf.set_fill_color(0)
        pdf.circle(x, y, size * 0.9, style="F")
    elif mark.look is Look.UNDONE:
        pdf.line(x - size, y - size, x + size, y + size)
        pdf.line(x - size, y + size, x + size, y - size)
    else:
        pdf.set_fill_color(255)
        corners = [(x + dx * SCALE, y + dy * SCALE) for dx, dy in FORMS[mark.look]]
        pdf.polygon(corners, style="DF")
