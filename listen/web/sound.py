"""A screen's live connection: sound and wishes come in, the room and the microphone's state go out.

Comes in over one WebSocket: 16-bit little-endian PCM, 16 kHz mono, in binary messages, and wishes as JSON.
Goes out: JSON. Sound is heard only while the screen's microphone is open, is never stored, and words are
never sent back.
"""

from __future__ import annotations

import asyncio
import json
import logging
import secrets
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from starlette.websockets import WebSocket, WebSocketDisconnect

from listen.chairside.events import EventKind, Source
from listen.engine import Hearing, Samples
from listen.segments import Utterance
from listen.web.early import EarlySegmenter
from listen.web.ears import Ears, Job
from listen.web.house import House, NoSession, Screen
from listen.web.room import Room
from listen.web.settings import WebError
from listen.web.view import room_view
from vocab.errors import TraycallError

_LOG = logging.getLogger(__name__)
LARGEST_BLOCK = 64_000
"""Bytes of sound in one message (two seconds)."""
LONGEST_TEXT = 200
LONGEST_WISH = 2_000
NO_SESSION, TOO_MANY = 4404, 4429
"""Close codes."""

START_WORDS = frozenset(
    {"start listening", "okay start listening", "please start listening", "microphone on"}
)
STOP_WORDS = frozenset({"stop listening", "okay stop listening", "please stop listening", "microphone off"})


@dataclass(frozen=True)
class _Guess:
    """What was heard of an utterance in a pause; good only if no voice followed."""

    voiced_frames: int
    job: Job


class Listener:
    """Cuts one screen's sound into utterances and has them heard.

    Args:
        heard: awaited with each hearing, in order.
        show: told "speaking", "thinking" or "quiet" when that changes.
    """

    def __init__(
        self,
        screen: str,
        ears: Ears,
        endpoint_s: float,
        heard: Callable[[Hearing, Utterance], Awaitable[None]],
        show: Callable[[str], None],
    ) -> None:
        self._screen, self._ears, self._heard, self._show = screen, ears, heard, show
        self._segmenter = EarlySegmenter(endpoint_s=endpoint_s)
        self._guess: _Guess | None = None
        self._ended: asyncio.Queue[tuple[Job, Utterance]] = asyncio.Queue()
        self._shown = "quiet"
        self._open_jobs = 0
        self._task = asyncio.create_task(self._deliver())

    def push(self, block: Samples) -> None:
        """Hear the next block, shape = (n,)."""
        before = self._segmenter.voiced_frames
        for utterance in self._segmenter.push(block):
            self._ended.put_nowait((self._job_of(utterance, before), utterance))
            self._open_jobs += 1
            self._guess = None
        voiced = self._segmenter.voiced_frames
        if self._guess is not None and voiced != self._guess.voiced_frames:
            self._guess.job.drop()
            self._guess = None
        if self._guess is None and self._segmenter.pausing and self._ears.idle:
            so_far = self._segmenter.so_far()
            self._guess = _Guess(voiced, self._ears.hear(self._screen, so_far.samples))
        self._tell()

    def close(self) -> None:
        """The microphone was closed: what was being said is thrown away."""
        if self._guess is not None:
            self._guess.job.drop()
        self._task.cancel()
        self._show("quiet")

    def _job_of(self, utterance: Utterance, voiced_before: int) -> Job:
        """The guess, if nothing was voiced after it; else the utterance is heard now."""
        if self._guess is not None and self._guess.voiced_frames == voiced_before:
            return self._guess.job
        return self._ears.hear(self._screen, utterance.samples)

    async def _deliver(self) -> None:
        while True:
            job, utterance = await self._ended.get()
            try:
                hearing = await asyncio.wrap_future(job.done)
                await self._heard(hearing, utterance)
            except asyncio.CancelledError:
                task = asyncio.current_task()
                if task is not None and task.cancelling():
                    raise  # the microphone was closed; else only this utterance was dropped
            except TraycallError as error:
                _LOG.info("an utterance was not used: %s", error)
            except Exception:  # one utterance must not end the hearing of the next
                _LOG.exception("an utterance could not be heard")
            finally:
                self._open_jobs -= 1
                self._tell()

    def _tell(self) -> None:
        now = "speaking" if self._segmenter.speaking else "thinking" if self._open_jobs else "quiet"
        if now != self._shown:
            self._shown = now
            self._show(now)


