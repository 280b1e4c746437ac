"""Pages for a desk: find an item by any name, items, trays with printable cards, sessions and reports.

They answer HTTP requests with pages, cards and reports. Nothing here changes a session.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote, unquote, urlencode

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from listen.chair import Chair, UnknownName, find_items, find_tray
from listen.chairside.closing import ending_named, ending_text, open_lines
from listen.chairside.handing import handing_text
from listen.chairside.item_filter import ItemFilter, fitting
from listen.chairside.log import LoggedSession
from listen.chairside.report import SessionReport, pictures, sentences, session_report, summary
from listen.chairside.report_pdf import report_pdf
from listen.chairside.session import LATEX_FREE
from listen.chairside.tray_state import fold
from listen.live.dentists import DentistChairs
from listen.live.sessions import NoField, NoSession, Sessions
from listen.web.chair.pages import groups
from listen.web.pages import (
    LAST_DENTIST,
    VOCABULARY,
    field_of,
    fields_of,
    local_time,
    page,
    picture,
    sessions_of,
)
from vocab.drawings import Paper, tray_card, tray_card_pdf, tray_cards_pdf
from vocab.errors import Declined
from vocab.layers import Origin
from vocab.layers.unknown_words import unknown_name
from vocab.pack.labels import name_problem
from vocab.pack.schema import Item, ItemClass, Name, Pack, Tray

NAMED_SESSIONS = 50
"""Of how many of the newest sessions the list names what was missing."""

PAPERS: dict[str, Paper] = {"a4": "A4", "letter": "Letter"}
LONGEST_QUERY = 200
MOST_OPEN = 6
"""Open sessions that the start page offers to continue."""
LONGEST_CALLED = 60
MOST_NEAR = 6
FILTERS = ("name", "kind", "used", "sharp", "dentist")
"""Fields of the list of items."""


class NotHere(Declined):
    """A page that does not exist."""


async def home(request: Request) -> Response:
    """Start or resume a session; find an item."""
    running = sessions_of(request)
    sessions = await asyncio.to_thread(running.log.sessions)
    here = {pack.id for pack in running.packs}
    still_open = [s for s in sessions if s.closed_s is None and s.pack in here]
    offered = running.offered
    first = running.proposed
    own = next((chairs for chairs in offered if chairs.own is first), offered[0])
    proposed = first.procedure if first.procedure in own.procedures else next(iter(own.procedures), None)
    return page(
        request,
        "home.html",
        running=[_line(running, s) for s in reversed(still_open[-MOST_OPEN:])],
        proposed=f"{own.own.pack.id}/{proposed.id if proposed else ''}",
        dentists=running.dentists,
        dentist=unquote(request.cookies.get(LAST_DENTIST, quote(running.chair.options.dentist or ""))),
    )


async def find(request: Request) -> Response:
    """One clear match goes straight to its page; with `called`, to the form that adds that name to it."""
    query = request.query_params.get("q", "").strip()[:LONGEST_QUERY]
    called = _label(request.query_params.get("called", ""))
    if not query:
        return RedirectResponse("/items", 303)
    chosen, *others = fields = fields_of(request)
    for chairs in fields:
        looked = await asyncio.to_thread(_look_up, chairs.own, query)
        if looked.found:
            break
    else:
        chairs, looked = chosen, await asyncio.to_thread(_look_up, chosen.own, query)
    if looked.only is not None and "all" not in request.query_params:
        wanted = {VOCABULARY: chairs.own.pack.id} if chairs in others else {}
        if called or not looked.is_name:
            wanted["called"] = called or _label(looked.name)
        more = f"?{urlencode(wanted)}" if wanted else ""
        if called:
            return RedirectResponse(f"/edit/items/{looked.only.id}/name{more}", 303)
        return RedirectResponse(f"/items/{looked.only.id}{more}", 303)
    return page(
        request,
        "find.html",
        200 if looked.found else 404,
        pack=chairs.own.pack,
        query=query,
        called=called or ("" if looked.is_name else _label(looked.name)),
        asking=bool(called),
        found=looked.found,
        near=looked.near,
    )


@dataclass(frozen=True)
class _LookedUp:
    """What a look-up found: the name in what was typed, whether it is one, and items, of which `near` only
    sound, look or begin like it."""

    name: str
    is_name: bool
    found: tuple[Item, ...] = ()
    near: tuple[Item, ...] = ()

    @property
    def only(self) -> Item | None:
        return self.found[0] if len(self.found) == 1 else None


def _look_up(chair: Chair, text: str) -> _LookedUp:
    pack, lexicon = chair.pack, chair.lexicon
    name = unknown_name(text, lexicon, pack.speech) or text
    is_name = name in pack.by_id or lexicon.is_name(name)
    try:
        return _LookedUp(name, is_name, find_items(pack, lexicon, name))
    except UnknownName:
        begun = [one.item for one in chair.suggester.suggest(name, MOST_NEAR)]
        alike = [candidate.item for candidate in lexicon.find(name)]
        near = tuple(pack.item(one) for one in dict.fromkeys((*begun, *alike)))
        return _LookedUp(name, False, near=near[:MOST_NEAR])


def _label(text: str) -> str:
    """A text that may become a name; "" for any other."""
    plain = " ".join(text.split())
    return "" if name_problem(plain) or len(plain) > LONGEST_CALLED else plain


async def near(request: Request) -> Response:
    """Items for the letters typed so far, as JSON: id, name, the name that fits, kind, drawing as SVG."""
    text = request.query_params.get("q", "")[:LONGEST_QUERY]
    chair = field_of(request).own
    suggested = await asyncio.to_thread(chair.suggester.suggest, text)
    return JSONResponse(
        [
            {
                "id": known.id,
                "name": known.name.text,
                "called": "" if one.name == known.name else one.name.text,
                "kind": known.item_class.value,
                "sharp": known.sharp,
                "drawing": picture(known),
            }
            for one, known in ((one, chair.pack.item(one.item)) for one in suggested)
        ]
    )


async def items(request: Request) -> Response:
    """All items by class; those that do not fit the filters are hidden."""
    chairs, asked = field_of(request), _asked(request)
    pack = chairs.own.pack
    shown = await asyncio.to_thread(_shown, chairs, asked)
    by_class = [
        (item_class.value, [item for item in pack.items if item.item_class is item_class])
        for item_class in ItemClass
    ]
    return page(
        request,
        "items.html",
        by_class=[(name, some) for name, some in by_class if some],
        shown=frozenset(shown),
        asked=asked,
        dentists=chairs.dentists,
    )


async def fitting_items(request: Request) -> Response:
    """The ids of the items that fit the filters of the list of items, as JSON."""
    return JSONResponse(await asyncio.to_thread(_shown, field_of(request), _asked(request)))


def _asked(request: Request) -> dict[str, str]:
    return {key: request.query_params.get(key, "")[:LONGEST_QUERY] for key in FILTERS}


def _shown(chairs: DentistChairs, asked: dict[str, str]) -> tuple[str, ...]:
    wanted = ItemFilter(asked["name"], asked["kind"], asked["used"], asked["sharp"] == "yes")
    dentist = asked["dentist"]
    theirs = chairs.of(dentist).pack if dentist in chairs.dentists else None
    return fitting(chairs.own, wanted, theirs)


async def item(request: Request) -> Response:
    """Everything about one item."""
    chairs, known = _item(request)
    pack = chairs.own.pack
    steps = [
        (procedure, [step.name for step in procedure.steps if known.id in step.items])
        for procedure in pack.procedures
    ]
    named = await asyncio.to_thread(_named, chairs, known)
    called = _label(request.query_params.get("called", ""))
    return page(
        request,
        "item.html",
        pack=pack,
        item=known,
        called=called,
        saved=await asyncio.to_thread(chairs.saved, request.query_params.get("saved", "")),
        may_edit=True,
        back=request.url.path,
        photograph=await asyncio.to_thread(_photograph, chairs, known),
        handing=handing_text(known, pack.language),
        names=[one for one in named if one.variant is None],
        variants=[
            (variant, [one for one in named if one.variant == variant.text]) for variant in known.variants
        ],
        look_alikes=[(pack.item(other.item), other.tell) for other in known.confused_with],
        trays=[(tray, at) for tray in pack.trays if (at := tray.slot_of(known.id)) is not None],
        steps=[(procedure, names) for procedure, names in steps if names],
        wide=_other_of_pairs(pack, pack.wide_margin, known),
        together=_other_of_pairs(pack, pack.offered_together, known),
    )


@dataclass(frozen=True)
class _Photograph:
    """A clinic's photograph of an item, who added it and when."""

    checksum: str
    who: str
    when: str


