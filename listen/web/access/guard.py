"""Who may use the app: this machine only, or anyone who gives the pass code; and what a page may load.

Every request and WebSocket comes here before anything else sees it, and is passed on or refused. Host and
Origin are checked so that no other website can reach the app through somebody's browser. No list of visitors
is kept. The page that asks for the code is here too.
"""

from __future__ import annotations

import ipaddress
import math
import socket
from collections.abc import Sequence

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import HTTPConnection, Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from listen.live.pass_codes import VALID_S, PassCodes
from listen.live.settings import ServerSettings
from listen.web.pages import page
from vocab.language.numerals import whole_number

COOKIE = "traycall"
LARGEST_BODY = 3_000_000
"""Most bytes of a form; the largest one holds a file of names (`vocab.layers.bulk.LARGEST_FILE`)."""
TOO_LARGE = 413, "That is larger than anything this server accepts."
_FREE = ("/enter", "/static/")
_LOCAL_NAMES = frozenset({"localhost"})


def refusal(codes: PassCodes, code: str, who: HTTPConnection, called: str) -> tuple[int, str] | None:
    """Status and text of a refusal, as the code or too many before it were wrong; None where it is right."""
    address = who.client.host if who.client else ""
    wait_s = codes.wait_s(address)
    if wait_s > 0:
        return 429, f"Too many wrong codes. Wait {math.ceil(wait_s)} s, then try again."
    return None if codes.is_right(code, address) else (403, f"That is not {called}.")


def give_cookie(
    answer: Response, name: str, value: str, asked: HTTPConnection, valid_s: float = VALID_S
) -> None:
    """Set a cookie, for a working day unless said otherwise, hidden from scripts and other websites."""
    secure = asked.url.scheme == "https"
    answer.set_cookie(name, value, max_age=int(valid_s), httponly=True, samesite="strict", secure=secure)


def may_open_own_microphone(who: HTTPConnection, codes: PassCodes | None) -> bool:
    """Whether a page may open the server's own microphone: it is on this machine, or gave the pass code."""
    if codes is not None and codes.knows(who.cookies.get(COOKIE)):
        return True
    try:
        return who.client is not None and ipaddress.ip_address(who.client.host).is_loopback
    except ValueError:
        return False


class Guard:
    """The outermost layer of the app."""

    def __init__(self, app: ASGIApp, settings: ServerSettings, codes: PassCodes | None) -> None:
        self._app, self._codes = app, codes
        self._open = settings.is_open
        self._names = _LOCAL_NAMES | {name.lower() for name in settings.host_names}
        if self._open:
            self._names |= {socket.gethostname().lower()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            await _refuse(refusal, scope, receive, send)
            return
        if self._codes is not None and not self._may_enter(scope):
            if scope["type"] == "websocket" or scope["method"] not in ("GET", "HEAD"):
                await _refuse((401, "Give the pass code first."), scope, receive, send)
            else:
                await RedirectResponse("/enter", 303, _plain_headers())(scope, receive, send)
            return
        await self._app(scope, _bounded(receive), _with_headers(scope, send))

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or not self._is_ours(_host_name(hosts[0])):
            return 421, "This server does not answer to that name; see --host-name."
        length = whole_number(headers.get("content-length", "0"))
        if length is None or length > LARGEST_BODY:
            return TOO_LARGE
        unsafe = scope["type"] == "websocket" or scope["method"] not in ("GET", "HEAD", "OPTIONS")
        if unsafe and headers.get("origin") != _origin(scope, hosts[0]):
            return 403, "Only pages of this server may do that."
        return None

    def _is_ours(self, name: str) -> bool:
        """Host names must be listed; nobody can redirect an address, so an open app accepts any address."""
        if name.lower() in self._names:
            return True
        try:
            address = ipaddress.ip_address(name)
        except ValueError:
            return False
        return self._open or address.is_loopback

    def _may_enter(self, scope: Scope) -> bool:
        assert self._codes is not None
        path = scope["path"]
        if scope["type"] == "http" and any(path == free or path.startswith(free) for free in _FREE):
            return True
        return self._codes.knows(HTTPConnection(scope).cookies.get(COOKIE))


def _host_name(host: str) -> str:
    """The name in "name:port" or "[address]:port"; "" where it is neither."""
    if host.startswith("["):
        name, bracket, port = host[1:].partition("]")
        return name if bracket and (not port or port[1:].isdigit()) else ""
    name, colon, port = host.partition(":")
    return name if not colon or port.isdigit() else ""


def _bounded(receive: Receive) -> Receive:
    """The same, but a body without a stated length is refused once it turns out to be too large."""
    came = 0

    async def receiving() -> Message:
        nonlocal came
        message = await receive()
        if message["type"] == "http.request":
            came += len(message.get("body", b""))
            if came > LARGEST_BODY:
                raise HTTPException(*TOO_LARGE)
        return message

    return receiving


def _origin(scope: Scope, host: str) -> str:
    secure = scope["scheme"] in ("https", "wss")
    return f"{'https' if secure else 'http'}://{host}"


async def _refuse(why: tuple[int, str], scope: Scope, receive: Receive, send: Send) -> None:
    status, text = why
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008, "reason": text})
        return
    await PlainTextResponse(text, status, _plain_headers())(scope, receive, send)


def _plain_headers() -> dict[str, str]:
    return {"cache-control": "no-store", "x-content-type-options": "nosniff"}


def content_policy(host: str, secure: bool) -> str:
    """What a page may load: only what this server serves, and no inline script or style."""
    live = f"{'wss' if secure else 'ws'}://{host}"
    return (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self' blob:; "
        f"worker-src 'self'; connect-src 'self' {live}; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'"
    )


def _with_headers(scope: Scope, send: Send) -> Send:
    if scope["type"] == "websocket":
        return send
    policy = content_policy(Headers(scope=scope)["host"], scope["scheme"] == "https")

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers["content-security-policy"] = policy
            headers["x-content-type-options"] = "nosniff"
            headers["referrer-policy"] = "same-origin"
            headers["cross-origin-opener-policy"] = "same-origin"
            headers["cross-origin-resource-policy"] = "same-origin"
            headers["permissions-policy"] = "microphone=(self), camera=(), geolocation=()"
            if "cache-control" not in headers:
                static = scope["path"].startswith("/static/")
                headers["cache-control"] = "no-cache" if static else "no-store"
        await send(message)

    return sending


async def enter(request: Request) -> Response:
    """Ask for the pass code, or check the one given."""
    codes: PassCodes | None = request.app.state.codes
    if codes is None:
        return RedirectResponse("/", 303)
    return await asked(request, codes, "enter.html", COOKIE, "/", "the pass code")


async def asked(
    request: Request, codes: PassCodes, template: str, cookie: str, behind: str, called: str
) -> Response:
    """Show the page that asks for a code, or check the code given, set its cookie and go on to `behind`."""
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
    """The routes to mount."""
    return (Route("/enter", enter, methods=["GET", "POST"]),)
