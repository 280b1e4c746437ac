"""What is open on one server, by its id: drills, rehearsals. What nobody has used for long is forgotten.

It knows nothing of what it holds but its id and when it was last used.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, Protocol, TypeVar

from listen.live.sessions import NoSession
from vocab.errors import Declined


class NoPlace(NoSession):
    """A place that does not exist, or no longer does."""


class _Used(Protocol):
    @property
    def id(self) -> str: ...
    @property
    def used_s(self) -> float: ...


T = TypeVar("T", bound=_Used)


class Held(Generic[T]):
    """Safe to use from many threads.

    Args:
        most: how many may be open at once; forgotten_s: unused for this long, one is forgotten.
        full, gone: what is said where there are too many, and of one that is not there.
    """

    def __init__(
        self, most: int, forgotten_s: float, clock: Callable[[], float], full: str, gone: str
    ) -> None:
        self._most, self._forgotten_s, self._clock = most, forgotten_s, clock
        self._full, self._gone = full, gone
        self._all: dict[str, T] = {}
        self._lock = threading.Lock()

    def add(self, one: T) -> T:
        """Hold one more.

        Raises:
            Declined: there are too many.
        """
        with self._lock:
            since_s = self._clock() - self._forgotten_s
            self._all = {key: held for key, held in self._all.items() if held.used_s >= since_s}
            if len(self._all) >= self._most:
                raise Declined(self._full)
            self._all[one.id] = one
            return one

    def get(self, key: str) -> T:
        """The one with this id.

        Raises:
            NoPlace: it never existed, or no longer does.
        """
        with self._lock:
            if key not in self._all:
                raise NoPlace(self._gone)
            return self._all[key]

    def drop(self, unwanted: Callable[[T], bool]) -> tuple[T, ...]:
        """Hold some no longer; returns them."""
        with self._lock:
            dropped = tuple(filter(unwanted, self._all.values()))
            for one in dropped:
                del self._all[one.id]
            return dropped

    def values(self) -> tuple[T, ...]:
        """All of them, the latest last."""
        with self._lock:
            return tuple(self._all.values())
