"""Finished sessions teach what comes next, with consent only, and can be left out again.

The habit is our own (common practice, no source): a dentist who wants the wedge before the band.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from listen.chairside.closing import Override
from listen.chairside.events import Event, EventKind, Source
from listen.chairside.learning import (
    Consent,
    Learning,
    LearningError,
    habits_for,
    read_learning,
    teaching,
    write_learning,
)
from listen.chairside.log import SessionLog
from listen.web.house import House
from listen.web.room import Room
from listen.web.settings import WebSettings
from tests.web.desk_app import Clock, StandIn, shared_chair

PROCEDURE = "amalgam_class_two"
BAND, WEDGE, PLIERS = "matrix_band", "wedge", "cotton_pliers"


def house_at(folder: Path, clock: Clock) -> House:
    return House(shared_chair, WebSettings(data=folder, clock=clock), StandIn)


def opened(house: House, dentist: str) -> Room:
    """A session with no teacher for whom it would wait."""
    room = house.open(PROCEDURE, None, dentist)
    room.settings = room.settings.model_copy(update={"faculty": False})
    return room


def held(house: House, clock: Clock, items: tuple[str, ...], dentist: str = "green") -> int:
    """A session of which every event is in the log, closed; its number."""
    room = opened(house, dentist)
    for item in items:
        clock.now_s += 60
        ask(room, item)
    room.close(override=Override("Dr Green", "Only a rehearsal."))
    clock.now_s += 3600
    return room.session.id


def ask(room: Room, item: str) -> None:
    """Point at it; of several sizes the first is wanted."""
    room.request(item)
    if room.check is not None:
        room.choose(1)


def p_next(room: Room, item: str) -> float:
    return next((likely.p for likely in room.following if likely.item == item), 0.0)


BEFORE = ("mouth_mirror", "matrix_retainer")
HABIT = (*BEFORE, WEDGE, BAND, "ball_burnisher")
USUAL = (*BEFORE, BAND, WEDGE, "ball_burnisher")


def ask_before(house: House, dentist: str = "green") -> Room:
    room = opened(house, dentist)
    for item in BEFORE:
        ask(room, item)
    return room


@pytest.fixture
def clock() -> Clock:
    return Clock()


def test_after_three_sessions_the_wedge_is_expected_before_the_band(tmp_path: Path, clock: Clock) -> None:
    both = Learning().switched(True, clock.now_s, "green").switched(True, clock.now_s, "blue")
    write_learning(tmp_path, both)
    house = house_at(tmp_path, clock)
    p_before = p_next(ask_before(house), WEDGE) - p_next(ask_before(house), BAND)
    for _ in range(3):
        held(house, clock, HABIT, "green")
        held(house, clock, USUAL, "blue")
    again = house_at(tmp_path, clock)
    green, blue = ask_before(again, "green"), ask_before(again, "blue")
    assert green.following[0].item == WEDGE and blue.following[0].item == BAND
    assert p_next(green, WEDGE) - p_next(green, BAND) > p_before + 0.3
    ask(green, WEDGE)
    assert green.following[0].item == BAND


def test_without_consent_nothing_is_learnt(tmp_path: Path, clock: Clock) -> None:
    house = house_at(tmp_path, clock)
    before = ask_before(house).following
    for _ in range(3):
        held(house, clock, HABIT)
    write_learning(tmp_path, Learning().switched(True, clock.now_s, "green"))
    assert ask_before(house).following == before
    assert teaching(house.log, read_learning(tmp_path)) == ()


def test_the_dentist_is_the_one_the_screen_was_started_for(tmp_path: Path, clock: Clock) -> None:
    chair = replace(shared_chair(), options=replace(shared_chair().options, dentist="green"))
    house = House(lambda: chair, WebSettings(data=tmp_path, clock=clock), StandIn)
    assert house.open(PROCEDURE, None).session.dentist == "green"


def test_a_session_left_out_is_undone_exactly(tmp_path: Path, clock: Clock) -> None:
    learning = Learning().switched(True, clock.now_s, "green")
    house = house_at(tmp_path, clock)
    first = held(house, clock, HABIT)
    now = house.open(PROCEDURE, None, "green").session
    before = habits_for(house.log, learning, now)
    second = held(house, clock, (PLIERS,))
    later = house.open(PROCEDURE, None, "green").session
    assert len(habits_for(house.log, learning, later).sessions) == 2
    assert habits_for(house.log, learning.without(second), later) == before
    assert [s.id for s in teaching(house.log, learning.without(second))] == [first]


def test_what_was_taken_back_or_only_checked_teaches_nothing(tmp_path: Path) -> None:
    log = SessionLog(tmp_path / "log.db")
    session = log.open_session(100.0, "operative", None, "sealant", dentist="green")
    for item, verdict in ((WEDGE, "answer"), (BAND, "check"), (PLIERS, "answer")):
        log.append(Event(EventKind.ASKED, 110.0, Source.TOUCH, item=item, verdict=verdict), session.id)
    log.append(Event(EventKind.CORRECTED, 120.0, Source.TOUCH, corrects=2), session.id)
    log.append(Event(EventKind.CLOSED, 130.0, Source.TOUCH), session.id)
    following = log.open_session(200.0, "operative", None, "sealant", dentist="green")
    (taught,) = habits_for(log, Learning({"green": Consent((50.0,))}), following).sessions
    assert (taught.procedure, taught.items, taught.dentist) == ("sealant", (PLIERS,), "green")


def test_running_sessions_and_those_across_a_switch_never_count(tmp_path: Path) -> None:
    log = SessionLog(tmp_path / "log.db")
    for closed_s in (None, 300.0):
        session = log.open_session(100.0, "operative", None, "sealant")
        if closed_s is not None:
            log.append(Event(EventKind.CLOSED, closed_s, Source.TOUCH), session.id)
    learning = Learning({"": Consent((50.0, 400.0), (200.0,))})
    assert learning.of(None).is_on and teaching(log, learning) == ()
    assert [s.id for s in teaching(log, Learning({"": Consent((50.0,))}))] == [2]


def test_one_dentists_consent_is_not_anothers(tmp_path: Path, clock: Clock) -> None:
    learning = Learning().switched(True, clock.now_s, "green")
    house = house_at(tmp_path, clock)
    green, blue = (held(house, clock, HABIT, dentist) for dentist in ("green", "blue"))
    assert [s.id for s in teaching(house.log, learning)] == [green]
    both = learning.switched(True, clock.now_s, "blue")
    assert [s.id for s in teaching(house.log, both)] == [green]  # blue's was held before
    assert teaching(house.log, both.switched(False, clock.now_s, "green")) == ()
    assert blue not in both.left_out


def test_consent_given_again_lets_earlier_sessions_count_that_it_covered(
    tmp_path: Path, clock: Clock
) -> None:
    learning = Learning().switched(True, clock.now_s, "green")
    house = house_at(tmp_path, clock)
    first = held(house, clock, HABIT)
    learning = learning.switched(False, clock.now_s, "green")
    held(house, clock, HABIT)
    learning = learning.switched(True, clock.now_s, "green")
    assert [s.id for s in teaching(house.log, learning)] == [first]


def test_the_setting_is_off_until_switched_on_and_outlives_a_restart(tmp_path: Path) -> None:
    assert read_learning(tmp_path).on_for == ()
    learning = Learning().switched(True, 10.0, "green").switched(True, 20.0, "green").without(7)
    write_learning(tmp_path, learning)
    assert read_learning(tmp_path) == learning == Learning({"green": Consent((10.0,))}, (7,))
    assert learning.switched(False, 30.0, "green").of("green") == Consent((10.0,), (30.0,))


def test_a_broken_setting_is_told_with_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "learning.json").write_text("yes")
    with pytest.raises(LearningError, match="move it away"):
        read_learning(tmp_path)
