"""Reads a pack from a folder of YAML files; reports where each mistake is and what would be right.

Takes a folder with `pack.yaml`, any further `*.yaml`, and drawings as `vocab.pack.drawing_file` says. Each
YAML file is a mapping of pack fields; lists (`items`, `trays`, ...) add up over the files, everything else is
given once. A pack that says `builds_on: common` also has what it uses of the shipped folder of that name,
which is no pack by itself: the kits that its trays open, the items that it lays, their pairs, and the words
around a request unless it brings its own. Gives a checked `Pack`, or raises a `PackError` with all problems
at once. It never repairs a pack silently, and writes nothing but shipped packs to the cache
(`vocab.pack.kept`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from vocab.errors import PackError, Problem, TraycallError, nearest
from vocab.pack.kept import default_cache, kept_pack
from vocab.pack.references import PAIRS, check_references, normalised
from vocab.pack.schema import Name, Pack
from vocab.pack.shapes import Drawing
from vocab.pack.yaml_source import Key, Where, YamlSource

__all__ = [
    "PackError",
    "Problem",
    "UnknownPack",
    "load_pack",
    "open_pack",
    "shipped_languages",
    "shipped_names",
    "shipped_pack",
]

SHIPPED = "packs"
DRAWINGS = "drawings"
"""The folder of a pack's drawings."""
COMMON = "common"
"""What the shipped vocabularies share; any vocabulary may build on it."""


class UnknownPack(TraycallError):
    """A pack that does not exist; the text names near ones."""


def open_pack(name_or_folder: str) -> Pack:
    """A shipped pack by name, or the pack in a folder.

    Raises:
        UnknownPack: neither; PackError: the pack has mistakes.
    """
    if name_or_folder in shipped_names():
        return shipped_pack(name_or_folder)
    folder = Path(name_or_folder).expanduser()
    if not folder.exists():
        raise UnknownPack(
            f"there is no folder {name_or_folder!r}, and no vocabulary of that name comes with traycall"
            f"{nearest(name_or_folder, shipped_names())}; those that do: {', '.join(shipped_names())}."
        )
    return load_pack(folder)


def load_pack(folder: Path) -> Pack:
    """The pack in `folder`; raises `PackError` with every problem that could be found."""
    return _loaded(folder, with_drawings=True)


def _loaded(folder: Path, with_drawings: bool) -> Pack:
    """The same, where asked with its drawings in its items; those of shipped packs are read when needed."""
    source = YamlSource(folder)
    for file in _files(folder):
        source.read(file)
    if source.data.get("builds_on") == COMMON:
        common = _common()
        source.take(common, _Fitting(source.data, common.data).fitted)
    pack = None
    try:
        pack = Pack.model_validate(source.data)
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            # A file that could not be read at all explains why its fields are missing.
            unread = source.unread and detail["type"] == "missing" and len(detail["loc"]) == 1
            # What is wrong with the pack as a whole, `check_references` reports where it is written.
            if detail["loc"] and not unread:
                source.report_at(detail["loc"], _explain(detail, source))
    check_references(source)
    drawings: dict[str, Drawing] = {}
    if with_drawings and (folder / DRAWINGS).is_dir():
        from vocab.pack.drawing_file import drawings_in  # its XML reader takes a while to start

        drawings, problems = drawings_in(folder / DRAWINGS, {name for _, name in source.ids("items")})
        source.problems += problems
    if source.problems or pack is None:
        raise PackError(source.problems)
    if not drawings:
        return pack
    items = tuple(item.drawn(drawings[item.id]) if item.id in drawings else item for item in pack.items)
    return pack.model_copy(update={"items": items})


def shipped_names() -> tuple[str, ...]:
    """The names of the packs that come with the tool, in alphabetical order."""
    folder = resources.files("vocab").joinpath(SHIPPED)
    return tuple(sorted(f.name for f in folder.iterdir() if f.joinpath("pack.yaml").is_file()))


@cache
def shipped_languages() -> Mapping[str, str]:
    """The language of each pack that comes with the tool, by its name."""
    with resources.as_file(resources.files("vocab").joinpath(SHIPPED)) as folder:
        found = {}
        for name in shipped_names():
            source = YamlSource(folder / name)
            source.read(folder / name / "pack.yaml")
            found[name] = str(source.data.get("language", ""))
    return found


