"""Returns, falls, wiping and what is in the mouth, from what an engine heard, though it writes them badly.

It takes the free text, the best phrasing of the closed vocabulary and the state of the tray, and gives
events and what is left to be answered. Where the two do not plainly say the same, only an item that can be
meant counts: what came back must have been out. So talk changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from listen.chairside.events import Event, EventKind, Source
from listen.chairside.returns import (
    MOUTH,
    Told,
    events_of,
    fits,
    goes_in_a_mouth,
    is_pointer,
    return_events,
    understand,
    unknown_names,
)
from listen.chairside.timers import LONGEST_NAME, MISHEARD, Far
from listen.chairside.tray_state import TrayState
from vocab.language.by_language import read_words, tables
from vocab.requests.lexicon import Lexicon
from vocab.requests.sentence import Became
from vocab.requests.understand import understand as request_of

_POINTED = frozenset({EventKind.RETURNED, EventKind.DROPPED, EventKind.WIPED, EventKind.USED_UP})
"""With these, "it" and "that one" are believed; "brought it" is mostly talk."""
_MISHEARD = frozenset({EventKind.RETURNED, EventKind.DROPPED})
"""With these a name may be misheard, as only the few items that are out can be meant."""
_OF_LABEL = {"back": EventKind.RETURNED, "fell": EventKind.DROPPED}
"""The kinds of event by the intent judge's labels."""
_NAMED = _MISHEARD | MOUTH | {EventKind.WIPED}
"""With these a name may be misheard if the best phrasing names an item that sounds like it."""
UNLIKE = 0.15
"""How much further away the next item must sound."""
NAMED, MOST_WORDS = 0.4, 5
"""Where the best phrasing names an item, how much of what was written for it may be wrong, and in how many
words; a single word is held to `MISHEARD`."""
ALIKE = 0.26
"""A word this close in sound to a word of the forms may be it ("the probe black"); tuning voices: 0.16 to
0.25."""
_WIPE, WIPE_ALIKE = "wipe", 0.34
"""The same for an order to wipe ("why the probe"), the action of this name."""


@dataclass(frozen=True)
class SpokenReturns:
    """Events to keep, and the rest of the text, which may hold requests."""

    events: tuple[Event, ...]
    rest: str


def spoken_returns(
    free_text: str,
    phrasing: str,
    believed: Callable[[], bool],
    lexicon: Lexicon,
    state: TrayState,
    at_s: float,
    far: Far,
) -> SpokenReturns | None:
    """What was told by voice; None where nothing was, and no events where it fits nothing that is out.

    Args:
        phrasing: the best of the closed vocabulary, "" for none; believed: whether that phrasing, or any
            other of the vocabulary, is likely to have been said.
        far: how far apart two texts sound, 0 to 1.
    """
    heard = understand(free_text, lexicon)
    second = _second(phrasing, believed, lexicon)
    plain = events_of(heard.told, state, at_s)
    if not _agree(heard.told, second):
        plain = _possible(plain, heard.told, state)
    if plain:
        return SpokenReturns(plain, heard.rest)
    events = _possible(events_of(second, state, at_s), second, state)
    if events and not heard.told:
        return SpokenReturns(events, "")
    wiped = _to_wipe(free_text, lexicon, state, far)
    if wiped is not None:
        return SpokenReturns((), wiped)
    misheard = (
        _miswritten(free_text, lexicon, state, far)
        or _named(free_text, phrasing, lexicon, state, far)
        or _misheard(free_text, lexicon, state, far)
    )
    if misheard is not None:
        kind, item = misheard
        return SpokenReturns((Event(kind, at_s, Source.SPEECH, item=item),), "")
    return SpokenReturns((), heard.rest) if heard.told else None


def typed_returns(
    text: str,
    judged: Callable[[], Iterable[Became]],
    lexicon: Lexicon,
    state: TrayState,
    at_s: float,
    source: Source,
) -> tuple[Event, ...]:
    """What was typed about items; where the known forms find nothing possible, as the intent judge has it."""
    plain = return_events(text, lexicon, state, at_s, source)
    if plain and all(event.item is None or fits(event.kind, state.of(event.item)) for event in plain):
        return plain
    return events_of_judged(judged(), state, at_s, source) or plain


def events_of_judged(
    told: Iterable[Became], state: TrayState, at_s: float, source: Source = Source.SPEECH
) -> tuple[Event, ...]:
    """What was told about items in free words, as far as it can have happened: the item was out."""
    events = []
    for one in told:
        kind = _OF_LABEL[one.label]
        fitting = [candidate.item for candidate in one.candidates if fits(kind, state.of(candidate.item))]
        events += [Event(kind, at_s, source, item=item) for item in fitting if len(fitting) == 1]
    return tuple(events)


