"""How connections are taken: none may keep a place by sending or reading slowly, and none fills the log.

Comes in: sockets, before anything of a request is known. Goes out: requests, to the app. Who connects is not
asked here (`listen.web.security` does that), so this holds for those without the pass code, too.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections import Counter
from contextlib import suppress

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

WHOLE_REQUEST_S = 30.0
"""So long a request may take to arrive, head and body."""
UNREAD_S = 30.0
"""So long a reply that is larger than the system's buffers may lie unread."""
MOST_UNFINISHED = 300
"""Connections without a whole request; a further one pushes out the oldest of the address that has most."""
MOST_CONNECTIONS = 600
"""All together, with those that wait for a reply and live ones."""
FILES = 4_096
"""Files and sockets that the process asks to be allowed, where it has fewer."""
SAME_LINES, SAME_WITHIN_S = 5, 60.0
"""Of one warning so many lines are logged within this time."""


class Door(H11Protocol):
    """One connection. It is unfinished until a whole request has come, and again after each reply."""

    _since: float | None = None
    _until: asyncio.TimerHandle | None = None
    _unread: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Taken in, if need be in place of an older one."""
        super().connection_made(transport)
        self._wait_for_request()
        if len(self.connections) > MOST_UNFINISHED:
            self._make_room()

    def data_received(self, data: bytes) -> None:
        """A part of a request."""
        super().data_received(data)
        if self.conn.their_state not in (h11.IDLE, h11.SEND_BODY):
            self._finished()

    def handle_websocket_upgrade(self, event: h11.Request) -> None:
        """The request is whole; what follows is bounded by the live connection itself."""
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
        """It was read."""
        self._stop(self._unread)
        super().resume_writing()

    def connection_lost(self, exc: Exception | None) -> None:
        """It is over."""
        self._finished()
        self._stop(self._unread)
        super().connection_lost(exc)

    def abort(self) -> None:
        """Close at once, without waiting for what is unread."""
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


class Seldom(logging.Filter):
    """Lets `SAME_LINES` lines of one kind through in `SAME_WITHIN_S`; the next tells how many were not."""

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
    """Ask for `FILES` open files, where the system gives fewer and may give more."""
    with suppress(ImportError, OSError, ValueError):
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = FILES if hard == resource.RLIM_INFINITY else min(FILES, hard)
        if soft != resource.RLIM_INFINITY and soft < wanted:
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def seldom_logged() -> None:
    """Bound what strangers can have written to the log: the server's lines and the event loop's."""
    for name in ("uvicorn.error", "asyncio"):
        logging.getLogger(name).addFilter(Seldom())
