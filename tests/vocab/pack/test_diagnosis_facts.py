"""Examination and radiographs: the pack says what the trade knows; the source of each fact is beside it.

P: published. C: common practice, no source. M: from memory of textbooks and standards.
"""

from __future__ import annotations

import re

import pytest

from listen.chairside.handing import handing_text
from listen.practice.facts import facts_beside
from tests.vocab.pack.field import Field
from vocab.pack.schema import (
    Exchange,
    Facing,
    Grasp,
    Item,
    KitPlace,
    Procedure,
    TakenBy,
    TakingHand,
    Tray,
)
from vocab.requests.understand import understand

pytestmark = pytest.mark.slow

FIELD = Field("diagnosis")
PACK, LEXICON = FIELD.pack, FIELD.lexicon
meant = FIELD.meant
passing = FIELD.passing
cautions = FIELD.cautions
FACTS = facts_beside("diagnosis", PACK)

HOLDERS = ("sensor_holder_front", "sensor_holder_back", "sensor_holder_bitewing")
EMERGENCY = ("emergency_kit", "oxygen_cylinder", "aed")
IMAGES = ("bitewing_radiographs", "full_mouth_radiographs", "panoramic_radiograph")
items = pytest.mark.parametrize("item", PACK.items, ids=lambda item: item.id)
procedures = pytest.mark.parametrize("procedure", PACK.procedures, ids=lambda p: p.id)


def order_of(procedure_id: str) -> list[str]:
    return [step.id for step in PACK.procedure(procedure_id).steps]


def said_in(procedure_id: str, step_id: str) -> str:
    """What a step of a procedure warns of."""
    return " ".join(
        " ".join(step.cautions) for step in PACK.procedure(procedure_id).steps if step.id == step_id
    )


# --- passing, sharps, checks ------------------------------------------------------------------------------


@items
def test_what_is_passed_says_how(item: Item) -> None:
    """Sheets, sleeves and wear of the common vocabulary are put on, not passed."""
    put_on = {"barrier_film", "tray_cover", "gloves", "face_mask", "face_shield", "safety_glasses", "gown"}
    assert handing_text(item) or item.id in put_on


@items
def test_only_explorers_and_what_scoops_are_sharp_here(item: Item) -> None:
    """C: nothing is injected or cut; explorers are still sharps."""
    sharp = item.id.startswith("explorer_") or item.id == "spoon_excavator"
    assert item.sharp == sharp
    assert item.cautions or not item.sharp


@items
def test_only_the_drug_is_always_checked(item: Item) -> None:
    """C: a topical is a drug; a dye, a gel and a cold spray are told apart by their labels, and a place for
    an emergency is answered at once."""
    assert item.always_check == (item.id == "topical_anaesthetic")


@pytest.mark.parametrize(
    "item_id", ["tracing_point", "sensor_cushion", "shim_stock", "cotton_pellet", "gauze_square"]
)
def test_small_things_that_may_stay_in_a_mouth_are_counted(item_id: str) -> None:
    """C."""
    assert PACK.item(item_id).counted


@pytest.mark.parametrize(
    ("item_id", "grasp", "exchange"),
    [
        ("mouth_mirror", Grasp.PEN, Exchange.ONE_HAND),
        ("pulp_tester", Grasp.PEN, Exchange.ONE_HAND),
        ("tooth_test_stick", Grasp.PEN, Exchange.ONE_HAND),
        ("percussion_handle", Grasp.PEN, Exchange.ONE_HAND),
        ("intraoral_camera", Grasp.PEN, Exchange.ONE_HAND),
        ("screening_light", Grasp.PALM, Exchange.ONE_HAND),
        ("clinical_camera", None, Exchange.TWO_HANDS),
        ("photo_retractor", None, Exchange.TWO_HANDS),
    ],
)
def test_grasp_and_exchange_are_those_of_the_trade(
    item_id: str, grasp: Grasp | None, exchange: Exchange
) -> None:
    """C."""
    handing = PACK.item(item_id).handing
    assert handing is not None and (handing.grasp, handing.exchange) == (grasp, exchange)


@pytest.mark.parametrize("item_id", ["photo_mirror", "contrastor", "photo_retractor", "tongue_depressor"])
def test_what_holds_back_or_reflects_goes_to_the_other_hand(item_id: str) -> None:
    """C: the working hand has the camera or the probe."""
    handing = PACK.item(item_id).handing
    assert handing is not None and handing.hand is TakingHand.OTHER


