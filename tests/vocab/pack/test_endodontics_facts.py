"""The vocabulary of root canal treatment says what the trade knows; the source of each fact stands beside it.

P: published. C: common practice, no source. M: numbers from memory of standards, textbooks and catalogues.
"""

from __future__ import annotations

from itertools import combinations

import pytest

from listen.practice.facts import facts_beside
from listen.verdict import Verdict, allowed
from tests.vocab.pack.field import Field
from vocab.pack.schema import Exchange, Grasp, Item, ItemClass, Procedure, Reprocessing, Shank, TakenBy
from vocab.requests.understand import understand

pytestmark = pytest.mark.slow

FIELD = Field("endodontics")
PACK, LEXICON = FIELD.pack, FIELD.lexicon
meant = FIELD.meant
passing = FIELD.passing
cautions = FIELD.cautions
FACTS = facts_beside("endodontics", PACK)

# M: ISO 3630-1, sizes and colours.
COLOURS = {
    "06": "pink", "08": "grey", "10": "purple",
    "15": "white", "20": "yellow", "25": "red", "30": "blue", "35": "green", "40": "black",
    "45": "white", "50": "yellow", "55": "red", "60": "blue", "70": "green", "80": "black",
    "90": "white", "100": "yellow", "110": "red", "120": "blue", "130": "green", "140": "black",
}  # fmt: skip
IRRIGANTS = ("sodium_hypochlorite_syringe", "edta_syringe", "saline_syringe", "chlorhexidine_syringe")
ANAESTHETICS = ("aspirating_syringe", "cartridge_plain", "cartridge_vasoconstrictor")
MEDICAMENTS = ("canal_lubricant", "calcium_hydroxide_paste", "pulp_medicament", "gutta_percha_solvent")
HAND_FILES = ("k_file", "hedstroem_file", "flex_file", "hand_reamer", "stiff_file", "barbed_broach")
DRIVEN = ("rotary_file", "glide_path_file", "orifice_shaper", "reciprocating_file", "retreatment_file")
CANALS = [p for p in PACK.procedures if p.id.startswith("root_canal")]
items = pytest.mark.parametrize("item", PACK.items, ids=lambda item: item.id)
procedures = pytest.mark.parametrize("procedure_id", [p.id for p in PACK.procedures])


def places(procedure_id: str) -> dict[str, int]:
    """Where each step of a procedure comes."""
    return {step.id: place for place, step in enumerate(PACK.procedure(procedure_id).steps)}


# --- sizes ----------------------------------------------------------------------------------------------


def test_hand_files_come_in_the_sizes_and_colours_of_the_standard() -> None:
    """M: ISO 3630-1."""
    assert {v.text: v.note for v in PACK.item("k_file").variants} == COLOURS
    for item_id in ("hedstroem_file", "flex_file", "hand_reamer", "stiff_file", "reciprocating_file"):
        sizes = {v.text: v.note for v in PACK.item(item_id).variants}
        assert sizes and sizes.items() <= COLOURS.items(), item_id


@pytest.mark.parametrize("item_id", ["paper_point", "gutta_percha_cone"])
def test_points_and_cones_have_the_colours_of_the_files(item_id: str) -> None:
    """M: ISO 6877 and ISO 7551."""
    sizes = {v.text: v.note for v in PACK.item(item_id).variants if v.text in COLOURS}
    assert len(sizes) > 10 and sizes.items() <= COLOURS.items()


def test_a_size_grows_by_five_up_to_sixty_and_by_ten_from_there() -> None:
    """M: ISO 3630-1."""
    sizes = [int(v.text) for v in PACK.item("k_file").variants][2:]
    steps = {(b, b - a) for a, b in zip(sizes, sizes[1:], strict=False)}
    assert all(step == (5 if size <= 60 else 10) for size, step in steps)


def test_the_files_of_a_motor_the_cones_and_the_points_have_the_same_tapers() -> None:
    """C: matched systems; who says 25/04 and no more is asked which."""
    rotary = {v.text for v in PACK.item("rotary_file").variants}
    for item_id in ("paper_point", "gutta_percha_cone"):
        assert rotary <= {v.text for v in PACK.item(item_id).variants}
    assert {item for item, _ in meant("twenty five oh four")} >= {"rotary_file", "paper_point"}


@pytest.mark.parametrize(
    ("item_id", "first"),
    [("gates_glidden_drill", 0.5), ("peeso_reamer", 0.7)],
)
def test_drills_grow_by_two_tenths(item_id: str, first: float) -> None:
    """M: ISO 3630-2."""
    notes = [variant.note for variant in PACK.item(item_id).variants]
    assert notes == [f"{first + 0.2 * n:.2f} mm" for n in range(6)]


