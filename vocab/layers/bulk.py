"""Bulk import and export: names and trays as CSV; whole items, kits, trays and procedures as YAML.

Takes the pack in use and text that was edited elsewhere. Gives the operations that lead from one to the
other, each with its row (CSV) or line (YAML), and every problem by row. What a file leaves out stays as it
is; only a row that says so removes something. Nothing is saved here; see `Vocabulary.preview`.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

import yaml
from pydantic import BaseModel, ValidationError

from vocab.errors import TraycallError, nearest
from vocab.layers import cells
from vocab.layers.canonical import plain
from vocab.layers.cells import unguarded
from vocab.layers.changes import (
    CHAIR_SIDE,
    FIELDS,
    AddItem,
    AddName,
    AddProcedure,
    AddTray,
    ClearSlot,
    Operation,
    RemoveName,
    RenameItem,
    RetireItem,
    SetField,
    SetKit,
    SetSlot,
    SetSteps,
    SetTrayKits,
)
from vocab.layers.draft import canonical_value, field_value, row_of, variant_called
from vocab.layers.vocabulary import Preview
from vocab.pack.labels import composed, shown
from vocab.pack.references import normalised
from vocab.pack.schema import Item, ItemClass, Kit, Name, Pack, Procedure, Reprocessing, Slot, Tray
from vocab.pack.yaml_source import YamlSource

NEEDED = ("class", "purpose", "look", "reprocessing")
"""Columns that a new item must fill."""
DETAILS = {
    "class": "class",
    "purpose": "purpose",
    "look": "look",
    "handing": "handing",
    "reprocessing": "reprocessing",
    "latex": "latex",
    "variants": "variants",
    "patterns": "variant_names",
}
"""Columns that describe an item, and the fields they stand for."""
NAMES = ("do", "item", "kind", "name", "say", "note", "shared", *DETAILS)
TRAYS = ("do", "tray", "row", "slot", "item", "count", "variants")
KINDS = ("preferred", "synonym")
LARGEST_FILE = 2_000_000
"""Bytes; many times what a whole pack takes."""


class UnknownVariant(TraycallError):
    """A size or pattern that an item does not have."""


@dataclass(frozen=True)
class RowProblem:
    """What is wrong in a row; `row` counts from 1 as in a spreadsheet, 0 is the whole file."""

    row: int
    column: str
    message: str

    def __str__(self) -> str:
        where = f"row {self.row}" if self.row else "the file"
        return ": ".join(part for part in (where, self.column, self.message) if part)


@dataclass(frozen=True)
class Import:
    """What a file asks for. `rows` holds, for each operation, the row it comes from."""

    operations: tuple[Operation, ...]
    rows: tuple[int, ...]
    problems: tuple[RowProblem, ...]

    def with_troubles(self, preview: Preview) -> tuple[RowProblem, ...]:
        """All problems by row: those of the file and those that a preview of its operations found."""
        found = [
            RowProblem(0 if t.index is None else self.rows[t.index], "", t.message) for t in preview.troubles
        ]
        return tuple(sorted({*self.problems, *found}, key=lambda p: (p.row, p.column, p.message)))


@dataclass
class _FileReading:
    """Operations and problems while a file is read."""

    operations: list[Operation] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    problems: list[RowProblem] = field(default_factory=list)

    def add(self, row: int, operations: Iterable[Operation]) -> None:
        for operation in operations:
            self.operations.append(operation)
            self.rows.append(row)

    def problem(self, row: int, column: str, message: str) -> None:
        self.problems.append(RowProblem(row, column, message))

    def done(self) -> Import:
        problems = tuple(sorted(self.problems, key=lambda p: (p.row, p.column, p.message)))
        return Import(tuple(self.operations), tuple(self.rows), problems)


# --- names as CSV -----------------------------------------------------------------------------------


def names_csv(pack: Pack) -> str:
    """Every name of a pack, one row each; what an item is stands in the row of its preferred name."""
    rows = []
    for item in pack.items:
        for i, name in enumerate(item.own_names):
            row = {
                "item": item.id,
                "kind": KINDS[min(i, 1)],
                "name": name.text,
                "say": cells.of_list(name.say),
                "note": name.note,
                "shared": "yes" if name.shared else "",
            }
            rows.append(row if i else row | cells.of_item(item))
    return _csv(NAMES, rows)


def rows_csv(rows: Iterable[Mapping[str, str]]) -> str:
    """Rows of names, made elsewhere, as the text that `read_names_csv` reads."""
    return _csv(NAMES, rows)


def read_names_csv(text: str | bytes, pack: Pack) -> Import:
    """The operations that bring the names of a pack to what the rows say.

    Column `do` is empty to keep or add, "remove" for a synonym, "retire" for an item (in any of its rows).
    A new item needs class, purpose, look and reprocessing in the row of its preferred name. Names that say a
    variant have no rows; `variants` and `patterns` make them.
    """
    reading = _FileReading()
    rows = _rows(text, NAMES, ("item", "name"), reading)
    known = pack.by_id
    new: dict[str, _NewItem] = {}
    seen: dict[tuple[str, str], int] = {}
    for number, row in rows:
        item_id, name_text, do = row["item"], row["name"], row["do"]
        if not item_id or not name_text:
            reading.problem(number, "name" if item_id else "item", "is empty; write one")
            continue
        if do not in ("", "remove", "retire"):
            reading.problem(number, "do", f"{do!r} is not known; leave it empty, or write remove or retire")
            continue
        if row["kind"] not in ("", *KINDS):
            reading.problem(number, "kind", f"{row['kind']!r} is not known; write preferred or synonym")
            continue
        name = _name(row, known.get(item_id), number, reading)
        if name is None:
            continue
        before = seen.setdefault((item_id, normalised(name_text)), number)
        if before != number:
            reading.problem(number, "name", f"{name_text!r} is already in row {before}; delete one")
        elif item_id in known:
            reading.add(number, _name_changes(known[item_id], name, row, number, reading))
        elif do:
            reading.problem(number, "item", f"there is no item {item_id}{nearest(item_id, known)}")
        else:
            new.setdefault(item_id, _NewItem(number)).add(number, name, row)
    for item_id, entry in new.items():
        entry.make(item_id, known, reading)
    return _in_row_order(reading)


def _name_changes(
    item: Item, name: Name, row: Mapping[str, str], number: int, reading: _FileReading
) -> Iterator[Operation]:
    """What one row changes about an item that is there."""
    text = normalised(name.text)
    held = next((n for n in item.names if normalised(n.text) == text), None)
    if row["do"] == "retire":
        if not any(isinstance(o, RetireItem) and o.item == item.id for o in reading.operations):
            yield RetireItem(item=item.id)
        return
    if row["do"] == "remove":
        yield RemoveName(item=item.id, name=name.text)
        return
    if row["kind"] == "preferred" and held is not item.name:
        yield RenameItem(item=item.id, name=name)
    elif held != name and variant_called(item, text) is None:
        yield AddName(item=item.id, name=name)
    for column, field_ in DETAILS.items():
        value = _detail(column, row, number, reading)
        if value is not None and canonical_value(item, field_, value) != field_value(item, field_):
            yield SetField(item=item.id, field=field_, value=value)


def _name(row: Mapping[str, str], item: Item | None, number: int, reading: _FileReading) -> Name | None:
    """The name in a row; where the row does not say whether it is shared, that stays as it is."""
    text = normalised(row["name"])
    held = next((n for n in item.own_names if normalised(n.text) == text), None) if item else None
    try:
        shared = cells.to_yes(row["shared"]) if row["shared"] else held is not None and held.shared
        data = {"text": row["name"], "say": cells.to_list(row["say"]), "note": row["note"], "shared": shared}
        return Name.model_validate(data)
    except cells.CellError as error:
        reading.problem(number, "say" if row["say"].startswith("[") else "shared", str(error))
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            reading.problem(number, str(detail["loc"][0]), _plainly(detail))
    return None


def _detail(column: str, row: Mapping[str, str], number: int, reading: _FileReading) -> Any:
    """What a cell says about an item; None where it is empty or cannot be read."""
    cell = row[column]
    if not cell or not _allowed(column, cell, number, reading):
        return None
    try:
        return cells.READERS[column](cell) if column in cells.READERS else cell
    except cells.CellError as error:
        reading.problem(number, column, str(error))
        return None


@dataclass
class _NewItem:
    """The rows of an item that the pack does not have."""

    first: int
    names: list[tuple[int, Name, Mapping[str, str]]] = field(default_factory=list)

    def add(self, number: int, name: Name, row: Mapping[str, str]) -> None:
        self.names.append((number, name, row))

    def make(self, item_id: str, known: Mapping[str, Item], reading: _FileReading) -> None:
        ordered = sorted(self.names, key=lambda entry: entry[2]["kind"] != "preferred")
        number, preferred, row = ordered[0]
        missing = [column for column in NEEDED if not row[column]]
        if missing:
            message = (
                f"{item_id} is new{nearest(item_id, known)}; a new item needs {', '.join(missing)} in the "
                "row of its preferred name"
            )
            reading.problem(number, missing[0], message)
            return
        before = len(reading.problems)
        details = {field_: _detail(column, row, number, reading) for column, field_ in DETAILS.items()}
        if len(reading.problems) > before:
            return
        data: dict[str, Any] = {name: value for name, value in details.items() if value is not None}
        data |= {"id": item_id, "name": plain(preferred)}
        data["synonyms"] = [plain(name) for _, name, _ in ordered[1:]]
        try:
            reading.add(self.first, [AddItem(item=Item.model_validate(data))])
        except ValidationError as error:
            for detail in error.errors(include_url=False):
                column = "item" if detail["loc"][0] == "id" else str(detail["loc"][0])
                reading.problem(number, column, _plainly(detail))


def _allowed(column: str, value: str, number: int, reading: _FileReading) -> bool:
    choices = {"class": [c.value for c in ItemClass], "reprocessing": [r.value for r in Reprocessing]}.get(
        column
    )
    if choices is None or value in choices:
        return True
    message = f"{value!r} is not valid here{nearest(value, choices)}; allowed: {'; '.join(choices)}"
    reading.problem(number, column, message)
    return False


# --- trays as CSV -----------------------------------------------------------------------------------


def trays_csv(pack: Pack) -> str:
    """Every slot of every tray, one row each."""
    rows = []
    for tray in pack.trays:
        for slot in tray.slots:
            rows.append(
                {
                    "tray": tray.id,
                    "row": row_of(tray, slot.at) or "",
                    "slot": slot.at,
                    "item": slot.item,
                    "count": str(slot.count),
                    "variants": cells.of_list(slot.variants),
                }
            )
    return _csv(TRAYS, rows)


def read_trays_csv(text: str | bytes, pack: Pack) -> Import:
    """The operations that bring the trays of a pack to what the rows say.

    Column `do` is empty to keep or fill, "clear" for a slot. Where the item stays the same and no variants
    are given, they stay too. A new tray is made, its id turned into a name; its rows stand in the
    order of the file.
    """
    reading = _FileReading()
    rows = _rows(text, TRAYS, ("tray", "slot"), reading)
    trays = {tray.id: tray for tray in pack.trays}
    items = pack.by_id
    new: dict[str, list[tuple[int, str, Slot]]] = {}
    seen: dict[tuple[str, str], int] = {}
    for number, row in rows:
        tray_id, at, item = row["tray"], row["slot"], row["item"]
        before = seen.setdefault((tray_id, at), number)
        if not tray_id or not at:
            reading.problem(number, "slot" if tray_id else "tray", "is empty; write one")
        elif before != number:
            reading.problem(number, "slot", f"slot {at} of {tray_id} is already in row {before}; delete one")
        elif row["do"] not in ("", "clear"):
            reading.problem(number, "do", f"{row['do']!r} is not known; leave it empty, or write clear")
        elif row["do"] == "clear":
            reading.add(number, [ClearSlot(tray=tray_id, at=at)])
        elif item not in items:
            reading.problem(number, "item", f"there is no item {item!r}{nearest(item, items)}")
        elif not re.fullmatch(r"0{0,3}[1-9][0-9]{0,3}", row["count"] or "1"):
            reading.problem(number, "count", f"{row['count']!r} is not a valid count; write 1 or more")
        elif (variants := _variants(row, items[item], number, reading)) is not None:
            slot = Slot(at=at, item=item, count=int(row["count"] or "1"), variants=variants)
            if tray_id in trays:
                reading.add(number, _slot_change(trays[tray_id], slot, row["row"]))
            else:
                new.setdefault(tray_id, []).append((number, row["row"] or "row", slot))
    for tray_id, slots in new.items():
        _new_tray(tray_id, slots, trays, reading)
    return _in_row_order(reading)


def _slot_change(tray: Tray, slot: Slot, row: str) -> Iterator[Operation]:
    here = next((s for s in tray.slots if s.at == slot.at), None)
    if here is not None and here.item == slot.item and not slot.variants:
        slot = slot.model_copy(update={"variants": here.variants})
    if here != slot or (row and row != row_of(tray, slot.at)):
        yield SetSlot(
            tray=tray.id,
            at=slot.at,
            item=slot.item,
            count=slot.count,
            variants=slot.variants,
            row=row or None,
        )


def _variants(
    row: Mapping[str, str], item: Item, number: int, reading: _FileReading
) -> tuple[str, ...] | None:
    """The variants that a row puts in the slot; None after noting what is wrong with them."""
    try:
        return variants_said(row["variants"], item)
    except (cells.CellError, UnknownVariant) as error:
        reading.problem(number, "variants", str(error))
        return None


def variants_said(text: str, item: Item) -> tuple[str, ...]:
    """The variants of an item that a text names, with bars, commas or semicolons between them.

    Raises:
        UnknownVariant: the item has no such variant.
    """
    known = [variant.text for variant in item.variants]
    said = cells.to_list(text) if text.startswith("[") or cells.BAR in text else [text.strip()]
    found: list[str] = []
    for one in map(str, said):
        some = [one] if one in known else [part.strip() for part in re.split("[,;]", one)]
        found += [composed(part) for part in some if part]
    for one in found:
        if one not in known:
            there = f"; there are: {', '.join(known)}" if known else "; it has none"
            raise UnknownVariant(
                f"{item.name.text} has no size or pattern {shown(one, 40)!r}{nearest(one, known)}{there}"
            )
    return tuple(dict.fromkeys(found))


def _new_tray(
    tray_id: str, slots: Sequence[tuple[int, str, Slot]], known: Mapping[str, Tray], reading: _FileReading
) -> None:
    rows: dict[str, list[Slot]] = {}
    for _, row, slot in slots:
        rows.setdefault(row, []).append(slot)
    beside = rows.pop(CHAIR_SIDE, [])
    data = {
        "id": tray_id,
        "name": tray_id.replace("_", " ").capitalize(),
        "rows": [{"name": row, "slots": [plain(slot) for slot in some]} for row, some in rows.items()],
        "chair_side": [plain(slot) for slot in beside],
    }
    try:
        reading.add(slots[0][0], [AddTray(tray=Tray.model_validate(data))])
    except ValidationError as error:
        said = _plainly(error.errors(include_url=False)[0])
        reading.problem(slots[0][0], "tray", f"{tray_id} is new{nearest(tray_id, known)}; {said}")


# --- YAML -------------------------------------------------------------------------------------------


def as_yaml(pack: Pack) -> str:
    """Items, kits, trays and procedures in the form of a pack file."""
    data = {
        "items": [plain(item) for item in pack.items],
        "kits": [plain(kit) for kit in pack.kits],
        "trays": [plain(tray) for tray in pack.trays],
        "procedures": [plain(procedure) for procedure in pack.procedures],
    }
    kept = {key: value for key, value in data.items() if value}
    return yaml.safe_dump(kept, allow_unicode=True, sort_keys=False, width=110)


def read_yaml(text: str | bytes, pack: Pack) -> Import:
    """The operations that bring a pack to what the file says; rows are lines. What is left out stays."""
    reading = _FileReading()
    with TemporaryDirectory() as folder:
        file = Path(folder) / "import.yaml"
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        source = YamlSource(file.parent)
        source.read(file)
        for problem in source.problems:
            reading.problem(problem.line, problem.field, problem.message)
        if not reading.problems:
            _read_records(source, pack, reading)
    return reading.done()


def _read_records(source: YamlSource, pack: Pack, reading: _FileReading) -> None:
    sections: dict[str, tuple[type[BaseModel], Callable[[Any], Iterable[Operation]]]] = {
        "items": (Item, lambda item: item_changes(pack, item)),
        "kits": (Kit, lambda kit: kit_changes(pack, kit)),
        "trays": (Tray, lambda tray: tray_changes(pack, tray)),
        "procedures": (Procedure, lambda procedure: procedure_changes(pack, procedure)),
    }
    for key in source.data:
        if key not in sections:
            line = source.line((key,))
            reading.problem(line, str(key), f"cannot be imported; only {', '.join(sections)} can")
    for section, (model, changes) in sections.items():
        records = source.data.get(section, [])
        if not isinstance(records, list):
            reading.problem(source.line((section,)), section, "must be a list; start each entry with a dash")
            continue
        for i, record in enumerate(records):
            line = source.line((section, i))
            try:
                wanted = model.model_validate(record)
                for name, value in _fixed(pack, wanted):
                    message = f"is {value!r} and cannot be changed here; add one with another id instead"
                    reading.problem(line, name, message)
                reading.add(line, changes(wanted))
            except ValidationError as error:
                for detail in error.errors(include_url=False):
                    path = (section, i, *detail["loc"])
                    reading.problem(source.line(path), source.field(path), _plainly(detail))


def _fixed(pack: Pack, wanted: object) -> Iterator[tuple[str, str]]:
    """Fields of a tray or procedure that a layer cannot change, where they differ, and what they stay."""
    if isinstance(wanted, Tray):
        for tray in pack.trays:
            if tray.id == wanted.id and tray.name != wanted.name:
                yield "name", tray.name
    if isinstance(wanted, Procedure):
        for procedure in pack.procedures:
            if procedure.id == wanted.id:
                if procedure.name != wanted.name:
                    yield "name", procedure.name
                if procedure.tray != wanted.tray:
                    yield "tray", procedure.tray


# --- what differs -----------------------------------------------------------------------------------


def item_changes(pack: Pack, wanted: Item) -> Iterator[Operation]:
    """The operations that make an item of a pack what it should be; its other names stay."""
    known = pack.by_id.get(wanted.id)
    if known is None:
        yield AddItem(item=wanted)
        return
    if known.name != wanted.name:
        same = normalised(known.name.text) == normalised(wanted.name.text)
        yield (
            AddName(item=known.id, name=wanted.name) if same else RenameItem(item=known.id, name=wanted.name)
        )
    for name in wanted.synonyms:
        if name not in known.synonyms:
            yield AddName(item=known.id, name=name)
    full = wanted.model_dump(mode="json", by_alias=True)
    for column in FIELDS:
        value = field_value(wanted, column)
        if value != field_value(known, column):
            yield SetField(item=known.id, field=column, value=full[column] if value is None else value)


def tray_changes(pack: Pack, wanted: Tray) -> Iterator[Operation]:
    """The operations that make a tray what it should be; its other slots stay."""
    known = next((tray for tray in pack.trays if tray.id == wanted.id), None)
    if known is None:
        yield AddTray(tray=wanted)
        return
    for slot in wanted.own_slots:
        yield from _slot_change(known, slot, row_of(wanted, slot.at) or "")
    if wanted.kits != known.kits:
        yield SetTrayKits(tray=known.id, kits=wanted.kits)


def kit_changes(pack: Pack, wanted: Kit) -> Iterator[Operation]:
    """The operation that makes a kit what it should be."""
    if wanted not in pack.kits:
        yield SetKit(kit=wanted)


def procedure_changes(pack: Pack, wanted: Procedure) -> Iterator[Operation]:
    """The operations that make a procedure what it should be, its steps as a whole."""
    known = next((p for p in pack.procedures if p.id == wanted.id), None)
    if known is None:
        yield AddProcedure(procedure=wanted)
    elif known != wanted:
        yield SetSteps(procedure=known.id, steps=wanted.steps, any_time=wanted.any_time)


# --- small parts ------------------------------------------------------------------------------------


def _csv(columns: Sequence[str], rows: Iterable[Mapping[str, str]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows({column: cells.guarded(cell) for column, cell in row.items()} for row in rows)
    return out.getvalue()


def _rows(
    text: str | bytes, columns: Sequence[str], needed: Sequence[str], reading: _FileReading
) -> list[tuple[int, dict[str, str]]]:
    """Row number and stripped cells of every row that is not empty; a comma, semicolon or tab separates."""
    plain_text = _decoded(text, reading)
    if plain_text is None:
        return []
    lines = csv.reader(io.StringIO(plain_text, newline=""), delimiter=_separator(plain_text), strict=False)
    head: list[str] | None = None
    found: list[tuple[int, dict[str, str]]] = []
    try:
        for number, read in enumerate(lines, start=1):
            if not any(cell.strip() for cell in read):
                continue
            if head is None:
                head = [cell.strip().lower() for cell in read]
                if not _good_head(head, columns, needed, number, reading):
                    return []
            elif len(read) > len(head) and any(cell.strip() for cell in read[len(head) :]):
                message = (
                    f"has {len(read)} cells, but there are {len(head)} columns; check quotes and separators"
                )
                reading.problem(number, "", message)
            else:
                row = dict.fromkeys(columns, "")
                row.update({n: unguarded(cell.strip()) for n, cell in zip(head, read, strict=False)})
                row["do"] = row["do"].lower()
                found.append((number, row))
    except csv.Error as error:
        reading.problem(lines.line_num, "", f"cannot be read ({error}); check quotes")
    if head is None:
        reading.problem(0, "", f"is empty; the first row names the columns: {', '.join(columns)}")
    return found


def _good_head(
    head: Sequence[str], columns: Sequence[str], needed: Sequence[str], number: int, reading: _FileReading
) -> bool:
    for name in head:
        if name not in columns:
            message = f"there is no column {name!r}{nearest(name, columns)}; columns: {', '.join(columns)}"
            reading.problem(number, "", message)
    for name in needed:
        if name not in head:
            reading.problem(number, "", f"the column {name!r} is missing; add it")
    for name in {name for name in head if list(head).count(name) > 1}:
        reading.problem(number, "", f"the column {name!r} appears twice; delete one")
    return not reading.problems


def _decoded(text: str | bytes, reading: _FileReading) -> str | None:
    if isinstance(text, str):
        return text.removeprefix("\ufeff")
    try:
        return text.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = text[: error.start].count(b"\n") + 1
        reading.problem(row, "", "this is not UTF-8 text; save the file as CSV UTF-8")
        return None


def _separator(text: str) -> Literal[",", ";", "\t"]:
    """What separates the cells, judged by the first line."""
    head = text.lstrip().split("\n", 1)[0]
    counts: dict[Literal[",", ";", "\t"], int] = {
        ",": head.count(","),
        ";": head.count(";"),
        "\t": head.count("\t"),
    }
    return max(counts, key=lambda mark: counts[mark])


def _in_row_order(reading: _FileReading) -> Import:
    order = sorted(range(len(reading.rows)), key=lambda i: reading.rows[i])
    reading.operations = [reading.operations[i] for i in order]
    reading.rows = [reading.rows[i] for i in order]
    return reading.done()


def _plainly(detail: Any) -> str:
    if detail["type"] == "missing":
        return "is missing; add it"
    if detail["type"] == "extra_forbidden":
        return "there is no such field; delete it or correct its spelling"
    said = detail["msg"].removeprefix("Value error, ").replace("Input should be", "must be", 1)
    return f"{said[:1].lower()}{said[1:]}"
