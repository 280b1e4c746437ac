"""Who may come in, and what cannot be slipped in."""

import os
import secrets
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from listen.live.pass_codes import FREE_GUESSES, LONGEST_WAIT_S, VALID_S, PassCodes, secret_key
from listen.live.settings import ServerSettings
from listen.web.access.guard import COOKIE
from tests.listen.web.desk_app import HERE, OWN, Clock, begin, client_for, live_of
from vocab.errors import Declined

CODE = "molar-17-spoon"


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "192.168.0.7", "", "[::1", "localhost:x"]
)
def test_another_host_name_is_refused(tmp_path: Path, host: str) -> None:
    with client_for(tmp_path) as client:
        assert client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", ["localhost:8465", "127.0.0.1:8465", "[::1]:8465", "LOCALHOST"])
def test_this_machine_is_let_in_by_its_own_names(tmp_path: Path, host: str) -> None:
    with client_for(tmp_path) as client:
        assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "origin",
    [
        None,
        "null",
        "http://evil.example",
        "https://127.0.0.1:8465",
        "http://127.0.0.1:9999",
        "http://localhost:8465",
    ],
)
def test_another_website_can_start_nothing(tmp_path: Path, origin: str | None) -> None:
    headers = {} if origin is None else {"origin": origin}
    with client_for(tmp_path) as client:
        assert client.post("/start", data={}, headers=headers).status_code == 403
        session = begin(client)
        with (
            pytest.raises(WebSocketDisconnect),
            client.websocket_connect(live_of(session), headers=headers),
        ):
            pass


def test_a_websocket_under_another_name_is_refused(tmp_path: Path) -> None:
    with client_for(tmp_path) as client:
        session = begin(client)
        headers = {"host": "evil.example", "origin": "http://evil.example"}
        with (
            pytest.raises(WebSocketDisconnect),
            client.websocket_connect(live_of(session), headers=headers),
        ):
            pass


def test_every_page_forbids_what_it_does_not_need(tmp_path: Path) -> None:
    with client_for(tmp_path) as client:
        for path in ("/", "/items", "/static/chair.js", "/nowhere"):
            headers = client.get(path).headers
            policy = headers["content-security-policy"]
            assert "default-src 'none'" in policy and "unsafe" not in policy
            assert "script-src 'self'" in policy and "frame-ancestors 'none'" in policy
            assert "ws://127.0.0.1:8465" in policy
            assert headers["x-content-type-options"] == "nosniff"
            assert headers["referrer-policy"] == "same-origin"
        assert client.get("/").headers["cache-control"] == "no-store"


ATTACKS = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "{{ 7*7 }}",
    "</script><b>",
    "' onfocus='x",
]


@pytest.mark.parametrize("attack", ATTACKS)
def test_what_is_typed_is_shown_as_text(tmp_path: Path, attack: str) -> None:
    with client_for(tmp_path) as client:
        text = client.get("/find", params={"q": attack}).text
        assert (attack in text) == (attack == "{{ 7*7 }}")  # nothing in it to escape, and not worked out
        answer = client.post("/start", data={"procedure": attack}, headers=OWN)
        assert (
            answer.status_code == 404
            and "<script>alert" not in answer.text
            and "<img src=x" not in answer.text
        )


def test_a_file_outside_the_app_cannot_be_read(tmp_path: Path) -> None:
    with client_for(tmp_path) as client:
        for path in (
            "/static/../app.py",
            "/static/%2e%2e/app.py",
            "/static/..%2fapp.py",
            "/static//etc/passwd",
        ):
            assert client.get(path).status_code == 404


# --- open to the network ---------------------------------------------------------------------------


def opened(tmp_path: Path, clock: Clock | None = None) -> TestClient:
    return client_for(tmp_path, pass_code=CODE, clock=clock or Clock())


def enter(client: TestClient, code: str = CODE) -> int:
    return client.post("/enter", data={"code": code}, headers=OWN).status_code


def test_an_open_app_shows_nothing_without_the_pass_code(tmp_path: Path) -> None:
    with opened(tmp_path) as client:
        for path in ("/", "/items", "/chair/1", "/sessions", "/chair/1/say", "/trays/sealant/card-a4.pdf"):
            answer = client.get(path)
            assert (answer.status_code, answer.headers["location"]) == (303, "/enter")
        assert client.post("/start", data={}, headers=OWN).status_code == 401
        with pytest.raises(WebSocketDisconnect), client.websocket_connect(live_of(1), headers=OWN):
            pass
        assert client.get("/enter").status_code == 200


