"""Instruments, isolation and matrix items of the operative pack say what the trade says.

Each table names where its rows come from: C is common practice, no source; P is published, from memory unless
a page is named.
"""

from __future__ import annotations

import re

import pytest

from vocab.language.tokens import words
from vocab.pack.formula import FormulaError, read_formula
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Exchange, Facing, Grasp, Item, ItemClass, TakenBy, TakingHand
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import Request, understand

PACK = shipped_pack()
LEXICON = Lexicon(PACK)
LAST_TOOTH = 48
"""Teeth are numbered 1 to 32 (universal system) or 11 to 48 (ISO 3950)."""

CLASSES = {
    ItemClass.EXAMINATION,
    ItemClass.ISOLATION,
    ItemClass.HAND_CUTTING,
    ItemClass.PLACING,
    ItemClass.MATRIX,
}
INSTRUMENTS = [item for item in PACK.items if item.item_class in CLASSES]


def meant(said: str) -> tuple[str, str | None]:
    """The item that a name means, and the size or pattern that it says."""
    first = LEXICON.find(said)[0]
    assert first.p > 0.8, f"{said!r} means {first}"
    return first.item, first.variant


def asked(said: str) -> tuple[Request, ...]:
    return tuple(understand(said, LEXICON, PACK.speech))


# --- names -----------------------------------------------------------------------------------------------

