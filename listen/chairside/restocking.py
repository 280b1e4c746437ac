"""What to fill up again after a session, or after all sessions of a day.

From the tray's state, the pack and the tray this makes lines by kit and slot. What is used once is thrown
away with what was opened for a patient, so the whole slot is filled up again; needles, blades and the like
come wrapped one by one, so only those are missing that were noted. It is an estimate and says so.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from listen.chair import Chair
from listen.chairside.count import kits_not_opened, touched_items
from listen.chairside.events import Event, EventKind, effective
from listen.chairside.tray_state import TrayState, fold
from listen.chairside.turn_over import ELSEWHERE, SHARPS_CONTAINER
from vocab.layers.draft import ClinicSettings
from vocab.pack.schema import Item, Kit, Pack, Reprocessing, Slot, Tray

ESTIMATE = (
    "An estimate from what was laid, opened, said and touched. Look into each place; your local rules decide "
    "what is kept and what is thrown away."
)
HEADS = ("kit or tray", "slot", "item", "size", "pieces", "why", "kept in")
"""The columns of the CSV."""
_NOTED = frozenset(
    {EventKind.ASKED, EventKind.PASSED, EventKind.USED_UP, EventKind.BROKEN, EventKind.DROPPED}
)


class Why(StrEnum):
    """Why something is to be filled up."""

    USED = "used"
    OPENED = "opened, single use"
    EMPTY = "empty"
    BROKE = "broke: replace it"


@dataclass(frozen=True)
class Refill:
    """Pieces of an item to put where they lay; kept_in: where the stock of them is, "" for not said."""

    place: str
    slot: str
    item: str
    name: str
    sizes: tuple[str, ...]
    pieces: int
    why: Why
    sharp: bool
    kept_in: str = ""

    @property
    def row(self) -> tuple[str, ...]:
        """As text, in the order of `HEADS`."""
        sizes = ", ".join(self.sizes)
        return (self.place, self.slot, self.name, sizes, str(self.pieces), self.why.value, self.kept_in)


@dataclass(frozen=True)
class Restocking:
    """What to fill up, place by place; `not_noted`: kits of which nothing is known, to be looked into."""

    lines: tuple[Refill, ...]
    not_noted: tuple[str, ...] = ()

    @property
    def places(self) -> tuple[tuple[str, tuple[Refill, ...]], ...]:
        """The lines of each place."""
        names = dict.fromkeys(line.place for line in self.lines)
        return tuple((name, tuple(line for line in self.lines if line.place == name)) for name in names)


def restocking(state: TrayState, pack: Pack, tray: Tray | None, clinic: ClinicSettings) -> Restocking:
    """What one session used up."""
    touched = touched_items(state)
    shut = kits_not_opened(state, pack, tray)
    kits = tray.opened if tray else ()
    opened = [kit for kit in kits if kit.id not in shut and touched & {slot.item for slot in kit.on_tray}]
    lines = []
    left = {item: _gone(state, pack.by_id.get(item), item) for item in state.holdings}
    for place, at, slot, kit in _slots(tray, opened):
        item = pack.by_id.get(slot.item)
        if item is not None and (found := _refill(place, at, slot, item, left, state)) is not None:
            kept = clinic.place_of("item", item.id) or (clinic.place_of("kit", kit.id) if kit else None)
            lines.append(replace(found, kept_in=kept or ""))
    for item_id, pieces in left.items():
        item = pack.by_id.get(item_id)
        if item is not None and pieces > 0:
            why, kept = _why(state, item), clinic.place_of("item", item_id) or ""
            sizes = _sizes_noted(state, item_id)
            name = item.name.text
            lines.append(Refill(ELSEWHERE, "", item_id, name, sizes, pieces, why, item.sharp, kept))
    known = {*shut, *(kit.id for kit in opened)}
    return Restocking(tuple(lines), tuple(kit.name for kit in kits if kit.id not in known))


def restocked_after(events: Iterable[Event], chair: Chair) -> Restocking:
    """The same from a session's events and its chair."""
    state = fold(events, chair.tray, chair.pack)
    return restocking(state, chair.pack, chair.tray, chair.clinic)


def together(some: Iterable[Restocking]) -> Restocking:
    """Several sessions' lists as one, the pieces of each slot added up."""
    added: dict[tuple[object, ...], Refill] = {}
    not_noted: dict[str, None] = {}
    for one in some:
        not_noted.update(dict.fromkeys(one.not_noted))
        for line in one.lines:
            about = (line.place, line.slot, line.item, line.sizes, line.why)
            before = added.get(about)
            added[about] = line if before is None else replace(before, pieces=before.pieces + line.pieces)
    names = list(dict.fromkeys(line.place for line in added.values()))
    lines = sorted(added.values(), key=lambda line: names.index(line.place))
    return Restocking(tuple(lines), tuple(not_noted))


def restocking_csv(found: Restocking) -> str:
    """The list for a spreadsheet."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerows([HEADS, *(_plain(line.row) for line in found.lines)])
    return out.getvalue()


def _plain(row: Sequence[str]) -> list[str]:
    """Cells that no spreadsheet takes for a formula."""
    return [f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t") else cell for cell in row]


def _slots(tray: Tray | None, opened: Sequence[Kit]) -> Iterator[tuple[str, str, Slot, Kit | None]]:
    """Every slot that was opened: its place, its number there, what it holds, its kit."""
    if tray is None:
        return
    for slot in (slot for row in tray.rows for slot in row.slots):
        yield f"Tray: {tray.name}", slot.at, slot, None
    for kit in opened:
        for slot in kit.slots:
            yield kit.name, slot.at, slot, kit
    for slot in tray.chair_side:
        yield "At the chair", slot.at, slot, None


def _refill(
    place: str, at: str, slot: Slot, item: Item, left: dict[str, int], state: TrayState
) -> Refill | None:
    """What is missing in a slot; takes it from what is `left` of the pieces that are gone."""
    if item.id == SHARPS_CONTAINER:
        return None
    gone = min(left[item.id], slot.count)
    left[item.id] -= gone
    why, pieces, sizes = _why(state, item), gone, slot.variants
    if _is_thrown_away(item):
        pieces, why = slot.count, Why.USED if gone == slot.count else Why.OPENED
    elif item.reprocessing is Reprocessing.SINGLE_USE:
        sizes = _sizes_noted(state, item.id) or sizes
    return Refill(place, at, item.id, item.name.text, sizes, pieces, why, item.sharp) if pieces else None


def _gone(state: TrayState, item: Item | None, item_id: str) -> int:
    """Pieces that are not there any more: of what is used once those not clean, of others those that are
    empty or broke."""
    held = state.of(item_id)
    if item is not None and item.reprocessing is Reprocessing.SINGLE_USE:
        return held.total - held.clean
    return held.used_up + held.broken


def _is_thrown_away(item: Item) -> bool:
    """Whether it goes with what was opened, used or not; what is sharp comes wrapped one by one."""
    return item.reprocessing is Reprocessing.SINGLE_USE and not item.sharp


def _why(state: TrayState, item: Item) -> Why:
    if item.reprocessing is Reprocessing.SINGLE_USE:
        return Why.USED
    return Why.BROKE if state.of(item.id).broken else Why.EMPTY


def _sizes_noted(state: TrayState, item: str) -> tuple[str, ...]:
    """The sizes that were asked for or passed."""
    events = (e for e in effective(state.events) if e.item == item and e.kind in _NOTED and e.size)
    return tuple(dict.fromkeys(event.size for event in events if event.size))
