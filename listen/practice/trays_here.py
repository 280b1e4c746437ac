"""Which trays lie here as the clinic has confirmed: only there it is worth knowing which slot holds what.

Takes the clinic's settings and its pack; says of a topic whether it is practised and whether it counts
towards being ready. A clinic that has confirmed no tray yet (a trial, a demonstration) practises every tray
as it came, and none of that counts; once it has confirmed one, the places of the others wait until they are
confirmed, too.
"""

from __future__ import annotations

from dataclasses import dataclass

from listen.practice.topics import PLACED, Topic
from vocab.layers.draft import ClinicSettings
from vocab.pack.schema import Pack, Tray

WAITING = "places on this tray are practised once your lead has confirmed how it lies here."


def confirmed(clinic: ClinicSettings, tray: Tray) -> bool:
    """Whether a tray lies as the clinic has confirmed it."""
    return clinic.has_confirmed(tray)


@dataclass(frozen=True)
class TraysHere:
    """Ids of trays. confirmed: as they lie here; waiting: those whose places are not practised yet."""

    confirmed: frozenset[str]
    waiting: frozenset[str]

    @classmethod
    def of(cls, clinic: ClinicSettings, pack: Pack) -> TraysHere:
        """The trays of a pack, as it is with the clinic's changes."""
        found = frozenset(tray.id for tray in pack.trays if confirmed(clinic, tray))
        others = frozenset(tray.id for tray in pack.trays) - found
        return cls(found, others if clinic.confirmed else frozenset())

    def practised(self, topic: Topic) -> bool:
        """Whether this is asked."""
        return topic.drill not in PLACED or topic.place not in self.waiting

    def counts(self, topic: Topic) -> bool:
        """Whether knowing this counts towards being ready."""
        return topic.drill not in PLACED or topic.place in self.confirmed
