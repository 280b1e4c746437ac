"""Faculty pages: the class, what is hard, who may be signed off, and exporting or deleting a trainee's data.

They answer requests from anyone who gave the lead's pass code or, without a code, from anybody at this
machine alone, with pages, CSV, a plot, PDF and JSON. They decide nothing: people sign.
"""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from datetime import date, datetime
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import urlencode

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from listen.live.workers import Workers
from listen.practice.ability import Estimate, rasch
from listen.practice.matrix import confusion_svg
from listen.practice.places import Places, PracticeOptions
from listen.practice.progress import Progress
from listen.practice.reports import (
    ClassRow,
    Confusion,
    HardRow,
    NameRow,
    class_overview,
    confusion,
    csv_text,
    hardest_items,
    hardest_names,
    names_nobody_knows,
)
from listen.practice.signoff import GROUPS, Thresholds, sign_off, write_sheet
from listen.practice.store import Observed, clean_name
from listen.practice.topics import Drill, PracticeError, Topic, curriculum
from listen.web.access.editors import LeadOnly
from listen.web.pages import page
from vocab.pack.schema import Pack

RESTS = 2.0
"""Few people read reports at a time, and the chairs come first (see `Workers`)."""
MOST_ROWS = 40
"""Most rows of a table on a page; the CSV has all of them."""

TABLES = {
    "class": "Class",
    "items": "Hardest items",
    "names": "Hardest names",
    "unknown": "Names nobody knows",
    "ability": "Difficulty and ability",
}
_HEADS = {
    "trainee": "Trainee",
    "answers": "Answers",
    "firsts": "First answers",
    "right": "Right",
    "wrong": "Wrong",
    "low": "From",
    "high": "to (95 %)",
    "response_s": "Median time, s",
    "asked": "Asked",
    "known": "Known",
    "due": "Due",
    "last": "Last answer",
    "code": "Own code",
    "item": "Item",
    "name": "Name",
    "trainees": "Trainees",
    "known_by": "Known by",
    "who": "Trainee or topic",
    "logits": "Logits",
    "error": "Standard error",
}
T = TypeVar("T")
_SHARES = frozenset(("right", "wrong", "low", "high"))


