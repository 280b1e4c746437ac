"""Timers run with the maker's time that the clinic set, and anybody can stop them by voice."""

from __future__ import annotations

import pytest
from chair_pack import PACK, at_chair, in_order

from listen.chairside.events import Event, EventKind
from listen.chairside.timers import (
    Running,
    TimerWish,
    Wish,
    over,
    running,
    step_cautions,
    timer_names,
    timer_reply,
    understand_timer,
)

NAMES = ("etch", "cure", "topical anaesthetic")


@pytest.mark.parametrize(
    ("text", "wish"),
    [
        ("start the etch timer", TimerWish(Wish.START, "etch")),
        ("Start the timer for the etchant, please.", TimerWish(Wish.START, "etch")),
        ("can you start the curing timer", TimerWish(Wish.START, "cure")),
        ("start the topical timer", TimerWish(Wish.START, "topical anaesthetic")),
        ("time the etch", TimerWish(Wish.START, "etch")),
        ("start the timer", TimerWish(Wish.START)),
        ("stop the timer", TimerWish(Wish.STOP)),
        ("timer off", TimerWish(Wish.STOP)),
        ("stop the etch timer", TimerWish(Wish.STOP, "etch")),
        ("stop all timers", TimerWish(Wish.STOP, everything=True)),
        ("how long", TimerWish(Wish.TELL, said_timer=False)),
        ("how much longer", TimerWish(Wish.TELL, said_timer=False)),
        ("how much time is left on the etch?", TimerWish(Wish.TELL, "etch")),
        ("how long left on the timer", TimerWish(Wish.TELL)),
    ],
)
def test_timers_are_understood(text: str, wish: TimerWish) -> None:
    assert understand_timer(text, NAMES) == wish


@pytest.mark.parametrize(
    "text",
    [
        "how long have you been a dentist",
        "how long will this take",
        "it's time",
        "time for lunch",
        "stop",
        "stop that",
        "etch",
        "cure it",
        "start the engine",
        "start the lunch timer",
        "the timer broke last week",
        "",
    ],
)
def test_talk_is_no_wish_for_a_timer(text: str) -> None:
    assert understand_timer(text, NAMES) is None


def test_without_a_time_set_the_timer_does_not_start_and_says_why() -> None:
    reply = timer_reply(TimerWish(Wish.START, "etch"), (), {}, 0.0)
    assert reply is not None and reply.events == ()
    assert "Set the maker's time" in reply.text


def test_a_timer_starts_with_the_clinics_time_and_the_steps_cautions() -> None:
    cautions = step_cautions(PACK, "etch")
    reply = timer_reply(TimerWish(Wish.START, "etch"), (), {"etch": 15}, 100.0, cautions=cautions)
    assert reply is not None
    assert reply.text == "Etch: 15 seconds, the time set by the clinic. Not too long."
    (timer,) = running(reply.events)
    assert timer == Running("etch", 100.0, 15) and timer.left_s(104.0) == 11.0


def test_a_step_without_cautions_has_the_usual_ones() -> None:
    reply = timer_reply(TimerWish(Wish.START, "cure"), (), {"cure": 20}, 0.0)
    assert reply is not None and "Nobody looks into the beam" in reply.text


def test_start_the_timer_means_the_present_steps() -> None:
    reply = timer_reply(TimerWish(Wish.START), (), {"etch": 15, "cure": 20}, 0.0, step_timer="cure")
    assert reply is not None and reply.events[0].about == "cure"
    unknown = timer_reply(TimerWish(Wish.START), (), {"etch": 15}, 0.0)
    assert unknown is not None and unknown.events == () and "Which timer?" in unknown.text


def test_what_is_left_is_told_down_to_the_end() -> None:
    timers = (Running("etch", 100.0, 15.0),)
    for now_s, text in ((104.0, "Etch: 11 seconds left."), (115.0, "Etch: time is over.")):
        reply = timer_reply(TimerWish(Wish.TELL, said_timer=False), timers, {}, now_s)
        assert reply is not None and reply.text == text and reply.events == ()
    assert over(timers, 114.0) == () and over(timers, 115.0) == timers


def test_how_long_is_no_question_to_us_while_nothing_runs() -> None:
    assert timer_reply(TimerWish(Wish.TELL, said_timer=False), (), {}, 0.0) is None
    told = timer_reply(TimerWish(Wish.STOP), (), {}, 0.0)
    assert told is not None and told.text == "No timer runs."


def _stopped(wish: TimerWish, now_s: float) -> list[str | None]:
    timers = (Running("set", 0.0, 300.0), Running("etch", 10.0, 15.0), Running("cure", 20.0, 20.0))
    reply = timer_reply(wish, timers, {}, now_s)
    return [event.about for event in reply.events] if reply else []


def test_stop_the_timer_stops_what_is_over_or_else_the_last_one() -> None:
    assert _stopped(TimerWish(Wish.STOP), 22.0) == ["cure"]
    assert _stopped(TimerWish(Wish.STOP), 26.0) == ["etch"]
    assert _stopped(TimerWish(Wish.STOP, "set"), 22.0) == ["set"]
    assert _stopped(TimerWish(Wish.STOP, everything=True), 22.0) == ["set", "etch", "cure"]


def test_a_timer_is_the_fold_of_its_events() -> None:
    started = at_chair(EventKind.TIMER_STARTED, about="etch", seconds_s=15.0)
    stopped = at_chair(EventKind.TIMER_STOPPED, about="etch")

    def running_after(*events: Event) -> list[tuple[str, float]]:
        return [(timer.name, timer.started_s) for timer in running(in_order(*events))]

    assert running_after(started) == [("etch", 1.0)]
    assert running_after(started, stopped) == []
    assert running_after(started, started) == [("etch", 2.0)]
    assert running_after(started, stopped, at_chair(EventKind.CORRECTED, corrects=2)) == [("etch", 1.0)]
    assert running_after(started, at_chair(EventKind.CLOSED)) == []


def test_the_pack_says_what_is_timed() -> None:
    assert timer_names(PACK) == ("etch", "cure")
