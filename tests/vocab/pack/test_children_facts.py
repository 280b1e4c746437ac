"""Children's dentistry says what the trade knows; the source of each fact stands beside it.

P: published. C: common practice, no source. M: numbers from memory of textbooks and catalogues.
"""

from __future__ import annotations

import string

import pytest

from listen.chairside.handing import handing_text
from listen.practice.facts import facts_beside
from tests.vocab.pack.field import Field
from vocab.pack.schema import Exchange, Grasp, Item, ItemClass, TakenBy

pytestmark = pytest.mark.slow

FIELD = Field("children")
PACK, LEXICON = FIELD.pack, FIELD.lexicon
meant = FIELD.meant
FACTS = facts_beside("children", PACK)

ARCHES, SIDES, SIZES = ("upper", "lower"), ("left", "right"), range(2, 8)
CROWNS = {"D": "steel_crown_first", "E": "steel_crown_second"}
items = pytest.mark.parametrize("item", PACK.items, ids=lambda item: item.id)


def step_ids(procedure_id: str) -> list[str]:
    return [step.id for step in PACK.procedure(procedure_id).steps]


def cautions(procedure_id: str, step_id: str) -> str:
    return " ".join(
        caution
        for step in PACK.procedure(procedure_id).steps
        if step.id == step_id
        for caution in step.cautions
    )


# --- passing, sharps, counts, drugs ---------------------------------------------------------------------


@pytest.mark.parametrize(
    "item_id",
    sorted(
        {slot.item for tray in PACK.trays for row in tray.rows for slot in row.slots}
        | {item.id for item in PACK.items if item.id.startswith(("child_", "steel_", "band_", "zirconia_"))}
    ),
)
def test_what_lies_on_a_tray_says_how_it_is_passed(item_id: str) -> None:
    assert handing_text(PACK.item(item_id)), item_id


@items
def test_every_sharp_has_a_caution(item: Item) -> None:
    """C."""
    assert item.cautions or not item.sharp, item.id


@pytest.mark.parametrize("item_id", ["t_band", "spot_welded_band", "child_matrix_band", "splint_wire"])
def test_used_bands_and_cut_wire_are_single_use_sharps_that_are_counted(item_id: str) -> None:
    """P: OSHA 29 CFR 1910.1030(b) names exposed ends of dental wires among contaminated sharps."""
    item = PACK.item(item_id)
    assert item.sharp and item.counted and item.reprocessing == "single use"
    assert any("sharps container" in caution for caution in item.cautions)


@pytest.mark.parametrize(
    "item_id",
    [
        *CROWNS.values(),
        "zirconia_crown",
        "zirconia_try_in",
        "strip_crown",
        "orthodontic_band",
        "space_maintainer",
        "separator",
        "child_dam_clamp",
        "child_bite_block",
        "throat_screen",
        "band_remover",
        "cotton_pellet",
    ],
)
def test_what_a_child_may_swallow_is_counted(item_id: str) -> None:
    """C."""
    assert PACK.item(item_id).counted


@pytest.mark.parametrize(
    "item_id", [*CROWNS.values(), "zirconia_crown", "orthodontic_band", "space_maintainer"]
)
def test_what_is_tried_in_warns_of_swallowing(item_id: str) -> None:
    """P: Innes and others, Trials 2016;17:169 (gauze protects the airway); C."""
    assert any("swallowed or inhaled" in caution for caution in PACK.item(item_id).cautions)


@pytest.mark.parametrize("item_id", ["child_dam_clamp", "child_bite_block", "space_maintainer"])
def test_a_tether_is_tied_to_it(item_id: str) -> None:
    """C."""
    assert "floss" in f"{handing_text(PACK.item(item_id))} {' '.join(PACK.item(item_id).cautions)}"


def test_drugs_and_gas_are_always_checked_and_instruments_are_not() -> None:
    """C; the tool never advises a drug."""
    drugs = {
        "formocresol",
        "ferric_sulphate",
        "silver_diamine_fluoride",
        "potassium_iodide",
        "nitrous_unit",
        "tooth_storage_medium",
        "fluoride_varnish",
    }
    anaesthesia = {
        item.id
        for item in PACK.items
        if item.item_class is ItemClass.ANAESTHESIA
        and item.id not in ("recapping_device", "cotton_tip_applicator")
    }
    checked = {item.id for item in PACK.items if item.always_check}
    assert drugs <= checked and anaesthesia <= checked | {"cotton_tip_applicator"}
    assert not checked & {*CROWNS.values(), "nitrous_hood", "child_luting_cement", "zinc_oxide_eugenol"}


