"""Routes of the chair screen: its page, its live connection, its voice, and starting and ending a session.

Comes in: HTTP requests. Goes out: pages and a WAV file. What happens at the chair comes over the live
connection (`listen.web.chair.connection`).
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
from listen.chairside.view import room_view
from listen.live.sessions import Sessions
from listen.speech import replies
from listen.web.access.guard import may_open_own_microphone
from listen.web.chair.connection import live
from listen.web.pages import house_of, page, symbols
from vocab.errors import Declined
from vocab.language.numerals import whole_number
from vocab.pack.schema import Slot, Tray

DECISION = {"by": LONGEST_BY, "reason": LONGEST_REASON}
"""What a person types who ends a session with something missing, with the most characters; see `Override`."""
NOBODY: Mapping[str, str] = dict.fromkeys(DECISION, "")
FURTHER_APART = 3
"""Places beside the chair that share the first word of their address, from so many on, stand together."""


@dataclass(frozen=True)
class Group:
    """Slots drawn side by side under one heading; `beside` for those not on the tray."""

    name: str
    slots: tuple[Slot, ...]
    beside: bool = False

    def short(self, slot: Slot) -> str:
        """The address without what the heading says already."""
        return slot.at.removeprefix(f"{self.name} ") if self.beside else slot.at


def groups(tray: Tray) -> tuple[Group, ...]:
    """The tray row by row, then the places beside the chair by the first word of their address."""
    rows = [Group(row.name, row.slots) for row in tray.rows]
    by_word: dict[str, list[Slot]] = {}
    for slot in tray.chair_side:
        by_word.setdefault(slot.at.split()[0], []).append(slot)
    many = {word: slots for word, slots in by_word.items() if len(slots) >= FURTHER_APART}
    single = tuple(slot for slot in tray.chair_side if slot.at.split()[0] not in many)
    beside = [Group("beside the chair", single, True)] if single else []
    beside += [Group(word, tuple(slots), True) for word, slots in many.items()]
    return (*rows, *beside)


def _room(request: Request) -> ChairSession:
    return house_of(request).room(int(request.path_params["session"]))


async def chair(request: Request) -> Response:
    """The chair screen."""
    room = await asyncio.to_thread(_room, request)
    house = house_of(request)
    tray = room.chair.tray
    return page(
        request,
        "chair.html",
        room=room,
        title=_title(room, house),
        groups=() if tray is None else groups(tray),
        symbols=symbols(room.chair.pack),
        places=0 if tray is None else len(tray.slots),
        injury_card=room.injury_card,
        first=await asyncio.to_thread(room_view, room),
        voice=replies.voice_name() if house.settings.spoken else None,
        own_microphone=may_open_own_microphone(request, request.app.state.codes),
    )


def _title(room: ChairSession, house: Sessions) -> str:
    """What is done, and for whom."""
    chair = room.chair
    what = chair.procedure.name if chair.procedure else chair.tray.name if chair.tray else chair.pack.name
    who = house.chairs.dentists.get(room.session.dentist or "")
    return f"{what}, for {who}" if who else what


async def start(request: Request) -> Response:
    """Begin a session and go to its screen."""
    form = await request.form(max_files=0, max_fields=4)
    house = house_of(request)
    procedure, tray, dentist = (str(form.get(key) or "") or None for key in ("procedure", "tray", "dentist"))
    if dentist is not None and dentist not in house.chairs.dentists:
        raise Declined("no such dentist is listed; add the dentist in the first hour.")
    room = await asyncio.to_thread(house.open, procedure, tray, dentist)
    if form.get("latex_free") == "yes":
        await asyncio.to_thread(room.mark_latex_free, True)
    return RedirectResponse(f"/chair/{room.session.id}", 303)


async def end(request: Request) -> Response:
    """End a session and go to its report; where something is open in the count, go there instead.

    A form with a name and a reason ends it all the same.
    """
    room = await asyncio.to_thread(_room, request)
    form = await request.form(max_files=0, max_fields=len(DECISION))
    decision = {field: str(form.get(field) or "").strip() for field in DECISION}
    try:
        override = Override(**decision) if form else None
        await asyncio.to_thread(room.close, Source.TOUCH, override)
    except NotCounted:
        return RedirectResponse(f"/chair/{room.session.id}/count#end", 303)
    except ClosingError as error:
        typed = {field: text[: DECISION[field]] for field, text in decision.items()}
        return await _count_page(request, room, 400, str(error), typed)
    house_of(request).tell(room.session.id)
    return RedirectResponse(f"/sessions/{room.session.id}", 303)


async def say(request: Request) -> Response:
    """The last answer, spoken: the item and its place, nothing else."""
    room = await asyncio.to_thread(_room, request)
    view = (await asyncio.to_thread(room_view, room))["stage"]
    words = ". ".join(
        said for answer in view["answers"] for said in (answer["said"], answer["warning"]) if said
    )
    if view["kind"] == "check":
        choices = (" ".join(filter(None, (one["name"], one["size"]))) for one in view["choices"])
        words = "Check. " + ", or ".join(choices)
    if not words or not house_of(request).settings.spoken:
        return Response(status_code=204)
    sound = await asyncio.to_thread(replies.speech, words)
    return Response(status_code=204) if sound is None else Response(sound, media_type="audio/wav")


async def setup(request: Request) -> Response:
    """The set-up check and the chair's settings; a form on the page answers one question."""
    room = await asyncio.to_thread(_room, request)
    house = house_of(request)
    if request.method == "POST":
        form = await request.form(max_files=0, max_fields=100)
        good = form.get("good") == "yes"
        if form.get("check") == LATEX_FREE:
            await asyncio.to_thread(room.mark_latex_free, good)
        elif "check" in form:
            await asyncio.to_thread(room.check_setup, str(form["check"]), good)
        else:
            await asyncio.to_thread(house.set_up, room, _chair_settings(form, room))
        house.tell(room.session.id)
        return RedirectResponse(f"/chair/{room.session.id}/setup", 303)
    return page(
        request,
        "setup.html",
        room=room,
        title=_title(room, house),
        checks=SETUP_CHECKS,
        answers=room.state.checks,
        latex_free=LATEX_FREE,
        dentist=house.chairs.dentists.get(room.session.dentist or ""),
        problems=setup_problems(room.state),
        local_rules=LOCAL_RULES,
    )


