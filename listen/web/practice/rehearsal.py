"""Routes of the rehearsal: what to rehearse, the page it runs on, its lines as sound, and its timeline.

They answer HTTP requests with pages, JSON and WAV files; `listen.practice.rehearsal` decides what is said and
what an act is worth. What a line says reaches a page only as sound, until the line is done.
"""

from __future__ import annotations

import threading
from collections.abc import Awaitable, Callable, Sequence
from typing import Any, Literal

from pydantic import TypeAdapter
from starlette.applications import Starlette
from starlette.background import BackgroundTask
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket

from listen.live.workers import Workers
from listen.practice.held import NoPlace
from listen.practice.places import OF, Places
from listen.practice.played import Played
from listen.practice.rehearsal.beginning import Wish
from listen.practice.rehearsal.languages import wordings
from listen.practice.rehearsal.levels import LEVELS
from listen.practice.rehearsal.script import MINUTES, Kind, steps_to_begin
from listen.practice.rehearsal.seats import Seat, Seats
from listen.practice.schedule import PACES
from listen.practice.store import Known
from listen.practice.today import last_procedure
from listen.practice.topics import Drill
from listen.practice.trainees import NotYours, Ticket
from listen.practice.voice import as_wav
from listen.web.chair.pages import Drawn
from listen.web.pages import local_time, nameless_symbols, page, sessions_of
from listen.web.practice import cookies
from listen.web.practice.connection import Lines
from listen.web.wire import Message, body, parsed
from vocab.errors import TraycallError
from vocab.language.numerals import whole_number
from vocab.lint.findings import HEARD_LANGUAGES
from vocab.pack.schema import Pack

LARGEST_BODY = 4_000
HOME = "/practice/rehearsal"
USUAL_MINUTES = 5
MOST_LISTED = 10
FIRST_LANGUAGE = "en"
"""That of all rehearsals which were kept before others were spoken; their timelines do not say it."""


class Done(Message):
    """What was done about line `number`: "touch" or "text" with its `value`, "silence" for nothing until its
    time was over, "unheard" where it could not be played. `token` tells one sent twice."""

    number: int
    token: str
    kind: Literal["touch", "text", "silence", "unheard"]
    value: str = ""
    response_s: float | None = None


class Again(Message):
    """Line `number` is to be said once more."""

    number: int


class Count(Message):
    """Where each item of the count is."""

    answers: dict[str, str]


DONE, AGAIN, COUNT = TypeAdapter(Done), TypeAdapter(Again), TypeAdapter(Count)


