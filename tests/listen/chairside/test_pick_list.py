"""What to take from where before a patient, on the shipped trays (common practice, no source)."""

from __future__ import annotations

import pytest

from listen.chairside.pick_list import (
    PickGroup,
    Sort,
    Taking,
    has_date,
    kept_from_now,
    marks,
    pick_list,
    piece_text,
    places_known,
)
from vocab.errors import Declined
from vocab.layers.changes import Kept, SetPlace
from vocab.layers.draft import ClinicSettings
from vocab.pack.load import shipped_pack

PACK = shipped_pack("operative")
TRAY = PACK.tray("composite_class_two")
NOTHING = ClinicSettings({})


def clinic(**places: str) -> ClinicSettings:
    """Where things are kept: kit__dam_kit="drawer 2"."""
    kinds: dict[str, Kept] = {"tray": "tray", "kit": "kit", "item": "item"}
    changes = []
    for key, place in places.items():
        kind, _, kept = key.partition("__")
        changes.append(SetPlace(kind=kinds[kind], id=kept, place=place))
    return ClinicSettings({}, places=tuple(changes))


def picked(settings: ClinicSettings = NOTHING) -> dict[str, PickGroup]:
    return {group.name: group for group in pick_list(TRAY, PACK, settings)}


def taking(name: str, settings: ClinicSettings = NOTHING) -> Taking:
    return next(t for group in pick_list(TRAY, PACK, settings) for t in group.takings if t.name == name)


def test_without_places_things_are_grouped_by_what_they_are() -> None:
    found = picked()
    assert list(found) == [
        Sort.PACK.value,
        Sort.KITS.value,
        Sort.SINGLE_USE.value,
        Sort.EQUIPMENT.value,
        Sort.COUNTER.value,
    ]
    assert [t.name for t in found["Instrument pack"].takings] == ["Pack: Composite, class II"]
    assert "high volume tip" in [t.name for t in found["Single-use goods"].takings]
    assert "curing light" in [t.name for t in found["Equipment"].takings]


def test_everything_on_the_tray_is_taken_once_in_the_number_it_is_laid() -> None:
    for tray in PACK.trays:
        counts: dict[str, int] = {}
        for group in pick_list(tray, PACK, NOTHING):
            for one in group.takings:
                for piece in one.pieces:
                    counts[piece.item.id] = counts.get(piece.item.id, 0) + piece.count
        laid: dict[str, int] = {}
        boxes = {kit.item for kit in tray.opened}
        for slot in tray.slots:
            if slot.item not in boxes:
                laid[slot.item] = laid.get(slot.item, 0) + slot.count
        assert counts == laid


def test_a_kit_says_what_is_in_it_with_sizes_and_marks() -> None:
    dam = {piece.item.id: piece for piece in taking("Dam kit").pieces}
    assert piece_text(dam["dam_clamp"]) == "dam clamp ×5 (W8A, 14, 2A, 9, 212)"
    assert marks(dam["dam_sheet"]) == ("latex",)
    numb = {piece.item.id: piece for piece in taking("Anaesthesia kit").pieces}
    assert marks(numb["needle_short"]) == ("▲ sharp", "read label", "check date")
    assert marks(dam["dam_frame"]) == ()


def test_materials_have_a_date_and_instruments_have_none() -> None:
    dated = {item.id for item in PACK.items if has_date(item)}
    assert {"etchant", "glass_ionomer", "universal_composite", "cartridge_plain"} <= dated
    assert not {"applicator_brush", "mouth_mirror", "aspirating_syringe", "gauze_square"} & dated


def test_places_of_the_clinic_come_first_in_the_order_of_their_numbers() -> None:
    found = picked(
        clinic(kit__dam_kit="Drawer 10", kit__bur_kit="drawer 2", tray__composite_class_two="Drawer 2")
    )
    assert list(found)[:2] == ["Drawer 2", "Drawer 10"]
    assert {t.name for t in found["Drawer 2"].takings} == {"Bur kit", "Pack: Composite, class II"}
    assert found["Drawer 2"].said and not found["Kits"].said
    assert "Dam kit" not in {t.name for t in found["Kits"].takings}


def test_an_item_kept_by_itself_is_taken_by_itself_and_says_where_it_goes() -> None:
    settings = clinic(item__cartridge_plain="locked cabinet")
    cartridge = taking("plain cartridge", settings)
    assert (cartridge.place, cartridge.goes_to) == ("locked cabinet", "Anaesthesia kit")
    assert "cartridge_plain" not in {p.item.id for p in taking("Anaesthesia kit", settings).pieces}


def test_only_what_changes_is_saved() -> None:
    settings = clinic(kit__dam_kit="drawer 2")
    keys = ["kit:dam_kit", "kit:bur_kit"]
    assert [one.id for one in kept_from_now(keys, "drawer 2", PACK, settings)] == ["bur_kit"]
    assert [one.id for one in kept_from_now(keys, None, PACK, settings)] == ["dam_kit"]
    assert places_known(settings) == ("drawer 2",)


@pytest.mark.parametrize("key", ["kit:gone_kit", "drawer:dam_kit", "item:dam_kit", ""])
def test_what_is_not_there_is_kept_nowhere(key: str) -> None:
    with pytest.raises(Declined, match="load the page again"):
        kept_from_now([key], "drawer 2", PACK, NOTHING)
