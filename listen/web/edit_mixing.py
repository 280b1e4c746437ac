"""Names that are said to the engine while an editor types: one at a time, the newest wish next.

Comes in: a name and its item. Goes out: whether it was tried by now; what came of it is kept beside the
layers, so that it is tried once. `listen.mixing` does the work, in a thread of its own.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from enum import StrEnum

from listen.chair import cache_folder
from listen.mixing import CannotTry, tried
from listen.web.house import House
from vocab.errors import TraycallError
from vocab.mixed_up import OwnTrials, Trial

NEW_ITEM = "new_item"
"""Stands for an item that is being made."""


class TryState(StrEnum):
    """How far a name is."""

    DONE = "done"
    SAID = "being said"
    NOT = "not"


@dataclass(frozen=True)
class Wish:
    """A name to be tried for an item."""

    text: str
    item: str


class Trying:
    """Tries names.

    Args:
        kept: where what came of them is.
    """

    def __init__(self, house: House, kept: OwnTrials) -> None:
        self._house, self._kept = house, kept
        self._lock = threading.Lock()
        self._next: Wish | None = None
        self._now: Wish | None = None
        self.problem = ""

    def state(self, wish: Wish) -> TryState:
        """Whether a name was tried, or is being tried now."""
        if self._kept.of(wish.text, wish.item) is not None:
            return TryState.DONE
        with self._lock:
            return TryState.SAID if wish in (self._now, self._next) else TryState.NOT

    def want(self, wish: Wish) -> TryState:
        """Try a name as soon as the one before is done; a wish that waited is forgotten."""
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
            problem = ""
            try:
                self._kept.keep(wish.text, wish.item, trials_of(self._house, wish))
            except (TraycallError, OSError) as error:
                problem = str(error)
            with self._lock:
                self.problem = problem
                self._now, self._next = (None if problem else self._next), None


def trials_of(house: House, wish: Wish) -> dict[str, Trial]:
    """Say a name to a house's engine.

    Raises:
        CannotTry: nothing can say it, or hear it.
    """
    from listen.neural.engine import NeuralEngine

    chair, engine = house.chair, house.ears.loaded()
    if not isinstance(engine, NeuralEngine):
        raise CannotTry("only the embedded engine can be asked about a name")
    spoken = cache_folder() / "names_spoken"
    return tried(chair.pack, wish.item, wish.text, engine, chair.calibration, chair.pronouncer, spoken)
