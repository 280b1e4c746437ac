"""The pack on whitening, guards and aligners says what the trade knows; sources stand beside the checks.

P: published. C: common practice, no source. M: standards and textbooks from memory.
"""

from __future__ import annotations

import re

import pytest

from listen.chairside.handing import handing_text
from listen.practice.facts import facts_beside
from tests.vocab.pack.field import Field
from vocab.pack.schema import Exchange, Grasp, Item, TakenBy

pytestmark = pytest.mark.slow

FIELD = Field("appearance")
PACK, LEXICON = FIELD.pack, FIELD.lexicon
meant = FIELD.meant
cautions = FIELD.cautions
place = FIELD.place
FACTS = facts_beside("appearance", PACK)

OWN = [
    "office_whitening_gel", "take_home_gel", "gingival_barrier", "whitening_lamp", "whitening_goggles",
    "shade_record", "vitamin_e_oil", "peroxide_neutraliser", "desensitising_gel", "whitening_tray",
    "block_out_resin", "tray_sheet", "vacuum_former", "tray_scissors", "stone_vibrator", "model_trimmer",
    "stone_cast", "appliance_case", "attachment_template", "aligner", "reduction_strip", "reduction_disc",
    "reduction_gauge", "aligner_hook", "aligner_seater", "bonding_button", "elastics_latex",
    "elastics_latex_free", "bracket_pliers", "cutout_pliers", "aligner_scanner", "night_guard",
    "clear_retainer", "lathe_pumice",
]  # fmt: skip
GELS = ["office_whitening_gel", "take_home_gel", "desensitising_gel"]
own = pytest.mark.parametrize("item", [PACK.item(i) for i in OWN], ids=lambda item: item.id)


# --- gels, sharps, latex, what may be swallowed ---------------------------------------------------------


@own
def test_every_item_says_how_it_is_passed(item: Item) -> None:
    assert item.handing is not None and handing_text(item), item.id


@own
def test_gels_with_a_drug_are_always_checked_and_nothing_else_is(item: Item) -> None:
    """C: peroxide and desensitising gel; the barrier and the block-out are resins."""
    assert item.always_check == (item.id in GELS)


@pytest.mark.parametrize("item_id", GELS)
def test_a_gels_label_is_read_back(item_id: str) -> None:
    """C."""
    assert "read back" in cautions(item_id)


def test_office_gel_warns_of_burns_and_advises_nothing() -> None:
    """M: textbooks of operative dentistry."""
    said = cautions("office_whitening_gel")
    assert "Burns gum, lips, skin and eyes" in said and "never advises a strength or a time" in said


def test_no_time_of_ours_is_shipped_for_a_gel_or_a_lamp() -> None:
    """C: the makers' times differ."""
    texts = [c for item_id in OWN for c in PACK.item(item_id).cautions]
    texts += [c for p in PACK.procedures for step in p.steps for c in step.cautions]
    assert [text for text in texts if re.search(r"\d+ (to \d+ )?(seconds?|minutes?)", text)] == []


@pytest.mark.parametrize(
    "pair",
    [
        # C: all of them syringes
        ("office_whitening_gel", "take_home_gel"),
        ("office_whitening_gel", "gingival_barrier"),
        ("office_whitening_gel", "desensitising_gel"),
        ("office_whitening_gel", "block_out_resin"),
        ("take_home_gel", "desensitising_gel"),
        ("gingival_barrier", "block_out_resin"),
        ("elastics_latex", "elastics_latex_free"),
        ("attachment_template", "aligner"),
        ("aligner", "clear_retainer"),
        ("reduction_strip", "reduction_gauge"),
    ],
)
def test_a_pair_that_matters_has_a_wide_margin_and_tells_itself_apart_both_ways(
    pair: tuple[str, str],
) -> None:
    assert set(pair) in [set(p) for p in PACK.wide_margin]
    for this, that in (pair, pair[::-1]):
        assert that in {alike.item for alike in PACK.item(this).confused_with}, this


@pytest.mark.parametrize("item_id", ["etchant", "flowable_composite"])
@pytest.mark.parametrize("syringe", ["office_whitening_gel", "gingival_barrier"])
def test_whitening_syringes_are_kept_apart_from_those_for_bonding(syringe: str, item_id: str) -> None:
    """C."""
    assert {syringe, item_id} in [set(p) for p in PACK.wide_margin]
    assert item_id in {alike.item for alike in PACK.item(syringe).confused_with}


