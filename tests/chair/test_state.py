"""The tray's state is the fold of its events, and calls itself an estimate."""

from __future__ import annotations

from dataclasses import replace

import pytest
from chair_pack import PACK, TRAY, at_chair, in_order
from hypothesis import given, settings
from hypothesis import strategies as st

from listen.chairside.events import Event, EventError, EventKind
from listen.chairside.state import Holding, TrayState, apply, estimate_text, fold, start

_MOVING = [
    EventKind.ASKED,
    EventKind.PASSED,
    EventKind.RETURNED,
    EventKind.WIPED,
    EventKind.DROPPED,
    EventKind.USED_UP,
    EventKind.ADDED,
    EventKind.COUNTED,
]
_ONE = st.builds(
    at_chair,
    st.sampled_from(_MOVING),
    st.sampled_from([*(item.id for item in PACK.items), "brought_along"]),
    st.integers(1, 4),
)


@st.composite
def _sessions(draw: st.DrawFn) -> tuple[Event, ...]:
    """Events of all kinds, corrections of any earlier event (corrections too) among them."""
    events: list[Event] = []
    for seq in range(1, draw(st.integers(0, 14)) + 1):
        if seq > 1 and draw(st.integers(0, 4)) == 0:
            event = at_chair(EventKind.CORRECTED, corrects=draw(st.integers(1, seq - 1)), seq=seq)
        else:
            event = draw(_ONE)
        events.append(event)
    return in_order(*events)


def after(*events: Event) -> TrayState:
    return fold(in_order(*events), TRAY, PACK)


def what_lies_where(state: TrayState) -> tuple[object, ...]:
    return state.holdings, state.last_item, state.counted, state.steps, state.checks


@settings(max_examples=150, deadline=None)
@given(_sessions())
def test_step_by_step_and_all_at_once_agree(events: tuple[Event, ...]) -> None:
    state = start(TRAY, PACK)
    for i, event in enumerate(events, 1):
        state = apply(state, event)
        assert state == fold(events[:i], TRAY, PACK)


@settings(max_examples=150, deadline=None)
@given(_sessions(), st.data())
def test_a_correction_undoes_exactly_one_event(events: tuple[Event, ...], data: st.DataObject) -> None:
    plain = in_order(*(event for event in events if event.corrects is None))
    if not plain:
        return
    wrong = data.draw(st.integers(1, len(plain)))
    corrected = (*plain, at_chair(EventKind.CORRECTED, corrects=wrong, seq=len(plain) + 1))
    without = tuple(event for event in plain if event.seq != wrong)
    assert what_lies_where(fold(corrected, TRAY, PACK)) == what_lies_where(fold(without, TRAY, PACK))
    assert fold(corrected, TRAY, PACK).events == corrected
    again = (*corrected, at_chair(EventKind.CORRECTED, corrects=len(plain) + 1, seq=len(plain) + 2))
    assert what_lies_where(fold(again, TRAY, PACK)) == what_lies_where(fold(plain, TRAY, PACK))


@settings(max_examples=150, deadline=None)
@given(_sessions())
def test_no_piece_vanishes_and_no_number_is_negative(events: tuple[Event, ...]) -> None:
    plain = in_order(*(event for event in events if event.corrects is None))
    state = start(TRAY, PACK)
    for event in plain:
        before, state = state, apply(state, event)
        for item, held in state.holdings.items():
            assert min(held.clean, held.out, held.back, held.dropped, held.used_up, held.to_replace) >= 0
            assert 0 <= held.presumed <= held.out and 0 <= held.to_wipe <= held.back
            assert held.total >= before.of(item).total


def test_what_is_asked_for_is_presumed_out_and_passing_it_confirms() -> None:
    asked = after(at_chair(EventKind.ASKED, "mouth_mirror"))
    assert asked.of("mouth_mirror") == Holding(out=1, presumed=1)
    passed = after(at_chair(EventKind.ASKED, "mouth_mirror"), at_chair(EventKind.PASSED, "mouth_mirror"))
    assert passed.of("mouth_mirror") == Holding(out=1)


