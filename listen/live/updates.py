"""Puts a changed vocabulary to use in the running app: at once for typed requests, soon after for speech.

When told that something was saved, it gives the server a new chair and an engine that knows the new names.
The engine is made in a thread of its own; the old one keeps hearing until then.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from typing import TypeVar

from listen.chair import Chair, EngineName
from listen.engine import Engine
from listen.live.engine_queue import EarState
from listen.live.sessions import Sessions
from vocab.errors import TraycallError
from vocab.layers import Composed
from vocab.pack.schema import Pack, Procedure, Tray

_Laid = TypeVar("_Laid", Tray, Procedure)


class Renewal:
    """Keeps a server's vocabulary up to date."""

    def __init__(self, running: Sessions) -> None:
        self._running = running
        self._lock = threading.Lock()
        self._wanted = 0
        self._done = 0
        self.problem = ""

    @property
    def hears(self) -> bool:
        """Whether speech is understood with the newest names; also False if there is no engine at all."""
        return (
            self._running.engine_queue.state is EarState.READY
            and self._done == self._wanted
            and not self.problem
        )

    def use(self, composed: Composed) -> None:
        """Use this vocabulary from now on."""
        old, pack = self._running.chair, composed.pack
        same = pack == old.pack
        tray, procedure = _same(old.tray, pack.trays), _same(old.procedure, pack.procedures)
        names = old.lexicon if same else None
        chair = Chair(old.options, pack, tray, procedure, composed.settings, names)
        self._running.renew(chair)
        with self._lock:
            self._wanted += 1
            number = self._wanted
        threading.Thread(target=self._engine, args=(chair, number), name="renewal", daemon=True).start()

    def _engine(self, chair: Chair, number: int) -> None:
        engine_queue = self._running.engine_queue
        engine_queue.loaded()
        with self._lock:
            if number != self._wanted or engine_queue.engine is None:
                return  # a newer change does it, or there is no engine
            try:
                engine_queue.use(renewed(engine_queue.engine, chair, self._running.chairs.heard))
                self.problem = ""
            except (TraycallError, OSError) as error:
                self.problem = str(error)
            self._done = number
        self._running.tell_all()


def renewed(engine: Engine, chair: Chair, pack: Pack) -> Engine:
    """The chair's engine for a pack; one that is bound to no vocabulary stays as it is."""
    from listen.neural.engine import NeuralEngine

    if isinstance(engine, NeuralEngine):
        return engine.renewed(pack)
    return chair.engine(pack) if chair.options.engine is EngineName.VOSK else engine


def _same(old: _Laid | None, new: Sequence[_Laid]) -> _Laid | None:
    return None if old is None else next((one for one in new if one.id == old.id), None)
