"""The report compares like with like: figures that can be made by hand, and an order that must hold."""

from __future__ import annotations

import numpy as np
import pytest

from listen.bench.prediction import Score, _bigram, _counts, _judged, _score, as_text, compare
from listen.bench.vocabulary_size import big_pack, step_times_s
from vocab.pack.load import shipped_pack
from vocab.procedure.habits import Session

PACK = shipped_pack()
WIDTH = len(PACK.items)
IDS = [item.id for item in PACK.items]


@pytest.fixture(scope="module")
def scores() -> dict[tuple[str, int], Score]:
    pack = PACK.model_copy(
        update={"procedures": tuple(PACK.procedure(p) for p in ("sealant", "amalgam_class_two"))}
    )
    found = compare(pack, np.random.default_rng(7), teachers=4, held_out=4, lessons=2, earlier=(0, 3))
    return {(score.predictor, score.earlier): score for score in found}


def test_the_uniform_guess_loses_the_log_of_the_number_of_items(scores: dict[tuple[str, int], Score]) -> None:
    uniform = scores["uniform", 0]
    assert uniform.log_loss == pytest.approx(np.log(WIDTH))
    assert uniform.top3 == 0.0


def test_the_procedure_model_beats_every_baseline_with_and_without_a_habit(
    scores: dict[tuple[str, int], Score],
) -> None:
    for earlier in (0, 3):
        model = scores["procedure model", earlier]
        for name in ("uniform", "item frequency", "last-item bigram"):
            assert model.log_loss < scores[name, earlier].log_loss
            assert model.top3 > scores[name, earlier].top3


def test_three_sessions_of_the_dentist_help(scores: dict[tuple[str, int], Score]) -> None:
    before, after = scores["procedure model", 0], scores["procedure model", 3]
    assert after.log_loss < before.log_loss - 0.2
    assert after.top1 > before.top1
    assert after.requests == before.requests


def test_the_baselines_are_what_their_names_say() -> None:
    a, b, c = IDS[:3]
    frequency, follows = _counts(
        PACK, [(Session("sealant", (a, b, a, c)), 1.0), (Session("sealant", (a, b)), 5.0)]
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
    places = _judged(PACK, lambda items: [p] * len(items), Session("sealant", (IDS[0], IDS[1], IDS[3])))
    assert [place for place, _ in places] == [1.0, 2.5, 4.0]
    score = _score("by hand", 0, places)
    assert (score.top1, score.top3) == pytest.approx((1 / 3, 2 / 3))
    assert score.log_loss == pytest.approx(-np.log([0.5, 0.2, 0.1]).mean())


def test_the_table_tells_how_far_each_lies_below_the_bigram() -> None:
    scores = [
        Score("last-item bigram", 3, 0.3, 0.5, 4.0, 20),
        Score("procedure model", 3, 0.75, 0.95, 2.6, 20),
    ]
    head, _, row = as_text(scores).splitlines()
    assert head.split("  ")[0] == "own sessions"
    assert row.split() == ["3", "procedure", "model", "75.0%", "95.0%", "2.60", "20", "+35%"]


def test_every_step_in_a_large_pack_is_timed_with_the_clock_given() -> None:
    ticks = iter(range(100))
    pack = big_pack(np.random.default_rng(1), items=40, procedures=3)
    assert (len(pack.items), len(pack.procedures)) == (40, 3)
    times_s = step_times_s(pack, np.random.default_rng(1), lambda: float(next(ticks)), steps=5)
    assert times_s == [1.0] * 5
