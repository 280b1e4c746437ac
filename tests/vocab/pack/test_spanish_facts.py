"""The Spanish pack says what the trade knows; the source of each fact stands beside it.

P: published. C: common practice, no source. M: numbers from memory of textbooks and catalogues.
"""

from __future__ import annotations

import re

import pytest

from listen.chairside.handing import handing_text
from listen.practice.facts import facts_beside
from vocab.pack.load import shipped_pack
from vocab.pack.schema import (
    Exchange,
    Grasp,
    Item,
    ItemClass,
    Procedure,
    Reprocessing,
    Shank,
    TakenBy,
    Tray,
)
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
    for item_id in ("fresa_redonda_2", "fresa_redonda_4", "fresa_redonda_6", "fresa_redonda_8"):
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
        # C: both sides of the Atlantic
        ("composite", "resina_compuesta", None),
        ("resina", "resina_compuesta", None),
        ("resina A2", "resina_compuesta", "A2"),
        ("resina bulk", "resina_en_bloque", None),
        ("resina flow", "resina_fluida", None),
        ("pieza de alta", "turbina", None),
        ("aspirador de saliva", "eyector", None),
        ("suctor", "eyector", None),
        ("eyector de alta", "canula_de_aspiracion", None),
        ("atacador", "condensador", None),
        ("condensador grande", "condensador", "grande"),
        ("papel articular", "papel_de_articular", None),
        ("flama", "diamante_llama", None),
        ("piedra de diamante en flama", "diamante_llama", None),
        ("punta de lápiz", "diamante_aguja", None),
        ("clamp", "grapa", None),
        ("grampa", "grapa", None),
        ("hilo doble cero", "hilo_retractor", "00"),
        ("seda", "seda_dental", None),
        ("hilo dental", "seda_dental", None),
        ("primer", "imprimador", None),
        ("sellante", "sellador", None),
        ("escobilla", "cepillo_de_profilaxis", None),
        ("copa de hule", "copa_de_goma", None),
        ("barbijo", "mascarilla", None),
        ("cubrebocas", "mascarilla", None),
        ("cotonete", "hisopo", None),
        ("bastoncillo", "hisopo", None),
        ("bolita de algodón", "torunda", None),
        ("acetato", "tira_transparente", None),
        ("corona de celuloide", "corona_transparente", None),
        ("cola de castor", "brunidor_cola_de_castor", None),
        ("esculpidor", "tallador_hollenback", None),
        ("provisorio", "obturacion_provisional", None),
        ("guantes talla M", "guantes", "talla M"),
        ("disco grueso", "disco_de_pulir", "grueso"),
        # M: numbers of burs and explorers
        ("la quinientos cincuenta y siete", "fresa_557", None),
        ("la cincuenta y siete", "fresa_57", None),
        ("treinta y tres y medio", "fresa_cono_invertido", None),
        ("redonda un cuarto", "fresa_redonda_cuarto", None),
        ("redonda ocho", "fresa_redonda_8", None),
        ("redonda cuatro en el contraángulo", "fresa_redonda_4", "de contraángulo"),
        ("explorador diecisiete veintitrés", "explorador_17_23", None),
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
        # C: in Spain the explorer, in America the periodontal probe
        ("sonda", {"explorador", "sonda_periodontal"}),
        # C: in America the cheek retractor, in Spain the bite block
        ("abrebocas", {"separador_de_mejilla", "bloque_de_mordida"}),
        ("hilo", {"seda_dental", "hilo_retractor"}),
        ("tira", {"tira_transparente", "tira_de_pulir"}),
        ("alta", {"turbina", "canula_de_aspiracion"}),
        ("provisional", {"obturacion_provisional", "cemento_provisional"}),
        ("recortador de margen", {"recortador_mesial", "recortador_distal"}),
        ("goma de pulir", {"punta_de_goma", "copa_de_goma"}),
        ("redonda grande", {"fresa_redonda_4", "fresa_redonda_6", "fresa_redonda_8"}),
        (
            "bruñidor",
            {"brunidor", "brunidor_de_huevo", "brunidor_de_bellota", "brunidor_cola_de_castor"},
        ),
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


@pytest.mark.parametrize(
    ("said", "item_id"),
    [
        ("páseme la turbina", "turbina"),
        ("alcanceme los rollos", "rollo_de_algodon"),
        ("me regala una gasa", "gasa"),
        ("¿me presta el portagrapas?", "portagrapas"),
        ("necesitamos otra torunda", "torunda"),
        ("un poquito más de fluida, por favor", "resina_fluida"),
        ("vamos a usar la 330 en la turbina", "fresa_330"),
    ],
)
def test_it_is_asked_for_in_the_manner_of_each_country(said: str, item_id: str) -> None:
    """C: tú, vos and usted; accents are often left out when typed."""
    assert meant(said)[0][0] == item_id