def test_facts_and_items_agree_on_drills_and_files() -> None:
    drills = {
        (i, v.text): v.note for i in ("gates_glidden_drill", "peeso_reamer") for v in PACK.item(i).variants
    }
    for fact_id, drill in (
        ("gates_1", ("gates_glidden_drill", "1")),
        ("gates_3", ("gates_glidden_drill", "3")),
        ("peeso_1", ("peeso_reamer", "1")),
    ):
        assert FACTS.fact(fact_id).answer.text == drills[drill]
    for size in ("06", "08", "10", "15", "20", "25", "30", "35", "40"):
        assert FACTS.fact(f"colour_{size}").answer.text == COLOURS[size]
    assert COLOURS["45"] == COLOURS[FACTS.fact("colour_again").answer.text]
    assert FACTS.fact("size_d16").answer.text == f"{0.25 + 16 * 0.02:.2f} mm"


@pytest.mark.parametrize(
    ("item_id", "sign"), [("k_file", "square"), ("hedstroem_file", "circle"), ("hand_reamer", "triangle")]
)
def test_a_hand_file_is_told_by_the_sign_on_its_handle(item_id: str, sign: str) -> None:
    """M: ISO 3630-1."""
    item = PACK.item(item_id)
    assert sign in item.look and any(sign in alike.tell.lower() for alike in item.confused_with)


def test_the_file_kit_holds_every_size_of_k_file() -> None:
    kit = next(kit for kit in PACK.kits if kit.id == "file_kit")
    held = [v for slot in kit.slots if slot.item == "k_file" for v in slot.variants]
    assert held == list(COLOURS)


# --- passing, sharps, counts ----------------------------------------------------------------------------


@items
def test_every_sharp_has_a_caution(item: Item) -> None:
    """C."""
    assert item.cautions or not item.sharp, item.id


@pytest.mark.parametrize("item_id", [*HAND_FILES, *DRIVEN])
def test_a_file_is_a_counted_sharp_whose_fate_the_clinic_decides(item_id: str) -> None:
    """P: OSHA 29 CFR 1910.1030 (sharps); C for counting and for what breaks."""
    item = PACK.item(item_id)
    assert item.sharp and item.counted and item.reprocessing is Reprocessing.SINGLE_USE
    said = cautions(item_id)
    assert "sharps container" in said and ("broke" in said or "breaks" in said)


@pytest.mark.parametrize(
    "item_id", ["k_file", "hedstroem_file", "flex_file", "barbed_broach", "finger_spreader"]
)
def test_no_hand_file_goes_into_a_mouth_without_a_dam(item_id: str) -> None:
    """P: American Association of Endodontists, on dental dams."""
    assert "without dam" in cautions(item_id)


@pytest.mark.parametrize("item_id", HAND_FILES)
def test_a_hand_file_is_passed_handle_first(item_id: str) -> None:
    """C."""
    handing = PACK.item(item_id).handing
    assert handing is not None and handing.offered == "handle"
    assert (handing.grasp, handing.exchange) == (Grasp.PEN, Exchange.ONE_HAND)


@pytest.mark.parametrize("item_id", [*DRIVEN, "gates_glidden_drill", "peeso_reamer", "spiral_filler"])
def test_what_the_handpiece_turns_has_a_latch(item_id: str) -> None:
    """M."""
    assert PACK.item(item_id).shank is Shank.LATCH


@pytest.mark.parametrize("item_id", DRIVEN)
def test_speed_and_direction_are_the_makers(item_id: str) -> None:
    """C."""
    assert "maker's, read back from the screen" in cautions(item_id)


@pytest.mark.parametrize(
    "item_id", ["rubber_stop", "paper_point", "gutta_percha_cone", "finger_plugger", "irrigation_needle"]
)
def test_what_may_stay_behind_is_counted(item_id: str) -> None:
    """C."""
    assert PACK.item(item_id).counted


def test_hot_things_warn() -> None:
    """C."""
    for item_id in ("heat_carrier", "hot_tip", "obturation_gun"):
        assert "Burns" in cautions(item_id), item_id


@pytest.mark.parametrize(
    "item_id", ["apex_locator", "file_box", "file_stand", "canal_suction_tip", "irrigation_needle"]
)
def test_what_the_assistant_keeps(item_id: str) -> None:
    """C."""
    handing = PACK.item(item_id).handing
    assert handing is not None and handing.taken_by is TakenBy.ASSISTANT


