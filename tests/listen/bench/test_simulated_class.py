"""The simulated class: its memory by hand, and what the orders come to."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from typer.testing import CliRunner, Result

from listen.bench.__main__ import app
from listen.bench.simulated_class import (
    ClassPlan,
    Learner,
    Memory,
    gain,
    gain_interval,
    simulate,
    single_topics,
)
from tests.listen.practice.classroom import CLASS_TWO, facts, pack

EXACT = Memory(topic_spread=0.0, trainee_spread=0.0)


def learner() -> Learner:
    return Learner(["a"], EXACT, np.random.default_rng(0))


def test_activation_is_the_power_law_of_its_encounters() -> None:
    """By hand from the formulas of Pavlik and Anderson (2005): m = ln sum t^-d, d = c e^m + a."""
    one = learner()
    assert one.recall_p("a", 0.0) == 0.0
    one.meet("a", 0.0)
    assert one.activation("a", 100.0) == pytest.approx(-0.177 * math.log(100))
    before = one.activation("a", 100.0)
    one.meet("a", 100.0)
    second = 0.217 * math.exp(before) + 0.177
    assert one.activation("a", 1000.0) == pytest.approx(math.log(1000**-0.177 + 900**-second))
    assert one.recall_p("a", 1000.0) == pytest.approx(
        1 / (1 + math.exp((-0.704 - one.activation("a", 1000.0)) / 0.255))
    )


def test_spaced_practice_is_held_better_than_crammed() -> None:
    crammed, spaced = learner(), learner()
    for i in range(5):
        crammed.meet("a", 10.0 * i)
        spaced.meet("a", 2000.0 * i)
    assert spaced.activation("a", 8000.0 + 50_000) > crammed.activation("a", 40.0 + 50_000)


def test_the_scheduled_order_teaches_more_in_the_time_of_ten_short_sessions() -> None:
    topics, course, use = single_topics(pack(), facts(), CLASS_TWO)
    results = simulate(topics, course, use, ClassPlan(trainees=3), seed=1)
    assert gain(results) > 1.0
    low, high = gain_interval(results, np.random.default_rng(0))
    assert low <= gain(results) <= high


def test_the_same_seed_gives_the_same_class() -> None:
    topics, course, use = single_topics(pack(), facts(), "examination")
    plan = replace(ClassPlan(), days=(0, 1), trainees=2)
    assert simulate(topics, course, use, plan, 4) == simulate(topics, course, use, plan, 4)


def command(*words: str) -> Result:
    return CliRunner().invoke(app, ["class", *words])


def test_the_command_prints_three_orders() -> None:
    out = command("--procedure", "examination", "--trainees", "2", "--minutes", "1").stdout
    assert all(order in out for order in ("scheduled", "rotation", "random"))
    assert "scheduled against random" in out


@pytest.mark.parametrize(
    "words", [("--trainees", "1000000000"), ("--seed", "-1"), ("--minutes", "1e9")], ids=" ".join
)
def test_a_number_that_makes_no_sense_is_told_with_what_would(words: tuple[str, str]) -> None:
    result = command(*words)
    assert result.exit_code == 2 and words[0] in result.stderr and "Traceback" not in result.output