def test_a_bite_test_stick_and_the_holders_are_turned_to_the_biting_surface() -> None:
    """M: Pathways of the Pulp, chapter on diagnosis; textbooks of dental radiography."""
    for item_id in ("tooth_test_stick", *HOLDERS):
        handing = PACK.item(item_id).handing
        assert handing is not None and handing.faces is Facing.CHEWING_SURFACE, item_id
    assert "one cusp" in passing("tooth_test_stick")


def test_cold_is_sprayed_on_cotton_by_the_assistant_away_from_faces() -> None:
    """C."""
    handing = PACK.item("cold_spray").handing
    assert handing is not None and handing.taken_by is TakenBy.ASSISTANT
    assert "away from every face" in passing("cold_spray") and "pellet" in passing("cold_spray")
    assert "never straight into the mouth" in cautions("cold_spray")


def test_the_pulp_tester_asks_about_implanted_devices_and_wants_a_dry_tooth() -> None:
    """C; makers' instructions."""
    assert "pacemaker" in cautions("pulp_tester") and "dry" in cautions("pulp_tester")
    assert "no measure of health" in cautions("pulp_tester")


# --- radiation and infection control ----------------------------------------------------------------------


def test_a_sensor_is_covered_and_disinfected_all_the_same() -> None:
    """P: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003, on digital sensors."""
    assert PACK.item("image_sensor").reprocessing == "barrier and disinfect"
    assert PACK.item("sensor_sleeve").reprocessing == "single use"
    assert "still cleaned and disinfected" in cautions("image_sensor")
    assert "leak" in cautions("sensor_sleeve")


@pytest.mark.parametrize(
    "item_id", [*HOLDERS, "aiming_ring", "aiming_arm", "panoramic_bite_piece", "photo_mirror"]
)
def test_what_goes_into_a_mouth_and_stands_heat_is_sterilised(item_id: str) -> None:
    """P: CDC guidelines 2003, dental radiology."""
    assert PACK.item(item_id).reprocessing == "clean and heat-sterilise"


@pytest.mark.parametrize("item_id", HOLDERS)
def test_colours_of_holders_are_left_to_their_makers(item_id: str) -> None:
    item = PACK.item(item_id)
    assert "maker's code" in cautions(item_id)
    text = " ".join((item.look, item.purpose, *item.ways_to_say, passing(item_id)))
    assert not re.search(r"\b(red|yellow|blue|green)\b", text)


@pytest.mark.parametrize("item_id", ["thyroid_collar", "lead_apron"])
def test_apron_and_collar_leave_it_to_the_rules_of_state_and_clinic(item_id: str) -> None:
    """P: AAOMR, JADA 2023;154:826-835, and American Dental Association, 2024, against NCRP Report 177."""
    said = cautions(item_id)
    assert "rules of the state and the clinic" in said and "2023 and 2024" in said


def test_no_collar_for_a_panoramic_image() -> None:
    """M: White and Pharoah, Oral Radiology."""
    assert "Not for a panoramic image" in cautions("thyroid_collar")
    assert PACK.tray("panoramic_radiograph").slot_of("thyroid_collar") is None
    assert PACK.tray("panoramic_radiograph").variants_of("lead_apron") == ("panoramic",)


def test_nobody_holds_anything_during_an_exposure_and_everybody_stands_back() -> None:
    """M: White and Pharoah, Oral Radiology; NCRP Report 177: 2 metres or 6 feet where there is no shield."""
    assert "2 metres (6 feet)" in cautions("xray_unit") and "Nobody holds the head" in cautions("xray_unit")
    assert "Nobody on the staff holds it" in cautions("image_sensor")
    for procedure_id in ("bitewing_radiographs", "full_mouth_radiographs", "emergency_examination"):
        for step in PACK.procedure(procedure_id).steps:
            if "xray_unit" in step.items and step.id != "check_result":
                assert "2 metres (6 feet)" in " ".join(step.cautions), (procedure_id, step.id)


