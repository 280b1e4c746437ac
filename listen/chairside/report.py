"""The report of a session: requests and answers, what came back, how long things were out, what was missing.

From a session and its events it makes a `SessionReport`: as data, as tables and sentences, and as an HTML
page that needs nothing else. It holds items and times only, and shows corrections as what they are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from importlib.resources import files

from jinja2 import Environment, StrictUndefined

from listen.chairside.closing import ending_text
from listen.chairside.count import SETUP_CHECKS, CountLine, beyond, count_list, missing
from listen.chairside.events import Event, EventKind, effective
from listen.chairside.faculty import open_checks
from listen.chairside.log import LoggedSession
from listen.chairside.tray_state import TrayState, apply, fold, start
from listen.chairside.view import place_name
from listen.chairside.wording import what_happened
from vocab.pack.schema import Pack, Tray

TOP = 3
"""A prediction counts as near if the item was among this many likeliest ones."""


@dataclass(frozen=True)
class ReportLine:
    """One line of the timeline; after_s: seconds since the session was opened."""

    after_s: float
    what: str
    name: str
    detail: str
    source: str
    taken_back: bool


@dataclass(frozen=True)
class TimeOut:
    """How long an item was out, by the estimate; still_out where nobody said that it came back."""

    item: str
    name: str
    times: int
    out_s: float
    still_out: bool


@dataclass(frozen=True)
class Predictions:
    """Of `asked` answered requests with a prediction, how many were for its first item and first three."""

    asked: int
    first: int
    near: int


@dataclass(frozen=True)
class FacultyCheck:
    """A step at which faculty looks; after_s: when the look was recorded, None where it was not."""

    name: str
    after_s: float | None
    by: str | None


@dataclass(frozen=True)
class SessionReport:
    """Everything the report shows.

    missing, beyond: lines of the count with fewer and with more than expected; uncounted: names of lines that
    nobody counted; in_mouth, missed, broken: pieces recorded as such, by name; ended_by, reason: who ended it
    with something open, and why; injury_card_s: when the card after a needle stick was opened, in seconds
    since the session was opened.
    """

    title: str
    opened: str
    length_s: float
    closed: bool
    timeline: tuple[ReportLine, ...]
    times_out: tuple[TimeOut, ...]
    predictions: Predictions
    missing: tuple[CountLine, ...]
    beyond: tuple[CountLine, ...]
    uncounted: tuple[str, ...]
    in_mouth: tuple[tuple[str, int], ...]
    missed: tuple[tuple[str, int], ...]
    broken: tuple[tuple[str, int], ...]
    setup: tuple[tuple[str, bool | None], ...]
    faculty: tuple[FacultyCheck, ...]
    ended_by: str | None
    reason: str | None
    injury_card_s: tuple[float, ...]


def session_report(
    session: LoggedSession,
    events: Sequence[Event],
    pack: Pack,
    tray: Tray | None,
    zone: tzinfo = UTC,
    faculty: bool = True,
) -> SessionReport:
    """The report of one session, running or closed.

    Args:
        zone: the clinic's time zone.
        faculty: whether a teacher looks here; where none does, only what was looked at anyway is shown.
    """
    names = pack.called
    standing = effective(tuple(events))
    stands = {event.seq for event in standing}
    state = fold(events, tray, pack)
    last_s = events[-1].at_s if events else session.opened_s
    closed = next((event for event in standing if event.kind is EventKind.CLOSED), None)
    heading = dict.fromkeys(part for part in (session.procedure, session.tray, session.pack) if part)
    return SessionReport(
        title="Session " + str(session.id) + ": " + ", ".join(heading).replace("_", " "),
        opened=datetime.fromtimestamp(session.opened_s, zone).strftime("%Y-%m-%d %H:%M %Z"),
        length_s=last_s - session.opened_s,
        closed=closed is not None,
        timeline=tuple(
            ReportLine(
                event.at_s - session.opened_s,
                what_happened(event),
                names.get(event.item or "", event.item or _about(event)),
                _detail(event),
                event.source.value,
                event.corrects is None and event.seq not in stands,
            )
            for event in events
        ),
        times_out=_times_out(standing, start(tray, pack), names, last_s),
        predictions=_predictions(standing),
        missing=missing(state, pack),
        beyond=beyond(state, pack),
        uncounted=tuple(line.name for line in count_list(state, pack) if line.counted is None),
        in_mouth=_pieces(state.in_mouth, names),
        missed=_pieces(state.missed, names),
        broken=_pieces(state.broken, names),
        setup=tuple((check.question, state.checks.get(check.id)) for check in SETUP_CHECKS),
        faculty=_faculty(session, pack, standing, state, faculty),
        ended_by=closed.by if closed else None,
        reason=closed.reason if closed else None,
        injury_card_s=tuple(
            event.at_s - session.opened_s for event in events if event.kind is EventKind.INJURY_CARD
        ),
    )


def as_html(report: SessionReport) -> str:
    """A whole page; everything in it is escaped, and it loads nothing."""
    text = files(__package__).joinpath("report.html").read_text(encoding="utf-8")
    page = Environment(autoescape=True, trim_blocks=True, undefined=StrictUndefined).from_string(text)
    return page.render(
        title=report.title, summary=summary(report), tables=tables(report), sentences=sentences(report)
    )


# --- figures ------------------------------------------------------------------------------------


def _times_out(
    standing: Sequence[Event], state: TrayState, names: Mapping[str, str], last_s: float
) -> tuple[TimeOut, ...]:
    """Time with at least one piece out, from the estimate after each event that stands."""
    since: dict[str, float] = {}
    total: dict[str, float] = {}
    times: dict[str, int] = {}
    for event in standing:
        before = state.out
        state = apply(state, event)
        for item in state.out.keys() - before.keys():
            since[item] = event.at_s
            times[item] = times.get(item, 0) + 1
        for item in before.keys() - state.out.keys():
            total[item] = total.get(item, 0.0) + event.at_s - since.pop(item)
    for item, began_s in since.items():
        total[item] = total.get(item, 0.0) + last_s - began_s
    ranked = sorted(total.items(), key=lambda pair: (-pair[1], pair[0]))
    return tuple(TimeOut(item, names.get(item, item), times[item], s, item in since) for item, s in ranked)


def _pieces(pieces: Mapping[str, int], names: Mapping[str, str]) -> tuple[tuple[str, int], ...]:
    return tuple((names.get(item, item), count) for item, count in pieces.items())


def _faculty(
    session: LoggedSession, pack: Pack, standing: Sequence[Event], state: TrayState, with_open: bool
) -> tuple[FacultyCheck, ...]:
    """The checks that were looked at, in that order, then those that were not."""
    procedure = next((p for p in pack.procedures if p.id == session.procedure), None)
    names = {step.id: step.name for step in procedure.steps} if procedure else {}
    looked = [
        FacultyCheck(names.get(event.about or "", _about(event)), event.at_s - session.opened_s, event.by)
        for event in standing
        if event.kind is EventKind.STEP
    ]
    still_open = open_checks(procedure, state) if with_open else ()
    return (*looked, *(FacultyCheck(step.name, None, None) for step in still_open))


def _predictions(standing: Sequence[Event]) -> Predictions:
    asked = [e for e in standing if e.kind is EventKind.ASKED and e.verdict == "answer" and e.predicted]
    return Predictions(
        len(asked),
        sum(event.item == event.predicted[0] for event in asked),
        sum(event.item in event.predicted[:TOP] for event in asked),
    )


# --- words --------------------------------------------------------------------------------------


def _about(event: Event) -> str:
    if event.corrects is not None:
        return f"line {event.corrects} undone"
    return (event.about or "").replace("_", " ")


def _detail(event: Event) -> str:
    if event.kind is EventKind.ASKED:
        place = place_name(event.slot)
        hit = "expected" if event.predicted[:1] == (event.item,) else ""
        hit = hit or ("among the expected" if event.item in event.predicted[:TOP] else "")
        pieces = f"{event.quantity} pieces" if event.quantity > 1 else ""
        return ", ".join(part for part in (event.size, place, pieces, hit) if part)
    if event.kind is EventKind.CLOSED:
        stood = ending_text(event.short, event.uncounted, event.beyond)
        return ", ".join(part for part in (stood, f"ended by {event.by}" if event.by else "") if part)
    if event.kind is EventKind.STEP:
        return f"by {event.by}" if event.by else ""
    if event.kind is EventKind.CHECKED:
        return "yes" if event.good else "no"
    if event.seconds_s is not None:
        return f"{event.seconds_s:g} s"
    if event.kind is EventKind.COUNTED or event.quantity > 1:
        pieces = f"{event.quantity} piece{'' if event.quantity == 1 else 's'}"
        return f"{pieces}, {event.about}" if event.about else pieces
    return ""


def summary(report: SessionReport) -> str:
    """When it was held, how long, and who ended it with something open."""
    state = "closed" if report.closed else "not closed"
    early = (
        f" Ended with an incomplete count by {report.ended_by}: {report.reason}" if report.ended_by else ""
    )
    return f"Opened {report.opened}, {_clock(report.length_s)} long, {state}.{early}"


ReportTable = tuple[str, Sequence[str], Sequence[Sequence[str]]]
"""Its title, heads and rows."""


def tables(report: SessionReport) -> list[ReportTable]:
    """The tables of the report, without empty ones."""
    timeline = [
        (
            str(number),
            _clock(line.after_s),
            line.what + (" (undone)" if line.taken_back else ""),
            line.name,
            line.detail,
            line.source,
        )
        for number, line in enumerate(report.timeline, 1)
    ]
    out = [
        (t.name, str(t.times), _clock(t.out_s), "noted as still out" if t.still_out else "")
        for t in report.times_out
    ]
    short, more = (
        [(line.name, line.group.value, str(line.expected), str(line.counted)) for line in lines]
        for lines in (report.missing, report.beyond)
    )
    looked = [
        (check.name, "not noted" if check.after_s is None else _clock(check.after_s), check.by or "")
        for check in report.faculty
    ]
    answers = {True: "yes", False: "no", None: "not answered"}
    setup = [(question, answers[good]) for question, good in report.setup]
    tables: list[ReportTable] = [
        ("Fewer than expected in the count", ("item", "kind", "expected", "counted"), short),
        ("More than was laid and added", ("item", "kind", "expected", "counted"), more),
        ("Timeline", ("line", "time", "what", "item", "detail", "by"), timeline),
        ("Time out (estimate)", ("item", "times", "out", ""), out),
        ("Faculty checks", ("step", "looked at", "by"), looked),
        ("Set-up check", ("question", "answer"), setup),
    ]
    return [table for table in tables if table[2]]


def sentences(report: SessionReport) -> list[str]:
    """What stands below the tables."""
    p = report.predictions
    out = []
    if p.asked:
        out.append(
            f"Of {p.asked} answered requests with a prediction, {p.first} ({p.first / p.asked:.0%}) were for "
            f"the item expected first and {p.near} ({p.near / p.asked:.0%}) for one of the first {TOP}."
        )
    for what, pieces in (
        ("Noted as still in the mouth", report.in_mouth),
        ("Noted as missing, and not counted since", report.missed),
        ("Broken", report.broken),
    ):
        if pieces:
            named = ", ".join(name + (f" ({count})" if count > 1 else "") for name, count in pieces)
            out.append(f"{what}: {named}.")
    if report.injury_card_s:
        times = ", ".join(map(_clock, report.injury_card_s))
        out.append(f"The card for a sharps injury was opened at {times}; no personal details are kept.")
    if report.uncounted:
        out.append(f"Not counted by hand: {', '.join(report.uncounted)}.")
    out.append("Times and places are an estimate from what was said and touched; a physical count decides.")
    return out


def _clock(seconds: float) -> str:
    minutes, rest = divmod(max(0, int(seconds)), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
