"""The count is the person's: what hurts or may stay in a mouth first, and never "all back"."""

from __future__ import annotations

import pytest

from listen.chairside.count import (
    SETUP_CHECKS,
    CountError,
    CountGroup,
    Fate,
    afterwards,
    afterwards_text,
    count_event,
    count_list,
    count_text,
    missing,
    next_to_count,
    setup_event,
    setup_open,
    setup_problems,
)
from listen.chairside.events import Event, EventKind
from listen.chairside.tray_state import TrayState, fold
from tests.listen.chairside.chair_pack import PACK, TRAY, at_chair, in_order
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Reprocessing


def after(*events: Event) -> TrayState:
    return fold(in_order(*events), TRAY, PACK)


def test_sharps_come_first_then_what_may_stay_in_a_mouth_then_the_rest() -> None:
    lines = count_list(after(), PACK)
    assert [(line.item, line.group, line.expected) for line in lines] == [
        ("explorer_shepherd", CountGroup.SHARP, 1),
        ("explorer_pigtail", CountGroup.SHARP, 1),
        ("hollenback_carver", CountGroup.SHARP, 1),
        ("matrix_band", CountGroup.SHARP, 1),
        ("cotton_roll", CountGroup.MOUTH, 4),
        ("gauze_square", CountGroup.MOUTH, 6),
        ("wedge", CountGroup.MOUTH, 2),
        ("mouth_mirror", CountGroup.REST, 1),
        ("curing_light", CountGroup.REST, 1),
    ]


def test_what_fell_was_added_or_thrown_away_is_counted_too() -> None:
    state = after(
        at_chair(EventKind.DROPPED, "explorer_shepherd"),
        at_chair(EventKind.ADDED, "explorer_shepherd"),
        at_chair(EventKind.ADDED, "cotton_roll", 2),
        at_chair(EventKind.USED_UP, "cotton_roll", 3),
    )
    expected = {line.item: line.expected for line in count_list(state, PACK)}
    assert expected["explorer_shepherd"] == 2 and expected["cotton_roll"] == 6


def test_a_roll_that_is_not_found_is_missing_and_the_mouth_is_looked_into() -> None:
    out = at_chair(EventKind.ASKED, "cotton_roll", 2)
    state = after(out, count_event("cotton_roll", 3, 0.0), count_event("explorer_shepherd", 1, 0.0))
    assert [(line.item, line.short) for line in missing(state, PACK)] == [("cotton_roll", 1)]
    assert "cotton roll (3 of 4). Look in the mouth" in count_text(state, PACK)
    (line,) = [line for line in count_list(state, PACK) if line.item == "cotton_roll"]
    assert line.hint == "2 noted as out: look in the mouth first."
    found = after(out, count_event("cotton_roll", 3, 0.0), count_event("cotton_roll", 4, 0.0))
    assert missing(found, PACK) == ()


def test_the_count_leads_from_line_to_line_to_its_end() -> None:
    events: list[Event] = []
    while (line := next_to_count(after(*events), PACK)) is not None:
        events.append(count_event(line.item, line.expected, 0.0))
    text = count_text(after(*events), PACK)
    assert text.startswith("9 of 9 counted.")
    assert "estimate" in text and "may itself be wrong" in text and "all back" not in text.lower()


def test_more_than_expected_is_counted_again() -> None:
    assert "Count again" in count_text(after(count_event("wedge", 3, 0.0)), PACK)


def test_the_sharps_container_comes_first_afterwards() -> None:
    state = after(at_chair(EventKind.PASSED, "needle_long"), at_chair(EventKind.PASSED, "cartridge_plain"))
    groups = afterwards(state, PACK)
    assert [group.fate for group in groups] == list(Fate)
    fates = {item: group.fate for group in groups for item, _ in group.items}
    assert fates["matrix_band"] is fates["needle_long"] is fates["cartridge_plain"] is Fate.SHARPS
    assert fates["cotton_roll"] is fates["patient_bib"] is Fate.DISCARD
    assert fates["explorer_shepherd"] is fates["mouth_mirror"] is Fate.STERILISE
    assert fates["curing_light"] is Fate.BARRIER and fates["etchant"] is Fate.MULTI_DOSE
    assert "sharps_container" not in fates
    assert all("Local rules" in group.cautions[-1] for group in groups)
    assert afterwards_text(groups).startswith("1. Into the sharps container: matrix band")
    assert afterwards_text(groups).endswith("Local rules and the person responsible decide.")


def test_every_shipped_item_has_a_place_afterwards() -> None:
    pack = shipped_pack("operative")
    for tray in pack.trays:
        groups = afterwards(fold((), tray, pack), pack)
        placed = {item: group.fate for group in groups for item, _ in group.items}
        assert placed.keys() == {slot.item for slot in tray.slots} - {"sharps_container"}
        for item, fate in placed.items():
            throw_away = pack.item(item).reprocessing is Reprocessing.SINGLE_USE
            assert (fate in (Fate.SHARPS, Fate.DISCARD)) == throw_away


def test_the_set_up_is_asked_and_its_answers_kept() -> None:
    ids = [check.id for check in SETUP_CHECKS]
    assert ids == ["pack_intact", "indicator_changed", "in_date", "allergies_asked", "barriers_on"]
    state = after(setup_event("pack_intact", True, 0.0), setup_event("in_date", False, 0.0))
    assert [check.id for check in setup_open(state)] == [
        "indicator_changed",
        "allergies_asked",
        "barriers_on",
    ]
    assert [check.if_no for check in setup_problems(state)] == ["Remove and replace it."]


def test_an_unknown_set_up_check_is_refused() -> None:
    with pytest.raises(CountError, match="there are: pack_intact"):
        setup_event("coffee", True, 0.0)
