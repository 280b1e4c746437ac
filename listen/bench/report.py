"""Turns hearings into a report: the result of every clip, counted with intervals, as JSON, text and plots.

Takes the records of a run and the systems to compare; returns `Result`s and a study of plain values, and
writes three kinds of file to a folder. It hears nothing and fits nothing.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

import numpy as np

from listen import shares as figures
from listen.bench.hearings import Record, hearing_of, progress
from listen.bench.systems import System, SystemJudge, SystemOutcome
from listen.neural.weights import ADAPTER, read_adapter
from listen.verdict import Verdict, is_wide
from vocab.pack.schema import Pack

Kind = Literal["right", "checked", "wrong", "missed", "quiet", "asked", "answered"]
OF_REQUEST: tuple[Kind, ...] = ("right", "checked", "wrong", "missed")
SEED = 5
MISTAKES_SHOWN = 40
Cell = dict[str, Any]


@dataclass(frozen=True)
class Result:
    """The result of one clip with one system.

    For a request: right (answered with the item asked for and nothing else), checked (it was among what a
    check offered), wrong (something else was answered), missed (silence, or a check without it). For
    chatter: quiet, asked (a check), answered. `p_asked` is the probability of what was asked for.
    """

    record: Record
    outcome: SystemOutcome
    kind: Kind
    p_asked: float

    @property
    def request(self) -> bool:
        return self.record["item"] is not None

    @property
    def chosen(self) -> bool:
        """Whether the item is right when one must be chosen."""
        return self.request and self.outcome.item == self.record["item"]


def result(record: Record, outcome: SystemOutcome) -> Result:
    """Compare an outcome with what was asked."""
    asked = record["item"]
    loud = outcome.verdict is not Verdict.QUIET
    if asked is None:
        kind: Kind = "answered" if outcome.named else "asked" if loud else "quiet"
        return Result(record, outcome, kind, outcome.p_nothing)
    if any(name != asked for name in outcome.named):
        kind = "wrong"
    elif outcome.named and outcome.verdict is Verdict.ANSWER:
        kind = "right"
    else:
        kind = "checked" if asked in (*outcome.named, *outcome.offered) else "missed"
    return Result(record, outcome, kind, dict(outcome.top).get(asked, 0.0))


def results(
    records: Sequence[Record], rows: Sequence[System], judge_of: Callable[[Record], SystemJudge]
) -> dict[str, list[Result]]:
    """The results of each system by its name."""
    out: dict[str, list[Result]] = {row.name: [] for row in rows}
    with progress() as bar:
        for row in rows:
            heard = [record for record in records if record["engine"] == row.engine]
            for record in bar.track(heard, description=f"judge {row.name}"):
                outcome = judge_of(record).outcome(row, hearing_of(record))
                out[row.name].append(result(record, outcome))
    return out


# ---------------------------------------------------------------- counting


@cache
def held_out() -> frozenset[str]:
    """Items that the shipped adapter was taught without."""
    return frozenset(read_adapter(ADAPTER).held_out)


def study(
    found: Mapping[str, Sequence[Result]], rows: Sequence[System], pack: Pack | None, about: Cell
) -> Cell:
    """Everything the report says, as plain values.

    Args:
        pack: lists the pairs that must never be confused; None leaves their row out.
        about: what was heard, in words and numbers.
    """
    out: Cell = {"about": {**about, "processors": os.cpu_count()}, "systems": {}}
    for row in rows:
        mine = found[row.name]
        levels = list(dict.fromkeys(r.record["level"] for r in mine))
        by_level = {level: [r for r in mine if r.record["level"] == level] for level in levels}
        out["systems"][row.name] = {
            "title": row.title,
            "levels": {level: _cell(some, pack) for level, some in by_level.items()},
            "cost": _cost(mine),
            "speakers": _chosen_by(mine, "speaker"),
            "noises": _chosen_by([r for r in mine if r.record["kind"]], "kind"),
            "mistakes": [_mistake(r) for some in by_level.values() for r in _mistakes(some)],
        }
    return out


def _cell(some: Sequence[Result], pack: Pack | None) -> Cell:
    """The figures of one system at one level."""
    asked = [r for r in some if r.request]
    chat = [r for r in some if not r.request]
    out: Cell = {}
    if asked:
        out["requests"] = {
            "chosen": {**_share(asked, lambda r: r.chosen), "bootstrap": _resampled(asked)},
            **_kinds(asked),
        }
        out["requests alone"] = _honesty(asked, given_request=True)
        new = [r for r in asked if r.record["item"] in held_out()]
        if new:
            out["names never taught"] = {"chosen": _share(new, lambda r: r.chosen), **_kinds(new)}
        pairs = [r for r in asked if pack is not None and _has_twin(r.record["item"], pack)]
        if pack is not None and pairs:
            out["pairs never to be confused"] = {
                **_kinds(pairs),
                "twin answered": _share(
                    pairs, lambda r: any(is_wide(r.record["item"], n, pack) for n in r.outcome.named)
                ),
            }
    if chat:
        hours = sum(r.record["seconds"] for r in chat) / 3600
        out["chatter"] = {
            "hours": hours,
            "answered": _share(chat, lambda r: r.kind == "answered"),
            "asked": _share(chat, lambda r: r.kind == "asked"),
            "answered an hour": _rate(sum(r.kind == "answered" for r in chat), hours),
            "asked an hour": _rate(sum(r.kind == "asked" for r in chat), hours),
        }
    if asked and chat:
        out["all clips"] = _honesty(some, given_request=False)
    return out


def _honesty(some: Sequence[Result], given_request: bool) -> Cell:
    """How far the probability that the likeliest item was asked for can be trusted.

    given_request: take the probabilities given that something was asked for.
    """
    rest = [max(1 - r.outcome.p_nothing, figures.LEAST_P) if given_request else 1.0 for r in some]
    y = [float(r.chosen) for r in some]
    p = [min(1.0, r.outcome.p / whole) for r, whole in zip(some, rest, strict=True)]
    return {
        "brier": figures.brier(y, p),
        "calibration error": figures.calibration_error(y, p),
        "log loss": figures.log_loss([min(1.0, r.p_asked / w) for r, w in zip(some, rest, strict=True)]),
        "bins": [asdict(b) for b in figures.reliability(y, p)],
    }


def _cost(some: Sequence[Result]) -> Cell:
    if not some:
        return {}
    ms = [r.record["ms"] + r.outcome.ms for r in some]
    return {
        "ms median": float(np.median(ms)),
        "ms 95th": float(np.percentile(ms, 95)),
        "engine ms median": float(np.median([r.record["ms"] for r in some])),
        "processor ms median": float(np.median([r.record["cpu_ms"] for r in some])),
        "start s": float(np.median([r.record["start_s"] for r in some])),
        "memory MB": max(r.record["memory_mb"] for r in some),
        "jobs": max(r.record["jobs"] for r in some),
        "seconds a clip": float(np.median([r.record["seconds"] for r in some])),
    }


def _chosen_by(some: Sequence[Result], key: str) -> Cell:
    asked = [r for r in some if r.request]
    groups = sorted({r.record[key] for r in asked})
    return {
        group: _share([r for r in asked if r.record[key] == group], lambda r: r.chosen) for group in groups
    }


def _share(some: Sequence[Result], is_one: Callable[[Result], bool]) -> Cell:
    share = figures.wilson(sum(map(is_one, some)), len(some))
    return {**asdict(share), "share": share.value if share.n else None}


def _kinds(asked: Sequence[Result]) -> Cell:
    seen = [r.kind for r in asked]
    shares = {kind: figures.wilson(seen.count(kind), len(seen)) for kind in OF_REQUEST}
    return {
        kind: {**asdict(share), "share": share.value if share.n else None} for kind, share in shares.items()
    }


def _rate(k: int, hours: float) -> Cell:
    rate = figures.hourly(k, hours)
    return {**asdict(rate), "an hour": rate.value}


def _resampled(asked: Sequence[Result]) -> list[float]:
    return list(
        figures.bootstrap(
            [r.chosen for r in asked],
            [r.record["speaker"] for r in asked],
            [r.record["text"] for r in asked],
            np.random.default_rng(SEED),
        )
    )


def _has_twin(item: str, pack: Pack) -> bool:
    return any(item in pair for pair in pack.wide_margin)


def _mistakes(some: Sequence[Result]) -> list[Result]:
    bad = [r for r in some if r.kind in ("wrong", "answered") or (r.request and not r.chosen)]
    return sorted(bad, key=lambda r: -r.outcome.p)[:MISTAKES_SHOWN]


def _mistake(r: Result) -> Cell:
    kept = {key: r.record[key] for key in ("level", "kind", "speaker", "text", "item")}
    return {
        **kept,
        "result": r.kind,
        "chosen": r.outcome.item,
        "p": round(r.outcome.p, 4),
        "p_nothing": round(r.outcome.p_nothing, 4),
        "heard": r.outcome.heard,
        "free text": r.record["hearing"]["free_text"],
    }


def counts(made: Cell) -> Cell:
    """What is kept of a study for the model card: how many of each kind, by system and level."""
    return {
        name: {level: _counted(at) for level, at in system["levels"].items()}
        for name, system in made["systems"].items()
    }


def _counted(at: Cell) -> Cell:
    out: Cell = {}
    if asked := at.get("requests"):
        out |= {"requests": asked["chosen"]["n"], "chosen": asked["chosen"]["k"]}
        out |= {kind: asked[kind]["k"] for kind in OF_REQUEST}
        out["off_percent"] = round(100 * at["requests alone"]["calibration error"], 1)
    if new := at.get("names never taught"):
        out |= {"new": new["chosen"]["n"], "new_chosen": new["chosen"]["k"]}
    if chat := at.get("chatter"):
        out |= {"chatter": chat["answered"]["n"], "hours": round(chat["hours"], 3)}
        out |= {did: chat[did]["k"] for did in ("answered", "asked")}
    return out


# ---------------------------------------------------------------- writing


def write(made: Cell, found: Mapping[str, Sequence[Result]], folder: Path) -> str:
    """Write report.json, report.md and the plots; returns the text of the report."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "report.json").write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
    text = in_words(made)
    (folder / "report.md").write_text(text, encoding="utf-8")
    from listen.bench import plots

    plots.write(made, found, folder)
    return text


