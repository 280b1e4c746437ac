"""A voice check's live connection: a browser's sound comes in; the room, and what came of each line, go out.

All of it over one WebSocket: 16-bit little-endian PCM, 16 kHz mono, in binary messages, and JSON both ways. A
round lives as long as its connection and in memory only; its sound is stored when the page sends the person's
consent, and not before.
"""

from __future__ import annotations

import asyncio
import secrets
from dataclasses import asdict
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field, StringConstraints, TypeAdapter
from starlette.websockets import WebSocket

from listen.engine import SAMPLE_RATE_HZ, Hearing, Samples
from listen.live.engine_queue import EarState
from listen.live.listener import Listener
from listen.live.voice_checks import VoiceChecks
from listen.segments import Utterance
from listen.voicecheck.lines import Kind, Line
from listen.voicecheck.outcome import Place, Result, Tally
from listen.voicecheck.room import QUIET_S, RUNNING_NAMES, Running, measured, room_advice, room_told
from listen.voicecheck.round import Hard, Round
from listen.voicecheck.store import LONGEST_WHO
from listen.voicecheck.wording import HOW, OUTCOME_NAMES, Called, told
from listen.web.wire import TOO_MANY, Message, Outbox, parsed, samples
from vocab.errors import Declined, TraycallError

MOST_CONNECTED = 8
GO_ON_S = 1.6
"""Silence after something that asked for nothing: then a line is over, as far as it was understood."""
LONGEST_S, MOST_SPOKEN = 25.0, 5
"""A line takes no longer, and has no more utterances."""
LOOK_S = 0.2
"""How often it is looked whether an engine is loaded."""
_Id = Annotated[str, StringConstraints(min_length=1, max_length=80)]


class Begin(Message):
    """The procedures whose trays are used, each a vocabulary and a procedure."""

    do: Literal["begin"]
    procedures: Annotated[list[list[_Id]], Field(max_length=20)]


class Measure(Message):
    """Measure the room's sound, with this running."""

    do: Literal["measure"]
    running: Annotated[Running, Field(strict=False)]


class ReadLine(Message):
    """Line `number`, from 0, is read now, with this running."""

    do: Literal["read"]
    number: Annotated[int, Field(ge=0)]
    running: Annotated[Running, Field(strict=False)]


class Stop(Message):
    """Hear nothing until the next wish."""

    do: Literal["stop"]


class Finish(Message):
    """Send the result of what was read."""

    do: Literal["finish"]


class Keep(Message):
    """Keep the recordings of this round, if the person agrees."""

    do: Literal["keep"]
    who: Annotated[str, StringConstraints(max_length=LONGEST_WHO)]
    agreed: bool


Sent = Begin | Measure | ReadLine | Stop | Finish | Keep
SENT: TypeAdapter[Sent] = TypeAdapter(Annotated[Sent, Field(discriminator="do")])


class _Reading:
    """A line that is being read: its sound so far and what was heard of it."""

    def __init__(self, number: int, running: Running) -> None:
        self.number, self.running = number, running
        self.listener: Listener | None = None
        self.sound: list[Samples] = []
        self.length = 0
        self.heard: list[Hearing] = []
        self.utterances: list[Utterance] = []
        self.quiet_from: int | None = None
        self.speaking = False

    @property
    def length_s(self) -> float:
        return self.length / SAMPLE_RATE_HZ

    @property
    def is_over(self) -> bool:
        """Whether nothing more is waited for, though nothing was answered or asked about."""
        if self.speaking or not self.heard:
            return False
        quiet_s = 0.0 if self.quiet_from is None else (self.length - self.quiet_from) / SAMPLE_RATE_HZ
        return quiet_s >= GO_ON_S or len(self.heard) >= MOST_SPOKEN or self.length_s >= LONGEST_S

    def close(self) -> None:
        if self.listener is not None:
            self.listener.close()
            self.listener = None