def _second(phrasing: str, believed: Callable[[], bool], lexicon: Lexicon) -> tuple[Told, ...]:
    """What the phrasing tells about named items, if it is believed."""
    told = tuple(one for one in understand(phrasing, lexicon).told if one.candidates)
    return told if told and believed() else ()


def _agree(one: tuple[Told, ...], other: tuple[Told, ...]) -> bool:
    """Whether both say the same about the same items."""
    return [_what(told) for told in one] == [_what(told) for told in other]


def _what(told: Told) -> tuple[EventKind, str | None]:
    return told.kind, told.candidates[0].item if told.candidates else None


def _possible(events: tuple[Event, ...], told: tuple[Told, ...], state: TrayState) -> tuple[Event, ...]:
    """The events that can have happened; none where something is pointed at in what is mostly talk."""
    if any(not one.candidates and one.kind not in _POINTED | {EventKind.CORRECTED} for one in told):
        return ()
    return tuple(event for event in events if event.item is None or fits(event.kind, state.of(event.item)))


def _misheard(free_text: str, lexicon: Lexicon, state: TrayState, far: Far) -> tuple[EventKind, str] | None:
    """The item that is out and sounds like what was written in place of a name."""
    for kind, said in unknown_names(free_text, lexicon.pack.language):
        if kind not in _MISHEARD or len(said.split()) > LONGEST_NAME:
            continue
        apart = {item: _nearest(said, item, lexicon, far) for item in state.out if item in lexicon.pack.by_id}
        ranked = sorted(apart, key=lambda item: apart[item])
        if ranked and apart[ranked[0]] <= MISHEARD:
            if len(ranked) > 1 and apart[ranked[1]] - apart[ranked[0]] < UNLIKE:
                return None
            return kind, ranked[0]
    return None


def _to_wipe(free_text: str, lexicon: Lexicon, state: TrayState, far: Far) -> str | None:
    """The order to wipe "it", or an item ("wipe the explorer") that is out or has come back."""
    language = lexicon.pack.language
    known = tables(language).returns
    first, *rest = read_words(free_text, language) or ("",)
    if first == known.wipe and is_pointer(tuple(rest), language):
        return known.wipe_it
    if not rest or far(first, known.wipe) > WIPE_ALIKE:
        return None
    said = " ".join((known.wipe, *(word for word in rest if word not in known.articles)))
    for request in request_of(said, lexicon, lexicon.pack.speech):
        if request.action == _WIPE and request.candidates:
            near = [c.item for c in request.candidates if state.of(c.item).out or state.of(c.item).to_wipe]
            return known.wipe_one.format(lexicon.pack.item(near[0]).name.text) if near else None
    return None


def _miswritten(free_text: str, lexicon: Lexicon, state: TrayState, far: Far) -> tuple[EventKind, str] | None:
    """What is told if one word of the text is taken for a word of the forms: "the hatchet is white" for
    wiped."""
    known = tables(lexicon.pack.language).returns
    said = read_words(free_text, lexicon.pack.language)
    for at, word in enumerate(said):
        for meant in known.misheard:
            if word != meant and word not in known.as_written and far(word, meant) <= ALIKE:
                text = " ".join((*said[:at], meant, *said[at + 1 :]))
                for told in understand(text, lexicon).told if "?" not in free_text else ():
                    fitting = [c.item for c in told.candidates if fits(told.kind, state.of(c.item))]
                    if len(fitting) == 1:
                        return told.kind, fitting[0]
    return None


def _named(
    free_text: str, phrasing: str, lexicon: Lexicon, state: TrayState, far: Far
) -> tuple[EventKind, str] | None:
    """What the text tells about an unknown name, if the item that the phrasing names sounds like it."""
    requests = request_of(phrasing, lexicon, lexicon.pack.speech)
    if len(requests) != 1:
        return None
    for kind, said in unknown_names(free_text, lexicon.pack.language):
        length = len(said.split())
        if kind not in _NAMED or length > MOST_WORDS:
            continue
        for candidate in requests[0].candidates:
            if kind in MOUTH and not goes_in_a_mouth(lexicon, candidate.item):
                continue
            near = _nearest(said, candidate.item, lexicon, far)
            if fits(kind, state.of(candidate.item)) and near <= (NAMED if length > 1 else MISHEARD):
                return kind, candidate.item
    return None


def _nearest(said: str, item: str, lexicon: Lexicon, far: Far) -> float:
    """How far a text is from the nearest name of an item."""
    return min(far(said, text) for text in lexicon.pack.item(item).ways_to_say)
