"""Typed requests with a reason behind them or misspelled; common practice, no source."""

from __future__ import annotations

import pytest

from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon
from vocab.requests.sentence import Asked
from vocab.requests.typed_request import MOST_WORDS, TypedRequests

PACK = shipped_pack("oral_surgery")
LEXICON = Lexicon(PACK)


TYPED = TypedRequests(LEXICON, PACK.speech)


def read(text: str) -> Asked:
    return TYPED.read(text)


def items(text: str) -> list[str]:
    return [candidate.item for request in read(text).requests for candidate in request.candidates]


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("twelve blade, back of the tuberosity", "scalpel_blade_12"),
        ("four by fours, moist, for the throat", "gauze_square"),
        ("Penrose drain - quarter inch", "penrose_drain"),
        ("rongeur for that sharp bit", "bone_rongeur"),
        ("yankeur", "yankauer_suction"),
        ("gelitin sponge", "haemostatic_sponge"),
        ("perioosteal elevator pls", "periosteal_elevator"),
        ("needle holder plz", "needle_holder"),
        ("she's oozing at the distal, so gauze", "gauze_square"),
        ("this ridge is sharp, the rongeur please", "bone_rongeur"),
        ("need the rongeur for that sharp bit", "bone_rongeur"),
    ],
)
def test_a_reason_or_a_misspelling_does_not_hide_the_name(text: str, item: str) -> None:
    assert items(text)[0] == item


def test_what_is_nearly_a_name_is_never_sure() -> None:
    asked = read("yankeur")
    assert sum(candidate.p for candidate in asked.requests[0].candidates) < 0.9


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("something to smooth this bone", "bone_file"),
        ("that thing for holding the tongue back", "tongue_retractor"),
        ("jar for the specimen", "specimen_jar"),
        ("seventy-four", "miller_elevator"),
        ("eleven, gonna lance this", "scalpel_blade_11"),
    ],
)
def test_a_description_or_a_mere_number_is_offered_and_never_sure(text: str, item: str) -> None:
    (request,) = read(text).requests
    assert item in [candidate.item for candidate in request.candidates[:3]]
    assert sum(candidate.p for candidate in request.candidates) <= 0.81


def test_what_a_thing_is_for_is_not_asked_for() -> None:
    for_another = Asked((*read("gauze plz").requests, *read("rongeur plz").requests), 0.97)
    assert [r.heard for r in TYPED.read("some gauze for the rongeur", for_another).requests] == ["gauze"]


def test_a_typed_sentence_is_likelier_to_ask_and_then_asked_about() -> None:
    free = Asked(read("rongeur plz").requests, 0.6)
    raised = TYPED.read("hmm you could well leave me that rongeur", free)
    assert raised.requests == free.requests and 0.75 < raised.p <= 0.85


def test_spanish_texts_are_read_with_spanish_words() -> None:
    pack = shipped_pack("operativa_es")
    typed = TypedRequests(Lexicon(pack), pack.speech)
    for text in ("cuña para la caja mesial", "sangra mucho, así que el hilo retractor", "hilo retractor pf"):
        asked = typed.read(text)
        assert asked.requests and asked.p >= 0.8, text
    assert not typed.read("no se usa cuña, entonces nada").requests


@pytest.mark.parametrize(
    "text",
    [
        "periosteal elevator, which was blunt yesterday",
        "bite block, not yet",
        "it's nearly lunch",
        "who left that there",
        "the rongeur in the second drawer",
        "sutures",
        "we never use gauze, so no rongeur",
        "you'll feel something cold",
        "this stuff tastes awful",
        "",
        " ".join(["rongeur,", *["because"] * MOST_WORDS]),
    ],
)
def test_what_tells_of_a_thing_or_of_nothing_asks_for_nothing(text: str) -> None:
    asked = read(text)
    assert not asked.requests or asked.p < 0.5 or text == "sutures", text
