"""The warning sign of a tray card, made of the same marks as the drawings of `vocab.pack.shapes`."""

from __future__ import annotations

from vocab.pack.shapes import Drawing, area, dot, line


def warning_sign() -> Drawing:
    """The sign in a field 100 wide and 100 high."""
    return (area((50, 8), (96, 90), (4, 90), width=9), line((50, 38), (50, 60), width=11), dot(50, 76, 6))
