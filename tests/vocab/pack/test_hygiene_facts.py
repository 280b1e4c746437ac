"""The hygiene pack says what the trade knows; the source of each fact stands beside it.

P: published. C: common practice, no source. M: from memory of textbooks (Newman and Carranza, Clinical
Periodontology; Nield-Gehrig, Fundamentals of Periodontal Instrumentation) and catalogues.
"""

from __future__ import annotations

import pytest

from listen.chairside.handing import handing_text
from listen.practice.facts import facts_beside
from listen.readings import Reader, load_calibration
from listen.verdict import Costs, Verdict, judge
from tests.vocab.pack.field import Field
from vocab.drawings.items import drawing_of
from vocab.pack.schema import Exchange, Grasp, Item, Procedure, TakenBy, Tray
from vocab.pack.shapes import Drawing, Shape
from vocab.requests.understand import understand

pytestmark = pytest.mark.slow

FIELD = Field("hygiene")
PACK, LEXICON = FIELD.pack, FIELD.lexicon
meant = FIELD.meant
READER = Reader(PACK, LEXICON, load_calibration())
FACTS = facts_beside("hygiene", PACK)

GRACEYS = [f"gracey_{odd}_{odd + 1}" for odd in range(1, 18, 2)]
SCALERS = [
    "sickle_scaler",
    "posterior_sickle_scaler",
    "jacquette_scaler",
    "chisel_scaler",
    "hoe_scaler",
    "perio_file",
]
CURETTES = ["universal_curette", "langer_curette", *GRACEYS]
INSERTS = [
    "insert_universal",
    "insert_beavertail",
    "insert_slim_straight",
    "insert_slim_right",
    "insert_slim_left",
    "insert_furcation",
    "insert_implant",
]
TO_IMPLANTS = ["implant_curette_titanium", "implant_curette_plastic", "implant_probe", "insert_implant"]
DRUGS = [
    "fluoride_varnish",
    "fluoride_tray_gel",
    "chlorhexidine_rinse",
    "chlorhexidine_chip",
    "local_antibiotic",
    "pocket_anaesthetic_gel",
]
INJECTED = [
    "topical_anaesthetic",
    "aspirating_syringe",
    "needle_short",
    "needle_long",
    "cartridge_vasoconstrictor",
    "cartridge_plain",
]


def said_of(item_id: str) -> str:
    """How an item is passed and what to mind with it, in one line."""
    item = PACK.item(item_id)
    return " ".join(f"{handing_text(item) or ''} {' '.join(item.cautions)}".split())


def answered(text: str) -> list[str | None]:
    """What is answered outright, without asking back."""
    return [j.item for j in judge(READER.of_text(text, {}), PACK, Costs()) if j.verdict is Verdict.ANSWER]


# --- passing and sharps ---------------------------------------------------------------------------------


@pytest.mark.parametrize("item_id", [*SCALERS, *CURETTES])
def test_scalers_and_curettes_are_sharp_double_ended_and_held_like_a_pen(item_id: str) -> None:
    """P: US Navy, Dental Assistant (NAVEDTRA 14275), chapter 6, for the pairs of ends; C for passing."""
    item = PACK.item(item_id)
    assert item.sharp and item.ends == 2 and item.reprocessing == "clean and heat-sterilise"
    assert item.handing is not None
    assert (item.handing.grasp, item.handing.exchange) == (Grasp.PEN, Exchange.ONE_HAND)
    assert "toward the teeth being treated" in said_of(item_id) and "sharp" in said_of(item_id).lower()


@pytest.mark.parametrize("item_id", GRACEYS)
def test_the_number_of_a_gracey_is_read_before_it_is_passed(item_id: str) -> None:
    """C."""
    assert "number is read on the handle" in said_of(item_id)


