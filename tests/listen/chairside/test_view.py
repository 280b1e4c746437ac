"""How an answer is shown in every kind of screen; a whole session is in `test_session`."""

from __future__ import annotations

import pytest

from listen.answer import Answer
from listen.chairside.handing import CHECKED_FIRST
from listen.chairside.view import get_ready, headline, likely_at, place_name, wait_line, with_place
from tests.listen.chairside.chair_pack import PACK, TRAY
from vocab.pack.load import shipped_pack


def test_get_ready_names_the_likely_ones_with_their_place() -> None:
    expected = [("wedge", 0.6), ("curing_light", 0.3), ("etchant", 0.29)]
    assert get_ready(expected, PACK, TRAY) == "Get ready: wedge (slot 7), curing light (light holder)."
    assert get_ready([("wedge", 0.1)], PACK, TRAY) is None


def test_what_is_always_checked_is_expected_without_its_place() -> None:
    needle = PACK.item("needle_long")
    assert likely_at(needle, TRAY) == CHECKED_FIRST
    assert with_place(needle, TRAY) == f"long needle ({CHECKED_FIRST})"
    assert get_ready([("needle_long", 0.9)], PACK, TRAY) == f"Get ready: long needle ({CHECKED_FIRST})."
    assert with_place(PACK.item("wedge"), TRAY) == "wedge (7)"
    assert with_place(PACK.item("wedge"), None) == "wedge"


@pytest.mark.parametrize(
    ("at", "said"), [("5", "slot 5"), ("1 2", "slot 1 2"), ("light holder", "light holder"), (None, "")]
)
def test_a_place_in_words(at: str | None, said: str) -> None:
    assert place_name(at) == said


@pytest.mark.parametrize(
    ("asked", "line"),
    [
        (Answer(item="dam_clamp", name="dam clamp", size="W8A"), "dam clamp W8A"),
        (Answer(item="dam_clamp", name="dam clamp", size="smaller"), "dam clamp - smaller size"),
        (Answer(item="cotton_roll", name="cotton roll", quantity=2), "2 x cotton roll"),
        (Answer(item="spoon_excavator", name="spoon excavator", end="other"), "spoon excavator - other end"),
        (Answer(item="amalgam_carrier", name="amalgam carrier", action="load"), "load: amalgam carrier"),
        (Answer(action="turn_off"), "turn off"),
        (Answer(end="other"), "other end"),
    ],
)
def test_the_headline_says_all_that_was_asked_for(asked: Answer, line: str) -> None:
    assert headline(asked, shipped_pack()) == line


def test_what_is_not_wanted_is_named() -> None:
    assert wait_line(["etchant", "wedge"]) == "WAIT: not the etchant, wedge"
    assert wait_line([]) == "WAIT"