@pytest.mark.parametrize(
    "item_id", ["formocresol", "ferric_sulphate", "silver_diamine_fluoride", "potassium_iodide"]
)
def test_the_label_of_a_drug_is_read_back(item_id: str) -> None:
    """C."""
    item = PACK.item(item_id)
    assert any("read back by the person responsible" in caution for caution in item.cautions)
    assert "pellet" in f"{handing_text(item)}" or "brush" in f"{handing_text(item)}", (
        "the bottle is not passed"
    )


def test_silver_warns_of_stains_and_asks_for_consent() -> None:
    """M: American Academy of Pediatric Dentistry, chairside guide on silver diamine fluoride."""
    said = " ".join(PACK.item("silver_diamine_fluoride").cautions)
    assert "Stains skin" in said and "clothes" in said and "Consent" in said and "allergies to silver" in said
    assert step_ids("silver_fluoride").index("protect") < step_ids("silver_fluoride").index("apply")


def test_formocresol_warns_of_what_it_holds() -> None:
    """C."""
    assert any("formaldehyde" in caution for caution in PACK.item("formocresol").cautions)


def test_scavenging_comes_before_the_gas_and_oxygen_before_the_hood_is_off() -> None:
    """P: NIOSH publication 96-107; M: AAPD, use of nitrous oxide."""
    said = " ".join(PACK.item("nitrous_unit").cautions)
    assert "before the gas flows" in said and "oxygen before the hood comes off" in said
    assert "never left alone" in said and "never advises" in said
    for procedure in ("child_filling", "steel_crown", "pulpotomy", "strip_crown", "zirconia_crown"):
        steps = step_ids(procedure)
        assert steps.index("nitrous") < steps.index("anaesthetise") < steps.index("oxygen")


@pytest.mark.parametrize(
    ("item_id", "grasp", "exchange"),
    [
        ("contouring_pliers", Grasp.PALM, Exchange.TWO_HANDS),
        ("howe_pliers", Grasp.PALM, Exchange.TWO_HANDS),
        ("child_dam_clamp", Grasp.PALM, Exchange.TWO_HANDS),
        ("band_seater", Grasp.PALM, Exchange.ONE_HAND),
        ("band_pusher", Grasp.PALM_AND_THUMB, Exchange.ONE_HAND),
        ("child_mirror", Grasp.PEN, Exchange.ONE_HAND),
        ("child_explorer", Grasp.PEN, Exchange.ONE_HAND),
    ],
)
def test_grasp_and_exchange_are_those_of_the_trade(item_id: str, grasp: Grasp, exchange: Exchange) -> None:
    """C: heavy ones lie in the palm, bulky ones are passed with two hands, fine ones held like a pen."""
    handing = PACK.item(item_id).handing
    assert handing is not None and (handing.grasp, handing.exchange) == (grasp, exchange)


@pytest.mark.parametrize("item_id", ["nitrous_unit", "spot_welder", "pulse_oximeter", "tooth_storage_medium"])
def test_what_is_not_passed_stays_with_the_assistant(item_id: str) -> None:
    """C."""
    handing = PACK.item(item_id).handing
    assert handing is not None and handing.taken_by is TakenBy.ASSISTANT


@pytest.mark.parametrize("item_id", [*CROWNS.values(), "zirconia_crown", "strip_crown"])
def test_the_open_end_of_a_crown_faces_the_tooth(item_id: str) -> None:
    """C."""
    assert "Open end toward the teeth being treated" in f"{handing_text(PACK.item(item_id))}"


@pytest.mark.parametrize("item_id", ["t_band", "child_matrix_band", "child_matrix_retainer"])
def test_the_wider_opening_of_a_band_faces_the_chewing_surface(item_id: str) -> None:
    """C."""
    assert "Wider opening of the loop toward the chewing surface" in f"{handing_text(PACK.item(item_id))}"