# --- what is always checked -----------------------------------------------------------------------------


def test_drugs_and_rinsing_fluids_are_always_checked_and_nothing_else_is() -> None:
    """P: Joint Commission, National Patient Safety Goal 03.04.01 (labels), from memory; C for the rest."""
    numbing = {i.id for i in PACK.items if i.item_class is ItemClass.ANAESTHESIA} - {"recapping_device"}
    checked = {item.id for item in PACK.items if item.always_check}
    assert checked == {*IRRIGANTS, *MEDICAMENTS, *numbing}
    for item_id in checked:
        assert allowed(Verdict.ANSWER, PACK.item(item_id)) is Verdict.CHECK


@pytest.mark.parametrize("item_id", [*IRRIGANTS, *MEDICAMENTS])
def test_the_label_is_read_aloud(item_id: str) -> None:
    """P: as above."""
    assert "label" in passing(item_id).lower() and "read aloud" in passing(item_id)
    assert "label" in cautions(item_id).lower() and "read back" in cautions(item_id)


@pytest.mark.parametrize("item_id", IRRIGANTS)
def test_a_rinsing_syringe_never_goes_over_the_face(item_id: str) -> None:
    """C."""
    assert "never over the face" in passing(item_id)


@pytest.mark.parametrize(
    "words",
    ["Never under pressure", "short of its end", "emergency", "Eyewear", "bib", "Never mixed with", "bleach"],
)
def test_hypochlorite_carries_its_warnings(words: str) -> None:
    """M: Cohen's Pathways of the Pulp; Ingle's Endodontics, chapters on irrigation."""
    assert words in cautions("sodium_hypochlorite_syringe")


@pytest.mark.parametrize(
    "pair",
    [
        *combinations(IRRIGANTS, 2),
        *((fluid, drug) for fluid in IRRIGANTS for drug in ANAESTHETICS),
        ("edta_syringe", "canal_lubricant"),
        ("root_canal_sealer", "saline_syringe"),
        ("gutta_percha_solvent", "chlorhexidine_syringe"),
        ("irrigation_needle", "needle_short"),
        ("irrigation_needle", "needle_long"),
        ("k_file", "hedstroem_file"),
        ("rotary_file", "reciprocating_file"),
        ("lip_hook", "file_clip"),
        ("hand_spreader", "endo_plugger"),
        ("gates_glidden_drill", "peeso_reamer"),
        ("calcium_hydroxide_paste", "pulp_medicament"),
        ("mta_cement", "pulp_medicament"),
    ],
    ids="-".join,
)
def test_a_pair_that_matters_has_a_wide_margin_and_tells_itself_apart(pair: tuple[str, str]) -> None:
    """C; what belongs to the fields in common may leave the tell to the other."""
    assert set(pair) in [set(p) for p in PACK.wide_margin]
    told = {(i.id, c.item) for i in PACK.items for c in i.confused_with}
    assert pair in told
    if not {*ANAESTHETICS, "needle_short", "needle_long"} & set(pair):
        assert pair[::-1] in told


def test_a_word_never_decides_between_these() -> None:
    """C."""
    assert PACK.offered_with("sodium_hypochlorite_syringe") == ("chlorhexidine_syringe",)
    assert PACK.offered_with("edta_syringe") == ("canal_lubricant",)