@pytest.mark.parametrize("procedure_id", IMAGES)
def test_an_order_comes_before_an_image_and_before_taking_it_again(procedure_id: str) -> None:
    """P: American Dental Association and FDA, Dental Radiographic Examinations, 2012."""
    steps = PACK.procedure(procedure_id).steps
    assert steps[0].id == "check" and steps[0].faculty_check and "order" in " ".join(steps[0].cautions)
    assert "only on the dentist's order" in said_in(procedure_id, "check_result")


# ISO 3665, from memory.
SIZES = {"0": "22 by 35 mm", "1": "24 by 40 mm", "2": "31 by 41 mm", "3": "27 by 54 mm", "4": "57 by 76 mm"}


@pytest.mark.parametrize("item_id", ["phosphor_plate", "dental_film"])
def test_plates_and_film_come_in_the_five_standard_sizes(item_id: str) -> None:
    variants = {variant.text: variant.note for variant in PACK.item(item_id).variants}
    assert list(variants) == list(SIZES)
    for size, measures in SIZES.items():
        assert variants[size].startswith(measures)


def test_sensors_are_made_in_the_three_smaller_sizes() -> None:
    """C."""
    assert [variant.text for variant in PACK.item("image_sensor").variants] == ["0", "1", "2"]


def test_light_and_brush_do_not_take_the_place_of_a_biopsy() -> None:
    """P: American Dental Association guideline, JADA 2017;148:712-727."""
    for item_id in ("screening_light", "cytology_brush"):
        assert "biopsy" in cautions(item_id), item_id


# --- names ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "item_id", "variant"),
    [
        # C
        ("digital sensor", "image_sensor", None),
        ("size two sensor", "image_sensor", "2"),
        ("number one sensor", "image_sensor", "1"),
        ("size zero sensor", "image_sensor", "0"),
        ("pedo sensor", "image_sensor", "0"),
        ("sensor cover", "sensor_sleeve", None),
        ("anterior holder", "sensor_holder_front", None),
        ("front holder", "sensor_holder_front", None),
        ("posterior holder", "sensor_holder_back", None),
        ("posterior P A holder", "sensor_holder_back", None),
        ("bite wing holder", "sensor_holder_bitewing", None),
        ("vertical bitewing holder", "sensor_holder_bitewing", "vertical"),
        ("stick on tab", "bitewing_tab", None),
        ("bite tab", "bitewing_tab", None),
        ("front ring", "aiming_ring", "anterior"),
        ("posterior ring", "aiming_ring", "posterior"),
        ("bitewing rod", "aiming_arm", "bitewing"),
        ("indicator rod", "aiming_arm", None),
        ("apron", "lead_apron", None),
        ("poncho", "lead_apron", "panoramic"),
        ("pan apron", "lead_apron", "panoramic"),
        ("pedo apron", "lead_apron", "child"),
        ("thyroid shield", "thyroid_collar", None),
        ("PSP plate", "phosphor_plate", None),
        ("number two plate", "phosphor_plate", "2"),
        ("occlusal film", "dental_film", "4"),
        ("size four film", "dental_film", "4"),
        ("FMX mount", "film_mount", "full mouth"),
        ("tubehead", "xray_unit", None),
        ("cone", "xray_unit", None),
        ("collimator", "rectangular_collimator", None),
        ("pan bite block", "panoramic_bite_piece", None),
        ("chin rest", "panoramic_chin_rest", None),
        ("jewelry cup", "belongings_cup", None),
        ("over gloves", "overgloves", None),
        ("disinfecting wipe", "surface_wipe", None),
        ("freeze spray", "cold_spray", None),
        ("cold test", "cold_spray", None),
        ("tooth test stick", "tooth_test_stick", None),
        ("EPT", "pulp_tester", None),
        ("vitality tester", "pulp_tester", None),
        ("toothpaste", "tester_gel", None),
        ("fiber optic", "transillumination_light", None),
        ("mirror handle", "percussion_handle", None),
        ("gutta percha", "tracing_point", None),
        ("GP point", "tracing_point", None),
        ("size thirty gutta percha", "tracing_point", "30"),
        ("caries indicator", "caries_dye", None),
        ("occlusal mirror", "photo_mirror", "occlusal"),
        ("buccal mirror", "photo_mirror", "buccal"),
        ("cheek retractors", "photo_retractor", None),
        ("black background", "contrastor", None),
        ("BP cuff", "blood_pressure_cuff", None),
        ("large cuff", "blood_pressure_cuff", "large adult"),
        ("tongue blade", "tongue_depressor", None),
        ("brush biopsy", "cytology_brush", None),
        ("leaf gage", "leaf_gauge", None),
        ("oxygen", "oxygen_cylinder", None),
        ("O two", "oxygen_cylinder", None),
        ("crash cart", "emergency_kit", None),
        ("AED", "aed", None),
        ("defib", "aed", None),
    ],
)
def test_what_people_say_means_one_item(said: str, item_id: str, variant: str | None) -> None:
    assert meant(f"hand me the {said}")[0] == (item_id, variant)


