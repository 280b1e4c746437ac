"""A screen's live connection: sound and messages come in, the session and the microphone's state go out.

All of it over one WebSocket: 16-bit little-endian PCM, 16 kHz mono, in binary messages, and JSON both ways.
Sound, the browser's or the server's own microphone's, is heard only while the screen has it open; it is never
stored, and what was said is never sent back. A typed name that nothing has goes back to the screen that it
was typed on, and to no other.
"""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Callable
from contextlib import suppress
from typing import TypeVar

from starlette.websockets import WebSocket

from listen.audio import level
from listen.chairside.session import ChairSession
from listen.chairside.stage import NOT_KNOWN
from listen.chairside.view import session_view
from listen.engine import Hearing, Samples
from listen.live.listener import HELD_S, Listener
from listen.live.sessions import NoSession, Screen, Sessions
from listen.live.spoken_switch import Switch, spoken_switch
from listen.segments import Utterance
from listen.web.access.guard import may_open_own_microphone
from listen.web.chair.messages import (
    SENT,
    Ask,
    Choose,
    Injury,
    Looked,
    MicrophoneSwitch,
    NotAsked,
    Sent,
    TakeBack,
    Timer,
    Touch,
    TouchedItem,
)
from listen.web.wire import NO_SESSION, TOO_MANY, Outbox, parsed, samples
from vocab.errors import Declined, TraycallError
from vocab.layers.unknown_words import unknown_name

_Given = TypeVar("_Given")

QUIETEST_DB = -60.0
"""The level that a screen shows as none."""
LEVEL_EVERY = 3
"""Blocks of the server's own microphone between two levels that are shown."""