class RehearsalPages:
    """The pages of one app.

    Args:
        places: gives the app's trainees; it may take a while.
        lines: counts connections, those of the drills too.
        seed: draws the same scripts again.
    """

    def __init__(self, places: Callable[[Starlette], Places], lines: Lines, seed: int | None = None) -> None:
        self._places_of, self._lines, self._seed = places, lines, seed
        self._lock = threading.Lock()
        self._workers, self._voices = Workers("rehearsal", 2), Workers("rehearsal-voice", 2)

    def routes(self) -> Sequence[BaseRoute]:
        """The routes to mount, before those of the drills."""
        seat = f"{HOME}/{{seat}}"
        return (
            Route(HOME, self.start, methods=["GET", "POST"]),
            Route(f"{HOME}/steps", self.steps),
            Route(f"{HOME}/record/{{number:int}}.json", self.timeline),
            Route(f"{HOME}/record/{{number:int}}", self.record),
            Route(seat, self.running),
            Route(f"{seat}/now", self.now),
            Route(f"{seat}/say", self.say),
            Route(f"{seat}/done", self.done, methods=["POST"]),
            Route(f"{seat}/again", self.again, methods=["POST"]),
            Route(f"{seat}/stop", self.stop, methods=["POST"]),
            Route(f"{seat}/count", self.count, methods=["POST"]),
            WebSocketRoute(f"{seat}/live", self.live),
        )

    def seats(self, app: Starlette) -> Seats:
        """The app's open rehearsals; call this in a thread."""
        places = self._places_of(app)
        with self._lock:
            if not hasattr(app.state, "rehearsals"):
                settings = app.state.running.settings
                app.state.rehearsals = Seats(
                    places, settings.data / "spoken", settings.spoken, settings.clock, self._seed
                )
                app.state.at_end += [self._workers.close, self._voices.close]
            found: Seats = app.state.rehearsals
            return found

    # --- what to rehearse -----------------------------------------------------------------------------

    async def start(self, request: Request) -> Response:
        """Ask what to rehearse; a form begins."""
        seats, places, trainee = await self._workers.run(self._who, request)
        if trainee is None:
            return RedirectResponse("/practice", 303)
        if request.method == "POST":
            form = await request.form(max_files=0, max_fields=10)
            seat = await self._workers.run(seats.begin, trainee, _wish(places, form))
            answer: Response = RedirectResponse(f"{HOME}/{seat.id}", 303)
        else:
            answer = await self._workers.run(self._asking, request, seats, places, trainee)
        cookies.give(answer, places.trainees, Ticket.of(trainee), request)
        return answer

    def _asking(self, request: Request, seats: Seats, places: Places, trainee: Known) -> Response:
        before = places.store.rehearsals(trainee.name)
        packs = seats.packs()
        spoken = {pack.id for pack in packs}
        chosen = _proposed(packs, before[0][1] if before else None, places, trainee.name)
        return page(
            request,
            "practice_rehearsal.html",
            rehearsed=[one for one in sessions_of(request).offered if one.own.pack.id in spoken],
            trainee=trainee.name,
            problem=seats.problem(),
            remarks=seats.remarks(),
            begin=_steps(packs, chosen),
            chosen=chosen,
            levels=LEVELS,
            proposed=seats.proposed(trainee.name),
            minutes=MINUTES,
            usual_minutes=USUAL_MINUTES,
            before=[(number, one, _when(request, one)) for number, one in before[:MOST_LISTED]],
        )

    async def steps(self, request: Request) -> Response:
        """The steps that a procedure may be begun with, as JSON."""
        seats = await self._workers.run(self.seats, request.app)
        return JSONResponse(_steps(seats.packs(), request.query_params.get("procedure", "")))

    # --- while it runs --------------------------------------------------------------------------------

    async def running(self, request: Request) -> Response:
        """The page of a rehearsal."""
        places, seat = await self._seat(request)
        pack, script = seat.matter.pack, seat.rehearsal.script

        def drawn() -> Response:
            return page(
                request,
                "practice_rehearsing.html",
                seat=seat,
                pack=pack,
                lang=pack.language,
                said=wordings(pack.language),
                heard=pack.language in HEARD_LANGUAGES,
                script=script,
                numbers=pack.order,
                drawn=Drawn.of(script.tray),
                symbols=nameless_symbols(pack),
            )

        answer = await self._workers.run(drawn)
        cookies.give(answer, places.trainees, seat.ticket, request)
        return answer

    async def now(self, request: Request) -> Response:
        """The open line (nothing of what it says), or the count."""

        async def shown(seat: Seat) -> dict[str, Any]:
            return await self._workers.run(seat.now)

        return await self._told(request, shown)

    async def say(self, request: Request) -> Response:
        """The open line as sound, nothing where no voice could speak it; the one after it is made ready."""
        try:
            _, seat = await self._seat(request)
        except TraycallError as error:
            return _problem(error)
        number = whole_number(request.query_params.get("n", ""))
        if number is None or number != seat.rehearsal.number:
            return Response(status_code=204)
        sound = await self._voices.run(seat.sound, number)
        ahead = BackgroundTask(self._voices.run, seat.sound, number + 1)
        if sound is None:
            return Response(status_code=204, background=ahead)
        return Response(as_wav(sound), media_type="audio/wav", background=ahead)

    async def done(self, request: Request) -> Response:
        """Take what was done about the open line, or that nothing was."""

        async def taken(seat: Seat) -> dict[str, Any]:
            sent = parsed(DONE, await body(request, LARGEST_BODY), LARGEST_BODY)
            if sent.kind in ("silence", "unheard"):
                unheard = sent.kind == "unheard"
                return await self._workers.run(seat.silence, sent.number, sent.token, unheard)
            return await self._workers.run(
                seat.answer, sent.number, sent.token, sent.value, sent.response_s, sent.kind
            )

        return await self._told(request, taken)

    async def again(self, request: Request) -> Response:
        """Note that a line is said once more."""

        async def noted(seat: Seat) -> dict[str, Any]:
            sent = parsed(AGAIN, await body(request, LARGEST_BODY), LARGEST_BODY)
            await self._workers.run(seat.again, sent.number)
            return {"type": "again"}

        return await self._told(request, noted)

    async def stop(self, request: Request) -> Response:
        """End before its time; the count follows."""

        async def ended(seat: Seat) -> dict[str, Any]:
            return await self._workers.run(seat.stop)

        return await self._told(request, ended)

    async def count(self, request: Request) -> Response:
        """Take the count; the rehearsal is kept."""

        async def taken(seat: Seat) -> dict[str, Any]:
            sent = parsed(COUNT, await body(request, LARGEST_BODY), LARGEST_BODY)
            number = await self._workers.run(seat.count, sent.answers)
            return {"type": "over", "record": number}

        return await self._told(request, taken)

    async def live(self, socket: WebSocket) -> None:
        """The WebSocket of spoken answers."""

        def found() -> tuple[Seat, Places]:
            return self._sat(socket, str(socket.path_params["seat"]))[::-1]

        await self._lines.live(socket, found, self._workers)

    # --- afterwards -----------------------------------------------------------------------------------

    async def record(self, request: Request) -> Response:
        """The timeline of a rehearsal that is over."""
        played = await self._workers.run(self._kept, request)
        lines, language = played.timeline["lines"], str(played.timeline.get("language", FIRST_LANGUAGE))
        longest_s = max([8.0, *(line["response_s"] or 0.0 for line in lines)])
        return page(
            request,
            "practice_rehearsal_record.html",
            number=request.path_params["number"],
            played=played,
            lang=language,
            said=wordings(language),
            when=_when(request, played),
            longest_s=longest_s,
            slow_s=PACES[Drill.SLOT].slow_s,
            quiet=(Kind.CHATTER, Kind.NOTE),
        )

    async def timeline(self, request: Request) -> Response:
        """The same as JSON."""
        try:
            played = await self._workers.run(self._kept, request)
        except TraycallError as error:
            return _problem(error)
        return JSONResponse(dict(played.timeline))

    def _kept(self, request: Request) -> Played:
        """The trainee's own rehearsal of this number."""
        _, places, trainee = self._who(request)
        if trainee is None:
            raise NotYours("give your name and your code first, under Practice.")
        number = int(request.path_params["number"])
        for kept, played in places.store.rehearsals(trainee.name):
            if kept == number:
                return played
        raise NoPlace("no rehearsal of yours has this number; all of them are under Practice, Rehearsal.")

    # --- parts ----------------------------------------------------------------------------------------

    def _who(self, asked: HTTPConnection) -> tuple[Seats, Places, Known | None]:
        """The app's rehearsals and trainees, and the one signed in with this browser."""
        places = self._places_of(asked.app)
        return self.seats(asked.app), places, places.trainees.trainee(cookies.given(asked))

    def _sat(self, asked: HTTPConnection, seat_id: str) -> tuple[Places, Seat]:
        """The requested rehearsal, if it belongs to the trainee of this browser."""
        seats, places, trainee = self._who(asked)
        seat = seats.seat(seat_id)
        if trainee is None or Ticket.of(trainee) != seat.ticket:
            raise NotYours(f"only {seat.trainee} can go on here: give name and code under Practice.")
        return places, seat

    async def _seat(self, request: Request) -> tuple[Places, Seat]:
        return await self._workers.run(self._sat, request, str(request.path_params["seat"]))

    async def _told(self, request: Request, act: Callable[[Seat], Awaitable[dict[str, Any]]]) -> Response:
        """Tell the page about its own rehearsal, or what is in the way; the cookie's time starts again."""
        try:
            places, seat = await self._seat(request)
            answer = JSONResponse(await act(seat))
        except TraycallError as error:
            return _problem(error)
        cookies.give(answer, places.trainees, seat.ticket, request)
        return answer


