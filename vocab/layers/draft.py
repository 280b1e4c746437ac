"""A working copy of a pack on which the changes of a layer are carried out, one at a time.

Takes a pack and operations and gives a new pack. An operation that cannot be carried out raises
`CannotApply` and leaves the draft as it was. A name held by two items is noted here, not settled.
"""

from __future__ import annotations

import copy
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from pydantic import ValidationError

from vocab.errors import TraycallError, nearest
from vocab.layers.changes import (
    CHAIR_SIDE,
    AddItem,
    AddName,
    AddProcedure,
    AddTray,
    AskBack,
    ClearSlot,
    ConfirmTray,
    Dentist,
    Hand,
    Kept,
    Mean,
    MoveName,
    Operation,
    RemoveName,
    RenameItem,
    RetireItem,
    SetDentists,
    SetField,
    SetHandedness,
    SetInjuryCard,
    SetKept,
    SetKit,
    SetMakerTime,
    SetNotDone,
    SetPhotograph,
    SetPlace,
    SetSlot,
    SetSteps,
    SetTrayKits,
    SetTraysUsed,
    UseItem,
)
from vocab.pack.labels import item_problem, name_problem, pack_problem
from vocab.pack.load import shipped_pack
from vocab.pack.references import normalised
from vocab.pack.schema import Item, Kit, Name, Pack, Procedure, Row, Slot, Step, Tray, Variant


@dataclass(frozen=True)
class ClinicSettings:
    """What differs from clinic to clinic.

    `not_done` are the procedures that it does not do, `confirmed` the trays that it has looked over, each
    with the fingerprint that it had then; `maker_times_s` by timer, `injury_card` line by line, () where none
    was written; `kept` where only one of some items is kept; `photographs` one for each item that has one;
    `places` where things are kept between patients.
    """

    maker_times_s: Mapping[str, float]
    handedness: Hand = "right"
    not_done: tuple[str, ...] = ()
    confirmed: Mapping[str, str] = field(default_factory=dict)
    dentists: tuple[Dentist, ...] = ()
    injury_card: tuple[str, ...] = ()
    kept: tuple[SetKept, ...] = ()
    photographs: tuple[SetPhotograph, ...] = ()
    places: tuple[SetPlace, ...] = ()

    def done(self, pack: Pack) -> tuple[Procedure, ...]:
        """The procedures of a pack that this clinic does."""
        return tuple(one for one in pack.procedures if one.id not in self.not_done)

    def trays_laid(self, pack: Pack) -> tuple[Tray, ...]:
        """The trays of what it does, and those that no procedure names."""
        used = {one.tray for one in self.done(pack)}
        left_out = {one.tray for one in pack.procedures} - used
        return tuple(tray for tray in pack.trays if tray.id not in left_out)

    def has_confirmed(self, tray: Tray) -> bool:
        """Whether a tray lies as the clinic has confirmed it."""
        return self.confirmed.get(tray.id) == tray_fingerprint(tray)

    def place_of(self, kind: Kept, kept_id: str) -> str | None:
        """Where something is kept between patients; None where that was not said."""
        return next((one.place for one in self.places if (one.kind, one.id) == (kind, kept_id)), None)

    def photograph_of(self, item: str) -> str | None:
        """The checksum of an item's photograph; None where it has none."""
        return next((one.file for one in self.photographs if one.item == item), None)

    def hand_of(self, dentist: str | None) -> Hand:
        """The hand that a dentist works with: their own, else the usual one here."""
        own = (one.hand for one in self.dentists if one.id == dentist)
        return next(own, None) or self.handedness


class CannotApply(Exception):
    """An operation that does not fit the draft: why not, and what to do."""

    def __init__(self, kind: Literal["gone", "unfit"], why: str, remedy: str) -> None:
        super().__init__(why)
        self.kind, self.why, self.remedy = kind, why, remedy


