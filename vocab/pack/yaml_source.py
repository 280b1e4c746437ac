"""The plain data of a pack, merged from its YAML files, with the line on which each value was written.

Takes YAML files and gives dicts, lists and scalars in `YamlSource.data`, and problems with their places. It
does not judge whether the data is a pack; runaway and circular aliases are refused.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, TypeVar

import yaml
from pydantic import BaseModel, ValidationError

from vocab.errors import Problem

Key = str | int | float | bool | None
Where = tuple[Key, ...]
"""Where a value stands inside a pack: field names and list positions."""

LISTS = ("items", "kits", "trays", "procedures", "wide_margin", "offered_together")
"""Fields that add up over the files of a pack."""

MOST_VALUES = 200_000
"""Values in one pack: far more than a person writes, few enough to refuse a runaway alias quickly."""

MOST_LEVELS = 20
DEEP = "lists or mappings are nested too deeply; use at most ten levels"

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_Model = TypeVar("_Model", bound=BaseModel)


class YamlSource:
    """The merged plain data of a pack, where each value was written, and the problems so far."""

    def __init__(self, folder: Path) -> None:
        self.data: dict[Key, Any] = {}
        self.problems: list[Problem] = []
        self.unread = False
        self._places: dict[Where, tuple[Path, int]] = {(): (folder / "pack.yaml", 0)}
        self._written: dict[Where, str] = {}
        self._names: dict[Where, str] = {}
        self._values = 0
        self._scalars = yaml.constructor.SafeConstructor()

    def read(self, file: Path) -> None:
        """Adds one file to the data."""
        root = self._compose(file)
        if root is None:
            self.unread = True
            return
        around = (root,)
        for key, key_node, value_node in self._pairs(file, root, ()):
            if key in LISTS and isinstance(value_node, yaml.SequenceNode):
                held = self.data.setdefault(key, [])
                self._places.setdefault((key,), (file, _line(key_node)))
                if not isinstance(held, list):
                    self._report_twice(file, key_node, key)
                    continue
                for node in value_node.value:
                    held.append(self._value(file, node, (key, len(held)), around))
            elif key in self.data:
                self._report_twice(file, key_node, key)
            else:
                self.data[key] = self._value(file, value_node, (key,), around)
                self._places[(key,)] = (file, _line(key_node))

    def take(self, other: YamlSource, fit: Callable[[Key, Any], Any]) -> None:
        """Adds what another source holds: elements of lists behind one's own, and other fields where one's
        own are missing. `fit` is given a field's name and an element, and gives what is added, None for
        nothing."""
        parts: dict[Where, list[Where]] = {}
        for path in other._places:
            parts.setdefault(path[: 2 if path[:1] and path[0] in LISTS else 1], []).append(path)
        for key, held in other.data.items():
            if key not in LISTS:
                if key not in self.data:
                    self.data[key] = held
                    self._copy_places(other, parts[(key,)], 1, (key,))
                continue
            own = self.data.setdefault(key, [])
            self._places.setdefault((key,), other._places[(key,)])
            for index, element in enumerate(held):
                fitted = fit(key, element)
                if fitted is not None and isinstance(own, list):
                    self._copy_places(other, parts[(key, index)], 2, (key, len(own)))
                    own.append(fitted)

    def _copy_places(self, other: YamlSource, paths: Iterable[Where], depth: int, to: Where) -> None:
        for path in paths:
            here = (*to, *path[depth:])
            self._places[here] = other._places[path]
            if path in other._written:
                self._written[here] = other._written[path]
            if path in other._names:
                self._names[here] = other._names[path]

    def written(self, path: Where) -> str | None:
        """A plain value as it is written in the file, or None."""
        return self._written.get(path)

    def report_at(self, path: Where, message: str) -> None:
        """Notes a problem at the nearest place that is written down."""
        self._report(*self._place(path), path, message)

    def place(self, path: Where) -> str:
        """File and line of a value, in words."""
        file, line = self._place(path)
        return f"{file.name}, line {line}"

    def line(self, path: Where) -> int:
        """The line of a value, or of the nearest thing around it that is written down."""
        return self._place(path)[1]

    def ids(self, section: str) -> Iterator[tuple[int, str]]:
        """Position and id of every element that has one, valid or not."""
        elements = self.data.get(section)
        for index, element in enumerate(elements if isinstance(elements, list) else []):
            if isinstance(element, dict) and isinstance(element.get("id"), str):
                yield index, element["id"]

    def sound(self, section: str, model: type[_Model]) -> Iterator[tuple[int, _Model]]:
        """Position and record of every element that satisfies the schema by itself."""
        elements = self.data.get(section)
        for index, element in enumerate(elements if isinstance(elements, list) else []):
            try:
                yield index, model.model_validate(element)
            except ValidationError:
                continue  # reported with the pack as a whole

    def _place(self, path: Where) -> tuple[Path, int]:
        """The nearest place that is written down."""
        while path not in self._places:
            path = path[:-1]
        return self._places[path]

    def _compose(self, file: Path) -> yaml.MappingNode | None:
        """The file's node tree, or None after noting why there is none."""
        try:
            raw = file.read_bytes()
        except OSError as error:
            self._report(
                file, 0, (), f"cannot be read ({error.strerror}); check the file and its permissions"
            )
            return None
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = raw[: error.start].count(b"\n") + 1
            self._report(file, line, (), "this is not UTF-8 text; save the file as UTF-8")
            return None
        if odd := yaml.reader.Reader.NON_PRINTABLE.search(text):
            line = text[: odd.start()].count("\n") + 1
            self._report(
                file, line, (), f"the character U+{ord(odd.group()):04X} is not allowed here; delete it"
            )
            return None
        try:
            root = yaml.compose(text, Loader=_Loader)
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            self._report(file, mark.line + 1 if mark else 0, (), _explain_syntax(error, text))
            return None
        except RecursionError:
            self._report(file, 0, (), DEEP)
            return None
        if root is None:
            self._report(file, 0, (), "the file is empty; write a field such as items: or delete the file")
            return None
        if not isinstance(root, yaml.MappingNode):
            self._report(file, _line(root), (), "this is not a mapping; start with a field such as items:")
            return None
        return root

    def _pairs(
        self, file: Path, node: yaml.MappingNode, path: Where
    ) -> Iterator[tuple[Key, yaml.Node, yaml.Node]]:
        """Key, key node and value node of a mapping; a key that is repeated is noted and left out."""
        keys: dict[Key, int] = {}
        for key_node, value_node in node.value:
            key = self._scalar(file, key_node, path) if isinstance(key_node, yaml.ScalarNode) else None
            if isinstance(key, bool):
                message = f'YAML reads {key_node.value} as yes or no; put it in quotes: "{key_node.value}"'
                self._report(file, _line(key_node), path, message)
            elif not isinstance(key, str | int):
                self._report(file, _line(key_node), path, "a field's name must be a plain word")
            elif key in keys:
                message = f"appears twice, first on line {keys[key]}; keep one of them"
                self._report(file, _line(key_node), (*path, key), message)
            else:
                keys[key] = _line(key_node)
                yield key, key_node, value_node

    def _value(self, file: Path, node: yaml.Node, path: Where, around: tuple[yaml.Node, ...]) -> Any:
        """The plain value of a node inside the nodes `around` it; notes the line of everything in it."""
        self._places.setdefault(path, (file, _line(node)))
        if node in around:
            self._report(file, _line(node), path, "an alias (*name) makes this contain itself; write it out")
            return None
        if len(around) > MOST_LEVELS:
            self._report(file, _line(node), (), DEEP)
            return None
        self._values += 1
        if self._values > MOST_VALUES:
            if self._values == MOST_VALUES + 1:
                message = f"aliases (*name) expand this to over {MOST_VALUES:,} values; write it out"
                self._report(file, _line(node), path, message)
            return None
        if isinstance(node, yaml.MappingNode):
            result = {}
            for key_node, value_node in node.value:
                if key_node.value == "id" and isinstance(value_node, yaml.ScalarNode):
                    self._names[path] = value_node.value
            for key, key_node, value_node in self._pairs(file, node, path):
                self._places[(*path, key)] = (file, _line(key_node))
                result[key] = self._value(file, value_node, (*path, key), (*around, node))
            return result
        if isinstance(node, yaml.SequenceNode):
            return [self._value(file, n, (*path, i), (*around, node)) for i, n in enumerate(node.value)]
        return self._scalar(file, node, path)

    def _scalar(self, file: Path, node: yaml.Node, path: Where) -> Any:
        """The text, number or truth value a plain node stands for."""
        self._written[path] = node.value
        try:
            return self._scalars.construct_object(node)
        except (yaml.YAMLError, ValueError, KeyError, TypeError, AttributeError, OverflowError):
            self._report(file, _line(node), path, f"{node.value[:40]!r} cannot be read; put text in quotes")
            return None

    def _report_twice(self, file: Path, key_node: yaml.Node, key: Key) -> None:
        message = f"is already given in {self.place((key,))}; keep it in one file"
        self._report(file, _line(key_node), (key,), message)

    def _report(self, file: Path, line: int, path: Where, message: str) -> None:
        self.problems.append(Problem(file, line, self.field(path), message))

    def field(self, path: Where) -> str:
        """`items[mouth_mirror].look`: ids replace positions where there are any."""
        words = ""
        for depth, part in enumerate(path, start=1):
            if isinstance(part, int):
                words += f"[{self._names.get(path[:depth], part)}]"
            else:
                words += f".{part}" if words else str(part)
        return words


def _line(node: yaml.Node) -> int:
    return node.start_mark.line + 1


def _explain_syntax(error: yaml.MarkedYAMLError, text: str) -> str:
    """What the YAML parser stumbled over, in words for someone who writes packs."""
    mark = error.problem_mark
    lines = text.splitlines()
    if mark and mark.line < len(lines) and "\t" in lines[mark.line][: mark.column + 1]:
        return "there is a tab here; indent with spaces"
    if error.problem and "mapping values are not allowed" in error.problem:
        return "there is a colon inside plain text, or a line is indented wrongly; put the text in quotes"
    if error.problem and "nesting depth" in error.problem:
        return DEEP
    said = ", ".join(part for part in (error.context, error.problem) if part)
    return f"this is not valid YAML ({said}); check quotes, brackets and indentation here or just above"
