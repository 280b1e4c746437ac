"""The Spanish pack says what the trade knows; the source of each fact stands beside it.

P: published. C: common practice, no source. M: numbers from memory of textbooks and catalogues.
"""

from __future__ import annotations

import re

import pytest

from listen.chairside.handing import handing_text
from listen.practice.facts import facts_beside
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Exchange, Grasp, Item, ItemClass, Reprocessing, Shank, TakenBy, Tray
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import understand

PACK = shipped_pack("operativa_es")
LEXICON = Lexicon(PACK)
FACTS = facts_beside("operativa_es", PACK)
ENGLISH = re.compile(r"\b(the|and|with|hand|handle|toward|never|tip|sharp|of|to|is|sutures?|gauze)\b", re.I)
items = pytest.mark.parametrize("item", PACK.items, ids=lambda item: item.id)


def meant(text: str) -> list[tuple[str, str | None]]:
    """The items and variants that a request for one thing may mean, likeliest first."""
    (request,) = understand(text, LEXICON, PACK.speech)
    assert request.kind == "item" and request.quantity is None
    return [(candidate.item, candidate.variant) for candidate in request.candidates]


# --- passing and sharps ---------------------------------------------------------------------------------


@items
def test_every_item_says_in_spanish_how_it_is_passed(item: Item) -> None:
    said = handing_text(item, "es")
    assert item.handing is not None and said, item.id
    told = " ".join([said, item.purpose, item.look, *item.cautions, *(c.tell for c in item.confused_with)])
    assert not ENGLISH.search(told), told


@items
def test_every_sharp_has_a_caution(item: Item) -> None:
    """C."""
    assert item.cautions or not item.sharp, item.id


@items
def test_anaesthesia_is_always_checked(item: Item) -> None:
    """C."""
    assert item.always_check == (item.item_class is ItemClass.ANAESTHESIA)


@pytest.mark.parametrize("item_id", ["aguja_corta", "aguja_larga", "jeringa_de_anestesia"])
def test_needles_are_recapped_with_one_hand(item_id: str) -> None:
    """P: OSHA 29 CFR 1910.1030(d)(2)(vii); CDC dental guidelines 2003."""
    said = handing_text(PACK.item(item_id), "es") or ""
    assert "Nunca se reencapucha con las dos manos" in said and "línea de visión del paciente" in said
    assert any("una sola mano" in caution for caution in PACK.item(item_id).cautions)


def test_nobody_looks_into_the_curing_light() -> None:
    """C."""
    said = " ".join(PACK.item("lampara_de_fotocurado").cautions)
    assert "Nadie mira a la luz" in said and "10 a 40 segundos" in said and "fabricante" in said


@pytest.mark.parametrize(
    ("item_id", "grasp", "exchange"),
    [
        # C
        ("explorador", Grasp.PEN, Exchange.ONE_HAND),
        ("portagrapas", Grasp.PALM, Exchange.TWO_HANDS),
        ("jeringa_de_anestesia", Grasp.PALM_AND_THUMB, Exchange.TWO_HANDS),
        ("pinza_para_cunas", Grasp.PALM, Exchange.ONE_HAND),
    ],
)
def test_grasp_and_exchange_are_those_of_the_trade(item_id: str, grasp: Grasp, exchange: Exchange) -> None:
    handing = PACK.item(item_id).handing
    assert handing is not None and (handing.grasp, handing.exchange) == (grasp, exchange)


def test_the_wide_side_of_the_band_faces_the_chewing_surface_in_both_arches() -> None:
    """C: wrong when said as "upward" only."""
    said = handing_text(PACK.item("portamatriz"), "es") or ""
    assert "hacia la cara oclusal: abajo en la arcada superior, arriba en la inferior" in said
    assert "la ranura hacia la encía" in said


def test_what_the_assistant_holds_is_not_passed() -> None:
    """C."""
    for item_id in ("canula_de_aspiracion", "eyector", "jeringa_triple"):
        handing = PACK.item(item_id).handing
        assert handing is not None and handing.taken_by is TakenBy.ASSISTANT, item_id


def test_the_handle_of_the_syringe_is_disinfected_and_its_tip_changed() -> None:
    """P: CDC dental guidelines 2003."""
    syringe = PACK.item("jeringa_triple")
    assert syringe.reprocessing is Reprocessing.BARRIER
    assert any("punta se cambia o se esteriliza" in caution for caution in syringe.cautions)


def test_motor_and_head_are_both_sterilised() -> None:
    """P: CDC statement on handpieces, 2018, from memory."""
    for item_id in ("turbina", "micromotor", "contraangulo"):
        assert PACK.item(item_id).reprocessing is Reprocessing.STERILISE, item_id


def test_a_straight_chisel_has_one_end() -> None:
    """C."""
    assert PACK.item("cincel").ends == 1


def test_round_burs_are_made_for_both_handpieces() -> None:
    """P: ISO 1797 (shanks)."""
    for item_id in ("fresa_redonda_2", "fresa_redonda_4"):
        shanks = [variant.shank for variant in PACK.item(item_id).variants]
        assert shanks == [Shank.FRICTION_GRIP, Shank.LATCH], item_id


def test_only_one_of_the_two_dams_holds_latex() -> None:
    """C; CDC on latex."""
    assert [item.id for item in PACK.items if item.latex] == ["dique"]
    assert {"dique", "dique_sin_latex"} in [set(pair) for pair in PACK.wide_margin]
    for item_id in ("dique", "dique_sin_latex"):
        assert any("alergia al látex" in caution for caution in PACK.item(item_id).cautions)


