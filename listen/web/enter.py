"""The page that asks for the pass code.

Comes in: a pass code. Goes out: a cookie that lasts for a working day. Guessing is slowed down.
"""

from __future__ import annotations

from collections.abc import Sequence

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from listen.web.pages import page
from listen.web.security import COOKIE, VALID_S, PassCodes


async def enter(request: Request) -> Response:
    """Ask for the pass code, or check the one given."""
    codes: PassCodes | None = request.app.state.codes
    if codes is None:
        return RedirectResponse("/", 303)
    if request.method == "GET":
        return page(request, "enter.html", problem="")
    address = request.client.host if request.client else ""
    if not codes.may_try(address):
        return page(
            request, "enter.html", 429, problem="Too many wrong codes. Wait a minute, then try again."
        )
    form = await request.form(max_files=0, max_fields=4)
    if not codes.is_right(str(form.get("code") or ""), address):
        return page(request, "enter.html", 403, problem="That is not the pass code.")
    answer = RedirectResponse("/", 303)
    answer.set_cookie(
        COOKIE,
        codes.cookie(),
        max_age=int(VALID_S),
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
    )
    return answer


def routes() -> Sequence[BaseRoute]:
    """What to mount."""
    return (Route("/enter", enter, methods=["GET", "POST"]),)
