"""What may be kept of a session, and what is refused."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import pytest

from listen.chairside.events import Event, EventError, EventKind, Source, effective
from tests.listen.chairside.chair_pack import at_chair, in_order


def test_an_event_has_no_room_for_words_sound_or_a_patient() -> None:
    assert {f.name for f in fields(Event)} == {
        "kind",
        "at_s",
        "source",
        "item",
        "quantity",
        "slot",
        "about",
        "seconds_s",
        "verdict",
        "predicted",
        "good",
        "corrects",
        "size",
        "by",
        "reason",
        "short",
        "uncounted",
        "beyond",
        "seq",
    }


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": EventKind.RETURNED},
        {"kind": EventKind.RETURNED, "item": "so I told her the mirror"},
        {"kind": EventKind.RETURNED, "item": "wedge", "quantity": 0},
        {"kind": EventKind.RETURNED, "item": "wedge", "quantity": 5000},
        {"kind": EventKind.RETURNED, "item": "wedge", "at_s": float("nan")},
        {"kind": EventKind.RETURNED, "item": "wedge", "verdict": "answer"},
        {"kind": EventKind.RETURNED, "item": "wedge", "slot": "a sentence that goes on " * 3},
        {"kind": EventKind.ASKED, "item": "wedge"},
        {"kind": EventKind.ASKED, "item": "wedge", "verdict": "quiet"},
        {"kind": EventKind.ASKED, "item": "wedge", "verdict": "answer", "predicted": ("Mrs Example",)},
        {"kind": EventKind.CORRECTED},
        {"kind": EventKind.CORRECTED, "corrects": 3, "seq": 3},
        {"kind": EventKind.CORRECTED, "corrects": 0},
        {"kind": EventKind.TIMER_STARTED, "about": "etch"},
        {"kind": EventKind.TIMER_STARTED, "about": "etch", "seconds_s": 0.0},
        {"kind": EventKind.STEP},
        {"kind": EventKind.COUNTED, "item": "wedge", "about": "all but the one she dropped"},
        {"kind": EventKind.RETURNED, "item": "wedge", "about": "all here"},
        {"kind": EventKind.COUNTED, "about": "all here"},
        {"kind": EventKind.CHECKED, "about": "barriers_on"},
        {"kind": EventKind.OPENED, "item": "wedge"},
        {"kind": EventKind.OPENED, "size": "W8A"},
        {"kind": EventKind.INJURY_CARD, "item": "needle_long"},
        {"kind": EventKind.INJURY_CARD, "by": "Dr Green"},
        {"kind": EventKind.RETURNED, "item": "wedge", "size": "4" * 41},
        {"kind": EventKind.RETURNED, "item": "wedge", "by": "Dr Green"},
        {"kind": EventKind.RETURNED, "item": "wedge", "short": 1},
        {"kind": EventKind.STEP, "about": "check", "reason": "in a hurry"},
        {"kind": EventKind.CLOSED, "by": "Dr Green"},
        {"kind": EventKind.CLOSED, "reason": "in a hurry"},
        {"kind": EventKind.CLOSED, "by": " ", "reason": "in a hurry"},
        {"kind": EventKind.CLOSED, "by": "\u200b", "reason": "in a hurry"},
        {"kind": EventKind.CLOSED, "by": "Dr Green", "reason": "in a\nhurry"},
        {"kind": EventKind.CLOSED, "by": "Dr \u202eneerG", "reason": "in a hurry"},
        {"kind": EventKind.CLOSED, "by": "G" * 81, "reason": "in a hurry"},
        {"kind": EventKind.CLOSED, "by": "Dr Green", "reason": "r" * 201},
        {"kind": EventKind.CLOSED, "short": -1},
    ],
)
def test_what_cannot_have_happened_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(EventError):
        Event(**{"at_s": 0.0, "source": Source.TOUCH, **wrong})


def test_a_name_and_a_reason_stand_at_the_end_of_a_session() -> None:
    closed = at_chair(EventKind.CLOSED, by="Dr Green", reason="Band is in the sharps container.", short=1)
    assert (closed.by, closed.reason) == ("Dr Green", "Band is in the sharps container.")
    assert at_chair(EventKind.STEP, about="check", by="Dr Šaško Ødegård").by == "Dr Šaško Ødegård"
    assert at_chair(EventKind.ASKED, "wedge", size="2/W2A").size == "2/W2A"


def test_a_correction_takes_back_and_its_own_correction_brings_again() -> None:
    out, back = at_chair(EventKind.PASSED, "wedge"), at_chair(EventKind.RETURNED, "wedge")
    undo_second, undo_undo = (
        at_chair(EventKind.CORRECTED, corrects=2),
        at_chair(EventKind.CORRECTED, corrects=3),
    )

    def standing(*events: Event) -> list[int]:
        return [event.seq for event in effective(in_order(*events))]

    assert standing(out, back) == [1, 2]
    assert standing(out, back, undo_second) == [1]
    assert standing(out, back, undo_second, undo_undo) == [1, 2]
