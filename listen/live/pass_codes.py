"""Codes that let people in: what is given to anyone who knew one, and how guessing is slowed down.

A code and the address that it came from go in; a signed value for a cookie comes out, or how long to wait.
The values are signed with a key in the data folder. A wrong code makes the place it came from wait, and
nobody else: whoever knows the code and comes from elsewhere never has to.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from itsdangerous import BadSignature, TimestampSigner

from vocab.files import locked, write_atomically

VALID_S = 12 * 3600.0
"""A working day."""
KEY_BYTES = 32
FREE_GUESSES = 3
LONGEST_WAIT_S = 60.0
FORGOTTEN_S = 3600.0
MOST_GUESSED = 10_000
"""Addresses and names that are remembered; the oldest are forgotten first."""


class Guesses:
    """Wrong codes by what was to be opened and from where; each one more doubles the wait, up to a minute."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._wrong: OrderedDict[tuple[str, str], tuple[int, float]] = OrderedDict()
        self._lock = threading.Lock()

    def begin(self, who: tuple[str, str]) -> float:
        """Seconds to wait before the next guess; 0 where it may be made now, which counts it as wrong."""
        now_s = self._clock()
        with self._lock:
            count, last_s = self._wrong.get(who, (0, now_s))
            if now_s - last_s > FORGOTTEN_S:
                count = 0
            wait_s = min(2.0 ** (count - FREE_GUESSES), LONGEST_WAIT_S) if count >= FREE_GUESSES else 0.0
            left_s = last_s + wait_s - now_s
            if left_s > 0:
                return left_s
            self._wrong[who] = (count + 1, now_s)
            self._wrong.move_to_end(who)
            while len(self._wrong) > MOST_GUESSED:
                self._wrong.popitem(last=False)
            return 0.0

    def right(self, who: tuple[str, str]) -> None:
        """The last guess was right."""
        with self._lock:
            self._wrong.pop(who, None)


def source_of(address: str) -> str:
    """Where guesses come from: an address, or the network that one machine may have many of."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return address
    if parsed.version == 6:
        return str(ipaddress.ip_network((parsed, 64), strict=False))
    return address


class Seal:
    """Signs short texts together with the time, so that they can be given away and known again.

    Args:
        key: secret bytes; purpose: what is signed for one is not known for another; valid_s: how long.
    """

    def __init__(self, key: bytes, purpose: str, clock: Callable[[], float], valid_s: float) -> None:
        self._signer, self._valid_s = _Signer(key, purpose, clock), valid_s

    def signed(self, text: str) -> str:
        """The text, the time and the signature."""
        return self._signer.sign(text).decode()

    def read(self, value: str | None) -> str | None:
        """The text that was signed; None for anything else, and for what is too old."""
        with suppress(BadSignature):
            return self._signer.unsign(value or "", max_age=int(self._valid_s)).decode()
        return None


class _Signer(TimestampSigner):
    """On the clock that it is given."""

    def __init__(self, key: bytes, purpose: str, clock: Callable[[], float]) -> None:
        super().__init__(key, salt=purpose, digest_method=hashlib.sha256)
        self._clock = clock

    def get_timestamp(self) -> int:
        return int(self._clock())


class PassCodes:
    """Checks pass codes and cookies.

    Args:
        key: secret bytes of this installation.
    """

    def __init__(self, pass_code: str, key: bytes, clock: Callable[[], float]) -> None:
        self._code = pass_code.encode()
        self._seal = Seal(hmac.new(key, self._code, hashlib.sha256).digest(), "pass code", clock, VALID_S)
        self._guesses = Guesses(clock)

    def wait_s(self, address: str) -> float:
        """How long this address must wait before it may try again; 0 where the next try is counted as one."""
        return self._guesses.begin(("", source_of(address)))

    def is_right(self, code: str, address: str) -> bool:
        """Compare in constant time; a right one ends the waiting."""
        given = hashlib.sha256(code.encode(errors="replace")).digest()
        right = hmac.compare_digest(given, hashlib.sha256(self._code).digest())
        if right:
            self._guesses.right(("", source_of(address)))
        return right

    def cookie(self) -> str:
        """A new one."""
        return self._seal.signed(secrets.token_hex(8))

    def knows(self, cookie: str | None) -> bool:
        """Whether the cookie is ours and not too old."""
        return self._seal.read(cookie) is not None


def secret_key(folder: Path) -> bytes:
    """This installation's secret, made on first use and readable by its owner only."""
    path = folder / "screen.key"
    known = _key(path)
    if known is None:
        folder.mkdir(parents=True, exist_ok=True)
        with locked(folder / ".screen.key.lock"):
            known = _key(path)
            if known is None:
                known = secrets.token_bytes(KEY_BYTES)
                write_atomically(path, known, private=True)
    return known


def _key(path: Path) -> bytes | None:
    """A key that was kept; None where there is none, or one that a crash cut short."""
    with suppress(FileNotFoundError):
        known = path.read_bytes()
        return known if len(known) >= KEY_BYTES else None
    return None