def shipped_pack(name: str = "operative") -> Pack:
    """A pack that comes with the tool, read and checked once (see `vocab.pack.kept`).

    Raises:
        TraycallError: none of that name is shipped.
    """
    if name not in shipped_names():
        raise TraycallError(
            f"no vocabulary called {name!r} comes with traycall{nearest(name, shipped_names())}; "
            f"those that do: {', '.join(shipped_names())}"
        )
    return _shipped(name)


@cache
def _shipped(name: str) -> Pack:
    with resources.as_file(resources.files("vocab").joinpath(SHIPPED, name)) as folder:
        shared = folder.with_name(COMMON)
        return kept_pack(
            name,
            [*_files(folder), *sorted(shared.glob("*.yaml"))],
            lambda: _loaded(folder, with_drawings=False),
            default_cache(),
        )


@cache
def _common() -> YamlSource:
    """What the shipped vocabularies share, as it is written."""
    with resources.as_file(resources.files("vocab").joinpath(SHIPPED, COMMON)) as folder:
        source = YamlSource(folder)
        for file in sorted(folder.glob("*.yaml")):
            source.read(file)
    return source


class _Fitting:
    """Chooses what a vocabulary has of what all share: the kits that its trays open, the items that it lays,
    the pairs of these.

    An own item or kit takes the place of the common one of its id. Look-alikes of an item may be items of any
    field: those that are not here are left out. A common item's name is shared where another item here has
    it, too: an own one, which marks it so, or a common one.
    """

    def __init__(self, own: Mapping[Key, Any], common: Mapping[Key, Any]) -> None:
        kits = {kit for tray in _records(own, "trays") for kit in _texts(tray.get("kits"))}
        self._kits = kits - {kit.get("id") for kit in _records(own, "kits")}
        opened = [kit for kit in _records(common, "kits") if kit["id"] in self._kits]
        laid = {item for kit in (*_records(own, "kits"), *opened) for item in _laid(kit)}
        laid |= {item for tray in _records(own, "trays") for item in _laid(tray)}
        self._own = {str(item.get("id")) for item in _records(own, "items")}
        self._items = laid | self._own
        self._pairs = [pair for section in PAIRS for pair in own.get(section) or ()]
        here = [one for one in _records(common, "items") if one["id"] in self._items - self._own]
        held = Counter(text for one in here for text in {normalised(t) for t in _shared_texts(one)})
        self._shared = {text for text, times in held.items() if times > 1}
        self._shared |= {normalised(t) for item in _records(own, "items") for t in _shared_texts(item)}

    def fitted(self, section: Key, element: Any) -> Any:
        """An element of a list as this vocabulary has it; None where it has it not."""
        match section:
            case "items" if element["id"] in self._items - self._own:
                alike = [one for one in element.get("confused_with", ()) if one["item"] in self._items]
                return {
                    **element,
                    "name": self._marked(element["name"]),
                    "synonyms": [self._marked(name) for name in element.get("synonyms", ())],
                    "variants": [self._with_marks(one) for one in element.get("variants", ())],
                    "confused_with": alike,
                }
            case "kits" if element["id"] in self._kits:
                return element
            case "wide_margin" | "offered_together" if set(element) <= self._items:
                return None if element in self._pairs else element
        return None

    def _with_marks(self, variant: Any) -> Any:
        if not isinstance(variant, dict) or "names" not in variant:
            return variant
        return {**variant, "names": [self._marked(name) for name in variant["names"]]}

    def _marked(self, name: str | dict[str, Any]) -> dict[str, Any]:
        plain = {"text": name} if isinstance(name, str) else name
        return {**plain, "shared": normalised(str(plain["text"])) in self._shared}


def _records(data: Mapping[Key, Any], section: str) -> Iterator[Mapping[Key, Any]]:
    """The elements of a section that are mappings; others are reported elsewhere."""
    held = data.get(section)
    return (one for one in (held if isinstance(held, list) else ()) if isinstance(one, dict))


def _texts(held: Any) -> Iterator[str]:
    return (one for one in (held if isinstance(held, list) else ()) if isinstance(one, str))


