"""What goes where after a patient; the order is that of the CDC's guidelines of 2003 and common practice."""

from __future__ import annotations

from listen.chairside.count import count_places, together_events
from listen.chairside.events import CountedAs, Event, EventKind
from listen.chairside.tray_state import TrayState, fold
from listen.chairside.turn_over import Fate, afterwards, afterwards_in_general, afterwards_text
from tests.listen.chairside.chair_pack import PACK, TRAY, at_chair, in_order
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Reprocessing

OPERATIVE = shipped_pack("operative")
COMPOSITE = OPERATIVE.tray("composite_class_two")


def after(*events: Event) -> TrayState:
    return fold(in_order(*events), TRAY, PACK)


def test_the_sharps_container_comes_first() -> None:
    state = after(at_chair(EventKind.PASSED, "needle_long"), at_chair(EventKind.PASSED, "cartridge_plain"))
    groups = afterwards(state, PACK, TRAY)
    assert groups[0].fate is Fate.SHARPS
    fates = {item: group.fate for group in groups for item, _ in group.items}
    assert fates["matrix_band"] is fates["needle_long"] is fates["cartridge_plain"] is Fate.SHARPS
    assert fates["cotton_roll"] is fates["patient_bib"] is Fate.DISCARD
    assert fates["explorer_shepherd"] is fates["mouth_mirror"] is Fate.STERILISE
    assert fates["curing_light"] is Fate.BARRIER and fates["etchant"] is Fate.MULTI_DOSE
    assert "sharps_container" not in fates
    assert all("Local rules" in group.cautions[-1] for group in groups)
    text = afterwards_text(groups)
    assert text.startswith("1. Into the sharps container: matrix band")
    assert "CDC (2003)" in text and text.endswith("Local rules and the person responsible decide.")


def test_lines_are_flushed_before_handpieces_come_off_and_hands_are_clean_before_stock_is_touched() -> None:
    fates = [group.fate for group in afterwards_in_general(COMPOSITE, OPERATIVE)]
    assert fates == [fate for fate in Fate if fate is not Fate.UNOPENED]
    assert fates.index(Fate.LINES) < fates.index(Fate.STERILISE)
    assert fates.index(Fate.BARRIER) < fates.index(Fate.HANDS) < fates.index(Fate.MULTI_DOSE)


def test_without_anything_on_a_line_none_is_flushed() -> None:
    surgery = shipped_pack("oral_surgery")
    fates = [group.fate for group in afterwards_in_general(surgery.tray("review"), surgery)]
    assert Fate.LINES not in fates and Fate.HANDS in fates and Fate.RESTOCK in fates


def test_every_shipped_item_has_a_place_afterwards() -> None:
    for tray in OPERATIVE.trays:
        groups = afterwards_in_general(tray, OPERATIVE)
        placed = {item: group.fate for group in groups for item, _ in group.items}
        assert placed.keys() == {slot.item for slot in tray.slots} - {"sharps_container"}
        for item, fate in placed.items():
            throw_away = OPERATIVE.item(item).reprocessing is Reprocessing.SINGLE_USE
            assert (fate in (Fate.SHARPS, Fate.DISCARD)) == throw_away


def test_a_kit_said_to_be_unopened_is_put_away_as_it_is() -> None:
    def fates(state: TrayState) -> dict[Fate, list[str]]:
        groups = afterwards(state, OPERATIVE, COMPOSITE)
        return {group.fate: [place.place for place in group.places] for group in groups}

    state = fold((), COMPOSITE, OPERATIVE)
    assert "Dam kit" in fates(state)[Fate.STERILISE] and Fate.UNOPENED not in fates(state)
    dam = next(p for p in count_places(state, OPERATIVE, COMPOSITE) if p.name == "Dam kit")
    shut = fold(in_order(*together_events(dam, CountedAs.NOT_OPENED, 0.0)), COMPOSITE, OPERATIVE)
    assert fates(shut)[Fate.UNOPENED] == ["Dam kit"]
    assert "Dam kit" not in fates(shut)[Fate.STERILISE] and "Dam kit" not in fates(shut)[Fate.DISCARD]
    assert "Dam kit" in afterwards_text(afterwards(shut, OPERATIVE, COMPOSITE))


def test_what_was_brought_has_a_place_too() -> None:
    state = fold(in_order(at_chair(EventKind.ADDED, "hoe")), COMPOSITE, OPERATIVE)
    sterilised = next(g for g in afterwards(state, OPERATIVE, COMPOSITE) if g.fate is Fate.STERILISE)
    assert [place.items for place in sterilised.places if place.place == "brought"] == [(("hoe", "hoe"),)]