# --- names ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "item_id", "variant"),
    [
        # M: ISO 3630-1, as it is said
        ("six oh file", "k_file", "06"),
        ("oh six file", "k_file", "06"),
        ("number eight file", "k_file", "08"),
        ("oh eight K file", "k_file", "08"),
        ("ten file", "k_file", "10"),
        ("M A F", "k_file", None),
        ("number fifteen file", "k_file", "15"),
        ("size 20 file", "k_file", "20"),
        ("25 K", "k_file", "25"),
        ("one forty file", "k_file", "140"),
        ("thirty hedstrom", "hedstroem_file", "30"),
        ("20 H file", "hedstroem_file", "20"),
        ("hedstroem file", "hedstroem_file", None),
        ("thirty flex file", "flex_file", "30"),
        ("40 reamer", "hand_reamer", "40"),
        ("stiff ten", "stiff_file", "10"),
        ("extra fine broach", "barbed_broach", "extra-fine"),
        # M: sizes and tapers
        ("25 04 rotary", "rotary_file", "25/04"),
        ("twenty five oh four file", "rotary_file", "25/04"),
        ("thirty oh six rotary", "rotary_file", "30/06"),
        ("oh four thirty five cone", "gutta_percha_cone", "35/04"),
        ("30 oh 4 paper point", "paper_point", "30/04"),
        ("sixteen oh two", "glide_path_file", "16/02"),
        ("25 08 opener", "orifice_shaper", "25/08"),
        ("25 recip", "reciprocating_file", "25"),
        ("apical retreatment file", "retreatment_file", "apical"),
        # M: ISO 3630-2
        ("number two gates", "gates_glidden_drill", "2"),
        ("a three gates", "gates_glidden_drill", "3"),
        ("gates", "gates_glidden_drill", None),
        ("G G", "gates_glidden_drill", None),
        ("number one peeso", "peeso_reamer", "1"),
        # M: Bird and Robinson; catalogues
        ("DG16", "endo_explorer", None),
        ("D G sixteen", "endo_explorer", None),
        ("31L", "endo_spoon", "31L"),
        ("endo spoon", "endo_spoon", None),
        ("glick", "glick_instrument", None),
        ("D11T", "hand_spreader", "D11T"),
        ("D eleven T", "hand_spreader", "D11T"),
        ("schilder", "endo_plugger", None),
        ("nine and a half plugger", "endo_plugger", "9 1/2"),
        ("nine eleven plugger", "endo_plugger", "9/11"),
        ("luks plugger", "endo_plugger", "Luks"),
        ("number 3 lentulo", "spiral_filler", "3"),
        # C
        ("long two round", "long_round_bur", "2"),
        ("safe end bur", "safe_end_bur", None),
        ("thirty master cone", "gutta_percha_cone", "30"),
        ("medium fine cone", "accessory_cone", "medium-fine"),
        ("F F cone", "accessory_cone", "fine-fine"),
        ("20 finger spreader", "finger_spreader", "20"),
        ("heat carrier", "heat_carrier", None),
        ("fine hot tip", "hot_tip", "fine"),
        ("backfill", "obturation_gun", None),
        ("bioceramic sealer", "root_canal_sealer", "bioceramic"),
        ("hypo", "sodium_hypochlorite_syringe", None),
        ("bleach", "sodium_hypochlorite_syringe", None),
        ("six percent hypo", "sodium_hypochlorite_syringe", "6 percent"),
        ("five and a quarter percent bleach", "sodium_hypochlorite_syringe", "5.25 percent"),
        ("2% chlorhexidine", "chlorhexidine_syringe", "2 percent"),
        ("sodium hypochlorite", "sodium_hypochlorite_syringe", None),
        ("E D T A", "edta_syringe", None),
        ("seventeen percent", "edta_syringe", None),
        ("EDTA gel", "canal_lubricant", None),
        ("saline", "saline_syringe", None),
        ("chlorhexidine", "chlorhexidine_syringe", None),
        ("C H X", "chlorhexidine_syringe", None),
        ("30 gauge side vent", "irrigation_needle", "30 gauge"),
        ("27 short", "needle_short", "27 gauge"),
        ("lip clip", "lip_hook", None),
        ("file clip", "file_clip", None),
        ("finger ruler", "endo_ruler", None),
        ("locator", "apex_locator", None),
        ("piezo", "endo_ultrasonic_handpiece", None),
        ("trough tip", "endo_ultrasonic_tip", "troughing"),
        ("activator", "sonic_activator", None),
        ("endo sponge", "file_stand", None),
        ("endo pliers", "locking_pliers", None),
        ("chloroform", "gutta_percha_solvent", "chloroform"),
        ("M T A", "mta_cement", None),
        ("putty", "mta_cement", "putty"),
    ],
)
def test_what_people_say_means_one_item(said: str, item_id: str, variant: str | None) -> None:
    assert meant(f"hand me {said}")[0] == (item_id, variant)