async def item_drawing(request: Request) -> Response:
    """An item's drawing as SVG, for a page that begins without it."""
    _, known = _item(request)
    return Response(str(picture(known)), media_type="image/svg+xml")


def _photograph(chairs: DentistChairs, known: Item) -> _Photograph | None:
    checksum = chairs.own.clinic.photograph_of(known.id)
    if checksum is None or not chairs.photographs.has(checksum):
        return None
    by = chairs.vocabulary(None).composed().touched.get(("photograph", known.id))
    return _Photograph(checksum, by.who if by else "", by.when if by else "")


async def photograph(request: Request) -> Response:
    """The photograph that an item has now, as JPEG; its address changes with it."""
    chairs, known = _item(request)
    checksum = request.path_params["checksum"]
    if chairs.own.clinic.photograph_of(known.id) != checksum:
        raise NotHere("this photograph is not shown any more.")
    data = await asyncio.to_thread(chairs.photographs.read, checksum)
    if data is None:
        raise NotHere("the file of this photograph is gone.")
    return Response(data, media_type="image/jpeg")


def _other_of_pairs(pack: Pack, pairs: Sequence[tuple[str, str]], known: Item) -> list[Item]:
    return [pack.item(b if a == known.id else a) for a, b in pairs if known.id in (a, b)]


