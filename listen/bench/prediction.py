"""How well the next item is predicted, against simple baselines, on simulated dentists.

Takes a pack and a random generator; returns one `PredictionScore` for each predictor and number of earlier
sessions of the same dentist. All predictors know the procedure and learn from the same sessions: those of the
clinic's other dentists, and the dentist's own. The scored dentists are not among those other dentists. Beside
them stands how much is to be had at all: somebody who has watched this very dentist do this procedure some
hundred times.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from listen.bench.simulated_dentists import COMMON, Whims, draw_dentist, draw_session
from vocab.pack.schema import Pack
from vocab.procedure.habits import Habits, PastSession
from vocab.procedure.hmm import Array
from vocab.procedure.model import ProcedureModel

Predictor = Callable[[Sequence[str]], Iterable[Array]]
"""For the items of a session, p (M,) of each item before each request."""

BIGRAM = "last-item bigram"
WATCHED = "who watched this dentist"
LONGEST_CONTEXT = 6
"""So many of the last items tell the watcher where the dentist is."""
OWN_COUNTS = 5.0
"""How much more a dentist's own session counts in the baselines than another dentist's."""


@dataclass(frozen=True)
class PredictionScore:
    """How well a predictor did on `requests` requests.

    `earlier` is the number of the dentist's own sessions of the procedure it had seen; `top1` and `top3`
    are shares of requests (ties share the place), `log_loss` is in nats a request.
    """

    predictor: str
    earlier: int
    top1: float
    top3: float
    log_loss: float
    requests: int


def compare(
    pack: Pack,
    rng: np.random.Generator,
    whims: Whims = COMMON,
    teachers: int = 12,
    held_out: int = 6,
    lessons: int = 3,
    earlier: Sequence[int] = (0, 1, 3, 5, 10),
    watched: int = 0,
) -> list[PredictionScore]:
    """Scores on the last session of every procedure of `held_out` dentists.

    `teachers` other dentists of the clinic did each procedure `lessons` times; before the scored session the
    dentist did it as often as each entry of `earlier` says. With `watched`, the scores of who saw that many
    further sessions of the dentist come last, with `earlier` set to that number.
    """
    (aside,) = rng.spawn(1)  # the watched days, so that they change no other figure
    clinic = Habits(
        tuple(
            draw_session(pack, dentist, procedure.id, rng, whims).logged
            for dentist in (draw_dentist(pack, f"teacher {i}", rng, whims) for i in range(teachers))
            for procedure in pack.procedures
            for _ in range(lessons)
        )
    )
    predicted: dict[tuple[str, int], list[tuple[float, float]]] = {}
    last: list[tuple[float, float]] = []
    for i in range(held_out):
        dentist = draw_dentist(pack, f"held out {i}", rng, whims)
        for procedure in pack.procedures:
            days = [
                draw_session(pack, dentist, procedure.id, rng, whims).logged for _ in range(max(earlier) + 1)
            ]
            for count in earlier:
                own = days[len(days) - 1 - count : -1]
                predictors = _predictors(pack, procedure.id, clinic, own, dentist.name)
                for name, predictor in predictors.items():
                    predicted.setdefault((name, count), []).extend(_judged(pack, predictor, days[-1]))
            if watched:
                seen = [draw_session(pack, dentist, procedure.id, aside, whims) for _ in range(watched)]
                watcher = _watcher(pack, [day.logged for day in seen])
                last.extend(_judged(pack, watcher, days[-1]))
    if watched:
        predicted[WATCHED, watched] = last
    return [_score(name, count, places) for (name, count), places in predicted.items()]


def counts(scores: Sequence[PredictionScore]) -> dict[str, dict[str, dict[str, float]]]:
    """What is kept for the model card: shares in per cent by predictor and own sessions seen before."""
    out: dict[str, dict[str, dict[str, float]]] = {}
    for one in scores:
        shares = {"top1_percent": round(100 * one.top1, 1), "top3_percent": round(100 * one.top3, 1)}
        out.setdefault(one.predictor, {})[str(one.earlier)] = {"requests": one.requests, **shares}
    return out


def as_text(scores: Sequence[PredictionScore]) -> str:
    """A table for the terminal; the last column is how far log loss lies below the bigram's."""
    bigram = {score.earlier: score.log_loss for score in scores if score.predictor == BIGRAM}
    rows = [("own sessions", "predictor", "top-1", "top-3", "log loss", "requests", "below bigram")]
    rows += [
        (
            str(score.earlier),
            score.predictor,
            f"{score.top1:.1%}",
            f"{score.top3:.1%}",
            f"{score.log_loss:.2f}",
            str(score.requests),
            f"{1 - score.log_loss / bigram[score.earlier]:+.0%}" if score.earlier in bigram else "",
        )
        for score in scores
    ]
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return "\n".join(
        "  ".join(
            cell.ljust(w) if i == 1 else cell.rjust(w)
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        )
        for row in rows
    )


