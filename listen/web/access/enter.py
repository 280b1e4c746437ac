"""The page that asks for a pass code.

Comes in: a pass code. Goes out: a cookie that lasts for a working day. Guessing is slowed down.
"""

from __future__ import annotations

from collections.abc import Sequence

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from listen.web.access.guard import COOKIE, PassCodes, give_cookie, refusal
from listen.web.pages import page


async def enter(request: Request) -> Response:
    """Ask for the pass code, or check the one given."""
    codes: PassCodes | None = request.app.state.codes
    if codes is None:
        return RedirectResponse("/", 303)
    return await asked(request, codes, "enter.html", COOKIE, "/", "the pass code")


async def asked(
    request: Request, codes: PassCodes, template: str, cookie: str, behind: str, called: str
) -> Response:
    """Ask for a code by a page, or check the one given: its cookie, and on to what is behind it."""
    if request.method == "GET":
        return page(request, template, problem="")
    form = await request.form(max_files=0, max_fields=4)
    refused = refusal(codes, str(form.get("code") or ""), request, called)
    if refused is not None:
        return page(request, template, refused[0], problem=refused[1])
    answer = RedirectResponse(behind, 303)
    give_cookie(answer, cookie, codes.cookie(), request)
    return answer


def routes() -> Sequence[BaseRoute]:
    """What to mount."""
    return (Route("/enter", enter, methods=["GET", "POST"]),)
