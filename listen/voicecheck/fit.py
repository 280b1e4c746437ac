"""Fits two numbers of the shipped calibration on a clinic's own recordings, and says whether they help.

Heard recordings go in; an `Adjustment` comes out with the figures by which it was adopted or not. No network
is taught. The numbers are set by maximum a posteriori on a grid: the log loss of what was meant, and a normal
prior around the weights as shipped. Whether they help is measured on recordings they were not fitted on: two
halves, each judged with the numbers of the other.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from listen.engine import Hearing
from listen.readings import AS_SHIPPED, Adjustment, Readings
from listen.voicecheck.lines import Line
from listen.voicecheck.outcome import Place, Tally

LEAST = 40
"""With fewer recordings nothing is fitted."""
LEAST_SPOKEN = 8
"""With fewer sentences that ask for nothing `shift` stays 0: nothing would hold it back."""
SHIFTS = tuple(0.25 * step for step in range(-6, 7))
FACTORS = tuple(2 ** (step / 3) for step in range(-3, 4))
SHIFT_SD, LOG_FACTOR_SD = 0.75, 0.35
"""Spread of the prior: how far the numbers of a usual clinic are thought to lie from those as shipped."""
_LEAST_P = 1e-6
_Chances = tuple[float, float]
"""Of one utterance: the log-odds that anything was asked for, and the share of what was meant in that."""


@dataclass(frozen=True)
class HeardLine:
    """A recording whose utterances were heard."""

    line: Line
    hearings: tuple[Hearing, ...]


@dataclass(frozen=True)
class Fitted:
    """own: fitted on all recordings; before, after: counts over all of them, each judged as shipped and with
    numbers that it had no part in."""

    own: Adjustment
    before: Tally
    after: Tally

    @property
    def helps(self) -> bool:
        """Whether it is worth adopting: fewer errors, and no more wrong answers or misses than before."""
        before, after = self.before, self.after
        return (
            self.own != AS_SHIPPED
            and after.errors < before.errors
            and after.all_wrong <= before.all_wrong
            and after.missed <= before.missed
        )

    @property
    def in_words(self) -> str:
        """The figures, and what follows."""
        if self.own == AS_SHIPPED:
            return "The numbers as shipped fit these recordings best; nothing is changed."
        before, after = self.before, self.after
        figures = (
            f"On recordings that had no part in it: {before.errors} not answered right at once before, "
            f"{after.errors} after; missed {before.missed} and {after.missed}; wrong {before.all_wrong} and "
            f"{after.all_wrong} (of {before.requests} requests and {before.spoken} other sentences)."
        )
        if self.helps:
            return f"{figures} Adopted."
        return f"{figures} Not adopted: it would not help, or make other errors."


def too_few(recordings: int) -> str:
    """Why so few recordings are not enough; "" where they are."""
    if recordings >= LEAST:
        return ""
    return (
        f"There are {recordings} recordings; two numbers can be fitted to about {LEAST} and more. Two rounds "
        "of the voice check are enough."
    )


def fitted(heard: Sequence[HeardLine], place_of: Callable[[Line], Place]) -> Fitted:
    """Fit the two numbers.

    Args:
        place_of: where a line is read, with the weights as shipped.
    """
    search = _Search(heard, place_of)
    halves = _halves(heard)
    by_half = [search.best([i for i, half in enumerate(halves) if half != held]) for held in (0, 1)]
    before, after = (
        Tally.of(
            (one.line.asks, search.place(one.line, own).result(one.line, one.hearings).outcome)
            for one, own in zip(heard, numbers, strict=True)
        )
        for numbers in ([AS_SHIPPED] * len(heard), [by_half[half] for half in halves])
    )
    return Fitted(search.best(range(len(heard))), before, after)


def _halves(heard: Sequence[HeardLine]) -> list[int]:
    """A half (0 or 1) for each; whatever asks for the same item, or says the same sentence, is in one half,
    and both halves have requests and other sentences."""
    keys = [(one.line.asks, one.line.item or one.line.text) for one in heard]
    halves: dict[tuple[bool, str], int] = {}
    for asks in (True, False):
        of_kind = sorted({key for key in keys if key[0] is asks})
        halves |= {key: number % 2 for number, key in enumerate(of_kind)}
    return [halves[key] for key in keys]


class _Search:
    """The losses of every recording at every point of the grid."""

    def __init__(self, heard: Sequence[HeardLine], place_of: Callable[[Line], Place]) -> None:
        self._place_of = place_of
        self._places: dict[tuple[str, str, Adjustment], Place] = {}
        self._asks = [one.line.asks for one in heard]
        self._chances = {
            factor: [self._of(one, Adjustment(0.0, factor)) for one in heard] for factor in FACTORS
        }

    def place(self, line: Line, own: Adjustment) -> Place:
        """Where a line is read, with these numbers."""
        key = (line.field, line.procedure, own)
        if key not in self._places:
            self._places[key] = self._place_of(line).adjusted(own)
        return self._places[key]

    def best(self, of: Iterable[int]) -> Adjustment:
        """The numbers with the least loss over some of the recordings."""
        chosen = list(of)
        spoken = sum(not self._asks[i] for i in chosen)
        shifts = SHIFTS if 2 * spoken >= LEAST_SPOKEN else (0.0,)
        grid = [Adjustment(shift, factor) for shift in shifts for factor in FACTORS]
        return min(grid, key=lambda own: (self._loss(chosen, own), abs(own.shift), abs(math.log(own.factor))))

    def _loss(self, of: Sequence[int], own: Adjustment) -> float:
        prior = (own.shift / SHIFT_SD) ** 2 / 2 + (math.log(own.factor) / LOG_FACTOR_SD) ** 2 / 2
        return prior + sum(_log_loss(self._asks[i], self._chances[own.factor][i], own.shift) for i in of)

    def _of(self, one: HeardLine, own: Adjustment) -> list[_Chances]:
        place = self.place(one.line, own)
        return [_chances(place.readings(hearing), one.line.item) for hearing in one.hearings]


def _chances(readings: Readings, item: str | None) -> _Chances:
    asked = min(1 - _LEAST_P, max(_LEAST_P, 1 - readings.p_nothing))
    meant = sum(
        way.p * candidate.p
        for way in readings.ways
        for request in way.requests
        for candidate in request.candidates
        if candidate.item == item
    )
    return math.log(asked / (1 - asked)), min(1.0, meant / asked)


def _log_loss(asks: bool, utterances: Sequence[_Chances], shift: float) -> float:
    """Nats: of the likeliest utterance of a request, of every utterance of a sentence that asks for
    nothing."""
    p_asked = [1 / (1 + math.exp(-(log_odds + shift))) for log_odds, _ in utterances]
    if asks:
        p = max((p * share for p, (_, share) in zip(p_asked, utterances, strict=True)), default=0.0)
        return -math.log(max(_LEAST_P, p))
    return sum(-math.log(max(_LEAST_P, 1 - p)) for p in p_asked)
