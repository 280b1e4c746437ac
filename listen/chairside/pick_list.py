"""What to take from where before a patient: the pick list of a tray.

It takes a tray, its pack and what the clinic said about where things are kept, and gives what to take, one
thing for each touch: the tray's pack, each kit with what is in it, and whatever is taken by itself. They are
grouped by the place where the clinic keeps them, and by what they are where that was not said.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from vocab.errors import Declined
from vocab.layers.changes import Kept, SetPlace
from vocab.layers.draft import ClinicSettings
from vocab.pack.labels import same
from vocab.pack.schema import Item, ItemClass, Kit, KitPlace, Pack, Reprocessing, Slot, Tray

AT_CHAIR, ON_TRAY = "at the chair", "on the tray"
_DATED = (ItemClass.MATERIAL, ItemClass.ADHESIVE)
_PARTS = re.compile(
    r"\b(applicator|band|bridge|brush|button|core|crown|maintainer|micropincel|post|separator|shell|template"
    r"|tip|tray|veneer|wire)s?\b"
)
"""Names of what is of a material's class, and carries no date."""


class Sort(StrEnum):
    """What things are; the order in which they are taken where nobody said where they are kept."""

    PACK = "Instrument pack"
    KITS = "Kits"
    SINGLE_USE = "Single-use goods"
    MATERIALS = "Materials: look at the date"
    EQUIPMENT = "Equipment"
    COUNTER = "On the counter"


@dataclass(frozen=True)
class Piece:
    """An item with how many of it are wanted, of which sizes, and where each goes ("5", "light holder")."""

    item: Item
    count: int
    sizes: tuple[str, ...]
    goes_to: tuple[str, ...]

    @property
    def dated(self) -> bool:
        """Whether its date of expiry is to be looked at."""
        return has_date(self.item)


@dataclass(frozen=True)
class Taking:
    """One thing to take. kind, id: what a clinic says the place of; place: where it is kept, None for not
    said; goes_to: where it is put."""

    kind: Kept
    id: str
    name: str
    sort: Sort
    pieces: tuple[Piece, ...]
    place: str | None
    goes_to: str
    drawn_as: str

    @property
    def key(self) -> str:
        """What it is called in forms: "kit:dam_kit"."""
        return f"{self.kind}:{self.id}"

    @property
    def alone(self) -> Piece | None:
        """The piece, if it is taken by itself and not as a pack or a kit."""
        return self.pieces[0] if self.kind == "item" else None


@dataclass(frozen=True)
class PickGroup:
    """What is taken from one place, or is of one sort; `said`: whether the clinic keeps it there."""

    name: str
    takings: tuple[Taking, ...]
    said: bool


def pick_list(tray: Tray, pack: Pack, clinic: ClinicSettings) -> tuple[PickGroup, ...]:
    """What to take for a tray: the places in the order of their names, then the sorts."""
    takings = tuple(_takings(tray, pack, clinic))
    places: dict[str, list[Taking]] = {}
    for taking in takings:
        if taking.place is not None:
            places.setdefault(same(taking.place), []).append(taking)
    kept = [
        PickGroup(found[0].place or "", tuple(found), True)
        for _, found in sorted(places.items(), key=lambda one: _in_order(one[0]))
    ]
    rest = [
        PickGroup(sort.value, some, False)
        for sort in Sort
        if (some := tuple(t for t in takings if t.place is None and t.sort is sort))
    ]
    return (*kept, *rest)


def places_known(clinic: ClinicSettings) -> tuple[str, ...]:
    """Every place where the clinic keeps something, each once, in order."""
    known = {same(one.place): one.place for one in clinic.places if one.place}
    return tuple(known[place] for place in sorted(known, key=_in_order))


def kept_from_now(
    keys: Iterable[str], place: str | None, pack: Pack, clinic: ClinicSettings
) -> tuple[SetPlace, ...]:
    """The changes by which things (`Taking.key`) are kept in a place, or nowhere that was said (None);
    what is kept there already is no change.

    Raises:
        Declined: one of them does not exist.
    """
    known: dict[Kept, set[str]] = {
        "tray": {tray.id for tray in pack.trays},
        "kit": {kit.id for kit in pack.kits},
        "item": set(pack.by_id),
    }
    changes = []
    for key in dict.fromkeys(keys):
        given, _, wanted = key.partition(":")
        kind = next((one for one in known if one == given), None)
        if kind is None or wanted not in known[kind]:
            raise Declined("what was chosen is not in this vocabulary any more: load the page again.")
        if clinic.place_of(kind, wanted) != place:
            changes.append(SetPlace(kind=kind, id=wanted, place=place))
    return tuple(changes)


