"""Sessions logged by consent: which procedure, whose, and the items asked for in order.

Nothing is counted here, so leaving a session out undoes it exactly. No audio, no times of day and nothing
about a patient is held.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True)
class PastSession:
    """What was asked for in one procedure; `dentist` may be empty."""

    procedure: str
    items: tuple[str, ...]
    dentist: str = ""


@dataclass(frozen=True)
class Habits:
    """Logged sessions, oldest first."""

    sessions: tuple[PastSession, ...] = ()

    def own(self, procedure: str, dentist: str) -> tuple[PastSession, ...]:
        """A dentist's sessions of a procedure; none for an empty name."""
        return tuple(s for s in self._of(procedure) if dentist and s.dentist == dentist)

    def others(self, procedure: str, dentist: str) -> tuple[PastSession, ...]:
        """Everybody else's sessions of a procedure; all of them for an empty name."""
        return tuple(s for s in self._of(procedure) if not dentist or s.dentist != dentist)

    def _of(self, procedure: str) -> tuple[PastSession, ...]:
        return tuple(s for s in self.sessions if s.procedure == procedure)


@dataclass(frozen=True)
class Sequel:
    """`then` was asked for right after `item` in so many `sessions` `of` those that went on after `item`."""

    item: str
    then: str
    sessions: int
    of: int


def sequels(sessions: Iterable[PastSession], least: int = 2) -> tuple[Sequel, ...]:
    """What was repeated, most often first: in at least `least` sessions and half of those it could be in.

    An item asked for twice in a row does not count as what follows.
    """
    went_on: Counter[str] = Counter()
    followed: Counter[tuple[str, str]] = Counter()
    for session in sessions:
        pairs = [pair for pair in pairwise(session.items) if pair[0] != pair[1]]
        went_on.update({item for item, _ in pairs})
        followed.update(dict.fromkeys(pairs).keys())
    found = (Sequel(item, then, k, went_on[item]) for (item, then), k in followed.items())
    kept = [one for one in found if one.sessions >= least and 2 * one.sessions >= one.of]
    return tuple(sorted(kept, key=lambda one: -one.sessions))


NONE_YET = Habits()
