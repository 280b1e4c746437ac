"""What an editor may do to the vocabulary: one frozen record for each kind of change.

A layer is a list of changes on top of a shipped pack; each says who made it, when and why. `base` is what
the layers below held when the change was made, so that a later disagreement can be seen. Nothing here
applies a change; `vocab.layers.apply` does.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, Field, StringConstraints, field_validator, model_validator

from vocab.pack.labels import LONGEST_NAME, name_problem, shown
from vocab.pack.references import normalised
from vocab.pack.schema import Address, Identifier, Item, Kit, Name, Procedure, Step, Strict, Text, Tray

Subject = tuple[str, ...]
"""What a change is about; a later change about the same thing takes its place."""

Hand = Literal["right", "left"]

Checksum = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
"""SHA-256 of a file's bytes."""

CHAIR_SIDE = "chair side"
"""The row name that stands for the places beside the tray."""

FIELDS = (
    "class",
    "purpose",
    "look",
    "handing",
    "ends",
    "sharp",
    "reprocessing",
    "shank",
    "counted",
    "always_check",
    "read_back",
    "latex",
    "variants",
    "variant_names",
    "confused_with",
    "cautions",
)
"""What `set_field` may change about an item; its names have changes of their own."""
SENTENCES = ("class", "purpose", "look", "reprocessing", "read_back")
"""Those that hold a text as it is."""


class AddItem(Strict):
    """A thing the layers below do not have."""

    op: Literal["add_item"] = "add_item"
    item: Item


class RenameItem(Strict):
    """Another preferred name; the old one stays a synonym unless `keep_old` is off."""

    op: Literal["rename_item"] = "rename_item"
    item: Identifier
    name: Name
    keep_old: bool = True
    base: Text | None = None


class RetireItem(Strict):
    """A thing that is no longer used: it leaves the look-up, the trays and the steps."""

    op: Literal["retire_item"] = "retire_item"
    item: Identifier


class AddName(Strict):
    """One more synonym. `base` is the item that held the name below; None for nobody."""

    op: Literal["add_name"] = "add_name"
    item: Identifier
    name: Name
    base: Identifier | None = None


class MoveName(Strict):
    """A name goes from one item to another."""

    op: Literal["move_name"] = "move_name"
    name: Text
    source: Identifier
    item: Identifier


class RemoveName(Strict):
    """A synonym that nobody says here."""

    op: Literal["remove_name"] = "remove_name"
    item: Identifier
    name: Text


class Mean(Strict):
    """Whatever a name means below, in this layer it means `item`."""

    op: Literal["mean"] = "mean"
    name: Text
    item: Identifier
    base: Identifier | None = None


class SetSlot(Strict):
    """What is in a slot. A new address needs the `row` it is added to."""

    op: Literal["set_slot"] = "set_slot"
    tray: Identifier
    at: Address
    item: Identifier
    count: int = Field(default=1, ge=1)
    variants: tuple[Address, ...] = ()
    row: Text | None = None
    base: Identifier | None = None


class ClearSlot(Strict):
    """A slot that is taken off a tray."""

    op: Literal["clear_slot"] = "clear_slot"
    tray: Identifier
    at: Address
    base: Identifier | None = None


class AddTray(Strict):
    """A whole new tray."""

    op: Literal["add_tray"] = "add_tray"
    tray: Tray


class SetKit(Strict):
    """A kit with all that is in it, new or as it is from now on, on every tray that opens it."""

    op: Literal["set_kit"] = "set_kit"
    kit: Kit


class SetTrayKits(Strict):
    """Which kits are opened beside a tray, all of them."""

    op: Literal["set_tray_kits"] = "set_tray_kits"
    tray: Identifier
    kits: tuple[Identifier, ...]


class AddProcedure(Strict):
    """A whole new procedure."""

    op: Literal["add_procedure"] = "add_procedure"
    procedure: Procedure


class SetSteps(Strict):
    """The steps of a procedure, all of them; `any_time` None leaves those items as they are.

    `base` is the fingerprint of the steps below (see `apply.steps_fingerprint`).
    """

    op: Literal["set_steps"] = "set_steps"
    procedure: Identifier
    steps: tuple[Step, ...] = Field(min_length=1)
    any_time: dict[Identifier, Annotated[float, Field(gt=0)]] | None = None
    base: Text | None = None


class SetField(Strict):
    """One field of an item, in the form a pack file gives it."""

    op: Literal["set_field"] = "set_field"
    item: Identifier
    field: Text
    value: Any
    base: Any = None

    @field_validator("field")
    @classmethod
    def _is_known(cls, value: str) -> str:
        if value not in FIELDS:
            raise ValueError(f"there is no such field to set; fields: {', '.join(FIELDS)}")
        return value


