"""The count is the person's: what hurts or may stay in a mouth first, and never "all back"."""

from __future__ import annotations

from dataclasses import replace

import pytest

from listen.chairside.closing import open_lines
from listen.chairside.count import (
    SETUP_CHECKS,
    CountError,
    CountGroup,
    CountPlace,
    as_said_events,
    count_event,
    count_list,
    count_places,
    count_text,
    last_counts,
    missing,
    next_to_count,
    one_by_one,
    setup_event,
    setup_open,
    setup_problems,
    together_events,
)
from listen.chairside.events import CountedAs, Event, EventKind
from listen.chairside.tray_state import TrayState, fold
from tests.listen.chairside.chair_pack import PACK, TRAY, at_chair, in_order
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack, Procedure, Tray


def after(*events: Event) -> TrayState:
    return fold(in_order(*events), TRAY, PACK)


def test_sharps_come_first_then_what_may_stay_in_a_mouth_then_the_rest() -> None:
    lines = count_list(after(), PACK)
    assert [(line.item, line.group, line.expected) for line in lines] == [
        ("explorer_shepherd", CountGroup.SHARP, 1),
        ("explorer_pigtail", CountGroup.SHARP, 1),
        ("hollenback_carver", CountGroup.SHARP, 1),
        ("matrix_band", CountGroup.SHARP, 1),
        ("cotton_roll", CountGroup.MOUTH, 4),
        ("gauze_square", CountGroup.MOUTH, 6),
        ("wedge", CountGroup.MOUTH, 2),
        ("mouth_mirror", CountGroup.REST, 1),
        ("curing_light", CountGroup.REST, 1),
    ]


def test_what_fell_was_added_or_thrown_away_is_counted_too() -> None:
    state = after(
        at_chair(EventKind.DROPPED, "explorer_shepherd"),
        at_chair(EventKind.ADDED, "explorer_shepherd"),
        at_chair(EventKind.ADDED, "cotton_roll", 2),
        at_chair(EventKind.USED_UP, "cotton_roll", 3),
    )
    expected = {line.item: line.expected for line in count_list(state, PACK)}
    assert expected["explorer_shepherd"] == 2 and expected["cotton_roll"] == 6


def test_a_roll_that_is_not_found_is_missing_and_the_mouth_is_looked_into() -> None:
    out = at_chair(EventKind.ASKED, "cotton_roll", 2)
    state = after(out, count_event("cotton_roll", 3, 0.0), count_event("explorer_shepherd", 1, 0.0))
    assert [(line.item, line.short) for line in missing(state, PACK)] == [("cotton_roll", 1)]
    assert "cotton roll (3 of 4). Look in the mouth" in count_text(state, PACK)
    (line,) = [line for line in count_list(state, PACK) if line.item == "cotton_roll"]
    assert line.hint == "2 noted as out: look in the mouth first."
    found = after(out, count_event("cotton_roll", 3, 0.0), count_event("cotton_roll", 4, 0.0))
    assert missing(found, PACK) == ()


def test_the_count_leads_from_line_to_line_to_its_end() -> None:
    events: list[Event] = []
    while (line := next_to_count(after(*events), PACK)) is not None:
        events.append(count_event(line.item, line.expected, 0.0))
    text = count_text(after(*events), PACK)
    assert text.startswith("9 of 9 counted.")
    assert "estimate" in text and "may itself be wrong" in text and "all back" not in text.lower()


def test_more_than_expected_is_counted_again() -> None:
    assert "Count again" in count_text(after(count_event("wedge", 3, 0.0)), PACK)


# --- by exception --------------------------------------------------------------------------------

OPERATIVE = shipped_pack("operative")
AMALGAM = OPERATIVE.tray("amalgam_class_two")


def on(tray: Tray, *events: Event) -> TrayState:
    return fold(in_order(*events), tray, OPERATIVE)


def asked(*items: str) -> tuple[Event, ...]:
    return tuple(at_chair(EventKind.ASKED, item) for item in items)


