"""Measures again what the model card and the README tell, one figure after the other.

Takes names of figures and gives the names of those that failed. Which command makes a figure stands beside it
in `listen/neural/figures.yaml`; each runs in a process of its own, and keeps its counts with date, commit and
engine.

Figures that a command cannot make again are not here: what an earlier engine gave, a part drawn by hand, a
trial that was blind (it is so only once), an hour with a browser, recordings that are not in the registries.
"""

from __future__ import annotations

import shlex
import subprocess
import sys
from collections.abc import Callable, Iterable, Sequence

from listen.bench import card
from vocab.errors import TraycallError

AGAIN = (
    "demo",
    "prediction",
    "simulated_class",
    "class_procedure",
    "class_field",
    "trial_repaired",
    "natural_typed",
    "human",
    "run",
    "natural",
    "speakers",
    "run_one_field",
    "run_all_fields",
    "natural_one_field",
    "natural_all_fields",
    "told",
    "talk",
    "judge_natural",
    "judge_natural_typed",
    "judge_own_words",
    "run_chatter",
    "run_untaught",
    "run_sphinx",
    "run_mask",
    "run_turned",
    "rooms",
    "screen",
    "screen_of_eight",
)
"""What can be measured again, the quick ones first."""
PREFIX = ("python", "-m", "listen.bench")
_WITH_JOBS = frozenset({"run", "natural", "speakers", "told", "human", "judge", "rooms"})


class NoFigure(TraycallError):
    """A name of no figure that can be measured again."""


def chosen(names: Sequence[str]) -> tuple[str, ...]:
    """These figures in the order of `AGAIN`; all of them where none is named.

    Raises:
        NoFigure: one of them cannot be measured again.
    """
    for name in names:
        if name not in AGAIN:
            raise NoFigure(f"{name!r} cannot be measured again; these can: {', '.join(AGAIN)}.")
    return tuple(name for name in AGAIN if not names or name in names)


def command(name: str, jobs: int = 1) -> list[str]:
    """What measures a figure and keeps it.

    Raises:
        NoFigure: the command noted with it is none of the benchmark's.
    """
    noted = shlex.split(card.figures()[name].command)
    if tuple(noted[:3]) != PREFIX:
        raise NoFigure(f"{name} was made by {shlex.join(noted)!r}, which this cannot run again.")
    parallel = ["--jobs", str(jobs)] if noted[3] in _WITH_JOBS and jobs > 1 else []
    return [sys.executable, *noted[1:], *parallel, "--keep", name]


def measure(
    names: Iterable[str], jobs: int, run: Callable[[list[str]], int] = subprocess.call
) -> tuple[str, ...]:
    """Measure these again; the names of those that failed, which keep their figures."""
    failed = []
    for name in names:
        line = command(name, jobs)
        print(f"\n{name}: {shlex.join(['python', *line[1:]])}", file=sys.stderr, flush=True)
        if run(line):
            failed.append(name)
    return tuple(failed)