class AskBack(Strict):
    """Two items of which one is never answered silently where the other may have been meant."""

    op: Literal["ask_back"] = "ask_back"
    items: tuple[Identifier, Identifier]

    @model_validator(mode="after")
    def _are_two(self) -> AskBack:
        if self.items[0] == self.items[1]:
            raise ValueError("a pair needs two different items; change one of them")
        return self


class SetMakerTime(Strict):
    """The maker's time for what a step times, in seconds."""

    op: Literal["set_maker_time"] = "set_maker_time"
    timer: Text
    seconds: Annotated[float, Field(gt=0, le=86_400)]
    product: str = ""


class SetHandedness(Strict):
    """The hand that works."""

    op: Literal["set_handedness"] = "set_handedness"
    hand: Hand


class SetTraysUsed(Strict):
    """The trays that this clinic lays, as earlier versions asked; read, without effect (`SetNotDone`)."""

    op: Literal["set_trays_used"] = "set_trays_used"
    trays: tuple[Identifier, ...]


class Dentist(Strict):
    """A person who asks; the name is what the screen shows, the hand is the one that works (None: as usual
    here). The id names the layer and stands in consents; it is given once and never to another person."""

    id: Identifier
    name: Text
    hand: Hand | None = None


class SetNotDone(Strict):
    """The procedures that this clinic does not do, all of them; () where it does them all."""

    op: Literal["set_not_done"] = "set_not_done"
    procedures: tuple[Identifier, ...]


class UseItem(Strict):
    """An item of another vocabulary that comes with traycall, used here as it is there."""

    op: Literal["use_item"] = "use_item"
    item: Identifier
    field: Identifier


class ConfirmTray(Strict):
    """The clinic lays a tray as it is now; `laid` is its fingerprint (see `draft.tray_fingerprint`)."""

    op: Literal["confirm_tray"] = "confirm_tray"
    tray: Identifier
    laid: Text


class SetDentists(Strict):
    """Who works here."""

    op: Literal["set_dentists"] = "set_dentists"
    dentists: tuple[Dentist, ...]


class SetInjuryCard(Strict):
    """What people do here after a needle stick, line by line, in the clinic's own words."""

    op: Literal["set_injury_card"] = "set_injury_card"
    lines: tuple[Text, ...]


class SetKept(Strict):
    """Which of some items that share the name `called` this clinic keeps; None for all of them.

    Where one is kept, the names that they share mean that one, and it takes the place of the others.
    """

    op: Literal["set_kept"] = "set_kept"
    called: Text
    items: tuple[Identifier, ...] = Field(min_length=2)
    kept: Identifier | None

    @model_validator(mode="after")
    def _is_one_of_them(self) -> SetKept:
        if self.kept is not None and self.kept not in self.items:
            raise ValueError(f"{self.kept} is not one of {', '.join(self.items)}; keep one of them, or all")
        return self


class SetPhotograph(Strict):
    """The clinic's own photograph of an item, by the checksum of its file (`vocab.layers.photographs`); None
    for none."""

    op: Literal["set_photograph"] = "set_photograph"
    item: Identifier
    file: Checksum | None = None


Kept = Literal["tray", "kit", "item"]
"""What is kept somewhere: the pack or cassette of a tray, a kit, or an item by itself."""


class SetPlace(Strict):
    """Where this clinic keeps something between patients ("cupboard 2, top drawer"); None for not said."""

    op: Literal["set_place"] = "set_place"
    kind: Kept
    id: Identifier
    place: Text | None = None

    @field_validator("place")
    @classmethod
    def _can_be_read(cls, value: str | None) -> str | None:
        if value is not None and (problem := name_problem(value)):
            raise ValueError(f"where it is kept {problem}")
        return value


class Undo(Strict):
    """An earlier change of this layer counts no more; undoing an undo makes it count again."""

    op: Literal["undo"] = "undo"
    change: Text


Operation = (
    AddItem
    | RenameItem
    | RetireItem
    | AddName
    | MoveName
    | RemoveName
    | Mean
    | SetSlot
    | ClearSlot
    | AddTray
    | SetKit
    | SetTrayKits
    | AddProcedure
    | SetSteps
    | SetField
    | AskBack
    | SetMakerTime
    | SetHandedness
    | SetTraysUsed
    | SetNotDone
    | UseItem
    | ConfirmTray
    | SetDentists
    | SetInjuryCard
    | SetKept
    | SetPhotograph
    | SetPlace
    | Undo
)