NAMES = (
    # mirrors and explorers: C; what 17, 23 and 3CH look like: P, Wikipedia "Dental explorer"; Orban and 11/12
    # types: P, textbooks of periodontal instrumentation
    ("mirror for the patient", "hand_mirror", None),
    ("number 4 mirror", "mouth_mirror", "4"),
    ("number 5 mirror", "mouth_mirror", "5"),
    ("expro", "explorer_probe", None),
    ("17/23 explorer", "explorer_17_23", None),
    ("seventeen twenty three explorer", "explorer_17_23", None),
    ("11/12 explorer", "explorer_11_12", None),
    ("Orban", "explorer_right_angle", None),
    ("TU 17", "explorer_right_angle", None),
    ("23 explorer", "explorer_shepherd", None),
    # probes: P, juniordentist.com "Types of periodontal probes" (the WHO probe has a ball of 0.5 mm)
    ("UNC probe", "perio_probe", "UNC 15"),
    ("UNC 15", "perio_probe", "UNC 15"),
    ("Michigan probe", "perio_probe", "Michigan"),
    ("Williams probe", "perio_probe", "Williams"),
    ("WHO probe", "perio_probe", "WHO"),
    ("PSR probe", "perio_probe", "WHO"),
    ("ball probe", "perio_probe", "WHO"),
    ("color-coded probe", "perio_probe", None),
    # pliers, dam, gauze, pads, cord: C
    ("endo forceps", "locking_pliers", None),
    ("endo locking pliers", "locking_pliers", None),
    ("Ivory forceps", "dam_clamp_forceps", None),
    ("Stokes forceps", "dam_clamp_forceps", None),
    ("dam pliers", "dam_clamp_forceps", None),
    ("latex dam", "dam_sheet", None),
    ("latex-free dam", "dam_sheet_latex_free", None),
    ("non-latex dam", "dam_sheet_latex_free", None),
    ("nitrile dam", "dam_sheet_latex_free", None),
    ("four by four", "gauze_square", "4x4"),
    ("4x4", "gauze_square", "4x4"),
    ("two by twos", "gauze_square", "2x2"),
    ("reflective pad", "cheek_pad", None),
    ("silver triangle", "cheek_pad", None),
    ("number 1 cord", "retraction_cord", "1"),
    ("number 2 cord", "retraction_cord", "2"),
    ("double oh cord", "retraction_cord", "00"),
    ("triple zero cord", "retraction_cord", "000"),
    ("braided cord", "retraction_cord", None),
    ("Balshi packer", "cord_packer", None),
    ("cord tucker", "cord_packer", None),
    # clamps: P, makers' catalogue numbers; W is wingless
    ("W8A", "dam_clamp", "W8A"),
    ("w eight a clamp", "dam_clamp", "W8A"),
    ("W7", "dam_clamp", "W7"),
    ("W14", "dam_clamp", "W14"),
    ("8A clamp", "dam_clamp", "8A"),
    ("2A", "dam_clamp", "2A"),
    ("W2A", "dam_clamp", "W2A"),
    ("number 9 clamp", "dam_clamp", "9"),
    ("26 clamp", "dam_clamp", "26"),
    ("13A", "dam_clamp", "13A"),
    ("fourteen a clamp", "dam_clamp", "14A"),
    ("fourteen clamp", "dam_clamp", "14"),
    ("fifty six clamp", "dam_clamp", "56"),
    ("two twelve clamp", "dam_clamp", "212"),
    ("double oh clamp", "dam_clamp", "00"),
    # hand cutting: C; formulas: P, G. V. Black (1908) and operative textbooks
    ("caries excavator", "spoon_excavator", None),
    ("19 spoon", "spoon_excavator", "19"),
    ("10-7-14", "hatchet", "10-7-14"),
    ("11 1/2-15-3", "wedelstaedt_chisel", "11 1/2-15-3"),
    ("10-80-7-14", "margin_trimmer_mesial", "10-80-7-14"),
    ("10-95-7-14", "margin_trimmer_distal", "10-95-7-14"),
    ("ten ninety five seven fourteen", "margin_trimmer_distal", "10-95-7-14"),
    ("mesial one", "margin_trimmer_mesial", None),
    ("distal GMT", "margin_trimmer_distal", None),
    # carvers, condensers, burnishers, paddles: C; acorn is anatomical: P, uorto.com "Burnishers"
    ("half H", "hollenback_carver", "half"),
    ("H3", "hollenback_carver", "3"),
    ("Ward's carver", "wards_carver", None),
    ("Frahm carver", "frahm_carver", None),
    ("89/92", "discoid_cleoid", "89/92"),
    ("claw", "discoid_cleoid", None),
    ("back-action plugger", "condenser_small", "back-action"),
    ("T-ball", "ball_burnisher", "T-ball"),
    ("27/29 burnisher", "ball_burnisher", "27/29"),
    ("28/29 burnisher", "ball_burnisher", "28/29"),
    ("anatomical burnisher", "acorn_burnisher", None),
    ("21B", "acorn_burnisher", "21B"),
    ("gold instrument", "composite_paddle", None),
    ("titanium instrument", "composite_paddle", None),
    ("non-stick instrument", "composite_paddle", None),
    ("composite plugger", "composite_paddle", None),
    ("contouring instrument", "composite_paddle", None),
    ("IPPA", "plastic_instrument", "IPPA"),
    ("324 spatula", "cement_spatula", "324"),
    ("vibrator", "capsule_mixer", None),
    # matrix: C; the numbers of bands: P, assistants' textbooks
    ("number 3 band", "matrix_band", "3"),
    ("MOD band", "matrix_band", "2"),
    ("T-band", "matrix_band", "T-band"),
    ("bicuspid band", "matrix_band", None),
    ("dead-soft band", "matrix_band", None),
    ("orange wedge", "wedge", "orange"),
    ("medium wedge", "wedge", "medium"),
)


@pytest.mark.parametrize(("said", "item", "variant"), NAMES)
def test_an_everyday_name_means_its_item_in_the_size_that_was_said(
    said: str, item: str, variant: str | None
) -> None:
    assert meant(said) == (item, variant)


