"""Knows where in a procedure we are and what will be asked for next.

Comes in: a pack and, one by one, the ids of the items that were asked for. Goes out: a belief over the
steps and honest probabilities of the next items. A hidden step stays, advances, skips or goes back; each
request comes from the step's own items (less often from those just asked for), from the items of any
moment, or, rarely, from anywhere in the pack. It never hears, never decides and never forgets by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vocab.errors import TraycallError
from vocab.hidden_steps import Array, best_path, forward, moved, normalised, smoothed
from vocab.schema import Pack, Procedure

State = tuple[str, str]
"""A procedure id and a step id."""


@dataclass(frozen=True)
class ProcedureSettings:
    """Shares of what happens at the chair; every value is a probability unless it says otherwise."""

    any_time: float = 0.15
    """a request is for an item that belongs to any moment"""
    stray: float = 0.02
    """a request is for anything at all; half of it falls on the items of the procedure's tray"""
    again: float = 0.3
    """factor on an item of the step that is among the last `memory` requests"""
    memory: int = 4
    """requests that count as just asked"""
    extra_requests: float = 0.2
    """requests a step takes on average beyond the pack's number"""
    skip: float = 0.05
    """a step that is not optional is skipped"""
    skip_optional: float = 0.5
    """an optional step is skipped"""
    go_back: float = 0.06
    """leaving a step leads back to an earlier one"""
    back_reach: float = 0.5
    """factor for each further step back"""
    lost_place: float = 0.01
    """a move lands on any step of the procedure; of the first request, five times as much"""


@dataclass(frozen=True, eq=False)
class Belief:
    """What is believed after `asked` requests.

    `log_p` (S,) are the log-probabilities of the step the last request came from (before the first
    request: of the step it will come from); `recent` are the columns of the last items, oldest first.
    """

    log_p: Array
    asked: int = 0
    recent: tuple[int, ...] = ()


class ProcedureError(TraycallError):
    """A procedure that cannot be followed."""


