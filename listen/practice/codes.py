"""A trainee's own code: which ones are allowed, and how one is kept and compared.

Takes a code as it is typed; returns its salted scrypt hash, or whether it matches a hash. The code itself is
never kept.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import unicodedata

from listen.practice.topics import PracticeError

SHORTEST, LONGEST = 6, 100
_COST, _BLOCK, _LANES = 2**14, 8, 1
"""Parameters of scrypt (RFC 7914): 16 MB and a few hundredths of a second per guess."""


def checked_code(code: str, name: str) -> str:
    """A code that a trainee may choose.

    Raises:
        PracticeError: too short, too long, or among the first that anyone would try.
    """
    plain = _plain(code)
    if not SHORTEST <= len(plain) <= LONGEST:
        raise PracticeError(f"a code of your own has {SHORTEST} to {LONGEST} characters; choose another one.")
    steps = {ord(b) - ord(a) for a, b in zip(plain, plain[1:], strict=False)}
    if plain.casefold() == _plain(name).casefold() or (len(steps) == 1 and steps <= {-1, 0, 1}):
        raise PracticeError("that code is too easy to guess (your name, 123456, 111111); choose another one.")
    return plain


def hashed_code(code: str) -> str:
    """What is kept of a code: its salt and its hash."""
    salt = secrets.token_bytes(16)
    return f"scrypt${salt.hex()}${_hash(code, salt).hex()}"


def is_code(code: str, kept: str) -> bool:
    """Whether this is the code behind a kept hash; compared in constant time."""
    try:
        kind, salt, digest = kept.split("$")
        wanted = bytes.fromhex(digest)
        return kind == "scrypt" and hmac.compare_digest(_hash(code, bytes.fromhex(salt)), wanted)
    except ValueError:  # not a hash of ours
        return False


def _plain(code: str) -> str:
    """The same code whatever keyboard composed it."""
    return unicodedata.normalize("NFC", code.strip())


def _hash(code: str, salt: bytes) -> bytes:
    typed = _plain(code)[: LONGEST + 1].encode("utf-8", "replace")
    return hashlib.scrypt(typed, salt=salt, n=_COST, r=_BLOCK, p=_LANES)
