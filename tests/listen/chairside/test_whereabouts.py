"""What is known of where an item is in a sentence, and which corrections are offered first."""

from __future__ import annotations

import pytest

from listen.chairside.events import EventKind
from listen.chairside.session import TOUCHES
from listen.chairside.tray_state import Holding
from listen.chairside.whereabouts import (
    CORRECTIONS,
    NOT_ASKED,
    REQUEST,
    UNTOUCHED,
    likely_corrections,
    whereabouts,
)

HOLDINGS = [
    Holding(),
    Holding(clean=2),
    Holding(out=1, presumed=1),
    Holding(out=3, clean=1),
    Holding(out=1, in_mouth=1),
    Holding(back=1),
    Holding(back=1, to_wipe=1),
    Holding(dropped=1, to_replace=1),
    Holding(broken=1),
    Holding(used_up=2),
]


@pytest.mark.parametrize(
    ("held", "sentence"),
    [
        (Holding(), UNTOUCHED),
        (Holding(out=1, presumed=1), "Noted as asked for and not given back."),
        (Holding(out=1), "Noted as passed and not given back."),
        (Holding(out=1, in_mouth=1), "Noted as in the mouth."),
        (Holding(back=1, to_wipe=1), "Noted as given back, to be wiped."),
        (
            Holding(clean=3, out=2, presumed=1, dropped=1),
            "Noted, of 6: 1 passed and not given back; 1 asked for and not given back; 1 fallen; 3 in place.",
        ),
    ],
)
def test_where_it_is_is_one_sentence(held: Holding, sentence: str) -> None:
    assert whereabouts(held) == sentence


@pytest.mark.parametrize("held", HOLDINGS)
@pytest.mark.parametrize("asked", [True, False])
def test_two_or_three_corrections_come_first(held: Holding, asked: bool) -> None:
    likely = likely_corrections(held, asked)
    assert 2 <= len(likely) <= 3
    assert len({(one.kind, one.quantity) for one in likely}) == len(likely)
    assert {one.kind for one in likely} <= {one.kind for one in CORRECTIONS}
    assert (NOT_ASKED in {one.kind for one in likely}) == (asked and held.out > 0)


def test_what_is_out_is_most_likely_back() -> None:
    one = likely_corrections(Holding(out=1, presumed=1), True)
    assert [correction.kind for correction in one] == [EventKind.RETURNED, EventKind.DROPPED, NOT_ASKED]
    several = likely_corrections(Holding(out=3, clean=1), True)
    assert [(c.kind, c.quantity) for c in several[:2]] == [(EventKind.RETURNED, 3), (EventKind.RETURNED, 1)]
    assert "3" in several[0].words
    mouth = likely_corrections(Holding(out=1, in_mouth=1), False)
    assert mouth[0].kind is EventKind.OUT_OF_MOUTH


def test_every_correction_can_be_recorded() -> None:
    assert {one.kind for one in CORRECTIONS} == {REQUEST, NOT_ASKED, *TOUCHES}
