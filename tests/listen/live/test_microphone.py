"""The server's own microphone at a chair screen: a stand-in for the device plays recordings."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient, WebSocketTestSession

from listen.web import ServerSettings, create_app
from tests.listen.flow.fake_sounddevice import FakeSounddevice, FakeStream, install
from tests.listen.web.browser import Page, browser, served
from tests.listen.web.desk_app import HERE, OWN, Clock, StandIn, begin, live_of, pcm, recording, shared_chair
from tests.listen.web.test_live import microphone, shows, until

pytestmark = pytest.mark.slow

CODE = "molar-17-spoon"
DECIDED = {"by": "Kim", "reason": "practice"}
HERE_AT, ELSEWHERE_AT = "127.0.0.1", "192.168.0.7"
OPEN_OWN = {"do": "microphone", "open": True, "own": True}
View = dict[str, Any]


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> FakeSounddevice:
    return install(monkeypatch, FakeSounddevice({(16_000.0, 1)}))


@pytest.fixture
def engine() -> StandIn:
    return StandIn()


@pytest.fixture
def client(tmp_path: Path, engine: StandIn) -> Iterator[TestClient]:
    with from_address(tmp_path, engine, HERE_AT) as client:
        yield client


def from_address(data: Path, engine: StandIn, address: str, code: str | None = None) -> TestClient:
    """A browser at this address."""
    settings = ServerSettings(data=data, clock=Clock(), pass_code=code)
    app = create_app(shared_chair, settings, lambda: engine)
    return TestClient(app, base_url=HERE, follow_redirects=False, client=(address, 50_000))


def speak(stream: FakeStream, number: int) -> None:
    """Play a recording to the device, as its driver delivers it."""
    samples = recording(number)
    for start in range(0, len(samples), stream.blocksize):
        stream.deliver(samples[start : start + stream.blocksize])


def of_type(kind: str) -> Callable[[View], bool]:
    return lambda message: message["type"] == kind


def opened(live: WebSocketTestSession) -> View:
    live.send_json(OPEN_OWN)
    return until(live, microphone("open"))


def test_it_hears_a_request_and_the_screen_says_that_it_is_the_one_that_is_open(
    client: TestClient, engine: StandIn, device: FakeSounddevice
) -> None:
    engine.texts.append("Can I have the cotton pliers?")
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        assert live.receive_json()["own"] is None
        assert opened(live)["own"] == "Headset"
        speak(device.streams[0], 5)
        assert until(live, lambda m: m["type"] == "level" and m["level"] > 0.1)["level"] <= 1
        assert until(live, shows("answer"))["stage"]["answers"][0]["slot"] == "4"
        live.send_json({"do": "microphone", "open": False})
        assert until(live, microphone("closed"))["own"] is None
        wait_closed(client, device.streams[0])


def wait_closed(client: TestClient, stream: FakeStream) -> None:
    """The device is let go a moment after the screen says so."""
    assert client.portal is not None
    client.portal.call(_wait_closed, stream)


async def _wait_closed(stream: FakeStream) -> None:
    import anyio

    with anyio.fail_after(10):
        while not stream.closed:
            await anyio.sleep(0.01)


def test_nothing_of_its_sound_is_stored(
    client: TestClient, engine: StandIn, device: FakeSounddevice, tmp_path: Path
) -> None:
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        opened(live)
        speak(device.streams[0], 5)
        until(live, lambda m: m["type"] == "ear" and m["state"] == "speaking")
        until(live, lambda m: m["type"] == "ear" and m["state"] == "quiet")
    assert engine.heard
    samples = recording(5)
    at = int(abs(samples).argmax())
    loud = samples[at - 32 : at + 32]
    forms = [loud.tobytes(), (loud * 32768).astype("<i2").tobytes(), (loud * 32767).astype("<i2").tobytes()]
    kept = [file.read_bytes() for file in tmp_path.rglob("*") if file.is_file()]
    assert kept and not any(form in content for form in forms for content in kept)


def test_the_browser_s_sound_is_not_heard_while_the_server_s_is_open(
    client: TestClient, engine: StandIn, device: FakeSounddevice
) -> None:
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        opened(live)
        for block in pcm(recording(5)):
            live.send_bytes(block)
        live.send_json({"do": "ask", "text": "mouth mirror"})
        until(live, shows("answer"))
    assert engine.heard == 0


def test_another_machine_may_not_open_it(tmp_path: Path, device: FakeSounddevice) -> None:
    with from_address(tmp_path, StandIn(), ELSEWHERE_AT) as client:
        session = begin(client)
        assert 'id="which"' not in client.get(f"/chair/{session}").text
        with client.websocket_connect(live_of(session), headers=OWN) as live:
            live.send_json(OPEN_OWN)
            assert "pass code" in until(live, of_type("lost"))["text"]
    assert device.streams == []


def test_another_machine_with_the_pass_code_may(tmp_path: Path, device: FakeSounddevice) -> None:
    with from_address(tmp_path, StandIn(), ELSEWHERE_AT, CODE) as client:
        client.post("/enter", data={"code": CODE}, headers=OWN)
        session = begin(client)
        assert 'id="which"' in client.get(f"/chair/{session}").text
        with client.websocket_connect(live_of(session), headers=OWN) as live:
            assert opened(live)["own"] == "Headset"


def test_another_screen_of_the_session_takes_it_over(client: TestClient, device: FakeSounddevice) -> None:
    path = live_of(begin(client))
    with (
        client.websocket_connect(path, headers=OWN) as one,
        client.websocket_connect(path, headers=OWN) as two,
    ):
        opened(one)
        assert until(two, microphone("elsewhere"))["own"] == "Headset"
        opened(two)
        until(one, microphone("elsewhere"))
        first, second = device.streams
        assert first.closed and not second.closed
        one.send_json({"do": "microphone", "open": True})
        assert until(one, microphone("open"))["own"] is None
        wait_closed(client, second)


def test_another_chair_is_refused_and_the_first_keeps_it(client: TestClient, device: FakeSounddevice) -> None:
    with (
        client.websocket_connect(live_of(begin(client)), headers=OWN) as one,
        client.websocket_connect(live_of(begin(client)), headers=OWN) as other,
    ):
        opened(one)
        other.send_json(OPEN_OWN)
        assert "another chair" in until(other, of_type("lost"))["text"]
        assert len(device.streams) == 1 and not device.streams[0].closed
        one.send_json({"do": "microphone", "open": False})
        until(one, microphone("closed"))
        opened(other)


def test_a_page_that_goes_takes_it_along(client: TestClient, device: FakeSounddevice) -> None:
    path = live_of(begin(client))
    with client.websocket_connect(path, headers=OWN) as stays:
        with client.websocket_connect(path, headers=OWN) as goes:
            opened(goes)
        until(stays, microphone("elsewhere"))
        until(stays, microphone("closed"))
        wait_closed(client, device.streams[0])


def test_the_end_of_the_session_closes_it(client: TestClient, device: FakeSounddevice) -> None:
    session = begin(client)
    with client.websocket_connect(live_of(session), headers=OWN) as live:
        opened(live)
        client.post(f"/chair/{session}/end", data=DECIDED, headers=OWN)
        assert "closed" in until(live, of_type("lost"))["text"]
        until(live, microphone("closed"))
        wait_closed(client, device.streams[0])


def test_one_that_is_unplugged_is_told_and_closed(client: TestClient, device: FakeSounddevice) -> None:
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        opened(live)
        device.streams[0].active = False
        assert "plugged in" in until(live, of_type("lost"))["text"]
        until(live, microphone("closed"))
        opened(live)


def test_where_there_is_none_the_screen_says_what_to_do(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake = install(monkeypatch, FakeSounddevice(set(), default=None))
    fake.devices = fake.devices[:1]
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        live.send_json(OPEN_OWN)
        assert "plug one in" in until(live, of_type("lost"))["text"]
        live.send_json({"do": "ask", "text": "mouth mirror"})
        assert until(live, shows("answer"))["microphone"] == "closed"


def test_the_real_engine_hears_it(tmp_path: Path, device: FakeSounddevice) -> None:
    """The same recording that lights slot 3 through the browser's microphone (`test_live`)."""
    app = create_app(shared_chair, ServerSettings(data=tmp_path), lambda: shared_chair().engine())
    with (
        TestClient(app, base_url=HERE, follow_redirects=False, client=(HERE_AT, 50_000)) as client,
        client.websocket_connect(live_of(begin(client)), headers=OWN) as live,
    ):
        opened(live)
        speak(device.streams[0], 5)
        assert until(live, shows("answer"))["stage"]["answers"][0]["slot"] == "3"