class Draft:
    """The records of a pack by id, and who holds which name."""

    def __init__(self, pack: Pack) -> None:
        self.items = dict(pack.by_id)
        self.kits = {kit.id: kit for kit in pack.kits}
        self.trays = {tray.id: tray for tray in pack.trays}
        self.procedures = {procedure.id: procedure for procedure in pack.procedures}
        self.wide_margin, self.offered_together = pack.wide_margin, pack.offered_together
        self.language = pack.language
        self.settings = ClinicSettings({})
        self.retired: set[str] = set()
        self.taken_over: set[str] = set()
        self.owners: dict[str, tuple[str, ...]] = {}
        self._names = 0
        for item in pack.items:
            self._own(item)

    def snapshot(self) -> Draft:
        """A copy that later changes do not touch; the records themselves are frozen."""
        other = copy.copy(self)
        other.items, other.trays, other.kits = dict(self.items), dict(self.trays), dict(self.kits)
        other.procedures, other.owners = dict(self.procedures), dict(self.owners)
        other.retired, other.taken_over = set(self.retired), set(self.taken_over)
        return other

    def holders(self, name: str) -> tuple[str, ...]:
        """The ids of the items that hold a written or spoken name."""
        return self.owners.get(normalised(name), ())

    def are_shared(self, form: str) -> bool:
        """Whether a name, as `normalised` writes it, is meant for several items, all of which say so."""
        return all(form in shared_forms(self.items[owner]) for owner in self.owners.get(form, ()))

    def asks_back(self, pair: tuple[str, str]) -> bool:
        """Whether two items are always asked back."""
        return pair in self.wide_margin or pair[::-1] in self.wide_margin

    def slot(self, tray: str, at: str) -> Slot | None:
        """What is in a slot, or None where there is no such slot."""
        slots = self.trays[tray].slots if tray in self.trays else ()
        return next((slot for slot in slots if slot.at == at), None)

    def apply(self, operation: Operation) -> None:
        """Carries out one operation; raises `CannotApply`."""
        match operation:
            case AddItem():
                self._put(operation.item)
            case UseItem():
                self._use(operation)
            case RenameItem():
                self._rename(operation)
            case RetireItem():
                self._retire(operation.item)
            case AddName():
                self._add_name(self.item(operation.item), operation.name)
            case MoveName() | Mean():
                self._give(operation.name, operation.item)
            case RemoveName():
                self._put(_without(self.item(operation.item), normalised(operation.name)))
            case SetSlot():
                self._set_slot(operation)
            case ClearSlot():
                if self.slot(operation.tray, operation.at) is not None:
                    self._clear_slot(self.trays[operation.tray], operation.at)
            case AddTray():
                for slot in operation.tray.slots:
                    self._check_variants(slot.item, slot.variants)
                self.trays[operation.tray.id] = self._opened(operation.tray, operation.tray.kits)
            case SetKit():
                self._set_kit(operation.kit)
            case SetTrayKits():
                self.trays[operation.tray] = self._opened(self._tray(operation.tray), operation.kits)
            case AddProcedure():
                self._add_procedure(operation.procedure)
            case SetSteps():
                self._set_steps(operation)
            case SetField():
                self._set_field(operation)
            case AskBack():
                for item in operation.items:
                    self.item(item)
                if not self.asks_back(operation.items):
                    self.wide_margin = (*self.wide_margin, operation.items)
            case _:
                self.settings = self._set(operation)

    def item(self, item_id: str) -> Item:
        """The item; raises `CannotApply` where it is gone."""
        if item_id not in self.items:
            raise CannotApply(
                "gone",
                f"there is no item {item_id}{nearest(item_id, self.items)}",
                "Choose another item or undo the change",
            )
        return self.items[item_id]

    # --- items and names ----------------------------------------------------------------------------

    def _put(self, item: Item) -> None:
        item, known = _said_once(item), self.items.get(item.id)
        self._check_new_names(item, known)
        if known is not None:
            self._disown(known)
        self.items[item.id] = item
        self.retired.discard(item.id)
        self._own(item)

    def _use(self, operation: UseItem) -> None:
        """Takes over an item of another shipped pack, as it came there. Names that it has in common with
        items of this one are shared by both."""
        if operation.item in self.items:
            return
        try:
            pack = shipped_pack(operation.field)
        except TraycallError as error:
            raise CannotApply("gone", str(error), "Choose another item or undo the change") from None
        if operation.item not in pack.by_id or pack.language != self.language:
            near = nearest(operation.item, pack.by_id)
            why = f"{pack.name} has no item {operation.item} in this language{near}"
            raise CannotApply("gone", why, "Choose another item or undo the change")
        item = pack.item(operation.item)
        both = frozenset(form for form in _forms(item) if form in self.owners)
        for holder in dict.fromkeys(owner for form in both for owner in self.owners[form]):
            self._put(_sharing(self.items[holder], both))
        self._put(_sharing(item, both))
        self.taken_over.add(item.id)
        self.wide_margin = tuple(dict.fromkeys((*self.wide_margin, *pack.wide_margin)))
        self.offered_together = tuple(dict.fromkeys((*self.offered_together, *pack.offered_together)))

    def _check_new_names(self, item: Item, known: Item | None) -> None:
        """Only what is new is checked, so that a longer name from elsewhere stays usable."""
        had = known.names if known else ()
        before = set(had)
        for name in item.names:
            for text in name.ways_to_say if name not in before else ():
                if problem := name_problem(text):
                    why, _, remedy = problem.partition("; ")
                    raise CannotApply("unfit", f"the name {why}", remedy.capitalize())
        if len(item.names) > len(had):
            every = self._names - len(had) + len(item.names)
            if problem := item_problem(len(item.names)) or pack_problem(every):
                why, _, remedy = problem.partition("; ")
                raise CannotApply("unfit", why, remedy.capitalize())

    def _own(self, item: Item) -> None:
        self._names += len(item.names)
        for form in _forms(item):
            self.owners[form] = (*self.owners.get(form, ()), item.id)

    def _disown(self, item: Item) -> None:
        self._names -= len(item.names)
        for form in _forms(item):
            left = tuple(owner for owner in self.owners[form] if owner != item.id)
            if left:
                self.owners[form] = left
            else:
                del self.owners[form]

    def _add_name(self, item: Item, name: Name) -> None:
        """Adds the name as given, replacing the same name with other spoken forms. A name of one
        of the item's variants already says more and stays as it is."""
        text = normalised(name.text)
        if not text:
            raise CannotApply("unfit", "the name has no letters or digits", "Write it in words")
        if variant_called(item, text) is not None:
            return
        if normalised(item.name.text) == text:
            self._put(item.model_copy(update={"name": name}))
            return
        kept = [name if normalised(old.text) == text else old for old in item.synonyms]
        if name not in kept:
            kept.append(name)
        self._put(item.model_copy(update={"synonyms": tuple(kept)}))

    def _rename(self, operation: RenameItem) -> None:
        item, text = self.item(operation.item), normalised(operation.name.text)
        if not text:
            raise CannotApply("unfit", "the name has no letters or digits", "Write it in words")
        if (variant := variant_called(item, text)) is not None:
            why = f'"{operation.name.text}" means only its {variant}'
            raise CannotApply("unfit", why, "Choose a name for all its variants")
        old = (item.name,) if operation.keep_old and normalised(item.name.text) != text else ()
        rest = tuple(name for name in (*old, *item.synonyms) if normalised(name.text) != text)
        self._put(item.model_copy(update={"name": operation.name, "synonyms": rest}))

    def _give(self, name: str, item_id: str) -> None:
        """Makes the name mean `item_id` and no other item."""
        text, target = normalised(name), self.item(item_id)
        held = [self.items[owner] for owner in self.holders(name) if owner != item_id]
        poorer = [_without(owner, text) for owner in held]
        for owner in poorer:
            self._put(owner)
        if text not in _forms(target):
            own = (n for owner in held for n in owner.names if normalised(n.text) == text)
            given = next(own, Name(text=name))
            self._add_name(target, given.model_copy(update={"shared": False}))

    def _set_field(self, operation: SetField) -> None:
        item = self.item(operation.item)
        plain = item.model_dump(mode="json", by_alias=True)
        try:
            new = Item.model_validate({**plain, operation.field: operation.value})
        except ValidationError as error:
            said = error.errors(include_url=False)[0]["msg"].removeprefix("Value error, ")
            raise CannotApply("unfit", said[:1].lower() + said[1:], "Give another value") from None
        held = {variant for tray in self.trays.values() for variant in tray.variants_of(item.id)}
        gone = sorted(held - {variant.text for variant in new.variants})
        if gone:
            why = f"{', '.join(gone)} of it is on a tray"
            raise CannotApply("unfit", why, "Keep it, or first change what is in the slot")
        texts = new.ways_to_say
        if not all(map(normalised, [*texts, *(variant.text for variant in new.variants)])):
            raise CannotApply("unfit", "a name has no letters or digits", "Write it in words")
        self._put(new)

    def _retire(self, item_id: str) -> None:
        self.item(item_id)
        kits = {kit.id: left for kit in self.kits.values() if (left := _left_in(kit, item_id))}
        trays = {}
        for tray in self.trays.values():
            for slot in [slot for slot in tray.own_slots if slot.item == item_id]:
                tray = _cleared(tray, slot.at)
            trays[tray.id] = tray.with_kits(kits)
        procedures = {p.id: without_item(p, item_id) for p in self.procedures.values()}
        if len(self.items) == 1:
            raise CannotApply("unfit", "it is the only item", "Add another first")
        self.kits, self.trays, self.procedures = kits, trays, procedures
        self._disown(self.items.pop(item_id))
        self.retired.add(item_id)

    # --- trays, steps, settings ---------------------------------------------------------------------

    def _tray(self, tray_id: str) -> Tray:
        if tray_id not in self.trays:
            why = f"there is no tray {tray_id}{nearest(tray_id, self.trays)}"
            raise CannotApply("gone", why, "Choose another tray or undo the change")
        return self.trays[tray_id]

    def _set_slot(self, operation: SetSlot) -> None:
        tray = self._tray(operation.tray)
        self._check_variants(operation.item, operation.variants)
        new = Slot(at=operation.at, item=operation.item, count=operation.count, variants=operation.variants)
        if (kit := kit_at(tray, operation.at)) is not None:
            self._set_kit(_filled(kit, new))
            return
        here = row_of(tray, operation.at)
        if here is None and operation.row is None:
            raise CannotApply(
                "gone",
                f"the tray has no slot {operation.at} any more",
                "Name the row it belongs to, or undo the change",
            )
        if here is None or operation.row not in (None, here):
            self.trays[tray.id] = _with_slot(_removed(tray, operation.at), new, operation.row or CHAIR_SIDE)
            return
        self.trays[tray.id] = tray.model_copy(
            update={
                "rows": tuple(
                    row.model_copy(update={"slots": _replaced(row.slots, new)}) for row in tray.rows
                ),
                "chair_side": _replaced(tray.chair_side, new),
            }
        )

    def _check_variants(self, item_id: str, variants: Iterable[str]) -> None:
        item = self.item(item_id)
        known = [variant.text for variant in item.variants]
        for variant in variants:
            if variant not in known:
                there = f"; there are: {', '.join(known)}" if known else ""
                why = f"{item.name.text} has no size or pattern {variant!r}{nearest(variant, known)}{there}"
                raise CannotApply("gone", why, "Choose one that it has, or undo the change")

    def _clear_slot(self, tray: Tray, at: str) -> None:
        kit = kit_at(tray, at)
        if kit is None:
            self.trays[tray.id] = _cleared(tray, at)
            return
        slots = tuple(slot for slot in kit.slots if at != f"{kit.address} {slot.at}")
        if not slots:
            why = f"the kit {kit.name} would have nothing left in it"
            raise CannotApply("unfit", why, "Take the kit off the tray, or put something else in first")
        box = None if at == kit.address else kit.item
        self._set_kit(kit.model_copy(update={"slots": slots, "item": box}))

    def _set_kit(self, kit: Kit) -> None:
        for slot in kit.on_tray:
            self._check_variants(slot.item, slot.variants)
        if kit.picture:
            self.item(kit.picture)
        kits = {**self.kits, kit.id: kit}
        try:
            trays = {tray.id: tray.with_kits(kits) for tray in self.trays.values()}
        except ValueError as error:
            raise CannotApply("unfit", str(error), "Give the kit or its slots other addresses") from None
        self.kits, self.trays = kits, trays

    def _opened(self, tray: Tray, kits: Sequence[str]) -> Tray:
        """The tray with these kits beside it."""
        for kit in kits:
            if kit not in self.kits:
                why = f"there is no kit {kit}{nearest(kit, self.kits)}"
                raise CannotApply("gone", why, "Choose another kit, or add it first")
        try:
            return tray.model_copy(update={"kits": tuple(kits)}).with_kits(self.kits)
        except ValueError as error:
            raise CannotApply("unfit", str(error), "Give one of them another address") from None

    def _add_procedure(self, procedure: Procedure) -> None:
        self._tray(procedure.tray)
        self._check_steps(procedure.steps, procedure.any_time)
        self.procedures[procedure.id] = procedure

    def _procedure(self, procedure: str) -> Procedure:
        if procedure not in self.procedures:
            why = f"there is no procedure {procedure}{nearest(procedure, self.procedures)}"
            raise CannotApply("gone", why, "Choose another procedure or undo the change")
        return self.procedures[procedure]

    def _set_steps(self, operation: SetSteps) -> None:
        old = self._procedure(operation.procedure)
        any_time = old.any_time if operation.any_time is None else operation.any_time
        self._check_steps(operation.steps, any_time)
        self.procedures[old.id] = old.model_copy(update={"steps": operation.steps, "any_time": any_time})

    def _check_steps(self, steps: Iterable[Step], any_time: Mapping[str, float]) -> None:
        seen: set[str] = set()
        for step in steps:
            if step.id in seen:
                raise CannotApply("unfit", f"two steps have the id {step.id}", "Give each step its own id")
            seen.add(step.id)
            for item in step.items:
                self.item(item)
        for item in any_time:
            self.item(item)

    def _set(self, operation: Operation) -> ClinicSettings:
        """The settings after a change of one of them."""
        now = self.settings
        match operation:
            case SetMakerTime():
                timers = {
                    timer for p in self.procedures.values() for step in p.steps for timer in step.timers
                }
                # "cure" used to be one time for everything that is cured; it covers every "cure ...".
                if not any(
                    timer == operation.timer or timer.startswith(f"{operation.timer} ") for timer in timers
                ):
                    why = f"no step times {operation.timer!r}{nearest(operation.timer, timers)}"
                    raise CannotApply("gone", why, "Choose another timer or undo the change")
                times = {**now.maker_times_s, operation.timer: operation.seconds}
                return replace(now, maker_times_s=times)
            case SetHandedness():
                return replace(now, handedness=operation.hand)
            case SetTraysUsed():
                return now
            case SetNotDone():
                known = tuple(one for one in operation.procedures if one in self.procedures)
                return replace(now, not_done=known)
            case ConfirmTray():
                self._tray(operation.tray)
                return replace(now, confirmed={**now.confirmed, operation.tray: operation.laid})
            case SetDentists():
                return replace(now, dentists=operation.dentists)
            case SetInjuryCard():
                return replace(now, injury_card=operation.lines)
            case SetKept():
                for item in operation.items:
                    self.item(item)
                others = tuple(one for one in now.kept if set(one.items) != set(operation.items))
                return replace(now, kept=(*others, operation) if operation.kept else others)
            case SetPhotograph():
                self.item(operation.item)
                rest = tuple(one for one in now.photographs if one.item != operation.item)
                return replace(now, photographs=(*rest, operation) if operation.file else rest)
            case SetPlace():
                self._check_kept(operation)
                about = (operation.kind, operation.id)
                left = tuple(one for one in now.places if (one.kind, one.id) != about)
                return replace(now, places=(*left, operation) if operation.place else left)
        raise AssertionError(operation.op)

    def _check_kept(self, operation: SetPlace) -> None:
        if operation.kind == "tray":
            self._tray(operation.id)
        elif operation.kind == "item":
            self.item(operation.id)
        elif operation.id not in self.kits:
            why = f"there is no kit {operation.id}{nearest(operation.id, self.kits)}"
            raise CannotApply("gone", why, "Choose another kit or undo the change")


