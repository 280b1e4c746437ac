"""The shipped pack says what the trade knows; every check names where the fact comes from."""

from __future__ import annotations

import re

import pytest

from vocab.pack.formula import Formula, FormulaError, read_formula
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Item, ItemClass, Reprocessing, Shank, Step

PACK = shipped_pack()


def told(item_id: str) -> str:
    """All sentences about an item, one after the other."""
    item = PACK.item(item_id)
    tells = [c.tell for c in item.confused_with]
    return " ".join([item.purpose, item.look, noted(item), *item.cautions, *tells])


def noted(item: Item) -> str:
    """What is said in words about passing an item."""
    return (item.handing.note if item.handing else None) or ""


def says(item_id: str, *patterns: str) -> None:
    """Fails unless the text about the item matches every pattern."""
    text = told(item_id)
    for pattern in patterns:
        assert re.search(pattern, text), f"{item_id} does not say {pattern!r}: {text}"


def spoken(item: Item) -> set[str]:
    """Every written or spoken name of an item in lower case."""
    return {form.lower() for name in item.names for form in (name.text, *name.say)}


# Common practice, no source: the facts the issue asks to hold.


def test_the_probe_is_marked_in_millimetres_and_depths_are_read_as_the_trade_reads_them() -> None:
    says("perio_probe", "millimetre", r"1 to 3 mm are healthy", r"more than 5 mm is often .*attachment loss")


def test_depth_alone_does_not_show_attachment_loss() -> None:
    says("perio_probe", r"4 mm is already watched", r"depth alone does not show")


def test_etchant_is_35_to_37_percent_phosphoric_acid_for_about_15_seconds() -> None:
    says("etchant", r"35 to 37 % phosphoric acid", r"[Aa]bout 15 seconds", r"on dentine at most about 15")


def test_etching_acts_to_some_25_micrometres() -> None:
    says("etchant", r"in the order of 25 micrometres")


def test_curing_often_takes_10_to_40_seconds_and_the_makers_time_counts() -> None:
    """Many LED lamps take 10 to 20 s a layer, older ones 40 (common practice, no source)."""
    says("curing_light", r"[Oo]ften 10 to 40 seconds .*maker's time for lamp and layer")


def test_slow_speed_turns_8000_to_30000_times_a_minute() -> None:
    says("slow_speed_motor", r"8,000 to 30,000 turns a minute")


def test_high_speed_turns_up_to_400000_typically_250000_times_a_minute() -> None:
    says("high_speed_handpiece", r"up to 400,000 turns a minute", r"typically about 250,000")


def test_the_discoid_is_round_and_the_cleoid_pointed() -> None:
    says("discoid_cleoid", r"discoid is round, the cleoid pointed")


# Common practice, no source: safety and the pairs that matter.


def test_anaesthesia_is_always_checked_and_read_back() -> None:
    for item_id in ("aspirating_syringe", "needle_short", "needle_long", "cartridge_vasoconstrictor"):
        assert PACK.item(item_id).always_check, item_id
        says(item_id, "read back", "below the patient's line of sight")
    assert PACK.item("cartridge_plain").always_check
    assert PACK.item("topical_anaesthetic").always_check


def test_needles_are_recapped_with_one_hand() -> None:
    for item_id in ("needle_short", "needle_long", "aspirating_syringe"):
        says(item_id, r"never with two hands")


def test_needles_and_cartridges_are_single_use_and_their_syringe_is_sterilised() -> None:
    single = ("needle_short", "needle_long", "cartridge_vasoconstrictor", "cartridge_plain")
    assert {PACK.item(i).reprocessing for i in single} == {Reprocessing.SINGLE_USE}
    assert PACK.item("aspirating_syringe").reprocessing is Reprocessing.STERILISE


def test_handpieces_and_motors_are_sterilised_and_the_curing_light_gets_a_barrier() -> None:
    for item_id in ("high_speed_handpiece", "slow_speed_motor", "contra_angle", "straight_nose_piece"):
        assert PACK.item(item_id).reprocessing is Reprocessing.STERILISE, item_id
    assert PACK.item("curing_light").reprocessing is Reprocessing.BARRIER


def test_a_used_matrix_band_is_a_sharp() -> None:
    assert PACK.item("matrix_band").sharp
    says("matrix_band", r"used band is a sharp")


def test_what_may_stay_in_a_mouth_is_counted() -> None:
    for item_id in ("cotton_roll", "gauze_square", "retraction_cord", "wedge", "dam_clamp", "sectional_ring"):
        assert PACK.item(item_id).counted, item_id


