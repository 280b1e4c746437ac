"""Plots of a study: accuracy by level, reliability, and wrong answers against checks. PNG files come out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from listen.bench.report import Result

THRESHOLDS = np.concatenate([np.linspace(0.0, 0.95, 40), 1 - np.logspace(-1.3, -4, 25)])
SIZE = (7.0, 4.5)


def write(made: dict[str, Any], found: Mapping[str, Sequence[Result]], folder: Path) -> None:
    """accuracy.png, reliability.png and tradeoff.png; those without anything to show are left out."""
    _accuracy(made, folder / "accuracy.png")
    main = next(iter(made["systems"]), None)
    if main is not None:
        _reliability(made["systems"][main], main, folder / "reliability.png")
        _tradeoff(found[main], main, folder / "tradeoff.png")


def _figure() -> tuple[Any, Any]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=SIZE, layout="constrained")
    axes = figure.subplots()
    axes.grid(alpha=0.3)
    return figure, axes


def _accuracy(made: dict[str, Any], file: Path) -> None:
    figure, axes = _figure()
    levels = list(dict.fromkeys(level for s in made["systems"].values() for level in s["levels"]))
    drawn = False
    for i, (name, system) in enumerate(made["systems"].items()):
        at = [
            (levels.index(level), cell["requests"]["chosen"])
            for level, cell in system["levels"].items()
            if "requests" in cell
        ]
        if not at:
            continue
        x = [place + 0.05 * i for place, _ in at]
        y = [100 * share["share"] for _, share in at]
        below = [100 * (share["share"] - share["low"]) for _, share in at]
        above = [100 * (share["high"] - share["share"]) for _, share in at]
        axes.errorbar(
            x, y, yerr=[np.maximum(below, 0), np.maximum(above, 0)], marker="o", capsize=3, label=name
        )
        drawn = True
    if drawn:
        axes.set_xticks(range(len(levels)), levels)
        axes.set_xlabel("speech over noise")
        axes.set_ylabel("right item when forced to choose, %")
        axes.set_ylim(0, 101)
        axes.legend(loc="lower left")
        figure.savefig(file, dpi=120)


def _reliability(system: dict[str, Any], name: str, file: Path) -> None:
    figure, axes = _figure()
    axes.plot([0, 1], [0, 1], color="grey", linewidth=1)
    for level, cell in system["levels"].items():
        honest = cell.get("all clips") or cell.get("requests alone")
        if honest:
            bins = honest["bins"]
            axes.plot([b["p"] for b in bins], [b["true"] for b in bins], marker="o", label=level)
    axes.set_xlabel("probability given to the likeliest item")
    axes.set_ylabel("share of times it was what was asked for")
    axes.set_title(name)
    axes.legend()
    figure.savefig(file, dpi=120)


def _tradeoff(some: Sequence[Result], name: str, file: Path) -> None:
    """Wrong answers against requests left for a check, as the least probability of an answer rises."""
    figure, axes = _figure()
    levels = dict.fromkeys(r.record["level"] for r in some if r.request)
    for level in levels:
        asked = [r for r in some if r.request and r.record["level"] == level]
        p = np.array([r.outcome.p for r in asked])
        right = np.array([r.chosen for r in asked])
        held = [100 * float(np.mean(p < t)) for t in THRESHOLDS]
        wrong = [100 * float(np.mean((p >= t) & ~right)) for t in THRESHOLDS]
        line = axes.plot(held, wrong, label=level)[0]
        now_held = 100 * float(np.mean([r.kind in ("checked", "missed") for r in asked]))
        now_wrong = 100 * float(np.mean([r.kind == "wrong" for r in asked]))
        axes.plot([now_held], [now_wrong], marker="x", color=line.get_color())
    if levels:
        axes.set_xlabel("requests not answered at once (checked or missed), %")
        axes.set_ylabel("requests answered wrongly, %")
        axes.set_title(f"{name}: x marks what the verdict does")
        axes.legend()
        figure.savefig(file, dpi=120)
