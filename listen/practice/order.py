"""What was asked for in a procedure before the step that is asked about.

Takes a procedure and the place of a step; draws items, one request after the other, as the steps before it
ask for them. How they are asked for, `listen.practice.story` says.
"""

from __future__ import annotations

import numpy as np

from vocab.pack.schema import Pack, Procedure, Step

MOST_HEARD = 4
"""So many of the latest requests are heard; the trainee comes into a procedure that is running."""
MOST_OF_A_STEP = 2
"""A step that takes several requests is told by so many of them."""
USUAL = 2
"""Only so many items of a step, those that it asks for most, are drawn from: a story goes as most do."""


def run_up(pack: Pack, procedure: Procedure, place: int, rng: np.random.Generator) -> tuple[str, ...]:
    """Items asked for before the step at this place (1 or more), the latest last; never twice in a row.

    Optional steps are left out, but for the one just before. What is always checked is asked for only where a
    step has nothing else on the tray.
    """
    laid = {slot.item for slot in pack.tray(procedure.tray).slots}
    steps = procedure.steps[:place]
    asked: list[str] = []
    for step in steps:
        if step.optional and step is not steps[-1]:
            continue
        for _ in range(min(MOST_OF_A_STEP, max(1, round(step.requests)))):
            items = _askable(step, pack, laid, asked[-1:])
            if items:
                shares = np.array([step.items[item] for item in items])
                asked.append(items[int(rng.choice(len(items), p=shares / shares.sum()))])
    if not asked:  # a step of one item that is always there
        asked.append(max(steps[-1].items, key=lambda item: steps[-1].items[item]))
    return tuple(asked)


def _askable(step: Step, pack: Pack, laid: set[str], just_now: list[str]) -> list[str]:
    """What a step may ask for from the tray now."""
    there = [item for item in step.items if item in laid and item not in just_now]
    some = [item for item in there if not pack.item(item).always_check] or there
    return sorted(some, key=lambda item: -step.items[item])[:USUAL]