def test_the_second_number_of_a_margin_trimmer_tells_mesial_from_distal() -> None:
    says("margin_trimmer_mesial", r"second number .*about 75 to 85")
    says("margin_trimmer_distal", r"second number .*about 90 to 100")


def test_every_wide_margin_pair_that_looks_or_sounds_alike_tells_the_two_apart() -> None:
    for one, other in PACK.wide_margin:
        for this, that in ((one, other), (other, one)):
            alike = {c.item for c in PACK.item(this).confused_with}
            assert that in alike, f"{this} does not say how it differs from {that}"


@pytest.mark.parametrize(
    "pair",
    [
        ("matrix_band", "bonding_agent"),
        ("etchant", "wedge"),
        ("hollenback_carver", "amalgam_carrier"),
        ("flowable_composite", "dental_floss"),
        ("high_speed_handpiece", "high_volume_tip"),
        ("dam_clamp", "dam_clamp_forceps"),
        ("bur_fissure_56", "bur_fissure_57"),
        ("etchant", "flowable_composite"),
        ("etchant", "sealant"),
        ("flowable_composite", "sealant"),
        ("cartridge_vasoconstrictor", "cartridge_plain"),
        ("needle_long", "needle_short"),
        ("margin_trimmer_mesial", "margin_trimmer_distal"),
        ("hatchet", "hoe"),
        ("spoon_excavator", "discoid_cleoid"),
        ("bur_330", "bur_245"),
    ],
)
def test_a_pair_that_matters_has_a_wide_margin(pair: tuple[str, str]) -> None:
    assert set(pair) in [set(p) for p in PACK.wide_margin]


# Common practice, no source: what is where and in which order.

FORGOTTEN = (
    ("composite_class_two", "shade_guide bite_block ring_forceps wedge_remover dam_napkin bur_block"),
    ("composite_class_two", "recapping_device sharps_container high_volume_tip patient_eyewear dappen_dish"),
    ("composite_class_five", "retraction_cord cord_packer shade_guide dappen_dish cervical_matrix"),
    ("composite_class_one", "shade_guide bite_block articulating_paper acorn_burnisher light_shield"),
    ("composite_class_one", "recapping_device sharps_container patient_eyewear composite_polishing_paste"),
    ("composite_class_four", "shade_guide crown_form putty_key crown_scissors clear_strip wedge_remover"),
    ("composite_class_four", "ptfe_tape hand_mirror diamond_flame finishing_disc recapping_device"),
    ("amalgam_class_two", "capsule_mixer wedge_remover dam_napkin recapping_device sharps_container"),
)


@pytest.mark.parametrize(("tray_id", "items"), FORGOTTEN)
def test_easily_forgotten_items_lie_on_the_tray(tray_id: str, items: str) -> None:
    tray = PACK.tray(tray_id)
    assert [i for i in items.split() if tray.slot_of(i) is None] == []


COMPOSITES = tuple(f"composite_class_{n}" for n in ("one", "two", "three", "four", "five"))


def step_ids(procedure_id: str) -> list[str]:
    return [s.id for s in PACK.procedure(procedure_id).steps]


def test_the_shade_is_chosen_before_the_dam_goes_on() -> None:
    for procedure_id in COMPOSITES:
        order = step_ids(procedure_id)
        assert order.index("choose_shade") < order.index("isolate"), procedure_id


def test_composite_is_etched_rinsed_bonded_cured_and_filled_in_this_order() -> None:
    for procedure_id in COMPOSITES:
        order = step_ids(procedure_id)
        ordered = [order.index(s) for s in ("etch", "rinse_and_dry", "bond", "cure_bond", "fill", "cure")]
        assert ordered == sorted(ordered), procedure_id


def in_order(procedure_id: str, *steps: str) -> bool:
    """Whether a procedure has these steps one after the other, whatever stands between them."""
    places = [step_ids(procedure_id).index(s) for s in steps]
    return places == sorted(places)


def step(procedure_id: str, step_id: str) -> Step:
    """One step of a procedure."""
    return next(s for s in PACK.procedure(procedure_id).steps if s.id == step_id)


def test_a_chewing_surface_is_layered_shaped_cured_and_brought_into_the_bite_after_the_dam() -> None:
    """Operative textbooks: grooves are shaped in soft composite; the dam is off before the bite."""
    assert in_order("composite_class_one", "mark_bite_before", "anaesthetise", "isolate", "outline")
    assert in_order("composite_class_one", "check_preparation", "line", "etch", "cure_bond", "flow", "fill")
    assert in_order("composite_class_one", "fill", "cure", "shape", "cure_last", "remove_dam", "mark_bite")
    assert in_order("composite_class_one", "mark_bite", "polish", "check_result")


