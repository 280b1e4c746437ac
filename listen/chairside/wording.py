"""What happened at a chair in words, the same on screens, in the terminal and in reports."""

from __future__ import annotations

from collections.abc import Callable

from listen.chairside.events import Event, EventKind
from vocab.pack.schema import Pack

_WHAT: dict[EventKind, Callable[[Event], str]] = {
    EventKind.OPENED: lambda e: "session opened",
    EventKind.CLOSED: lambda e: "session closed",
    EventKind.ASKED: lambda e: "asked, answered" if e.verdict == "answer" else "asked, to be checked",
    EventKind.ACTION: lambda e: "action asked",
    EventKind.PASSED: lambda e: "passed",
    EventKind.RETURNED: lambda e: "returned",
    EventKind.WIPED: lambda e: "wiped",
    EventKind.DROPPED: lambda e: "fell",
    EventKind.USED_UP: lambda e: "used up",
    EventKind.IN_MOUTH: lambda e: "placed in the mouth",
    EventKind.OUT_OF_MOUTH: lambda e: "out of the mouth",
    EventKind.BROKEN: lambda e: "broke",
    EventKind.SHORT: lambda e: "noted as missing",
    EventKind.ADDED: lambda e: "added",
    EventKind.CORRECTED: lambda e: "corrected",
    EventKind.TIMER_STARTED: lambda e: "timer started",
    EventKind.TIMER_STOPPED: lambda e: "timer stopped",
    EventKind.STEP: lambda e: "faculty check",
    EventKind.CHECKED: lambda e: "set-up check",
    EventKind.COUNTED: lambda e: "counted by hand",
    EventKind.INJURY_CARD: lambda e: "sharps-injury card opened",
}


def what_happened(event: Event) -> str:
    """The kind of an event in words: "returned", "placed in the mouth"."""
    return _WHAT[event.kind](event)


def to_take_back(event: Event, pack: Pack) -> str:
    """What "undo" takes back, an event about an item: "mouth mirror, asked for"."""
    item = event.item or ""
    named = pack.called.get(item) or item.replace("_", " ")
    sized = f"{named} {event.size}" if event.size else named
    many = f" ({event.quantity})" if event.quantity > 1 else ""
    what = "asked for" if event.kind is EventKind.ASKED else what_happened(event)
    return f"{sized}{many}, {what}"
