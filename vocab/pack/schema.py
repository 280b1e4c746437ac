"""What a pack may hold: items, names, trays, procedures and the words around a request.

Validates plain data already read from YAML and gives frozen models in which every field is explicit. It
reads no files and never guesses a missing value; `vocab.pack.load` does the reading and turns a validation
error into file, line and field.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from functools import cached_property
from typing import Annotated, Any, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PrivateAttr,
    StringConstraints,
    model_validator,
)

from vocab.pack.labels import composed as composed_letters
from vocab.pack.shapes import Drawing

Identifier = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$")]
"""Lower-case words joined by underscores; never shown to a user as a name."""

Text = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1), AfterValidator(composed_letters)
]


def _number_to_text(value: object) -> object:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


Address = Annotated[Text, BeforeValidator(_number_to_text)]
"""A short spoken address ("5", "suction arm"); a number may be written as one."""


class Strict(BaseModel):
    """A frozen record that refuses fields it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """A copy with other values; what was worked out from the old ones is not taken over."""
        copy = super().model_copy(update=update, deep=deep)
        for worked_out in copy.__dict__.keys() - type(self).model_fields.keys():
            del copy.__dict__[worked_out]
        return copy


class ItemClass(StrEnum):
    """The kind of item, as dentistry sorts them; the order is the order of the tray."""

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

    @property
    def ways_to_say(self) -> tuple[str, ...]:
        """As it is written, then what else is said for it."""
        return (self.text, *self.say)


class Name(Said):
    """One thing an item may be called.

    `note` says who says it; `shared` marks a name that several items have ("football" is a burnisher and a
    bur): every one of them marks it, and it is always asked back.
    """

    note: str = ""
    shared: bool = False


class Grasp(StrEnum):
    """How the operator holds an item."""

    PEN = "pen"
    PALM = "palm"
    PALM_AND_THUMB = "palm and thumb"


class TakenBy(StrEnum):
    """Who takes or uses what is handed."""

    OPERATOR = "operator"
    PATIENT = "patient"
    ASSISTANT = "assistant"


class TakingHand(StrEnum):
    """Which of the operator's hands takes it; which of the two that is belongs to the dentist."""

    WORKING = "working"
    OTHER = "other"


class Exchange(StrEnum):
    """How an item changes hands."""

    ONE_HAND = "one hand"
    TWO_HANDS = "two hands"
    NEUTRAL_ZONE = "neutral zone"


class Facing(StrEnum):
    """Which way the working end faces: toward the teeth being treated (up in the upper arch, down in the
    lower), or toward their chewing surface (down in the upper arch, up in the lower)."""

    TEETH = "teeth"
    CHEWING_SURFACE = "chewing surface"


class Handing(Strict):
    """How an item is passed. What is None does not matter for this item.

    offered: what is held out first ("handle", "ring"), part: what faces the teeth ("tip", "glass"), both in
    the pack's language; out_of_sight: below the patient's line of sight; note: what else to mind, whole
    sentences in the pack's language. A text alone is a note.
    """

    taken_by: TakenBy = TakenBy.OPERATOR
    hand: TakingHand | None = None
    grasp: Grasp | None = None
    exchange: Exchange | None = None
    offered: Text | None = None
    part: Text | None = None
    faces: Facing | None = None
    out_of_sight: bool = False
    note: Text | None = None

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, value: object) -> object:
        return {"note": value} if isinstance(value, str) else value

    @model_validator(mode="after")
    def _fits_together(self) -> Handing:
        if (self.part is None) != (self.faces is None):
            raise ValueError("part and faces belong together; give both or neither")
        if self.taken_by is not TakenBy.OPERATOR and (self.hand or self.grasp):
            raise ValueError("hand and grasp are the operator's; leave them out where someone else takes it")
        return self


