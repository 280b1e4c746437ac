"""What a rehearsal came to: its figures, each line with its hesitation in words, and all of it as plain JSON.

Takes a `Rehearsal` that is over; returns `Played`, whose `timeline` holds only plain values and names as they
were, so that it can be read and drawn after the vocabulary has changed.
"""

from __future__ import annotations

from datetime import datetime
from statistics import median
from typing import Any

from listen.practice.choices import FETCH
from listen.practice.judging import Marking, Outcome
from listen.practice.played import Played
from listen.practice.questions import Questions
from listen.practice.rehearsal.languages import wordings
from listen.practice.rehearsal.lines import worded
from listen.practice.rehearsal.outcomes import Came
from listen.practice.rehearsal.running import Entry, Rehearsal, asked
from listen.practice.rehearsal.script import Kind, Line
from listen.practice.session import Answered, answered

VERSION = 1
STORED = (Kind.REQUEST, Kind.CORRECTION)
"""Lines whose answers are answers of the SLOT drill, too: they ask where something lies."""


def played(rehearsal: Rehearsal, questions: Questions, token: str, at: datetime) -> Played:
    """What it came to; `at` is when it began."""
    entries, script = rehearsal.entries, rehearsal.script
    some = asked(entries)
    times = [e.response_s for e in some if e.came is Came.RIGHT and e.response_s is not None]
    counted = rehearsal.counted or ()
    places = wordings(questions.pack.language).places
    seconds = round(rehearsal.ended_s - rehearsal.started_s, 1)
    return Played(
        token=token,
        at=at,
        field=questions.pack.id,
        procedure=script.procedure.id,
        level=script.level.number,
        requests=len(some),
        right=sum(e.came is Came.RIGHT for e in some),
        wrong=sum(e.came is Came.WRONG for e in some),
        slow=sum(e.came is Came.SLOW for e in some),
        false_alarms=sum(e.came is Came.ALARM for e in entries),
        median_s=round(median(times), 2) if times else None,
        counted=len(counted),
        counted_right=sum(one.right for one in counted),
        seconds=seconds,
        timeline={
            "version": VERSION,
            "language": questions.pack.language,
            "field": questions.pack.id,
            "procedure": script.procedure.id,
            "procedure_name": script.procedure.name,
            "level": script.level.number,
            "level_name": script.level.name,
            "started": at.isoformat(),
            "seconds": seconds,
            "lines": [_line(entry, questions) for entry in entries],
            "count": [
                {
                    "item": one.item,
                    "name": questions.called(one.item),
                    "answered": None if one.answered is None else places[one.answered],
                    "truth": [places[where] for where in one.truth],
                    "right": one.right,
                }
                for one in counted
            ],
        },
    )


def _line(entry: Entry, questions: Questions) -> dict[str, Any]:
    line = entry.line
    return {
        "number": entry.number,
        "kind": str(line.kind),
        "said": line.said,
        "talker": line.talker,
        "item": line.item,
        "name": None if line.item is None else questions.called(line.item),
        "step": line.step,
        "at_s": round(entry.at_s, 2),
        "came": str(entry.came),
        "right": list(line.question.right),
        "chosen": entry.choice,
        "response_s": None if entry.response_s is None else round(entry.response_s, 2),
        "again": entry.again,
        "by": entry.by,
        "told": told(entry, questions),
    }


def told(entry: Entry, questions: Questions) -> str:
    """What the trainee is told: "the Hollenback condenser, slot 7: right, 1.8 s"."""
    line, came = entry.line, entry.came
    said = wordings(questions.pack.language)
    if came is Came.LEFT:
        return said.left
    if came is Came.ALARM:
        return said.alarm.format(said=line.said)
    if came is Came.TAKEN_BACK:
        return said.taken_back
    if came is Came.UNHEARD:
        return said.unheard
    where = _where(line, questions)
    if came is Came.RIGHT:
        if entry.response_s is None:
            return said.met.format(where=where)
        return said.met_in.format(where=where, seconds=f"{entry.response_s:.1f}")
    if came is Came.SLOW:
        return said.slow.format(where=where, seconds=f"{line.wait_s:g}")
    tell = entry.marking.tell if entry.marking is not None else ""
    if entry.choice is None:
        return f"{where}. {tell}" if tell else where
    instead = said.instead.format(where=where, other=_place(entry.choice, questions))
    return f"{instead} {tell}".strip()


def _where(line: Line, questions: Questions) -> str:
    """ "the Hollenback (the small condenser), slot 7"."""
    language = questions.pack.language
    said = wordings(language)
    called, usual = line.question.asked_name or "", questions.called(line.item or "")
    name = worded(said.item if called == usual else said.called, called, usual, language)
    if line.kind is Kind.DROP and FETCH.id in line.question.right:
        return said.no_other.format(name=name, fetch=said.fetch.shown)
    places = questions.either([_place(at, questions) for at in line.question.right])
    return said.at.format(name=name, places=places)


def _place(at: str, questions: Questions) -> str:
    return wordings(questions.pack.language).fetch.shown if at == FETCH.id else questions.place_name(at)


def stored(entry: Entry, at: datetime, token: str) -> Answered | None:
    """The answer of the SLOT drill that a line was; None for everything else."""
    if entry.line.kind not in STORED or entry.came not in (Came.RIGHT, Came.WRONG, Came.SLOW):
        return None
    marking = entry.marking or Marking(Outcome.WRONG, None, "", 1.0, unsure=True, gave_up=True)
    return answered(
        entry.line.question,
        marking,
        None,
        at,
        token,
        entry.response_s,
        entry.by or "touch",
        repeated=entry.again > 0,
    )
