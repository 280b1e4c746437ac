"""A tray as a clinic lays it: what is taken off, what is added (of any field), and that it was looked over.

Takes a pack with its changes and what a lead has ticked, and gives the changes that stand for it. Steps no
longer ask for what nothing on their tray holds any more.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from vocab.errors import Declined
from vocab.layers.changes import ClearSlot, ConfirmTray, Operation, SetSlot, SetSteps, SetTrayKits, UseItem
from vocab.layers.draft import CannotApply, Draft, tray_fingerprint, without_item
from vocab.pack.load import shipped_languages, shipped_pack
from vocab.pack.schema import Pack, Procedure, Tray


def laid_here(pack: Pack, tray_id: str, off: Collection[str], added: Sequence[str]) -> tuple[Operation, ...]:
    """The changes after which a tray lies as the clinic lays it, the last one that it has been looked over.

    Args:
        pack: as it is now.
        off: addresses whose slots are taken off. A kit that would be left empty is not opened beside the tray
            any more, and stays packed as it is for others.
        added: items, each of this pack or of another that comes with traycall; they get the next free
            numbers, at the end of the last row.

    Raises:
        Declined: why it cannot be laid so.
    """
    draft = Draft(pack)
    if tray_id not in draft.trays:
        raise Declined("there is no such tray.")
    before = dict(draft.trays)
    changes: list[Operation] = []

    def make(*some: Operation) -> None:
        for change in some:
            draft.apply(change)
            changes.append(change)

    try:
        make(*_added(pack, before[tray_id], added))
        make(*_taken_off(before[tray_id], off))
        make(*_steps_left(draft, before))
    except CannotApply as cannot:
        raise Declined(f"{cannot.why}. {cannot.remedy}.") from None
    return (*changes, ConfirmTray(tray=tray_id, laid=tray_fingerprint(draft.trays[tray_id])))


def field_having(item: str, language: str) -> str | None:
    """The first vocabulary of a language that comes with traycall and has an item; None for none."""
    named = (name for name, of in shipped_languages().items() if of == language)
    return next((name for name in named if item in shipped_pack(name).by_id), None)


def _added(pack: Pack, tray: Tray, added: Sequence[str]) -> Iterator[Operation]:
    number = max((int(slot.at) for slot in tray.own_slots if slot.at.isdecimal()), default=0)
    for at, item in enumerate(dict.fromkeys(added), number + 1):
        if item not in pack.by_id:
            field = field_having(item, pack.language)
            if field is None:
                raise Declined("one of the added items is in no vocabulary that comes with traycall.")
            yield UseItem(item=item, field=field)
        yield SetSlot(tray=tray.id, at=str(at), item=item, row=tray.rows[-1].name)


def _taken_off(tray: Tray, off: Collection[str]) -> Iterator[Operation]:
    left = tuple(kit.id for kit in tray.opened if not {slot.at for slot in kit.on_tray} <= set(off))
    if left != tuple(kit.id for kit in tray.opened):
        yield SetTrayKits(tray=tray.id, kits=left)
    in_kits = (slot for kit in tray.opened if kit.id in left for slot in kit.on_tray)
    yield from (ClearSlot(tray=tray.id, at=slot.at) for slot in (*tray.own_slots, *in_kits) if slot.at in off)


def _steps_left(draft: Draft, before: Mapping[str, Tray]) -> Iterator[Operation]:
    """The steps of procedures whose tray has lost something that they ask for."""
    for procedure in tuple(draft.procedures.values()):
        held = {slot.item for slot in draft.trays[procedure.tray].slots}
        lost = {slot.item for slot in before[procedure.tray].slots} - held
        left = _without(procedure, lost)
        if left != procedure:
            yield SetSteps(procedure=procedure.id, steps=left.steps, any_time=left.any_time)


def _without(procedure: Procedure, lost: Collection[str]) -> Procedure:
    for item in sorted(lost):
        procedure = without_item(procedure, item)
    return procedure