class Variant(Strict):
    """One size, pattern or shank of an item, which the answer keeps ("W8A" of the dam clamp).

    text: how it is written and shown; say: spoken forms that cannot be derived from it; names: whole names
    that mean the item in this variant, beside those that the item's `variant_names` make of the text.
    """

    text: Text
    say: tuple[Text, ...] = ()
    names: tuple[Name, ...] = ()
    shank: Shank | None = None
    note: str = ""

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, value: object) -> object:
        if isinstance(value, int) and not isinstance(value, bool):
            value = str(value)
        return {"text": value} if isinstance(value, str) else value


VARIANT = "{}"
"""Where a variant's text stands in a pattern of `variant_names`: "{} clamp"."""


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
    handing: Handing | None = None
    ends: int = Field(default=0, ge=0, le=2, description="working ends; 0 where it does not apply")
    sharp: bool = False
    reprocessing: Reprocessing
    shank: Shank | None = None
    counted: bool = Field(default=False, description="counted because it may stay in a mouth")
    always_check: bool = Field(default=False, description="never answered without a check (anaesthesia)")
    read_back: Text | None = Field(default=None, description="what is read back then; its label if not said")
    latex: bool = Field(default=False, description="holds natural rubber latex")
    variants: tuple[Variant, ...] = Field(default=(), description="sizes or patterns; the one said is kept")
    variant_names: tuple[Text, ...] = Field(default=(), description='names of a variant, as "{} clamp"')
    confused_with: tuple[LookAlike, ...] = ()
    cautions: tuple[Text, ...] = ()
    _drawing: Drawing | None = PrivateAttr(default=None)

    @model_validator(mode="after")
    def _variants_are_told_apart(self) -> Item:
        seen: set[str] = set()
        for variant in self.variants:
            if variant.text in seen:
                raise ValueError(f"the variant {variant.text!r} is given twice; delete one")
            seen.add(variant.text)
        for pattern in self.variant_names:
            if pattern.count(VARIANT) != 1:
                raise ValueError(
                    f'{pattern!r} must hold {VARIANT} once, where the variant is said: "{{}} clamp"'
                )
        if self.variant_names and not self.variants:
            raise ValueError("variant_names need variants; list them, or leave both out")
        return self

    @property
    def drawing(self) -> Drawing | None:
        """The drawing that the pack brings for it; None where it has to be looked for elsewhere."""
        return self._drawing

    def drawn(self, drawing: Drawing | None) -> Item:
        """The same item with a drawing of its own."""
        item = self.model_copy()
        item._drawing = drawing
        return item

    @property
    def own_names(self) -> tuple[Name, ...]:
        """The preferred name first, then the synonyms in written order; none says a variant."""
        return (self.name, *self.synonyms)

    @property
    def variant_name_pairs(self) -> tuple[tuple[Name, str], ...]:
        """Every name that says a variant, with the variant's text; the patterns' names come first."""
        pairs: dict[str, tuple[Name, str]] = {}
        for variant in self.variants:
            for name in (*self._formed(variant), *variant.names):
                pairs.setdefault(name.text.casefold(), (name, variant.text))
        return tuple(pairs.values())

    def _formed(self, variant: Variant) -> tuple[Name, ...]:
        return tuple(
            Name(
                text=pattern.replace(VARIANT, variant.text),
                say=tuple(pattern.replace(VARIANT, form) for form in variant.say),
                note=variant.note,
            )
            for pattern in self.variant_names
        )

    @property
    def names(self) -> tuple[Name, ...]:
        """All names of the item: its own, then those that say a variant."""
        return (*self.own_names, *(name for name, _ in self.variant_name_pairs))

    @property
    def ways_to_say(self) -> tuple[str, ...]:
        """Every name as it is written, each followed by what else is said for it."""
        return tuple(text for name in self.names for text in name.ways_to_say)

    def variant(self, text: str) -> Variant:
        """The variant written this way; KeyError if there is none."""
        for variant in self.variants:
            if variant.text == text:
                return variant
        raise KeyError(text)


class Slot(Strict):
    """A place on a tray.

    `at` is its short spoken address ("5", "suction arm"); `variants` are those of the item that it holds, ()
    where none are given.
    """

    at: Address
    item: Identifier
    count: int = Field(default=1, ge=1)
    variants: tuple[Address, ...] = ()


