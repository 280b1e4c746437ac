"""How an item is passed, for this operator and this arch (common practice, no source)."""

from __future__ import annotations

from dataclasses import fields

import pytest
from pydantic import ValidationError

from listen.chairside.handing import WORDS, ChairSettings, handing_line, handing_text
from tests.listen.chairside.chair_pack import PACK
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Exchange, Facing, Grasp, Handing, Item, TakingHand

READ_BACK = WORDS["en"].read_back.partition("{")[0]


def line(item: str, **settings: object) -> str:
    found = handing_line(PACK.item(item), ChairSettings.model_validate(settings))
    assert found is not None
    return found


def passed(**handing: object) -> Item:
    """The explorer, passed in another way."""
    return PACK.item("explorer_shepherd").model_copy(update={"handing": Handing.model_validate(handing)})


def test_a_right_handed_operator_takes_it_with_the_right_hand() -> None:
    said = line("explorer_shepherd")
    assert said.startswith(
        "Handle to the operator's right hand from your left, pen grasp, one-hand exchange."
    )
    assert said.endswith("Low over the chest, never over the face.")


def test_a_left_handed_operator_takes_it_with_the_left_hand() -> None:
    said = line("explorer_shepherd", operator_handed="left", operator_clock=3)
    assert said.startswith("Handle to the operator's left hand from your right,")
    assert "at 5 to 8 o'clock." in said


def test_the_mirror_goes_clean_into_the_other_hand() -> None:
    said = line("mouth_mirror")
    assert said.endswith("Mirror face clean.")
    assert "Handle to the operator's left hand from your right, pen grasp." in said


@pytest.mark.parametrize(("arch", "way"), [("upper", "up"), ("lower", "down")])
def test_the_tip_points_to_the_arch_that_is_treated(arch: str, way: str) -> None:
    assert f"{arch.capitalize()} arch: tip {way}." in line("explorer_shepherd", arch=arch)


@pytest.mark.parametrize(("arch", "way"), [("upper", "down"), ("lower", "up")])
def test_the_wide_side_of_a_loop_faces_the_chewing_surface(arch: str, way: str) -> None:
    loop = passed(part="wider opening of the loop", faces="chewing surface")
    said = handing_line(loop, ChairSettings.model_validate({"arch": arch}))
    assert said is not None and f"{arch.capitalize()} arch: wider opening of the loop {way}." in said


def test_where_no_arch_was_set_both_are_told() -> None:
    assert "Tip toward the teeth being treated: up in the upper arch, down in the lower." in line("etchant")


def test_nothing_goes_from_hand_to_hand_through_a_neutral_zone() -> None:
    # P: OSHA 29 CFR 1910.1030 and the CDC's guidance on sharps ask for engineered and work-practice
    # controls; the neutral zone is how the trade says it
    blade = passed(exchange="neutral zone", offered="handle", grasp="pen")
    said = handing_line(blade, ChairSettings(operator_clock=10))
    assert said is not None and said.startswith("Placed in a neutral zone (a tray or a magnetic pad)")
    assert "as local rules say" in said and "your left" not in said and "o'clock" not in said


def test_of_two_hands_either_gives() -> None:
    said = handing_line(
        passed(exchange="two hands", offered="handles", grasp="palm"), ChairSettings.model_validate({})
    )
    assert said == "Handles to the operator's right hand, palm grasp, two-hand exchange."


def test_what_is_not_the_operators_names_no_hand_of_theirs() -> None:
    assistants = passed(taken_by="assistant", note="Placed before the handpiece.")
    patients = passed(taken_by="patient", offered="handle")
    said = [handing_line(item, ChairSettings()) for item in (assistants, patients)]
    assert said == ["The assistant holds or uses it. Placed before the handpiece.", "Handle to the patient."]


def test_a_note_alone_is_all_that_is_said() -> None:
    assert handing_line(passed(note="Stays on the tray."), ChairSettings()) == "Stays on the tray."


@pytest.mark.parametrize("item", ["needle_long", "cartridge_plain"])
def test_anaesthesia_is_a_check_with_a_label_read_back(item: str) -> None:
    assert line(item).startswith(READ_BACK)
    assert "over the chest" not in line(item)


def test_a_needle_stays_out_of_sight() -> None:
    assert "Below the patient's line of sight." in line("needle_long")


def test_what_is_always_checked_says_so_though_nothing_else_is_known_of_passing_it() -> None:
    bare = PACK.item("cartridge_plain").model_copy(update={"handing": None})
    assert handing_line(bare, ChairSettings()) == f"{READ_BACK}the label." and handing_text(bare) is None


@pytest.mark.parametrize("pack", ["operative", "oral_surgery", "operativa_es"])
def test_everything_always_checked_in_the_shipped_packs_is_read_back(pack: str) -> None:
    shipped = shipped_pack(pack)
    items = [item for item in shipped.items if item.always_check]
    assert items
    for item in items:
        said = handing_line(item, ChairSettings(), shipped.language)
        assert said is not None and said.startswith(WORDS[shipped.language].read_back.partition("{")[0])


def test_where_nothing_about_passing_matters_nothing_is_said() -> None:
    assert handing_line(PACK.item("patient_bib"), ChairSettings()) is None


def test_in_general_no_chair_is_meant() -> None:
    assert handing_text(PACK.item("explorer_shepherd")) == (
        "Handle to the operator's working hand, pen grasp, one-hand exchange. Tip toward the teeth being "
        "treated: up in the upper arch, down in the lower. Low over the chest, never over the face."
    )


def test_in_spanish_all_of_it_is_spanish() -> None:
    explorer = passed(offered="mango", hand="working", grasp="pen", part="punta", faces="teeth")
    said = handing_line(explorer, ChairSettings(arch="upper", operator_clock=9), "es")
    assert said == (
        "Mango hacia la mano derecha del operador desde su mano izquierda, toma en lápiz, entre las 4 y las "
        "7. Arcada superior: punta hacia arriba. Bajo y sobre el pecho, nunca sobre la cara."
    )


def test_every_language_has_a_word_for_every_value() -> None:
    english = WORDS["en"]
    assert english.hands.keys() == set(TakingHand) and english.grasps.keys() == set(Grasp)
    assert english.faces.keys() == set(Facing)
    assert english.exchanges.keys() == set(Exchange) - {Exchange.NEUTRAL_ZONE}, "that one is a whole sentence"
    for words in WORDS.values():
        for field in fields(english):
            mine, theirs = getattr(words, field.name), getattr(english, field.name)
            assert not isinstance(theirs, dict) or mine.keys() == theirs.keys(), field.name


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
