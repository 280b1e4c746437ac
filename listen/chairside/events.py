"""What happens at a chair, one record per event.

`Event` says who saw it (speech, touch, keyboard), when, and which item it is about. It is the only thing that
is ever kept of a session. It holds no sound, no words that were spoken and nothing about a patient: its only
texts are identifiers, slot addresses, short labels, and who ended a session early and why, on one line each;
anything longer is refused.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum

from vocab.errors import TraycallError


class EventError(TraycallError):
    """An event that cannot have happened; the text says which field is wrong."""


class EventKind(StrEnum):
    """What happened."""

    OPENED = "session_opened"
    CLOSED = "session_closed"
    ASKED = "asked"
    """a request was understood; `verdict` says whether it was answered or checked"""
    ACTION = "action"
    """something was to be done and nothing passed; `about` names it ("rinse")"""
    PASSED = "passed"
    RETURNED = "returned"
    WIPED = "wiped"
    """debris removed; the item is still contaminated"""
    DROPPED = "dropped"
    """contaminated, needs a sterile spare; still counted"""
    USED_UP = "used_up"
    IN_MOUTH = "in_mouth"
    """placed in the mouth: a throat pack, rolls, a clamp"""
    OUT_OF_MOUTH = "out_of_mouth"
    BROKEN = "broken"
    """in parts, a replacement is wanted; still one piece, counted when every part of it is there"""
    SHORT = "short"
    """somebody misses it; it is to be counted (again)"""
    ADDED = "added"
    """brought to the tray, clean"""
    CORRECTED = "corrected"
    """takes back the event `corrects`; both stay in the log"""
    TIMER_STARTED = "timer_started"
    TIMER_STOPPED = "timer_stopped"
    STEP = "step"
    """a step of the procedure is done (a faculty check); `about` names the step, `by` who looked"""
    CHECKED = "checked"
    """a set-up question was answered; `about` names it, `good` is the answer"""
    COUNTED = "counted"
    """somebody counted by hand; `quantity` is what they found, 0 included; `about` is how, see `CountedAs`"""
    INJURY_CARD = "injury_card"
    """the card for a sharps injury was opened; nothing about a person is kept"""


class Source(StrEnum):
    """How an event came in."""

    SPEECH = "speech"
    TOUCH = "touch"
    KEYBOARD = "keyboard"


class CountedAs(StrEnum):
    """How a line was counted together with others, in one touch; a line by itself has none of these."""

    ALL_HERE = "all here"
    NOT_OPENED = "not opened"
    AS_SAID = "as said"


_NEEDS_ITEM = frozenset(
    {
        EventKind.ASKED,
        EventKind.PASSED,
        EventKind.RETURNED,
        EventKind.WIPED,
        EventKind.DROPPED,
        EventKind.USED_UP,
        EventKind.IN_MOUTH,
        EventKind.OUT_OF_MOUTH,
        EventKind.BROKEN,
        EventKind.SHORT,
        EventKind.ADDED,
        EventKind.COUNTED,
    }
)
_NEEDS_ABOUT = frozenset(
    {
        EventKind.ACTION,
        EventKind.TIMER_STARTED,
        EventKind.TIMER_STOPPED,
        EventKind.STEP,
        EventKind.CHECKED,
    }
)
_COUNTED_AS = frozenset(CountedAs)
_IDENTIFIER = re.compile(r"[a-z][a-z0-9_]{0,79}")
_LABEL = re.compile(r"[^\x00-\x1f]{1,40}")
LONGEST_SIZE, LONGEST_BY, LONGEST_REASON = 40, 80, 200
"""In characters."""
_DIRECTIONS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_CONTROLS = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Unicode categories: control characters, surrogates, ends of lines and paragraphs."""
MOST_PIECES = 1000
"""A larger quantity is a slip of the finger."""


