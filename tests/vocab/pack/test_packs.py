"""Every shipped pack is whole, and nothing is wired to one field or language.

What is asked for in which words is common practice, no source; Spanish number words are general knowledge.
"""

from __future__ import annotations

import pytest

from vocab.language import spanish
from vocab.pack.load import shipped_names, shipped_pack
from vocab.pack.schema import ItemClass, Pack
from vocab.procedure.model import ProcedureModel
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import understand

PACKS = {name: shipped_pack(name) for name in shipped_names()}
LEXICONS = {name: Lexicon(pack) for name, pack in PACKS.items()}
OTHERS = sorted(set(PACKS) - {"operative"})
NO_DRUG = {"recapping_device", "cotton_tip_applicator"}
"""What lies with anaesthesia and holds none."""


def asked(name: str, text: str) -> list[str]:
    """What an utterance asks for, one word or id each."""
    requests = understand(text, LEXICONS[name], PACKS[name].speech)
    return [f"{r.kind}:{r.action or (r.candidates[0].item if r.candidates else '')}" for r in requests]


def offered(name: str, text: str) -> set[str]:
    """The items that an utterance with one request may mean."""
    (request,) = understand(text, LEXICONS[name], PACKS[name].speech)
    return {candidate.item for candidate in request.candidates}


def test_the_packs_that_come_with_the_tool() -> None:
    assert set(PACKS) == {
        "appearance",
        "children",
        "crowns",
        "dentures",
        "diagnosis",
        "endodontics",
        "hygiene",
        "operativa_es",
        "operative",
        "oral_surgery",
    }
    assert {pack.language for pack in PACKS.values()} == {"en", "es"}


@pytest.mark.parametrize("name", OTHERS)
def test_every_pack_has_forty_items_with_trays_and_two_procedures(name: str) -> None:
    pack = PACKS[name]
    assert pack.id == name
    assert len(pack.items) >= 40 and len(pack.trays) >= 2 and len(pack.procedures) >= 2
    used = {slot.item for tray in pack.trays for slot in tray.slots}
    assert {item.id for item in pack.items} - used == set(), "an item that no tray holds is never taught"


@pytest.mark.parametrize("name", OTHERS)
def test_everything_of_a_tray_is_asked_for_in_some_procedure(name: str) -> None:
    pack = PACKS[name]
    asked_for = {i for p in pack.procedures for step in p.steps for i in step.items}
    asked_for |= {i for p in pack.procedures for i in p.any_time}
    laid = {slot.item for tray in pack.trays for slot in tray.slots}
    assert laid - asked_for == set()


@pytest.mark.parametrize("name", PACKS)
def test_anaesthesia_is_always_checked(name: str) -> None:
    for item in PACKS[name].items:
        if item.item_class is ItemClass.ANAESTHESIA and item.id not in NO_DRUG:
            assert item.always_check, item.id


@pytest.mark.parametrize("name", PACKS)
def test_a_wide_margin_pair_has_a_look_alike_note(name: str) -> None:
    pack = PACKS[name]
    notes = {frozenset((item.id, c.item)) for item in pack.items for c in item.confused_with}
    assert [pair for pair in pack.wide_margin if frozenset(pair) not in notes] == []


@pytest.mark.parametrize("name", OTHERS)
def test_every_name_is_understood_with_a_cue_and_an_ending(name: str) -> None:
    pack = PACKS[name]
    cue, ending = ("pásame", "por favor") if pack.language == "es" else ("hand me the", "please")
    for item in pack.items:
        for synonym in item.names:
            for text in (f"{cue} {synonym.text} {ending}", synonym.text):
                if synonym.shared:
                    assert item.id in offered(name, text), text
                else:
                    assert asked(name, text) == [f"item:{item.id}"], text


@pytest.mark.parametrize("name", OTHERS)
def test_a_name_that_several_items_share_decides_for_none_of_them(name: str) -> None:
    for text in {n.text for item in PACKS[name].items for n in item.names if n.shared}:
        candidates = LEXICONS[name].find(text)
        assert len(candidates) > 1 and candidates[0].p <= 0.5, text


@pytest.mark.parametrize("name", OTHERS)
def test_a_variant_that_was_said_is_kept_and_is_never_a_quantity(name: str) -> None:
    for item in PACKS[name].items:
        for synonym, variant in item.variant_name_pairs:
            (request,) = understand(synonym.text, LEXICONS[name], PACKS[name].speech)
            assert request.quantity is None, synonym.text
            assert (item.id, variant) in {(c.item, c.variant) for c in request.candidates}, synonym.text


