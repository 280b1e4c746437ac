"""What history is worth to hearing: the same hearings read with and without what the procedure expects.

Takes records of hearings and a pack; returns counts at each level, as plain values and as a table. Sessions
of made-up dentists (`listen.bench.simulated_dentists`) say what was asked for when, the procedure model what
it expected just before, and a clip that asks for the same item stands for the request. Earlier requests count
as known, as they are in the end after a check or a repetition. Nothing is heard or fitted here.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from listen import shares
from listen.assistant import log_expected
from listen.bench.hearings import Record, hearing_of, progress, read
from listen.bench.report import OF_REQUEST, Result, result, table
from listen.bench.simulated_dentists import draw_dentist, draw_session
from listen.bench.systems import SYSTEMS, SystemJudge
from listen.engine import Hearing
from listen.readings import Calibration, Reader
from listen.speech.voices import Side
from vocab.errors import TraycallError
from vocab.pack.schema import Pack
from vocab.procedure.habits import Habits
from vocab.procedure.model import ProcedureModel
from vocab.requests.lexicon import Lexicon

Expected = Mapping[str, float]
"""Log-probability of each item being asked for next; empty without history."""

NONE, WRITTEN, LEARNT = "none", "written steps", "learnt"
KNOWN = (NONE, WRITTEN, LEARNT)
"""What is known of the procedure: nothing, its steps as the pack has them, or earlier sessions as well."""

SEEDS: Mapping[Side, int] = {"test": 11, "tune": 1011}
"""No dentist and no session of one side is on the other."""
TEACHERS, LESSONS, OWN = 8, 3, 5
"""Before a scored session, `TEACHERS` other dentists did each procedure `LESSONS` times, the dentist themself
`OWN` times."""
DENTISTS = 4
DRAWS = 500


class NothingToCompare(TraycallError):
    """The hearings hold no request that a session asks for."""


class SteadyReader(Reader):
    """A reader that caches the features of hearings that are read again and again."""

    def __init__(self, pack: Pack, lexicon: Lexicon, calibration: Calibration) -> None:
        super().__init__(pack, lexicon, calibration)
        self._known: dict[Hearing, tuple[float, ...]] = {}

    def features(self, hearing: Hearing) -> tuple[float, ...]:
        """See `Reader`."""
        if hearing not in self._known:
            self._known[hearing] = super().features(hearing)
        return self._known[hearing]


# ---------------------------------------------------------------- what is asked for when


@dataclass(frozen=True)
class Moment:
    """Something said in a session: `item` is asked for, or nothing (None); `expected` by entry of `KNOWN`."""

    item: str | None
    expected: Mapping[str, Expected]


def moments(pack: Pack, side: Side, dentists: int = DENTISTS) -> tuple[Moment, ...]:
    """What held-out dentists say in one session of every procedure, in order."""
    rng = np.random.default_rng(SEEDS[side])
    procedures = [procedure.id for procedure in pack.procedures]
    clinic = tuple(
        draw_session(pack, dentist, procedure, rng).logged
        for dentist in (draw_dentist(pack, f"teacher {i}", rng) for i in range(TEACHERS))
        for procedure in procedures
        for _ in range(LESSONS)
    )
    out: list[Moment] = []
    for i in range(dentists):
        dentist = draw_dentist(pack, f"held out {i}", rng)
        for procedure in procedures:
            own = tuple(draw_session(pack, dentist, procedure, rng).logged for _ in range(OWN))
            habits = Habits((*clinic, *own))
            said = [s.item for s in draw_session(pack, dentist, procedure, rng).said]
            written = _predicted(ProcedureModel(pack, [procedure]), said)
            learnt = _predicted(ProcedureModel(pack, [procedure], habits=habits, dentist=dentist.name), said)
            out += [
                Moment(item, {NONE: {}, WRITTEN: by_steps, LEARNT: by_habit})
                for item, by_steps, by_habit in zip(said, written, learnt, strict=True)
            ]
    return tuple(out)


def _predicted(model: ProcedureModel, said: Sequence[str | None]) -> Iterator[Expected]:
    """What the model expects before each thing said."""
    belief = model.start()
    for item in said:
        yield log_expected(model, belief)
        if item is not None:
            belief = model.after(belief, item)


# ---------------------------------------------------------------- clips at moments


def kept(files: Sequence[Path], side: Side) -> list[Record]:
    """What the embedded engine heard of this side; of a clip heard more than once, the last time.

    Raises:
        NothingToCompare: a file is missing, or none of them holds anything of this side.
    """
    newest: dict[str, Record] = {}
    for file in files:
        if not file.exists():
            raise NothingToCompare(
                f"there are no hearings in {file.parent}: make some with `listen.bench run`"
            )
        for record in read(file):
            if record["engine"] == SYSTEMS[0].engine and record["side"] == side:
                newest[record["clip"]] = record
    if not newest:
        raise NothingToCompare(
            f"these hearings hold no voice of the {side} side: name another folder or --side"
        )
    return list(newest.values())


@dataclass(frozen=True)
class Case:
    """One hearing at one moment; `worst`: chatter at the moment that most expects what it sounds like."""

    record: Record
    moment: Moment
    worst: bool = False


def cases(records: Sequence[Record], said: Sequence[Moment], judge: SystemJudge, seed: int = 3) -> list[Case]:
    """A clip for each moment at every level, drawn among those of its item; items without one are left out.

    Raises:
        NothingToCompare: no clip asks for anything a session asks for.
    """
    rng = np.random.default_rng(seed)
    by: dict[tuple[str, str | None], list[Record]] = {}
    for record in records:
        by.setdefault((record["level"], record["item"]), []).append(record)
    out = []
    for level in dict.fromkeys(record["level"] for record in records):
        for moment in said:
            fitting = by.get((level, moment.item))
            if fitting:
                out.append(Case(fitting[int(rng.integers(len(fitting)))], moment))
        for record in by.get((level, None), ()):
            item = judge.outcome(SYSTEMS[0], hearing_of(record)).item
            out.append(Case(record, worst(said, item), worst=True))
    if not any(case.record["item"] for case in out):
        raise NothingToCompare("no clip asks for an item of a procedure: hear some with `listen.bench run`")
    return out


def worst(said: Sequence[Moment], item: str | None) -> Moment:
    """The moment that most expects what a piece of chatter sounds like."""
    return max(said, key=lambda moment: moment.expected[LEARNT].get(item or "", -math.inf))


@dataclass(frozen=True)
class JudgedCase:
    """A case and its result for each entry of `KNOWN`."""

    case: Case
    results: Mapping[str, Result]


def judged(some: Sequence[Case], judge: SystemJudge) -> list[JudgedCase]:
    """Every case read for each entry of `KNOWN`, clip by clip, so that a clip is understood only once."""
    out = []
    with progress() as bar:
        in_order = sorted(some, key=lambda case: str(case.record["clip"]))
        for case in bar.track(in_order, description="judge with and without history"):
            hearing = hearing_of(case.record)
            found = {
                known: result(case.record, judge.outcome(SYSTEMS[0], hearing, case.moment.expected[known]))
                for known in KNOWN
            }
            out.append(JudgedCase(case, found))
    return out


# ---------------------------------------------------------------- counting


def study(found: Sequence[JudgedCase]) -> dict[str, Any]:
    """Counts at each level for each entry of `KNOWN`."""
    out: dict[str, Any] = {}
    for level in sorted({j.case.record["level"] for j in found}, key=_loudness):
        here = [j for j in found if j.case.record["level"] == level]
        asked = [j for j in here if j.case.record["item"] is not None]
        chat = [j for j in here if j.case.record["item"] is None and not j.case.worst]
        worst = [j for j in here if j.case.worst]
        out[level] = {
            "requests": len(asked),
            "clips": len({j.case.record["clip"] for j in asked}),
            "speakers": len({j.case.record["speaker"] for j in asked}),
            "chatter": len(chat),
            "chatter clips": len({j.case.record["clip"] for j in (*chat, *worst)}),
            **{known: _with(known, asked, chat, worst) for known in KNOWN},
        }
    return out


def _with(
    known: str, asked: Sequence[JudgedCase], chat: Sequence[JudgedCase], worst: Sequence[JudgedCase]
) -> dict[str, Any]:
    def share(is_one: Callable[[Result], bool]) -> dict[str, Any]:
        return _share(asked, lambda j: is_one(j.results[known]))

    def kinds(some: Sequence[JudgedCase]) -> dict[str, int]:
        seen = [j.results[known].kind for j in some]
        return {"n": len(seen), "answered": seen.count("answered"), "checked": seen.count("asked")}

    p = [j.results[known].p_asked / max(1 - j.results[known].outcome.p_nothing, 1e-9) for j in asked]
    return {
        "item right": share(lambda r: r.chosen),
        **{kind: share(lambda r, kind=kind: r.kind == kind) for kind in OF_REQUEST},  # type: ignore[misc]
        "wrong items left": _left(asked, lambda j, k: not j.results[k].chosen, known),
        "wrong answers left": _left(asked, lambda j, k: j.results[k].kind == "wrong", known),
        "log loss": shares.log_loss([min(1.0, q) for q in p]) if p else None,
        "chatter": kinds(chat),
        "chatter at its worst moment": kinds(worst),
    }


def _share(asked: Sequence[JudgedCase], is_one: Callable[[JudgedCase], bool]) -> dict[str, Any]:
    """The share of requests, with an interval over speakers and sentences; of distinct clips, with Wilson's.

    A clip stands for several requests, so only the second interval tells what none in so many may mean.
    """
    hits = [is_one(j) for j in asked]
    clips = {j.case.record["clip"] for j in asked}
    hit = {j.case.record["clip"] for j, one in zip(asked, hits, strict=True) if one}
    low, high = shares.bootstrap(hits, *_groups(asked), np.random.default_rng(5), DRAWS)
    of_clips = shares.wilson(len(hit), len(clips))
    return {
        "k": sum(hits), "n": len(hits), "share": sum(hits) / len(hits) if hits else None,
        "low": low, "high": high, "clips": len(hit), "clips high": of_clips.high,
    }  # fmt: skip


def _left(
    asked: Sequence[JudgedCase], bad: Callable[[JudgedCase, str], bool], known: str
) -> dict[str, float] | None:
    """Mistakes left per mistake made without history; None if there were none."""
    without, with_ = [bad(j, NONE) for j in asked], [bad(j, known) for j in asked]
    if not any(without):
        return None
    low, high = shares.bootstrap_ratio(with_, without, *_groups(asked), np.random.default_rng(5), DRAWS)
    return {"share": sum(with_) / sum(without), "low": low, "high": high}


def _groups(asked: Sequence[JudgedCase]) -> tuple[list[str], list[str]]:
    return [j.case.record["speaker"] for j in asked], [j.case.record["text"] for j in asked]


def _loudness(level: str) -> float:
    return -math.inf if level == "quiet" else -float(level.split()[0])


# ---------------------------------------------------------------- writing


def write(made: dict[str, Any], folder: Path) -> str:
    """Write history.json and history.md; returns the text."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "history.json").write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
    text = in_words(made)
    (folder / "history.md").write_text(text, encoding="utf-8")
    return text


