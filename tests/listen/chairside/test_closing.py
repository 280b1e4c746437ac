"""A session ends once sharps and what may stay in a mouth are counted, or when a named person says why not.

Common practice, no source, where nothing else is said.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from listen.chairside.closing import (
    ClosingError,
    NotCounted,
    Override,
    Unfinished,
    close_event,
    ending_named,
    ending_text,
    open_lines,
)
from listen.chairside.count import CountGroup, count_event, count_list, count_text
from listen.chairside.events import Event, EventKind, Source
from listen.chairside.tray_state import TrayState, fold
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from tests.listen.chairside.chair_pack import PACK, TRAY, at_chair, in_order
from tests.listen.web.desk_app import Clock, StandIn, shared_chair

SHARPS_AND_MOUTH = (
    "explorer_shepherd",
    "explorer_pigtail",
    "hollenback_carver",
    "matrix_band",
    "cotton_roll",
    "gauze_square",
    "wedge",
)


def after(*events: Event) -> TrayState:
    return fold(in_order(*events), TRAY, PACK)


def counted(**found: int) -> tuple[Event, ...]:
    """All that must be counted, as the estimate has it unless something else is found."""
    expected = {line.item: line.expected for line in count_list(after(), PACK)}
    return tuple(count_event(item, found.get(item, expected[item]), 0.0) for item in SHARPS_AND_MOUTH)


def close(state: TrayState, override: Override | None = None) -> Event:
    return close_event(state, PACK, 50.0, Source.TOUCH, override)


def test_a_session_with_sharps_uncounted_does_not_end_and_says_which() -> None:
    with pytest.raises(NotCounted, match="Not counted: shepherd's hook explorer, .*wedge") as caught:
        close(after())
    assert [line.item for line in caught.value.unfinished.uncounted] == list(SHARPS_AND_MOUTH)


def test_once_sharps_and_mouth_are_counted_it_ends_though_the_rest_is_not() -> None:
    closed = close(after(*counted()))
    assert (closed.kind, closed.at_s, closed.by, closed.reason) == (EventKind.CLOSED, 50.0, None, None)
    assert (closed.short, closed.uncounted, closed.beyond) == (0, 0, 0)
    rest = [line for line in count_list(after(*counted()), PACK) if line.group is CountGroup.REST]
    assert rest and all(line.counted is None for line in rest)


def test_a_band_that_is_missing_keeps_it_from_ending() -> None:
    with pytest.raises(NotCounted, match=r"Short: matrix band \(0 of 1\)\. Count them, or give the name"):
        close(after(*counted(matrix_band=0)))


def test_a_mirror_that_was_counted_and_is_missing_keeps_it_from_ending_too() -> None:
    with pytest.raises(NotCounted, match="mouth mirror"):
        close(after(*counted(), count_event("mouth_mirror", 0, 0.0)))


def test_a_named_person_with_a_reason_ends_it_and_both_are_kept() -> None:
    closed = close(
        after(*counted(matrix_band=0, wedge=1)), Override("Dr Green", "Both seen on the radiograph.")
    )
    assert (closed.by, closed.reason) == ("Dr Green", "Both seen on the radiograph.")
    assert (closed.short, closed.uncounted, closed.beyond) == (2, 0, 0)


def test_where_nothing_is_open_nobody_overrides_anything() -> None:
    closed = close(after(*counted()), Override("Dr Green", "Just so."))
    assert (closed.by, closed.reason) == (None, None)


@pytest.mark.parametrize(
    ("by", "reason"),
    [("", "a reason"), ("  ", "a reason"), ("Dr Green", ""), ("Dr Green", "\n"), ("D" * 81, "a reason")],
)
def test_nobody_in_particular_and_no_reason_end_nothing(by: str, reason: str) -> None:
    with pytest.raises(ClosingError, match="nothing about a patient"):
        Override(by, reason)


def test_more_than_was_laid_is_told_and_keeps_nothing_open() -> None:
    state = after(*counted(wedge=3))
    assert [(line.item, line.beyond) for line in open_lines(state, PACK).beyond] == [("wedge", 1)]
    assert "More than was laid and added: wedge (3, expected 2)." in count_text(state, PACK)
    assert close(state).beyond == 1


def test_a_session_in_which_nothing_was_laid_or_asked_for_ends() -> None:
    assert close(fold((), None, PACK)).uncounted == 0


@pytest.mark.parametrize("kind", [EventKind.IN_MOUTH, EventKind.SHORT, EventKind.BROKEN])
def test_what_went_into_the_mouth_broke_or_is_missed_is_counted_again(kind: EventKind) -> None:
    state = after(*counted(), at_chair(kind, "cotton_roll"))
    assert [line.item for line in open_lines(state, PACK).uncounted] == ["cotton_roll"]
    found = after(*counted(), at_chair(kind, "cotton_roll"), count_event("cotton_roll", 4, 0.0))
    assert not open_lines(found, PACK)


def test_a_broken_mirror_may_have_left_a_part_in_the_mouth() -> None:
    state = after(*counted(), at_chair(EventKind.BROKEN, "mouth_mirror"))
    (line,) = open_lines(state, PACK).uncounted
    assert (line.item, line.group, line.expected) == ("mouth_mirror", CountGroup.MOUTH, 1)
    assert line.hint == "1 broke: count it as one, and only when every part is there."


def test_the_count_says_what_is_noted_in_the_mouth_and_what_is_missed() -> None:
    state = after(
        at_chair(EventKind.ASKED, "cotton_roll", 3),
        at_chair(EventKind.IN_MOUTH, "cotton_roll", 2),
        at_chair(EventKind.SHORT, "gauze_square"),
    )
    hints = {line.item: line.hint for line in count_list(state, PACK)}
    assert hints["cotton_roll"] == "2 noted as still in the mouth. 1 noted as out."
    assert hints["gauze_square"] == "1 noted as missing."
    text = count_text(state, PACK)
    assert "Noted as still in the mouth: cotton roll (2)." in text
    assert "Noted as missing, and not counted since: gauze square." in text


def test_cartridges_are_counted_with_the_sharps() -> None:
    # common practice: they are glass, and their number is the record of the dose
    state = after(at_chair(EventKind.ADDED, "cartridge_plain", 2))
    (line,) = [line for line in count_list(state, PACK) if line.item == "cartridge_plain"]
    assert (line.group, line.expected) == (CountGroup.SHARP, 2)


def test_a_long_list_names_the_first_few() -> None:
    added = [at_chair(EventKind.ADDED, item) for item in ("needle_long", "cartridge_plain")]
    with pytest.raises(NotCounted, match="gauze square and 1 more"):
        close(after(*added))


@pytest.mark.parametrize(
    ("stood", "said"),
    [
        ((0, 0, 0), ""),
        ((1, 3, 0), "1 short, 3 not counted"),
        ((0, 0, 2), "2 more than laid"),
        ((None, None, None), "count not recorded"),
    ],
)
def test_the_list_of_sessions_says_how_the_count_stood(
    stood: tuple[int | None, int | None, int | None], said: str
) -> None:
    assert ending_text(*stood) == said


def test_the_list_names_what_was_short_and_counts_what_was_not_counted() -> None:
    state = after(count_event("matrix_band", 0, 0.0), count_event("cotton_roll", 5, 0.0))
    named = ending_named(open_lines(state, PACK))
    assert named == "short: matrix band (0 of 1); 5 not counted; more than laid: cotton roll (5 of 4)"
    assert ending_named(Unfinished()) == ""


def test_what_another_program_noted_in_the_meantime_counts(tmp_path: Path) -> None:
    here, there = (
        Sessions(shared_chair, ServerSettings(data=tmp_path, clock=Clock()), StandIn) for _ in range(2)
    )
    chair_session = here.open(None, None)
    there.chair_session(chair_session.session.id).touch(EventKind.ADDED, "wedge")
    with pytest.raises(NotCounted, match="wedge"):
        chair_session.close()
    there.chair_session(chair_session.session.id).count("wedge", 1)
    chair_session.close()
    assert chair_session.closed
