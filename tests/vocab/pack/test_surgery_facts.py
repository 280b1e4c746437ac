"""The surgery pack says what the trade knows; the source of each fact stands beside it.

P: published. C: common practice, no source. M: numbers from memory of textbooks and catalogues.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from listen.chairside.handing import handing_text
from listen.practice.facts import facts_beside
from tests.vocab.pack.field import Field
from vocab.layers.apply import compose
from vocab.layers.changes import AddName, Layer, SetSlot
from vocab.pack.schema import Exchange, Grasp, Item, ItemClass, Name, TakenBy

FIELD = Field("oral_surgery")
PACK, LEXICON = FIELD.pack, FIELD.lexicon
meant = FIELD.meant
passing = FIELD.passing
FACTS = facts_beside("oral_surgery", PACK)

BLADES = [f"scalpel_blade_{number}" for number in ("15", "15c", "12", "11")]
SUTURES = [item.id for item in PACK.items if item.id.startswith("suture_") and item.item_class == "material"]
KNIVES = ["orban_knife", "kirkland_knife", "buck_knife"]
SMALL_PARTS = ["cover_screw", "healing_abutment", "hex_driver", "parallel_pin"]
"""What is swallowed or breathed in easily."""
DRILLS = ["lance_drill", "pilot_drill", "twist_drill", "countersink_drill", "bone_tap", "drill_extension"]
WORN = {"gloves", "face_mask", "safety_glasses"}
"""Of all fields, and put on, not passed."""
items = pytest.mark.parametrize("item", PACK.items, ids=lambda item: item.id)


# --- passing and sharps ---------------------------------------------------------------------------------


@items
def test_every_item_says_how_it_is_passed(item: Item) -> None:
    assert item.id in WORN or (item.handing is not None and handing_text(item)), item.id


@pytest.mark.parametrize(
    "item_id",
    [
        *BLADES,
        "scalpel_handle",
        *SUTURES,
        "needle_holder",
        "castroviejo_needle_holder",
        "biopsy_punch",
        "gum_punch",
        "suture_cutter",
        *KNIVES,
    ],
)
def test_blades_and_suture_needles_say_in_full_that_they_go_through_a_neutral_zone(item_id: str) -> None:
    """P: OSHA 29 CFR 1910.1030(d)(2); OSHA letter of 22 December 2005 on passing trays; CDC on sharps."""
    said = passing(item_id)
    assert PACK.item(item_id).handing is not None
    for words in (
        "neutral zone",
        "announced aloud",
        "as local rules say",
        "never from hand to hand where they forbid",
    ):
        assert words in said, words
    assert "away from everybody" in said and "see there" not in said.lower()


@pytest.mark.parametrize("item_id", [*BLADES, "scalpel_handle"])
def test_a_blade_comes_off_with_an_instrument(item_id: str) -> None:
    """P: OSHA letter of interpretation of 21 November 2008: fingers do not meet the standard."""
    assert re.search(r"blade remover or a needle\s+holder, never with fingers", passing(item_id))


@items
def test_every_sharp_has_a_caution(item: Item) -> None:
    """C."""
    assert item.cautions or not item.sharp, item.id


@pytest.mark.parametrize("item_id", ["needle_short", "needle_long", "aspirating_syringe"])
def test_needles_are_recapped_with_one_hand(item_id: str) -> None:
    """P: OSHA 29 CFR 1910.1030(d)(2)(vii); CDC dental guidelines 2003."""
    said = " ".join([passing(item_id), *PACK.item(item_id).cautions])
    assert "one-handed scoop" in said and "never with two hands" in said.lower()
    assert "loosens the cap but leaves it on" in said


@pytest.mark.parametrize("item_id", SUTURES)
def test_a_suture_needle_is_held_a_third_to_half_from_the_thread_and_counted(item_id: str) -> None:
    """C."""
    item = PACK.item(item_id)
    assert "a third to half of the way from the thread end" in " ".join(passing(item_id).split())
    assert item.counted and any("counted" in caution for caution in item.cautions)


@items
def test_surgical_sharps_and_what_may_stay_in_a_mouth_are_counted(item: Item) -> None:
    """C: blades, suture needles, cartridges, burs, drills, gauze, packs, drains, props, and what is small."""
    single_sharp = item.sharp and item.reprocessing == "single use"
    stays = item.id in {
        "gauze_square",
        "cotton_pellet",
        "throat_pack",
        "penrose_drain",
        "socket_dressing",
        "membrane_nonresorbable",
        "dental_implant",
        "bite_block",
        "scalpel_handle",
        "blade_remover",
        "implant_driver",
        "depth_gauge",
        *DRILLS,
        *SMALL_PARTS,
    }
    assert item.counted == (single_sharp or stays), item.id


def test_small_parts_warn_that_they_are_swallowed_and_are_held_with_floss_or_gauze() -> None:
    """C."""
    for item_id in SMALL_PARTS:
        said = " ".join([passing(item_id), *PACK.item(item_id).cautions])
        assert "swallowed or breathed in" in said, item_id
        assert re.search(r"[Ff]loss", said) and "gauze behind it" in said.lower(), item_id


@items
def test_drugs_fluids_and_what_is_implanted_are_always_checked(item: Item) -> None:
    """C: cartridges, needles, syringe, topical; rinses, dressings with a drug, the saline of the pump;
    implant, graft and membrane. What holds a cap or carries the gel is no drug."""
    no_drug = {"recapping_device", "cotton_tip_applicator"}
    read_back = {
        "chlorhexidine_rinse",
        "tranexamic_solution",
        "socket_dressing",
        "saline_bag",
        "dental_implant",
        "bone_graft",
        "membrane_resorbable",
        "membrane_nonresorbable",
    }
    anaesthesia = item.item_class is ItemClass.ANAESTHESIA and item.id not in no_drug
    assert item.always_check == (anaesthesia or item.id in read_back), item.id


@pytest.mark.parametrize(
    "item_id",
    ["saline_bag", "dental_implant", "bone_graft", "membrane_resorbable", "membrane_nonresorbable"],
)
def test_what_goes_into_bone_is_read_back_by_the_person_responsible(item_id: str) -> None:
    """C."""
    said = " ".join(PACK.item(item_id).cautions)
    assert "read back by the person responsible" in said and "expiry" in said


@pytest.mark.parametrize(
    ("item_id", "grasp", "exchange"),
    [
        ("upper_universal_forceps", Grasp.PALM, Exchange.TWO_HANDS),
        ("cowhorn_forceps", Grasp.PALM, Exchange.TWO_HANDS),
        ("bone_rongeur", Grasp.PALM, Exchange.TWO_HANDS),
        ("straight_elevator", Grasp.PALM, Exchange.ONE_HAND),
        ("triangular_elevator_left", Grasp.PALM, Exchange.ONE_HAND),
        ("periosteal_elevator", Grasp.PEN, Exchange.ONE_HAND),
        ("aspirating_syringe", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("scalpel_handle", Grasp.PEN, Exchange.NEUTRAL_ZONE),
        ("needle_holder", Grasp.PALM, Exchange.NEUTRAL_ZONE),
        ("castroviejo_needle_holder", Grasp.PEN, Exchange.NEUTRAL_ZONE),
        ("castroviejo_scissors", Grasp.PEN, Exchange.ONE_HAND),
        ("iris_scissors", Grasp.PALM, Exchange.ONE_HAND),
        ("orban_knife", Grasp.PEN, Exchange.NEUTRAL_ZONE),
        ("ochsenbein_chisel", Grasp.PEN, Exchange.ONE_HAND),
        ("bone_chisel", Grasp.PALM_AND_THUMB, Exchange.ONE_HAND),
        ("miller_elevator", Grasp.PALM, Exchange.ONE_HAND),
        ("implant_handpiece", Grasp.PEN, Exchange.TWO_HANDS),
        ("torque_wrench", Grasp.PALM, Exchange.ONE_HAND),
    ],
)
def test_grasp_and_exchange_are_those_of_the_trade(item_id: str, grasp: Grasp, exchange: Exchange) -> None:
    """C: heavy ones lie in the palm, bulky ones are passed with two hands, fine ones held like a pen."""
    handing = PACK.item(item_id).handing
    assert handing is not None and (handing.grasp, handing.exchange) == (grasp, exchange)


def test_suction_and_the_jar_stay_with_the_assistant() -> None:
    """C."""
    for item_id in ("high_volume_tip", "surgical_suction_tip", "yankauer_suction", "specimen_jar"):
        handing = PACK.item(item_id).handing
        assert handing is not None and handing.taken_by is TakenBy.ASSISTANT, item_id


def test_no_air_goes_into_a_wound() -> None:
    """P: CDC dental guidelines 2003 (sterile irrigants); C: air under a flap spreads into the tissue."""
    assert any("turbine" in caution for caution in PACK.item("surgical_handpiece").cautions)
    assert any("never used under a flap" in c for c in PACK.item("rear_exhaust_handpiece").cautions)
    for procedure in PACK.procedures:
        for step in procedure.steps:
            if step.id in {"clean", "rinse"} and procedure.id not in {"suture_removal", "review", "abscess"}:
                assert "air_water_syringe" not in step.items and "no air" in " ".join(step.cautions).lower()


def test_a_laser_and_electrosurgery_say_what_has_to_be_in_place_first() -> None:
    """P: ANSI Z136.3 (eyewear for the wavelength), from memory; C for the pad, the mirror and pacemakers."""
    laser, current = (" ".join(PACK.item(i).cautions) for i in ("laser_tip", "electrosurgery_tip"))
    assert "Everybody in the room, the patient first" in laser and "wavelength" in laser
    assert "Pacemakers" in current and "pad is in place first" in current and "plastic" in current


def test_a_drain_warns_of_latex() -> None:
    """C; CDC on latex."""
    assert PACK.item("penrose_drain").latex
    assert any("latex" in caution for caution in PACK.item("penrose_drain").cautions)


# --- names ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "item_id", "variant"),
    [
        # P: US Navy, Dental Assistant (NAVEDTRA 14275), chapter 5
        ("the one fifty", "upper_universal_forceps", "150"),
        ("fifty three R", "upper_molar_forceps_right", None),
        ("53L forceps please", "upper_molar_forceps_left", None),
        ("88R please", "upper_cowhorn_right", None),
        ("eighty eight left", "upper_cowhorn_left", None),
        ("210S", "upper_third_molar_forceps", "210S"),
        ("two ten H forceps", "upper_third_molar_forceps", "210H"),
        ("65 forceps", "bayonet_forceps", "65"),
        ("286 bayonet", "bayonet_forceps", "286"),
        ("nine Molt", "periosteal_elevator", None),
        ("Seldin", "seldin_retractor", None),
        # P: Hupp, Contemporary Oral and Maxillofacial Surgery, 7th edition, chapter 7
        ("the one fifty one", "lower_universal_forceps", "151"),
        ("150S", "upper_child_forceps", None),
        ("one fifty S forceps", "upper_child_forceps", None),
        ("15C blade", "scalpel_blade_15c", None),
        ("fifteen C", "scalpel_blade_15c", None),
        # P: US Army course on dental instruments and setups
        ("three oh one", "straight_elevator", None),
        ("34S", "straight_elevator_large", "34S"),
        ("34 elevator", "straight_elevator_large", "34"),
        ("side-cutting rongeur", "rongeur_side_cutting", None),
        # M
        ("23 forceps", "cowhorn_forceps", None),
        ("17 forceps", "lower_molar_forceps", None),
        ("74 forceps", "ash_forceps", None),
        ("Ash forceps", "ash_forceps", None),
        ("222", "lower_third_molar_forceps", None),
        ("two twenty two forceps", "lower_third_molar_forceps", None),
        ("151S", "lower_child_forceps", None),
        ("77R", "elevator_77r", None),
        ("seventy seven R", "elevator_77r", None),
        ("85 curette", "surgical_curette", "85"),
        # C
        ("Crane pick", "crane_pick", None),
        ("Potts", "potts_elevator", None),
        ("left Potts", "potts_elevator", "left"),
        ("luxating elevator", "luxating_elevator", None),
        ("Miller bone file", "bone_file", None),
        ("Austin", "austin_retractor", None),
        ("Minnesota", "minnesota_retractor", None),
        ("straight hemostat", "haemostat_straight", None),
        ("curved hemostat", "haemostat_curved", None),
        ("Kelly", "kelly_haemostat", None),
        ("Hegar", "needle_holder", None),
        ("3-0 chromic", "suture_chromic_gut", "3-0"),
        ("three oh chromic gut", "suture_chromic_gut", "3-0"),
        ("four oh silk", "suture_silk", "4-0"),
        ("4-0 silk", "suture_silk", "4-0"),
        ("five oh plain gut", "suture_plain_gut", "5-0"),
        ("plain gut", "suture_plain_gut", None),
        ("4-0 polyglactin", "suture_polyglactin", "4-0"),
        ("Yankauer", "yankauer_suction", None),
        ("biopsy punch", "biopsy_punch", None),
        ("four millimeter punch", "biopsy_punch", "4 millimetre"),
        ("Penrose drain", "penrose_drain", None),
        ("blade remover", "blade_remover", None),
        ("Metzenbaum", "metzenbaum_scissors", None),
        ("Dean scissors", "suture_scissors", None),
        ("stitch scissors", "stitch_scissors", None),
        ("towel clip", "towel_clip", None),
        ("mouth gag", "mouth_gag", None),
        ("4x4", "gauze_square", "4x4"),
        ("four by four", "gauze_square", "4x4"),
        ("osteotome", "osteotome", None),
        ("27 short please", "needle_short", "27 gauge"),
        ("27 gauge short", "needle_short", "27 gauge"),
        ("25 long", "needle_long", "25 gauge"),
        ("thirty long", "needle_long", "30 gauge"),
        ("no epi", "cartridge_plain", None),
        ("without epi", "cartridge_plain", None),
        ("lidocaine with epi", "cartridge_vasoconstrictor", None),
        # P: US Navy, Dental Assistant (NAVEDTRA 14275), chapter 5
        ("seventy three elevator", "miller_elevator", "73"),
        ("Miller 74", "miller_elevator", "74"),
        ("Cogswell", "cogswell_elevator", None),
        ("Seldin 1R", "triangular_elevator_right", None),
        ("nine L pick", "root_tip_pick", "left"),
        # P: Carranza, chapter on instruments, from memory
        ("Orban", "orban_knife", None),
        ("Kirkland", "kirkland_knife", None),
        ("Buck five six", "buck_knife", None),
        ("interproximal knife", "buck_knife", None),
        ("Ochsenbein number two", "ochsenbein_chisel", "2"),
        ("back-action chisel", "rhodes_chisel", None),
        ("Sugarman", "sugarman_file", None),
        ("Goldman-Fox", "goldman_fox_scissors", None),
        ("Prichard curette", "surgical_perio_curette", None),
        ("Prichard elevator", "prichard_elevator", None),
        ("Woodson", "woodson_elevator", None),
        # M
        ("nine fifty seven", "end_cutting_bur", "957"),
        ("two four Molt", "surgical_curette", "2/4"),
        ("46 elevator", "straight_elevator_large", "46"),
        ("Heidbrink", "root_tip_pick", None),
        # C
        ("Castro needle holder", "castroviejo_needle_holder", None),
        ("Castroviejo scissors", "castroviejo_scissors", None),
        ("curved iris", "iris_scissors", "curved"),
        ("Adson", "tissue_forceps", None),
        ("Adson-Brown", "adson_brown_forceps", None),
        ("Geralds", "gerald_forceps", None),
        ("Allis clamp", "allis_forceps", None),
        ("Spencer scissors", "stitch_scissors", None),
        ("suture removal blade", "suture_cutter", None),
        ("forty five degree handpiece", "rear_exhaust_handpiece", None),
        ("egg bur", "bone_trimming_bur", None),
        ("tongue-tie director", "grooved_director", None),
        ("implant motor", "implant_motor", None),
        ("twenty to one", "implant_handpiece", None),
        ("lance", "lance_drill", None),
        ("pilot", "pilot_drill", None),
        ("two millimeter drill", "pilot_drill", "2.0"),
        ("two point oh drill", "pilot_drill", "2.0"),
        ("three two drill", "twist_drill", "3.2"),
        ("3.5 twist drill", "twist_drill", "3.5"),
        ("four point two twist", "twist_drill", "4.2"),
        ("countersink", "countersink_drill", None),
        ("bone tap", "bone_tap", None),
        ("depth gauge", "depth_gauge", None),
        ("direction indicator", "parallel_pin", None),
        ("parallel pin", "parallel_pin", None),
        ("torque wrench", "torque_wrench", None),
        ("ratchet", "torque_wrench", None),
        ("implant driver", "implant_driver", None),
        ("screwdriver", "hex_driver", None),
        ("cover screw", "cover_screw", None),
        ("healing cap", "healing_abutment", None),
        ("five millimeter healing abutment", "healing_abutment", "5 millimetre"),
        ("implant", "dental_implant", None),
        ("surgical guide", "surgical_guide", None),
        ("bone graft", "bone_graft", None),
        ("allograft", "bone_graft", "allograft"),
        ("bovine bone", "bone_graft", "xenograft"),
        ("collagen membrane", "membrane_resorbable", None),
        ("PTFE membrane", "membrane_nonresorbable", None),
        ("P T F E suture", "suture_ptfe", None),
        ("five oh nylon", "suture_nylon", "5-0"),
        ("six oh polypropylene", "suture_polypropylene", "6-0"),
        ("four oh P G A", "suture_polyglycolic", "4-0"),
        ("perio pack", "periodontal_dressing", None),
        ("gelatin sponge", "haemostatic_sponge", None),
        ("collagen plug", "collagen_plug", None),
        ("oxidized cellulose", "oxidised_cellulose", None),
        ("bone wax", "bone_wax", None),
        ("T X A", "tranexamic_solution", None),
        ("chlorhexidine", "chlorhexidine_rinse", None),
        ("ice pack", "ice_pack", None),
        ("post-op instructions", "instruction_sheet", None),
        ("take-home syringe", "curved_tip_syringe", None),
        ("bag of saline", "saline_bag", None),
        ("light handle cover", "light_handle_cover", None),
        ("scrub brush", "scrub_brush", None),
        ("needle counter", "needle_counter", None),
        ("laser glasses", "laser_eyewear", None),
        ("loop electrode", "electrosurgery_tip", "loop"),
    ],
)
def test_what_people_say_means_one_item(said: str, item_id: str, variant: str | None) -> None:
    assert meant(f"hand me the {said.removeprefix('the ')}")[0] == (item_id, variant)


@pytest.mark.parametrize(
    ("said", "item_ids"),
    [
        # C: one name, several instruments
        ("elevator", {"straight_elevator", "straight_elevator_large"}),
        ("Cryer", {"triangular_elevator_right", "triangular_elevator_left"}),
        ("upper cowhorn", {"upper_cowhorn_right", "upper_cowhorn_left"}),
        ("hemostat", {"haemostat_curved", "haemostat_straight"}),
        ("rongeur", {"bone_rongeur", "rongeur_side_cutting"}),
        ("gut", {"suture_plain_gut", "suture_chromic_gut"}),
        (
            "scissors",
            {
                "suture_scissors",
                "stitch_scissors",
                "metzenbaum_scissors",
                "iris_scissors",
                "goldman_fox_scissors",
                "castroviejo_scissors",
            },
        ),
        ("Castroviejo", {"castroviejo_needle_holder", "castroviejo_scissors"}),
        ("Prichard", {"prichard_elevator", "surgical_perio_curette"}),
        ("perio knife", set(KNIVES)),
        ("tissue punch", {"biopsy_punch", "gum_punch"}),
        ("driver", {"implant_driver", "hex_driver"}),
        ("healing screw", {"cover_screw", "healing_abutment"}),
        ("membrane", {"membrane_resorbable", "membrane_nonresorbable"}),
        ("PTFE", {"suture_ptfe", "membrane_nonresorbable"}),
        ("stent", {"surgical_guide", "surgical_stent"}),
        ("dressing", {"socket_dressing", "periodontal_dressing"}),
        ("stitch cutter", {"stitch_scissors", "suture_cutter"}),
        ("suture", set(SUTURES)),
        ("4-0", set(SUTURES)),
        ("monofilament", {"suture_nylon", "suture_polypropylene", "suture_ptfe"}),
        ("pickups", {"cotton_pliers", "tissue_forceps"}),
        ("gloves", {"gloves", "sterile_gloves"}),
        # C: what it is said of is never guessed, and the gauge never decides the length
        ("plain", {"cartridge_plain", "suture_plain_gut"}),
        ("27 gauge", {"needle_short", "needle_long"}),
        ("30 gauge", {"needle_short", "needle_long"}),
        ("cartridge", {"cartridge_vasoconstrictor", "cartridge_plain"}),
    ],
)
def test_a_name_that_means_several_is_left_open(said: str, item_ids: set[str]) -> None:
    candidates = LEXICON.find(said)
    likeliest = candidates[0].p
    assert {c.item for c in candidates if c.p == pytest.approx(likeliest)} == item_ids
    assert likeliest <= 0.5


@pytest.mark.parametrize("number", [*range(1, 33), *(f"{q}{t}" for q in range(1, 9) for t in range(1, 9))])
def test_no_bare_tooth_number_is_a_name(number: object) -> None:
    """P: universal numbering 1 to 32, and the two-digit system of ISO 3950."""
    for said in (f"{number}", f"number {number}"):
        assert not LEXICON.is_name(said), said


@pytest.mark.parametrize(
    "pair",
    [
        ("straight_elevator", "straight_elevator_large"),
        ("upper_universal_forceps", "upper_child_forceps"),
        ("scalpel_blade_15", "scalpel_blade_15c"),
        ("haemostatic_sponge", "gauze_square"),
        ("irrigation_syringe", "aspirating_syringe"),
        ("suture_plain_gut", "suture_chromic_gut"),
        ("suture_silk", "suture_chromic_gut"),
        ("needle_short", "needle_long"),
        ("cartridge_vasoconstrictor", "cartridge_plain"),
        ("upper_cowhorn_right", "upper_cowhorn_left"),
        ("bone_chisel", "osteotome"),
        ("membrane_resorbable", "membrane_nonresorbable"),
        ("cover_screw", "healing_abutment"),
        ("implant_driver", "hex_driver"),
        ("pilot_drill", "twist_drill"),
        ("biopsy_punch", "gum_punch"),
        ("haemostatic_sponge", "collagen_plug"),
        ("socket_dressing", "periodontal_dressing"),
        ("suture_polyglactin", "suture_polyglycolic"),
        ("castroviejo_needle_holder", "castroviejo_scissors"),
        ("surgical_handpiece", "rear_exhaust_handpiece"),
        ("electrosurgery_tip", "laser_tip"),
    ],
)
def test_a_pair_that_matters_has_a_wide_margin_and_tells_itself_apart_both_ways(
    pair: tuple[str, str],
) -> None:
    """C."""
    assert set(pair) in [set(p) for p in PACK.wide_margin]
    for this, that in (pair, pair[::-1]):
        assert that in {alike.item for alike in PACK.item(this).confused_with}, this


@pytest.mark.parametrize(
    ("own", "of_all_fields"),
    [
        ("haemostatic_sponge", "gauze_square"),
        ("oxidised_cellulose", "gauze_square"),
        ("collagen_plug", "gauze_square"),
        ("socket_dressing", "gauze_square"),
        ("throat_pack", "gauze_square"),
        ("suture_plain_gut", "cartridge_plain"),
        ("tranexamic_solution", "saline_bowl"),
        ("laser_eyewear", "safety_glasses"),
        ("curved_tip_syringe", "irrigation_syringe"),
    ],
)
def test_an_own_item_is_told_from_one_of_all_fields_by_a_wide_margin(own: str, of_all_fields: str) -> None:
    """C."""
    assert {own, of_all_fields} in [set(p) for p in PACK.wide_margin]
    assert of_all_fields in {alike.item for alike in PACK.item(own).confused_with}


def test_an_irrigation_syringe_is_never_taken_for_an_aspirating_one() -> None:
    """C."""
    assert {"irrigation_syringe", "aspirating_syringe"} in [set(p) for p in PACK.wide_margin]


def test_needles_and_cartridges_are_offered_in_pairs() -> None:
    """C."""
    assert PACK.offered_with("needle_short") == ("needle_long",)
    assert PACK.offered_with("cartridge_plain") == ("cartridge_vasoconstrictor",)


def test_what_tells_similar_instruments_apart_is_said() -> None:
    """P: Hupp (one bevel for bone, two for splitting), from memory; C for scissors."""
    looks = {item.id: item.look for item in PACK.items}
    assert "one side" in looks["bone_chisel"] and "both sides" in looks["osteotome"]
    assert "angle" in looks["suture_scissors"] and "serrated" in looks["suture_scissors"]
    assert "notch" in looks["stitch_scissors"] and "notch" not in looks["suture_scissors"]


def test_gum_knives_and_chisels_look_as_textbooks_show_them() -> None:
    """P: Carranza's Clinical Periodontology, chapter on instruments, from memory."""
    items = {item.id: item for item in PACK.items}
    assert "spears" in items["orban_knife"].look and "kidney" in items["kirkland_knife"].look
    assert "all round" in items["kirkland_knife"].look
    assert "push" in items["ochsenbein_chisel"].purpose and "notch" in items["ochsenbein_chisel"].look
    assert "pull" in items["rhodes_chisel"].purpose
    assert "saw edge" in items["goldman_fox_scissors"].look
    assert "end only" in items["end_cutting_bur"].purpose


