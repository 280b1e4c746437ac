"""Tracks where in a procedure the chair is and predicts what will be asked for next.

Built from a pack and any logged sessions, it takes the ids of requested items one by one and returns a
belief over the steps and calibrated probabilities of the next items. A hidden step stays, advances, skips
or goes back; a request comes from the step's own items (less often from those just asked for), from the
items that belong to any moment or, rarely, from anywhere in the pack. Alongside runs the "as last time"
model, which follows the dentist's own sessions item by item, all at once; the two are weighted by how well
each has predicted so far. The module does no listening and takes no decisions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vocab.errors import TraycallError
from vocab.pack.schema import Pack, Procedure
from vocab.procedure.habits import NONE_YET, Habits, PastSession
from vocab.procedure.hmm import Array, best_path, forward, moved, normalised, smoothed
from vocab.procedure.replay import remembered
from vocab.procedure.step_tables import USUAL, ProcedureSettings, StepTables, authored, joined, taught

__all__ = ["Belief", "ProcedureError", "ProcedureModel", "ProcedureSettings", "State"]

State = tuple[str, str]
"""A procedure id and a step id."""

CHANGE_OF_MIND = 0.02
"""p at each request that a dentist turns from habit to the written steps, or back (fixed share)."""

FORGOTTEN = 0.01
"""Sessions that weigh less are left out."""


@dataclass(frozen=True, eq=False)
class Belief:
    """The belief after `asked` requests.

    `log_p` (S,) are the log-probabilities of the step the last request came from (before the first
    request: of the step it will come from); `recent` are the columns of the last items, oldest first;
    `place` (N,) is where in the dentist's earlier sessions we are, `habit_p` the weight of those.
    """

    log_p: Array
    asked: int
    recent: tuple[int, ...]
    place: Array
    habit_p: float


class ProcedureError(TraycallError):
    """A procedure that cannot be followed."""


class ProcedureModel:
    """The procedures of a pack as one hidden chain; nothing changes after construction.

    `procedure_ids` None takes all of the pack's procedures, equally likely; one id is a known procedure.
    `habits` teach what other dentists do and, on top, what `dentist` does. `items` are the item ids in
    column order (M), `states` the steps of all procedures (S); `log_start` (S,), `log_move` (S, S) and
    `log_emit` (S, M) are log-probabilities, the last before the discount on items just asked for.
    Raises `ProcedureError` for an unknown procedure or a pack without any.
    """

    def __init__(
        self,
        pack: Pack,
        procedure_ids: Sequence[str] | None = None,
        settings: ProcedureSettings = USUAL,
        habits: Habits = NONE_YET,
        dentist: str = "",
    ) -> None:
        procedures = _chosen(pack, procedure_ids)
        self.settings = settings
        self.items: tuple[str, ...] = tuple(pack.by_id)
        self.states: tuple[State, ...] = tuple((p.id, s.id) for p in procedures for s in p.steps)
        self._column = pack.order
        own = {p.id: self._weighed(habits.own(p.id, dentist), settings.dentist.half_life) for p in procedures}
        self._tables = joined([self._taught(p, pack, habits, dentist, own[p.id]) for p in procedures])
        self._other = self._tables.other()
        remember = [own[p.id] for p in procedures] if settings.remembered else []
        self._replay = remembered(remember, len(self.items))
        with np.errstate(divide="ignore"):
            self.log_start = np.log(self._tables.start)
            self.log_move = np.log(self._tables.move)
            self.log_emit = np.log(self._tables.shares[:, :1] * self._tables.own + self._other)
        for array in (self.log_start, self.log_move, self.log_emit):
            array.flags.writeable = False

    def start(self) -> Belief:
        """The belief before anything was asked for."""
        if self._replay is None:
            return Belief(self.log_start, 0, (), np.zeros(0), 0.0)
        return Belief(self.log_start, 0, (), self._replay.start(), 0.5)

    def anywhere(self) -> Belief:
        """The belief of somebody who may be in any step, as likely in one as in another."""
        even = np.full(len(self.states), -np.log(len(self.states)))
        return Belief(even, 0, (), np.zeros(0) if self._replay is None else self._replay.start(), 0.0)

    def after(self, belief: Belief, item_id: str) -> Belief:
        """The belief once `item_id` was asked for; an item the pack lacks changes nothing."""
        column = self._column.get(item_id)
        if column is None:
            return belief
        joint = self._ahead(belief) + self._log_seen(column, belief.recent)
        log_p = normalised(joint)
        recent = self._latest((*belief.recent, column))
        place, habit_p = belief.place, belief.habit_p
        if self._replay is not None:
            step_p = float(np.exp(joint).sum())
            place, replay_p = self._replay.after(place, column, step_p)
            habit_p = habit_p * replay_p / (habit_p * replay_p + (1.0 - habit_p) * step_p)
            habit_p = (1.0 - CHANGE_OF_MIND) * habit_p + CHANGE_OF_MIND * 0.5
        return Belief(log_p, belief.asked + 1, recent, place, habit_p)

    def likely_step(self, belief: Belief) -> tuple[str, str, float]:
        """Procedure and step of the last request, and how probable that is."""
        state = int(np.argmax(belief.log_p))
        return (*self.states[state], float(np.exp(belief.log_p[state])))

    def next_items(self, belief: Belief) -> dict[str, float]:
        """How probable each item of the pack is as the next request, likeliest first; sums to 1."""
        steps_p = self._from_steps(np.exp(self._ahead(belief)), belief.recent)
        return self._ranked(self._mixed(belief, steps_p), len(self.items))

    def smooth(self, items: Sequence[str]) -> Array:
        """p(step | the whole session), shape (T, S); an item the pack lacks repeats the row before."""
        seen, row = self._seen(items)
        if not len(seen):
            return np.repeat(np.exp(self.log_start)[None, :], len(items), axis=0)
        return np.asarray(smoothed(self.log_start, self.log_move, seen)[row])

    def best_path(self, items: Sequence[str]) -> list[State]:
        """The most likely path through the steps, one state for each item that the pack knows."""
        seen, _ = self._seen(items)
        return [self.states[s] for s in best_path(self.log_start, self.log_move, seen)]

    def log_likelihood(self, items: Sequence[str]) -> float:
        """log p of a whole session by the steps alone; items the pack lacks are left out."""
        return forward(self.log_start, self.log_move, self._seen(items)[0])[1]

    def _taught(
        self,
        procedure: Procedure,
        pack: Pack,
        habits: Habits,
        dentist: str,
        own: Sequence[tuple[list[int], float]],
    ) -> StepTables:
        """The tables of a procedure as written, trained on the clinic's sessions, then on the dentist's."""
        tables, settings = authored(procedure, pack, self.settings), self.settings
        others = self._weighed(habits.others(procedure.id, dentist), settings.clinic.half_life)
        for sessions, teaching in ((others, settings.clinic), (own, settings.dentist)):
            if sessions:
                tables = taught(tables, sessions, teaching, settings.recent)
        return tables

    def _weighed(self, sessions: Sequence[PastSession], half_life: float) -> list[tuple[list[int], float]]:
        """Item columns and weight of each session; the weight falls with every later session."""
        weighed = []
        for age, session in enumerate(reversed(sessions)):
            columns = [self._column[item] for item in session.items if item in self._column]
            weight = 0.5 ** (age / half_life)
            if columns and weight >= FORGOTTEN:
                weighed.append((columns, weight))
        return weighed

    def _ahead(self, belief: Belief) -> Array:
        """log p of the step the next request comes from, shape (S,)."""
        return moved(belief.log_p, self.log_move, self._tables.move) if belief.asked else belief.log_p

    def _mixed(self, belief: Belief, steps_p: Array) -> Array:
        """p of the next item by habit and by the steps `steps_p` (M,), shape (M,)."""
        if self._replay is None:
            return steps_p
        replay_p = self._replay.next_items(belief.place, steps_p)
        return np.asarray(belief.habit_p * replay_p + (1.0 - belief.habit_p) * steps_p)

    def _from_steps(self, steps: Array, recent: Sequence[int]) -> Array:
        """p of each item if the step is distributed as `steps` (S,), shape (M,); two matrix products."""
        own, fresh = self._tables.own, self._tables.fresh(recent)
        own_p = (steps * self._tables.shares[:, 0] / (own @ fresh)) @ own
        return np.asarray(own_p * fresh + steps @ self._other)

    def _log_seen(self, column: int, recent: Sequence[int]) -> Array:
        """log p(this item | step, just asked for), shape (S,)."""
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(self._tables.seen(column, recent)[0]))

    def _seen(self, items: Sequence[str]) -> tuple[Array, list[int]]:
        """`_log_seen` of every known item (T', S), and for each item given its row there."""
        columns: list[int] = []
        rows: list[Array] = []
        row: list[int] = []
        for item in items:
            column = self._column.get(item)
            if column is not None:
                rows.append(self._log_seen(column, self._latest(columns)))
                columns.append(column)
            row.append(max(len(rows) - 1, 0))
        return np.array(rows).reshape(len(rows), len(self.states)), row

    def _latest(self, columns: Sequence[int]) -> tuple[int, ...]:
        """The columns that count as just asked for."""
        return tuple(columns[max(0, len(columns) - self.settings.recent) :])

    def _ranked(self, p: Array, k: int) -> dict[str, float]:
        """The `k` likeliest items and their p (M,), the pack's order breaking ties."""
        return {self.items[i]: float(p[i]) for i in np.argsort(-p, kind="stable")[:k]}


def _chosen(pack: Pack, procedure_ids: Sequence[str] | None) -> list[Procedure]:
    """The procedures to follow, in the order given."""
    known = {procedure.id: procedure for procedure in pack.procedures}
    if not known:
        raise ProcedureError(f"the vocabulary {pack.id!r} has no procedures; add some under `procedures:`")
    if procedure_ids is not None and not procedure_ids:
        raise ProcedureError(f"no procedure was chosen; choose from {', '.join(known)}")
    for wanted in procedure_ids or ():
        if wanted not in known:
            raise ProcedureError(f"no procedure is called {wanted!r}; choose from {', '.join(known)}")
    return [known[i] for i in (known if procedure_ids is None else dict.fromkeys(procedure_ids))]
