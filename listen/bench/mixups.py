"""What names are taken for in chair noise, learnt from tuning voices; and whether lint foretells it.

Comes in: records of hearings of both sides. Goes out: `vocab.mixed_up.MixedUp` from tuning voices only (costs
of phones, how often names that sound so near are mixed up, and what each name was taken for), and a report of
how the findings of lint agree with what test voices met. Nothing is fitted on test voices.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from listen.bench.figures import Share, wilson
from listen.bench.systems import item_ps
from listen.bench.work import Record, hearing_of
from listen.mixing import Names, taken_for
from listen.readings import Reader
from vocab.errors import TraycallError
from vocab.lint import SOUND_ALIKE, Finding, Severity, lint
from vocab.lint_sounds import Sounds
from vocab.mixed_up import Chance, MixedUp, Taken, Trial, key_of, learnt_costs, summed
from vocab.pronounce import PHONES, Cost, Costs, Phones, Pronouncer, all_costs, substitution_cost
from vocab.schema import Pack

NONE = ""
"""Stands for no phone: one that was dropped or added."""
SAME_SENTENCE = 0.45
"""Free text that differs from what was said by more of its length tells nothing about single phones."""
KNOWN = 8.0
"""The general table counts as so many times a phone was met."""
SPREAD = 2.5
"""How quickly the general table's chance of a slip falls with its cost."""
LEAST_SHARE = 0.02
"""A pair is confused if one utterance in fifty of either item is taken for the other, on average; lint says
nothing below it either."""
SEEN_P = 0.05
"""An utterance that gives another item so much has met it; what only one sentence met may be an accident."""
ENOUGH_NAMES = 50

Pair = frozenset[str]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Utterance:
    """A request by one name: the probability of the item asked for, and of others with the name heard."""

    text: str
    item: str
    name: str
    speaker: str
    free_text: str
    right: float
    taken: dict[str, Taken]

    def p(self, item: str) -> float:
        """How probable it is that another item was asked for."""
        return self.taken[item].mass if item in self.taken else 0.0


def utterances(
    records: Iterable[Record], reader: Reader, names: Names, levels: Sequence[str]
) -> list[Utterance]:
    """The requests at these levels; those whose name cannot be found in the sentence are left out."""
    out = []
    for record in records:
        if record["item"] is None or record["level"] not in levels:
            continue
        name = names.of(record["text"], record["item"])
        if name is not None:
            readings = reader.of_hearing(hearing_of(record), {})
            taken = taken_for(readings, record["item"], names)
            out.append(
                Utterance(
                    text=record["text"],
                    item=record["item"],
                    name=name,
                    speaker=record["speaker"],
                    free_text=record["hearing"]["free_text"],
                    right=item_ps(readings).get(record["item"], 0.0),
                    taken=taken,
                )
            )
    return out


def trials(said: Iterable[Utterance]) -> dict[str, Trial]:
    """What each name was taken for."""
    return summed((u.name, Trial(1, u.taken)) for u in said)


# ---------------------------------------------------------------- learning


def learn(said: Sequence[Utterance], pack: Pack, pronouncer: Pronouncer, about: dict[str, object]) -> MixedUp:
    """Everything that lint knows about mix-ups, from utterances of tuning voices."""
    if not said:
        raise TraycallError("no request of the tune side at these levels: name another folder or --levels")
    raw = learnt_costs(phone_costs(said, pronouncer))
    scale = _scale(pack, pronouncer, MixedUp(costs=raw).cost)
    costs = {pair: round(scale * cost, 3) for pair, cost in raw.items()}
    chance = fit_chance(said, Sounds(pack, pronouncer, MixedUp(costs=costs).cost))
    return MixedUp(trials(said), chance, costs, about)