@dataclass(frozen=True)
class Event:
    """One event.

    at_s: seconds since 1970 in UTC, from a clock passed in; seq: its number in the session, 1, 2, 3 ...
    (0 until the log has given one); item: id; quantity: pieces (a count may be 0); slot: address on the
    tray; about: name of an action, timer, step or set-up question, or how a line was counted; seconds_s:
    length of a timer; verdict: "answer" or "check" of a request; predicted: ids that were expected before a
    request, likeliest first; good: answer to a set-up question; corrects: seq of the event that is taken
    back; size: which variant of the item; by: who ended a session with something open, or who looked at a
    step; reason: why it was ended so; short, uncounted, beyond: when closing, how many lines of the count
    were short, were not counted, and had more than was laid (None where a log of an earlier version did not
    say).

    Raises:
        EventError: a field is missing, or holds what does not belong there.
    """

    kind: EventKind
    at_s: float
    source: Source
    item: str | None = None
    quantity: int = 1
    slot: str | None = None
    about: str | None = None
    seconds_s: float | None = None
    verdict: str | None = None
    predicted: tuple[str, ...] = ()
    good: bool | None = None
    corrects: int | None = None
    size: str | None = None
    by: str | None = None
    reason: str | None = None
    short: int | None = None
    uncounted: int | None = None
    beyond: int | None = None
    seq: int = 0

    def __post_init__(self) -> None:
        kind = self.kind.value
        if not math.isfinite(self.at_s):
            raise EventError(f"{kind}: the time must be a number of seconds, not {self.at_s}.")
        if (self.item is None) == (self.kind in _NEEDS_ITEM):
            raise EventError(
                f"{kind}: " + ("an item is missing." if self.item is None else "must not name an item.")
            )
        together = self.kind is EventKind.COUNTED and self.about in _COUNTED_AS
        if not together and (self.about is None) == (self.kind in _NEEDS_ABOUT):
            raise EventError(
                f"{kind}: "
                + (
                    "does not say what it is about."
                    if self.about is None
                    else "must not name what it is about."
                )
            )
        if (self.corrects is None) == (self.kind is EventKind.CORRECTED):
            raise EventError(f"{kind}: only a correction, and every correction, names an earlier event.")
        if (self.verdict is None) == (self.kind is EventKind.ASKED) or self.verdict not in (
            None,
            "answer",
            "check",
        ):
            raise EventError(f"{kind}: only a request has a verdict, answer or check, not {self.verdict!r}.")
        if (self.good is None) == (self.kind is EventKind.CHECKED):
            raise EventError(f"{kind}: only a set-up question, and every one, has an answer.")
        if (self.seconds_s is None) == (self.kind is EventKind.TIMER_STARTED):
            raise EventError(f"{kind}: only the start of a timer, and every one, has a length.")
        if self.seconds_s is not None and not 0 < self.seconds_s < math.inf:
            raise EventError(f"{kind}: a timer needs a number of seconds above 0, not {self.seconds_s}.")
        least = 0 if self.kind is EventKind.COUNTED else 1
        if not least <= self.quantity <= MOST_PIECES:
            raise EventError(f"{kind}: the number of pieces must be between {least} and {MOST_PIECES}.")
        for identifier in (self.item, *self.predicted):
            if identifier is not None and not _IDENTIFIER.fullmatch(identifier):
                raise EventError(f"{kind}: {identifier!r} is not an item id.")
        for label in (self.slot, self.about):
            if label is not None and not _LABEL.fullmatch(label):
                raise EventError(f"{kind}: a label has at most 40 characters on one line.")
        self._check_words()
        if self.seq < 0 or (self.corrects is not None and not 0 < self.corrects < (self.seq or math.inf)):
            raise EventError(f"{kind}: only an earlier event can be undone.")

    def _check_words(self) -> None:
        """Check who ended it and why, which variant it is about, and how the count stood then."""
        kind, closing = self.kind.value, self.kind is EventKind.CLOSED
        if self.size is not None and self.item is None:
            raise EventError(f"{kind}: only an item has a size.")
        if self.by is not None and not closing and self.kind is not EventKind.STEP:
            raise EventError(f"{kind}: only the end of a session and a step say who it was.")
        if (self.reason is not None and not closing) or (
            closing and (self.by is None) != (self.reason is None)
        ):
            raise EventError(f"{kind}: a name and a reason go together, at the end of a session only.")
        for what, text, longest in (
            ("size", self.size, LONGEST_SIZE),
            ("name", self.by, LONGEST_BY),
            ("reason", self.reason, LONGEST_REASON),
        ):
            if text is not None and not is_line(text, longest):
                raise EventError(f"{kind}: the {what} takes 1 to {longest} characters on one line.")
        counts = (self.short, self.uncounted, self.beyond)
        if any(count is not None and (not closing or count < 0) for count in counts):
            raise EventError(f"{kind}: only the end of a session says how the count stood.")


def is_line(text: str, longest: int) -> bool:
    """Whether a text is one line that says something: nothing in it ends a line or reverses other text."""
    plain = all(c not in _DIRECTIONS and unicodedata.category(c) not in _CONTROLS for c in text)
    return plain and any(c.isalnum() for c in text) and len(text) <= longest


def effective(events: tuple[Event, ...]) -> tuple[Event, ...]:
    """The events that still stand, in order, without corrections and what they took back.

    A correction may itself be taken back; then what it took back stands again.
    """
    gone: set[int] = set()
    standing: list[Event] = []
    for event in reversed(events):
        if event.seq in gone:
            continue
        if event.corrects is not None:
            gone.add(event.corrects)
        else:
            standing.append(event)
    return tuple(reversed(standing))


def taking_back(wrong: Event, events: tuple[Event, ...], at_s: float, source: Source) -> tuple[Event, ...]:
    """The corrections that take back an event: of a request for another piece also that it was brought."""
    standing = effective(events)
    before = standing[: standing.index(wrong)] if wrong in standing else ()
    brought = before[-1:] if wrong.kind is EventKind.ASKED else ()
    both = [wrong, *(e for e in brought if is_brought_for(e, wrong))]
    return tuple(Event(EventKind.CORRECTED, at_s, source, corrects=event.seq) for event in both)


def is_brought_for(brought: Event, asked: Event) -> bool:
    """Whether this piece was noted as brought by the very request."""
    same = (brought.item, brought.at_s, brought.source) == (asked.item, asked.at_s, asked.source)
    return brought.kind is EventKind.ADDED and same
