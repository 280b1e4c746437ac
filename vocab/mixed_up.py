"""What an engine took names for when they were spoken to it in chair noise: measured once, kept, read again.

Comes in: trials, a few utterances of a name and what each was taken for. Goes out: how often a name would be
taken for another item. Few utterances say little, so a measured share is pulled towards what is usual for
names that sound so near. It never listens: `listen.bench lint` measures packs, `listen.mixing` new names.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from importlib import resources
from pathlib import Path
from typing import Any

from vocab.errors import TraycallError
from vocab.files import locked, write_atomically
from vocab.pronounce import Cost, substitution_cost
from vocab.schema import Pack
from vocab.spoken import words

SHIPPED_FILE = "mixed_up.json"
"""What was learnt and measured with the shipped engine; trials of the pack that `about` names."""
LEAST_KEPT = 0.005
"""Items with a smaller share of a name's utterances are not kept."""


class MixedUpError(TraycallError):
    """A file of measurements cannot be read."""


@dataclass(frozen=True)
class Taken:
    """What utterances of a name gave another item: summed probability, and the name it was taken for."""

    mass: float
    said: str


@dataclass(frozen=True)
class Trial:
    """Some utterances of one name in chair noise; `taken` by item id, the item asked for left out."""

    times: int
    taken: Mapping[str, Taken]

    def mass(self, item: str) -> float:
        """Summed probability of an item."""
        return self.taken[item].mass if item in self.taken else 0.0

    def __add__(self, other: Trial) -> Trial:
        taken = dict(self.taken)
        for item, more in other.taken.items():
            known = taken.get(item)
            larger = more if known is None or more.mass > known.mass else known
            taken[item] = Taken(more.mass + (known.mass if known else 0.0), larger.said)
        return Trial(self.times + other.times, taken)


@dataclass(frozen=True)
class Chance:
    """How often names that sound so near are taken for one another, before they are measured.

    log-odds = bias + by_cost * (cost of their difference). pull: a measured share weighs against this as its
    utterances against so many.
    """

    bias: float = -3.0
    by_cost: float = -0.9
    pull: float = 20.0

    def p(self, cost: float) -> float:
        """The probability that one utterance is taken for the other item."""
        return 1 / (1 + math.exp(-(self.bias + self.by_cost * cost)))


@dataclass(frozen=True)
class MixedUp:
    """Everything that was measured, by the name's words; `about` says on what."""

    trials: Mapping[str, Trial] = field(default_factory=dict)
    chance: Chance = field(default_factory=Chance)
    costs: Mapping[str, float] = field(default_factory=dict)
    about: Mapping[str, Any] = field(default_factory=dict)

    def trial(self, text: str) -> Trial | None:
        """What came of saying a name; None where it was never measured."""
        return self.trials.get(key_of(text))

    def p(self, text: str, item: str, cost: float) -> float:
        """How probable it is that a name is taken for an item that it differs from by so much."""
        by_sound, trial = self.chance.p(cost), self.trial(text)
        if trial is None:
            return by_sound
        return (trial.mass(item) + self.chance.pull * by_sound) / (trial.times + self.chance.pull)

    def with_trials(self, more: Mapping[str, Trial]) -> MixedUp:
        """These and more utterances of the same or other names."""
        return replace(self, trials=summed([*self.trials.items(), *more.items()]))

    @cached_property
    def cost(self) -> Cost:
        """What one phone costs as another, as learnt; the general table where nothing was."""
        if not self.costs:
            return substitution_cost
        return lambda a, b: 0.0 if a == b else self.costs.get(f"{min(a, b)} {max(a, b)}", 1.0)

    def text(self) -> str:
        """As `read` takes it."""
        data = {
            "about": dict(self.about),
            "chance": vars(self.chance),
            "costs": dict(self.costs),
            "trials": {key: _plain(trial) for key, trial in sorted(self.trials.items())},
        }
        return json.dumps(data, indent=0, ensure_ascii=False) + "\n"


def key_of(text: str) -> str:
    """What a name's measurements are found by."""
    return " ".join(words(text))


def shipped(pack: Pack) -> MixedUp:
    """What the shipped engine does; without trials for a pack that was not measured."""
    if pack.language != "en":
        return MixedUp()
    file = resources.files("vocab").joinpath(SHIPPED_FILE)
    known = _read(file.read_text(encoding="utf-8"), str(file))
    return known if known.about.get("pack") == pack.id else replace(known, trials={})


