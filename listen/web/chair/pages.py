"""Routes of the chair screen: its page, its live connection, its voice, and starting and ending a session.

They answer HTTP requests with pages and a WAV file. What happens at the chair comes over the live connection
(`listen.web.chair.connection`).
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from pydantic import ValidationError
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute

from listen.chairside.closing import ClosingError, NotCounted, Override, open_lines
from listen.chairside.count import (
    LOCAL_RULES,
    SETUP_CHECKS,
    count_list,
    last_counts,
    one_by_one,
)
from listen.chairside.events import LONGEST_BY, LONGEST_REASON, CountedAs, Source
from listen.chairside.handing import ChairSettings
from listen.chairside.session import LATEX_FREE, ChairSession
from listen.chairside.setup import SetUp, all_in_order, set_up_of
from listen.chairside.tray_state import listed
from listen.chairside.view import place_name, session_view
from listen.chairside.whereabouts import CORRECTIONS
from listen.live.sessions import Sessions
from listen.live.spoken_switch import Switch
from listen.speech import replies
from listen.web.access.guard import may_open_own_microphone
from listen.web.chair.connection import live
from listen.web.pages import LAST_DENTIST, page, remember, sessions_of, symbols
from vocab.errors import Declined, TraycallError
from vocab.language.numerals import whole_number
from vocab.pack.schema import Kit, KitPlace, Slot, Tray

DECISION = {"by": LONGEST_BY, "reason": LONGEST_REASON}
"""Fields to fill in to end a session with something missing, with their most characters; see `Override`."""
EVERYTHING = "all"
"""In a form of the set-up check: all questions that are open."""
NOBODY: Mapping[str, str] = dict.fromkeys(DECISION, "")


@dataclass(frozen=True)
class Group:
    """Slots drawn side by side under one heading: a row of the tray, a kit, or (`beside`) the places at the
    chair."""

    name: str
    slots: tuple[Slot, ...]
    kit: Kit | None = None
    beside: bool = False

    def short(self, slot: Slot) -> str:
        """The address without what the heading already says; "box" for a kit's own box."""
        if self.kit is None:
            return slot.at
        return "box" if slot.at == self.kit.address else slot.at.removeprefix(f"{self.kit.address} ")

    @property
    def columns(self) -> int:
        """How many slots stand side by side where the kit is open: all of a few, half of many."""
        return len(self.slots) if len(self.slots) <= MOST_IN_LINE else (len(self.slots) + 1) // 2


MOST_IN_LINE = 8


def groups(tray: Tray) -> tuple[Group, ...]:
    """The tray row by row, then its kits, then the places at the chair."""
    rows = [Group(row.name, row.slots) for row in tray.rows]
    kits = [Group(kit.name, kit.on_tray, kit) for kit in tray.opened]
    beside = [Group("at the chair", tray.chair_side, beside=True)] if tray.chair_side else []
    return (*rows, *kits, *beside)


@dataclass(frozen=True)
class Drawn:
    """The groups of a tray by where they are drawn: its rows, kits at the chair and on the counter, and the
    places at the chair."""

    rows: tuple[Group, ...]
    kits: tuple[Group, ...]
    counter: tuple[Group, ...]
    beside: tuple[Group, ...]

    @classmethod
    def of(cls, tray: Tray) -> Drawn:
        """The groups of this tray."""
        every = groups(tray)
        kits = {
            place: tuple(g for g in every if g.kit is not None and g.kit.place is place) for place in KitPlace
        }
        return cls(
            rows=tuple(g for g in every if g.kit is None and not g.beside),
            kits=kits[KitPlace.CHAIR],
            counter=kits[KitPlace.COUNTER],
            beside=tuple(g for g in every if g.beside),
        )


def _chair_session(request: Request) -> ChairSession:
    return sessions_of(request).chair_session(int(request.path_params["session"]))