def test_the_pass_code_opens_everything(tmp_path: Path) -> None:
    with opened(tmp_path) as client:
        answer = client.post("/enter", data={"code": CODE}, headers=OWN)
        cookie = answer.headers["set-cookie"]
        assert "HttpOnly" in cookie and "samesite=strict" in cookie.lower() and CODE not in cookie
        assert client.get("/").status_code == 200
        session = begin(client)
        with client.websocket_connect(live_of(session), headers=OWN) as live:
            assert live.receive_json()["type"] == "room"


def test_a_network_address_is_let_in_but_a_strange_name_is_not(tmp_path: Path) -> None:
    with opened(tmp_path) as client:
        assert client.get("/enter", headers={"host": "192.168.0.7:8465"}).status_code == 200
        assert client.get("/enter", headers={"host": "evil.example"}).status_code == 421
    with client_for(tmp_path, pass_code=CODE, host_names=("chair-two.local",)) as client:
        assert client.get("/enter", headers={"host": "chair-two.local:8465"}).status_code == 200


def test_guessing_is_slowed_down(tmp_path: Path) -> None:
    clock = Clock()
    with opened(tmp_path, clock) as client:
        assert [enter(client, f"wrong-{i}") for i in range(FREE_GUESSES)] == [403] * FREE_GUESSES
        assert enter(client) == 429
        clock.now_s += LONGEST_WAIT_S + 1
        assert enter(client) == 303


def test_those_who_guess_keep_nobody_out_who_knows_the_code(tmp_path: Path) -> None:
    codes = PassCodes(CODE, secret_key(tmp_path), Clock())
    for number in range(500):
        address = f"10.0.{number // 100}.{number % 100}"
        assert codes.wait_s(address) == 0 and not codes.is_right("wrong", address)
    assert codes.wait_s("10.9.9.9") == 0 and codes.is_right(CODE, "10.9.9.9")
    several = [f"2001:db8::{number:x}" for number in range(FREE_GUESSES + 1)]  # one machine has all of them
    assert [codes.wait_s(one) > 0 for one in several] == [False] * FREE_GUESSES + [True]


def test_a_cookie_outlives_a_restart_but_not_a_new_pass_code_nor_a_day(tmp_path: Path) -> None:
    clock = Clock()
    key = secret_key(tmp_path)
    cookie = PassCodes(CODE, key, clock).cookie()
    assert PassCodes(CODE, secret_key(tmp_path), clock).knows(cookie)
    assert not PassCodes("another code", key, clock).knows(cookie)
    assert not PassCodes(CODE, b"another key", clock).knows(cookie)
    clock.now_s += VALID_S + 1
    assert not PassCodes(CODE, key, clock).knows(cookie)


@pytest.mark.parametrize(
    "cookie", [None, "", ".", "..", "1.2.3", "x.y.z", "9" * 400, "1800000000.ab." + "0" * 64, "ü.ü.ü"]
)
def test_a_made_up_cookie_is_not_ours(tmp_path: Path, cookie: str | None) -> None:
    assert not PassCodes(CODE, secret_key(tmp_path), Clock()).knows(cookie)
    with opened(tmp_path) as client:
        given = {b"cookie": f"{COOKIE}={cookie}".encode()}
        assert client.get("/", headers=given).status_code == 303


def test_the_key_is_for_its_owner_only(tmp_path: Path) -> None:
    secret_key(tmp_path)
    assert (tmp_path / "screen.key").stat().st_mode & 0o077 == 0


def test_a_short_pass_code_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Declined, match="too short"):
        ServerSettings(data=tmp_path, pass_code="12345")


def test_here_is_loopback() -> None:
    assert HERE.startswith("http://127.")


def test_first_starts_at_the_same_moment_get_the_same_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where making one takes a while, so that the others come in between."""

    def slowly(count: int) -> bytes:
        time.sleep(0.05)
        return os.urandom(count)

    monkeypatch.setattr(secrets, "token_bytes", slowly)
    with ThreadPoolExecutor(8) as starts:
        keys = set(starts.map(secret_key, [tmp_path] * 8))
    assert [len(key) for key in keys] == [32]


@pytest.mark.parametrize("kept", [b"", b"short"])
def test_a_key_cut_short_by_a_crash_is_made_again(tmp_path: Path, kept: bytes) -> None:
    (tmp_path / "screen.key").write_bytes(kept)
    key = secret_key(tmp_path)
    assert len(key) == 32 and secret_key(tmp_path) == key