class OwnTrials:
    """What was measured here of names that are new: one file beside a clinic's layers.

    A name is tried together with those it may be confused with, which are spoken again while the name is
    known; what came of them counts only as long as the item has the name.

    Args:
        ear: which engine hears now (see `listen.mixing.ear`). What another one took names for is not read,
            and is forgotten when the next trial is kept.
    """

    def __init__(self, file: Path, ear: str) -> None:
        self._file, self._ear = file, ear

    def of(self, text: str, item: str) -> dict[str, Trial] | None:
        """What came of trying a name for an item: trials by name; None where it was not tried."""
        return self._kept().get((key_of(text), item))

    def keep(self, text: str, item: str, trials: Mapping[str, Trial]) -> None:
        """Keep what came of trying a name for an item."""
        self._file.parent.mkdir(parents=True, exist_ok=True)
        with locked(self._file.with_suffix(".lock")):
            kept = {**self._kept(), (key_of(text), item): dict(trials)}
            data = [
                {
                    "ear": self._ear,
                    "name": name,
                    "item": item_id,
                    "trials": {t: _plain(trial) for t, trial in tried.items()},
                }
                for (name, item_id), tried in sorted(kept.items())
            ]
            write_atomically(self._file, (json.dumps(data, indent=0, ensure_ascii=False) + "\n").encode())

    def added(self, measured: MixedUp, pack: Pack) -> MixedUp:
        """What was measured elsewhere, and here of the names that a pack has."""
        held = _held(pack)
        for tried, trials in self._kept().items():
            if tried in held:
                measured = measured.with_trials(trials)
        return measured

    def with_tried(self, added: MixedUp, pack: Pack, text: str, item: str) -> MixedUp:
        """The same and what came of a name that the pack may not have yet."""
        trials = self.of(text, item)
        return added if trials is None or (key_of(text), item) in _held(pack) else added.with_trials(trials)

    def _kept(self) -> dict[tuple[str, str], dict[str, Trial]]:
        if not self._file.exists():
            return {}
        try:
            data = json.loads(self._file.read_text(encoding="utf-8"))
            return {
                (one["name"], one["item"]): {t: _trial(plain) for t, plain in one["trials"].items()}
                for one in data
                if one.get("ear") == self._ear
            }
        except (ValueError, KeyError, TypeError, AttributeError):
            raise MixedUpError(
                f"{self._file} cannot be read; delete the file, names are tried again"
            ) from None


def _held(pack: Pack) -> set[tuple[str, str]]:
    return {(key_of(name.text), item.id) for item in pack.items for name in item.names}


def learnt_costs(costs: Mapping[tuple[str, str], float]) -> dict[str, float]:
    """Costs of pairs of phones in the form that is kept, both ways round the same; "" is none."""
    kept: dict[str, float] = {}
    for (a, b), cost in costs.items():
        pair = f"{min(a, b)} {max(a, b)}"
        kept[pair] = round(min(cost, kept.get(pair, cost)), 3)
    return dict(sorted(kept.items()))


def _read(text: str, where: str) -> MixedUp:
    try:
        data = json.loads(text)
        trials = {key: _trial(plain) for key, plain in data["trials"].items()}
        return MixedUp(trials, Chance(**data["chance"]), data["costs"], data["about"])
    except (ValueError, KeyError, TypeError) as error:
        raise MixedUpError(f"{where} cannot be read ({error}); make it again: listen.bench lint") from None


def _plain(trial: Trial) -> dict[str, Any]:
    least = LEAST_KEPT * trial.times
    taken = {i: [round(t.mass, 4), t.said] for i, t in sorted(trial.taken.items()) if t.mass >= least}
    return {"times": trial.times, "taken": taken}


def _trial(plain: Mapping[str, Any]) -> Trial:
    return Trial(
        int(plain["times"]), {i: Taken(float(m), str(said)) for i, (m, said) in plain["taken"].items()}
    )


def summed(trials: Iterable[tuple[str, Trial]]) -> dict[str, Trial]:
    """Trials by name, those of one name added up."""
    out: dict[str, Trial] = {}
    for text, trial in trials:
        key = key_of(text)
        out[key] = out[key] + trial if key in out else trial
    return out


def own_trials(layers: Path, ear: str) -> OwnTrials:
    """What the engine `ear` took names for here, beside the layers of a clinic."""
    return OwnTrials(layers / "mixed_up.json", ear)


def measured(pack: Pack, layers: Path, ear: str) -> MixedUp:
    """All that is known of a pack in use: what came with the tool, and what was measured here with `ear`."""
    return own_trials(layers, ear).added(shipped(pack), pack)
