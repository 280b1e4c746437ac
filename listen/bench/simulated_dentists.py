"""Simulated dentists with habits and their sessions, to measure what a procedure model is worth.

Takes a pack and a random generator; returns sessions: requests with times, and chatter between them. Nothing
here knows the model: there is no hidden chain, no dwell drawn request by request, no mixture of emissions. A
dentist writes one script for each procedure, once: which steps belong and in which order, which items and in
which order, starting from the written order of a step's items (which the model does not see). A day plays the
script, disturbed by the clock (interruptions come after a number of seconds, not of requests) and by whim.
Shared with the model are the pack's steps, items and weights, and that a dentist repeats themselves from day
to day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vocab.pack.schema import Pack, Procedure, Step
from vocab.procedure.habits import PastSession


@dataclass(frozen=True)
class Whims:
    """How dentists differ (drawn once) and how a day departs from the script; author's judgement.

    From `leave_out` on they are about a day, and are probabilities for each occasion unless stated otherwise.
    """

    weight_spread: float = 0.7
    """taste: standard deviation of log weights of a step's items"""
    order_spread: float = 1.2
    """own order: standard deviation, in places, about the written order of a step's items"""
    never: float = 0.03
    """a step that others do is not done"""
    swap_steps: float = 0.08
    """two neighbouring steps change places"""
    ahead: float = 0.1
    """an item of the next step is asked for at the end of this one"""
    own_way: int = 2
    """items from the tray asked for at places of the dentist's own"""
    leave_out: float = 0.06
    """an item of the script is not asked for, because it is still in reach"""
    turn_round: float = 0.06
    """two neighbouring items change places"""
    later: float = 0.03
    """an item is forgotten and asked for two to five requests later"""
    drop: float = 0.02
    """an item falls and is asked for again, at once or after the next"""
    redo: float = 0.04
    """after a step the end of one of the three before it is done again"""
    another_round: float = 0.8
    """mean further rounds of placing and curing"""
    misheard: float = 0.02
    """what is logged is any item of the pack"""
    cut: float = 0.1
    """the tool was switched on late or off early, by up to a third"""
    chat: float = 0.3
    """something is said before a request that asks for nothing"""

    def of_a_day(self, factor: float) -> Whims:
        """The same dentists on days `factor` times as unruly; 0 plays the script except for interruptions,
        rounds and steps done only sometimes."""
        return replace(
            self,
            leave_out=self.leave_out * factor,
            turn_round=self.turn_round * factor,
            later=self.later * factor,
            drop=self.drop * factor,
            redo=self.redo * factor,
            misheard=self.misheard * factor,
            cut=self.cut * factor,
        )


COMMON = Whims()


@dataclass(frozen=True)
class Visit:
    """A step as one dentist does it: how often, and its items in order."""

    step: str
    usual: float
    items: tuple[str, ...]
    rounds: bool
    """this step and the one before it are done in rounds"""


@dataclass(frozen=True)
class SimulatedDentist:
    """Habits: a script for each procedure, pace, interruptions and their items."""

    name: str
    scripts: dict[str, tuple[Visit, ...]]
    pace_s: float
    interrupted_every_s: float
    taste: dict[str, float]
    """weight of each item that may be asked for at any time, by id"""


@dataclass(frozen=True)
class SimulatedRequest:
    """What was said at `time_s` from the start: a request for an item, or chatter (None)."""

    time_s: float
    item: str | None


@dataclass(frozen=True)
class SimulatedSession:
    """One procedure at one chair."""

    procedure: str
    dentist: str
    said: tuple[SimulatedRequest, ...]

    @property
    def items(self) -> tuple[str, ...]:
        """What was asked for, in order."""
        return tuple(said.item for said in self.said if said.item is not None)

    @property
    def logged(self) -> PastSession:
        """What a consenting dentist's log would hold."""
        return PastSession(self.procedure, self.items, self.dentist)


def draw_dentist(pack: Pack, name: str, rng: np.random.Generator, whims: Whims = COMMON) -> SimulatedDentist:
    """A dentist with habits of their own for every procedure of the pack."""
    moments = dict.fromkeys(item for p in pack.procedures for item in p.any_time)
    return SimulatedDentist(
        name,
        {p.id: _script(pack, p, rng, whims) for p in pack.procedures},
        pace_s=float(rng.lognormal(np.log(25.0), 0.3)),
        interrupted_every_s=float(rng.uniform(120.0, 480.0)),
        taste={item: float(rng.lognormal(0.0, 1.0)) for item in moments},
    )


