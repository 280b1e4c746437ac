"""A clinic's vocabulary: the shipped pack, its layers on disk, and every change to them.

Takes operations with who makes them, when and why, and gives what they would do, or the pack after saving
them. The browser and the command line call the same functions here. It never rewrites the pack, and never
saves a change that cannot be carried out or that would give one name to two items.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from vocab.errors import TraycallError, nearest
from vocab.files import data_folder, earlier_data_folder
from vocab.layers.apply import PACK, Composed, compose, with_bases
from vocab.layers.canonical import Lost
from vocab.layers.changes import (
    AddItem,
    AddName,
    AskBack,
    Change,
    ClearSlot,
    Dentist,
    Layer,
    Mean,
    Operation,
    RemoveName,
    RenameItem,
    SetDentists,
    SetField,
    SetSlot,
    Subject,
    Undo,
    UseItem,
    in_effect,
    in_words,
    short,
    subject,
)
from vocab.layers.conflicts import Conflict
from vocab.layers.draft import Draft, row_of, variant_called
from vocab.layers.store import CLINIC, LayerStore
from vocab.pack.labels import name_problem, same, text_problem
from vocab.pack.load import open_pack
from vocab.pack.references import normalised
from vocab.pack.schema import Name, Pack

ID = r"[a-z][a-z0-9_]{0,199}"
"""The form of a dentist's id, which is also a file name."""


class EditError(TraycallError):
    """Changes that were not saved; the text says why, one line per reason."""


@dataclass(frozen=True)
class Trouble:
    """Why an operation cannot be saved; `index` counts the operations from 0, None is all of them."""

    index: int | None
    message: str


@dataclass(frozen=True)
class Preview:
    """What operations would do: `lines` as text, `troubles` that forbid saving, `warnings` that do not."""

    operations: tuple[Operation, ...]
    lines: tuple[str, ...]
    troubles: tuple[Trouble, ...]
    warnings: tuple[str, ...]
    composed: Composed


@dataclass(frozen=True)
class Entry:
    """One line of the history; `counts` is False for what was undone."""

    layer: str
    change: Change
    counts: bool
    text: str


class Vocabulary:
    """A pack and its layers; `folder` holds the layer files, `dentist` None means no specific dentist."""

    def __init__(self, pack: Pack, folder: Path, dentist: str | None = None) -> None:
        self.pack, self.folder, self.dentist = pack, folder, dentist
        if dentist == CLINIC:
            raise EditError(f"a dentist cannot have the id {CLINIC!r}; give another")
        if dentist is not None and not re.fullmatch(ID, dentist):
            raise EditError(
                f"{short(dentist)!r} is not a dentist's id; `traycall edit clinic` lists the dentists"
            )
        self.names = (CLINIC,) if dentist is None else (CLINIC, dentist)

    def layers(self) -> tuple[Layer, ...]:
        """The layers as saved, lowest first."""
        return tuple(self.store(name).read().layer for name in self.names)

    def recovered(self) -> tuple[str, ...]:
        """What was broken on disk and is read from a backup for now, and each change that is missing because
        of it; () where all is well."""
        called = self.pack.called
        said: list[str] = []
        for name in self.names:
            read = self.store(name).read()
            said += [read.recovered] if read.recovered else []
            said += [_missing(name, lost, called) for lost in read.missing]
        return tuple(said)

    def composed(self) -> Composed:
        """The pack in use."""
        return compose(self.pack, self.layers())

    def dentist_called(self, text: str) -> str:
        """The id of the dentist with this id or listed under this name; an id that nobody has yet is taken
        as it is."""
        listed = self.composed().settings.dentists
        named = (one.id for one in listed if same(one.name) == same(text))
        return text if text in (one.id for one in listed) else next(named, text)

    def store(self, layer: str) -> LayerStore:
        """Where a layer is kept; raises `EditError` for a layer that is not open here."""
        if layer not in self.names:
            raise EditError(
                f"changes of {layer!r} are not open here; open are those of {', '.join(self.names)}"
            )
        return LayerStore(self.folder, layer, self.pack)

    def preview(
        self, layer: str, operations: Sequence[Operation], who: str, when: datetime, why: str = ""
    ) -> Preview:
        """What the operations would do; nothing is saved."""
        return self._preview(self.store(layer).read().layer, operations, who, when, why)[0]

    def record(
        self, layer: str, operations: Sequence[Operation], who: str, when: datetime, why: str = ""
    ) -> Composed:
        """Saves the operations, all or none, and returns the pack in use from now on.

        Raises:
            EditError: an operation cannot be carried out, changes nothing, or would share a name.
            Held: someone else is editing this layer.
        """
        with self.store(layer).editing(who, when) as editing:
            preview, changed = self._preview(editing.layer, operations, who, when, why)
            if preview.troubles:
                raise EditError("\n".join(t.message for t in preview.troubles))
            editing.save(changed)
        return preview.composed

    def undo(self, layer: str, change: str, who: str, when: datetime, why: str = "") -> Composed:
        """Takes back one change; the history keeps both."""
        return self.record(layer, (Undo(change=change),), who, when, why)

    def history(self, about: Subject | None = None) -> tuple[Entry, ...]:
        """Every change of the open layers, oldest first; only those about one subject if given."""
        called = {**self.pack.called, **self.composed().pack.called}
        entries = []
        for layer in self.layers():
            counting = {change.id for change in in_effect(layer)}
            known = {change.id: change for change in layer.changes}
            for change in layer.changes:
                do = change.do
                target = known.get(do.change) if isinstance(do, Undo) else change
                if about is None or (target is not None and subject(target.do) == about):
                    counts = change.id in counting or isinstance(do, Undo)
                    text = (
                        f"takes back: {in_words(target.do, called)}"
                        if target is not change and target
                        else ""
                    )
                    entries.append(Entry(layer.name, change, counts, text or in_words(do, called)))
        return tuple(entries)

    def _preview(
        self, layer: Layer, operations: Sequence[Operation], who: str, when: datetime, why: str
    ) -> tuple[Preview, Layer]:
        if not operations:
            raise EditError("there is nothing to change")
        if problem := name_problem(who) or text_problem(why):
            raise EditError(f"who is editing, or why, {problem}")
        at = self.names.index(layer.name)
        layers = [layer if name == layer.name else self.store(name).read().layer for name in self.names]
        below = compose(self.pack, layers[:at]).pack if at else self.pack
        before = compose(self.pack, layers)
        based = with_bases(operations, below)
        changed = layer.with_changes(based, who, when, why)
        new = {c.id: i for i, c in enumerate(changed.changes[len(layer.changes) :])}
        after = compose(self.pack, [changed if part is layer else part for part in layers])
        known = set(before.conflicts)
        troubles, warnings = [], []
        for conflict in after.conflicts:
            if conflict.layer == layer.name and conflict.change in new:
                troubles.append(Trouble(new[conflict.change], f"{conflict.what}; {_remedy(conflict)}"))
            elif conflict not in known:
                warnings.append(str(conflict))
        here = before if layer is layers[-1] else compose(self.pack, [*layers[:at], layer])
        troubles += [Trouble(i, text) for i, text in (*_idle(based, here.pack, layer), *_unfit(based))]
        troubles += [Trouble(i, text) for i, text in _given_again(based, layer, here.settings.dentists)]
        called = {**before.pack.called, **after.pack.called}
        lines = tuple(in_words(operation, called) for operation in based)
        order = sorted(troubles, key=lambda t: -1 if t.index is None else t.index)
        return Preview(based, lines, tuple(order), tuple(warnings), after), changed


