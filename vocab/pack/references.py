"""Checks what the schema cannot see: ids and names across the records of a pack.

Takes the plain data of a pack and notes problems in its `YamlSource`. Records that break the schema by
themselves are left out, so that one mistake is reported once.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import lru_cache

from pydantic import ValidationError

from vocab.errors import nearest
from vocab.pack.labels import LONGEST_NAME, composed, item_problem, name_problem, pack_problem, shown
from vocab.pack.schema import Item, Kit, Name, Procedure, Slot, Speech, Tray
from vocab.pack.yaml_source import Where, YamlSource

PAIRS = ("wide_margin", "offered_together")
"""Fields of a pack that hold pairs of items."""


_NO_LETTERS = re.compile("[^a-z0-9]+")


@lru_cache(maxsize=65_536)  # the same names are compared over and over
def normalised(text: str) -> str:
    """A name as it is compared: lower case, apostrophes dropped, other punctuation turned to one space."""
    if text.isascii():  # much quicker, and nearly every name
        return " ".join(_NO_LETTERS.sub(" ", text.lower().replace("'", "")).split())
    folded = composed(composed(text).casefold())
    letters = (c if _is_letter(c) else "" if c in "'’" else " " for c in folded)
    return " ".join("".join(letters).split())


def _is_letter(c: str) -> bool:
    """True also for a mark that belongs to the letter before it, as in Indian scripts."""
    return c.isalnum() or unicodedata.category(c)[0] == "M"


def check_references(source: YamlSource) -> None:
    """Everything the schema cannot see: ids and names across records."""
    items = dict(source.sound("items", Item))
    kits = dict(source.sound("kits", Kit))
    trays = dict(source.sound("trays", Tray))
    procedures = dict(source.sound("procedures", Procedure))
    for section in ("items", "kits", "trays", "procedures"):
        _check_once(source, (((section, i, "id"), name) for i, name in source.ids(section)), "id", str)
    for index, procedure in procedures.items():
        steps = ((("procedures", index, "steps", k, "id"), s.id) for k, s in enumerate(procedure.steps))
        _check_once(source, steps, "id", str)
    _check_names(source, items)
    _check_speech(source)
    known = {name for _, name in source.ids("items")}
    for path, item in _item_references(source, items, kits, trays, procedures):
        if item not in known:
            source.report_at(path, f"there is no item {item!r}{nearest(item, known)}")
    _check_pairs(source, items)
    _check_slots(source, items, kits, trays)
    opened = _opened(source, {kit.id: kit for kit in kits.values()}, trays)
    _check_procedures(source, opened, procedures, known)


def _check_once(
    source: YamlSource, entries: Iterable[tuple[Where, str]], what: str, form: Callable[[str], str]
) -> None:
    """Reports every entry whose form came before."""
    first: dict[str, Where] = {}
    for path, text in entries:
        if form(text) in first:
            place = source.place(first[form(text)])
            source.report_at(path, f"the {what} {text!r} is already used in {place}; give each its own")
        else:
            first[form(text)] = path


def _check_names(source: YamlSource, items: Mapping[int, Item]) -> None:
    """A name belongs to one item, or each of its items marks it as shared; it is written once.

    Each variant of an item has its own names.
    """
    owner: dict[str, tuple[str, Name]] = {}
    if problem := pack_problem(sum(len(item.names) for item in items.values())):
        source.report_at(("items",), problem)
    for index, item in items.items():
        texts: set[str] = set()
        if problem := item_problem(len(item.names)):
            source.report_at(("items", index), problem)
        for path, name in _names_with_places(index, item):
            text = normalised(name.text)
            if text in texts:
                source.report_at(path, f"the name {name.text!r} is given twice; delete one")
            texts.add(text)
            for spoken in dict.fromkeys(name.ways_to_say):
                if problem := name_problem(spoken):
                    source.report_at(path, f"the name {shown(spoken, LONGEST_NAME)!r} {problem}")
                    continue
                form = normalised(spoken)
                if not form:
                    source.report_at(path, f"the name {spoken!r} has no letters or digits; write it in words")
                    continue
                first, held = owner.setdefault(form, (item.id, name))
                if first != item.id and not (held.shared and name.shared):
                    message = (
                        f"the name {spoken!r} already belongs to {first}; rename one, or mark it `shared: "
                        "true` in both, to be asked which is meant"
                    )
                    source.report_at(path, message)


def _names_with_places(index: int, item: Item) -> Iterator[tuple[Where, Name]]:
    """Every name that is written down, and those that the patterns make, with where they stand."""
    yield ("items", index, "name"), item.name
    yield from ((("items", index, "synonyms", k), name) for k, name in enumerate(item.synonyms))
    written = {id(n): (v, k) for v, one in enumerate(item.variants) for k, n in enumerate(one.names)}
    for name, _ in item.variant_name_pairs:
        at = written.get(id(name))
        yield (
            (("items", index, "variants", at[0], "names", at[1]) if at else ("items", index, "variants")),
            name,
        )


def _check_speech(source: YamlSource) -> None:
    """Spoken forms are lower case, and each form means one thing within its group."""
    try:
        speech = Speech.model_validate(source.data.get("speech"))
    except ValidationError:
        return
    for group, value in speech:
        sets = value.items() if isinstance(value, dict) else [(None, value)]
        entries: list[tuple[Where, str]] = []
        for meaning, forms in sets:
            head: Where = ("speech", group) if meaning is None else ("speech", group, meaning)
            entries += [((*head, i), form) for i, form in enumerate(forms)]
        for path, form in entries:
            if form != form.lower():
                source.report_at(path, f"{form!r} must be lower case; write {form.lower()!r}")
        _check_once(source, entries, "spoken form", normalised)


def _item_references(
    source: YamlSource,
    items: Mapping[int, Item],
    kits: Mapping[int, Kit],
    trays: Mapping[int, Tray],
    procedures: Mapping[int, Procedure],
) -> Iterator[tuple[Where, str]]:
    """Where an item is named by its id, and the id."""
    for i, kit in kits.items():
        named = {"item": kit.item, "picture": kit.picture}
        yield from ((("kits", i, field), item) for field, item in named.items() if item)
        yield from ((("kits", i, "slots", k, "item"), s.item) for k, s in enumerate(kit.slots))
    for i, item in items.items():
        yield from (
            (("items", i, "confused_with", k, "item"), c.item) for k, c in enumerate(item.confused_with)
        )
    for i, tray in trays.items():
        for r, row in enumerate(tray.rows):
            yield from (
                (("trays", i, "rows", r, "slots", k, "item"), s.item) for k, s in enumerate(row.slots)
            )
        yield from ((("trays", i, "chair_side", k, "item"), s.item) for k, s in enumerate(tray.chair_side))
    for i, procedure in procedures.items():
        yield from _procedure_items(i, procedure)
    for section in PAIRS:
        pairs = source.data.get(section)
        for i, pair in enumerate(pairs if isinstance(pairs, list) else []):
            entries = pair if isinstance(pair, list) else []
            yield from (((section, i, k), item) for k, item in enumerate(entries) if isinstance(item, str))


def _procedure_items(index: int, procedure: Procedure) -> Iterator[tuple[Where, str]]:
    """Where a procedure names an item, and the id."""
    for k, step in enumerate(procedure.steps):
        yield from ((("procedures", index, "steps", k, "items", item), item) for item in step.items)
    yield from ((("procedures", index, "any_time", item), item) for item in procedure.any_time)


def _check_pairs(source: YamlSource, items: Mapping[int, Item]) -> None:
    """An item is not its own look-alike or its own rival."""
    for i, item in items.items():
        for k, alike in enumerate(item.confused_with):
            if alike.item == item.id:
                source.report_at(
                    ("items", i, "confused_with", k, "item"), "an item cannot be confused with itself"
                )
    for section in PAIRS:
        pairs = source.data.get(section)
        for i, pair in enumerate(pairs if isinstance(pairs, list) else []):
            if isinstance(pair, list) and len(pair) == 2 and pair[0] == pair[1]:
                source.report_at((section, i), "the two items of a pair must differ")


def _opened(source: YamlSource, kits: Mapping[str, Kit], trays: Mapping[int, Tray]) -> Mapping[str, Tray]:
    """The trays with their kits; a kit that does not exist and an address that is used twice are reported."""
    known = [name for _, name in source.ids("kits")]
    opened = {}
    for i, tray in trays.items():
        for k, kit in enumerate(tray.kits):
            if kit not in known:
                source.report_at(("trays", i, "kits", k), f"there is no kit {kit!r}{nearest(kit, known)}")
        try:
            opened[tray.id] = tray.with_kits(kits)
        except ValueError as error:
            source.report_at(("trays", i, "kits"), str(error))
    return opened


def _check_slots(
    source: YamlSource, items: Mapping[int, Item], kits: Mapping[int, Kit], trays: Mapping[int, Tray]
) -> None:
    """The variants that a slot holds are variants of its item."""
    variants = {item.id: [variant.text for variant in item.variants] for item in items.values()}
    places: list[tuple[Where, Slot]] = []
    for i, kit in kits.items():
        places += [(("kits", i, "slots", k), slot) for k, slot in enumerate(kit.slots)]
    for i, tray in trays.items():
        for r, row in enumerate(tray.rows):
            places += [(("trays", i, "rows", r, "slots", k), slot) for k, slot in enumerate(row.slots)]
        places += [(("trays", i, "chair_side", k), slot) for k, slot in enumerate(tray.chair_side)]
    for place, slot in places:
        known = variants.get(slot.item, [])
        for n, variant in enumerate(slot.variants):
            if variant not in known:
                there = f"there are: {', '.join(known)}" if known else "it has none"
                source.report_at(
                    (*place, "variants", n),
                    f"{slot.item} has no variant {variant!r}{nearest(variant, known)}; {there}",
                )


def _check_procedures(
    source: YamlSource, trays: Mapping[str, Tray], procedures: Mapping[int, Procedure], known: set[str]
) -> None:
    """A procedure's tray exists and holds everything the procedure asks for."""
    tray_ids = [name for _, name in source.ids("trays")]
    for index, procedure in procedures.items():
        if procedure.tray not in tray_ids:
            message = f"there is no tray {procedure.tray!r}{nearest(procedure.tray, tray_ids)}"
            source.report_at(("procedures", index, "tray"), message)
        elif procedure.tray in trays:
            tray = trays[procedure.tray]
            for path, item in _procedure_items(index, procedure):
                if item in known and tray.slot_of(item) is None:
                    message = f"{item} is not on tray {tray.id}; give it a slot or take it out here"
                    source.report_at(path, message)