def test_which_sutures_have_to_come_out() -> None:
    """P: textbooks of suture materials, from memory."""
    itself = {i for i in SUTURES if "goes by itself" in PACK.item(i).purpose}
    out = {i for i in SUTURES if "taken out" in PACK.item(i).purpose}
    assert itself == {"suture_plain_gut", "suture_chromic_gut", "suture_polyglactin", "suture_polyglycolic"}
    assert out == {"suture_silk", "suture_nylon", "suture_polypropylene", "suture_ptfe"}


# --- trays and steps ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tray_id", "laid"),
    [
        # C
        (
            "simple_extraction",
            "cotton_tip_applicator patient_bib patient_eyewear face_mask gloves high_volume_tip "
            "air_water_syringe minnesota_retractor bone_file bone_rongeur straight_elevator "
            "straight_elevator_large",
        ),
        ("abscess", "culture_swab penrose_drain scalpel_blade_11 blade_remover kelly_haemostat"),
        ("soft_tissue", "specimen_jar tissue_forceps biopsy_punch blade_remover"),
        ("surgical_extraction", "throat_pack blade_remover yankauer_suction towel_clip sterile_gloves"),
        ("child_extraction", "upper_child_forceps lower_child_forceps"),
        ("review", "stitch_scissors socket_dressing"),
        (
            "third_molar_removal",
            "scalpel_blade_15 periosteal_elevator minnesota_retractor surgical_handpiece "
            "surgical_fissure_bur_703 elevator_77r triangular_elevator_left crane_pick "
            "lower_third_molar_forceps surgical_curette bone_file needle_holder needle_counter "
            "bite_block throat_pack needle_long",
        ),
        ("alveoloplasty", "rongeur_side_cutting bone_rongeur bone_file bone_trimming_bur surgical_stent"),
        ("frenectomy", "haemostat_curved haemostat_straight iris_scissors grooved_director laser_eyewear"),
        (
            "crown_lengthening",
            "perio_probe orban_knife kirkland_knife prichard_elevator ochsenbein_chisel rhodes_chisel "
            "end_cutting_bur castroviejo_needle_holder suture_ptfe periodontal_dressing bone_graft",
        ),
        (
            "implant_placement",
            "saline_bag irrigation_tubing implant_motor implant_handpiece surgical_guide pilot_drill "
            "twist_drill depth_gauge parallel_pin torque_wrench implant_driver hex_driver gum_punch "
            "dental_implant "
            "cover_screw healing_abutment sterile_gown light_handle_cover handpiece_sleeve scrub_brush",
        ),
        ("suture_removal", "cotton_pliers stitch_scissors suture_cutter gauze_square"),
        (
            "dry_socket_visit",
            "irrigation_syringe saline_bowl socket_dressing cotton_pliers curved_tip_syringe",
        ),
        (
            "bleeding_visit",
            "gauze_square haemostatic_sponge oxidised_cellulose collagen_plug bone_wax tranexamic_solution "
            "needle_holder suture_silk yankauer_suction",
        ),
    ],
)
def test_a_tray_holds_what_its_procedure_needs(tray_id: str, laid: str) -> None:
    assert [i for i in laid.split() if PACK.tray(tray_id).slot_of(i) is None] == []