async def chair(request: Request) -> Response:
    """The chair screen."""
    chair_session = await asyncio.to_thread(_chair_session, request)
    running = sessions_of(request)
    tray = chair_session.chair.tray
    return page(
        request,
        "chair.html",
        pack=chair_session.chair.pack,
        setup=set_up_of(chair_session),
        chair_session=chair_session,
        title=_title(chair_session, running),
        drawn=None if tray is None else Drawn.of(tray),
        corrections=CORRECTIONS,
        symbols=symbols(chair_session.chair.pack, _drawn_on(tray)),
        places=0 if tray is None else len(tray.slots),
        injury_card=chair_session.injury_card,
        first=await asyncio.to_thread(session_view, chair_session),
        switch=Switch,
        spoken=running.settings.spoken,
        voice=await asyncio.to_thread(replies.voice_name) if running.settings.spoken else None,
        own_microphone=may_open_own_microphone(request, request.app.state.codes),
    )


def _drawn_on(tray: Tray | None) -> frozenset[str]:
    """The items whose drawings a page of this tray shows at once."""
    if tray is None:
        return frozenset()
    return frozenset((*(slot.item for slot in tray.slots), *(kit.drawn_as for kit in tray.opened)))


def _title(chair_session: ChairSession, running: Sessions) -> str:
    """What is being done, and for whom."""
    chair = chair_session.chair
    what = chair.procedure.name if chair.procedure else chair.tray.name if chair.tray else chair.pack.name
    who = running.dentists.get(chair_session.session.dentist or "")
    return f"{what}, for {who}" if who else what


async def start(request: Request) -> Response:
    """Begin a session and go to its screen."""
    form = await request.form(max_files=0, max_fields=6)
    running = sessions_of(request)
    field, procedure = _in_field(form.get("procedure"))
    tray_field, tray = _in_field(form.get("tray"))
    if tray_field and field and tray_field != field:
        raise Declined("the tray and the procedure belong to different fields: choose the tray again.")
    dentist = str(form.get("dentist") or "") or None
    if dentist is not None and dentist not in running.dentists:
        raise Declined("no such dentist is listed; add the dentist under “Setting up the clinic”.")
    chair_session = await asyncio.to_thread(running.open, procedure, tray, dentist, field or tray_field)
    if form.get("latex_free") == "yes":
        await asyncio.to_thread(chair_session.mark_latex_free, True)
    setup = "/setup" if form.get("then") == "setup" else ""
    answer = RedirectResponse(f"/chair/{chair_session.session.id}{setup}", 303)
    remember(answer, LAST_DENTIST, quote(dentist or "", safe=""), request)
    return answer


def _in_field(given: object) -> tuple[str | None, str | None]:
    """The vocabulary and the id in "oral_surgery/biopsy"; either may be left out."""
    field, _, name = str(given or "").rpartition("/")
    return field or None, name or None


async def end(request: Request) -> Response:
    """End a session and go to its report, or to the count where something in it is still open.

    A form with a name and a reason ends the session anyway.
    """
    chair_session = await asyncio.to_thread(_chair_session, request)
    form = await request.form(max_files=0, max_fields=len(DECISION))
    decision = {field: str(form.get(field) or "").strip() for field in DECISION}
    try:
        override = Override(**decision) if form else None
        await asyncio.to_thread(chair_session.close, Source.TOUCH, override)
    except NotCounted:
        return RedirectResponse(_count_at(chair_session, "#end" if chair_session.state.counted else ""), 303)
    except ClosingError as error:
        typed = {field: text[: DECISION[field]] for field, text in decision.items()}
        return await _count_page(request, chair_session, 400, str(error), typed)
    sessions_of(request).tell(chair_session.session.id)
    return RedirectResponse(f"/sessions/{chair_session.session.id}", 303)


