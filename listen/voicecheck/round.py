"""One round of the voice check, from the first line to the last, held in memory only.

It takes what was measured of the room and what came of each line, and gives the result in words. The sound of
its lines is given to `listen.voicecheck.store` only if the person agrees; otherwise it goes with the round.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.segments import Utterance
from listen.voicecheck.lines import Line
from listen.voicecheck.outcome import Outcome, Result, Tally
from listen.voicecheck.room import RoomSound, Running, speech_advice

BEFORE_S, AFTER_S = 0.5, 0.7
"""Sound around what was said that belongs to a recording, so that it is cut into utterances as it was
here."""


@dataclass(frozen=True)
class Read:
    """A line that was read. sound: what was said and a little around it, shape = (n,); spoken: its
    utterances."""

    number: int
    line: Line
    running: Running
    result: Result
    sound: Samples
    spoken: tuple[Samples, ...]


@dataclass(frozen=True)
class Hard:
    """A request that a voice made hard. other: the item answered instead, None where nothing was."""

    line: Line
    outcome: Outcome
    other: str | None


class Round:
    """A round; `lines` are in the order in which they are read."""

    def __init__(self, lines: Sequence[Line]) -> None:
        self.lines = tuple(lines)
        self.rooms: dict[Running, RoomSound] = {}
        self._read: dict[int, Read] = {}

    @property
    def read(self) -> tuple[Read, ...]:
        """What was read so far, in the order of the lines."""
        return tuple(self._read[number] for number in sorted(self._read))

    def heard(
        self,
        number: int,
        running: Running,
        result: Result,
        stream: Samples,
        utterances: Sequence[Utterance],
    ) -> None:
        """Take what came of a line; read again, it takes the place of what was before.

        Args:
            stream: the sound from which the utterances were cut, shape = (n,).
        """
        spoken = tuple(one.samples for one in utterances)
        self._read[number] = Read(
            number, self.lines[number], running, result, around(stream, utterances), spoken
        )

    def tally(self, running: Running | None = None) -> Tally:
        """Counts of all lines, or of those read with this running."""
        return tally_of(one for one in self.read if running in (None, one.running))

    @property
    def by_running(self) -> tuple[tuple[Running, Tally], ...]:
        """Counts by what was running, where more than one was."""
        there = [one for one in Running if any(read.running is one for read in self.read)]
        return tuple((one, self.tally(one)) for one in there) if len(there) > 1 else ()

    @property
    def advice(self) -> tuple[str, ...]:
        """What the speech says about the microphone, for everything that was running."""
        found: list[str] = []
        for running in Running:
            spoken = [s for one in self.read if one.running is running for s in one.spoken]
            found += speech_advice(self.rooms.get(running), spoken)
        return tuple(dict.fromkeys(found))

    @property
    def hard(self) -> tuple[Hard, ...]:
        """Requests that were missed, asked back or answered wrong."""
        return hard_of((one.line, one.result) for one in self.read)


def hard_of(read: Iterable[tuple[Line, Result]]) -> tuple[Hard, ...]:
    """The requests among these that were not answered right at once, each item once."""
    found: dict[str, Hard] = {}
    for line, result in read:
        if line.item is None or result.outcome is Outcome.RIGHT:
            continue
        wrong = result.outcome is Outcome.WRONG
        other = next((item for item in result.shown if item != line.item), None) if wrong else None
        if line.item not in found or wrong:
            found[line.item] = Hard(line, result.outcome, other)
    return tuple(found.values())


def tally_of(read: Iterable[Read]) -> Tally:
    """Counts of lines that were read."""
    return Tally.of((one.line.asks, one.result.outcome) for one in read)


def around(stream: Samples, utterances: Sequence[Utterance]) -> Samples:
    """The part of a stream in which the utterances are, with a little around; nothing where there are
    none."""
    if not utterances:
        return np.zeros(0, np.float32)
    begin = max(0, round((utterances[0].start_s - BEFORE_S) * SAMPLE_RATE_HZ))
    end = round((utterances[-1].end_s + AFTER_S) * SAMPLE_RATE_HZ)
    return stream[begin:end]