def test_an_abscess_has_a_tray_of_its_own_and_no_jar() -> None:
    """C."""
    assert PACK.procedure("abscess").tray == "abscess" and PACK.procedure("biopsy").tray == "soft_tissue"
    assert PACK.tray("abscess").slot_of("specimen_jar") is None


@pytest.mark.parametrize("procedure_id", [p.id for p in PACK.procedures])
def test_a_teacher_looks_before_anything_is_opened(procedure_id: str) -> None:
    """C: a pause to agree on patient, tooth and treatment."""
    steps = PACK.procedure(procedure_id).steps
    checked = next(i for i, step in enumerate(steps) if step.faculty_check)
    assert not any("anaesthetise" in step.id or "incise" in step.id for step in steps[:checked])


@pytest.mark.parametrize(
    ("procedure_id", "in_order"),
    [
        # C
        (
            "third_molar_removal",
            "check drape anaesthetise test incise raise bone divide deliver clean check_result close press "
            "count home",
        ),
        (
            "alveoloplasty",
            "check anaesthetise incise raise bone smooth fit rinse check_result close press count home",
        ),
        ("frenectomy", "check anaesthetise hold clamp cut free stop check_result close dress count home"),
        (
            "crown_lengthening",
            "check anaesthetise measure incise raise clear bone measure_again check_result graft close "
            "press dress count",
        ),
        (
            "implant_placement",
            "check set_up drape anaesthetise guide open raise mark pilot direction widen finish place cover "
            "graft close count home",
        ),
        ("suture_removal", "look clean unstitch count rinse home"),
        ("dry_socket_visit", "look rinse dry dress count home"),
        ("bleeding_visit", "look press anaesthetise find pack stitch press_again count home"),
        ("simple_extraction", "check anaesthetise test free loosen deliver clean close stitch count home"),
    ],
)
def test_steps_stand_in_working_order(procedure_id: str, in_order: str) -> None:
    steps = [step.id for step in PACK.procedure(procedure_id).steps]
    assert [step for step in steps if step in in_order.split()] == in_order.split()


