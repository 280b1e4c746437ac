"""Writes a layer as text in one canonical form, and reads it back.

Takes a `Layer` and gives YAML that a person can read and compare line by line, or takes a file and gives a
checked `Layer`. The last line is three dots, so that a truncated file is never taken for a whole one.
Errors name file, line and field.
"""

from __future__ import annotations

import json
import re
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from vocab.errors import PackError, Problem
from vocab.layers.changes import Change, Layer, number
from vocab.pack.yaml_source import Where, YamlSource

END = "..."
FORMAT = 1
MOST_LOST = 1000
HEAD = (
    "# Our changes to a vocabulary. The program writes this file; it may be read by hand, and corrected by\n"
    "# hand while the program is not running. History is kept: to take a change back, add an undo.\n"
)
NEWEST = "# The newest change: "
"""Stands before the newest change's id in the head; it shows what a truncated file has lost."""

_UNSAFE = re.compile("[\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff\U000e0000-\U0010ffff]")
"""What YAML would refuse or fold, on top of what JSON already escapes."""
_LONG_ESCAPE = re.compile(r"\\U([0-9a-f]{8})")
"""An escape that YAML knows and JSON does not."""


class LayerError(PackError):
    """A layer file that cannot be used; `problems` holds every mistake found."""


@dataclass(frozen=True)
class Lost:
    """A change that stood in a broken file; `change` is None where only its id can still be read."""

    id: str
    change: Change | None


def to_text(layer: Layer) -> str:
    """The layer in its one written form."""
    lines = [
        f"format: {FORMAT}",
        f"layer: {_quoted(layer.name)}",
        f"pack: {_quoted(layer.pack)}",
        f"pack_version: {_quoted(layer.pack_version)}",
        "changes:" if layer.changes else "changes: []",
    ]
    newest = max((number(change.id) for change in layer.changes), default=0)
    if newest:
        lines.insert(0, f"{NEWEST}c{newest}")
    for change in layer.changes:
        lines += [
            f"- id: {_quoted(change.id)}",
            f"  who: {_quoted(change.who)}",
            f"  when: {_quoted(_utc(change.when))}",
        ]
        if change.why:
            lines.append(f"  why: {_quoted(change.why)}")
        lines.append(f"  do: {_quoted(plain(change.do))}")
    return HEAD + "\n".join([*lines, END, ""])


def read_layer(file: Path) -> Layer:
    """The layer in a file; raises `LayerError` with every problem that could be found."""
    try:
        raw = file.read_bytes()
    except OSError as error:
        message = f"cannot be read ({error.strerror}); check the file and its permissions"
        raise LayerError([Problem(file, 0, "", message)]) from None
    written = _as_written(raw)
    if written is not None:
        return written
    source = YamlSource(file.parent)
    source.read(file)
    problems = list(source.problems)
    lines = raw.rstrip().split(b"\n")
    if lines[-1].strip() != END.encode():
        message = f"the file ends here without its last line ({END}): it was cut off"
        problems.append(Problem(file, len(lines), "", message))
    if problems:
        raise LayerError(problems)
    data = dict(source.data)
    written_in = data.pop("format", None)
    if written_in != FORMAT:
        message = f"is {written_in!r}; this program reads format {FORMAT}, so a newer version wrote the file"
        source.report_at(("format",), message)
    if "layer" in data:
        data["name"] = data.pop("layer")
    try:
        layer = Layer.model_validate(data)
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            source.report_at(*_told(detail))
        raise LayerError(source.problems) from None
    seen: set[str] = set()
    for i, change in enumerate(layer.changes):
        if change.id in seen:
            source.report_at(("changes", i, "id"), f"{change.id!r} is used twice; give each change its own")
        seen.add(change.id)
    if source.problems:
        raise LayerError(source.problems)
    return layer