class ProcedureModel:
    """The procedures of a pack as one hidden chain; nothing changes after construction.

    `procedure_ids` None takes all of the pack's procedures, equally likely; one id is a known procedure.
    `items` are the item ids in column order (M), `states` the steps of all procedures (S); `log_start`
    (S,), `log_move` (S, S) and `log_emit` (S, M) are log-probabilities, the last before the discount on
    items just asked for. Raises `ProcedureError` for an unknown procedure or a pack without any.
    """

    def __init__(
        self,
        pack: Pack,
        procedure_ids: Sequence[str] | None = None,
        settings: ProcedureSettings = ProcedureSettings(),
    ) -> None:
        procedures = _chosen(pack, procedure_ids)
        self.settings = settings
        self.items: tuple[str, ...] = tuple(item.id for item in pack.items)
        self.states: tuple[State, ...] = tuple((p.id, s.id) for p in procedures for s in p.steps)
        self._column = {item: i for i, item in enumerate(self.items)}
        size = len(self.states)
        start, self._move = np.zeros(size), np.zeros((size, size))
        self._own = np.zeros((size, len(self.items)))
        self._other = np.zeros_like(self._own)
        self._own_share = np.zeros(size)
        first = 0
        for procedure in procedures:
            block = slice(first, first := first + len(procedure.steps))
            start[block] = _start(procedure, settings) / len(procedures)
            self._move[block, block] = _moves(procedure, settings)
            self._own[block] = self._step_items(procedure)
            self._other[block] = self._other_items(procedure, pack)
            any_time = settings.any_time if procedure.any_time else 0.0
            self._own_share[block] = 1.0 - any_time - settings.stray
        with np.errstate(divide="ignore"):
            self.log_start = np.log(start)
            self.log_move = np.log(self._move)
            self.log_emit = np.log(self._own_share[:, None] * self._own + self._other)
        for array in (self.log_start, self.log_move, self.log_emit):
            array.flags.writeable = False

    def start(self) -> Belief:
        """The belief before anything was asked for."""
        return Belief(self.log_start)

    def after(self, belief: Belief, item_id: str) -> Belief:
        """The belief once `item_id` was asked for; an item the pack lacks changes nothing."""
        column = self._column.get(item_id)
        if column is None:
            return belief
        log_p = normalised(self._ahead(belief) + self._log_seen(column, belief.recent))
        recent = (*belief.recent, column)[-self.settings.memory :] if self.settings.memory else ()
        return Belief(log_p, belief.asked + 1, recent)

    def likely_step(self, belief: Belief) -> tuple[str, str, float]:
        """Procedure and step of the last request, and how probable that is."""
        state = int(np.argmax(belief.log_p))
        return (*self.states[state], float(np.exp(belief.log_p[state])))

    def procedure_p(self, belief: Belief) -> dict[str, float]:
        """How probable each procedure is; sums to 1."""
        total = dict.fromkeys((procedure for procedure, _ in self.states), 0.0)
        for (procedure, _), p in zip(self.states, np.exp(belief.log_p), strict=True):
            total[procedure] += float(p)
        return total

    def next_items(self, belief: Belief) -> dict[str, float]:
        """How probable each item of the pack is as the next request, likeliest first; sums to 1."""
        p = np.exp(self._ahead(belief)) @ self._emission(belief.recent)
        return {self.items[i]: float(p[i]) for i in np.argsort(-p, kind="stable")}

    def next_few(self, belief: Belief, k: int = 3, horizon: int = 3) -> dict[str, float]:
        """The `k` items most likely to be asked for among the next `horizon` requests, with that p.

        What counts as just asked for stays as it is now.
        """
        emission = self._emission(belief.recent)
        ahead = np.exp(self._ahead(belief))
        steps, counts = ahead, np.zeros(len(self.items))
        for _ in range(horizon):
            counts += steps @ emission
            steps = steps @ self._move
        # counts / horizon <= p <= counts, so no item left out here can be among the k likeliest.
        bar = np.sort(counts)[-min(k, len(counts))] / horizon
        columns = np.flatnonzero(counts >= bar)
        without = np.repeat(ahead[None, :], len(columns), axis=0)
        for t in range(horizon):
            without = (without @ self._move if t else without) * (1.0 - emission[:, columns].T)
        p = 1.0 - without.sum(axis=1)
        return {self.items[columns[i]]: float(p[i]) for i in np.argsort(-p, kind="stable")[:k]}

    def smooth(self, items: Sequence[str]) -> Array:
        """p(step | the whole session), shape (T, S); an item the pack lacks repeats the row before."""
        seen, row = self._seen(items)
        if not len(seen):
            return np.repeat(np.exp(self.log_start)[None, :], len(items), axis=0)
        return smoothed(self.log_start, self.log_move, seen)[row]

    def best_path(self, items: Sequence[str]) -> list[State]:
        """The most likely whole way through the steps, one state an item that the pack knows."""
        seen, _ = self._seen(items)
        return [self.states[s] for s in best_path(self.log_start, self.log_move, seen)]

    def log_likelihood(self, items: Sequence[str]) -> float:
        """log p of a whole session, items the pack lacks left out."""
        return forward(self.log_start, self.log_move, self._seen(items)[0])[1]

    def _ahead(self, belief: Belief) -> Array:
        """log p of the step the next request comes from, shape (S,)."""
        return moved(belief.log_p, self.log_move, self._move) if belief.asked else belief.log_p

    def _fresh(self, recent: Sequence[int]) -> Array:
        """Factor on each item of a step, shape (M,): below 1 if it was just asked for."""
        fresh = np.ones(len(self.items))
        fresh[list(recent)] = self.settings.again
        return fresh

    def _emission(self, recent: Sequence[int]) -> Array:
        """p(item | step, just asked for), shape (S, M), rows sum to 1."""
        own = self._own * self._fresh(recent)
        return np.asarray(own * (self._own_share / own.sum(axis=1))[:, None] + self._other)

    def _log_seen(self, column: int, recent: Sequence[int]) -> Array:
        """log p(this item | step, just asked for), shape (S,): one column of `_emission`."""
        fresh = self._fresh(recent)
        own = self._own[:, column] * fresh[column] / (self._own @ fresh)
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(self._own_share * own + self._other[:, column]))

    def _seen(self, items: Sequence[str]) -> tuple[Array, list[int]]:
        """`_log_seen` of every known item (T', S), and for each item given its row there."""
        columns: list[int] = []
        rows: list[Array] = []
        row: list[int] = []
        for item in items:
            column = self._column.get(item)
            if column is not None:
                recent = columns[-self.settings.memory :] if self.settings.memory else []
                rows.append(self._log_seen(column, recent))
                columns.append(column)
            row.append(max(len(rows) - 1, 0))
        return np.array(rows).reshape(len(rows), len(self.states)), row

    def _step_items(self, procedure: Procedure) -> Array:
        """The share of each item among a step's own, shape (steps, M)."""
        return np.array([self._shares(step.items) for step in procedure.steps])

    def _other_items(self, procedure: Procedure, pack: Pack) -> Array:
        """p of items of any moment and of strays, shape (M,); the same in every step."""
        tray = dict.fromkeys((slot.item for slot in pack.tray(procedure.tray).slots), 1.0)
        stray = 0.5 * self._shares(tray) + 0.5 / len(self.items)
        any_time = self._shares(procedure.any_time) if procedure.any_time else 0.0
        return np.asarray(self.settings.any_time * any_time + self.settings.stray * stray)

    def _shares(self, weights: dict[str, float]) -> Array:
        """Weights of items as shares of 1, shape (M,)."""
        shares = np.zeros(len(self.items))
        for item, weight in weights.items():
            shares[self._column[item]] = weight
        return np.asarray(shares / shares.sum())


