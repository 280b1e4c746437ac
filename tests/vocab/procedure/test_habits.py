"""Whose sessions teach whom, and what was repeated in them."""

from __future__ import annotations

from vocab.procedure.habits import Habits, PastSession, Sequel, sequels

A = PastSession("sealant", ("etchant", "curing_light"), "dr a")
B = PastSession("sealant", ("curing_light",), "dr b")


def test_own_sessions_and_those_of_others_are_kept_apart() -> None:
    habits = Habits((A, B, PastSession("examination", ("wedge",), "dr a")))
    assert habits.own("sealant", "dr a") == (A,)
    assert habits.others("sealant", "dr a") == (B,)


def test_nobody_in_particular_learns_from_everybody() -> None:
    habits = Habits((A, B, PastSession("sealant", ("wedge",))))
    assert habits.own("sealant", "") == ()
    assert len(habits.others("sealant", "")) == 3


def test_what_was_repeated_is_counted_by_session() -> None:
    days = [("wedge", "band", "wedge", "band"), ("wedge", "band", "mirror"), ("wedge", "wedge", "mirror")]
    found = sequels(PastSession("sealant", items) for items in days)
    assert found == (Sequel("wedge", "band", 2, 3),)
    assert sequels([PastSession("sealant", ("wedge", "band"))]) == ()
