"""Routes of practice: who practises what, the drill, a trainee's own progress, and what faculty see.

They answer HTTP requests with pages, JSON for the drill page, and questions as sound. `listen.practice`
decides what is asked and what an answer is worth; `listen.web.practice.faculty` has the faculty pages.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from markupsafe import Markup
from pydantic import TypeAdapter
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket

from listen.engine import Samples
from listen.live.workers import Workers
from listen.practice.codes import SHORTEST
from listen.practice.held import NoPlace
from listen.practice.place import Place
from listen.practice.places import OF, Places, PracticeOptions
from listen.practice.plan import New
from listen.practice.rehearsal.sound import can_speak
from listen.practice.sketches import HEIGHT, SKETCHES, WIDTH, sketch, sketch_id
from listen.practice.store import Known, StoreError
from listen.practice.story import Story
from listen.practice.story import spoken as story_line
from listen.practice.today import Today
from listen.practice.topics import Drill
from listen.practice.trainees import NotYours, Ticket, WrongCode
from listen.practice.voice import any_voice, as_wav, in_chair_noise, noise_level_db, plainly
from listen.practice.wordings import BY_LANGUAGE, wordings
from listen.speech import replies
from listen.web.app import Link
from listen.web.chair.pages import groups
from listen.web.pages import nameless_symbols, page, sessions_of
from listen.web.practice import cookies
from listen.web.practice.connection import Lines
from listen.web.practice.faculty import FacultyPages
from listen.web.practice.files import offered
from listen.web.practice.measured import measured
from listen.web.practice.rehearsal import RehearsalPages
from listen.web.wire import Message, body, parsed
from vocab.errors import TraycallError
from vocab.language.numerals import whole_number
from vocab.lint.findings import HEARD_LANGUAGES
from vocab.pack.schema import Pack, Tray

LARGEST_BODY = 4_000
"""Most bytes of one answer."""

DRILL_NAMES: dict[Drill, str] = {
    Drill.SLOT: "Hear a request, give the slot",
    Drill.NAME: "See it or hear its purpose, say the name",
    Drill.APART: "Tell look-alikes apart",
    Drill.PASS: "Pass it the right way",
    Drill.NEXT: "Say what comes next",
    Drill.LAY: "Lay the tray",
    Drill.FAULT: "Find what is missing or misplaced",
    Drill.FACT: "Numbers: depths, seconds, speeds, sizes",
}
MINUTES = (5, 10, 15, 20, 30)


class Given(Message):
    """An answer to question `number`; `kind` "text" or "touch"; `token` tells one sent twice."""

    number: int
    token: str
    kind: str
    value: str
    response_s: float | None = None


GIVEN = TypeAdapter(Given)


class ObjectedTo(Message):
    """The trainee says that the wrong answer with this token was right."""

    token: str


OBJECTED = TypeAdapter(ObjectedTo)


SKETCH_SYMBOLS = Markup("").join(
    Markup('<symbol id="s-{}" viewBox="0 0 {} {}">{}</symbol>').format(
        sketch_id(name), WIDTH, HEIGHT, Markup(sketch(name))
    )
    for name in SKETCHES
)
"""Every sketch of how something is passed."""

THREADS, ARRIVALS, VOICES = 4, 2, 2
"""Threads for questions and answers; for whoever comes in, whose code and pages take ten times as long as an
answer, so that a school that arrives keeps nobody waiting who answers; and for reading questions out."""


class PracticePages:
    """The pages of one app; its places are created when the first request needs them."""

    def __init__(self, options: PracticeOptions) -> None:
        self._options = options
        self._lock = threading.Lock()
        self._refused: tuple[float, StoreError] | None = None
        self._drawn: dict[str, tuple[Pack, Markup]] = {}
        self.lines = Lines()
        self._workers, self._voices = Workers("practice", THREADS), Workers("practice-voice", VOICES)
        self._arrivals = Workers("practice-arrivals", ARRIVALS)

    def places(self, app: Starlette) -> Places:
        """The app's trainees. Call this in a thread, as it may have to wait for the store.

        Raises:
            StoreError: the store cannot be used; those who waited meanwhile get the same error.
        """
        came_s = time.monotonic()
        with self._lock:
            if not hasattr(app.state, "practice"):
                if self._refused is not None and self._refused[0] > came_s:
                    raise StoreError(str(self._refused[1]))
                try:
                    places = app.state.practice = Places(app.state.running, self._options)
                except StoreError as error:
                    self._refused = time.monotonic(), error
                    raise
                closed = [self._workers.close, self._arrivals.close, self._voices.close, places.close]
                app.state.at_end += closed
            found: Places = app.state.practice
            return found

    # --- who practises --------------------------------------------------------------------------------

    async def start(self, request: Request) -> Response:
        """Ask who practises what and for how long; a form begins a session."""
        places, trainee = await self._who(request)
        if request.method == "GET":
            return await self._begin(request, places, trainee)
        if trainee is None:
            raise NotYours("give your name and your code first, under Practice.")
        form = await request.form(max_files=0, max_fields=20)
        if "dentist" in form:
            field, dentist = str(form.get("field") or ""), str(form["dentist"])
            place = await self._arrivals.run(places.sit_news, trainee, field, dentist)
        elif "today" in form:
            place = await self._arrivals.run(places.sit_today, trainee, str(form.get("field") or "") or None)
        else:
            place = await self._arrivals.run(
                places.sit,
                trainee,
                str(form.get("procedure") or ""),
                [str(drill) for drill in form.getlist("drill")],
                float(whole_number(str(form.get("minutes") or ""), 4) or 0),
            )
        answer = RedirectResponse(f"/practice/{place.id}", 303)
        cookies.give(answer, places.trainees, place.ticket, request)
        return answer

    async def enter(self, request: Request) -> Response:
        """Take a trainee's name and code; a trainee without a code chooses one."""
        places = await self._arrivals.run(self.places, request.app)
        form = await request.form(max_files=0, max_fields=6)
        name, code = str(form.get("trainee") or ""), str(form.get("code") or "")
        own_device = form.get("own") == "yes"
        chosen: dict[str, Any] = {"trainee": name, "shortest": SHORTEST, "own": own_device}
        try:
            if "again" in form:
                again = str(form["again"])
                known = await self._arrivals.run(places.trainees.chosen, name, code, again)
            elif await self._arrivals.run(places.trainees.is_new, name):
                return page(request, "practice_code.html", **chosen, problem="")
            else:
                address = request.client.host if request.client else ""
                known = await self._arrivals.run(places.trainees.by_code, name, code, address)
        except WrongCode as error:
            return await self._begin(request, places, None, name, error)
        except TraycallError as error:
            if "again" not in form:
                raise
            return page(request, "practice_code.html", 400, **chosen, problem=str(error))
        answer = RedirectResponse("/practice", 303)
        cookies.give(answer, places.trainees, Ticket.of(known), request, own_device)
        return answer

    async def leave(self, request: Request) -> Response:
        """Sign the trainee out of this browser."""
        answer = RedirectResponse("/practice", 303)
        cookies.take_back(answer)
        return answer

    async def progress(self, request: Request) -> Response:
        """A trainee's own progress."""
        places, trainee = await self._who(request)
        if trainee is None:
            return RedirectResponse("/practice", 303)
        zone = sessions_of(request).settings.zone
        asked = request.query_params
        found = await self._arrivals.run(
            measured, places, trainee.name, asked.get("procedure"), asked.get("field"), zone
        )
        today = await self._arrivals.run(places.today, trainee.name, found["pack"].id)
        return page(
            request, "practice_progress.html", trainee=trainee.name, today=today, drills=DRILL_NAMES, **found
        )

    async def mine(self, request: Request) -> Response:
        """Everything that is kept about the trainee of this browser, for them to keep."""
        places, trainee = await self._who(request)
        if trainee is None:
            return RedirectResponse("/practice", 303)
        kept = await self._workers.run(places.store.export, trainee.name)
        return offered([kept], request.path_params["form"], trainee.name)

    async def _who(self, request: Request) -> tuple[Places, Known | None]:
        """The app's trainees, and the one signed in with this browser."""

        def found() -> tuple[Places, Known | None]:
            places = self.places(request.app)
            return places, places.trainees.trainee(cookies.given(request))

        return await self._arrivals.run(found)

    async def _begin(
        self,
        request: Request,
        places: Places,
        trainee: Known | None,
        name: str = "",
        error: WrongCode | None = None,
    ) -> Response:
        running = sessions_of(request)
        listed = trainee is None and not running.settings.is_open
        today, elsewhere = None, {}
        found: dict[str, Any] = {}
        fresh: dict[str, tuple[str, Sequence[New]]] = {}
        if trainee is not None:
            today = await self._arrivals.run(places.today, trainee.name)
            elsewhere = await self._arrivals.run(places.due_elsewhere, trainee.name, today.field)
            new = await self._arrivals.run(places.news_of, trainee.name, today.field)
            chosen, zone = f"{today.field}{OF}{today.procedure}", running.settings.zone
            found = await self._arrivals.run(measured, places, trainee.name, chosen, today.field, zone)
            called = places.dentists(today.field)
            fresh = {dentist: (called.get(dentist, dentist), some) for dentist, some in new.items()}
        return page(
            request,
            "practice.html",
            error.status if error else 200,
            trainee=None if trainee is None else trainee.name,
            name=name,
            problem=str(error or ""),
            trainees=await self._arrivals.run(places.store.trainees) if listed else (),
            drills=DRILL_NAMES,
            lengths=MINUTES,
            today=today,
            elsewhere=[(pack, elsewhere[pack.id]) for pack in places.packs if pack.id in elsewhere],
            proposed=f"{today.field}{OF}{today.procedure}" if today else "",
            tray=None if today is None else await self._arrivals.run(unconfirmed, places, today),
            fresh=fresh,
            **found,
            unlocked=self._options.lead_code is None and not running.settings.is_open,
        )

    # --- the drill ------------------------------------------------------------------------------------

    async def drill(self, request: Request) -> Response:
        """The drill page."""
        places, place = await self._place(request)
        running, language = sessions_of(request), place.pack.language

        def drawn() -> Response:
            return page(
                request,
                "practice_drill.html",
                place=place,
                lang=language if language in BY_LANGUAGE else "en",
                words=asdict(wordings(language)),
                heard=language in HEARD_LANGUAGES,
                spoken=running.settings.spoken,
                symbols=self._symbols(place.pack) + SKETCH_SYMBOLS,
                trays=[(tray, groups(tray)) for tray in place.pack.trays],
                voice=replies.voice_name(language) if running.settings.spoken else None,
                story_voice=running.settings.spoken and can_speak(language),
            )

        answer = await self._arrivals.run(drawn)
        cookies.give(answer, places.trainees, place.ticket, request)
        return answer

    def _symbols(self, pack: Pack) -> Markup:
        """Every drawing of a vocabulary, made once until it changes: that is most of a drill page's work."""
        known = self._drawn.get(pack.id)
        if known is None or known[0] is not pack:
            known = self._drawn[pack.id] = pack, nameless_symbols(pack)
        return known[1]

    async def now(self, request: Request) -> Response:
        """The open question, or the summary; "?choose=yes" for names to choose from."""
        choose = request.query_params.get("choose") == "yes"

        async def shown(place: Place) -> dict[str, Any]:
            return await self._workers.run(place.now, choose)

        return await self._told(request, shown)

    async def answer(self, request: Request) -> Response:
        """Take a typed or touched answer."""

        async def taken(place: Place) -> dict[str, Any]:
            given = parsed(GIVEN, await body(request, LARGEST_BODY), LARGEST_BODY)
            return await self._workers.run(
                place.answer, given.number, given.token, given.kind, given.value, given.response_s
            )

        return await self._told(request, taken)

    async def stop(self, request: Request) -> Response:
        """End a session early; its summary follows."""

        async def ended(place: Place) -> dict[str, Any]:
            await self._workers.run(place.stop)
            return await self._workers.run(place.now)

        return await self._told(request, ended)

    async def object_to(self, request: Request) -> Response:
        """Mark a wrong answer as one that the trainee holds to be right."""

        async def marked(place: Place) -> dict[str, Any]:
            sent = parsed(OBJECTED, await body(request, LARGEST_BODY), LARGEST_BODY)
            await self._workers.run(place.object_to, sent.token)
            return {"type": "objected"}

        return await self._told(request, marked)

    async def _told(self, request: Request, act: Callable[[Place], Awaitable[dict[str, Any]]]) -> Response:
        """Tell the drill page about its own place, or what is in the way; the cookie's time starts again."""
        try:
            places, place = await self._place(request)
            answer = JSONResponse(await act(place))
        except TraycallError as error:
            status = 404 if isinstance(error, NoPlace) else 403 if isinstance(error, NotYours) else 400
            return JSONResponse({"type": "problem", "text": str(error)}, status)
        cookies.give(answer, places.trainees, place.ticket, request)
        return answer

    async def say(self, request: Request) -> Response:
        """The question, spoken; a request in any voice, with more chair noise the better it is known; of a
        story the line "?line=" with the silence after it."""
        _, place = await self._place(request)
        number = whole_number(request.query_params.get("n", ""))
        asked = None if number is None else await self._voices.run(place.spoken, number)
        settings = sessions_of(request).settings
        if number is None or asked is None or not settings.spoken:
            return Response(status_code=204)
        question, card, story = asked
        seed, language, folder = [number, *place.id.encode()], place.pack.language, settings.data / "spoken"
        if story is not None:
            line = whole_number(request.query_params.get("line", ""), 2)
            sound = await self._voices.run(_told, story, -1 if line is None else line, language, seed, folder)
        else:
            request_drill = question.topic.drill in (Drill.SLOT, Drill.APART)
            level = noise_level_db(card) if request_drill else None
            many = request_drill and language == "en"  # only English has many voices
            rng = np.random.default_rng(seed)
            sound = await self._voices.run(
                _said, question.spoken, language, rng, folder if many else None, level
            )
        return Response(status_code=204) if sound is None else Response(sound, media_type="audio/wav")

    async def live(self, socket: WebSocket) -> None:
        """The WebSocket of spoken answers."""

        def found() -> tuple[Place, Places]:
            places = self.places(socket.app)
            place = places.place(str(socket.path_params["place"]))
            places.trainees.must_be(cookies.given(socket), place.ticket, place.trainee)
            return place, places

        await self.lines.live(socket, found, self._workers)

    async def _place(self, request: Request) -> tuple[Places, Place]:
        """The requested place, if it belongs to the trainee of this browser."""
        places = await self._workers.run(self.places, request.app)
        place = places.place(request.path_params["place"])
        places.trainees.must_be(cookies.given(request), place.ticket, place.trainee)
        return places, place