# --- names ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "item_id", "variant"),
    [
        # C
        ("micromotor", "micromotor", None),
        ("contraángulo", "contraangulo", None),
        ("dique con látex", "dique", None),
        ("dique sin látex", "dique_sin_latex", None),
        ("dique de nitrilo", "dique_sin_latex", None),
        ("pinza de papel", "pinza_de_papel", None),
        ("pinza de Miller", "pinza_de_papel", None),
        ("portacuñas", "pinza_para_cunas", None),
        ("guía de color", "guia_de_color", None),
        ("gafas del paciente", "gafas_del_paciente", None),
        ("gafas de protección", "gafas_de_proteccion", None),
        ("27 corta", "aguja_corta", "calibre 27"),
        ("aguja larga calibre treinta", "aguja_larga", "calibre 30"),
        ("sin epinefrina", "cartucho_simple", None),
        ("con adrenalina", "cartucho_con_vasoconstrictor", None),
        ("redonda dos de turbina", "fresa_redonda_2", "de turbina"),
        # M: clamp numbers
        ("grapa W8A", "grapa", "W8A"),
        ("clamp 212", "grapa", "212"),
    ],
)
def test_what_people_say_means_one_item(said: str, item_id: str, variant: str | None) -> None:
    assert meant(f"pásame {said}, por favor")[0] == (item_id, variant)


@pytest.mark.parametrize(
    ("said", "item_ids"),
    [
        # C
        ("dique", {"dique", "dique_sin_latex"}),
        ("dique de goma", {"dique", "dique_sin_latex"}),
        ("aguja", {"aguja_corta", "aguja_larga"}),
        ("calibre 27", {"aguja_corta", "aguja_larga"}),
        ("cartucho", {"cartucho_con_vasoconstrictor", "cartucho_simple"}),
        ("gafas", {"gafas_de_proteccion", "gafas_del_paciente"}),
    ],
)
def test_a_name_that_means_several_is_left_open(said: str, item_ids: set[str]) -> None:
    candidates = LEXICON.find(said)
    likeliest = candidates[0].p
    assert {c.item for c in candidates if c.p == pytest.approx(likeliest)} == item_ids
    assert likeliest <= 0.5


@pytest.mark.parametrize("said", ["aislamiento absoluto", "aspirador quirúrgico"])
def test_a_technique_or_another_instrument_is_no_name(said: str) -> None:
    """C: isolation is what the dam does; the surgical aspirator is the thin tube of surgery."""
    assert not LEXICON.is_name(said)


@pytest.mark.parametrize("said", ["luces", "un poco de luz aquí", "mesial", "distal"])
def test_what_is_on_no_tray_asks_for_nothing(said: str) -> None:
    """C: the overhead light and surfaces."""
    assert [r for r in understand(said, LEXICON, PACK.speech) if r.kind == "item"] == []


def test_the_words_of_an_accident_and_of_the_teacher_are_spanish() -> None:
    """C."""
    assert "me he pinchado" in PACK.speech.sharps_injury and "revisado" in PACK.speech.faculty_checked


def test_needles_and_cartridges_are_offered_in_pairs() -> None:
    """C."""
    assert PACK.offered_with("aguja_larga") == ("aguja_corta",)
    assert PACK.offered_with("cartucho_simple") == ("cartucho_con_vasoconstrictor",)


# --- trays, steps, facts --------------------------------------------------------------------------------


@pytest.mark.parametrize("tray", PACK.trays, ids=lambda tray: tray.id)
def test_easily_forgotten_items_lie_on_every_tray(tray: Tray) -> None:
    """C."""
    wanted = "micromotor contraangulo pinza_de_papel pinza_para_cunas gafas_del_paciente gafas_de_proteccion"
    assert [i for i in wanted.split() if tray.slot_of(i) is None] == []


def test_the_colour_is_chosen_before_the_dam() -> None:
    """C: a dried tooth looks lighter."""
    order = [step.id for step in PACK.procedure("resina").steps]
    assert order.index("elegir_color") < order.index("aislar")


def test_every_material_has_a_timer_of_its_own_and_none_a_time() -> None:
    """C: the times are the makers'."""
    timers = [timer for p in PACK.procedures for step in p.steps for timer in step.timers]
    assert {"grabado del esmalte", "grabado de la dentina", "mezcla de la amalgama"} <= set(timers)
    assert not any(re.search(r"\d", timer) for timer in timers)


@pytest.mark.parametrize(
    ("fact_id", "value", "source"),
    [
        ("manos_capuchon", "con una mano", "OSHA"),
        ("jeringa_despues", "se cambia o se esteriliza", "CDC"),
        ("latex_cuando", "antes de abrir el dique", "CDC"),
        ("centigrado", "3,6 grados", "Black"),
        ("ancho_recortador", "1 mm", "Black"),
        ("bola_2", "010", "de memoria"),
        ("bola_4", "014", "de memoria"),
        ("tamano_330", "008", "de memoria"),
        ("largo_corta", "de 20 a 25 mm", "de memoria"),
        ("tiempo_luz", "de 10 a 40 segundos", "práctica común"),
        ("recortador_distal_segundo", "de 90 a 100", "práctica común"),
    ],
)
def test_a_fact_holds_what_the_trade_knows_and_where_it_comes_from(
    fact_id: str, value: str, source: str
) -> None:
    fact = FACTS.fact(fact_id)
    assert fact.answer.text == value and source in fact.source


def test_facts_and_checklist_are_spanish() -> None:
    told = [text for f in FACTS.facts for text in (f.asks, f.answer.text, f.note or "")]
    for text in (*told, *(point.text for point in FACTS.checklist)):
        assert not ENGLISH.search(text), text
