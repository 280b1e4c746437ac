"""A procedure waits at a faculty check until a teacher has looked."""

from __future__ import annotations

import pytest

from listen.chairside.events import Event, EventError, EventKind
from listen.chairside.faculty import looked_event, open_checks, waiting_check
from listen.chairside.tray_state import TrayState, fold
from tests.listen.chairside.chair_pack import PACK, TRAY, at_chair, in_order
from vocab.pack.schema import Procedure, Step


def step(name: str, faculty: bool = False, optional: bool = False) -> Step:
    return Step(id=name, name=name, items={"mouth_mirror": 1.0}, faculty_check=faculty, optional=optional)


PROCEDURE = Procedure(
    id="drill",
    name="Drill",
    tray="composite",
    steps=(
        step("seat"),
        step("look_before", faculty=True),
        step("prepare"),
        step("look_between", faculty=True, optional=True),
        step("fill"),
        step("look_after", faculty=True),
    ),
)


def after(*events: Event) -> TrayState:
    return fold(in_order(*events), TRAY, PACK)


def waiting(at: str | None, *looked: str) -> str | None:
    found = waiting_check(PROCEDURE, after(*(at_chair(EventKind.STEP, about=one) for one in looked)), at)
    return found.id if found else None


def test_nothing_waits_before_the_first_check() -> None:
    assert waiting("seat") is None and waiting(None) is None and waiting("gone") is None


def test_a_check_waits_when_it_is_reached_and_when_it_was_passed_over() -> None:
    assert waiting("look_before") == "look_before"
    assert waiting("fill") == "look_before"


def test_once_faculty_has_looked_the_next_one_waits() -> None:
    assert waiting("fill", "look_before") is None
    assert waiting("look_after", "look_before") == "look_after"
    assert waiting("look_after", "look_before", "look_after") is None


def test_an_optional_check_waits_only_while_it_is_the_present_step() -> None:
    assert waiting("look_between", "look_before") == "look_between"
    assert waiting("fill", "look_before") is None


def test_what_nobody_has_looked_at_stays_open() -> None:
    looked = at_chair(EventKind.STEP, about="look_before")
    assert [s.id for s in open_checks(PROCEDURE, after(looked))] == ["look_between", "look_after"]
    taken_back = after(looked, at_chair(EventKind.CORRECTED, corrects=1))
    assert [s.id for s in open_checks(PROCEDURE, taken_back)][0] == "look_before"
    assert open_checks(None, after()) == () and waiting_check(None, after(), "seat") is None


def test_who_looked_may_be_named_and_need_not() -> None:
    check = PROCEDURE.steps[1]
    assert looked_event(check, 5.0).by is None
    named = looked_event(check, 5.0, by="Prof. Brown")
    assert (named.kind, named.about, named.by) == (EventKind.STEP, "look_before", "Prof. Brown")
    with pytest.raises(EventError):
        looked_event(check, 5.0, by="Prof. Brown\nand others")