@pytest.mark.parametrize(
    ("said", "item_ids"),
    [
        # C: one name, several things
        ("file", {"k_file", "hedstroem_file", "flex_file", "rotary_file"}),
        ("hand file", {"k_file", "hedstroem_file", "flex_file"}),
        ("spreader", {"finger_spreader", "hand_spreader"}),
        ("explorer", {"endo_explorer", "explorer_shepherd"}),
        ("gutta-percha", {"gutta_percha_cone", "accessory_cone", "gutta_percha_pellet"}),
        ("cone", {"gutta_percha_cone", "accessory_cone"}),
        ("25 04", {"rotary_file", "gutta_percha_cone", "paper_point"}),
        ("bioceramic", {"mta_cement", "root_canal_sealer"}),
        ("gun", {"obturation_gun", "composite_dispenser"}),
        # never guessed: what is in a syringe, and which needle
        ("irrigation syringe", set(IRRIGANTS)),
        ("irrigant", set(IRRIGANTS)),
        ("needle", {"irrigation_needle", "needle_short", "needle_long"}),
        ("30 gauge", {"irrigation_needle", "needle_short", "needle_long"}),
        ("three percent", {"sodium_hypochlorite_syringe", "cartridge_plain"}),
        ("calcium hydroxide", {"calcium_hydroxide_paste", "pulp_medicament"}),
        ("medicament", {"calcium_hydroxide_paste", "pulp_medicament"}),
    ],
)
def test_a_name_that_means_several_is_left_open(said: str, item_ids: set[str]) -> None:
    candidates = LEXICON.find(said)
    likeliest = candidates[0].p
    assert {c.item for c in candidates if c.p == pytest.approx(likeliest)} == item_ids
    assert likeliest <= 0.5


def test_two_gates_are_two_of_them() -> None:
    """C: "number two" and "a two" say the size."""
    (request,) = understand("two gates please", LEXICON, PACK.speech)
    assert request.quantity == 2 and request.candidates[0].variant is None


@pytest.mark.parametrize("number", [*range(1, 33), *(f"{q}{t}" for q in range(1, 9) for t in range(1, 9))])
def test_no_bare_tooth_number_is_a_name(number: object) -> None:
    """P: universal numbering 1 to 32, and the two-digit system of ISO 3950."""
    for said in (f"{number}", f"number {number}"):
        assert not LEXICON.is_name(said), said


# --- trays and steps ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tray_id", "laid"),
    [
        # C
        (
            "root_canal_access",
            "mouth_mirror endo_explorer endo_spoon locking_pliers endo_ruler safe_end_bur long_round_bur "
            "barbed_broach k_file apex_locator lip_hook file_clip endo_sensor_holder image_sensor dam_clamp",
        ),
        (
            "root_canal_shaping",
            "rotary_file reciprocating_file glide_path_file gates_glidden_drill endo_motor endo_contra_angle "
            "hedstroem_file hand_reamer edta_syringe sonic_activator paper_point",
        ),
        (
            "root_canal_filling",
            "gutta_percha_cone accessory_cone root_canal_sealer finger_spreader hand_spreader endo_plugger "
            "heat_carrier hot_tip obturation_gun gutta_percha_pellet glick_instrument peeso_reamer",
        ),
        (
            "root_canal_retreatment",
            "gutta_percha_solvent retreatment_file hedstroem_file file_retriever microscope",
        ),
        (
            "vital_pulp_treatment",
            "mta_cement mta_carrier pulp_medicament saline_syringe glass_ionomer",
        ),
    ],
)
def test_a_tray_holds_what_its_procedure_needs(tray_id: str, laid: str) -> None:
    assert [i for i in laid.split() if PACK.tray(tray_id).slot_of(i) is None] == []


@procedures
def test_a_tray_is_short(procedure_id: str) -> None:
    """C: what lies on the tray itself; files, burs and materials are in kits."""
    tray = PACK.tray(PACK.procedure(procedure_id).tray)
    assert len(tray.rows) == 2 and 12 <= sum(len(row.slots) for row in tray.rows) <= 20


@procedures
def test_no_tooth_is_opened_without_a_dam_and_it_comes_off_counted(procedure_id: str) -> None:
    """P: American Association of Endodontists, on dental dams."""
    steps, at = PACK.procedure(procedure_id).steps, places(procedure_id)
    assert not steps[at["isolate"]].optional and not steps[at["dam_off"]].optional
    cutting = [
        at[s.id]
        for s in steps
        if {"high_speed_handpiece", "k_file", "rotary_file"} & set(s.items) and s.id != "bite"
    ]
    assert at["check"] < at["anaesthetise"] < at["isolate"] < min(cutting) <= max(cutting) < at["dam_off"]
    assert "counted" in " ".join(steps[at["dam_off"]].cautions)


@procedures
def test_a_teacher_looks_before_anything_is_opened(procedure_id: str) -> None:
    """C: a pause to agree on patient, tooth and treatment."""
    steps = PACK.procedure(procedure_id).steps
    first = next(step for step in steps if step.faculty_check)
    assert first.id == "check" and "same tooth" in " ".join(first.cautions)


