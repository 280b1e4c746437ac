"""The live connection: sound in, answers out; two screens; the real engine on recordings."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient, WebSocketTestSession

from listen.live.sessions import MOST_SCREENS
from listen.web import ServerSettings, create_app
from tests.listen.web.desk_app import (
    HERE,
    OWN,
    StandIn,
    begin,
    client_for,
    live_of,
    pcm,
    recording,
    shared_chair,
)

View = dict[str, Any]
MOST_MESSAGES = 60


@pytest.fixture
def engine() -> StandIn:
    return StandIn()


@pytest.fixture
def client(tmp_path: Path, engine: StandIn) -> Iterator[TestClient]:
    with client_for(tmp_path, engine) as client:
        yield client


def until(live: WebSocketTestSession, wanted: Callable[[View], bool]) -> View:
    """The first message that is wanted."""
    for _ in range(MOST_MESSAGES):
        message: View = live.receive_json()
        if wanted(message):
            return message
    raise AssertionError("what was waited for never came")


def shows(kind: str) -> Callable[[View], bool]:
    return lambda message: message["type"] == "room" and message["stage"]["kind"] == kind


def microphone(state: str) -> Callable[[View], bool]:
    return lambda message: message["type"] == "room" and message["microphone"] == state


def play(live: WebSocketTestSession, number: int) -> None:
    for block in pcm(recording(number)):
        live.send_bytes(block)


def test_a_screen_is_shown_everything_when_it_connects(client: TestClient) -> None:
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        view = live.receive_json()
    assert view["microphone"] == "closed" and len(view["next"]) == 3 and view["stage"]["kind"] == "idle"


def test_sound_becomes_an_answer(client: TestClient, engine: StandIn) -> None:
    engine.texts.append("Can I have the cotton pliers?")
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        live.send_json({"do": "microphone", "open": True})
        until(live, microphone("open"))
        play(live, 5)
        assert until(live, lambda m: m["type"] == "ear")["state"] == "speaking"
        assert until(live, shows("answer"))["stage"]["answers"][0]["slot"] == "4"


def test_sound_before_the_microphone_was_opened_is_not_heard(client: TestClient, engine: StandIn) -> None:
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        play(live, 5)
        live.send_json({"do": "ask", "text": "mouth mirror"})
        until(live, shows("answer"))
    assert engine.heard == 0


def test_a_spoken_start_opens_and_a_spoken_end_closes(client: TestClient, engine: StandIn) -> None:
    engine.texts.extend(
        ["mouth mirror please", "Chair side ready.", "cotton pliers please", "Chairside finish."]
    )
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        live.send_json({"do": "microphone", "open": True, "waiting": True})
        until(live, microphone("waiting"))
        play(live, 5)
        play(live, 5)
        view = until(live, microphone("open"))
        assert view["stage"]["kind"] == "idle" and view["events"] == 1
        play(live, 5)
        assert until(live, shows("answer"))["stage"]["answers"][0]["item"] == "cotton_pliers"
        play(live, 5)
        until(live, microphone("waiting"))


def test_two_screens_of_a_session_stay_in_step(client: TestClient) -> None:
    path = live_of(begin(client))
    with (
        client.websocket_connect(path, headers=OWN) as one,
        client.websocket_connect(path, headers=OWN) as two,
    ):
        one.send_json({"do": "ask", "text": "the burnisher"})
        first, second = until(one, shows("check")), until(two, shows("check"))
        assert first["stage"]["choices"] == second["stage"]["choices"]
        two.send_json({"do": "choose", "number": 1})
        assert until(one, shows("answer"))["out"] == until(two, shows("answer"))["out"]


def test_a_microphone_opened_at_another_screen_closes_the_first(client: TestClient) -> None:
    path = live_of(begin(client))
    with (
        client.websocket_connect(path, headers=OWN) as one,
        client.websocket_connect(path, headers=OWN) as two,
    ):
        one.send_json({"do": "microphone", "open": True})
        until(one, microphone("open"))
        until(two, microphone("elsewhere"))
        two.send_json({"do": "microphone", "open": True})
        until(two, microphone("open"))
        until(one, microphone("elsewhere"))


def test_a_screen_that_leaves_takes_its_microphone_along(client: TestClient) -> None:
    path = live_of(begin(client))
    with client.websocket_connect(path, headers=OWN) as two:
        with client.websocket_connect(path, headers=OWN) as one:
            one.send_json({"do": "microphone", "open": True})
            until(two, microphone("elsewhere"))
        until(two, microphone("closed"))


def test_touches_are_noted_and_undone(client: TestClient) -> None:
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        live.send_json({"do": "touch", "kind": "passed", "item": "mouth_mirror"})
        until(live, lambda m: m["type"] == "room" and m["places"].get("mouth_mirror") == {"out": 1})
        live.send_json({"do": "undo"})
        until(live, lambda m: m["type"] == "room" and m["events"] == 3 and not m["places"])


@pytest.mark.parametrize(
    "nonsense",
    [
        "", "no json", "[]", "{}", '{"do": "dance"}', '{"do": "ask"}', '{"do": "ask", "text": ""}',
        '{"do": "ask", "text": 7}', '{"do": "choose", "number": "1"}', '{"do": "choose", "number": true}',
        '{"do": "touch", "kind": "eaten", "item": "mouth_mirror"}',
        '{"do": "touch", "kind": "session_closed", "item": "x"}',
        '{"do": "touch", "kind": "passed", "item": "ghost"}', '{"do": "request", "item": "ghost"}',
        json.dumps({"do": "ask", "text": "x" * 500}), "[" * 1500,
    ],
)  # fmt: skip
def test_nonsense_is_answered_and_survived(client: TestClient, nonsense: str) -> None:
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        live.send_text(nonsense)
        assert until(live, lambda m: m["type"] == "problem")["text"]
        live.send_bytes(b"\x00")
        live.send_bytes(b"\x00" * 200_000)
        live.send_json({"do": "ask", "text": "mouth mirror"})
        until(live, shows("answer"))


def test_a_session_that_is_not_there_is_told_so(client: TestClient) -> None:
    with client.websocket_connect(live_of(99), headers=OWN) as live:
        assert live.receive()["code"] == 4404


def test_there_is_an_end_to_the_number_of_screens(client: TestClient) -> None:
    from contextlib import ExitStack

    path = live_of(begin(client))
    with ExitStack() as screens:
        for _ in range(MOST_SCREENS):
            screens.enter_context(client.websocket_connect(path, headers=OWN)).receive_json()
        with client.websocket_connect(path, headers=OWN) as live:
            assert live.receive()["code"] == 4429


TRAY = "composite_class_two"


@pytest.fixture(scope="module")
def real_engine() -> Any:
    return shared_chair().engine()


@pytest.mark.parametrize(
    ("number", "item"),
    [(5, "perio_probe"), (9, "gauze_square"), (59, "composite_dispenser")],
    ids=["perio probe", "two by two", "composite gun"],
)
def test_the_real_engine_answers_a_recording(
    tmp_path: Path, real_engine: Any, number: int, item: str
) -> None:
    app = create_app(shared_chair, ServerSettings(data=tmp_path), lambda: real_engine)
    with TestClient(app, base_url=HERE, follow_redirects=False) as client:
        session = begin(client)
        with client.websocket_connect(live_of(session), headers=OWN) as live:
            live.send_json({"do": "microphone", "open": True})
            until(live, microphone("open"))
            play(live, number)
            (answer,) = until(live, shows("answer"))["stage"]["answers"]
            assert (answer["item"], answer["slot"]) == (item, shared_chair().pack.tray(TRAY).slot_of(item))


def test_the_real_engine_stays_quiet_for_chatter(tmp_path: Path, real_engine: Any) -> None:
    app = create_app(shared_chair, ServerSettings(data=tmp_path), lambda: real_engine)
    with TestClient(app, base_url=HERE, follow_redirects=False) as client:
        session = begin(client)
        with client.websocket_connect(live_of(session), headers=OWN) as live:
            live.send_json({"do": "microphone", "open": True})
            play(live, 4)
            until(live, lambda m: m["type"] == "ear" and m["state"] == "speaking")
            until(live, lambda m: m["type"] == "ear" and m["state"] == "quiet")
        assert len(app.state.running.chair_session(session).state.events) == 1
