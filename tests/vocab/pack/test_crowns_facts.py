"""Crowns, bridges and veneers say what the trade knows; the source of each fact stands beside it.

P: published. C: common practice, no source. M: numbers from memory of textbooks, standards and catalogues.
"""

from __future__ import annotations

import re

import pytest

from listen.chairside.handing import handing_text
from listen.practice.facts import facts_beside
from tests.vocab.pack.field import Field
from vocab.pack.schema import Exchange, Grasp, Item, ItemClass, Procedure, Shank, TakenBy

pytestmark = pytest.mark.slow

FIELD = Field("crowns")
PACK, LEXICON = FIELD.pack, FIELD.lexicon
meant = FIELD.meant
passing = FIELD.passing
FACTS = facts_beside("crowns", PACK)

items = pytest.mark.parametrize("item", PACK.items, ids=lambda item: item.id)
procedures = pytest.mark.parametrize("procedure", PACK.procedures, ids=lambda procedure: procedure.id)

TEMPORARY_CEMENTS = {"temporary_cement_eugenol", "temporary_cement_free"}
LASTING_CEMENTS = {"resin_cement", "luting_glass_ionomer", "zinc_phosphate", "polycarboxylate"}
TO_BE_CHECKED = {"retraction_astringent", "retraction_paste", "porcelain_etch"}
RESTORATIONS = ("crown", "bridge", "veneer", "temporary_crown", "cast_post", "fibre_post", "metal_post")


def steps(procedure_id: str) -> list[str]:
    return [step.id for step in PACK.procedure(procedure_id).steps]


def told(procedure_id: str, step_id: str) -> str:
    """The cautions of a step."""
    return " ".join(next(s for s in PACK.procedure(procedure_id).steps if s.id == step_id).cautions)


# --- passing, checks and counts --------------------------------------------------------------------------


@items
def test_an_own_item_says_how_it_is_passed_and_a_sharp_has_a_caution(item: Item) -> None:
    """C."""
    if item.item_class is not ItemClass.PROTECTIVE and item.id not in {"barrier_film", "tray_cover"}:
        assert handing_text(item), item.id
    assert item.cautions or not item.sharp


@items
def test_drugs_and_the_acid_for_ceramic_are_always_checked_and_nothing_else_is(item: Item) -> None:
    """C: anaesthesia, astringents and hydrofluoric acid; what only holds or carries them is not."""
    drug = item.item_class is ItemClass.ANAESTHESIA and item.id not in {
        "recapping_device",
        "cotton_tip_applicator",
    }
    assert item.always_check == (drug or item.id in TO_BE_CHECKED)


@pytest.mark.parametrize("item_id", sorted(TO_BE_CHECKED))
def test_what_is_checked_is_checked_by_its_label(item_id: str) -> None:
    """C."""
    said = " ".join([passing(item_id), *PACK.item(item_id).cautions]).lower()
    said += " ".join(alike.tell for alike in PACK.item(item_id).confused_with).lower()
    assert re.search(r"label[^.]* is read back", said)


def test_hydrofluoric_acid_stays_away_from_the_tray_and_warns_of_what_does_not_hurt_at_once() -> None:
    """P: makers' safety sheets, from memory; P: Türp and others, J Adhes Dent 2024, on PTFE."""
    acid = PACK.item("porcelain_etch")
    said = " ".join(acid.cautions)
    assert acid.handing is not None and acid.handing.taken_by is TakenBy.ASSISTANT
    for words in (
        "without pain",
        "calcium gluconate",
        "PTFE tape does not hold it back",
        "zirconia and metal",
    ):
        assert words in said, words
    for kit in PACK.kits:
        held = {slot.item for slot in kit.slots}
        if "porcelain_etch" in held:
            assert kit.place.value == "counter" and "etchant" not in held, kit.id
    assert "Hydrofluoric acid goes through it." in PACK.item("ptfe_tape").cautions