def test_a_chewing_surface_alone_needs_no_wall() -> None:
    """Operative textbooks: class I has all its walls, so neither matrix nor wedge lies there."""
    tray = PACK.tray("composite_class_one")
    walls = ("matrix_band", "sectional_matrix", "sectional_ring", "wedge", "clear_strip", "crown_form")
    assert [item for item in walls if tray.slot_of(item)] == []


def test_the_last_layer_of_a_chewing_surface_is_shaped_with_burnishers_and_never_carved_with_a_knife() -> (
    None
):
    """Common practice: an acorn presses grooves into soft composite; a Hollenback is for amalgam."""
    shape = step("composite_class_one", "shape").items
    assert max(shape, key=lambda item: shape[item]) == "acorn_burnisher"
    assert "hollenback_carver" not in shape
    assert PACK.tray("composite_class_one").slot_of("amalgam_carrier") is None


def test_a_key_is_made_before_anything_is_cut_and_tried_in_before_the_etch() -> None:
    """Textbooks of anterior composite: the key is made on a model or trial build-up, before the dam."""
    assert in_order(
        "composite_class_four", "choose_shade", "make_key", "isolate", "refine", "try_form", "etch"
    )
    assert any("Before anything is cut" in c for c in step("composite_class_four", "make_key").cautions)
    assert "crown_form" in step("composite_class_four", "try_form").items


def test_a_biting_edge_is_built_from_the_back_dentine_before_enamel() -> None:
    """Textbooks of anterior composite: back wall in enamel shade, dentine core, enamel over it."""
    layers = ("cure_bond", "back_wall", "cure_back_wall", "matrix", "fill", "cure", "enamel", "cure_last")
    assert in_order("composite_class_four", *layers)
    assert in_order("composite_class_four", "enamel", "seat_form", "cure_last", "remove_matrix", "finish")
    assert in_order("composite_class_four", "remove_dam", "mark_bite", "contact", "polish", "check_result")


def test_the_neighbours_of_a_biting_edge_are_covered_before_the_etch() -> None:
    """Common practice: acid and bond stay off sound teeth."""
    assert in_order("composite_class_four", "try_form", "protect", "etch", "bond")
    assert {"ptfe_tape", "clear_strip"} <= set(step("composite_class_four", "protect").items)


def test_key_and_crown_form_are_each_other_s_choice() -> None:
    """Common practice: one or the other stands in for the lost wall, so neither step is a must."""
    for step_id in ("make_key", "back_wall", "seat_form"):
        assert step("composite_class_four", step_id).optional, step_id


def test_clear_things_are_counted_at_the_end_of_a_biting_edge() -> None:
    """Common practice: what is see-through is overlooked."""
    for item_id in ("crown_form", "clear_strip", "ptfe_tape", "cervical_matrix", "wedge"):
        assert PACK.item(item_id).counted, item_id
    said = " ".join(step("composite_class_four", "remove_matrix").cautions)
    assert "every piece of form, tape and strip" in said


def test_every_composite_is_polished_from_coarse_to_fine() -> None:
    """Common practice."""
    for procedure_id in ("composite_class_one", "composite_class_four"):
        assert any("Coarse before fine" in c for c in step(procedure_id, "polish").cautions), procedure_id
    says("polishing_spiral", r"coarse one first")
    says("composite_polishing_paste", r"scratch a composite")


def test_putty_is_never_kneaded_with_latex_gloves() -> None:
    """Textbooks of dental materials: sulphur in natural rubber keeps addition silicone from setting."""
    says("putty", r"[Nn]ever kneaded with latex gloves")
    assert any("latex gloves" in c for c in step("composite_class_four", "make_key").cautions)


def test_the_napkin_lies_between_dam_and_skin() -> None:
    """Common practice: the sheet is drawn through its opening."""
    says("dam_napkin", r"lies between dam and skin")


def test_amalgam_is_condensed_before_it_is_carved_and_a_matrix_goes_on_first() -> None:
    order = step_ids("amalgam_class_two")
    ordered = [order.index(s) for s in ("matrix", "mix", "fill", "remove_matrix", "carve", "burnish")]
    assert ordered == sorted(ordered)


