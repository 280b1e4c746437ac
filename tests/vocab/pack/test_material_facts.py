"""Materials, burs, anaesthesia, trays and timers of the operative pack say what the trade says.

Each row names where it comes from: C is common practice, no source; P is published, from memory unless a
page is named.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from vocab.language.tokens import words
from vocab.layers.apply import compose
from vocab.layers.changes import Layer, SetMakerTime
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Exchange, Grasp, Item, ItemClass, Shank, TakenBy
from vocab.procedure.model import ProcedureModel
from vocab.requests.lexicon import Lexicon

PACK = shipped_pack()
LEXICON = Lexicon(PACK)
LAST_TOOTH = 48
"""Teeth are numbered 1 to 32 (universal system) or 11 to 48 (ISO 3950)."""


def likeliest(said: str) -> tuple[str, str | None]:
    """The item that a name means, and the size or shank that it says."""
    first = LEXICON.find(said)[0]
    assert first.p > 0.8, f"{said!r} means {first}"
    return first.item, first.variant


# --- names -----------------------------------------------------------------------------------------------

NAMES = (
    # anaesthesia; C, but the lengths and gauges that exist: P, needle makers' tables
    ("27 short", "needle_short", "27 gauge"),
    ("27 gauge short", "needle_short", "27 gauge"),
    ("25 short", "needle_short", "25 gauge"),
    ("30 short", "needle_short", "30 gauge"),
    ("extra short", "needle_short", "30 gauge extra short"),
    ("25 long", "needle_long", "25 gauge"),
    ("25 gauge long", "needle_long", "25 gauge"),
    ("27 long", "needle_long", "27 gauge"),
    ("30 long", "needle_long", "30 gauge"),
    ("lido", "cartridge_vasoconstrictor", None),
    ("lidocaine with epi", "cartridge_vasoconstrictor", None),
    ("lidocaine", "cartridge_vasoconstrictor", None),
    ("four percent articaine", "cartridge_vasoconstrictor", None),
    ("one to two hundred", "cartridge_vasoconstrictor", None),
    ("bupivacaine", "cartridge_vasoconstrictor", None),
    ("three percent mepivacaine", "cartridge_plain", None),
    ("three percent mepi", "cartridge_plain", None),
    ("prilocaine plain", "cartridge_plain", None),
    ("one to one hundred", "cartridge_vasoconstrictor", None),
    ("two percent lido", "cartridge_vasoconstrictor", None),
    ("plain", "cartridge_plain", None),
    ("no epi", "cartridge_plain", None),
    ("without epi", "cartridge_plain", None),
    ("epi free", "cartridge_plain", None),
    ("three percent plain", "cartridge_plain", None),
    ("harpoon syringe", "aspirating_syringe", None),
    ("cartridge syringe", "aspirating_syringe", None),
    ("long cotton tip", "cotton_tip_applicator", None),
    ("swab", "cotton_tip_applicator", None),
    # evacuation and air/water; C
    ("vac", "high_volume_tip", None),
    ("hi-vac", "high_volume_tip", None),
    ("high vac", "high_volume_tip", None),
    ("vacuum", "high_volume_tip", None),
    ("evac", "high_volume_tip", None),
    ("HVE tip", "high_volume_tip", None),
    ("high speed suction", "high_volume_tip", None),
    ("high volume evacuation", "high_volume_tip", None),
    ("low vac", "saliva_ejector", None),
    ("lo-vac", "saliva_ejector", None),
    ("saliva suction", "saliva_ejector", None),
    ("tri-syringe", "air_water_syringe", None),
    ("spray", "air_water_syringe", None),
    ("A-W-S", "air_water_syringe", None),
    # handpieces; C, "RA" is right angle, "E-type" the coupling of ISO 3964
    ("E-type motor", "slow_speed_motor", None),
    ("RA head", "contra_angle", None),
    ("latch head", "contra_angle", None),
    ("DPA", "prophy_angle", None),
    ("disposable prophy angle", "prophy_angle", None),
    # burs; P: friction grip and latch are types 3 and 1 of ISO 1797
    ("330L", "bur_330", "330L"),
    ("330 long", "bur_330", "330L"),
    ("330 FG", "bur_330", None),
    ("surgical length 330", "bur_330", "surgical length"),
    ("pear carbide", "bur_330", None),
    ("169L", "bur_tapered_169", "169L"),
    ("699L", "bur_crosscut_699", "699L"),
    ("two round latch", "bur_round_2", "latch"),
    ("four round latch", "bur_round_4", "latch"),
    ("slow four", "bur_round_4", "latch"),
    ("RA 4", "bur_round_4", "latch"),
    ("4RA", "bur_round_4", "latch"),
    ("FG 4", "bur_round_4", "friction grip"),
    ("friction grip round 8", "bur_round_8", "friction grip"),
    ("number 4 round", "bur_round_4", None),
    # finishing carbides; P: shape numbers of the US table
    ("7901", "finishing_bur", "7901"),
    ("7404", "finishing_bur", "7404"),
    ("7406", "finishing_bur", "7406"),
    ("7408", "finishing_bur", "7408"),
    ("thirty-fluted", "finishing_bur", "30-fluted"),
    ("needle finishing bur", "finishing_bur", "needle"),
    ("flame carbide", "finishing_bur", "flame"),
    # diamonds; P: shape numbers of ISO 6360-2
    ("801", "diamond_round", None),
    ("862", "diamond_flame", None),
    ("856", "diamond_chamfer", None),
    ("856 burs", "diamond_chamfer", None),
    ("football diamond", "diamond_football", None),
    ("needle diamond", "diamond_needle", None),
    ("wheel", "diamond_wheel", None),
    ("flat-end taper", "diamond_flat_end_taper", None),
    # finishing; C
    ("coarse disc", "finishing_disc", "coarse"),
    ("medium disk", "finishing_disc", "medium"),
    ("fine disc", "finishing_disc", "fine"),
    ("superfine disc", "finishing_disc", "superfine"),
    ("sandpaper disc", "finishing_disc", None),
    ("metal strip", "finishing_strip", "metal"),
    ("diamond strip", "finishing_strip", "diamond"),
    ("saw strip", "finishing_strip", "saw"),
    ("gray cup", "polishing_cup", "grey"),
    ("green point", "polishing_point", "green"),
    ("brown cup", "polishing_cup", "brown"),
    ("white point", "polishing_point", "white"),
    ("red paper", "articulating_paper", "red"),
    ("horseshoe", "articulating_paper", "horseshoe"),
    ("shim stock", "shim_stock", None),
    ("white stone", "finishing_stone", "white"),
    ("green stone", "finishing_stone", "green"),
    ("spiral", "polishing_spiral", None),
    ("high shine spiral", "polishing_spiral", "high-shine"),
    ("prepolish spiral", "polishing_spiral", "pre-polish"),
    ("polishing brush", "polishing_brush", None),
    ("brush", "applicator_brush", None),
    ("diamond paste", "composite_polishing_paste", None),
    ("aluminum oxide paste", "composite_polishing_paste", None),
    ("prophy paste", "polishing_paste", None),
    ("pumice", "polishing_paste", None),
    ("Miller forceps", "articulating_forceps", None),
    ("Millers", "articulating_forceps", None),
    ("paper clamp", "articulating_forceps", None),
    # adhesive, composite, materials; C
    ("bendable brush", "applicator_brush", None),
    ("fine brush", "applicator_brush", None),
    ("conditioner", "etchant", None),
    ("37 percent", "etchant", None),
    ("etch gel", "etchant", None),
    ("bottle one", "primer", None),
    ("bottle two", "bonding_agent", None),
    ("universal adhesive", "bonding_agent", None),
    ("comp", "universal_composite", None),
    ("A2 composite", "universal_composite", "A2"),
    ("A3 flow", "flowable_composite", "A3"),
    ("body shade", "universal_composite", "body"),
    ("enamel shade", "universal_composite", "enamel"),
    ("incisal shade", "universal_composite", "incisal"),
    ("translucent", "universal_composite", "translucent"),
    ("A2 dentin", "universal_composite", "A2 dentine"),
    ("dentine A3", "universal_composite", "A3 dentine"),
    ("A1 enamel", "universal_composite", "A1 enamel"),
    ("B1 body", "universal_composite", "B1 body"),
    ("A2 capsule", "universal_composite", "A2"),
    ("dentin shade", "universal_composite", "dentine"),
    ("next increment", "universal_composite", None),
    ("universal restorative material", "universal_composite", None),
    ("bulk fill", "bulk_fill_composite", None),
    ("RMGI", "glass_ionomer", "resin-modified"),
    ("resin-modified", "glass_ionomer", "resin-modified"),
    ("base", "glass_ionomer", None),
    ("cal hydroxide", "cavity_liner", None),
    ("indirect cap", "cavity_liner", None),
    ("two-spill", "amalgam_capsule", "double spill"),
    ("silver", "amalgam_capsule", None),
    # what stands in for the walls of a tooth; C
    ("crown form", "crown_form", None),
    ("celluloid form", "crown_form", None),
    ("corner form", "crown_form", "corner"),
    ("silicone index", "putty_key", None),
    ("palatal index", "putty_key", None),
    ("lingual index", "putty_key", None),
    ("putty", "putty", None),
    ("plumber's tape", "ptfe_tape", None),
    ("thread seal tape", "ptfe_tape", None),
    ("class five matrix", "cervical_matrix", None),
    ("cervical matrix", "cervical_matrix", None),
)


@pytest.mark.parametrize(("said", "item_id", "variant"), NAMES)
def test_an_everyday_name_means_its_item_and_keeps_its_size(
    said: str, item_id: str, variant: str | None
) -> None:
    assert likeliest(said) == (item_id, variant)


@pytest.mark.parametrize(
    ("said", "item_ids"),
    [
        # C: said of all of them
        ("football", {"diamond_football", "egg_burnisher", "finishing_bur"}),
        ("egg", {"diamond_football", "egg_burnisher", "finishing_bur"}),
        ("flame", {"diamond_flame", "finishing_bur"}),
        ("caps", {"amalgam_capsule", "glass_ionomer", "universal_composite"}),
        ("electric handpiece", {"high_speed_handpiece", "slow_speed_motor"}),
        ("A2", {"flowable_composite", "universal_composite"}),
        ("shade B1", {"flowable_composite", "universal_composite"}),
        ("needle", {"needle_long", "needle_short"}),
        ("27 gauge needle", {"needle_long", "needle_short"}),
        ("30 gauge", {"needle_long", "needle_short"}),
        ("cartridge", {"cartridge_plain", "cartridge_vasoconstrictor"}),
        ("prilocaine", {"cartridge_plain", "cartridge_vasoconstrictor"}),
        ("polishing paste", {"composite_polishing_paste", "polishing_paste"}),
    ],
)
def test_a_name_of_several_items_means_each_of_them_alike(said: str, item_ids: set[str]) -> None:
    found = LEXICON.find(said)
    top = {candidate.item for candidate in found if candidate.p == found[0].p}
    assert top == item_ids and found[0].p <= 0.5


def test_no_name_is_the_number_of_a_tooth() -> None:
    """P: universal numbering and ISO 3950. "Number seventeen" is a tooth, whatever else bears the number."""
    bare = [
        (item.id, name.text)
        for item in PACK.items
        for name in item.names
        if len(parts := words(name.text)) == 1 and parts[0].isdigit() and int(parts[0]) <= LAST_TOOTH
    ]
    assert bare == []


def test_no_needle_is_named_by_its_gauge_alone_unless_both_lengths_are() -> None:
    """C: 25, 27 and 30 gauge come short and long, so a gauge never decides the length."""
    short, long = PACK.item("needle_short"), PACK.item("needle_long")
    for one, other in ((short, long), (long, short)):
        rest = {name.text for name in other.names}
        for name in one.names:
            if not re.search("short|long|infiltration|block", name.text):
                assert name.shared and name.text in rest, name.text


# --- what is always checked, never confused, counted -----------------------------------------------------


def test_everything_of_an_anaesthetic_is_always_checked() -> None:
    """C: drug, strength, vasoconstrictor and needle are read back by the person responsible."""
    for item in PACK.items:
        if item.item_class is ItemClass.ANAESTHESIA:
            carries = item.id not in ("cotton_tip_applicator", "recapping_device")
            assert item.always_check == carries, item.id


@pytest.mark.parametrize(
    "pair", [("needle_short", "needle_long"), ("cartridge_vasoconstrictor", "cartridge_plain")]
)
def test_of_needles_and_cartridges_one_is_never_offered_without_the_other(pair: tuple[str, str]) -> None:
    """C"""
    one, other = pair
    assert PACK.offered_with(one) == (other,) and PACK.offered_with(other) == (one,)


@pytest.mark.parametrize(
    "pair",
    [
        # C by look or by ear; the sizes of burs: P, ISO 2157
        ("primer", "bonding_agent"),
        ("bur_fissure_56", "bur_crosscut_556"),
        ("bur_tapered_169", "bur_tapered_170"),
        ("bur_tapered_169", "bur_crosscut_699"),
        ("bur_round_2", "bur_round_4"),
        ("bur_round_4", "bur_round_6"),
        ("bur_round_6", "bur_round_8"),
        ("bur_round_quarter", "bur_round_half"),
        ("dam_sheet", "dam_sheet_latex_free"),
        ("aspirating_syringe", "air_water_syringe"),
        ("cavity_liner", "glass_ionomer"),
        ("temporary_cement", "temporary_filling"),
        ("bulk_fill_composite", "universal_composite"),
    ],
)
def test_a_pair_that_looks_or_sounds_alike_has_a_wide_margin(pair: tuple[str, str]) -> None:
    assert set(pair) in [set(p) for p in PACK.wide_margin]


@pytest.mark.parametrize(
    "item_id",
    # C: swallowed, left behind, or (cartridges) counted for the dose record
    ["dam_sheet", "dam_sheet_latex_free", "finishing_disc", "polishing_cup", "polishing_point", "shim_stock"]
    + ["polishing_spiral", "polishing_brush", "crown_form", "cervical_matrix", "ptfe_tape"]
    + ["cartridge_vasoconstrictor", "cartridge_plain"],
)
def test_it_is_counted(item_id: str) -> None:
    assert PACK.item(item_id).counted


def test_glass_cartridges_are_counted_with_the_sharps() -> None:
    """C: glass breaks; used ones go into the sharps container."""
    assert PACK.item("cartridge_vasoconstrictor").sharp and PACK.item("cartridge_plain").sharp


@pytest.mark.parametrize(
    ("item_id", "pattern"),
    [
        # C
        ("curing_light", r"[Oo]ften 10 to 40 seconds .*maker's time for lamp and layer"),
        ("composite_dispenser", r"[Ss]terilise it where the maker allows"),
        ("etchant", r"uncut enamel often 15 to 30"),
        ("cartridge_plain", r"[Kk]eep the empty ones on the tray, counted"),
        ("bulk_fill_composite", r"depth of a layer"),
        ("prophy_angle", r"natural rubber latex"),  # P: CDC on latex
    ],
)
def test_a_caution_says_what_the_trade_says(item_id: str, pattern: str) -> None:
    assert re.search(pattern, " ".join(PACK.item(item_id).cautions))


# --- handing ---------------------------------------------------------------------------------------------

COMPOSED = re.compile(r"to the operator|toward the arch|over the chest|line of sight|read back")


def test_what_the_screen_says_of_passing_is_not_said_again_in_a_note() -> None:
    passed = [(i.id, i.handing) for i in PACK.items if i.handing]
    to_operator = {item: h.note or "" for item, h in passed if h.taken_by is TakenBy.OPERATOR}
    assert [item for item, note in to_operator.items() if COMPOSED.search(note)] == []


@pytest.mark.parametrize(
    ("item_id", "grasp", "exchange"),
    [
        # C: pen for what writes on a tooth, palm for guns, palm and thumb for syringes; two hands for both
        ("etchant", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("flowable_composite", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("sealant", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("aspirating_syringe", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("composite_dispenser", Grasp.PALM, Exchange.TWO_HANDS),
        ("high_speed_handpiece", Grasp.PEN, Exchange.ONE_HAND),
        ("bur_330", Grasp.PEN, Exchange.ONE_HAND),
        ("applicator_brush", Grasp.PEN, Exchange.ONE_HAND),
        ("polishing_spiral", Grasp.PEN, Exchange.ONE_HAND),
        ("polishing_brush", Grasp.PEN, Exchange.ONE_HAND),
        ("finishing_stone", Grasp.PEN, Exchange.ONE_HAND),
        ("straight_nose_piece", Grasp.PALM_AND_THUMB, Exchange.ONE_HAND),
    ],
)
def test_it_is_passed_with_this_grasp_and_exchange(item_id: str, grasp: Grasp, exchange: Exchange) -> None:
    handing = PACK.item(item_id).handing
    assert handing is not None and (handing.grasp, handing.exchange) == (grasp, exchange)


def test_needle_and_syringe_are_passed_out_of_sight_with_the_cap_loose_but_on() -> None:
    """C; never recapped with two hands: P, OSHA 29 CFR 1910.1030 and CDC, from memory."""
    for item_id in ("aspirating_syringe", "needle_short", "needle_long"):
        handing = PACK.item(item_id).handing
        assert handing is not None and handing.out_of_sight and handing.note
        assert "loosens the cap but leaves it on" in handing.note
        assert "with or after the transfer" in handing.note
        assert "Never recapped with two hands" in handing.note


def test_suction_air_and_water_stay_with_the_assistant() -> None:
    """C: four-handed dentistry."""
    for item_id in ("high_volume_tip", "saliva_ejector", "air_water_syringe", "light_shield"):
        handing = PACK.item(item_id).handing
        assert handing is not None and handing.taken_by is TakenBy.ASSISTANT, item_id


# --- trays and procedures --------------------------------------------------------------------------------


@pytest.mark.parametrize("number", [2, 4, 6, 8])
def test_round_burs_are_made_with_both_shanks(number: int) -> None:
    """P: ISO 1797."""
    shanks = {variant.shank for variant in PACK.item(f"bur_round_{number}").variants}
    assert shanks == {Shank.FRICTION_GRIP, Shank.LATCH}


def test_every_tray_says_which_shank_a_round_bur_has() -> None:
    """C: a latch bur does not go into the high speed."""
    for tray in PACK.trays:
        for slot in tray.slots:
            shanks = {variant.shank for variant in PACK.item(slot.item).variants}
            if len(shanks) > 1:
                assert slot.variants, (tray.id, slot.at)


def test_what_is_asked_for_in_the_high_speed_lies_there_with_a_friction_grip() -> None:
    """C: the outline of classes III, IV and V is cut in the high speed."""
    for tray_id in ("composite_class_three", "composite_class_four", "composite_class_five"):
        assert PACK.tray(tray_id).variants_of("bur_round_2") == ("friction grip", "latch")
        outline = next(s for s in PACK.procedure(tray_id).steps if s.id == "outline")
        assert {"high_speed_handpiece", "bur_round_2"} <= set(outline.items)


def test_both_dams_lie_on_every_tray_with_a_dam() -> None:
    """C: a clinic takes away the one that it does not keep."""
    for tray in PACK.trays:
        assert (tray.slot_of("dam_sheet") is None) == (tray.slot_of("dam_sheet_latex_free") is None), tray.id


@pytest.mark.parametrize(
    ("item_id", "needs"),
    [
        # C: what is placed, and what it is placed or mixed with
        ("topical_anaesthetic", "cotton_tip_applicator"),
        ("aspirating_syringe", "recapping_device"),
        ("needle_short", "sharps_container"),
        ("cavity_liner", "liner_applicator"),
        ("glass_ionomer", "cement_spatula"),
        ("glass_ionomer", "mixing_pad"),
        ("bonding_agent", "applicator_brush"),
        ("universal_composite", "composite_dispenser"),
        ("finishing_disc", "disc_mandrel"),
        ("crown_form", "crown_scissors"),
        ("putty_key", "putty"),
        ("polishing_spiral", "contra_angle"),
        ("composite_polishing_paste", "polishing_cup"),
        ("retraction_cord", "cord_packer"),
        ("prophy_angle", "straight_nose_piece"),
        ("articulating_paper", "articulating_forceps"),
    ],
)
def test_a_tray_with_one_thing_has_what_it_takes(item_id: str, needs: str) -> None:
    with_it = [tray for tray in PACK.trays if tray.slot_of(item_id)]
    assert with_it and [tray.id for tray in with_it if tray.slot_of(needs) is None] == []


@pytest.mark.parametrize(
    ("tray_id", "at", "item_id"),
    [
        ("examination", "18", "bite_block"),
        ("dam_placement", "10", "cotton_roll"),
        ("amalgam_class_one", "17", "articulating_forceps"),
        ("amalgam_class_two", "bur kit 14", "bur_round_8"),
        ("composite_class_two", "13", "ball_burnisher"),
        ("composite_class_two", "bonding kit 1", "etchant"),
        ("composite_class_two", "finishing kit 3", "finishing_bur"),
        ("composite_class_three", "bur kit 7", "bur_round_4"),
        ("composite_class_one", "12", "articulating_forceps"),
        ("composite_class_one", "finishing kit 3", "finishing_bur"),
        ("composite_class_four", "9", "putty_key"),
        ("composite_class_four", "form kit 2", "crown_form"),
        ("composite_class_four", "polishing kit 2", "polishing_spiral"),
        ("composite_class_five", "anaesthesia kit 8", "recapping_device"),
        ("sealant", "diamond kit 3", "diamond_flame"),
    ],
)
def test_a_slot_keeps_its_number(tray_id: str, at: str, item_id: str) -> None:
    """Clinics' changes name slots by their number, as they were when kits first stood beside the trays."""
    assert next(s.item for s in PACK.tray(tray_id).slots if s.at == at) == item_id