@pytest.mark.parametrize("procedure_id", [p.id for p in PACK.procedures])
def test_every_procedure_counts_before_anybody_leaves(procedure_id: str) -> None:
    """C: gauze everywhere, needles and blades where they are used, burs and drills where bone is cut."""
    procedure = PACK.procedure(procedure_id)
    used = {i for step in procedure.steps for i in step.items}
    said = " ".join(caution for step in procedure.steps for caution in step.cautions).lower()
    assert re.search(r"count|looked at", said)
    if "needle_holder" in used:
        assert re.search(r"needles[^.]* counted|needles too", said)
        assert "needle_counter" in used
    if any(blade in used for blade in BLADES):
        assert re.search(r"blades[^.]* counted", said)
    if "surgical_round_bur" in used:
        assert re.search(r"burs[^.]* counted", said)
    if "twist_drill" in used:
        assert re.search(r"drills, pins, drivers[^.]* counted", said)


def test_implant_drills_go_from_thin_to_wide_and_the_label_is_read_before_the_vial_opens() -> None:
    """C; makers' drill charts, from memory."""
    steps = PACK.procedure("implant_placement").steps
    first = {i: n for n, step in reversed(list(enumerate(steps))) for i in step.items}
    assert first["lance_drill"] < first["pilot_drill"] < first["twist_drill"] < first["bone_tap"]
    assert first["saline_bag"] < first["lance_drill"]
    said = {step.id: " ".join(step.cautions) for step in steps}
    assert "read against the plan" in said["check"] and "read back once more" in said["place"]
    sizes = [float(v.text) for i in ("pilot_drill", "twist_drill") for v in PACK.item(i).variants]
    assert sizes == sorted(sizes)