# --- names ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("letter", CROWNS)
@pytest.mark.parametrize("arch", ARCHES)
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("size", SIZES)
def test_a_steel_crown_is_understood_however_tooth_side_and_size_are_ordered(
    letter: str, arch: str, side: str, size: int
) -> None:
    """M: letters D and E, sizes 2 to 7, for each arch and side."""
    wanted = (CROWNS[letter], f"{arch} {side} {letter}{size}")
    number = ("two", "three", "four", "five", "six", "seven")[size - 2]
    for said in (
        f"give me a {letter}{size} {arch} {side}",
        f"{letter} {number} {arch} {side}",
        f"{arch} {side} {letter} size {number} please",
        f"size {size} {letter} {arch} {side} crown",
        f"{letter}{arch[0]}{side[0]}{size}",
        f"a {letter}{size} {arch} {side} stainless steel crown",
    ):
        assert meant(said)[0] == wanted, said


@pytest.mark.parametrize("size", SIZES)
def test_a_letter_with_a_size_is_a_crown_without_its_side(size: int) -> None:
    """C: the side is clear at the chair; D2 to D4 are shades of composite as well."""
    assert meant(f"E{size}") == [("steel_crown_second", f"E{size}")]
    assert meant(f"D{size} crown")[0] == ("steel_crown_first", f"D{size}")
    shades = {item for item, _ in meant(f"D{size}")} - {"steel_crown_first"}
    assert shades == ({"universal_composite", "flowable_composite"} if size < 5 else set())


@pytest.mark.parametrize(
    ("said", "item_id", "variant"),
    [
        # M: pattern numbers of pliers
        ("the one fourteen", "contouring_pliers", "114"),
        ("Gordon pliers", "contouring_pliers", "137"),
        ("Johnson pliers", "contouring_pliers", None),
        ("one twelve pliers", "ball_and_socket_pliers", None),
        ("four seventeen", "crimping_pliers", None),
        ("eight hundred four seventeen", "crimping_pliers", None),
        ("crimpers", "crimping_pliers", None),
        ("one ten pliers", "howe_pliers", None),
        ("Howes", "howe_pliers", None),
        ("one thirty nine", "birdbeak_pliers", None),
        ("three prong pliers", "three_jaw_pliers", None),
        ("three forty seven", "band_remover", None),
        # M: clamps
        ("number 3 clamp", "child_dam_clamp", "3"),
        ("W8A", "child_dam_clamp", "W8A"),
        ("the eight A clamp", "child_dam_clamp", "8A"),
        ("twenty seven clamp", "child_dam_clamp", "27"),
        ("fourteen A", "child_dam_clamp", "14A"),
        # C: what is said at the chair
        ("pedo mirror", "child_mirror", None),
        ("size 3 mirror", "child_mirror", "3"),
        ("small bite block", "child_bite_block", "small"),
        ("throat pack", "throat_screen", None),
        ("T-band", "t_band", None),
        ("curved T-band", "t_band", "curved"),
        ("spot weld band", "spot_welded_band", None),
        ("junior Tofflemire", "child_matrix_retainer", None),
        ("pedo band", "child_matrix_band", None),
        ("clear crown form", "strip_crown", None),
        ("right central size 2 strip crown", "strip_crown", "right central 2"),
        ("zirconia first molar", "zirconia_crown", "first molar"),
        ("try in", "zirconia_try_in", None),
        ("Boley gauge", "crown_caliper", None),
        ("green stone", "crown_stone", None),
        ("Mershon", "band_pusher", None),
        ("size 34 band", "orthodontic_band", "34"),
        ("34 molar band", "orthodontic_band", "34"),
        ("lower left band", "orthodontic_band", "lower left"),
        ("elastic separators", "separator", None),
        ("band and loop", "space_maintainer", "band and loop"),
        ("LLHA", "space_maintainer", "lingual arch"),
        ("sixteen wire", "splint_wire", "016"),
        ("fishing line", "splint_wire", "nylon line"),
        ("HBSS", "tooth_storage_medium", None),
        ("crown cement", "child_luting_cement", None),
        ("ZOE", "zinc_oxide_eugenol", None),
        ("formo", "formocresol", None),
        ("one to five formocresol", "formocresol", "diluted"),
        ("ferric sulfate", "ferric_sulphate", None),
        ("SDF", "silver_diamine_fluoride", None),
        ("KI", "potassium_iodide", None),
        ("laughing gas", "nitrous_unit", None),
        ("nose hood", "nitrous_hood", None),
        ("pedo nitrous hood", "nitrous_hood", "pedo"),
        ("pulse ox", "pulse_oximeter", None),
        ("five inch frame", "child_dam_frame", None),
    ],
)
def test_what_people_say_means_one_item(said: str, item_id: str, variant: str | None) -> None:
    assert meant(f"hand me the {said.removeprefix('the ')}")[0] == (item_id, variant)


