"""How a class stands, as a lead asks: who is ready for what, who needs help with what, who has not practised.

Takes the rows of the class report, what each trainee knows, was seen to do and misses; gives groups, and
figures in words. "Ready" is said of one procedure, by the two rules of `readiness`; nobody is signed off by
it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from listen.practice.facts import Observation
from listen.practice.plan import enough
from listen.practice.reports import ClassRow
from listen.practice.signoff import Thresholds
from listen.practice.tallies import Missed
from listen.practice.topics import Drill, Topic
from vocab.pack.schema import Pack, Procedure

AWAY = timedelta(days=7)
"""Who has not answered for longer counts as not practising."""
FEW = 5
"""Fewer first answers say nothing about a share."""
MANY = 20
"""So many first answers are needed before somebody is said to need help."""
MOST_MISSED = 3
RULES = (
    "At least 9 of 10 of what the procedure asks for are known: where it lies or, for what has no slot and "
    "on a tray that is not confirmed as it lies here, what it is called.",
    "Every point of the checklist that must be seen was seen done well, in its latest note.",
)
"""What `readiness` goes by, for the page."""


@dataclass(frozen=True)
class Readiness:
    """One trainee and one procedure. known, asked: of what the procedure asks for; seen, must: points of the
    checklist that must be seen."""

    procedure: str
    known: int
    asked: int
    seen: int
    must: int

    @property
    def knows(self) -> bool:
        """The first rule."""
        return enough(self.known, self.asked)

    @property
    def watched(self) -> bool:
        """The second rule; never met where there is nothing to observe."""
        return 0 < self.must == self.seen

    @property
    def ready(self) -> bool:
        """Both rules."""
        return self.knows and self.watched

    @property
    def of_ten(self) -> int:
        """How many of 10 requests are known, rounded down."""
        return 10 * self.known // max(1, self.asked)

    @property
    def lacks(self) -> str:
        """What is missing, in words; "" for nothing."""
        some = [] if self.knows else [f"knows {self.known} of the {self.asked} things asked for"]
        if not self.must:
            some.append("has no checklist to be watched by")
        elif not self.watched:
            left = self.must - self.seen
            some.append(f"{left} point{'' if left == 1 else 's'} of the checklist still to be seen")
        return ", ".join(some)


def requests(pack: Pack, procedure: Procedure, confirmed: Collection[str]) -> frozenset[str]:
    """The topics (keys) that stand for what a procedure asks for: slots, and names of what has none.

    Args:
        confirmed: the trays (ids) that lie here as the clinic confirmed; the slots of others say nothing.
    """
    tray = pack.tray(procedure.tray)
    items = {item for step in procedure.steps for item in step.items}
    return frozenset(
        Topic(Drill.SLOT, item, tray.id).key
        if tray.id in confirmed and tray.slot_of(item) is not None
        else Topic(Drill.NAME, item).key
        for item in items
    )


def readiness(
    procedure: str,
    asked: Collection[str],
    checklist: Sequence[Observation],
    memories: Mapping[str, bool],
    seen: Collection[str],
) -> Readiness:
    """Whether somebody is ready for a procedure (its id), by the two rules of `RULES`.

    Args:
        asked: what stands for its requests, as `requests` gives it; memories: topics (keys) that were asked,
            and whether each is known; seen: points whose latest note says that they were done well.
    """
    must = [point.id for point in checklist if point.must]
    return Readiness(
        procedure,
        sum(memories.get(key, False) for key in asked),
        len(asked),
        sum(point in seen for point in must),
        len(must),
    )


class Standing(StrEnum):
    """Where a trainee stands, in the order in which a lead reads it."""

    READY = "ready"
    HELP = "help"
    AWAY = "away"
    ON_THE_WAY = "on the way"


@dataclass(frozen=True)
class StandingRow:
    """One trainee. misses: items most often missed, the most frequent first; days: since the last answer,
    None where there was none; ready: the procedures that the trainee is ready for; nearest: another one that
    the trainee knows most of."""

    row: ClassRow
    standing: Standing
    misses: tuple[str, ...]
    days: int | None
    ready: tuple[Readiness, ...] = ()
    nearest: Readiness | None = None

    @property
    def sure(self) -> str:
        """The share of right first answers in words."""
        return of_first_tries(self.row.right, self.row.low, self.row.high, self.row.firsts)


def standings(
    rows: Sequence[ClassRow],
    missed: Sequence[Missed],
    now: datetime,
    ready: Mapping[str, Sequence[Readiness]],
    wanted: Thresholds | None = None,
) -> tuple[StandingRow, ...]:
    """Every trainee, in the order of `rows`; `ready` has each one's readiness for every procedure."""
    wanted = wanted or Thresholds()
    by_trainee: dict[str, list[Missed]] = {}
    for one in sorted(missed, key=lambda m: -m.wrong):
        if one.wrong >= 2 and one.wrong * 2 >= one.firsts:
            by_trainee.setdefault(one.trainee, []).append(one)
    return tuple(
        StandingRow(
            row,
            _standing(row, now, wanted, any(one.ready for one in ready.get(row.trainee, ()))),
            tuple(m.item for m in by_trainee.get(row.trainee, [])[:MOST_MISSED]),
            None if row.last is None else (now - row.last) // timedelta(days=1),
            tuple(one for one in ready.get(row.trainee, ()) if one.ready),
            _nearest(ready.get(row.trainee, ())),
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


def _nearest(ready: Sequence[Readiness]) -> Readiness | None:
    """What is known most of, among what somebody is not ready for."""
    begun = [one for one in ready if not one.ready and one.known]
    return max(begun, key=lambda one: (one.known / max(1, one.asked), one.known), default=None)


def _standing(row: ClassRow, now: datetime, wanted: Thresholds, ready: bool) -> Standing:
    if ready:
        return Standing.READY
    if row.last is None or now - row.last > AWAY:
        return Standing.AWAY
    if row.firsts >= MANY and row.high < wanted.right:
        return Standing.HELP
    return Standing.ON_THE_WAY
