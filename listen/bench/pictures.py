"""Pictures of a running `traycall screen` for the README: the chair screen with a lit slot, and a drill.

Takes a folder and writes two PNG files into it. The pages are typed into and clicked as a person would;
nothing is heard. Needs Playwright and a Chromium browser.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from listen.bench.screen_latency import served
from vocab.errors import TraycallError

CHAIR, DRILL = "chair_screen.png", "drill.png"
PROCEDURE, REQUEST = "composite_class_two", "could I have the mirror"
SIZE: Any = {"width": 1280, "height": 800}
BROWSERS = ("chromium", "chromium-browser", "google-chrome")


class NoBrowser(TraycallError):
    """Playwright or a browser is missing; the text says how to install it."""


@contextmanager
def chromium() -> Iterator[Any]:
    """A Chromium browser, until the block ends.

    Raises:
        NoBrowser: there is none.
    """
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    try:
        from playwright.sync_api import sync_playwright
    except ImportError as error:
        raise NoBrowser("playwright is missing; install it with: pip install playwright") from error
    if found is None:
        raise NoBrowser("no Chromium is installed; install it with: apt install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


def take(folder: Path) -> list[Path]:
    """Write both pictures into a folder, which is made if need be.

    Raises:
        NoBrowser: there is nothing to take them with.
        NoScreen: the server does not start.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as data,
        served(["--procedure", PROCEDURE], Path(data)) as address,
        chromium() as browser,
    ):
        page = browser.new_page(viewport=SIZE)
        _chair_screen(page, address)
        page.screenshot(path=folder / CHAIR)
        _drill(page, address)
        page.locator("main").screenshot(path=folder / DRILL)
    return [folder / CHAIR, folder / DRILL]


def _chair_screen(page: Any, address: str) -> None:
    page.goto(address)
    page.click("form[action='/start'] button[value=chair]")
    page.wait_for_selector("body[data-ready]")
    page.fill("#text", REQUEST)
    page.press("#text", "Enter")
    page.wait_for_selector(".slot[data-lit]")


def _drill(page: Any, address: str) -> None:
    page.goto(f"{address}/practice")
    page.fill("#enter input[name=trainee]", "Ada")
    page.click("#enter button[type=submit]")
    page.fill("input[name=code]", "ivory-42")
    page.fill("input[name=again]", "ivory-42")
    page.click("main button[type=submit]")
    page.click("summary:has-text('Choose something else')")
    page.check("input[value=name]")
    page.click("#start button[type=submit]")
    page.wait_for_selector("#picture svg")