SHARED = (
    # latex or not is never guessed: P, CDC and OSHA on latex allergy
    ("rubber dam", {"dam_sheet", "dam_sheet_latex_free"}),
    ("dam", {"dam_sheet", "dam_sheet_latex_free"}),
    ("dental dam", {"dam_sheet", "dam_sheet_latex_free"}),
    ("rubber dam material", {"dam_sheet", "dam_sheet_latex_free"}),
    ("six by six", {"dam_sheet", "dam_sheet_latex_free"}),
    ("heavy dam", {"dam_sheet", "dam_sheet_latex_free"}),
    # a side not said: C; which side 77/78 and 79/80 cut differs in what is written of them
    ("margin trimmer", {"margin_trimmer_mesial", "margin_trimmer_distal"}),
    ("GMT", {"margin_trimmer_mesial", "margin_trimmer_distal"}),
    ("77/78", {"margin_trimmer_mesial", "margin_trimmer_distal"}),
    ("79/80", {"margin_trimmer_mesial", "margin_trimmer_distal"}),
    # one word for two things: C
    ("interproximal explorer", {"explorer_pigtail", "explorer_right_angle"}),
    ("Perry pliers", {"cotton_pliers", "locking_pliers"}),
    ("8A", {"dam_clamp", "plastic_instrument"}),
    ("W3", {"dam_clamp", "plastic_instrument"}),
    ("serrated plugger", {"condenser_small", "condenser_large"}),
    ("medium plugger", {"condenser_small", "condenser_large"}),
    ("Mortonson", {"condenser_small", "condenser_large"}),
    ("34 burnisher", {"ball_burnisher", "egg_burnisher", "beavertail_burnisher"}),
)


@pytest.mark.parametrize(("said", "items"), SHARED)
def test_a_name_of_several_things_stands_for_all_of_them_alike(said: str, items: set[str]) -> None:
    found = LEXICON.find(said)
    assert {c.item for c in found} == items
    assert len({round(c.p, 6) for c in found}) == 1, "one is likelier than another"


@pytest.mark.parametrize("said", ["football", "egg"])
def test_a_football_is_a_burnisher_and_a_bur(said: str) -> None:
    """C: in composite work it is the diamond or the finishing bur."""
    found = LEXICON.find(said)
    classes = {PACK.item(c.item).item_class for c in found}
    assert classes == {ItemClass.PLACING, ItemClass.BUR} and max(c.p for c in found) < 0.5


NO_NAMES = (
    # a surface is no instrument: C
    *("mesial", "distal", "buccal", "latex"),
    # other instruments, or no name of this one: P, operative textbooks (a hatchet excavator is bibevelled;
    # Wedelstaedt and binangle chisels have a single bevel as well)
    *("hatchet excavator", "hoe excavator", "hoe chisel", "single bevel chisel"),
)


@pytest.mark.parametrize("said", NO_NAMES)
def test_what_is_no_name_of_an_instrument_is_not_one(said: str) -> None:
    assert not LEXICON.is_name(said)


@pytest.mark.parametrize(
    "said",
    [
        "mesial please",
        "hand me the distal",
        "number seventeen please",
        "the twenty three",
        "eleven twelve please",
    ],
)
def test_a_surface_or_a_tooth_alone_asks_for_nothing(said: str) -> None:
    """P: the universal system numbers teeth 1 to 32, ISO 3950 from 11 to 48."""
    assert not asked(said)


def test_no_instrument_is_called_by_numbers_that_may_be_teeth_alone() -> None:
    for item in INSTRUMENTS:
        for name in item.names:
            said = words(name.text)
            teeth = all(w.isdigit() and int(w) <= LAST_TOOTH for w in said)
            assert not teeth, f"{item.id}: {name.text}"


def test_explorer_and_probe_said_one_after_the_other_are_two_things() -> None:
    """C: expro is one instrument, but the words are said of two."""
    for said in ("explorer, probe please", "explorer and probe please"):
        assert [r.candidates[0].item for r in asked(said)] == ["explorer_shepherd", "perio_probe"]


@pytest.mark.parametrize(
    ("said", "quantity", "variant"),
    [
        ("two bands please", 2, None),
        ("one cord please", 1, None),
        ("three clamps", 3, None),
        ("two 4x4s please", 2, "4x4"),
        ("number two band please", None, "2"),
        ("a number one cord", None, "1"),
        ("number nine clamp", None, "9"),
    ],
)
def test_so_many_of_them_are_told_from_a_size(said: str, quantity: int | None, variant: str | None) -> None:
    """C: a size is said with "number"; a number before a plural is how many."""
    (request,) = asked(said)
    assert (request.quantity, request.candidates[0].variant) == (quantity, variant)


