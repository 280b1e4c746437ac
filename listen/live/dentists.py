"""Every dentist's vocabulary on one server: the server's own, with each dentist's changes.

From the server's own chair and a dentist's id it makes that dentist's chair and reader, once, and the one
pack that the engine listens for on behalf of all dentists. It changes no layer; after a vocabulary change a
new `DentistChairs` is made.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from functools import cached_property

from listen.chair import Chair, EngineName, vocabulary_of
from listen.engine import Engine
from listen.live.unknown_names import noting
from listen.readings import Reader
from vocab.layers import Vocabulary
from vocab.layers.draft import ClinicSettings
from vocab.layers.photographs import Photographs
from vocab.layers.store import CLINIC
from vocab.layers.vocabulary import Entry
from vocab.pack.schema import Pack


class DentistChairs:
    """Chairs by dentist; safe to use from many threads.

    Args:
        own: for any dentist without changes of their own; clock: seconds since 1970.
    """

    def __init__(self, own: Chair, clock: Callable[[], float]) -> None:
        self.own, self._clock = own, clock
        self._chairs: dict[str, Chair] = {}
        self._readers: dict[int, Reader] = {}
        self._lock = threading.RLock()

    @property
    def dentists(self) -> dict[str, str]:
        """Whom a session can be for: names by id."""
        return dentists_of(self.own.clinic, self.own.options.dentist)

    def of(self, dentist: str | None) -> Chair:
        """The chair of a dentist; the server's own if the dentist has changed nothing."""
        if dentist in (None, self.own.options.dentist):
            return self.own
        assert dentist is not None
        with self._lock:
            if dentist not in self._chairs:
                self._chairs[dentist] = self._made(dentist)
            return self._chairs[dentist]

    def reader(self, dentist: str | None) -> Reader:
        """The reader that understands this dentist."""
        with self._lock:
            chair = self.of(dentist)
            if id(chair) not in self._readers:
                chair.lexicon.prepare()
                self._readers[id(chair)] = Reader(chair.pack, chair.lexicon, chair.calibration)
            return self._readers[id(chair)]

    def note(self, dentist: str | None) -> Callable[[str], None]:
        """The function that notes unknown names this dentist asked for; to be called once per utterance."""
        return noting(self.of(dentist), self._clock)

    @cached_property
    def heard(self) -> Pack:
        """The server's pack and every name that only some listed dentist uses: what the engine listens for.

        Whose name it is, and what it means, is decided by the dentist's own reader.
        """
        return _with_names(self.own.pack, (self.of(dentist).pack for dentist in self.dentists))

    def engine(self, like: Engine | None = None) -> Engine:
        """An engine for `heard`.

        Args:
            like: one for other names; its model is shared, and only names that it lacks are new work.

        Raises:
            TraycallError: the engine, its model or its folder is missing; the text says how to get it.
        """
        if like is None:
            return self.own.engine(self.heard)
        from listen.neural.engine import NeuralEngine

        self.reader(None)  # otherwise the first utterance would wait for it
        if isinstance(like, NeuralEngine):
            return like.renewed(self.heard)
        return self.own.engine(self.heard) if self.own.options.engine is EngineName.VOSK else like

    def vocabulary(self, dentist: str | None) -> Vocabulary:
        """The pack with its layers as they are saved now; None is for no specific dentist."""
        return Vocabulary(self._vocabulary.pack, self._vocabulary.folder, dentist)

    def saved(self, mark: str) -> tuple[Entry, ...]:
        """The history's lines for a mark: a layer and ids of its changes, joined by colons."""
        layer, *ids = mark.split(":")
        if not ids or layer not in (CLINIC, *self.dentists):
            return ()
        history = self.vocabulary(None if layer == CLINIC else layer).history()
        return tuple(e for e in history if e.layer == layer and e.change.id in ids)

    @cached_property
    def photographs(self) -> Photographs:
        """The clinic's photographs; `Chair.clinic` says which item each shows."""
        return Photographs(self._vocabulary.folder)

    def _made(self, dentist: str) -> Chair:
        composed = self.vocabulary(dentist).composed()
        same_names = composed.pack == self.own.pack
        if same_names and composed.settings == self.own.clinic:
            return self.own
        names = self.own.lexicon if same_names else None
        return Chair(self.own.options, composed.pack, None, None, composed.settings, names)

    @cached_property
    def _vocabulary(self) -> Vocabulary:
        return vocabulary_of(self.own.options)


def dentists_of(clinic: ClinicSettings, own: str | None) -> dict[str, str]:
    """The dentists that a clinic listed, and the server's own if it was started for one: names by id."""
    listed = {dentist.id: dentist.name for dentist in clinic.dentists}
    return listed if own is None else {own: own, **listed}


def _with_names(pack: Pack, others: Iterable[Pack]) -> Pack:
    """A pack with the names and items that only other packs have."""
    items = dict(pack.by_id)
    known = {name.text for item in pack.items for name in item.names}
    for other in others:
        for item in other.items:
            new = tuple(name for name in item.names if name.text not in known)
            known.update(name.text for name in new)
            if item.id not in items:
                items[item.id] = item
            elif new:
                held = items[item.id]
                items[item.id] = held.model_copy(update={"synonyms": (*held.synonyms, *new)})
    return pack.model_copy(update={"items": tuple(items.values())})
