"""The store of made-up answers, and the work that is put beside a chair (`python -m listen.bench load`)."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pytest

from listen.bench.load import LAST_S, Pages, Work, at_work, seated, simulated_store, table, timed_pages
from listen.bench.screen_latency import Moments
from listen.practice.places import PracticeOptions
from listen.practice.store import PracticeStore, sqlite_url
from listen.web import create_app
from listen.web.practice import pages as practice
from tests.listen.practice.classroom import facts, pack
from tests.listen.web.browser import served
from tests.listen.web.desk_app import StandIn

NOW = datetime.fromtimestamp(LAST_S, UTC)


@pytest.mark.slow
def test_made_up_answers_are_counted_as_if_they_had_been_given_one_by_one(tmp_path: Path) -> None:
    file = tmp_path / "made-up.sqlite"
    names = simulated_store(file, pack(), facts(), 300, 3, seed=1)
    made, given = PracticeStore(sqlite_url(file)), PracticeStore(sqlite_url(tmp_path / "given.sqlite"))
    for number, review in enumerate(made.reviews()):
        given.add(review.trainee, NOW)
        given.record(review.trainee, replace(review.answer, token=str(number)))
    assert names == made.trainees() == given.trainees()
    assert made.tallies.trainees(NOW) == given.tallies.trainees(NOW)
    for count in ("items", "names", "requests"):
        assert set(getattr(made.tallies, count)()) == set(getattr(given.tallies, count)()) != set()
    assert made.tallies.latest_firsts() == given.tallies.latest_firsts()
    assert made.tallies.confusions() == given.tallies.confusions()


@pytest.mark.slow
def test_reports_are_read_while_answers_wait_for_the_locked_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No answer is kept while the store is locked, and every page is there all the same."""
    data = tmp_path / "data"
    data.mkdir()
    file = data / "practice.sqlite"
    names = simulated_store(file, pack(), facts(), 200, 3, seed=1)
    more = {"more_routes": practice.routes(PracticeOptions(seed=1))}
    monkeypatch.setattr("tests.listen.web.browser.create_app", partial(create_app, **more))
    with served(data, StandIn()) as server:
        pages = timed_pages(server.url, file, names[0], 1)
        assert {"class", "ability", "mixed", "trainee"} <= pages.took_s.keys()
        store = PracticeStore(sqlite_url(file))
        seats, work = [seated(server.url, name) for name in names[:2]], Work()
        with at_work(server.url, file, seats, 2, work):
            kept = len(store.reviews())
            while sum(map(len, work.reports.took_s.values())) < 4:
                time.sleep(0.02)
            assert len(store.reviews()) == kept
        store.close()


def test_the_table_says_how_much_longer_the_slot_takes() -> None:
    alone, beside = (
        [Moments(str(n), "mirror please", "mouth_mirror", 1.0, ms, ms, "mouth_mirror", False, 0)] * 3
        for n, ms in ((1, 300.0), (2, 360.0))
    )
    pages = Pages()
    pages.add("class", 0.25)
    said = table(alone, beside, Work(refused=4), pages, "100 answers")
    assert "1.20 times as long" in said and "4 answers refused" in said and "250 ms" in said
