"""Renders answers, trays and items for people: few words, 80 columns, the item's name in capitals.

Takes an `Answer`, a `Tray` or an `Item`; returns text for a `rich` console. Colour only repeats what a word
or a sign already says. Nothing is decided here, and nothing is shown for chatter.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from listen.answer import Answer
from listen.answering import choices_of
from listen.chairside.handing import handing_text, read_back
from listen.chairside.injury import DEFAULT_CARD
from listen.chairside.report import SessionReport, sentences, summary, tables
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
from listen.commands.layout import (
    ANSWER,
    MIND,
    MISSING,
    QUESTION,
    Listing,
    console,
    heading,
    labelled,
    side_by_side,
    two_ends,
)
from listen.commands.say import counted
from listen.verdict import Verdict
from vocab.language.forms import SHARPS_INJURY
from vocab.layers.changes import short
from vocab.layers.store import CLINIC
from vocab.pack.labels import shown
from vocab.pack.schema import Item, ItemClass, Pack, Slot, Tray

if TYPE_CHECKING:  # typed requests do not need what these modules import
    from listen.chairside.pick_list import PickGroup
    from listen.chairside.restocking import Restocking
    from listen.commands.demo import DemoOutcome
    from listen.commands.machine import CheckedPart
    from vocab.layers.conflicts import Conflict
    from vocab.layers.vocabulary import Entry
    from vocab.lint.findings import Finding

_TRAYS_SHOWN = 3


def out(block: RenderableType) -> None:
    """Print on standard output."""
    console(sys.stdout).print(block)


def listing(
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    numbers: Collection[int] = (),
    nothing: str = "Nothing yet.",
) -> RenderableType:
    """A list with heads; `nothing` where it is empty. `numbers` are the columns that stand at the right."""
    return Listing(heads, rows, numbers) if rows else Text(nothing)


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
            shown.append(labelled([("next:", Text(self._names(likely.item for likely in asked[-1].next)))]))
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
            lines.append(("mind:", Text(answer.warning, style=MIND)))
        if answer.item:
            lines += self._handling(self.pack.item(answer.item))
        if answer.action == SHARPS_INJURY:
            lines += [("", Text(line)) for line in DEFAULT_CARD]
        return Group(headline, *([labelled(lines)] if lines else []))

    def _headline(self, answer: Answer) -> RenderableType:
        said = headline(answer, self.pack).upper()
        place = place_name(answer.slot) if answer.item else ""
        return two_ends([(Text(f"> {said}", style=ANSWER), Text(place.upper(), style="bold"))])

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
        items = [self.pack.item(choice.item) for choice in choices]
        what = read_back(items, self.pack.language) if any(item.always_check for item in items) else ""
        rows = []
        for number, choice in enumerate(choices, start=1):
            at = self.tray.slot_of(choice.item, choice.size) if self.tray else None
            place = place_name(at) or NOT_HERE if self.tray else ""
            name = choice_name(self.pack.called[choice.item], choice.size)
            rows.append((Text(f"  {number}  {name}", style="bold"), Text(place.upper())))
        parts: list[RenderableType] = [Text(f"? {question(choices)}", style=QUESTION), two_ends(rows)]
        if answer.warning:
            parts.append(labelled([("mind:", Text(answer.warning, style=MIND))]))
        if what:
            parts.append(labelled([("check:", Text(READ_BACK.format(what=what), style=MIND))]))
        return Group(*parts)

    def _names(self, items: Iterable[str]) -> str:
        return ", ".join(with_place(self.pack.item(item), self.tray) for item in items)


def tray_list(pack: Pack) -> RenderableType:
    """Every tray, one per line, with what to type for it."""
    rows = [(tray.name, tray.id, str(len(tray.slots))) for tray in pack.trays]
    return Group(
        Listing(("tray", "type", "slots"), rows, numbers=(2,)),
        Text("\n`traycall tray composite_class_two` shows one; so does what is typed for any other."),
    )


def tray_layout(pack: Pack, tray: Tray) -> RenderableType:
    """The tray row by row, each from left to right, line by line, then its kits and what is at the chair."""
    parts: list[RenderableType] = [Text(tray.name, style="bold")]
    for row in tray.rows:
        parts += [heading(row.name), _laid(pack, row.slots, 3)]
    for kit in tray.opened:
        box = f" ({pack.item(kit.item).name.text})" if kit.item else ""
        parts += [heading(f"{kit.name}{box}"), _laid(pack, kit.slots, 3)]
    if tray.chair_side:
        parts += [heading("at the chair"), _laid(pack, tray.chair_side, 2)]
    return Group(*parts)


def _laid(pack: Pack, slots: Sequence[Slot], most: int) -> RenderableType:
    many = {slot.at: f" ×{slot.count}" if slot.count > 1 else "" for slot in slots}
    return side_by_side([(slot.at, pack.item(slot.item).name.text + many[slot.at]) for slot in slots], most)


def picks(title: str, groups: Sequence[PickGroup]) -> RenderableType:
    """What to take, place by place, with a box to tick on paper."""
    from listen.chairside.pick_list import marks, piece_text

    parts: list[RenderableType] = [Text(f"Pick list: {title}", style="bold")]
    for group in groups:
        parts.append(heading(group.name))
        for taking in group.takings:
            told = [f"{piece_text(piece)} {', '.join(marks(piece))}".rstrip() for piece in taking.pieces]
            name, inside = (told[0], []) if taking.alone else (taking.name, told)
            parts.append(two_ends([(Text(f"[ ] {name}"), Text(taking.goes_to, style="dim"))]))
            if inside:
                parts.append(Padding(Text("; ".join(inside)), (0, 0, 0, 6)))
    return Group(*parts)


def refills(title: str, found: Restocking) -> RenderableType:
    """What to fill up again, by kit and slot."""
    from listen.chairside.restocking import ESTIMATE

    parts: list[RenderableType] = [Text(f"Restocking: {title}", style="bold"), Text(ESTIMATE)]
    for place, lines in found.places:
        rows = [line.row[1:] for line in lines]
        named = [(row[1], *row[:1], *row[2:]) for row in rows]
        parts += [heading(f"{place[:1].upper()}{place[1:]}")]
        parts.append(Listing(("item", "slot", "size", "pieces", "why", "kept in"), named, numbers=(3,)))
    if not found.lines:
        parts.append(Text("Nothing was noted as used, opened or empty."))
    if found.not_noted:
        parts.append(Text(f"\nNothing is noted of these; look into each: {', '.join(found.not_noted)}."))
    return Group(*parts)


def item_list(pack: Pack) -> RenderableType:
    """Preferred names by class."""
    parts: list[RenderableType] = []
    for item_class in ItemClass:
        names = [item.name.text for item in pack.items if item.item_class is item_class]
        if names:
            title = Text(item_class.value.capitalize(), style="bold")
            parts += [title, side_by_side([("", name) for name in names], 3), Text("")]
    return Group(*parts, Text("`traycall item NAME` explains one, by any of its names."))


def item_choices(items: Sequence[Item]) -> RenderableType:
    """Several items that one name may mean."""
    rows = [(item.name.text, item.look) for item in items]
    return Group(Text(f"? {question(items)}\n", style=QUESTION), Listing(("item", "look"), rows))


def item_page(pack: Pack, item: Item) -> RenderableType:
    """Everything the pack knows about an item."""
    head = two_ends([(Text(item.name.text.upper(), style="bold"), Text(item.item_class.value))])
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
        lines.append(("check:", Text(READ_BACK.format(what=read_back([item], pack.language)))))
    lines += [("kind:", Text(_kind(item))), ("trays:", Text(_all_slots(pack, item)))]
    return Group(head, labelled(lines))


def session_report(report: SessionReport) -> RenderableType:
    """The report of a session."""
    parts: list[RenderableType] = [Text(report.title, style="bold"), Text(summary(report))]
    for title, heads, rows in tables(report):
        parts += [heading(title), Listing(heads, rows)]
    return Group(*parts, Text(""), *(Text(sentence) for sentence in sentences(report)))


def history(entries: Sequence[Entry], dentists: Mapping[str, str]) -> RenderableType:
    """Every change, oldest first; `dentists` are names by id."""
    rows = [
        (
            entry.change.id,
            f"{entry.change.when:%Y-%m-%d %H:%M}",
            short(entry.change.who),
            "" if entry.layer == CLINIC else dentists.get(entry.layer, entry.layer),
            entry.text + ("" if entry.counts else " (undone)"),
            shown(entry.change.why),
        )
        for entry in entries
    ]
    heads = ("change", "when", "who", "for", "what", "why")
    return listing(heads, rows, nothing="Nothing has been changed yet: the vocabulary is as it came.")


def conflict_list(conflicts: Sequence[Conflict]) -> RenderableType:
    """What is to be decided, and what helps."""
    rows = [(f"{one.what}.", one.by, f"{one.holds}.", f"{one.remedy}.") for one in conflicts]
    return listing(("to be decided", "changed by", "now", "what helps"), rows, nothing="No conflicts.")


def finding_list(findings: Sequence[Finding], to_type: Callable[[str], str]) -> RenderableType:
    """What may go wrong, worst first, with what helps; `to_type` gives what to type for an item."""
    parts: list[RenderableType] = []
    before = None
    table = Table.grid(padding=(0, 2, 0, 0))
    for number, one in enumerate(findings, 1):
        if one.severity is not before:
            before = one.severity
            table = Table.grid(padding=(0, 2, 0, 0))
            table.add_column(width=len(str(len(findings))), justify="right")
            table.add_column(overflow="fold")
            parts += [Text(f"{before.heading} ({before.value})", style="bold"), table, Text("")]
        told = Text(f"{one.message[0].upper()}{one.message[1:]}.\n{one.help}")
        if one.ask_back:
            told.append(f":\ntraycall edit ask-back {' '.join(map(to_type, one.items))}")
        table.add_row(str(number), told)
    return Group(*parts, Text(counted(len(findings), "thing") + " to look over."))


_SIGNS = {"ok": ("+", "green"), "missing": ("!", MISSING), "note": ("-", "")}


def finding(found: CheckedPart) -> RenderableType:
    """One line (or a few) of the check of this machine: "+" present, "!" missing, "-" a remark."""
    table = Table.grid(padding=(0, 1))
    table.add_column(width=1)
    table.add_column(width=15)
    table.add_column(overflow="fold")
    sign, style = _SIGNS[found.state]
    what = "MISSING: " if found.state == "missing" else ""
    table.add_row(Text(sign, style=style), Text(found.what, style="bold"), Text(what + found.text))
    return table


def demo_report(outcomes: Sequence[DemoOutcome], engine: str) -> RenderableType:
    """Results of the recordings: requests and chatter, in quiet and in noise, and every mistake."""
    from listen.commands.demo import CHATTER_RESULTS, REQUEST_RESULTS, counts

    parts: list[RenderableType] = []
    for title, results, chatter in (
        ("requests", REQUEST_RESULTS, False),
        ("chatter", CHATTER_RESULTS, True),
    ):
        rows = []
        mine = [outcome for outcome in outcomes if (outcome.recording.kind == "chatter") is chatter]
        for where, some in (
            ("in quiet", [o for o in mine if o.recording.noise is None]),
            ("in chair noise", [o for o in mine if o.recording.noise is not None]),
            ("together", mine),
        ):
            rows.append((where, str(len(some)), *(str(counts(some)[result]) for result in results)))
        parts += [Text(""), Listing((title, "all", *results), rows, numbers=range(1, len(results) + 2))]
    parts.append(Text(""))
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
    return "; ".join(_places(pack, item)) or "on no tray"
