"""A school that practises at once (`python -m listen.bench school`), and what it says of lost answers."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime

import pytest
from sqlalchemy.engine import URL

from listen.practice.store import PracticeStore, StoreError

school = pytest.importorskip(
    "listen.bench.school", reason="needs pip install -e '.[bench]'", exc_type=ImportError
)


@pytest.fixture
def url(empty_postgres: URL) -> str:
    return empty_postgres.render_as_string(hide_password=False)


@pytest.mark.slow
def test_every_answer_given_on_two_servers_is_found_in_the_database(url: str) -> None:
    plan = school.Plan(trainees=4, servers=2, browsers=0, answers=2)
    found = school.measured(url, plan)
    assert found.noted.errors == {} and found.noted.again == 4
    assert found.stored == Counter(found.noted.given) and found.stored.total() == 8
    store = PracticeStore(url)
    assert Counter(one.trainee for one in store.reviews()) == {f"Trainee {n:03}": 2 for n in range(1, 5)}
    store.close()


def test_a_database_that_somebody_uses_is_left_alone(url: str) -> None:
    store = PracticeStore(url)
    store.add("Ann", datetime(2024, 3, 4, tzinfo=UTC))
    with pytest.raises(StoreError, match="name an empty one"):
        school.measured(url, school.Plan(trainees=1))
    assert store.trainees() == ("Ann",)
    store.close()


def test_what_is_lost_and_what_is_stored_twice_is_told() -> None:
    noted = school.Noted(["kept", "twice", "lost"], [0.1, 0.2, 0.3], [], [1.0], 1, Counter({"no reply": 2}))
    found = school.Found(noted, Counter({"kept": 1, "twice": 2}), 60.2, ((400.0, 500.4),), (30.7,))
    plan = school.Plan(trainees=3, browsers=0, answers=1)
    kept = school.counts(found, plan)
    assert (kept["given"], kept["stored"], kept["lost"], kept["twice"], kept["errors"]) == (3, 3, 1, 1, 2)
    assert (kept["median_ms"], kept["memory_mb"], kept["worked_s"]) == (200, 500, 31)
    assert "browser_median_ms" not in kept
    told = school.table(found, plan, "2 cores")
    assert "lost 1, stored twice 1" in told and "2 times: no reply" in told