class LiveCheck:
    """One connection."""

    def __init__(self, socket: WebSocket, checks: VoiceChecks) -> None:
        self._checks, self._out = checks, Outbox(socket)
        self._socket, self._screen = socket, secrets.token_hex(8)
        self._round: Round | None = None
        self._places: dict[tuple[str, str], Place] = {}
        self._measuring: tuple[Running, list[Samples]] | None = None
        self._reading: _Reading | None = None
        self._kept = False

    async def run(self) -> None:
        """Until the page goes, and the round with it."""
        try:
            await self._out.while_read(self._receive())
        finally:
            self._stop()

    async def _receive(self) -> None:
        while True:
            message = await self._socket.receive()
            if message["type"] == "websocket.disconnect":
                return
            try:
                if message.get("bytes") is not None:
                    await self._sound(message["bytes"])
                else:
                    await self._do(parsed(SENT, message.get("text") or ""))
            except TraycallError as error:
                self._out.put({"type": "problem", "text": str(error)})

    async def _do(self, sent: Sent) -> None:
        match sent:
            case Begin():
                self._stop()
                await self._begin(sent)
            case Measure():
                self._stop()
                self._measuring = (sent.running, [])
            case ReadLine():
                self._stop()
                self._read(sent)
            case Stop():
                self._stop()
            case Finish():
                self._stop()
                self._out.put({"type": "result", **result_view(self._now, self._called)})
            case Keep():
                await self._keep(sent)

    @property
    def _now(self) -> Round:
        if self._round is None:
            raise Declined("choose the trays first.")
        return self._round

    async def _begin(self, sent: Begin) -> None:
        wanted = [(pair[0], pair[1]) for pair in sent.procedures if len(pair) == 2]
        rng = np.random.default_rng()
        self._round = await asyncio.to_thread(self._checks.begin, wanted, rng)
        self._kept = False
        self._places = {pair: await asyncio.to_thread(self._checks.place, *pair) for pair in wanted}
        for field, _ in self._places:
            await self._until_heard(field)
        lines = [line_view(line, self._places[line.field, line.procedure]) for line in self._round.lines]
        self._out.put({"type": "lines", "lines": lines})

    async def _until_heard(self, field: str) -> None:
        """Wait until a field is heard; `Declined` where it never will be."""
        ear = self._checks.running.engine_queue.of(field)
        while ear.state is EarState.LOADING:
            await asyncio.sleep(LOOK_S)
        if ear.state is EarState.MISSING:
            raise Declined(f"nothing can be heard: {ear.problem or 'the engine is missing'}")

    def _stop(self) -> None:
        self._measuring = None
        if self._reading is not None:
            self._reading.close()
            self._reading = None

    # --- sound ------------------------------------------------------------------------------------

    async def _sound(self, data: bytes) -> None:
        sound = samples(data)
        if sound is None:
            return
        if self._measuring is not None:
            self._measure(*self._measuring, sound)
        reading = self._reading
        if reading is not None and reading.listener is not None:
            reading.sound.append(sound)
            reading.length += len(sound)
            reading.listener.push(sound)
            if reading.is_over:
                await self._end(reading)
            elif not reading.heard and reading.length_s >= LONGEST_S and not reading.speaking:
                self._read(ReadLine(do="read", number=reading.number, running=reading.running))

    def _measure(self, running: Running, taken: list[Samples], sound: Samples) -> None:
        taken.append(sound)
        if sum(map(len, taken)) < QUIET_S * SAMPLE_RATE_HZ:
            return
        self._measuring = None
        room = measured(np.concatenate(taken))
        self._now.rooms[running] = room
        self._out.put(
            {
                "type": "room",
                "running": running.value,
                "told": room_told(room),
                "dead": room.is_dead,
                "advice": room_advice(room, running),
            }
        )

    # --- reading ----------------------------------------------------------------------------------

    def _read(self, sent: ReadLine) -> None:
        """Listen to a line from here on."""
        if sent.number >= len(self._now.lines):
            raise Declined("there is no such line; begin again.")
        self._stop()
        line = self._now.lines[sent.number]
        reading = self._reading = _Reading(sent.number, sent.running)
        assistant = self._places[line.field, line.procedure].assistant()

        async def enough(hearing: Hearing) -> float | None:
            return await asyncio.to_thread(assistant.enough_s, hearing)

        async def heard(hearing: Hearing, utterance: Utterance) -> None:
            await self._heard(reading, line, hearing, utterance)

        def show(state: str) -> None:
            reading.speaking = state != "quiet"
            if not reading.speaking:
                reading.quiet_from = reading.length
            if reading is self._reading:
                self._out.put({"type": "ear", "state": state})

        reading.listener = Listener(
            self._screen,
            self._checks.running.engine_queue.of(line.field),
            self._checks.running.settings.endpoint_s,
            heard,
            show,
            lambda why: self._out.put({"type": "problem", "text": why}),
            enough,
        )

    async def _heard(self, reading: _Reading, line: Line, hearing: Hearing, utterance: Utterance) -> None:
        if reading is not self._reading:
            return
        reading.heard.append(hearing)
        reading.utterances.append(utterance)
        reading.quiet_from = reading.length
        result = await self._result(reading)
        if result.acted:
            await self._end(reading, result)

    async def _result(self, reading: _Reading) -> Result:
        line = self._now.lines[reading.number]
        place = self._places[line.field, line.procedure]
        return await asyncio.to_thread(place.result, line, tuple(reading.heard))

    async def _end(self, reading: _Reading, result: Result | None = None) -> None:
        """What was heard of a line is what counts; the page asks for the next one."""
        if reading is not self._reading:
            return
        self._reading = None
        result = result or await self._result(reading)
        stream = np.concatenate(reading.sound)
        self._now.heard(reading.number, reading.running, result, stream, reading.utterances)
        line = self._now.lines[reading.number]
        self._out.put(
            {
                "type": "heard",
                "number": reading.number,
                "outcome": result.outcome.value,
                "told": told(line, result, self._called),
            }
        )
        listener, reading.listener = reading.listener, None
        if listener is not None:  # it may be the one whose hearing is delivered just now
            asyncio.get_running_loop().call_soon(listener.close)

    def _called(self, item: str) -> str:
        packs = [place.chair.pack for place in self._places.values()]
        return next((pack.called[item] for pack in packs if item in pack.called), item)

    # --- keeping ----------------------------------------------------------------------------------

    async def _keep(self, sent: Keep) -> None:
        if self._kept:
            raise Declined("the recordings of this round are kept already.")
        ids = await asyncio.to_thread(self._checks.keep, sent.who, sent.agreed, self._now.read)
        self._kept = True
        self._out.put({"type": "kept", "number": len(ids), "who": sent.who})


