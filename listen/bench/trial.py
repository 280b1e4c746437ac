"""The typed trial: requests as dentists mumble them, in sessions that know every field.

The requests of a field were written by a language model that saw nothing but the plain list of its items,
before the names were entered (`trials/FIELD.tsv`: what is typed, the ids that fit, and its kind). Each is
typed into a session of its own, just begun, in the first procedure of the field that has one of these items
on its tray. Counts come out; nothing is heard or fitted. A second set (`trials/unseen`) was written likewise
from the bare ids, after the names and before the rules for reasons, descriptions and two things at once; no
rule was made while looking at it.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Literal

from listen.answering import choices_of
from listen.assistant import Assistant
from listen.readings import Reader, load_calibration
from listen.shares import wilson
from listen.verdict import Verdict
from vocab.pack.load import shipped_languages, shipped_pack
from vocab.pack.schema import Pack, Procedure
from vocab.pack.widen import widened
from vocab.procedure.model import ProcedureModel
from vocab.requests.lexicon import Lexicon

TRIALS = Path(str(files("listen.bench").joinpath("trials")))
Set = Literal["first", "unseen"]
FOLDERS: dict[Set, Path] = {"first": TRIALS, "unseen": TRIALS / "unseen"}
DONE_WITH = {
    "suction": {"high_volume_tip", "saliva_ejector", "surgical_suction_tip"},
    "air": {"air_water_syringe"},
    "dry": {"air_water_syringe"},
    "water": {"air_water_syringe"},
    "rinse": {"air_water_syringe", "irrigation_syringe"},
    "cure": {"curing_light"},
    "retract": {"cheek_retractor", "minnesota_retractor", "austin_retractor", "tongue_retractor"},
}
"""What an assistant does an action with: who asks for the action gets the thing."""
Kind = Literal["item", "checked", "nothing"]
Outcome = Literal["answered", "offered", "missed", "wrong", "quiet", "asked"]


@dataclass(frozen=True)
class Trial:
    """A typed request: for each thing it asks for the ids that fit (any of them is right), () where it asks
    for nothing."""

    field: str
    text: str
    wanted: tuple[frozenset[str], ...]
    kind: Kind

    @property
    def fits(self) -> frozenset[str]:
        """The ids of all that it asks for."""
        return frozenset().union(*self.wanted)


@dataclass(frozen=True)
class Tried:
    """What became of a trial, and the items that were answered or offered, likeliest first."""

    trial: Trial
    outcome: Outcome
    items: tuple[str, ...]


def fields(of: Set = "first") -> tuple[str, ...]:
    """The fields that have a trial in a set."""
    return tuple(sorted(file.stem for file in FOLDERS[of].glob("*.tsv")))


def trials(field: str, of: Set = "first") -> tuple[Trial, ...]:
    """The requests of a field, in written order; "+" stands between the ids of two things, a comma between
    those of which any will do."""
    with (FOLDERS[of] / f"{field}.tsv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file, delimiter="\t", quoting=csv.QUOTE_NONE))
    kinds: dict[str, Kind] = {"item": "item", "checked": "checked", "nothing": "nothing"}
    return tuple(
        Trial(
            field,
            text,
            tuple(frozenset(one.split(",")) for one in ids.split("+")) if ids else (),
            kinds[kind],
        )
        for text, ids, kind in rows
    )


class TrialSessions:
    """Just begun sessions that know all English fields; one look-up serves them all."""

    def __init__(self) -> None:
        names = [name for name, language in shipped_languages().items() if language == "en"]
        self.packs = {name: shipped_pack(name) for name in names}
        self._wide = {name: widened(pack, self.packs.values()) for name, pack in self.packs.items()}
        self._lexicon = Lexicon(next(iter(self._wide.values())))
        self._readers: dict[str, Reader] = {}
        self._models: dict[tuple[str, str], ProcedureModel] = {}

    def size(self, field: str) -> dict[str, int]:
        """How many procedures, items and names a field has, what it shares with others included."""
        pack = self.packs[field]
        names = sum(len(item.names) for item in pack.items)
        return {"procedures": len(pack.procedures), "items": len(pack.items), "names": names}

    def begun(self, field: str, procedure: Procedure) -> Assistant:
        """A session in a procedure of a field."""
        pack = self._wide[field]
        if field not in self._readers:
            self._readers[field] = Reader(pack, self._lexicon, load_calibration())
        key = (field, procedure.id)
        if key not in self._models:
            self._models[key] = ProcedureModel(pack, [procedure.id])
        return Assistant(pack, self._readers[field], self._models[key], None, pack.tray(procedure.tray))

    def tried(self, trial: Trial) -> Tried:
        """What a session does with a trial."""
        procedure = _procedure(self.packs[trial.field], trial.fits)
        answers = self.begun(trial.field, procedure).ask(trial.text)
        named = [answer for answer in answers if answer.item and answer.verdict is not Verdict.QUIET]
        items = tuple(dict.fromkeys(choice.item for answer in named for choice in choices_of(answer)))
        outright = [answer.item for answer in named if answer.verdict is Verdict.ANSWER]
        actions = [answer.action for answer in answers if answer.verdict is Verdict.ANSWER and answer.action]
        done_with = frozenset().union(*(DONE_WITH.get(action, set()) for action in actions))
        if trial.kind == "nothing":
            return Tried(trial, "wrong" if outright or actions else "asked" if named else "quiet", items)
        if any(item not in trial.fits for item in outright):
            return Tried(trial, "wrong", items)
        if all(fits & {*outright, *done_with} for fits in trial.wanted):
            return Tried(trial, "answered", items)
        found = all(fits & {*items, *done_with} for fits in trial.wanted)
        return Tried(trial, "offered" if found else "missed", items)


def tally(tried: Sequence[Tried]) -> dict[str, dict[str, int]]:
    """Counts by field: of requests, of each outcome, and (`nothing ...`) of what asks for nothing.

    drugs: requests for what is always checked; drugs wrong: those of them that were answered wrongly.
    """
    counts: dict[str, Counter[str]] = {}
    for one in tried:
        of = counts.setdefault(one.trial.field, Counter())
        if one.trial.kind == "nothing":
            of[f"nothing {one.outcome}"] += 1
            continue
        of["requests"] += 1
        of[one.outcome] += 1
        if one.trial.kind == "checked":
            of["drugs"] += 1
            of["drugs wrong"] += one.outcome == "wrong"
    return {field: dict(of) for field, of in counts.items()}


def as_text(counts: Mapping[str, Mapping[str, int]]) -> str:
    """The counts as lines of text, one a field, then all together with intervals of 95 % (Wilson)."""
    total = Counter[str]()
    lines = []
    for field, of in counts.items():
        total.update(of)
        lines.append(f"{field}: {_line(of)}")
    found, asked = total["answered"] + total["offered"], total["requests"]
    for what, k, n in (("answered or offered", found, asked), ("wrong", total["wrong"], asked)):
        share = wilson(k, n)
        lines.append(f"all: {what} {k} of {n}, {k / n:.1%} ({share.low:.1%} to {share.high:.1%})")
    lines.append(f"all: {_line(total)}")
    return "\n".join(lines)


def _line(of: Mapping[str, int]) -> str:
    outcomes = ", ".join(f"{of.get(what, 0)} {what}" for what in ("answered", "offered", "missed", "wrong"))
    nothing = {what: of.get(f"nothing {what}", 0) for what in ("quiet", "asked", "wrong")}
    return (
        f"{of.get('requests', 0)} requests: {outcomes}; of {of.get('drugs', 0)} drugs and irrigants "
        f"{of.get('drugs wrong', 0)} wrong; {sum(nothing.values())} that ask for nothing: "
        f"{nothing['asked']} asked about, {nothing['wrong']} answered"
    )


def _procedure(pack: Pack, wanted: Collection[str]) -> Procedure:
    """The first procedure with one of these items on its tray; the first of all where there is none."""
    return next(_with(pack, wanted), pack.procedures[0])


def _with(pack: Pack, wanted: Collection[str]) -> Iterator[Procedure]:
    for procedure in pack.procedures:
        tray = pack.tray(procedure.tray)
        if any(tray.slot_of(item) is not None for item in wanted):
            yield procedure