@dataclass(frozen=True)
class _ShownName:
    """A name, the size or pattern it means, where it comes from, who uses it, and which items share it."""

    name: Name
    variant: str | None
    origin: Origin
    holds_for: str
    shared_with: tuple[Item, ...]


def _named(chairs: DentistChairs, known: Item) -> list[_ShownName]:
    """All names of an item as saved in the layers now: everybody's first, then those of single dentists."""
    dentists = chairs.dentists
    found: dict[str, _ShownName] = {}
    for dentist in (chairs.own.options.dentist, *dentists):
        composed = chairs.vocabulary(dentist).composed()
        item = composed.pack.by_id.get(known.id)
        if item is None:
            continue
        pairs = [*((name, None) for name in item.own_names), *item.variant_name_pairs]
        for name, variant in pairs:
            origin = composed.came_from(name.text)
            holds_for = dentists.get(origin.layer, "everyone")
            others = _others_called(composed.pack, name, known) if name.shared else ()
            found.setdefault(name.text, _ShownName(name, variant, origin, holds_for, others))
    return list(found.values())


def _others_called(pack: Pack, name: Name, known: Item) -> tuple[Item, ...]:
    called = name.text.casefold()
    return tuple(
        item
        for item in pack.items
        if item.id != known.id and any(other.text.casefold() == called for other in item.names)
    )


async def trays(request: Request) -> Response:
    """All trays that the clinic lays, each with a small plan of its places."""
    chairs = field_of(request)
    pack, laid = chairs.own.pack, chairs.trays
    lines = [_tray_line(pack, tray) for tray in laid]
    return page(request, "trays.html", lines=lines, left_out=len(pack.trays) - len(laid))


@dataclass(frozen=True)
class _TrayLine:
    """A tray, whether each place of each row holds what is sharp, all that is sharp, and what it is for."""

    tray: Tray
    rows: tuple[tuple[bool, ...], ...]
    sharps: int
    used_for: tuple[str, ...]


def _tray_line(pack: Pack, tray: Tray) -> _TrayLine:
    return _TrayLine(
        tray,
        tuple(tuple(pack.item(slot.item).sharp for slot in row.slots) for row in tray.rows),
        sum(pack.item(slot.item).sharp for slot in tray.slots),
        tuple(procedure.name for procedure in pack.procedures if procedure.tray == tray.id),
    )


async def tray(request: Request) -> Response:
    """One tray, slot by slot."""
    pack, known = _tray(request)
    return page(
        request,
        "tray.html",
        pack=pack,
        tray=known,
        groups=groups(known),
        items=pack.by_id,
        procedures=[p for p in pack.procedures if p.tray == known.id],
    )


async def card(request: Request) -> Response:
    """A tray's printable card."""
    pack, known = _tray(request)
    paper, form = request.path_params["paper"], request.path_params["form"]
    if paper not in PAPERS or form not in ("svg", "pdf"):
        raise NotHere("cards come as a4 or letter, svg or pdf.")
    headers = {"content-disposition": f'inline; filename="{known.id}-{paper}.{form}"'}
    size = PAPERS[paper]
    if form == "svg":
        text = await asyncio.to_thread(tray_card, pack, known, size)
        return Response(text, media_type="image/svg+xml", headers=headers)
    data = await asyncio.to_thread(tray_card_pdf, pack, known, size)
    return Response(data, media_type="application/pdf", headers=headers)


async def cards(request: Request) -> Response:
    """The cards of all trays that the clinic lays, of all fields, in one file to print."""
    paper = PAPERS.get(request.path_params["paper"])
    if paper is None:
        raise NotHere("cards come as a4 or letter.")
    laid = [(chairs.own.pack, tray) for chairs in sessions_of(request).offered for tray in chairs.trays]
    data = await asyncio.to_thread(tray_cards_pdf, laid, paper)
    headers = {"content-disposition": f'inline; filename="cards-{request.path_params["paper"]}.pdf"'}
    return Response(data, media_type="application/pdf", headers=headers)


async def sessions(request: Request) -> Response:
    """All sessions, newest first."""
    running = sessions_of(request)

    def made() -> list[dict[str, object]]:
        newest = reversed(running.log.sessions())
        return [
            _line(running, known) | {"open": _open_by_name(running, known) if number < NAMED_SESSIONS else ""}
            for number, known in enumerate(newest)
        ]

    return page(request, "sessions.html", lines=await asyncio.to_thread(made))


