"""Where each item is believed to be: the fold of a session's events.

From the events in order, the tray as it was laid and the pack it makes a `TrayState`. Most passes at the
chair are silent, so the state is an estimate and says so; only a physical count decides. Nothing here reads a
clock, keeps a file or forgets: a correction folds the events again without the one it takes back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

from listen.chairside.events import Event, EventError, EventKind, effective
from vocab.pack.schema import Item, ItemClass, Pack, Reprocessing, Tray

_WIPED_CLASSES = frozenset(
    {ItemClass.EXAMINATION, ItemClass.HAND_CUTTING, ItemClass.PLACING, ItemClass.SURGICAL}
)


@dataclass(frozen=True)
class Holding:
    """Where the pieces of one item are believed to be; the first six numbers add up to all there are.

    clean: on the tray, not used; out: with the operator or in the mouth; back: returned, contaminated;
    dropped: fallen, contaminated, put aside; used_up: empty or thrown away; broken: in parts, put aside. Of
    those out, `presumed` are counted as out because they were asked for, although nobody said that they were
    passed, and `in_mouth` were recorded as placed in the mouth; of those back, `to_wipe` carry debris;
    `to_replace` is how many spares are wanted.
    """

    clean: int = 0
    out: int = 0
    back: int = 0
    dropped: int = 0
    used_up: int = 0
    broken: int = 0
    presumed: int = 0
    in_mouth: int = 0
    to_wipe: int = 0
    to_replace: int = 0

    @property
    def total(self) -> int:
        """Every piece that came to the chair."""
        return self.clean + self.out + self.back + self.dropped + self.used_up + self.broken


@dataclass(frozen=True)
class TrayState:
    """The estimate after `events`.

    holdings: by item, in the order of the tray and then of appearance; last_item: what "it" and "that
    one" mean; counted: what a hand count found, by item, as long as none of it has gone out since;
    missed: pieces that somebody misses and nobody has counted since; empty: see `spare_wanted`; steps: steps
    said to be done; checks: answers to set-up questions; events: all of them, corrections included.
    """

    holdings: Mapping[str, Holding]
    last_item: str | None = None
    counted: Mapping[str, int] = field(default_factory=dict)
    missed: Mapping[str, int] = field(default_factory=dict)
    empty: frozenset[str] = frozenset()
    steps: tuple[str, ...] = ()
    checks: Mapping[str, bool] = field(default_factory=dict)
    events: tuple[Event, ...] = ()
    ground: Ground | None = field(default=None, repr=False, compare=False)

    def of(self, item: str) -> Holding:
        """Where this item's pieces are; all zero for an item that never came to the chair."""
        return self.holdings.get(item, Holding())

    @property
    def out(self) -> dict[str, int]:
        """Items believed to be with the operator or in the mouth, with how many."""
        return {item: h.out for item, h in self.holdings.items() if h.out}

    @property
    def in_mouth(self) -> dict[str, int]:
        """Items that were recorded as placed in the mouth and not as out of it."""
        return {item: h.in_mouth for item, h in self.holdings.items() if h.in_mouth}

    @property
    def broken(self) -> dict[str, int]:
        """Items that broke."""
        return {item: h.broken for item, h in self.holdings.items() if h.broken}

    @property
    def to_wipe(self) -> dict[str, int]:
        """Items that came back and are waiting to be wiped."""
        return {item: h.to_wipe for item, h in self.holdings.items() if h.to_wipe}

    @property
    def to_replace(self) -> dict[str, int]:
        """Items that need a sterile spare."""
        return {item: h.to_replace for item, h in self.holdings.items() if h.to_replace}

    @property
    def asked_for(self) -> frozenset[str]:
        """Items of which a request stands that was answered."""
        asked = (e for e in effective(self.events) if e.kind is EventKind.ASKED and e.verdict == "answer")
        return frozenset(event.item for event in asked if event.item is not None)

    @property
    def last_standing(self) -> Event | None:
        """The last event about an item that has not been taken back: what "undo" takes back."""
        return next((e for e in reversed(effective(self.events)) if e.item is not None), None)


@dataclass(frozen=True, eq=False)
class Ground:
    """What does not change during a session: the state it began with, and what kind of thing each item is."""

    start: TrayState
    items: Mapping[str, Item]

    def is_used_once(self, item: str) -> bool:
        """True where asking for one more means another piece, not the same one again."""
        return item not in self.items or self.items[item].reprocessing is Reprocessing.SINGLE_USE

    def is_empty(self, item: str, holding: Holding) -> bool:
        """True where whoever reaches for it finds none that can be given, and none is in a hand either."""
        if self.is_used_once(item):
            return holding.total > 0 and not holding.clean
        return holding.total > 0 and not holding.clean + holding.back and holding.out < holding.total

    def is_wiped(self, item: str) -> bool:
        """True for hand instruments."""
        known = self.items.get(item)
        return (
            known is not None
            and known.item_class in _WIPED_CLASSES
            and known.reprocessing is Reprocessing.STERILISE
        )


