"""Figures with their intervals: shares, rates, how honest probabilities are, and what resampling says.

Counts and probabilities come in, numbers go out. Nothing here knows where they were measured.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Z_95 = 1.959963984540054
"""The normal quantile of a two-sided interval of 95 %."""

BINS = 10
LEAST_P = 1e-6
"""Probabilities below this count as this in a log loss, so that one clip cannot make it infinite."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Share:
    """`k` of `n` with an interval of 95 %; the share of nothing is NaN, its interval 0 to 1."""

    k: int
    n: int
    low: float
    high: float

    @property
    def value(self) -> float:
        return self.k / self.n if self.n else math.nan


def wilson(k: int, n: int, z: float = Z_95) -> Share:
    """A share with Wilson's score interval (E. B. Wilson, JASA 22 (1927) 209).

    Raises:
        ValueError: `k` is not between 0 and `n`.
    """
    if not 0 <= k <= n:
        raise ValueError(f"{k} of {n} is not a share")
    if n == 0:
        return Share(0, 0, 0.0, 1.0)
    p = k / n
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    low = 0.0 if k == 0 else middle - half
    return Share(k, n, low, 1.0 if k == n else middle + half)


def another_round(k: int, n: int, p: float = 0.9) -> tuple[int, int]:
    """What to expect in another round of `n` after `k` of `n`: the lowest and highest count of the central
    interval that holds at least `p`.

    The share is taken to be Beta(k + 1/2, n - k + 1/2) (Jeffreys's prior), so the count is beta-binomial
    (Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.4).

    Raises:
        ValueError: `k` is not between 0 and `n`.
    """
    if not 0 <= k <= n:
        raise ValueError(f"{k} of {n} is not a share")
    a, b = k + 0.5, n - k + 0.5
    below, low, high = 0.0, 0, n
    for count in range(n + 1):
        log_p = math.log(math.comb(n, count)) + _log_beta(count + a, n - count + b) - _log_beta(a, b)
        mass = math.exp(log_p)
        if below <= (1 - p) / 2:
            low = count
        below += mass
        if below >= (1 + p) / 2:
            high = count
            break
    return low, high


def _log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)


@dataclass(frozen=True)
class Rate:
    """`k` events in so many hours, an hour, with an exact Poisson interval of 95 %."""

    k: int
    hours: float
    low: float
    high: float

    @property
    def value(self) -> float:
        return self.k / self.hours if self.hours else math.nan


def hourly(k: int, hours: float) -> Rate:
    """Events an hour with the exact interval of Garwood (Biometrika 28 (1936) 437)."""
    from scipy.stats import chi2

    if hours <= 0:
        return Rate(k, 0.0, 0.0, math.inf)
    low = 0.0 if k == 0 else float(chi2.ppf(0.025, 2 * k)) / 2 / hours
    return Rate(k, hours, low, float(chi2.ppf(0.975, 2 * k + 2)) / 2 / hours)


def brier(y: Sequence[float] | Floats, p: Sequence[float] | Floats) -> float:
    """Mean squared difference between what happened (0 or 1) and its probability."""
    return float(np.mean((np.asarray(y, np.float64) - np.asarray(p, np.float64)) ** 2))


def log_loss(p_of_truth: Sequence[float] | Floats) -> float:
    """Mean of minus the log of the probability that the truth was given, in nats."""
    return float(np.mean(-np.log(np.maximum(np.asarray(p_of_truth, np.float64), LEAST_P))))


@dataclass(frozen=True)
class Bin:
    """Clips whose probability fell in one bin: how many, how probable on average, how often true."""

    n: int
    p: float
    true: float


def reliability(
    y: Sequence[float] | Floats, p: Sequence[float] | Floats, bins: int = BINS
) -> tuple[Bin, ...]:
    """Bins of equal width over 0..1 that hold anything, from left to right."""
    truth, said = np.asarray(y, np.float64), np.asarray(p, np.float64)
    places = np.searchsorted(np.linspace(0.0, 1.0, bins + 1)[1:-1], said)
    out = []
    for place in range(bins):
        here = places == place
        if here.any():
            out.append(Bin(int(here.sum()), float(said[here].mean()), float(truth[here].mean())))
    return tuple(out)


def calibration_error(y: Sequence[float] | Floats, p: Sequence[float] | Floats, bins: int = BINS) -> float:
    """Expected calibration error: the mean gap of the bins, weighed by what they hold (Naeini 2015)."""
    found = reliability(y, p, bins)
    total = sum(b.n for b in found)
    return sum(b.n * abs(b.true - b.p) for b in found) / total if total else math.nan


def bootstrap(
    hits: Sequence[bool],
    speakers: Sequence[Hashable],
    sentences: Sequence[Hashable],
    rng: np.random.Generator,
    draws: int = 2000,
) -> tuple[float, float]:
    """Interval of 95 % for a share when both speakers and sentences might have been others.

    Speakers and sentences are resampled with replacement, each on its own, and a clip counts as often
    as its speaker times its sentence was drawn (the pigeonhole bootstrap, Owen, Ann. Appl. Stat. 1
    (2007) 386). A thousand clips of three speakers are three speakers. (NaN, NaN) without any clip.
    """
    if not len(hits):
        return math.nan, math.nan
    hit = np.asarray(hits, np.float64)
    shares = [float(w @ hit / w.sum()) for w in _redrawn(speakers, sentences, rng, draws)]
    low, high = np.percentile(shares, [2.5, 97.5])
    return float(low), float(high)


def bootstrap_ratio(
    hits: Sequence[bool],
    others: Sequence[bool],
    speakers: Sequence[Hashable],
    sentences: Sequence[Hashable],
    rng: np.random.Generator,
    draws: int = 2000,
) -> tuple[float, float]:
    """The same for how many hits there are for each of the `others` on the same clips.

    Draws without any of the others say nothing and are left out; (NaN, NaN) where all are.
    """
    hit, other = np.asarray(hits, np.float64), np.asarray(others, np.float64)
    redrawn = _redrawn(speakers, sentences, rng, draws)
    ratios = [float(w @ hit / (w @ other)) for w in redrawn if w @ other > 0]
    if not ratios:
        return math.nan, math.nan
    low, high = np.percentile(ratios, [2.5, 97.5])
    return float(low), float(high)


def _redrawn(
    speakers: Sequence[Hashable], sentences: Sequence[Hashable], rng: np.random.Generator, draws: int
) -> Iterator[Floats]:
    """How often each clip counts, shape = (clips,), in each draw that holds any."""
    who, who_n = _numbered(speakers)
    what, what_n = _numbered(sentences)
    for _ in range(draws if len(speakers) else 0):
        of_speaker = np.bincount(rng.integers(who_n, size=who_n), minlength=who_n)
        of_sentence = np.bincount(rng.integers(what_n, size=what_n), minlength=what_n)
        weight = (of_speaker[who] * of_sentence[what]).astype(np.float64)
        if weight.any():
            yield weight


def _numbered(labels: Sequence[Hashable]) -> tuple[NDArray[np.int64], int]:
    numbers: dict[Hashable, int] = {}
    places = [numbers.setdefault(label, len(numbers)) for label in labels]
    return np.array(places, np.int64), len(numbers)
