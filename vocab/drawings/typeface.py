"""How wide words are on a card, and where they wrap.

Measured with the Vera typeface that comes with reportlab, the one the PDF is set in. It is wider than the
typefaces a browser takes for sans-serif, so what fits here fits there.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache

from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD = "Vera", "VeraBd"


@cache
def font(bold: bool) -> TTFont:
    """The typeface, read once."""
    name = BOLD if bold else REGULAR
    return TTFont(name, f"{name}.ttf")


@lru_cache(maxsize=8192)
def _ems(text: str, bold: bool) -> float:
    """How wide a text is at size one; a letter the typeface lacks counts as a full square."""
    widths = font(bold).face.charWidths
    return float(sum(widths.get(ord(c), 1000) for c in text)) / 1000


def width(text: str, size: float, bold: bool = False) -> float:
    """How wide a line is, in points."""
    return _ems(text, bold) * size


def missing(text: str, bold: bool = False) -> str:
    """The letters of a text that the typeface does not have, each once."""
    known = font(bold).face.charToGlyph
    return "".join(dict.fromkeys(c for c in text if ord(c) not in known))


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
