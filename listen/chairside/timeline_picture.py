"""Draws the course of a session: a row for each step, timers, the count, the sharps out; time to the right.

It takes a `Timeline` and lays it out once, with places across as a share of the width, so that the same
picture stands in a page at any width and on paper. As SVG it needs no style sheet, takes the page's colours
from its variables, and says in words what it shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from xml.sax.saxutils import escape

from listen.chairside.timeline import FACULTY, How, Level, Row, Span, Timeline

TITLE = "The session over time"
TEXT_PX, RADIUS_PX = 16, 6.5
LABELS = 0.29
"""The share of the width that names of rows take where they stand beside them."""
LONGEST_LABEL = 33
"""Letters of a name that fit there."""
MARGIN = 0.02
LEAST = {True: 0.004, False: 0.011}
"""The share of the width that the shortest bar takes, to be seen at all; `beside` or not."""
MOST_TICKS = 5
LAST_TICK = 0.94
"""The share of the width beyond which a time would be cut."""
TICKS_S = (10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400)
SHARPS_PX = 34
"""The height of the band of sharps where most are out."""


class Look(StrEnum):
    """What a shape stands for, which decides on its colour and form."""

    STEP = "step"
    TIMER = "timer"
    COUNT = "count"
    SHARPS = "sharps"
    ANSWERED = "answered"
    CHECKED = "checked"
    UNDONE = "undone"
    LOOKED = "looked"


LOOKS = {How.ANSWERED: Look.ANSWERED, How.CHECKED: Look.CHECKED, How.UNDONE: Look.UNDONE}


@dataclass(frozen=True)
class Bar:
    """x, wide: shares of the width; y, high: in px; told: what it is, in words."""

    x: float
    y: float
    wide: float
    high: float
    look: Look
    told: str


@dataclass(frozen=True)
class Mark:
    """A request, or that faculty looked, about its middle; key: one that only explains the others."""

    x: float
    y: float
    look: Look
    told: str
    key: bool = False


@dataclass(frozen=True)
class Words:
    """A line of text; x: share of the width, y: its base line in px; middle: x is its middle, not its start;
    shift: px to the right."""

    x: float
    y: float
    text: str
    middle: bool = False
    shift: float = 0.0


@dataclass(frozen=True)
class Rule:
    """A line down, or across from x to the right edge where it has no height."""

    x: float
    y: float
    high: float


@dataclass(frozen=True)
class Picture:
    """Its height in px and what is drawn, from back to front."""

    high: float
    rules: tuple[Rule, ...]
    bars: tuple[Bar, ...]
    marks: tuple[Mark, ...]
    words: tuple[Words, ...]


def lay_out(course: Timeline, beside: bool = True) -> Picture:
    """The picture of a session.

    Args:
        beside: whether names stand beside their rows, which asks for 900 px, or above them, for a phone.
    """
    left = LABELS if beside else MARGIN
    whole_s = max(course.length_s, 1.0)
    lane, step_px = (18.0, 28.0) if beside else (18.0, 48.0)
    rules, bars, marks, words = list[Rule](), list[Bar](), list[Mark](), list[Words]()

    def across(after_s: float) -> float:
        return left + (1 - left - MARGIN) * min(max(after_s / whole_s, 0.0), 1.0)

    def bar(span: Span, y: float, high: float, look: Look, told: str) -> None:
        wide = max(across(span.to_s) - across(span.from_s), LEAST[beside])
        bars.append(Bar(across(span.from_s), y, wide, high, look, told))

    def label(text: str, y: float) -> float:
        """Write the name of a row at `y`; where its lane begins."""
        words.append(Words(0.0, y + 14, shortened(text) if beside else text))
        return y if beside else y + 21

    top = y = 30.0
    for row, look in _rows(course):
        at = label(row.name, y)
        rules.append(Rule(left, at + lane / 2, 0.0))
        for span in row.spans:
            bar(span, at, lane, look, f"{row.name}: {clock(span.from_s)} to {clock(span.to_s)}")
        for request in row.requests:
            told = f"{clock(request.after_s)}, {request.name}, {request.how}"
            marks.append(Mark(across(request.after_s), at + lane / 2, LOOKS[request.how], told))
        for look_s in row.looks_s:
            told = f"{clock(look_s)}, {FACULTY.lower()}: {row.name}"
            marks.append(Mark(across(look_s), at + lane / 2, Look.LOOKED, told))
        y += step_px
    if course.sharps:
        y = label(f"Sharps out, at most {course.most_sharps}", y + 4)
        for level in course.sharps:
            high = SHARPS_PX * level.pieces / course.most_sharps
            bar(
                level.span, y + SHARPS_PX - high, high, Look.SHARPS, f"{level.pieces} out from {_told(level)}"
            )
        y += SHARPS_PX + 8
    every = _every(whole_s)
    for tick in range(int(whole_s // every) + 1):
        rules.append(Rule(across(tick * every), top - 6, y - top + 6))
        if across(tick * every) < LAST_TICK:
            words.append(Words(across(tick * every), 16.0, clock(tick * every), middle=tick > 0 or beside))
    y = _explained(course, y + 22, left, 2 if beside else 1, marks, words)
    return Picture(y, tuple(rules), tuple(bars), tuple(marks), tuple(words))


def as_svg(course: Timeline, beside: bool = True) -> str:
    """The picture as one SVG element, as wide as what it stands in; everything in it is escaped."""
    picture = lay_out(course, beside)
    parts = [_rule_svg(rule) for rule in picture.rules]
    parts += [_bar_svg(bar) for bar in picture.bars]
    parts += [_mark_svg(mark) for mark in picture.marks]
    parts += [_words_svg(words) for words in picture.words]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{"beside" if beside else "above"}" role="img" '
        f'width="100%" height="{picture.high:g}" font-size="{TEXT_PX}" fill="var(--ink, #10201b)">'
        f"<title>{TITLE}</title><desc>{escape(in_words(course))}</desc>{''.join(parts)}</svg>"
    )


def in_words(course: Timeline) -> str:
    """What the picture shows, for those who do not see it."""
    parts = [f"{clock(course.length_s)} from the opening to the last event."]
    steps = [
        f"{row.name} from {' and again from '.join(clock(span.from_s) for span in row.spans)}"
        for row in course.steps
        if row.spans
    ]
    parts += [f"Steps, by what was asked: {'; '.join(steps)}."] if steps else []
    found = [request.how for request in course.requests]
    counts = [f"{found.count(how)} {how}" for how in How if how in found]
    parts += [f"Requests: {', '.join(counts)}."] if counts else ["No requests."]
    timers = [f"{row.name} ({len(row.spans)})" if len(row.spans) > 1 else row.name for row in course.timers]
    parts += [f"Timers: {', '.join(timers)}."] if timers else []
    if course.sharps:
        most = next(level for level in course.sharps if level.pieces == course.most_sharps)
        parts.append(f"Sharps out, by the estimate: at most {most.pieces}, from {clock(most.span.from_s)}.")
    if course.count:
        parts.append(f"Counted by hand from {clock(course.count.spans[0].from_s)}.")
    return " ".join(parts)


def clock(seconds: float) -> str:
    """ "7:05" or "1:07:05"."""
    minutes, rest = divmod(max(0, int(seconds)), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def shortened(text: str) -> str:
    """A name that fits beside its row, cut between words."""
    if len(text) <= LONGEST_LABEL:
        return text
    cut = text[:LONGEST_LABEL]
    return f"{cut.rsplit(' ', 1)[0] if ' ' in cut else cut} …"


# --- parts --------------------------------------------------------------------------------------


def _rows(course: Timeline) -> list[tuple[Row, Look]]:
    timers = [Row(f"Timer: {row.name}", row.spans) for row in course.timers]
    count = [course.count] if course.count else []
    return [
        *((row, Look.STEP) for row in course.steps),
        *((row, Look.TIMER) for row in timers),
        *((row, Look.COUNT) for row in count),
    ]


def _told(level: Level) -> str:
    return f"{clock(level.span.from_s)} to {clock(level.span.to_s)}"


def _every(whole_s: float) -> int:
    """Seconds between two ticks."""
    return next((step for step in TICKS_S if whole_s / step <= MOST_TICKS), TICKS_S[-1])


def _explained(
    course: Timeline, y: float, left: float, on_line: int, marks: list[Mark], words: list[Words]
) -> float:
    """The marks that occur, so many on a line; the height below them."""
    found = {request.how for request in course.requests}
    named = [(LOOKS[how], f"asked, {how}") for how in How if how in found]
    named += [(Look.LOOKED, FACULTY)] if any(row.looks_s for row in course.steps) else []
    for number, (look, text) in enumerate(named):
        x = left + (number % on_line) * (1 - left) / on_line + MARGIN
        at = y + 26 * (number // on_line)
        marks.append(Mark(x, at - 5, look, text, key=True))
        words.append(Words(x, at, text, shift=14))
    return y + 26 * ((len(named) - 1) // on_line) + 10


ACCENT = "var(--accent, #07584a)"
FILLS = {
    Look.STEP: ACCENT,
    Look.TIMER: "var(--ask, #22409c)",
    Look.COUNT: "var(--ink, #10201b)",
    Look.SHARPS: "var(--warn, #8a2d12)",
}
EDGE = "var(--line, #b9c5bf)"
CARD = "var(--card, #fff)"
_SIZE = RADIUS_PX
FORMS: dict[Look, Sequence[tuple[float, float]]] = {
    Look.CHECKED: ((0, -_SIZE), (_SIZE, 0), (0, _SIZE), (-_SIZE, 0)),
    Look.LOOKED: ((-_SIZE, _SIZE), (0, -_SIZE), (_SIZE, _SIZE)),
}
"""Corners of the marks that have some, in px from the middle."""


def _share(x: float) -> str:
    return f"{100 * x:.2f}%"


def _rule_svg(rule: Rule) -> str:
    x, down = _share(rule.x), rule.y + rule.high
    far = x if rule.high else _share(1 - MARGIN)
    return f'<line x1="{x}" x2="{far}" y1="{rule.y:g}" y2="{down:g}" stroke="{EDGE}"/>'


def _bar_svg(bar: Bar) -> str:
    return (
        f'<rect x="{_share(bar.x)}" y="{bar.y:g}" width="{_share(bar.wide)}" height="{bar.high:.1f}" '
        f'rx="{3 if bar.look is not Look.SHARPS else 0}" fill="{FILLS[bar.look]}"'
        f"{_edge(bar.look)}><title>{escape(bar.told)}</title></rect>"
    )


def _edge(look: Look) -> str:
    return f' fill-opacity="0.25" stroke="{EDGE}"' if look is Look.STEP else ""


def _mark_svg(mark: Mark) -> str:
    shapes = {
        Look.ANSWERED: f'<circle r="{_SIZE}" fill="{ACCENT}" stroke="{CARD}" stroke-width="1.5"/>',
        Look.CHECKED: f'<path d="{_outline(Look.CHECKED)}" fill="{CARD}" stroke="var(--ask, #22409c)" '
        'stroke-width="2.5"/>',
        Look.UNDONE: f'<path d="M-5,-5L5,5M-5,5L5,-5" stroke="{CARD}" stroke-width="6"/>'
        '<path d="M-5,-5L5,5M-5,5L5,-5" stroke="var(--warn, #8a2d12)" stroke-width="3"/>',
        Look.LOOKED: f'<path d="{_outline(Look.LOOKED)}" fill="var(--lit, #ffd23c)" '
        'stroke="var(--ink, #10201b)" stroke-width="1.5"/>',
    }
    kind = "key" if mark.key else "look" if mark.look is Look.LOOKED else "request"
    return (
        f'<svg class="{kind}" x="{_share(mark.x)}" y="{mark.y:g}" overflow="visible">'
        f"<title>{escape(mark.told)}</title>{shapes[mark.look]}</svg>"
    )


def _outline(look: Look) -> str:
    return "M" + "L".join(f"{x:g},{y:g}" for x, y in FORMS[look]) + "Z"


def _words_svg(words: Words) -> str:
    anchor = ' text-anchor="middle"' if words.middle else ""
    shift = f' dx="{words.shift:g}"' if words.shift else ""
    halo = f'stroke="{CARD}" stroke-width="5" stroke-linejoin="round" paint-order="stroke"'
    return f'<text x="{_share(words.x)}" y="{words.y:g}"{anchor}{shift} {halo}>{escape(words.text)}</text>'