def steps_fingerprint(procedure: Procedure) -> str:
    """A short mark that differs whenever the steps of a procedure do."""
    plain = procedure.model_dump(mode="json", include={"steps", "any_time"})
    return hashlib.sha256(json.dumps(plain, sort_keys=True).encode()).hexdigest()[:12]


def tray_fingerprint(tray: Tray) -> str:
    """A short mark that differs whenever what lies on a tray, in its kits or at the chair does."""
    kits = [kit.model_dump(mode="json") for kit in tray.opened]
    plain = json.dumps([tray.model_dump(mode="json"), kits], sort_keys=True)
    return hashlib.sha256(plain.encode()).hexdigest()[:12]


def field_value(item: Item, field: str) -> Any:
    """A field of an item in the form a pack file gives it."""
    return item.model_dump(mode="json", by_alias=True, exclude_defaults=True).get(field)


def row_of(tray: Tray, at: str) -> str | None:
    """The name of the row or kit a slot is in, `CHAIR_SIDE` at the chair, None for no such slot."""
    if any(slot.at == at for slot in tray.chair_side):
        return CHAIR_SIDE
    if (kit := kit_at(tray, at)) is not None and any(slot.at == at for slot in kit.on_tray):
        return kit.name
    return next((row.name for row in tray.rows for slot in row.slots if slot.at == at), None)


