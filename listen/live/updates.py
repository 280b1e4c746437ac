"""Puts a changed vocabulary to use in the running app: at once for typed requests, soon after for speech.

When told that something was saved, it gives the server a new chair and an engine that knows the new names.
The engine is made in a thread of its own; the old one keeps hearing until then.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from listen.chair import Chair
from listen.live.engine_queue import EarState
from listen.live.sessions import Sessions
from vocab.errors import TraycallError
from vocab.layers import Composed
from vocab.pack.schema import Procedure, Tray

_Laid = TypeVar("_Laid", Tray, Procedure)


class Renewal:
    """Keeps one vocabulary of a server up to date; `field` is its pack's id."""

    def __init__(self, running: Sessions, field: str) -> None:
        self._running, self._field = running, field
        self._ear = running.engine_queue.of(field)
        self._lock = threading.Lock()
        self._wanted = 0
        self._done = 0
        self.problem = ""

    @property
    def hears(self) -> bool:
        """Whether speech is understood with the newest names; also False if there is no engine at all."""
        return self._ear.state is EarState.READY and self._done == self._wanted and not self.problem

    def use(self, *composed: Composed) -> None:
        """Use this vocabulary from now on, and others that were changed together with it."""
        self._running.renew(*(self._chair(one) for one in composed))
        with self._lock:
            self._wanted += 1
            number = self._wanted
        threading.Thread(target=self._engine, args=(number,), name="renewal", daemon=True).start()

    def _chair(self, composed: Composed) -> Chair:
        old = self._running.field(composed.pack.id).own
        if composed.pack == old.pack:  # settings alone: names and their look-up stay
            return replace(old, clinic=composed.settings, names=old.lexicon)
        tray, procedure = _same(old.tray, composed.pack.trays), _same(old.procedure, composed.pack.procedures)
        return Chair(old.options, composed.pack, tray, procedure, composed.settings)

    def _engine(self, number: int) -> None:
        self._ear.loaded()
        with self._lock:
            if number != self._wanted or self._ear.engine is None:
                return  # a newer change does it, or there is no engine
            try:
                like = self._ear.engine
                for pack in self._running.packs:  # each hears the names of all fields
                    ear = self._running.engine_queue.of(pack.id)
                    if ear.engine is not None:
                        like = self._running.engine_like(pack.id, like)
                        ear.use(like)
                self.problem = ""
            except (TraycallError, OSError) as error:
                self.problem = str(error)
            self._done = number
        self._running.tell_all()


def _same(old: _Laid | None, new: Sequence[_Laid]) -> _Laid | None:
    return None if old is None else next((one for one in new if one.id == old.id), None)
