"""How hard a rehearsal is, from 1 (calm and plain) to 5 (a busy afternoon), and which level comes next.

Takes what the last rehearsals of a trainee came to; returns a `Level`. All shares, pauses and limits below
are our choice, not measured: at a chair a request follows the one before after some 25 s (the simulated
dentists of `listen.bench` wait so, by the author's judgement), most of it silence that nobody needs to
rehearse. Pauses vary as theirs do, log-normally with a deviation of the log of 0.6.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from listen.practice.rehearsal.lines import Manner
from listen.practice.topics import PracticeError

PAUSE_SPREAD = 0.6
MOST_PAUSE_S = 10.0
"""No silence is longer: after that one wonders whether it goes on."""


@dataclass(frozen=True)
class Level:
    """One level.

    told: what to expect, in a sentence; pause_s: median silence before the next line; wait_s: a request not
    met this long after its end is too slow, and the answer is told; manners: weight of each; other_names:
    weight of a name that is not the item's usual one; chatter, mention: probability that talk comes before a
    request, and that it names an item; correction, drop, back, note: probability, after or at each request,
    that it is corrected, falls, goes back by word, or is kept or left in the mouth; noise_db: speech over
    chair noise, None for quiet; talkers: how many people talk.
    """

    number: int
    name: str
    told: str
    pause_s: float
    wait_s: float
    manners: Mapping[Manner, float]
    other_names: float
    chatter: float
    mention: float
    correction: float
    drop: float
    back: float
    note: float
    noise_db: float | None
    talkers: int


_PLAIN, _EVERYDAY, _PASSING = Manner.PLAIN, Manner.EVERYDAY, Manner.PASSING
LEVELS = (
    Level(
        1, "Calm and plain", "Usual names, plain words, time between them; hardly anything else is said.",
        pause_s=5.0, wait_s=14.0, manners={_PLAIN: 1.0}, other_names=0.0,
        chatter=0.0, mention=0.0, correction=0.0, drop=0.0, back=0.05, note=0.08, noise_db=None, talkers=1,
    ),
    Level(
        2, "A quiet morning", "Other names come up, now and then there is talk, and something may fall.",
        pause_s=4.0, wait_s=11.0, manners={_PLAIN: 0.7, _EVERYDAY: 0.3}, other_names=0.4,
        chatter=0.12, mention=0.0, correction=0.04, drop=0.04, back=0.06, note=0.08, noise_db=25.0, talkers=1,
    ),
    Level(
        3, "An ordinary day", "Any name, sentences as people talk, talk about instruments, the chair in use.",
        pause_s=3.0, wait_s=9.0, manners={_PLAIN: 0.3, _EVERYDAY: 0.6, _PASSING: 0.1}, other_names=1.0,
        chatter=0.22, mention=0.3, correction=0.08, drop=0.06, back=0.07, note=0.09, noise_db=18.0, talkers=2,
    ),
    Level(
        4, "Brisk", "Requests in the middle of talk, changes of mind, handpiece and suction.",
        pause_s=2.2, wait_s=7.5, manners={_PLAIN: 0.15, _EVERYDAY: 0.5, _PASSING: 0.35}, other_names=1.0,
        chatter=0.32, mention=0.45, correction=0.12, drop=0.07, back=0.08, note=0.1, noise_db=12.0, talkers=2,
    ),
    Level(
        5, "A busy afternoon", "Everything at once: quick, noisy, and much that is not meant for you.",
        pause_s=1.5, wait_s=6.0, manners={_PLAIN: 0.1, _EVERYDAY: 0.35, _PASSING: 0.55}, other_names=1.0,
        chatter=0.42, mention=0.55, correction=0.16, drop=0.09, back=0.09, note=0.1, noise_db=7.0, talkers=3,
    ),
)  # fmt: skip


def level(number: int) -> Level:
    """The level of this number.

    Raises:
        PracticeError: there is none.
    """
    for one in LEVELS:
        if one.number == number:
            return one
    raise PracticeError(f"a rehearsal has level 1 to {len(LEVELS)}, not {number}.")


class Result(Protocol):
    """What a rehearsal came to, as far as it decides on the next level."""

    @property
    def level(self) -> int: ...
    @property
    def requests(self) -> int: ...
    @property
    def right(self) -> int: ...
    @property
    def false_alarms(self) -> int: ...
    @property
    def median_s(self) -> float | None: ...


FEWEST = 8
"""Fewer requests say nothing about the level."""
UP, DOWN = 0.9, 0.7
"""Shares of right answers from which it goes up, and below which it goes down."""
QUICK_S = 3.5
MOST_ALARMS = 0.1
"""False alarms for each request, at most, to go up."""


def next_level(last_first: Sequence[Result]) -> Level:
    """What to propose after these rehearsals, the latest one first: one up, one down, or the same."""
    told = next((one for one in last_first if one.requests >= FEWEST), None)
    if told is None:
        return LEVELS[0]
    share = told.right / told.requests
    quick = told.median_s is not None and told.median_s <= QUICK_S
    calm = told.false_alarms <= MOST_ALARMS * told.requests
    step = 1 if share >= UP and quick and calm else -1 if share < DOWN else 0
    return level(min(len(LEVELS), max(1, told.level + step)))
