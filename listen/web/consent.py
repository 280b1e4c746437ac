"""The desk page to give or withdraw consent to learning, and to see and undo what was learnt.

It answers HTTP requests with a page and changes the setting of `listen.chairside.learning`, the same one that
`traycall session learn` changes. Everybody may read it; changing it needs the lead's pass code.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from listen.chairside.learning import MOST_TAUGHT, Learning, dentists_known, taught, teaching
from listen.chairside.log import LoggedSession
from listen.live.sessions import Sessions
from listen.live.workers import Workers
from listen.web.access.editors import LeadOnly
from listen.web.app import Link
from listen.web.pages import local_time, page, sessions_of
from vocab.errors import Declined
from vocab.language.numerals import whole_number
from vocab.pack.schema import Pack
from vocab.procedure.habits import sequels

PLACE = "/sessions/learning"
LINK = Link("Consent to learning", PLACE, under="/sessions")
NOBODY = "Sessions without a chosen dentist"
MOST_SEQUELS = 8
"""How many of a procedure's most repeated sequels are shown."""


@dataclass(frozen=True)
class SessionLine:
    """A session that teaches."""

    id: int
    what: str
    opened: str
    requests: int


@dataclass(frozen=True)
class Habit:
    """Something repeated: `then` came after `item` in `sessions` out of `of` sessions."""

    item: str
    then: str
    sessions: int
    of: int


@dataclass(frozen=True)
class DentistCard:
    """What the page says about one dentist. since: when consent was last given or withdrawn; "" for never."""

    id: str
    name: str
    is_on: bool
    since: str
    sessions: tuple[SessionLine, ...]
    habits: tuple[tuple[str, tuple[Habit, ...]], ...]


class ConsentPages:
    """The page and what its forms do.

    Args:
        lead_code: the lead's pass code, None where there is none.
    """

    def __init__(self, lead_code: str | None) -> None:
        self._door = LeadOnly(lead_code, PLACE, "changes to this page")
        self._workers = Workers("consent", 1)

    def routes(self) -> Sequence[BaseRoute]:
        """What to mount."""
        return (
            Route(PLACE, self.show),
            Route(PLACE, self._door.guarded(self.change), methods=["POST"]),
            self._door.route(),
        )

    async def show(self, request: Request) -> Response:
        """Who has consented and what that has taught."""
        running = sessions_of(request)
        learning = await self._workers.run(running.consents.learning)
        return page(
            request,
            "consent.html",
            cards=await self._workers.run(lambda: tuple(_cards(running, learning))),
            left_out=learning.left_out,
            may_change=self._door.is_open(request),
            closed=self._door.closed(request),
            needs_code=self._door.codes(request) is not None,
        )

    async def change(self, request: Request) -> Response:
        """Give or withdraw consent, or leave sessions out."""
        running = sessions_of(request)
        form = await request.form(max_files=0, max_fields=4)
        wish = _WISHES.get(str(form.get("do")))
        if wish is None:
            raise Declined("this page can give consent, withdraw it, and leave sessions out.")

        def done() -> None:
            wish(running, form)
            running.learn_again()

        await self._workers.run(done)
        return RedirectResponse(PLACE, 303)


# --- what the forms do ------------------------------------------------------------------------------


def _give(running: Sessions, form: FormData) -> None:
    if form.get("asked") != "yes":
        raise Declined("ask the dentist first, and tick that the dentist agrees.")
    running.consents.switch(True, running.settings.clock(), _dentist(running, form))


def _withdraw(running: Sessions, form: FormData) -> None:
    running.consents.switch(False, running.settings.clock(), _dentist(running, form))


def _leave_out(running: Sessions, form: FormData) -> None:
    running.consents.leave_out(running.session(whole_number(str(form.get("session"))) or 0).id)


def _leave_all_out(running: Sessions, form: FormData) -> None:
    if form.get("sure") != "yes":
        raise Declined("tick that all of it is to be left out; this cannot be undone.")
    dentist, learning = _dentist(running, form), running.consents.learning()
    own = (s.id for s in teaching(running.log, learning) if (s.dentist or "") == dentist)
    running.consents.leave_out(*own)


_WISHES: dict[str, Callable[[Sessions, FormData], None]] = {
    "give": _give,
    "withdraw": _withdraw,
    "leave_out": _leave_out,
    "leave_all_out": _leave_all_out,
}


def _dentist(running: Sessions, form: FormData) -> str:
    dentist = str(form.get("dentist") or "")
    if dentist not in _dentists(running, running.consents.learning(), running.log.sessions()):
        raise Declined(f"no dentist {dentist!r} is listed; add the dentist under “Setting up the clinic”.")
    return dentist


# --- what the page says -----------------------------------------------------------------------------


def _dentists(running: Sessions, learning: Learning, sessions: Sequence[LoggedSession]) -> dict[str, str]:
    """Names by id: listed dentists, others who consented or held a session, and no specific dentist."""
    return {**dentists_known(running.dentists, learning, sessions), "": NOBODY}


def _cards(running: Sessions, learning: Learning) -> Iterator[DentistCard]:
    known = running.log.sessions()
    counted = teaching(running.log, learning)
    for dentist, name in _dentists(running, learning, known).items():
        consent = learning.of(dentist)
        switched_s = max((*consent.on_s, *consent.off_s), default=None)
        own = [s for s in counted if (s.dentist or "") == dentist][-MOST_TAUGHT:]
        lines, habits = _learnt(running, own)
        yield DentistCard(
            id=dentist,
            name=name,
            is_on=consent.is_on,
            since="" if switched_s is None else local_time(running, switched_s),
            sessions=lines,
            habits=habits,
        )


def _learnt(running: Sessions, own: Sequence[LoggedSession]) -> tuple[tuple[SessionLine, ...], Any]:
    """The sessions, newest first, and what was repeated in them, by name of the procedure."""
    packs = {pack.id: pack for pack in running.packs}
    asked = {s.id: taught(running.log, s) for s in own}
    lines = tuple(
        SessionLine(
            s.id,
            _procedure(packs.get(s.pack), s.procedure or ""),
            local_time(running, s.opened_s),
            len(asked[s.id].items),
        )
        for s in reversed(own)
    )
    habits = []
    for field, procedure in dict.fromkeys((s.pack, s.procedure or "") for s in own):
        items = packs[field].called if field in packs else {}
        of_it = [asked[s.id] for s in own if (s.pack, s.procedure or "") == (field, procedure)]
        named = tuple(
            Habit(items.get(one.item, one.item), items.get(one.then, one.then), one.sessions, one.of)
            for one in sequels(of_it)[:MOST_SEQUELS]
        )
        if named:
            habits.append((_procedure(packs.get(field), procedure), named))
    return lines, tuple(habits)


def _procedure(pack: Pack | None, wanted: str) -> str:
    """A procedure's name; its id where the vocabulary is not here any more."""
    return next((p.name for p in (pack.procedures if pack else ()) if p.id == wanted), wanted)


def routes(lead_code: str | None = None) -> Sequence[BaseRoute]:
    """The routes to mount: `create_app(..., more_routes=consent.routes(), more_links=(consent.LINK,))`."""
    return ConsentPages(lead_code).routes()
