"""The cookie by which a browser is known as a trainee's."""

from __future__ import annotations

from starlette.requests import HTTPConnection
from starlette.responses import Response

from listen.practice.trainees import LASTING_S, Ticket, Trainees
from listen.web.access.guard import give_cookie

COOKIE = "traycall_trainee"


def given(connection: HTTPConnection) -> str | None:
    """What this browser was given; None where it was given nothing."""
    return connection.cookies.get(COOKIE)


def give(
    answer: Response, trainees: Trainees, ticket: Ticket, asked: HTTPConnection, lasting: bool | None = None
) -> None:
    """The cookie, or a fresh one; `lasting` for a device of the trainee's own, as before where not given."""
    if lasting is None:
        lasting = trainees.is_lasting(given(asked))
    if lasting:
        give_cookie(answer, COOKIE, trainees.cookie(ticket, True), asked, LASTING_S)
    else:
        give_cookie(answer, COOKIE, trainees.cookie(ticket), asked)


def take_back(answer: Response) -> None:
    """Nobody is known in this browser any more."""
    answer.delete_cookie(COOKIE, httponly=True, samesite="strict")