def start(tray: Tray | None, pack: Pack) -> TrayState:
    """The tray as it was laid; without a tray nothing is known to be there."""
    holdings: dict[str, Holding] = {}
    for slot in tray.slots if tray else ():
        before = holdings.get(slot.item, Holding())
        holdings[slot.item] = replace(before, clean=before.clean + slot.count)
    first = TrayState(holdings)
    return replace(first, ground=Ground(first, pack.by_id))


def fold(events: Iterable[Event], tray: Tray | None, pack: Pack) -> TrayState:
    """The state after all events."""
    state = start(tray, pack)
    for event in events:
        state = apply(state, event)
    return state


def apply(state: TrayState, event: Event) -> TrayState:
    """The state after one more event.

    Raises:
        EventError: a correction of an event that is not there.
    """
    if state.ground is None:
        raise ValueError("a state begins with start() or fold()")
    events = (*state.events, event)
    if event.corrects is None:
        return replace(_moved(state, event, state.ground), events=events)
    if all(earlier.seq != event.corrects for earlier in state.events):
        raise EventError(f"there is no event {event.corrects} to take back.")
    again = replace(state.ground.start, ground=state.ground)
    for standing in effective(events):
        again = _moved(again, standing, state.ground)
    return replace(again, events=events)


def spare_wanted(state: TrayState, item: str) -> bool:
    """Whether the last request for this item found its place empty, so that a sterile one must be fetched.

    True where every piece had fallen, broken or been used up, or had been given out if it is used only once,
    and nothing has been brought since. False where it never came to the chair, and for an instrument that was
    merely out: it is in a hand.
    """
    return item in state.empty


def estimate_text(state: TrayState, pack: Pack) -> str:
    """The estimate as text; it says that it is an estimate, and never that nothing is missing."""
    lines = ["Estimate from what was said and touched; only a physical count decides."]
    for what, items in (
        ("Believed out", state.out),
        ("Noted as still in the mouth", state.in_mouth),
        ("Noted as missing, and not counted since", state.missed),
        ("Broken; count it as one, with every part", state.broken),
        ("Waiting to be wiped (wiped is still contaminated)", state.to_wipe),
        ("Fallen or broken; take a sterile spare; the old one is still counted", state.to_replace),
    ):
        if items:
            lines.append(f"{what}: {listed(items, pack)}.")
    if not state.out:
        lines.append("Nothing is noted as still out. That does not mean that nothing is: count.")
    return "\n".join(lines)


def listed(items: Mapping[str, int], pack: Pack) -> str:
    """ "mouth mirror, cotton roll (2)"."""
    return ", ".join(
        pack.called.get(item, item) + (f" ({count})" if count > 1 else "") for item, count in items.items()
    )


# --- one event ----------------------------------------------------------------------------------


def _moved(state: TrayState, event: Event, ground: Ground) -> TrayState:
    if event.kind is EventKind.STEP and event.about:
        return replace(state, steps=(*state.steps, event.about))
    if event.kind is EventKind.CHECKED and event.about:
        return replace(state, checks={**state.checks, event.about: bool(event.good)})
    if event.item is None:
        return state
    if event.kind is EventKind.COUNTED:
        missed = _without(state.missed, event.item)
        return replace(state, counted={**state.counted, event.item: event.quantity}, missed=missed)
    if event.kind is EventKind.ASKED and event.verdict != "answer":
        return state
    if event.kind in _COUNTED_AGAIN:
        state = replace(state, counted=_without(state.counted, event.item))
    if event.kind is EventKind.SHORT:
        missed = {**state.missed, event.item: state.missed.get(event.item, 0) + event.quantity}
        return replace(state, missed=missed, last_item=event.item)
    before = state.of(event.item)
    holding = _MOVES[event.kind](before, event.quantity, event.item, ground)
    reached_for = before if event.kind in _REACHED_FOR else holding
    place = frozenset({event.item})
    empty = state.empty | place if ground.is_empty(event.item, reached_for) else state.empty - place
    holdings = {**state.holdings, event.item: holding}
    return replace(state, holdings=holdings, last_item=event.item, empty=empty)


_REACHED_FOR = frozenset({EventKind.ASKED, EventKind.PASSED, EventKind.IN_MOUTH})


_COUNTED_AGAIN = frozenset(
    {EventKind.ASKED, EventKind.PASSED, EventKind.IN_MOUTH, EventKind.BROKEN, EventKind.SHORT}
)
"""After these an earlier count of the item no longer holds."""


def _without(counts: Mapping[str, int], item: str) -> dict[str, int]:
    return {other: count for other, count in counts.items() if other != item}


