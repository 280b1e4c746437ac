"""A school's servers share one PostgreSQL: whichever one a trainee answers on, it is one practice."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from fsrs import Card, Rating
from sqlalchemy.engine import URL
from starlette.testclient import TestClient

from listen.practice.places import PracticeOptions
from listen.practice.schedule import reviewed
from listen.practice.store import PracticeStore
from listen.web import ServerSettings, create_app
from listen.web.practice import pages as practice
from tests.listen.web.desk_app import HERE, OWN, Clock, StandIn, shared_chair
from tests.listen.web.test_practice import LEAD, enter, give, now, sit

TURNS = 8


@pytest.fixture
def url(empty_postgres: URL) -> str:
    return empty_postgres.render_as_string(hide_password=False)


@pytest.fixture
def servers(tmp_path: Path, url: str) -> Iterator[list[TestClient]]:
    """Two, each with a data folder of its own, and so with keys of its own."""
    with ExitStack() as running:
        yield [
            running.enter_context(
                TestClient(
                    create_app(
                        shared_chair,
                        ServerSettings(data=tmp_path / name, clock=Clock()),
                        StandIn,
                        practice.routes(PracticeOptions(url, LEAD, seed=1)),
                        practice.links(),
                    ),
                    base_url=HERE,
                    follow_redirects=False,
                )
            )
            for name in ("first", "second")
        ]


@pytest.fixture
def store(url: str) -> Iterator[PracticeStore]:
    opened = PracticeStore(url)
    yield opened
    opened.close()


def test_answers_of_one_trainee_on_two_servers_count_once_each(
    servers: list[TestClient], store: PracticeStore
) -> None:
    """Given on both at the same time, and each sent twice."""
    paths = [sit(server, "Ann", "name") for server in servers]
    failed: list[BaseException] = []
    start = threading.Barrier(len(servers))

    def practise(number: int) -> None:
        try:
            start.wait()
            for turn in range(TURNS):
                view = now(servers[number], paths[number])
                for _ in range(2):
                    said = give(
                        servers[number],
                        paths[number],
                        view["number"],
                        "I don't know",
                        token=f"{number} of {turn:5}",
                    )
                    assert said["counted"]
        except BaseException as error:  # told below, in the test's own thread
            failed.append(error)

    threads = [threading.Thread(target=practise, args=(number,)) for number in range(len(servers))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failed
    tokens = [review.answer.token for review in store.reviews("Ann")]
    assert sorted(tokens) == sorted(f"{number} of {turn:5}" for number in range(2) for turn in range(TURNS))


def test_what_was_answered_on_one_server_is_remembered_on_the_other(
    servers: list[TestClient], store: PracticeStore
) -> None:
    """The memory of a topic is what the scheduler makes of all its answers, wherever each was given."""
    paths = [sit(server, "Ann", "name") for server in servers]
    for turn in range(2 * TURNS):
        server, path = servers[turn % 2], paths[turn % 2]
        view = now(server, path)
        assert give(server, path, view["number"], "I don't know", token=f"answer {turn:5}")["counted"]
    expected: dict[str, Card] = {}
    given = [review.answer for review in store.reviews("Ann")]
    for one in given:
        expected[one.topic] = reviewed(expected.get(one.topic), Rating(one.rating), one.at)
    assert len(given) == 2 * TURNS > len(expected)  # some were asked on both
    kept = store.deck("Ann")
    assert {topic: card.due for topic, card in kept.items()} == {t: card.due for t, card in expected.items()}
    for server in servers:
        places = server.app.state.practice  # type: ignore[attr-defined]
        assert places.store.deck("Ann").keys() == kept.keys()


def test_a_code_chosen_on_one_server_is_the_code_on_the_other(servers: list[TestClient]) -> None:
    first, second = servers
    assert enter(first, "Ann", "ivory-42") == 303
    assert enter(second, "ann", "something else") == 403
    assert enter(second, "ann", "ivory-42") == 303


def test_faculty_see_on_each_server_what_was_answered_on_any(servers: list[TestClient]) -> None:
    first, second = servers
    path = sit(first, "Ann", "name")
    view = now(first, path)
    give(first, path, view["number"], "I don't know")
    second.post("/practice/faculty/enter", data={"code": LEAD}, headers=OWN)
    header, *rows = second.get("/practice/faculty/class.csv").text.splitlines()
    assert [row.split(",")[0] for row in rows] == ["Ann"], header


def test_a_code_that_was_reset_on_one_server_opens_nothing_on_the_other(servers: list[TestClient]) -> None:
    first, second = servers
    assert enter(first, "Ann", "ivory-42") == 303
    assert "Welcome, Ann" in first.get("/practice").text
    second.post("/practice/faculty/enter", data={"code": LEAD}, headers=OWN)
    assert second.post("/practice/faculty/reset", data={"trainee": "Ann"}, headers=OWN).status_code == 303
    assert "Who are you?" in first.get("/practice").text
