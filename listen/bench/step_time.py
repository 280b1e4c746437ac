"""How long a step of the procedure model takes in a pack far larger than the shipped ones.

Comes in: a random generator and a clock. Goes out: a made-up pack, and seconds for each step: the belief
after a request and the probability of every next item. It judges nothing.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from vocab.pack.schema import Pack
from vocab.procedure.model import ProcedureModel

STEPS, ITEMS_OF_A_STEP = 12, 8


def big_pack(rng: np.random.Generator, items: int = 500, procedures: int = 20) -> Pack:
    """A pack of nonsense items with one tray and procedures of twelve steps."""
    ids = [f"item_{i}" for i in range(items)]
    described = {
        "class": "examination",
        "purpose": "To be timed.",
        "look": "None.",
        "reprocessing": "clean and heat-sterilise",
    }

    def steps() -> list[dict[str, object]]:
        return [
            {
                "id": f"step_{s}",
                "name": f"Step {s}",
                "items": {ids[int(i)]: 1 for i in rng.choice(items, ITEMS_OF_A_STEP, replace=False)},
                "requests": 3,
            }
            for s in range(STEPS)
        ]

    return Pack.model_validate(
        {
            "id": "big",
            "name": "Big",
            "language": "en",
            "version": "1",
            "items": [{**described, "id": i, "name": i.replace("_", " ")} for i in ids],
            "trays": [
                {
                    "id": "all",
                    "name": "All",
                    "rows": [{"name": "row", "slots": [{"at": n, "item": i} for n, i in enumerate(ids, 1)]}],
                }
            ],
            "procedures": [
                {"id": f"procedure_{p}", "name": f"Procedure {p}", "tray": "all", "steps": steps()}
                for p in range(procedures)
            ],
            "speech": {"cues": ["the"], "endings": ["please"]},
        }
    )


def step_times_s(
    pack: Pack, rng: np.random.Generator, clock: Callable[[], float], steps: int = 200
) -> list[float]:
    """Seconds for each of so many requests, the procedure being unknown."""
    model = ProcedureModel(pack)
    belief = model.start()
    times_s = []
    for _ in range(steps):
        item = model.items[int(rng.integers(len(model.items)))]
        began_s = clock()
        belief = model.after(belief, item)
        model.next_items(belief)
        times_s.append(clock() - began_s)
    return times_s
