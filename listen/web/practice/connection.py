"""Spoken answers of a trainee: a browser's sound comes in, replies go out.

All of it over one WebSocket: 16-bit little-endian PCM, 16 kHz mono, in binary messages, and JSON both
ways (the page says when a question has ended). Response time is counted in samples: the stream starts again
where a question ends, and tells where in it the answer began. Sound is never stored, and none is heard while
a question is asked.
"""

from __future__ import annotations

import asyncio
import json
import uuid
from collections.abc import Callable
from concurrent.futures import Future
from typing import Annotated, Any, Literal, Protocol

from pydantic import Field, TypeAdapter
from starlette.websockets import WebSocket, WebSocketDisconnect

from listen.engine import Samples
from listen.live.workers import Workers
from listen.practice.held import NoPlace
from listen.practice.place import Matter
from listen.practice.places import Places
from listen.practice.questions import Question
from listen.practice.session import response_time
from listen.practice.trainees import NotYours
from listen.segments import Segmenter, Utterance
from listen.web.wire import NO_SESSION, TOO_MANY, Message, parsed, samples
from vocab.errors import Declined, TraycallError

ENDPOINT_S = 0.6
MOST_CONNECTED = 200
INSTEAD = "Type or touch the answer."


class Listen(Message):
    """Question `number` has ended: an answer may be spoken."""

    do: Literal["listen"]
    number: int


class Deaf(Message):
    """Hear nothing now."""

    do: Literal["deaf"]


SENT: TypeAdapter[Listen | Deaf] = TypeAdapter(Annotated[Listen | Deaf, Field(discriminator="do")])


class Hears(Protocol):
    """A session that takes spoken answers: a drill's or a rehearsal's. matter: what it is about."""

    matter: Matter

    @property
    def last_asked(self) -> tuple[int, Question] | None:
        """Number and question of what was asked last."""
        ...

    def hear(self, number: int, token: str, samples: Samples, response_s: float | None) -> dict[str, Any]:
        """Take a spoken answer; the reply to the page."""
        ...


class LiveAnswers:
    """One connection."""

    def __init__(self, socket: WebSocket, place: Hears, places: Places, workers: Workers) -> None:
        self._socket, self._place, self._places, self._workers = socket, place, places, workers
        self._segmenter: Segmenter | None = None
        self._number = 0
        self._engine: Future[Any] | None = None
        self._tasks: set[asyncio.Task[None]] = set()
        self._state = ""

    async def run(self) -> None:
        """Until the page goes."""
        await self._socket.accept()
        try:
            while True:
                message = await self._socket.receive()
                if message["type"] == "websocket.disconnect":
                    return
                if message.get("bytes") is not None:
                    await self._sound(message["bytes"])
                else:
                    await self._do(message.get("text") or "")
        except WebSocketDisconnect:
            return
        finally:
            for task in self._tasks:
                task.cancel()

    async def _do(self, text: str) -> None:
        try:
            sent = parsed(SENT, text)
        except Declined as error:
            await self._send({"type": "problem", "text": str(error)})
            return
        if isinstance(sent, Listen):
            await self._warm()
            self._segmenter = Segmenter(endpoint_s=ENDPOINT_S)
            self._number = sent.number
        else:
            self._segmenter = None
        await self._tell("deaf" if self._segmenter is None else await self._ready())

    async def _sound(self, data: bytes) -> None:
        block = samples(data)
        if self._segmenter is None or block is None:
            return
        for utterance in self._segmenter.push(block):
            self._segmenter = None  # one answer at a time; the page asks for more
            await self._tell("thinking")
            task = asyncio.create_task(self._judge(self._number, utterance))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)
            return
        await self._tell("speaking" if self._segmenter.speaking else await self._ready())

    async def _warm(self) -> None:
        """Have the engine loaded, if no question of this page has done that."""
        asked = self._place.last_asked
        if asked is not None:
            self._engine = await self._workers.run(self._places.warm, self._place.matter, asked[1])

    async def _ready(self) -> str:
        """What the engine is doing: loading, listening (answers are taken in either case), or unable to hear,
        in which case the reason is shown."""
        if self._engine is None:
            return "listening"
        if not self._engine.done():
            return "loading"
        failed = None if self._engine.cancelled() else self._engine.exception()
        if failed is None:
            return "listening"
        self._segmenter = None
        await self._send({"type": "problem", "text": f"Spoken answers cannot be heard: {failed} {INSTEAD}"})
        return "deaf"

    async def _judge(self, number: int, utterance: Utterance) -> None:
        waited_s = response_time(0.0, utterance.start_s)
        loop = asyncio.get_running_loop()
        try:
            reply = await loop.run_in_executor(
                self._places.hearing, self._place.hear, number, uuid.uuid4().hex, utterance.samples, waited_s
            )
        except TraycallError as error:
            reply = {"type": "problem", "text": str(error)}
        except Exception as error:  # whatever fails in the engine, the trainee is told
            reply = {"type": "problem", "text": f"That answer was not heard: {error} {INSTEAD}"}
        await self._send(reply)

    async def _tell(self, state: str) -> None:
        if state != self._state:
            self._state = state
            await self._send({"type": "ear", "state": state})

    async def _send(self, message: dict[str, Any]) -> None:
        await self._socket.send_text(json.dumps(message, ensure_ascii=False))


class Lines:
    """The WebSocket routes; counts how many are connected."""

    def __init__(self) -> None:
        self._connected = 0

    async def live(
        self, socket: WebSocket, found: Callable[[], tuple[Hears, Places]], workers: Workers
    ) -> None:
        """Serve one connection until it ends.

        Args:
            found: the session of this socket, if it belongs to the trainee of its browser.
        """
        try:
            place, places = await workers.run(found)
        except (NoPlace, NotYours):
            await socket.accept()
            await socket.close(NO_SESSION)
            return
        except TraycallError as error:
            await socket.accept()
            await socket.send_json({"type": "problem", "text": str(error)})
            await socket.close()
            return
        if self._connected >= MOST_CONNECTED:
            await socket.accept()
            await socket.close(TOO_MANY)
            return
        self._connected += 1
        try:
            await LiveAnswers(socket, place, places, workers).run()
        finally:
            self._connected -= 1
