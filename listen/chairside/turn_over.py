"""What happens to things after a patient, and to the room: the turn-over, in the order in which it is done.

From the tray's state, the pack and the tray this makes a list of stages to go through, each with the items it
concerns, what else is to be done, and what to heed. It is the one place that says what goes where. What was
laid and not said to have stayed shut counts as used; local rules decide what is done with anything.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from listen.chairside.count import AT_CHAIR, LOCAL_RULES, kits_not_opened
from listen.chairside.tray_state import TrayState, start
from vocab.pack.schema import Item, ItemClass, Pack, Reprocessing, Slot, Tray

SOURCE = (
    "After the Guidelines for Infection Control in Dental Health-Care Settings of the CDC (2003) and common "
    "practice."
)
SHARPS_CONTAINER = "sharps_container"
"""The item that others go into."""
ELSEWHERE = "brought"


class Fate(StrEnum):
    """What is done after a patient, in this order."""

    SHARPS = "Into the sharps container"
    LINES = "Flush the lines"
    DISCARD = "Discard"
    STERILISE = "Clean and heat-sterilise"
    BARRIER = "Take the barrier off and disinfect"
    HANDS = "Gloves off, clean hands"
    UNOPENED = "Put away unopened"
    MULTI_DOSE = "Close and put away; do not touch with used gloves"
    RESTOCK = "Restock, and make ready"


@dataclass(frozen=True)
class FromPlace:
    """Items (id, name) that lay in one place: a row of the tray, a kit, at the chair."""

    place: str
    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Afterwards:
    """One stage: where things go (place by place), what else is done, and what to heed."""

    fate: Fate
    places: tuple[FromPlace, ...]
    to_do: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def items(self) -> tuple[tuple[str, str], ...]:
        """Every item (id, name) of this stage, each once."""
        return tuple(dict.fromkeys(item for place in self.places for item in place.items))


_TO_DO: dict[Fate, tuple[str, ...]] = {
    Fate.SHARPS: (),
    Fate.LINES: (
        "Water and air through every handpiece, scaler and syringe used in the mouth, 20 to 30 seconds each",
        "Clean water through the suction",
    ),
    Fate.DISCARD: ("Used barriers off, with gloves on, and into the waste",),
    Fate.STERILISE: (),
    Fate.BARRIER: (
        "Surfaces that were touched: clean, then disinfect, wet for as long as the maker says",
        "Chair, light handle, hoses, counter and screen, where no barrier was on or one was torn",
    ),
    Fate.HANDS: ("Gloves off, hands washed or rubbed",),
    Fate.UNOPENED: (),
    Fate.MULTI_DOSE: (),
    Fate.RESTOCK: (
        "What was used up is filled up again: see the restocking list",
        "New barriers on, with clean hands",
    ),
}
"""After the guidelines named in `SOURCE`."""
_CAUTIONS: dict[Fate, tuple[str, ...]] = {
    Fate.SHARPS: (
        "First of all, by the handle or with pliers; never reach in, never fill above the line.",
        "Needles are recapped one-handed or in a device, never with two hands, and come off before the "
        "syringe is cleaned.",
        "Used matrix bands are sharps; so are single-use burs.",
        "What is still in its sealed wrapper goes back.",
    ),
    Fate.LINES: ("Before the handpieces come off.",),
    Fate.DISCARD: (
        "What was opened for this patient is not kept for the next.",
        "Gloves, mask and gown stay on until all that is contaminated is done.",
        "Amalgam, teeth and what drips with blood have containers of their own.",
    ),
    Fate.STERILISE: (
        "In a closed container; wiped is still contaminated, and so is anything that fell.",
        "Heavy gloves for cleaning; nobody reaches into a bath or a cassette blindly.",
        "Handpieces and their motors are sterilised too.",
    ),
    Fate.BARRIER: ("A torn barrier means that the surface is disinfected as well.",),
    Fate.HANDS: ("Before anything clean is touched: drawers, stock, the next patient's barriers.",),
    Fate.UNOPENED: ("A pack that is wet, torn or was splashed goes to the steriliser with the others.",),
    Fate.MULTI_DOSE: (
        "Tips are thrown away; a container that was touched is disinfected as its maker says.",
    ),
    Fate.RESTOCK: (),
}
"""Common practice, no source, where the guidelines say nothing."""


def afterwards(state: TrayState, pack: Pack, tray: Tray | None) -> tuple[Afterwards, ...]:
    """What is done with what came to the chair and with the room, sharps container first. A stage that
    concerns nothing here is left out."""
    shut = kits_not_opened(state, pack, tray)
    places: dict[Fate, list[FromPlace]] = {fate: [] for fate in Fate}
    for name, item_ids in _by_place(state, tray, shut):
        held: dict[Fate, list[tuple[str, str]]] = {}
        for item in (pack.by_id[one] for one in item_ids if one in pack.by_id):
            if item.id != SHARPS_CONTAINER:
                held.setdefault(_fate(item), []).append((item.id, item.name.text))
        for fate, items in held.items():
            places[fate].append(FromPlace(name, tuple(items)))
    places[Fate.UNOPENED] = [
        FromPlace(kit.name, ()) for kit in (tray.opened if tray else ()) if kit.id in shut
    ]
    came = [pack.by_id[item] for item, held in state.holdings.items() if held.total and item in pack.by_id]
    has_lines = any(_has_line(item) for item in came)
    return tuple(
        Afterwards(fate, tuple(some), _TO_DO[fate], (*_CAUTIONS[fate], LOCAL_RULES))
        for fate, some in places.items()
        if some or (_TO_DO[fate] and (fate is not Fate.LINES or has_lines))
    )


def afterwards_in_general(tray: Tray, pack: Pack) -> tuple[Afterwards, ...]:
    """The same for a tray of which everything was opened."""
    return afterwards(start(tray, pack), pack, tray)


def afterwards_text(groups: Sequence[Afterwards]) -> str:
    """The stages as numbered lines."""
    lines = []
    for number, group in enumerate(groups, 1):
        names = [name for _, name in group.items] or [place.place for place in group.places]
        lines.append(f"{number}. {': '.join(filter(None, (group.fate.value, ', '.join(names))))}.")
        lines += [f"   - {to_do}." for to_do in group.to_do]
        lines += [f"   {caution}" for caution in group.cautions[:-1]]
    return "\n".join([*lines, f"{SOURCE} {LOCAL_RULES}"])


def _by_place(state: TrayState, tray: Tray | None, shut: frozenset[str]) -> list[tuple[str, tuple[str, ...]]]:
    """What came to the chair, place by place; what has no place there was brought."""

    def of(slots: Iterable[Slot]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(slot.item for slot in slots))

    laid: list[tuple[str, tuple[str, ...]]] = []
    if tray is not None:
        laid.append(("tray", of(slot for row in tray.rows for slot in row.slots)))
        laid += [(kit.name, of(kit.on_tray)) for kit in tray.opened if kit.id not in shut]
        laid.append((f"at the {AT_CHAIR}", of(tray.chair_side)))
    there = {slot.item for slot in tray.slots} if tray else set()
    brought = tuple(item for item, held in state.holdings.items() if held.total and item not in there)
    return [*laid, (ELSEWHERE, brought)]


def _has_line(item: Item) -> bool:
    """Whether water or air runs through it."""
    once = item.reprocessing is Reprocessing.SINGLE_USE
    return not once and item.item_class in (ItemClass.HANDPIECE, ItemClass.EVACUATION)


def _fate(item: Item) -> Fate:
    """Single-use sharps and the glass of anaesthetics go to the container."""
    if item.reprocessing is Reprocessing.SINGLE_USE:
        glass = item.always_check and item.item_class is ItemClass.ANAESTHESIA
        return Fate.SHARPS if item.sharp or glass else Fate.DISCARD
    return {
        Reprocessing.STERILISE: Fate.STERILISE,
        Reprocessing.BARRIER: Fate.BARRIER,
        Reprocessing.MULTI_DOSE: Fate.MULTI_DOSE,
    }[item.reprocessing]
