"""Fits the weights of the judge of spoken answers.

Takes answers of tuning voices with what the judge heard; returns `JudgeWeights` and writes them to a file as
the judge reads them. Its weights are fitted by the likelihood of "right", "wrong" and "neither"; the
thresholds are those whose mistakes cost least. It never hears anything.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from listen.bench.spoken_answers import MadeAnswer
from listen.practice.judging import (
    Expected,
    JudgeWeights,
    Listened,
    load_weights,
    probabilities,
)
from listen.practice.meanings import UNMARKED

Heard = Sequence[tuple[MadeAnswer, Listened]]
Floats = NDArray[np.float64]

RANGES = {
    "spellings": (0.0, 1.5), "prior": (-2.0, 6.0), "unsettled": (0.0, 8.0), "scale": (0.1, 2.0),
    "bias": (0.0, 16.0), "evidence": (0.05, 1.0), "free_words": (-2.0, 0.0), "bias_free": (0.0, 8.0),
    "evidence_free": (0.05, 1.0),
}  # fmt: skip
"""The weights that are fitted, and where they are searched."""
STIFF = 2.0
"""How many answers' worth of loss it costs to move a weight through half of its range: few of the answers
are something else, and those are long, so that alone they would teach that a single word is always one."""
LEAST_P = 0.002
"""No answer is held to be less likely than this: one that was heard as another teaches nothing more."""
NOT_MARKED = ("something else", "undecided")
"""Kinds that are neither a right answer nor a wrong one."""
THRESHOLDS = np.arange(0.6, 0.985, 0.01)
"""None is lower: if a right and a wrong answer are equally likely, the question is asked again."""


@dataclass(frozen=True)
class MarkingCosts:
    """What each mistake costs, in "say again"s."""

    wrong_as_right: float = 20.0
    right_as_wrong: float = 10.0
    again: float = 1.0


def fit(heard: Heard, costs: MarkingCosts | None = None) -> JudgeWeights:
    """Weights fitted to these answers, starting from those in use; those that are not in `RANGES` keep their
    values, but for the thresholds of right and wrong."""
    from scipy.optimize import minimize

    start, names = load_weights(), tuple(RANGES)
    low, high = np.array(list(RANGES.values())).T
    begin = np.clip([getattr(start, name) for name in names], low, high)

    def loss(at: Floats) -> float:
        tried = replace(start, **dict(zip(names, at, strict=True)))
        p = np.array([_of_its_kind(spoken, listened, tried) for spoken, listened in heard])
        moved = float(np.sum(((at - begin) / ((high - low) / 2)) ** 2))
        return -float(np.log(np.clip(p, LEAST_P, 1.0)).sum()) + STIFF * moved

    options = {"xatol": 1e-2, "fatol": 1e-3, "maxfev": 3000, "adaptive": True}
    found = minimize(loss, begin, method="Nelder-Mead", bounds=list(RANGES.values()), options=options)
    weights = replace(start, **{name: float(v) for name, v in zip(names, found.x, strict=True)})
    clear = [(spoken, listened) for spoken, listened in heard if spoken.kind not in NOT_MARKED]
    least_right, least_wrong = _thresholds(clear, weights, costs or MarkingCosts())
    return replace(weights, right=least_right, wrong=least_wrong)


def _of_its_kind(spoken: MadeAnswer, listened: Listened, weights: JudgeWeights) -> float:
    """The probability of what an answer is: right, wrong, or neither."""
    right, wrong = _masses(spoken, listened, weights)
    if spoken.kind == "right":
        return right
    return 1 - right - wrong if spoken.kind in (*NOT_MARKED, "repeat") else wrong


def _masses(spoken: MadeAnswer, listened: Listened, weights: JudgeWeights) -> tuple[float, float]:
    """The probabilities that the answer is right and that it is wrong."""
    p = probabilities(listened, weights, Expected(spoken.question, weights))
    right = sum(p[meaning] for meaning in p if meaning in spoken.question.right)
    return right, sum(p.values()) - right - sum(p.get(meaning, 0.0) for meaning in UNMARKED)


def _thresholds(heard: Heard, weights: JudgeWeights, costs: MarkingCosts) -> tuple[float, float]:
    """The thresholds of "right" and "wrong" that cost least; the median of those that tie."""
    marked = [(spoken, listened) for spoken, listened in heard if spoken.kind != "repeat"]
    p = np.array([_masses(spoken, listened, weights) for spoken, listened in marked])
    right = np.array([spoken.kind == "right" for spoken, _ in marked])
    best: list[tuple[float, float]] = []
    least = np.inf
    for for_right in THRESHOLDS:
        as_right = p[:, 0] >= for_right
        for for_wrong in THRESHOLDS:
            as_wrong = ~as_right & (p[:, 1] >= for_wrong)
            cost = (
                costs.wrong_as_right * np.sum(as_right & ~right)
                + costs.right_as_wrong * np.sum(as_wrong & right)
                + costs.again * np.sum(~as_right & ~as_wrong)
            )
            if cost < least:
                best, least = [], cost
            if cost == least:
                best.append((float(for_right), float(for_wrong)))
    return float(np.median([r for r, _ in best])), float(np.median([w for _, w in best]))


def write(weights: JudgeWeights, heard: Heard, file: Path) -> str:
    """Write the weights as `load_weights` reads them, with what they were fitted on; returns the text."""
    data = {
        "weights": {name: round(value, 4) for name, value in asdict(weights).items()},
        "fitted_on": {"answers": len(heard), "voices": sorted({spoken.voice for spoken, _ in heard})},
    }
    text = json.dumps(data, indent=2) + "\n"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return text
