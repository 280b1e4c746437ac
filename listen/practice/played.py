"""A rehearsal as it is kept: what it came to in figures, and its timeline.

The store keeps it and `listen.practice.rehearsal` makes it; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class Played:
    """A rehearsal as it is kept.

    token: so that it is kept once; requests: lines that asked for something, heard and not taken back, of
    which `right`, `wrong` and `slow`; false_alarms: acts where nothing was asked for; median_s: of right
    answers, None without any; counted, counted_right: items of the count; seconds: from the start to the
    count.
    """

    token: str
    at: datetime
    field: str
    procedure: str
    level: int
    requests: int
    right: int
    wrong: int
    slow: int
    false_alarms: int
    median_s: float | None
    counted: int
    counted_right: int
    seconds: float
    timeline: Mapping[str, Any]
