"""Before and after: the set-up questions, the guided count by hand, and what happens to each item.

From the tray's state and the pack this makes lists to go through, ordered so that what hurts or may stay in a
mouth comes first, and the events that record what was found. A person counts; nothing here ever says that
everything is there, and local rules decide what is done with anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from listen.chairside.events import Event, EventKind, Source
from listen.chairside.tray_state import Holding, TrayState, listed
from vocab.errors import TraycallError
from vocab.pack.schema import Item, ItemClass, Pack, Reprocessing

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

    hint: what was recorded about it that matters to whoever counts; must: whether it has to be counted before
    the session ends.
    """

    item: str
    name: str
    group: CountGroup
    expected: int
    counted: int | None
    hint: str | None

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
            lines.append(CountLine(item_id, name, group, expected, counted, _hint(group, held, missed)))
    order = list(CountGroup)
    return tuple(sorted(lines, key=lambda line: order.index(line.group)))


def count_event(item: str, pieces: int, at_s: float, source: Source = Source.TOUCH) -> Event:
    """Records what was found by hand; the last count of each item holds."""
    return Event(EventKind.COUNTED, at_s, source, item=item, quantity=pieces)


def next_to_count(state: TrayState, pack: Pack) -> CountLine | None:
    """The first line that has not been counted; None once every line has."""
    return next((line for line in count_list(state, pack) if line.counted is None), None)


def missing(state: TrayState, pack: Pack) -> tuple[CountLine, ...]:
    """Lines with fewer pieces found than expected, in the order of the count."""
    return tuple(line for line in count_list(state, pack) if line.short)


def beyond(state: TrayState, pack: Pack) -> tuple[CountLine, ...]:
    """Lines with more pieces found than were laid and added, in the order of the count."""
    return tuple(line for line in count_list(state, pack) if line.beyond)


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


# --- afterwards ---------------------------------------------------------------------------------


class Fate(StrEnum):
    """What happens to things afterwards, in this order."""

    SHARPS = "Into the sharps container"
    DISCARD = "Discard"
    STERILISE = "Clean and heat-sterilise"
    BARRIER = "Take the barrier off and disinfect"
    MULTI_DOSE = "Close and put away; do not touch with used gloves"


@dataclass(frozen=True)
class Afterwards:
    """One group: what to do, with which items (id, name), and what to heed."""

    fate: Fate
    items: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]


_CAUTIONS = {
    Fate.SHARPS: (
        "First of all, by the handle or with pliers; never reach in, never fill above the line.",
        "Needles are recapped one-handed or in a device, never with two hands, and come off before the "
        "syringe is cleaned.",
        "Used matrix bands are sharps; so are single-use burs.",
    ),
    Fate.DISCARD: ("What was opened for this patient is not kept for the next.",),
    Fate.STERILISE: (
        "In a closed container; wiped is still contaminated, and so is anything that fell.",
        "Handpieces and their motors are sterilised too.",
    ),
    Fate.BARRIER: ("A torn barrier means that the surface is disinfected as well.",),
    Fate.MULTI_DOSE: (
        "Tips are thrown away; a container that was touched is disinfected as its maker says.",
    ),
}
"""Common practice, no source."""


def afterwards(state: TrayState, pack: Pack) -> tuple[Afterwards, ...]:
    """What came to the chair, grouped by what happens to it, sharps container first."""
    groups: dict[Fate, list[tuple[str, str]]] = {fate: [] for fate in Fate}
    for item_id, held in state.holdings.items():
        item = pack.by_id.get(item_id)
        if item is not None and held.total and item_id != _CONTAINER:
            groups[_fate(item)].append((item_id, item.name.text))
    return tuple(
        Afterwards(fate, tuple(items), (*_CAUTIONS[fate], LOCAL_RULES))
        for fate, items in groups.items()
        if items
    )


_CONTAINER = "sharps_container"


def _fate(item: Item) -> Fate:
    """Single-use sharps and the glass of anaesthetics go to the container."""
    if item.reprocessing is Reprocessing.SINGLE_USE:
        return Fate.SHARPS if item.sharp or item.always_check else Fate.DISCARD
    return {
        Reprocessing.STERILISE: Fate.STERILISE,
        Reprocessing.BARRIER: Fate.BARRIER,
        Reprocessing.MULTI_DOSE: Fate.MULTI_DOSE,
    }[item.reprocessing]


def afterwards_text(groups: Sequence[Afterwards]) -> str:
    """The groups as numbered lines."""
    lines = []
    for number, group in enumerate(groups, 1):
        lines.append(f"{number}. {group.fate}: {', '.join(name for _, name in group.items)}.")
        lines += [f"   {caution}" for caution in group.cautions[:-1]]
    return "\n".join([*lines, LOCAL_RULES])
