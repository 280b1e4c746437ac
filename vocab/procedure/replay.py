"""The "as last time" model: follows a dentist's earlier sessions item by item.

It takes sessions as weighted item columns, then the items of a new session one by one, and gives the
probabilities of the next item. The new session is assumed to replay an old one: one item on, a pause for
something else, items left out, a little back, or lost and found again anywhere. The old session may be
another one from request to request (fixed share: Herbster and Warmuth, Machine Learning 32 (1998) 151, from
memory), because every day departs from the dentist's usual order in its own way and what most days agree on
is the better guide. Where the script does not say, the steps decide (`steps_p`). Plain probabilities, not
logs, are safe here because the chance of being lost keeps all of them above zero.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vocab.procedure.hmm import Array, Indices

PAUSE = 0.12
"""p that a request is not from the script, which then goes on where it was"""
LEAPS = {1: 0.76, 2: 0.07, 3: 0.02, -1: 0.01, -2: 0.005, -3: 0.005}
"""p of moving this many items on (back if negative); the rest, up to 1, is being lost"""
AT_THE_START = {0: 0.65, 1: 0.10, 2: 0.05}
"""p that a session starts at this item of an old one; otherwise anywhere"""
AS_WRITTEN = 0.95
"""p that the item at the new place is asked for, not another"""
ANOTHER_DAY = 0.7
"""p after each request that from here on any session of the same procedure, drawn by weight, is replayed, at
the place found in it so far; 0 stays with what began most like today. Chosen on simulated dentists, where 0.5
to 0.9 differ little."""


@dataclass(frozen=True, eq=False)
class Replay:
    """K old sessions laid end to end, N items.

    `columns` (N,) are the items, `session` (N,) which session each is of; `procedure` (K,) is which procedure
    a session is of and `weight` (K,) its share among those of its procedure; `anywhere` (N,) is p of a place
    if lost, `first` (N,) p of a place at the first request; `width` is the number of items M. A place (N,)
    holds p of each old item being the one just played.
    """

    columns: Indices
    session: Indices
    procedure: Indices
    weight: Array
    anywhere: Array
    first: Array
    width: int

    def start(self) -> Array:
        """The place before the first request: nothing played yet, shape (N,) of zeros."""
        return np.zeros(len(self.columns))

    def ahead(self, place: Array) -> tuple[Array, Array]:
        """p of pausing at each old item and p of playing each next, shapes (..., N); sum to 1 together."""
        if not place.any():
            return np.zeros_like(place), np.broadcast_to(self.first, place.shape)
        play = np.zeros_like(place)
        for by, p in LEAPS.items():
            to, source = (
                (slice(by, None), slice(None, -by)) if by > 0 else (slice(None, by), slice(-by, None))
            )
            play[..., to] += p * place[..., source] * (self.session[to] == self.session[source])
        pause = PAUSE * place
        lost = place.sum(axis=-1) - pause.sum(axis=-1) - play.sum(axis=-1)
        return pause, play + lost[..., None] * self.anywhere

    def next_items(self, place: Array, steps_p: Array) -> Array:
        """p of each item as the next request, shape (M,); sums to 1 if `steps_p` (M,) does."""
        _, play = self.ahead(place)
        scripted = AS_WRITTEN * np.bincount(self.columns, play, minlength=self.width)
        return np.asarray(scripted + (1.0 - scripted.sum()) * steps_p)

    def after(self, place: Array, column: int, step_p: float) -> tuple[Array, float]:
        """The place once the item was asked for, and the p it had; `step_p` is its p by the steps."""
        pause, play = self.ahead(place)
        joint = pause * step_p + play * (AS_WRITTEN * (self.columns == column) + (1 - AS_WRITTEN) * step_p)
        total = float(joint.sum())
        return self._shared(joint / total), total

    def _shared(self, place: Array) -> Array:
        """The place (N,) if the session may be another one of its procedure; where each stands stays."""
        held = np.bincount(self.session, place)
        even = self.weight * np.bincount(self.procedure, held)[self.procedure]
        return np.asarray(place * (1.0 - ANOTHER_DAY + ANOTHER_DAY * even / held)[self.session])


def remembered(sessions: Sequence[Sequence[tuple[Sequence[int], float]]], width: int) -> Replay | None:
    """The replay of each procedure's sessions, as item columns and a weight; None if they hold nothing."""
    kept = [(columns, weight, i) for i, of in enumerate(sessions) for columns, weight in of if columns]
    if not kept:
        return None
    lengths = [len(columns) for columns, _, _ in kept]
    weights = np.array([weight for _, weight, _ in kept])
    weights = weights / weights.sum()
    procedure = np.array([i for _, _, i in kept], dtype=np.int64)
    anywhere = np.repeat(weights / lengths, lengths)
    first = (1.0 - sum(AT_THE_START.values())) * anywhere
    for begin, length, weight in zip(np.cumsum([0, *lengths[:-1]]), lengths, weights, strict=True):
        for at, p in AT_THE_START.items():
            first[begin + min(at, length - 1)] += p * weight
    return Replay(
        columns=np.concatenate([np.asarray(columns, dtype=np.int64) for columns, _, _ in kept]),
        session=np.repeat(np.arange(len(kept), dtype=np.int64), lengths),
        procedure=procedure,
        weight=weights / np.bincount(procedure, weights)[procedure],
        anywhere=anywhere,
        first=first,
        width=width,
    )