def test_after_the_cartridge_more_of_the_anaesthesia_is_expected() -> None:
    """C: syringe, needle, cartridge and recapper are passed one by one."""
    set_out = ["aspirating_syringe", "needle_short", "cartridge_vasoconstrictor"]
    for procedure in PACK.procedures:
        steps = {step.id: step for step in procedure.steps}
        if "anaesthetise" not in steps:
            continue
        model = ProcedureModel(PACK, [procedure.id])
        belief = model.start()
        for asked in ["cotton_tip_applicator", "topical_anaesthetic", *set_out]:
            belief = model.after(belief, asked)
        first = next(iter(model.next_items(belief)))
        assert first in steps["anaesthetise"].items and first not in set_out, procedure.id


# --- timers ----------------------------------------------------------------------------------------------

TIMERS = (
    # C: the makers' times differ, so each material has its own
    ("composite_class_two", "etch", ("etch enamel", "etch dentine")),
    ("composite_class_two", "cure_bond", ("cure bond",)),
    ("composite_class_two", "cure_flow", ("cure flowable",)),
    ("composite_class_two", "cure", ("cure composite",)),
    ("composite_class_three", "flow", ("cure flowable",)),
    ("composite_class_one", "etch", ("etch enamel", "etch dentine")),
    ("composite_class_one", "cure", ("cure composite",)),
    ("composite_class_four", "make_key", ("set putty",)),
    ("composite_class_four", "cure_back_wall", ("cure composite",)),
    ("composite_class_four", "cure_last", ("cure composite",)),
    ("sealant", "etch", ("etch sealant",)),
    ("sealant", "cure", ("cure sealant",)),
    ("amalgam_class_two", "line", ("set liner", "set glass ionomer", "cure liner")),
    ("amalgam_class_two", "mix", ("mix amalgam",)),
    ("temporary_restoration", "mix", ("mix temporary filling", "mix glass ionomer", "mix temporary cement")),
)