@pytest.mark.parametrize("item_id", INSERTS)
def test_an_insert_says_that_it_fits_one_machine_only(item_id: str) -> None:
    """C: 25K and 30K inserts have stacks of different length, piezo tips a thread."""
    item = PACK.item(item_id)
    assert [variant.text for variant in item.variants] == ["25K", "30K", "piezo"]
    assert "never by the stack" in said_of(item_id)


@pytest.mark.parametrize("item", [i for i in PACK.items if i.sharp], ids=lambda item: item.id)
def test_every_sharp_has_a_caution(item: Item) -> None:
    """C."""
    assert item.cautions, item.id


@pytest.mark.parametrize("item", PACK.items, ids=lambda item: item.id)
def test_drugs_and_rinses_are_checked_and_nothing_else(item: Item) -> None:
    """C: label read back; P for fluoride: ADA 2013 (strength and age decide)."""
    assert item.always_check == (item.id in {*DRUGS, *INJECTED}), item.id


@pytest.mark.parametrize("item_id", DRUGS)
def test_a_drug_is_read_back_and_allergies_are_asked(item_id: str) -> None:
    """C."""
    assert "read back by the person responsible" in said_of(item_id)
    swallowed = item_id == "fluoride_tray_gel"
    assert ("swallowed" if swallowed else "allerg") in said_of(item_id).lower()


@pytest.mark.parametrize("text", ["varnish", "APF", "CHX", "chip", "minocycline", "perio gel", "numbing gel"])
def test_a_drug_is_never_answered_outright(text: str) -> None:
    """C."""
    assert answered(text) == [] and answered(f"hand me the {text} please") == []


def test_the_gel_for_pockets_is_never_injected() -> None:
    """M: makers' instructions."""
    assert "Never injected" in said_of("pocket_anaesthetic_gel")
    assert "never a needle" in said_of("pocket_anaesthetic_gel")


def test_pacemakers_aerosol_and_water_are_heeded_with_ultrasound() -> None:
    """P: CDC dental guidelines 2003 (aerosol, water lines); M for pacemakers."""
    said = said_of("ultrasonic_handpiece")
    for word in ("pacemakers", "aerosol", "high volume suction", "Flush the line"):
        assert word in said, word


@pytest.mark.parametrize("item_id", [*CURETTES, *INSERTS[:-1]])
def test_steel_is_kept_off_implants(item_id: str) -> None:
    """P: US Navy, Dental Assistant (NAVEDTRA 14275), chapter 6."""
    assert "implants" in " ".join(PACK.item(item_id).cautions)


def test_what_may_come_off_in_the_mouth_is_counted() -> None:
    """C."""
    for item_id in ("perio_nozzle", "irrigation_tip", "prophy_brush", "insert_implant", "chlorhexidine_chip"):
        assert PACK.item(item_id).counted, item_id


def test_patient_and_assistant_take_what_is_theirs() -> None:
    """C."""
    takers = {
        TakenBy.PATIENT: ("toothbrush", "interdental_brush", "end_tuft_brush", "chlorhexidine_rinse"),
        TakenBy.ASSISTANT: ("perio_chart", "wear_guide", "tip_wrench", "air_powder_bicarbonate"),
    }
    for taker, held in takers.items():
        for item_id in held:
            handing = PACK.item(item_id).handing
            assert handing is not None and handing.taken_by is taker, item_id


