"""Fits the weights of the judge of spoken answers.

Takes answers of tuning voices with what the judge heard; returns `JudgeWeights` and writes them to a file as
the judge reads them. The weights of what was meant are fitted by the likelihood of "right" and "not right";
the thresholds are those whose mistakes cost least. It never hears anything.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from listen import shares
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

SPELLINGS, PRIORS, SCALES = (0.0, 1.5), (-2.0, 6.0), (0.1, 2.0)
"""The ranges in which the weights are searched."""
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
    """Weights fitted to these answers. `repeat`, `unnamed` and what tells an answer from something else keep
    their values: the few sentences of something else are long, and would teach that a single word is always
    an answer."""
    from scipy.optimize import minimize

    weights = load_weights()
    clear = [(spoken, listened) for spoken, listened in heard if spoken.kind not in NOT_MARKED]
    right = np.array([spoken.kind == "right" for spoken, _ in clear])

    def loss(at: Floats) -> float:
        tried = replace(weights, spellings=at[0], prior=at[1], scale=at[2])
        p = np.array([_masses(spoken, listened, tried)[0] for spoken, listened in clear])
        return shares.log_loss(np.where(right, p, 1 - p))

    found = minimize(
        loss,
        np.array([weights.spellings, weights.prior, weights.scale]),
        method="Nelder-Mead",
        bounds=(SPELLINGS, PRIORS, SCALES),
        options={"xatol": 1e-3, "fatol": 1e-5},
    )
    spellings, prior, scale = (float(v) for v in found.x)
    weights = replace(weights, spellings=spellings, prior=prior, scale=scale)
    least_right, least_wrong = _thresholds(clear, weights, costs or MarkingCosts())
    return replace(weights, right=least_right, wrong=least_wrong)


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
