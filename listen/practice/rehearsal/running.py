"""A rehearsal as it runs: line by line, what the trainee does judged in time, and the count at its end.

Takes a `Script`, the judge's `Marking`s and times; keeps an `Entry` for each line that is done, and the tray
as `listen.chairside.tray_state` has it. It reads no clock, plays nothing and stores nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from listen.chairside.count import count_list
from listen.chairside.events import EventKind
from listen.chairside.tray_state import Holding, TrayState, start
from listen.practice.judging import Marking, Outcome
from listen.practice.rehearsal.outcomes import Came, Where
from listen.practice.rehearsal.script import Kind, Line, Script, moved
from listen.practice.session import By, response_time
from vocab.errors import Declined
from vocab.pack.schema import Pack, Reprocessing

MOST_COUNTED = 8
"""Most items that the count at the end asks about."""


@dataclass(frozen=True)
class Entry:
    """A line that is done. at_s: when it ended, from the start; choice: what was touched or said, None for
    nothing; response_s: from its end to the act; again: how often it was asked for once more; marking: of the
    act that closed it, None where there was none."""

    number: int
    line: Line
    came: Came
    at_s: float
    choice: str | None = None
    response_s: float | None = None
    again: int = 0
    by: By | None = None
    marking: Marking | None = None


@dataclass(frozen=True)
class Counted:
    """One item of the count at the end; truth: where its pieces are (any of them is right)."""

    item: str
    answered: Where | None
    truth: tuple[Where, ...]

    @property
    def right(self) -> bool:
        """Whether the answer fits."""
        return self.answered in self.truth


class Rehearsal:
    """One run through a script. Not for several threads at once.

    Args:
        started_s: on the clock whose times are given later.
    """

    def __init__(self, script: Script, pack: Pack, started_s: float) -> None:
        self.script, self._pack = script, pack
        self.started_s = self.ended_s = started_s
        self.entries: list[Entry] = []
        self.state: TrayState = start(script.tray, pack)
        self.counted: tuple[Counted, ...] | None = None
        self._again = 0
        self._first_s: float | None = None
        self._stopped = False

    @property
    def number(self) -> int:
        """Of the open line, from 1."""
        return len(self.entries) + 1

    @property
    def line(self) -> Line | None:
        """The open line; None once all are done, or it was stopped."""
        done = len(self.entries)
        return None if self._stopped or done >= len(self.script.lines) else self.script.lines[done]

    def act(self, marking: Marking, now_s: float, response_s: float | None, by: By) -> Entry | None:
        """Take what was done; None where the line stays open: it was unclear or is wanted once more, or the
        act was for what this line was just taking back.

        Args:
            response_s: from the end of the line, 0 while it was still spoken. Where an answer was not
                understood, its time counts, and not that of the second try.
        """
        line = self._open()
        if marking.outcome is Outcome.AGAIN:
            if marking.repeat:
                self.again()
            elif self._first_s is None:
                self._first_s = response_s
            return None
        if response_s == 0 and self._crossed(marking.choice):
            return None
        if not line.asks:
            came = Came.ALARM
        elif marking.outcome is Outcome.RIGHT:
            came = Came.RIGHT
        else:
            came = Came.WRONG
        ended_s = now_s - (response_s or 0.0)
        began_s = response_s if self._first_s is None else self._first_s
        entry = self._entry(line, came, ended_s, marking.choice, began_s, by, marking)
        return self._close(entry, now_s)

    def again(self) -> None:
        """The open line is wanted once more."""
        self._open()
        self._again, self._first_s = self._again + 1, None

    def silence(self, now_s: float) -> Entry:
        """Nothing was done until the line's time was over."""
        line = self._open()
        came = Came.TAKEN_BACK if line.taken_back else Came.SLOW if line.asks else Came.LEFT
        ended_s = now_s - line.wait_s
        waited_s = line.wait_s if came is Came.SLOW else None
        return self._close(self._entry(line, came, ended_s, None, waited_s), now_s)

    def unheard(self, now_s: float) -> Entry:
        """The line could not be spoken; it is passed over."""
        return self._close(self._entry(self._open(), Came.UNHEARD, now_s), now_s)

    def stop(self, now_s: float) -> None:
        """End before its time; the count follows."""
        self._stopped = True
        self.ended_s = now_s

    # --- the count ------------------------------------------------------------------------------------

    def to_count(self) -> tuple[str, ...]:
        """Items to say the place of, in the tray's order; () before the end.

        Of what is counted at a chair (`listen.chairside.count`): what something was said of, then what was
        passed last and comes back. What was never heard about is not asked.
        """
        if self.line is not None:
            return ()
        on_list = {line.item for line in count_list(self.state, self._pack)}
        unheard = {entry.line.item for entry in self.entries if entry.came is Came.UNHEARD}
        noted, passed = list[str](), list[str]()
        for entry in reversed(self.entries):
            item = entry.line.item
            if item is None or item not in on_list or item in unheard:
                continue
            if entry.line.kind in (Kind.NOTE, Kind.DROP):
                noted.append(item)
            elif entry.line.asks and entry.came is not Came.TAKEN_BACK and not self._is_used_once(item):
                passed.append(item)
        chosen = list(dict.fromkeys((*noted, *passed)))[:MOST_COUNTED]
        return tuple(item for item in self.state.holdings if item in chosen)

    def count(self, answers: Mapping[str, Where], now_s: float) -> tuple[Counted, ...]:
        """Take the count; what was left out is not right.

        Raises:
            Declined: it was counted already, or lines are still open.
        """
        if self.line is not None or self.counted is not None:
            raise Declined("this rehearsal is not at its count; load the page again.")
        self.ended_s = now_s
        self.counted = tuple(
            Counted(item, answers.get(item), whereabouts(self.state.of(item))) for item in self.to_count()
        )
        return self.counted

    # --- parts ----------------------------------------------------------------------------------------

    def _open(self) -> Line:
        if self.line is None:
            raise ValueError("no line is open")
        return self.line

    def _crossed(self, choice: str | None) -> bool:
        """Whether an act was on its way when the request for it was taken back, and this line does that."""
        before = self.entries[-1] if self.entries else None
        return before is not None and before.came is Came.TAKEN_BACK and choice in before.line.question.right

    def _entry(
        self,
        line: Line,
        came: Came,
        ended_s: float,
        choice: str | None = None,
        response_s: float | None = None,
        by: By | None = None,
        marking: Marking | None = None,
    ) -> Entry:
        at_s = response_time(self.started_s, ended_s)
        return Entry(self.number, line, came, at_s, choice, response_s, self._again, by, marking)

    def _close(self, entry: Entry, now_s: float) -> Entry:
        """Keep it, and move what it moves. Whatever was touched, the right thing is passed in the end."""
        before = self.entries[-1] if self.entries else None
        if entry.came is not Came.TAKEN_BACK:
            self.state = moved(self.state, entry.line.moves, now_s)
        if before is not None and before.line.taken_back and before.came is not Came.TAKEN_BACK:
            other = before.line.item
            self.state = moved(self.state, ((EventKind.RETURNED, other),) if other else (), now_s)
        self.entries.append(entry)
        self._again, self._first_s, self.ended_s = 0, None, now_s
        return entry

    def _is_used_once(self, item: str) -> bool:
        return self._pack.item(item).reprocessing is Reprocessing.SINGLE_USE


def whereabouts(held: Holding) -> tuple[Where, ...]:
    """Where the pieces of an item are that are not on the tray; "back" alone where all of them are."""
    away = (
        (Where.OUT, held.out - held.in_mouth),
        (Where.MOUTH, held.in_mouth),
        (Where.FELL, held.dropped),
    )
    return tuple(where for where, pieces in away if pieces) or (Where.BACK,)


def asked(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """The entries that count as requests: something was to be done, and it was heard and not taken back."""
    return tuple(e for e in entries if e.line.asks and e.came not in (Came.TAKEN_BACK, Came.UNHEARD))