@pytest.mark.parametrize(
    ("said", "action"),
    [
        ("lave", "rinse"),
        ("séqueme", "dry"),
        ("aspireme", "suction"),
        ("dale luz", "cure"),
        ("mézclame el ionómero", "mix"),
        ("cargue el portaamalgama", "load"),
        ("me separas la mejilla", "retract"),
        ("límpialo", "wipe"),
    ],
)
def test_what_is_to_be_done_is_no_item(said: str, action: str) -> None:
    """C."""
    (request,) = understand(said, LEXICON, PACK.speech)
    assert (request.kind, request.action) == ("action", action)


def test_it_can_be_said_of_the_other_end_of_an_instrument() -> None:
    """C."""
    (request,) = understand("dame el otro lado del discoide", LEXICON, PACK.speech)
    assert request.end == "other" and request.candidates[0].item == "discoide_cleoide"


@pytest.mark.parametrize("said", ["luces", "un poco de luz aquí", "mesial", "distal", "listo", "muerda"])
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


def lacking(tray: Tray, wanted: str) -> list[str]:
    return [item for item in wanted.split() if tray.slot_of(item) is None]


@pytest.mark.parametrize("tray", PACK.trays, ids=lambda tray: tray.id)
def test_easily_forgotten_items_lie_on_every_tray(tray: Tray) -> None:
    """C."""
    assert lacking(tray, "gafas_del_paciente gafas_de_proteccion guantes mascarilla babero gasa") == []
    if tray.slot_of("turbina"):
        assert lacking(tray, "micromotor contraangulo pinza_de_papel") == []
    if tray.slot_of("cuna") and tray.slot_of("turbina"):
        assert lacking(tray, "pinza_para_cunas") == []
    if tray.slot_of("lampara_de_fotocurado"):
        assert lacking(tray, "protector_naranja") == []
    if tray.slot_of("aguja_corta"):
        assert lacking(tray, "contenedor_de_punzantes reencapuchador hisopo anestesia_topica") == []


# C; cavity classes are Black's
@pytest.mark.parametrize(
    ("tray_id", "own", "absent"),
    [
        (
            "examen",
            "sonda_de_furca explorador_17_23 separador_de_mejilla",
            "turbina aguja_corta acido_grabador",
        ),
        ("colocacion_de_dique", "perforador_de_dique plantilla_de_dique ligadura_de_seda", "turbina"),
        ("amalgama_clase_uno", "brunidor_de_huevo vibrador pocillo_de_amalgama", "matriz acido_grabador"),
        ("amalgama", "portamatriz matriz recortador_mesial tallador_interproximal grapa", "acido_grabador"),
        ("resina_clase_uno", "resina_en_bloque diamante_balon", "matriz tira_transparente"),
        ("resina", "matriz_seccional anillo_seccional pinza_para_anillos matriz", "tira_transparente"),
        ("resina_clase_tres", "tira_transparente cincel_curvo fresa_redonda_medio", "matriz_seccional"),
        ("resina_clase_cuatro", "corona_transparente tijera guia_de_color", "matriz_seccional"),
        ("resina_clase_cinco", "hilo_retractor empacador_de_hilo formador_de_angulos", "cuna matriz"),
        ("sellador", "sellador cepillo_de_profilaxis absorbente_de_mejilla", "aguja_corta matriz"),
        ("restauracion_provisional", "obturacion_provisional espatula_de_cemento", "acido_grabador"),
    ],
)
def test_a_tray_holds_what_its_procedure_needs(tray_id: str, own: str, absent: str) -> None:
    tray = PACK.tray(tray_id)
    assert lacking(tray, own) == [] and lacking(tray, absent) == absent.split()


def test_each_tray_is_short_and_serves_the_procedure_of_its_name() -> None:
    """C: what is laid in two rows, without the kits."""
    assert [p.tray for p in PACK.procedures] == [p.id for p in PACK.procedures]
    assert {p.id for p in PACK.procedures} == {tray.id for tray in PACK.trays}
    for tray in PACK.trays:
        assert len(tray.rows) == 2 and 10 <= sum(len(row.slots) for row in tray.rows) <= 20, tray.id


@pytest.mark.parametrize(
    ("tray_id", "item_id", "at"),
    [
        ("resina", "cucharilla", "5"),
        ("resina", "papel_de_articular", "11"),
        ("resina", "acido_grabador", "caja de adhesión 1"),
        ("resina", "fresa_redonda_4", "caja de fresas 4"),
        ("amalgama", "tallador_hollenback", "13"),
        ("amalgama", "cuna", "caja de matrices 3"),
        ("amalgama", "lampara_de_fotocurado", "soporte de luz"),
    ],
)
def test_an_address_that_clinics_know_is_kept(tray_id: str, item_id: str, at: str) -> None:
    assert PACK.tray(tray_id).slot_of(item_id) == at


