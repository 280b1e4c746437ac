"""How a class stands, in a lead's words."""

from __future__ import annotations

import pytest

from listen.practice.reports import class_overview
from listen.practice.standing import Standing, grouped, of_first_tries, of_ten, standings
from listen.practice.tallies import Missed, TraineeTally
from listen.shares import wilson
from tests.listen.practice.classroom import NOON, days


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
    found = grouped(standings(class_overview(tallies), (), NOON))
    assert {group: [row.row.trainee for row in rows] for group, rows in found.items()} == {
        Standing.READY: ["able", "able but away"],
        Standing.HELP: ["weak"],
        Standing.AWAY: ["gone", "never"],
        Standing.ON_THE_WAY: ["able but slow", "new"],
    }
    assert [row.days for row in found[Standing.AWAY]] == [8, None]


def test_who_is_ready_is_by_what_counts_only() -> None:
    everything, counting = class_overview([tally("able", 78, 80)]), class_overview([tally("able", 30, 31)])
    (row,) = standings(everything, (), NOON, counting=counting)
    assert (row.standing, row.row.firsts) == (Standing.ON_THE_WAY, 80)
    (row,) = standings(everything, (), NOON, counting=everything)
    assert row.standing is Standing.READY


def test_help_is_needed_with_what_is_missed_most() -> None:
    missed = [Missed("weak", "wedge", 4, 3), Missed("weak", "etchant", 9, 5), Missed("other", "probe", 9, 9)]
    missed += [Missed("weak", "mouth_mirror", 20, 4), Missed("weak", "hatchet", 1, 1)]
    (row,) = standings(class_overview([tally("weak", 10, 40)]), missed, NOON)
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