def _laid(place: Mapping[Key, Any]) -> Iterator[str]:
    """The items that a tray or a kit as written holds."""
    rows = (row.get("slots") for row in _records(place, "rows"))
    for slots in (place.get("slots"), place.get("chair_side"), *rows):
        for slot in slots if isinstance(slots, list) else ():
            if isinstance(slot, dict):
                yield str(slot.get("item"))
    yield from (str(place[key]) for key in ("item", "picture") if isinstance(place.get(key), str))


def _shared_texts(item: Mapping[Key, Any]) -> Iterator[str]:
    """The names that an item as written marks as shared, and what is said for them."""
    named = (item, *_records(item, "variants"))
    lists = (held for one in named for key in ("synonyms", "names") if isinstance(held := one.get(key), list))
    for name in (item.get("name"), *(name for names in lists for name in names)):
        if isinstance(name, dict) and name.get("shared") is True:
            yield from (str(name.get("text")), *_texts(name.get("say")))


def _files(folder: Path) -> tuple[Path, ...]:
    """The YAML files of a pack; raises `PackError` where there is no pack."""
    if not folder.exists():
        message = "no such folder; give the folder that holds pack.yaml"
        raise PackError([Problem(folder, 0, "", message)])
    if not folder.is_dir():
        raise PackError([Problem(folder, 0, "", "this is a file; give the folder that holds pack.yaml")])
    files = tuple(sorted(folder.glob("*.yaml")))
    unread = sorted(folder.glob("*.yml"))
    problems = [Problem(file, 0, "", "a file is read only if its name ends in .yaml") for file in unread]
    if folder / "pack.yaml" not in files:
        message = "there is no pack.yaml; write one with id, name, language and version"
        raise PackError([*problems, Problem(folder, 0, "", message)])
    if problems:
        raise PackError(problems)
    return files


def _explain(detail: ErrorDetails, source: YamlSource) -> str:
    """A schema error in words that say what would be right."""
    path, given = detail["loc"], detail["input"]
    kind, context = detail["type"], detail.get("ctx", {})
    if kind == "missing":
        return "is missing; a pair needs two entries" if isinstance(path[-1], int) else "is missing; add it"
    if kind == "extra_forbidden":
        fields = [f.alias or name for name, f in _record_at(path[:-1]).model_fields.items()]
        return f"there is no such field{nearest(str(path[-1]), fields)}; fields here: {', '.join(fields)}"
    if kind == "enum":
        allowed = context["expected"].replace(" or ", ", ").replace("'", "").split(", ")
        return f"{given!r} is not valid here{nearest(str(given), allowed)}; allowed: {', '.join(allowed)}"
    is_text = kind == "string_type" or (kind == "model_type" and _record_at(path) is Name)
    if is_text and isinstance(written := source.written(path), str) and written:
        return f'must be text, and YAML reads {written} as something else; put it in quotes: "{written}"'
    fixed: dict[str, str] = {
        "string_type": "must be text; write some",
        "string_too_short": "is empty; write some text",
        "tuple_type": "must be a list; start each entry with a dash",
        "dict_type": "must be a mapping, one `key: value` a line",
        "model_type": "must be a mapping, one `key: value` a line",
        "too_short": "is empty; it needs at least one entry",
    }
    if kind in fixed:
        return fixed[kind]
    if kind == "string_pattern_mismatch":
        if path[-1] == "language":
            return f"{given!r} is not a language code; use two lower-case letters such as en"
        return f"{given!r} is not a valid id; use lower-case letters, digits and underscores, a letter first"
    if kind == "value_error":
        return detail["msg"].removeprefix("Value error, ")
    said = detail["msg"].replace("Input should be", "must be", 1)
    return f"{said[0].lower()}{said[1:]}; it is {given!r}"


def _record_at(path: Where) -> type[BaseModel]:
    """The record whose fields may stand at `path`."""
    record: type[BaseModel] = Pack
    for part in path:
        for name, field in record.model_fields.items():
            if part == (field.alias or name):
                record = _record_in(field.annotation) or record
                break
    return record


def _record_in(annotation: object) -> type[BaseModel] | None:
    """The record a field's type is made of, if any."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for part in get_args(annotation) if (found := _record_in(part))), None)