def _chair_settings(form: object, room: ChairSession) -> ChairSettings:
    """The settings as the form has them.

    Raises:
        Declined: a value that makes no sense, with what to put right.
    """
    values = {str(key): str(value) for key, value in getattr(form, "items", dict)()}
    times: dict[str, float] = {}
    for number, name in enumerate(room.timer_names):
        given = values.get(f"time{number}", "").strip()
        if given:
            try:
                times[name] = float(given)
            except ValueError:
                raise Declined(f"{name}: {given!r} is no number of seconds.") from None
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
    room = await asyncio.to_thread(_room, request)
    house = house_of(request)
    if request.method == "POST":
        form = await request.form(max_files=0, max_fields=2)
        pieces = whole_number(str(form.get("pieces") or ""), 4)
        if pieces is None:
            raise Declined("count again: the number of pieces must be a whole number.")
        await asyncio.to_thread(room.count, str(form.get("item") or ""), pieces)
        house.tell(room.session.id)
        open_still = next_to_count(room.state, room.chair.pack)
        return RedirectResponse(f"/chair/{room.session.id}/count#{'next' if open_still else 'end'}", 303)
    return await _count_page(request, room)


async def _count_page(
    request: Request,
    room: ChairSession,
    status: int = 200,
    problem: str = "",
    decision: Mapping[str, str] = NOBODY,
) -> Response:
    """The count and how it stands; `problem` is what is wrong with the decision to end it all the same."""
    pack = room.chair.pack
    lines = count_list(room.state, pack)
    return page(
        request,
        "count.html",
        status,
        room=room,
        title=_title(room, house_of(request)),
        lines=lines,
        first_open=next((line.item for line in lines if line.counted is None), None),
        text=count_text(room.state, pack),
        unfinished=open_lines(room.state, pack),
        in_mouth=listed(room.state.in_mouth, pack),
        problem=problem,
        decision=decision,
        longest=DECISION,
        afterwards=afterwards(room.state, pack),
    )


def routes() -> Sequence[BaseRoute]:
    """What to mount."""
    return (
        Route("/start", start, methods=["POST"]),
        Route("/chair/{session:int}", chair),
        Route("/chair/{session:int}/say", say),
        Route("/chair/{session:int}/setup", setup, methods=["GET", "POST"]),
        Route("/chair/{session:int}/count", count, methods=["GET", "POST"]),
        Route("/chair/{session:int}/end", end, methods=["POST"]),
        WebSocketRoute("/chair/{session:int}/live", live),
    )
