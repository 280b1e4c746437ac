"""Trainees' data in open forms: written as JSON or CSV, and read back with every mistake named.

Takes what `PracticeStore.export` gives, and gives text; takes a file's bytes and gives `Record`s, or says
what is wrong with which entry. JSON holds everything, one trainee or a class; CSV holds answers, one a line.
It opens no database.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError, field_validator
from pydantic_core import ErrorDetails

from listen.practice.played import Played
from listen.practice.session import LONGEST_SAID, Answered
from listen.practice.store import Observed, Record, StoreError, clean_name
from listen.practice.tables import LONGEST_NAME
from vocab.errors import Declined

CLASS = "trainees"
"""The key that a class's file has, with a list of what `PracticeStore.export` gives."""
MOST_TOLD = 8
LARGEST = 64_000_000
"""Most bytes of a file that is read."""
COLUMNS = (
    *("trainee", "at", "topic", "right", "choice", "asked_name", "said", "response_s", "unsure", "rating"),
    *("by", "token", "objection"),
)
"""Of the CSV file; what they hold stands in `listen.practice.session.Answered`."""
_GUARD = ("=", "+", "-", "@", "\t", "\r")
Topic = Annotated[str, Field(pattern=r"^[a-z]+:[^:]*:.+$", max_length=200)]
Count = Annotated[int, Field(ge=0, le=1_000_000)]
Seconds = Annotated[float, Field(ge=0, le=86_400, allow_inf_nan=False)]
Short = Annotated[str, Field(max_length=200)]


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _Derived(_Row):
    """What an export tells besides, and what is worked out again where it is read."""

    model_config = ConfigDict(extra="ignore")


class _Answer(_Row):
    """`Answered`, what is kept of an objection, and what follows from other answers and is not read."""

    token: Annotated[str, Field(min_length=1, max_length=64)]
    at: AwareDatetime
    topic: Topic
    right: bool
    choice: Short | None = None
    asked_name: Short | None = None
    said: Annotated[str, Field(max_length=LONGEST_SAID)] = ""
    response_s: Seconds | None = None
    unsure: bool = False
    rating: Annotated[int, Field(ge=1, le=4)]
    by: Literal["voice", "text", "touch"]
    objection: Literal["open", "right", "wrong"] | None = None
    day: str = ""
    item: str | None = None
    first_on_day: bool = False
    first_of_name: bool = False
    line: int = 0

    def kept(self) -> tuple[Answered, str | None]:
        values = {field.name: getattr(self, field.name) for field in fields(Answered)}
        return Answered(**values), self.objection


class _Observation(_Row):
    point: Annotated[str, Field(min_length=1, max_length=100)]
    passed: bool
    observer: Annotated[str, Field(min_length=1, max_length=LONGEST_NAME)]
    at: AwareDatetime


class _Rehearsal(_Row):
    """As `Played`."""

    token: Annotated[str, Field(min_length=1, max_length=64)]
    at: AwareDatetime
    field: Short
    procedure: Short
    level: Annotated[int, Field(ge=1)]
    requests: Count
    right: Count
    wrong: Count
    slow: Count
    false_alarms: Count
    median_s: Seconds | None
    counted: Count
    counted_right: Count
    seconds: Seconds
    timeline: dict[str, Any]


class _Trainee(_Row):
    trainee: str
    since: AwareDatetime | None = None
    answers: tuple[_Answer, ...]
    observations: tuple[_Observation, ...] = ()
    rehearsals: tuple[_Rehearsal, ...] = ()
    memories: tuple[_Derived, ...] = ()
    has_code: bool = False

    @field_validator("trainee")
    @classmethod
    def _can_be_shown(cls, value: str) -> str:
        try:
            return clean_name(value)
        except StoreError as error:
            raise ValueError(str(error)) from None


class _File(_Row):
    trainees: Annotated[tuple[_Trainee, ...], Field(min_length=1)]


class CannotRead(Declined):
    """A file that is not taken in; the text names each mistake, up to `MOST_TOLD`."""


def json_of(exports: Sequence[Mapping[str, Any]]) -> str:
    """One trainee's export as it is, or a class's in one file."""
    whole = exports[0] if len(exports) == 1 else {CLASS: list(exports)}
    return json.dumps(whole, indent=1, ensure_ascii=False) + "\n"


