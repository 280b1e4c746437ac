"""Before and after: the set-up questions and the count by hand.

From the tray's state and the pack this makes lists to go through, ordered so that what hurts or may stay in a
mouth comes first, and the events that record what was found. The count goes by exception: a row or a kit is
said to be all here in one touch, and only what differs is counted by itself; what hurts most or was last seen
elsewhere never goes with the others. A person counts; nothing here ever says that everything is there. What
happens to things afterwards is in `listen.chairside.turn_over`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from listen.chairside.events import CountedAs, Event, EventKind, Source, effective
from listen.chairside.tray_state import Holding, TrayState, listed
from vocab.errors import TraycallError
from vocab.pack.schema import Item, ItemClass, Kit, Pack, Reprocessing, Slot, Tray

AT_CHAIR = "chair"
"""The id of the places at the chair, in the count."""
LOCAL_RULES = "Local rules and the person responsible decide."


class CountError(TraycallError):
    """Something that cannot be counted or answered."""


# --- before the start ---------------------------------------------------------------------------


@dataclass(frozen=True)
class SetupCheck:
    """A question before the start; `if_no` is what to do if the answer is no."""

    id: str
    question: str
    if_no: str


SETUP_CHECKS = (
    SetupCheck("pack_intact", "Is the pack intact and dry?", "Do not use it; take another pack."),
    SetupCheck(
        "indicator_changed",
        "Have the sterilisation indicators changed colour, outside and inside?",
        "Do not use it; take another pack and tell the person responsible.",
    ),
    SetupCheck("in_date", "Is everything in date?", "Remove and replace it."),
    SetupCheck(
        "allergies_asked",
        "Have allergies been checked, latex above all?",
        "Have someone ask before anything is opened; the answer belongs in the chart, not here.",
    ),
    SetupCheck("barriers_on", "Are the barriers on?", "Put them on before you start."),
)
"""Common practice, no source. Only yes or no is kept, nothing about the patient."""


def setup_event(check_id: str, good: bool, at_s: float, source: Source = Source.TOUCH) -> Event:
    """The answer to a set-up question; the last answer to each counts."""
    if check_id not in {check.id for check in SETUP_CHECKS}:
        known = ", ".join(check.id for check in SETUP_CHECKS)
        raise CountError(f"there is no set-up check {check_id!r}; there are: {known}.")
    return Event(EventKind.CHECKED, at_s, source, about=check_id, good=good)


def setup_open(state: TrayState) -> tuple[SetupCheck, ...]:
    """The questions that nobody has answered yet."""
    return tuple(check for check in SETUP_CHECKS if check.id not in state.checks)


def setup_problems(state: TrayState) -> tuple[SetupCheck, ...]:
    """The questions answered with no."""
    return tuple(check for check in SETUP_CHECKS if state.checks.get(check.id) is False)


# --- the count ----------------------------------------------------------------------------------


class CountGroup(StrEnum):
    """The order of the count."""

    SHARP = "sharps"
    MOUTH = "may stay in a mouth"
    REST = "the rest"


@dataclass(frozen=True)
class CountLine:
    """One line of the count: `expected` pieces by the estimate, `counted` by hand (None: not yet).

    hint: what was recorded about it that matters to whoever counts; alone: whether it is confirmed by itself
    and never with a whole row or kit (`count_list` says of what); must: whether it has to be counted before
    the session ends.
    """

    item: str
    name: str
    group: CountGroup
    expected: int
    counted: int | None
    hint: str | None
    alone: bool = False

    @property
    def short(self) -> int:
        """Pieces fewer than expected; 0 if not counted."""
        return 0 if self.counted is None else max(0, self.expected - self.counted)

    @property
    def beyond(self) -> int:
        """Pieces more than were laid and added; 0 if not counted."""
        return 0 if self.counted is None else max(0, self.counted - self.expected)

    @property
    def must(self) -> bool:
        """True for sharps and for what may stay in a mouth. The rest neither hurts nor is left behind in
        anybody; it is found when the set is put together again."""
        return self.group is not CountGroup.REST


def count_list(state: TrayState, pack: Pack) -> tuple[CountLine, ...]:
    """What is to be counted: sharps, then what may stay in a mouth, then everything that is used again.

    Cartridges count with the sharps (glass, and the record of the dose). Whatever broke, is missed or was
    placed in the mouth may have left something there. Disposables that neither cut nor go into a mouth are
    left out, and so are containers.

    Alone are needles, blades, bands and cartridges (sharps that are thrown away), whatever was noted as in
    the mouth, broken, fallen, missing or passed and not given back, and what is placed in a mouth (so not
    discs and points) and was asked for and not given back. That an instrument or a bur was merely asked for,
    and nobody said that it came back, says nothing: it is seen in its place, or missed there.
    """
    lines = []
    for item_id, held in state.holdings.items():
        item = pack.by_id.get(item_id)
        missed = state.missed.get(item_id, 0)
        group = _group(item, bool(held.in_mouth or held.broken or missed))
        if group is None or not held.total:
            continue
        expected = held.total - (held.used_up if group is CountGroup.REST else 0)
        if expected or item_id in state.counted:
            name = item.name.text if item else item_id
            counted = state.counted.get(item_id)
            hint = _hint(group, held, missed)
            lines.append(CountLine(item_id, name, group, expected, counted, hint, _alone(item, held, missed)))
    order = list(CountGroup)
    return tuple(sorted(lines, key=lambda line: order.index(line.group)))


def count_event(
    item: str, pieces: int, at_s: float, source: Source = Source.TOUCH, together: CountedAs | None = None
) -> Event:
    """Records what was found by hand; the last count of each item holds."""
    return Event(EventKind.COUNTED, at_s, source, item=item, quantity=pieces, about=together)


@dataclass(frozen=True)
class CountPlace:
    """A row of the tray, a kit, or the places at the chair, with what is counted there, sharps first.

    id: for this session; kit: None for anything else; opened: False for a kit of which nothing was asked for
    or noted. An item that lies in several places is counted at the first.
    """

    id: str
    name: str
    lines: tuple[CountLine, ...]
    kit: Kit | None = None
    opened: bool = True

    @property
    def shown(self) -> tuple[CountLine, ...]:
        """What is counted here together; of an unopened kit, all that is in it."""
        return tuple(line for line in self.lines if not (self.opened and line.alone))

    @property
    def apart(self) -> bool:
        """Whether it has a touch of its own, also where nothing of it was opened: needles and the like are in
        it, and most of what happens at a chair is neither said nor noted."""
        return any(line.alone for line in self.lines)

    @property
    def open(self) -> tuple[CountLine, ...]:
        """What one touch would count: what is `shown` and not counted yet."""
        return tuple(line for line in self.shown if line.counted is None)

    @property
    def short(self) -> tuple[CountLine, ...]:
        """What is `shown` and short."""
        return tuple(line for line in self.shown if line.short)


def count_places(state: TrayState, pack: Pack, tray: Tray | None) -> tuple[CountPlace, ...]:
    """The count place by place: the rows, the kits, the places at the chair; what has no lines is left out.

    Together with `one_by_one` these are all the lines of `count_list`.
    """
    lines = {line.item: line for line in count_list(state, pack)}
    touched = touched_items(state)
    places = []
    for place_id, name, slots, kit in _laid(tray):
        here = tuple(lines.pop(item) for item in dict.fromkeys(s.item for s in slots) if item in lines)
        if here:
            order = list(CountGroup)
            sharps_first = tuple(sorted(here, key=lambda line: order.index(line.group) > 0))
            opened = kit is None or any(line.item in touched for line in here)
            places.append(CountPlace(place_id, name, sharps_first, kit, opened))
    return tuple(places)


def one_by_one(state: TrayState, pack: Pack, tray: Tray | None) -> tuple[CountLine, ...]:
    """What is confirmed line by line: what is alone, and what was brought and has no place, sharps first."""
    together = {line.item for place in count_places(state, pack, tray) for line in place.shown}
    return tuple(line for line in count_list(state, pack) if line.item not in together)


def together_events(
    place: CountPlace, together: CountedAs, at_s: float, source: Source = Source.TOUCH
) -> tuple[Event, ...]:
    """Records that all of a row or a kit is here, or that a kit was not opened: every line that is still open
    has what is expected.

    Raises:
        CountError: a kit that was opened is said not to have been.
    """
    if together is CountedAs.NOT_OPENED and place.opened:
        raise CountError(f"{place.name}: something of it was asked for or noted; count it.")
    if together is CountedAs.ALL_HERE and not place.opened:
        together = CountedAs.NOT_OPENED
    return tuple(count_event(line.item, line.expected, at_s, source, together) for line in place.open)


def as_said_events(
    said: Mapping[str, int], state: TrayState, pack: Pack, at_s: float, source: Source = Source.TOUCH
) -> tuple[Event, ...]:
    """Records what was counted aloud, but for what is confirmed by itself."""
    return tuple(
        count_event(line.item, said[line.item], at_s, source, CountedAs.AS_SAID)
        for line in count_list(state, pack)
        if line.item in said and not line.alone
    )


def last_counts(state: TrayState) -> tuple[Event, ...]:
    """The counts of the last touch, which may have counted several lines; () where nothing was counted."""
    standing = [event for event in effective(state.events) if event.kind is EventKind.COUNTED]
    if not standing:
        return ()
    last = standing[-1]
    if last.about is None:
        return (last,)
    return tuple(event for event in standing if (event.about, event.at_s) == (last.about, last.at_s))


def next_to_count(state: TrayState, pack: Pack) -> CountLine | None:
    """The first line that has not been counted; None once every line has."""
    return next((line for line in count_list(state, pack) if line.counted is None), None)


def missing(state: TrayState, pack: Pack) -> tuple[CountLine, ...]:
    """Lines with fewer pieces found than expected, in the order of the count."""
    return tuple(line for line in count_list(state, pack) if line.short)


def beyond(state: TrayState, pack: Pack) -> tuple[CountLine, ...]:
    """Lines with more pieces found than were laid and added, in the order of the count."""
    return tuple(line for line in count_list(state, pack) if line.beyond)


def touched_items(state: TrayState) -> frozenset[str]:
    """Items that something is noted of, other than that they were counted."""
    standing = effective(state.events)
    return frozenset(e.item for e in standing if e.item is not None and e.kind is not EventKind.COUNTED)


def kits_not_opened(state: TrayState, pack: Pack, tray: Tray | None) -> frozenset[str]:
    """The ids of the kits of which a person said that they were not opened, and nothing else is noted."""
    said = {
        event.item
        for event in effective(state.events)
        if event.kind is EventKind.COUNTED and event.about == CountedAs.NOT_OPENED
    }
    return frozenset(
        place.kit.id
        for place in count_places(state, pack, tray)
        if place.kit is not None and not place.opened and any(line.item in said for line in place.lines)
    )


def count_text(state: TrayState, pack: Pack) -> str:
    """The state of the count as a sentence; it never says that nothing is missing."""
    lines = count_list(state, pack)
    done = [line for line in lines if line.counted is not None]
    short = [line for line in done if line.short]
    more = [line for line in done if line.beyond]
    out = [f"{len(done)} of {len(lines)} counted."]
    if short:
        named = ", ".join(f"{line.name} ({line.counted} of {line.expected})" for line in short)
        out.append(
            f"Fewer than expected: {named}. Look in the mouth, dam, suction, floor and waste, and tell"
        )
        out[-1] += " the person responsible before the patient leaves."
    if more:
        named = ", ".join(f"{line.name} ({line.counted}, expected {line.expected})" for line in more)
        out.append(f"More than was laid and added: {named}. Count again.")
    if state.in_mouth:
        out.append(f"Noted as still in the mouth: {listed(state.in_mouth, pack)}.")
    if state.missed:
        out.append(f"Noted as missing, and not counted since: {listed(state.missed, pack)}.")
    if lines and len(done) == len(lines) and not short and not more:
        out.append("The numbers agree with the estimate, which may itself be wrong.")
    out.append(LOCAL_RULES)
    return " ".join(out)


def _group(item: Item | None, may_be_left: bool) -> CountGroup | None:
    if item is not None and (item.sharp or _is_cartridge(item)):
        return CountGroup.SHARP
    if may_be_left or (item is not None and item.counted):
        return CountGroup.MOUTH
    if item is None:
        return CountGroup.REST
    if item.item_class is ItemClass.PROTECTIVE:
        return None
    used_again = item.reprocessing in (Reprocessing.STERILISE, Reprocessing.BARRIER)
    return CountGroup.REST if used_again else None


def _alone(item: Item | None, held: Holding, missed: int) -> bool:
    """Whether it is confirmed by itself; see `count_list`."""
    once = item is not None and item.reprocessing is Reprocessing.SINGLE_USE
    if item is not None and once and (item.sharp or _is_cartridge(item)):
        return True
    placed = item is not None and item.counted and item.item_class is not ItemClass.FINISHING
    noted_out = held.out if placed else held.out - held.presumed
    return bool(noted_out or held.in_mouth or held.broken or held.dropped or missed)


def _laid(tray: Tray | None) -> list[tuple[str, str, Sequence[Slot], Kit | None]]:
    """The places of a tray in its order: id, name, slots, kit."""
    if tray is None:
        return []
    rows = [(f"row_{number}", row.name, row.slots, None) for number, row in enumerate(tray.rows, 1)]
    kits = [(f"kit_{kit.id}", kit.name, kit.on_tray, kit) for kit in tray.opened]
    return [*rows, *kits, (AT_CHAIR, "at the chair", tray.chair_side, None)]


def _is_cartridge(item: Item) -> bool:
    """Whether this is the glass cartridge of an anaesthetic: used once, always checked."""
    once = item.reprocessing is Reprocessing.SINGLE_USE
    return once and item.always_check and item.item_class is ItemClass.ANAESTHESIA


def _hint(group: CountGroup, held: Holding, missed: int) -> str | None:
    hints = []
    out = held.out - held.in_mouth
    if held.in_mouth:
        hints.append(f"{held.in_mouth} noted as still in the mouth.")
    if out:
        look = ": look in the mouth first" if group is CountGroup.MOUTH and not held.in_mouth else ""
        hints.append(f"{out} noted as out{look}.")
    if held.broken:
        hints.append(f"{held.broken} broke: count it as one, and only when every part is there.")
    if missed:
        hints.append(f"{missed} noted as missing.")
    return " ".join(hints) or None
