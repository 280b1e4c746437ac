"""Spreadsheet cells: text that no spreadsheet runs as a formula, lists and records.

Converts values to cells and back. Simple values are written as they are and lists with bars between the
entries; anything more complex is written as JSON, which reads back unchanged.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any

from vocab.layers.canonical import plain
from vocab.pack.schema import Handing, Item, Variant

BAR = "|"
"""Stands between the entries of a list."""
_FORMULA = re.compile(r"'*[=+\-@\t\r＝＋－＠]")
"""What a spreadsheet would run; an apostrophe before it says that it is text."""


class CellError(ValueError):
    """A cell that cannot be read; the text says why and what to do."""


def guarded(text: str) -> str:
    """A text as a cell that no spreadsheet takes for a formula."""
    return f"'{text}" if _FORMULA.match(text) else text


def unguarded(cell: str) -> str:
    """The text of a cell that `guarded` made, or that was never guarded."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def of_list(entries: Sequence[str]) -> str:
    """Texts as a cell."""
    if any(BAR in entry or entry[:1] in "[{" for entry in entries):
        return json.dumps(list(entries), ensure_ascii=False)
    return f" {BAR} ".join(entries)


def to_list(cell: str) -> list[Any]:
    """The entries of a cell; raises `CellError`."""
    if cell.startswith("["):
        value = _json(cell)
        if isinstance(value, list):
            return value
    return [entry for part in cell.split(BAR) if (entry := part.strip())]


def of_variants(variants: Sequence[Variant]) -> str:
    """Variants as a cell."""
    if all(variant == Variant(text=variant.text) for variant in variants):
        return of_list([variant.text for variant in variants])
    return json.dumps([plain(variant) for variant in variants], ensure_ascii=False)


def of_handing(handing: Handing | None) -> str:
    """How an item is passed, as a cell: a note alone is written as it is."""
    if handing is None:
        return ""
    if handing.note and handing == Handing(note=handing.note) and not handing.note.startswith("{"):
        return handing.note
    return json.dumps(plain(handing), ensure_ascii=False)


def to_handing(cell: str) -> Any:
    """A note, or a record; raises `CellError`."""
    return _json(cell) if cell.startswith("{") else cell


def to_yes(cell: str) -> bool:
    """Whether a cell says yes; raises `CellError` if it holds neither yes nor no."""
    if cell.lower() not in ("yes", "no"):
        raise CellError(f"{cell!r} is neither yes nor no; write yes or no")
    return cell.lower() == "yes"


def of_item(item: Item) -> dict[str, str]:
    """The fields that describe an item, as cells by column name."""
    return {
        "class": item.item_class.value,
        "purpose": item.purpose,
        "look": item.look,
        "handing": of_handing(item.handing),
        "reprocessing": item.reprocessing.value,
        "latex": "yes" if item.latex else "",
        "variants": of_variants(item.variants),
        "patterns": of_list(item.variant_names),
    }


READERS = {"handing": to_handing, "latex": to_yes, "variants": to_list, "patterns": to_list}
"""How the cells of some columns are read; others hold texts."""


def _json(cell: str) -> Any:
    try:
        return json.loads(cell)
    except (ValueError, RecursionError):
        raise CellError(
            "begins like a record, but cannot be read as one; check brackets and quotes"
        ) from None