class Row(Strict):
    """Slots from left to right as the assistant sees them."""

    name: Text
    slots: tuple[Slot, ...] = Field(min_length=1)


class KitPlace(StrEnum):
    """Where a kit stands: at the chair, in the chairside assistant's reach, or on the counter."""

    CHAIR = "chair"
    COUNTER = "counter"


class Kit(Strict):
    """Things that are kept, opened and put back together: a bur block, a dam kit, what anaesthesia needs.

    It is asked for by what is in it, and answered as "bur kit 3". `item` is the box itself where it has a
    name of its own (a bur block), `picture` the item whose drawing stands for it, its first one where neither
    is given; `said` is how its addresses begin, its name in small letters where nothing shorter is given.
    """

    id: Identifier
    name: Text
    place: KitPlace = KitPlace.CHAIR
    slots: tuple[Slot, ...] = Field(min_length=1)
    item: Identifier | None = None
    picture: Identifier | None = None
    said: Text | None = None

    @property
    def address(self) -> str:
        """How the addresses of its slots begin: "bur kit"."""
        return self.said or f"{self.name[:1].lower()}{self.name[1:]}"

    @property
    def drawn_as(self) -> str:
        """The item whose drawing stands for the kit."""
        return self.picture or self.item or self.slots[0].item

    @cached_property
    def on_tray(self) -> tuple[Slot, ...]:
        """Its slots with their whole addresses ("bur kit 3"), after the box itself where that is an item."""
        box = (Slot(at=self.address, item=self.item),) if self.item else ()
        return (*box, *(s.model_copy(update={"at": f"{self.address} {s.at}"}) for s in self.slots))


class Tray(Strict):
    """A layout of slots for a procedure: the rows of the tray itself, from the far edge to the near one, the
    kits beside it, and the places at the chair.

    `kits` names kits of the pack. What is in them is known once the tray is part of a pack (`with_kits`).
    """

    id: Identifier
    name: Text
    rows: tuple[Row, ...] = Field(min_length=1)
    kits: tuple[Identifier, ...] = ()
    chair_side: tuple[Slot, ...] = ()
    _opened: tuple[Kit, ...] = PrivateAttr(())

    @model_validator(mode="after")
    def _addresses_are_unique(self) -> Tray:
        self._check_addresses()
        return self

    def _check_addresses(self) -> None:
        seen: set[str] = set()
        for slot in self.slots:
            if slot.at in seen:
                raise ValueError(
                    f"slot {slot.at!r} is used twice on this tray; give each slot its own address"
                )
            seen.add(slot.at)

    def with_kits(self, known: Mapping[str, Kit]) -> Tray:
        """The tray with what is in its kits, out of all that a pack has; a kit that is unknown is left out.

        Raises:
            ValueError: two slots would have one address.
        """
        copy = self.model_copy()
        copy._opened = tuple(known[kit] for kit in self.kits if kit in known)
        copy._check_addresses()
        return copy

    @property
    def opened(self) -> tuple[Kit, ...]:
        """Its kits with what is in them."""
        return self._opened

    @cached_property
    def slots(self) -> tuple[Slot, ...]:
        """Every slot: the tray row by row, then the kits, then the places at the chair."""
        in_kits = (slot for kit in self._opened for slot in kit.on_tray)
        return (*(slot for row in self.rows for slot in row.slots), *in_kits, *self.chair_side)

    @property
    def own_slots(self) -> tuple[Slot, ...]:
        """The slots of the tray itself and the places at the chair, without the kits."""
        return (*(slot for row in self.rows for slot in row.slots), *self.chair_side)

    def slot_of(self, item: str, variant: str | None = None) -> str | None:
        """The address of the first slot that holds `item` (in this `variant`, where one is given); None where
        no slot does. A slot that does not say which variants it holds may hold any."""
        return next(
            (
                slot.at
                for slot in self.slots
                if slot.item == item and (variant is None or not slot.variants or variant in slot.variants)
            ),
            None,
        )

    def variants_of(self, item: str) -> tuple[str, ...]:
        """The variants of an item that the slots say they hold, in their order."""
        held = (v for slot in self.slots if slot.item == item for v in slot.variants)
        return tuple(dict.fromkeys(held))


