"""Offline means: nothing is looked up, nothing beyond loopback is connected, and no device is numbered."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from listen.commands import demo
from listen.speech.voices import available
from tests.listen.web.browser import need_browser
from tests.offline.guard import (
    LONGEST_S,
    ROOT,
    TRAYCALL,
    Run,
    alone,
    environment,
    files_in,
    need_guard,
    not_offline,
    run,
)

pytestmark = pytest.mark.usefixtures("guard")

RECORDINGS = 4
NATIVE_LOOK_UP = """
import ctypes
libc = ctypes.CDLL(None)
libc.getaddrinfo(b"nowhere.invalid", b"443", None, ctypes.byref(ctypes.c_void_p()))
"""
DATAGRAM = """
import socket
try:
    socket.socket(socket.{family}, socket.SOCK_DGRAM).connect(("{address}", 443))
except OSError:
    pass
"""
LOOPBACK = """
import socket
server = socket.create_server(("127.0.0.1", 0))
socket.create_connection(server.getsockname()).close()
"""
LONG_ENOUGH_TO_REPORT_S = 20
"""onnxruntime waits some 10 s before it reports."""
USED_AS_A_LIBRARY = f"import onnxruntime, time; time.sleep({LONG_ENOUGH_TO_REPORT_S})"


@pytest.fixture(scope="module")
def guard() -> None:
    need_guard()


@pytest.fixture(scope="module")
def first_run(guard: None, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Run]:
    """A new home, and the demo run in it on a few recordings."""
    few, home = tmp_path_factory.mktemp("few"), tmp_path_factory.mktemp("home")
    lines = (demo.find_folder(None) / "manifest.jsonl").read_text().splitlines(keepends=True)
    (few / "manifest.jsonl").write_text("".join(lines[:RECORDINGS]))
    shutil.copytree(demo.find_folder(None) / "audio", few / "audio")
    return home, run([TRAYCALL, "demo", "--json", few], home)


@pytest.fixture(scope="module")
def home(first_run: tuple[Path, Run]) -> Path:
    return first_run[0]


@pytest.mark.parametrize(
    ("program", "seen"),
    [
        (NATIVE_LOOK_UP, "looked a name up"),
        (DATAGRAM.format(family="AF_INET", address="192.0.2.1"), "reached out"),
        (DATAGRAM.format(family="AF_INET6", address="2001:db8::1"), "reached out"),
    ],
)
def test_the_guard_sees_what_goes_out(program: str, seen: str, tmp_path: Path) -> None:
    assert any(seen in tried for tried in run([sys.executable, "-c", program], tmp_path).tried)


def test_the_guard_minds_nothing_that_stays_here(tmp_path: Path) -> None:
    done = run([sys.executable, "-c", LOOPBACK], tmp_path)
    assert (done.code, done.tried) == (0, ())


@pytest.mark.slow
@pytest.mark.skipif(
    tuple(map(int, version("onnxruntime").split(".")[:2])) < (1, 29),
    reason="this onnxruntime is older than its reports",
)
def test_the_guard_sees_onnxruntime_report_by_itself(tmp_path: Path) -> None:
    done = run([sys.executable, "-c", USED_AS_A_LIBRARY], tmp_path)
    assert any("looked a name up" in tried for tried in done.tried)
    assert any("deviceid" in file for file in files_in(tmp_path))


@pytest.mark.slow
def test_onnxruntime_reports_nothing_once_listen_is_imported(tmp_path: Path) -> None:
    done = run([sys.executable, "-c", f"import listen; {USED_AS_A_LIBRARY}"], tmp_path)
    assert (done.code, done.tried, files_in(tmp_path)) == (0, (), set())


def test_whoever_imports_onnxruntime_first_is_warned(tmp_path: Path) -> None:
    done = run([sys.executable, "-c", "import onnxruntime; import listen"], tmp_path)
    assert "import listen first" in done.err


@pytest.mark.slow
def test_the_demo_goes_nowhere(first_run: tuple[Path, Run]) -> None:
    _, done = first_run
    assert (done.code, done.tried) == (0, ()), done.err
    assert json.loads(done.out.splitlines()[-1])


COMMANDS = {
    "a typed request": (["ask", "could I have the pickups?"], ""),
    "the machine's check": (["machine"], ""),
    "a drill": (
        ["practise", "drill", "--trainee", "Ann", "--drill", "fact", "--seed", "1"],
        "no idea\n" * 3,
    ),
    "a change": (["edit", "add-name", "mouth_mirror", "looking glass"], ""),
    "the check of all names": (["edit", "look-over"], ""),
    "the history": (["edit", "history"], ""),
    "the sessions": (["session", "list"], ""),
}


@pytest.mark.slow
@pytest.mark.parametrize("what", COMMANDS)
def test_a_command_goes_nowhere(what: str, home: Path) -> None:
    words, typed = COMMANDS[what]
    done = run([TRAYCALL, *words], home, typed)
    assert done.code in (0, 1) and "Traceback" not in done.err, done.err
    assert done.tried == ()


@pytest.mark.slow
def test_trying_a_name_with_this_machines_voices_goes_nowhere(home: Path) -> None:
    if not available(formant=True):
        pytest.skip("no voice is installed: apt install espeak-ng")
    done = run([TRAYCALL, "edit", "try-name", "mouth_mirror", "looking glass"], home)
    assert (done.code, done.tried) == (0, ()), done.err


@pytest.mark.slow
def test_the_screen_goes_nowhere_while_it_is_spoken_to(home: Path, tmp_path: Path) -> None:
    need_browser()
    visit = [sys.executable, "-m", "tests.offline.visit", str(home), str(tmp_path)]
    done = subprocess.run(
        alone(visit), capture_output=True, text=True, cwd=ROOT, env=environment(tmp_path), timeout=LONGEST_S
    )
    assert done.returncode == 0, done.stderr
    assert tuple(not_offline(tmp_path / "server.txt")) == ()
    asked = [url for url in json.loads(done.stdout) if urlsplit(url).scheme not in ("blob", "data")]
    assert {urlsplit(url).hostname for url in asked} == {"127.0.0.1"}
    assert any(url.startswith("ws:") for url in asked)


@pytest.mark.slow
def test_only_traycall_has_left_anything_at_home(home: Path) -> None:
    own = (".cache/traycall/", ".local/share/traycall/")
    assert [file for file in files_in(home) if not file.startswith(own)] == []