@pytest.mark.parametrize(
    ("said", "variant"),
    [("w eight a please", "W8A"), ("can I have the fourteen a please", "14A"), ("W7 please", "W7")],
)
def test_a_clamp_is_asked_for_by_its_pattern_alone(said: str, variant: str) -> None:
    """C."""
    (request,) = asked(said)
    assert (request.candidates[0].item, request.candidates[0].variant) == ("dam_clamp", variant)


# --- errors corrected ------------------------------------------------------------------------------------


def test_latex_and_latex_free_dam_are_two_items_that_are_told_apart() -> None:
    """P: CDC and OSHA on latex allergy; both sheets are counted, C."""
    latex, free = PACK.item("dam_sheet"), PACK.item("dam_sheet_latex_free")
    assert latex.latex and not free.latex
    assert latex.counted and free.counted
    for one, other in ((latex, free), (free, latex)):
        tell = next(c.tell for c in one.confused_with if c.item == other.id)
        assert "read the box" in tell and "never go by the colour" in tell
    assert frozenset((latex.id, free.id)) in {frozenset(pair) for pair in PACK.wide_margin}
    own = {n.text for n in latex.own_names if not n.shared}
    assert all("latex" in text for text in own), "a name that does not say latex is shared"


CLAMPS = ("00", "2", "W2A", "W7", "8A", "W8A", "14", "14A", "56", "9", "212")
"""P: makers' catalogue numbers."""


def test_clamps_cords_bands_and_hollenbacks_keep_their_number() -> None:
    def texts(item_id: str) -> set[str]:
        return {v.text for v in PACK.item(item_id).variants}

    assert set(CLAMPS) <= texts("dam_clamp")
    assert texts("retraction_cord") == {"000", "00", "0", "1", "2"}
    assert {"1", "2", "3"} <= texts("matrix_band")
    assert texts("hollenback_carver") == {"half", "3"}


def test_a_clamp_with_a_w_is_wingless_and_none_other_is() -> None:
    """P: makers' catalogues; W is for wingless."""
    for variant in PACK.item("dam_clamp").variants:
        assert ("wingless" in variant.note) == variant.text.startswith("W"), variant.text


@pytest.mark.parametrize(
    ("item_id", "least", "most"), [("margin_trimmer_mesial", 75, 85), ("margin_trimmer_distal", 90, 100)]
)
def test_the_formulas_of_a_margin_trimmer_are_those_of_its_side(item_id: str, least: int, most: int) -> None:
    """P: operative textbooks."""
    for variant in PACK.item(item_id).variants:
        edge = read_formula(variant.text).edge_centigrades
        assert edge is not None and least <= edge <= most, variant.text


def test_an_edge_angle_goes_up_to_100() -> None:
    """P: operative textbooks give a distal margin trimmer 90 to 100."""
    assert read_formula("10-100-8-14").edge_centigrades == 100
    for text in ("10-50-8-14", "10-101-8-14"):
        with pytest.raises(FormulaError, match="above 50 up to 100"):
            read_formula(text)


def test_explorers_with_two_ends_are_passed_by_the_requested_end() -> None:
    """C: Briault and Orban patterns, 17/23, 11/12 and expro are double ended."""
    for item_id in ("explorer_right_angle", "explorer_17_23", "explorer_11_12", "explorer_probe"):
        item = PACK.item(item_id)
        assert item.ends == 2 and item.handing and item.handing.part == "requested end", item_id
        assert any("back by the middle" in c for c in item.cautions), item_id


def test_a_cheek_pad_is_wetted_before_it_is_taken_off() -> None:
    """C."""
    assert any("wet it before it is taken off" in c for c in PACK.item("cheek_pad").cautions)


