"""What is kept: the same tests run on a SQLite file and on a real PostgreSQL."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta, timezone
from pathlib import Path

import pytest
import sqlalchemy
from classroom import NOON, answer, days
from fsrs import Rating

from listen.practice.schedule import reviewed
from listen.practice.store import Observed, Store, StoreError, sqlite_url

BAND, WEDGE = "name::matrix_band", "name::wedge"


@pytest.fixture(params=["sqlite", "postgres"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    if request.param == "sqlite":
        yield sqlite_url(tmp_path / "practice.sqlite")
        return
    yield request.getfixturevalue("postgres_url")
    engine = sqlalchemy.create_engine(
        request.getfixturevalue("postgres_url").replace("postgresql:", "postgresql+psycopg:")
    )
    with engine.begin() as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE; CREATE SCHEMA public")
    engine.dispose()


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    opened = Store(url)
    yield opened
    opened.close()


def test_an_answer_comes_back_as_it_was_given(store: Store) -> None:
    store.add("Ann", NOON)
    given = answer(WEDGE, False, choice="etchant", asked_name="wooden wedge", response_s=2.5)
    store.record("Ann", given)
    (review,) = store.reviews("Ann")
    assert (review.trainee, review.answer) == ("Ann", given)


def test_the_memory_after_an_answer_is_the_schedulers_own(store: Store) -> None:
    store.add("Ann", NOON)
    store.record("Ann", answer(WEDGE, True))
    store.record("Ann", answer(WEDGE, True, NOON + days(3)))
    wanted = reviewed(reviewed(None, Rating.Good, NOON), Rating.Good, NOON + days(3))
    kept = store.deck("Ann")[WEDGE]
    assert (kept.due, kept.last_review, kept.state) == (wanted.due, wanted.last_review, wanted.state)
    assert kept.stability == pytest.approx(wanted.stability)
    assert kept.difficulty == pytest.approx(wanted.difficulty)


def test_an_answer_sent_twice_counts_once(store: Store) -> None:
    store.add("Ann", NOON)
    first = store.record("Ann", answer(WEDGE, True, token="same"))
    second = store.record("Ann", answer(WEDGE, True, NOON + days(1), token="same"))
    assert first.due == second.due
    assert len(store.reviews("Ann")) == 1


def test_two_trainees_may_send_the_same_token(store: Store) -> None:
    for name in ("Ann", "Ben"):
        store.add(name, NOON)
        store.record(name, answer(WEDGE, True, token="one"))
    assert len(store.reviews()) == 2


def test_sixty_trainees_at_once_lose_no_answer(store: Store) -> None:
    names = [f"trainee {i:02}" for i in range(60)]

    def practise(name: str) -> None:
        store.add(name, NOON)
        for i in range(8):
            topic = (WEDGE, BAND)[i % 2]
            store.record(name, answer(topic, i % 3 != 0, NOON + timedelta(minutes=i), token=str(i)))
            store.deck(name)

    with ThreadPoolExecutor(60) as pool:
        list(pool.map(practise, names))
    reviews = store.reviews()
    assert len(reviews) == 60 * 8
    for name in names:
        own = [r.answer for r in reviews if r.trainee == name]
        assert [a.token for a in own] == [str(i) for i in range(8)]
        for topic in (WEDGE, BAND):
            card = None
            for given in (a for a in own if a.topic == topic):
                card = reviewed(card, Rating(given.rating), given.at)
            assert card is not None
            assert store.deck(name)[topic].stability == pytest.approx(card.stability)


def test_two_devices_of_one_trainee_lose_no_answer(url: str) -> None:
    """Two processes are two stores on one database."""
    devices = [Store(url), Store(url)]
    devices[0].add("Ann", NOON)

    def practise(number: int) -> None:
        for i in range(10):
            token = f"{number}-{i}"
            devices[number].record("Ann", answer(WEDGE, True, NOON + timedelta(minutes=i), token=token))

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(practise, range(2)))
    assert len(devices[0].reviews("Ann")) == 20
    for device in devices:
        device.close()


def test_a_trainee_added_by_many_at_once_is_one(store: Store) -> None:
    with ThreadPoolExecutor(20) as pool:
        list(pool.map(lambda _: store.add("Ann", NOON), range(20)))
    assert store.trainees() == ("Ann",)


def test_everything_about_one_trainee_is_exported_and_deleted_in_one_action(store: Store) -> None:
    for name in ("Ann", "Ben"):
        store.add(name, NOON)
        store.record(name, answer(WEDGE, True))
        store.observe(name, Observed("pass_zone", True, "Dr. K", NOON))
    exported = store.export("Ann")
    assert json.loads(json.dumps(exported)) == exported
    assert [len(exported[part]) for part in ("answers", "memories", "observations")] == [1, 1, 1]
    assert store.remove("Ann") == exported
    assert store.trainees() == ("Ben",)
    with pytest.raises(StoreError, match="no trainee is called 'Ann'"):
        store.deck("Ann")
    assert {r.trainee for r in store.reviews()} == {"Ben"}
    assert len(store.observations("Ben")) == 1


def test_a_deleted_name_leaves_no_bytes_behind(tmp_path: Path) -> None:
    path = tmp_path / "practice.sqlite"
    store = Store(sqlite_url(path))
    store.add("Zaphod-4711", NOON)
    store.record("Zaphod-4711", answer(WEDGE, True, token="very-telling-token"))
    store.remove("Zaphod-4711")
    store.close()
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    left = b"".join(p.read_bytes() for p in tmp_path.iterdir())
    assert b"Zaphod-4711" not in left and b"very-telling-token" not in left


def test_what_was_seen_comes_back_in_order(store: Store) -> None:
    store.add("Ann", NOON)
    seen = [Observed("pass_zone", False, "Dr. K", NOON), Observed("pass_zone", True, "Dr. K", NOON + days(1))]
    for observed in seen:
        store.observe("Ann", observed)
    assert store.observations("Ann") == tuple(seen)


def test_times_come_back_in_utc_whatever_zone_they_came_from(store: Store) -> None:
    store.add("Ann", NOON)
    there = NOON.astimezone(timezone(timedelta(hours=-7)))
    store.record("Ann", answer(WEDGE, True, there))
    assert store.reviews("Ann")[0].answer.at == NOON
    assert store.reviews("Ann")[0].answer.at.utcoffset() == timedelta(0)


def test_answers_since_a_day(store: Store) -> None:
    store.add("Ann", NOON)
    for i in range(3):
        store.record("Ann", answer(WEDGE, True, NOON + days(i)))
    assert len(store.reviews(since=(NOON + days(1)).date())) == 2


@pytest.mark.parametrize("name", ["", "   ", "x" * 41, "two\nlines", "nul\0"])
def test_only_a_plain_display_name_or_code_is_taken(store: Store, name: str) -> None:
    store.add("two lines", NOON)
    if name == "two\nlines":
        store.add(name, NOON)  # spaces of any kind are one space
        assert store.trainees() == ("two lines",)
        return
    with pytest.raises(StoreError, match="1 to 40 plain characters"):
        store.add(name, NOON)


def test_names_in_any_script_are_taken(store: Store) -> None:
    for name in ("Łukasz", "美咲", "Zoë 3"):
        store.add(name, NOON)
    assert set(store.trainees()) == {"Łukasz", "美咲", "Zoë 3"}


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("nonsense", "is no database URL"),
        ("sqlite://", "kept in a file"),
        ("sqlite:////nowhere/at/all/x.sqlite", "cannot be used"),
        ("postgresql://nobody@127.0.0.1:1/none", "cannot be used"),
    ],
)
def test_a_database_that_cannot_be_used_says_so(url: str, said: str) -> None:
    with pytest.raises(StoreError, match=said):
        Store(url)
