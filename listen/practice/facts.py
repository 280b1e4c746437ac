"""Facts with numbers and the observation checklist, from the `practice` folder beside a pack.

Takes a pack and its folder; returns `Facts` checked against the pack and against `vocab.pack.formula`, or
raises a `PackError` that names file, line, field and what would be right. It never changes a file.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from importlib import resources
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError
from pydantic_core import ErrorDetails

from vocab.errors import PackError, Problem, nearest
from vocab.language.tokens import is_number, words
from vocab.pack.formula import Formula, FormulaError, read_formula
from vocab.pack.load import SHIPPED, shipped_names
from vocab.pack.schema import Identifier, Pack, Said, Strict, Text
from vocab.pack.yaml_source import YamlSource

FOLDER = "practice"
"""Where the files are inside a pack's folder."""

Part = Literal["width", "length", "angle", "edge"]

_PARTS: dict[Part, Callable[[Formula], float | None]] = {
    "width": lambda f: f.blade_width_mm,
    "length": lambda f: f.blade_length_mm,
    "angle": lambda f: f.blade_degrees,
    "edge": lambda f: f.edge_degrees,
}


class Value(Said):
    """An answer to a fact."""


class FormulaPart(Strict):
    """A number that is read from an instrument formula: widths and lengths in mm, angles in degrees."""

    text: Text
    part: Part


class Fact(Strict):
    """One thing to know by number; `instead` are wrong values offered beside it."""

    id: Identifier
    asks: Text
    answer: Value
    instead: Annotated[tuple[Value, ...], Field(min_length=1)]
    source: Text
    say: tuple[Text, ...] = ()
    item: Identifier | None = None
    formula: FormulaPart | None = None
    note: Text | None = None


class Observation(Strict):
    """One point to be observed; a `must` has to be seen before a sign-off."""

    id: Identifier
    group: Literal["passing", "count", "sharps"]
    text: Text
    must: bool = False


class Facts(Strict):
    """The practice data of one pack; empty if the pack has none."""

    facts: tuple[Fact, ...] = ()
    checklist: tuple[Observation, ...] = ()

    def fact(self, fact_id: str) -> Fact:
        """The fact with this id; KeyError if there is none."""
        for fact in self.facts:
            if fact.id == fact_id:
                return fact
        raise KeyError(fact_id)


def load_facts(pack: Pack, pack_folder: Path) -> Facts:
    """The facts and the checklist beside a pack.

    Raises:
        PackError: with every problem that could be found.
    """
    facts, source = _read(pack_folder / FOLDER)
    for place, fact in enumerate(facts.facts):
        if fact.item is not None and fact.item not in pack.by_id:
            message = f"no item is called {fact.item!r}{nearest(fact.item, pack.by_id)}"
            source.report_at(("facts", place, "item"), message)
    if source.problems:
        raise PackError(source.problems)
    return facts


def facts_beside(name_or_folder: str, pack: Pack) -> Facts:
    """The facts beside a shipped pack or a folder, checked against that pack."""
    with _folder(name_or_folder) as folder:
        return load_facts(pack, folder)


def facts_in_use(name_or_folder: str, pack: Pack) -> Facts:
    """The facts for a pack with a clinic's changes: those about retired items are left out."""
    with _folder(name_or_folder) as folder:
        facts, source = _read(folder / FOLDER)
    if source.problems:
        raise PackError(source.problems)
    known = {None, *pack.by_id}
    return facts.model_copy(update={"facts": tuple(f for f in facts.facts if f.item in known)})


def _folder(name_or_folder: str) -> AbstractContextManager[Path]:
    if name_or_folder in shipped_names():
        return resources.as_file(resources.files("vocab").joinpath(SHIPPED, name_or_folder))
    return nullcontext(Path(name_or_folder).expanduser())


def _read(folder: Path) -> tuple[Facts, YamlSource]:
    """The content of the files; reports ids used twice and values that contradict a formula or each other."""
    source = YamlSource(folder)
    for file in sorted(folder.glob("*.yaml")):
        source.read(file)
    try:
        facts = Facts.model_validate(source.data)
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            source.report_at(detail["loc"], _explain(detail))
        raise PackError(source.problems or [Problem(folder, 0, "", "cannot be read")]) from None
    for section in ("facts", "checklist"):
        seen: set[str] = set()
        for place, found in source.ids(section):
            if found in seen:
                source.report_at((section, place, "id"), f"{found!r} is used twice; give each its own id")
            seen.add(found)
    for place, fact in enumerate(facts.facts):
        if any(other.text == fact.answer.text for other in fact.instead):
            message = "the right answer is also listed among the wrong ones; take it out"
            source.report_at(("facts", place, "instead"), message)
        if fact.formula is not None:
            _check_formula(fact, fact.formula, place, source)
    return facts, source


def _check_formula(fact: Fact, formula: FormulaPart, place: int, source: YamlSource) -> None:
    try:
        value = _PARTS[formula.part](read_formula(formula.text))
    except FormulaError as error:
        source.report_at(("facts", place, "formula"), str(error))
        return
    numbers = [float(word) for word in words(fact.answer.text) if is_number(word) and word.isascii()]
    if value is None:
        source.report_at(("facts", place, "formula"), f"{formula.text!r} has no {formula.part}")
    elif not numbers or abs(numbers[0] - value) > 0.01:
        message = f"the formula {formula.text} has {formula.part} {value:g}; it is {fact.answer.text!r}"
        source.report_at(("facts", place, "answer"), message)


def _explain(detail: ErrorDetails) -> str:
    """A schema error in words that say what would be right."""
    path, given, kind = detail["loc"], detail["input"], detail["type"]
    if kind == "missing":
        return "is missing; add it"
    if kind == "extra_forbidden":
        known = {"facts", "checklist", *Fact.model_fields, *Observation.model_fields, *Value.model_fields}
        return f"there is no such field{nearest(str(path[-1]), known)}"
    if kind == "literal_error":
        return f"{given!r} is not valid here; allowed: {detail.get('ctx', {}).get('expected', '')}"
    if kind == "string_type":
        return f'must be text; put it in quotes: "{given}"'
    if kind in ("string_too_short", "too_short"):
        return "is empty; write at least one entry"
    if kind == "string_pattern_mismatch":
        return f"{given!r} is not a valid id; use lower-case letters, digits and underscores, a letter first"
    if kind in ("model_type", "model_attributes_type"):
        return "must be a mapping or text, one `key: value` a line"
    if kind == "tuple_type":
        return "must be a list; start each entry with a dash"
    return f"{detail['msg'][0].lower()}{detail['msg'][1:]}; it is {given!r}"
