"""The voice check over its live connection and its pages; the engine hears what the test says was read.

Consent is tried in every order that a page may send it: nothing is on the disk before the person agrees.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from listen.engine import Hearing, Samples
from listen.readings import Adjustment
from listen.voicecheck.store import FILE
from listen.web import ServerSettings, create_app
from listen.web.edit import pages as edit
from listen.web.voice import pages as voice
from listen.web.voice.pages import PLACE, RECORDINGS
from tests.listen.web.desk_app import HERE, OWN, Clock, hearing_of, pcm, recording, shared_chair

LIVE = f"{HERE.replace('http', 'ws')}{PLACE}/live"
TRAY = [["operative", "composite_class_two"]]
CODE = "lead-code"
SPOKEN = 5
"""A recording without a pause in it."""


class Hears:
    """Hears the same text until it is told another."""

    name = "stand-in"
    text = ""

    def hear(self, samples: Samples) -> Hearing:
        return hearing_of(self.text)


class Check:
    """A voice check over a connection."""

    def __init__(self, live: Any, engine: Hears) -> None:
        self._live, self._engine = live, engine

    def ask(self, do: str, **more: Any) -> None:
        self._live.send_json({"do": do, **more})

    def until(self, kind: str) -> dict[str, Any]:
        """The next message of this kind."""
        for _ in range(400):
            message: dict[str, Any] = self._live.receive_json()
            if message["type"] == kind:
                return message
        raise AssertionError(f"no {kind} came")

    def begin(self) -> list[dict[str, Any]]:
        self.ask("begin", procedures=TRAY)
        return list(self.until("lines")["lines"])

    def sound(self, samples: Samples) -> None:
        for block in pcm(samples):
            self._live.send_bytes(block)

    def read(self, number: int, heard: str, running: str = "quiet") -> dict[str, Any]:
        """Read line `number`; the engine hears this."""
        self._engine.text = heard
        self.ask("read", number=number, running=running)
        self.sound(recording(SPOKEN))
        for _ in range(400):
            message: dict[str, Any] = self._live.receive_json()
            if message["type"] == "heard":
                return message
            if message["type"] == "ear" and message["state"] == "quiet":  # the person says no more
                self.sound(np.zeros(32_000, np.float32))
        raise AssertionError("nothing was heard")

    def keep(self, who: str = "R. S.", agreed: bool = True) -> None:
        self.ask("keep", who=who, agreed=agreed)


def said(line: dict[str, Any]) -> str:
    """What somebody says who reads this line or sees this picture."""
    called = shared_chair().pack.called
    return str(line["text"] or called[line["drawn"]]).rstrip(".?")


def app_client(data: Path, engine: Hears, code: str | None = None, **settings: Any) -> TestClient:
    app = create_app(
        shared_chair,
        ServerSettings(data=data, clock=Clock(), **settings),
        lambda: engine,
        more_routes=(*voice.routes(code), *edit.routes(code)),
        more_links=(voice.LINK, edit.LINK),
    )
    return TestClient(app, base_url=HERE, follow_redirects=False)


@pytest.fixture
def engine() -> Hears:
    return Hears()


@pytest.fixture
def client(tmp_path: Path, engine: Hears) -> Iterator[TestClient]:
    with app_client(tmp_path / "data", engine) as client:
        yield client


@pytest.fixture
def check(client: TestClient, engine: Hears) -> Iterator[Check]:
    with client.websocket_connect(LIVE, headers=OWN) as live:
        yield Check(live, engine)


def on_disk(tmp_path: Path) -> bool:
    return (tmp_path / "data" / FILE).exists()


def test_lines_are_read_and_their_result_is_told(check: Check) -> None:
    lines = check.begin()
    assert len(lines) == 25
    for number in range(3):
        told = check.read(number, said(lines[number]))
        assert told["number"] == number and told["outcome"] in ("right", "asked"), told
    asking = next(n for n, line in enumerate(lines) if n > 2 and "nothing" not in line["how"])
    assert check.read(asking, "I was late this morning", "suction")["outcome"] == "missed"
    check.ask("finish")
    result = check.until("result")
    assert result["read"] == 4 and result["summary"].endswith("understood")
    assert [one["name"] for one in result["by_running"]] == ["Nothing running", "Suction on"]
    assert any(one["outcome"] == "missed" for one in result["hard"])


def test_a_room_is_measured_in_three_seconds(check: Check) -> None:
    check.begin()
    check.ask("measure", running="quiet")
    hiss = np.random.default_rng(1).standard_normal(3 * 16_000 + 512) * 0.001
    check.sound(hiss.astype(np.float32))
    room = check.until("room")
    assert room["advice"] == [] and not room["dead"] and "60 dB" in room["told"]
    check.ask("measure", running="handpiece")
    check.sound(np.zeros(3 * 16_000 + 512, np.float32))
    room = check.until("room")
    assert room["dead"] and "No sound" in room["advice"][0]


@pytest.mark.parametrize(
    "wishes",
    [
        [],
        [("R. S.", False)],
        [("", True)],
        [("   ", True)],
        [("R. S.", False), ("", True), ("", False)],
    ],
)
def test_without_a_name_and_consent_nothing_is_on_the_disk(
    client: TestClient, check: Check, tmp_path: Path, wishes: list[tuple[str, bool]]
) -> None:
    lines = check.begin()
    check.read(0, said(lines[0]))
    for who, agreed in wishes:
        check.keep(who, agreed)
        check.until("problem")
    check.ask("finish")
    check.until("result")
    assert not on_disk(tmp_path)
    assert "Nothing is kept" in client.get(RECORDINGS).text
    assert not on_disk(tmp_path)


def test_consent_before_anything_was_read_keeps_nothing(check: Check, tmp_path: Path) -> None:
    check.keep()
    assert "choose the trays" in check.until("problem")["text"]
    check.begin()
    check.keep()
    assert "nothing was read" in check.until("problem")["text"]
    assert not on_disk(tmp_path)


def test_consent_to_one_round_is_none_to_the_next(check: Check, client: TestClient) -> None:
    lines = check.begin()
    check.read(0, said(lines[0]))
    check.keep()
    assert check.until("kept")["number"] == 1
    check.keep()
    assert "kept already" in check.until("problem")["text"]
    lines = check.begin()
    check.read(0, said(lines[0]))
    check.ask("finish")
    check.until("result")
    assert len(_store(client).recordings()) == 1


def _store(client: TestClient) -> Any:
    return client.app.state.running.voices  # type: ignore[attr-defined]


def kept(check: Check, lines_read: int = 2) -> None:
    lines = check.begin()
    for number in range(lines_read):
        check.read(number, said(lines[number]))
    check.keep()
    check.until("kept")


def test_recordings_are_listed_played_deleted_one_by_one_and_all(check: Check, client: TestClient) -> None:
    kept(check)
    text = client.get(RECORDINGS).text
    assert "R. S." in text and "2 recordings" in text
    first, second = (one.id for one in _store(client).recordings())
    sound = client.get(f"{RECORDINGS}/{first}.flac")
    assert sound.content[:4] == b"fLaC" and sound.headers["cache-control"] == "no-store"
    client.post(RECORDINGS, data={"do": "delete", "recording": str(first)}, headers=OWN)
    assert [one.id for one in _store(client).recordings()] == [second]
    assert client.get(f"{RECORDINGS}/{first}.flac").status_code == 400
    (person,) = _store(client).people()
    refused = client.post(RECORDINGS, data={"do": "withdraw", "person": str(person.id)}, headers=OWN)
    assert refused.status_code == 400 and _store(client).people()
    client.post(RECORDINGS, data={"do": "delete_everything", "sure": "yes"}, headers=OWN)
    assert "Nothing is kept" in client.get(RECORDINGS).text


def test_recordings_are_measured_again_on_demand(check: Check, client: TestClient, engine: Hears) -> None:
    kept(check, 1)
    engine.text = "I was late this morning"
    assert client.post(RECORDINGS, data={"do": "measure"}, headers=OWN).status_code == 303
    until = time.monotonic() + 30
    while client.get(f"{RECORDINGS}/state").json()["doing"]:
        assert time.monotonic() < until
    assert client.get(f"{RECORDINGS}/state").json()["problem"] == ""
    assert len(_store(client).measurements()) == 2
    text = client.get(RECORDINGS).text
    assert "On the same recordings" in text and "vocabulary" in text


def test_with_few_recordings_the_page_says_so_and_fits_nothing(check: Check, client: TestClient) -> None:
    kept(check, 1)
    assert "There are 1 recordings" in client.get(RECORDINGS).text
    client.post(RECORDINGS, data={"do": "fit"}, headers=OWN)
    until = time.monotonic() + 30
    while client.get(f"{RECORDINGS}/state").json()["doing"]:
        assert time.monotonic() < until
    assert "There are 1 recordings" in client.get(f"{RECORDINGS}/state").json()["problem"]
    assert _store(client).adopted() is None


def test_the_two_numbers_are_used_by_every_session_until_they_are_switched_off(
    check: Check, client: TestClient
) -> None:
    kept(check, 1)
    running = client.app.state.running  # type: ignore[attr-defined]
    shipped = shared_chair().calibration
    _store(client).adopt(Adjustment(0.5, 1.0), shipped.checksum, "It helped.", 1.0)
    running.readjust()
    assert running.all_fields.reader("operative", None)._calibration.shift == 0.5
    assert "It helped." in client.get(RECORDINGS).text
    client.post(RECORDINGS, data={"do": "switch_off"}, headers=OWN)
    assert running.all_fields.reader("operative", None)._calibration == shipped
    client.post(RECORDINGS, data={"do": "switch_on"}, headers=OWN)
    assert running.all_fields.reader("operative", None)._calibration.shift == 0.5
    (person,) = _store(client).people()
    client.post(RECORDINGS, data={"do": "withdraw", "person": str(person.id), "sure": "yes"}, headers=OWN)
    assert running.all_fields.reader("operative", None)._calibration == shipped


def test_recordings_are_for_the_lead_alone_where_there_is_a_code(tmp_path: Path, engine: Hears) -> None:
    with app_client(tmp_path / "data", engine, CODE) as client:
        assert client.get(PLACE).status_code == 200
        paths = (RECORDINGS, f"{RECORDINGS}/state", f"{RECORDINGS}/1.flac")
        for path in paths:
            assert client.get(path).headers["location"] == f"{RECORDINGS}/enter"
        wish = {"do": "delete_everything", "sure": "yes"}
        assert client.post(RECORDINGS, data=wish, headers=OWN).headers["location"] == f"{RECORDINGS}/enter"


@pytest.mark.parametrize(
    "sent",
    [
        {"do": "begin", "procedures": []},
        {"do": "begin", "procedures": [["operative", "nothing"]]},
        {"do": "begin", "procedures": [["nothing", "nothing"]]},
        {"do": "read", "number": 0, "running": "quiet"},
        {"do": "read", "number": -1, "running": "quiet"},
        {"do": "measure", "running": "music"},
        {"do": "finish"},
        {"do": "keep", "who": "x" * 41, "agreed": True},
        {"do": "nothing"},
    ],
)
def test_what_makes_no_sense_is_declined_and_the_check_goes_on(check: Check, sent: dict[str, Any]) -> None:
    check.ask(**sent)
    assert check.until("problem")["text"]
    assert len(check.begin()) == 25


def test_two_items_that_were_confused_can_always_be_asked_about(client: TestClient) -> None:
    path = "/edit/ask-back?item=ball_burnisher&other=acorn_burnisher&vocabulary=operative"
    asked = client.get(path)
    assert asked.status_code == 303 and asked.headers["location"].startswith("/edit/enter?back=")
    client.post("/edit/enter", data={"name": "Kim"}, headers=OWN)
    text = client.get(path).text
    assert "Always ask" in text and 'value="ask_back"' in text
    assert client.get("/edit/ask-back?item=ball_burnisher&other=nothing").status_code == 404


def test_start_set_up_and_the_chairs_options_lead_to_it(client: TestClient) -> None:
    assert f'href="{PLACE}"' in client.get("/").text
    begun = client.post("/start", data={"procedure": "composite_class_two"}, headers=OWN)
    chair = begun.headers["location"]
    assert f"{PLACE}?procedure=operative/composite_class_two" in client.get(f"{chair}/setup").text
    assert f'href="{PLACE}"' in client.get(chair).text
