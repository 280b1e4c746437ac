"""Pages before and after a patient: the pick list, the turn-over, what to restock.

They answer HTTP requests with pages and a CSV. Nothing here changes a session; what is ticked on them stays
in the browser, and where things are kept is saved by the pages of the editor.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from listen.chair import Chair
from listen.chairside.count import LOCAL_RULES
from listen.chairside.log import LoggedSession
from listen.chairside.pick_list import marks, pick_list, piece_text, places_known
from listen.chairside.restocking import ESTIMATE, Restocking, restocked_after, restocking_csv, together
from listen.chairside.tray_state import fold
from listen.chairside.turn_over import SOURCE, afterwards, afterwards_in_general
from listen.live.dentists import DentistChairs
from listen.live.sessions import NoSession, Sessions
from listen.web.desk import NotHere
from listen.web.pages import VOCABULARY, field_of, fields_of, local_time, page, sessions_of
from vocab.errors import Declined
from vocab.layers.draft import ClinicSettings
from vocab.pack.schema import Pack, Procedure, Tray


async def pick_chosen(request: Request) -> Response:
    """The pick list of what is chosen on the start page."""
    field, _, wanted = request.query_params.get("procedure", "").rpartition("/")
    tray_field, _, tray = request.query_params.get("tray", "").rpartition("/")
    for chairs in fields_of(request):
        pack = chairs.own.pack
        if pack.id == (tray_field or field):
            for procedure in pack.procedures:
                if procedure.tray == tray if tray else procedure.id == wanted:
                    more = {} if chairs is field_of(request) else {VOCABULARY: pack.id}
                    return RedirectResponse(
                        _pick_at(procedure) + (f"?{urlencode(more)}" if more else ""), 303
                    )
    return RedirectResponse(f"/trays/{tray}" if tray.isidentifier() else "/trays", 303)


def _pick_at(procedure: Procedure) -> str:
    return f"/procedures/{procedure.id}/pick"


async def pick(request: Request) -> Response:
    """What to take before a patient, for a procedure."""
    chairs, known = _procedure(request)
    chair = chairs.own
    return await _pick_page(request, chairs, chair.pack, chair.clinic, chair.pack.tray(known.tray), known)


async def pick_for_session(request: Request) -> Response:
    """The same for a session, with the tray and the changes that hold there."""
    running = sessions_of(request)
    known, chair = await asyncio.to_thread(_session, running, request)
    if chair.tray is None:
        raise Declined("this session has no tray yet: choose a procedure or a tray when it begins.")
    chairs = running.field(chair.pack.id)
    return await _pick_page(request, chairs, chair.pack, chair.clinic, chair.tray, chair.procedure, known.id)


async def _pick_page(
    request: Request,
    chairs: DentistChairs,
    pack: Pack,
    clinic: ClinicSettings,
    tray: Tray,
    procedure: Procedure | None,
    session: int | None = None,
) -> Response:
    return page(
        request,
        "pick.html",
        pack=pack,
        tray=tray,
        procedure=procedure,
        title=procedure.name if procedure else tray.name,
        session=session,
        groups=pick_list(tray, pack, clinic),
        places=places_known(clinic),
        piece_text=piece_text,
        marks=marks,
        local_rules=LOCAL_RULES,
        saved=await asyncio.to_thread(chairs.saved, request.query_params.get("saved", "")),
        may_edit=True,
        back=request.url.path,
    )


async def turn_over(request: Request) -> Response:
    """What goes where after a patient, for a procedure."""
    chairs, known = _procedure(request)
    pack = chairs.own.pack
    tray = pack.tray(known.tray)
    return _turn_over_page(
        request, pack=pack, stages=afterwards_in_general(tray, pack), title=known.name, procedure=known
    )


async def turn_over_after_session(request: Request) -> Response:
    """The same after a session, with what came to the chair and without what stayed shut."""
    running = sessions_of(request)

    def made() -> dict[str, Any]:
        known, chair = _session(running, request)
        state = fold(running.log.events(known.id), chair.tray, chair.pack)
        return {
            "pack": chair.pack,
            "stages": afterwards(state, chair.pack, chair.tray),
            "title": _called(chair),
            "session": known,
        }

    return _turn_over_page(request, **await asyncio.to_thread(made))


def _turn_over_page(request: Request, **values: Any) -> Response:
    shown = {"session": None, "procedure": None, "source": SOURCE, "local_rules": LOCAL_RULES, **values}
    return page(request, "turn_over.html", **shown)


@dataclass(frozen=True)
class _Held:
    """A session that is counted in a restocking list: its number, what it was, when it began."""

    id: int
    what: str
    opened: str


async def restock(request: Request) -> Response:
    """What one session used up."""
    held, found = await _of_session(request)
    return _restock_page(request, found, held=(held,), session=held)


async def restock_csv(request: Request) -> Response:
    """The same for a spreadsheet."""
    held, found = await _of_session(request)
    return _csv(found, f"restock-session-{held.id}")


async def _of_session(request: Request) -> tuple[_Held, Restocking]:
    running = sessions_of(request)

    def made() -> tuple[_Held, Restocking]:
        known, chair = _session(running, request)
        return _held(running, known, chair), restocked_after(running.log.events(known.id), chair)

    return await asyncio.to_thread(made)


async def restock_day(request: Request) -> Response:
    """What all sessions of a day used up; today where no day is given."""
    day, today, held, found = await _of_day(request)
    step = timedelta(days=1)
    return _restock_page(
        request,
        found,
        held=held,
        day=day,
        before=(day - step).isoformat(),
        after=(day + step).isoformat() if day < today else "",
        today=day == today,
    )


async def restock_day_csv(request: Request) -> Response:
    """The same for a spreadsheet."""
    day, _, _, found = await _of_day(request)
    return _csv(found, f"restock-{day.isoformat()}")


async def _of_day(request: Request) -> tuple[date, date, Sequence[_Held], Restocking]:
    """The day, today, the day's sessions and what they used up together."""
    running = sessions_of(request)
    zone = running.settings.zone
    today = datetime.fromtimestamp(running.settings.clock(), zone).date()
    day = _day(request.query_params.get("day"), today)

    def made() -> tuple[Sequence[_Held], Restocking]:
        held, lists = [], []
        for known in running.log.sessions():
            if datetime.fromtimestamp(known.opened_s, zone).date() == day:
                with suppress(NoSession):  # held with another vocabulary
                    chair = running.chair_of(known)
                    lists.append(restocked_after(running.log.events(known.id), chair))
                    held.append(_held(running, known, chair))
        return held, together(lists)

    return (day, today, *await asyncio.to_thread(made))


