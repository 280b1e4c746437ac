"""Whoever connects and dawdles, sends too much or reads nothing stops nobody else.

The figures tried are those of an attack on an earlier version: 1,100 connections that sent half a request's
head kept every page away for a minute and wrote 653 MB of log.
"""

from __future__ import annotations

import asyncio
import json
import logging
import resource
import socket
import ssl
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import trustme
from starlette.testclient import TestClient
from websockets.sync.client import connect
from websockets.typing import Origin

from listen.engine import Hearing, Samples
from listen.web import ServerSettings, create_app
from listen.web.access import door
from listen.web.access.door import MOST_SHAKING, SAME_LINES, Door, Seldom, allow_files, entrance
from listen.web.access.guard import LARGEST_BODY
from listen.web.wire import MOST_UNREAD
from tests.listen.web.browser import Server, served
from tests.listen.web.desk_app import (
    HERE,
    OWN,
    Clock,
    StandIn,
    begin,
    client_for,
    live_of,
    pcm,
    recording,
    shared_chair,
)

MANY = 1_100
ASKS = 'name="code"'
HALF_HEAD = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
HALF_BODY = (
    b"POST /enter HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nOrigin: http://127.0.0.1:%d\r\n"
    b"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 900\r\n\r\ncode="
)


@pytest.fixture
def open_screen(tmp_path: Path) -> Iterator[Server]:
    """A screen that is open to the network, to those with the pass code."""
    with served(tmp_path, StandIn(), pass_code="molar-17-spoon") as server:
        yield server


def port_of(server: Server) -> int:
    return int(server.url.rpartition(":")[2])


def page(server: Server) -> str:
    """What stands on the page that everybody may see."""
    with urllib.request.urlopen(f"{server.url}/enter", timeout=20) as answer:
        return str(answer.read().decode())


def slow(server: Server, sent: bytes, how_many: int, held: ExitStack) -> list[socket.socket]:
    """So many connections that begin a request and never end it."""
    allow_files()
    made = []
    for _ in range(how_many):
        one = held.enter_context(socket.create_connection(("127.0.0.1", port_of(server)), timeout=20))
        with suppress(OSError):
            one.sendall(sent)
        made.append(one)
    return made


@pytest.mark.parametrize("body", [False, True])
def test_a_thousand_unfinished_requests_keep_no_page_away(open_screen: Server, body: bool) -> None:
    port = port_of(open_screen)
    with ExitStack() as held:
        slow(open_screen, HALF_BODY % (port, port) if body else HALF_HEAD, MANY, held)
        for _ in range(5):
            assert ASKS in page(open_screen)


@pytest.fixture
def secure_screen(tmp_path: Path) -> Iterator[tuple[Server, ssl.SSLContext]]:
    """A screen with a certificate, and who trusts it."""
    authority = trustme.CA()
    authority.issue_cert("127.0.0.1").private_key_and_cert_chain_pem.write_to_path(tmp_path / "chair.pem")
    trusts = ssl.create_default_context()
    authority.configure_trust(trusts)
    door_ = entrance(tmp_path / "chair.pem", tmp_path / "chair.pem")
    with served(tmp_path, StandIn(), door=door_, pass_code="molar-17-spoon") as server:
        server.url = server.url.replace("http:", "https:")
        yield server, trusts


def secure_page(server: Server, trusts: ssl.SSLContext) -> str:
    with urllib.request.urlopen(f"{server.url}/enter", timeout=20, context=trusts) as answer:
        return str(answer.read().decode())


@pytest.mark.parametrize("sent", [b"", b"\x16\x03\x01\x02\x00\x01"])
def test_a_thousand_unfinished_handshakes_keep_no_page_away(
    secure_screen: tuple[Server, ssl.SSLContext], sent: bytes
) -> None:
    server, trusts = secure_screen
    with ExitStack() as held:
        made = slow(server, sent, MANY, held)
        for _ in range(5):
            assert ASKS in secure_page(server, trusts)
        ended = 0
        for one in made[: MANY - 2 * MOST_SHAKING]:
            with suppress(ConnectionResetError):
                assert one.recv(10) == b""
            ended += 1
        assert ended == MANY - 2 * MOST_SHAKING


