"""Who practises: a trainee's own code opens what is theirs, and guessing it is slowed down.

Names, codes and cookies go in; the trainee comes out, or why there is none. A cookie says whose code was
given and ends with that code. Wrong guesses make only that one address wait, for that one trainee: whoever
knows the code and comes from elsewhere never has to.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from listen.live.pass_codes import Guesses, Seal, source_of
from listen.practice.store import Known, PracticeStore, is_their_code
from listen.practice.tables import name_key
from vocab.errors import Declined

VALID_S = 2 * 3600.0
"""So long after the last page a browser still knows whose it is."""
LASTING_S = 30 * 24 * 3600.0
"""The same on a trainee's own device, where the trainee asked for it."""


class NotYours(Declined):
    """A page that needs a trainee's own code."""


class WrongCode(Declined):
    """Not the code, or guessed too soon; status: as HTTP has it."""

    def __init__(self, text: str, status: int) -> None:
        super().__init__(text)
        self.status = status


@dataclass(frozen=True)
class Ticket:
    """Whose code was given. stamp: of the code, so that a new code ends it."""

    trainee: int
    stamp: str

    @classmethod
    def of(cls, known: Known) -> Ticket:
        """The ticket of a trainee who has a code."""
        return cls(known.id, hashlib.sha256((known.code or "").encode()).hexdigest()[:16])


class Trainees:
    """Knows trainees by their codes, and by the cookies that they are given.

    Args:
        store: the app's practice store; key: secret bytes of this installation.
    """

    def __init__(self, store: PracticeStore, key: bytes, clock: Callable[[], float]) -> None:
        self._store, self._clock = store, clock
        self._seal = Seal(key, "trainee", clock, VALID_S)
        self._lasting = Seal(key, "trainee, own device", clock, LASTING_S)
        self._guesses = Guesses(clock)

    def is_new(self, name: str) -> bool:
        """Whether this trainee has no code yet."""
        known = self._store.known(name)
        return known is None or known.code is None

    def by_code(self, name: str, code: str, address: str) -> Known:
        """The trainee whose name and code were given.

        Raises:
            WrongCode: it is not theirs, or too many were tried from there.
        """
        who = (name_key(" ".join(name.split())), source_of(address))
        wait_s = self._guesses.begin(who)
        if wait_s > 0:
            raise WrongCode(f"too many wrong codes for this name: wait {wait_s:.0f} s, then try again.", 429)
        known = self._store.known(name)
        if known is None or not is_their_code(known, code):
            raise WrongCode("that is not the code of this trainee; the lead can reset it.", 403)
        self._guesses.right(who)
        return known

    def chosen(self, name: str, code: str, again: str) -> Known:
        """A trainee's first code, typed twice.

        Raises:
            TraycallError: the two differ, it is too easy, or there is a code already.
        """
        if code != again:
            raise Declined("the two codes differ; type the same one twice.")
        return self._store.choose_code(name, code, datetime.fromtimestamp(self._clock(), UTC))

    def cookie(self, ticket: Ticket, lasting: bool = False) -> str:
        """What whoever gave the code is known by; `lasting` on a device of their own."""
        seal = self._lasting if lasting else self._seal
        return seal.signed(f"{ticket.trainee}.{ticket.stamp}.{secrets.token_hex(8)}")

    def is_lasting(self, cookie: str | None) -> bool:
        """Whether this cookie was given to a device of the trainee's own."""
        return self._lasting.read(cookie) is not None

    def ticket(self, cookie: str | None) -> Ticket | None:
        """Whose cookie this is; None where it is not ours, or was given too long ago."""
        text = self._seal.read(cookie) or self._lasting.read(cookie)
        if text is None:
            return None
        trainee, stamp, _ = text.split(".")
        return Ticket(int(trainee), stamp)

    def trainee(self, cookie: str | None) -> Known | None:
        """The trainee whose cookie this is, unless the code was reset since."""
        ticket = self.ticket(cookie)
        known = None if ticket is None else self._store.known_by_id(ticket.trainee)
        return known if known is not None and Ticket.of(known) == ticket else None

    def must_be(self, cookie: str | None, ticket: Ticket, name: str) -> None:
        """Raises `NotYours` unless the cookie is theirs."""
        if self.ticket(cookie) != ticket:
            raise NotYours(f"only {name} can go on here: give name and code under Practice.")
