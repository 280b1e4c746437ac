"""Templates, drawings and what else every page shares.

A template's name and its values go in; HTML comes out in which every value is escaped. Drawings are SVG
elements that need no script and no style.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, Response

from listen.chairside.view import place_name
from listen.live.dentists import DentistChairs
from listen.live.sessions import Sessions
from vocab.drawings import drawing
from vocab.pack.schema import Item, Pack

HERE = Path(__file__).parent
VOCABULARY = "vocabulary"
"""In an address, the pack that a page is about."""
COOKIE = "traycall_vocabulary"
LAST_DENTIST = "traycall_dentist"
"""The cookie with the dentist chosen last in a browser; empty for no specific one."""
REMEMBERED_S = 365 * 24 * 3600
"""How long a browser keeps what was chosen last."""
NAMES_KEPT = "/edit"
"""Where names are kept, in an app that has those pages."""
VOICE_CHECK = "/voice-check"
"""Where people try whether they are heard, in an app that has that page."""
BELONGS = {"/find": "/items", "/chair/": "/", "/voice-check": "/", "/procedures/": "/trays"}
"""Pages that belong to an entry of the menu that they do not begin with."""

_LONG_WORD = 7
_BREAK = re.compile(
    r"(?<=[aeiouy])(?=[^aeiouy\W][aeiouy])"  # exca-vator
    r"|(?<=[aeiouy][^aeiouy\W])(?=[^aeiouyhklr\W][aeiouy])"  # con-denser, but not sh, ck, bl or tr
    r"|(?<=[aeiouy][lnr])(?=s[^aeiouy\W])"  # in-strument
    r"|(?<=[aeiouy][mn])(?=[bcdgpt][lr][aeiouy])"  # tem-plate
    r"|(?<=sh|ck|nk|ll)(?=ing\b)"  # finish-ing
)
"""Where a long English word may be broken."""


def breakable(text: str) -> str:
    """The text with soft hyphens in long words, for places as narrow as a slot."""
    return " ".join(_broken(word) if len(word) >= _LONG_WORD else word for word in text.split(" "))


def _broken(word: str) -> str:
    return _BREAK.sub(lambda m: "\N{SOFT HYPHEN}" if 3 <= m.start() <= len(word) - 3 else "", word)


@lru_cache(maxsize=2048)
def picture(item: Item) -> Markup:
    """The drawing as one SVG element, hidden from screen readers (its name stands beside it)."""
    svg = drawing(item.id, item.name.text, item.item_class, item.drawing)
    return Markup(svg.replace("<svg ", '<svg aria-hidden="true" ', 1))


def described(item: Item) -> Markup:
    """The drawing as an SVG element that a screen reader tells in words."""
    label = Markup('<svg aria-label="{}" ').format(f"Drawing: {item.look}")
    return Markup(picture(item).replace('<svg aria-hidden="true" ', label, 1))


def symbols(pack: Pack, only: Collection[str] | None = None) -> Markup:
    """Every drawing of a pack (or of some of its items) once, to be shown with `<use href="#d-ID">`."""
    one = Markup('<symbol id="d-{}" viewBox="0 0 160 100">{}</symbol>')
    return Markup("").join(
        one.format(item.id, picture(item)) for item in pack.items if only is None or item.id in only
    )


def nameless_symbols(pack: Pack) -> Markup:
    """Every drawing by number, without the name, which would give an answer away."""
    one = Markup('<symbol id="d-{}" viewBox="0 0 160 100">{}</symbol>')
    return Markup("").join(
        one.format(number, Markup(drawing(item.id, "drawing", item.item_class, item.drawing)))
        for number, item in enumerate(pack.items)
    )


_ENVIRONMENT = Environment(
    loader=FileSystemLoader(HERE / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_ENVIRONMENT.globals.update(picture=picture, described=described, place_name=place_name, breakable=breakable)


def sessions_of(request: HTTPConnection) -> Sessions:
    """The app's rooms."""
    running: Sessions = request.app.state.running
    return running


def field_of(request: HTTPConnection) -> DentistChairs:
    """The vocabulary that a page is about: the address's, else the one chosen last in this browser, else the
    first of which the clinic does something."""
    running = sessions_of(request)
    known = {pack.id for pack in running.packs}
    for wanted in (request.query_params.get(VOCABULARY), request.cookies.get(COOKIE)):
        if wanted in known:
            return running.field(wanted)
    return running.offered[0]


def fields_of(request: HTTPConnection) -> tuple[DentistChairs, ...]:
    """Every vocabulary, that of the page first."""
    running, chosen = sessions_of(request), field_of(request)
    fields = (running.field(pack.id) for pack in running.packs)
    return (chosen, *(chairs for chairs in fields if chairs is not chosen))


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page of the app, about the vocabulary of `field_of` unless another `pack` is given."""
    running, links = sessions_of(request), request.app.state.links
    field = field_of(request).own.pack
    values = {"query": "", "pack": field, **values}
    text = _ENVIRONMENT.get_template(template).render(
        packs=_to_choose(running, field),
        offered=running.offered,
        is_open=running.settings.is_open,
        links=links,
        menu=[(link, whereabouts(link.href, request.url.path)) for link in links if not link.under],
        keeps=any(link.href == NAMES_KEPT for link in links),
        hears_check=any(link.href == VOICE_CHECK for link in links),
        address=request.url.path,
        **values,
    )
    answer = HTMLResponse(text, status)
    if request.query_params.get(VOCABULARY) == field.id:
        remember(answer, COOKIE, field.id, request)
    return answer


def _to_choose(running: Sessions, field: Pack) -> tuple[Pack, ...]:
    """The vocabularies that a page offers: those of which the clinic does something, and its own."""
    offered = {chairs.own.pack.id for chairs in running.offered} | {field.id}
    return tuple(pack for pack in running.packs if pack.id in offered)


def remember(answer: Response, name: str, value: str, asked: HTTPConnection) -> None:
    """Have a browser keep what was chosen in it last."""
    secure = asked.url.scheme == "https"
    answer.set_cookie(name, value, max_age=REMEMBERED_S, httponly=True, samesite="strict", secure=secure)


def came_from(request: Request) -> str:
    """The address of the page of this server that led here; "" for none."""
    try:
        came = urlsplit(request.headers.get("referer", ""))
    except ValueError:
        return ""
    ours = came.netloc == request.url.netloc and came.path.startswith("/") and not came.path.startswith("//")
    address = f"{came.path}{f'?{came.query}' if came.query else ''}"
    return address if ours and came.path != request.url.path else ""


def whereabouts(href: str, path: str) -> str:
    """What `aria-current` says of a link: "page" on its page, "true" on one that belongs to it, else ""."""
    if path == href:
        return "page"
    section = next((at for begins, at in BELONGS.items() if path.startswith(begins)), path)
    return "true" if section == href or (href != "/" and section.startswith(f"{href}/")) else ""


def local_time(running: Sessions, at_s: float, form: str = "%d %b %Y, %H:%M") -> str:
    """A moment as the clinic's clock shows it."""
    return datetime.fromtimestamp(at_s, running.settings.zone).strftime(form)