def test_an_unfinished_handshake_is_ended(
    secure_screen: tuple[Server, ssl.SSLContext], monkeypatch: pytest.MonkeyPatch
) -> None:
    server, trusts = secure_screen
    monkeypatch.setattr(door, "SHAKING_S", 0.3)
    with ExitStack() as held:
        for sent in (b"", b"\x16\x03\x01", HALF_HEAD):
            (one,) = slow(server, sent, 1, held)
            with suppress(ConnectionResetError):
                while one.recv(100):
                    pass
        plain = server.url.replace("https", "http")
        with pytest.raises(OSError):
            urllib.request.urlopen(f"{plain}/enter", timeout=20)
    assert ASKS in secure_page(server, trusts)


def test_what_comes_with_the_end_of_the_handshake_is_read(
    secure_screen: tuple[Server, ssl.SSLContext],
) -> None:
    server, trusts = secure_screen
    address = f"{server.url.replace('https', 'wss')}/nowhere"
    with pytest.raises(Exception, match="403|404|303"):
        connect(address, origin=Origin(server.url), ssl=trusts)
    ask = f"GET /enter HTTP/1.1\r\nHost: 127.0.0.1:{port_of(server)}\r\nConnection: close\r\n\r\n".encode()
    comes, goes = ssl.MemoryBIO(), ssl.MemoryBIO()
    talk = trusts.wrap_bio(comes, goes, server_hostname="127.0.0.1")
    with socket.create_connection(("127.0.0.1", port_of(server)), timeout=20) as one:
        while True:
            try:
                talk.do_handshake()
                break
            except ssl.SSLWantReadError:
                one.sendall(goes.read())
                comes.write(one.recv(65_536))
        talk.write(ask)
        one.sendall(goes.read())  # the last of the handshake and the request, in one piece
        said = b""
        while b"</html>" not in said:
            comes.write(one.recv(65_536))
            with suppress(ssl.SSLWantReadError):
                while piece := talk.read(65_536):
                    said += piece
    assert said.startswith(b"HTTP/1.1 200") and ASKS.encode() in said


def test_an_unfinished_request_is_ended_and_a_reply_that_is_read_is_not(
    open_screen: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "WHOLE_REQUEST_S", 0.3)
    with ExitStack() as held:
        half, begun = slow(open_screen, HALF_HEAD, 2, held)
        for _ in range(8):  # a byte now and then does not help
            time.sleep(0.1)
            with suppress(OSError):
                begun.sendall(b"x")
        for one in (half, begun):
            with suppress(ConnectionResetError):
                assert one.recv(100) == b""
    assert ASKS in page(open_screen)


