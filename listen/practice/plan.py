"""The path of a trainee's first weeks through a procedure: its stages, the checks between, and what is new.

Takes topics, memories, what somebody observed, and the history of a clinic's changes; returns where the
trainee stands, which topics may be begun, and which have changed since they were practised. It asks, stores
and decides nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from listen.practice.facts import Observation
from listen.practice.schedule import Deck, is_known
from listen.practice.store import Observed
from listen.practice.topics import Drill, Topic
from vocab.layers.changes import (
    AddItem,
    AddName,
    AddProcedure,
    AddTray,
    AskBack,
    ClearSlot,
    Mean,
    MoveName,
    Operation,
    RemoveName,
    RenameItem,
    SetField,
    SetKit,
    SetSlot,
    SetSteps,
    SetTrayKits,
    Undo,
    UseItem,
)
from vocab.layers.vocabulary import Entry

OF_TEN = 9
"""So many of 10 topics of a stage are to be known."""
FEWEST = 8
"""A rehearsal with fewer requests says nothing."""
GROUP = 10
"""So many items are taken together through the stages, those asked for most first."""
MOST_NEW = 8
"""A drill of what is new asks about so many things at most."""


def enough(known: int, of: int) -> bool:
    """Whether at least 9 of 10 are known; never of nothing."""
    return of > 0 and 10 * known >= OF_TEN * of


@dataclass(frozen=True)
class Stage:
    """drills: what it teaches, by the value of `Drill`, whether or not this version has it; groups: the parts
    of the checklist that somebody has to have watched; rehearsed: whether its check asks for a rehearsal."""

    name: str
    drills: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    rehearsed: bool = False


STAGES = (
    Stage("Names", ("name", "apart", "fact")),
    Stage("Places", ("slot", "lay", "fault")),
    Stage("Passing", ("pass",), ("passing",)),
    Stage("Order", ("next",)),
    Stage("The whole procedure", (), ("count", "sharps"), rehearsed=True),
)
"""Every drill belongs to one stage; a stage with nothing to learn or to watch is left out of a path."""


@dataclass(frozen=True)
class Step:
    """A stage as one trainee stands on it.

    topics, begun, known: how many; must, seen: points that must be seen, and those whose latest note says
    that they were seen done well; open: whether its topics may be begun; rehearsed: whether a rehearsal went
    well, None where the stage asks for none.
    """

    name: str
    topics: int
    begun: int
    known: int
    must: int
    seen: int
    open: bool
    rehearsed: bool | None = None

    @property
    def passed(self) -> bool:
        """Its check: at least 9 of 10 known, every point that must be seen was seen done well, and a
        rehearsal went well."""
        known = not self.topics or enough(self.known, self.topics)
        return known and self.seen == self.must and self.rehearsed is not False


@dataclass(frozen=True)
class Group:
    """Some items that are learned together: how many of the topics about them are known, of how many."""

    known: int
    topics: int

    @property
    def passed(self) -> bool:
        """Its check: at least 9 of 10 known."""
        return enough(self.known, self.topics)


@dataclass(frozen=True)
class Path:
    """The stages of one procedure in their order, and its groups of items, those asked for most first."""

    steps: tuple[Step, ...]
    groups: tuple[Group, ...] = ()

    @property
    def here(self) -> Step | None:
        """The first step whose check is not passed; None once all are."""
        return next((step for step in self.steps if not step.passed), None)

    @property
    def number(self) -> int:
        """Which step that is, from 1; one more than there are once all are passed."""
        return next((n for n, step in enumerate(self.steps, 1) if not step.passed), len(self.steps) + 1)

    @property
    def group(self) -> int:
        """The first group whose check is not passed, from 1; one more than there are once all are passed."""
        return next((n for n, group in enumerate(self.groups, 1) if not group.passed), len(self.groups) + 1)


def path(
    topics: Sequence[Topic],
    memories: Mapping[str, bool],
    checklist: Sequence[Observation],
    seen: Collection[str],
    rehearsed: bool | None,
) -> Path:
    """Where a trainee stands on the topics of a procedure, with the points of the vocabulary's checklist.

    Args:
        memories: the topics (keys) that were begun, and whether each is known; seen: as `seen_well` gives it;
            rehearsed: whether a rehearsal of the procedure went well, None where there is no procedure.
    """
    steps, opens, may = [], True, set(opened(topics, memories))
    for stage, own in _staged(topics):
        points = [p for p in checklist if p.group in stage.groups and p.must]
        played = rehearsed if stage.rehearsed else None
        if not own and not points and played is None:
            continue
        begun = sum(topic.key in memories for topic in own)
        known = sum(memories.get(topic.key, False) for topic in own)
        well = sum(point.id in seen for point in points)
        is_open = not may.isdisjoint(own) if own else opens
        steps.append(Step(stage.name, len(own), begun, known, len(points), well, is_open, played))
        opens = opens and 2 * begun >= len(own)
    return Path(tuple(steps), tuple(_group(some, memories) for some in grouped(topics)))


def grouped(topics: Sequence[Topic]) -> tuple[tuple[Topic, ...], ...]:
    """The topics in groups of `GROUP` items, in the order in which those come. A pair belongs to the later of
    its items; what is about no item (steps, rows, numbers) is spread over the groups in its own order."""
    rank = {item: n for n, item in enumerate(dict.fromkeys(item for t in topics for item in t.items))}
    groups: list[list[Topic]] = [[] for _ in range(max(1, -(-len(rank) // GROUP)))]
    others: dict[Drill, list[Topic]] = {}
    for topic in topics:
        if topic.items:
            groups[max(rank[item] for item in topic.items) // GROUP].append(topic)
        else:
            others.setdefault(topic.drill, []).append(topic)
    for some in others.values():
        for n, topic in enumerate(some):
            groups[n * len(groups) // len(some)].append(topic)
    return tuple(map(tuple, groups))


def _group(topics: Sequence[Topic], memories: Mapping[str, bool]) -> Group:
    return Group(sum(memories.get(topic.key, False) for topic in topics), len(topics))


def known_in(deck: Deck) -> dict[str, bool]:
    """The topics of a deck, and whether each is known."""
    return {key: is_known(card) for key, card in deck.items()}


def opened(topics: Sequence[Topic], begun: Collection[str]) -> tuple[Topic, ...]:
    """What may be begun, in the order of `topics`: the stages of the first group, then those of the next.
    Each opens once half of each before is begun; pairs, which wait for their items, are not counted."""
    may: set[Topic] = set()
    for group in grouped(topics):
        for _, own in _staged(group):
            may |= set(own)
            alone = [topic for topic in own if topic.drill is not Drill.APART]
            if 2 * sum(topic.key in begun for topic in alone) < len(alone):
                return tuple(topic for topic in topics if topic in may)
    return tuple(topics)


def went_well(requests: int, right: int) -> bool:
    """Whether a rehearsal with so many requests, of which so many were right, was long and good enough."""
    return requests >= FEWEST and enough(right, requests)


def seen_well(observed: Iterable[Observed]) -> frozenset[str]:
    """The points whose latest note says that they were seen done well."""
    latest = {one.point: one.passed for one in sorted(observed, key=lambda one: one.at)}
    return frozenset(point for point, passed in latest.items() if passed)


# --- what is new ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class New:
    """A topic about something that has changed since it was practised; text: the change in words; name: the
    name that is new, if it is one."""

    topic: Topic
    text: str
    name: str | None = None


def news(history: Sequence[Entry], topics: Sequence[Topic], deck: Deck) -> tuple[New, ...]:
    """What of the history (oldest first) concerns a trainee, the latest first, `MOST_NEW` at most.

    A topic is new from the change until it is answered. A topic that was never asked counts where its tray,
    procedure or item was practised before the change; the name of an item that is itself new, where a tray
    was that now holds it.
    """
    changes = {entry.change.id: entry.change.do for entry in history}
    found: dict[Topic, New] = {}
    for entry in reversed(history):
        do = entry.change.do
        target = changes.get(do.change) if isinstance(do, Undo) else do
        if not entry.counts or target is None:
            continue
        name = target.name if isinstance(target, AddName | RenameItem | MoveName) else None
        said = None if isinstance(do, Undo) or name is None else str(getattr(name, "text", name))
        for topic in _concerned(target, topics):
            is_new = isinstance(target, AddItem | UseItem) and topic.key not in deck
            places = _places(topic, topics) if is_new else ()
            if topic not in found and any(_since(one, deck, entry.change.when) for one in (topic, *places)):
                found[topic] = New(topic, entry.text, said)
    return tuple(found.values())[:MOST_NEW]


def new_names(found: Iterable[New]) -> Mapping[str, str]:
    """The new name by which each item is asked for, where that is what is new."""
    return {new.topic.subject: new.name for new in found if new.name and new.topic.items}


def _concerned(do: Operation, topics: Sequence[Topic]) -> Iterator[Topic]:
    """The topics that a change is about, one for a name and a place each, and not the harder ones on top."""
    items, trays, procedures = _touched(do)
    places = isinstance(do, SetSlot | SetKit | ClearSlot)
    for topic in topics:
        if topic.drill is Drill.SLOT:
            if topic.subject in items and (not trays or topic.place in trays):
                yield topic
        elif topic.drill is Drill.NAME or (topic.drill is Drill.APART and isinstance(do, AskBack)):
            if not places and items.intersection(topic.items):
                yield topic
        elif topic.drill in (Drill.LAY, Drill.FAULT):
            if topic.place in trays and not items and topic.drill is Drill.LAY:
                yield topic
        elif topic.place and topic.place in procedures:
            yield topic


def _touched(do: Operation) -> tuple[frozenset[str], frozenset[str], frozenset[str]]:
    """Items, trays and procedures that a change is about; no tray means any."""
    items: set[str] = set()
    trays: set[str] = set()
    procedures: set[str] = set()
    if isinstance(do, AddItem):
        items = {do.item.id}
    elif isinstance(do, UseItem | RenameItem | AddName | MoveName | RemoveName | Mean | SetField):
        items = {do.item}
    elif isinstance(do, AskBack):
        items = set(do.items)
    elif isinstance(do, SetSlot):
        items, trays = {do.item}, {do.tray}
    elif isinstance(do, ClearSlot | SetTrayKits):
        trays = {do.tray}
    elif isinstance(do, AddTray):
        trays = {do.tray.id}
    elif isinstance(do, SetKit):
        items = {slot.item for slot in do.kit.slots}
    elif isinstance(do, SetSteps):
        procedures = {do.procedure}
    elif isinstance(do, AddProcedure):
        procedures = {do.procedure.id}
    return frozenset(items), frozenset(trays), frozenset(procedures)


def _places(topic: Topic, topics: Sequence[Topic]) -> tuple[Topic, ...]:
    """Where the item lies of whose name a topic is; () of any other topic."""
    if topic.drill is not Drill.NAME:
        return ()
    return tuple(one for one in topics if one.drill is Drill.SLOT and one.subject == topic.subject)


def _since(topic: Topic, deck: Deck, when: datetime) -> bool:
    card = deck.get(topic.key)
    if card is not None:
        return card.last_review is None or card.last_review < when
    for key, other in deck.items():
        if other.last_review is None or other.last_review >= when:
            continue
        drill, _, rest = key.partition(":")
        place, _, subject = rest.partition(":")
        if (topic.place and place == topic.place) or (topic.items and subject in topic.items):
            return True
    return False


def _staged(topics: Sequence[Topic]) -> Iterator[tuple[Stage, tuple[Topic, ...]]]:
    for stage in STAGES:
        yield stage, tuple(topic for topic in topics if topic.drill in stage.drills)