def line_view(line: Line, place: Place) -> dict[str, Any]:
    """A line as the page shows it; of a picture only the drawing and what it looks like."""
    drawn = line.item if line.kind is Kind.PICTURE else None
    look = place.chair.pack.item(drawn).look if drawn is not None else ""
    return {"how": HOW[line.kind], "text": line.text, "drawn": drawn, "look": look}


def result_view(now: Round, called: Called) -> dict[str, Any]:
    """The result of a round, in words."""
    tally = now.tally()
    return {
        "read": len(now.read),
        "summary": tally.in_words if tally.requests else "Nothing was read yet",
        "again": tally.again_in_words,
        "parts": tally.parts_in_words,
        "by_running": [_by_running(running, one) for running, one in now.by_running],
        "advice": now.advice,
        "hard": [_hard_view(one, called) for one in now.hard],
        "tally": asdict(tally),
    }


def _by_running(running: Running, tally: Tally) -> dict[str, str]:
    return {"name": RUNNING_NAMES[running], "told": tally.in_words, "parts": tally.parts_in_words}


def _hard_view(one: Hard, called: Called) -> dict[str, Any]:
    assert one.line.item is not None
    return {
        "field": one.line.field,
        "item": one.line.item,
        "name": called(one.line.item),
        "said": one.line.name,
        "outcome": OUTCOME_NAMES[one.outcome],
        "other": one.other,
        "other_name": "" if one.other is None else called(one.other),
    }


class Lines:
    """The WebSocket; counts how many are connected."""

    def __init__(self) -> None:
        self._connected = 0

    async def live(self, socket: WebSocket, checks: VoiceChecks) -> None:
        """Serve one connection until it ends."""
        await socket.accept()
        if self._connected >= MOST_CONNECTED:
            await socket.close(TOO_MANY)
            return
        self._connected += 1
        try:
            await LiveCheck(socket, checks).run()
        finally:
            self._connected -= 1
