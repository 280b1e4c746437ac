"""What pages send besides forms, checked, and what goes back over a live connection.

Messages are JSON, one pydantic model each, told apart by their field `do`; sound is 16-bit little-endian PCM,
16 kHz mono, in binary messages. Whatever does not fit is declined with a message that a page can show.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Coroutine
from typing import Any, TypeVar

import numpy as np
from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError
from starlette.requests import Request
from starlette.websockets import WebSocket, WebSocketDisconnect

from listen.engine import Samples
from vocab.errors import Declined

T = TypeVar("T")

OLD_PAGE = "this page is older than the server: load it again."
LARGEST_BLOCK = 64_000
"""Bytes of sound in one message (two seconds)."""
LONGEST_MESSAGE = 2_000
"""Characters of a message over a live connection."""
MOST_UNREAD = 200
"""Messages that wait for a page to read them; then its connection ends."""
NO_SESSION, TOO_MANY = 4404, 4429
"""Close codes."""


class Message(BaseModel):
    """What a page sends: nothing is converted, and fields that are not known are passed over."""

    model_config = ConfigDict(strict=True, frozen=True, str_strip_whitespace=True)


def parsed(kind: TypeAdapter[T], text: str | bytes, longest: int = LONGEST_MESSAGE) -> T:
    """A message.

    Raises:
        Declined: it is too long, or is not of this kind.
    """
    if len(text) > longest:
        raise Declined(OLD_PAGE)
    try:
        return kind.validate_json(text)
    except ValidationError as error:
        raise Declined(_in_words(error)) from None


def _in_words(error: ValidationError) -> str:
    first = error.errors(include_url=False, include_input=False)[0]
    field, limit = first["loc"][-1:], first.get("ctx", {})
    if first["type"] == "string_too_short":
        return f"{field[0]}: this is empty."
    if first["type"] == "string_too_long":
        return f"{field[0]}: type at most {limit['max_length']} characters."
    return OLD_PAGE


async def body(request: Request, longest: int) -> bytes:
    """The body of a request.

    Raises:
        Declined: it has more than `longest` bytes.
    """
    came = b""
    async for part in request.stream():
        came += part
        if len(came) > longest:
            raise Declined("this page sent too much: load it again.")
    return came


def samples(data: bytes) -> Samples | None:
    """The sound of a binary message, shape = (n,), in [-1, 1]; None where it is too long or cut in two."""
    if len(data) % 2 or len(data) > LARGEST_BLOCK:
        return None
    return np.frombuffer(data, dtype="<i2").astype(np.float32) / 32768.0


class Outbox:
    """What goes out over a live connection, in order."""

    def __init__(self, socket: WebSocket) -> None:
        self._socket = socket
        self._messages: asyncio.Queue[dict[str, Any]] = asyncio.Queue(MOST_UNREAD)
        self._full = asyncio.Event()

    def put(self, message: dict[str, Any]) -> None:
        """Send this when its turn comes; with `MOST_UNREAD` before it, never."""
        try:
            self._messages.put_nowait(message)
        except asyncio.QueueFull:
            self._full.set()

    async def while_read(self, receiving: Coroutine[Any, Any, None]) -> None:
        """Send what comes until `receiving` ends, or until the page no longer reads, which ends that, too."""
        tasks = [asyncio.create_task(task) for task in (receiving, self._send(), self._full.wait())]
        try:
            await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in tasks:
                if task.done() and not isinstance(task.exception(), WebSocketDisconnect):
                    task.result()
        finally:
            for task in tasks:
                task.cancel()

    async def _send(self) -> None:
        while True:
            await self._socket.send_text(json.dumps(await self._messages.get(), ensure_ascii=False))
