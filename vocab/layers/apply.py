"""Composes a shipped pack and the layers on top of it into the one pack that is used.

Takes a pack, which is never changed, and layers from lowest to highest, and gives a `Composed` that lists
everything that disagrees. A change that can be carried out always counts; if something below it is no
longer what its author saw, that is listed. A name held by two items stays with both, and the pair is marked
so that the tool asks back instead of guessing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from vocab.layers.changes import (
    AddItem,
    AddName,
    AddProcedure,
    AddTray,
    Change,
    ClearSlot,
    Layer,
    Mean,
    MoveName,
    Operation,
    RenameItem,
    RetireItem,
    SetField,
    SetSlot,
    SetSteps,
    Subject,
    Undo,
    in_effect,
    subject,
)
from vocab.layers.conflicts import Conflict, conflict
from vocab.layers.draft import (
    CannotApply,
    ClinicSettings,
    Draft,
    canonical_value,
    field_value,
    row_of,
    steps_fingerprint,
)
from vocab.layers.kept import with_kept
from vocab.pack.references import normalised
from vocab.pack.schema import Item, LookAlike, Pack

PACK = "pack"

STANDS = "The local change still applies"
CONFIRM = "Make the change again to confirm it, or undo it"


@dataclass(frozen=True)
class Origin:
    """Where an entry comes from: which layer, which change, by whom, when (UTC date) and why."""

    layer: str
    change: str = ""
    who: str = ""
    when: str = ""
    why: str = ""


SHIPPED = Origin(PACK)


@dataclass(frozen=True)
class Composed:
    """The pack in use. `origin` maps a name, as `normalised` writes it, to the change that gave it;
    `touched` does so for every other subject of a change. What is in neither is the pack's own."""

    pack: Pack
    settings: ClinicSettings
    conflicts: tuple[Conflict, ...]
    origin: Mapping[str, Origin]
    touched: Mapping[Subject, Origin]

    def came_from(self, name: str) -> Origin:
        """Where a name comes from."""
        return self.origin.get(normalised(name), SHIPPED)


def compose(pack: Pack, layers: Sequence[Layer]) -> Composed:
    """The pack with all layers applied, lowest first."""
    draft = Draft(pack)
    conflicts: list[Conflict] = []
    origin: dict[str, Origin] = {}
    touched: dict[Subject, Origin] = {}
    for layer in layers:
        below = draft.snapshot()
        called = _Called(draft, below)
        conflicts += _undone_nothing(layer)
        applied: dict[Subject, Change] = {}
        for change in in_effect(layer):
            try:
                draft.apply(change.do)
            except CannotApply as cannot:
                holds = "Nothing changed; the entry is kept"
                conflicts.append(
                    conflict(cannot.kind, layer, change, cannot.why, holds, cannot.remedy, called)
                )
                continue
            applied[subject(change.do)] = change
            where = Origin(layer.name, change.id, change.who, f"{change.when:%Y-%m-%d}", change.why)
            touched[subject(change.do)] = where
            origin.update(dict.fromkeys(_names_given(change.do), where))
        for change in applied.values():
            conflicts += _disagreements(layer, change, draft, below, called)
    conflicts = [c for c in conflicts if c.kind != "shared" or len(draft.holders(c.subject[-1])) > 1]
    composed = _finished(pack, draft)
    conflicts += _left_open(pack, composed, draft, conflicts)
    names = {form for item in composed.items for form in _forms(item)} if origin else set()
    origin = {form: where for form, where in origin.items() if form in names}
    return Composed(composed, draft.settings, tuple(conflicts), origin, touched)


def with_bases(operations: Sequence[Operation], below: Pack) -> tuple[Operation, ...]:
    """The operations with what the layers below hold now, so that a later disagreement can be seen."""
    draft = Draft(below)
    return tuple(_with_base(operation, draft) for operation in operations)


