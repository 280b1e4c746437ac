"""What a pack may hold: items, names, trays, procedures and the words around a request.

Comes in: plain data already read from YAML. Goes out: frozen models whose fields say everything.
It never reads a file and never guesses a missing value; `vocab.load` does the reading and turns a
validation error into file, line and field.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, model_validator

Identifier = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$")]
"""Lower-case words joined by underscores; never shown to a user as a name."""

Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]


def _number_to_text(value: object) -> object:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


Address = Annotated[Text, BeforeValidator(_number_to_text)]
"""A short spoken address ("5", "suction arm"); a number may be written as one."""


class Strict(BaseModel):
    """A frozen record that refuses fields it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class ItemClass(StrEnum):
    """Where an item belongs in the trade; the order is the order of the tray."""

    EXAMINATION = "examination"
    ISOLATION = "isolation"
    ANAESTHESIA = "anaesthesia"
    HAND_CUTTING = "hand cutting"
    PLACING = "placing and shaping"
    MATRIX = "matrix"
    ADHESIVE = "adhesive and composite"
    MATERIAL = "material"
    EVACUATION = "evacuation and air/water"
    HANDPIECE = "handpiece"
    BUR = "bur"
    FINISHING = "finishing"
    CONSUMABLE = "consumable"
    PROTECTIVE = "protective wear"
    SURGICAL = "surgical"


class Reprocessing(StrEnum):
    """What happens to an item afterwards (local rules decide; the tool only names the kind)."""

    SINGLE_USE = "single use"
    STERILISE = "clean and heat-sterilise"
    BARRIER = "barrier and disinfect"
    MULTI_DOSE = "multi-dose container, no touch"


class Shank(StrEnum):
    """What a rotary item fits: high speed, contra-angle or straight nose piece."""

    FRICTION_GRIP = "friction grip"
    LATCH = "latch"
    STRAIGHT = "straight"


class Said(Strict):
    """Something that is written and said; a text alone will do.

    `text` is how it is written, `say` adds spoken forms that cannot be derived from the text (an abbreviation
    read out, an odd pronunciation spelled as heard).
    """

    text: Text
    say: tuple[Text, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, value: object) -> object:
        return {"text": value} if isinstance(value, str) else value


class Name(Said):
    """One thing an item may be called; `note` says who says it."""

    note: str = ""


class LookAlike(Strict):
    """Another item this one is mistaken for, by ear or by eye, and how to tell them apart."""

    item: Identifier
    tell: Text


class Item(Strict):
    """One thing on or beside a tray."""

    id: Identifier
    name: Name
    synonyms: tuple[Name, ...] = ()
    item_class: ItemClass = Field(alias="class")
    purpose: Text
    look: Text
    handing: Text | None = None
    ends: int = Field(default=0, ge=0, le=2, description="working ends; 0 where the question is idle")
    sharp: bool = False
    reprocessing: Reprocessing
    shank: Shank | None = None
    counted: bool = Field(default=False, description="counted because it may stay in a mouth")
    always_check: bool = Field(default=False, description="never answered without a check (anaesthesia)")
    confused_with: tuple[LookAlike, ...] = ()
    cautions: tuple[Text, ...] = ()

    @property
    def names(self) -> tuple[Name, ...]:
        """The preferred name first, then the synonyms in written order."""
        return (self.name, *self.synonyms)


class Slot(Strict):
    """A place on a tray. `at` is its short spoken address ("5", "suction arm")."""

    at: Address
    item: Identifier
    count: int = Field(default=1, ge=1)


class Row(Strict):
    """Slots from left to right as the assistant sees them."""

    name: Text
    slots: tuple[Slot, ...] = Field(min_length=1)


