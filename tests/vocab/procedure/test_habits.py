"""Logged sessions can be added, taken out again without a trace, and written down."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vocab.errors import TraycallError
from vocab.procedure.habits import Habits, HabitsError, PastSession, Sequel, sequels

A = PastSession("sealant", ("etchant", "curing_light"), "dr a")
B = PastSession("sealant", ("curing_light",), "dr b")

sessions = st.builds(
    PastSession,
    procedure=st.sampled_from(["sealant", "examination"]),
    items=st.lists(st.sampled_from(["wedge", "etchant"]), max_size=4).map(tuple),
    dentist=st.sampled_from(["", "dr a", "dr b"]),
)


@given(st.lists(sessions, max_size=5), sessions)
def test_adding_is_undone_by_removing(before: list[PastSession], session: PastSession) -> None:
    habits = Habits(tuple(before))
    assert habits.add(session).remove(session) == habits


@given(st.lists(sessions, max_size=5))
def test_what_is_written_down_is_read_back(written: list[PastSession]) -> None:
    habits = Habits(tuple(written))
    assert Habits.from_json(habits.to_json()) == habits


def test_of_two_equal_sessions_only_the_newest_goes() -> None:
    assert Habits((A, B, A)).remove(A) == Habits((A, B))


def test_a_session_that_was_never_added_cannot_be_taken_out() -> None:
    with pytest.raises(HabitsError, match="never added"):
        Habits((A,)).remove(B)


@pytest.mark.parametrize("text", ["", "[]", '{"sessions": [{"procedure": 3}]}', '{"sessions": 1}'])
def test_a_damaged_file_is_an_error_a_user_can_read(text: str) -> None:
    with pytest.raises(TraycallError, match="these are not logged sessions"):
        Habits.from_json(text)


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