def test_slots_of_before_keep_their_numbers() -> None:
    """Clinics' changes name slots by them; what is new has the next free number."""
    held = {
        ("simple_extraction", "15"): "bite_block",
        ("surgical_extraction", "19"): "suture_scissors",
        ("abscess", "19"): "cotton_pliers",
        ("soft_tissue", "18"): "cotton_pliers",
        ("review", "8"): "gauze_square",
        ("simple_extraction", "forceps kit 11"): "root_forceps",
        ("simple_extraction", "counter 5"): "gloves",
        ("surgical_extraction", "counter 6"): "sterile_drape",
        ("surgical_extraction", "bone kit 9"): "surgical_fissure_bur_703",
        ("surgical_extraction", "closing kit 7"): "towel_clip",
    }
    for (tray, at), item_id in held.items():
        assert {slot.at: slot.item for slot in PACK.tray(tray).slots}[at] == item_id, at


def test_the_throat_pack_is_said_aloud_in_and_out() -> None:
    """C."""
    for procedure_id in ("surgical_extraction", "third_molar_removal"):
        check_throat_pack({s.id: " ".join(s.cautions) for s in PACK.procedure(procedure_id).steps})


def check_throat_pack(said: dict[str, str]) -> None:
    assert "aloud that the throat pack is in" in said["protect"]
    assert "Throat pack out and said aloud" in said["count"]