@pytest.mark.parametrize("item_id", RESTORATIONS)
def test_what_goes_into_a_mouth_is_counted_and_may_be_swallowed(item_id: str) -> None:
    """P: reports on swallowed and inhaled restorations; C: a gauze screen."""
    item = PACK.item(item_id)
    assert item.counted and any("swallowed or inhaled" in caution for caution in item.cautions)


@pytest.mark.parametrize(
    "item_id",
    ["retraction_cap", "intraoral_tip", "ptfe_tape", "crown_seater", "porcelain_polisher", "veneer_holder"],
)
def test_small_things_are_counted(item_id: str) -> None:
    """C."""
    assert PACK.item(item_id).counted


@pytest.mark.parametrize(
    ("item_id", "grasp", "exchange"),
    [
        # C: pen for what rotates, palm for guns and heavy ones, two hands where it is bulky
        ("depth_cut_diamond", Grasp.PEN, Exchange.ONE_HAND),
        ("post_drill", Grasp.PEN, Exchange.ONE_HAND),
        ("crown_remover_sliding", Grasp.PALM, Exchange.TWO_HANDS),
        ("temporary_crown_forceps", Grasp.PALM, Exchange.TWO_HANDS),
        ("crown_spreader", Grasp.PALM, Exchange.ONE_HAND),
        ("impression_gun", Grasp.PALM, Exchange.TWO_HANDS),
        ("cement_applicator", Grasp.PALM, Exchange.TWO_HANDS),
        ("tryin_paste", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("veneer_cement", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("retraction_astringent", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("acrylic_bur", Grasp.PALM_AND_THUMB, Exchange.ONE_HAND),
        ("impression_tray", None, Exchange.TWO_HANDS),
        ("crown", None, Exchange.ONE_HAND),
    ],
)
def test_grasp_and_exchange_are_those_of_the_trade(
    item_id: str, grasp: Grasp | None, exchange: Exchange
) -> None:
    handing = PACK.item(item_id).handing
    assert handing is not None and (handing.grasp, handing.exchange) == (grasp, exchange)


@pytest.mark.parametrize(
    "item_id",
    ["crown", "bridge", "temporary_crown", "resin_cement", "zinc_phosphate", "temporary_cement_free"],
)
def test_a_crown_lies_on_an_open_palm_or_a_gauze(item_id: str) -> None:
    """C."""
    assert "open palm or a gauze" in passing(item_id)


def test_what_is_mixed_or_kept_at_the_bench_stays_with_the_assistant() -> None:
    """C."""
    for item_id in (
        "alginate",
        "mixing_bowl",
        "heavy_body",
        "putty",
        "mixing_tip",
        "impression_disinfectant",
        "lab_bag",
        "alcohol_torch",
        "temporary_acrylic",
    ):
        handing = PACK.item(item_id).handing
        assert handing is not None and handing.taken_by is TakenBy.ASSISTANT, item_id


@pytest.mark.parametrize(
    ("item_id", "words"),
    [
        ("zinc_phosphate", "cool, dry slab"),  # P: US Army, Dental Materials (MD0502)
        ("putty", "latex gloves"),  # P: Chee and Donovan, J Prosthet Dent, on polyvinyl siloxane
        ("light_body", "[Ll]atex gloves"),
        ("tray_adhesive", "Made for one kind of material"),  # M: dental materials
        ("alginate", "[Ww]arm water makes it set sooner"),  # M: dental materials
        ("temporary_cement_eugenol", "Eugenol may keep resin from setting"),  # M: dental materials
        ("petroleum_jelly", "latex"),  # C
        ("alcohol_torch", "Open flame"),  # C
        ("temporary_acrylic", "no flame near it"),  # C
        ("resin_cement", "like rubber"),  # C
        ("tryin_paste", "Washed off completely"),  # C
        ("impression_disinfectant", "Rinse the impression first"),  # P: CDC dental guidelines 2003
        ("crown", "read against the chart"),  # C
        ("dual_arch_tray", "Try it empty"),  # C
        ("retraction_paste", "rinsed out"),  # C
        ("restoration_cleaner", "outside the mouth"),  # C
        ("sandblaster", "[Ee]yewear"),  # C
        ("crown_cutting_bur", "eyewear for everybody"),  # C
        ("fibre_post", "never with pliers"),  # C
    ],
)
def test_a_caution_says_what_the_trade_says(item_id: str, words: str) -> None:
    assert re.search(words, " ".join(PACK.item(item_id).cautions))


# --- burs ------------------------------------------------------------------------------------------------


@items
def test_an_own_bur_says_which_handpiece_it_fits(item: Item) -> None:
    """P: ISO 1797."""
    if item.item_class is ItemClass.BUR and item.id != "bur_block":
        shanks = {item.shank, *(variant.shank for variant in item.variants)} - {None}
        assert shanks, item.id


@pytest.mark.parametrize(
    ("item_id", "shank"),
    [
        ("diamond_torpedo", Shank.FRICTION_GRIP),
        ("crown_cutting_bur", Shank.FRICTION_GRIP),
        ("post_drill", Shank.LATCH),
        ("acrylic_bur", Shank.STRAIGHT),
    ],
)
def test_the_shank_is_that_of_the_handpiece(item_id: str, shank: Shank) -> None:
    """P: ISO 1797; C."""
    assert PACK.item(item_id).shank is shank


@pytest.mark.parametrize(
    ("item_id", "words"),
    [
        # M: textbooks of fixed prosthodontics: the end of the diamond is the shape of the margin
        ("diamond_rounded_shoulder", "flat at the tip with its corners rounded"),
        ("diamond_end_cutting", "only its flat end is coated"),
        ("diamond_torpedo", "like a bullet"),
        ("diamond_flat_end_taper", "cut off square"),
        ("diamond_chamfer", "rounded tip"),
        ("veneer_depth_diamond", "three narrow rings"),
        ("crown_cutting_bur", "dome end"),
    ],
)
def test_a_diamond_is_told_by_its_end(item_id: str, words: str) -> None:
    assert words in PACK.item(item_id).look


def test_a_finishing_diamond_has_the_ring_of_its_grit() -> None:
    """M: ISO 6360 grit codes and the colours of makers; red fine, yellow extra-fine."""
    notes = {variant.text: variant.note for variant in PACK.item("diamond_finishing").variants}
    assert notes == {"fine": "red ring", "extra-fine": "yellow ring"}


def test_crown_cutters_have_the_size_of_their_number() -> None:
    """M: a 57 is 010 and a 58 is 012, whatever stands before."""
    for variant in PACK.item("crown_cutting_bur").variants:
        assert ("010" if variant.text.endswith("57") else "012") in variant.note


# --- names -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "item_id", "variant"),
    [
        # M: numbers of diamonds and carbides
        ("856", "diamond_chamfer", None),
        ("round end taper", "diamond_chamfer", None),
        ("eight forty seven", "diamond_flat_end_taper", None),
        ("eight forty seven K R", "diamond_rounded_shoulder", None),
        ("the KR", "diamond_rounded_shoulder", None),
        ("eight seventy eight", "diamond_torpedo", "878"),
        ("878K", "diamond_torpedo", "878K"),
        ("eight thirty four", "veneer_depth_diamond", None),
        ("10839", "diamond_end_cutting", None),
        ("nineteen fifty eight", "crown_cutting_bur", "1958"),
        ("1557 bur", "crown_cutting_bur", "1557"),
        # C: what is mumbled
        ("end cutter", "diamond_end_cutting", None),
        ("depth cutter", "depth_cut_diamond", None),
        ("two millimeter depth cutter", "depth_cut_diamond", "2 millimetre"),
        ("one and a half millimeter depth cutter", "depth_cut_diamond", "1.5 millimetre"),
        ("point five depth marker", "veneer_depth_diamond", "0.5 millimetre"),
        ("red stripe", "diamond_finishing", "fine"),
        ("yellow stripe diamond", "diamond_finishing", "extra-fine"),
        ("zirconia bur", "diamond_zirconia_cutter", None),
        ("metal cutter", "crown_cutting_bur", None),
        ("slide hammer", "crown_remover_sliding", None),
        ("crown tapper", "crown_remover_sliding", None),
        ("spreader", "crown_spreader", None),
        ("hemostat", "temporary_crown_forceps", None),
        ("temp remover", "temporary_crown_forceps", None),
        ("Iwanson", "crown_gauge", None),
        ("wax caliper", "crown_gauge", "wax"),
        ("bite stick", "crown_seater", None),
        ("orangewood stick", "crown_seater", None),
        ("double zero cord", "retraction_cord", "00"),
        ("triple zero cord", "retraction_cord", "000"),
        ("astringent", "retraction_astringent", None),
        ("hemostatic agent", "retraction_astringent", None),
        ("ferric sulfate", "retraction_astringent", "ferric sulfate"),
        ("aluminum chloride", "retraction_astringent", "aluminium chloride"),
        ("retraction paste", "retraction_paste", None),
        ("compression cap", "retraction_cap", None),
        ("scanner", "intraoral_scanner", None),
        ("scan tip", "scanner_tip", None),
        ("light body", "light_body", None),
        ("extra light body", "light_body", "extra light"),
        ("heavy body", "heavy_body", None),
        ("monophase", "medium_body", None),
        ("putty", "putty", None),
        ("dual arch", "dual_arch_tray", None),
        ("anterior bite tray", "dual_arch_tray", "anterior"),
        ("upper tray", "impression_tray", "upper"),
        ("large upper tray", "impression_tray", "large upper"),
        ("upper large tray", "impression_tray", "large upper"),
        ("number three tray", "impression_tray", "medium upper"),
        ("number six tray", "impression_tray", "small lower"),
        ("bite reg", "bite_registration", None),
        ("bite wax", "bite_registration", "wax"),
        ("fast set alginate", "alginate", "fast set"),
        ("tray glue", "tray_adhesive", None),
        ("IO tip", "intraoral_tip", None),
        ("yellow mixing tip", "mixing_tip", "yellow"),
        ("bis-acryl", "temporary_crown_material", None),
        ("A2 temp material", "temporary_crown_material", "A2"),
        ("temp", "temporary_crown", None),
        ("suck down", "temporary_matrix", None),
        ("stent", "temporary_matrix", None),
        ("reduction guide", "putty_index", None),
        ("aluminum shell", "aluminium_shell", None),
        ("powder and liquid", "temporary_acrylic", None),
        ("PFM", "crown", "metal-ceramic"),
        ("gold crown", "crown", "metal"),
        ("Maryland bridge", "bridge", "resin-bonded"),
        ("die", "working_model", None),
        ("with eugenol", "temporary_cement_eugenol", None),
        ("ZOE", "temporary_cement_eugenol", None),
        ("non-eugenol", "temporary_cement_free", None),
        ("no eugenol", "temporary_cement_free", None),
        ("temporary cement, no eugenol", "temporary_cement_free", None),
        ("temp cement no eugenol", "temporary_cement_free", None),
        ("cement with eugenol", "temporary_cement_eugenol", None),
        ("temp cement without eugenol", "temporary_cement_free", None),
        ("RMGI", "luting_glass_ionomer", "resin-modified"),
        ("GI cement", "luting_glass_ionomer", None),
        ("zinc phosphate", "zinc_phosphate", None),
        ("carboxylate", "polycarboxylate", None),
        ("dual cure", "resin_cement", None),
        ("self-adhesive cement", "resin_cement", "self-adhesive"),
        ("light-cure cement", "veneer_cement", None),
        ("white veneer cement", "veneer_cement", "white"),
        ("clear try-in", "tryin_paste", "clear"),
        ("HF", "porcelain_etch", None),
        ("hydrofluoric acid", "porcelain_etch", None),
        ("porcelain etch", "porcelain_etch", None),
        ("silane", "silane", None),
        ("zirconia primer", "ceramic_primer", None),
        ("air abrasion", "sandblaster", None),
        ("porcelain polisher", "porcelain_polisher", None),
        ("sticky stick", "veneer_holder", None),
        ("plumber's tape", "ptfe_tape", None),
        ("glycerin", "glycerine_gel", None),
        ("fiber post", "fibre_post", None),
        ("red fiber post", "fibre_post", "red"),
        ("titanium post", "metal_post", None),
        ("screw post", "metal_post", "threaded"),
        ("number two post drill", "post_drill", "size 2"),
        ("build-up", "core_material", None),
        ("cast post", "cast_post", None),
        ("scaler", "sickle_scaler", None),
        ("threader", "floss_threader", None),
        ("lab slip", "lab_bag", None),
        ("acrylic bur", "acrylic_bur", None),
        ("torch", "alcohol_torch", None),
    ],
)
def test_what_people_say_means_one_item(said: str, item_id: str, variant: str | None) -> None:
    assert meant(f"hand me the {said.removeprefix('the ')}")[0] == (item_id, variant)


@pytest.mark.parametrize(
    ("said", "item_ids"),
    [
        # C: a word never decides between two labels, two kinds of a thing or two things of one name
        ("temporary cement", TEMPORARY_CEMENTS),
        ("temp cement", TEMPORARY_CEMENTS),
        ("permanent cement", LASTING_CEMENTS),
        ("cement", TEMPORARY_CEMENTS | LASTING_CEMENTS | {"veneer_cement"}),
        ("crown remover", {"crown_remover_sliding", "temporary_crown_forceps"}),
        ("polycarb", {"polycarbonate_crown", "polycarboxylate"}),
        ("crown form", {"polycarbonate_crown", "aluminium_shell"}),
        ("post", {"fibre_post", "metal_post"}),
        ("post drill", {"post_drill", "peeso_reamer"}),
        ("tray", {"impression_tray", "dual_arch_tray"}),
        ("acid etch", {"etchant", "porcelain_etch"}),
        ("primer", {"primer", "ceramic_primer"}),
        ("ceramic primer", {"silane", "ceramic_primer"}),
        ("matrix", {"matrix_band", "temporary_matrix"}),
        ("PVS", {"light_body", "medium_body", "heavy_body"}),
        ("eugenol", TEMPORARY_CEMENTS),
    ],
)
def test_a_name_that_means_several_is_left_open(said: str, item_ids: set[str]) -> None:
    candidates = LEXICON.find(said)
    likeliest = candidates[0].p
    assert {c.item for c in candidates if c.p == pytest.approx(likeliest)} == item_ids
    assert likeliest <= 0.5


def test_etch_alone_never_leaves_out_the_other_acid() -> None:
    """C: the tooth's acid is meant as a rule; the one for ceramic is a rival all the same."""
    found = LEXICON.find("etch")
    assert [c.item for c in found] == ["etchant", "porcelain_etch"] and found[0].p < 0.95


@pytest.mark.parametrize("number", [*range(1, 33), *(f"{q}{t}" for q in range(1, 9) for t in range(1, 9))])
def test_no_bare_tooth_number_is_a_name(number: object) -> None:
    """P: universal numbering 1 to 32, and the two-digit system of ISO 3950."""
    for said in (f"{number}", f"number {number}"):
        assert not LEXICON.is_name(said), said


@pytest.mark.parametrize(
    "said", ["light", "heavy", "wash", "A2", "shade A2", "upper", "lower", "stick", "bite"]
)
def test_plain_words_and_shades_alone_name_nothing_of_this_field(said: str) -> None:
    """C; "light" is the curing light."""
    own = {c.item for c in LEXICON.find(said) if c.p > 0.7} - {"curing_light"}
    assert own == set()


@pytest.mark.parametrize(
    "pair",
    [
        ("porcelain_etch", "etchant"),
        ("retraction_astringent", "etchant"),
        ("temporary_cement_eugenol", "temporary_cement_free"),
        ("veneer_cement", "tryin_paste"),
        ("resin_cement", "veneer_cement"),
        ("zinc_phosphate", "polycarboxylate"),
        ("silane", "ceramic_primer"),
        ("ceramic_primer", "primer"),
        ("temporary_crown", "crown"),
        ("light_body", "heavy_body"),
        ("diamond_rounded_shoulder", "diamond_flat_end_taper"),
        ("polycarboxylate", "polycarbonate_crown"),
        ("fibre_post", "metal_post"),
        ("crown_cutting_bur", "diamond_zirconia_cutter"),
        ("crown_remover_sliding", "temporary_crown_forceps"),
        ("depth_cut_diamond", "veneer_depth_diamond"),
    ],
)
def test_a_pair_that_matters_has_a_wide_margin_and_tells_itself_apart(pair: tuple[str, str]) -> None:
    """C; what is of this field tells itself apart from the other one."""
    assert set(pair) in [set(p) for p in PACK.wide_margin]
    shared = {"etchant", "primer", "diamond_flat_end_taper"}
    for this, that in (pair, pair[::-1]):
        if this not in shared:
            assert that in {alike.item for alike in PACK.item(this).confused_with}, this


def test_temporary_cements_are_offered_in_pairs() -> None:
    """C."""
    assert PACK.offered_with("temporary_cement_eugenol") == ("temporary_cement_free",)
    assert PACK.offered_with("temporary_cement_free") == ("temporary_cement_eugenol",)


# --- trays and steps -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tray_id", "laid"),
    [
        # C
        (
            "crown_preparation",
            "shade_guide depth_cut_diamond diamond_end_cutting retraction_cord cord_packer "
            "retraction_astringent crown_scissors light_body heavy_body dual_arch_tray tray_adhesive "
            "bite_registration intraoral_scanner scanner_tip temporary_crown_material "
            "temporary_cement_free lab_bag acrylic_bur straight_nose_piece crown_spreader patient_eyewear",
        ),
        (
            "crown_cementation",
            "crown working_model shim_stock articulating_forceps crown_seater resin_cement zinc_phosphate "
            "glass_slab cement_spatula capsule_mixer cement_applicator sickle_scaler floss_threader "
            "hand_mirror porcelain_polisher temporary_crown_forceps gauze_square curing_light",
        ),
        ("bridge_preparation", "impression_tray putty_index floss_threader heavy_body temporary_matrix"),
        (
            "post_and_core",
            "gates_glidden_drill peeso_reamer post_drill fibre_post metal_post core_material dam_clamp "
            "dam_sheet dam_sheet_latex_free locking_pliers matrix_band contra_angle",
        ),
        (
            "veneer_preparation",
            "veneer_depth_diamond shade_guide stump_shade_guide putty_index cheek_retractor finishing_strip",
        ),
        (
            "veneer_bonding",
            "veneer veneer_holder tryin_paste veneer_cement porcelain_etch silane ptfe_tape clear_strip "
            "glycerine_gel curing_light light_shield retraction_cord",
        ),
    ],
)
def test_a_tray_holds_what_its_procedure_needs(tray_id: str, laid: str) -> None:
    assert [i for i in laid.split() if PACK.tray(tray_id).slot_of(i) is None] == []


@pytest.mark.parametrize("tray", PACK.trays, ids=lambda tray: tray.id)
def test_a_tray_lies_in_two_rows_of_what_fits_on_it(tray: object) -> None:
    """C: 12 to 20 instruments; the rest lies in kits."""
    rows = PACK.tray(getattr(tray, "id", "")).rows
    assert len(rows) == 2 and 12 <= sum(len(row.slots) for row in rows) <= 20


@pytest.mark.parametrize("mixed", ["alginate", "zinc_phosphate", "luting_glass_ionomer", "temporary_acrylic"])
def test_where_something_is_mixed_there_is_what_it_takes(mixed: str) -> None:
    """C."""
    needs = {
        "alginate": ("mixing_bowl", "alginate_spatula", "impression_tray"),
        "zinc_phosphate": ("glass_slab", "cement_spatula"),
        "luting_glass_ionomer": ("cement_spatula",),
        "temporary_acrylic": ("dappen_dish",),
    }
    trays = [tray for tray in PACK.trays if tray.slot_of(mixed)]
    assert trays
    for tray in trays:
        assert [i for i in needs[mixed] if tray.slot_of(i) is None] == [], tray.id


ORDER = {
    # M: Shillingburg; Rosenstiel. C for what is beside the tooth.
    "crown_preparation": "check shade index opposing anaesthetise depth_cuts occlusal contacts walls smooth "
    "check_preparation try_tray cord cord_out impression bite check_impression make_temporary trim_temporary "
    "try_temporary cement_temporary temporary_excess laboratory clear",
    # M: contacts before the margin, the margin before the bite
    "crown_cementation": "check anaesthetise temporary_off clean_tooth try_in contacts fit bite_before agree "
    "crown_off polish_before prepare_inside isolate bond_tooth mix seat_crown set excess bite_after polish "
    "check_result clear",
    "bridge_preparation": "check shade index opposing anaesthetise depth_cuts walls parallel smooth "
    "check_preparation try_tray cord impression check_impression make_temporary cement_temporary laboratory",
    "post_and_core": "check isolate open gutta_percha shape try_post clean_post etch bond cement_post matrix "
    "core shape_core dam_off bite check_result",
    "veneer_preparation": "check shade depth front sides smooth check_preparation stump_shade try_tray cord "
    "impression spot_etch make_temporary trim_temporary bite_temporary laboratory",
    # P: a published course on porcelain laminate veneers (clean, try, shade, clean, silane, etch, bond,
    # seat, cure)
    "veneer_bonding": "check temporaries_off clean_teeth try_dry try_shade agree clean_veneers etch_veneers "
    "silanate isolate protect etch_teeth rinse_and_dry bond load place tack excess cure margins uncover "
    "bite_after polish check_result",
}


@pytest.mark.parametrize("procedure_id", ORDER)
def test_steps_come_in_working_order(procedure_id: str) -> None:
    wanted = ORDER[procedure_id].split()
    assert [step for step in steps(procedure_id) if step in wanted] == wanted


@procedures
def test_a_teacher_looks_before_anything_is_opened_and_at_the_end(procedure: Procedure) -> None:
    """C: patient, tooth and treatment are agreed on; a preparation is seen before it is copied."""
    checked = [step.id for step in procedure.steps if step.faculty_check]
    assert checked[0] == "check" and len(checked) >= 3
    before = [step.id for step in procedure.steps][: steps(procedure.id).index("check")]
    assert set(before) <= {"seat"}


@pytest.mark.parametrize(
    ("procedure_id", "step_id", "words"),
    [
        ("crown_preparation", "shade", "Before anything is cut or dried"),
        ("crown_preparation", "index", "Made before anything is cut"),
        ("crown_preparation", "old_crown_off", "gauze screen"),
        ("crown_preparation", "cord", "reads the label back"),
        ("crown_preparation", "cord", "the thinner goes in first"),
        ("crown_preparation", "cord_out", "Wetted before it is pulled"),
        ("crown_preparation", "impression", "No latex gloves"),
        ("crown_preparation", "cement_temporary", "With or without eugenol"),
        ("crown_preparation", "temporary_excess", "sideways"),
        ("crown_preparation", "laboratory", "Rinsed, then disinfected"),
        ("crown_cementation", "try_in", "gauze screen"),
        ("crown_cementation", "crown_off", "gauze screen"),
        ("crown_cementation", "seat_crown", "gauze screen"),
        ("crown_cementation", "agree", "before anything is cemented"),
        ("crown_cementation", "prepare_inside", "reads the label back"),
        ("crown_cementation", "mix", "cool, dry slab"),
        ("crown_cementation", "set", "cleaned while like rubber"),
        ("bridge_preparation", "parallel", "one way on"),
        ("post_and_core", "gutta_percha", "4 to 5 mm"),
        ("post_and_core", "try_post", "locking pliers"),
        ("veneer_bonding", "etch_veneers", "reads the label back"),
        ("veneer_bonding", "try_shade", "operating light is turned away"),
        ("veneer_bonding", "uncover", "Count cord, tape"),
    ],
)
def test_a_step_warns_of_what_matters(procedure_id: str, step_id: str, words: str) -> None:
    assert words in told(procedure_id, step_id)


@procedures
def test_a_timer_is_of_one_material(procedure: Procedure) -> None:
    """C: the makers' times count, each for itself."""
    timers = {timer for step in procedure.steps for timer in step.timers}
    assert timers and timers.isdisjoint({"etch", "cure", "set", "mix"})


def test_each_cement_that_is_mixed_has_its_own_time() -> None:
    """C."""
    timers = {s.id: s.timers for s in PACK.procedure("crown_cementation").steps}
    assert timers["mix"] == ("mix zinc phosphate", "mix polycarboxylate", "mix glass ionomer")
    assert "cure resin cement" in timers["set"] and "set zinc phosphate" in timers["set"]


# --- facts -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact_id", "value", "source"),
    [
        ("ring_green", "coarse", "ISO 6360"),
        ("ring_blue", "medium", "ISO 6360"),
        ("ring_red", "fine", "ISO 6360"),
        ("ring_yellow", "extra-fine", "ISO 6360"),
        ("iso_material", "diamond", "ISO 6360"),
        ("iso_shank", "friction grip", "ISO 6360"),
        ("iso_size", "1.6 mm", "ISO 6360"),
        ("chamfer_end", "rounded", "Shillingburg"),
        ("shoulder_end", "flat", "Shillingburg"),
        ("shoulder_ceramic", "rounded", "Shillingburg"),
        ("cord_thinnest", "000", "memory"),
        ("cord_order", "the thinner one", "Rosenstiel"),
        ("tray_number_one", "large upper", "memory"),
        ("latex_silicone", "latex gloves", "Chee and Donovan"),
        ("impression_order", "it is rinsed", "CDC"),
        ("hf_where", "on the ceramic outside the mouth", "safety sheets"),
        ("hf_first_aid", "calcium gluconate", "safety sheets"),
        ("hf_tape", "PTFE tape", "2024"),
        ("zirconia_clean", "phosphoric acid", "published"),
        ("try_in_first", "the contacts", "Rosenstiel"),
        ("throat_screen", "a gauze screen", "published"),
        ("slab_cool", "a cool glass slab", "MD0502"),
        ("slab_temperature", "18 to 24 °C", "MD0502"),
        ("gutta_percha_left", "4 to 5 mm", "Rosenstiel"),
    ],
)
def test_a_fact_holds_what_the_trade_knows_and_where_it_comes_from(
    fact_id: str, value: str, source: str
) -> None:
    fact = FACTS.fact(fact_id)
    assert fact.answer.text == value and source in fact.source


def test_the_slab_is_as_warm_in_both_scales() -> None:
    """P: 65 to 75 degrees Fahrenheit, US Army, Dental Materials (MD0502)."""
    celsius = [round((f - 32) * 5 / 9) for f in (65, 75)]
    assert FACTS.fact("slab_temperature").answer.text == f"{celsius[0]} to {celsius[1]} °C"


def test_facts_and_items_agree_on_tray_one_and_on_cords() -> None:
    assert meant("number 1 tray")[0][1] == FACTS.fact("tray_number_one").answer.text
    thin = FACTS.fact("cord_thinnest").answer.text
    assert f"{thin}, the thinnest" in PACK.item("retraction_cord").look


@pytest.mark.parametrize(
    ("group", "watched"),
    [
        # C
        ("passing", "hydrofluoric acid"),
        ("passing", "kind of cement"),
        ("passing", "label of astringent"),
        ("count", "gauze screen"),
        ("count", "cord pieces"),
        ("count", "name, tooth and shade"),
        ("sharps", "one hand"),
        ("sharps", "eyewear"),
    ],
)
def test_somebody_has_to_watch_what_matters_most(group: str, watched: str) -> None:
    assert any(watched in p.text and p.must for p in FACTS.checklist if p.group == group)