class Counted:
    """The last results, kept until the store or the vocabulary changes or, as topics become due, the next
    minute begins. For one thread only."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[tuple[object, ...], Pack, Any]] = {}

    def get(self, places: Places, what: str, count: Callable[[], T]) -> T:
        """What `count` returns, or what it returned before if that still holds."""
        pack, minute = places.pack, int(places.now().timestamp() // 60)
        stamp = (places.store, minute, *places.store.tallies.stamp())
        known = self._kept.get(what)
        if known is None or known[0] != stamp or known[1] is not pack:
            known = self._kept[what] = (stamp, pack, count())
        found: T = known[2]
        return found


class FacultyPages:
    """The faculty's side. The lead's code and cookie are those of the edit pages: giving it once is enough.

    Args:
        places: gives the app's trainees.
        measured: gives a trainee's progress in a procedure ("" for everything that needs none).
    """

    def __init__(
        self,
        options: PracticeOptions,
        places: Callable[[Starlette], Places],
        measured: Callable[[Places, str, str], Progress],
        drills: Mapping[Drill, str],
    ) -> None:
        self._lead_code = options.lead_code
        self._workers, self._counted = Workers("faculty", 1, RESTS), Counted()
        self._door = LeadOnly(options.lead_code, "/practice/faculty", "the faculty pages")
        self._places_of, self._measured = places, measured
        self._drills = drills

    def routes(self) -> Sequence[BaseRoute]:
        """The routes to mount."""
        own, guarded = "/practice/faculty", self._door.guarded
        return (
            self._door.route(),
            Route(own, guarded(self.table)),
            Route(f"{own}/mixed", guarded(self.mixed)),
            Route(f"{own}/mixed.svg", guarded(self.mixed_svg)),
            Route(f"{own}/trainee", guarded(self.trainee)),
            Route(f"{own}/observe", guarded(self.observe), methods=["POST"]),
            Route(f"{own}/reset", guarded(self.reset_code), methods=["POST"]),
            Route(f"{own}/signoff.pdf", guarded(self.signoff)),
            Route(f"{own}/export", guarded(self.export)),
            Route(f"{own}/remove", guarded(self.remove), methods=["GET", "POST"]),
            Route(f"{own}/{{table}}", guarded(self.table)),
        )

    # --- the class ------------------------------------------------------------------------------------

    async def table(self, request: Request) -> Response:
        """One of the tables, as a page or (name ending in .csv) as CSV."""
        wanted = request.path_params.get("table", "class")
        name = wanted.removesuffix(".csv")
        if name not in TABLES:
            raise PracticeError("there is no such table.")
        places = await self._places(request)
        as_csv = wanted.endswith(".csv")

        def shown() -> Response:
            problem, rows = "", _NO_ROWS
            try:
                rows = self._counted.get(places, name, lambda: _rows(places, name))
            except PracticeError as error:
                problem = str(error)
            if as_csv:
                return _download(csv_text(rows).encode(), f"practice-{name}.csv", "text/csv; charset=utf-8")
            heads, cells = _cells(rows[:MOST_ROWS], places.pack.called, self._drills)
            return page(
                request,
                "practice_faculty.html",
                name=name,
                tables=TABLES,
                heads=heads,
                rows=cells,
                more=max(0, len(rows) - MOST_ROWS),
                problem=problem,
                unlocked=self._lead_code is None,
            )

        return await self._workers.run(shown)

    async def mixed(self, request: Request) -> Response:
        """The page of the confusion plot."""
        places = await self._places(request)
        names = places.pack.called
        pairs = await self._workers.run(self._counted.get, places, "mixed", lambda: _pairs(places, names))
        return page(
            request,
            "practice_mixed.html",
            tables=TABLES,
            name="mixed",
            pairs=[pair for pair in pairs if pair[0] != pair[1]][:MOST_ROWS],
            anything=bool(pairs),
        )

    async def mixed_svg(self, request: Request) -> Response:
        """The confusion matrix as an image."""
        places = await self._places(request)

        def made() -> str:
            return confusion_svg(_confusion(places), places.pack)

        drawn = await self._workers.run(self._counted.get, places, "mixed.svg", made)
        return Response(drawn, media_type="image/svg+xml")

    # --- one trainee ----------------------------------------------------------------------------------

    async def trainee(self, request: Request) -> Response:
        """Progress, checklist, sign-off and data of one trainee."""
        places = await self._places(request)
        name = clean_name(request.query_params.get("trainee", ""))
        procedure = request.query_params.get("procedure", "")
        known = await self._workers.run(places.store.known, name)
        if known is None:
            raise PracticeError(f"no trainee is called {name!r}; the class lists those there are.")
        found = await self._workers.run(self._measured, places, name, procedure)
        seen = {o.point: o for o in await self._workers.run(places.store.observations, name)}
        checklist = await self._workers.run(lambda: places.facts.checklist)
        points = [
            (title, [(p, seen.get(p.id)) for p in checklist if p.group == group]) for group, title in GROUPS
        ]
        return page(
            request,
            "practice_trainee.html",
            trainee=known.name,
            has_code=known.code is not None,
            procedure=procedure,
            found=found,
            drills=self._drills,
            names=places.pack.called,
            groups=[(title, own) for title, own in points if own],
            usual=Thresholds(),
            today=places.now().date().isoformat(),
            tables=TABLES,
            name="trainee",
        )

    async def observe(self, request: Request) -> Response:
        """Store what somebody observed."""
        places = await self._places(request)
        form = await request.form(max_files=0, max_fields=8)
        name, observer = (
            clean_name(str(form.get("trainee") or "")),
            clean_name(str(form.get("observer") or "")),
        )
        point = str(form.get("point") or "")
        if point not in {p.id for p in await self._workers.run(lambda: places.facts.checklist)}:
            raise PracticeError("there is no such point on the checklist; load the page again.")
        seen = Observed(point, form.get("passed") == "yes", observer, places.now())
        await self._workers.run(places.store.observe, name, seen)
        return RedirectResponse(f"/practice/faculty/trainee?{urlencode({'trainee': name})}#checklist", 303)

    async def reset_code(self, request: Request) -> Response:
        """Delete a trainee's code: the next practice begins with choosing a new one."""
        places = await self._places(request)
        form = await request.form(max_files=0, max_fields=4)
        name = await self._workers.run(places.reset_code, str(form.get("trainee") or ""))
        return RedirectResponse(f"/practice/faculty/trainee?{urlencode({'trainee': name})}", 303)

    async def signoff(self, request: Request) -> Response:
        """The sign-off sheet as a PDF, with the thresholds that the form set."""
        places = await self._places(request)
        values = request.query_params
        name = clean_name(values.get("trainee", ""))
        procedure = values.get("procedure", "")
        thresholds, day = _thresholds(values), _day(values.get("date", ""), "date") or places.now().date()

        def write(path: Path) -> None:
            store = places.store
            topics = curriculum(places.pack, places.facts, procedure or None)
            course = places.pack.procedure(procedure).name if procedure else places.pack.name
            sheet = sign_off(
                name,
                course,
                topics,
                store.deck(name),
                store.reviews(name),
                places.facts.checklist,
                store.observations(name),
                thresholds,
                day,
            )
            write_sheet(sheet, path)

        pdf = await self._workers.run(_file, "sheet.pdf", write)
        return _download(pdf, f"signoff-{_file_name(name)}.pdf", "application/pdf")

    async def export(self, request: Request) -> Response:
        """Everything that is kept about a trainee, as JSON."""
        places = await self._places(request)
        name = clean_name(request.query_params.get("trainee", ""))
        return _exported(await self._workers.run(places.store.export, name))

    async def remove(self, request: Request) -> Response:
        """Ask for confirmation; the form then deletes everything and hands it out in one action."""
        places = await self._places(request)
        if request.method == "GET":
            name = clean_name(request.query_params.get("trainee", ""))
            kept = await self._workers.run(places.store.export, name)
            counts = {what: len(kept[what]) for what in ("answers", "memories", "observations")}
            return page(
                request, "practice_remove.html", trainee=name, counts=counts, tables=TABLES, name="trainee"
            )
        form = await request.form(max_files=0, max_fields=4)
        if form.get("sure") != "yes":
            raise PracticeError("nothing was deleted: tick the box first.")
        return _exported(await self._workers.run(places.remove, str(form.get("trainee") or "")))

    async def _places(self, request: Request) -> Places:
        return await self._workers.run(self._places_of, request.app)


