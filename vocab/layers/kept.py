"""For clinics that keep one of several items with a shared name, such as one of two kinds of rubber dam.

Takes a pack and what is kept. Gives the pack in which the shared names mean the kept item, which also takes
the slots of the others; those stay known by the names that are theirs alone. Also says for which items of a
pack a clinic may choose: those that share a name and differ in latex.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from vocab.layers.changes import SetKept
from vocab.layers.draft import shared_forms
from vocab.pack.references import normalised
from vocab.pack.schema import Item, Kit, Name, Pack, Procedure, Row, Slot, Step, Tray


def to_choose(pack: Pack, kept: Sequence[SetKept] = ()) -> tuple[SetKept, ...]:
    """What a clinic may keep one of: for each shared name the items that differ in latex. Where nothing was
    chosen yet, all are kept."""
    found = {frozenset(one.items): one for one in kept if pack.by_id.keys() >= set(one.items)}
    holders: dict[str, list[Item]] = {}
    for item in pack.items:
        for form in shared_forms(item):
            holders.setdefault(form, []).append(item)
    for item in pack.items:
        for name in item.own_names if item.latex else ():
            held = holders.get(normalised(name.text), [])
            ids = tuple(other.id for other in held)
            if len({other.latex for other in held}) > 1 and frozenset(ids) not in found:
                found[frozenset(ids)] = SetKept(called=name.text, items=ids, kept=None)
    return tuple(found.values())


def with_kept(pack: Pack, kept: Iterable[SetKept]) -> Pack:
    """The pack with one of each of these items kept; a name that no other item has is no longer shared."""
    instead: dict[str, str] = {}
    items = dict(pack.by_id)
    for one in kept:
        if one.kept in items:
            others = [item for item in one.items if item in items and item != one.kept]
            instead.update(dict.fromkeys(others, one.kept))
    for other, mine in instead.items():
        items[other] = _without_shared(items[other], shared_forms(items[mine]))
    owners: dict[str, int] = {}
    for item in items.values():
        for form in shared_forms(item):
            owners[form] = owners.get(form, 0) + 1
    alone = {form for form, count in owners.items() if count == 1}
    kits = {kit.id: _packed(kit, instead, items) for kit in pack.kits}
    changed = {
        "items": tuple(_unshared(item, alone) for item in items.values()),
        "kits": tuple(kits.values()),
        "trays": tuple(_laid(tray, instead, items).with_kits(kits) for tray in pack.trays),
        "procedures": tuple(_asked(procedure, instead) for procedure in pack.procedures),
    }
    return pack.model_copy(update=changed)


def _without_shared(item: Item, shared: frozenset[str]) -> Item:
    """The item without the names it shares with what is kept; one name always stays."""
    kept = [name for name in item.own_names if not (name.shared and _forms(name) & shared)]
    if not kept or len(kept) == len(item.own_names):
        return item
    return item.model_copy(update={"name": kept[0], "synonyms": tuple(kept[1:])})


def _unshared(item: Item, alone: set[str]) -> Item:
    if not shared_forms(item) & alone:
        return item
    name, *synonyms = (
        name.model_copy(update={"shared": False}) if name.shared and _forms(name) <= alone else name
        for name in item.own_names
    )
    return item.model_copy(update={"name": name, "synonyms": tuple(synonyms)})


def _forms(name: Name) -> frozenset[str]:
    return frozenset(normalised(text) for text in name.ways_to_say)


def _laid(tray: Tray, instead: Mapping[str, str], items: Mapping[str, Item]) -> Tray:
    """The tray with the kept item in the slots of the others; if it is there already, such a slot goes."""
    there = {slot.item for slot in tray.own_slots}
    if not there & instead.keys():
        return tray
    rows = [(row, _relaid(row.slots, instead, items, there)) for row in tray.rows]
    left = tuple(Row(name=row.name, slots=slots) for row, slots in rows if slots)
    chair_side = _relaid(tray.chair_side, instead, items, there)
    return tray.model_copy(update={"rows": left or tray.rows, "chair_side": chair_side})


def _packed(kit: Kit, instead: Mapping[str, str], items: Mapping[str, Item]) -> Kit:
    """The kit likewise; one with nothing else in it stays as it is."""
    slots = _relaid(kit.slots, instead, items, {slot.item for slot in kit.slots})
    return kit.model_copy(update={"slots": slots or kit.slots})


def _relaid(
    slots: Iterable[Slot], instead: Mapping[str, str], items: Mapping[str, Item], there: set[str]
) -> tuple[Slot, ...]:
    """The slots with what is kept; `there`, what already has a slot, grows by what is put in one."""
    laid = []
    for slot in slots:
        mine = instead.get(slot.item)
        if mine is None:
            laid.append(slot)
        elif mine not in there:
            there.add(mine)
            known = {variant.text for variant in items[mine].variants}
            variants = tuple(v for v in slot.variants if v in known)
            laid.append(slot.model_copy(update={"item": mine, "variants": variants}))
    return tuple(laid)


def _asked(procedure: Procedure, instead: Mapping[str, str]) -> Procedure:
    steps = tuple(_step(step, instead) for step in procedure.steps)
    any_time = _weights(procedure.any_time, instead)
    if steps == procedure.steps and any_time == procedure.any_time:
        return procedure
    return procedure.model_copy(update={"steps": steps, "any_time": any_time})


def _step(step: Step, instead: Mapping[str, str]) -> Step:
    items = _weights(step.items, instead)
    return step if items == step.items else step.model_copy(update={"items": items})


def _weights(asked: Mapping[str, float], instead: Mapping[str, str]) -> dict[str, float]:
    """How often each is asked for, the others' share given to what is kept."""
    weights: dict[str, float] = {}
    for item, weight in asked.items():
        mine = instead.get(item, item)
        weights[mine] = weights.get(mine, 0.0) + weight
    return weights