# --- names ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "item_id", "variant"),
    [
        # P: US Navy, Dental Assistant (NAVEDTRA 14275), chapter 6: Jacquette, Columbia, McCall, Gracey
        ("Jacquette", "jacquette_scaler", None),
        ("Columbia thirteen fourteen", "universal_curette", "Columbia 13/14"),
        ("13/14 Columbia", "universal_curette", "Columbia 13/14"),
        ("McCall 17/18", "universal_curette", "McCall 17/18"),
        ("Gracey eleven twelve", "gracey_11_12", None),
        # M: pattern numbers
        ("H6 H7", "sickle_scaler", "H6/H7"),
        ("h six seven", "sickle_scaler", "H6/H7"),
        ("H5 33", "sickle_scaler", "H5/33"),
        ("U fifteen thirty", "sickle_scaler", "U15/30"),
        ("204S", "posterior_sickle_scaler", "204S"),
        ("two oh four S", "posterior_sickle_scaler", "204S"),
        ("204SD", "posterior_sickle_scaler", "204SD"),
        ("Jacquette 31/32", "jacquette_scaler", "31/32"),
        ("4R/4L", "universal_curette", "Columbia 4R/4L"),
        ("four R four L", "universal_curette", "Columbia 4R/4L"),
        ("Barnhart five six", "universal_curette", "Barnhart 5/6"),
        ("Barnhart 1-2", "universal_curette", "Barnhart 1/2"),
        ("Langer 3/4", "langer_curette", "3/4"),
        ("Langer one two", "langer_curette", "1/2"),
        ("Gracey 1/2", "gracey_1_2", None),
        ("Gracey one two", "gracey_1_2", None),
        ("three four Gracey", "gracey_3_4", None),
        ("Gracey 5-6", "gracey_5_6", None),
        ("Gracey seven eight", "gracey_7_8", None),
        ("Gracey nine ten", "gracey_9_10", None),
        ("Gracey 9/10", "gracey_9_10", None),
        ("13/14 Gracey", "gracey_13_14", None),
        ("Gracey fifteen sixteen", "gracey_15_16", None),
        ("15/16 curette", "gracey_15_16", None),
        ("Hirschfeld five eleven", "perio_file", "5/11"),
        ("Gracey seventeen eighteen", "gracey_17_18", None),
        ("mini thirteen fourteen", "gracey_13_14", "mini blade"),
        ("long shank 11/12", "gracey_11_12", "extended shank"),
        ("rigid Gracey one two", "gracey_1_2", "rigid"),
        ("micro Gracey 11/12", "gracey_11_12", "micro blade"),
        ("twenty five K universal insert", "insert_universal", "25K"),
        ("30K slim straight insert", "insert_slim_straight", "30K"),
        ("ceramic stone", "sharpening_stone", "ceramic"),
        ("Arkansas", "sharpening_stone", "Arkansas"),
        # C
        ("anterior scaler", "sickle_scaler", None),
        ("posterior scaler", "posterior_sickle_scaler", None),
        ("push scaler", "chisel_scaler", None),
        ("hoe", "hoe_scaler", None),
        ("perio file", "perio_file", None),
        ("the ultrasonic", "ultrasonic_handpiece", None),
        ("piezo", "ultrasonic_handpiece", "piezo"),
        ("right slim", "insert_slim_right", None),
        ("left insert", "insert_slim_left", None),
        ("ball insert", "insert_furcation", None),
        ("bicarb", "air_powder_bicarbonate", None),
        ("glycine", "air_powder_glycine", "glycine"),
        ("erythritol powder", "air_powder_glycine", "erythritol"),
        ("titanium scaler", "implant_curette_titanium", None),
        ("plastic scaler", "implant_curette_plastic", None),
        ("plastic probe", "implant_probe", None),
        ("UNC probe", "perio_probe", "UNC 15"),
        ("WHO probe", "perio_probe", "WHO"),
        ("Nabers", "furcation_probe", None),
        ("test stick", "test_stick", None),
        ("disclosing tablets", "disclosing_agent", "tablet"),
        ("threader", "floss_threader", None),
        ("medium interdental brush", "interdental_brush", "medium"),
        ("desensitizer", "desensitiser", None),
        ("five percent varnish", "fluoride_varnish", None),
        ("NaF varnish", "fluoride_varnish", None),
        ("APF", "fluoride_tray_gel", "acidulated"),
        ("neutral fluoride", "fluoride_tray_gel", "neutral"),
        ("large fluoride tray", "fluoride_tray", "large"),
        ("mouthwash", "chlorhexidine_rinse", None),
        ("point one two percent chlorhexidine", "chlorhexidine_rinse", "0.12 percent"),
        ("microspheres", "local_antibiotic", "minocycline microspheres"),
        ("doxycycline gel", "local_antibiotic", "doxycycline gel"),
        ("needle-free gel", "pocket_anaesthetic_gel", None),
        ("perio chart", "perio_chart", None),
    ],
)
def test_what_people_say_means_one_item(said: str, item_id: str, variant: str | None) -> None:
    assert meant(f"hand me the {said.removeprefix('the ')}")[0] == (item_id, variant)


