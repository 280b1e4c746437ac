"""The typeface of everything that is printed: how wide words are in it, where they wrap, what it cannot set.

It is DejaVu Sans, whose two weights lie in `fonts`. It is wider than the typefaces a browser takes for
sans-serif, so what fits here fits there.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from fontTools.ttLib import TTFont

if TYPE_CHECKING:
    from fpdf import FPDF

FAMILY = "DejaVu Sans"
FONTS = Path(__file__).with_name("fonts")
FILES = {False: FONTS / "DejaVuSans.ttf", True: FONTS / "DejaVuSans-Bold.ttf"}
"""The regular weight and the bold one."""

FROM_THE_RIGHT = frozenset({"R", "AL", "AN"})
"""Unicode's directions of letters that a PDF made here would set in the wrong order."""


def add_typeface(pdf: FPDF) -> None:
    """Let a PDF use the typeface: family `FAMILY`, styles "" and "B"."""
    for bold, file in FILES.items():
        pdf.add_font(FAMILY, style(bold), file)


def finished(pdf: FPDF) -> bytes:
    """The PDF, with the files of the typeface closed."""
    from fpdf.fonts import CoreFont

    try:
        return bytes(pdf.output())
    finally:
        for font in pdf.fonts.values():
            if not isinstance(font, CoreFont):  # which has no file
                font.close()


def style(bold: bool) -> str:
    """What a PDF calls a weight."""
    return "B" if bold else ""


@cache
def _widths(bold: bool) -> dict[str, float]:
    """Every letter of the typeface, and how wide it is at size one."""
    with TTFont(FILES[bold], lazy=True) as font:
        advances, em = font["hmtx"], font["head"].unitsPerEm
        return {chr(code): advances[glyph][0] / em for code, glyph in font.getBestCmap().items()}


@lru_cache(maxsize=8192)
def _ems(text: str, bold: bool) -> float:
    """How wide a text is at size one; a letter the typeface lacks counts as a full square."""
    widths = _widths(bold)
    return sum(widths.get(c, 1.0) for c in text)


def width(text: str, size: float, bold: bool = False) -> float:
    """How wide a line is, in points."""
    return _ems(text, bold) * size


def missing(text: str, bold: bool = False) -> str:
    """The letters of a text that a PDF cannot set, each once: the typeface does not have them, or they run
    from right to left."""
    known = _widths(bold)
    return "".join(
        dict.fromkeys(c for c in text if c not in known or unicodedata.bidirectional(c) in FROM_THE_RIGHT)
    )


def wrapped(words: Sequence[str], room: float, size: float, bold: bool = False) -> tuple[str, ...]:
    """The words in lines no wider than `room` points; a word too wide for a line is cut."""
    lines: list[str] = []
    used = room
    for word in words:
        wide, space = width(word, size, bold), width(" ", size, bold)
        if lines and used + space + wide <= room:
            lines[-1] += f" {word}"
            used += space + wide
            continue
        for piece in [word] if wide <= room else _pieces(word, room, size, bold):
            lines.append(piece)
            used = width(piece, size, bold)
    return tuple(lines)


def _pieces(word: str, room: float, size: float, bold: bool) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and width(pieces[-1] + letter, size, bold) > room:
            pieces.append("")
        pieces[-1] += letter
    return pieces
