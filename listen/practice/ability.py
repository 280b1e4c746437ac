"""Item difficulty and trainee ability on one scale: the Rasch model.

Takes right and wrong answers of trainees to items, gaps allowed; returns difficulties and abilities in logits
with standard errors. P(right) = 1 / (1 + exp(difficulty - ability)); abilities are normally distributed with
mean 0 and a spread that is estimated (marginal maximum likelihood by expectation-maximisation, Bock and
Aitkin, Psychometrika 46 (1981) 443). A weak normal prior of spread 3 on difficulties keeps items finite that
everybody, or nobody, knew. Checked against girth in tests/listen/practice/test_ability.py.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from listen.practice.topics import PracticeError

Floats = NDArray[np.float64]

PRIOR_SPREAD = 3.0
POINTS = 61
FARTHEST = 6.0
"""Abilities are summed over `POINTS` points, out to this many spreads on either side."""
ROUNDS = 500
CLOSE = 1e-6
LEAST_SPREAD, GREATEST_SPREAD = 0.05, 20.0
_WITHIN = 1.96
"""Standard errors on either side that hold 95 %."""
_GRID = np.linspace(-FARTHEST, FARTHEST, POINTS)
_LOG_WEIGHT = -(_GRID**2) / 2 - np.log(np.exp(-(_GRID**2) / 2).sum())


@dataclass(frozen=True)
class Estimate:
    """A difficulty or an ability in logits, its standard error, and the answers it rests on."""

    who: str
    logits: float
    error: float
    answers: int


@dataclass(frozen=True)
class Rasch:
    """Items from the hardest, trainees from the ablest, and the spread of abilities (logits)."""

    items: tuple[Estimate, ...]
    trainees: tuple[Estimate, ...]
    spread: float


def rasch(answers: Mapping[tuple[str, str], bool]) -> Rasch:
    """Fit the model to one answer for each (trainee, item).

    Raises:
        PracticeError: there are fewer than two trainees or two items.
    """
    trainees = sorted({who for who, _ in answers})
    items = sorted({what for _, what in answers})
    if min(len(trainees), len(items)) < 2:
        raise PracticeError("difficulty and ability need the answers of at least two trainees to two topics.")
    right = np.zeros((len(trainees), len(items)))
    given = np.zeros_like(right)
    row, column = {w: i for i, w in enumerate(trainees)}, {w: i for i, w in enumerate(items)}
    for (who, what), ok in answers.items():
        right[row[who], column[what]] = float(ok)
        given[row[who], column[what]] = 1.0
    difficulty, spread, posterior, theta = _fit(right, given)
    p = _p_right(theta, difficulty)
    expected = posterior.T @ given  # answers expected at each ability, shape = (points, items)
    information = np.einsum("pi,pi->i", expected, p * (1 - p)) + 1 / PRIOR_SPREAD**2
    mean = posterior @ theta
    variance = posterior @ theta**2 - mean**2
    item_rows = zip(items, difficulty, 1 / np.sqrt(information), given.sum(axis=0), strict=True)
    trainee_rows = zip(trainees, mean, np.sqrt(variance), given.sum(axis=1), strict=True)
    return Rasch(_sorted(item_rows), _sorted(trainee_rows), spread)


@dataclass(frozen=True)
class Chance:
    """What an estimate means, in 0..1: for a trainee the share of all topics that they know, for a topic the
    chance that a middling trainee knows it; p lies between low and high with 95 %."""

    who: str
    p: float
    low: float
    high: float
    answers: int


def of_trainees(found: Rasch) -> tuple[Chance, ...]:
    """The share of the topics that each trainee knows, the ablest first."""
    difficulty = np.array([item.logits for item in found.items])

    def share(ability: float) -> float:
        return float(_p_right(np.array([ability]), difficulty).mean())

    return tuple(_chance(one, share) for one in found.trainees)


def of_topics(found: Rasch) -> tuple[Chance, ...]:
    """The chance that a middling trainee knows each topic, the hardest first."""

    def known(difficulty: float) -> float:
        return float(_p_right(np.zeros(1), np.array([difficulty]))[0, 0])

    return tuple(_chance(one, known) for one in found.items)


def _chance(one: Estimate, p: Callable[[float], float]) -> Chance:
    low, high = sorted(p(one.logits + side * _WITHIN * one.error) for side in (-1, 1))
    return Chance(one.who, p(one.logits), low, high, one.answers)


def _fit(right: Floats, given: Floats) -> tuple[Floats, float, Floats, Floats]:
    """Difficulties (items,), spread, posterior over points (trainees, points) and the points (points,).

    Expectation-maximisation, extrapolated after every two steps (SQUAREM, Varadhan and Roland, Scandinavian
    Journal of Statistics 35 (2008) 335): the same result in a tenth of the steps.
    """
    share = (right.sum(axis=0) + 0.5) / (given.sum(axis=0) + 1.0)
    now = np.append(-np.log(share / (1 - share)), 0.0)
    for _ in range(ROUNDS):
        first = _stepped(now, right, given)
        moved = first - now
        if float(np.abs(moved).max()) < CLOSE:
            now = first
            break
        second = _stepped(first, right, given)
        bent = (second - first) - moved
        size = float(np.linalg.norm(bent))
        if size < CLOSE:
            now = second
            continue
        length = max(1.0, float(np.linalg.norm(moved)) / size)
        now = _stepped(now + 2 * length * moved + length**2 * bent, right, given)
    difficulty, spread = now[:-1], _spread(now)
    theta = _GRID * spread
    return difficulty, spread, _posterior(right, given, theta, difficulty), theta


def _stepped(now: Floats, right: Floats, given: Floats) -> Floats:
    """One step of expectation-maximisation: difficulties and the log of the spread, shape = (items + 1,)."""
    difficulty, spread = now[:-1], _spread(now)
    theta = _GRID * spread
    posterior = _posterior(right, given, theta, difficulty)
    asked = posterior.T @ given  # answers expected at each ability, shape = (points, items)
    p = _p_right(theta, difficulty)
    slope = (asked * p).sum(axis=0) - right.sum(axis=0) - difficulty / PRIOR_SPREAD**2
    curve = (asked * p * (1 - p)).sum(axis=0) + 1 / PRIOR_SPREAD**2
    wider = max(LEAST_SPREAD, float(np.sqrt((posterior @ theta**2).mean())))
    return np.append(difficulty + np.clip(slope / curve, -1, 1), np.log(wider))


def _spread(now: Floats) -> float:
    """The spread of abilities in what is being fitted, within limits however far it was extrapolated."""
    return float(np.exp(np.clip(now[-1], np.log(LEAST_SPREAD), np.log(GREATEST_SPREAD))))


def _posterior(right: Floats, given: Floats, theta: Floats, difficulty: Floats) -> Floats:
    """p(ability point | answers of a trainee), shape = (trainees, points).

    log P(right) - log P(wrong) is ability minus difficulty, so only the number of right answers counts.
    """
    log_wrong = -np.logaddexp(0, theta[:, None] - difficulty[None, :])
    log_p = right.sum(axis=1)[:, None] * theta[None, :] + given @ log_wrong.T + _LOG_WEIGHT
    p = np.exp(log_p - log_p.max(axis=1, keepdims=True))
    return np.asarray(p / p.sum(axis=1, keepdims=True))


def _p_right(theta: Floats, difficulty: Floats) -> Floats:
    """shape = (points, items)."""
    return np.asarray(0.5 * (1.0 + np.tanh((theta[:, None] - difficulty[None, :]) / 2)))


def _sorted(rows: object) -> tuple[Estimate, ...]:
    estimates = [Estimate(w, float(x), float(e), int(n)) for w, x, e, n in rows]  # type: ignore[attr-defined]
    return tuple(sorted(estimates, key=lambda e: -e.logits))
