"""The Rasch model against girth (PyPI), an independent implementation of item response theory."""

from __future__ import annotations

import numpy as np
import pytest

from listen.practice.ability import Estimate, Rasch, of_topics, of_trainees, rasch
from listen.practice.topics import PracticeError

TRUE = np.linspace(-2, 2, 12)


def simulated(trainees: int, seed: int, spread: float = 1.3) -> np.ndarray:
    """Right answers as 0 and 1, shape = (items, trainees)."""
    rng = np.random.default_rng(seed)
    ability = rng.normal(0, spread, trainees)
    return (rng.random((len(TRUE), trainees)) < 1 / (1 + np.exp(TRUE[:, None] - ability))).astype(int)


def as_answers(data: np.ndarray) -> dict[tuple[str, str], bool]:
    return {(f"t{t:03}", f"i{i:02}"): bool(data[i, t]) for i, t in np.ndindex(data.shape)}


def in_order(estimates: object) -> np.ndarray:
    return np.array([e.logits for e in sorted(estimates, key=lambda e: e.who)])  # type: ignore[call-overload]


def test_difficulties_spread_and_abilities_are_those_of_girth() -> None:
    """girth fixes the spread of abilities at 1 and scales by the discrimination, which is our spread; our
    weak prior on difficulties pulls by some hundredths of a logit at most."""
    girth = pytest.importorskip("girth", reason="girth, the library compared with, is not installed")
    data = simulated(300, 3)
    ours = rasch(as_answers(data))
    free = girth.onepl_mml(data)
    assert ours.spread == pytest.approx(float(np.ravel(free["Discrimination"])[0]), abs=0.02)
    theirs = girth.rasch_mml(data, discrimination=ours.spread)["Difficulty"]
    assert in_order(ours.items) == pytest.approx(theirs * ours.spread, abs=0.03)
    abilities = girth.ability_eap(data, theirs, np.full(len(TRUE), ours.spread)) * ours.spread
    assert in_order(ours.trainees) == pytest.approx(abilities, abs=0.03)


def test_intervals_cover_the_true_difficulties() -> None:
    """Of 12 items in 20 classes about 95 % should lie within 1.96 standard errors."""
    inside = 0
    for seed in range(20):
        ours = sorted(rasch(as_answers(simulated(80, seed))).items, key=lambda e: e.who)
        shift = np.mean([e.logits for e in ours]) - TRUE.mean()
        inside += sum(abs(e.logits - shift - t) < 1.96 * e.error for e, t in zip(ours, TRUE, strict=True))
    assert 0.9 <= inside / 240 <= 0.99


def test_gaps_are_no_wrong_answers() -> None:
    data, rng = as_answers(simulated(400, 5)), np.random.default_rng(1)
    kept = {key: right for key, right in data.items() if rng.random() < 0.5}
    assert in_order(rasch(kept).items) == pytest.approx(in_order(rasch(data).items), abs=0.35)


def test_an_item_that_everybody_knows_stays_finite() -> None:
    answers = {
        (f"t{t}", item): item == "easy" or t % 2 == 0 for t in range(10) for item in ("easy", "even", "x")
    }
    found = rasch(answers)
    assert found.items[-1].who == "easy" and -8 < found.items[-1].logits < 0
    assert all(np.isfinite([e.logits, e.error]).all() for e in (*found.items, *found.trainees))


def test_one_trainee_alone_is_not_put_on_a_scale() -> None:
    with pytest.raises(PracticeError, match="at least two trainees"):
        rasch({("a", "x"): True, ("a", "y"): False})


def test_an_ability_is_a_share_of_the_topics_and_a_difficulty_the_chance_of_a_middling_trainee() -> None:
    found = Rasch(
        items=(Estimate("hard", 1.0, 0.5, 9), Estimate("easy", -1.0, 0.5, 9)),
        trainees=(Estimate("Ann", 0.0, 0.4, 18),),
        spread=1.0,
    )
    (ann,) = of_trainees(found)
    assert ann.p == pytest.approx(0.5) and ann.low < 0.5 < ann.high and ann.answers == 18
    hard, easy = of_topics(found)
    assert hard.p == pytest.approx(1 / (1 + np.exp(1.0))) and easy.p == pytest.approx(1 - hard.p)
    assert 0 < hard.low < hard.p < hard.high < 1


def test_abilities_far_apart_cause_no_overflow() -> None:
    answers = {(who, f"t{i}"): who == "Ann" for who in ("Ann", "Ben") for i in range(200)}
    found = rasch(answers)
    assert np.isfinite([one.logits for one in (*found.items, *found.trainees)]).all()
