"""Routes of the voice check: the page that hears people read, and the recordings that they agreed to keep.

They answer HTTP requests with pages and FLAC files. Anybody may do a voice check; the recordings are for the
lead. What is read, measured and fitted is decided by `listen.voicecheck` and `listen.live.voice_checks`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket

from listen.live.voice_checks import VoiceChecks
from listen.live.workers import Workers
from listen.voicecheck.fit import LEAST, too_few
from listen.voicecheck.outcome import Outcome
from listen.voicecheck.room import RUNNING_NAMES, Running
from listen.voicecheck.store import LONGEST_WHO, PURPOSE, Measurement, Person, Recording
from listen.voicecheck.wording import OUTCOME_NAMES
from listen.web.access.editors import LeadOnly
from listen.web.app import Link
from listen.web.pages import VOICE_CHECK, local_time, page, sessions_of
from listen.web.voice.connection import Lines
from vocab.errors import Declined
from vocab.language.numerals import whole_number

PLACE = VOICE_CHECK
RECORDINGS = f"{PLACE}/recordings"
LINK = Link("Voice check", PLACE, under="/")
MOST_MEASURED = 12
"""How many of the newest measurements are listed."""


@dataclass(frozen=True)
class RecordingLine:
    """A recording in the list. now: what the newest measurement made of it; "" where none did."""

    id: int
    at: str
    running: str
    text: str
    now: str


@dataclass(frozen=True)
class PersonCard:
    """What the page says about one person."""

    person: Person
    since: str
    told: str
    recordings: tuple[RecordingLine, ...]


@dataclass(frozen=True)
class MeasuredLine:
    """A measurement in the list. same: how the one before did on the recordings of both; "" for the first."""

    at: str
    told: str
    parts: str
    same: str
    conditions: str


class VoicePages:
    """The pages and what their forms do.

    Args:
        lead_code: the lead's pass code, None where there is none.
    """

    def __init__(self, lead_code: str | None) -> None:
        self._door = LeadOnly(lead_code, RECORDINGS, "recordings of the voice check")
        self._workers = Workers("voice check", 1)
        self._lines = Lines()
        self._checks: VoiceChecks | None = None

    def routes(self) -> Sequence[BaseRoute]:
        """What to mount."""
        guarded = self._door.guarded
        return (
            Route(PLACE, self.show),
            WebSocketRoute(f"{PLACE}/live", self.live),
            Route(RECORDINGS, guarded(self.recordings)),
            Route(RECORDINGS, guarded(self.change), methods=["POST"]),
            Route(f"{RECORDINGS}/state", guarded(self.state)),
            Route(f"{RECORDINGS}/{{recording:int}}.flac", guarded(self.sound)),
            self._door.route(),
        )

    def _of(self, connection: HTTPConnection) -> VoiceChecks:
        if self._checks is None:
            self._checks = VoiceChecks(sessions_of(connection))
        return self._checks

    async def show(self, request: Request) -> Response:
        """The page that hears people read."""
        proposed = request.query_params.get("procedure", "")
        running = sessions_of(request)
        first = running.proposed
        chosen = proposed or f"{first.pack.id}/{'' if first.procedure is None else first.procedure.id}"
        return page(
            request,
            "voice_check.html",
            chosen=chosen,
            running_names={one.value: name for one, name in RUNNING_NAMES.items()},
            purpose=PURPOSE,
            longest=LONGEST_WHO,
        )

    async def live(self, socket: WebSocket) -> None:
        """The live connection of a round."""
        await self._lines.live(socket, self._of(socket))

    async def recordings(self, request: Request) -> Response:
        """What was kept, by person, and what was measured."""
        checks = self._of(request)

        def made() -> dict[str, Any]:
            recordings = {one.id: one for one in checks.store.recordings()}
            measured = checks.store.measurements()
            return {
                "cards": [self._card(checks, one, recordings, measured) for one in checks.store.people()],
                "measured": _measured_lines(checks, recordings, measured),
                "adopted": checks.store.adopted(),
                "too_few": too_few(len(recordings)),
                "by_running": _by_running(recordings, measured),
            }

        return page(
            request,
            "voice_recordings.html",
            progress=checks.progress,
            least=LEAST,
            purpose=PURPOSE,
            needs_code=self._door.codes(request) is not None,
            **await self._workers.run(made),
        )

    def _card(
        self,
        checks: VoiceChecks,
        person: Person,
        recordings: Mapping[int, Recording],
        measured: Sequence[Measurement],
    ) -> PersonCard:
        own = {key: one for key, one in recordings.items() if one.person == person.id}
        newest = next((m for m in reversed(measured) if m.outcomes.keys() & own.keys()), None)
        lines = tuple(
            RecordingLine(
                one.id,
                local_time(checks.running, one.at_s),
                RUNNING_NAMES[one.running],
                _text(checks, one),
                "" if newest is None or key not in newest.outcomes else OUTCOME_NAMES[newest.outcomes[key]],
            )
            for key, one in own.items()
        )
        told = "" if newest is None else newest.tally(own).in_words
        return PersonCard(person, local_time(checks.running, person.agreed_s), told, lines)

    async def change(self, request: Request) -> Response:
        """Delete, measure, fit, or switch the two numbers."""
        form = await request.form(max_files=0, max_fields=4)
        wish = _WISHES.get(str(form.get("do")))
        if wish is None:
            raise Declined("this page can measure, delete and fit; load it again.")
        await self._workers.run(wish, self._of(request), form)
        return RedirectResponse(RECORDINGS, 303)

    async def state(self, request: Request) -> Response:
        """How far measuring is."""
        return JSONResponse(asdict(self._of(request).progress))

    async def sound(self, request: Request) -> Response:
        """A recording, to be played."""
        checks = self._of(request)
        data = await self._workers.run(checks.store.sound_file, int(request.path_params["recording"]))
        return Response(data, media_type="audio/flac", headers={"cache-control": "no-store"})


# --- what the forms do ------------------------------------------------------------------------------


def _delete(checks: VoiceChecks, form: FormData) -> None:
    checks.store.delete(whole_number(str(form.get("recording"))) or 0)


def _withdraw(checks: VoiceChecks, form: FormData) -> None:
    _must_be_sure(form)
    checks.store.withdraw(whole_number(str(form.get("person"))) or 0)
    checks.running.readjust()


def _delete_everything(checks: VoiceChecks, form: FormData) -> None:
    _must_be_sure(form)
    checks.store.delete_everything()
    checks.running.readjust()


def _must_be_sure(form: FormData) -> None:
    if form.get("sure") != "yes":
        raise Declined("tick that the recordings are to be deleted; this cannot be undone.")


_WISHES: Mapping[str, Callable[[VoiceChecks, FormData], None]] = {
    "delete": _delete,
    "withdraw": _withdraw,
    "delete_everything": _delete_everything,
    "measure": lambda checks, form: checks.start_measuring(),
    "fit": lambda checks, form: checks.start_fitting(),
    "switch_on": lambda checks, form: checks.switch(True),
    "switch_off": lambda checks, form: checks.switch(False),
}


# --- what the page says -----------------------------------------------------------------------------


def _text(checks: VoiceChecks, one: Recording) -> str:
    """What was read; of a picture what it shows."""
    if one.line.text:
        return one.line.text
    packs = {pack.id: pack for pack in checks.running.packs}
    called = packs[one.line.field].called if one.line.field in packs else {}
    return f"Picture: {called.get(one.line.item or '', one.line.item or '')}"


def _measured_lines(
    checks: VoiceChecks, recordings: Mapping[int, Recording], measured: Sequence[Measurement]
) -> list[MeasuredLine]:
    """The newest first."""
    lines = []
    for number, one in enumerate(measured):
        earlier = reversed(measured[:number])
        before = next((m for m in earlier if m.outcomes.keys() & one.outcomes.keys()), None)
        tally, made_with = one.tally(recordings), one.conditions
        lines.append(
            MeasuredLine(
                local_time(checks.running, one.at_s),
                tally.in_words,
                tally.parts_in_words,
                "" if before is None else _on_the_same(checks, recordings, before, one),
                f"traycall {made_with.version}, {made_with.engine}, vocabulary {made_with.vocabulary}",
            )
        )
    return lines[::-1][:MOST_MEASURED]


def _on_the_same(
    checks: VoiceChecks, recordings: Mapping[int, Recording], before: Measurement, now: Measurement
) -> str:
    both = {key: recordings[key] for key in before.outcomes.keys() & now.outcomes.keys()}
    day = local_time(checks.running, before.at_s, "%d %b %Y")
    newer = now.tally(both)
    was = before.tally(both).in_words
    return f"On the same recordings: {was} on {day}, now {newer.understood} of {newer.requests}."


def _by_running(
    recordings: Mapping[int, Recording], measured: Sequence[Measurement]
) -> list[tuple[str, str]]:
    """Of every recording its newest measurement, by what was running."""
    newest: dict[int, Outcome] = {}
    for one in measured:
        newest |= one.outcomes
    whole = Measurement(0, 0.0, measured[-1].conditions, newest) if measured else None
    rows = []
    for running in Running:
        own = {key: one for key, one in recordings.items() if one.running is running}
        if whole is not None and own:
            rows.append((RUNNING_NAMES[running], whole.tally(own).in_words))
    return rows


def routes(lead_code: str | None = None) -> Sequence[BaseRoute]:
    """The routes to mount: `create_app(..., more_routes=voice.routes(), more_links=(voice.LINK,))`."""
    return VoicePages(lead_code).routes()