def _chosen(pack: Pack, procedure_ids: Sequence[str] | None) -> list[Procedure]:
    """The procedures to follow, in the order given."""
    known = {procedure.id: procedure for procedure in pack.procedures}
    if not known:
        raise ProcedureError(f"pack {pack.id!r} has no procedures; add some under `procedures:`")
    for wanted in procedure_ids or ():
        if wanted not in known:
            raise ProcedureError(f"no procedure is called {wanted!r}; choose from {', '.join(known)}")
    return [known[i] for i in (known if procedure_ids is None else dict.fromkeys(procedure_ids))]


def _landing(procedure: Procedure, settings: ProcedureSettings, first: int) -> Array:
    """p of each step being the next one done when steps before `first` are behind us, shape (steps,).

    Sums to less than 1: what is missing is the chance that nothing more is done.
    """
    landing, passed = np.zeros(len(procedure.steps)), 1.0
    for i in range(first, len(procedure.steps)):
        skip = settings.skip_optional if procedure.steps[i].optional else settings.skip
        landing[i] = passed * (1.0 - skip)
        passed *= skip
    return landing


def _start(procedure: Procedure, settings: ProcedureSettings) -> Array:
    """p of the step of the first request, shape (steps,)."""
    landing, late = _landing(procedure, settings, 0), min(1.0, 5 * settings.lost_place)
    return np.asarray((1.0 - late) * landing / landing.sum() + late / len(landing))


def _moves(procedure: Procedure, settings: ProcedureSettings) -> Array:
    """p of each move, shape (steps, steps): stay, advance, skip, go back; rows sum to 1.

    Given that another request comes, so what would lead past the last step is shared by the rest.
    """
    size = len(procedure.steps)
    move = np.zeros((size, size))
    for i, step in enumerate(procedure.steps):
        leave = 1.0 / (max(step.requests, 1.0) + settings.extra_requests)
        back = settings.back_reach ** np.arange(i, 0, -1)
        move[i, :i] = leave * settings.go_back * back / back.sum() if i else 0.0
        move[i] += leave * (1.0 - settings.go_back) * _landing(procedure, settings, i + 1)
        move[i, i] += 1.0 - leave
        move[i] = (1.0 - settings.lost_place) * move[i] / move[i].sum() + settings.lost_place / size
    return move
