"""The surgery pack says what the trade knows; the source of each fact stands beside it.

P: published. C: common practice, no source. M: numbers from memory of textbooks and catalogues.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from listen.chairside.handing import handing_text
from listen.practice.facts import facts_beside
from vocab.layers.apply import compose
from vocab.layers.changes import AddName, Layer, SetSlot
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Exchange, Grasp, Item, ItemClass, Name, TakenBy
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import understand

PACK = shipped_pack("oral_surgery")
LEXICON = Lexicon(PACK)
FACTS = facts_beside("oral_surgery", PACK)

BLADES = [f"scalpel_blade_{number}" for number in ("15", "15c", "12", "11")]
SUTURES = ["suture_silk", "suture_plain_gut", "suture_chromic_gut", "suture_polyglactin"]
items = pytest.mark.parametrize("item", PACK.items, ids=lambda item: item.id)


def passing(item_id: str) -> str:
    """How an item is passed, in full."""
    text = handing_text(PACK.item(item_id))
    assert text is not None
    return text


def meant(text: str) -> list[tuple[str, str | None]]:
    """The items and variants that a request for one thing may mean, likeliest first."""
    (request,) = understand(text, LEXICON, PACK.speech)
    assert request.kind == "item" and request.quantity is None
    return [(candidate.item, candidate.variant) for candidate in request.candidates]


# --- passing and sharps ---------------------------------------------------------------------------------


@items
def test_every_item_says_how_it_is_passed(item: Item) -> None:
    assert item.handing is not None and handing_text(item), item.id


@pytest.mark.parametrize("item_id", [*BLADES, "scalpel_handle", *SUTURES, "needle_holder", "biopsy_punch"])
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
    """C: blades, needles, cartridges, burs, gauze, packs, drains and props."""
    single_sharp = item.sharp and item.reprocessing == "single use"
    stays = item.id in {
        "gauze_square",
        "throat_pack",
        "penrose_drain",
        "bite_block",
        "scalpel_handle",
        "blade_remover",
    }
    assert item.counted == (single_sharp or stays), item.id


@items
def test_anaesthesia_is_always_checked(item: Item) -> None:
    """C: cartridges, needles, syringe, topical; the device that holds a cap is no drug."""
    assert item.always_check == (item.item_class is ItemClass.ANAESTHESIA and item.id != "recapping_device")


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
    assert any("No air into a socket" in caution for caution in PACK.item("air_water_syringe").cautions)
    assert any("turbine" in caution for caution in PACK.item("surgical_handpiece").cautions)


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
        ("scissors", {"suture_scissors", "stitch_scissors", "metzenbaum_scissors"}),
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
        ("suture_plain_gut", "cartridge_plain"),
        ("needle_short", "needle_long"),
        ("cartridge_vasoconstrictor", "cartridge_plain"),
        ("upper_cowhorn_right", "upper_cowhorn_left"),
        ("bone_chisel", "osteotome"),
    ],
)
def test_a_pair_that_matters_has_a_wide_margin_and_tells_itself_apart_both_ways(
    pair: tuple[str, str],
) -> None:
    """C."""
    assert set(pair) in [set(p) for p in PACK.wide_margin]
    for this, that in (pair, pair[::-1]):
        assert that in {alike.item for alike in PACK.item(this).confused_with}, this


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


def test_the_throat_pack_is_said_aloud_in_and_out() -> None:
    """C."""
    said = {s.id: " ".join(s.cautions) for s in PACK.procedure("surgical_extraction").steps}
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