@pytest.mark.parametrize(("procedure_id", "step_id", "timers"), TIMERS)
def test_each_material_has_its_own_time(procedure_id: str, step_id: str, timers: tuple[str, ...]) -> None:
    step = next(s for s in PACK.procedure(procedure_id).steps if s.id == step_id)
    assert step.timers == timers


def test_no_timer_stands_for_whatever_is_etched_cured_set_or_mixed() -> None:
    named = {timer for p in PACK.procedures for step in p.steps for timer in step.timers}
    assert named.isdisjoint({"etch", "cure", "set", "mix"})


def test_a_time_that_a_clinic_set_for_all_that_is_cured_is_kept() -> None:
    layer = Layer(name="clinic", pack=PACK.id, pack_version=PACK.version)
    when = datetime(2026, 1, 2, tzinfo=UTC)
    composed = compose(
        PACK, [layer.with_changes((SetMakerTime(timer="cure", seconds=20),), "Ada", when, "lamp")]
    )
    assert composed.conflicts == () and composed.settings.maker_times_s == {"cure": 20}


def test_a_sealant_is_etched_on_enamel_and_no_dentine_is_spoken_of() -> None:
    """C: often 15 to 30 s on uncut enamel, the maker's time counts."""
    etch = next(s for s in PACK.procedure("sealant").steps if s.id == "etch")
    said = " ".join(etch.cautions)
    assert "uncut enamel often 15 to 30 seconds" in said and "dentine" not in said


def test_no_step_is_called_like_a_product() -> None:
    names = {step.name for procedure in PACK.procedures for step in procedure.steps}
    assert "Prime and bond" not in names and "Primer, then bond" in names


def test_a_diamond_is_not_taken_for_eight_burs() -> None:
    """P: 856 is a round-end taper; "eight fifty six" once meant eight 56 burs."""
    burs: list[Item] = [item for item in PACK.items if item.item_class is ItemClass.BUR]
    assert [item.id for item in burs if "856" in {name.text for name in item.names}] == ["diamond_chamfer"]
