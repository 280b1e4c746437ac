"""Probability tables of what each step asks for and where it leads: authored first, then trained.

Takes a procedure of a pack, later logged sessions with weights, and gives `StepTables`; each training
returns new tables and leaves the old ones untouched. Training is one pass: forward-backward explains each
session under the tables so far, and the expected counts are added to the tables, which themselves count as
`strength` requests (a Dirichlet prior). Sessions are not stored.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from vocab.pack.schema import Pack, Procedure
from vocab.procedure.hmm import Array, expected_moves, smoothed


@dataclass(frozen=True)
class Teaching:
    """How many observations the tables so far are worth against what a session shows."""

    items: float
    """requests, for each step's items"""
    moves: float
    """moves out of a step, for each step"""
    first: float
    """first requests of a session"""
    shares: float
    """requests, for how often a step's request is for an item of any moment, and which"""
    half_life: float
    """later sessions after which a session counts half"""


@dataclass(frozen=True)
class ProcedureSettings:
    """Shares of what happens at the chair; a probability unless it says otherwise."""

    any_time: float = 0.15
    """a request is for an item that belongs to any moment"""
    stray: float = 0.03
    """a request is for anything at all; half of it falls on the items of the procedure's tray"""
    beyond: float = 0.05
    """of the other half, what falls on items that only other fields have"""
    again: float = 0.3
    """factor on an item of the step that is among the last `recent` requests"""
    recent: int = 4
    """requests that count as just asked"""
    extra_requests: float = 0.2
    """requests that a step takes on average beyond the number in the pack"""
    skip: float = 0.05
    """a step that is not optional is skipped"""
    skip_optional: float = 0.5
    """an optional step is skipped"""
    go_back: float = 0.06
    """leaving a step leads back to an earlier one"""
    back_reach: float = 0.5
    """factor for each further step back"""
    lost_place: float = 0.01
    """a move lands on any step of the procedure; five times as likely for the first request"""
    clinic: Teaching = Teaching(items=8.0, moves=4.0, first=10.0, shares=30.0, half_life=50.0)
    """what sessions of other dentists teach"""
    dentist: Teaching = Teaching(items=2.0, moves=1.0, first=3.0, shares=10.0, half_life=10.0)
    """what the dentist's own sessions teach on top"""
    remembered: bool = True
    """the dentist's own sessions are also followed item by item"""


USUAL = ProcedureSettings()


@dataclass(frozen=True, eq=False)
class StepTables:
    """Probabilities of S steps over M items; rows of `move`, `own`, `stray` and `shares` sum to 1.

    `start` (S,), `move` (S, S); a request of a step is, by `shares` (S, 3), for the step's `own` items
    (S, M), for an item of any moment (`any_time`, (S, M), rows of zeros where there is none) or a
    `stray` (S, M). `again` is the factor on own items that were just asked for.
    """

    start: Array
    move: Array
    own: Array
    any_time: Array
    stray: Array
    shares: Array
    again: float

    def other(self) -> Array:
        """p of items of any moment and of strays, shape (S, M)."""
        return np.asarray(self.shares[:, 1:2] * self.any_time + self.shares[:, 2:] * self.stray)

    def fresh(self, recent: Sequence[int]) -> Array:
        """Factor on each own item, shape (M,): below 1 for the columns in `recent`."""
        fresh = np.ones(self.own.shape[1])
        fresh[list(recent)] = self.again
        return fresh

    def seen(self, column: int, recent: Sequence[int]) -> tuple[Array, Array]:
        """p(item | step, just asked for), (S,), and the part of it due to any moment, (S,)."""
        fresh = self.fresh(recent)
        own = self.shares[:, 0] * self.own[:, column] * fresh[column] / (self.own @ fresh)
        any_time = self.shares[:, 1] * self.any_time[:, column]
        total = own + any_time + self.shares[:, 2] * self.stray[:, column]
        return total, any_time / total


def authored(procedure: Procedure, pack: Pack, settings: ProcedureSettings) -> StepTables:
    """The tables of a procedure as the pack's author wrote it."""
    column = pack.order
    size = len(procedure.steps)
    tray = dict.fromkeys((slot.item for slot in pack.tray(procedure.tray).slots), 1.0)
    anything = _item_shares(dict.fromkeys(column.keys() - pack.beyond.keys(), 1.0), column)
    if pack.beyond:
        elsewhere = _item_shares(dict.fromkeys(pack.beyond, 1.0), column)
        anything = (1.0 - settings.beyond) * anything + settings.beyond * elsewhere
    stray = 0.5 * _item_shares(tray, column) + 0.5 * anything
    any_time = settings.any_time if procedure.any_time else 0.0
    return StepTables(
        start=_start(procedure, settings),
        move=_moves(procedure, settings),
        own=np.array([_item_shares(step.items, column) for step in procedure.steps]),
        any_time=np.tile(_item_shares(procedure.any_time, column), (size, 1)),
        stray=np.tile(stray, (size, 1)),
        shares=np.tile([1.0 - any_time - settings.stray, any_time, settings.stray], (size, 1)),
        again=settings.again,
    )