# --- facts ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact_id", "value", "source"),
    [
        ("recap_hands", "one hand", "OSHA"),
        ("blade_off", "with a blade remover or a needle holder", "OSHA"),
        ("irrigant", "sterile saline or sterile water", "CDC"),
        ("elevator_small", "the 301", "Army"),
        ("molt_number", "number 9", "Navy"),
        ("forceps_upper", "150", "Navy"),
        ("forceps_upper_horns", "88R and 88L", "Navy"),
        ("forceps_bayonet", "286", "Navy"),
        ("forceps_lower", "151", "Hupp"),
        ("forceps_lower_horns", "23", "memory"),
        ("forceps_lower_molar", "17", "memory"),
        ("blade_usual", "number 15", "memory"),
        ("blade_abscess", "number 11", "memory"),
        ("blade_hook", "number 12", "memory"),
        ("suture_thinner", "5-0", "USP"),
        ("size_702", "016", "ISO"),
        ("size_703", "021", "ISO"),
        ("throat_pack_said", "when it goes in and when it comes out", "common practice"),
        ("needle_grip", "a third to half of the way", "common practice"),
        ("miller_numbers", "73 and 74", "Navy"),
        ("east_west_numbers", "1L and 1R", "Navy"),
        ("kirkland_shape", "a kidney", "Carranza"),
        ("orban_shape", "a spear", "Carranza"),
        ("rhodes_stroke", "a pull", "Carranza"),
        ("attachment_width", "about 2 mm", "Gargiulo"),
        ("sterile_delivery", "no", "CDC"),
        ("bone_heat", "47 degrees Celsius", "Eriksson"),
        ("graft_donor", "an allograft", "Periodontology"),
        ("graft_animal", "a xenograft", "Periodontology"),
        ("laser_who", "everybody in the room", "ANSI"),
        ("dry_socket_when", "after 3 to 5 days", "Canadian Dental Association"),
        ("bleeding_first", "gauze and pressure", "MSD"),
        ("suture_ptfe_out", "polyglycolic acid", "memory"),
        ("stitch_cut", "close to the gum", "memory"),
    ],
)
def test_a_fact_holds_what_the_trade_knows_and_where_it_comes_from(
    fact_id: str, value: str, source: str
) -> None:
    fact = FACTS.fact(fact_id)
    assert fact.answer.text == value and source in fact.source


