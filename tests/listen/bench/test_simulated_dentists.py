"""Made-up dentists keep to their habits, depart from them, and can be made again from the same seed."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from listen.bench.simulated_dentists import (
    COMMON,
    SimulatedDentist,
    SimulatedSession,
    Whims,
    draw_dentist,
    draw_session,
)
from vocab.pack.load import shipped_pack

PACK = shipped_pack()
IDS = {item.id for item in PACK.items}
ORDERLY = COMMON.of_a_day(0.0)


def dentist(seed: int, whims: Whims = COMMON) -> SimulatedDentist:
    return draw_dentist(PACK, f"dr {seed}", np.random.default_rng(seed), whims)


def day(
    who: SimulatedDentist, seed: int, whims: Whims = COMMON, procedure: str = "composite_class_two"
) -> SimulatedSession:
    return draw_session(PACK, who, procedure, np.random.default_rng(seed), whims)


def followed(session: SimulatedSession) -> Counter[tuple[str, str]]:
    return Counter(zip(session.items, session.items[1:], strict=False))


def alike(a: SimulatedSession, b: SimulatedSession) -> float:
    """The share of neighbouring requests two sessions have in common."""
    common = followed(a) & followed(b)
    return 2 * common.total() / (len(a.items) + len(b.items) - 2)


@pytest.mark.parametrize("procedure", [p.id for p in PACK.procedures])
def test_a_session_asks_only_for_items_of_the_pack_and_time_runs_forward(procedure: str) -> None:
    session = day(dentist(1), 2, procedure=procedure)
    assert len(session.items) >= 5
    assert set(session.items) <= IDS
    times = [said.time_s for said in session.said]
    assert times == sorted(times)
    assert session.logged.items == session.items


def test_the_same_seed_makes_the_same_dentist_and_day() -> None:
    assert dentist(3) == dentist(3)
    assert day(dentist(3), 4) == day(dentist(3), 4)
    assert day(dentist(3), 4) != day(dentist(3), 5)


def test_a_dentist_is_more_like_themselves_than_like_another() -> None:
    first, second = dentist(1), dentist(2)
    same = np.mean([alike(day(first, s), day(first, s + 50)) for s in range(10)])
    other = np.mean([alike(day(first, s), day(second, s + 50)) for s in range(10)])
    assert same > 2 * other


def test_an_orderly_day_is_more_like_another_than_an_unruly_one() -> None:
    who = dentist(1)
    orderly = np.mean([alike(day(who, s, ORDERLY), day(who, s + 50, ORDERLY)) for s in range(10)])
    unruly = np.mean([alike(day(who, s), day(who, s + 50)) for s in range(10)])
    assert orderly > unruly + 0.1


def test_the_weightiest_item_of_a_step_is_always_asked_for() -> None:
    etching = [v for v in dentist(5).scripts["sealant"] if v.step == "etch"]
    assert "etchant" in [item for visit in etching for item in visit.items]


def test_interruptions_come_by_the_clock_not_by_the_number_of_requests() -> None:
    # Common ground of both dentists is the script; the slower one is interrupted more often a request.
    base = dentist(1)
    quick = SimulatedDentist(base.name, base.scripts, 10.0, 240.0, base.taste)
    slow = SimulatedDentist(base.name, base.scripts, 60.0, 240.0, base.taste)
    lengths = [sum(len(day(who, seed, ORDERLY).items) for seed in range(10)) for who in (quick, slow)]
    assert lengths[1] > 1.1 * lengths[0]


def test_chatter_is_said_and_asks_for_nothing() -> None:
    chatty = Whims(chat=1.0)
    session = day(dentist(1), 2, chatty)
    silent = sum(said.item is None for said in session.said)
    assert silent > 0.4 * len(session.said)
    assert all(said.item is not None for said in day(dentist(1), 2, Whims(chat=0.0)).said)