def kit_at(tray: Tray, at: str) -> Kit | None:
    """The kit that an address is in, whether anything is there or not; None for a slot of the tray itself."""
    return next((kit for kit in tray.opened if at == kit.address or at.startswith(f"{kit.address} ")), None)


def canonical_value(item: Item, field: str, value: Any) -> Any:
    """A value of a field in the one form in which `field_value` gives it; as it is where it does not fit."""
    plain = item.model_dump(mode="json", by_alias=True)
    try:
        return field_value(Item.model_validate({**plain, field: value}), field)
    except ValidationError:
        return value


def variant_called(item: Item, text: str) -> str | None:
    """The variant that a name of the item means, as `normalised` writes it; None for the item as such."""
    return next(
        (
            variant
            for name, variant in item.variant_name_pairs
            if text in (normalised(form) for form in name.ways_to_say)
        ),
        None,
    )


def _said_once(item: Item) -> Item:
    """The item without synonyms that also say one of its variants, which say more."""
    said = {normalised(name.text) for name, _ in item.variant_name_pairs}
    kept = tuple(name for name in item.synonyms if normalised(name.text) not in said)
    return item if len(kept) == len(item.synonyms) else item.model_copy(update={"synonyms": kept})


def shared_forms(item: Item) -> frozenset[str]:
    """The names that an item says it shares, as names are compared."""
    written = (*item.own_names, *(name for variant in item.variants for name in variant.names))
    return frozenset(normalised(text) for name in written if name.shared for text in name.ways_to_say)


