"""Pages that only the lead may use: behind the lead's pass code, or, without one, on this machine alone.

Comes in: requests and the cookie that the edit pages give, too. Goes out: the page, or the way to give the
code. One door is one group of pages.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from listen.live.settings import WebError
from listen.web.access.editors import LEAD, LEAD_CODE, check_lead_code, lead_codes
from listen.web.access.enter import asked
from listen.web.access.guard import PassCodes
from listen.web.pages import house_of

Endpoint = Callable[[Request], Awaitable[Response]]


class LeadOnly:
    """A door with the lead's code.

    Args:
        lead_code: None where there is none.
        behind: the page that the code leads to; it is asked for at `behind`/enter.
        called: the pages behind it, as a sentence that says they are closed begins.

    Raises:
        WebError: a pass code that is too short.
    """

    def __init__(self, lead_code: str | None, behind: str, called: str) -> None:
        check_lead_code(lead_code)
        self._lead_code, self._behind, self._called = lead_code, behind, called
        self._codes: PassCodes | None = None

    def route(self) -> Route:
        """Where the code is asked for."""
        return Route(f"{self._behind}/enter", self._enter, methods=["GET", "POST"])

    def guarded(self, endpoint: Endpoint) -> Endpoint:
        """The endpoint for the lead; everybody else is asked for the code.

        Raises (when requested):
            WebError: this server lets other machines in and has no lead's code.
        """

        async def inner(request: Request) -> Response:
            if self.closed(request):
                raise WebError(self.closed(request))
            if not self.is_open(request):
                return RedirectResponse(f"{self._behind}/enter", 303)
            return await endpoint(request)

        return inner

    def is_open(self, request: Request) -> bool:
        """Whether whoever asks is the lead, or need not be."""
        codes = self.codes(request)
        if codes is None:
            return not self.closed(request)
        return codes.knows(request.cookies.get(LEAD))

    def closed(self, request: Request) -> str:
        """Why nobody may go in; "" where the lead may."""
        if self.codes(request) is not None or not house_of(request).settings.is_open:
            return ""
        return (
            f"{self._called} stay closed: this server lets other machines in, and was started without "
            f"{LEAD_CODE}."
        )

    def codes(self, request: Request) -> PassCodes | None:
        """What checks the lead's code; None where there is none."""
        if self._codes is None:
            self._codes = lead_codes(self._lead_code, house_of(request).settings)
        return self._codes

    async def _enter(self, request: Request) -> Response:
        codes = self.codes(request)
        if codes is None:
            return RedirectResponse(self._behind, 303)
        return await asked(request, codes, "lead_enter.html", LEAD, self._behind, "the lead's pass code")