def test_the_address_with_most_unfinished_requests_makes_room(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(door, "MOST_UNFINISHED", 3)

    class Stand:
        connections: set[object] = set()

    async def scene() -> tuple[list[str], list[str]]:
        closed: list[str] = []
        doors = []
        for number, address in enumerate(["chair", "other", "other", "other", "other"]):
            one = object.__new__(Door)
            one.loop, one.connections = asyncio.get_running_loop(), Stand.connections  # type: ignore[assignment]
            one.client = (address, number)
            one.abort = partial(closed.append, f"{address} {number}")  # type: ignore[method-assign]
            one._wait_for_request()
            doors.append(one)
            Stand.connections.add(one)
        doors[-1]._make_room()
        for one in doors:
            one._finished()
        doors[-1]._make_room()  # nobody is unfinished
        return closed, [one.client[0] for one in doors if one.client]

    closed, _ = asyncio.run(scene())
    assert closed == ["other 1"]


def test_a_connection_may_ask_for_many_pages(open_screen: Server) -> None:
    ask = f"GET /enter HTTP/1.1\r\nHost: 127.0.0.1:{port_of(open_screen)}\r\n\r\n".encode()
    with socket.create_connection(("127.0.0.1", port_of(open_screen)), timeout=20) as one:
        for _ in range(3):
            one.sendall(ask)
            assert one.recv(100).startswith(b"HTTP/1.1 200")
            one.settimeout(0.5)
            with suppress(TimeoutError):
                while one.recv(65_536):
                    pass
            one.settimeout(20)


def test_open_files_are_asked_for() -> None:
    allow_files()
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    assert soft >= min(door.FILES, hard)


def test_of_many_like_lines_few_are_logged() -> None:
    rule = Seldom()

    def line() -> logging.LogRecord:
        return logging.LogRecord("uvicorn.error", logging.WARNING, "", 0, "Invalid", (), None)

    assert sum(rule.filter(line()) for _ in range(50)) == SAME_LINES
    rule._since = {kind: (since - 61, count) for kind, (since, count) in rule._since.items()}
    later = line()
    assert rule.filter(later) and "45 more like it" in later.getMessage()


@pytest.mark.parametrize("path", ["/start", "/chair/1/setup", "/chair/1/count"])
def test_a_form_may_not_be_larger_than_any_that_is_asked_for(tmp_path: Path, path: str) -> None:
    def parts() -> Iterator[bytes]:
        for _ in range(LARGEST_BODY // 100_000 + 2):
            yield b"x" * 100_000

    with client_for(tmp_path) as client:
        begin(client)
        form = {**OWN, "content-type": "application/x-www-form-urlencoded"}
        said = client.post(path, content=b"x" * (LARGEST_BODY + 1), headers=form)
        assert (said.status_code, "larger" in said.text) == (413, True)
        assert client.post(path, content=parts(), headers=form).status_code == 413
        bad = client.post(path, content=b"", headers={**form, "content-length": "1e3"})
        assert bad.status_code in (303, 400, 413)
        file = client.post(path, files={"x": ("a", b"y" * 2_000_000)}, headers=OWN)
        assert file.status_code == 400


def test_who_does_not_read_is_not_written_to_for_ever(tmp_path: Path) -> None:
    with served(tmp_path, StandIn()) as server:
        opened = urllib.request.Request(
            f"{server.url}/start", b"procedure=composite_class_two", {"origin": server.url}
        )
        with urllib.request.urlopen(opened, timeout=20) as page:
            session = page.url.rpartition("/")[2]
        address = f"{server.url.replace('http', 'ws')}/chair/{session}/live"
        with connect(address, origin=Origin(server.url), max_queue=1) as live:
            wish = json.dumps({"do": "nothing known " + "x" * 1_000})
            with pytest.raises(Exception, match="(?i)clos|reset|pipe|timed"):
                for _ in range(10_000 * MOST_UNREAD):
                    live.send(wish)
        with urllib.request.urlopen(f"{server.url}/chair/{session}", timeout=20) as page:
            assert page.status == 200


class Failing(StandIn):
    """Hears once, then fails as an engine does that nobody prepared for."""

    def hear(self, samples: Samples) -> Hearing:
        if self.heard:
            raise RecursionError("too deep")
        return super().hear(samples)


def test_a_failure_of_hearing_is_told_on_the_screen(tmp_path: Path) -> None:
    engine = Failing()
    engine.heard_s.append(1.0)
    with (
        client_for(tmp_path, engine) as client,
        client.websocket_connect(live_of(begin(client)), headers=OWN) as live,
    ):
        live.send_json({"do": "microphone", "open": True})
        for block in pcm(np.concatenate([recording(1), recording(1)])):
            live.send_bytes(block)
        for _ in range(60):
            told = live.receive_json()
            if told["type"] == "problem":
                break
    assert "hearing failed" in told["text"] and "type or touch" in told["text"]


def test_an_engine_that_fails_while_it_is_loaded_is_told_on_the_screen(tmp_path: Path) -> None:
    def load() -> StandIn:
        raise MemoryError

    app = create_app(shared_chair, ServerSettings(data=tmp_path, clock=Clock()), load)
    with (
        TestClient(app, base_url=HERE, follow_redirects=False) as client,
        client.websocket_connect(live_of(begin(client)), headers=OWN) as live,
    ):
        for _ in range(20):
            told = live.receive_json()
            if told.get("ears", {}).get("state") == "missing":
                break
    assert "hearing failed (MemoryError" in told["ears"]["problem"]
