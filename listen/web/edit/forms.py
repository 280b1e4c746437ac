"""A form of the editor, read as changes to the vocabulary.

It takes a form's fields and the pack in use, and gives operations, the same ones that the command line
builds. Nothing is saved or judged here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Mapping, Sequence
from typing import Any

from pydantic import TypeAdapter, ValidationError

from listen.chairside.pick_list import kept_from_now
from listen.web.wire import OLD_PAGE
from vocab.errors import Declined
from vocab.layers import Operation, bulk
from vocab.layers.canonical import plain
from vocab.layers.changes import (
    AddItem,
    AskBack,
    ClearSlot,
    Mean,
    MoveName,
    RemoveName,
    RenameItem,
    RetireItem,
    SetField,
    SetKit,
    SetSlot,
    SetTrayKits,
    Undo,
)
from vocab.layers.draft import ClinicSettings, canonical_value, field_value
from vocab.layers.starter import answered, first_hour
from vocab.layers.vocabulary import moved_slot, name_added
from vocab.pack.schema import Kit, Name, Pack, Step
from vocab.requests.lexicon import Lexicon

Fields = Mapping[str, str]
LONGEST_FIELD = 300
HANDED = ("taken_by", "hand", "grasp", "exchange", "offered", "part", "faces", "note")


class Form:
    """A form's fields, read against a pack."""

    def __init__(self, fields: Fields, pack: Pack, lexicon: Lexicon) -> None:
        self._fields, self._pack, self._lexicon = fields, pack, lexicon

    def operations(self) -> tuple[Operation, ...]:
        """What the form asks for; raises `Declined` where it makes no sense."""
        make = _MAKERS.get(self.text("op", needed=False))
        if make is None:
            raise Declined(OLD_PAGE)
        try:
            return make(self)
        except ValidationError as error:
            raise Declined(_plainly(error)) from None

    def text(self, field: str, needed: bool = True) -> str:
        """A field without spaces around it."""
        value = " ".join(self._fields.get(field, "").split())
        if (needed and not value) or len(value) > LONGEST_FIELD:
            raise Declined(f"{field.replace('_', ' ')}: write between 1 and {LONGEST_FIELD} characters.")
        return value

    def item(self, field: str = "item") -> str:
        """The id of the item that a field gives as an id or a whole name; what to change is never guessed."""
        return self._one_item(self.text(field))

    def _one_item(self, text: str) -> str:
        for item in self._pack.items:
            if text in (item.id, item.name.text):
                return item.id
        found = self._lexicon.find(text)
        if self._lexicon.is_name(text) and (len(found) == 1 or found[0].p > 2 * found[1].p):
            return found[0].item
        maybe = ", ".join(self._pack.item(candidate.item).name.text for candidate in found[:3])
        raise Declined(
            f"{text!r} is not the name of one item; {f'perhaps {maybe}' if maybe else 'choose one'}."
        )

    def name(self) -> Name:
        """A name, how it is said, and whether other items share it."""
        say = tuple(part for raw in self._fields.get("say", "").split("|") if (part := " ".join(raw.split())))
        return Name(text=self.text("name"), say=say, shared=self.ticked("shared"))

    def ticked(self, field: str) -> bool:
        """Whether a box is ticked."""
        return self.text(field, needed=False) == "yes"

    def lines(self, field: str) -> list[str]:
        """A field's lines that are not blank, each without spaces around it."""
        return [line for raw in self._fields.get(field, "").splitlines() if (line := " ".join(raw.split()))]

    def number(self, field: str) -> int:
        """A whole number; 1 where nothing is given."""
        value = self.text(field, needed=False) or "1"
        if not re.fullmatch(r"[1-9][0-9]{0,3}", value):
            raise Declined(f"{field}: {value!r} is not a whole number of 1 or more.")
        return int(value)

    def new_item(self) -> tuple[Operation, ...]:
        """A new item, made in the same way as from a row of a names file."""
        columns = ("class", "purpose", "look", "handing", "reprocessing")
        row = {column: self.text(column, needed=column != "handing") for column in columns}
        row |= {"name": self.text("name"), "kind": "preferred"}
        row["item"] = new_id(row["name"], self._pack.by_id)
        read = bulk.read_names_csv(bulk.rows_csv([row]), self._pack)
        if read.problems:
            raise Declined("; ".join(f"{p.column}: {p.message}" for p in read.problems))
        return tuple(operation for operation in read.operations if isinstance(operation, AddItem))

    def slot_set(self) -> tuple[Operation, ...]:
        """What is in a slot from now on."""
        item = self._pack.item(self.item())
        return (
            SetSlot(
                tray=self.text("tray"),
                at=self.text("at"),
                item=item.id,
                count=self.number("count"),
                variants=bulk.variants_said(self.text("variants", needed=False), item),
                row=self.text("row", needed=False) or None,
            ),
        )

    def kits_opened(self) -> tuple[Operation, ...]:
        """Which kits stand beside a tray, in the order of the vocabulary."""
        kits = tuple(kit.id for kit in self._pack.kits if self.ticked(f"kit_{kit.id}"))
        return (SetTrayKits(tray=self.text("tray"), kits=kits),)

    def new_kit(self) -> tuple[Operation, ...]:
        """A kit that is packed and opened beside the tray on whose page it was written."""
        tray_id, name = self.text("tray"), self.text("name")
        tray = next((tray for tray in self._pack.trays if tray.id == tray_id), None)
        if tray is None:
            raise Declined("there is no such tray.")
        slots = [
            {"at": number, "item": self._one_item(line)} for number, line in enumerate(self.lines("items"), 1)
        ]
        if not slots:
            raise Declined("write what is in the kit, one item a line.")
        kit_id = new_id(name, {kit.id for kit in self._pack.kits})
        try:
            kit = Kit.model_validate(
                {"id": kit_id, "name": name, "place": self.text("place"), "slots": slots}
            )
        except ValidationError as error:
            raise Declined(_plainly(error)) from None
        return SetKit(kit=kit), SetTrayKits(tray=tray.id, kits=(*tray.kits, kit.id))

    def handing_set(self) -> tuple[Operation, ...]:
        """How an item is passed; a field left empty means that it does not matter for this item."""
        value: dict[str, Any] = {part: text for part in HANDED if (text := self.text(part, needed=False))}
        if self.ticked("out_of_sight"):
            value["out_of_sight"] = True
        return (SetField(item=self.item(), field="handing", value=value or None),)

    def details_set(self) -> tuple[Operation, ...]:
        """The sizes or patterns of an item, how they are named, and whether it contains latex. Whatever
        else is known about a size is kept."""
        item = self._pack.item(self.item())
        known = {variant.text: plain(variant) for variant in item.variants}
        texts = self.lines("variants")
        wanted = {
            "variants": [known.get(text, {"text": text}) for text in texts],
            "variant_names": self.lines("variant_names") if texts else [],
            "latex": self.ticked("latex"),
        }
        ordered = wanted if texts else dict(reversed(wanted.items()))  # no patterns without variants
        changes = [
            SetField(item=item.id, field=field, value=value)
            for field, value in ordered.items()
            if canonical_value(item, field, value) != field_value(item, field)
        ]
        if not changes:
            raise Declined("nothing was changed on this page.")
        return tuple(changes)

    def places_set(self, now: ClinicSettings) -> tuple[Operation, ...]:
        """Where the things of a pick list are kept from now on; an empty place for not said."""
        try:
            changes = kept_from_now(
                self._fields.get("things", "").split(),
                self.text("place", needed=False) or None,
                self._pack,
                now,
            )
        except ValidationError as error:
            raise Declined(_plainly(error)) from None
        if not changes:
            raise Declined("that is where it is kept already.")
        return changes

    def slots_moved(self) -> tuple[Operation, ...]:
        """Moves the contents of one slot to another."""
        return moved_slot(self._pack, self.text("tray"), self.text("source"), self.text("target"))


