"""The end of a session: what is still open in the count, who ends the session anyway, and why.

From the tray's state and the pack it makes the event that ends the session, or raises `NotCounted`, which
says what is short and what nobody has counted. Nothing here says that everything is there; the person who
counts does, and a named person may decide to end the session anyway.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from listen.chairside.count import CountLine, count_list
from listen.chairside.events import LONGEST_BY, LONGEST_REASON, Event, EventKind, Source, is_line
from listen.chairside.tray_state import TrayState
from vocab.errors import TraycallError
from vocab.pack.schema import Pack

NAMED = 8
"""How many lines a message names; the count shows all of them."""


class ClosingError(TraycallError):
    """A session that cannot be ended like this; the text says what to do."""


@dataclass(frozen=True)
class Unfinished:
    """How the count stands: lines that are short, must be counted and are not, or have more than was laid.

    Only the first two keep a session from ending. A line that is counted and short does so whatever it is; of
    lines that nobody counted, only sharps and what may stay in a mouth do (`CountLine.must`).
    """

    short: tuple[CountLine, ...] = ()
    uncounted: tuple[CountLine, ...] = ()
    beyond: tuple[CountLine, ...] = ()

    def __bool__(self) -> bool:
        """Whether anything keeps the session from ending."""
        return bool(self.short or self.uncounted)

    @property
    def text(self) -> str:
        """What is still open, as a sentence; "" if nothing is."""
        parts = []
        if self.short:
            parts.append(f"Short: {_named(self.short)}.")
        if self.uncounted:
            parts.append(f"Not counted: {_named(self.uncounted)}.")
        if self.beyond:
            parts.append(f"More than was laid and added: {_named(self.beyond)}.")
        return " ".join(parts)


class NotCounted(ClosingError):
    """The session cannot be ended yet: `unfinished` says what is open."""

    def __init__(self, unfinished: Unfinished) -> None:
        super().__init__(
            f"The session cannot be ended yet. {unfinished.text} Count them, or give the name of the person "
            "who decides to end it anyway, and the reason."
        )
        self.unfinished = unfinished


@dataclass(frozen=True)
class Override:
    """Who ends a session with something open, and why. That person types both; neither is ever proposed.

    Raises:
        ClosingError: one of them is empty, too long or more than one line.
    """

    by: str
    reason: str

    def __post_init__(self) -> None:
        for what, text, longest in (
            ("name of the person who decides", self.by, LONGEST_BY),
            ("reason", self.reason, LONGEST_REASON),
        ):
            if not is_line(text, longest):
                raise ClosingError(
                    f"give the {what}, on one line of at most {longest} characters; nothing about a patient."
                )


def open_lines(state: TrayState, pack: Pack) -> Unfinished:
    """How the count stands now."""
    lines = count_list(state, pack)
    return Unfinished(
        tuple(line for line in lines if line.short),
        tuple(line for line in lines if line.must and line.counted is None),
        tuple(line for line in lines if line.beyond),
    )


def close_event(
    state: TrayState,
    pack: Pack,
    at_s: float,
    source: Source = Source.TOUCH,
    override: Override | None = None,
) -> Event:
    """The event that ends the session. An override counts only where something is open.

    Raises:
        NotCounted: something is open, and nobody decided to end the session anyway.
    """
    found = open_lines(state, pack)
    if found and override is None:
        raise NotCounted(found)
    decided = override if found else None
    return Event(
        EventKind.CLOSED,
        at_s,
        source,
        by=decided.by if decided else None,
        reason=decided.reason if decided else None,
        short=len(found.short),
        uncounted=len(found.uncounted),
        beyond=len(found.beyond),
    )


def ending_text(short: int | None, uncounted: int | None, beyond: int | None) -> str:
    """How the count stood at the end, in a few words: "1 short, 3 not counted"; "" where nothing was open,
    "count not recorded" for sessions from before it was kept."""
    if short is None or uncounted is None or beyond is None:
        return "count not recorded"
    named = ((short, "short"), (uncounted, "not counted"), (beyond, "more than laid"))
    return ", ".join(f"{lines} {what}" for lines, what in named if lines)


def ending_named(unfinished: Unfinished) -> str:
    """The same with the names of what is short and of what is more: "short: matrix band (0 of 1); 3 not
    counted"."""
    parts = (
        f"short: {_named(unfinished.short)}" if unfinished.short else "",
        f"{len(unfinished.uncounted)} not counted" if unfinished.uncounted else "",
        f"more than laid: {_named(unfinished.beyond)}" if unfinished.beyond else "",
    )
    return "; ".join(filter(None, parts))


def _named(lines: Sequence[CountLine]) -> str:
    named = [
        line.name if line.counted is None else f"{line.name} ({line.counted} of {line.expected})"
        for line in lines[:NAMED]
    ]
    more = f" and {len(lines) - NAMED} more" if len(lines) > NAMED else ""
    return ", ".join(named) + more
