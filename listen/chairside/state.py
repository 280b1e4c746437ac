"""What is believed to lie where: the fold of a session's events.

Comes in: events in order, the tray as it was laid and the pack. Goes out: `TrayState`. Most passes at the
chair are silent, so the state is an estimate and says so; only a physical count decides. Nothing here reads
a clock, keeps a file or forgets: a correction folds again without the event it takes back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

from listen.chairside.events import Event, EventError, EventKind, effective
from vocab.schema import Item, ItemClass, Pack, Reprocessing, Tray

_WIPED_CLASSES = frozenset(
    {ItemClass.EXAMINATION, ItemClass.HAND_CUTTING, ItemClass.PLACING, ItemClass.SURGICAL}
)


@dataclass(frozen=True)
class Holding:
    """Where the pieces of one item are believed to be; the five numbers add up to all there are.

    clean: on the tray, not used; out: with the operator or in the mouth; back: returned, contaminated;
    dropped: fallen, contaminated, put aside; used_up: empty or thrown away. Of those, `presumed` are
    counted as out because they were asked for, nobody having said that they were passed; `to_wipe` of
    those back carry debris; `to_replace` is how many spares are wanted.
    """

    clean: int = 0
    out: int = 0
    back: int = 0
    dropped: int = 0
    used_up: int = 0
    presumed: int = 0
    to_wipe: int = 0
    to_replace: int = 0

    @property
    def total(self) -> int:
        """Every piece that came to the chair."""
        return self.clean + self.out + self.back + self.dropped + self.used_up

    @property
    def contaminated(self) -> int:
        """Pieces that were used or fell, wiped or not."""
        return self.out + self.back + self.dropped


@dataclass(frozen=True)
class TrayState:
    """The estimate after `events`.

    holdings: by item, in the order of the tray and then of appearance; last_item: what "it" and "that
    one" mean; counted: what a hand count found, by item; steps: steps said to be done; checks: answers to
    set-up questions; events: all of them, corrections included.
    """

    holdings: Mapping[str, Holding]
    last_item: str | None = None
    counted: Mapping[str, int] = field(default_factory=dict)
    steps: tuple[str, ...] = ()
    checks: Mapping[str, bool] = field(default_factory=dict)
    events: tuple[Event, ...] = ()
    ground: Ground | None = field(default=None, repr=False, compare=False)

    def of(self, item: str) -> Holding:
        """Where this item's pieces are; nothing anywhere for one that never came to the chair."""
        return self.holdings.get(item, Holding())

    @property
    def out(self) -> dict[str, int]:
        """Items believed to be with the operator or in the mouth, with how many."""
        return {item: h.out for item, h in self.holdings.items() if h.out}

    @property
    def to_wipe(self) -> dict[str, int]:
        """Items that came back and wait to be wiped."""
        return {item: h.to_wipe for item, h in self.holdings.items() if h.to_wipe}

    @property
    def to_replace(self) -> dict[str, int]:
        """Items of which a sterile spare is wanted."""
        return {item: h.to_replace for item, h in self.holdings.items() if h.to_replace}

    @property
    def last_standing(self) -> Event | None:
        """The last event about an item that has not been taken back: what "undo" takes back."""
        return next((e for e in reversed(effective(self.events)) if e.item is not None), None)


@dataclass(frozen=True, eq=False)
class Ground:
    """What does not change in a session: the state it began with, and what kind of thing each item is."""

    start: TrayState
    items: Mapping[str, Item]

    def stays_single(self, item: str) -> bool:
        """True where one more piece asked for is another piece, not the same one again."""
        return item not in self.items or self.items[item].reprocessing is Reprocessing.SINGLE_USE

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
    return replace(first, ground=Ground(first, {item.id: item for item in pack.items}))


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


def estimate_text(state: TrayState, pack: Pack) -> str:
    """What is believed, in words; it says that it is an estimate, and never that nothing is missing."""
    lines = ["Estimate from what was said and touched; only a physical count decides."]
    for what, items in (
        ("Believed out", state.out),
        ("Waiting to be wiped (wiped is still contaminated)", state.to_wipe),
        ("Fallen, take a sterile spare; the fallen one is still counted", state.to_replace),
    ):
        if items:
            lines.append(f"{what}: {listed(items, pack)}.")
    if not state.out:
        lines.append("Nothing was noted as still out. That does not show that nothing is: count.")
    return "\n".join(lines)


def listed(items: Mapping[str, int], pack: Pack) -> str:
    """ "mouth mirror, cotton roll (2)"."""
    names = {item.id: item.name.text for item in pack.items}
    return ", ".join(
        names.get(item, item) + (f" ({count})" if count > 1 else "") for item, count in items.items()
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
        return replace(state, counted={**state.counted, event.item: event.quantity})
    if event.kind is EventKind.ASKED and event.verdict != "answer":
        return state
    holding = _MOVES[event.kind](state.of(event.item), event.quantity, event.item, ground)
    return replace(state, holdings={**state.holdings, event.item: holding}, last_item=event.item)


def _asked(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """Asked for means presumed passed, as nobody says so."""
    after = _taken(holding, quantity, item, ground)
    return replace(after, presumed=min(after.out, holding.presumed + quantity))


def _passed(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """Confirms what was presumed; only what goes beyond it moves."""
    confirmed = min(quantity, holding.presumed)
    holding = replace(holding, presumed=holding.presumed - confirmed)
    return _taken(holding, quantity - confirmed, item, ground)


def _taken(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """Pieces go out: clean ones, then ones that had come back, then new ones.

    An instrument of which every piece is out must have come back unsaid: it stays out.
    """
    fresh = min(quantity, holding.clean)
    again = min(quantity - fresh, holding.back)
    new = quantity - fresh - again
    if new and holding.out and not ground.stays_single(item):
        new = 0
    elif new and not ground.stays_single(item):
        new = 1
    back = holding.back - again
    return replace(
        holding,
        clean=holding.clean - fresh,
        back=back,
        out=holding.out + fresh + again + new,
        to_wipe=min(holding.to_wipe, back),
        to_replace=max(0, holding.to_replace - new),
    )


def _returned(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """From out; what nobody saw leave was clean, or came with the operator."""
    from_out = min(quantity, holding.out)
    from_clean = min(quantity - from_out, holding.clean)
    new = quantity - from_out - from_clean if not holding.total else 0
    back = holding.back + from_out + from_clean + new
    wipe = back - holding.back if ground.is_wiped(item) else 0
    return _less_out(
        replace(holding, clean=holding.clean - from_clean, back=back, to_wipe=holding.to_wipe + wipe),
        from_out,
    )


def _wiped(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    return replace(holding, to_wipe=max(0, holding.to_wipe - quantity))


def _dropped(holding: Holding, quantity: int, item: str, ground: Ground) -> Holding:
    """From the hand first, then from what lies there; a piece nobody knew of is one more."""
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
    return replace(holding, out=out, presumed=min(holding.presumed, out))


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
}
