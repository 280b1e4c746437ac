"""The order in which a procedure's items are predicted, so that an editor sees what a change of steps does.

Takes a pack and a procedure id and gives the item ids in order. It learns nothing and uses no dentist's
habits.
"""

from __future__ import annotations

from vocab.pack.schema import Pack
from vocab.procedure.model import ProcedureModel


def predicted_order(pack: Pack, procedure: str, most: int = 12) -> tuple[str, ...]:
    """Item ids in the order in which the tool would name them as next, each once.

    Repeatedly takes the likeliest next item not named before as asked for.

    Raises:
        ProcedureError: the pack has no such procedure.
    """
    model = ProcedureModel(pack, [procedure])
    steps = pack.procedure(procedure).steps
    wanted = {item for step in steps for item in step.items}
    belief, found = model.start(), list[str]()
    while len(found) < min(most, len(wanted)):
        likely = model.next_items(belief)
        item = next(item for item in likely if item in wanted and item not in found)
        found.append(item)
        belief = model.after(belief, item)
    return tuple(found)
