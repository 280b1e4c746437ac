"""Typed and heard words have one meaning, by one way, and finding it changes nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from listen.answer import Answer, Likely
from listen.chairside.events import EventKind, Source
from listen.chairside.meaning import (
    Chosen,
    Happened,
    LabelRead,
    Meaning,
    Nothing,
    Scene,
    TeacherLooked,
    TimerSaid,
    Wanted,
    interpret,
)
from listen.chairside.spoken_count import CountSaid
from listen.chairside.stage import Check
from listen.chairside.timers import TimerAct
from listen.chairside.tray_state import fold
from listen.readings import Reader
from listen.verdict import Verdict
from tests.listen.chairside.chair_pack import at_chair, in_order
from tests.listen.web.desk_app import hearing_of, shared_chair

CHAIR = shared_chair()
OUT = ("cotton_pliers", "mouth_mirror")
STATE = fold(in_order(*(at_chair(EventKind.ASKED, item) for item in OUT)), CHAIR.tray, CHAIR.pack)
SCENE = Scene(CHAIR, Reader(CHAIR.pack, CHAIR.lexicon, CHAIR.calibration), STATE, {}, None, False, 100.0)
WHICH = Answer(
    kind="item",
    verdict=Verdict.CHECK,
    item="ball_burnisher",
    p=0.5,
    alternatives=(Likely("acorn_burnisher", 0.4),),
)
ASKED_BACK = replace(SCENE, check=Check.of(WHICH, (), CHAIR.pack, False))


def both(text: str, scene: Scene = SCENE) -> tuple[Meaning, Meaning]:
    """What a text means typed, and clearly spoken."""
    return interpret(text, scene), interpret(hearing_of(text), scene)


@pytest.mark.parametrize(
    ("text", "number"), [("the second one", 2), ("acorn burnisher please", 2), ("none of these", 0)]
)
def test_an_open_question_is_settled_by_number_or_by_name(text: str, number: int) -> None:
    assert both(text, ASKED_BACK) == (Chosen(number), Chosen(number))
    assert all(not isinstance(meaning, Chosen) for meaning in both(text))


def test_yes_reads_a_label_back_only_where_one_is_waited_for() -> None:
    assert ASKED_BACK.check is not None
    waits = replace(ASKED_BACK, check=replace(ASKED_BACK.check, chosen=0))
    assert both("label read back", waits) == (LabelRead(), LabelRead())
    assert all(not isinstance(meaning, LabelRead) for meaning in both("label read back", ASKED_BACK))


def test_checked_means_that_a_teacher_has_looked_where_one_is_awaited() -> None:
    assert both("checked", replace(SCENE, awaited=True)) == (TeacherLooked(), TeacherLooked())
    assert all(not isinstance(meaning, TeacherLooked) for meaning in both("checked"))


def test_a_timer_is_started() -> None:
    for meaning in both("start the etch enamel timer"):
        assert isinstance(meaning, TimerSaid)
        assert (meaning.wish.wish, meaning.wish.name) == (TimerAct.START, "etch enamel")


def test_what_became_of_an_item_and_what_else_was_asked_for() -> None:
    for meaning, source in zip(
        both("mirror back, explorer please"), (Source.KEYBOARD, Source.SPEECH), strict=True
    ):
        assert isinstance(meaning, Happened)
        (event,) = meaning.events
        assert (event.kind, event.item, event.source) == (EventKind.RETURNED, "mouth_mirror", source)
        assert meaning.rest is not None and meaning.rest.text == "explorer please"
        assert meaning.rest.readings.ways[0].requests[0].candidates[0].item == "explorer_shepherd"


def test_a_return_of_what_was_never_out_is_talk_where_it_was_only_heard() -> None:
    typed, heard = both("the wedge fell on the floor", replace(SCENE, state=fold((), None, CHAIR.pack)))
    assert isinstance(typed, Happened) and heard == Nothing()


def test_a_request_keeps_its_words_and_the_ways_it_may_be_meant() -> None:
    for meaning in both("the spoon excavator please"):
        assert isinstance(meaning, Wanted) and meaning.text == "the spoon excavator please"
        assert meaning.readings.ways[0].requests[0].candidates[0].item == "spoon_excavator"


def test_talk_may_be_meant_in_no_way() -> None:
    talk = "how was your holiday"
    for meaning in (interpret(talk, SCENE), interpret(hearing_of(talk, -20.0), SCENE)):
        assert isinstance(meaning, Wanted) and not meaning.readings.ways


def test_the_same_words_in_the_same_scene_mean_the_same() -> None:
    for text in ("mirror back", "the spoon excavator please", "the second one"):
        assert both(text, ASKED_BACK) == both(text, ASKED_BACK)


def test_a_row_or_a_kit_counted_aloud_is_proposed_and_asks_for_nothing() -> None:
    typed, heard = both("Burs complete, one 330 missing")
    assert typed == heard
    assert isinstance(typed, CountSaid) and typed.places == ("Bur kit",) and typed.pieces["bur_330"] == 0
    assert not any(isinstance(meaning, CountSaid) for meaning in both("330 bur please"))