def test_a_request_that_is_to_be_checked_moves_nothing() -> None:
    state = after(at_chair(EventKind.ASKED, "needle_long", verdict="check"))
    assert state.out == {}


def test_a_mirror_asked_for_twice_is_still_one_mirror() -> None:
    state = after(at_chair(EventKind.ASKED, "mouth_mirror"), at_chair(EventKind.ASKED, "mouth_mirror"))
    assert state.of("mouth_mirror") == Holding(out=1, presumed=1)


def test_cotton_rolls_beyond_those_on_the_tray_are_more_rolls() -> None:
    state = after(*[at_chair(EventKind.ASKED, "cotton_roll", 2) for _ in range(3)])
    assert state.of("cotton_roll").out == 6


def test_what_came_back_waits_to_be_wiped_and_stays_contaminated() -> None:
    out_and_back = (
        at_chair(EventKind.ASKED, "hollenback_carver"),
        at_chair(EventKind.RETURNED, "hollenback_carver"),
    )
    assert after(*out_and_back).to_wipe == {"hollenback_carver": 1}
    wiped = after(*out_and_back, at_chair(EventKind.WIPED, "hollenback_carver"))
    assert wiped.to_wipe == {} and wiped.of("hollenback_carver").contaminated == 1


def test_cotton_rolls_are_not_wiped() -> None:
    state = after(at_chair(EventKind.ASKED, "cotton_roll"), at_chair(EventKind.RETURNED, "cotton_roll"))
    assert state.to_wipe == {}


def test_a_fallen_explorer_wants_a_spare_and_is_still_counted() -> None:
    fell = (at_chair(EventKind.ASKED, "explorer_shepherd"), at_chair(EventKind.DROPPED, "explorer_shepherd"))
    assert after(*fell).to_replace == {"explorer_shepherd": 1}
    replaced = after(*fell, at_chair(EventKind.ADDED, "explorer_shepherd"))
    assert replaced.to_replace == {}
    assert replaced.of("explorer_shepherd") == Holding(clean=1, dropped=1)
    assert replaced.of("explorer_shepherd").total == 2


def test_what_comes_back_though_nobody_saw_it_go_is_not_clean() -> None:
    state = after(at_chair(EventKind.RETURNED, "mouth_mirror"))
    assert state.of("mouth_mirror") == Holding(back=1, to_wipe=1)


def test_taking_back_what_never_was_is_refused() -> None:
    with pytest.raises(EventError, match="no event 7"):
        apply(start(TRAY, PACK), at_chair(EventKind.CORRECTED, corrects=7, seq=9))


def test_undo_means_the_last_event_about_an_item_that_stands() -> None:
    events = in_order(
        at_chair(EventKind.ASKED, "wedge"),
        at_chair(EventKind.DROPPED, "wedge"),
        at_chair(EventKind.CORRECTED, corrects=2),
    )
    last = fold(events, TRAY, PACK).last_standing
    assert last is not None and last.seq == 1


@settings(max_examples=60, deadline=None)
@given(_sessions())
def test_the_text_calls_itself_an_estimate_and_never_says_that_all_is_back(events: tuple[Event, ...]) -> None:
    text = estimate_text(fold(events, TRAY, PACK), PACK).lower()
    assert "estimate" in text and "count" in text
    assert "all back" not in text and "everything" not in text and "complete" not in text


def test_an_empty_hand_is_no_reason_to_stop_counting() -> None:
    text = estimate_text(start(TRAY, PACK), PACK)
    assert text.endswith("Nothing was noted as still out. That does not show that nothing is: count.")


def test_steps_and_answers_are_remembered() -> None:
    state = after(
        at_chair(EventKind.STEP, about="check"),
        at_chair(EventKind.CHECKED, about="barriers_on", good=False),
        at_chair(EventKind.CHECKED, about="barriers_on", good=True),
    )
    assert state.steps == ("check",) and state.checks == {"barriers_on": True}


def test_an_unknown_tray_is_no_obstacle() -> None:
    state = fold(in_order(at_chair(EventKind.ASKED, "wedge")), None, PACK)
    assert state.out == {"wedge": 1}
    assert replace(state, events=()).of("never_seen") == Holding()