def _as_written(raw: bytes) -> Layer | None:
    """The layer of a text in the one written form, about five times faster than YAML; None for others."""
    data: dict[str, Any] = {"changes": []}
    record = data
    try:
        for line in raw.decode().splitlines():
            if line.startswith(("#", END, "changes:")):
                continue
            if line.startswith("- "):
                record = {}
                data["changes"].append(record)
            key, value = line[2:].split(": ", 1) if line[:2] in ("- ", "  ") else line.split(": ", 1)
            record[key] = _from_json(value)
        data["name"] = data.pop("layer")
        data.pop("format")
        layer = Layer.model_validate(data)
    except (ValueError, KeyError):
        return None
    unique = len({change.id for change in layer.changes}) == len(layer.changes)
    return layer if unique and to_text(layer).encode() == raw else None


def lost_changes(raw: bytes, kept: Layer) -> tuple[Lost, ...]:
    """The changes that a broken file tells of and that `kept`, which takes its place, does not hold."""
    text = raw.decode("utf-8", "replace")
    found = {change_id: change for change_id, change in map(_scrap, text.split("\n- ")[1:]) if change_id}
    newest = re.search(rf"^{NEWEST}c([0-9]{{1,9}})$", text, re.MULTILINE)
    last = max((number(change.id) for change in kept.changes), default=0)
    for i in range(last + 1, min(int(newest[1]), last + MOST_LOST) + 1 if newest else 0):
        found.setdefault(f"c{i}", None)
    held = {change.id for change in kept.changes}
    ids = sorted((change_id for change_id in found if change_id not in held), key=number)
    return tuple(Lost(change_id, found[change_id]) for change_id in ids)


def _scrap(block: str) -> tuple[str, Change | None]:
    """Id and change of a piece of a broken file; "" where not even the id can be read."""
    record: dict[str, Any] = {}
    for line in block.split("\n"):
        key, _, value = line.strip().partition(": ")
        with suppress(ValueError, RecursionError):
            record[key] = _from_json(value)
    change_id = record.get("id")
    if not isinstance(change_id, str):
        return "", None
    fields = {key: record[key] for key in Change.model_fields if key in record}
    try:
        return change_id, Change.model_validate(fields)
    except ValidationError:
        return change_id, None


def plain(record: BaseModel) -> dict[str, Any]:
    """A record as plain data, without fields left at their defaults."""
    data = record.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    op = getattr(record, "op", None)
    return {"op": op, **data} if op else data


def _quoted(value: Any) -> str:
    """JSON, which YAML reads too; every character that YAML would not keep is written as an escape."""
    return _UNSAFE.sub(_escape, json.dumps(value, ensure_ascii=False))


def _from_json(text: str) -> Any:
    return json.loads(_LONG_ESCAPE.sub(lambda m: chr(int(m[1], 16)), text))


def _escape(match: re.Match[str]) -> str:
    code = ord(match.group())
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _utc(when: datetime) -> str:
    return when.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _told(detail: Any) -> tuple[Where, str]:
    """Place and message of a schema error; the name of an operation is not part of the path."""
    path: Where = tuple(
        part for i, part in enumerate(detail["loc"]) if not (i == 3 and detail["loc"][2] == "do")
    )
    path = tuple("layer" if part == "name" and len(path) == 1 else part for part in path)
    match detail["type"]:
        case "missing":
            return path, "is missing; add it"
        case "extra_forbidden":
            return path, "there is no such field; delete it or correct its spelling"
        case "union_tag_invalid":
            tags = detail["ctx"]["expected_tags"].replace("'", "")
            return (*path, "op"), f"{detail['ctx']['tag']!r} is not a kind of change; kinds: {tags}"
        case "union_tag_not_found":
            return path, "does not say what kind of change it is; give it an op"
        case "value_error":
            return path, detail["msg"].removeprefix("Value error, ")
    said = detail["msg"].replace("Input should be", "must be", 1)
    return path, f"{said[:1].lower()}{said[1:]}; it is {detail['input']!r}"


__all__ = ["Change", "LayerError", "Lost", "lost_changes", "plain", "read_layer", "to_text"]