def test_gels_and_elastics_are_offered_in_pairs() -> None:
    """C."""
    assert PACK.offered_with("office_whitening_gel") == ("take_home_gel",)
    assert PACK.offered_with("elastics_latex") == ("elastics_latex_free",)


def test_latex_is_marked_and_asked_about() -> None:
    """P: CDC 2003 on latex."""
    assert PACK.item("elastics_latex").latex and not PACK.item("elastics_latex_free").latex
    assert "latex allergy" in cautions("elastics_latex")
    steps = [s for p in PACK.procedures for s in p.steps if "elastics_latex" in s.items]
    assert steps and all("Latex allergy was asked about" in " ".join(s.cautions) for s in steps)


@own
def test_what_cuts_is_sharp_and_says_so(item: Item) -> None:
    """C."""
    cuts = item.id in {"reduction_strip", "reduction_disc", "tray_scissors", "cutout_pliers"}
    assert item.sharp == cuts
    assert item.cautions or not item.sharp


@own
def test_what_may_stay_in_a_mouth_or_be_swallowed_is_counted(item: Item) -> None:
    """C."""
    small = {
        "gingival_barrier",
        "reduction_disc",
        "reduction_gauge",
        "bonding_button",
        "elastics_latex",
        "elastics_latex_free",
    }
    assert item.counted == (item.id in small)