@pytest.mark.parametrize("name", OTHERS)
def test_every_procedure_can_be_followed(name: str) -> None:
    model = ProcedureModel(PACKS[name])
    belief = model.start()
    procedure = PACKS[name].procedures[0]
    for step in procedure.steps[:5]:
        belief = model.after(belief, max(step.items, key=lambda item: step.items[item]))
    assert model.likely_step(belief)[0] == procedure.id


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("the 301 please", ["item:straight_elevator"]),
        ("34S", ["item:straight_elevator_large"]),
        ("one fifty one", ["item:lower_universal_forceps"]),
        ("the one fifty", ["item:upper_universal_forceps"]),
        ("no, the left Cryer", ["correction:triangular_elevator_left"]),
        ("irrigate", ["action:rinse"]),
        ("cut the suture", ["action:cut"]),
        ("four oh silk and Dean scissors please", ["item:suture_silk", "item:suture_scissors"]),
        ("does that hurt at all", []),
    ],
)
def test_surgery_is_understood(text: str, wanted: list[str]) -> None:
    assert asked("oral_surgery", text) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("upper rim and the Fox plane please", ["item:wax_rim", "item:fox_plane"]),
        ("no, the lower try-in", ["correction:trial_denture"]),
        ("more PIP", ["item:pressure_indicating_paste"]),
        ("hold the adhesive", ["refusal:"]),
        ("are you comfortable with that", []),
    ],
)
def test_denture_work_is_understood(text: str, wanted: list[str]) -> None:
    assert asked("dentures", text) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("etch and then the bond", ["item:etchant", "item:bonding_agent"]),
        ("desensitizing gel and vitamin E", ["item:desensitising_gel", "item:vitamin_e_oil"]),
        ("no, the template", ["correction:attachment_template"]),
        ("no more bleach", ["refusal:"]),
        ("you will love the result", []),
    ],
)
def test_whitening_and_aligners_are_understood(text: str, wanted: list[str]) -> None:
    assert asked("appearance", text) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Pásame el espejo, por favor.", ["item:espejo_bucal"]),
        ("pasame la espatula", ["item:espatula_de_resina"]),
        ("dame tres cuñas", ["item:cuna"]),
        ("los algodones", ["item:rollo_de_algodon"]),
        ("fresa trescientos treinta", ["item:fresa_330"]),
        ("la tres treinta", ["item:fresa_330"]),
        ("la doscientos cuarenta y cinco", ["item:fresa_245"]),
        ("la redonda cuatro", ["item:fresa_redonda_4"]),
        ("tres en uno", ["item:jeringa_triple"]),
        ("el ácido y el adhesivo", ["item:acido_grabador", "item:adhesivo"]),
        ("no, la fluida", ["correction:resina_fluida"]),
        ("todavía no", ["refusal:"]),
        ("ten esto", ["action:take_back"]),
        ("aspira aquí", ["action:suction"]),
        ("el paciente espera fuera", []),
        ("mañana a las tres", []),
        ("me duele la muela", []),
    ],
)
def test_spanish_is_understood_as_text(text: str, wanted: list[str]) -> None:
    assert asked("operativa_es", text) == wanted


@pytest.mark.parametrize(
    ("said", "digits"),
    [
        ("dos", "2"),
        ("uno", "uno"),
        ("dieciséis", "16"),
        ("veintidós", "22"),
        ("treinta y tres", "33"),
        ("treinta, y tres", "30, y 3"),
        ("cien", "100"),
        ("ciento uno", "100 uno"),
        ("quinientos cincuenta y siete", "557"),
        ("doscientos cuarenta y cinco", "245"),
        ("fresa redonda cuatro y dos gasas", "fresa redonda 4 y 2 gasas"),
        ("veinte y pico", "20 y pico"),
        ("", ""),
    ],
)
def test_spanish_number_words_become_digits(said: str, digits: str) -> None:
    assert spanish.with_digits(said) == digits


@pytest.mark.parametrize(
    ("one", "many"),
    [
        ("algodón", "algodones"),
        ("papel", "papeles"),
        ("luz", "luces"),
        ("dique", "diques"),
        ("base", "bases"),
        ("pinza", "pinzas"),
        ("eyector", "eyectores"),
        ("clamp", "clamps"),
        ("cuña", "cunas"),
    ],
)
def test_spanish_singular_and_plural_are_one_word(one: str, many: str) -> None:
    assert spanish.stem(one) == spanish.stem(many)


def test_spanish_words_do_not_reach_english_packs() -> None:
    pack: Pack = PACKS["operative"]
    assert pack.language == "en"
    assert not LEXICONS["operative"].is_name("trescientos treinta")
