"""The tray's state is the fold of its events, and calls itself an estimate."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listen.chairside.events import Event, EventError, EventKind
from listen.chairside.tray_state import Holding, TrayState, apply, estimate_text, fold, spare_wanted, start
from tests.listen.chairside.chair_pack import PACK, TRAY, at_chair, in_order

_MOVING = [
    EventKind.ASKED,
    EventKind.PASSED,
    EventKind.RETURNED,
    EventKind.WIPED,
    EventKind.DROPPED,
    EventKind.USED_UP,
    EventKind.ADDED,
    EventKind.COUNTED,
    EventKind.IN_MOUTH,
    EventKind.OUT_OF_MOUTH,
    EventKind.BROKEN,
    EventKind.SHORT,
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
    return (
        state.holdings,
        state.last_item,
        state.counted,
        state.missed,
        state.empty,
        state.steps,
        state.checks,
    )


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
            assert min(held.clean, held.out, held.back, held.dropped, held.used_up, held.broken) >= 0
            assert 0 <= held.presumed <= held.out and 0 <= held.to_wipe <= held.back
            assert 0 <= held.in_mouth <= held.out and held.to_replace >= 0
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


@settings(max_examples=150, deadline=None)
@given(_sessions())
def test_the_estimate_never_exceeds_what_was_laid_and_added(events: tuple[Event, ...]) -> None:
    laid = start(TRAY, PACK)
    plain = in_order(*(e for e in events if e.kind not in (EventKind.CORRECTED, EventKind.IN_MOUTH)))
    added: dict[str | None, int] = {}
    for event in plain:
        if event.kind is EventKind.ADDED:
            added[event.item] = added.get(event.item, 0) + event.quantity
    for item, held in fold(plain, TRAY, PACK).holdings.items():
        if laid.of(item).total:
            assert held.total == laid.of(item).total + added.get(item, 0)


def test_two_bands_asked_for_eight_times_are_two_bands() -> None:
    state = after(at_chair(EventKind.ADDED, "matrix_band"), *[at_chair(EventKind.ASKED, "matrix_band")] * 8)
    assert state.of("matrix_band") == Holding(out=2, presumed=2)


def test_what_lay_nowhere_was_brought_when_first_asked_for_and_not_again() -> None:
    state = fold(in_order(*[at_chair(EventKind.ASKED, "cotton_roll", 2)] * 3), None, PACK)
    assert state.out == {"cotton_roll": 2}


def test_a_used_roll_is_not_given_again() -> None:
    state = after(
        at_chair(EventKind.ASKED, "cotton_roll", 4),
        at_chair(EventKind.RETURNED, "cotton_roll", 4),
        at_chair(EventKind.ASKED, "cotton_roll", 2),
    )
    assert state.of("cotton_roll") == Holding(back=4)


MIRROR, ROLL = "mouth_mirror", "cotton_roll"


def test_after_a_fall_the_place_is_empty_and_a_sterile_spare_is_wanted() -> None:
    fell = (at_chair(EventKind.ASKED, MIRROR), at_chair(EventKind.DROPPED, MIRROR))
    assert spare_wanted(after(*fell), MIRROR)
    assert spare_wanted(after(*fell, at_chair(EventKind.ASKED, MIRROR)), MIRROR)
    assert not spare_wanted(after(*fell, at_chair(EventKind.ADDED, MIRROR)), MIRROR)
    assert spare_wanted(after(at_chair(EventKind.BROKEN, MIRROR)), MIRROR)


def test_an_instrument_that_is_in_a_hand_or_came_back_wants_no_spare() -> None:
    assert not spare_wanted(after(at_chair(EventKind.ASKED, MIRROR)), MIRROR)
    back = after(at_chair(EventKind.ASKED, MIRROR), at_chair(EventKind.RETURNED, MIRROR))
    assert not spare_wanted(back, MIRROR) and not spare_wanted(after(), MIRROR)


def test_when_the_last_roll_is_given_out_the_next_must_be_fetched() -> None:
    last = at_chair(EventKind.ASKED, ROLL, 4)
    assert not spare_wanted(after(last), ROLL)
    assert spare_wanted(after(last, at_chair(EventKind.ASKED, ROLL)), ROLL)
    assert not spare_wanted(fold((), None, PACK), ROLL)  # nobody knows what lies there


def test_two_rolls_in_are_in_the_mouth_until_they_are_out() -> None:
    placed = (at_chair(EventKind.ASKED, ROLL, 2), at_chair(EventKind.IN_MOUTH, ROLL, 2))
    assert after(*placed).of(ROLL) == Holding(clean=2, out=2, in_mouth=2)
    assert after(*placed, at_chair(EventKind.OUT_OF_MOUTH, ROLL)).in_mouth == {ROLL: 1}
    out = after(*placed, at_chair(EventKind.OUT_OF_MOUTH, ROLL, 2))
    assert out.in_mouth == {} and out.of(ROLL) == Holding(clean=2, back=2)


def test_what_was_placed_in_silence_comes_out_all_the_same() -> None:
    assert after(at_chair(EventKind.OUT_OF_MOUTH, ROLL)).of(ROLL) == Holding(clean=3, back=1)
    handed = after(at_chair(EventKind.ASKED, ROLL), at_chair(EventKind.OUT_OF_MOUTH, ROLL))
    assert handed.of(ROLL) == Holding(clean=3, back=1)


def test_what_is_told_to_be_in_the_mouth_is_there_though_the_tray_knows_of_none() -> None:
    fell = at_chair(EventKind.DROPPED, ROLL, 4)
    once, twice = (after(fell, *[at_chair(EventKind.IN_MOUTH, ROLL)] * times) for times in (1, 2))
    assert once.in_mouth == twice.in_mouth == {ROLL: 1}


def test_a_clamp_that_broke_is_one_piece_and_wants_another() -> None:
    state = after(at_chair(EventKind.ASKED, MIRROR), at_chair(EventKind.BROKEN, MIRROR))
    assert state.of(MIRROR) == Holding(broken=1, to_replace=1) and state.broken == {MIRROR: 1}


def test_what_is_missed_stays_so_until_it_is_counted() -> None:
    missed = at_chair(EventKind.SHORT, "gauze_square")
    assert after(missed).missed == {"gauze_square": 1}
    assert after(missed).of("gauze_square") == Holding(clean=6)
    assert after(missed, at_chair(EventKind.COUNTED, "gauze_square", 5)).missed == {}


@pytest.mark.parametrize(
    "kind", [EventKind.ASKED, EventKind.PASSED, EventKind.IN_MOUTH, EventKind.BROKEN, EventKind.SHORT]
)
def test_a_count_holds_until_the_item_goes_out_again(kind: EventKind) -> None:
    counted = at_chair(EventKind.COUNTED, ROLL, 4)
    assert after(counted, at_chair(EventKind.RETURNED, ROLL)).counted == {ROLL: 4}
    assert after(counted, at_chair(kind, ROLL)).counted == {}


def test_what_came_back_waits_to_be_wiped_and_stays_contaminated() -> None:
    out_and_back = (
        at_chair(EventKind.ASKED, "hollenback_carver"),
        at_chair(EventKind.RETURNED, "hollenback_carver"),
    )
    assert after(*out_and_back).to_wipe == {"hollenback_carver": 1}
    wiped = after(*out_and_back, at_chair(EventKind.WIPED, "hollenback_carver"))
    assert wiped.to_wipe == {} and wiped.of("hollenback_carver").back == 1


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
    assert text.endswith("Nothing is noted as still out. That does not mean that nothing is: count.")


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
