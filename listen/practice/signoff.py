"""The sign-off sheet: figures against thresholds set by faculty, and what was observed, on one PDF.

Takes answers, memories, observations, thresholds and a date; returns a `SignOff` and writes its sheet. It
decides nothing: a person signs, and a quiz does not prove passing, count or sharps handling.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from statistics import median
from typing import Literal

from listen.practice.facts import Observation
from listen.practice.reports import first_answers
from listen.practice.schedule import Deck, is_known
from listen.practice.store import Observed, Review
from listen.practice.topics import Topic
from listen.shares import wilson
from vocab.drawings.typeface import FAMILY, add_typeface, finished, style
from vocab.files import write_atomically

PLACES_LEFT_OUT = "without places on its tray"
"""After the course, where its tray is not confirmed here, so that its places do not count."""
NOTHING_TO_OBSERVE = "there is nothing to observe, because this vocabulary has no checklist."


@dataclass(frozen=True)
class Thresholds:
    """What faculty ask for.

    known: least share of the course's topics that are known; right: least lower end of the 95 % interval of
    the share of first answers that were right; response_s: most median seconds to a right answer; answers:
    fewest first answers. Only answers from `since` on count.
    """

    known: float = 0.9
    right: float = 0.85
    response_s: float = 4.0
    answers: int = 50
    since: date | None = None


@dataclass(frozen=True)
class Measure:
    """One figure, what was asked for, and whether that was met."""

    what: str
    reached: str
    wanted: str
    met: bool


@dataclass(frozen=True)
class Watched:
    """One checklist point and its latest observation; None if it was never observed."""

    point: Observation
    seen: Observed | None

    @property
    def met(self) -> bool:
        """Whether the point was seen done well, or did not have to be seen."""
        return self.seen.passed if self.seen else not self.point.must


@dataclass(frozen=True)
class SignOff:
    """Everything on one sheet."""

    trainee: str
    course: str
    day: date
    measures: tuple[Measure, ...]
    watched: tuple[Watched, ...]

    @property
    def seen(self) -> int:
        """How many points were observed, done well or not."""
        return sum(w.seen is not None for w in self.watched)

    @property
    def observers(self) -> tuple[str, ...]:
        """Who watched, each once, in the order of the points."""
        return tuple(dict.fromkeys(w.seen.observer for w in self.watched if w.seen))

    @property
    def met(self) -> bool:
        """Whether all thresholds and all points that must be seen are met, and at least one was observed."""
        return self.seen > 0 and all(m.met for m in self.measures) and all(w.met for w in self.watched)

    @property
    def verdict(self) -> str:
        """The sentence above the signatures; it never claims more than was observed."""
        if not self.watched:
            return f"NOT all requirements are met: {NOTHING_TO_OBSERVE}"
        if not self.seen:
            return "NOT all requirements are met: nobody has observed anything yet."
        if not self.met:
            return "NOT all requirements are met."
        return (
            "All thresholds are met, and every point that must be seen was seen: "
            f"somebody watched {self.seen} of {len(self.watched)} points."
        )


def sign_off(
    trainee: str,
    course: str,
    topics: Sequence[Topic],
    deck: Deck,
    reviews: Sequence[Review],
    checklist: Sequence[Observation],
    observed: Sequence[Observed],
    thresholds: Thresholds,
    day: date,
) -> SignOff:
    """The figures of one trainee on the topics of a course, against the thresholds."""
    keys = {topic.key for topic in topics}
    own = [
        r
        for r in reviews
        if r.trainee == trainee
        and r.answer.topic in keys
        and (thresholds.since is None or r.answer.at.date() >= thresholds.since)
    ]
    firsts = first_answers(own)
    share = wilson(sum(r.answer.right for r in firsts), len(firsts))
    known = sum(is_known(deck.get(key)) for key in keys)
    times = [r.answer.response_s for r in own if r.answer.right and r.answer.response_s is not None]
    typical = median(times) if times else None
    latest = {seen.point: seen for seen in sorted(observed, key=lambda o: o.at)}
    wanted = thresholds
    measures = (
        Measure(
            "questions known",
            f"{known} of {len(keys)}",
            f"at least {wanted.known:.0%}",
            bool(keys) and known >= wanted.known * len(keys),
        ),
        Measure(
            "right at the first try of a day",
            f"{share.k} of {share.n}, so surely from {share.low:.0%} to {share.high:.0%}"
            if share.n
            else "no answers yet",
            f"surely {wanted.right:.0%} or more",
            share.n > 0 and share.low >= wanted.right,
        ),
        Measure(
            "time to a right answer",
            "no times yet" if typical is None else f"half of them begin within {typical:.1f} s",
            f"at most {wanted.response_s:g} s",
            typical is not None and typical <= wanted.response_s,
        ),
        Measure(
            "first tries of a day",
            str(len(firsts)),
            f"at least {wanted.answers}",
            len(firsts) >= wanted.answers,
        ),
    )
    return SignOff(trainee, course, day, measures, tuple(Watched(p, latest.get(p.id)) for p in checklist))


GROUPS: tuple[tuple[Literal["passing", "count", "sharps"], str], ...] = (
    ("passing", "Passing"),
    ("count", "Count"),
    ("sharps", "Sharps"),
)


SIGNING_MM = 42.0
"""What the verdict and the lines for signatures take."""


def write_sheet(sheet: SignOff, path: Path) -> None:
    """Write the sheet as an A4 PDF; the same sheet gives the same file."""
    from fpdf import FPDF

    pdf = FPDF(format="A4")
    pdf.set_creation_date(_noon(sheet.day))
    pdf.set_title(f"Sign-off: {sheet.trainee}")
    add_typeface(pdf)
    pdf.set_auto_page_break(True, margin=10)
    pdf.add_page()

    def line(text: str, size: float = 10, bold: bool = False, gap: float = 0.0) -> None:
        pdf.set_font(FAMILY, style(bold), size)
        pdf.multi_cell(0, size * 0.44, text, new_x="LMARGIN", new_y="NEXT")
        pdf.ln(gap)

    line("Sign-off sheet", 16, True, 1)
    whose = f"{sheet.trainee}    {sheet.course}    {sheet.day.isoformat()}"
    line(whose, 11, False, 3)
    line("What was asked for and reached", 12, True, 1)
    for measure in sheet.measures:
        mark = "met" if measure.met else "NOT MET"
        line(f"{mark}: {measure.what}: {measure.reached}; asked for: {measure.wanted}")
    pdf.ln(3)
    line("What somebody watched (a quiz cannot show it)", 12, True, 1)
    if not sheet.watched:
        line(f"{NOTHING_TO_OBSERVE[0].upper()}{NOTHING_TO_OBSERVE[1:]}", 9)
    if sheet.watched:
        watcher = f"Watched by {sheet.observers[0]}. " if len(sheet.observers) == 1 else ""
        line(f"{watcher}Points with * must be seen.", 9, False, 1)
    for group, title in GROUPS:
        points = [w for w in sheet.watched if w.point.group == group]
        if points:
            line(title, 10, True)
        for watched in points:
            must = "* " if watched.point.must else ""
            line(f"{must}{_mark(watched, len(sheet.observers) > 1)}: {watched.point.text}", 9)
        pdf.ln(1)
    pdf.ln(2)
    if pdf.will_page_break(SIGNING_MM):  # nobody signs a page that does not say what for
        pdf.add_page()
        line(whose, 11, True, 3)
    line(sheet.verdict, 11, True, 8)
    line("Faculty, name and signature: ______________________________    Date: ____________", 10, False, 5)
    line("Trainee, signature: ______________________________    Date: ____________", 10, False, 4)
    line("The sheet reports figures. The faculty member who signs decides; local rules apply.", 8)
    write_atomically(path, finished(pdf))


def _mark(watched: Watched, named: bool) -> str:
    """Whether and when a point was seen; and by whom, where several people watched."""
    if watched.seen is None:
        return "not seen yet"
    how = "seen" if watched.seen.passed else "NOT YET RIGHT"
    by = f" by {watched.seen.observer}" if named else ""
    return f"{how} {watched.seen.at.date().isoformat()}{by}"


def _noon(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