Rows = tuple[ClassRow | HardRow | NameRow | Estimate, ...]
_NO_ROWS: Rows = ()


def _rows(places: Places, table: str) -> Rows:
    tallies = places.store.tallies
    if table == "class":
        return class_overview(tallies.trainees(places.now()))
    if table == "items":
        return hardest_items(tallies.items(), places.pack)
    if table == "names":
        return hardest_names(tallies.names(), places.pack)
    if table == "unknown":
        return names_nobody_knows(tallies.requests(), places.pack)
    found = rasch(tallies.latest_firsts())
    return (*found.trainees, *found.items)


def _confusion(places: Places) -> Confusion:
    return confusion(places.store.tallies.confusions(), places.pack)


def _pairs(places: Places, names: Mapping[str, str]) -> list[tuple[str, str, int]]:
    """The right answer, the answer given, and how often, most frequent first."""
    met = places.store.tallies.confusions().items()
    pairs = [(names[a], names[b], count) for (a, b), count in met if a in names and b in names]
    return sorted(pairs, key=lambda pair: (-pair[2], pair[0]))


def _cells(
    rows: Sequence[Any], names: Mapping[str, str], drills: Mapping[Drill, str]
) -> tuple[list[tuple[str, bool]], list[list[tuple[str, str]]]]:
    """Heads (text, whether it is a number) and cells (text, the trainee it links to) of a table."""
    if not rows:
        return [], []
    columns = [f.name for f in fields(rows[0])]
    heads = [(_HEADS[column], column not in ("trainee", "item", "name", "who", "code")) for column in columns]
    return heads, [[_cell(column, getattr(row, column), names, drills) for column in columns] for row in rows]


def _cell(
    column: str, value: object, names: Mapping[str, str], drills: Mapping[Drill, str]
) -> tuple[str, str]:
    if value is None or value != value:
        return "–", ""
    if column == "trainee":
        return str(value), str(value)
    if column == "item":
        return names.get(str(value), str(value)), ""
    if column == "who":
        return _topic_name(str(value), names, drills), ""
    if isinstance(value, datetime):
        return f"{value:%d %b %Y}", ""
    if isinstance(value, float):
        return (f"{value:.0%}" if column in _SHARES else f"{value:.1f}"), ""
    return str(value), ""


def _topic_name(who: str, names: Mapping[str, str], drills: Mapping[Drill, str]) -> str:
    """A topic in words; a trainee's name as it is."""
    try:
        topic = Topic.read(who)
    except (PracticeError, ValueError, KeyError):
        return who
    subject = " / ".join(names.get(part, part.replace("_", " ")) for part in topic.subject.split("+"))
    return f"{subject} ({drills[topic.drill].lower()})"


def _thresholds(values: Mapping[str, str]) -> Thresholds:
    """What the form asks for.

    Raises:
        PracticeError: a number that makes no sense.
    """
    usual = Thresholds()
    return Thresholds(
        _number(values, "known", usual.known * 100, 0, 100) / 100,
        _number(values, "right", usual.right * 100, 0, 100) / 100,
        _number(values, "seconds", usual.response_s, 0.1, 600),
        int(_number(values, "answers", usual.answers, 1, 100_000)),
        _day(values.get("since", ""), "since"),
    )


def _number(values: Mapping[str, str], field: str, usual: float, least: float, most: float) -> float:
    text = values.get(field, "").strip()
    try:
        number = float(text) if text else usual
    except ValueError:
        number = float("nan")
    if not least <= number <= most:
        raise PracticeError(f"{field}: write a number from {least:g} to {most:g}.")
    return number


def _day(text: str, field: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise PracticeError(f"{field}: write a day like 2025-03-31.") from None


def _file(name: str, write: Callable[[Path], None]) -> bytes:
    """The content that `write` puts into a file, which is deleted afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        write(path)
        return path.read_bytes()


def _exported(data: Mapping[str, Any]) -> Response:
    text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    return _download(text.encode(), f"trainee-{_file_name(data['trainee'])}.json", "application/json")


def _file_name(name: str) -> str:
    """A trainee's name as part of a file name; plain letters only, as it goes into a header."""
    return re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-") or "trainee"


def _download(content: bytes, name: str, media_type: str) -> Response:
    return Response(
        content, media_type=media_type, headers={"content-disposition": f'attachment; filename="{name}"'}
    )