@pytest.mark.parametrize(
    ("said", "item_ids"),
    [
        # M: one number, several curettes
        ("thirteen fourteen", {"gracey_13_14", "universal_curette"}),
        ("5/6", {"gracey_5_6", "universal_curette", "langer_curette"}),
        ("seven eight", {"gracey_7_8", "universal_curette"}),
        ("nine ten", {"gracey_9_10", "perio_file"}),
        ("17/18", {"gracey_17_18", "universal_curette", "langer_curette"}),
        # C: one name, several things
        ("scaler", {"sickle_scaler", "posterior_sickle_scaler"}),
        ("sickle", {"sickle_scaler", "posterior_sickle_scaler"}),
        ("universal", {"universal_curette", "insert_universal"}),
        ("Gracey", set(GRACEYS)),
        ("curette", set(CURETTES)),
        ("mesial Gracey", {"gracey_11_12", "gracey_15_16"}),
        ("distal Gracey", {"gracey_13_14", "gracey_17_18"}),
        ("slim insert", {"insert_slim_straight", "insert_slim_right", "insert_slim_left"}),
        ("curved insert", {"insert_slim_right", "insert_slim_left"}),
        ("implant scaler", {"implant_curette_titanium", "implant_curette_plastic"}),
        ("powder", {"air_powder_bicarbonate", "air_powder_glycine"}),
        ("CHX", {"chlorhexidine_rinse", "chlorhexidine_chip"}),
        ("perio gel", {"pocket_anaesthetic_gel", "local_antibiotic"}),
        ("numbing gel", {"pocket_anaesthetic_gel", "topical_anaesthetic"}),
    ],
)
def test_a_name_that_means_several_is_left_open(said: str, item_ids: set[str]) -> None:
    candidates = LEXICON.find(said)
    likeliest = candidates[0].p
    assert {c.item for c in candidates if c.p == pytest.approx(likeliest)} == item_ids
    assert likeliest <= 0.5 and answered(said) == []


def test_a_number_that_is_a_curette_and_an_explorer_is_asked_about() -> None:
    """C: both lie on the tray."""
    assert {item for item, _ in meant("eleven twelve please")} == {"gracey_11_12", "explorer_11_12"}
    assert answered("eleven twelve please") == []
    assert answered("11/12 explorer please") == ["explorer_11_12"]
    assert answered("Gracey 11/12 please") == ["gracey_11_12"]


# P: universal numbering 1 to 32; ISO 3950 has two digits, in quadrants of eight, or of five for baby teeth.
TEETH = [
    *map(str, range(1, 33)),
    *(f"{q}{t}" for q in range(1, 5) for t in range(1, 9)),
    *(f"{q}{t}" for q in range(5, 9) for t in range(1, 6)),
]


@pytest.mark.parametrize("number", TEETH)
def test_no_bare_tooth_number_is_a_name(number: str) -> None:
    for said in (number, f"number {number}"):
        assert not LEXICON.is_name(said), said


@pytest.mark.parametrize("tooth", range(1, 32))
def test_two_neighbouring_teeth_are_never_answered(tooth: int) -> None:
    """P: universal numbering; a pair of them may be a curette, so it is asked back at most."""
    for said in (f"{tooth} {tooth + 1}", f"{tooth}, {tooth + 1}", f"{tooth}/{tooth + 1} please"):
        assert answered(said) == [], said