class _Live:
    """One connection."""

    def __init__(self, socket: WebSocket, running: Sessions, chair_session: ChairSession) -> None:
        self._socket, self._running, self._chair_session = socket, running, chair_session
        self._session = chair_session.session.id
        self._ear = running.engine_queue.of(chair_session.session.pack)
        self._out = Outbox(socket)
        self._screen = Screen(
            secrets.token_hex(8), lambda state: self._out.put({"type": "ear", "state": state})
        )
        self._listener: Listener | None = None
        self._finishing: set[asyncio.Task[None]] = set()
        self._waiting = False
        self._own = False
        self._blocks = 0

    async def run(self) -> None:
        await self._socket.accept()
        try:
            self._running.join(self._session, self._screen)
        except Declined:
            await self._socket.close(TOO_MANY)
            return
        self._screen.changed.set()
        watching = asyncio.create_task(self._watch())
        try:
            await self._out.while_read(self._receive())
        finally:
            for task in (watching, *self._finishing):
                task.cancel()
            self._hear_no_more()
            self._running.leave(self._session, self._screen)

    async def _watch(self) -> None:
        while True:
            await self._screen.changed.wait()
            self._screen.changed.clear()
            opened = self._running.microphone(self._session)
            mine = opened is not None and opened.screen == self._screen.id
            if not mine:
                self._hear_no_more()
            elif self._chair_session.closed:
                self._lose("The session is closed, and the microphone with it.")
                continue
            view = await asyncio.to_thread(session_view, self._chair_session)
            view["ears"] = {"state": self._ear.state.value, "problem": self._ear.problem}
            view["microphone"] = (
                "closed" if opened is None else "elsewhere" if not mine else
                "waiting" if self._waiting else "open"
            )  # fmt: skip
            view["own"] = None if opened is None else opened.own
            self._out.put(view)

    async def _receive(self) -> None:
        while True:
            message = await self._socket.receive()
            if message["type"] == "websocket.disconnect":
                return
            if message.get("bytes") is not None:
                self._sound(message["bytes"])
                continue
            try:
                await self._do(parsed(SENT, message.get("text") or ""))
            except TraycallError as error:
                self._out.put({"type": "problem", "text": str(error)})

    def _sound(self, data: bytes) -> None:
        sound = samples(data)
        if self._listener is not None and not self._own and sound is not None:
            self._listener.push(sound)

    async def _do(self, sent: Sent) -> None:
        session = self._chair_session
        match sent:
            case MicrophoneSwitch():
                await self._microphone(sent)
            case Ask():
                await self._change(session.ask, sent.text)
                await self._say_unknown(sent.text)
            case TouchedItem():
                await self._change(session.request, sent.item, sent.size, sent.source)
            case Choose():
                await self._change(session.choose, sent.number, sent.source)
            case Touch():
                await self._change(session.touch, sent.kind, sent.item, sent.quantity, sent.source)
            case NotAsked():
                await self._change(session.not_asked, sent.item, sent.source)
            case Looked():
                await self._change(session.looked, sent.who or None, sent.source)
            case Injury(open=True):
                await self._change(session.open_injury_card, sent.source)
            case Injury():
                await self._change(session.close_injury_card)
            case TakeBack():
                await self._change(session.undo, sent.source, sent.seq)
            case Timer():
                act = session.start_timer if sent.on else session.stop_timer
                await self._change(act, sent.name, sent.source)

    async def _say_unknown(self, text: str) -> None:
        """Tell this screen alone which name nothing has, after a typed request that asked for nothing."""
        stage, chair = self._chair_session.stage, self._chair_session.chair
        if stage.note == NOT_KNOWN:
            name = await asyncio.to_thread(unknown_name, text, chair.lexicon, chair.pack.speech)
            self._out.put({"type": "unknown", "number": stage.number, "called": name or text})

    async def _change(self, act: Callable[..., bool], *args: object) -> None:
        if await asyncio.to_thread(act, *args):
            self._running.tell(self._session)

    # --- microphone -----------------------------------------------------------------------------

    async def _microphone(self, sent: MicrophoneSwitch) -> None:
        if sent.open:
            try:
                await self._open(sent.own, sent.waiting, sent.held)
            except TraycallError as error:
                self._lose(str(error))
        elif sent.finish and self._listener is not None:
            task = asyncio.create_task(self._finish(self._listener))
            self._finishing.add(task)
            task.add_done_callback(self._finishing.discard)
        else:
            self._running.close_microphone(self._session, self._screen)
            self._hear_no_more()

    async def _open(self, own: bool, waiting: bool, held: bool) -> None:
        if self._chair_session.closed:
            raise Declined("this session is closed; start a new one.")
        if own and not may_open_own_microphone(self._socket, self._socket.app.state.codes):
            raise Declined("the server's own microphone is opened on that machine, or with the pass code.")
        self._hear_no_more()
        self._waiting, self._own = waiting, own
        if own:
            take, lost = _soon(self._own_sound), _soon(self._lose)
            open_it = self._running.open_own_microphone
            await asyncio.to_thread(open_it, self._session, self._screen, take, lost)
        else:
            self._running.open_microphone(self._session, self._screen)
        listener = self._listener = Listener(
            self._screen.id,
            self._ear,
            HELD_S if held else self._running.settings.endpoint_s,
            self._heard,
            lambda state: self._show_ear(listener, state),
            lambda why: self._out.put({"type": "problem", "text": why}),
            None if held else self._enough,
        )

    async def _finish(self, listener: Listener) -> None:
        """The key was let go: what was being said ends, the microphone closes, the answer still comes."""
        try:
            await listener.finish()
            if listener is self._listener:
                self._listener = None
                self._running.close_microphone(self._session, self._screen)
            await listener.delivered()
        finally:
            listener.close()

    def _own_sound(self, block: Samples) -> None:
        """A block of the server's own microphone; its level is shown, as the browser shows its own."""
        if self._listener is None or not self._own:
            return
        self._listener.push(block)
        self._blocks += 1
        if self._blocks % LEVEL_EVERY == 0:
            share = 1 - level(block).peak_db / QUIETEST_DB
            self._out.put({"type": "level", "level": round(min(1.0, max(0.0, share)), 2)})

    def _lose(self, why: str) -> None:
        """The microphone is closed though nobody closed it here."""
        self._running.close_microphone(self._session, self._screen)
        self._hear_no_more()
        self._out.put({"type": "lost", "text": why})

    def _hear_no_more(self) -> None:
        if self._listener is not None:
            listener, self._listener = self._listener, None
            listener.close()

    def _show_ear(self, listener: Listener, state: str) -> None:
        if self._listener in (None, listener):
            self._running.show_ear(self._session, state)

    async def _enough(self, hearing: Hearing) -> float | None:
        return None if self._waiting else await asyncio.to_thread(self._chair_session.enough_s, hearing)

    def _far(self, one: str, other: str) -> float:
        """How far apart two texts sound, 0 to 1."""
        return self._running.all_fields.reader(self._chair_session.session.pack, None).apart(one, other)

    async def _heard(self, hearing: Hearing, utterance: Utterance) -> None:
        switch = await asyncio.to_thread(spoken_switch, hearing.free_text, self._far)
        if self._waiting or switch is Switch.STOP:
            if switch is (Switch.START if self._waiting else Switch.STOP):
                self._waiting = not self._waiting
                self._screen.changed.set()
            return
        await self._change(self._chair_session.hear, hearing)


async def live(socket: WebSocket) -> None:
    """The WebSocket at /chair/{session}/live."""
    running: Sessions = socket.app.state.running
    try:
        chair_session = await asyncio.to_thread(running.chair_session, int(socket.path_params["session"]))
    except NoSession:
        await socket.accept()
        await socket.close(NO_SESSION)
        return
    await _Live(socket, running, chair_session).run()


def _soon(act: Callable[[_Given], None]) -> Callable[[_Given], None]:
    """The same, to be called from any thread and done in this one."""
    loop = asyncio.get_running_loop()

    def later(given: _Given) -> None:
        with suppress(RuntimeError):  # the server has ended
            loop.call_soon_threadsafe(act, given)

    return later
