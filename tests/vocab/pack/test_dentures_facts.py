"""The denture pack says what the trade knows; the source of each check stands beside it.

P: published. C: common practice, no source. M: standards and textbooks from memory.
"""

from __future__ import annotations

import pytest

from listen.chairside.handing import handing_text
from listen.practice.facts import facts_beside
from tests.vocab.pack.field import Field
from vocab.pack.schema import Exchange, Grasp, Item, Reprocessing, Shank, TakenBy

pytestmark = pytest.mark.slow

FIELD = Field("dentures")
PACK, LEXICON = FIELD.pack, FIELD.lexicon
meant = FIELD.meant
cautions = FIELD.cautions
place = FIELD.place
FACTS = facts_beside("dentures", PACK)

OWN = [
    "edentulous_tray", "custom_tray", "periphery_wax", "impression_compound", "border_moulding_compound",
    "compound_water_bath", "zinc_oxide_paste", "denture_impression_material", "denture_cartridge_gun",
    "denture_mixing_tip", "indelible_stick", "wax_rim", "fox_plane", "face_bow", "bite_fork", "articulator",
    "willis_gauge", "papilla_meter", "boley_gauge", "mould_guide", "baseplate_wax", "wax_spatula",
    "trial_denture", "partial_framework", "denture", "pressure_indicating_paste", "disclosing_wax",
    "lathe_pumice", "three_prong_pliers", "adams_pliers", "remount_cast", "denture_brush", "denture_cup",
    "denture_adhesive", "tissue_conditioner", "soft_liner", "hard_reline_resin", "reline_primer",
    "repair_resin", "sticky_wax", "acrylic_polisher", "polishing_wheel", "polishing_lathe", "acrylic_shine",
    "dental_stone",
]  # fmt: skip
own = pytest.mark.parametrize("item", [PACK.item(i) for i in OWN], ids=lambda item: item.id)


# --- passing, heat, infection control -------------------------------------------------------------------


@own
def test_every_item_says_how_it_is_passed(item: Item) -> None:
    assert item.handing is not None and handing_text(item), item.id


@pytest.mark.parametrize(
    ("item_id", "grasp", "exchange"),
    [
        # C: trays, rims and dentures lie in palm and thumb; bows and articulators take both hands
        ("custom_tray", Grasp.PALM_AND_THUMB, Exchange.ONE_HAND),
        ("wax_rim", Grasp.PALM_AND_THUMB, Exchange.ONE_HAND),
        ("denture", Grasp.PALM_AND_THUMB, Exchange.ONE_HAND),
        ("three_prong_pliers", Grasp.PALM, Exchange.ONE_HAND),
        ("wax_spatula", Grasp.PEN, Exchange.ONE_HAND),
        ("indelible_stick", Grasp.PEN, Exchange.ONE_HAND),
        ("face_bow", None, Exchange.TWO_HANDS),
        ("articulator", None, Exchange.TWO_HANDS),
    ],
)
def test_grasp_and_exchange_are_those_of_the_trade(
    item_id: str, grasp: Grasp | None, exchange: Exchange
) -> None:
    handing = PACK.item(item_id).handing
    assert handing is not None and (handing.grasp, handing.exchange) == (grasp, exchange)


@pytest.mark.parametrize("item_id", ["denture_brush", "denture_cup"])
def test_what_the_patient_takes_home_is_handed_to_the_patient(item_id: str) -> None:
    """C."""
    handing = PACK.item(item_id).handing
    assert handing is not None and handing.taken_by is TakenBy.PATIENT


@pytest.mark.parametrize("item_id", ["impression_compound", "border_moulding_compound"])
def test_compound_is_tempered_before_it_goes_into_the_mouth(item_id: str) -> None:
    """M: textbooks of complete dentures."""
    assert "burns" in cautions(item_id) and "tempered in the bath before it goes into the mouth" in cautions(
        item_id
    )


