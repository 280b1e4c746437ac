"""Whole numbers from whatever was typed: text comes in, a number or None goes out."""

from __future__ import annotations


def whole_number(text: str, digits: int = 9) -> int | None:
    """The number that up to so many digits 0 to 9 write; None for anything else ("", "-1", "²", "٣", 5,000
    digits)."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= digits else None
