"""What there is to learn: one `Topic` for each thing that is scheduled by itself, in teaching order.

Takes a pack, its facts and optionally a procedure; returns the topics, and the pairs of items that look or
sound alike. It does not know what a trainee can do already.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from listen.practice.facts import Facts
from listen.practice.passing import is_passed
from listen.practice.wordings import wordings
from vocab.errors import TraycallError, nearest
from vocab.pack.schema import Kit, Pack, Procedure, Slot, Tray

KIT = "kit/"
"""Before a kit's id where that is what a topic is about."""
FEWEST_SLOTS = 3
"""A row with fewer slots is too short to lay or to search."""


class PracticeError(TraycallError):
    """Something about practice that the person at the keyboard can put right."""


class Drill(StrEnum):
    """The kinds of question.

    SLOT: hear a request, give its slot, or where in its kit it lies, or where a kit stands; NAME: hear a
    purpose or see a picture, give the name; NEXT: what is asked for next; LAY: lay a row of the tray; FAULT:
    find what is missing or misplaced in a row or kit; FACT: a number; APART: hear a request, pick one of two
    look-alikes; PASS: how an item is passed.
    """

    SLOT = "slot"
    NAME = "name"
    NEXT = "next"
    LAY = "lay"
    FAULT = "fault"
    FACT = "fact"
    APART = "apart"
    PASS = "pass"


PLACED = frozenset((Drill.SLOT, Drill.LAY, Drill.FAULT))
"""Drills about where things lie on a tray."""


@dataclass(frozen=True, order=True)
class Topic:
    """A drill on one subject.

    subject: an item, a kit ("kit/dam_kit", SLOT), a step (NEXT), the name of a row or kit (LAY, FAULT), a
    fact, or two items joined by "+" (APART);
    place: the tray or procedure it belongs to, "" where it belongs to none.
    """

    drill: Drill
    subject: str
    place: str = ""

    @property
    def key(self) -> str:
        """As it is stored: "slot:examination:mouth_mirror"."""
        return f"{self.drill}:{self.place}:{self.subject}"

    @classmethod
    def read(cls, key: str) -> Topic:
        """The topic behind a stored key; ValueError for anything else."""
        drill, place, subject = key.split(":", 2)
        return cls(Drill(drill), subject, place)

    @property
    def items(self) -> tuple[str, ...]:
        """The items it is about; () for steps, rows, kits and facts."""
        if self.drill in (Drill.SLOT, Drill.NAME, Drill.PASS):
            return () if self.subject.startswith(KIT) else (self.subject,)
        return tuple(self.subject.split("+")) if self.drill is Drill.APART else ()


def item_of(topic: str, right: bool, choice: str | None) -> str | None:
    """The item that an answer to this topic (its key) was about, where that is certain and what was answered
    is an item or its slot.

    For a pair, the choice and whether it was right tell which of the two was asked.
    """
    try:
        found = Topic.read(topic)
    except ValueError:  # written by a later version
        return None
    if found.drill in (Drill.SLOT, Drill.NAME):
        return next(iter(found.items), None)
    if found.drill is Drill.APART and choice in found.items and len(found.items) == 2:
        one, other = found.items
        return one if (choice == one) == right else other
    return None