def test_facts_and_items_agree_on_bur_sizes() -> None:
    for fact_id, item_id in (
        ("size_702", "surgical_fissure_bur_702"),
        ("size_703", "surgical_fissure_bur_703"),
    ):
        assert f"ISO size {FACTS.fact(fact_id).answer.text}" in PACK.item(item_id).look


@pytest.mark.parametrize(
    ("group", "watched"),
    [
        # C
        ("count", "throat pack is out"),
        ("count", "short"),
        ("sharps", "neutral zone"),
        ("sharps", "one hand"),
        ("passing", "two hands"),
        ("passing", "system, diameter, length"),
        ("passing", "no longer sterile"),
        ("count", "floss round drivers"),
        ("count", "Counts the stitches"),
        ("sharps", "wavelength"),
    ],
)
def test_somebody_has_to_watch_what_matters_most(group: str, watched: str) -> None:
    assert any(watched in p.text and p.must for p in FACTS.checklist if p.group == group)


# --- what clinics have written before -------------------------------------------------------------------


def test_a_layer_of_before_opens_and_lists_what_has_become_several_items() -> None:
    """The resorbable suture is now plain gut, chromic gut and polyglactin; the Minnesota has its own id."""
    own = (
        AddName(item="suture_resorbable", name=Name(text="dissolvers")),
        AddName(item="cheek_retractor", name=Name(text="big plate")),
        AddName(item="straight_elevator", name=Name(text="starter")),
        SetSlot(tray="simple_extraction", at="13", item="root_tip_pick", base="surgical_curette"),
    )
    before = Layer(name="clinic", pack="oral_surgery", pack_version="1")
    composed = compose(PACK, [before.with_changes(own, "Ada", datetime(2026, 1, 1, tzinfo=UTC))])
    told = " ".join(map(str, composed.conflicts))
    assert "suture resorbable" in told and "cheek retractor" in told and "the entry is kept" in told
    assert "starter" in {name.text for name in composed.pack.item("straight_elevator").names}
    assert {slot.at: slot.item for slot in composed.pack.tray("simple_extraction").slots}[
        "13"
    ] == "root_tip_pick"