class Change(Strict):
    """One entry of a layer's history."""

    id: Text
    who: Text
    when: AwareDatetime
    why: str = ""
    do: Annotated[Operation, Field(discriminator="op")]

    @field_validator("when")
    @classmethod
    def _in_utc(cls, value: datetime) -> datetime:
        return value.astimezone(UTC)


class Layer(Strict):
    """Changes on top of a pack, oldest first. `name` is "clinic" or a dentist's id."""

    name: Identifier
    pack: Identifier
    pack_version: Text
    changes: tuple[Change, ...] = ()

    def change(self, change_id: str) -> Change | None:
        """The change with this id, or None."""
        return next((c for c in self.changes if c.id == change_id), None)

    def with_changes(self, operations: Sequence[Operation], who: str, when: datetime, why: str = "") -> Layer:
        """This layer and new changes at its end, with ids that were never used before."""
        last = max((number(c.id) for c in self.changes), default=0)
        new = tuple(
            Change(id=f"c{last + i}", who=who, when=when, why=why, do=operation)
            for i, operation in enumerate(operations, start=1)
        )
        return self.model_copy(update={"changes": (*self.changes, *new)})


def number(change_id: str) -> int:
    """The number in a change's id; 0 for an id that was written by hand."""
    return int(change_id[1:]) if re.fullmatch(r"c[0-9]{1,9}", change_id) else 0


def in_effect(layer: Layer) -> tuple[Change, ...]:
    """The changes that count, oldest first: neither undone nor an undo themselves."""
    undone: set[str] = set()
    kept: list[Change] = []
    for change in reversed(layer.changes):
        if change.id in undone:
            continue
        if isinstance(change.do, Undo):
            undone.add(change.do.change)
        else:
            kept.append(change)
    return tuple(reversed(kept))


def subject(operation: Operation) -> Subject:
    """What a change is about."""
    match operation:
        case AddItem(item=item):
            return ("item", item.id)
        case RetireItem(item=item_id) | UseItem(item=item_id):
            return ("item", item_id)
        case RenameItem(item=item_id):
            return ("preferred", item_id)
        case AddName(name=name):
            return ("name", normalised(name.text))
        case MoveName(name=text) | RemoveName(name=text) | Mean(name=text):
            return ("name", normalised(text))
        case SetSlot(tray=tray, at=at) | ClearSlot(tray=tray, at=at):
            return ("slot", tray, at)
        case AddTray(tray=new_tray):
            return ("tray", new_tray.id)
        case SetKit(kit=kit):
            return ("kit", kit.id)
        case SetTrayKits(tray=tray):
            return ("tray_kits", tray)
        case ConfirmTray(tray=tray):
            return ("confirmed", tray)
        case AddProcedure(procedure=new_procedure):
            return ("procedure", new_procedure.id)
        case SetSteps(procedure=procedure):
            return ("steps", procedure)
        case SetField(item=item_id, field=field):
            return ("field", item_id, field)
        case AskBack(items=items):
            return ("ask_back", *sorted(items))
        case SetMakerTime(timer=timer):
            return ("maker_time", timer)
        case SetKept(items=items):
            return ("kept", *sorted(items))
        case SetPhotograph(item=item_id):
            return ("photograph", item_id)
        case SetPlace(kind=kind, id=kept_id):
            return ("place", kind, kept_id)
        case Undo(change=change):
            return ("undo", change)
        case _:
            return (operation.op,)