def _asked(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """What is asked for is presumed passed, as nobody says so."""
    after = _taken(holding, quantity, item, ground)
    return replace(after, presumed=min(after.out, holding.presumed + quantity))


def _passed(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """Confirms what was presumed; only what goes beyond it moves."""
    confirmed = min(quantity, holding.presumed)
    holding = replace(holding, presumed=holding.presumed - confirmed)
    return _taken(holding, quantity - confirmed, item, ground)


def _taken(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """Pieces go out: clean ones, then instruments that had come back, and never more than there are.

    What never lay at the chair must have been brought when it is first asked for.
    """
    once = ground.is_used_once(item)
    brought = 0 if holding.total else quantity if once else 1
    fresh = min(quantity, holding.clean)
    again = 0 if once else min(quantity - fresh, holding.back)
    back = holding.back - again
    return replace(
        holding,
        clean=holding.clean - fresh,
        back=back,
        out=holding.out + fresh + again + brought,
        to_wipe=min(holding.to_wipe, back),
    )


def _returned(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """From those out; a piece that nobody saw leave was clean, or came with the operator."""
    from_out = min(quantity, holding.out)
    from_clean = min(quantity - from_out, holding.clean)
    new = quantity - from_out - from_clean if not holding.total else 0
    back = holding.back + from_out + from_clean + new
    wipe = back - holding.back if ground.is_wiped(item) else 0
    return _less_out(
        replace(holding, clean=holding.clean - from_clean, back=back, to_wipe=holding.to_wipe + wipe),
        from_out,
    )


def _in_mouth(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """From those out, then from those lying there. Where none is left, what was said to be in the mouth is
    there anyway; said twice, it is the same piece."""
    given, clean, back, new = _shares(quantity, holding.out - holding.in_mouth, holding.clean, holding.back)
    if new < quantity or holding.in_mouth:
        new = 0
    return replace(
        holding,
        clean=holding.clean - clean,
        back=holding.back - back,
        to_wipe=min(holding.to_wipe, holding.back - back),
        out=holding.out + clean + back + new,
        in_mouth=holding.in_mouth + given + clean + back + new,
        presumed=max(0, holding.presumed - given),
    )


def _out_of_mouth(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """What comes out of the mouth is back, whether or not it was recorded as in it."""
    after = _returned(holding, quantity, item, ground)
    return replace(after, in_mouth=max(0, min(after.in_mouth, holding.in_mouth - quantity)))


def _wiped(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    return replace(holding, to_wipe=max(0, holding.to_wipe - quantity))


def _dropped(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """From the hand first, then from those lying there; a piece that nobody knew of is one more."""
    out, back, clean, new = _shares(quantity, holding.out, holding.back, holding.clean)
    new = new if not holding.total else 0
    fallen = out + back + clean + new
    return _less_out(
        replace(
            holding,
            clean=holding.clean - clean,
            back=holding.back - back,
            to_wipe=min(holding.to_wipe, holding.back - back),
            dropped=holding.dropped + fallen,
            to_replace=holding.to_replace + fallen,
        ),
        out,
    )


def _broken(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    out, back, clean, new = _shares(quantity, holding.out, holding.back, holding.clean)
    parts = out + back + clean + (new if not holding.total else 0)
    return _less_out(
        replace(
            holding,
            clean=holding.clean - clean,
            back=holding.back - back,
            to_wipe=min(holding.to_wipe, holding.back - back),
            broken=holding.broken + parts,
            to_replace=holding.to_replace + parts,
        ),
        out,
    )


def _used_up(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    out, clean, back, new = _shares(quantity, holding.out, holding.clean, holding.back)
    new = new if not holding.total else 0
    return _less_out(
        replace(
            holding,
            clean=holding.clean - clean,
            back=holding.back - back,
            to_wipe=min(holding.to_wipe, holding.back - back),
            used_up=holding.used_up + out + clean + back + new,
        ),
        out,
    )


def _added(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    return replace(holding, clean=holding.clean + quantity, to_replace=max(0, holding.to_replace - quantity))


def _less_out(holding: Holding, pieces: int) -> Holding:
    out = holding.out - pieces
    return replace(holding, out=out, presumed=min(holding.presumed, out), in_mouth=min(holding.in_mouth, out))


def _shares(quantity: int, *places: int) -> tuple[int, int, int, int]:
    """How many pieces come from each of three places in turn, and how many are left over."""
    taken = []
    for place in places:
        taken.append(min(quantity, place))
        quantity -= taken[-1]
    first, second, third = taken
    return first, second, third, quantity


_MOVES: Mapping[EventKind, Callable[[Holding, int, str, Ground], Holding]] = {
    EventKind.ASKED: _asked,
    EventKind.PASSED: _passed,
    EventKind.RETURNED: _returned,
    EventKind.WIPED: _wiped,
    EventKind.DROPPED: _dropped,
    EventKind.USED_UP: _used_up,
    EventKind.ADDED: _added,
    EventKind.IN_MOUTH: _in_mouth,
    EventKind.OUT_OF_MOUTH: _out_of_mouth,
    EventKind.BROKEN: _broken,
}
