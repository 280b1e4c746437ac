"""Chooses what a person reads or is shown in a voice check: requests from the trays they use, and small talk.

A procedure's chair and its reader come in with a source of chance; lines go out: short and long requests,
numbers, look-alikes, pictures to be asked for in words of one's own, and sentences that ask for nothing.
Every request that is written out is understood when it is typed, so that only hearing is tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from listen.chair import Chair
from listen.readings import Reader
from vocab.pack.schema import Item

REQUESTS, PICTURES, SPOKEN = 20, 5, 5
"""How many requests there are, how many of them are pictures, and how many sentences ask for nothing."""
SURE_P = 0.9
"""A line is used if, typed, it means its item with at least this probability."""
_NUMBERS, _PAIRS, _SHORT = 4, 2, 3
_NAMES = 3
"""Of an item's names the first so many are drawn from: the preferred one and its usual synonyms."""
ASKED = (
    "{}, please.",
    "Could I have the {}, please?",
    "Can you pass me the {}?",
    "I'll take the {} now.",
    "Let me have the {}.",
)
TALK = (
    "We'll be finished well before lunch today.",
    "Did the parcel from the laboratory come this morning?",
    "You can relax your shoulders a little.",
    "The traffic on the bridge was terrible again.",
    "My sister is moving to the coast in spring.",
    "Please remind me to call the school at four.",
    "That went better than I thought it would.",
    "Is the next patient here already?",
)
MENTIONS = (
    "The new {} arrived last week, and nobody has unpacked it.",
    "Somebody asked me yesterday how long the {} lasts.",
)
"""Of the sentences that ask for nothing two name an item all the same."""


class Kind(StrEnum):
    """How a line is put to the reader."""

    READ = "read"
    PICTURE = "picture"
    TALK = "talk"


@dataclass(frozen=True)
class Line:
    """One line. text: what is read ("" for a picture); item, size: what is asked for, None where nothing is;
    name: what the line calls it; always_asked: the tool asks back whatever is said (anaesthesia)."""

    kind: Kind
    text: str
    field: str
    procedure: str
    item: str | None = None
    size: str | None = None
    name: str = ""
    always_asked: bool = False

    @property
    def asks(self) -> bool:
        """Whether it asks for something."""
        return self.item is not None


@dataclass(frozen=True)
class _Named:
    item: Item
    name: str
    size: str | None