@procedures
def test_anaesthetic_is_cleared_away_before_rinsing_fluid_is_asked_for(procedure_id: str) -> None:
    """C."""
    steps, at = PACK.procedure(procedure_id).steps, places(procedure_id)
    rinsing = [place for place, step in enumerate(steps) if set(IRRIGANTS) & set(step.items)]
    assert at["anaesthetise"] < min(rinsing)
    assert "put away before rinsing fluids" in " ".join(steps[at["anaesthetise"]].cautions)


@pytest.mark.parametrize(
    ("procedure_id", "order"),
    [
        # M: Cohen's Pathways of the Pulp; Bird and Robinson, Modern Dental Assisting
        (
            "root_canal_access",
            "open unroof find check_access pulp scout measure length_image last_rinse dress close",
        ),
        (
            "root_canal_shaping",
            "reopen orifices length path shape rinse_between smear_layer activate dry dress close dam_off",
        ),
        (
            "root_canal_filling",
            "reopen last_rinse try_cone cone_image dry mix seat_cone spread cut_off dam_off final_image",
        ),
        ("root_canal_filling", "seat_cone down_pack backfill cut_off post_space close"),
        (
            "root_canal_retreatment",
            "open post find upper_part soften pull length shape last_rinse close dam_off",
        ),
        ("vital_pulp_treatment", "decay cut_back stop_bleeding check_pulp cover line bond fill dam_off bite"),
    ],
)
def test_steps_come_in_working_order(procedure_id: str, order: str) -> None:
    at = places(procedure_id)
    there = [at[step] for step in order.split()]
    assert there == sorted(there)


@pytest.mark.parametrize("procedure", CANALS, ids=lambda p: p.id)
def test_an_image_of_a_canal_is_looked_at_by_a_teacher(procedure: Procedure) -> None:
    """C: length, cone and filling."""
    steps = [step for step in procedure.steps if "image_sensor" in step.items]
    assert steps and all(step.faculty_check for step in steps)


def test_no_air_goes_into_an_open_canal() -> None:
    """M: Cohen's Pathways of the Pulp (air driven into the tissue)."""
    for procedure_id, step_id in (
        ("root_canal_shaping", "dry"),
        ("root_canal_filling", "dry"),
        ("root_canal_access", "last_rinse"),
    ):
        step = PACK.procedure(procedure_id).steps[places(procedure_id)[step_id]]
        assert "paper_point" in step.items and "air_water_syringe" not in step.items
        assert "No air into an open canal" in " ".join(step.cautions)


# --- facts ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact_id", "value", "source"),
    [
        ("size_tip", "0.15 mm", "ISO 3630-1"),
        ("taper", "0.02 mm", "ISO 3630-1"),
        ("cutting_length", "16 mm", "ISO 3630-1"),
        ("next_after_10", "15", "ISO 3630-1"),
        ("next_after_60", "70", "ISO 3630-1"),
        ("sign_k", "a square", "ISO 3630-1"),
        ("hedstroem_motion", "pulling", "Cohen"),
        ("gates_3", "0.90 mm", "ISO 3630-2"),
        ("spreader_plugger", "the spreader", "ISO 3630-3"),
        ("spiral_direction", "forward, clockwise", "Cohen"),
        ("dam_always", "in every one", "American Association of Endodontists"),
        ("dissolves", "sodium hypochlorite", "irrigation"),
        ("smear_layer", "EDTA", "irrigation"),
        ("edta_strength", "17 percent", "irrigation"),
        ("brown_deposit", "an orange-brown deposit", "irrigation"),
        ("needle_fit", "loose and short of the length", "irrigation"),
        ("no_label", "it is thrown away", "Joint Commission"),
        ("cement_moisture", "moisture", "Torabinejad"),
    ],
)
def test_a_fact_holds_what_the_trade_knows_and_where_it_comes_from(
    fact_id: str, value: str, source: str
) -> None:
    fact = FACTS.fact(fact_id)
    assert fact.answer.text == value and source in fact.source


@pytest.mark.parametrize(
    ("group", "watched"),
    [
        # C
        ("passing", "dam on"),
        ("passing", "eyewear"),
        ("passing", "aloud from the label"),
        ("passing", "labels each syringe"),
        ("count", "short"),
        ("count", "Counts files"),
        ("sharps", "with pliers"),
        ("sharps", "one hand"),
    ],
)
def test_somebody_has_to_watch_what_matters_most(group: str, watched: str) -> None:
    assert any(watched in p.text and p.must for p in FACTS.checklist if p.group == group)
