"""Wrong codes: each makes the place it came from wait, and nobody else.

Comes in: what was to be opened, and the address of who tried. Goes out: how long to wait. Whoever knows the
code and comes from elsewhere never has to.
"""

from __future__ import annotations

import ipaddress
import threading
from collections import OrderedDict
from collections.abc import Callable

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
