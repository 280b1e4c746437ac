"""How an item is passed, for this operator and this arch (common practice, no source)."""

from __future__ import annotations

import pytest
from chair_pack import PACK, TRAY
from pydantic import ValidationError

from listen.chairside.handing import READ_BACK, ChairSettings, get_ready, handing_line
from vocab.load import shipped_pack
from vocab.schema import ItemClass


def line(item: str, **settings: object) -> str:
    found = handing_line(PACK.item(item), ChairSettings.model_validate(settings))
    assert found is not None
    return found


def test_a_right_handed_operator_takes_it_with_the_right_hand() -> None:
    said = line("explorer_shepherd")
    assert said.endswith("Your left hand to the operator's right.")
    assert "low over the chest" in said


def test_a_left_handed_operator_takes_it_with_the_left_hand() -> None:
    said = line("explorer_shepherd", operator_handed="left", operator_clock=3)
    assert said.endswith("Your right hand to the operator's left, at 5 to 8 o'clock.")


def test_the_mirror_goes_clean_into_the_other_hand() -> None:
    said = line("mouth_mirror")
    assert "Mirror face clean." in said
    assert "Your right hand to the operator's left." in said


@pytest.mark.parametrize(("arch", "way"), [("upper", "working end up"), ("lower", "working end down")])
def test_the_tip_points_to_the_arch_that_is_treated(arch: str, way: str) -> None:
    assert line("explorer_shepherd", arch=arch).endswith(f"{arch.capitalize()} arch: {way}.")


def test_what_the_pack_does_not_say_to_pass_low_is_passed_low() -> None:
    assert line("etchant").endswith("Low over the chest, never over the face.")


@pytest.mark.parametrize("item", ["needle_long", "cartridge_plain"])
def test_anaesthesia_is_a_check_with_a_label_read_back(item: str) -> None:
    assert line(item).startswith(f"Check. {READ_BACK}")
    assert "over the chest" not in line(item)


def test_a_needle_stays_out_of_sight() -> None:
    assert "below the patient's line of sight" in line("needle_long")


def test_every_anaesthetic_of_the_shipped_pack_is_a_check() -> None:
    items = [i for i in shipped_pack("operative").items if i.always_check]
    assert items and all(i.item_class is ItemClass.ANAESTHESIA for i in items)
    for item in items:
        said = handing_line(item, ChairSettings())
        assert said is not None and READ_BACK in said


def test_where_nothing_about_passing_matters_nothing_is_said() -> None:
    assert handing_line(PACK.item("patient_bib"), ChairSettings()) is None


def test_no_makers_time_is_shipped_and_nonsense_is_refused() -> None:
    assert ChairSettings().maker_times == {}
    for wrong in (
        {"maker_times": {"etch": 0}},
        {"operator_handed": "both"},
        {"operator_clock": 13},
        {"x": 1},
    ):
        with pytest.raises(ValidationError):
            ChairSettings.model_validate(wrong)


def test_get_ready_names_the_likely_ones_with_their_place() -> None:
    expected = [("wedge", 0.6), ("curing_light", 0.3), ("etchant", 0.29)]
    assert get_ready(expected, PACK, TRAY) == "Get ready: wedge (slot 7), curing light (light holder)."
    assert get_ready([("wedge", 0.1)], PACK, TRAY) is None
