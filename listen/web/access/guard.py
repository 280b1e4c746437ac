"""Who may come in: this machine only, or whoever gives the pass code; and what a page may load.

Comes in: every request and WebSocket before anything else sees it. Goes out: the same, or a refusal. Host
and Origin are checked so that no other website can reach the app through somebody's browser. It keeps
no list of visitors; the cookie is signed with a key in the data folder and the pass code.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import math
import secrets
import socket
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from listen.live.settings import WebSettings
from listen.web.access.guesses import Guesses, source_of
from vocab.files import locked, write_atomically
from vocab.language.numerals import whole_number

COOKIE = "traycall"
VALID_S = 12 * 3600.0
KEY_BYTES = 32
LARGEST_BODY = 3_000_000
"""Bytes of a form, the largest with a file of names (`vocab.layers.bulk.LARGEST_FILE`)."""
TOO_LARGE = 413, "That is larger than anything that is asked for here."
_FREE = ("/enter", "/static/")
_LOCAL_NAMES = frozenset({"localhost"})


class PassCodes:
    """Checks pass codes and cookies.

    Args:
        key: secret bytes of this installation.
    """

    def __init__(self, pass_code: str, key: bytes, clock: Callable[[], float]) -> None:
        self._code = pass_code.encode()
        self._key = hmac.new(key, self._code, hashlib.sha256).digest()
        self._clock = clock
        self._guesses = Guesses(clock)

    def wait_s(self, address: str) -> float:
        """How long this address must wait before it may try again; 0 where the next try is counted as one."""
        return self._guesses.begin(("", source_of(address)))

    def is_right(self, code: str, address: str) -> bool:
        """Compare in constant time; a right one ends the waiting."""
        given = hashlib.sha256(code.encode(errors="replace")).digest()
        right = hmac.compare_digest(given, hashlib.sha256(self._code).digest())
        if right:
            self._guesses.right(("", source_of(address)))
        return right

    def cookie(self) -> str:
        """A new one."""
        body = f"{int(self._clock())}.{secrets.token_hex(8)}"
        return f"{body}.{self._sign(body)}"

    def knows(self, cookie: str | None) -> bool:
        """Whether the cookie is ours and not too old."""
        body, _, mac = (cookie or "").rpartition(".")
        if not body or not hmac.compare_digest(mac.encode(), self._sign(body).encode()):
            return False
        age_s = self._clock() - float(body.split(".")[0])
        return -60 <= age_s <= VALID_S

    def _sign(self, body: str) -> str:
        return hmac.new(self._key, body.encode(), hashlib.sha256).hexdigest()


def refusal(codes: PassCodes, code: str, who: HTTPConnection, called: str) -> tuple[int, str] | None:
    """Status and text where a code is not taken, as it is wrong or too many were; None where it is right."""
    address = who.client.host if who.client else ""
    wait_s = codes.wait_s(address)
    if wait_s > 0:
        return 429, f"Too many wrong codes. Wait {math.ceil(wait_s)} s, then try again."
    return None if codes.is_right(code, address) else (403, f"That is not {called}.")


def give_cookie(answer: Response, name: str, value: str, asked: HTTPConnection) -> None:
    """A cookie for a working day, for no script and no other website."""
    secure = asked.url.scheme == "https"
    answer.set_cookie(name, value, max_age=int(VALID_S), httponly=True, samesite="strict", secure=secure)


def secret_key(folder: Path) -> bytes:
    """This installation's secret, made on first use and readable by its owner only."""
    path = folder / "screen.key"
    known = _key(path)
    if known is None:
        folder.mkdir(parents=True, exist_ok=True)
        with locked(folder / ".screen.key.lock"):
            known = _key(path)
            if known is None:
                known = secrets.token_bytes(KEY_BYTES)
                write_atomically(path, known, private=True)
    return known


def _key(path: Path) -> bytes | None:
    """A key that was kept; None where there is none, or one that a crash cut short."""
    with suppress(FileNotFoundError):
        known = path.read_bytes()
        return known if len(known) >= KEY_BYTES else None
    return None


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

    def __init__(self, app: ASGIApp, settings: WebSettings, codes: PassCodes | None) -> None:
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
        """Names are listed; an address is nobody's to redirect, so in an open app every one will do."""
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
    """The same, refused where a body without a stated length turns out to be too large."""
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
    """What a page may load: only what this server gives, no script or style inside the page."""
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