@pytest.mark.parametrize(
    ("said", "item_ids"),
    [
        # C: one name, several things
        ("holder", set(HOLDERS)),
        ("PA holder", {"sensor_holder_front", "sensor_holder_back"}),
        ("receptor", {"image_sensor", "phosphor_plate", "dental_film"}),
        ("size 2", {"image_sensor", "phosphor_plate", "dental_film"}),
        ("sheath", {"sensor_sleeve", "camera_sleeve"}),
        ("sleeve", {"sensor_sleeve", "camera_sleeve", "panoramic_sleeve"}),
        ("camera", {"intraoral_camera", "clinical_camera"}),
        ("caries detector", {"caries_dye", "caries_light"}),
        ("fluorescence light", {"caries_light", "screening_light"}),
        ("bite stick", {"tooth_test_stick", "panoramic_bite_piece"}),
        ("gel", {"tester_gel", "topical_anaesthetic"}),
    ],
)
def test_a_name_that_means_several_is_left_open(said: str, item_ids: set[str]) -> None:
    candidates = LEXICON.find(said)
    likeliest = candidates[0].p
    assert {c.item for c in candidates if c.p == pytest.approx(likeliest)} == item_ids
    assert likeliest <= 0.5


def test_a_spray_may_be_the_cold_one() -> None:
    """C: "spray" is also said of the air water syringe; both are in what may be meant."""
    assert {item for item, _ in meant("spray please")} == {"air_water_syringe", "cold_spray"}


@pytest.mark.parametrize("number", [*range(1, 33), *(f"{q}{t}" for q in range(1, 9) for t in range(1, 9))])
def test_no_bare_tooth_number_is_a_name(number: object) -> None:
    """P: universal numbering 1 to 32, and the two-digit system of ISO 3950."""
    for said in (f"{number}", f"number {number}"):
        assert not LEXICON.is_name(said), said


@pytest.mark.parametrize(
    "word", ["occlusal", "buccal", "lingual", "mesial", "anterior", "posterior", "light", "bitewing"]
)
def test_a_surface_or_a_plain_word_alone_is_no_name(word: str) -> None:
    assert not LEXICON.is_name(word)


@pytest.mark.parametrize(
    "said", ["four three four", "six on the distal", "bleeding", "does it hurt when I let go"]
)
def test_what_is_called_out_or_asked_of_the_patient_asks_for_nothing(said: str) -> None:
    """C: depths are written down."""
    assert understand(said, LEXICON, PACK.speech) == ()


@pytest.mark.parametrize(
    "pair",
    [
        ("sensor_holder_front", "sensor_holder_back"),
        ("sensor_holder_back", "sensor_holder_bitewing"),
        ("phosphor_plate", "dental_film"),
        ("phosphor_plate", "image_sensor"),
        ("sensor_sleeve", "camera_sleeve"),
        ("caries_dye", "tester_gel"),
        ("caries_light", "screening_light"),
        ("intraoral_camera", "clinical_camera"),
        ("lead_apron", "thyroid_collar"),
    ],
)
def test_a_pair_that_matters_has_a_wide_margin_and_tells_itself_apart_both_ways(
    pair: tuple[str, str],
) -> None:
    """C."""
    assert set(pair) in [set(p) for p in PACK.wide_margin]
    for this, that in (pair, pair[::-1]):
        assert that in {alike.item for alike in PACK.item(this).confused_with}, this


def test_a_gel_that_numbs_and_one_that_conducts_are_never_confused_silently() -> None:
    """C."""
    assert {"topical_anaesthetic", "tester_gel"} in [set(pair) for pair in PACK.wide_margin]
    assert "label" in next(
        alike.tell for alike in PACK.item("tester_gel").confused_with if alike.item == "topical_anaesthetic"
    )