class _Live:
    """One connection."""

    def __init__(self, socket: WebSocket, house: House, room: Room) -> None:
        self._socket, self._house, self._room = socket, house, room
        self._session = room.session.id
        self._screen = Screen(secrets.token_hex(8))
        self._out: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        self._listener: Listener | None = None
        self._waiting = False

    async def run(self) -> None:
        await self._socket.accept()
        try:
            self._house.join(self._session, self._screen)
        except WebError:
            await self._socket.close(TOO_MANY)
            return
        self._screen.changed.set()
        tasks = [asyncio.create_task(task()) for task in (self._send, self._watch)]
        try:
            await self._receive()
        except WebSocketDisconnect:
            pass
        finally:
            for task in tasks:
                task.cancel()
            self._close_microphone()
            self._house.leave(self._session, self._screen)

    async def _send(self) -> None:
        while True:
            await self._socket.send_text(json.dumps(await self._out.get(), ensure_ascii=False))

    async def _watch(self) -> None:
        while True:
            await self._screen.changed.wait()
            self._screen.changed.clear()
            mine = self._house.microphone(self._session)
            if mine != self._screen.id:
                self._close_microphone()
            view = await asyncio.to_thread(room_view, self._room)
            ears = self._house.ears
            view["ears"] = {"state": ears.state.value, "problem": ears.problem}
            view["microphone"] = (
                "elsewhere" if mine not in (None, self._screen.id) else
                "closed" if mine is None else "waiting" if self._waiting else "open"
            )  # fmt: skip
            self._out.put_nowait(view)

    async def _receive(self) -> None:
        while True:
            message = await self._socket.receive()
            if message["type"] == "websocket.disconnect":
                return
            if message.get("bytes") is not None:
                self._sound(message["bytes"])
                continue
            try:
                await self._do(_wish(message.get("text") or ""))
            except TraycallError as error:
                self._out.put_nowait({"type": "problem", "text": str(error)})

    def _sound(self, data: bytes) -> None:
        if self._listener is None or len(data) % 2 or len(data) > LARGEST_BLOCK:
            return
        self._listener.push(np.frombuffer(data, dtype="<i2").astype(np.float32) / 32768.0)

    async def _do(self, wish: dict[str, Any]) -> None:
        what = wish.get("do")
        source = Source.KEYBOARD if wish.get("by") == "keyboard" else Source.TOUCH
        room = self._room
        if what == "microphone":
            self._microphone(bool(wish.get("open")), bool(wish.get("waiting")))
        elif what == "ask":
            await self._change(room.ask, _text(wish, "text", LONGEST_TEXT))
        elif what == "request":
            await self._change(room.request, _text(wish, "item", 80), source)
        elif what == "choose":
            await self._change(room.choose, _number(wish, "number"), source)
        elif what == "touch":
            kind = _kind(_text(wish, "kind", 40))
            await self._change(room.touch, kind, _text(wish, "item", 80), 1, source)
        elif what == "undo":
            await self._change(room.undo, source)
        elif what == "timer":
            act = room.start_timer if wish.get("on") else room.stop_timer
            await self._change(act, _text(wish, "name", 40), source)
        else:
            raise WebError("this page is older than the server: load it again.")

    async def _change(self, act: Callable[..., bool], *args: object) -> None:
        if await asyncio.to_thread(act, *args):
            self._house.tell(self._session)

    # --- microphone -----------------------------------------------------------------------------

    def _microphone(self, is_open: bool, waiting: bool) -> None:
        if not is_open:
            self._house.set_microphone(self._session, self._screen, False)
            self._close_microphone()
            return
        if self._room.closed:
            raise WebError("this session is closed; start a new one.")
        self._waiting = waiting
        if self._listener is None:
            self._listener = Listener(
                self._screen.id,
                self._house.ears,
                self._house.settings.endpoint_s,
                self._heard,
                lambda state: self._out.put_nowait({"type": "ear", "state": state}),
            )
        self._house.set_microphone(self._session, self._screen, True)

    def _close_microphone(self) -> None:
        if self._listener is not None:
            listener, self._listener = self._listener, None
            listener.close()

    async def _heard(self, hearing: Hearing, utterance: Utterance) -> None:
        plain = "".join(c for c in hearing.free_text.lower() if c.isalpha() or c == " ").strip()
        if self._waiting or plain in STOP_WORDS:
            starts = plain in START_WORDS
            if starts == self._waiting:
                self._waiting = not self._waiting
                self._screen.changed.set()
            return
        await self._change(self._room.hear, hearing, utterance, self._house.ears.name)


async def live(socket: WebSocket) -> None:
    """The WebSocket at /chair/{session}/live."""
    house: House = socket.app.state.house
    try:
        room = await asyncio.to_thread(house.room, int(socket.path_params["session"]))
    except NoSession:
        await socket.accept()
        await socket.close(NO_SESSION)
        return
    await _Live(socket, house, room).run()


def _wish(text: str) -> dict[str, Any]:
    try:
        wish = json.loads(text) if len(text) <= LONGEST_WISH else None
    except (ValueError, RecursionError):
        wish = None
    if not isinstance(wish, dict):
        raise WebError("this page sent something that is no wish: load it again.")
    return wish


def _text(wish: dict[str, Any], field: str, longest: int) -> str:
    value = wish.get(field)
    if not isinstance(value, str) or not value.strip() or len(value) > longest:
        raise WebError(f"type between 1 and {longest} characters.")
    return value.strip()


def _number(wish: dict[str, Any], field: str) -> int:
    value = wish.get(field)
    if not isinstance(value, int) or isinstance(value, bool):
        raise WebError(f"{field} must be a whole number.")
    return value


def _kind(value: str) -> EventKind:
    try:
        return EventKind(value)
    except ValueError:
        raise WebError(f"nothing called {value!r} can be recorded.") from None