class Step(Strict):
    """One step of a procedure.

    `items` maps an item to how often it is asked for relative to the others of the step;
    `requests` is how many requests the step usually takes. `timers` name what is timed, one for each
    material (the times themselves are the makers', set by the clinic); one may be given as `timer`.
    `faculty_check` marks a stop until a teacher has looked.
    """

    id: Identifier
    name: Text
    items: dict[Identifier, Annotated[float, Field(gt=0)]] = Field(min_length=1)
    requests: float = Field(default=1.0, gt=0)
    optional: bool = False
    timers: tuple[Text, ...] = ()
    faculty_check: bool = False
    cautions: tuple[Text, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _from_one_timer(cls, value: object) -> object:
        if not isinstance(value, dict) or "timer" not in value:
            return value
        if "timers" in value:
            raise ValueError("give timer or timers, not both")
        rest = {key: held for key, held in value.items() if key != "timer"}
        return rest if value["timer"] is None else {**rest, "timers": (value["timer"],)}


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
    `repeats` ask for the last item again. `not_ours` are whole utterances about something that is not
    on any tray ("lights"): they are met with silence. `sharps_injury` opens the clinic's card of what to
    do; `faculty_checked` says that the teacher has looked.
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
    not_ours: tuple[Text, ...] = ()
    sharps_injury: tuple[Text, ...] = ()
    faculty_checked: tuple[Text, ...] = ()

    def __hash__(self) -> int:
        return hash((self.cues, self.endings, self.joiners))


class Pack(Strict):
    """Everything a field of dentistry needs: the unit that is loaded, checked and layered."""

    id: Identifier
    name: Text
    language: Annotated[str, StringConstraints(pattern=r"^[a-z]{2}$")]
    version: Text
    builds_on: Identifier | None = Field(default=None, description="what it shares with other fields")
    items: tuple[Item, ...] = Field(min_length=1)
    kits: tuple[Kit, ...] = ()
    trays: tuple[Tray, ...] = ()
    procedures: tuple[Procedure, ...] = ()
    speech: Speech
    wide_margin: tuple[tuple[Identifier, Identifier], ...] = Field(
        default=(), description="pairs that must never be confused silently"
    )
    offered_together: tuple[tuple[Identifier, Identifier], ...] = Field(
        default=(), description="pairs of which one is never offered without the other beside it"
    )

    _beyond: Mapping[str, str] = PrivateAttr(default_factory=dict)

    @model_validator(mode="after")
    def _kits_are_opened(self) -> Pack:
        kits = {kit.id: kit for kit in self.kits}
        object.__setattr__(self, "trays", tuple(tray.with_kits(kits) for tray in self.trays))
        return self

    @property
    def beyond(self) -> Mapping[str, str]:
        """Items that only other fields have (`vocab.pack.widen`): ids, each with the name of the first field
        that has it; none in a pack as it is read."""
        return self._beyond

    @cached_property
    def by_id(self) -> Mapping[str, Item]:
        """The items by their ids, in written order."""
        return {item.id: item for item in self.items}

    @cached_property
    def called(self) -> Mapping[str, str]:
        """The items' preferred names by their ids, in written order."""
        return {item.id: item.name.text for item in self.items}

    @cached_property
    def order(self) -> Mapping[str, int]:
        """The items' places in written order, from 0, by their ids."""
        return {item.id: place for place, item in enumerate(self.items)}

    def offered_with(self, item_id: str) -> tuple[str, ...]:
        """The items that are offered beside this one, in written order."""
        pairs = (pair for pair in self.offered_together if item_id in pair)
        return tuple(b if a == item_id else a for a, b in pairs)

    def item(self, item_id: str) -> Item:
        """The item with this id; KeyError if there is none."""
        return self.by_id[item_id]

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
