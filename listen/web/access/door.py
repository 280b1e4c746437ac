"""How connections are accepted: none can hold a place by sending or reading slowly, and none floods the log.

This works on sockets before anything of a request is known and, with a certificate, before anything is
encrypted; requests go on to the app. It does not ask who connects (`listen.web.access.guard` does that), so
the limits also hold for anyone without the pass code.
"""

from __future__ import annotations

import asyncio
import logging
import ssl
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

WHOLE_REQUEST_S = 30.0
"""How long a request may take to arrive, head and body."""
UNREAD_S = 30.0
"""How long a reply that is larger than the system's buffers may stay unread."""
MOST_UNFINISHED = 300
"""Most connections without a whole request; one more closes the oldest of the address that has the most."""
MOST_CONNECTIONS = 600
"""Most connections in all, including live ones and those that wait for a reply."""
MOST_SHAKING, SHAKING_S = 100, 20.0
"""Most connections in the TLS handshake, and how long each may take; one more closes another."""
FILES = 4_096
"""Open files and sockets that the process asks for where its limit is lower."""
SAME_LINES, SAME_WITHIN_S = 5, 60.0
"""How many lines of one warning are logged within how much time."""


class Door(H11Protocol):
    """One connection. It is unfinished until a whole request has arrived, and again after each reply."""

    _since: float | None = None
    _until: asyncio.TimerHandle | None = None
    _unread: asyncio.TimerHandle | None = None
    _early = b""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Accept the connection, if need be in place of an older one."""
        super().connection_made(transport)
        self._wait_for_request()
        if len(self.connections) > MOST_UNFINISHED:
            self._make_room()
        if self._early:
            self.data_received(self._early)

    def data_received(self, data: bytes) -> None:
        """Take part of a request; what comes along with the end of the handshake waits for the connection."""
        if self.transport is None:
            self._early += data
            return
        super().data_received(data)
        if self.conn.their_state not in (h11.IDLE, h11.SEND_BODY):
            self._finished()

    def handle_websocket_upgrade(self, event: h11.Request) -> None:
        """The request is whole; the live connection itself limits what follows."""
        self._finished()
        super().handle_websocket_upgrade(event)

    def on_response_complete(self) -> None:
        """The next request may come over the same connection."""
        self._wait_for_request()
        super().on_response_complete()

    def pause_writing(self) -> None:
        """The reply is not read as fast as it is sent."""
        self._unread = self.loop.call_later(UNREAD_S, self.abort)
        super().pause_writing()

    def resume_writing(self) -> None:
        """The reply has been read."""
        self._stop(self._unread)
        super().resume_writing()

    def connection_lost(self, exc: Exception | None) -> None:
        """The connection is over."""
        self._finished()
        self._stop(self._unread)
        super().connection_lost(exc)

    def abort(self) -> None:
        """Close at once, without waiting for the rest to be read."""
        self._finished()
        self.transport.abort()

    def _make_room(self) -> None:
        doors = [one for one in self.connections if isinstance(one, Door)]
        waiting = [(one._since, one) for one in doors if one._since is not None]
        if len(waiting) <= MOST_UNFINISHED and len(self.connections) <= MOST_CONNECTIONS:
            return
        most = Counter(one._address for _, one in waiting).most_common(1)[0][0]
        min((since, id(one), one) for since, one in waiting if one._address == most)[-1].abort()

    @property
    def _address(self) -> str:
        return self.client[0] if self.client else ""

    def _wait_for_request(self) -> None:
        self._stop(self._until)
        self._since = self.loop.time()
        self._until = self.loop.call_later(WHOLE_REQUEST_S, self.abort)

    def _finished(self) -> None:
        self._stop(self._until)
        self._since = None

    @staticmethod
    def _stop(timer: asyncio.TimerHandle | None) -> None:
        if timer is not None:
            timer.cancel()


class Threshold(asyncio.Protocol):
    """A connection in the TLS handshake; after that it is a `Door`."""

    def __init__(self, context: ssl.SSLContext, shaking: dict[Threshold, None], **door: Any) -> None:
        self._context, self._shaking, self._door = context, shaking, door
        self._transport: asyncio.Transport | None = None
        self._task: asyncio.Task[None] | None = None
        self.address = ""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Accept the connection, if need be in place of an older one."""
        assert isinstance(transport, asyncio.Transport)
        self._transport, peer = transport, transport.get_extra_info("peername")
        self.address = peer[0] if peer else ""
        self._shaking[self] = None
        if len(self._shaking) > MOST_SHAKING:
            most = Counter(one.address for one in self._shaking).most_common(1)[0][0]
            next(one for one in self._shaking if one.address == most).give_up()
        self._task = asyncio.get_running_loop().create_task(self._shake(transport))

    def give_up(self) -> None:
        """Close, however far the handshake has come."""
        self._shaking.pop(self, None)
        if self._task is not None and self._transport is not None:
            self._task.cancel()  # possibly before it has started
            self._transport.abort()

    async def _shake(self, transport: asyncio.Transport) -> None:
        door, loop = Door(**self._door), asyncio.get_running_loop()
        try:
            secure = await loop.start_tls(
                transport, door, self._context, server_side=True, ssl_handshake_timeout=SHAKING_S
            )
        except (OSError, asyncio.CancelledError):
            secure = None
        finally:
            self._shaking.pop(self, None)
        if secure is None:
            transport.abort()
        else:
            door.connection_made(secure)


def entrance(certificate: Path | None, key: Path | None) -> Callable[..., asyncio.Protocol]:
    """The factory of each connection's protocol: a `Door`, behind a `Threshold` where there is a certificate.

    Raises:
        OSError: the files cannot be read, or are not a certificate and its key (`ssl.SSLError`).
    """
    if certificate is None:
        return Door
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(certificate, key)
    return partial(Threshold, context, {})


class Seldom(logging.Filter):
    """Lets `SAME_LINES` lines of one kind through in `SAME_WITHIN_S`; the next says how many were not."""

    def __init__(self) -> None:
        super().__init__()
        self._since: dict[tuple[int, str], tuple[float, int]] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether this line is logged."""
        kind, now = (record.levelno, str(record.msg)[:80]), time.monotonic()
        since, lines = self._since.get(kind, (now, 0))
        if now - since > SAME_WITHIN_S:
            if lines > SAME_LINES:
                record.msg = f"{record.msg} ({lines - SAME_LINES} more like it were left out)"
            since, lines = now, 0
        if len(self._since) > 1_000:
            self._since.clear()
        self._since[kind] = since, lines + 1
        return lines < SAME_LINES


def allow_files() -> None:
    """Ask for `FILES` open files where the limit is lower and the system allows more."""
    with suppress(ImportError, OSError, ValueError):
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = FILES if hard == resource.RLIM_INFINITY else min(FILES, hard)
        if soft != resource.RLIM_INFINITY and soft < wanted:
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def seldom_logged() -> None:
    """Limit what strangers can cause to be logged: the server's lines and the event loop's."""
    for name in ("uvicorn.error", "asyncio"):
        logging.getLogger(name).addFilter(Seldom())
