"""The report compares like with like: figures that can be made by hand, and an order that must hold."""

from __future__ import annotations

import numpy as np
import pytest
from typer.testing import CliRunner, Result

from listen.bench.__main__ import app
from listen.bench.prediction import (
    WATCHED,
    PredictionScore,
    _bigram,
    _counts,
    _judged,
    _score,
    _watcher,
    as_text,
    compare,
    counts,
)
from listen.bench.vocabulary_size import big_pack, step_times_s
from vocab.pack.load import shipped_pack
from vocab.procedure.habits import PastSession

pytestmark = pytest.mark.slow

PACK = shipped_pack()
WIDTH = len(PACK.items)
IDS = [item.id for item in PACK.items]


@pytest.fixture(scope="module")
def scores() -> dict[tuple[str, int], PredictionScore]:
    pack = PACK.model_copy(
        update={"procedures": tuple(PACK.procedure(p) for p in ("sealant", "amalgam_class_two"))}
    )
    found = compare(pack, np.random.default_rng(7), teachers=4, held_out=4, lessons=2, earlier=(0, 3))
    return {(score.predictor, score.earlier): score for score in found}


def test_the_uniform_guess_loses_the_log_of_the_number_of_items(
    scores: dict[tuple[str, int], PredictionScore],
) -> None:
    uniform = scores["uniform", 0]
    assert uniform.log_loss == pytest.approx(np.log(WIDTH))
    assert uniform.top3 == 0.0


def test_the_procedure_model_beats_every_baseline_with_and_without_a_habit(
    scores: dict[tuple[str, int], PredictionScore],
) -> None:
    for earlier in (0, 3):
        model = scores["procedure model", earlier]
        for name in ("uniform", "item frequency", "last-item bigram"):
            assert model.log_loss < scores[name, earlier].log_loss
            assert model.top3 > scores[name, earlier].top3


def test_three_sessions_of_the_dentist_help(scores: dict[tuple[str, int], PredictionScore]) -> None:
    before, after = scores["procedure model", 0], scores["procedure model", 3]
    assert after.log_loss < before.log_loss - 0.2
    assert after.top1 > before.top1
    assert after.requests == before.requests


def test_the_baselines_are_what_their_names_say() -> None:
    a, b, c = IDS[:3]
    frequency, follows = _counts(
        PACK, [(PastSession("sealant", (a, b, a, c)), 1.0), (PastSession("sealant", (a, b)), 5.0)]
    )
    total = 4 + 10 + 0.1 * WIDTH
    assert frequency[0] == pytest.approx((2 + 5 + 0.1) / total)
    first, second = _bigram(PACK, frequency, follows, [a, b])
    assert first is frequency
    assert second[1] == pytest.approx((6 + 4 * frequency[1]) / (7 + 4))
    assert second.sum() == pytest.approx(1.0)


def test_a_right_guess_a_wrong_guess_and_a_tie_are_counted_by_hand() -> None:
    p = np.zeros(WIDTH)
    p[:4] = 0.5, 0.2, 0.2, 0.1
    places = _judged(PACK, lambda items: [p] * len(items), PastSession("sealant", (IDS[0], IDS[1], IDS[3])))
    assert [place for place, _ in places] == [1.0, 2.5, 4.0]
    score = _score("by hand", 0, places)
    assert (score.top1, score.top3) == pytest.approx((1 / 3, 2 / 3))
    assert score.log_loss == pytest.approx(-np.log([0.5, 0.2, 0.1]).mean())


def test_the_table_tells_how_far_each_lies_below_the_bigram() -> None:
    scores = [
        PredictionScore("last-item bigram", 3, 0.3, 0.5, 4.0, 20),
        PredictionScore("procedure model", 3, 0.75, 0.95, 2.6, 20),
    ]
    head, _, row = as_text(scores).splitlines()
    assert head.split("  ")[0] == "own sessions"
    assert row.split() == ["3", "procedure", "model", "75.0%", "95.0%", "2.60", "20", "+35%"]
    assert counts(scores)["procedure model"]["3"] == {"requests": 20, "top1_percent": 75, "top3_percent": 95}


def test_every_step_in_a_large_pack_is_timed_with_the_clock_given() -> None:
    ticks = iter(range(100))
    pack = big_pack(np.random.default_rng(1), items=40, procedures=3)
    assert (len(pack.items), len(pack.procedures)) == (40, 3)
    times_s = step_times_s(pack, np.random.default_rng(1), lambda: float(next(ticks)), steps=5)
    assert times_s == [1.0] * 5


def command(*words: str) -> Result:
    return CliRunner().invoke(app, ["prediction", *words])


def test_the_table_comes_from_a_command_with_its_seed() -> None:
    few = [
        "--teachers",
        "1",
        "--held-out",
        "1",
        "--lessons",
        "1",
        "--earlier",
        "0,1",
        "--seed",
        "5",
        "--unruly",
        "0",
    ]
    first, again = (command(*few).stdout for _ in range(2))
    assert first == again and "seed 5" in first and "0 times as unruly" in first
    assert "last-item bigram" in first and "procedure model" in first and "requests" in first


@pytest.mark.parametrize("words", [("--earlier", "few"), ("--earlier", "-1"), ("--seed", "-1")], ids=" ".join)
def test_a_wrong_option_is_told(words: tuple[str, str]) -> None:
    result = command(*words)
    assert result.exit_code == 2 and words[0] in result.stderr and "Traceback" not in result.output


def test_the_step_time_is_told_for_a_large_pack() -> None:
    assert "500 items, 20 procedures" in command("--step-time").stdout


def test_who_watched_knows_what_followed_the_longest_run_seen_before() -> None:
    """By hand, method C: (count + kinds * shorter) / (seen + kinds)."""
    a, b, c = IDS[:3]
    watcher = _watcher(PACK, [PastSession("sealant", (a, b, a, c)), PastSession("sealant", (a, b))])
    first, second, third = watcher((a, b, a))
    alone = 1 / WIDTH
    assert first[0] == pytest.approx((3 + 3 * alone) / (6 + 3))
    shorter = (2 + 3 * alone) / (6 + 3)  # b, whatever came before
    assert second[1] == pytest.approx((2 + 2 * shorter) / (3 + 2))
    assert all(p.sum() == pytest.approx(1.0) and p.min() > 0 for p in (first, second, third))


def test_who_watched_most_knows_most() -> None:
    pack = PACK.model_copy(update={"procedures": (PACK.procedure("sealant"),)})
    few, many = (
        compare(pack, np.random.default_rng(7), teachers=4, held_out=4, lessons=2, earlier=(3,), watched=n)
        for n in (2, 200)
    )
    assert few[:-1] == many[:-1]  # watching changes no other figure
    assert (few[-1].predictor, few[-1].earlier, few[-1].requests) == (WATCHED, 2, many[-1].requests)
    assert many[-1].top3 > few[-1].top3 and many[-1].log_loss < few[-1].log_loss
