"""Faculty checks: where a procedure waits until a teacher has looked, and who looked.

It takes the procedure, the state after the events and the step that the procedure is most likely in, and
gives the check that is waiting and the event that ends it. It only waits; it never says that a step was done
well.
"""

from __future__ import annotations

from listen.chairside.events import Event, EventKind, Source
from listen.chairside.tray_state import TrayState
from vocab.pack.schema import Procedure, Step


def open_checks(procedure: Procedure | None, state: TrayState) -> tuple[Step, ...]:
    """The procedure's faculty checks that nobody has ended yet, in its order."""
    steps = procedure.steps if procedure else ()
    return tuple(step for step in steps if step.faculty_check and step.id not in state.steps)


def waiting_check(procedure: Procedure | None, state: TrayState, step_id: str | None) -> Step | None:
    """The check at which the procedure is waiting: the first open one up to the present step.

    The check of an optional step that the procedure is already past no longer waits: the step was left out.

    Args:
        step_id: of the step that the procedure is most likely in; None where none is known.
    """
    order = [step.id for step in procedure.steps] if procedure else []
    if step_id not in order:
        return None
    reached = order[: order.index(step_id) + 1]
    for step in open_checks(procedure, state):
        if step.id in reached and (step.id == step_id or not step.optional):
            return step
    return None


def looked_event(step: Step, at_s: float, source: Source = Source.TOUCH, by: str | None = None) -> Event:
    """Records that a teacher has looked; `by` is who, if they want to be named: a label, never proposed."""
    return Event(EventKind.STEP, at_s, source, about=step.id, by=by)
