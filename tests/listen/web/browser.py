"""A real browser and a real server, both on this machine; where there is none its tests are skipped."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import soxr
import uvicorn

from listen.chair import Chair
from listen.engine import Engine, Samples
from listen.web import ServerSettings, create_app
from listen.web.access.door import Door
from tests.listen.web.desk_app import recording, shared_chair

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
RATE_HZ = 48_000
THEMES = ("dark", "contrast", "light")
THEMED = """theme => {
  document.documentElement.dataset.theme = theme;
  document.getAnimations().forEach(one => one instanceof CSSTransition && one.finish());
}"""
AXE = """async which =>
  (await axe.run(document, {...which, resultTypes: ["violations"], elementRef: false})).violations"""
LEAD_S, GAP_S = 2.0, 1.6
"""Silence before the first recording and between two."""


def need_browser() -> Any:
    """Playwright's entry, or a skip that says what is missing."""
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="playwright is missing: pip install playwright"
    )
    if CHROMIUM is None:
        pytest.skip("no Chromium is installed (apt install chromium)")
    return playwright.sync_playwright


class Server:
    """The app over a data folder, at an address that stays the same when it is started again."""

    def __init__(
        self, data: Path, engine: Engine, door: Any = Door, further: Sequence[Chair] = (), **settings: Any
    ) -> None:
        self._settings, self._engine, self._door = ServerSettings(data=data, **settings), engine, door
        self._further = further
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self._port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self._port}"
        self.app: Any = None

    def start(self) -> None:
        """Returns once it answers."""
        self.app = create_app(shared_chair, self._settings, lambda: self._engine, further=self._further)
        config = uvicorn.Config(
            self.app,
            "127.0.0.1",
            self._port,
            log_level="error",
            http=self._door,
            ws="websockets-sansio",
            timeout_graceful_shutdown=1,
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        until = time.monotonic() + 30
        while not self._server.started:
            assert time.monotonic() < until, "the server did not start"
            time.sleep(0.02)

    def stop(self) -> None:
        """As when its window is closed."""
        self._server.should_exit = True
        self._thread.join(20)


@contextmanager
def served(data: Path, engine: Engine, **settings: Any) -> Iterator[Server]:
    """A running server."""
    server = Server(data, engine, **settings)
    server.start()
    try:
        yield server
    finally:
        server.stop()


def microphone_file(folder: Path, *numbers: int) -> tuple[Path, float]:
    """Recordings of the demo, one after the other, as a microphone; and how long it is, in seconds."""
    silence = np.zeros(round(RATE_HZ * GAP_S), np.float32)
    parts: list[Samples] = [np.zeros(round(RATE_HZ * LEAD_S), np.float32)]
    for number in numbers:
        parts += [soxr.resample(recording(number)[16_000:-16_000], 16_000, RATE_HZ), silence]
    path = folder / f"microphone-{'-'.join(map(str, numbers))}.wav"
    sound = np.concatenate([*parts, silence])
    soundfile.write(path, sound, RATE_HZ, subtype="PCM_16")
    return path, len(sound) / RATE_HZ


@contextmanager
def browser(sound: Path | None = None, allow: bool = True, **options: Any) -> Iterator[Any]:
    """A browser context whose microphone plays `sound` once; `allow` False refuses the microphone."""
    start = need_browser()
    arguments = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    if allow:
        arguments += ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
        arguments += [f"--use-file-for-fake-audio-capture={sound}%noloop"] if sound else []
    with start() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=arguments)
        try:
            yield chromium.new_context(viewport={"width": 1280, "height": 800}, **options)
        finally:
            chromium.close()


class Page:
    """A page and what its console complained of."""

    def __init__(self, context: Any) -> None:
        self.page = context.new_page()
        self.complaints: list[str] = []
        self.page.on("console", self._note)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _note(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    def begin(self, url: str, procedure: str = "composite_class_two") -> int:
        """Start a session as a person does; its number."""
        self.page.goto(url)
        return self.begin_here(procedure)

    def begin_here(self, procedure: str = "composite_class_two") -> int:
        """Start a session, without set-up, with what was chosen on the start page; its number."""
        self.page.evaluate("document.querySelectorAll('.field').forEach(one => (one.open = true))")
        self.page.check(f"input[name=procedure][value$='/{procedure}']")
        self.page.click("form[action='/start'] button[value=chair]")
        return self.ready()

    def ready(self) -> int:
        """Wait until the chair screen works; the session's number."""
        self.page.wait_for_selector("body[data-ready]")
        return int(self.page.get_attribute("body", "data-session"))

    def wait_for_hearing(self) -> None:
        """Wait until the engine is loaded; the first start builds the tables of all fields."""
        for _ in range(480):
            if self.page.text_content("#ear") != "hearing is starting":
                return
            self.page.wait_for_timeout(500)
        raise AssertionError("hearing did not start")

    def open_microphone(self) -> None:
        """With the space bar, as the pedal does."""
        self.wait_for_hearing()
        self.page.keyboard.press("Space")
        self.page.wait_for_selector("body[data-mic=open]")

    def ask(self, text: str) -> None:
        """Type a request."""
        self.page.fill("#text", text)
        self.page.press("#text", "Enter")

    def read_back(self) -> None:
        """Choose the first that is asked about, and confirm each time that its label was read back."""
        for _ in range(3):
            self.page.keyboard.press("1")
            with suppress(Exception):
                self.page.wait_for_selector("#stage[data-kind=note]", timeout=700)
                return
        raise AssertionError("it still waits for the label")

    def pick(self, item: str) -> None:
        """Open what is known of an item, by its slot, in a kit if need be."""
        slot = self.page.locator(f".slot[data-item={item}]").first
        if not slot.is_visible():
            for shut in self.page.locator(".shut:visible").all():
                shut.click()
            self.page.locator(f".kit:has(.slot[data-item={item}]) .box").first.click()
        slot.click()
        self.page.wait_for_selector("#slot-dialog[open]")

    def correct(self, item: str, kind: str) -> None:
        """Say by touch what became of an item."""
        self.pick(item)
        button = self.page.locator(f"#slot-dialog [data-kind={kind}]")
        if not button.locator("visible=true").count():
            self.page.click("#slot-more summary")
        button.locator("visible=true").first.click()

    def lit(self) -> list[str]:
        """The items whose slots are lit."""
        found: list[str] = self.page.eval_on_selector_all(
            ".slot[data-lit]", "all => all.map(s => s.dataset.item)"
        )
        return found

    def wait_lit(self, item: str, seconds: float = 15) -> None:
        """Wait until the slot of an item is lit."""
        self.page.wait_for_selector(f".slot[data-lit][data-item={item}]", timeout=seconds * 1000)

    def wait_lit_or_choose(self, item: str) -> None:
        """The same where its size may be asked back first; the first choice is taken."""
        self.page.wait_for_selector(f".slot[data-lit][data-item={item}], #stage[data-kind=check]")
        if self.page.get_attribute("#stage", "data-kind") == "check":
            self.page.keyboard.press("1")
        self.wait_lit(item)


def axe_finds(page: Any, axe: str, themes: Sequence[str] = THEMES) -> list[str]:
    """What the axe checker (its script) finds on a page in each of these themes: only what is wrong with
    colours in all but the light one, as nothing else differs."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(axe)
    found: list[str] = []
    for theme in themes:
        page.evaluate(THEMED, theme)
        for one in page.evaluate(AXE, {} if theme == "light" else {"runOnly": ["color-contrast"]}):
            found.append(f"{theme}: {one['id']}, {one['help']}: {one['nodes'][0]['html'][:120]}")
    return found