def taught(
    tables: StepTables, sessions: Sequence[tuple[Sequence[int], float]], teaching: Teaching, recent: int
) -> StepTables:
    """The tables of one procedure after sessions (item columns and weight of each).

    Counts are expected counts under `tables`. A request counts for a step's own items unless it is
    explained as one of any moment, so that a stray that keeps coming becomes the step's own.
    """
    own, move = np.zeros_like(tables.own), np.zeros_like(tables.move)
    start, any_time = np.zeros_like(tables.start), np.zeros_like(tables.own)
    with np.errstate(divide="ignore"):
        log_start, log_move = np.log(tables.start), np.log(tables.move)
    for columns, weight in sessions:
        seen = [tables.seen(c, columns[max(0, t - recent) : t]) for t, c in enumerate(columns)]
        with np.errstate(divide="ignore"):
            log_seen = np.log([p for p, _ in seen])
        steps = weight * smoothed(log_start, log_move, log_seen)
        start += steps[0]
        move += weight * expected_moves(log_start, log_move, log_seen)
        for column, step, (_, part) in zip(columns, steps, seen, strict=True):
            own[:, column] += step * (1.0 - part)
            any_time[:, column] += step * part
    kinds = np.stack([own.sum(axis=1), any_time.sum(axis=1)], axis=1)
    known = 1.0 - tables.shares[:, 2:]
    shares = _mixed(kinds, tables.shares[:, :2] / known, teaching.shares) * known
    moments = _mixed(any_time.sum(axis=0, keepdims=True), tables.any_time, teaching.shares)
    return StepTables(
        start=_mixed(start[None], tables.start[None], teaching.first)[0],
        move=_mixed(move, tables.move, teaching.moves),
        own=_mixed(own, tables.own, teaching.items),
        any_time=moments,
        stray=tables.stray,
        shares=np.hstack([shares, tables.shares[:, 2:]]),
        again=tables.again,
    )


def joined(tables: Sequence[StepTables]) -> StepTables:
    """Several procedures side by side, equally likely at the start, no move from one to another."""
    size = sum(len(t.start) for t in tables)
    move, first = np.zeros((size, size)), 0
    for t in tables:
        block = slice(first, first := first + len(t.start))
        move[block, block] = t.move
    return StepTables(
        start=np.concatenate([t.start for t in tables]) / len(tables),
        move=move,
        own=np.vstack([t.own for t in tables]),
        any_time=np.vstack([t.any_time for t in tables]),
        stray=np.vstack([t.stray for t in tables]),
        shares=np.vstack([t.shares for t in tables]),
        again=tables[0].again,
    )


def _mixed(counts: Array, share: Array, strength: float) -> Array:
    """Rows of counts added to rows of shares that are worth `strength` counts, as shares."""
    return np.asarray((counts + strength * share) / (counts.sum(axis=1, keepdims=True) + strength))


def _item_shares(weights: Mapping[str, float], column: Mapping[str, int]) -> Array:
    """Weights of items as shares of 1, shape (M,); zeros if there are none."""
    shares = np.zeros(len(column))
    for item, weight in weights.items():
        shares[column[item]] = weight
    return np.asarray(shares / shares.sum()) if weights else shares


def _landing(procedure: Procedure, settings: ProcedureSettings, first: int) -> Array:
    """p of each step being the next one done when steps before `first` are behind us, shape (S,).

    Sums to less than 1: what is missing is the chance that nothing more is done.
    """
    landing, passed = np.zeros(len(procedure.steps)), 1.0
    for i in range(first, len(procedure.steps)):
        skip = settings.skip_optional if procedure.steps[i].optional else settings.skip
        landing[i] = passed * (1.0 - skip)
        passed *= skip
    return landing


def _start(procedure: Procedure, settings: ProcedureSettings) -> Array:
    """p of the step of the first request, shape (S,)."""
    landing, late = _landing(procedure, settings, 0), min(1.0, 5 * settings.lost_place)
    return np.asarray((1.0 - late) * landing / landing.sum() + late / len(landing))


def _moves(procedure: Procedure, settings: ProcedureSettings) -> Array:
    """p of each move, shape (S, S): stay, advance, skip, go back.

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
