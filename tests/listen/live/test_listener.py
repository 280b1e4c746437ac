"""Hold to talk: what is said while a key, the pedal or the button is held is one request."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient, WebSocketTestSession

from listen.live import listener
from tests.listen.web.browser import GAP_S, LEAD_S, Page, Server, browser, microphone_file, served
from tests.listen.web.desk_app import OWN, StandIn, begin, client_for, live_of, pcm, recording
from tests.listen.web.test_live import View, microphone, shows, until

pytestmark = pytest.mark.slow

PERIO_PROBE = 5
GUESSES = 9
"""More than are made in the pauses of a recording; each takes a text."""
HOLD = {"do": "microphone", "open": True, "held": True}
LET_GO = {"do": "microphone", "open": False, "finish": True}
SPEAKING = "body[data-ear=speaking]"


@pytest.fixture
def engine() -> StandIn:
    return StandIn()


@pytest.fixture
def client(tmp_path: Path, engine: StandIn) -> Iterator[TestClient]:
    with client_for(tmp_path, engine) as client:
        yield client


def answers(item: str) -> Callable[[View], bool]:
    return lambda m: shows("answer")(m) and [one["item"] for one in m["stage"]["answers"]] == [item]


def press(live: WebSocketTestSession) -> None:
    live.send_json(HOLD)
    until(live, microphone("open"))


def said(number: int) -> list[bytes]:
    """A recording without the silence after it."""
    return pcm(recording(number)[:-16_000])


def test_letting_go_ends_the_request_without_a_pause(client: TestClient, engine: StandIn) -> None:
    engine.texts.extend(["cotton pliers please"] * GUESSES)
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        press(live)
        for block in said(PERIO_PROBE):
            live.send_bytes(block)
        live.send_json(LET_GO)
        until(live, microphone("closed"))
        until(live, shows("answer"))
    assert engine.heard == 1


def test_who_lets_go_within_a_word_is_heard_to_the_next_pause(
    client: TestClient, engine: StandIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The key is let go at the loudest moment; sound still comes, as from a page."""
    engine.texts.extend(["mouth mirror please", "cotton pliers please"])
    blocks = pcm(recording(PERIO_PROBE))
    loud = int(abs(recording(PERIO_PROBE)).argmax()) // 512
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        for finish_s, item in ((0.0, "mouth_mirror"), (10.0, "cotton_pliers")):
            monkeypatch.setattr(listener, "FINISH_S", finish_s)
            press(live)
            for block in blocks[:loud]:
                live.send_bytes(block)
            live.send_json(LET_GO)
            for block in blocks[loud:]:
                live.send_bytes(block)
            until(live, answers(item))
    at_once_s, *_, to_the_pause_s = engine.heard_s
    assert to_the_pause_s > at_once_s