def _sharing(item: Item, forms: frozenset[str]) -> Item:
    """The item with these names, as they are compared, marked as names that others have, too."""

    def marked(name: Name) -> Name:
        both = any(normalised(text) in forms for text in name.ways_to_say)
        return name.model_copy(update={"shared": True}) if both else name

    variants = tuple(v.model_copy(update={"names": tuple(map(marked, v.names))}) for v in item.variants)
    names = {"name": marked(item.name), "synonyms": tuple(map(marked, item.synonyms)), "variants": variants}
    return item.model_copy(update=names)


def _forms(item: Item) -> tuple[str, ...]:
    """Every written and spoken name of an item, as names are compared."""
    return tuple(dict.fromkeys(form for text in item.ways_to_say if (form := normalised(text))))


def _without(item: Item, text: str) -> Item:
    """The item without a name or spoken form; the next synonym steps in for a preferred name."""
    kept = []
    for name in item.own_names:
        if normalised(name.text) != text:
            say = tuple(form for form in name.say if normalised(form) != text)
            kept.append(name.model_copy(update={"say": say}))
    if not kept:
        raise CannotApply(
            "unfit", f'"{item.name.text}" would have no name left', "Give it another name first"
        )
    variants = tuple(_variant_without(variant, text) for variant in item.variants)
    poorer = item.model_copy(update={"name": kept[0], "synonyms": tuple(kept[1:]), "variants": variants})
    if (variant := variant_called(poorer, text)) is not None:
        why = f'"{text}" is the name that its pattern of names gives to {variant}'
        raise CannotApply("unfit", why, "Change that pattern first (variant_names)")
    return poorer