@pytest.mark.parametrize(
    "called",
    [
        "three two three",
        "three two four",
        "4 3 5",
        "five six five",
        "seven five eight",
        "two three two, bleeding on the distal",
        "one two three",
        "one two",
        "three four",
        "five millimeters",
        "six millimeter pocket on the mesial of three",
        "thirteen and fourteen are missing",
        "teeth thirteen and fourteen",
        "recession two on fourteen",
        "class two furcation on nineteen",
        "mobility one",
    ],
)
def test_depths_and_teeth_that_are_called_ask_for_nothing(called: str) -> None:
    """C: six depths of a tooth are called in threes."""
    assert answered(called) == []
    assert understand(called, LEXICON, PACK.speech) == ()


PAIRS = [
    ("gracey_11_12", "gracey_13_14"),
    ("gracey_13_14", "gracey_15_16"),
    ("gracey_13_14", "gracey_17_18"),
    ("gracey_13_14", "universal_curette"),
    ("gracey_1_2", "langer_curette"),
    ("gracey_11_12", "explorer_11_12"),
    ("insert_slim_right", "insert_slim_left"),
    ("insert_universal", "insert_implant"),
    ("implant_curette_titanium", "universal_curette"),
    ("air_powder_bicarbonate", "air_powder_glycine"),
    ("pocket_anaesthetic_gel", "local_antibiotic"),
    ("pocket_anaesthetic_gel", "topical_anaesthetic"),
    ("fluoride_varnish", "fluoride_tray_gel"),
    ("fluoride_varnish", "desensitiser"),
    ("chlorhexidine_rinse", "saline_bowl"),
]


@pytest.mark.parametrize("pair", PAIRS)
def test_a_pair_that_matters_has_a_wide_margin_and_a_tell(pair: tuple[str, str]) -> None:
    """C."""
    assert set(pair) in [set(p) for p in PACK.wide_margin]
    own = [i for i in pair if i not in ("explorer_11_12", "topical_anaesthetic", "saline_bowl")]
    for this in own:
        (that,) = set(pair) - {this}
        assert that in {alike.item for alike in PACK.item(this).confused_with}, this


def test_neighbouring_graceys_are_never_confused_silently() -> None:
    """M: the wrong pair does not fit the surface."""
    margins = [set(pair) for pair in PACK.wide_margin]
    assert [n for n in zip(GRACEYS, GRACEYS[1:], strict=False) if set(n) not in margins] == []


# --- what items say -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("item_id", "surfaces"),
    [
        # P: US Navy, Dental Assistant (NAVEDTRA 14275), chapter 6; M for 15/16 and 17/18
        ("gracey_1_2", "front teeth"),
        ("gracey_3_4", "front teeth"),
        ("gracey_5_6", "front teeth and premolars"),
        ("gracey_7_8", "cheek and tongue sides"),
        ("gracey_9_10", "cheek and tongue sides"),
        ("gracey_11_12", "mesial sides"),
        ("gracey_13_14", "distal sides"),
        ("gracey_15_16", "mesial blade like that of the 11/12"),
        ("gracey_17_18", "distal sides of the last molars"),
    ],
)
def test_a_gracey_names_its_surfaces(item_id: str, surfaces: str) -> None:
    assert surfaces in PACK.item(item_id).purpose


def test_blades_are_told_apart_by_section_edges_and_toe() -> None:
    """P: US Navy, Dental Assistant (NAVEDTRA 14275), chapter 6; M for 90 degrees, 99 to 100 and 45."""
    looks = {item.id: item.look for item in PACK.items}
    assert "triangle in section" in looks["sickle_scaler"] and "sharp point" in looks["sickle_scaler"]
    assert "round toe" in looks["universal_curette"] and "90 degrees" in looks["universal_curette"]
    assert "two level edges" in looks["universal_curette"]
    assert all("only the lower edge sharp" in looks[item_id] for item_id in GRACEYS)
    assert "99 to 100 degrees" in looks["hoe_scaler"]
    assert "45 degrees" in looks["chisel_scaler"] and "pushed" in said_of("chisel_scaler")


