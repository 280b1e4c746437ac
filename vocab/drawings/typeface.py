"""How wide words are on a card, and where they wrap.

Measured with the Vera typeface that comes with reportlab, the one the PDF is set in. It is wider than the
typefaces a browser takes for sans-serif, so what fits here fits there.
"""

from __future__ import annotations

from functools import cache

from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD = "Vera", "VeraBd"


@cache
def font(bold: bool) -> TTFont:
    """The typeface, read once."""
    name = BOLD if bold else REGULAR
    return TTFont(name, f"{name}.ttf")


def width(text: str, size: float, bold: bool = False) -> float:
    """How wide a line is, in points; a letter the typeface lacks counts as a full square."""
    widths = font(bold).face.charWidths
    return float(sum(widths.get(ord(c), 1000) for c in text)) * size / 1000


def missing(text: str, bold: bool = False) -> str:
    """The letters of a text that the typeface does not have, each once."""
    known = font(bold).face.charToGlyph
    return "".join(dict.fromkeys(c for c in text if ord(c) not in known))


def wrapped(words: list[str], room: float, size: float, bold: bool = False) -> tuple[str, ...]:
    """The words in lines no wider than `room` points; a word too wide for a line is cut."""
    lines = [""]
    for word in words:
        longer = f"{lines[-1]} {word}".strip()
        if width(longer, size, bold) <= room:
            lines[-1] = longer
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and width(lines[-1] + letter, size, bold) > room:
                lines.append("")
            lines[-1] += letter
    return tuple(lines)
