"""Returns and falls in what an engine heard, though it writes them badly.

Comes in: the free text, the best phrasing of the closed vocabulary where that is believed, and the state of
the tray. Goes out: events, and what is left to be answered. What only one of the two says counts only of an
item that can be meant: what came back must have been out. So talk changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from listen.chairside.events import Event, EventKind, Source
from listen.chairside.returns import Told, events_of, fits, understand, unknown_names
from listen.chairside.state import TrayState
from listen.chairside.timers import LONGEST_NAME, MISHEARD, Far
from vocab.lexicon import Lexicon

_POINTED = frozenset({EventKind.RETURNED, EventKind.DROPPED, EventKind.WIPED, EventKind.USED_UP})
"""Of these "it" and "that one" are believed; "brought it" is mostly talk."""
_MISHEARD = frozenset({EventKind.RETURNED, EventKind.DROPPED})
"""Of these a name may be misheard, as the few items that are out are all it can be."""
UNLIKE = 0.15
"""So much further away must the next item sound."""


@dataclass(frozen=True)
class SpokenReturns:
    """Events to keep, and the rest of the text, which may hold requests."""

    events: tuple[Event, ...]
    rest: str


def spoken_returns(
    free_text: str,
    believed: Callable[[], str],
    lexicon: Lexicon,
    state: TrayState,
    at_s: float,
    far: Far,
) -> SpokenReturns | None:
    """What was told by voice; None where nothing was, and no events where it fits nothing that is out.

    Args:
        believed: the best phrasing of the closed vocabulary, "" if that is unlikely to have been said.
        far: how far apart two texts sound, 0 to 1.
    """
    heard = understand(free_text, lexicon)
    phrasing = believed()
    second = tuple(told for told in understand(phrasing, lexicon).told if told.candidates)
    if heard.told:
        events = events_of(heard.told, state, at_s)
        if not _agree(heard.told, second):
            events = _possible(events, heard.told, state)
        return SpokenReturns(events, heard.rest)
    events = _possible(events_of(second, state, at_s), second, state)
    if events:
        return SpokenReturns(events, "")
    misheard = _misheard(free_text, lexicon, state, far)
    if misheard is None:
        return None
    kind, item = misheard
    return SpokenReturns((Event(kind, at_s, Source.SPEECH, item=item),), "")


def _agree(one: tuple[Told, ...], other: tuple[Told, ...]) -> bool:
    """Whether both say the same of the same things."""
    return [_what(told) for told in one] == [_what(told) for told in other]


def _what(told: Told) -> tuple[EventKind, str | None]:
    return told.kind, told.candidates[0].item if told.candidates else None


def _possible(events: tuple[Event, ...], told: tuple[Told, ...], state: TrayState) -> tuple[Event, ...]:
    """The events that can have happened; none where something was pointed at that is mostly talk."""
    if any(not one.candidates and one.kind not in _POINTED | {EventKind.CORRECTED} for one in told):
        return ()
    return tuple(event for event in events if event.item is None or fits(event.kind, state.of(event.item)))


def _misheard(free_text: str, lexicon: Lexicon, state: TrayState, far: Far) -> tuple[EventKind, str] | None:
    """The item that is out and sounds like what was written in place of a name."""
    known = {item.id: item for item in lexicon.pack.items}
    for kind, said in unknown_names(free_text):
        if kind not in _MISHEARD or len(said.split()) > LONGEST_NAME:
            continue
        apart = {
            item: min(far(said, text) for name in known[item].names for text in (name.text, *name.say))
            for item in state.out
            if item in known
        }
        ranked = sorted(apart, key=lambda item: apart[item])
        if ranked and apart[ranked[0]] <= MISHEARD:
            if len(ranked) > 1 and apart[ranked[1]] - apart[ranked[0]] < UNLIKE:
                return None
            return kind, ranked[0]
    return None
