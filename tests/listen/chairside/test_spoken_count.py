"""Rows and kits counted aloud: what is proposed, and when nothing is."""

from __future__ import annotations

import pytest

from listen.chair import ChairOptions, open_chair
from listen.chairside.count import count_event, count_places
from listen.chairside.spoken_count import CountSaid, count_said
from listen.chairside.tray_state import fold
from tests.listen.chairside.chair_pack import in_order
from vocab.requests.lexicon import Lexicon

CHAIR = open_chair(ChairOptions(procedure="amalgam_class_two"))
STATE = fold((), CHAIR.tray, CHAIR.pack)
PLACES = count_places(STATE, CHAIR.pack, CHAIR.tray)
EXPECTED = {line.item: line.expected for place in PLACES for line in place.lines}


def said(text: str) -> CountSaid | None:
    return count_said(text, PLACES, CHAIR.lexicon)


@pytest.mark.parametrize(
    ("text", "places", "short"),
    [
        ("Far row complete.", ["far row"], {}),
        ("the near row is complete", ["near row"], {}),
        ("bur kit complete", ["Bur kit"], {}),
        ("Burs complete, one three-thirty missing.", ["Bur kit"], {"bur_330": 0}),
        ("dam kit complete but one clamp", ["Dam kit"], {"dam_clamp": 4}),
        ("the dam kit is all here except for the frame and one clamp", ["Dam kit"],
         {"dam_clamp": 4, "dam_frame": 0}),
        ("matrix kit complete, two wedges short", ["Matrix kit"], {"wedge": 2}),
        ("far row and near row all here", ["far row", "near row"], {}),
        ("cotton kit complete", ["Cotton kit"], {}),
        ("at the chair all complete", ["at the chair"], {}),
        ("okay the diamonds are all there", ["Diamond kit"], {}),
    ],
)  # fmt: skip
def test_a_row_or_a_kit_is_complete_but_for_what_is_named(
    text: str, places: list[str], short: dict[str, int]
) -> None:
    told = said(text)
    assert told is not None and list(told.places) == places
    here = {line.item for place in PLACES if place.name in places for line in place.lines}
    assert told.pieces == {item: EXPECTED[item] for item in here} | short


@pytest.mark.parametrize(
    "text",
    ["is the far row complete?", "the prep is complete", "mirror please", "complete", "the dam kit",
     "everything is complete", "the far row and the explorer complete", ""],
)  # fmt: skip
def test_what_counts_nothing(text: str) -> None:
    assert said(text) is None


@pytest.mark.parametrize(
    "text",
    [
        "burs complete, one round bur missing",
        "dam kit complete but the thing",
        "far row complete but one clamp",
    ],
)
def test_where_it_is_not_plain_what_is_missing_nothing_is_proposed(text: str) -> None:
    told = said(text)
    assert told is not None and told.pieces == {}


def test_what_was_counted_already_stays_unless_it_is_named() -> None:
    state = fold(in_order(count_event("bur_245", 0, 0.0)), CHAIR.tray, CHAIR.pack)
    places = count_places(state, CHAIR.pack, CHAIR.tray)
    told = count_said("burs complete", places, CHAIR.lexicon)
    assert told is not None and "bur_245" not in told.pieces and told.pieces["bur_330"] == 1
    named = count_said("burs complete, one 245 missing", places, CHAIR.lexicon)
    assert named is not None and named.pieces["bur_245"] == 0


def test_a_name_that_was_misheard_is_found_by_its_sound() -> None:
    apart = {("fire row", "far row"): 0.1, ("clump", "clamp"): 0.1}
    far = lambda one, other: apart.get((one, other), 0.9)  # noqa: E731
    told = count_said("fire row complete", PLACES, CHAIR.lexicon, far)
    assert told is not None and told.places == ("far row",)
    assert count_said("fire row complete", PLACES, CHAIR.lexicon) is None
    assert count_said("fine row complete", PLACES, CHAIR.lexicon, far) is None


def test_it_is_said_in_spanish_too() -> None:
    chair = open_chair(ChairOptions("operativa_es"))
    tray = chair.pack.trays[0]
    state = fold((), tray, chair.pack)
    places = count_places(state, chair.pack, tray)
    told = count_said("la fila del fondo completa", places, Lexicon(chair.pack))
    assert told is not None and told.places == ("fila del fondo",)


@pytest.mark.parametrize(
    ("text", "place", "item", "pieces"),
    [
        ("caja de dique completa, falta una grapa", "Caja de dique", "grapa", 4),
        ("la caja de dique está completa menos una ligadura", "Caja de dique", "ligadura_de_seda", 1),
        ("caja de base completa, faltan dos torundas", "Caja de base", "torunda", 4),
        ("caja de matrices completa excepto una cuña", "Caja de matrices", "cuna", 2),
        ("los diamantes están todos", "Caja de diamantes", "diamante_llama", 1),
        ("las fresas completas", "Caja de fresas", "fresa_557", 1),
    ],
)
def test_a_kit_is_counted_in_spanish(text: str, place: str, item: str, pieces: int) -> None:
    chair = open_chair(ChairOptions("operativa_es", procedure="amalgama"))
    places = count_places(fold((), chair.tray, chair.pack), chair.pack, chair.tray)
    told = count_said(text, places, Lexicon(chair.pack))
    assert told is not None and told.places == (place,) and told.pieces[item] == pieces
