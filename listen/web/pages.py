"""Templates and what every page shares.

Comes in: a template's name and its values. Goes out: HTML in which every value is escaped.
"""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from listen.chairside.view import place_name
from listen.live.sessions import House
from listen.web.pictures import picture

HERE = Path(__file__).parent

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


_ENVIRONMENT = Environment(
    loader=FileSystemLoader(HERE / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_ENVIRONMENT.globals.update(picture=picture, place_name=place_name, breakable=breakable)


def house_of(request: Request) -> House:
    """The app's rooms."""
    house: House = request.app.state.house
    return house


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page of the app."""
    house = house_of(request)
    values.setdefault("query", "")
    text = _ENVIRONMENT.get_template(template).render(
        pack=house.chair.pack, is_open=house.settings.is_open, links=request.app.state.links, **values
    )
    return HTMLResponse(text, status)


def local_time(house: House, at_s: float, form: str = "%d %b %Y, %H:%M") -> str:
    """A moment as the clinic's clock shows it."""
    return datetime.fromtimestamp(at_s, house.settings.zone).strftime(form)