def _predictors(
    pack: Pack, procedure: str, clinic: Habits, own: Sequence[PastSession], dentist: str
) -> dict[str, Predictor]:
    """Everything that is compared, taught by the same sessions."""
    weighed = [(s, 1.0) for s in clinic.sessions if s.procedure == procedure]
    frequency, follows = _counts(pack, [*weighed, *((s, OWN_COUNTS) for s in own)])
    habits = Habits((*clinic.sessions, *own))
    width = len(pack.items)
    return {
        "uniform": lambda items: [np.full(width, 1 / width)] * len(items),
        "item frequency": lambda items: [frequency] * len(items),
        BIGRAM: lambda items: _bigram(pack, frequency, follows, items),
        "written steps": _steps(ProcedureModel(pack, [procedure])),
        "procedure model": _steps(ProcedureModel(pack, [procedure], habits=habits, dentist=dentist)),
    }


def _steps(model: ProcedureModel) -> Predictor:
    """The procedure model as a predictor."""

    def predict(items: Sequence[str]) -> Iterable[Array]:
        belief = model.start()
        for item in items:
            ahead = model.next_items(belief)
            yield np.array([ahead[i] for i in model.items])
            belief = model.after(belief, item)

    return predict


def _counts(pack: Pack, weighed: Sequence[tuple[PastSession, float]]) -> tuple[Array, Array]:
    """Share of each item (M,), a tenth of a request added to each, and counts of what follows (M, M)."""
    column = pack.order
    counts, follows = np.full(len(column), 0.1), np.zeros((len(column), len(column)))
    for session, weight in weighed:
        columns = [column[item] for item in session.items]
        np.add.at(counts, columns, weight)
        np.add.at(follows, (columns[:-1], columns[1:]), weight)
    return counts / counts.sum(), follows


def _bigram(pack: Pack, frequency: Array, follows: Array, items: Sequence[str]) -> Iterable[Array]:
    """What followed the last item, mixed with item frequency at the weight of four requests."""
    column = pack.order
    yield frequency
    for item in items[:-1]:
        row = follows[column[item]]
        yield (row + 4.0 * frequency) / (row.sum() + 4.0)


def _watcher(pack: Pack, sessions: Sequence[PastSession]) -> Predictor:
    """What followed the last items, in the longest run of them that was seen before, smoothed by shorter ones
    as Witten and Bell do (IEEE Transactions on Information Theory 37 (1991) 1085, method C, from memory).

    With more and more sessions this comes to know whatever the last items tell of the next one.
    """
    column = pack.order
    follows: defaultdict[tuple[str, ...], Counter[str]] = defaultdict(Counter)
    for session in sessions:
        for at, item in enumerate(session.items):
            for length in range(min(at, LONGEST_CONTEXT) + 1):
                follows[session.items[at - length : at]][item] += 1

    def predict(items: Sequence[str]) -> Iterable[Array]:
        for at in range(len(items)):
            p = np.full(len(column), 1 / len(column))
            for length in range(min(at, LONGEST_CONTEXT) + 1):
                seen = follows.get(tuple(items[at - length : at]))
                if seen is None:
                    break
                row = np.zeros(len(column))
                row[[column[item] for item in seen]] = list(seen.values())
                p = (row + len(seen) * p) / (row.sum() + len(seen))
            yield p

    return predict


def _judged(pack: Pack, predictor: Predictor, session: PastSession) -> list[tuple[float, float]]:
    """For each request, the place of the right item (1 is first, ties share) and log p of it."""
    column = pack.order
    places = []
    for item, p in zip(session.items, predictor(session.items), strict=True):
        right = p[column[item]]
        place = 1.0 + float(np.sum(p > right)) + 0.5 * float(np.sum(p == right) - 1)
        places.append((place, float(np.log(right))))
    return places


def _score(predictor: str, earlier: int, places: Sequence[tuple[float, float]]) -> PredictionScore:
    """The mean over requests."""
    place, log_p = np.array(places).T
    return PredictionScore(
        predictor,
        earlier,
        top1=float(np.mean(place <= 1)),
        top3=float(np.mean(place <= 3)),
        log_loss=float(-np.mean(log_p)),
        requests=len(places),
    )