def test_who_lets_go_and_is_gone_is_not_waited_for(client: TestClient, engine: StandIn) -> None:
    """No sound comes after the key was let go in the middle of a word."""
    engine.texts.extend(["cotton pliers please"] * GUESSES)
    blocks = said(PERIO_PROBE)
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        press(live)
        for block in blocks[: len(blocks) * 2 // 3]:
            live.send_bytes(block)
        live.send_json(LET_GO)
        until(live, microphone("closed"))
        until(live, shows("answer"))


def test_a_key_held_in_silence_asks_for_nothing(client: TestClient, engine: StandIn) -> None:
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        press(live)
        for block in pcm(recording(PERIO_PROBE)[:8_000]):
            live.send_bytes(block)
        live.send_json(LET_GO)
        assert until(live, microphone("closed"))["events"] == 1
    assert engine.heard == 0


def test_pressing_again_at_once_loses_neither_request(client: TestClient, engine: StandIn) -> None:
    engine.texts.extend(["mouth mirror please", "cotton pliers please"])
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        for _ in range(2):
            live.send_json(HOLD)
            for block in said(PERIO_PROBE):
                live.send_bytes(block)
            live.send_json(LET_GO)
        for item in ("mouth_mirror", "cotton_pliers"):
            until(live, answers(item))


def hold(page: Page, key: str = "") -> None:
    """Choose to hold, and the key."""
    page.page.click("#more")
    page.page.select_option("#pedal-way", "hold")
    if key:
        page.page.click("#pedal")
        page.page.keyboard.press(key)
    page.page.click("#options .close")
    page.wait_for_hearing()


@pytest.fixture
def server(tmp_path: Path, engine: StandIn) -> Iterator[Server]:
    with served(tmp_path / "data", engine) as server:
        yield server


@pytest.mark.parametrize("key", ["Space", "F9"])
def test_a_held_key_opens_and_letting_go_asks(
    tmp_path: Path, server: Server, engine: StandIn, key: str
) -> None:
    engine.texts.extend(["cotton pliers please"] * GUESSES)
    sound, length_s = microphone_file(tmp_path, PERIO_PROBE)
    with browser(sound) as context:
        page = Page(context)
        page.begin(server.url)
        hold(page, "" if key == "Space" else key)
        page.page.keyboard.down(key)
        page.page.wait_for_selector("body[data-mic=open]")
        for _ in range(3):
            page.page.keyboard.down(key)  # a held key repeats
        page.page.wait_for_selector(SPEAKING)
        page.page.wait_for_timeout((length_s - LEAD_S - GAP_S) * 1000)
        assert page.page.get_attribute("body", "data-mic") == "open" and page.lit() == []
        page.page.keyboard.up(key)
        page.wait_lit("cotton_pliers")
        page.page.wait_for_selector("body[data-mic=closed]")
        assert page.complaints == []


def test_the_real_engine_answers_when_the_key_is_let_go(tmp_path: Path) -> None:
    from tests.listen.web.desk_app import shared_chair

    sound, length_s = microphone_file(tmp_path, PERIO_PROBE)
    engine = shared_chair().engine()
    with served(tmp_path / "data", engine) as server, browser(sound) as context:
        page = Page(context)
        page.begin(server.url)
        hold(page)
        page.page.keyboard.down("Space")
        page.page.wait_for_selector(SPEAKING)
        page.page.wait_for_timeout((length_s - LEAD_S - GAP_S) * 1000)
        page.page.keyboard.up("Space")
        page.wait_lit("perio_probe")


def test_the_button_is_held_by_mouse_and_by_finger(server: Server) -> None:
    with browser(has_touch=True) as context:
        page = Page(context)
        page.begin(server.url)
        hold(page)
        mic = page.page.locator("#mic")
        assert "hold" in mic.inner_text()
        box = mic.bounding_box()
        x, y = box["x"] + 40, box["y"] + 20
        page.page.mouse.move(x, y)
        page.page.mouse.down()
        page.page.wait_for_selector("body[data-mic=open]")
        assert "let go" in mic.inner_text()
        page.page.mouse.move(10, 700)
        page.page.mouse.up()
        page.page.wait_for_selector("body[data-mic=closed]")
        finger = context.new_cdp_session(page.page)
        finger.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        page.page.wait_for_selector("body[data-mic=open]")
        page.page.wait_for_timeout(800)  # longer than what a browser takes for a long press
        assert page.page.get_attribute("body", "data-mic") == "open"
        finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        page.page.wait_for_selector("body[data-mic=closed]")


def test_a_key_that_is_let_go_elsewhere_closes(server: Server) -> None:
    """Its end is never told to a page that is not looked at."""
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        hold(page)
        page.page.keyboard.down("Space")
        page.page.wait_for_selector("body[data-mic=open]")
        page.page.evaluate("dispatchEvent(new Event('blur'))")
        page.page.wait_for_selector("body[data-mic=closed]")


def test_a_short_touch_of_the_key_leaves_nothing_open(server: Server) -> None:
    """Let go before the browser has given its microphone."""
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        hold(page)
        for _ in range(3):
            page.page.keyboard.press("Space")
        page.page.wait_for_timeout(1_000)
        assert page.page.get_attribute("body", "data-mic") == "closed"
        assert page.page.get_attribute("#mic", "aria-pressed") == "false"


def test_who_toggles_is_not_disturbed_by_a_repeating_key(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        for state in ("open", "closed"):
            for _ in range(4):
                page.page.keyboard.down("Space")
            page.page.keyboard.up("Space")
            page.page.wait_for_selector(f"body[data-mic={state}]")
            page.page.wait_for_timeout(300)
            assert page.page.get_attribute("body", "data-mic") == state
