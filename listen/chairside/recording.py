"""From an answer of the assistant to the events that are kept of it.

It takes a `listen.answer.Answer` and what was expected before it, and gives events with the item, the verdict
and the prediction, never the words. A quiet answer leaves nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from listen.answer import Answer
from listen.chairside.events import LONGEST_SIZE, Event, EventKind, Source, effective, is_line, taking_back
from listen.chairside.returns import fits, pointed_at
from listen.chairside.tray_state import TrayState
from listen.verdict import Verdict
from vocab.language.english import MORE

WIPE = "wipe"
"""The pack's action of that name."""


def asked_events(
    answer: Answer, state: TrayState, predicted: Sequence[str], at_s: float, source: Source = Source.SPEECH
) -> tuple[Event, ...]:
    """What to append for one answer.

    Args:
        predicted: ids that were expected before this request, likeliest first (`next` of the answer
            before).
        at_s: seconds since 1970.

    Returns:
        () where nothing was asked for; a correction first takes back the request that it corrects; of an item
        whose pieces are all away "another one" is first noted as brought.
    """
    if answer.verdict is Verdict.QUIET:
        return ()
    out: list[Event] = []
    if answer.replaces is not None and answer.verdict is Verdict.ANSWER:
        wrong = last_asked(state, answer.replaces)
        if wrong is not None:
            out += taking_back(wrong, state.events, at_s, source)
    if answer.action == WIPE and answer.verdict is Verdict.ANSWER:
        return (*out, *_wiped(answer, state, at_s, source))
    if answer.item is not None:
        if answer.verdict is Verdict.ANSWER and one_more(answer, state):
            out.append(Event(EventKind.ADDED, at_s, source, item=answer.item, quantity=answer.quantity or 1))
        out.append(
            Event(
                EventKind.ASKED,
                at_s,
                source,
                item=answer.item,
                quantity=max(1, answer.quantity or 1),
                slot=answer.slot,
                size=_kept(answer.size),
                verdict=answer.verdict.value,
                predicted=tuple(predicted),
            )
        )
    elif answer.action is not None and answer.verdict is Verdict.ANSWER:
        out.append(Event(EventKind.ACTION, at_s, source, about=answer.action))
    return tuple(out)


def one_more(answer: Answer, state: TrayState) -> bool:
    """Whether another piece than those laid is asked for in so many words, so that one has to be brought."""
    if answer.item is None or answer.kind == "action":
        return False
    held = state.of(answer.item)
    said = answer.kind == "repeat" or not MORE.isdisjoint(answer.heard.lower().split())
    return said and held.total > 0 and held.clean + held.back == 0


def _wiped(answer: Answer, state: TrayState, at_s: float, source: Source) -> Iterator[Event]:
    """An order to wipe asks for no item; the item counts as wiped at once if it is known to need wiping."""
    yield Event(EventKind.ACTION, at_s, source, about=WIPE)
    item = answer.item or pointed_at(EventKind.WIPED, state)
    if item is not None and fits(EventKind.WIPED, state.of(item)):
        yield Event(EventKind.WIPED, at_s, source, item=item)


def _kept(size: str | None) -> str | None:
    """The size, unless it is too long to be one."""
    return size if size is not None and is_line(size, LONGEST_SIZE) else None


def last_asked(state: TrayState, item: str) -> Event | None:
    """The last request for an item that has not been taken back."""
    return next(
        (e for e in reversed(effective(state.events)) if e.kind is EventKind.ASKED and e.item == item), None
    )
