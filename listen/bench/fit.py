"""Fits the calibration of the embedded engine on hearings of tuning voices.

Takes records of hearings with what was really asked; returns a `Calibration` and what it was fitted on, in
the form that `listen.readings.load_calibration` reads. It refuses test voices. `other_kinds` is kept as
given, because these clips hold no other requests. To fit what history is worth, clips stand for the requests
of made-up sessions (`listen.bench.expectation`).
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

from listen import shares
from listen.bench.expectation import DENTISTS, LEARNT, WRITTEN, Expected, Moment, SteadyReader, moments
from listen.bench.hearings import Record, hearing_of, read
from listen.bench.systems import SYSTEMS, item_ps
from listen.engine import Hearing
from listen.readings import FEATURES, Calibration, Reader, Readings
from vocab.errors import TraycallError
from vocab.pack.schema import Pack
from vocab.requests.lexicon import Lexicon

SCALES = (0.1, 3.0)
UNLIKES = (0.0, 60.0)
MOST_FITTED = 900
HISTORIES = (0.0, 1.5)
REGULARISE = 1.0
LEAST_P = 1e-20
SEED = 4


class NotForTest(TraycallError):
    """An attempt to fit on voices that are only for reporting or for teaching."""


def heard_before(file: Path, any_code: bool = False) -> list[Record]:
    """What the embedded engine heard in an earlier run; of a clip heard more than once, the last time.

    The mark of a record is that of adapter, pack and code in one, and the adapter was another one: so it is
    not held against the present code. Yet all of a file must bear the same mark, unless `any_code`.

    Raises:
        TraycallError: the file is missing or holds nothing, or hearings with several marks.
        NotForTest: a record is not of a tuning voice.
    """
    newest = {record["clip"]: record for record in read(file) if record["engine"] == SYSTEMS[0].engine}
    records = list(newest.values())
    if not records:
        raise TraycallError(
            f"there are no hearings in {file.parent}: name the folder where an earlier "
            "`listen.bench fit --out FOLDER` kept them"
        )
    _only_tuning(records)
    if not any_code and len({record["mark"] for record in records}) > 1:
        raise TraycallError(
            f"the hearings in {file.parent} are of several adapters, vocabularies or versions of the code: "
            "hear again with --out and an empty folder for each adapter, or give --any-code"
        )
    return records


def _only_tuning(records: Sequence[Record]) -> None:
    others = sorted({record["voice"] for record in records if record["side"] != "tune"})
    if others:
        raise NotForTest(f"nothing is fitted on {', '.join(others)}: use voices of the tuning side")


@dataclass(frozen=True)
class Example:
    """One hearing with the truth: `item` is None for chatter."""

    hearing: Hearing
    item: str | None
    speaker: str
    level: str
    natural: bool = False


def examples(
    records: Sequence[Record], reader: Reader, freely: frozenset[str] = frozenset()
) -> list[Example]:
    """The examples to learn from; chatter that refuses ("not yet") is left out.

    Args:
        freely: the texts that are natural sentences.

    Raises:
        NotForTest: a record is not of a tuning voice.
    """
    _only_tuning(records)
    out = []
    for record in records:
        if record["item"] is None and refuses(record["text"], reader):
            continue
        natural = record["text"] in freely
        out.append(Example(hearing_of(record), record["item"], record["speaker"], record["level"], natural))
    return out


def refuses(text: str, reader: Reader) -> bool:
    """Whether a text is a refusal and asks for nothing else."""
    requests = reader.understand(text)
    return bool(requests) and all(request.kind == "refusal" for request in requests)


@dataclass(frozen=True)
class Fit:
    """The fitted weights and the figures of fitting; those named "held out" are of unseen speakers."""

    calibration: Calibration
    figures: dict[str, Any]


def fit(
    records: Sequence[Record],
    pack: Pack,
    start: Calibration,
    request_share: float = 0.5,
    dentists: int = DENTISTS,
    freely: frozenset[str] = frozenset(),
) -> Fit:
    """Fit by maximum likelihood.

    Args:
        start: gives `other_kinds`, and whatever cannot be fitted.
        request_share: share of utterances at the chair that are requests; clips are weighted to match.
        dentists: how many made-up dentists show what history is worth.
        freely: the texts that are natural sentences.
    """
    reader = Reader(pack, Lexicon(pack), start)
    learnt = examples(records, reader, freely)
    fitted, items = _fit_items(learnt, reader, start)
    weights, evidence = _fit_request(learnt, reader, request_share)
    fitted = replace(fitted, request_bias=weights[0], request_weights=tuple(weights[1:]))
    fitted = _fit_sentences(learnt, reader.reweighed(fitted), fitted, request_share)
    fitted, worth = _fit_history(learnt, pack, fitted, request_share, dentists)
    return Fit(fitted, {"request or chatter": evidence, "which item": items, "history": worth})


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


def _fit_sentences(
    learnt: Sequence[Example], reader: Reader, start: Calibration, share: float
) -> Calibration:
    """The weights for sentences of free words, fitted on every hearing that has one; our own phrasings and
    natural sentences count the same, however many there are of each."""
    with_name = [(example, reader.sentence_features(example.hearing)) for example in learnt]
    kept = [(example, features) for example, features in with_name if features]
    if not kept:
        return start
    x, y = np.array([f for _, f in kept]), np.array([e.item is not None for e, _ in kept])
    natural = np.array([e.natural for e, _ in kept])
    weight = np.zeros(len(y))
    for group in (y & natural, y & ~natural, ~y & natural, ~y & ~natural):
        weight[group] = (share if y[group].all() else 1 - share) / max(1, group.sum())
    bias, *w = _logistic(x, y, weight * len(y))
    return replace(start, sentence_bias=bias, sentence_weights=tuple(w))


def _logistic(x: NDArray[Any], y: NDArray[Any], weight: NDArray[Any]) -> list[float]:
    """Bias and weights for the raw features, fitted on standardised ones."""
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
            "log loss": shares.log_loss(np.where(truth, said, 1 - said)),
            "calibration error": shares.calibration_error(truth, said),
            "chatter above 0.5": int((said[~truth] > 0.5).sum()),
            "requests below 0.5": int((said[truth] < 0.5).sum()),
        }
    return out


# ---------------------------------------------------------------- which item


def _fit_items(
    learnt: Sequence[Example], reader: Reader, start: Calibration
) -> tuple[Calibration, dict[str, Any]]:
    """The weights of phrasings and sentences with the least log loss for the item asked, over requests."""
    from scipy.optimize import minimize

    asked = [example for example in learnt if example.item is not None]
    if len(asked) > MOST_FITTED:
        order = np.random.default_rng(SEED).permutation(len(asked))[:MOST_FITTED]
        asked = [asked[int(place)] for place in order]

    def weighed(at: Sequence[float]) -> Calibration:
        scale, unlike, unlike_spliced = map(float, at)
        return replace(start, scale=scale, unlike=unlike, unlike_spliced=unlike_spliced)

    def readings(at: Sequence[float]) -> list[Readings]:
        with_ = reader.reweighed(weighed(at))
        return [with_.of_request(example.hearing, {}) for example in asked]

    def loss(at: Sequence[float]) -> float:
        found = readings(at)
        return float(np.mean([_item_loss(r, e.item) for r, e in zip(found, asked, strict=True)]))

    if not any(found.ways for found in readings((1.0, 0.0, 0.0))):
        raise TraycallError("no request was heard as anything; hear more clips, in quiet too")
    before = (start.scale, start.unlike, start.unlike_spliced)
    found = minimize(
        loss,
        np.array([0.5, 15.0, 15.0]),
        method="Nelder-Mead",
        bounds=(SCALES, UNLIKES, UNLIKES),
        options={"xatol": 0.05, "fatol": 3e-4, "maxfev": 140},
    )
    best = [max(item_ps(r).items(), key=lambda pair: pair[1], default=(None, 0.0)) for r in readings(found.x)]
    right = [float(item == example.item) for (item, _), example in zip(best, asked, strict=True)]
    return weighed(found.x), {
        "requests": len(asked),
        "right when forced to choose": int(sum(right)),
        "log loss": float(found.fun),
        "log loss before": loss(before),
        "calibration error": shares.calibration_error(right, [p for _, p in best]),
    }


# ---------------------------------------------------------------- what history is worth

_AtMoment = tuple[Example, Expected]
"""A clip and what was expected when it was said."""


def _fit_history(
    learnt: Sequence[Example], pack: Pack, start: Calibration, share: float, dentists: int
) -> tuple[Calibration, dict[str, Any]]:
    """Fit the two weights of what is expected, leaving the rest of the calibration as it is.

    Clips stand for what dentists say in made-up sessions, whose next item is predicted from written steps or
    earlier sessions. Half the chatter is placed anywhere, half is about the work: it names what is asked for
    next as often as a request does. That share is a judgement; no real talk was counted.
    """
    rng = np.random.default_rng(SEED)
    reader = SteadyReader(pack, Lexicon(pack), start)
    asked, chat = _at_moments(learnt, moments(pack, "tune", dentists), reader, rng)
    if not asked or not chat:
        return start, {"requests at moments": 0}
    fitted, losses = _fit_exponent(asked, start, reader)
    fitted, request_losses = _fit_foreseen(asked, chat, fitted, reader, share)
    return fitted, {
        "requests at moments": len(asked),
        "chatter at moments": len(chat),
        "which item": losses,
        "request or chatter": request_losses,
    }


def _at_moments(
    learnt: Sequence[Example], said: Sequence[Moment], reader: Reader, rng: np.random.Generator
) -> tuple[list[_AtMoment], list[_AtMoment]]:
    """Requests and chatter, each with what was expected."""
    by_item: dict[str | None, list[Example]] = {}
    for example in learnt:
        by_item.setdefault(example.item, []).append(example)
    asked = [
        (by_item[moment.item][int(rng.integers(len(by_item[moment.item])))], moment.expected[known])
        for moment in said
        if moment.item is not None and moment.item in by_item
        for known in (WRITTEN, LEARNT)
    ]
    chat = []
    for example in by_item.get(None, ()):
        ps = item_ps(reader.of_hearing(example.hearing, {}))
        sounds_like = max(ps, key=lambda item: ps[item]) if ps else None
        for moment in (said[int(rng.integers(len(said)))], _about_the_work(said, sounds_like, rng)):
            chat.append((example, moment.expected[LEARNT]))
    return asked, chat


def _about_the_work(said: Sequence[Moment], item: str | None, rng: np.random.Generator) -> Moment:
    """A moment drawn as if chatter named what it sounds like as often as that is asked for."""
    p = np.exp([moment.expected[LEARNT].get(item or "", 0.0) for moment in said])
    return said[int(rng.choice(len(said), p=p / p.sum()))]


def _fit_exponent(
    asked: Sequence[_AtMoment], start: Calibration, reader: Reader
) -> tuple[Calibration, dict[str, float]]:
    """The `history` with the least log loss for the item asked, given that something was asked for."""
    from scipy.optimize import minimize_scalar

    def loss(history: float) -> float:
        weighed = reader.reweighed(replace(start, history=float(history)))
        return float(np.mean([_item_loss(weighed.of_request(e.hearing, ex), e.item) for e, ex in asked]))

    found = minimize_scalar(loss, bounds=HISTORIES, method="bounded", options={"xatol": 0.02})
    losses = {"log loss": float(found.fun), "log loss before": loss(start.history), "without": loss(0.0)}
    return replace(start, history=float(found.x)), losses


def _item_loss(readings: Readings, item: str | None) -> float:
    """Log loss (nats) of the item asked; if no reading means it, of the likeliest one being wrong."""
    ps = item_ps(readings)
    p = ps[item] if item in ps else 1 - max(ps.values(), default=0.0)
    return -math.log(min(1.0, max(p, shares.LEAST_P)))


def _fit_foreseen(
    asked: Sequence[_AtMoment], chat: Sequence[_AtMoment], start: Calibration, reader: Reader, share: float
) -> tuple[Calibration, dict[str, float]]:
    """The `history_request` with the least log loss for whether anything was asked for."""
    from scipy.optimize import minimize_scalar

    weighed = reader.reweighed(start)
    both = (*asked, *chat)
    y = np.array([example.item is not None for example, _ in both])
    p = np.array([1 - weighed.of_hearing(example.hearing, {}).p_nothing for example, _ in both])
    logit = np.log(np.maximum(p, LEAST_P)) - np.log(np.maximum(1 - p, LEAST_P))
    foreseen = np.array([weighed.foreseen(example.hearing, expected) for example, expected in both])
    weight = np.where(y, share / y.mean(), (1 - share) / (1 - y.mean()))

    def loss(at: float) -> float:
        wrong_way = np.where(y, -1.0, 1.0) * (logit + at * foreseen)
        return float(np.average(np.logaddexp(0.0, wrong_way), weights=weight))

    found = minimize_scalar(loss, bounds=HISTORIES, method="bounded", options={"xatol": 1e-3})
    losses = {"log loss": float(found.fun), "without": loss(0.0)}
    return replace(start, history_request=float(found.x)), losses


# ---------------------------------------------------------------- writing


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
