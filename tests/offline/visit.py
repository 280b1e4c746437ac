"""What a person does with the screen: run by `test_nothing_goes_out` in a process that has only loopback.

The server is watched; the browser is not (it is no part of traycall), but every address a page asks it for
is printed, as a JSON list.
"""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from listen.commands.screen import PORT
from tests.listen.web.browser import Page, browser, microphone_file
from tests.offline.guard import TRAYCALL, environment, watched

URL = f"http://127.0.0.1:{PORT}"
MIRROR_AND_EXPLORER = 3
"""A recording of the demo."""
PAGES = (
    "/",
    "/items",
    "/items/explorer_shepherd",
    "/find?q=burnisher",
    "/trays/sealant",
    "/sessions",
    "/practice",
    "/practice/class",
    "/edit",
)


@contextmanager
def server(home: Path, record: Path) -> Iterator[None]:
    """`traycall screen`, watched, until it is stopped as with Ctrl-C."""
    process = subprocess.Popen(watched([TRAYCALL, "screen"], record), env=environment(home))
    _wait_for_port(process)
    try:
        yield
    finally:
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        for child in map(int, children):
            os.kill(child, signal.SIGINT)
        process.wait(60)


def _wait_for_port(process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + 120
    while True:
        try:
            socket.create_connection(("127.0.0.1", PORT), 1).close()
            return
        except OSError:
            if process.poll() is not None or time.monotonic() > until:
                raise
            time.sleep(0.1)


def visit(folder: Path) -> list[str]:
    """Speak to the chair screen, type to it, and look at the other pages; what the pages asked for."""
    sound, _ = microphone_file(folder, MIRROR_AND_EXPLORER)
    asked: list[str] = []
    with browser(sound) as context:
        context.on("request", lambda request: asked.append(request.url))
        context.set_default_timeout(120_000)
        page = Page(context)
        page.page.on("websocket", lambda live: asked.append(live.url))
        number = page.begin(URL)
        page.open_microphone()
        page.wait_lit("explorer_shepherd", 60)
        page.page.request.get(f"{URL}/chair/{number}/say")
        page.ask("cotton pliers")
        page.wait_lit("cotton_pliers", 60)
        for path in PAGES:
            page.page.goto(URL + path)
    return asked


if __name__ == "__main__":
    home, folder = map(Path, sys.argv[1:])
    with server(home, folder / "server.txt"):
        asked = visit(folder)
    print(json.dumps(asked))