def _variant_without(variant: Variant, text: str) -> Variant:
    """The variant without a name of its own; names made by a pattern stay."""
    return variant.model_copy(update={"names": tuple(n for n in variant.names if normalised(n.text) != text)})


def without_item(procedure: Procedure, item: str) -> Procedure:
    """The procedure with steps that ask for something else only; raises where no step would be left."""
    if item not in procedure.any_time and all(item not in step.items for step in procedure.steps):
        return procedure
    steps = []
    for step in procedure.steps:
        items = {key: weight for key, weight in step.items.items() if key != item}
        if items:
            steps.append(step.model_copy(update={"items": items}))
    if not steps:
        why = f"the procedure {procedure.name} asks for nothing else"
        raise CannotApply("unfit", why, "Change its steps first")
    any_time = {key: weight for key, weight in procedure.any_time.items() if key != item}
    return procedure.model_copy(update={"steps": tuple(steps), "any_time": any_time})


def _replaced(slots: tuple[Slot, ...], new: Slot) -> tuple[Slot, ...]:
    return tuple(new if slot.at == new.at else slot for slot in slots)


def _removed(tray: Tray, at: str) -> Tray:
    """The tray without a slot; a row that is left empty goes with it."""
    rows = []
    for row in tray.rows:
        slots = tuple(slot for slot in row.slots if slot.at != at)
        if slots:
            rows.append(row.model_copy(update={"slots": slots}))
    chair_side = tuple(slot for slot in tray.chair_side if slot.at != at)
    return tray.model_copy(update={"rows": tuple(rows), "chair_side": chair_side})


