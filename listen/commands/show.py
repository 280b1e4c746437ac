"""Renders answers, trays and items for people: few words, 80 columns, the item's name in capitals.

Takes an `Answer`, a `Tray` or an `Item`; returns text for a `rich` console. Colour only repeats what a word
or a sign already says. Nothing is decided here, and nothing is shown for chatter.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, TextIO

from rich.console import Console, Group, RenderableType
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
from rich.table import Column, Table
from rich.text import Text

from listen.answer import Answer
from listen.answering import choices_of
from listen.chairside.handing import handing_text
from listen.chairside.injury import DEFAULT_CARD
from listen.chairside.view import (
    NOT_HERE,
    READ_BACK,
    choice_name,
    headline,
    instead_of,
    place_name,
    question,
    wait_line,
    with_place,
)
from listen.verdict import Verdict
from vocab.language.forms import SHARPS_INJURY
from vocab.pack.schema import Item, ItemClass, Pack, Slot, Tray

if TYPE_CHECKING:  # typed requests do not need what these modules import
    from listen.commands.demo import DemoOutcome
    from listen.commands.doctor import CheckedPart

WIDTH = 80
_TRAYS_SHOWN = 3


def console(file: TextIO) -> Console:
    """A console no wider than 80 columns."""
    found = Console(file=file, highlight=False)
    return Console(file=file, highlight=False, width=min(WIDTH, found.width))


@dataclass(frozen=True)
class ChairScreen:
    """How the answers of one chair look. `tray` is None if none was chosen."""

    pack: Pack
    tray: Tray | None

    def answers(self, answers: Sequence[Answer]) -> RenderableType | None:
        """All that is shown for one utterance; None for chatter."""
        shown = [block for answer in answers if (block := self._answer(answer)) is not None]
        if not shown:
            return None
        asked = [answer for answer in answers if answer.verdict is not Verdict.QUIET]
        if asked and asked[-1].next:
            shown.append(_lines([("next:", Text(self._names(likely.item for likely in asked[-1].next)))]))
        return Group(Text(""), *shown)

    def _answer(self, answer: Answer) -> RenderableType | None:
        if answer.kind == "refusal":
            return Text(f"- {wait_line([self.pack.called[item] for item in answer.refused])}", style="dim")
        if answer.verdict is Verdict.QUIET:
            return None
        if answer.verdict is Verdict.CHECK:
            return self._check(answer)
        headline = self._headline(answer)
        lines: list[tuple[str, Text]] = []
        if taken_back := instead_of(answer, self.pack):
            lines.append(("not:", Text(taken_back)))
        if answer.warning:
            lines.append(("mind:", Text(answer.warning, style="bold")))
        if answer.item:
            lines += self._handling(self.pack.item(answer.item))
        if answer.action == SHARPS_INJURY:
            lines += [("", Text(line)) for line in DEFAULT_CARD]
        return Group(headline, *([_lines(lines)] if lines else []))

    def _headline(self, answer: Answer) -> RenderableType:
        said = headline(answer, self.pack).upper()
        line = _two_ends()
        place = place_name(answer.slot) if answer.item else ""
        line.add_row(Text(f"> {said}", style="bold green"), Text(place.upper(), style="bold"))
        return line

    def _handling(self, item: Item) -> list[tuple[str, Text]]:
        lines = []
        if self.tray is not None and self.tray.slot_of(item.id) is None:
            lines.append(("slot:", Text(f"{NOT_HERE}; {_held_by(self.pack, item)}")))
        passing = handing_text(item, self.pack.language)
        if passing:
            lines.append(("pass:", Text(passing)))
        mind = _mind(item)
        if mind:
            lines.append(("mind:", Text(mind)))
        return lines

    def _check(self, answer: Answer) -> RenderableType:
        choices = choices_of(answer)
        label = any(self.pack.item(choice.item).always_check for choice in choices)
        rows = _two_ends()
        for number, choice in enumerate(choices, start=1):
            at = self.tray.slot_of(choice.item, choice.size) if self.tray else None
            place = place_name(at) or NOT_HERE if self.tray else ""
            name = choice_name(self.pack.called[choice.item], choice.size)
            rows.add_row(Text(f"  {number}  {name}", style="bold"), Text(place.upper()))
        parts: list[RenderableType] = [Text(f"? {question(choices)}", style="bold yellow"), rows]
        if answer.warning:
            parts.append(_lines([("mind:", Text(answer.warning, style="bold"))]))
        if label:
            parts.append(_lines([("label:", Text(READ_BACK, style="bold"))]))
        return Group(*parts)

    def _names(self, items: Iterable[str]) -> str:
        return ", ".join(with_place(self.pack.item(item), self.tray) for item in items)


def tray_list(pack: Pack) -> RenderableType:
    """Every tray, one per line."""
    table = Table.grid(padding=(0, 3, 0, 0))
    for tray in pack.trays:
        table.add_row(Text(tray.id, style="bold"), tray.name, f"{len(tray.slots)} slots")
    return Group(table, Text("\n`traycall tray ID` shows one."))


def tray_layout(pack: Pack, tray: Tray) -> RenderableType:
    """The tray row by row, each from left to right, line by line, then its kits and what is at the chair."""
    parts: list[RenderableType] = [Text(tray.name.upper(), style="bold")]
    for row in tray.rows:
        parts += [Text(f"\n{row.name}", style="bold underline"), _cells(pack, row.slots, 3)]
    for kit in tray.opened:
        box = f" ({pack.item(kit.item).name.text})" if kit.item else ""
        parts += [Text(f"\n{kit.name}{box}", style="bold underline"), _cells(pack, kit.slots, 3)]
    if tray.chair_side:
        parts += [Text("\nat the chair", style="bold underline"), _cells(pack, tray.chair_side, 2)]
    return Group(*parts)


def _cells(pack: Pack, slots: Sequence[Slot], columns: int) -> Table:
    table = Table.grid(padding=(0, 2, 0, 0), expand=True)
    address = max(len(slot.at) for slot in slots)
    for _ in range(columns):
        table.add_column(width=address, justify="right", style="bold", no_wrap=True)
        table.add_column(ratio=1)
    for start in range(0, len(slots), columns):
        cells: list[str] = []
        for slot in slots[start : start + columns]:
            many = f" x{slot.count}" if slot.count > 1 else ""
            cells += [slot.at, pack.item(slot.item).name.text + many]
        table.add_row(*cells)
    return table


def item_list(pack: Pack) -> RenderableType:
    """Preferred names by class."""
    parts: list[RenderableType] = []
    for item_class in ItemClass:
        names = [item.name.text for item in pack.items if item.item_class is item_class]
        if names:
            table = Table.grid(padding=(0, 2, 0, 0), expand=True)
            for _ in range(3):
                table.add_column(ratio=1)
            for start in range(0, len(names), 3):
                table.add_row(*names[start : start + 3])
            parts += [Text(item_class.value.upper(), style="bold"), table, Text("")]
    return Group(*parts, Text("`traycall item NAME` explains one, by any of its names."))


def item_choices(items: Sequence[Item]) -> RenderableType:
    """Several items that one name may mean."""
    table = Table.grid(padding=(0, 3, 0, 0))
    for item in items:
        table.add_row(Text(item.name.text, style="bold"), item.look)
    return Group(Text(f"? {question(items)}", style="bold yellow"), table)


def item_page(pack: Pack, item: Item) -> RenderableType:
    """Everything the pack knows about an item."""
    head = _two_ends()
    head.add_row(Text(item.name.text.upper(), style="bold"), item.item_class.value)
    synonyms = ", ".join(f"{n.text} ({n.note})" if n.note else n.text for n in item.synonyms)
    lines = [("also:", Text(synonyms))] if synonyms else []
    lines += [("for:", Text(item.purpose)), ("look:", Text(item.look))]
    passing = handing_text(item, pack.language)
    if passing:
        lines.append(("pass:", Text(passing)))
    for other in item.confused_with:
        lines.append(("not:", Text.assemble((pack.item(other.item).name.text, "bold"), f" - {other.tell}")))
    lines += [("mind:", Text(caution)) for caution in item.cautions]
    if item.always_check:
        lines.append(("label:", Text(READ_BACK)))
    lines += [("kind:", Text(_kind(item))), ("trays:", Text(_all_slots(pack, item)))]
    return Group(head, _lines(lines))


_SIGNS = {"ok": ("+", "green"), "missing": ("!", "bold yellow"), "note": ("-", "")}


def finding(found: CheckedPart) -> RenderableType:
    """One line (or a few) of the doctor: "+" present, "!" missing, "-" a remark."""
    table = Table.grid(padding=(0, 1))
    table.add_column(width=1)
    table.add_column(width=15)
    table.add_column(overflow="fold")
    sign, style = _SIGNS[found.state]
    what = "MISSING: " if found.state == "missing" else ""
    table.add_row(Text(sign, style=style), Text(found.what, style="bold"), Text(what + found.text))
    return table


@contextmanager
def progress(start: str, total: int) -> Iterator[Callable[[str], None]]:
    """A progress bar on standard error; yields a function that advances it by one and names the step."""
    one_line = Column(no_wrap=True, overflow="ellipsis")
    columns = (
        BarColumn(20),
        MofNCompleteColumn(),
        TextColumn("{task.description}", markup=False, table_column=one_line),
    )
    with Progress(*columns, console=console(sys.stderr)) as bar:
        task = bar.add_task(start, total=total)
        yield lambda text: bar.update(task, advance=1, description=text)


def demo_report(outcomes: Sequence[DemoOutcome], engine: str) -> RenderableType:
    """Results of the recordings: requests and chatter, in quiet and in noise, and every mistake."""
    from listen.commands.demo import CHATTER_RESULTS, REQUEST_RESULTS, counts

    parts: list[RenderableType] = [Text("")]
    for title, results, chatter in (
        ("requests", REQUEST_RESULTS, False),
        ("chatter", CHATTER_RESULTS, True),
    ):
        table = Table(title=None, box=None, pad_edge=False, padding=(0, 3, 0, 0))
        table.add_column(title, style="bold", width=14)
        for heading in ("all", *results):
            table.add_column(heading, justify="right", width=8)
        mine = [outcome for outcome in outcomes if (outcome.recording.kind == "chatter") is chatter]
        for where, some in (
            ("in quiet", [o for o in mine if o.recording.noise is None]),
            ("in chair noise", [o for o in mine if o.recording.noise is not None]),
            ("together", mine),
        ):
            table.add_row(where, str(len(some)), *(str(counts(some)[result]) for result in results))
        parts += [table, Text("")]
    slips = [o for o in outcomes if o.result in ("wrong", "missed", "asked", "answered")]
    for outcome in slips:
        said = (
            f'{outcome.recording.path.name} {outcome.result}: "{outcome.recording.text}" -> {_got(outcome)}'
        )
        parts.append(Text(said))
    latencies = [answer.latency_ms for outcome in outcomes for answer in outcome.answers]
    took = f"; {median(latencies):.0f} ms an utterance at the median" if latencies else ""
    parts.append(Text(f"\nengine: {engine}{took}"))
    parts.append(Text("checked: the right item was among those offered; anaesthesia is always checked."))
    return Group(*parts)


def _got(outcome: DemoOutcome) -> str:
    loud = [answer for answer in outcome.answers if answer.verdict is not Verdict.QUIET]
    told = (f"{a.verdict.value} {a.name or a.action or a.kind}" for a in loud)
    return ", ".join(told) or "silence"


def _kind(item: Item) -> str:
    facts = {1: ["single-ended"], 2: ["double-ended"]}.get(item.ends, [])
    facts += ["sharp"] if item.sharp else []
    facts += [f"{item.shank.value} shank"] if item.shank else []
    facts += ["counted, it may stay in a mouth"] if item.counted else []
    return "; ".join([*facts, f"{item.reprocessing.value} (local rules decide)"])


def _mind(item: Item) -> str:
    """What to mind while passing the item, in a few words; `item_page` has the full sentences."""
    first = re.split("[;.]", item.cautions[0])[0] if item.cautions else ""
    flags = ["sharp"] if item.sharp and "sharp" not in first.lower() else []
    flags += ["counted"] if item.counted and "count" not in first.lower() else []
    return ", ".join([*flags, *([first[0].lower() + first[1:]] if first else [])])


def _places(pack: Pack, item: Item) -> list[str]:
    return [f"{tray.name}: {at}" for tray in pack.trays if (at := tray.slot_of(item.id)) is not None]


def _held_by(pack: Pack, item: Item) -> str:
    places = _places(pack, item)
    if not places:
        return "no tray holds it"
    more = f"; and {len(places) - _TRAYS_SHOWN} more" if len(places) > _TRAYS_SHOWN else ""
    return f"on {'; '.join(places[:_TRAYS_SHOWN])}{more}"


def _all_slots(pack: Pack, item: Item) -> str:
    return "; ".join(_places(pack, item)) or "on no tray of this pack"


def _two_ends() -> Table:
    """A grid of one wide column and one at the right edge."""
    table = Table.grid(padding=(0, 1), expand=True)
    table.add_column(ratio=1)
    table.add_column(justify="right", no_wrap=True)
    return table


def _lines(lines: Iterable[tuple[str, Text]]) -> Table:
    table = Table.grid(padding=(0, 1))
    table.add_column(width=8, justify="right")
    table.add_column()
    for label, text in lines:
        table.add_row(label, text)
    return table