def in_words(made: Cell) -> str:
    """The study as Markdown."""
    parts = ["# What was heard", _about(made["about"]), _chosen_table(made), _verdict_table(made)]
    parts += [
        _chatter_table(made),
        _honesty_table(made),
        _new_table(made),
        _pairs_table(made),
        _cost_table(made),
        _groups(made),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _about(about: Cell) -> str:
    lines = [f"- {key}: {value}" for key, value in about.items()]
    lines.append(
        "- level: active speech level (as ITU-T P.56) over the long-term level of the noise, full band; "
        "intervals are Wilson's 95 %; in brackets the same with speakers and sentences drawn again"
    )
    return "\n".join(lines)


def _rows(made: Cell, cell: Callable[[str, str, Cell], list[str] | None]) -> list[list[str]]:
    rows = []
    for name, system in made["systems"].items():
        for level, figures_ in system["levels"].items():
            row = cell(name, level, figures_)
            if row is not None:
                rows.append(row)
    return rows


def _chosen_table(made: Cell) -> str:
    levels = list(dict.fromkeys(level for s in made["systems"].values() for level in s["levels"]))
    rows = []
    for name, system in made["systems"].items():
        cells = [system["levels"].get(level, {}).get("requests") for level in levels]
        if any(cells):
            rows.append([name, *(_with_bootstrap(c["chosen"]) if c else "" for c in cells)])
    return table("Right item when forced to choose", ["system", *levels], rows)


def _verdict_table(made: Cell) -> str:
    def cell(name: str, level: str, at: Cell) -> list[str] | None:
        return [name, level, *(percent(at["requests"][k]) for k in OF_REQUEST)] if "requests" in at else None

    return table("What came of requests", ["system", "level", *OF_REQUEST], _rows(made, cell))


def _chatter_table(made: Cell) -> str:
    def cell(name: str, level: str, at: Cell) -> list[str] | None:
        if "chatter" not in at:
            return None
        chat = at["chatter"]
        return [
            name,
            level,
            f"{chat['answered']['n']} in {60 * chat['hours']:.1f} min",
            percent(chat["answered"]),
            percent(chat["asked"]),
            an_hour(chat["answered an hour"]),
            an_hour(chat["asked an hour"]),
        ]

    head = ["system", "level", "clips", "answered", "checked", "answers an hour", "checks an hour"]
    return table("What came of chatter (an hour of talk without a pause)", head, _rows(made, cell))


def _honesty_table(made: Cell) -> str:
    def cell(name: str, level: str, at: Cell) -> list[str] | None:
        row = [name, level]
        for which in ("requests alone", "all clips"):
            h = at.get(which)
            row += (
                [f"{h['brier']:.3f}", f"{100 * h['calibration error']:.1f} %", f"{h['log loss']:.3f}"]
                if h
                else ["", "", ""]
            )
        return row

    head = [
        "system",
        "level",
        *(f"{f}, {w}" for w in ("requests", "all") for f in ("Brier", "ECE", "log loss")),
    ]
    note = (
        "\n\nOf the likeliest item having been asked for: among requests, once it is known to be one; and "
        "among all clips. A log loss is of what was asked (or of nothing), in nats; a probability below "
        "0.000001 counts as that."
    )
    rows = _rows(made, cell)
    return table("Honest confidence", head, rows) + note if rows else ""


def _new_table(made: Cell) -> str:
    def cell(name: str, level: str, at: Cell) -> list[str] | None:
        new = at.get("names never taught")
        return new and [name, level, *(percent(new[k]) for k in ("chosen", *OF_REQUEST))]

    head = ["system", "level", "right when forced", *OF_REQUEST]
    return table("Requests for items whose names the adapter was never taught", head, _rows(made, cell))


def _pairs_table(made: Cell) -> str:
    def cell(name: str, level: str, at: Cell) -> list[str] | None:
        pairs = at.get("pairs never to be confused")
        if pairs is None:
            return None
        return [name, level, *(percent(pairs[k]) for k in (*OF_REQUEST, "twin answered"))]

    head = ["system", "level", *OF_REQUEST, "twin answered"]
    return table("Requests for items of pairs that must never be confused", head, _rows(made, cell))


def _cost_table(made: Cell) -> str:
    head = ["system", "ms median", "ms 95th", "processor ms", "start s", "most memory MB", "processes"]
    rows = []
    for name, system in made["systems"].items():
        cost = system["cost"]
        if cost:
            values = [cost[k] for k in ("ms median", "ms 95th", "processor ms median")]
            rows.append(
                [
                    name,
                    *(f"{v:.0f}" for v in values),
                    f"{cost['start s']:.1f}",
                    f"{cost['memory MB']:.0f}",
                    str(cost["jobs"]),
                ]
            )
    note = (
        "\n\nTimes are of the utterance alone, after its end, with 2 threads. They depend on what else the "
        "machine does; processor ms is the time its processors worked. Memory is that of the process that "
        "hears, with the noise maker in it. Systems on one engine share its hearing."
    )
    return table("Cost", head, rows) + note if rows else ""


def _groups(made: Cell) -> str:
    name, system = next(iter(made["systems"].items()))
    parts = []
    for key in ("speakers", "noises"):
        rows = [[group, percent(share)] for group, share in system[key].items()]
        if rows:
            parts.append(table(f"Right item by {key}, all levels ({name})", [key, "right"], rows))
    return "\n\n".join(parts)


def table(title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A heading and a Markdown table; "" without rows."""
    if not rows:
        return ""
    lines = [f"## {title}", "", _line(head), _line(["---"] * len(head)), *(_line(row) for row in rows)]
    return "\n".join(lines)


def _line(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


def percent(share: Cell) -> str:
    """ "97.5 % (39/40, 87.1-99.6)"."""
    if not share["n"]:
        return "none"
    low, high = 100 * share["low"], 100 * share["high"]
    return f"{100 * share['share']:.1f} % ({share['k']}/{share['n']}, {low:.1f}-{high:.1f})"


def _with_bootstrap(share: Cell) -> str:
    low, high = share["bootstrap"]
    return f"{percent(share)} [{100 * low:.1f}-{100 * high:.1f}]" if share["n"] else "none"


def an_hour(rate: Cell) -> str:
    """ "1.3 (0.2-4.9)"."""
    return f"{rate['an hour']:.1f} ({rate['low']:.1f}-{rate['high']:.1f})" if rate["hours"] else "none"
