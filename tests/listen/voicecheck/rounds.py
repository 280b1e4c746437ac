"""What the tests of the voice check share: a place, lines, and rounds that were read."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from listen.engine import Samples
from listen.readings import Reader
from listen.segments import Utterance
from listen.voicecheck.lines import Kind, Line
from listen.voicecheck.outcome import Outcome, Place, Result
from listen.voicecheck.room import Running
from listen.voicecheck.round import Read, Round
from listen.voicecheck.store import Conditions
from tests.listen.web.desk_app import shared_chair

PROCEDURE = "composite_class_two"
NOW = Conditions("0.1.0", "stand-in", "abc")


@cache
def place() -> Place:
    """Composite, class II."""
    chair = shared_chair()
    return Place(chair, Reader(chair.pack, chair.lexicon, chair.calibration))


def line(item: str | None = "mouth_mirror", text: str = "Mouth mirror, please.", **more: object) -> Line:
    """A line of that procedure."""
    kind = Kind.TALK if item is None else Kind.READ
    return Line(kind, text, "operative", PROCEDURE, item, **more)  # type: ignore[arg-type]


def tone(seconds: float = 1.0, size: float = 0.2) -> Samples:
    """Something to be heard that is like no other sound, shape = (n,)."""
    return np.asarray(size * np.sin(np.arange(round(16_000 * seconds)) ** 1.5), np.float32)


def read_round(outcomes: Sequence[tuple[Line, Outcome]], running: Running = Running.QUIET) -> Round:
    """A round in which each line came out so."""
    now = Round([one for one, _ in outcomes])
    for number, (_, outcome) in enumerate(outcomes):
        now.heard(number, running, Result(outcome), tone(2.0), [Utterance(0.6, 1.2, tone(0.6))])
    return now


def one_read() -> tuple[Read, ...]:
    """A round of one line that was understood."""
    return read_round([(line(), Outcome.RIGHT)]).read