async def session(request: Request) -> Response:
    """The report of one session."""
    running = sessions_of(request)

    def made() -> tuple[SessionReport, Sequence[Markup], bool]:
        known = running.session(int(request.path_params["session"]))
        chair = running.chair_of(known)
        state = fold(running.log.events(known.id), chair.tray, chair.pack)
        report = _report(running, known)
        return report, pictures(report), state.checks.get(LATEX_FREE, False)

    report, drawn, latex_free = await asyncio.to_thread(made)
    return page(
        request,
        "session.html",
        report=report,
        summary=summary(report),
        sentences=sentences(report),
        pictures=drawn,
        latex_free=latex_free,
    )


async def session_pdf(request: Request) -> Response:
    """The same report, to print and to keep."""
    running = sessions_of(request)

    def made() -> bytes:
        return report_pdf(_report(running, running.session(int(request.path_params["session"]))))

    name = f"session-{request.path_params['session']}.pdf"
    headers = {"content-disposition": f'inline; filename="{name}"'}
    return Response(await asyncio.to_thread(made), media_type="application/pdf", headers=headers)


def _report(running: Sessions, known: LoggedSession) -> SessionReport:
    chair = running.chair_of(known)
    return session_report(
        known,
        running.log.events(known.id),
        chair.pack,
        chair.tray,
        running.settings.zone,
        running.settings_of(known).faculty,
        running.dentists.get(known.dentist or "", ""),
    )


def _line(running: Sessions, known: LoggedSession) -> dict[str, object]:
    pack = next((pack for pack in running.packs if pack.id == known.pack), None)
    names: dict[str | None, str] = {None: ""}
    trays_by_id: dict[str | None, str] = {None: ""}
    if pack is not None:
        names |= {p.id: p.name for p in pack.procedures}
        trays_by_id |= {t.id: t.name for t in pack.trays}
    what = names.get(known.procedure, known.procedure) or trays_by_id.get(known.tray, known.tray)
    return {
        "id": known.id,
        "opened": local_time(running, known.opened_s),
        "what": what or "No tray chosen",
        "who": running.dentists.get(known.dentist or "", ""),
        "closed": known.closed_s is not None,
        "stood": _stood(known),
        "ended_by": known.ended_by,
    }


def _open_by_name(running: Sessions, known: LoggedSession) -> str:
    """What was short or not counted when the session ended; "" if nothing was, or that is not known."""
    if known.closed_s is None or not (known.short or known.uncounted or known.beyond):
        return ""
    try:
        chair = running.chair_of(known)
    except NoSession:  # held with another vocabulary
        return ""
    return ending_named(open_lines(fold(running.log.events(known.id), chair.tray, chair.pack), chair.pack))


def _stood(known: LoggedSession) -> str:
    """How the count stood when the session ended."""
    stood = ending_text(known.short, known.uncounted, known.beyond)
    complete = "count complete" if known.short == known.uncounted == 0 else ""
    return ", ".join(filter(None, (complete, stood)))


def _item(request: Request) -> tuple[DentistChairs, Item]:
    """The item of an address, from the page's vocabulary if that has it, else from another."""
    wanted = request.path_params["item"]
    for chairs in fields_of(request):
        if wanted in chairs.own.pack.by_id:
            return chairs, chairs.own.pack.item(wanted)
    raise NotHere("there is no such item; search for it by any of its names.")


def _tray(request: Request) -> tuple[Pack, Tray]:
    """The tray of an address, likewise."""
    wanted = request.path_params["tray"]
    for chairs in fields_of(request):
        if wanted in (tray.id for tray in chairs.own.pack.trays):
            return chairs.own.pack, chairs.own.pack.tray(wanted)
    try:
        return field_of(request).own.pack, find_tray(field_of(request).own.pack, wanted)
    except UnknownName as error:
        raise NotHere(str(error)) from None


NOT_FOUND = (NotHere, NoSession, NoField, UnknownName)
"""Errors that mean that a page does not exist."""


def routes() -> Sequence[BaseRoute]:
    """The routes to mount."""
    return (
        Route("/", home),
        Route("/find", find),
        Route("/find/near", near),
        Route("/find/items", fitting_items),
        Route("/items", items),
        Route("/items/{item}", item),
        Route("/items/{item}/drawing", item_drawing),
        Route("/items/{item}/photograph/{checksum}.jpg", photograph),
        Route("/trays", trays),
        Route("/trays/cards-{paper}.pdf", cards),
        Route("/trays/{tray}", tray),
        Route("/trays/{tray}/card-{paper}.{form}", card),
        Route("/sessions", sessions),
        Route("/sessions/{session:int}", session),
        Route("/sessions/{session:int}/report.pdf", session_pdf),
    )