class Tray(Strict):
    """A layout of slots for a procedure; rows run from the far edge to the near one."""

    id: Identifier
    name: Text
    rows: tuple[Row, ...] = Field(min_length=1)
    chair_side: tuple[Slot, ...] = ()

    @model_validator(mode="after")
    def _addresses_are_unique(self) -> Tray:
        seen: set[str] = set()
        for slot in self.slots:
            if slot.at in seen:
                raise ValueError(
                    f"slot {slot.at!r} is used twice on this tray; give each slot its own address"
                )
            seen.add(slot.at)
        return self

    @property
    def slots(self) -> tuple[Slot, ...]:
        """Every slot: the tray row by row, then the chair-side places."""
        return (*(s for row in self.rows for s in row.slots), *self.chair_side)

    def slot_of(self, item: str) -> str | None:
        """The address of the first slot that holds `item`, or None."""
        return next((s.at for s in self.slots if s.item == item), None)


class Step(Strict):
    """One step of a procedure.

    `items` maps an item to how often it is asked for relative to the others of the step;
    `requests` is how many requests the step usually takes. `timer` names the thing that is timed
    (the time itself is the maker's, set by the clinic); `faculty_check` marks a stop for a teacher.
    """

    id: Identifier
    name: Text
    items: dict[Identifier, Annotated[float, Field(gt=0)]] = Field(min_length=1)
    requests: float = Field(default=1.0, gt=0)
    optional: bool = False
    timer: Text | None = None
    faculty_check: bool = False
    cautions: tuple[Text, ...] = ()


class Procedure(Strict):
    """Ordered steps and the items that belong to any moment."""

    id: Identifier
    name: Text
    tray: Identifier
    steps: tuple[Step, ...] = Field(min_length=1)
    any_time: dict[Identifier, Annotated[float, Field(gt=0)]] = Field(default_factory=dict)


class Speech(Strict):
    """The words around a name, in the pack's language.

    Every entry is lower case. `cues` stand before a name ("can i have the"), `endings` after it
    ("please"); `corrections` open a correction ("no,"); `refusals` ask for nothing now
    ("not yet"), `name_refusals` do so before a name ("no more"); `actions` map an action to the
    ways of asking for it; `ends`, `sizes` and `quantities` map a meaning to its spoken forms;
    `repeats` ask for the last item again.
    """

    cues: tuple[Text, ...]
    endings: tuple[Text, ...]
    joiners: tuple[Text, ...] = ("and",)
    corrections: tuple[Text, ...] = ()
    refusals: tuple[Text, ...] = ()
    name_refusals: tuple[Text, ...] = ()
    actions: dict[Identifier, tuple[Text, ...]] = Field(default_factory=dict)
    ends: dict[Identifier, tuple[Text, ...]] = Field(default_factory=dict)
    sizes: dict[Identifier, tuple[Text, ...]] = Field(default_factory=dict)
    quantities: dict[int, tuple[Text, ...]] = Field(default_factory=dict)
    repeats: tuple[Text, ...] = ()


class Pack(Strict):
    """Everything a field of dentistry needs: the unit that is loaded, checked and layered."""

    id: Identifier
    name: Text
    language: Annotated[str, StringConstraints(pattern=r"^[a-z]{2}$")]
    version: Text
    items: tuple[Item, ...] = Field(min_length=1)
    trays: tuple[Tray, ...] = ()
    procedures: tuple[Procedure, ...] = ()
    speech: Speech
    wide_margin: tuple[tuple[Identifier, Identifier], ...] = Field(
        default=(), description="pairs that must never be confused silently"
    )

    def item(self, item_id: str) -> Item:
        """The item with this id; KeyError if there is none."""
        for item in self.items:
            if item.id == item_id:
                return item
        raise KeyError(item_id)

    def tray(self, tray_id: str) -> Tray:
        """The tray with this id; KeyError if there is none."""
        for tray in self.trays:
            if tray.id == tray_id:
                return tray
        raise KeyError(tray_id)

    def procedure(self, procedure_id: str) -> Procedure:
        """The procedure with this id; KeyError if there is none."""
        for procedure in self.procedures:
            if procedure.id == procedure_id:
                return procedure
        raise KeyError(procedure_id)
