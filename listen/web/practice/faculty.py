"""Faculty pages: the class, what is hard, one trainee, and who may be signed off.

They answer requests from anyone who gave the lead's pass code or, without a code, from anybody at this
machine alone, with pages, CSV and PDF. They decide nothing: people sign. What hands out, takes in and deletes
data is in `listen.web.practice.data`.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import urlencode

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from listen.live.workers import Workers
from listen.practice.matrix import shaded
from listen.practice.places import Places, PracticeOptions
from listen.practice.plan import Path as TraineePath
from listen.practice.plan import path, went_well
from listen.practice.reports import confusion, csv_text
from listen.practice.signoff import GROUPS, PLACES_LEFT_OUT, Thresholds, sign_off, write_sheet
from listen.practice.standing import (
    RULES,
    Readiness,
    Standing,
    StandingRow,
    grouped,
    readiness,
    requests,
    standings,
)
from listen.practice.store import Known, Objection, Observed, clean_name
from listen.practice.topics import Drill, PracticeError, curriculum
from listen.web.access.editors import LeadOnly
from listen.web.pages import page, sessions_of
from listen.web.practice.data import DataPages
from listen.web.practice.files import download, file_name
from listen.web.practice.measured import measured
from listen.web.practice.tables import NO_ROWS, called, cells_of, first_of, in_words, pairs_of, rows_of
from vocab.language.numerals import whole_number
from vocab.pack.schema import Pack

MOST_POINTS = 200
"""Most fields of the sheet of what was observed."""
RESTS = 2.0
"""Few people read reports at a time, and the chairs come first (see `Workers`)."""
MOST_ROWS = 20
"""Most rows of a table on a page; the CSV has all of them."""
MOST_PAIRS = 12
"""Most pairs of what is mixed up on its page."""
MOST_CROSSED = 12
"""Most items of the table of what is mixed up on its page."""

TABLES = {
    "class": "Class",
    "items": "Hardest items",
    "names": "Hardest names",
    "unknown": "Names nobody knows",
    "ability": "Fair comparison",
}
STANDINGS = {
    Standing.READY: ("Ready", "For the procedures named. You decide, and sign."),
    Standing.HELP: ("Need help", "Right at the first try surely less often than a sign-off sheet asks for."),
    Standing.AWAY: ("Have not practised for a week", ""),
    Standing.ON_THE_WAY: ("On the way", "Not there yet, or too few answers to tell."),
}
T = TypeVar("T")


class Counted:
    """The last results of each vocabulary, kept until the store or the vocabulary changes or, as topics
    become due, the next minute begins. For one thread only."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], tuple[tuple[object, ...], Pack, Any]] = {}

    def get(self, places: Places, what: str, pack: Pack, count: Callable[[], T]) -> T:
        """What `count` returns, or what it returned before if that still holds."""
        minute = int(places.now().timestamp() // 60)
        stamp = (places.store, minute, *places.store.tallies.stamp())
        known = self._kept.get((what, pack.id))
        if known is None or known[0] != stamp or known[1] is not pack:
            known = self._kept[what, pack.id] = (stamp, pack, count())
        found: T = known[2]
        return found


class FacultyPages:
    """The faculty's side. The lead's code and cookie are those of the edit pages: giving it once is enough.

    Args:
        places: gives the app's trainees.
        drills: what each kind of question is called.
    """

    def __init__(
        self,
        options: PracticeOptions,
        places: Callable[[Starlette], Places],
        drills: Mapping[Drill, str],
    ) -> None:
        self._lead_code = options.lead_code
        self._workers, self._counted = Workers("faculty", 1, RESTS), Counted()
        self._door = LeadOnly(options.lead_code, "/practice/faculty", "the faculty pages")
        self._places_of, self._drills = places, drills
        self._data = DataPages(self._places, self._workers, TABLES)

    def routes(self) -> Sequence[BaseRoute]:
        """The routes to mount."""
        own, guarded = "/practice/faculty", self._door.guarded
        return (
            self._door.route(),
            Route(own, guarded(self.table)),
            Route(f"{own}/mixed", guarded(self.mixed)),
            Route(f"{own}/objections", guarded(self.objections), methods=["GET", "POST"]),
            Route(f"{own}/trainee", guarded(self.trainee)),
            Route(f"{own}/sheet", guarded(self.sheet), methods=["GET", "POST"]),
            Route(f"{own}/reset", guarded(self.reset_code), methods=["POST"]),
            Route(f"{own}/signoff.pdf", guarded(self.signoff)),
            *self._data.routes(own, guarded),
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
            problem, rows, pack = "", NO_ROWS, _field(places, request.query_params)
            try:
                rows = self._counted.get(places, name, pack, lambda: rows_of(places, name, pack))
            except PracticeError as error:
                problem = str(error)
            if as_csv:
                file = f"practice-{name}-{pack.id}.csv" if len(places.packs) > 1 else f"practice-{name}.csv"
                return download(csv_text(rows).encode(), file, "text/csv; charset=utf-8")
            first = first_of(rows, MOST_ROWS, places)
            heads, cells = cells_of(first, places)
            return page(
                request,
                "practice_faculty.html",
                pack=pack,
                name=name,
                tables=TABLES,
                heads=heads,
                rows=cells,
                rules=RULES,
                parts=in_words(first, pack, places),
                groups=self._groups(places, pack, rows) if name == "class" else (),
                waiting=sum(o.decided is None for o in places.store.objections()),
                more=len(rows) - len(first),
                problem=problem,
                unlocked=self._lead_code is None,
            )

        return await self._workers.run(shown)

    def _groups(
        self, places: Places, pack: Pack, rows: Sequence[Any]
    ) -> list[tuple[str, str, list[tuple[StandingRow, TraineePath | None]]]]:
        """The class by where each stands: heading, what that means, and its trainees, each with their
        place on the path of the procedure that they are on."""
        missed = self._counted.get(places, "missed", pack, places.store.tallies.missed)
        memories = self._counted.get(places, "memories", pack, places.store.tallies.memories)
        rehearsed = {
            (who, field, procedure)
            for who, field, procedure, requests, right in places.store.tallies.rehearsals()
            if went_well(requests, right)
        }
        facts, seen = places.matter(pack.id).facts, places.everybody_seen(pack.id)

        confirmed = places.matter(pack.id).trays.confirmed
        asked = {one.id: requests(pack, one, confirmed) for one in pack.procedures}

        def ready_for(who: str) -> tuple[Readiness, ...]:
            known, done = memories.get(who, {}), seen.get(who, ())
            return tuple(readiness(one, asked[one], facts.checklist, known, done) for one in asked)

        ready = {row.trainee: ready_for(row.trainee) for row in rows}
        here = [one for one in missed if one.item in pack.by_id]

        def placed(one: StandingRow) -> tuple[StandingRow, TraineePath | None]:
            on, who = one.nearest or next(iter(one.ready), None), one.row.trainee
            if on is None:
                return one, None
            topics = self._counted.get(
                places, f"topics of {on.procedure}", pack, lambda: curriculum(pack, facts, on.procedure)
            )
            played = (who, pack.id, on.procedure) in rehearsed
            return one, path(topics, memories.get(who, {}), facts.checklist, seen.get(who, ()), played)

        found = grouped(standings(rows, here, places.now(), ready))
        return [(*STANDINGS[group], [placed(one) for one in some]) for group, some in found.items() if some]

    async def mixed(self, request: Request) -> Response:
        """What is taken for what: the pairs, the most frequent first, and a table."""
        places = await self._places(request)
        pack = await self._workers.run(_field, places, request.query_params)

        def counted() -> tuple[list[tuple[str, str, int]], Any]:
            found = confusion(places.store.tallies.confusions(), pack)
            return pairs_of(found, pack), shaded(found, pack, MOST_CROSSED) if found.items else None

        pairs, table = await self._workers.run(self._counted.get, places, "mixed", pack, counted)
        return page(
            request,
            "practice_mixed.html",
            pack=pack,
            tables=TABLES,
            name="mixed",
            pairs=pairs[:MOST_PAIRS],
            more=max(0, len(pairs) - MOST_PAIRS),
            table=table,
            items=pack.by_id,
            names=pack.called,
        )

    async def objections(self, request: Request) -> Response:
        """Wrong answers that trainees hold to be right; the form keeps what the lead decided."""
        places = await self._places(request)
        if request.method == "POST":
            form = await request.form(max_files=0, max_fields=4)
            number = whole_number(str(form.get("number") or ""), 12)
            if number is None or form.get("right") not in ("yes", "no"):
                raise PracticeError("load the page again, then say whether the trainee was right.")
            await self._workers.run(places.store.decide, number, form.get("right") == "yes")
            return RedirectResponse("/practice/faculty/objections", 303)
        found = await self._workers.run(places.store.objections)

        def named() -> list[tuple[str, Objection]]:
            return [(called(one.answer.topic, places)[0], one) for one in found[:MOST_ROWS]]

        return page(
            request,
            "practice_objections.html",
            pack=await self._workers.run(_field, places, request.query_params),
            tables=TABLES,
            name="objections",
            listed=await self._workers.run(named),
            names=places.called,
        )

    # --- one trainee ----------------------------------------------------------------------------------

    async def trainee(self, request: Request) -> Response:
        """Where one trainee stands, their progress, code and data."""
        places, known = await self._known(request)
        asked, zone = request.query_params, sessions_of(request).settings.zone
        found = await self._workers.run(
            measured, places, known.name, asked.get("procedure"), asked.get("field"), zone
        )
        return page(
            request,
            "practice_trainee.html",
            trainee=known.name,
            has_code=known.code is not None,
            **found,
            drills=self._drills,
            rules=RULES,
            tables=TABLES,
            name="trainee",
        )

    async def sheet(self, request: Request) -> Response:
        """The checklist of a field and the sign-off sheet of a trainee, on one page.

        The form has of each point "yes", "no", or nothing today, one observer and one day for all of them.
        """
        places, known = await self._known(request)
        if request.method == "POST":
            return await self._observed(request, places, known.name)
        asked, today = request.query_params, places.now().date()
        found = await self._workers.run(
            measured, places, known.name, asked.get("procedure"), asked.get("field"), None
        )
        field = found["pack"].id
        notes = await self._workers.run(places.observations, known.name, field)
        latest = {one.point: one for one in notes}
        checklist = (await self._workers.run(places.matter, field)).facts.checklist
        points = [
            (title, [(p, latest.get(p.id)) for p in checklist if p.group == group]) for group, title in GROUPS
        ]
        return page(
            request,
            "practice_sheet.html",
            trainee=known.name,
            **found,
            groups=[(title, own) for title, own in points if own],
            usual=Thresholds(),
            rules=RULES,
            today=today.isoformat(),
            observer=notes[-1].observer if notes else "",
            tables=TABLES,
            name="trainee",
        )

    async def _observed(self, request: Request, places: Places, name: str) -> Response:
        form = await request.form(max_files=0, max_fields=MOST_POINTS)
        observer = clean_name(str(form.get("observer") or ""))
        field = str(form.get("field") or "") or await self._workers.run(places.field_used, name)
        checklist = (await self._workers.run(places.matter, field)).facts.checklist
        now = places.now()
        day = _day(str(form.get("day") or ""), "seen on") or now.date()
        if day > now.date():
            raise PracticeError("seen on: nothing was noted, as that day is still to come.")
        at = now if day == now.date() else datetime.combine(day, time(12), UTC)
        noted = {p.id: form.get(f"see-{p.id}") for p in checklist}
        seen = [Observed(p, how == "yes", observer, at) for p, how in noted.items() if how]
        if not seen:
            raise PracticeError("nothing is noted yet: say of at least one point whether it was seen.")
        await self._workers.run(places.observe, name, field, seen)
        back = {"trainee": name, "field": field, "procedure": str(form.get("procedure") or "")}
        return RedirectResponse(
            f"/practice/faculty/sheet?{urlencode({k: v for k, v in back.items() if v})}", 303
        )

    async def _known(self, request: Request) -> tuple[Places, Known]:
        """The trainee that the address names.

        Raises:
            PracticeError: there is none.
        """
        places = await self._places(request)
        name = clean_name(request.query_params.get("trainee", ""))
        known = await self._workers.run(places.store.known, name)
        if known is None:
            raise PracticeError(f"no trainee is called {name!r}; the class lists those there are.")
        return places, known

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
        thresholds, day = _thresholds(values), _day(values.get("date", ""), "date") or places.now().date()

        def write(path: Path) -> None:
            store, used = places.store, values.get("field") or places.field_used(name)
            field, procedure = places.chosen(values.get("procedure", ""), used)
            matter = places.matter(field)
            every = matter.topics(procedure or None)
            topics = tuple(filter(matter.trays.counts, every))
            course = matter.pack.procedure(procedure).name if procedure else matter.pack.name
            course = course if len(topics) == len(every) else f"{course}, {PLACES_LEFT_OUT}"
            sheet = sign_off(
                name,
                course,
                topics,
                store.deck(name),
                store.reviews(name),
                matter.facts.checklist,
                places.observations(name, field),
                thresholds,
                day,
            )
            write_sheet(sheet, path)

        pdf = await self._workers.run(_file, "sheet.pdf", write)
        return download(pdf, f"signoff-{file_name(name)}.pdf", "application/pdf", "inline")

    async def _places(self, request: Request) -> Places:
        return await self._workers.run(self._places_of, request.app)


def _field(places: Places, asked: Mapping[str, str]) -> Pack:
    """The vocabulary that a page is about: the address's, else the one practised most lately."""
    return places.matter(asked.get("field") or places.field_used()).pack


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