@pytest.mark.parametrize(
    ("item_id", "grasp", "exchange"),
    [
        # C
        ("office_whitening_gel", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("gingival_barrier", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("bracket_pliers", Grasp.PEN, Exchange.ONE_HAND),
        ("cutout_pliers", Grasp.PALM, Exchange.ONE_HAND),
        ("tray_scissors", Grasp.PALM, Exchange.ONE_HAND),
        ("reduction_strip", None, Exchange.TWO_HANDS),
    ],
)
def test_grasp_and_exchange_are_those_of_the_trade(
    item_id: str, grasp: Grasp | None, exchange: Exchange
) -> None:
    handing = PACK.item(item_id).handing
    assert handing is not None and (handing.grasp, handing.exchange) == (grasp, exchange)


@pytest.mark.parametrize("item_id", ["take_home_gel", "aligner_hook", "aligner_seater", "appliance_case"])
def test_what_the_patient_takes_home_is_handed_to_the_patient(item_id: str) -> None:
    """C."""
    handing = PACK.item(item_id).handing
    assert handing is not None and handing.taken_by is TakenBy.PATIENT


@pytest.mark.parametrize("item_id", ["whitening_tray", "night_guard", "clear_retainer"])
def test_formed_plastic_is_kept_from_hot_water(item_id: str) -> None:
    """C."""
    assert "Never in hot water" in cautions(item_id)


# --- names ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "item_id", "variant"),
    [
        # C: what is said at a chair in the United States
        ("office gel", "office_whitening_gel", None),
        ("power bleach", "office_whitening_gel", None),
        ("hydrogen peroxide gel", "office_whitening_gel", None),
        ("forty percent hydrogen peroxide", "office_whitening_gel", "40 percent"),
        ("take-home gel", "take_home_gel", None),
        ("carbamide", "take_home_gel", None),
        ("sixteen percent carbamide", "take_home_gel", "16 percent"),
        ("liquid dam", "gingival_barrier", None),
        ("gingival barrier", "gingival_barrier", None),
        ("desensitizer", "desensitising_gel", None),
        ("vitamin E", "vitamin_e_oil", None),
        ("neutralizer", "peroxide_neutraliser", None),
        ("bleaching light", "whitening_lamp", None),
        ("cure light", "curing_light", None),
        ("orange glasses", "whitening_goggles", None),
        ("shade tab", "shade_guide", None),
        ("bleach trays", "whitening_tray", None),
        ("upper bleach tray", "whitening_tray", "upper"),
        ("block out", "block_out_resin", None),
        ("suck-down machine", "vacuum_former", None),
        ("scissors", "tray_scissors", None),
        ("vibrator", "stone_vibrator", None),
        ("stone", "dental_stone", None),
        ("die stone", "dental_stone", "die stone"),
        ("model trimmer", "model_trimmer", None),
        ("study model", "stone_cast", None),
        ("retainer case", "appliance_case", None),
        ("template", "attachment_template", None),
        ("lower template", "attachment_template", "lower"),
        ("next aligner", "aligner", None),
        ("I P R strip", "reduction_strip", None),
        ("diamond strip", "reduction_strip", None),
        ("coarse strip", "reduction_strip", "coarse"),
        ("I P R disc", "reduction_disc", None),
        ("diamond disc", "reduction_disc", None),
        ("point two gauge", "reduction_gauge", "0.2 millimetre"),
        ("thickness gauge", "reduction_gauge", None),
        ("aligner removal tool", "aligner_hook", None),
        ("bite roll", "aligner_seater", None),
        ("button", "bonding_button", None),
        ("non-latex rubber bands", "elastics_latex_free", None),
        ("quarter inch latex elastics", "elastics_latex", "1/4 inch"),
        ("bracket tweezers", "bracket_pliers", None),
        ("teardrop pliers", "cutout_pliers", "teardrop"),
        ("scanner", "aligner_scanner", None),
        ("occlusal guard", "night_guard", None),
        ("hard night guard", "night_guard", "hard"),
        ("retainer", "clear_retainer", None),
        ("etch", "etchant", None),
        ("bond", "bonding_agent", None),
        ("blue paper", "articulating_paper", "blue"),
    ],
)
def test_what_people_say_means_one_item(said: str, item_id: str, variant: str | None) -> None:
    assert meant(f"hand me the {said}")[0] == (item_id, variant)


@pytest.mark.parametrize(
    ("said", "item_ids"),
    [
        # C: one name, several things; never decided for a peroxide or for latex
        ("whitening gel", {"office_whitening_gel", "take_home_gel"}),
        ("bleach", {"office_whitening_gel", "take_home_gel"}),
        ("gel", {"office_whitening_gel", "take_home_gel", "desensitising_gel"}),
        ("barrier", {"gingival_barrier", "barrier_film"}),
        ("tray", {"whitening_tray", "aligner", "impression_tray"}),
        ("IPR", {"reduction_strip", "reduction_disc"}),
        ("disc", {"reduction_disc", "finishing_disc"}),
        ("elastics", {"elastics_latex", "elastics_latex_free"}),
        ("rubber bands", {"elastics_latex", "elastics_latex_free"}),
        ("quarter inch elastics", {"elastics_latex", "elastics_latex_free"}),
        ("35 percent", {"office_whitening_gel", "take_home_gel"}),
        ("tweezers", {"bracket_pliers", "cotton_pliers"}),
        ("pliers", {"bracket_pliers", "cutout_pliers", "cotton_pliers"}),
        ("goggles", {"whitening_goggles", "safety_glasses"}),
        ("pumice", {"lathe_pumice", "polishing_paste"}),
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


@pytest.mark.parametrize("said", ["case", "lamp", "upper", "lower", "hard", "soft", "fine", "coarse"])
def test_a_plain_word_is_no_name(said: str) -> None:
    """C."""
    assert not LEXICON.is_name(said)


# --- trays and steps ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("procedure_id", "order"),
    [
        # C; M: textbooks of operative dentistry on whitening
        ("office_whitening", "look shade_before clean retract barrier check_barrier gel lamp remove_gel "
         "remove_barrier check_gums shade_after"),
        ("whitening_trays", "look shade_before impression send pour trim_cast block_out form cut try_in "
         "teach"),
        ("aligner_attachments", "plan try_template clean retract etch bond fill set flash check_result "
         "seat_aligner teach"),
        ("aligner_visit", "fit reduce check_reduction smooth renew flash refine next_stage"),
        ("night_guard", "look impression bite send try_in relieve contacts polish check_result teach"),
    ],
)  # fmt: skip
def test_steps_stand_in_their_working_order(procedure_id: str, order: str) -> None:
    places = [place(procedure_id, step_id) for step_id in order.split()]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("tray_id", "laid"),
    [
        # C
        ("office_whitening", "cheek_retractor shade_guide gingival_barrier office_whitening_gel "
         "vitamin_e_oil peroxide_neutraliser curing_light whitening_goggles patient_eyewear "
         "petroleum_jelly high_volume_tip"),
        ("whitening_trays", "alginate impression_tray dental_stone stone_vibrator model_trimmer tray_sheet "
         "vacuum_former tray_scissors whitening_tray take_home_gel appliance_case"),
        ("aligner_attachments", "attachment_template etchant bonding_agent universal_composite curing_light "
         "finishing_bur bonding_button bracket_pliers aligner cheek_retractor sharps_container"),
        ("aligner_visit", "reduction_strip reduction_disc reduction_gauge finishing_disc aligner "
         "dental_floss aligner_scanner clear_retainer cutout_pliers sharps_container"),
        ("night_guard", "night_guard articulating_paper articulating_forceps acrylic_bur straight_nose_piece "
         "bite_registration alginate polishing_wheel lathe_pumice"),
    ],
)  # fmt: skip
def test_a_tray_holds_what_its_procedure_needs(tray_id: str, laid: str) -> None:
    assert [i for i in laid.split() if PACK.tray(tray_id).slot_of(i) is None] == []


def test_office_gel_waits_for_a_checked_barrier() -> None:
    """C."""
    steps = PACK.procedure("office_whitening").steps
    check = place("office_whitening", "check_barrier")
    assert steps[check].faculty_check
    assert not any("office_whitening_gel" in step.items for step in steps[: check + 1])
    assert "Suction first" in " ".join(steps[place("office_whitening", "remove_gel")].cautions)


def test_take_home_gel_is_on_no_tray_with_office_gel() -> None:
    """C: what is not there cannot be passed by mistake."""
    for tray in PACK.trays:
        assert None in (tray.slot_of("office_whitening_gel"), tray.slot_of("take_home_gel")), tray.id


def test_no_whitening_gel_is_laid_for_bonding() -> None:
    """M: peroxide that is left weakens a bond."""
    for tray_id in ("aligner_attachments", "aligner_visit"):
        assert PACK.tray(tray_id).slot_of("office_whitening_gel") is None
        assert PACK.tray(tray_id).slot_of("take_home_gel") is None


@pytest.mark.parametrize("procedure_id", [p.id for p in PACK.procedures])
def test_a_teacher_looks_before_anything_is_opened(procedure_id: str) -> None:
    """C."""
    steps = PACK.procedure(procedure_id).steps
    checked = next(i for i, step in enumerate(steps) if step.faculty_check)
    before = {item for step in steps[:checked] for item in step.items}
    assert not before & {"office_whitening_gel", "etchant", "alginate", "reduction_strip", "acrylic_bur"}


def test_reduction_is_measured_and_written_down() -> None:
    """C; M: Proffit."""
    steps = PACK.procedure("aligner_visit").steps
    reduce = steps[place("aligner_visit", "reduce")]
    assert "reduction_gauge" in reduce.items and "written down" in " ".join(reduce.cautions)
    assert steps[place("aligner_visit", "check_reduction")].faculty_check


# --- facts ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact_id", "value", "source"),
    [
        ("carbamide_third", "about a third", "operative"),
        ("eu_limit", "6 percent", "2011/84/EU"),
        ("eu_age", "18", "2011/84/EU"),
        ("bond_after", "about two weeks", "operative"),
        ("nitrate_label", "potassium nitrate", "operative"),
        ("stone_type", "type 3", "ISO 6873"),
        ("half_millimetre", "0.5 mm", "Proffit"),
        ("elastic_latex", "whether the patient has a latex allergy", "CDC"),
        ("gel_off", "suction first, then rinse", "common practice"),
        ("powder_water", "powder into water", "common practice"),
    ],
)
def test_a_fact_holds_what_the_trade_knows_and_where_it_comes_from(
    fact_id: str, value: str, source: str
) -> None:
    fact = FACTS.fact(fact_id)
    assert fact.answer.text == value and source in fact.source


def test_facts_and_variants_agree_on_the_types_of_gypsum() -> None:
    """M: ISO 6873."""
    notes = {v.text: v.note for v in PACK.item("dental_stone").variants}
    assert FACTS.fact("stone_type").answer.text in notes["model stone"]
    assert "type 2" in notes["plaster"] and "type 4" in notes["die stone"]


@pytest.mark.parametrize(
    ("group", "watched"),
    [
        # C
        ("passing", "label of whitening"),
        ("passing", "barrier has been checked"),
        ("passing", "eyewear"),
        ("count", "barrier out whole"),
        ("count", "latex"),
        ("sharps", "stopped"),
    ],
)
def test_somebody_has_to_watch_what_matters_most(group: str, watched: str) -> None:
    assert any(watched in p.text and p.must for p in FACTS.checklist if p.group == group)
