"""Templates and what every page shares.

Comes in: a template's name and its values. Goes out: HTML in which every value is escaped.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from listen.web.house import House
from listen.web.pictures import picture
from listen.web.view import place_name

HERE = Path(__file__).parent

_ENVIRONMENT = Environment(
    loader=FileSystemLoader(HERE / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_ENVIRONMENT.globals.update(picture=picture, place_name=place_name)


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
