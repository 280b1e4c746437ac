"""Who may change the vocabulary: whoever gave a name and, where one is set, the lead's pass code.

Comes in: requests and their cookies. Goes out: the person who edits, or why nobody may. One person edits
at a time; a second one is told who it is. Everybody may read.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
from dataclasses import dataclass
from datetime import UTC, datetime
from urllib.parse import quote, unquote

from starlette.requests import HTTPConnection
from starlette.responses import Response

from listen.live.settings import SHORTEST_PASS_CODE, WebError, WebSettings
from listen.web.access.guard import PassCodes, give_cookie, secret_key
from vocab.layers import Held

LEAD, EDITOR = "traycall_lead", "traycall_editor"
"""Cookies: the pass code was given; who is editing."""
LEAD_CODE = "TRAYCALL_LEAD_CODE"
IDLE_S = 600.0
"""Who has changed nothing for so long no longer keeps others from editing."""
LONGEST_NAME = 60


class MayNotEdit(WebError):
    """A change by somebody who has not said who they are, or has not given the lead's pass code."""


@dataclass(frozen=True)
class Person:
    """An editor; `id` tells two people of one name apart."""

    id: str
    name: str


@dataclass(frozen=True)
class Turn:
    """Somebody is editing; seconds since 1970."""

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
        """It is this person's turn from now on; raises `Held` while it is another's."""
        with self._lock:
            turn = self.holder(now_s)
            if turn is not None and turn.person.id != person.id:
                since = f"{datetime.fromtimestamp(turn.since_s, UTC):%Y-%m-%d %H:%M} UTC"
                raise Held("the vocabulary", turn.person.name, since)
            self._turn = Turn(person, turn.since_s if turn else now_s, now_s)

    def done(self, person: Person) -> None:
        """This person's turn is over."""
        with self._lock:
            if self._turn is not None and self._turn.person.id == person.id:
                self._turn = None


def check_lead_code(lead_code: str | None) -> None:
    """Raises `WebError` for a pass code that is too short."""
    if lead_code is not None and len(lead_code) < SHORTEST_PASS_CODE:
        raise WebError(f"{LEAD_CODE} is too short: take at least {SHORTEST_PASS_CODE} characters.")


def lead_codes(lead_code: str | None, settings: WebSettings) -> PassCodes | None:
    """What checks the lead's code and the cookie `LEAD`; None where there is no code.

    Raises:
        WebError: a pass code that is too short.
    """
    check_lead_code(lead_code)
    if lead_code is None:
        return None
    key = hmac.new(secret_key(settings.data), b"lead", hashlib.sha256).digest()
    return PassCodes(lead_code, key, settings.clock)


class Rights:
    """Who may edit.

    Args:
        lead_code: None where anybody at this machine may edit; then nobody may from other machines.

    Raises:
        WebError: a pass code that is too short.
    """

    def __init__(self, lead_code: str | None, settings: WebSettings) -> None:
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
        """The person, whose turn it is now.

        Raises:
            MayNotEdit: a reader; vocab.layers.Held: somebody else is editing.
        """
        person = self.person(connection)
        if person is None:
            raise MayNotEdit(self.closed or "say first who you are: Vocabulary, Edit.")
        self.turns.take(person, self._clock())
        return person

    def admit(self, answer: Response, name: str, asked: HTTPConnection) -> None:
        """Give the cookies."""
        given = {EDITOR: f"{secrets.token_hex(8)}.{quote(name[:LONGEST_NAME], safe='')}"}
        if self.codes is not None:
            given[LEAD] = self.codes.cookie()
        for key, value in given.items():
            give_cookie(answer, key, value, asked)

    def dismiss(self, answer: Response) -> None:
        """Take the cookies back."""
        for key in (EDITOR, LEAD):
            answer.delete_cookie(key, httponly=True, samesite="strict")
