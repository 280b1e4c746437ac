"""The course of a session over time: its steps, requests, timers, the count, and how many sharps were out.

From a session's events and the pack it makes a `Timeline`, in seconds since the session was opened. Steps are
the likeliest ones for what was asked, and sharps out are the estimate of `tray_state`; neither was observed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from listen.chairside.events import Event, EventKind, effective
from listen.chairside.tray_state import TrayState, apply, start
from vocab.pack.schema import Pack, Procedure, Tray
from vocab.procedure.model import ProcedureModel

NO_STEP = "Requests"
"""The row of requests where no procedure was chosen."""
COUNT = "Count by hand"
FACULTY = "Faculty looked"


class How(StrEnum):
    """What became of a request; one that was not heard is in no log."""

    ANSWERED = "answered"
    CHECKED = "to be checked"
    UNDONE = "undone"


@dataclass(frozen=True)
class Span:
    """From when until when, in seconds since the session was opened."""

    from_s: float
    to_s: float


@dataclass(frozen=True)
class Request:
    """One request; name: of the item."""

    name: str
    after_s: float
    how: How


@dataclass(frozen=True)
class Row:
    """A step, a timer or the count, with the times at which it was on; looks_s: when faculty looked at it."""

    name: str
    spans: tuple[Span, ...] = ()
    requests: tuple[Request, ...] = ()
    looks_s: tuple[float, ...] = ()


@dataclass(frozen=True)
class Level:
    """Between two moments, how many pieces of what is sharp were out."""

    span: Span
    pieces: int


@dataclass(frozen=True)
class Timeline:
    """Everything that the picture shows. steps: those in which something was asked for, in their order."""

    length_s: float
    steps: tuple[Row, ...]
    timers: tuple[Row, ...]
    count: Row | None
    sharps: tuple[Level, ...]

    @property
    def requests(self) -> tuple[Request, ...]:
        """All requests, in the order in which they were made."""
        return tuple(sorted((r for row in self.steps for r in row.requests), key=lambda r: r.after_s))

    @property
    def most_sharps(self) -> int:
        """The most pieces of what is sharp that were out at once."""
        return max((level.pieces for level in self.sharps), default=0)


def timeline(
    events: Sequence[Event], pack: Pack, tray: Tray | None, procedure: Procedure | None, opened_s: float
) -> Timeline:
    """The course of one session, running or ended."""
    standing = effective(tuple(events))
    last_s = events[-1].at_s - opened_s if events else 0.0
    counted = [e.at_s - opened_s for e in standing if e.kind is EventKind.COUNTED]
    until_s = min(counted, default=last_s)
    return Timeline(
        last_s,
        _steps(events, standing, pack, procedure, opened_s, until_s),
        _timers(standing, opened_s, last_s),
        Row(COUNT, (Span(counted[0], counted[-1]),)) if counted else None,
        _sharps(standing, start(tray, pack), pack, opened_s, last_s),
    )


def _steps(
    events: Sequence[Event],
    standing: Sequence[Event],
    pack: Pack,
    procedure: Procedure | None,
    opened_s: float,
    until_s: float,
) -> tuple[Row, ...]:
    stands = {event.seq for event in standing}
    asked = [event for event in events if event.kind is EventKind.ASKED]
    reached = _reached([event for event in asked if event.seq in stands], pack, procedure, opened_s)
    spans: dict[str, list[Span]] = {}
    for (step, from_s), (_, to_s) in zip(reached, [*reached[1:], ("", until_s)], strict=False):
        spans.setdefault(step, []).append(Span(from_s, max(from_s, to_s)))
    requests: dict[str, list[Request]] = {}
    for event in asked:
        after_s = event.at_s - opened_s
        step = _step_at(reached, after_s)
        how = How.ANSWERED if event.verdict == "answer" else How.CHECKED
        name = pack.called.get(event.item or "", event.item or "")
        requests.setdefault(step, []).append(
            Request(name, after_s, how if event.seq in stands else How.UNDONE)
        )
    looks: dict[str, list[float]] = {}
    for event in standing:
        if event.kind is EventKind.STEP and event.about:
            looks.setdefault(event.about, []).append(event.at_s - opened_s)
    names = {step.id: step.name for step in procedure.steps} if procedure else {}
    order = [*names, *dict.fromkeys(key for key in (*requests, *looks) if key not in names)]
    return tuple(
        Row(
            names.get(step) or step.replace("_", " ") or NO_STEP,
            tuple(spans.get(step, ())),
            tuple(requests.get(step, ())),
            tuple(looks.get(step, ())),
        )
        for step in order
        if step in spans or step in requests or step in looks
    )


def _reached(
    asked: Sequence[Event], pack: Pack, procedure: Procedure | None, opened_s: float
) -> list[tuple[str, float]]:
    """The steps in the order in which they began, and when; the same one again only after another."""
    known = [e for e in asked if e.verdict == "answer" and e.item in pack.by_id]
    if procedure is None or not known:
        return []
    path = ProcedureModel(pack, [procedure.id]).best_path([e.item for e in known if e.item])
    began: list[tuple[str, float]] = []
    for event, (_, step) in zip(known, path, strict=True):
        if not began or began[-1][0] != step:
            began.append((step, event.at_s - opened_s))
    return began


def _step_at(reached: Sequence[tuple[str, float]], after_s: float) -> str:
    """The step at a moment; before the first one that, and "" where none is known."""
    before = [step for step, from_s in reached if from_s <= after_s]
    return before[-1] if before else next((step for step, _ in reached), "")


def _timers(standing: Sequence[Event], opened_s: float, last_s: float) -> tuple[Row, ...]:
    """One row for each timer, in the order of their first start; a new start ends the one before."""
    spans: dict[str, list[Span]] = {}
    for event in standing:
        at_s, own = event.at_s - opened_s, spans.setdefault(event.about or "", [])
        if event.kind in (EventKind.TIMER_STARTED, EventKind.TIMER_STOPPED) and own:
            own[-1] = Span(own[-1].from_s, min(own[-1].to_s, at_s))
        if event.kind is EventKind.TIMER_STARTED and event.seconds_s:
            own.append(Span(at_s, min(at_s + event.seconds_s, last_s)))
    return tuple(Row(name, tuple(own)) for name, own in spans.items() if own)


def _sharps(
    standing: Sequence[Event], state: TrayState, pack: Pack, opened_s: float, last_s: float
) -> tuple[Level, ...]:
    """How many were out, as long as any were; what has been counted by hand since is no longer out."""
    changes: list[tuple[float, int]] = []
    for event in standing:
        state = apply(state, event)
        pieces = sum(_sharps_out(state, pack).values())
        if pieces != (changes[-1][1] if changes else 0):
            changes.append((event.at_s - opened_s, pieces))
    ends = [at_s for at_s, _ in changes[1:]] + [last_s]
    return tuple(
        Level(Span(from_s, to_s), pieces)
        for (from_s, pieces), to_s in zip(changes, ends, strict=False)
        if pieces and to_s > from_s
    )


def _sharps_out(state: TrayState, pack: Pack) -> Mapping[str, int]:
    return {
        item: pieces
        for item, pieces in state.out.items()
        if item in pack.by_id and pack.item(item).sharp and item not in state.counted
    }
