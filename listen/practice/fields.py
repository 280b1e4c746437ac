"""Which vocabulary a topic belongs to, where one server teaches several.

Takes stored topics and packs. Trays, procedures, steps and rows belong to one vocabulary, as their ids are
used once; an item is one item, and a fact of one id one fact, in every vocabulary that has it. Observed
points are kept with their vocabulary, as the same id may ask for something else in another.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from listen.practice.facts import Facts
from listen.practice.store import Observed
from listen.practice.topics import Drill, Topic
from vocab.pack.schema import Pack

_OF = ":"


def belongs(key: str, pack: Pack, facts: Facts) -> bool:
    """Whether a stored topic is asked in this vocabulary."""
    try:
        topic = Topic.read(key)
    except ValueError:  # written by a later version
        return False
    if topic.place:
        return any(topic.place in (procedure.id, procedure.tray) for procedure in pack.procedures)
    if topic.drill is Drill.FACT:
        return any(fact.id == topic.subject for fact in facts.facts)
    return bool(topic.items) and all(item in pack.by_id for item in topic.items)


def latest(topics: Iterable[str], packs: Sequence[Pack]) -> Pack | None:
    """The vocabulary of the first of these stored topics that only one has; numbers do not tell."""
    for key in topics:
        found = [pack for pack in packs if belongs(key, pack, Facts())]
        if len(found) == 1:
            return found[0]
    return None


def point_of(field: str, point: str) -> str:
    """A point of a vocabulary's checklist as it is stored: "hygiene:sharps_wipe"."""
    return f"{field}{_OF}{point}"


def observed_in(field: str, observed: Iterable[Observed], unsaid: bool) -> tuple[Observed, ...]:
    """What was observed of a vocabulary's checklist, with the points' own ids.

    Args:
        unsaid: whether what was stored before the vocabulary was stored with it counts, too.
    """
    found = []
    for one in observed:
        said, _, point = one.point.rpartition(_OF)
        if said == field or (unsaid and not said):
            found.append(replace(one, point=point))
    return tuple(found)