@pytest.mark.parametrize("item_id", ["wax_spatula", "sticky_wax", "bite_fork"])
def test_what_is_warmed_in_a_flame_warns_of_heat(item_id: str) -> None:
    """C."""
    assert any(word in cautions(item_id).lower() for word in ("hot", "burns"))


@pytest.mark.parametrize("item_id", ["reline_primer", "repair_resin"])
def test_solvent_and_monomer_are_kept_from_the_flame(item_id: str) -> None:
    """M: textbooks of dental materials."""
    assert "flame" in cautions(item_id)
    kits = [kit for tray in PACK.trays for kit in tray.opened if kit.id == "denture_lining_kit"]
    assert kits and not any(slot.item == "alcohol_torch" for kit in kits for slot in kit.slots)


def test_a_hard_reline_warns_of_heat_of_locking_and_of_allergy() -> None:
    """M: textbooks of dental materials."""
    said = cautions("hard_reline_resin")
    assert "warms up" in said and "lock" in said and "allergy" in said


@pytest.mark.parametrize("item_id", ["polishing_wheel", "lathe_pumice"])
def test_pumice_and_wheel_are_fresh_for_each_patient(item_id: str) -> None:
    """P: CDC Guidelines for Infection Control in Dental Health-Care Settings, 2003, dental laboratory."""
    assert "each patient" in cautions(item_id)


@pytest.mark.parametrize(
    ("item_id", "kind"),
    [
        # P: CDC 2003: heat-tolerant items used in the mouth and with contaminated appliances are sterilised
        ("bite_fork", Reprocessing.STERILISE),
        ("fox_plane", Reprocessing.STERILISE),
        ("wax_spatula", Reprocessing.STERILISE),
        ("polishing_wheel", Reprocessing.STERILISE),
        ("acrylic_polisher", Reprocessing.STERILISE),
        ("polishing_lathe", Reprocessing.BARRIER),
        ("articulator", Reprocessing.BARRIER),
        ("shade_guide", Reprocessing.BARRIER),
        ("lathe_pumice", Reprocessing.SINGLE_USE),
        ("denture_mixing_tip", Reprocessing.SINGLE_USE),
    ],
)
def test_what_happens_to_it_afterwards(item_id: str, kind: Reprocessing) -> None:
    assert PACK.item(item_id).reprocessing is kind


def test_zinc_oxide_warns_of_eugenol_and_silicone_of_latex_gloves() -> None:
    """M: textbooks of dental materials."""
    assert "eugenol" in cautions("zinc_oxide_paste")
    assert "latex gloves" in cautions("denture_impression_material")


@pytest.mark.parametrize("item_id", ["acrylic_bur", "acrylic_polisher"])
def test_what_trims_a_denture_fits_the_straight_nose_piece(item_id: str) -> None:
    """C; ISO 1797, from memory."""
    assert PACK.item(item_id).shank is Shank.STRAIGHT


def test_no_drug_is_on_these_trays() -> None:
    """C: no step of denture work here injects or rinses with a drug; what is checked belongs elsewhere."""
    assert [item.id for item in PACK.items if item.always_check] == []