@pytest.mark.parametrize(
    ("said", "item_ids"),
    [
        # C: one word, several things
        ("steel crown", {"steel_crown_first", "steel_crown_second"}),
        ("SSC", {"steel_crown_first", "steel_crown_second"}),
        ("crown", {"steel_crown_first", "steel_crown_second", "strip_crown", "zirconia_crown"}),
        ("band", {"t_band", "spot_welded_band", "child_matrix_band", "orthodontic_band"}),
        ("matrix", {"t_band", "spot_welded_band", "child_matrix_band"}),
        ("spacer", {"separator", "space_maintainer"}),
        ("glass ionomer", {"glass_ionomer", "child_luting_cement"}),
        ("8A", {"child_dam_clamp", "plastic_instrument"}),
        ("rubber dam", {"dam_sheet", "dam_sheet_latex_free"}),
    ],
)
def test_a_name_that_means_several_is_left_open(said: str, item_ids: set[str]) -> None:
    candidates = LEXICON.find(said)
    likeliest = candidates[0].p
    assert {c.item for c in candidates if c.p == pytest.approx(likeliest)} == item_ids
    assert likeliest <= 0.5


@pytest.mark.parametrize(
    "tooth",
    [
        *range(1, 33),
        *(f"{quadrant}{place}" for quadrant in range(1, 5) for place in range(1, 9)),
        *(f"{quadrant}{place}" for quadrant in range(5, 9) for place in range(1, 6)),
    ],
)
def test_no_bare_tooth_number_is_a_name(tooth: object) -> None:
    """P: universal numbering 1 to 32, and the two-digit system of ISO 3950 with the baby teeth 51 to 85."""
    for said in (f"{tooth}", f"number {tooth}"):
        assert not LEXICON.is_name(said), said


@pytest.mark.parametrize("letter", string.ascii_uppercase[:20])
def test_no_letter_of_a_baby_tooth_is_a_name(letter: str) -> None:
    """P: universal letters A to T."""
    for said in (letter, f"tooth {letter}", f"letter {letter}"):
        assert not LEXICON.is_name(said), said


@pytest.mark.parametrize("words", ["thirsty straw", "raincoat", "tooth button", "whistle", "sleepy juice"])
def test_what_is_said_to_children_is_left_to_each_dentist(words: str) -> None:
    assert not LEXICON.is_name(words)


@pytest.mark.parametrize(
    "pair",
    [
        ("steel_crown_first", "steel_crown_second"),
        ("contouring_pliers", "ball_and_socket_pliers"),
        ("contouring_pliers", "crimping_pliers"),
        ("formocresol", "ferric_sulphate"),
        ("silver_diamine_fluoride", "potassium_iodide"),
        ("zirconia_crown", "zirconia_try_in"),
        ("nitrous_hood", "nitrous_unit"),
        ("band_pusher", "band_seater"),
        ("separator", "separating_pliers"),
        ("child_luting_cement", "zinc_oxide_eugenol"),
    ],
)
def test_a_pair_that_matters_has_a_wide_margin_and_tells_itself_apart_both_ways(
    pair: tuple[str, str],
) -> None:
    """C."""
    assert set(pair) in [set(p) for p in PACK.wide_margin]
    for this, that in (pair, pair[::-1]):
        assert that in {alike.item for alike in PACK.item(this).confused_with}, this


@pytest.mark.parametrize("band", ["t_band", "spot_welded_band", "child_matrix_band", "orthodontic_band"])
def test_band_and_bond_are_never_confused_silently(band: str) -> None:
    """C."""
    assert {band, "bonding_agent"} in [set(p) for p in PACK.wide_margin]
    assert "bonding_agent" in {alike.item for alike in PACK.item(band).confused_with}


def test_the_two_mirrored_clamps_name_each_other() -> None:
    """M: catalogue of dam clamps."""
    clamp = PACK.item("child_dam_clamp")
    assert "13A" in clamp.variant("12A").note and "12A" in clamp.variant("13A").note
    assert all(clamp.variant(text).note.startswith("wingless") for text in ("W2A", "W3", "W8A", "W14A"))


