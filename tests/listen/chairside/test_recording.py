"""What is kept of an answer: the item, the verdict and what had been expected, never the words."""

from __future__ import annotations

from dataclasses import fields, replace

from listen.answer import Answer
from listen.chairside.events import EventKind, Source
from listen.chairside.recording import asked_events
from listen.chairside.tray_state import fold
from listen.verdict import Verdict
from tests.listen.chairside.chair_pack import PACK, TRAY, at_chair, in_order

ANSWER = replace(
    Answer(**dict.fromkeys(f.name for f in fields(Answer))),  # type: ignore[arg-type]
    verdict=Verdict.ANSWER,
    kind="item",
    heard="the wedge please",
    item="wedge",
    slot="7",
    quantity=2,
)
STATE = fold(
    in_order(at_chair(EventKind.ASKED, "matrix_band"), at_chair(EventKind.ASKED, "wedge")), TRAY, PACK
)


def test_an_answer_is_kept_without_its_words() -> None:
    (event,) = asked_events(ANSWER, STATE, ("wedge", "etchant"), 9.0)
    assert (event.kind, event.item, event.quantity, event.slot) == (EventKind.ASKED, "wedge", 2, "7")
    assert event.verdict == "answer" and event.predicted == ("wedge", "etchant")
    assert event.source is Source.SPEECH and "please" not in repr(event)


def test_the_size_that_was_said_is_kept() -> None:
    (event,) = asked_events(replace(ANSWER, size="W8A"), STATE, (), 9.0)
    assert event.size == "W8A"
    (odd,) = asked_events(replace(ANSWER, size="4" * 41), STATE, (), 9.0)
    assert odd.size is None and odd.item == "wedge"


def test_chatter_leaves_nothing() -> None:
    assert asked_events(replace(ANSWER, verdict=Verdict.QUIET), STATE, (), 9.0) == ()


def test_a_correction_takes_the_wrong_request_back_first() -> None:
    corrected = replace(ANSWER, kind="correction", item="etchant", replaces="matrix_band")
    first, second = asked_events(corrected, STATE, (), 9.0)
    assert first.kind is EventKind.CORRECTED and first.corrects == 1
    assert second.item == "etchant"
    unsure = asked_events(replace(corrected, verdict=Verdict.CHECK), STATE, (), 9.0)
    assert [event.kind for event in unsure] == [EventKind.ASKED]


def test_an_action_is_kept_by_its_name() -> None:
    (event,) = asked_events(replace(ANSWER, kind="action", item=None, action="rinse"), STATE, (), 9.0)
    assert event.kind is EventKind.ACTION and event.about == "rinse"


def test_what_is_to_be_wiped_was_not_asked_for() -> None:
    wipe = replace(ANSWER, kind="action", item="hollenback_carver", action="wipe", quantity=None)
    asked, back = (at_chair(kind, "hollenback_carver") for kind in (EventKind.ASKED, EventKind.RETURNED))
    waiting = fold(in_order(asked, back), TRAY, PACK)
    for said in (wipe, replace(wipe, item=None)):
        action, wiped = asked_events(said, waiting, (), 9.0)
        assert (action.kind, action.about) == (EventKind.ACTION, "wipe")
        assert (wiped.kind, wiped.item) == (EventKind.WIPED, "hollenback_carver")
    still_out = fold(in_order(asked), TRAY, PACK)
    assert [e.kind for e in asked_events(wipe, still_out, (), 9.0)] == [EventKind.ACTION]