def _cleared(tray: Tray, at: str) -> Tray:
    cleared = _removed(tray, at)
    if not cleared.rows:
        why = f"tray {tray.name} would have nothing left on its rows"
        raise CannotApply("unfit", why, "Put something else there first")
    return cleared


def _filled(kit: Kit, new: Slot) -> Kit:
    """The kit with one of its slots, or its box, holding something else; `new.at` is the whole address."""
    if new.at == kit.address:
        return kit.model_copy(update={"item": new.item})
    new = new.model_copy(update={"at": new.at.removeprefix(f"{kit.address} ")})
    there = any(slot.at == new.at for slot in kit.slots)
    slots = _replaced(kit.slots, new) if there else (*kit.slots, new)
    return kit.model_copy(update={"slots": slots})


def _left_in(kit: Kit, item: str) -> Kit | None:
    """The kit without an item; None where nothing is left in it."""
    slots = tuple(slot for slot in kit.slots if slot.item != item)
    named = {field: None for field in ("item", "picture") if getattr(kit, field) == item}
    return kit.model_copy(update={"slots": slots, **named}) if slots else None


def _with_slot(tray: Tray, new: Slot, row_name: str) -> Tray:
    """The tray with one more slot at the end of a row, which is made where it is new."""
    if row_name == CHAIR_SIDE:
        if not tray.rows:
            why = f"tray {tray.name} would have nothing left on its rows"
            raise CannotApply("unfit", why, "Put something else there first")
        return tray.model_copy(update={"chair_side": (*tray.chair_side, new)})
    rows = list(tray.rows)
    for i, row in enumerate(rows):
        if row.name == row_name:
            rows[i] = row.model_copy(update={"slots": (*row.slots, new)})
            break
    else:
        rows.append(Row(name=row_name, slots=(new,)))
    return tray.model_copy(update={"rows": tuple(rows)})
