"""Builds the web app.

It takes the vocabularies, settings, and routes of further pages, and gives a Starlette app. The
engines are loaded in the background when the app starts; pages and typed requests work meanwhile.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from difflib import get_close_matches
from urllib.parse import urlencode

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles

from listen.chair import Chair
from listen.engine import Engine
from listen.live.pass_codes import PassCodes, secret_key
from listen.live.sessions import ChairFactory, Sessions
from listen.live.settings import ServerSettings
from listen.web import desk, turnover
from listen.web.access import guard
from listen.web.access.guard import Guard
from listen.web.chair import pages as chair_screen
from listen.web.pages import HERE, came_from, page
from vocab.errors import TraycallError

WATCH_S = 2.0
"""How often consents are checked."""


@dataclass(frozen=True)
class Link:
    """An entry of the menu or, where `under` is the address of a page, of that page."""

    text: str
    href: str
    under: str = ""


LINKS = (
    Link("Chair", "/"),
    Link("Items", "/items"),
    Link("Trays", "/trays"),
    Link("Sessions", "/sessions"),
)


def create_app(
    chair_factory: ChairFactory,
    settings: ServerSettings,
    load_engine: Callable[[], Engine] | None = None,
    more_routes: Sequence[BaseRoute] = (),
    more_links: Sequence[Link] = (),
    further: Sequence[Chair] = (),
) -> Starlette:
    """Build the app.

    Args:
        chair_factory: opens the first vocabulary, with the tray and procedure that are proposed first.
        load_engine: makes its engine, in a thread; the chair's own when left out.
        more_routes, more_links: pages added by other modules. They find the app's sessions with
            `listen.web.pages.sessions_of` and render with `listen.web.pages.page`.
        further: the other vocabularies.
    """
    running = Sessions(chair_factory, settings, load_engine, further)
    codes = (
        PassCodes(settings.pass_code, secret_key(settings.data), settings.clock)
        if settings.pass_code is not None
        else None
    )

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        running.engine_queue.start()
        getting_ready = asyncio.create_task(asyncio.to_thread(running.prepare))
        watching = asyncio.create_task(_watch_consents(running))
        yield
        watching.cancel()
        running.own_microphone.close()
        running.engine_queue.stop()
        for close in app.state.at_end:
            close()
        await getting_ready
        running.log.close()
        running.consents.close()
        running.voices.close()

    app = Starlette(
        routes=[
            *desk.routes(),
            *chair_screen.routes(),
            *turnover.routes(),
            *guard.routes(),
            *more_routes,
            Mount("/static", StaticFiles(directory=HERE / "static")),
        ],
        middleware=[Middleware(Guard, settings=settings, codes=codes)],
        exception_handlers={TraycallError: _told, 404: _not_found},
        lifespan=lifespan,
    )
    app.state.running, app.state.codes = running, codes
    app.state.at_end = []  # what added pages want closed
    app.state.links = (*LINKS, *more_links)
    return app


async def _watch_consents(running: Sessions) -> None:
    """Make consent that is withdrawn at a terminal count on the screens, too."""
    while True:
        await asyncio.sleep(WATCH_S)
        with suppress(TraycallError):  # the next round tries again
            await asyncio.to_thread(running.look_at_consents)


async def _told(request: Request, error: Exception) -> Response:
    """An error that a person can put right, shown on a page of its own."""
    return _problem(request, 404 if isinstance(error, desk.NOT_FOUND) else 400, str(error))


async def _not_found(request: Request, error: Exception) -> Response:
    return _problem(request, 404, "There is no such page here.")


def _problem(request: Request, status: int, problem: str) -> Response:
    return page(
        request,
        "problem.html",
        status,
        problem=problem,
        missing=status == 404,
        came_from=came_from(request),
        likely=_likely(request) if status == 404 else (),
    )


def _likely(request: Request) -> Sequence[Link]:
    """The pages that a wrong address may have meant."""
    parts = [part for part in request.url.path.split("/") if part]
    pages = {link.href.strip("/"): link for link in request.app.state.links if link.href != "/"}
    meant = [pages[name] for name in get_close_matches(parts[0] if parts else "", pages, 1)]
    if len(parts) > 1 and any(link.href == "/items" for link in meant):
        wanted = parts[1].replace("_", " ")[: desk.LONGEST_QUERY]
        meant.insert(0, Link(f"Look for “{wanted}”", f"/find?{urlencode({'q': wanted})}"))
    return meant