def test_the_count_follows_the_tray_with_sharps_first_in_each_place() -> None:
    places = count_places(on(AMALGAM), OPERATIVE, AMALGAM)
    assert [place.id for place in places] == [
        "row_1", "row_2", *(f"kit_{kit}" for kit in AMALGAM.kits), "chair",
    ]  # fmt: skip
    first = [line.item for line in places[0].lines]
    assert first[:3] == ["explorer_shepherd", "spoon_excavator", "hatchet"]
    assert first[-4:] == ["mouth_mirror", "perio_probe", "cotton_pliers", "plastic_instrument"]
    assert all(place.opened is (place.kit is None) for place in places)


@pytest.mark.parametrize("tray", OPERATIVE.trays, ids=lambda tray: tray.id)
def test_every_line_is_counted_in_one_place(tray: Tray) -> None:
    state = on(tray, *asked("bur_330", "wedge", "gauze_square"), at_chair(EventKind.ADDED, "hoe"))
    places = count_places(state, OPERATIVE, tray)
    shown = [line.item for place in places for line in place.shown]
    single = [line.item for line in one_by_one(state, OPERATIVE, tray)]
    assert sorted(shown + single) == sorted(line.item for line in count_list(state, OPERATIVE))


def place_of(state: TrayState, place: str) -> CountPlace:
    return next(one for one in count_places(state, OPERATIVE, AMALGAM) if one.id == place)


def test_all_here_counts_what_is_open_and_leaves_the_exceptions() -> None:
    before = (*asked("bur_330"), count_event("bur_245", 0, 0.0))
    state = on(AMALGAM, *before)
    events = together_events(place_of(state, "kit_bur_kit"), CountedAs.ALL_HERE, 5.0)
    assert len(events) == 14 and {event.about for event in events} == {CountedAs.ALL_HERE}
    after_it = on(AMALGAM, *before, *events)
    assert after_it.counted["bur_245"] == 0 and after_it.counted["bur_330"] == 1
    assert [line.item for line in place_of(after_it, "kit_bur_kit").short] == ["bur_245"]
    assert place_of(after_it, "kit_bur_kit").open == ()


@pytest.mark.parametrize(
    ("event", "item"),
    [
        (at_chair(EventKind.ASKED, "bur_330"), "matrix_band"),
        (at_chair(EventKind.PASSED, "hatchet"), "hatchet"),
        (at_chair(EventKind.BROKEN, "hatchet"), "hatchet"),
        (at_chair(EventKind.DROPPED, "hatchet"), "hatchet"),
        (at_chair(EventKind.SHORT, "hatchet"), "hatchet"),
        (at_chair(EventKind.IN_MOUTH, "dam_clamp"), "dam_clamp"),
        (at_chair(EventKind.ASKED, "wedge"), "wedge"),
        (at_chair(EventKind.ASKED, "needle_short"), "needle_short"),
        (at_chair(EventKind.ASKED, "needle_short"), "cartridge_plain"),
    ],
)
def test_what_all_here_never_covers(event: Event, item: str) -> None:
    state = on(AMALGAM, event, *asked("matrix_retainer"))
    single = {line.item for line in one_by_one(state, OPERATIVE, AMALGAM)}
    assert item in single
    for place in count_places(state, OPERATIVE, AMALGAM):
        if place.opened:
            assert item not in {e.item for e in together_events(place, CountedAs.ALL_HERE, 0.0)}


def test_an_instrument_or_a_bur_that_was_only_asked_for_goes_with_its_row_or_kit() -> None:
    state = on(AMALGAM, *asked("hatchet", "bur_330", "finishing_disc"))
    assert {line.item for line in one_by_one(state, OPERATIVE, AMALGAM)} == set()
    given_back = on(AMALGAM, *asked("wedge"), at_chair(EventKind.RETURNED, "wedge"))
    assert [line.item for line in one_by_one(given_back, OPERATIVE, AMALGAM)] == ["matrix_band"]


def test_an_unopened_kit_is_confirmed_with_all_that_is_in_it_and_an_opened_one_is_not() -> None:
    state = on(AMALGAM, *asked("bur_330"))
    sealed = place_of(state, "kit_anaesthesia_kit")
    assert not sealed.opened and one_by_one(state, OPERATIVE, AMALGAM) == ()
    assert sealed.apart and not place_of(state, "kit_diamond_kit").apart
    events = together_events(sealed, CountedAs.ALL_HERE, 0.0)
    assert {"needle_short", "cartridge_plain"} <= {event.item for event in events}
    assert {event.about for event in events} == {CountedAs.NOT_OPENED}
    with pytest.raises(CountError, match="asked for or noted"):
        together_events(place_of(state, "kit_bur_kit"), CountedAs.NOT_OPENED, 0.0)