def test_the_screen_names_the_one_that_is_open(tmp_path: Path, device: FakeSounddevice) -> None:
    with served(tmp_path / "data", StandIn()) as server, browser() as context:
        page = Page(context)
        page.begin(server.url)
        mic = page.page.locator("#mic")
        for which, told in (("own", "the server's: Headset"), ("browser", "this browser's")):
            page.page.click("#more")
            page.page.select_option("#which", which)
            page.page.click("#options .close")
            page.open_microphone()
            assert "Microphone open" in mic.inner_text() and told in mic.inner_text()
            assert mic.get_attribute("aria-pressed") == "true"
            page.page.keyboard.press("Space")
            page.page.wait_for_selector("body[data-mic=closed]")
            assert told not in mic.inner_text()
        assert len(device.streams) == 1 and page.complaints == []


def test_a_closed_page_closes_it(tmp_path: Path, device: FakeSounddevice) -> None:
    with served(tmp_path / "data", StandIn()) as server, browser() as context:
        page, stays = Page(context), Page(context)
        session = page.begin(server.url)
        stays.page.goto(f"{server.url}/chair/{session}")
        stays.ready()
        page.page.evaluate("localStorage.setItem('traycall.microphone', 'own')")
        page.open_microphone()
        stays.page.wait_for_selector("body[data-mic=elsewhere]")
        assert "the server's is open at another screen" in stays.page.inner_text("#mic")
        page.page.close()
        stays.page.wait_for_selector("body[data-mic=closed]")
        stays.page.wait_for_timeout(400)
        assert device.streams[0].closed