# --- trays and steps --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tray_id", "laid"),
    [
        # C
        (
            "new_patient_examination",
            "mouth_mirror explorer_shepherd perio_probe furcation_probe shim_stock leaf_gauge gauze_square "
            "photo_mirror photo_retractor contrastor clinical_camera intraoral_camera camera_sleeve "
            "blood_pressure_cuff hand_mirror",
        ),
        (
            "bitewing_radiographs",
            "image_sensor sensor_sleeve sensor_holder_bitewing bitewing_tab aiming_ring overgloves",
        ),
        (
            "full_mouth_radiographs",
            "sensor_holder_front sensor_holder_back sensor_holder_bitewing aiming_arm aiming_ring "
            "cotton_roll",
        ),
        (
            "panoramic_radiograph",
            "panoramic_bite_piece panoramic_sleeve panoramic_chin_rest belongings_cup cotton_roll",
        ),
        (
            "emergency_examination",
            "cold_spray cotton_pellet cotton_pliers pulp_tester percussion_handle tooth_test_stick "
            "tracing_point transillumination_light perio_probe articulating_paper image_sensor",
        ),
    ],
)
def test_a_tray_holds_what_its_procedure_needs(tray_id: str, laid: str) -> None:
    assert [i for i in laid.split() if PACK.tray(tray_id).slot_of(i) is None] == []


@pytest.mark.parametrize("tray", PACK.trays, ids=lambda tray: tray.id)
def test_help_for_an_emergency_is_known_as_a_place_at_every_tray(tray: Tray) -> None:
    """C: places only; nothing of what is in the kit is an item."""
    station = next(kit for kit in tray.opened if kit.id == "emergency_station")
    assert tuple(slot.item for slot in station.slots) == EMERGENCY and station.place is KitPlace.COUNTER
    for item_id in EMERGENCY:
        assert "Only its place is shown" in cautions(item_id)


@procedures
def test_help_for_an_emergency_may_be_asked_for_at_any_time(procedure: Procedure) -> None:
    assert set(EMERGENCY) <= procedure.any_time.keys()


@pytest.mark.parametrize(
    ("procedure_id", "before", "after"),
    [
        # C
        ("new_patient_examination", "pressure", "photographs"),
        ("new_patient_examination", "photographs", "probe"),
        ("new_patient_examination", "photographs", "bite"),
        ("new_patient_examination", "soft_tissue", "chart_teeth"),
        ("new_patient_examination", "chart_teeth", "probe"),
        ("new_patient_examination", "bite", "check_result"),
        ("bitewing_radiographs", "prepare", "assemble"),
        ("bitewing_radiographs", "protect", "premolars"),
        # M: textbooks of dental radiography: front before back, premolars before molars
        ("bitewing_radiographs", "premolars", "molars"),
        ("full_mouth_radiographs", "upper_front", "premolars"),
        ("full_mouth_radiographs", "lower_front", "premolars"),
        ("full_mouth_radiographs", "premolars", "molars"),
        ("full_mouth_radiographs", "molars", "read"),
        ("panoramic_radiograph", "metal", "position"),
        ("panoramic_radiograph", "position", "expose"),
        # C: every test before the image, the tracing point in place when it is taken
        ("emergency_examination", "cold", "image"),
        ("emergency_examination", "percussion", "image"),
        ("emergency_examination", "bite_test", "image"),
        ("emergency_examination", "trace", "image"),
        ("emergency_examination", "image", "check_result"),
    ],
)
def test_steps_are_in_working_order(procedure_id: str, before: str, after: str) -> None:
    steps = order_of(procedure_id)
    assert steps.index(before) < steps.index(after)


@procedures
def test_a_teacher_looks_in_every_procedure(procedure: Procedure) -> None:
    assert any(step.faculty_check for step in procedure.steps)


def test_a_sound_tooth_is_tested_first() -> None:
    """M: Pathways of the Pulp, chapter on diagnosis."""
    for step in ("cold", "percussion"):
        assert "sound tooth first" in said_in("emergency_examination", step)