def unconfirmed(places: Places, today: Today) -> tuple[Tray, bool] | None:
    """The tray of today's procedure, and whether its places wait, if the clinic has not confirmed it."""
    matter = places.matter(today.field)
    if not today.procedure:
        return None
    tray = matter.pack.tray(matter.pack.procedure(today.procedure).tray)
    if tray.id in matter.trays.confirmed:
        return None
    return tray, tray.id in matter.trays.waiting


def _said(
    text: str, language: str, rng: np.random.Generator, folder: Path | None, level_db: float | None
) -> bytes | None:
    samples: Samples | None = None
    if folder is not None:
        try:
            samples = any_voice(text, rng, folder)
        except (TraycallError, ImportError, OSError):
            samples = None  # the plain voice will do
    if samples is None:
        samples = plainly(text, language)
    if samples is None:
        return None
    return as_wav(in_chair_noise(samples, level_db, rng))


def _told(story: Story, line: int, language: str, seed: Sequence[int], folder: Path) -> bytes | None:
    samples = story_line(story, line, language, seed, folder)
    return None if samples is None else as_wav(samples)


def links() -> Sequence[Link]:
    """The menu entry."""
    return (Link("Practice", "/practice"),)


def routes(options: PracticeOptions | None = None) -> Sequence[BaseRoute]:
    """The routes to mount: `create_app(..., more_routes=practice.routes(), more_links=practice.links())`."""
    options = options or PracticeOptions()
    pages = PracticePages(options)
    faculty = FacultyPages(options, pages.places, DRILL_NAMES)
    return (
        Route("/practice", pages.start, methods=["GET", "POST"]),
        Route("/practice/enter", pages.enter, methods=["POST"]),
        Route("/practice/leave", pages.leave, methods=["POST"]),
        Route("/practice/progress", pages.progress),
        Route("/practice/mine.{form:str}", pages.mine),
        *faculty.routes(),
        *RehearsalPages(pages.places, pages.lines, options.seed).routes(),
        Route("/practice/{place}", pages.drill),
        Route("/practice/{place}/now", pages.now),
        Route("/practice/{place}/answer", pages.answer, methods=["POST"]),
        Route("/practice/{place}/object", pages.object_to, methods=["POST"]),
        Route("/practice/{place}/stop", pages.stop, methods=["POST"]),
        Route("/practice/{place}/say", pages.say),
        WebSocketRoute("/practice/{place}/live", pages.live),
    )