def _with_base(operation: Operation, below: Draft) -> Operation:
    match operation:
        case AddName() | Mean():
            text = operation.name if isinstance(operation, Mean) else operation.name.text
            holders = [item for item in below.holders(text) if item != operation.item]
            return operation.model_copy(update={"base": holders[0] if holders else None})
        case RenameItem() if operation.item in below.items:
            return operation.model_copy(update={"base": below.items[operation.item].name.text})
        case SetSlot():
            slot, tray = below.slot(operation.tray, operation.at), below.trays.get(operation.tray)
            row = operation.row or (row_of(tray, operation.at) if tray else None)
            return operation.model_copy(update={"base": slot.item if slot else None, "row": row})
        case ClearSlot():
            slot = below.slot(operation.tray, operation.at)
            return operation.model_copy(update={"base": slot.item if slot else None})
        case SetSteps() if operation.procedure in below.procedures:
            base = steps_fingerprint(below.procedures[operation.procedure])
            return operation.model_copy(update={"base": base})
        case SetField() if operation.item in below.items:
            base = field_value(below.items[operation.item], operation.field)
            return operation.model_copy(update={"base": base})
        case _:
            return operation


class _Called(Mapping[str, str]):
    """Item ids to preferred names, as far as they are known."""

    def __init__(self, *drafts: Draft) -> None:
        self._drafts = drafts

    def __getitem__(self, item: str) -> str:
        for draft in self._drafts:
            if item in draft.items:
                return draft.items[item].name.text
        raise KeyError(item)

    def __iter__(self) -> Iterator[str]:
        return iter(self._drafts[0].items)

    def __len__(self) -> int:
        return len(self._drafts[0].items)


def _disagreements(
    layer: Layer, change: Change, draft: Draft, below: Draft, called: Mapping[str, str]
) -> Iterator[Conflict]:
    """What the layers below now hold that differs from when the change was made."""
    do = change.do
    for text in _texts_given(do):
        others = [o for o in draft.holders(text) if o != _item_of(do)]
        meant = draft.are_shared(normalised(text))
        if others and not meant and isinstance(do, AddItem | AddName | RenameItem):
            yield conflict(
                "shared",
                layer,
                change,
                f'"{text}" is also a name of {" and ".join(called.get(o, o) for o in others)}',
                "Both keep it, and the tool asks which one is meant",
                f'Say which one "{text}" means, or undo the change',
                called,
            )
    changed = _changed_below(do, below, called)
    if changed:
        yield conflict("changed", layer, change, changed, STANDS, CONFIRM, called)


def _changed_below(do: Operation, below: Draft, called: Mapping[str, str]) -> str | None:
    """How what a change replaced differs from what its author saw, or None."""
    match do:
        case Mean() | MoveName():
            saw = do.source if isinstance(do, MoveName) else do.base
            now = [owner for owner in below.holders(do.name) if owner not in (saw, do.item)]
            if now:
                return f'"{do.name}" is now a name of {called.get(now[0], now[0])} below this change'
        case RenameItem(base=str(base)) if do.item in below.items:
            now_text = below.items[do.item].name.text
            if now_text not in (base, do.name.text):
                return f'it was called "{base}" then and is now called "{now_text}" below this change'
        case SetSlot() | ClearSlot():
            slot = below.slot(do.tray, do.at)
            lies, wanted = slot.item if slot else None, do.item if isinstance(do, SetSlot) else None
            if lies not in (do.base, wanted):
                then = called.get(do.base, do.base) if do.base else "nothing"
                now_there = called.get(lies, lies) if lies else "nothing"
                return f"the slot held {then} then and holds {now_there} now"
        case SetSteps(base=str(base)) if do.procedure in below.procedures:
            known = below.procedures[do.procedure]
            if base != steps_fingerprint(known) and known.steps != do.steps:
                return "the steps below have changed since"
        case SetField() if do.item in below.items and do.base is not None:
            held = below.items[do.item]
            now_value = field_value(held, do.field)
            known_values = [canonical_value(held, do.field, value) for value in (do.base, do.value)]
            if now_value not in known_values:
                return f"it was {do.base!r} then and is {now_value!r} below now"
        case AddItem() if do.item.id in below.items and below.items[do.item.id] != do.item:
            return "below this change there is now an item with this id"
        case AddTray() if below.trays.get(do.tray.id, do.tray) != do.tray.with_kits(below.kits):
            return "below this change there is now a tray with this id"
        case AddProcedure() if below.procedures.get(do.procedure.id, do.procedure) != do.procedure:
            return "below this change there is now a procedure with this id"
    return None