def in_words(made: dict[str, Any]) -> str:
    """The study as Markdown."""
    asked, chat = [], []
    for level, at in made["levels"].items():
        for known in KNOWN:
            cell = at[known]
            asked.append(
                [
                    level, known, f"{at['requests']} ({at['clips']} clips)", _percent(cell["item right"]),
                    _times(cell["wrong items left"]), *(_percent(cell[kind]) for kind in OF_REQUEST),
                    f"{cell['log loss']:.2f}",
                ]
            )  # fmt: skip
            some, worst = cell["chatter"], cell["chatter at its worst moment"]
            chat.append(
                [level, known, *(f"{s[k]}/{s['n']}" for s in (some, worst) for k in ("answered", "checked"))]
            )
    head = ["level", "history", "requests", "item right", "wrong items left", *OF_REQUEST, "log loss"]
    note = (
        "Item right: when one must be chosen. Wrong items left: for each one without history. Intervals of "
        "95 % with speakers and sentences drawn again; wrong: in brackets also distinct clips and the most "
        "(Wilson, 95 %) that so few of so many may mean."
    )
    head_chat = ["level", "history", "answered", "checked", "answered, worst moment", "checked, worst moment"]
    note_chat = (
        "Worst moment: each piece of chatter once, just when what it sounds like is expected most; talk "
        "about the work may come near that."
    )
    about = "\n".join(f"- {key}: {value}" for key, value in made["about"].items())
    parts = ["# What history is worth", about, table("Requests", head, asked), note]
    return "\n\n".join([*parts, table("Chatter", head_chat, chat), note_chat]) + "\n"


def _percent(share: dict[str, Any]) -> str:
    """ "12.0 % (120/1000, 8.1-16.2)", or for only a few "0.1 % (1/1000; 1 clip, most 1.2 %)"."""
    if not share["n"]:
        return "none"
    said = f"{100 * share['share']:.1f} % ({share['k']}/{share['n']}"
    if share["clips"] < 10:
        return f"{said}; {share['clips']} clips, most {100 * share['clips high']:.1f} %)"
    return f"{said}, {100 * share['low']:.1f}-{100 * share['high']:.1f})"


def _times(left: dict[str, float] | None) -> str:
    return f"{left['share']:.2f} ({left['low']:.2f}-{left['high']:.2f})" if left else "none to leave"
