"""Following old sessions item by item: equal to counting every way, and does what a colleague would."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from vocab.procedure.hmm import Array
from vocab.procedure.replay import ANOTHER_DAY, AS_WRITTEN, LEAPS, PAUSE, Replay, remembered

WIDTH = 5
STEPS_P = np.array([0.1, 0.2, 0.3, 0.15, 0.25])


def two_sessions() -> Replay:
    """Of two procedures, so that neither gives way to the other."""
    replay = remembered([[([0, 1, 2, 1], 1.0)], [([1, 3], 0.5)]], WIDTH)
    assert replay is not None
    return replay


def probability_of(replay: Replay, items: tuple[int, ...]) -> float:
    """p of a whole session by enumerating every place and every kind of move, in plain loops."""
    size = len(replay.columns)
    lost = 1.0 - PAUSE - sum(LEAPS.values())

    def way(source: int, to: int) -> float:
        p = LEAPS.get(to - source, 0.0) if replay.session[source] == replay.session[to] else 0.0
        beyond = sum(
            share
            for by, share in LEAPS.items()
            if not (0 <= source + by < size and replay.session[source + by] == replay.session[source])
        )
        return p + (lost + beyond) * float(replay.anywhere[to])

    def heard(to: int, item: int) -> float:
        scripted = AS_WRITTEN if replay.columns[to] == item else 0.0
        return scripted + (1 - AS_WRITTEN) * float(STEPS_P[item])

    total = 0.0
    for places in itertools.product(range(size), repeat=len(items)):
        p = replay.first[places[0]] * heard(places[0], items[0])
        for t in range(1, len(items)):
            paused = PAUSE * STEPS_P[items[t]] if places[t] == places[t - 1] else 0.0
            p *= way(places[t - 1], places[t]) * heard(places[t], items[t]) + paused
        total += p
    return float(total)


@pytest.mark.parametrize("items", [(0, 1, 2, 1), (1, 3, 0), (4, 4, 1), (3, 1, 0, 2)])
def test_the_filter_equals_counting_every_way_through_the_old_sessions(items: tuple[int, ...]) -> None:
    replay, place, p = two_sessions(), two_sessions().start(), 1.0
    for t, item in enumerate(items):
        ahead = replay.next_items(place, STEPS_P)
        assert ahead.sum() == pytest.approx(1.0)
        place, step_p = replay.after(place, item, STEPS_P[item])
        assert step_p == pytest.approx(ahead[item])
        p *= step_p
        assert p == pytest.approx(probability_of(replay, items[: t + 1]))
        assert place.sum() == pytest.approx(1.0)


def likeliest(replay: Replay, place: Array) -> int:
    return int(np.argmax(replay.next_items(place, np.full(WIDTH, 1 / WIDTH))))


def played(replay: Replay, items: list[int]) -> Array:
    place = replay.start()
    for item in items:
        place, _ = replay.after(place, item, 1 / WIDTH)
    return place


def test_what_came_next_last_time_is_expected_next() -> None:
    replay = remembered([[([0, 1, 2, 3, 2, 4], 1.0)]], WIDTH)
    assert replay is not None
    assert likeliest(replay, replay.start()) == 0
    assert likeliest(replay, played(replay, [0, 1])) == 2
    assert likeliest(replay, played(replay, [0, 1, 2])) == 3
    assert likeliest(replay, played(replay, [0, 1, 2, 3, 2])) == 4


def test_an_interruption_does_not_lose_the_place() -> None:
    replay = remembered([[([0, 1, 2, 3], 1.0)]], WIDTH)
    assert replay is not None
    assert likeliest(replay, played(replay, [0, 1, 4])) == 2


def test_an_item_left_out_does_not_lose_the_place() -> None:
    replay = remembered([[([0, 1, 2, 3], 1.0)]], WIDTH)
    assert replay is not None
    assert likeliest(replay, played(replay, [0, 2])) == 3


def test_a_newer_session_counts_more() -> None:
    replay = remembered([[([0, 1], 0.4), ([0, 2], 1.0)]], WIDTH)
    assert replay is not None
    assert likeliest(replay, played(replay, [0])) == 2


def test_any_session_of_the_procedure_may_be_the_one_replayed_each_from_its_own_place() -> None:
    """By hand: the part of the belief in each session changes, the places within it do not."""
    sessions = [([0, 1, 2], 1.0), ([2, 0, 1], 0.5), ([3, 0], 1.0)]
    replay, apart = (
        remembered([sessions[:2], sessions[2:]], WIDTH),
        remembered([[s] for s in sessions], WIDTH),
    )
    assert replay is not None and apart is not None
    place, p = replay.after(replay.start(), 0, 0.1)
    before, before_p = apart.after(apart.start(), 0, 0.1)
    assert p == pytest.approx(before_p)
    a, b, c = before[:3], before[3:6], before[6:]
    both = a.sum() + b.sum()
    for found, alone, share in ((place[:3], a, 2 / 3), (place[3:6], b, 1 / 3)):
        held = (1 - ANOTHER_DAY) * alone.sum() + ANOTHER_DAY * share * both
        np.testing.assert_allclose(found, alone * held / alone.sum())
    np.testing.assert_allclose(place[6:], c)


def test_what_most_sessions_agree_on_counts_more_than_the_one_that_began_like_today() -> None:
    replay = remembered([[([0, 1, 2, 3, 4], 1.0)] * 4 + [([0, 2, 4, 3], 1.0)]], WIDTH)
    assert replay is not None
    assert likeliest(replay, played(replay, [0, 2])) == 3


def test_sessions_of_other_procedures_have_no_say_once_the_procedure_is_known() -> None:
    replay = remembered([[([0, 1, 2], 1.0)], [([3, 1, 4], 1.0)] * 5], WIDTH)
    assert replay is not None
    assert likeliest(replay, played(replay, [0, 1])) == 2


def test_nothing_to_remember_is_no_replay() -> None:
    assert remembered([], WIDTH) is None
    assert remembered([[([], 1.0)]], WIDTH) is None