def _scale(pack: Pack, pronouncer: Pronouncer, cost: Cost) -> float:
    """What makes names that are near by the general table differ by as much as there, on average."""
    general, learnt = Sounds(pack, pronouncer), Sounds(pack, pronouncer, cost)
    near = [pair for pair in general.pairs() if pair.cost > 0]
    ours = sum(learnt.cost(pair.one.text, pair.other.text) for pair in near)
    return sum(pair.cost for pair in near) / ours if ours else 1.0


def phone_costs(said: Iterable[Utterance], pronouncer: Pronouncer) -> dict[tuple[str, str], float]:
    """What each phone costs as each other (nats): minus the log of how often it was written down as that one.

    The general table fills what was seldom met.
    """
    general = all_costs()
    met: Counter[tuple[str, str]] = Counter()
    for utterance in said:
        one, other = pronouncer.phrase(utterance.text), pronouncer.phrase(utterance.free_text)
        pairs, cost = aligned(one, other, general)
        if cost <= SAME_SENTENCE * max(len(one), len(other), 1):
            met.update(pairs)
    total: Counter[str] = Counter()
    for (one_phone, _), n in met.items():
        total[one_phone] += n
    phones = sum(n for phone, n in total.items() if phone != NONE)
    every = (*PHONES, NONE)
    raw: dict[tuple[str, str], float] = {}
    for a in every:
        usual = {b: math.exp(-SPREAD * substitution_cost(a, b)) for b in every if b != a}
        whole, times = sum(usual.values()), phones if a == NONE else total[a]
        for b, weight in usual.items():
            raw[a, b] = -math.log((met[a, b] + KNOWN * weight / whole) / (times + KNOWN))
    return raw


def aligned(a: Phones, b: Phones, costs: Costs) -> tuple[list[tuple[str, str]], float]:
    """Which phone became which on the cheapest way from `a` to `b`, and its cost."""
    best = np.zeros((len(a) + 1, len(b) + 1))
    best[1:, 0] = np.cumsum([costs[phone, NONE] for phone in a])
    best[0, 1:] = np.cumsum([costs[NONE, phone] for phone in b])
    for i, j in itertools.product(range(len(a)), range(len(b))):
        ways = (
            best[i, j] + costs[a[i], b[j]],
            best[i, j + 1] + costs[a[i], NONE],
            best[i + 1, j] + costs[NONE, b[j]],
        )
        best[i + 1, j + 1] = min(ways)
    pairs, i, j = [], len(a), len(b)
    while i or j:
        if i and j and best[i, j] == best[i - 1, j - 1] + costs[a[i - 1], b[j - 1]]:
            i, j = i - 1, j - 1
            pairs.append((a[i], b[j]))
        elif i and best[i, j] == best[i - 1, j] + costs[a[i - 1], NONE]:
            i -= 1
            pairs.append((a[i], NONE))
        else:
            j -= 1
            pairs.append((NONE, b[j]))
    return pairs[::-1], float(best[-1, -1])


def fit_chance(said: Sequence[Utterance], sounds: Sounds) -> Chance:
    """How often names are mixed up by how near they sound, by likelihood; and what a trial weighs against it.

    The weight is learnt from names that were said in several sentences: how well the others foretell one.
    Where few were, it stays as it is.
    """
    from scipy.optimize import minimize, minimize_scalar

    near = {name: sounds.costs(name) for name in {u.name for u in said}}
    rows = [(near[u.name][item], u.p(item)) for u in said for item in near[u.name] if item != u.item]
    cost, p = np.array(rows, np.float64).T
    x = np.stack([np.ones_like(cost), cost], axis=1)

    def loss(at: Floats) -> tuple[float, Floats]:
        odds = x @ at
        wrong = 1 / (1 + np.exp(-odds)) - p
        return float(np.mean(np.logaddexp(0.0, odds) - p * odds)), wrong @ x / len(x)

    found = minimize(loss, np.array([-3.0, -0.9]), jac=True, method="BFGS", options={"gtol": 1e-9})
    chance = Chance(*(round(float(value), 4) for value in found.x))

    rows_ = [row for name, texts in _several(said).items() for row in _held_out(texts, near[name])]
    if not rows_:
        return chance
    mass, times, cost, p = np.array(rows_, np.float64).T
    usual = 1 / (1 + np.exp(-(chance.bias + chance.by_cost * cost)))

    def loss_held_out(log_pull: float) -> float:
        q = (mass + math.exp(log_pull) * usual) / (times + math.exp(log_pull))
        return float(-np.mean(p * np.log(q) + (1 - p) * np.log1p(-q)))

    pull = minimize_scalar(loss_held_out, bounds=(math.log(1), math.log(1000)), method="bounded")
    return replace(chance, pull=round(math.exp(pull.x), 2))


