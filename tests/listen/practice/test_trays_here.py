"""Which places are practised and which count: those of trays that the clinic has confirmed."""

from __future__ import annotations

from dataclasses import replace

from listen.practice.topics import PLACED, Drill, Topic, curriculum
from listen.practice.trays_here import TraysHere, confirmed
from tests.listen.practice.classroom import CLASS_TWO, facts, pack
from vocab.layers.draft import ClinicSettings, tray_fingerprint

NOTHING = ClinicSettings({})
TRAY = pack().tray(CLASS_TWO)
OTHER = pack().tray("examination")


def test_a_trial_practises_every_tray_as_it_came_and_none_of_it_counts() -> None:
    here = TraysHere.of(NOTHING, pack())
    for topic in curriculum(pack(), facts(), CLASS_TWO):
        assert here.practised(topic)
        assert here.counts(topic) == (topic.drill not in PLACED)


def test_once_a_tray_is_confirmed_its_places_count_and_those_of_others_wait() -> None:
    clinic = replace(NOTHING, confirmed={TRAY.id: tray_fingerprint(TRAY)})
    here = TraysHere.of(clinic, pack())
    assert here.confirmed == {TRAY.id} and OTHER.id in here.waiting
    for drill, subject in ((Drill.SLOT, "mouth_mirror"), (Drill.LAY, "far row"), (Drill.FAULT, "far row")):
        own, elsewhere = Topic(drill, subject, TRAY.id), Topic(drill, subject, OTHER.id)
        assert here.practised(own) and here.counts(own)
        assert not here.practised(elsewhere) and not here.counts(elsewhere)
    assert here.practised(Topic(Drill.NEXT, "matrix", OTHER.id)) and here.counts(Topic(Drill.NAME, "wedge"))


def test_a_tray_that_was_changed_after_it_was_confirmed_waits_again() -> None:
    clinic = replace(NOTHING, confirmed={TRAY.id: "as it lay last year"})
    assert not confirmed(clinic, TRAY)
    assert TRAY.id in TraysHere.of(clinic, pack()).waiting