# --- trays and steps ------------------------------------------------------------------------------------


def test_the_procedures_of_the_field() -> None:
    assert [p.id for p in PACK.procedures] == [
        "child_examination_and_cleaning",
        "child_filling",
        "steel_crown",
        "steel_crown_unprepared",
        "pulpotomy",
        "strip_crown",
        "zirconia_crown",
        "silver_fluoride",
        "space_maintainer",
        "trauma_splint",
    ]
    assert all(p.tray == p.id for p in PACK.procedures)


@pytest.mark.parametrize("tray_id", [tray.id for tray in PACK.trays])
def test_a_tray_is_short(tray_id: str) -> None:
    """C: what lies on the tray itself is taken in at a glance."""
    laid = [slot for row in PACK.tray(tray_id).rows for slot in row.slots]
    assert 10 <= len(laid) <= 20


@pytest.mark.parametrize(
    ("procedure_id", "order"),
    [
        # M: McDonald and Avery; Pinkham
        (
            "child_filling",
            "anaesthetise isolate outline remove_caries check_preparation matrix fill remove_matrix "
            "remove_dam mark_bite",
        ),
        (
            "steel_crown",
            "anaesthetise isolate reduce_top slice try_in trim contour smooth_edge check_fit dry cement "
            "clear_cement",
        ),
        (
            "pulpotomy",
            "anaesthetise isolate remove_caries unroof remove_pulp stop_bleeding medicament pellets_out "
            "fill_chamber",
        ),
        ("strip_crown", "choose isolate reduce trim etch bond fill_and_seat cure peel finish"),
        # P: Croll and Donly, Inside Dentistry, November 2019
        ("zirconia_crown", "choose reduce try_in check_fit stop_bleeding cement clear_cement"),
        # P: Innes and others, Trials 2016;17:169
        ("steel_crown_unprepared", "separate separators_out clean choose dry cement wipe clear_cement"),
        # M: AAPD chairside guide
        ("silver_fluoride", "examine protect clean isolate apply blot iodide cover"),
        # P: Columbia University, division of pediatric dentistry, clinic manual
        (
            "space_maintainer",
            "separate clean fit_band impression band_into_impression try_in check_fit cement clear_cement",
        ),
        # P: International Association of Dental Traumatology, 2020; Welbury, Paediatric Dentistry
        ("trauma_splint", "examine rinse reposition shape_wire isolate etch bond fix cure smooth mark_bite"),
        # C
        ("child_examination_and_cleaning", "look disclose show_brushing polish floss check_result varnish"),
    ],
)
def test_the_steps_come_in_working_order(procedure_id: str, order: str) -> None:
    steps = step_ids(procedure_id)
    places = [steps.index(step) for step in order.split()]
    assert places == sorted(places)


def test_a_crown_without_preparation_needs_no_needle_and_no_bur() -> None:
    """P: Innes and others, Trials 2016;17:169."""
    laid = {slot.item for slot in PACK.tray("steel_crown_unprepared").slots}
    assert not {i for i in laid if PACK.item(i).item_class in (ItemClass.BUR, ItemClass.ANAESTHESIA)}
    assert {"separator", "separating_pliers", "throat_screen", *CROWNS.values()} <= laid
    assert "sits upright" in cautions("steel_crown_unprepared", "separate")


def test_the_dam_is_not_optional_where_a_pulp_is_opened() -> None:
    """M: AAPD, best practices on pulp therapy."""
    isolate = next(step for step in PACK.procedure("pulpotomy").steps if step.id == "isolate")
    assert not isolate.optional and "not opened before the dam is on" in " ".join(isolate.cautions)


@pytest.mark.parametrize("procedure_id", [p.id for p in PACK.procedures])
def test_a_teacher_looks_before_anything_is_numbed_and_at_the_end(procedure_id: str) -> None:
    """C: a pause to agree on child, tooth and treatment; the examination is itself what is looked at."""
    steps = PACK.procedure(procedure_id).steps
    checks = [i for i, step in enumerate(steps) if step.faculty_check]
    numbing = [i for i, step in enumerate(steps) if step.id in ("anaesthetise", "numb")]
    assert steps[checks[-1]].id in ("check_result", "check_fit")
    assert all(checks[0] < i for i in numbing)


