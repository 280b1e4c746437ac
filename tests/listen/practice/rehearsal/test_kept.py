"""Rehearsals in the store: kept once, exported and deleted with their trainee, added to an older store."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from listen.practice.played import Played
from listen.practice.store import PracticeStore, StoreError, sqlite_url
from tests.listen.practice.classroom import NOON, answer, days


def one(token: str = "token-1", day: float = 0.0, **change: object) -> Played:
    values: dict[str, object] = {
        "token": token,
        "at": NOON + days(day),
        "field": "operative",
        "procedure": "composite_class_two",
        "level": 2,
        "requests": 20,
        "right": 15,
        "wrong": 3,
        "slow": 2,
        "false_alarms": 1,
        "median_s": 2.4,
        "counted": 5,
        "counted_right": 4,
        "seconds": 212.5,
        "timeline": {"version": 1, "lines": [{"said": "“Hollenback”, please."}]},
    }
    return Played(**{**values, **change})  # type: ignore[arg-type]


@pytest.fixture
def url(tmp_path: Path) -> str:
    return sqlite_url(tmp_path / "practice.sqlite")


def test_a_rehearsal_is_kept_once_and_the_latest_comes_first(url: str) -> None:
    store = PracticeStore(url)
    store.add("Ann", NOON)
    store.add("Ben", NOON)
    first = store.keep("Ann", one())
    assert store.keep("Ann", one()) == first
    assert store.keep("Ben", one()) != first
    second = store.keep("ann", one("token-2", 1.0, median_s=None))
    assert store.rehearsals("Ann") == ((second, one("token-2", 1.0, median_s=None)), (first, one()))
    store.close()
    again = PracticeStore(url)
    assert [number for number, _ in again.rehearsals("Ann")] == [second, first]
    again.close()


def test_it_goes_with_its_trainee(url: str) -> None:
    store = PracticeStore(url)
    store.add("Ann", NOON)
    store.keep("Ann", one())
    exported = store.export("Ann")
    assert json.loads(json.dumps(exported)) == exported
    (kept,) = exported["rehearsals"]
    assert kept["level"] == 2 and kept["timeline"]["lines"][0]["said"] == "“Hollenback”, please."
    assert store.remove("Ann") == exported
    with pytest.raises(StoreError, match="no trainee is called 'Ann'"):
        store.rehearsals("Ann")
    store.add("Ann", NOON)
    assert store.rehearsals("Ann") == ()
    store.close()


def test_a_store_of_the_third_version_is_given_rehearsals(url: str) -> None:
    before = PracticeStore(url)
    before.add("Ann", NOON)
    before.record("Ann", answer("name::wedge", True))
    with before._database.writing() as connection:
        connection.exec_driver_sql("DROP TABLE rehearsal")
        connection.exec_driver_sql("UPDATE practice_store_version SET version = 3")
    before.close()
    store = PracticeStore(url)
    assert len(store.reviews("Ann")) == 1 and store.rehearsals("Ann") == ()
    number = store.keep("Ann", one())
    assert store.rehearsals("Ann") == ((number, one()),)
    with store._database.reading() as connection:
        version = connection.exec_driver_sql("SELECT version FROM practice_store_version").scalar_one()
        indexes = connection.exec_driver_sql("PRAGMA index_list(rehearsal)").all()
    assert version == 4 and "rehearsal_once" in {index[1] for index in indexes}
    store.close()