def csv_of(exports: Iterable[Mapping[str, Any]]) -> str:
    """Every answer on a line of its own. Cells that a spreadsheet would execute begin with an apostrophe,
    which reading them takes away again."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    for export in exports:
        for answer in export["answers"]:
            cells = {**answer, "trainee": export["trainee"]}
            writer.writerow({name: _guarded(cells[name]) for name in COLUMNS})
    return out.getvalue()


def read(data: bytes) -> tuple[Record, ...]:
    """The trainees of a file, JSON or CSV by what it begins with.

    Raises:
        CannotRead: it is neither, or something in it is wrong.
    """
    if len(data) > LARGEST:
        raise CannotRead(f"the file is larger than {LARGEST // 1_000_000} MB; take in one trainee at a time.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise CannotRead("the file is not text in UTF-8; choose the file as it was downloaded.") from None
    whole = _from_json(text) if text.lstrip()[:1] in ("{", "[") else _from_csv(text)
    try:
        found = _File.model_validate(whole, strict=False)
    except ValidationError as error:
        raise CannotRead(_told(error.errors(include_url=False), whole)) from None
    records = tuple(_record(one) for one in found.trainees)
    for record in records:
        answers = [answer.token for answer, _ in record.answers]
        for tokens, what in ((answers, "answer"), ([one.token for one in record.rehearsals], "rehearsal")):
            if len(set(tokens)) < len(tokens):
                raise CannotRead(
                    f"one {what} of {record.trainee} stands in the file twice; nothing was taken in."
                )
    return records


def _from_json(text: str) -> Mapping[str, Any]:
    try:
        found = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as error:
        where = f" (line {error.lineno})" if isinstance(error, json.JSONDecodeError) else ""
        raise CannotRead(f"the file is damaged{where}; choose the file as it was downloaded.") from None
    if isinstance(found, dict) and "trainee" in found:
        return {CLASS: [found]}
    if isinstance(found, dict) and isinstance(found.get(CLASS), list):
        return found
    raise CannotRead("this is no file of practice: it has neither one trainee nor a list of trainees.")


def _from_csv(text: str) -> Mapping[str, Any]:
    lines = csv.DictReader(io.StringIO(text))
    missing = [name for name in COLUMNS if name not in (lines.fieldnames or ())]
    if missing:
        raise CannotRead(f"this is no file of answers: the first line lacks {', '.join(missing)}.")
    found: dict[str, list[dict[str, Any]]] = {}
    try:
        for line in lines:
            cells = {name: _bare(line[name] or "") for name in COLUMNS}
            empty = [name for name, cell in cells.items() if not cell and name not in ("said", "trainee")]
            answer = {name: cell for name, cell in cells.items() if name not in ("trainee", *empty)}
            found.setdefault(cells["trainee"], []).append({**answer, "line": lines.line_num})
    except csv.Error as error:
        raise CannotRead(f"line {lines.line_num} cannot be read ({error}); nothing was taken in.") from None
    if not found:
        raise CannotRead("the file has no answers; nothing was taken in.")
    return {CLASS: [{"trainee": who, "answers": answers} for who, answers in found.items()]}


def _record(one: _Trainee) -> Record:
    seen = tuple(Observed(**observation.model_dump()) for observation in one.observations)
    played = tuple(Played(**rehearsal.model_dump()) for rehearsal in one.rehearsals)
    return Record(one.trainee, tuple(answer.kept() for answer in one.answers), seen, played, one.since)


def _told(errors: Sequence[ErrorDetails], whole: Mapping[str, Any]) -> str:
    within = [error for error in errors if len(error["loc"]) > 1] or errors  # not what follows from them
    lines = [_mistake(error, whole) for error in within[:MOST_TOLD]]
    more = len(within) - MOST_TOLD
    lines += [f"and {more} more"] if more > 0 else []
    return "nothing was taken in. " + "; ".join(lines) + "."


def _mistake(error: ErrorDetails, whole: Mapping[str, Any]) -> str:
    """One mistake: where, what, and what stands there."""
    at: Any = whole
    where = []
    for part in error["loc"]:
        at = _within(at, part)
        if isinstance(at, Mapping) and isinstance(at.get("trainee"), str):
            where.append(at["trainee"] or "a trainee without a name")
        elif isinstance(at, Mapping) and "line" in at:
            where.append(f"line {at['line']}")
        elif isinstance(part, int):
            where.append(str(part + 1))
        elif part != CLASS:
            where.append(part.rstrip("s") if part in ("answers", "observations", "rehearsals") else part)
    said = error["msg"].removeprefix("Value error, ").rstrip(".")
    return f"{' '.join(where) or 'the file'}: {said[:1].lower()}{said[1:]}"


def _within(at: Any, part: str | int) -> Any:
    try:
        return at[part]
    except (KeyError, IndexError, TypeError):
        return None


def _guarded(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, str) and value.startswith((*_GUARD, "'")):
        return f"'{value}"
    return value


def _bare(cell: str) -> str:
    return cell[1:] if cell.startswith("'") else cell
