"""How a class stands, in a lead's words."""

from __future__ import annotations

import pytest

from listen.practice.facts import Observation
from listen.practice.reports import class_overview
from listen.practice.standing import (
    Readiness,
    Standing,
    grouped,
    of_first_tries,
    of_ten,
    readiness,
    requests,
    standings,
)
from listen.practice.tallies import Missed, TraineeTally
from listen.practice.topics import Drill, Topic
from listen.shares import wilson
from tests.listen.practice.classroom import CLASS_TWO, NOON, days, pack


def tally(name: str, right: int, firsts: int, away: float = 0.5, seconds: float | None = 2.0) -> TraineeTally:
    last = NOON - days(away) if firsts else None
    return TraineeTally(name, True, firsts, firsts, right, seconds, firsts, 0, 0, last)


def test_each_stands_where_the_figures_put_them() -> None:
    tallies = [
        tally("able", 78, 80),
        tally("able but slow", 78, 80, seconds=9.0),
        tally("able but away", 78, 80, away=30),
        tally("weak", 10, 40),
        tally("new", 0, 3),
        tally("gone", 10, 40, away=8),
        tally("never", 0, 0),
    ]
    ready = {
        "able": [Readiness(CLASS_TWO, 9, 10, 3, 3)],
        "able but away": [Readiness(CLASS_TWO, 10, 10, 3, 3)],
    }
    ready["able but slow"] = [Readiness(CLASS_TWO, 5, 10, 3, 3), Readiness("other", 8, 10, 3, 3)]
    found = grouped(standings(class_overview(tallies), (), NOON, ready))
    assert {group: [row.row.trainee for row in rows] for group, rows in found.items()} == {
        Standing.READY: ["able", "able but away"],
        Standing.HELP: ["weak"],
        Standing.AWAY: ["gone", "never"],
        Standing.ON_THE_WAY: ["able but slow", "new"],
    }
    nearest = found[Standing.ON_THE_WAY][0].nearest
    assert nearest is not None and nearest.procedure == "other" and not found[Standing.ON_THE_WAY][0].ready
    assert [row.days for row in found[Standing.AWAY]] == [8, None]


def test_a_slot_stands_for_a_request_only_on_a_confirmed_tray() -> None:
    procedure = pack().procedure(CLASS_TWO)
    here, elsewhere = (requests(pack(), procedure, trays) for trays in ((procedure.tray,), ()))
    mirror = Topic(Drill.SLOT, "mouth_mirror", procedure.tray).key, Topic(Drill.NAME, "mouth_mirror").key
    assert mirror[0] in here and mirror[1] not in here
    assert mirror[1] in elsewhere and not any(key.startswith("slot:") for key in elsewhere)
    assert len(here) == len(elsewhere)


def test_help_is_needed_with_what_is_missed_most() -> None:
    missed = [Missed("weak", "wedge", 4, 3), Missed("weak", "etchant", 9, 5), Missed("other", "probe", 9, 9)]
    missed += [Missed("weak", "mouth_mirror", 20, 4), Missed("weak", "hatchet", 1, 1)]
    (row,) = standings(class_overview([tally("weak", 10, 40)]), missed, NOON, {})
    assert row.misses == ("etchant", "wedge")


@pytest.mark.parametrize(
    ("right", "firsts", "said"),
    [
        (8, 10, "about 8 of 10; sure to within 4"),
        (160, 200, "about 8 of 10; sure to within 1"),
        (0, 100, "about 0 of 10; sure to within 1"),
        (3, 4, "too few answers to say how many"),
    ],
)
def test_a_share_is_told_in_words_with_how_sure_it_is(right: int, firsts: int, said: str) -> None:
    share = wilson(right, firsts)
    assert of_first_tries(share.value, share.low, share.high, firsts) == said
    if firsts >= 5:
        within = int(said.rsplit(" ", 1)[1])
        assert 10 * max(share.high - share.value, share.value - share.low) <= within
    assert of_ten(0.5, 0.4, 0.6, " requests") == "about 5 of 10 requests; sure to within 1"


POINTS = (
    Observation(id="a", group="passing", text="Passes", must=True),
    Observation(id="b", group="sharps", text="Caps", must=True),
    Observation(id="c", group="count", text="Counts"),
)


@pytest.mark.parametrize(
    ("missing", "seen", "lacks"),
    [
        (0, {"a", "b"}, ""),
        (None, {"a", "b"}, ""),  # as many as may be missing
        (-1, {"a", "b"}, "knows"),  # one more
        (0, {"a", "c"}, "1 point of the checklist still to be seen"),
        (0, set(), "2 points of the checklist still to be seen"),
    ],
)
def test_ready_is_nine_of_ten_requests_and_every_point_that_must_be_seen(
    missing: int | None, seen: set[str], lacks: str
) -> None:
    procedure = pack().procedure(CLASS_TWO)
    asked = sorted(requests(pack(), procedure, (procedure.tray,)))
    assert len(asked) >= 10 and {key.split(":")[0] for key in asked} <= {"slot", "name"}
    spare = len(asked) // 10
    gone = spare if missing is None else spare + 1 if missing < 0 else missing
    memories = {key: n >= gone for n, key in enumerate(asked)} | {"fact::else": True}
    found = readiness(procedure.id, asked, POINTS, memories, seen)
    assert found.ready is (lacks == "") and (lacks in found.lacks if lacks else found.lacks == "")


def test_nobody_is_ready_where_nothing_is_to_be_watched() -> None:
    procedure = pack().procedure(CLASS_TWO)
    asked = requests(pack(), procedure, ())
    found = readiness(procedure.id, asked, POINTS[2:], dict.fromkeys(asked, True), {"c"})
    assert not found.ready and "no checklist" in found.lacks and found.of_ten == 10
