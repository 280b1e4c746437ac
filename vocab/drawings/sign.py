"""The warning sign of sharps: a triangle with an exclamation mark (ISO 7010, W001), drawn here."""

from __future__ import annotations

from vocab.drawings.shapes import Drawing, area, dot, line


def warning_sign() -> Drawing:
    """The sign in a field 100 wide and 100 high."""
    return (area((50, 8), (96, 90), (4, 90), width=9), line((50, 38), (50, 60), width=11), dot(50, 76, 6))