def test_probes_bear_their_marks() -> None:
    """P: WHO, Oral health surveys; M for Williams, Marquis and Michigan."""
    notes = {variant.text: variant.note for variant in PACK.item("perio_probe").variants}
    for name in ("Williams", "Marquis", "Michigan", "UNC 15", "WHO"):
        assert notes[name], name
    assert FACTS.fact("williams_marks").answer.text in notes["Williams"]
    assert "3.5 to 5.5" in notes["WHO"] and "half a millimetre" in notes["WHO"]


def test_fluoride_names_its_strengths() -> None:
    """P: ADA, topical fluoride, 2013 (varnish 2.26 % fluoride, gel 1.23 %); M for the neutral gel."""
    assert "5 % sodium fluoride" in PACK.item("fluoride_varnish").purpose
    notes = {variant.text: variant.note for variant in PACK.item("fluoride_tray_gel").variants}
    assert "1.23 %" in notes["acidulated"] and "2 %" in notes["neutral"]
    assert "titanium" in notes["acidulated"]


def points(marks: Drawing, mirror: bool = False) -> list[tuple[float, float]]:
    """The corners of all shapes, also turned upside down."""
    found = (p for m in marks if isinstance(m, Shape) for s in m.path for p in s.points)
    return sorted({(round(x, 1), round(100 - y if mirror else y, 1)) for x, y in found})


def test_right_and_left_inserts_are_drawn_as_mirror_images() -> None:
    """C: as the pack says of them."""
    right, left = drawing_of("insert_slim_right"), drawing_of("insert_slim_left")
    assert points(right, mirror=True) == points(left)


# --- trays and steps ------------------------------------------------------------------------------------


@pytest.mark.parametrize("tray", PACK.trays, ids=lambda tray: tray.id)
def test_a_tray_is_short(tray: Tray) -> None:
    """C: 12 to 20 instruments in two rows."""
    laid = [slot for row in tray.rows for slot in row.slots]
    assert 12 <= len(laid) <= 20


@pytest.mark.parametrize(
    ("tray_id", "laid", "absent"),
    [
        # C
        (
            "prophylaxis",
            "sickle_scaler posterior_sickle_scaler universal_curette prophy_angle polishing_paste "
            "disclosing_agent fluoride_varnish sharpening_stone test_stick perio_chart chlorhexidine_rinse",
            "aspirating_syringe local_antibiotic",
        ),
        (
            "scaling_and_root_planing",
            "aspirating_syringe cartridge_plain needle_long pocket_anaesthetic_gel furcation_probe "
            "sharps_container irrigation_tip local_antibiotic insert_furcation langer_curette "
            + " ".join(GRACEYS),
            "prophy_angle",
        ),
        (
            "periodontal_maintenance",
            "air_powder_glycine perio_nozzle insert_slim_right insert_slim_left interdental_brush",
            "aspirating_syringe",
        ),
        (
            "fluoride_treatment",
            "fluoride_varnish fluoride_tray_gel fluoride_tray saliva_ejector",
            "sickle_scaler",
        ),
        ("implant_maintenance", " ".join(TO_IMPLANTS), " ".join([*SCALERS, *CURETTES, *INSERTS[:-1]])),
    ],
)
def test_a_tray_holds_what_its_procedure_needs_and_nothing_that_harms(
    tray_id: str, laid: str, absent: str
) -> None:
    tray = PACK.tray(tray_id)
    assert [i for i in laid.split() if tray.slot_of(i) is None] == []
    assert [i for i in absent.split() if tray.slot_of(i) is not None] == []


@pytest.mark.parametrize("procedure", PACK.procedures, ids=lambda procedure: procedure.id)
def test_everything_on_a_tray_is_asked_for_in_its_procedure(procedure: Procedure) -> None:
    asked = {i for step in procedure.steps for i in step.items} | set(procedure.any_time)
    own = {slot.item for row in PACK.tray(procedure.tray).rows for slot in row.slots}
    assert own - asked == set()


