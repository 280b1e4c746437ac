"""Who may change the vocabulary: anyone who gave a name and, where one is set, the lead's pass code.

From requests and their cookies this tells who is editing, or why nobody may. One person edits at a time; a
second one is told who it is. Everybody may read. Some groups of pages are for the lead alone: behind the
lead's pass code or, without one, on this machine only.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from urllib.parse import quote, unquote

from starlette.requests import HTTPConnection, Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from listen.live.pass_codes import PassCodes, secret_key
from listen.live.settings import SHORTEST_PASS_CODE, ServerSettings
from listen.web.access.guard import asked, give_cookie
from listen.web.pages import sessions_of
from vocab.errors import Declined
from vocab.layers import Held

LEAD, EDITOR = "traycall_lead", "traycall_editor"
"""Cookies: the pass code was given; who is editing."""
LEAD_CODE = "TRAYCALL_LEAD_CODE"
IDLE_S = 600.0
"""Whoever has changed nothing for this long no longer keeps others from editing."""
LONGEST_NAME = 60


class MayNotEdit(Declined):
    """A change by someone who has not said who they are, or has not given the lead's pass code."""


@dataclass(frozen=True)
class Person:
    """An editor; `id` tells two people with the same name apart."""

    id: str
    name: str


@dataclass(frozen=True)
class Turn:
    """Somebody's turn to edit; times in seconds since 1970."""

    person: Person
    since_s: float
    last_s: float


class Turns:
    """One editor at a time."""

    def __init__(self) -> None:
        self._turn: Turn | None = None
        self._lock = threading.Lock()

    def holder(self, now_s: float) -> Turn | None:
        """Who is editing."""
        turn = self._turn
        return turn if turn is not None and now_s - turn.last_s < IDLE_S else None

    def take(self, person: Person, now_s: float) -> None:
        """Give this person the turn; raises `Held` while someone else has it."""
        with self._lock:
            turn = self.holder(now_s)
            if turn is not None and turn.person.id != person.id:
                since = f"{datetime.fromtimestamp(turn.since_s, UTC):%Y-%m-%d %H:%M} UTC"
                raise Held("the vocabulary", turn.person.name, since)
            self._turn = Turn(person, turn.since_s if turn else now_s, now_s)

    def done(self, person: Person) -> None:
        """End this person's turn."""
        with self._lock:
            if self._turn is not None and self._turn.person.id == person.id:
                self._turn = None


def check_lead_code(lead_code: str | None) -> None:
    """Raises `Declined` for a pass code that is too short."""
    if lead_code is not None and len(lead_code) < SHORTEST_PASS_CODE:
        raise Declined(f"{LEAD_CODE} is too short: take at least {SHORTEST_PASS_CODE} characters.")


def lead_codes(lead_code: str | None, settings: ServerSettings) -> PassCodes | None:
    """What checks the lead's code and the cookie `LEAD`; None where there is no code.

    Raises:
        Declined: a pass code that is too short.
    """
    check_lead_code(lead_code)
    if lead_code is None:
        return None
    key = hmac.new(secret_key(settings.data), b"lead", hashlib.sha256).digest()
    return PassCodes(lead_code, key, settings.clock)


class Rights:
    """Who may edit.

    Args:
        lead_code: None lets anybody at this machine edit, and nobody from other machines.

    Raises:
        Declined: a pass code that is too short.
    """

    def __init__(self, lead_code: str | None, settings: ServerSettings) -> None:
        self.turns = Turns()
        self._clock = settings.clock
        self.codes = lead_codes(lead_code, settings)
        self.closed = (
            f"Nobody can edit here: this server lets other machines in, and was started without {LEAD_CODE}."
            if settings.is_open and lead_code is None
            else ""
        )

    def person(self, connection: HTTPConnection) -> Person | None:
        """Who is editing in this browser; None for a reader."""
        cookies = connection.cookies
        person_id, _, name = cookies.get(EDITOR, "").partition(".")
        if self.closed or not person_id or not name:
            return None
        if self.codes is not None and not self.codes.knows(cookies.get(LEAD)):
            return None
        return Person(person_id[:32], unquote(name)[:LONGEST_NAME])

    def editor(self, connection: HTTPConnection) -> Person:
        """The person who edits; it is their turn from now on.

        Raises:
            MayNotEdit: they are a reader; vocab.layers.Held: somebody else is editing.
        """
        person = self.person(connection)
        if person is None:
            raise MayNotEdit(self.closed or "first say who you are, under Vocabulary, Edit.")
        self.turns.take(person, self._clock())
        return person

    def admit(self, answer: Response, name: str, asked: HTTPConnection) -> None:
        """Set the cookies."""
        given = {EDITOR: f"{secrets.token_hex(8)}.{quote(name[:LONGEST_NAME], safe='')}"}
        if self.codes is not None:
            given[LEAD] = self.codes.cookie()
        for key, value in given.items():
            give_cookie(answer, key, value, asked)

    def dismiss(self, answer: Response) -> None:
        """Delete the cookies."""
        for key in (EDITOR, LEAD):
            answer.delete_cookie(key, httponly=True, samesite="strict")


Endpoint = Callable[[Request], Awaitable[Response]]


class LeadOnly:
    """Guards pages with the lead's code.

    Args:
        lead_code: None where there is none.
        behind: the page that the code leads to; it is asked for at `behind`/enter.
        called: the subject of the sentence that says the pages behind it stay closed.

    Raises:
        Declined: a pass code that is too short.
    """

    def __init__(self, lead_code: str | None, behind: str, called: str) -> None:
        check_lead_code(lead_code)
        self._lead_code, self._behind, self._called = lead_code, behind, called
        self._codes: PassCodes | None = None

    def route(self) -> Route:
        """The page that asks for the code."""
        return Route(f"{self._behind}/enter", self._enter, methods=["GET", "POST"])

    def guarded(self, endpoint: Endpoint) -> Endpoint:
        """The endpoint for the lead; everybody else is asked for the code.

        Raises (when requested):
            Declined: this server lets other machines in and has no lead's code.
        """

        async def inner(request: Request) -> Response:
            if self.closed(request):
                raise Declined(self.closed(request))
            if not self.is_open(request):
                return RedirectResponse(f"{self._behind}/enter", 303)
            return await endpoint(request)

        return inner

    def is_open(self, request: Request) -> bool:
        """Whether the request comes from the lead, or need not."""
        codes = self.codes(request)
        if codes is None:
            return not self.closed(request)
        return codes.knows(request.cookies.get(LEAD))

    def closed(self, request: Request) -> str:
        """Why nobody may enter; "" where the lead may."""
        if self.codes(request) is not None or not sessions_of(request).settings.is_open:
            return ""
        return (
            f"{self._called} stay closed: this server lets other machines in, and was started without "
            f"{LEAD_CODE}."
        )

    def codes(self, request: Request) -> PassCodes | None:
        """What checks the lead's code; None where there is none."""
        if self._codes is None:
            self._codes = lead_codes(self._lead_code, sessions_of(request).settings)
        return self._codes

    async def _enter(self, request: Request) -> Response:
        codes = self.codes(request)
        if codes is None:
            return RedirectResponse(self._behind, 303)
        return await asked(request, codes, "lead_enter.html", LEAD, self._behind, "the lead's pass code")