def draw_session(
    pack: Pack, dentist: SimulatedDentist, procedure_id: str, rng: np.random.Generator, whims: Whims = COMMON
) -> SimulatedSession:
    """One day's way through the dentist's script."""
    asked = _played(dentist.scripts[procedure_id], rng, whims)
    asked = _disturbed(asked, rng, whims)
    moments = pack.procedure(procedure_id).any_time
    wanted = list(moments)
    weights = np.array([moments[i] * dentist.taste[i] for i in wanted])
    ids = list(pack.by_id)
    said: list[SimulatedRequest] = []
    time_s, interruption_s = 0.0, dentist.interrupted_every_s * float(rng.gamma(2.0, 0.5))
    for item in asked:
        time_s += dentist.pace_s * float(rng.lognormal(-0.18, 0.6))
        if wanted and time_s > interruption_s:
            said.append(
                SimulatedRequest(time_s, wanted[int(rng.choice(len(wanted), p=weights / weights.sum()))])
            )
            interruption_s = time_s + dentist.interrupted_every_s * float(rng.gamma(2.0, 0.5))
            time_s += 0.3 * dentist.pace_s
        if rng.random() < whims.chat:
            before_s = said[-1].time_s if said else 0.0
            said.append(SimulatedRequest((before_s + time_s) / 2, None))
        heard = ids[int(rng.integers(len(ids)))] if rng.random() < whims.misheard else item
        said.append(SimulatedRequest(time_s, heard))
    return SimulatedSession(procedure_id, dentist.name, tuple(said))


def _script(pack: Pack, procedure: Procedure, rng: np.random.Generator, whims: Whims) -> tuple[Visit, ...]:
    """The dentist's own way through a procedure."""
    steps = list(procedure.steps)
    for i in range(len(steps) - 1):
        if rng.random() < whims.swap_steps:
            steps[i], steps[i + 1] = steps[i + 1], steps[i]
    orders = [_own_order(step, rng, whims) for step in steps]
    for i in range(len(steps) - 1):
        if len(orders[i + 1]) > 1 and rng.random() < whims.ahead:
            orders[i].append(orders[i + 1].pop(0))
    tray = [slot.item for slot in pack.tray(procedure.tray).slots]
    for _ in range(whims.own_way):
        order = orders[int(rng.integers(len(orders)))]
        order.insert(int(rng.integers(len(order) + 1)), tray[int(rng.integers(len(tray)))])
    curing = [i for i, step in enumerate(steps) if _cures(step) and not step.optional]
    rounds = int(rng.choice(curing)) if curing else None
    return tuple(
        Visit(step.id, _usual(step, rng, whims), tuple(order), i == rounds)
        for i, (step, order) in enumerate(zip(steps, orders, strict=True))
    )


def _cures(step: Step) -> bool:
    """Whether something is cured in this step ("cure composite")."""
    return any(timer.split()[0] == "cure" for timer in step.timers)


def _usual(step: Step, rng: np.random.Generator, whims: Whims) -> float:
    """How often this dentist does a step: optional ones are mostly done nearly always or hardly ever."""
    return float(rng.beta(0.5, 0.5)) if step.optional else float(rng.random() >= whims.never)


def _own_order(step: Step, rng: np.random.Generator, whims: Whims) -> list[str]:
    """The items this dentist asks for in a step, in their order; the heaviest is always among them."""
    items = list(step.items)
    count = max(1, round(step.requests * float(rng.lognormal(0.0, 0.25))))
    kinds = min(len(items), int(rng.integers((count + 1) // 2, count + 1)))
    log_weight = np.log(list(step.items.values())) + rng.normal(0.0, whims.weight_spread, len(items))
    keen = log_weight + rng.gumbel(size=len(items))
    keen[int(np.argmax(list(step.items.values())))] = np.inf
    chosen = np.argsort(-keen)[:kinds]
    place = np.arange(len(items)) + rng.normal(0.0, whims.order_spread, len(items))
    order = [items[i] for i in sorted(chosen, key=lambda i: place[i])]
    return (order * count)[:count]


def _played(script: Sequence[Visit], rng: np.random.Generator, whims: Whims) -> list[str]:
    """The script of one day: steps done or not, placing and curing in rounds, some steps done again."""
    asked: list[str] = []
    done: list[Visit] = []
    for visit in script:
        if rng.random() >= visit.usual:
            continue
        asked += visit.items
        if visit.rounds and done:
            for _ in range(int(rng.poisson(whims.another_round))):
                asked += (*done[-1].items, *visit.items)
        done.append(visit)
        if len(done) > 1 and rng.random() < whims.redo:
            again = done[-int(rng.integers(2, min(len(done), 4) + 1))]
            asked += again.items[-2:]
    return asked


def _disturbed(asked: list[str], rng: np.random.Generator, whims: Whims) -> list[str]:
    """A script with items left out, swapped, asked for later or dropped, or with one end cut off."""
    kept = [item for item in asked if rng.random() >= whims.leave_out] or asked[:1]
    for i in range(len(kept) - 1):
        if rng.random() < whims.turn_round:
            kept[i], kept[i + 1] = kept[i + 1], kept[i]
    for i in range(len(kept)):
        if rng.random() < whims.later:
            kept.insert(min(len(kept), i + int(rng.integers(2, 6))), kept.pop(i))
    out: list[str] = []
    for item in kept:
        out.append(item)
        if rng.random() < whims.drop:
            out.append(item)
    if rng.random() < whims.cut:
        share = int(len(out) * rng.uniform(0.0, 1 / 3))
        out = out[share:] if rng.random() < 0.5 else out[: len(out) - share]
    return out