def _restock_page(request: Request, found: Restocking, **values: Any) -> Response:
    shown = {"session": None, "day": None, "found": found, "estimate": ESTIMATE, **values}
    return page(request, "restock.html", **shown)


def _csv(found: Restocking, name: str) -> Response:
    headers = {"content-disposition": f'attachment; filename="{name}.csv"'}
    return Response(restocking_csv(found), media_type="text/csv", headers=headers)


def _day(given: str | None, today: date) -> date:
    """The day of an address.

    Raises:
        Declined: it is not one.
    """
    try:
        day = today if given is None else date.fromisoformat(given)
    except ValueError:
        raise Declined("that is not a day: write it as 2026-05-31.") from None
    if not date(2000, 1, 1) <= day <= date(2999, 12, 30):
        raise Declined("no session was held on such a day.")
    return day


def _session(running: Sessions, request: Request) -> tuple[LoggedSession, Chair]:
    known = running.session(int(request.path_params["session"]))
    return known, running.chair_of(known)


def _held(running: Sessions, known: LoggedSession, chair: Chair) -> _Held:
    return _Held(known.id, _called(chair), local_time(running, known.opened_s))


def _called(chair: Chair) -> str:
    """What was done with a chair, for a heading."""
    if chair.procedure is not None:
        return chair.procedure.name
    return chair.tray.name if chair.tray else chair.pack.name


def _procedure(request: Request) -> tuple[DentistChairs, Procedure]:
    """The procedure of an address, from the page's vocabulary if that has it, else from another."""
    wanted = request.path_params["procedure"]
    for chairs in fields_of(request):
        for known in chairs.own.pack.procedures:
            if known.id == wanted:
                return chairs, known
    raise NotHere("there is no such procedure; the trays name theirs.")


def routes() -> Sequence[BaseRoute]:
    """The routes to mount."""
    return (
        Route("/pick", pick_chosen),
        Route("/procedures/{procedure}/pick", pick),
        Route("/procedures/{procedure}/turn-over", turn_over),
        Route("/chair/{session:int}/pick", pick_for_session),
        Route("/sessions/{session:int}/turn-over", turn_over_after_session),
        Route("/sessions/{session:int}/restock", restock),
        Route("/sessions/{session:int}/restock.csv", restock_csv),
        Route("/sessions/restock", restock_day),
        Route("/sessions/restock.csv", restock_day_csv),
    )