def chosen(
    places: Sequence[tuple[Chair, Reader]],
    rng: np.random.Generator,
    requests: int = REQUESTS,
    pictures: int = PICTURES,
    spoken: int = SPOKEN,
) -> tuple[Line, ...]:
    """The lines of a round, the procedures taking turns, in random order.

    Args:
        places: each chair has its procedure and tray.
    """
    choosers = [_Chooser(chair, reader, rng) for chair, reader in places]
    each = [requests // len(choosers) + (i < requests % len(choosers)) for i in range(len(choosers))]
    shown = [pictures // len(choosers) + (i < pictures % len(choosers)) for i in range(len(choosers))]
    lines: list[Line] = []
    for chooser, many, drawn in zip(choosers, each, shown, strict=True):
        lines += chooser.requests(many - drawn)
        lines += chooser.pictures(drawn)
    mentions = [choosers[0].mention(text) for text in MENTIONS[: spoken // 2]]
    place = choosers[0]
    talk = [
        Line(Kind.TALK, TALK[i], place.field, place.procedure)
        for i in rng.permutation(len(TALK))[: spoken - len(mentions)]
    ]
    every = [*lines, *mentions, *talk]
    return tuple(every[int(i)] for i in rng.permutation(len(every)))


class _Chooser:
    """Draws items of one procedure, none twice."""

    def __init__(self, chair: Chair, reader: Reader, rng: np.random.Generator) -> None:
        self._pack, self._reader, self._rng = chair.pack, reader, rng
        self.field = chair.pack.id
        self.procedure = "" if chair.procedure is None else chair.procedure.id
        on_tray = (
            {}
            if chair.tray is None
            else {slot.item: chair.tray.variants_of(slot.item) for slot in chair.tray.slots}
        )
        self._sizes = on_tray
        asked: dict[str, float] = {}
        for step in () if chair.procedure is None else chair.procedure.steps:
            for item, weight in step.items.items():
                asked[item] = asked.get(item, 0.0) + weight
        known = [item for item in on_tray or self._pack.by_id if item in self._pack.by_id]
        self._weights = {item: asked.get(item, min(asked.values(), default=1.0) / 10) for item in known}
        self._taken: set[str] = set()

    def requests(self, number: int) -> list[Line]:
        """Numbers, look-alikes, short and long requests, as many as there are of each."""
        share = number / (REQUESTS - PICTURES)
        found: list[Line] = []
        found += self._drawn(round(_NUMBERS * share), self._numbered)
        found += self._pairs(round(_PAIRS * share))[: number - len(found)]
        found += self._drawn(min(round(_SHORT * share), number - len(found)), self._short, bare=True)
        found += self._drawn(number - len(found), self._long)
        return found + self._drawn(number - len(found), self._any)

    def pictures(self, number: int) -> list[Line]:
        """Items to be shown; how a size is said is left out, so items that need none come first."""
        lines: list[Line] = []
        for item in self._order(lambda one: len(self._sizes.get(one.id, ())) < 2 and not one.always_check):
            if len(lines) < number:
                self._taken.add(item.id)
                lines.append(Line(Kind.PICTURE, "", self.field, self.procedure, item.id))
        return lines

    def mention(self, text: str) -> Line:
        """A sentence that names an item and asks for nothing."""
        item = next(self._order(lambda one: one.name.text.isascii() and one.name.text[-1:] != "s"))
        self._taken.add(item.id)
        return Line(Kind.TALK, text.format(item.name.text), self.field, self.procedure)

    # --- drawing ----------------------------------------------------------------------------------

    def _order(self, fits: Callable[[Item], bool]) -> Iterator[Item]:
        """Items not taken yet that fit, those asked for often sooner (Efraimidis and Spirakis, 2006)."""
        ids = [item for item in self._weights if item not in self._taken]
        keys = {item: float(self._rng.random()) ** (1 / self._weights[item]) for item in ids}
        for item in sorted(ids, key=lambda one: -keys[one]):
            known = self._pack.item(item)
            if item not in self._taken and fits(known):
                yield known

    def _drawn(
        self, number: int, names: Callable[[Item], Sequence[_Named]], bare: bool = False
    ) -> list[Line]:
        lines: list[Line] = []
        if number <= 0:
            return lines
        for item in self._order(lambda one: True):
            line = self._line(names(item), bare)
            if line is not None:
                lines.append(line)
                if len(lines) == number:
                    break
        return lines

    def _pairs(self, number: int) -> list[Line]:
        lines: list[Line] = []
        if number <= 0:
            return lines
        for item in self._order(lambda one: bool(one.confused_with)):
            others = [
                o.item for o in item.confused_with if o.item in self._weights and o.item not in self._taken
            ]
            if item.id in self._taken or not others:
                continue
            both = [self._line(self._any(item)), self._line(self._any(self._pack.item(others[0])))]
            lines += [line for line in both if line is not None]
            if len(lines) >= 2 * number:
                break
        return lines

    def _line(self, names: Sequence[_Named], bare: bool = False) -> Line | None:
        """A line with one of the names, the first that is understood when typed."""
        for place in self._rng.permutation(len(names))[:4]:
            named = names[int(place)]
            ways = ("{}.",) if bare else ASKED
            text = ways[int(self._rng.integers(len(ways)))].format(named.name)
            text = text[:1].upper() + text[1:]
            if self._means(text, named):
                self._taken.add(named.item.id)
                return Line(
                    Kind.READ,
                    text,
                    self.field,
                    self.procedure,
                    named.item.id,
                    named.size,
                    named.name,
                    named.item.always_check,
                )
        return None

    def _means(self, text: str, named: _Named) -> bool:
        readings = self._reader.of_text(text, {})
        requests = readings.ways[0].requests if readings.ways else ()
        if len(requests) != 1 or requests[0].kind != "item" or not requests[0].candidates:
            return False
        best = requests[0].candidates[0]
        return best.item == named.item.id and best.p >= SURE_P and named.size in (None, best.variant)

    # --- names ------------------------------------------------------------------------------------

    def _any(self, item: Item) -> list[_Named]:
        laid = self._sizes.get(item.id, ())
        sized = [
            _Named(item, name.text, size)
            for name, size in item.variant_name_pairs
            if size in laid and not name.shared
        ]
        plain = [_Named(item, name.text, None) for name in item.own_names[:_NAMES] if not name.shared]
        return sized if len(laid) > 1 else [*plain, *sized]

    def _numbered(self, item: Item) -> list[_Named]:
        return [named for named in self._any(item) if any(c.isdigit() for c in named.name)]

    def _short(self, item: Item) -> list[_Named]:
        return [n for n in self._any(item) if " " not in n.name and n.name.isalpha() and not n.name.isupper()]

    def _long(self, item: Item) -> list[_Named]:
        return [n for n in self._any(item) if " " in n.name and not any(c.isdigit() for c in n.name)]