@pytest.mark.parametrize(
    ("procedure_id", "order"),
    [
        # C: chart before scaling, ultrasound before hand, slim after stout, fluoride last
        (
            "prophylaxis",
            "seat probe check_findings disclose ultrasonic scale check_scaling polish floss fluoride clear",
        ),
        (
            "scaling_and_root_planing",
            "check numb_surface anaesthetise test ultrasonic ultrasonic_slim scale plane check_roots press",
        ),
        (
            "periodontal_maintenance",
            "probe check_findings disclose ultrasonic scale check_scaling polish medicate fluoride show",
        ),
        ("fluoride_treatment", "seat look order clean size dry apply remove clear"),
        ("implant_maintenance", "probe check_findings scale check_scaling polish clear"),
    ],
)
def test_steps_come_in_working_order(procedure_id: str, order: str) -> None:
    steps = [step.id for step in PACK.procedure(procedure_id).steps]
    places = [steps.index(step) for step in order.split()]
    assert places == sorted(places)


@pytest.mark.parametrize("procedure", PACK.procedures, ids=lambda procedure: procedure.id)
def test_a_teacher_looks_before_anything_is_treated(procedure: Procedure) -> None:
    """C."""
    checked = next(i for i, step in enumerate(procedure.steps) if step.faculty_check)
    before = {i for step in procedure.steps[:checked] for i in step.items}
    assert before.isdisjoint({*SCALERS, *CURETTES, *INSERTS, "aspirating_syringe", "fluoride_tray"})


def test_what_acts_for_a_time_has_a_timer_of_its_own() -> None:
    """C: one for each material; the makers' times count."""
    timers = {timer for procedure in PACK.procedures for step in procedure.steps for timer in step.timers}
    assert {"topical anaesthetic", "pocket anaesthetic gel", "fluoride gel", "desensitiser"} <= timers


# --- facts ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact_id", "value", "source"),
    [
        ("williams_marks", "1, 2, 3, 5, 7, 8, 9 and 10", "Periodontology"),
        ("marquis_bands", "at 3, 6, 9 and 12 mm", "Periodontology"),
        ("who_ball", "0.5 mm", "WHO"),
        ("who_band", "from 3.5 to 5.5 mm", "WHO"),
        ("depth_healthy", "1 to 3 mm", "Periodontology"),
        ("universal_edges", "two", "Navy"),
        ("gracey_edges", "one", "Navy"),
        ("sickle_section", "a triangle", "Navy"),
        ("universal_face", "90 degrees", "memory"),
        ("gracey_face", "60 to 70 degrees", "memory"),
        ("stone_angle", "100 to 110 degrees", "memory"),
        ("edge_angle", "70 to 80 degrees", "memory"),
        ("gracey_mesial", "11/12", "Navy"),
        ("gracey_distal", "13/14", "Navy"),
        ("gracey_buccal", "7/8", "Navy"),
        ("extended_shank", "3 mm", "memory"),
        ("handpiece_after", "it is heat-sterilised", "CDC"),
        ("lines_flushed", "20 to 30 seconds", "CDC"),
        ("varnish_strength", "5 percent sodium fluoride", "ADA"),
        ("gel_strength", "1.23 percent", "ADA"),
        ("under_six", "varnish", "ADA"),
        ("implant_metal", "plastic or titanium", "Navy"),
        ("recap_hands", "one hand", "OSHA"),
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
        ("passing", "pacemakers"),
        ("passing", "number and name of a curette"),
        ("passing", "plastic or titanium"),
        ("passing", "label of an anaesthetic, antibiotic"),
        ("passing", "leave a patient with a fluoride tray alone"),
        ("count", "breakage"),
        ("sharps", "sterile stone"),
        ("sharps", "never with two hands"),
    ],
)
def test_somebody_has_to_watch_what_matters_most(group: str, watched: str) -> None:
    assert any(watched in p.text and p.must for p in FACTS.checklist if p.group == group)