def test_the_wide_opening_of_a_band_faces_the_chewing_surface_in_both_arches() -> None:
    """P: assistants' textbooks: the larger circumference toward the occlusal, the slots toward the gum."""
    for item_id in ("matrix_band", "matrix_retainer"):
        handing = PACK.item(item_id).handing
        assert handing and handing.faces is Facing.CHEWING_SURFACE, item_id
        assert handing.part == "wider opening of the loop"
    assert "upward" not in " ".join(PACK.item("matrix_retainer").cautions)


def test_scissors_are_passed_rings_first_with_no_fingers_round_the_blades() -> None:
    """C."""
    handing = PACK.item("crown_scissors").handing
    assert handing and (handing.offered, handing.grasp) == ("rings", Grasp.PALM)
    assert handing.note == "Held at the hinge, tips closed and pointing away, never over the face."


# --- passing ---------------------------------------------------------------------------------------------

PASSED = (
    # pen grasp for most operative instruments; palm grasp for clamp forceps and straight chisels: P,
    # dentalcare.com CE 430 "Instrument grasps"
    ("spoon_excavator", TakingHand.WORKING, Grasp.PEN, Exchange.ONE_HAND),
    ("hollenback_carver", TakingHand.WORKING, Grasp.PEN, Exchange.ONE_HAND),
    ("cotton_pliers", TakingHand.WORKING, Grasp.PEN, Exchange.ONE_HAND),
    ("straight_chisel", TakingHand.WORKING, Grasp.PALM, Exchange.ONE_HAND),
    # two hands for bulky instruments such as dam and clamp forceps: P, dentalcare.com CE 643 "The two-handed
    # transfer"; the punch and other hinged pliers: C
    ("dam_clamp_forceps", TakingHand.WORKING, Grasp.PALM, Exchange.TWO_HANDS),
    ("dam_clamp", TakingHand.WORKING, Grasp.PALM, Exchange.TWO_HANDS),
    ("dam_punch", TakingHand.WORKING, Grasp.PALM, Exchange.TWO_HANDS),
    ("ring_forceps", TakingHand.WORKING, Grasp.PALM, Exchange.TWO_HANDS),
    ("wedge_remover", TakingHand.WORKING, Grasp.PALM, Exchange.TWO_HANDS),
    # C
    ("mouth_mirror", TakingHand.OTHER, Grasp.PEN, Exchange.ONE_HAND),
    ("amalgam_carrier", TakingHand.WORKING, Grasp.PALM_AND_THUMB, Exchange.ONE_HAND),
)


@pytest.mark.parametrize(("item_id", "hand", "grasp", "exchange"), PASSED)
def test_hand_grasp_and_exchange_are_those_of_the_trade(
    item_id: str, hand: TakingHand, grasp: Grasp, exchange: Exchange
) -> None:
    handing = PACK.item(item_id).handing
    assert handing and (handing.hand, handing.grasp, handing.exchange) == (hand, grasp, exchange)


@pytest.mark.parametrize("item", INSTRUMENTS, ids=lambda item: item.id)
def test_how_an_instrument_is_passed_stands_in_fields_and_no_note_says_it_again(item: Item) -> None:
    """C: the screen makes the sentence of hands, faces and height from the fields."""
    handing = item.handing
    assert handing is not None
    assert handing.exchange or handing.taken_by is not TakenBy.OPERATOR
    assert not re.search(r"to the operator\b(?! for)|toward the arch|over the chest", handing.note or "")
    if item.sharp and item.ends:
        assert handing.offered == "handle" and handing.faces is Facing.TEETH


def test_what_only_the_assistant_uses_is_not_passed() -> None:
    """C."""
    for item_id in (
        "cement_spatula",
        "mixing_pad",
        "glass_slab",
        "dappen_dish",
        "capsule_mixer",
        "amalgam_well",
    ):
        handing = PACK.item(item_id).handing
        assert handing and handing.taken_by is TakenBy.ASSISTANT, item_id
    mirror = PACK.item("hand_mirror").handing
    assert mirror and mirror.taken_by is TakenBy.PATIENT