def test_what_was_brought_and_has_no_place_is_confirmed_by_itself() -> None:
    state = on(AMALGAM, at_chair(EventKind.ADDED, "wedelstaedt_chisel"))
    assert [line.item for line in one_by_one(state, OPERATIVE, AMALGAM)] == ["wedelstaedt_chisel"]


def test_what_was_said_is_taken_over_but_for_what_is_confirmed_by_itself() -> None:
    state = on(AMALGAM, *asked("matrix_retainer"))
    events = as_said_events({"matrix_band": 2, "wedge": 3}, state, OPERATIVE, 0.0)
    assert [(event.item, event.quantity, event.about) for event in events] == [("wedge", 3, "as said")]


def test_one_touch_is_taken_back_with_all_that_it_counted() -> None:
    here = together_events(place_of(on(AMALGAM), "row_1"), CountedAs.ALL_HERE, 3.0)
    events = [replace(e, seq=i) for i, e in enumerate((count_event("wedge", 4, 1.0), *here), 1)]
    state = fold(events, AMALGAM, OPERATIVE)
    assert {event.item for event in last_counts(state)} == {event.item for event in here}
    one_more = replace(count_event("wedge", 3, 4.0), seq=len(events) + 1)
    assert last_counts(fold([*events, one_more], AMALGAM, OPERATIVE)) == (one_more,)
    assert last_counts(on(AMALGAM)) == ()


def whole_session(pack: Pack, procedure: Procedure, without: set[str]) -> list[Event]:
    """The likeliest requests of every step, optional ones included, and nothing that was said to come back;
    what is always checked is noted as passed, as the chair does."""
    tray = pack.tray(procedure.tray)
    events: list[Event] = []
    for step in procedure.steps:
        likeliest = sorted(step.items, key=lambda item: -step.items[item])[: max(1, round(step.requests))]
        for item in likeliest if step.id not in without else ():
            if tray.slot_of(item) is not None:
                events += asked(item)
                events += [at_chair(EventKind.PASSED, item)] if pack.item(item).always_check else []
    return events


@pytest.mark.parametrize(
    ("procedure", "without"),
    [("amalgam_class_two", set()), ("composite_class_two", {"prop", "line"})],
)
def test_an_ordinary_class_two_session_is_counted_and_ended_in_24_steps(
    procedure: str, without: set[str]
) -> None:
    """A step is a touch: Count on the chair's bar, one for each line and place, and End."""
    done = next(one for one in OPERATIVE.procedures if one.id == procedure)
    assert without <= {step.id for step in done.steps}
    tray = OPERATIVE.tray(done.tray)
    events = whole_session(OPERATIVE, done, without)
    assert len(events) > 50
    state = on(tray, *events)
    single = [line for line in one_by_one(state, OPERATIVE, tray) if line.counted is None]
    places = [place for place in count_places(state, OPERATIVE, tray) if place.open]
    sealed = [place for place in places if not place.opened]
    assert len(single) >= 5 and len(sealed) >= 2
    together = [place for place in sealed if not place.apart]
    touches = len(single) + len(places) - len(together) + bool(together)
    assert 1 + touches + 1 <= 24
    events += [count_event(line.item, line.expected, 0.0) for line in single]
    events += [event for place in places for event in together_events(place, CountedAs.ALL_HERE, 0.0)]
    assert not open_lines(on(tray, *events), OPERATIVE)


def test_the_set_up_is_asked_and_its_answers_kept() -> None:
    ids = [check.id for check in SETUP_CHECKS]
    assert ids == ["pack_intact", "indicator_changed", "in_date", "allergies_asked", "barriers_on"]
    state = after(setup_event("pack_intact", True, 0.0), setup_event("in_date", False, 0.0))
    assert [check.id for check in setup_open(state)] == [
        "indicator_changed",
        "allergies_asked",
        "barriers_on",
    ]
    assert [check.if_no for check in setup_problems(state)] == ["Remove and replace it."]


def test_an_unknown_set_up_check_is_refused() -> None:
    with pytest.raises(CountError, match="there are: pack_intact"):
        setup_event("coffee", True, 0.0)