def open_vocabulary(
    pack: str = "operative", layers: Path | None = None, dentist: str | None = None
) -> Vocabulary:
    """A shipped pack or a folder, with the layers over it; without a folder those of this user.

    Raises:
        TraycallError: no such pack, a broken one, or layers that belong to another.
    """
    loaded = open_pack(pack)
    folder = layers or layers_folder(loaded.id)
    clinic = Vocabulary(loaded, folder)
    return clinic if dentist is None else Vocabulary(loaded, folder, clinic.dentist_called(dentist))


def layers_folder(pack_id: str) -> Path:
    """Where the layers over a pack are kept unless a folder is given; where the first versions kept them, if
    they are there and nowhere else."""
    now, before = (folder / "layers" / pack_id for folder in (data_folder(), earlier_data_folder()))
    return before if before.exists() and not now.exists() else now


def moved_slot(pack: Pack, tray_id: str, source: str, target: str) -> tuple[Operation, ...]:
    """What dragging a slot's item onto another address does: the two change places.

    A target that does not exist yet takes the item, in the source's row, and the source slot goes.
    Raises `EditError` where there is no such tray or nothing lies at `source`.
    """
    draft = Draft(pack)
    held, there = draft.slot(tray_id, source), draft.slot(tray_id, target)
    if held is None:
        where = (
            f"tray {tray_id}{nearest(tray_id, draft.trays)}"
            if tray_id not in draft.trays
            else "slot " + source
        )
        raise EditError(f"there is no {where}; choose a slot that holds something")
    row = None if there else row_of(draft.trays[tray_id], source)
    put = SetSlot(tray=tray_id, at=target, item=held.item, count=held.count, variants=held.variants, row=row)
    if there is None:
        return put, ClearSlot(tray=tray_id, at=source)
    return put, SetSlot(tray=tray_id, at=source, item=there.item, count=there.count, variants=there.variants)


def name_added(pack: Pack, item: str, name: Name) -> tuple[Operation, ...]:
    """The operations that give an item one more name; a shared name is marked in every item that has it."""
    changes: list[Operation] = [AddName(item=item, name=name)]
    for other in pack.items if name.shared else ():
        held = next((n for n in other.own_names if normalised(n.text) == normalised(name.text)), None)
        if other.id != item and held is not None and not held.shared:
            changes.append(AddName(item=other.id, name=held.model_copy(update={"shared": True})))
    return tuple(changes)