def _wish(places: Places, form: Any) -> Wish:
    """What a form asks for; a step of another procedure, as without a script, counts for nothing."""
    field, procedure = places.chosen(str(form.get("procedure") or ""), places.field_used())
    step = str(form.get("begin") or "")
    known = {key for key, _ in _steps(places.packs, f"{field}{OF}{procedure}")}
    return Wish(
        field,
        procedure,
        whole_number(str(form.get("minutes") or ""), 2) or 0,
        whole_number(str(form.get("level") or ""), 1) or 0,
        step if step in known else None,
    )


def _steps(packs: Sequence[Pack], chosen: str) -> list[tuple[str, str]]:
    """Id and name of each step after the first that a procedure ("hygiene/prophylaxis") may be begun with."""
    field, _, wanted = chosen.partition(OF)
    for pack in packs:
        for procedure in pack.procedures:
            if (pack.id, procedure.id) == (field, wanted):
                return [(step.id, step.name) for step in steps_to_begin(pack, procedure)[1:]]
    return []


def _proposed(packs: Sequence[Pack], last: Played | None, places: Places, trainee: str) -> str:
    """The procedure to propose: that of the last rehearsal, else the one practised last, else the first."""
    if last is not None:
        return f"{last.field}{OF}{last.procedure}"
    used = places.field_used(trainee)
    pack = next((pack for pack in packs if pack.id == used), packs[0] if packs else None)
    if pack is None:
        return ""
    practised = last_procedure(pack, [review.answer for review in places.store.reviews(trainee)])
    opened = places.matter(pack.id).chair.options.procedure
    return f"{pack.id}{OF}{practised or opened or pack.procedures[0].id}"


def _when(request: Request, played: Played) -> str:
    return local_time(sessions_of(request), played.at.timestamp())


def _problem(error: TraycallError) -> Response:
    status = 404 if isinstance(error, NoPlace) else 403 if isinstance(error, NotYours) else 400
    return JSONResponse({"type": "problem", "text": str(error)}, status)