@pytest.mark.parametrize("procedure", PACK.procedures, ids=lambda p: p.id)
def test_steps_come_in_the_order_of_the_trade(procedure: Procedure) -> None:
    """C: shade before the dam, anaesthesia before it, etch, rinse, bond, light; the wedge comes out and is
    counted before polishing, the dam goes before the bite is marked."""
    order = [step.id for step in procedure.steps]
    for first, then in (
        ("elegir_color", "aislar"),
        ("topica", "anestesiar"),
        ("anestesiar", "aislar"),
        ("anestesiar", "tallar"),
        ("aislar", "tallar"),
        ("marcar_antes", "tallar"),
        ("tallar", "revisar"),
        ("revisar", "proteger"),
        ("proteger", "grabar"),
        ("grabar", "lavar"),
        ("lavar", "adherir"),
        ("adherir", "curar_adhesivo"),
        ("curar_adhesivo", "obturar"),
        ("obturar", "acabar"),
        ("matriz", "condensar"),
        ("mezclar", "condensar"),
        ("condensar", "tallar_anatomia"),
        ("quitar_matriz", "quitar_dique"),
        ("quitar_dique", "ajustar"),
        ("ajustar", "revisar_final"),
    ):
        if first in order and then in order:
            assert order.index(first) < order.index(then), (first, then)
    assert any(step.faculty_check for step in procedure.steps)


def test_a_look_alike_tells_it_both_ways() -> None:
    told = {(item.id, other.item) for item in PACK.items for other in item.confused_with}
    assert {(b, a) for a, b in told} == told


COUNTED = (
    "torunda hilo_retractor cuna grapa ligadura_de_seda anillo_seccional matriz_seccional "
    "corona_transparente disco_de_pulir bloque_de_mordida absorbente_de_mejilla tira_transparente"
)


@pytest.mark.parametrize("item_id", COUNTED.split())
def test_what_may_stay_in_the_mouth_is_counted(item_id: str) -> None:
    """C; CDC on swallowed parts, from memory."""
    assert PACK.item(item_id).counted


@pytest.mark.parametrize(
    "item_id",
    [item.id for item in PACK.items if item.item_class in (ItemClass.HAND_CUTTING, ItemClass.BUR)],
)
def test_what_cuts_is_a_sharp(item_id: str) -> None:
    """C."""
    assert PACK.item(item_id).sharp or item_id == "fresero"


def test_the_colour_is_chosen_before_the_dam() -> None:
    """C: a dried tooth looks lighter."""
    order = [step.id for step in PACK.procedure("resina").steps]
    assert order.index("elegir_color") < order.index("aislar")


def test_every_material_has_a_timer_of_its_own_and_none_a_time() -> None:
    """C: the times are the makers'."""
    timers = [timer for p in PACK.procedures for step in p.steps for timer in step.timers]
    assert {"grabado del esmalte", "grabado de la dentina", "mezcla de la amalgama"} <= set(timers)
    assert {"grabado para el sellador", "fotocurado del sellador", "anestésico tópico"} <= set(timers)
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
        ("unidad_fresa", "décimas de milímetro", "ISO 2157"),
        ("bola_cuarto", "005", "ISO 2157"),
        ("bola_medio", "006", "ISO 2157"),
        ("bola_6", "018", "ISO 2157"),
        ("bola_8", "023", "ISO 2157"),
        ("tamano_557", "010", "ISO 2157"),
        ("tamano_56", "009", "ISO 2157"),
        ("tamano_cono", "006", "ISO 2157"),
        ("banda_grano", "roja", "ISO 6360"),
        ("banda_grueso", "verde", "ISO 6360"),
        ("diente_36", "primer molar inferior izquierdo", "ISO 3950"),
        ("cuadrante_1", "superior derecho", "ISO 3950"),
        ("clase_dos", "clase II", "Black"),
        ("clase_cuatro", "clase IV", "Black"),
        ("clase_cinco", "clase V", "Black"),
        ("largo_recortador", "8 mm", "Black"),
        ("motor_esteril", "se limpia y se esteriliza con calor", "CDC"),
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


def test_there_is_enough_to_practise_and_to_watch() -> None:
    assert len(FACTS.facts) >= 25 and len(FACTS.checklist) >= 17
    groups = {point.group for point in FACTS.checklist if point.must}
    assert groups == {"passing", "count", "sharps"}


# ISO 6360 (heads of burs in tenths of a millimetre): 010 is 1.0 mm.
@pytest.mark.parametrize(
    ("item_id", "size"),
    [("fresa_redonda_2", "010"), ("fresa_redonda_8", "023"), ("fresa_56", "009"), ("fresa_557", "010")],
)
def test_the_look_of_a_bur_tells_its_iso_size(item_id: str, size: str) -> None:
    assert f"ISO {size}" in PACK.item(item_id).look