def _idle(operations: Sequence[Operation], pack: Pack, layer: Layer) -> list[tuple[int, str]]:
    """The operations that would change nothing, and why; confirming an entry in conflict is a change."""
    draft = Draft(pack)
    counting = {change.id for change in layer.changes}
    open_subjects = {subject(change.do) for change in in_effect(layer)}
    found = []
    for i, do in enumerate(operations):
        why = None
        match do:
            case AddName() if do.item in draft.holders(do.name.text):
                known = draft.items[do.item]
                variant = variant_called(known, normalised(do.name.text))
                if variant is not None or do.name in known.own_names:
                    which = f", for its {variant}" if variant else ""
                    why = f'{known.name.text} already has the name "{short(do.name.text)}"{which}'
            case Mean() if draft.holders(do.name) == (do.item,) and subject(do) not in open_subjects:
                why = f'"{do.name}" already means {draft.items[do.item].name.text}'
            case RemoveName() if do.item in draft.items and do.item not in draft.holders(do.name):
                texts = [n.text for n in draft.items[do.item].names]
                why = f'{texts[0]} has no name "{short(do.name)}"{nearest(normalised(do.name), texts)}'
            case UseItem() if do.item in draft.items and subject(do) not in open_subjects:
                why = f"{draft.items[do.item].name.text} is in this vocabulary already"
            case ClearSlot() if do.tray in draft.trays and draft.slot(do.tray, do.at) is None:
                why = f"tray {do.tray} has no slot {do.at}"
            case AskBack() if draft.asks_back(do.items):
                one, other = (draft.items[item].name.text for item in do.items)
                why = f"{one} and {other} are already always asked about"
            case Undo() if do.change in counting and layer.change(do.change) is not None:
                target = layer.change(do.change)
                undone = target not in in_effect(layer) and not isinstance(target and target.do, Undo)
                why = f"{do.change} is already undone" if undone else None
        if why:
            found.append((i, why))
    return found


LABELS = frozenset({"text", "say", "name", "names", "at", "row", "variants", "variant_names", "called"})
"""Fields of changes that hold names, places and the like; other fields hold sentences."""


def _unfit(operations: Sequence[Operation]) -> Iterator[tuple[int, str]]:
    """The operations with a text that is too long or holds what cannot be seen. Only newly saved texts are
    checked, so that what was saved before stays valid; names are checked whenever they are used."""
    for i, do in enumerate(operations):
        about = do.field if isinstance(do, SetField) else do.op
        for field, text in _texts(about, do.model_dump()):
            problem = name_problem(text) if field in LABELS else text_problem(text)
            if problem and not (isinstance(do, AddName | RenameItem | AddItem) and field in ("text", "say")):
                yield i, f"{field.replace('_', ' ')}: the text {problem}"
                break


def _texts(field: str, value: object) -> Iterator[tuple[str, str]]:
    """Every text in plain data, with the field it belongs to."""
    if isinstance(value, str):
        yield field, value
    elif isinstance(value, Mapping):
        for key, held in value.items():
            yield from _texts(field if key == "value" else str(key), held)
    elif isinstance(value, Sequence):
        for held in value:
            yield from _texts(field, held)


def _given_again(
    operations: Sequence[Operation], layer: Layer, listed: Sequence[Dentist]
) -> Iterator[tuple[int, str]]:
    """An id is given once: neither to two dentists nor, after somebody has left, to another."""
    before = {d.id for change in layer.changes for d in _dentists_of(change.do)}
    gone = before - {dentist.id for dentist in listed}
    for i, do in enumerate(operations):
        ids = [dentist.id for dentist in _dentists_of(do)]
        for dentist_id in dict.fromkeys(ids):
            if dentist_id in gone:
                yield i, f"the id {dentist_id} belonged to someone who has left; give a new one"
            elif ids.count(dentist_id) > 1 or dentist_id in (CLINIC, PACK):
                yield i, f"the id {dentist_id} is taken; give each dentist their own"


def _dentists_of(operation: Operation) -> tuple[Dentist, ...]:
    return operation.dentists if isinstance(operation, SetDentists) else ()


def _missing(layer: str, lost: Lost, called: Mapping[str, str]) -> str:
    """A lost change as text."""
    if lost.change is None:
        return (
            f"{layer} {lost.id} is missing: what it did can no longer be read; make it again if you know it"
        )
    by, did = lost.change, in_words(lost.change.do, called)
    return f"{layer} {lost.id} is missing: {by.who}, {by.when:%Y-%m-%d}: it {did}; make it again"


def _remedy(conflict: Conflict) -> str:
    """What helps before anything is saved."""
    if conflict.kind == "shared":
        return "make it mean one of them, or choose another name"
    text = conflict.remedy.removesuffix(" or undo the change").removesuffix(",")
    return text[:1].lower() + text[1:]
