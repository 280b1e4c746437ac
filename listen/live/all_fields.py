"""Every vocabulary of a server at once: what its sessions hear, whatever field they are in.

From the chairs of each field and a dentist it makes, once, that field's pack widened with all others of its
language, the look-up of all their names, and the reader that understands them. Which of two fields a name
belongs to is decided by what the session's procedure makes likely. It changes no vocabulary; after a change a
new `AllFields` is made.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from functools import partial
from typing import TypeVar

from listen.chair import Chair, EngineName
from listen.engine import Engine
from listen.live.dentists import DentistChairs
from listen.readings import Reader
from listen.voicecheck.store import Adopted
from vocab.pack.schema import Pack
from vocab.pack.widen import widened
from vocab.requests.lexicon import Lexicon

_Made = TypeVar("_Made")
_Key = tuple[int, ...]
"""Ids of chairs or packs, which the fields keep."""


class AllFields:
    """The vocabularies by the ids of their packs; safe to use from many threads.

    Args:
        before: what held until now; look-ups of packs that have not changed since are kept.
        adopted: two numbers that the clinic's own recordings have changed, if any.
    """

    def __init__(
        self,
        fields: Mapping[str, DentistChairs],
        before: AllFields | None = None,
        adopted: Adopted | None = None,
    ) -> None:
        self._fields, self._adopted = dict(fields), adopted
        self._chairs: dict[_Key, Chair] = {}
        self._readers: dict[_Key, Reader] = {}
        here = {id(chairs.own.pack) for chairs in self._fields.values()}
        held = before._lexicons if before is not None else {}
        self._lexicons: dict[_Key, Lexicon] = {key: names for key, names in held.items() if {*key} <= here}
        self._lock = threading.RLock()

    def chair(self, field: str, dentist: str | None) -> Chair:
        """A dentist's chair in a field, whose pack knows the items of all fields."""
        own, packs = self._fields[field].of(dentist), self._packs(field, dentist)

        def make() -> Chair:
            if len(packs) == 1:
                return own
            pack = widened(own.pack, packs)
            return Chair(own.options, pack, own.tray, own.procedure, own.clinic, self._lexicon(pack, packs))

        return self._once(self._chairs, (id(own), *map(id, packs)), make)

    def reader(self, field: str, dentist: str | None) -> Reader:
        """The reader that understands this dentist in a field."""
        chair = self.chair(field, dentist)

        def make() -> Reader:
            chair.lexicon.prepare()
            weights = chair.calibration
            own = weights if self._adopted is None else self._adopted.applied(weights)
            return Reader(chair.pack, chair.lexicon, own)

        return self._once(self._readers, (id(chair),), make)

    def heard(self, field: str) -> Pack:
        """Every name that some listed dentist uses in some field of this one's language: what the engine
        listens for. Whose name it is, and what it means, is decided by the dentist's own reader."""
        own = self.chair(field, None).pack
        return widened(own, (self.chair(field, dentist).pack for dentist in self._fields[field].dentists))

    def engine(self, field: str, like: Engine | None = None) -> Engine:
        """An engine for `heard`.

        Args:
            like: one for other names; its model is shared, and only names that it lacks are new work. Where
                it lacks none, it is this field's, too.

        Raises:
            TraycallError: the engine, its model or its folder is missing; the text says how to get it.
        """
        own = self._fields[field].own
        if like is None:
            return own.engine(self.heard(field))
        from listen.neural.engine import NeuralEngine

        self.reader(field, None)  # otherwise the first utterance would wait for it
        if isinstance(like, NeuralEngine):
            return like.renewed(self.heard(field))
        return own.engine(self.heard(field)) if own.options.engine is EngineName.VOSK else like

    def _packs(self, field: str, dentist: str | None) -> tuple[Pack, ...]:
        """The packs of all fields in this one's language, in the server's order."""
        language = self._fields[field].own.pack.language
        chairs = [chairs for chairs in self._fields.values() if chairs.own.pack.language == language]
        return tuple(one.of(dentist if dentist in one.dentists else None).pack for one in chairs)

    def _lexicon(self, pack: Pack, packs: tuple[Pack, ...]) -> Lexicon:
        """The names of all fields; they are the same whichever field's pack comes first."""
        pronouncer = next(iter(self._fields.values())).own.pronouncer
        return self._once(self._lexicons, tuple(map(id, packs)), partial(Lexicon, pack, pronouncer))

    def _once(self, held: dict[_Key, _Made], key: _Key, make: Callable[[], _Made]) -> _Made:
        with self._lock:
            if key not in held:
                held[key] = make()
            return held[key]