def curriculum(
    pack: Pack, facts: Facts, procedure_id: str | None = None, drills: Iterable[Drill] | None = None
) -> tuple[Topic, ...]:
    """Everything to learn, most requested first; rows, slots and steps only with a procedure."""
    chosen = tuple(Drill) if drills is None else tuple(dict.fromkeys(drills))
    procedure = None if procedure_id is None else _procedure(pack, procedure_id)
    tray = None if procedure is None else pack.tray(procedure.tray)
    items = _by_use(pack, pack.procedures if procedure is None else (procedure,), tray)
    taught = set(items)
    topics: list[Topic] = []
    for item in items:
        topics.append(Topic(Drill.NAME, item))
        if tray is not None and tray.slot_of(item) is not None:
            topics.append(Topic(Drill.SLOT, item, tray.id))
        if is_passed(pack.item(item)):
            topics.append(Topic(Drill.PASS, item))
    for one, other in look_alikes(pack):
        if {one, other} <= taught:
            topics.append(Topic(Drill.APART, f"{one}+{other}"))
    topics += [Topic(Drill.FACT, f.id) for f in facts.facts if f.item is None or f.item in taught]
    if procedure is not None and tray is not None:
        topics += [Topic(Drill.NEXT, step.id, procedure.id) for step in procedure.steps[1:]]
        topics += [
            Topic(Drill.SLOT, f"{KIT}{k.id}", tray.id)
            for k in tray.opened
            if stands_somewhere(k, pack.language)
        ]
        topics += [Topic(Drill.LAY, row.name, tray.id) for row in tray.rows if len(row.slots) >= FEWEST_SLOTS]
        topics += [
            Topic(Drill.FAULT, name, tray.id)
            for name, slots in laid_together(tray)
            if len(slots) >= FEWEST_SLOTS
        ]
    topics = [topic for topic in topics if topic.drill in chosen]
    if not topics:
        where = "" if procedure_id else "; slots, steps and rows need a procedure: add --procedure ID"
        raise PracticeError(f"there is nothing to practise for {', '.join(chosen) or 'no drill'}{where}.")
    return tuple(topics)


def look_alikes(pack: Pack) -> tuple[tuple[str, str], ...]:
    """Pairs of items that are mistaken for each other, each once, in the pack's order."""
    pairs = [(item.id, other.item) for item in pack.items for other in item.confused_with]
    return tuple(dict.fromkeys((min(pair), max(pair)) for pair in (*pairs, *pack.wide_margin)))


def partners(pack: Pack) -> dict[str, frozenset[str]]:
    """For every item, the items it is mistaken for."""
    found: dict[str, set[str]] = {item: set() for item in pack.by_id}
    for one, other in look_alikes(pack):
        found[one].add(other)
        found[other].add(one)
    return {item: frozenset(others) for item, others in found.items()}


def stands_somewhere(kit: Kit, language: str) -> bool:
    """Whether it makes sense to ask where a kit stands: what lies on the counter is called that by itself."""
    return not any(kit.address in ways for ways in wordings(language).stands.values())


def _procedure(pack: Pack, procedure_id: str) -> Procedure:
    known = [p.id for p in pack.procedures]
    if procedure_id not in known:
        hint = nearest(procedure_id, known)
        raise PracticeError(f"no procedure is called {procedure_id!r}{hint}; there are: {', '.join(known)}.")
    return pack.procedure(procedure_id)


def laid_together(tray: Tray) -> Iterator[tuple[str, tuple[Slot, ...]]]:
    """What lies side by side on a tray: its rows and its kits, by name."""
    yield from ((row.name, row.slots) for row in tray.rows)
    yield from ((kit.name, in_kit(kit)) for kit in tray.opened)


def in_kit(kit: Kit) -> tuple[Slot, ...]:
    """What lies in a kit, by whole addresses ("bur kit 3"), without the box itself."""
    return tuple(slot for slot in kit.on_tray if slot.at != kit.address)


def _by_use(pack: Pack, procedures: Iterable[Procedure], tray: Tray | None) -> list[str]:
    """Items by how often they are asked for; with a tray only those on it or in its procedure."""
    use = dict.fromkeys(pack.by_id, 0.0)
    for procedure in procedures:
        for step in procedure.steps:
            total = sum(step.items.values())
            for item, weight in step.items.items():
                use[item] += step.requests * weight / total
    on_tray = {slot.item for slot in tray.slots} if tray else set(use)
    kept = [item for item in use if item in on_tray or (tray is not None and use[item] > 0)]
    return sorted(kept, key=lambda item: -use[item])
