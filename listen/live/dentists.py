"""Every dentist's vocabulary on one server: the server's own, with each dentist's changes.

From the server's own chair and a dentist's id it makes that dentist's chair, once. It changes no layer; after
a vocabulary change a new `DentistChairs` is made.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import cached_property

from listen.chair import Chair, vocabulary_of
from listen.live.unknown_names import noting
from vocab.layers import Vocabulary
from vocab.layers.draft import ClinicSettings
from vocab.layers.photographs import Photographs
from vocab.layers.store import CLINIC
from vocab.layers.vocabulary import Entry
from vocab.pack.schema import Procedure, Tray


class DentistChairs:
    """Chairs by dentist; safe to use from many threads.

    Args:
        own: for any dentist without changes of their own; clock: seconds since 1970.
    """

    def __init__(self, own: Chair, clock: Callable[[], float]) -> None:
        self.own, self._clock = own, clock
        self._chairs: dict[str, Chair] = {}
        self._lock = threading.RLock()

    @property
    def dentists(self) -> dict[str, str]:
        """Whom a session can be for: names by id."""
        return dentists_of(self.own.clinic, self.own.options.dentist)

    @property
    def procedures(self) -> tuple[Procedure, ...]:
        """The procedures that the clinic does."""
        return self.own.clinic.done(self.own.pack)

    @property
    def trays(self) -> tuple[Tray, ...]:
        """The trays that it lays for them."""
        return self.own.clinic.trays_laid(self.own.pack)

    def of(self, dentist: str | None) -> Chair:
        """The chair of a dentist; the server's own if the dentist has changed nothing."""
        if dentist in (None, self.own.options.dentist):
            return self.own
        assert dentist is not None
        with self._lock:
            if dentist not in self._chairs:
                self._chairs[dentist] = self._made(dentist)
            return self._chairs[dentist]

    def note(self, dentist: str | None) -> Callable[[str], None]:
        """The function that notes unknown names this dentist asked for; to be called once per utterance."""
        return noting(self.of(dentist), self._clock)

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