def test_teachers_are_asked_at_set_points_and_timers_name_no_time() -> None:
    for procedure in PACK.procedures:
        assert any(s.faculty_check for s in procedure.steps), procedure.id
        assert not any(re.search(r"\d", timer) for s in procedure.steps for timer in s.timers), procedure.id


def test_a_bur_says_which_handpiece_it_fits() -> None:
    """Friction grip is for high speed, latch for the contra-angle (common practice, no source)."""
    for item in PACK.items:
        if item.item_class is ItemClass.BUR and item.id != "bur_block":
            wanted = {Shank.FRICTION_GRIP: "high speed", Shank.LATCH: "contra-angle"}
            shanks: set[Shank | None] = {v.shank for v in item.variants if v.shank} or {item.shank}
            for shank in shanks:
                assert shank is not None and wanted[shank] in noted(item).lower(), item.id


# ISO 2157 head sizes (nominal diameter in tenths of a millimetre) of US bur numbers, as in operative
# textbooks, from memory.
HEAD_SIZES = (
    ("bur_round_quarter", "005"),
    ("bur_round_half", "006"),
    ("bur_round_2", "010"),
    ("bur_round_4", "014"),
    ("bur_round_6", "018"),
    ("bur_round_8", "023"),
    ("bur_330", "008"),
    ("bur_245", "008"),
    ("bur_crosscut_557", "010"),
    ("bur_inverted_cone", "006"),
)


@pytest.mark.parametrize(("item_id", "size"), HEAD_SIZES)
def test_a_bur_has_the_head_size_of_its_number(item_id: str, size: str) -> None:
    assert f"ISO size {size}" in PACK.item(item_id).look


def test_every_bur_is_asked_for_by_its_number() -> None:
    for number in ("330", "245", "56", "57", "169", "170", "556", "557", "699"):
        item = next(i for i in PACK.items if number in spoken(i))
        assert item.item_class is ItemClass.BUR
    for round_number in (2, 4, 6, 8):
        assert f"number {round_number} round" in spoken(PACK.item(f"bur_round_{round_number}"))


# G. V. Black, A Work on Operative Dentistry (1908), volume II: page 22 gives the units (width in tenths of a
# millimetre, length in millimetres, angle in centigrades), page 24 that all angles are measured from the
# handle and that an edge angle follows the width; the hatchet 12-5-23 stands on page 21, the hatchet 20-2-25
# on page 27. A centigrade is a hundredth of a circle (page 24). 10-85-8-14 is the textbook example.


@pytest.mark.parametrize(
    ("text", "formula", "blade_degrees", "edge_degrees"),
    [
        ("10-85-8-14", Formula(1.0, 8.0, 14.0, 85.0), 50.4, 306.0),
        ("12-5-23", Formula(1.2, 5.0, 23.0), 82.8, None),
        ("20-2-25", Formula(2.0, 2.0, 25.0), 90.0, None),
        (" 10 \u2013 7 \u2013 14 ", Formula(1.0, 7.0, 14.0), 50.4, None),
        ("6\u00bd-2 1/2-9", Formula(0.65, 2.5, 9.0), 32.4, None),
        ("12.5-95-8-14", Formula(1.25, 8.0, 14.0, 95.0), 50.4, 342.0),
    ],
)
def test_a_formula_on_a_handle_is_read_as_black_wrote_it(
    text: str, formula: Formula, blade_degrees: float, edge_degrees: float | None
) -> None:
    read = read_formula(text)
    assert read == formula
    assert read.blade_degrees == pytest.approx(blade_degrees)
    if edge_degrees is None:
        assert read.edge_degrees is None
    else:
        assert read.edge_degrees == pytest.approx(edge_degrees)


@pytest.mark.parametrize(
    "text",
    ["", "-", "10", "10-7", "10-7-14-8-2", "a-b-c", "10--14", "0-7-14", "10-0-14", "10-7-0", "10-7-60"]
    + ["10-40-8-14", "10-50-8-14", "10-101-8-14", "1e1-7-14", "\u0661-7-14", "10-7-14 mm", "9999-7-14"],
)
def test_what_is_no_formula_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(FormulaError) as caught:
        read_formula(text)
    assert repr(text) in str(caught.value)


def test_formulas_among_the_names_of_hand_instruments_can_be_read() -> None:
    texts = [n.text for i in PACK.items for n in i.names if re.fullmatch(r"\d+(-\d+){2,3}", n.text)]
    assert texts
    for text in texts:
        assert read_formula(text).blade_width_mm > 0