def _several(said: Sequence[Utterance]) -> dict[str, list[list[Utterance]]]:
    """The sentences of each name that was said in more than one; nothing where these are few."""
    by_name: defaultdict[str, dict[str, list[Utterance]]] = defaultdict(dict)
    for u in said:
        by_name[u.name].setdefault(u.text, []).append(u)
    several = {name: list(texts.values()) for name, texts in by_name.items() if len(texts) > 1}
    return several if len(several) >= ENOUGH_NAMES else {}


def _held_out(
    texts: Sequence[Sequence[Utterance]], near: Mapping[str, float]
) -> Iterator[tuple[float, int, float, float]]:
    """For each utterance and other item: mass and times of the other sentences, cost, and what came."""
    for held in texts:
        others = [u for some in texts if some is not held for u in some]
        for item, cost in near.items():
            if item != held[0].item:
                mass = sum(u.p(item) for u in others)
                yield from ((mass, len(others), cost, u.p(item)) for u in held)


# ---------------------------------------------------------------- agreement


@dataclass(frozen=True)
class Met:
    """What utterances met, by pair of items."""

    said: tuple[Utterance, ...]

    @cached_property
    def asked(self) -> Counter[str]:
        """How often each item was asked for."""
        return Counter(u.item for u in self.said)

    @cached_property
    def shares(self) -> dict[Pair, float]:
        """The larger of both ways: what an utterance of the one gives the other, on average."""
        mass: defaultdict[tuple[str, str], float] = defaultdict(float)
        for u in self.said:
            for item, taken in u.taken.items():
                mass[u.item, item] += taken.mass
        shares: dict[Pair, float] = {}
        for (one, other), total in mass.items():
            pair = frozenset((one, other))
            shares[pair] = max(shares.get(pair, 0.0), total / self.asked[one])
        return shares

    @cached_property
    def times(self) -> Counter[Pair]:
        """How many sentences met each pair."""
        sentences = {
            (frozenset((u.item, item)), u.text)
            for u in self.said
            for item, taken in u.taken.items()
            if taken.mass >= SEEN_P
        }
        return Counter(pair for pair, _ in sentences)

    @property
    def forced(self) -> set[Pair]:
        """Pairs of which the wrong one was likelier than the right one in some utterance."""
        return {frozenset((u.item, worst)) for u in self.said if (worst := _worse(u)) is not None}

    @property
    def once(self) -> set[Pair]:
        """Confused pairs, accidents included."""
        return {pair for pair, share in self.shares.items() if share >= LEAST_SHARE}

    @property
    def again(self) -> set[Pair]:
        """Confused pairs that at least two sentences met."""
        return {pair for pair in self.once if self.times[pair] > 1}


def _worse(u: Utterance) -> str | None:
    """The item that is likelier than the one asked for."""
    item = max(u.taken, key=u.p, default=None)
    return item if item is not None and u.p(item) > u.right else None


DEFINITIONS: dict[str, Callable[[Met], set[Pair]]] = {
    "likelier than the right one in some utterance": lambda met: met.forced,
    "at least 1 in 50 on average": lambda met: met.once,
    "at least 1 in 50 on average, in two sentences or more": lambda met: met.again,
}


