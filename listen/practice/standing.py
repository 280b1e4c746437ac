"""How a class stands, as a lead asks: who is ready, who needs help with what, and who has not practised.

Takes the rows of the class report and what each trainee misses; gives groups, and figures in words. "Ready"
is measured by what a sign-off sheet usually asks for; nobody is signed off by it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from listen.practice.reports import ClassRow
from listen.practice.signoff import Thresholds
from listen.practice.tallies import Missed

AWAY = timedelta(days=7)
"""Who has not answered for longer counts as not practising."""
FEW = 5
"""Fewer first answers say nothing about a share."""
MANY = 20
"""So many first answers are needed before somebody is said to need help."""
MOST_MISSED = 3


class Standing(StrEnum):
    """Where a trainee stands, in the order in which a lead reads it."""

    READY = "ready"
    HELP = "help"
    AWAY = "away"
    ON_THE_WAY = "on the way"


@dataclass(frozen=True)
class StandingRow:
    """One trainee. misses: items most often missed, the most frequent first; days: since the last answer,
    None where there was none."""

    row: ClassRow
    standing: Standing
    misses: tuple[str, ...]
    days: int | None

    @property
    def sure(self) -> str:
        """The share of right first answers in words."""
        return of_first_tries(self.row.right, self.row.low, self.row.high, self.row.firsts)


def standings(
    rows: Sequence[ClassRow],
    missed: Sequence[Missed],
    now: datetime,
    wanted: Thresholds | None = None,
    counting: Sequence[ClassRow] | None = None,
) -> tuple[StandingRow, ...]:
    """Every trainee, in the order of `rows`; `counting` are the same rows of what counts towards being ready,
    where that is not everything."""
    wanted = wanted or Thresholds()
    ready = {row.trainee for row in (rows if counting is None else counting) if _is_ready(row, wanted)}
    by_trainee: dict[str, list[Missed]] = {}
    for one in sorted(missed, key=lambda m: -m.wrong):
        if one.wrong >= 2 and one.wrong * 2 >= one.firsts:
            by_trainee.setdefault(one.trainee, []).append(one)
    return tuple(
        StandingRow(
            row,
            Standing.READY if row.trainee in ready else _not_ready(row, now, wanted),
            tuple(m.item for m in by_trainee.get(row.trainee, [])[:MOST_MISSED]),
            None if row.last is None else (now - row.last) // timedelta(days=1),
        )
        for row in rows
    )


def grouped(rows: Sequence[StandingRow]) -> Mapping[Standing, tuple[StandingRow, ...]]:
    """The same in groups, each in its order."""
    return {group: tuple(row for row in rows if row.standing is group) for group in Standing}


def of_ten(share: float, low: float, high: float, what: str = "") -> str:
    """A share with its interval in words.

    >>> of_ten(0.81, 0.74, 0.87, " requests")
    'about 8 of 10 requests; sure to within 1'
    """
    within = max(1, math.ceil(10 * max(high - share, share - low) - 1e-9))
    return f"about {round(10 * share)} of 10{what}; sure to within {within}"


def of_first_tries(share: float, low: float, high: float, firsts: int) -> str:
    """The same for a share of so many first tries, which may be too few."""
    return of_ten(share, low, high) if firsts >= FEW else "too few answers to say how many"


def _is_ready(row: ClassRow, wanted: Thresholds) -> bool:
    quick = row.response_s is not None and row.response_s <= wanted.response_s
    return row.firsts >= wanted.answers and row.low >= wanted.right and quick


def _not_ready(row: ClassRow, now: datetime, wanted: Thresholds) -> Standing:
    if row.last is None or now - row.last > AWAY:
        return Standing.AWAY
    if row.firsts >= MANY and row.high < wanted.right:
        return Standing.HELP
    return Standing.ON_THE_WAY