_MAKERS: Mapping[str, Callable[[Form], tuple[Operation, ...]]] = {
    "add_item": Form.new_item,
    "add_name": lambda f: name_added(f._pack, f.item(), f.name()),
    "rename": lambda f: (RenameItem(item=f.item(), name=f.name(), keep_old=f.ticked("keep_old")),),
    "set_handing": Form.handing_set,
    "set_details": Form.details_set,
    "retire": lambda f: (RetireItem(item=f.item()),),
    "move_name": lambda f: (MoveName(name=f.text("name"), source=f.item("source"), item=f.item()),),
    "remove_name": lambda f: (RemoveName(item=f.item(), name=f.text("name")),),
    "mean": lambda f: (Mean(name=f.text("name"), item=f.item()),),
    "ask_back": lambda f: (AskBack(items=(f.item("item"), f.item("other"))),),
    "set_slot": Form.slot_set,
    "clear_slot": lambda f: (ClearSlot(tray=f.text("tray"), at=f.text("at")),),
    "move_slot": Form.slots_moved,
    "set_tray_kits": Form.kits_opened,
    "new_kit": Form.new_kit,
    "undo": lambda f: (Undo(change=f.text("change")),),
}


def new_id(name: str, taken: Container[str]) -> str:
    """An unused id made from a name."""
    base = "_".join(re.findall(r"[a-z0-9]+", name.lower())).lstrip("0123456789_") or "item"
    found, number = base, 2
    while found in taken:
        found, number = f"{base}_{number}", number + 1
    return found


def steps_of(given: Sequence[dict[str, Any]]) -> tuple[Step, ...]:
    """Steps as the page sends them; a step without an id gets one made from its name.

    Raises:
        Declined: which step is wrong, and how.
    """
    taken = {str(one["id"]) for one in given if one.get("id")}
    for one in given:
        if not one.get("id"):
            one["id"] = new_id(str(one.get("name", "")), taken)
            taken.add(one["id"])
    try:
        return TypeAdapter(tuple[Step, ...]).validate_python(given)
    except ValidationError as error:
        raise Declined(_plainly(error, given)) from None


def _plainly(error: ValidationError, steps: Sequence[Mapping[str, Any]] = ()) -> str:
    detail = error.errors(include_url=False)[0]
    where = [str(part) for part in detail["loc"]]
    if steps and where and where[0].isdigit() and int(where[0]) < len(steps):
        where[0] = f"step {int(where[0]) + 1}"
    message = detail["msg"].removeprefix("Value error, ")
    if detail["type"] == "too_short":
        message = "choose at least one item"
    return f"{' '.join(where)}: {message[:1].lower()}{message[1:]}."


# --- the first hour ---------------------------------------------------------------------------------


def answers_given(
    pack: Pack, fields: Mapping[str, Sequence[str]], now: ClinicSettings
) -> tuple[Operation, ...]:
    """The changes that the answers stand for. Commas separate names, but do not split the injury card."""
    answers: dict[str, list[str]] = {}
    for question in first_hour(pack, now):
        given = [text for text in fields.get(question.id, ()) if text.strip()]
        if question.many and not question.choices:
            between = r"\n" if question.kind == "injury_card" else r"[,;\n]"
            given = [part for text in given for part in re.split(between, text) if part.strip()]
        answers[question.id] = given
    return answered(pack, answers, now)