async def say(request: Request) -> Response:
    """The last answer, spoken: the item and its place, nothing else."""
    chair_session = await asyncio.to_thread(_chair_session, request)
    view = (await asyncio.to_thread(session_view, chair_session))["stage"]
    words = ". ".join(
        said for answer in view["answers"] for said in (answer["said"], answer["warning"]) if said
    )
    if view["kind"] == "check":
        choices = (" ".join(filter(None, (one["name"], one["size"]))) for one in view["choices"])
        words = "Check. " + ", or ".join(choices)
    if not words or not sessions_of(request).settings.spoken:
        return Response(status_code=204)
    sound = await asyncio.to_thread(replies.speech, words)
    return Response(status_code=204) if sound is None else Response(sound, media_type="audio/wav")


async def setup(request: Request) -> Response:
    """The set-up check and the chair's settings; a form answers one question, or all that are open, or
    keeps the settings. The page's script asks for JSON: how the set-up stands, or what the problem is."""
    chair_session = await asyncio.to_thread(_chair_session, request)
    running = sessions_of(request)
    if request.method == "POST":
        form = await request.form(max_files=0, max_fields=100)
        scripted = request.headers.get("accept") == "application/json"
        try:
            await asyncio.to_thread(_answer, running, chair_session, form)
        except TraycallError as error:
            if not scripted:
                raise
            return JSONResponse({"problem": str(error)}, 400)
        running.tell(chair_session.session.id)
        if scripted:
            return JSONResponse(_stands(set_up_of(chair_session)))
        return RedirectResponse(f"/chair/{chair_session.session.id}/setup", 303)
    return page(
        request,
        "setup.html",
        chair_session=chair_session,
        title=_title(chair_session, running),
        checks=SETUP_CHECKS,
        setup=set_up_of(chair_session),
        latex_free=LATEX_FREE,
        dentist=running.dentists.get(chair_session.session.dentist or ""),
    )


def _answer(running: Sessions, chair_session: ChairSession, form: FormData) -> None:
    """Do what one form of the set-up page asks for."""
    asked, good = form.get("check"), form.get("good") == "yes"
    if asked == LATEX_FREE:
        chair_session.mark_latex_free(good)
    elif asked == EVERYTHING:
        all_in_order(chair_session)
    elif asked is not None:
        chair_session.check_setup(str(asked), good)
    else:
        running.set_up(chair_session, _chair_settings(form, chair_session))


def _stands(setup: SetUp) -> dict[str, object]:
    return {
        "answers": dict(setup.answers),
        "open": len(setup.open),
        "questions_open": setup.questions_open,
        "problems": len(setup.problems),
        "in_words": setup.in_words,
    }


def _chair_settings(form: FormData, chair_session: ChairSession) -> ChairSettings:
    """The settings as the form has them.

    Raises:
        Declined: a value makes no sense; the text says what to correct.
    """
    values = {key: str(value) for key, value in form.items()}
    times: dict[str, float] = {}
    for name in chair_session.times_asked:
        given = values.get(f"time:{name}", "").strip()
        if given:
            try:
                times[name] = float(given)
            except ValueError:
                raise Declined(f"{name}: {given!r} is not a number of seconds.") from None
    try:
        return ChairSettings.model_validate(
            {
                "operator_handed": values.get("handed", "right"),
                "arch": values.get("arch") or None,
                "operator_clock": whole_number(values.get("clock", "")),
                "maker_times": times,
                "faculty": values.get("faculty", "yes") == "yes",
            }
        )
    except ValidationError as error:
        first = error.errors()[0]
        raise Declined(f"{' '.join(str(p) for p in first['loc'])}: {first['msg']}.") from None


