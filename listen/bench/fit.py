"""Fits the calibration of the embedded engine on hearings of tuning voices.

Comes in: records of hearings with what was really asked. Goes out: a `Calibration`
and what it was fitted on, in the form `listen.readings.load_calibration` reads. It refuses test voices.
`history` and `other_kinds` are kept as given: these clips hold neither sessions nor other requests.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from listen.bench import figures
from listen.bench.work import Record, hearing_of
from listen.engine import Hearing
from listen.readings import FEATURES, Calibration, Reader
from vocab.errors import TraycallError
from vocab.lexicon import Lexicon
from vocab.schema import Pack

SCALES = (0.1, 3.0)
SPELLINGS = (0.0, 1.5)
REGULARISE = 1.0
LOWEST_P = 1e-300


class NotForTest(TraycallError):
    """Somebody tried to fit on voices that are only for reporting."""


@dataclass(frozen=True)
class Example:
    """One hearing with the truth: `item` is None for chatter."""

    hearing: Hearing
    item: str | None
    speaker: str
    level: str


def examples(records: Sequence[Record], reader: Reader) -> list[Example]:
    """What can be learnt from; chatter that refuses ("not yet") is left out.

    Raises:
        NotForTest: a record of a test voice.
    """
    if any(record["side"] != "tune" for record in records):
        raise NotForTest("nothing is fitted on test voices; use --side tune")
    out = []
    for record in records:
        if record["item"] is None and refuses(record["text"], reader):
            continue
        out.append(Example(hearing_of(record), record["item"], record["speaker"], record["level"]))
    return out


def refuses(text: str, reader: Reader) -> bool:
    """Whether words ask for nothing now and nothing else."""
    requests = reader.understand(text)
    return bool(requests) and all(request.kind == "refusal" for request in requests)


@dataclass(frozen=True)
class Fit:
    """The fitted weights and the figures of fitting; those named "held out" are of unseen speakers."""

    calibration: Calibration
    figures: dict[str, Any]


def fit(records: Sequence[Record], pack: Pack, start: Calibration, request_share: float = 0.5) -> Fit:
    """Fit by maximum likelihood.

    Args:
        start: whose `history` and `other_kinds` are kept.
        request_share: how many of the utterances at the chair are requests; clips are weighed to it.
    """
    reader = Reader(pack, Lexicon(pack), start)
    learnt = examples(records, reader)
    weights, evidence = _fit_request(learnt, reader, request_share)
    scale, spellings, items = _fit_items(learnt, pack, start)
    fitted = replace(
        start,
        scale=scale,
        spellings=spellings,
        request_bias=weights[0],
        request_weights=tuple(weights[1:]),
    )
    return Fit(fitted, {"request or chatter": evidence, "which item": items})


# ---------------------------------------------------------------- request or chatter


def _fit_request(
    learnt: Sequence[Example], reader: Reader, share: float
) -> tuple[list[float], dict[str, Any]]:
    from sklearn.model_selection import LeaveOneGroupOut

    x = np.array([reader.features(e.hearing) for e in learnt])
    y = np.array([e.item is not None for e in learnt])
    if y.all() or not y.any():
        raise TraycallError("to fit, both requests and chatter are needed: raise --requests and --chatter")
    weight = np.where(y, share / y.mean(), (1 - share) / (1 - y.mean()))
    speakers = np.array([e.speaker for e in learnt])
    held_out = np.full(len(y), np.nan)
    if len(set(speakers)) > 1:
        for train, rest in LeaveOneGroupOut().split(x, y, speakers):
            if len(set(y[train])) == 2:
                bias, *w = _logistic(x[train], y[train], weight[train])
                held_out[rest] = 1 / (1 + np.exp(-(bias + x[rest] @ np.array(w))))
    return _logistic(x, y, weight), _request_figures(learnt, y, held_out)


def _logistic(x: NDArray[Any], y: NDArray[Any], weight: NDArray[Any]) -> list[float]:
    """Bias and weights for the features as they are, fitted on them brought to one spread."""
    from sklearn.linear_model import LogisticRegression

    middle, spread = x.mean(axis=0), np.maximum(x.std(axis=0), 1e-6)
    model = LogisticRegression(C=REGULARISE, max_iter=5000).fit((x - middle) / spread, y, weight)
    w = model.coef_[0] / spread
    return [float(model.intercept_[0] - w @ middle), *(float(v) for v in w)]


def _request_figures(learnt: Sequence[Example], y: NDArray[Any], p: NDArray[Any]) -> dict[str, Any]:
    from sklearn.metrics import roc_auc_score

    seen = ~np.isnan(p)
    if not seen.any() or len(set(y[seen])) < 2:
        return {"held out": "one speaker only, nothing to hold out"}
    levels = np.array([e.level for e in learnt])
    out: dict[str, Any] = {}
    for level in ("all", *dict.fromkeys(levels)):
        here = seen if level == "all" else seen & (levels == level)
        if len(set(y[here])) < 2:
            continue
        truth, said = y[here], p[here]
        out[f"held out, {level}"] = {
            "requests": int(truth.sum()),
            "chatter": int((~truth).sum()),
            "area under curve": float(roc_auc_score(truth, said)),
            "log loss": figures.log_loss(np.where(truth, said, 1 - said)),
            "calibration error": figures.calibration_error(truth, said),
            "chatter above 0.5": int((said[~truth] > 0.5).sum()),
            "requests below 0.5": int((said[truth] < 0.5).sum()),
        }
    return out


# ---------------------------------------------------------------- which item


@dataclass(frozen=True)
class _Choice:
    """The meanings of one request clip.

    plain, spelled: log-scores at scale 1 with `spellings` 0 and 1, shape = (meanings,); right: mass of
    the asked item within each meaning, shape = (meanings,).
    """

    plain: NDArray[np.float64]
    spelled: NDArray[np.float64]
    right: NDArray[np.float64]


def _fit_items(
    learnt: Sequence[Example], pack: Pack, start: Calibration
) -> tuple[float, float, dict[str, Any]]:
    """Scale and spellings with the least log loss of what was asked, over requests.

    Where the asked item is in no meaning, the loss is that of the likeliest meaning being wrong.
    """
    from scipy.optimize import minimize

    readers = _plain_readers(pack, start)
    choices = [c for e in learnt if e.item is not None and (c := _choice(e, readers)) is not None]
    if not choices:
        raise TraycallError("no request was heard as anything; hear more clips, in quiet too")
    requests = sum(e.item is not None for e in learnt)

    def loss(at: NDArray[np.float64]) -> float:
        return float(np.mean([_loss(choice, at[0], at[1]) for choice in choices]))

    found = minimize(
        loss, np.array([0.8, 0.5]), method="Nelder-Mead", bounds=(SCALES, SPELLINGS), options={"xatol": 1e-3}
    )
    scale, spellings = (float(v) for v in found.x)
    best = [_best(choice, scale, spellings) for choice in choices]
    return (
        scale,
        spellings,
        {
            "requests": requests,
            "with any meaning": len(choices),
            "asked item among the meanings": sum(bool(c.right.any()) for c in choices),
            "right when forced to choose": sum(right > 0 for _, right in best),
            "log loss": loss(found.x),
            "log loss before": loss(np.array([start.scale, start.spellings])),
            "calibration error": figures.calibration_error(
                [float(right > 0) for _, right in best], [p for p, _ in best]
            ),
        },
    )


def _choice(example: Example, readers: tuple[Reader, Reader]) -> _Choice | None:
    plain, spelled = (
        {way.text: way for way in reader.of_hearing(example.hearing, {}).ways} for reader in readers
    )
    if not plain:
        return None
    right = [
        sum(c.p for c in way.requests[0].candidates if c.item == example.item)
        if len(way.requests) == 1
        else 0.0
        for way in plain.values()
    ]
    return _Choice(
        np.log([max(way.p, LOWEST_P) for way in plain.values()]),
        np.log([max(spelled[text].p, LOWEST_P) for text in plain]),
        np.array(right),
    )


def _plain_readers(pack: Pack, start: Calibration) -> tuple[Reader, Reader]:
    """Readers at scale 1 that are sure of a request: without and with the number of spellings."""
    sure = replace(start, scale=1.0, request_bias=50.0, request_weights=(0.0,) * len(FEATURES))
    lexicon = Lexicon(pack)
    without, with_ = (Reader(pack, lexicon, replace(sure, spellings=weight)) for weight in (0.0, 1.0))
    with_.understand = without.understand  # each text is understood once
    return without, with_


def _shares(choice: _Choice, scale: float, spellings: float) -> NDArray[np.float64]:
    score = scale * (choice.plain + spellings * (choice.spelled - choice.plain))
    share: NDArray[np.float64] = np.exp(score - np.logaddexp.reduce(score))
    return share


def _loss(choice: _Choice, scale: float, spellings: float) -> float:
    share = _shares(choice, scale, spellings)
    right = float(share @ choice.right)
    p = right if choice.right.any() else 1 - float(share.max())
    return -math.log(max(p, figures.LEAST_P))


def _best(choice: _Choice, scale: float, spellings: float) -> tuple[float, float]:
    """Share of the likeliest meaning, and the mass of the asked item within it."""
    share = _shares(choice, scale, spellings)
    at = int(share.argmax())
    return float(share[at]), float(choice.right[at])


# ---------------------------------------------------------------- keeping it


def write(fitted: Fit, records: Sequence[Record], file: Path, date: str) -> None:
    """Write the calibration as `load_calibration` reads it, with what it was fitted on."""
    kinds = Counter("chatter" if record["item"] is None else "requests" for record in records)
    data = {
        "weights": {k: _rounded(v) for k, v in asdict(fitted.calibration).items()},
        "fitted_on": {
            "date": date,
            "requests": kinds["requests"],
            "chatter": kinds["chatter"],
            "levels": list(dict.fromkeys(record["level"] for record in records)),
            "voices": sorted({record["voice"] for record in records}),
            "features": list(FEATURES),
            "figures": fitted.figures,
        },
    }
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(json.dumps(data, indent=2) + "\n", encoding="utf-8")


def _rounded(value: Any) -> Any:
    return [_rounded(v) for v in value] if isinstance(value, (list, tuple)) else round(value, 4)