@dataclass(frozen=True)
class Agreement:
    """How flagged pairs agree with confused ones, by one definition; and two halves of the voices' own."""

    definition: str
    recall: Share
    precision: Share
    half: Share


def flagged(pack: Pack, sounds: Sounds, mixed_up: MixedUp) -> dict[Pair, Finding]:
    """The pairs of items that lint tells of."""
    return {frozenset(f.items): f for f in lint(pack, sounds, mixed_up) if f.kind in SOUND_ALIKE}


def agreement(told: Iterable[Pair], said: Sequence[Utterance]) -> list[Agreement]:
    """Every definition; only pairs count of which one item at least was asked for twice.

    The half is what any forecast is up against: of the pairs that every second sentence confuses, how many
    the other sentences of the same voices confuse, too.
    """
    met = Met(tuple(said))
    texts = sorted({u.text for u in said})
    one, other = (
        Met(tuple(u for u in said if u.text in half)) for half in (set(texts[::2]), set(texts[1::2]))
    )

    def asked(pair: Pair, in_: Met = met) -> bool:
        return any(in_.asked[item] > 1 for item in pair)

    told = {pair for pair in told if asked(pair)}
    out = []
    for name, confused in DEFINITIONS.items():
        real = {pair for pair in confused(met) if asked(pair)}
        first, second = (
            {p for p in confused(half) if asked(p, one) and asked(p, other)} for half in (one, other)
        )
        out.append(
            Agreement(
                name,
                wilson(len(told & real), len(real)),
                wilson(len(told & real), len(told)),
                wilson(len(first & second), len(first)),
            )
        )
    return out


def promised(found: Iterable[Finding], said: Sequence[Utterance]) -> tuple[int, float, float]:
    """How many measured findings have names that were said; what they promise and what came (means)."""
    by_name: defaultdict[str, list[Utterance]] = defaultdict(list)
    for u in said:
        by_name[key_of(u.name)].append(u)
    rows = [
        (f.p, float(np.mean([u.p(f.items[1]) for u in heard])))
        for f in found
        if f.p is not None and (heard := [u for u in by_name[key_of(f.names[0])] if u.item == f.items[0]])
    ]
    if not rows:
        return 0, math.nan, math.nan
    told, came = np.mean(rows, axis=0)
    return len(rows), float(told), float(came)


def report(mixed_up: MixedUp, pack: Pack, pronouncer: Pronouncer, said: Sequence[Utterance]) -> str:
    """How lint agrees with these utterances, by sound alone and with what was measured."""
    sounds = Sounds(pack, pronouncer, mixed_up.cost)
    lines = [
        f"{len(said)} requests for {len({u.item for u in said})} items by {len({u.name for u in said})} names"
    ]
    for title, known in (("by sound", replace(mixed_up, trials={})), ("as measured", mixed_up)):
        found = flagged(pack, sounds, known)
        shown = [pair for pair, finding in found.items() if finding.severity is not Severity.LOW]
        for which, some in (("all", list(found)), ("those of weight", shown)):
            lines.append(f"\nlint {title}, {which}: {len(some)} pairs")
            lines += [
                f"  {row.definition}: {_text(row.recall)} of the confused are flagged; "
                f"{_text(row.precision)} of the flagged are real"
                for row in agreement(some, said)
            ]
        number, told, came = promised(found.values(), said)
        if number:
            lines.append(f"  {number} measured findings promise {told:.3f} on average; {came:.3f} came")
    lines.append("\nof the pairs that every second sentence confuses, the others confuse:")
    lines += [f"  {row.definition}: {_text(row.half)}" for row in agreement((), said)]
    return "\n".join(lines)


def _text(share: Share) -> str:
    if not share.n:
        return "0 of 0"
    return (
        f"{share.k} of {share.n} ({100 * share.value:.0f} %, {100 * share.low:.0f} to {100 * share.high:.0f})"
    )