def has_date(item: Item) -> bool:
    """Whether an item has a date of expiry to look at: materials, and what anaesthesia uses up."""
    if item.reprocessing is Reprocessing.MULTI_DOSE:
        return True
    if item.reprocessing is not Reprocessing.SINGLE_USE:
        return False
    return item.always_check or (item.item_class in _DATED and not _PARTS.search(item.name.text))


def piece_text(piece: Piece) -> str:
    """A piece in words: "dam clamp ×5 (W8A, 14, 2A, 9, 212)"."""
    times = f" ×{piece.count}" if piece.count > 1 else ""
    sizes = f" ({', '.join(piece.sizes)})" if piece.sizes else ""
    return f"{piece.item.name.text}{times}{sizes}"


def marks(piece: Piece) -> tuple[str, ...]:
    """What to mind while taking it: sharp, always checked, a date, latex."""
    item = piece.item
    told = (
        (item.sharp, "▲ sharp"),
        (item.always_check, "read label"),
        (piece.dated, "check date"),
        (item.latex, "latex"),
    )
    return tuple(text for holds, text in told if holds)


def _takings(tray: Tray, pack: Pack, clinic: ClinicSettings) -> Iterator[Taking]:
    by_itself: dict[str, list[tuple[Slot, str]]] = {}

    def whole(slots: Iterable[Slot], to: str) -> tuple[Piece, ...]:
        """What stays together; what is kept in a place of its own is taken by itself."""
        left = []
        for slot in slots:
            if clinic.place_of("item", slot.item) is None:
                left.append(_piece(pack.item(slot.item), [(slot, slot.at)]))
            else:
                by_itself.setdefault(slot.item, []).append((slot, to))
        return tuple(left)

    rows = [slot for row in tray.rows for slot in row.slots]
    in_pack = [slot for slot in rows if pack.item(slot.item).reprocessing is Reprocessing.STERILISE]
    if pieces := whole(in_pack, ON_TRAY):
        place = clinic.place_of("tray", tray.id)
        name, first = f"Pack: {tray.name}", pieces[0].item.id
        yield Taking("tray", tray.id, name, Sort.PACK, pieces, place, ON_TRAY, first)
    for kit in tray.opened:
        if (pieces := whole(kit.slots, kit.name)) or kit.item:
            yield _kit(kit, pieces, pack, clinic)
    for slot in rows:
        if slot not in in_pack:
            by_itself.setdefault(slot.item, []).append((slot, ON_TRAY))
    for slot in tray.chair_side:
        by_itself.setdefault(slot.item, []).append((slot, slot.at))
    for item_id, held in by_itself.items():
        item = pack.item(item_id)
        piece, place = _piece(item, held), clinic.place_of("item", item_id)
        to = ", ".join(piece.goes_to)
        yield Taking("item", item_id, item.name.text, _sort(item), (piece,), place, to, item_id)


def _kit(kit: Kit, pieces: tuple[Piece, ...], pack: Pack, clinic: ClinicSettings) -> Taking:
    on_counter = kit.place is KitPlace.COUNTER
    sort, to = (Sort.COUNTER, "on the counter") if on_counter else (Sort.KITS, AT_CHAIR)
    return Taking("kit", kit.id, kit.name, sort, pieces, clinic.place_of("kit", kit.id), to, kit.drawn_as)


def _piece(item: Item, held: list[tuple[Slot, str]]) -> Piece:
    sizes = dict.fromkeys(size for slot, _ in held for size in slot.variants)
    goes_to = dict.fromkeys(to for _, to in held)
    return Piece(item, sum(slot.count for slot, _ in held), tuple(sizes), tuple(goes_to))


def _sort(item: Item) -> Sort:
    if has_date(item):
        return Sort.MATERIALS
    return Sort.SINGLE_USE if item.reprocessing is Reprocessing.SINGLE_USE else Sort.EQUIPMENT


def _in_order(place: str) -> list[tuple[int, str]]:
    """Places in the order of their names, with numbers by size: drawer 2 before drawer 10."""
    parts = re.findall(r"\d+|\D+", place)
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts]