async def count(request: Request) -> Response:
    """The count at the end, by exception; each button of the page records something.

    With `?part`, as the page's script asks for it, only what changes comes back.
    """
    chair_session = await asyncio.to_thread(_chair_session, request)
    part = "part" in request.query_params
    if request.method == "POST":
        form = await request.form(max_files=0, max_fields=1)
        (button, value) = next(((key, str(value)) for key, value in form.items()), ("", ""))
        await asyncio.to_thread(_counted, chair_session, button, value)
        sessions_of(request).tell(chair_session.session.id)
        if not part:
            return RedirectResponse(_count_at(chair_session, _line_of(button, value)), 303)
    return await _count_page(request, chair_session, template="count_part.html" if part else "count.html")


def _count_at(chair_session: ChairSession, place: str) -> str:
    return f"/chair/{chair_session.session.id}/count{place}"


def _line_of(button: str, value: str) -> str:
    """Where on the page a button that was pressed stands, as the end of its address."""
    ids = {"pieces": "line-", "less": "line-", "more": "line-", "here": "", "unopened": ""}
    place = value.split(" ")[0]
    return f"#{ids[button]}{place}" if button in ids and place.isidentifier() else ""


def _counted(chair_session: ChairSession, button: str, value: str) -> None:
    """Record what a button of the count stands for.

    Raises:
        Declined, CountError: there is no such button, line or place; the text says what to do.
    """
    match button:
        case "pieces":
            item, _, number = value.partition(" ")
            pieces = whole_number(number, 4)
            if pieces is None:
                raise Declined("count again: the number of pieces must be a whole number.")
            chair_session.count(item, pieces)
        case "less":
            chair_session.count_one_more(value, -1)
        case "more":
            chair_session.count_one_more(value, 1)
        case "here":
            chair_session.count_together(value, CountedAs.ALL_HERE)
        case "unopened":
            sealed = [one for one in chair_session.places if not one.opened]
            for place in [one for one in sealed if value == one.id or not (value or one.apart)]:
                chair_session.count_together(place.id, CountedAs.NOT_OPENED)
        case "said":
            chair_session.count_as_said()
        case "back":
            chair_session.uncount()
        case _:
            raise Declined("nothing was counted; load the page again.")


async def _count_page(
    request: Request,
    chair_session: ChairSession,
    status: int = 200,
    problem: str = "",
    decision: Mapping[str, str] = NOBODY,
    template: str = "count.html",
) -> Response:
    """The count and how it stands; `problem` is what is wrong with the decision to end the session anyway."""
    pack, tray, state = chair_session.chair.pack, chair_session.chair.tray, chair_session.state
    lines = count_list(state, pack)
    said = chair_session.said
    drawn = {line.item for line in lines} | {kit.drawn_as for kit in (tray.opened if tray else ())}
    return page(
        request,
        template,
        status,
        chair_session=chair_session,
        title=_title(chair_session, sessions_of(request)),
        symbols=symbols(pack, drawn) if template == "count.html" else "",
        lines=lines,
        places=chair_session.places,
        single=one_by_one(state, pack, tray),
        where={} if tray is None else {line.item: place_name(tray.slot_of(line.item)) for line in lines},
        said=said,
        said_together=[line for line in lines if line.item in said and not line.alone],
        said_short=[line for line in lines if line.item in said and said[line.item] != line.expected],
        back=bool(last_counts(state)),
        own_microphone=may_open_own_microphone(request, request.app.state.codes),
        unfinished=open_lines(state, pack),
        in_mouth=listed(state.in_mouth, pack),
        problem=problem,
        decision=decision,
        longest=DECISION,
        local_rules=LOCAL_RULES,
    )


def routes() -> Sequence[BaseRoute]:
    """The routes to mount."""
    return (
        Route("/start", start, methods=["POST"]),
        Route("/chair/{session:int}", chair),
        Route("/chair/{session:int}/say", say),
        Route("/chair/{session:int}/setup", setup, methods=["GET", "POST"]),
        Route("/chair/{session:int}/count", count, methods=["GET", "POST"]),
        Route("/chair/{session:int}/end", end, methods=["POST"]),
        WebSocketRoute("/chair/{session:int}/live", live),
    )