def test_what_is_in_the_patients_way_comes_back() -> None:
    """C: the cup is asked for before the image and again at the end."""
    steps = {step.id: step for step in PACK.procedure("panoramic_radiograph").steps}
    assert "belongings_cup" in steps["metal"].items and "belongings_cup" in steps["room"].items


def test_what_has_a_makers_time_has_a_timer() -> None:
    """C: no time of ours; the makers' are set by the clinic."""
    timers = {timer for p in PACK.procedures for step in p.steps for timer in step.timers}
    assert timers == {"disinfectant wipe", "topical anaesthetic", "caries dye"}


# --- facts ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact_id", "value", "source"),
    [
        ("images_when", "after history and examination", "American Dental Association"),
        ("distance", "at least 2 metres (6 feet)", "White and Pharoah"),
        ("angle", "90 to 135 degrees", "White and Pharoah"),
        ("staff_limit", "50 mSv", "NCRP"),
        ("round_beam", "7 cm", "21 CFR 1020.31"),
        ("rectangular", "rectangular", "NCRP Report 177"),
        ("collar_now", "no longer recommended", "JADA 2023;154:826-835"),
        ("collar_panoramic", "it lies in the beam and hides the jaw", "White and Pharoah"),
        ("sensor_class", "semicritical", "CDC"),
        ("sensor_after", "cleaned and disinfected as its maker says", "CDC"),
        ("periapical_beyond", "2 mm", "Iannucci"),
        ("full_mouth_number", "about 18 to 20", "Iannucci"),
        ("front_first", "front teeth", "Iannucci"),
        ("pan_tongue", "flat against the palate", "White and Pharoah"),
        ("tooth_1", "the upper right third molar", "universal"),
        ("tooth_32", "the lower right third molar", "universal"),
        ("baby_letters", "A to T", "universal"),
        ("iso_quadrant", "the quadrant", "ISO 3950"),
        ("six_depths", "six", "periodontology"),
        ("williams", "4 and 6", "periodontology"),
        ("marquis", "3, 6, 9 and 12", "periodontology"),
        ("who_probe", "3.5 to 5.5 mm", "periodontology"),
        ("pressure_rest", "about 5 minutes", "American Heart Association"),
        ("cuff_small", "too high", "American Heart Association"),
        ("screening_instead", "a biopsy", "JADA 2017;148:712-727"),
        ("opening_limit", "40 mm", "Okeson"),
        ("sound_first", "a sound one", "Pathways of the Pulp"),
        ("bite_release", "on letting go", "Pathways of the Pulp"),
        ("crack_light", "it stops it", "Pathways of the Pulp"),
        ("trace_when", "before", "Pathways of the Pulp"),
    ],
)
def test_a_fact_holds_what_the_trade_knows_and_where_it_comes_from(
    fact_id: str, value: str, source: str
) -> None:
    fact = FACTS.fact(fact_id)
    assert fact.answer.text == value and source in fact.source


@pytest.mark.parametrize("size", ["0", "1", "2"])
def test_facts_and_items_agree_on_sizes(size: str) -> None:
    assert FACTS.fact(f"size_{size}").answer.text == SIZES[size]


def test_facts_and_items_agree_on_the_marks_of_probes() -> None:
    """M."""
    notes = {variant.text: variant.note for variant in PACK.item("perio_probe").variants}
    marks = {int(n) for n in re.findall(r"\d+", notes["Williams"])}
    left_out = {int(n) for n in re.findall(r"\d+", FACTS.fact("williams").answer.text)}
    assert marks | left_out == set(range(1, 11)) and not marks & left_out
    assert FACTS.fact("marquis").answer.text in notes["Marquis"]
    assert FACTS.fact("who_probe").answer.text in notes["WHO"]


@pytest.mark.parametrize(
    ("group", "watched"),
    [
        # C
        ("passing", "middle of the ring"),
        ("passing", "2 metres (6 feet)"),
        ("passing", "Never holds sensor, head or patient"),
        ("passing", "without the dentist's order"),
        ("passing", "takes no number for a size"),
        ("passing", "emergency kit, oxygen and defibrillator"),
        ("count", "tracing point"),
        ("sharps", "gauze lying flat"),
    ],
)
def test_somebody_has_to_watch_what_matters_most(group: str, watched: str) -> None:
    assert any(watched in p.text and p.must for p in FACTS.checklist if p.group == group)