# --- names ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "item_id", "variant"),
    [
        # C: what is said at a chair in the United States
        ("special tray", "custom_tray", None),
        ("lower custom tray", "custom_tray", "lower"),
        ("medium upper edentulous tray", "edentulous_tray", "medium upper"),
        ("green stick", "border_moulding_compound", "green"),
        ("greenstick", "border_moulding_compound", "green"),
        ("gray stick", "border_moulding_compound", "grey"),
        ("border molding compound", "border_moulding_compound", None),
        ("red cake", "impression_compound", None),
        ("rope wax", "periphery_wax", None),
        ("water bath", "compound_water_bath", None),
        ("Z O E", "zinc_oxide_paste", None),
        ("zinc oxide", "zinc_oxide_paste", None),
        ("P V S", "denture_impression_material", None),
        ("light body", "denture_impression_material", "light body"),
        ("medium body", "denture_impression_material", "medium body"),
        ("heavy body", "denture_impression_material", "heavy body"),
        ("gun", "denture_cartridge_gun", None),
        ("mixing tip", "denture_mixing_tip", None),
        ("indelible pencil", "indelible_stick", None),
        ("bite rim", "wax_rim", None),
        ("upper rim", "wax_rim", "upper"),
        ("occlusal rim", "wax_rim", None),
        ("Fox plane", "fox_plane", None),
        ("facebow", "face_bow", None),
        ("earbow", "face_bow", None),
        ("fork", "bite_fork", None),
        ("Willis", "willis_gauge", None),
        ("V D O gauge", "willis_gauge", None),
        ("lip ruler", "papilla_meter", None),
        ("Boley", "boley_gauge", None),
        ("calipers", "boley_gauge", None),
        ("mold guide", "mould_guide", None),
        ("pink wax", "baseplate_wax", None),
        ("seven spatula", "wax_spatula", None),
        ("number 7 wax spatula", "wax_spatula", None),
        ("wax try-in", "trial_denture", None),
        ("lower try-in", "trial_denture", "lower"),
        ("framework", "partial_framework", None),
        ("upper denture", "denture", "upper"),
        ("partial", "denture", "partial"),
        ("R P D", "denture", "partial"),
        ("PIP", "pressure_indicating_paste", None),
        ("P I P", "pressure_indicating_paste", None),
        ("pressure paste", "pressure_indicating_paste", None),
        ("disclosing wax", "disclosing_wax", None),
        ("pumice", "lathe_pumice", None),
        ("rag wheel", "polishing_wheel", None),
        ("lathe", "polishing_lathe", None),
        ("high shine", "acrylic_shine", None),
        ("three prong", "three_prong_pliers", None),
        ("sixty four pliers", "adams_pliers", None),
        ("Adams", "adams_pliers", None),
        ("remount cast", "remount_cast", None),
        ("denture bath", "denture_cup", None),
        ("denture cream", "denture_adhesive", None),
        ("conditioner", "tissue_conditioner", None),
        ("soft reline", "soft_liner", None),
        ("hard reline", "hard_reline_resin", None),
        ("chairside reline", "hard_reline_resin", None),
        ("cold cure", "repair_resin", None),
        ("sticky wax", "sticky_wax", None),
        ("plaster", "dental_stone", "plaster"),
        ("nose cone", "straight_nose_piece", None),
        ("mirror for the patient", "hand_mirror", None),
        ("horseshoe", "articulating_paper", "horseshoe"),
    ],
)
def test_what_people_say_means_one_item(said: str, item_id: str, variant: str | None) -> None:
    assert meant(f"hand me the {said}")[0] == (item_id, variant)


