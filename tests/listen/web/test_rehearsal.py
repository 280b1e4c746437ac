"""A rehearsal in the browser's terms, without a browser: choosing one, its JSON, and its timeline."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from listen.chair import ChairOptions, open_chair
from listen.practice.places import PracticeOptions
from listen.practice.rehearsal.seats import Seat
from listen.practice.rehearsal.sound import Talkers
from listen.web import ServerSettings, create_app
from listen.web.practice import pages as practice
from tests.listen.web.desk_app import HERE, OWN, Clock, StandIn, shared_chair
from tests.listen.web.test_practice import client_of, enter

HOME = "/practice/rehearsal"
WISH = {"procedure": "operative/composite_class_two", "minutes": "3", "level": "5"}


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def _voices(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("listen.practice.rehearsal.seats.can_speak", lambda language: True)
    monkeypatch.setattr(Talkers, "said", lambda *given: np.full(1600, 0.1, np.float32))


@pytest.fixture
def client(tmp_path: Path, clock: Clock, _voices: None) -> Iterator[TestClient]:
    """An app on a machine with a voice, where Ann has given her code."""
    with client_of(tmp_path, clock) as client:
        assert enter(client, "Ann") == 303
        yield client


@pytest.fixture
def spanish(tmp_path: Path, clock: Clock, _voices: None) -> Iterator[TestClient]:
    """The same with a Spanish vocabulary beside the English one."""
    app = create_app(
        shared_chair,
        ServerSettings(data=tmp_path, clock=clock),
        StandIn,
        practice.routes(PracticeOptions(seed=1)),
        practice.links(),
        further=(open_chair(ChairOptions("operativa_es")),),
    )
    with TestClient(app, base_url=HERE, follow_redirects=False) as client:
        assert enter(client, "Ann") == 303
        yield client


def seat_of(client: TestClient) -> Seat:
    *_, seat = client.app.state.rehearsals._seats.values()  # type: ignore[attr-defined]
    return seat  # type: ignore[no-any-return]


def begin(client: TestClient, **change: str) -> str:
    answer = client.post(HOME, data={**WISH, **change}, headers=OWN)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def done(client: TestClient, path: str, kind: str, value: str = "", token: str = "") -> dict[str, Any]:
    number = seat_of(client).rehearsal.number
    sent = {"number": number, "token": token or f"the-token-{number}", "kind": kind, "value": value}
    return dict(client.post(f"{path}/done", json={**sent, "response_s": 1.5}, headers=OWN).json())


def test_every_procedure_and_its_steps_can_be_chosen(client: TestClient) -> None:
    page = client.get(HOME).text
    assert 'value="operative/composite_class_two"' in page and "Begin" in page
    steps = client.get(f"{HOME}/steps?procedure=operative/composite_class_two").json()
    assert "finish" in {key for key, _ in steps} and "anaesthetise" not in {key for key, _ in steps}
    assert client.get(f"{HOME}/steps?procedure=operative/nothing").json() == []


def test_nothing_of_a_line_is_told_before_it_is_done(client: TestClient) -> None:
    path = begin(client)
    seat = seat_of(client)
    page = client.get(path).text.casefold()
    for _ in range(12):
        line = seat.rehearsal.line
        assert line is not None
        now = client.get(f"{path}/now").json()
        assert now.keys() == {"type", "number", "of", "wait_s"}
        sound = client.get(f"{path}/say?n={now['number']}")
        assert sound.headers["content-type"] == "audio/wav" and sound.content[:4] == b"RIFF"
        assert client.get(f"{path}/say?n={now['number'] + 1}").status_code == 204
        assert line.said.casefold() not in page
        given = ("touch", line.question.right[0]) if line.asks else ("silence",)
        reply = done(client, path, *given)
        assert reply["came"] in ("right", None)


def test_what_is_sent_twice_or_too_late_counts_once(client: TestClient) -> None:
    path = begin(client, level="1")
    line = seat_of(client).rehearsal.line
    assert line is not None
    sent = {"number": 1, "token": "the-same-token", "kind": "touch", "value": line.question.right[0]}
    first = client.post(f"{path}/done", json=sent, headers=OWN).json()
    assert client.post(f"{path}/done", json=sent, headers=OWN).json() == first
    late = client.post(f"{path}/done", json={**sent, "token": "another-token"}, headers=OWN).json()
    assert late["stale"] and seat_of(client).rehearsal.number == 2


def test_it_ends_in_a_count_and_is_kept_with_its_timeline(client: TestClient, clock: Clock) -> None:
    path = begin(client)
    seat = seat_of(client)
    while (line := seat.rehearsal.line) is not None:
        clock.now_s += 5
        done(client, path, *(("touch", line.question.right[0]) if line.asks else ("silence",)))
    count = client.get(f"{path}/now").json()
    assert count["type"] == "count"
    answers = {item["id"]: "fell" for item in count["items"]}
    over = client.post(f"{path}/count", json={"answers": answers}, headers=OWN).json()
    assert client.post(f"{path}/count", json={"answers": answers}, headers=OWN).json() == over
    page = client.get(f"{HOME}/record/{over['record']}")
    timeline = client.get(f"{HOME}/record/{over['record']}.json").json()
    assert page.status_code == 200 and len(timeline["lines"]) == len(seat.rehearsal.script.lines)
    assert [one["answered"] for one in timeline["count"]] == ["fell"] * len(answers)
    assert f"/record/{over['record']}" in client.get(HOME).text
    assert "Rehearsals" in client.get("/practice/progress?procedure=operative/composite_class_two").text


def test_a_spanish_one_is_spanish_to_its_timeline(spanish: TestClient, clock: Clock) -> None:
    path = begin(spanish, procedure="operativa_es/amalgama")
    seat, page = seat_of(spanish), spanish.get(path).text
    assert "la voz solo se entiende en inglés" in page and "Traer uno estéril" in page
    assert 'data-listen="Escucha."' in page and 'id="mic" aria-pressed="false" hidden' in page
    told = []
    while (line := seat.rehearsal.line) is not None:
        clock.now_s += 5
        act = ("silence",) if seat.rehearsal.number % 3 == 0 else ("touch", "1")
        reply = done(spanish, path, *(act if line.asks else ("silence",)))
        told += [reply["told"]] if reply["told"] else []
    assert told and not any("slot" in text or "right" in text or "asked" in text for text in told)
    count = spanish.get(f"{path}/now").json()
    assert count["places"][0] == "de vuelta en la bandeja"
    answers = {item["id"]: "se cayó" for item in count["items"]}
    over = spanish.post(f"{path}/count", json={"answers": answers}, headers=OWN).json()
    record = spanish.get(f"{HOME}/record/{over['record']}").text
    main = record.partition('<dl class="sums" lang="es">')[2].partition("</main>")[0]
    assert "Demasiado lento" in main and "Frase por frase" in main and " de " in main
    main = re.sub("<[^>]*>", "", main)
    for english in ("Too slow", "left alone", "right", "hesitated", "The bar is", "you said", "Line by line"):
        assert english not in main, english
    refused = spanish.post(f"{path}/count", json={"answers": {"espejo": "fell"}}, headers=OWN)
    assert refused.json() == over  # it is kept once, whatever comes then


def test_what_is_to_be_known_of_the_voices_stands_where_it_is_chosen(
    spanish: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "understood in English only" in spanish.get(HOME).text
    monkeypatch.setattr("listen.practice.rehearsal.seats.is_rule_made", lambda language: language == "es")
    assert "speak Spanish here are made by rules" in spanish.get(HOME).text
    monkeypatch.setattr("listen.practice.rehearsal.seats.can_speak", lambda language: language == "en")
    page = spanish.get(HOME).text
    assert "A rehearsal in Spanish is heard" in page and "operativa_es/amalgama" not in page
    refused = spanish.post(HOME, data={**WISH, "procedure": "operativa_es/amalgama"}, headers=OWN)
    assert refused.status_code == 400 and "no voice is installed" in refused.text


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"level": "9"}, "level 1 to 5"),
        ({"minutes": "60"}, "3, 5, 10 minutes"),
        ({"procedure": "operative/nothing"}, "o procedure is called"),
    ],
)
def test_what_cannot_be_chosen_is_refused(client: TestClient, change: dict[str, str], told: str) -> None:
    answer = client.post(HOME, data={**WISH, **change}, headers=OWN)
    assert answer.status_code == 400 and told in answer.text


def test_nobody_gets_at_it_without_a_code(client: TestClient) -> None:
    path = begin(client)
    client.cookies.clear()
    assert client.get(HOME).status_code == 303
    for address in (f"{path}/now", f"{path}/say?n=1"):
        assert client.get(address).status_code == 403
    assert client.get(f"{HOME}/no-such-seat/now").status_code == 404
