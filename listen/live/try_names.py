"""Tries names on the engine while an editor types: one at a time, the newest next.

Given a name and its item, it says whether the name has been tried yet and what it was taken for, which is
remembered until the vocabulary changes. `listen.speech.try_name` does the work, in a thread of its own.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from enum import StrEnum

from listen.chair import cache_folder
from listen.live.sessions import Sessions
from listen.speech.try_name import CannotTry, Mixup, tried
from vocab.errors import TraycallError
from vocab.pack.schema import Pack

NEW_ITEM = "new_item"
"""Stands for an item that is just being created."""


class TryState(StrEnum):
    """How far the trying of a name is."""

    DONE = "done"
    SAID = "being said"
    NOT = "not"


@dataclass(frozen=True)
class NameToTry:
    """A name to be tried for an item."""

    text: str
    item: str


class Trying:
    """Tries names on a server's engine for one vocabulary; `field` is its pack's id."""

    def __init__(self, running: Sessions, field: str) -> None:
        self._running, self._field = running, field
        self._lock = threading.Lock()
        self._pack: Pack | None = None
        self._done: dict[NameToTry, tuple[Mixup, ...]] = {}
        self._next: NameToTry | None = None
        self._now: NameToTry | None = None
        self.problem = ""

    @property
    def _now_used(self) -> Pack:
        return self._running.field(self._field).own.pack

    def heard(self, wish: NameToTry) -> tuple[Mixup, ...] | None:
        """What a name was taken for; None if it was not tried with the names now in use."""
        with self._lock:
            return self._done.get(wish) if self._pack is self._now_used else None

    def state(self, wish: NameToTry) -> TryState:
        """Whether a name was tried, or is being tried now."""
        if self.heard(wish) is not None:
            return TryState.DONE
        with self._lock:
            return TryState.SAID if wish in (self._now, self._next) else TryState.NOT

    def want(self, wish: NameToTry) -> TryState:
        """Try a name as soon as the one before is done; it replaces one that was still waiting."""
        state = self.state(wish)
        if state is not TryState.NOT or self.problem:
            return state
        with self._lock:
            self._next = wish
            if self._now is None:
                self._now, self._next = wish, None
                threading.Thread(target=self._work, name="trying", daemon=True).start()
        return TryState.SAID

    def _work(self) -> None:
        while (wish := self._now) is not None:
            problem, pack = "", self._now_used
            heard: tuple[Mixup, ...] = ()
            try:
                heard = heard_of(self._running, self._field, wish)
            except (TraycallError, OSError) as error:
                problem = str(error)
            with self._lock:
                if self._pack is not pack:
                    self._pack, self._done = pack, {}
                if not problem:
                    self._done[wish] = heard
                self.problem = problem
                self._now, self._next = (None if problem else self._next), None


def heard_of(running: Sessions, field: str, wish: NameToTry) -> tuple[Mixup, ...]:
    """Say a name to the server's engine for a vocabulary.

    Raises:
        CannotTry: nothing here can say it or hear it.
    """
    from listen.neural.engine import NeuralEngine

    chair, engine = running.field(field).own, running.engine_queue.of(field).loaded()
    if not isinstance(engine, NeuralEngine):
        raise CannotTry("only the embedded engine can be asked about a name")
    spoken = cache_folder() / "names_spoken"
    return tried(chair.pack, wish.item, wish.text, engine, chair.calibration, chair.pronouncer, spoken)