@pytest.mark.parametrize(
    ("said", "item_ids"),
    [
        # C: one name, several things
        ("compound", {"impression_compound", "border_moulding_compound"}),
        ("wax", {"periphery_wax", "baseplate_wax", "disclosing_wax", "sticky_wax"}),
        ("tray", {"edentulous_tray", "impression_tray", "custom_tray"}),
        ("reline", {"soft_liner", "hard_reline_resin"}),
        ("liner", {"soft_liner", "tissue_conditioner"}),
        ("acrylic", {"hard_reline_resin", "repair_resin"}),
        ("monomer", {"hard_reline_resin", "repair_resin"}),
        ("adhesive", {"denture_adhesive", "reline_primer"}),
        ("clasp pliers", {"three_prong_pliers", "adams_pliers"}),
        ("pliers", {"three_prong_pliers", "adams_pliers", "cotton_pliers"}),
        ("spatula", {"wax_spatula", "cement_spatula"}),
        ("brush", {"denture_brush", "applicator_brush"}),
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


@pytest.mark.parametrize("said", ["upper", "lower", "light", "plate", "plane", "stick", "rim light"])
def test_a_word_that_is_no_item_is_no_name(said: str) -> None:
    """C: an arch or a plain word alone names nothing."""
    assert not LEXICON.is_name(said)


@pytest.mark.parametrize(
    "pair",
    [
        ("soft_liner", "hard_reline_resin"),
        ("soft_liner", "tissue_conditioner"),
        ("hard_reline_resin", "repair_resin"),
        ("zinc_oxide_paste", "pressure_indicating_paste"),
        ("denture_adhesive", "reline_primer"),
        ("trial_denture", "denture"),
        ("three_prong_pliers", "adams_pliers"),
        ("edentulous_tray", "custom_tray"),
    ],
)
def test_a_pair_that_matters_has_a_wide_margin_and_tells_itself_apart_both_ways(
    pair: tuple[str, str],
) -> None:
    """C."""
    assert set(pair) in [set(p) for p in PACK.wide_margin]
    for this, that in (pair, pair[::-1]):
        assert that in {alike.item for alike in PACK.item(this).confused_with}, this


def test_soft_and_hard_reline_are_offered_together() -> None:
    """C: a reline is never guessed."""
    assert PACK.offered_with("soft_liner") == ("hard_reline_resin",)


# --- trays and steps ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("procedure_id", "order"),
    [
        # M: Zarb and others, Prosthodontic Treatment for Edentulous Patients; C
        ("denture_impressions", "look choose extend mix seat_tray inspect send leave"),
        ("denture_final_impressions", "look try_tray border check_border adhesive wash inspect send"),
        ("denture_bite", "rest_height upper_rim plane lower_rim face_bow record teeth check_result send"),
        ("denture_try_in", "look seat_try_in height looks reset new_record approve send"),
        ("denture_delivery", "inspect trim pressure edges clasps bite polish check_result teach"),
        ("denture_reline", "look clean relieve protect primer line set trim bite check_result"),
        ("denture_repair_and_adjustment", "look clean sore_spot pressure trim join mend polish leave"),
    ],
)
def test_steps_stand_in_their_working_order(procedure_id: str, order: str) -> None:
    places = [place(procedure_id, step_id) for step_id in order.split()]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("tray_id", "laid"),
    [
        # C
        ("denture_impressions", "edentulous_tray impression_tray alginate mixing_bowl alginate_spatula "
         "periphery_wax impression_disinfectant lab_bag denture_cup"),
        ("denture_final_impressions", "custom_tray border_moulding_compound compound_water_bath "
         "tray_adhesive denture_impression_material zinc_oxide_paste acrylic_bur indelible_stick"),
        ("denture_bite", "wax_rim fox_plane willis_gauge face_bow bite_fork papilla_meter boley_gauge "
         "bite_registration mould_guide shade_guide wax_knife wax_spatula alcohol_torch"),
        ("denture_try_in", "trial_denture articulator hand_mirror baseplate_wax bite_registration "
         "shade_guide"),
        ("denture_delivery", "denture pressure_indicating_paste disclosing_wax articulating_paper "
         "acrylic_bur three_prong_pliers remount_cast denture_cup denture_brush hand_mirror"),
        ("denture_reline", "tissue_conditioner soft_liner hard_reline_resin reline_primer petroleum_jelly "
         "acrylic_bur impression_disinfectant"),
        ("denture_repair_and_adjustment", "sticky_wax repair_resin dental_stone indelible_stick acrylic_bur "
         "pressure_indicating_paste adams_pliers"),
    ],
)  # fmt: skip
def test_a_tray_holds_what_its_procedure_needs(tray_id: str, laid: str) -> None:
    assert [i for i in laid.split() if PACK.tray(tray_id).slot_of(i) is None] == []


