"""Why an item does not belong in the slot that it was put into, while a tray is laid.

Takes the question and the placement, and gives sentences in the language of the pack: what the slot is for,
where the item belongs, and either how the two are told apart or in which step the item is asked for.
"""

from __future__ import annotations

from listen.practice.clues import sentence
from listen.practice.questions import LAID, Question, Questions


def why_not_there(questions: Questions, question: Question, item: str, at: str) -> str:
    """What to tell about an item that was put into the slot at `at`, where it does not belong."""
    words = questions.words
    right = [placement.partition(LAID) for placement in question.right]
    holds = {slot: held for held, _, slot in right}
    homes = [slot for slot, held in holds.items() if held == item]
    if not homes or at not in holds:
        return words.not_there
    home, other = homes[0], holds[at]
    places = [seen.at for seen in question.scene]
    here = places.index(home)
    around = [place for place in places[max(0, here - 1) : here + 2] if place not in (home, at)]
    beside = around[0] if around else at
    told = [
        words.slot_is_for.format(at=sentence(questions.place_name(at)), item=questions.called(other)),
        words.belongs_in.format(
            item=questions.called(item), at=questions.place_name(home), beside=questions.called(holds[beside])
        ),
    ]
    tell = questions.tells(item).get(other)
    step = _step(questions, question.topic.place, item)
    if tell:
        told.append(tell)
    elif step:
        told.append(words.asked_for_in.format(step=step))
    return " ".join(told)


def _step(questions: Questions, tray: str, item: str) -> str | None:
    """The step of a procedure on this tray in which the item is asked for most; None where there is none."""
    found = [
        (step.items[item], step.name)
        for procedure in questions.pack.procedures
        if procedure.tray == tray
        for step in procedure.steps
        if item in step.items
    ]
    return max(found, key=lambda one: one[0])[1] if found else None