@pytest.mark.parametrize(
    ("procedure_id", "step_id"),
    [("steel_crown", "check_fit"), ("steel_crown_unprepared", "choose"), ("zirconia_crown", "try_in")],
)
def test_a_screen_is_asked_for_where_a_crown_is_tried(procedure_id: str, step_id: str) -> None:
    """P: Innes and others, Trials 2016;17:169."""
    step = next(s for s in PACK.procedure(procedure_id).steps if s.id == step_id)
    assert step.items["throat_screen"] >= 4 and "auze" in " ".join(step.cautions)


def test_each_drug_on_a_pulp_has_a_timer_of_its_own_and_no_time_of_ours() -> None:
    """C."""
    timers = {t for s in PACK.procedure("pulpotomy").steps for t in s.timers}
    assert {"formocresol", "ferric sulphate", "set base"} <= timers
    assert not any(char.isdigit() for p in PACK.procedures for s in p.steps for t in s.timers for char in t)


def test_no_step_takes_out_a_tooth_or_seals_a_groove() -> None:
    """Those are in oral surgery and operative dentistry."""
    assert not {i.id for i in PACK.items} & {"upper_child_forceps", "lower_child_forceps", "sealant"}


# --- facts ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact_id", "value", "source"),
    [
        ("letters", "A to T", "American Dental Association"),
        ("letter_a", "the upper right second molar", "universal"),
        ("letter_k", "the lower left second molar", "universal"),
        ("iso_first_digits", "5 to 8", "ISO 3950"),
        ("iso_75", "the lower left second molar", "ISO 3950"),
        ("iso_54", "the upper right first molar", "ISO 3950"),
        ("crown_d", "a first baby molar", "Palmer"),
        ("crown_e", "a second baby molar", "Palmer"),
        ("crown_sizes", "six", "memory"),
        ("separators_days", "3 to 5 days", "Trials 2016;17:169"),
        ("unprepared_position", "upright", "Trials 2016;17:169"),
        ("unprepared_size", "the smallest that will seat", "Trials 2016;17:169"),
        ("pliers_contouring", "114", "memory"),
        ("pliers_crimping", "417", "memory"),
        ("wire_sharp", "into the sharps container", "OSHA 29 CFR 1910.1030(b)"),
        ("nitrous_limit", "25", "NIOSH"),
        ("scavenging_flow", "about 45 litres", "NIOSH"),
        ("silver_strength", "38 percent", "American Academy of Pediatric Dentistry"),
        ("ferric_strength", "15.5 percent", "memory"),
        ("formocresol_dilute", "one fifth", "memory"),
        ("baby_tooth_out", "no", "Dental Traumatology"),
        ("wire_thickness", "0.4 mm", "Dental Traumatology"),
        ("tell_show_do", "tell, show, do", "American Academy of Pediatric Dentistry"),
        ("clamp_w", "wingless", "memory"),
    ],
)
def test_a_fact_holds_what_the_trade_knows_and_where_it_comes_from(
    fact_id: str, value: str, source: str
) -> None:
    fact = FACTS.fact(fact_id)
    assert fact.answer.text == value and source in fact.source


def test_facts_agree_with_names_and_variants() -> None:
    assert LEXICON.is_name(FACTS.fact("pliers_ball").answer.text)
    assert LEXICON.is_name(FACTS.fact("pliers_crimping").answer.text)
    assert "0.4 mm" in PACK.item("splint_wire").variant("016").note
    sizes = {v.text.removeprefix("E") for v in PACK.item("steel_crown_second").variants if len(v.text) == 2}
    assert len(sizes) == 6 and min(sizes) == FACTS.fact("crown_smallest").answer.text.removeprefix("size ")


def test_there_are_enough_facts_and_points_to_watch() -> None:
    assert len(FACTS.facts) >= 15 and len(FACTS.checklist) >= 15
    assert all(fact.source for fact in FACTS.facts)


@pytest.mark.parametrize(
    ("group", "watched"),
    [
        # C
        ("passing", "letter, arch, side and size"),
        ("passing", "scavenging runs before the gas"),
        ("passing", "before the silver is opened"),
        ("count", "throat screen is out"),
        ("count", "floss to clamp"),
        ("count", "short"),
        ("sharps", "wire ends"),
        ("sharps", "one hand"),
    ],
)
def test_somebody_has_to_watch_what_matters_most(group: str, watched: str) -> None:
    assert any(watched in p.text and p.must for p in FACTS.checklist if p.group == group)