def in_words(operation: Operation, called: Mapping[str, str] = MappingProxyType({})) -> str:
    """A change as one plain clause, for history and preview; `called` maps item ids to their names. It can be
    printed, whatever was entered."""

    def say(item_id: str) -> str:
        return short(called.get(item_id, plain(item_id)))

    def plain(some_id: str) -> str:
        return some_id.replace("_", " ")

    match operation:
        case AddItem(item=item):
            return f'adds the item "{short(item.name.text)}" with {len(item.names)} names'
        case RenameItem(item=item_id, name=name):
            return f'calls {say(item_id)} "{short(name.text)}" from now on'
        case RetireItem(item=item_id):
            return f"retires {say(item_id)}: it leaves the look-up, the trays and the steps"
        case AddName(item=item_id, name=name):
            also = ", which other items have too" if name.shared else ""
            return f'adds the name "{short(name.text)}"{also} to {say(item_id)}'
        case MoveName(name=text, source=source, item=item_id):
            return f'moves the name "{short(text)}" from {say(source)} to {say(item_id)}'
        case RemoveName(item=item_id, name=text):
            return f'removes the name "{short(text)}" from {say(item_id)}'
        case Mean(name=text, item=item_id):
            return f'makes "{short(text)}" mean {say(item_id)}'
        case SetSlot(tray=tray, at=at, item=item_id, count=count, variants=variants):
            which = f" {shown(', '.join(variants))}" if variants else ""
            times = f" ({count} of them)" if count > 1 else ""
            return f"puts {say(item_id)}{which}{times} in slot {short(at)} of the tray {plain(tray)}"
        case ClearSlot(tray=tray, at=at):
            return f"removes slot {short(at)} from the tray {plain(tray)}"
        case AddTray(tray=new_tray):
            return f'adds the tray "{short(new_tray.name)}" with {len(new_tray.slots)} slots'
        case SetKit(kit=kit):
            return f'puts {len(kit.slots)} things in the kit "{short(kit.name)}"'
        case SetTrayKits(tray=tray, kits=kits):
            opened = shown(", ".join(kit.replace("_", " ") for kit in kits))
            return f"opens beside tray {tray}: {opened}" if kits else f"opens no kit beside tray {tray}"
        case AddProcedure(procedure=new):
            return f'adds the procedure "{short(new.name)}" with {len(new.steps)} steps'
        case SetSteps(procedure=procedure, steps=steps):
            return shown(f"sets the steps of {plain(procedure)}: {', '.join(step.name for step in steps)}")
        case SetField(item=item_id, field=field, value=value):
            return f"sets {field.replace('_', ' ')} of {say(item_id)} to {shown(_value_in_words(value))}"
        case AskBack(items=(one, other)):
            return f"always asks which one is meant, {say(one)} or {say(other)}"
        case SetMakerTime(timer=timer, seconds=seconds, product=product):
            by = f" ({short(product)})" if product else ""
            return f"sets the maker's time for {short(timer)} to {seconds:g} s{by}"
        case SetHandedness(hand=hand):
            return f"sets the working hand to {hand}"
        case SetTraysUsed(trays=trays):
            return f"uses the trays {', '.join(map(plain, trays))}" if trays else "uses all trays"
        case SetNotDone(procedures=()):
            return "does every procedure"
        case SetNotDone(procedures=procedures):
            some = f"{len(procedures)} procedure{'s' if len(procedures) > 1 else ''}"
            return shown(f"leaves out {some}: {', '.join(map(plain, procedures))}")
        case UseItem(item=item_id, field=field):
            return f"takes {say(item_id)} over from {plain(field)}"
        case ConfirmTray(tray=tray):
            return f"confirms the tray {plain(tray)} as it lies here"
        case SetDentists(dentists=dentists):
            listed = (f"{d.name}{f' ({d.hand}-handed)' if d.hand else ''}" for d in dentists)
            return f"lists the dentists {shown(', '.join(listed))}" if dentists else "lists no dentists"
        case SetInjuryCard(lines=lines):
            told = shown(" ".join(lines))
            return f"writes the needle-stick card: {told}" if lines else "removes the needle-stick card"
        case SetKept(called=name, items=items, kept=kept):
            some = f"keeps {say(kept)} only" if kept else f"keeps {' and '.join(map(say, items))}"
            return f'{some}, of those called "{short(name)}"'
        case SetPhotograph(item=item_id, file=file):
            return f"{'adds a' if file else 'removes the'} photograph of {say(item_id)}"
        case SetPlace(kind=kind, id=kept_id, place=place):
            what = {"tray": f"the pack of the tray {plain(kept_id)}", "kit": f"the {plain(kept_id)}"}
            kept = what.get(kind) or say(kept_id)
            return f'keeps {kept} in "{short(place)}"' if place else f"no longer says where {kept} is kept"
        case Undo(change=change):
            return f"takes back {short(change)}"


def short(text: str) -> str:
    """A name that can be printed in a sentence."""
    return shown(text, LONGEST_NAME)


def _value_in_words(value: Any) -> str:
    """The value of a field as a person would write it."""
    match value:
        case bool():
            return "yes" if value else "no"
        case dict():
            parts = (f"{key}: {_value_in_words(held)}".replace("_", " ") for key, held in value.items())
            return ", ".join(parts)
        case list() | tuple():
            return "; ".join(_value_in_words(held) for held in value) or "nothing"
        case None | "":
            return "nothing"
        case _:
            return f'"{value}"' if isinstance(value, str) else str(value)