def _undone_nothing(layer: Layer) -> Iterator[Conflict]:
    seen: set[str] = set()
    for change in layer.changes:
        if isinstance(change.do, Undo) and change.do.change not in seen:
            why = f"there is no earlier change {change.do.change}"
            yield conflict("gone", layer, change, why, "Nothing changed", "Undo the undo", {})
        seen.add(change.id)


def _finished(pack: Pack, draft: Draft) -> Pack:
    """The draft as a pack: notes about what is gone left out, items that share a name set apart."""
    known = draft.items
    items = tuple(_with_known_notes(item, known) for item in known.values())
    wide, together = (_known_pairs(pairs, known) for pairs in (draft.wide_margin, draft.offered_together))
    clashes = {
        (owners[0], other)
        for form, owners in draft.owners.items()
        if len(owners) > 1 and not draft.are_shared(form)
        for other in owners[1:]
    }
    have = {frozenset(pair) for pair in wide}
    wide += sorted(pair for pair in clashes if frozenset(pair) not in have)
    whole = pack.model_copy(
        update={
            "items": items,
            "kits": tuple(draft.kits.values()),
            "trays": tuple(draft.trays.values()),
            "procedures": tuple(draft.procedures.values()),
            "wide_margin": tuple(wide),
            "offered_together": tuple(together),
        }
    )
    return with_kept(whole, draft.settings.kept)


def _known_pairs(pairs: Sequence[tuple[str, str]], known: Mapping[str, Item]) -> list[tuple[str, str]]:
    return [pair for pair in pairs if pair[0] in known and pair[1] in known]


def _with_known_notes(item: Item, known: Mapping[str, Item]) -> Item:
    if all(alike.item in known for alike in item.confused_with):
        return item
    notes: tuple[LookAlike, ...] = tuple(alike for alike in item.confused_with if alike.item in known)
    return item.model_copy(update={"confused_with": notes})


def _left_open(pack: Pack, composed: Pack, draft: Draft, conflicts: Sequence[Conflict]) -> Iterator[Conflict]:
    """Conflicts that no single change causes: steps that ask for what is not on their tray, dead notes."""
    shipped = {procedure.id: procedure for procedure in pack.procedures}
    laid = {tray.id: tray for tray in pack.trays}
    on_tray = {tray.id: {slot.item for slot in tray.slots} for tray in composed.trays}
    called = composed.called
    for procedure in composed.procedures:
        tray = draft.trays.get(procedure.tray)
        if tray is None or (shipped.get(procedure.id) == procedure and laid.get(tray.id) == tray):
            continue
        asked = (*(i for step in procedure.steps for i in step.items), *procedure.any_time)
        for item in dict.fromkeys(asked):
            if item not in on_tray[tray.id]:
                yield _open(
                    ("procedure", procedure.id, item),
                    f"{procedure.name} asks for {called[item]}, which is not on the tray {tray.name}",
                    "The tool names it without a slot",
                    "Give it a slot or take it out of the steps",
                )
    for noted in (item for item in draft.items.values() if item.id not in draft.taken_over):
        for alike in noted.confused_with:
            if alike.item not in draft.items and alike.item not in draft.retired:
                yield _open(
                    ("field", noted.id, "confused_with"),
                    f"a note on {noted.name.text} compares it with {alike.item}, which does not exist",
                    "The note is left out",
                    "Correct the note",
                )


def _open(about: Subject, what: str, holds: str, remedy: str) -> Conflict:
    return Conflict("missing", "all changes together", "", "", "", about, what, holds, remedy)


def _item_of(operation: Operation) -> str | None:
    match operation:
        case AddItem():
            return operation.item.id
        case RenameItem() | AddName() | MoveName() | Mean() | RetireItem():
            return operation.item
        case _:
            return None


def _texts_given(operation: Operation) -> tuple[str, ...]:
    """The names, written and spoken, that an operation gives to an item."""
    match operation:
        case AddItem():
            return operation.item.ways_to_say
        case RenameItem() | AddName():
            return (operation.name.text, *operation.name.say)
        case MoveName() | Mean():
            return (operation.name,)
        case _:
            return ()


def _names_given(operation: Operation) -> Iterable[str]:
    return (form for text in _texts_given(operation) if (form := normalised(text)))


def _forms(item: Item) -> Iterator[str]:
    return map(normalised, item.ways_to_say)
