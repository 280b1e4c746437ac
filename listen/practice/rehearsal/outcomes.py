"""What may come of a line of a rehearsal, and where a piece may be at its end."""

from __future__ import annotations

from enum import StrEnum


class Came(StrEnum):
    """What came of a line."""

    RIGHT = "right"
    WRONG = "wrong"
    SLOW = "too slow"
    TAKEN_BACK = "taken back"
    """nobody could have met it before it was taken back"""
    LEFT = "left alone"
    """nothing was asked for, and nothing was done"""
    ALARM = "false alarm"
    """nothing was asked for, and something was done"""
    UNHEARD = "not heard"
    """it could not be spoken, so it does not count"""


class Where(StrEnum):
    """Where a piece may be at the end."""

    BACK = "back on the tray"
    OUT = "still with the dentist"
    MOUTH = "in the mouth"
    FELL = "fell"
