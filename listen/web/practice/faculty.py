"""Faculty pages: the class, what is hard, who may be signed off, and exporting or deleting a trainee's data.

They answer requests from anyone who gave the lead's pass code or, without a code, from anybody at this
machine alone, with pages, CSV, PDF and JSON. They decide nothing: people sign.
"""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Callable, Mapping, Sequence
from datetime import date, tzinfo
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
from listen.practice.reports import (
    confusion,
    csv_text,
)
from listen.practice.signoff import GROUPS, PLACES_LEFT_OUT, Thresholds, sign_off, write_sheet
from listen.practice.standing import Standing, grouped, standings
from listen.practice.store import Objection, Observed, clean_name
from listen.practice.topics import Drill, PracticeError
from listen.web.access.editors import LeadOnly
from listen.web.pages import page, sessions_of
from listen.web.practice.tables import NO_ROWS, READY, called, cells_of, in_words, pairs_of, rows_of
from vocab.language.numerals import whole_number
from vocab.pack.schema import Pack

MOST_POINTS = 200
"""Most fields of the sheet of what was observed."""
RESTS = 2.0
"""Few people read reports at a time, and the chairs come first (see `Workers`)."""
MOST_ROWS = 40
"""Most rows of a table on a page; the CSV has all of them."""
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
    Standing.READY: ("Ready for you to look at", "They meet what a sign-off sheet usually asks of practice."),
    Standing.HELP: ("Need help", "Surely below what a sign-off sheet asks for."),
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
        measured: gives a trainee's progress in a procedure ("" for everything that needs none, None for the
            one that was practised last) of a vocabulary, in the clinic's zone, as the pages show it.
    """

    def __init__(
        self,
        options: PracticeOptions,
        places: Callable[[Starlette], Places],
        measured: Callable[[Places, str, str | None, str | None, tzinfo | None], dict[str, Any]],
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
            Route(f"{own}/objections", guarded(self.objections), methods=["GET", "POST"]),
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
            problem, rows, pack = "", NO_ROWS, _field(places, request.query_params)
            try:
                rows = self._counted.get(places, name, pack, lambda: rows_of(places, name, pack))
            except PracticeError as error:
                problem = str(error)
            if as_csv:
                file = f"practice-{name}-{pack.id}.csv" if len(places.packs) > 1 else f"practice-{name}.csv"
                return _download(csv_text(rows).encode(), file, "text/csv; charset=utf-8")
            heads, cells = cells_of(rows[:MOST_ROWS], pack, places)
            return page(
                request,
                "practice_faculty.html",
                pack=pack,
                name=name,
                tables=TABLES,
                heads=heads,
                rows=cells,
                parts=in_words(rows[:MOST_ROWS], pack, places),
                groups=self._groups(places, pack, rows) if name == "class" else (),
                waiting=sum(o.decided is None for o in places.store.objections()),
                more=max(0, len(rows) - MOST_ROWS),
                problem=problem,
                unlocked=self._lead_code is None,
            )

        return await self._workers.run(shown)

    def _groups(
        self, places: Places, pack: Pack, rows: Sequence[Any]
    ) -> list[tuple[str, str, Sequence[Any]]]:
        """The class by where each stands: heading, what that means, and its trainees."""
        missed = self._counted.get(places, "missed", pack, places.store.tallies.missed)
        here = [one for one in missed if one.item in pack.by_id]
        counting: Sequence[Any] = self._counted.get(places, READY, pack, lambda: rows_of(places, READY, pack))
        found = grouped(standings(rows, here, places.now(), counting=counting))
        return [(*STANDINGS[standing], some) for standing, some in found.items() if some]

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
            pairs=pairs[:MOST_ROWS],
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
        """Progress, checklist, sign-off and data of one trainee."""
        places = await self._places(request)
        name = clean_name(request.query_params.get("trainee", ""))
        asked = request.query_params
        known = await self._workers.run(places.store.known, name)
        if known is None:
            raise PracticeError(f"no trainee is called {name!r}; the class lists those there are.")
        zone = sessions_of(request).settings.zone
        found = await self._workers.run(
            self._measured, places, name, asked.get("procedure"), asked.get("field"), zone
        )
        field = found["pack"].id
        seen = {o.point: o for o in await self._workers.run(places.observations, name, field)}
        checklist = (await self._workers.run(places.matter, field)).facts.checklist
        points = [
            (title, [(p, seen.get(p.id)) for p in checklist if p.group == group]) for group, title in GROUPS
        ]
        return page(
            request,
            "practice_trainee.html",
            trainee=known.name,
            has_code=known.code is not None,
            **found,
            drills=self._drills,
            groups=[(title, own) for title, own in points if own],
            usual=Thresholds(),
            today=places.now().date().isoformat(),
            tables=TABLES,
            name="trainee",
        )

    async def observe(self, request: Request) -> Response:
        """Store what somebody observed: of each point of the sheet "yes", "no", or nothing today."""
        places = await self._places(request)
        form = await request.form(max_files=0, max_fields=MOST_POINTS)
        name, observer = (
            clean_name(str(form.get("trainee") or "")),
            clean_name(str(form.get("observer") or "")),
        )
        field = str(form.get("field") or "") or await self._workers.run(places.field_used, name)
        checklist = (await self._workers.run(places.matter, field)).facts.checklist
        noted = {p.id: form.get(f"see-{p.id}") for p in checklist}
        seen = [Observed(p, how == "yes", observer, places.now()) for p, how in noted.items() if how]
        if not seen:
            raise PracticeError("nothing is noted yet: say of at least one point whether it was seen.")
        await self._workers.run(places.observe, name, field, seen)
        back = urlencode({"trainee": name, "field": field})
        return RedirectResponse(f"/practice/faculty/trainee?{back}#checklist", 303)

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
        return _download(pdf, f"signoff-{_file_name(name)}.pdf", "application/pdf", "inline")

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
                request,
                "practice_remove.html",
                pack=await self._workers.run(_field, places, request.query_params),
                trainee=name,
                counts=counts,
                tables=TABLES,
                name="trainee",
            )
        form = await request.form(max_files=0, max_fields=4)
        if form.get("sure") != "yes":
            raise PracticeError("nothing was deleted: tick the box first.")
        return _exported(await self._workers.run(places.remove, str(form.get("trainee") or "")))

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


def _exported(data: Mapping[str, Any]) -> Response:
    text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    return _download(text.encode(), f"trainee-{_file_name(data['trainee'])}.json", "application/json")


def _file_name(name: str) -> str:
    """A trainee's name as part of a file name; plain letters only, as it goes into a header."""
    return re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-") or "trainee"


def _download(content: bytes, name: str, media_type: str, how: str = "attachment") -> Response:
    return Response(
        content, media_type=media_type, headers={"content-disposition": f'{how}; filename="{name}"'}
    )
