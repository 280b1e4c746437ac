"""Routes of the chair screen: its page, its live connection, its voice, and starting and ending a session.

They answer HTTP requests with pages and a WAV file. What happens at the chair comes over the live connection
(`listen.web.chair.connection`).
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute

from listen.chairside.closing import ClosingError, NotCounted, Override, open_lines
from listen.chairside.count import (
    LOCAL_RULES,
    SETUP_CHECKS,
    afterwards,
    count_list,
    count_text,
    next_to_count,
    setup_problems,
)
from listen.chairside.events import LONGEST_BY, LONGEST_REASON, Source
from listen.chairside.handing import ChairSettings
from listen.chairside.session import LATEX_FREE, ChairSession
from listen.chairside.tray_state import listed
from listen.chairside.view import session_view
from listen.live.sessions import Sessions
from listen.speech import replies
from listen.web.access.guard import may_open_own_microphone
from listen.web.chair.connection import live
from listen.web.pages import page, sessions_of, symbols
from vocab.errors import Declined
from vocab.language.numerals import whole_number
from vocab.pack.schema import Kit, Slot, Tray

DECISION = {"by": LONGEST_BY, "reason": LONGEST_REASON}
"""Fields to fill in to end a session with something missing, with their most characters; see `Override`."""
NOBODY: Mapping[str, str] = dict.fromkeys(DECISION, "")


@dataclass(frozen=True)
class Group:
    """Slots under one heading: a row of the tray, a kit, or (`beside`) the places at the chair."""

    name: str
    slots: tuple[Slot, ...]
    kit: Kit | None = None
    beside: bool = False

    def short(self, slot: Slot) -> str:
        """The address without what the heading already says."""
        return slot.at.removeprefix(f"{self.kit.address} ") if self.kit else slot.at


def groups(tray: Tray) -> tuple[Group, ...]:
    """The tray row by row, then its kits, then the places at the chair."""
    rows = [Group(row.name, row.slots) for row in tray.rows]
    kits = [Group(kit.name, kit.on_tray, kit) for kit in tray.opened]
    beside = [Group("at the chair", tray.chair_side, beside=True)] if tray.chair_side else []
    return (*rows, *kits, *beside)


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
        chair_session=chair_session,
        title=_title(chair_session, running),
        groups=() if tray is None else groups(tray),
        symbols=symbols(chair_session.chair.pack),
        places=0 if tray is None else len(tray.slots),
        injury_card=chair_session.injury_card,
        first=await asyncio.to_thread(session_view, chair_session),
        voice=replies.voice_name() if running.settings.spoken else None,
        own_microphone=may_open_own_microphone(request, request.app.state.codes),
    )


def _title(chair_session: ChairSession, running: Sessions) -> str:
    """What is being done, and for whom."""
    chair = chair_session.chair
    what = chair.procedure.name if chair.procedure else chair.tray.name if chair.tray else chair.pack.name
    who = running.chairs.dentists.get(chair_session.session.dentist or "")
    return f"{what}, for {who}" if who else what


async def start(request: Request) -> Response:
    """Begin a session and go to its screen."""
    form = await request.form(max_files=0, max_fields=4)
    running = sessions_of(request)
    procedure, tray, dentist = (str(form.get(key) or "") or None for key in ("procedure", "tray", "dentist"))
    if dentist is not None and dentist not in running.chairs.dentists:
        raise Declined("no such dentist is listed; add the dentist in the first hour.")
    chair_session = await asyncio.to_thread(running.open, procedure, tray, dentist)
    if form.get("latex_free") == "yes":
        await asyncio.to_thread(chair_session.mark_latex_free, True)
    return RedirectResponse(f"/chair/{chair_session.session.id}", 303)


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
        return RedirectResponse(f"/chair/{chair_session.session.id}/count#end", 303)
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
    """The set-up check and the chair's settings; a form on the page answers one question."""
    chair_session = await asyncio.to_thread(_chair_session, request)
    running = sessions_of(request)
    if request.method == "POST":
        form = await request.form(max_files=0, max_fields=100)
        good = form.get("good") == "yes"
        if form.get("check") == LATEX_FREE:
            await asyncio.to_thread(chair_session.mark_latex_free, good)
        elif "check" in form:
            await asyncio.to_thread(chair_session.check_setup, str(form["check"]), good)
        else:
            await asyncio.to_thread(running.set_up, chair_session, _chair_settings(form, chair_session))
        running.tell(chair_session.session.id)
        return RedirectResponse(f"/chair/{chair_session.session.id}/setup", 303)
    return page(
        request,
        "setup.html",
        chair_session=chair_session,
        title=_title(chair_session, running),
        checks=SETUP_CHECKS,
        answers=chair_session.state.checks,
        latex_free=LATEX_FREE,
        dentist=running.chairs.dentists.get(chair_session.session.dentist or ""),
        problems=setup_problems(chair_session.state),
        local_rules=LOCAL_RULES,
    )


def _chair_settings(form: object, chair_session: ChairSession) -> ChairSettings:
    """The settings as the form has them.

    Raises:
        Declined: a value makes no sense; the text says what to correct.
    """
    values = {str(key): str(value) for key, value in getattr(form, "items", dict)()}
    times: dict[str, float] = {}
    for number, name in enumerate(chair_session.timer_names):
        given = values.get(f"time{number}", "").strip()
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
    """The count at the end; a form on the page records one line."""
    chair_session = await asyncio.to_thread(_chair_session, request)
    running = sessions_of(request)
    if request.method == "POST":
        form = await request.form(max_files=0, max_fields=2)
        pieces = whole_number(str(form.get("pieces") or ""), 4)
        if pieces is None:
            raise Declined("count again: the number of pieces must be a whole number.")
        await asyncio.to_thread(chair_session.count, str(form.get("item") or ""), pieces)
        running.tell(chair_session.session.id)
        open_still = next_to_count(chair_session.state, chair_session.chair.pack)
        return RedirectResponse(
            f"/chair/{chair_session.session.id}/count#{'next' if open_still else 'end'}", 303
        )
    return await _count_page(request, chair_session)


async def _count_page(
    request: Request,
    chair_session: ChairSession,
    status: int = 200,
    problem: str = "",
    decision: Mapping[str, str] = NOBODY,
) -> Response:
    """The count and how it stands; `problem` is what is wrong with the decision to end the session anyway."""
    pack = chair_session.chair.pack
    lines = count_list(chair_session.state, pack)
    return page(
        request,
        "count.html",
        status,
        chair_session=chair_session,
        title=_title(chair_session, sessions_of(request)),
        lines=lines,
        first_open=next((line.item for line in lines if line.counted is None), None),
        text=count_text(chair_session.state, pack),
        unfinished=open_lines(chair_session.state, pack),
        in_mouth=listed(chair_session.state.in_mouth, pack),
        problem=problem,
        decision=decision,
        longest=DECISION,
        afterwards=afterwards(chair_session.state, pack),
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
