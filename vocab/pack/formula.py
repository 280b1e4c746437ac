"""Reads the formula stamped on the handle of a hand-cutting instrument.

Takes text such as "10-85-8-14" and gives width, length and angles of the blade. It does not say which
instrument that is. Source: G. V. Black, A Work on Operative Dentistry (1908), volume II, pages 22 and 24.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from vocab.errors import TraycallError

DEGREES_PER_CENTIGRADE = 3.6
"""A centigrade is a hundredth of a circle."""

_NUMBER = re.compile(r"(?P<whole>\d{1,3})(?P<half>\.5|\s*½|\s+1/2)?", re.ASCII)
_DASH = re.compile("[-\u2010-\u2015]")


class FormulaError(TraycallError):
    """Text that is not an instrument formula; says what one looks like."""


@dataclass(frozen=True)
class Formula:
    """A blade in numbers; `edge_centigrades` is None where the edge stands square to the blade."""

    blade_width_mm: float
    blade_length_mm: float
    blade_centigrades: float
    edge_centigrades: float | None = None

    @property
    def blade_degrees(self) -> float:
        """Angle between blade and handle, in degrees."""
        return self.blade_centigrades * DEGREES_PER_CENTIGRADE

    @property
    def edge_degrees(self) -> float | None:
        """Angle of the cutting edge to the handle, in degrees, or None."""
        return None if self.edge_centigrades is None else self.edge_centigrades * DEGREES_PER_CENTIGRADE


def read_formula(text: str) -> Formula:
    """The blade behind three numbers (width in tenths of a millimetre, length in millimetres, angle of the
    blade in centigrades) or four, where the angle of the cutting edge stands second.

    Halves are allowed ("6½-2½-9"). Raises `FormulaError` for anything else, for a blade without width,
    length or angle, a blade angle above 50 or an edge angle outside 50 to 100 (both from memory of textbooks:
    an edge angle is always read from the side where it exceeds 50; a distal margin trimmer may have 100).
    """
    parts = [part.strip() for part in _DASH.split(text.strip())]
    matches = [_NUMBER.fullmatch(part) for part in parts]
    numbers = [Fraction(int(m["whole"]) * 2 + bool(m["half"]), 2) for m in matches if m]
    if len(numbers) != len(parts) or len(numbers) not in (3, 4):
        raise FormulaError(
            f"{text!r} is not an instrument formula; write three or four numbers with dashes, "
            "width-length-angle or width-edge-length-angle, such as 10-7-14 or 10-85-8-14"
        )
    edge = numbers.pop(1) if len(numbers) == 4 else None
    width, length, blade = numbers
    if not (width and length and 0 < blade <= 50):
        raise FormulaError(
            f"{text!r}: width and length must be above 0 and the blade's angle above 0 up to 50 centigrades"
        )
    if edge is not None and not 50 < edge <= 100:
        raise FormulaError(
            f"{text!r}: the second of four numbers is the edge's angle, above 50 up to 100 centigrades"
        )
    return Formula(
        blade_width_mm=float(width / 10),
        blade_length_mm=float(length),
        blade_centigrades=float(blade),
        edge_centigrades=None if edge is None else float(edge),
    )