@pytest.mark.parametrize("procedure_id", [p.id for p in PACK.procedures])
def test_a_teacher_looks_before_anything_is_mixed_or_trimmed(procedure_id: str) -> None:
    """C."""
    steps = PACK.procedure(procedure_id).steps
    checked = next(i for i, step in enumerate(steps) if step.faculty_check)
    before = {item for step in steps[:checked] for item in step.items}
    assert not before & {"alginate", "acrylic_bur", "bite_registration", "denture_impression_material"}


@pytest.mark.parametrize("procedure_id", ["denture_impressions", "denture_final_impressions", "denture_bite"])
def test_what_goes_to_the_laboratory_is_disinfected_first(procedure_id: str) -> None:
    """P: CDC 2003, dental laboratory."""
    steps = PACK.procedure(procedure_id).steps
    send = next(step for step in steps if step.id == "send")
    assert {"impression_disinfectant", "lab_bag"} <= set(send.items)
    assert "disinfectant" in send.timers and "Rinsed first" in " ".join(send.cautions)


@pytest.mark.parametrize("procedure_id", ["denture_reline", "denture_repair_and_adjustment"])
def test_a_worn_denture_is_disinfected_before_it_is_cut_or_polished(procedure_id: str) -> None:
    """P: CDC 2003, dental laboratory."""
    steps = PACK.procedure(procedure_id).steps
    cleaned = place(procedure_id, "clean")
    assert "impression_disinfectant" in steps[cleaned].items
    first_cut = next(i for i, step in enumerate(steps) if "acrylic_bur" in step.items)
    assert cleaned < first_cut < place(procedure_id, "polish")


def test_a_time_is_named_for_each_lining() -> None:
    """C: the makers' times differ."""
    steps = PACK.procedure("denture_reline").steps
    timed = {timer for step in steps for timer in step.timers}
    assert {"tissue conditioner", "soft liner", "hard reline resin", "reline primer"} <= timed


# --- facts ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact_id", "value", "source"),
    [
        ("compound_softest", "green", "Zarb"),
        ("tray_short", "2 mm", "Zarb"),
        ("body_type", "light-bodied", "ISO 4823"),
        ("rest_and_bite", "at rest", "Zarb"),
        ("freeway", "2 to 4 mm", "Zarb"),
        ("plane_front", "the line between the pupils", "Zarb"),
        ("plane_side", "the line from nose to ear", "Zarb"),
        ("face_bow_carries", "where the upper jaw is to the hinge of the jaw", "Glossary"),
        ("fit_first", "the fitting side", "Zarb"),
        ("pumice_fresh", "for each patient", "CDC"),
        ("before_lathe", "it is cleaned and disinfected", "CDC"),
        ("liner_longest", "soft liner", "ISO 10139"),
        ("denture_water", "boiling water", "Prosthodontists"),
        ("adhesive_off", "every day", "Prosthodontists"),
        ("clasp_number", "64", "memory"),
    ],
)
def test_a_fact_holds_what_the_trade_knows_and_where_it_comes_from(
    fact_id: str, value: str, source: str
) -> None:
    fact = FACTS.fact(fact_id)
    assert fact.answer.text == value and source in fact.source


def test_facts_and_variants_agree_on_the_types_of_impression_material() -> None:
    """M: ISO 4823."""
    notes = {v.text: v.note for v in PACK.item("denture_impression_material").variants}
    assert [notes[b][-1] for b in ("heavy body", "medium body", "light body")] == ["1", "2", "3"]


@pytest.mark.parametrize(
    ("group", "watched"),
    [
        # C
        ("passing", "name"),
        ("passing", "soft or hard"),
        ("passing", "Tempers compound"),
        ("count", "torn impression"),
        ("count", "named cup"),
        ("sharps", "disinfects"),
        ("sharps", "fresh pumice"),
    ],
)
def test_somebody_has_to_watch_what_matters_most(group: str, watched: str) -> None:
    assert any(watched in p.text and p.must for p in FACTS.checklist if p.group == group)
