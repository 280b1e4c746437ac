"""The card that is opened after a needle stick: the clinic's own lines, or a plain default.

It takes the lines that the clinic wrote, and gives the lines to show and the event that records when they
were opened. It gives no advice beyond them and keeps nothing about a person.
"""

from __future__ import annotations

from collections.abc import Sequence

from listen.chairside.events import Event, EventKind, Source

DEFAULT_CARD = (
    "Stop.",
    "Make it safe: put the sharp where it can hurt nobody else.",
    "Follow your local exposure plan now.",
)
"""Shown where the clinic has written no card of its own."""


def card(clinics_lines: Sequence[str]) -> tuple[str, ...]:
    """The lines to show: the clinic's own without empty ones, or else the default."""
    return tuple(line for line in clinics_lines if line.strip()) or DEFAULT_CARD


def injury_event(at_s: float, source: Source = Source.TOUCH) -> Event:
    """The event that records when the card was opened."""
    return Event(EventKind.INJURY_CARD, at_s, source)
