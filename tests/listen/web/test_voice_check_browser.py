"""The voice check in a real Chromium: a synthesized voice reads what the page shows, near and far."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from listen.engine import Samples
from listen.speech import noise
from listen.speech.voices import available, cached
from listen.voicecheck.store import FILE
from listen.web import create_app
from listen.web.edit import pages as edit
from listen.web.voice import pages as voice
from tests.listen.web.browser import Page, Server, browser, need_browser, served
from tests.listen.web.desk_app import shared_chair
from tests.listen.web.mouth import Mouth

pytestmark = pytest.mark.slow

HEARS_MS = 60_000
_ANSWERED = "n => document.querySelector('[data-before]').dataset.number === String(n)"
Recorded = Callable[[Samples], Samples]
"""What a microphone makes of a voice."""


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.fixture(scope="module")
def real_engine() -> Any:
    return shared_chair().engine()


@pytest.fixture
def server(tmp_path: Path, real_engine: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """The app with the pages of the voice check, over an empty data folder and the real engine."""
    routes, links = (*voice.routes(), *edit.routes()), (voice.LINK, edit.LINK)
    whole = partial(create_app, more_routes=routes, more_links=links)
    monkeypatch.setattr("tests.listen.web.browser.create_app", whole)
    with served(tmp_path / "data", real_engine) as running:
        yield running


def close(samples: Samples) -> Samples:
    return samples


def far(samples: Samples) -> Samples:
    """Three metres away in a hard room."""
    rng = np.random.default_rng(3)
    room = noise.Room(volume_m3=40.0, t60_s=0.6, distance_m=3.0)
    return (0.01 * noise.reverberate(samples, noise.room_response(room, rng))).astype(np.float32)


class Reader:
    """A person at the page: opens the microphone, keeps quiet, reads."""

    def __init__(self, page: Page, folder: Path, recorded: Recorded = close) -> None:
        self.page, self._recorded, self._folder = page.page, recorded, folder
        spoken = [one for one in available("test") if not one.id.startswith("espeak")] or available()
        if not spoken:
            pytest.skip("no voice is installed (apt install flite festival)")
        self._voice = spoken[0]
        self.mouth = Mouth(page.page)

    def come(self, url: str, around: Samples) -> None:
        """Open the page and its microphone in a room that sounds like this."""
        self.page.goto(f"{url}/voice-check")
        self.page.wait_for_selector("body[data-ready]")
        self.page.click("[data-open]")
        self.page.wait_for_selector("[data-go=room]:not([disabled])")
        self.mouth.around(around)
        self.page.click("[data-go=room]")
        self.page.wait_for_selector("[data-step=room]:not([hidden])", timeout=HEARS_MS)

    def keep_quiet(self, running: str = "quiet") -> str:
        """Have the room measured; what the page says of it."""
        self.page.click(f"[data-measure={running}]")
        room = self.page.locator(f"[data-room={running}]")
        self.page.wait_for_selector(f"[data-measure={running}]:not([disabled])", timeout=HEARS_MS)
        return str(room.inner_text())

    def read(self, lines: int, running: str = "quiet") -> list[str]:
        """Read so many lines with this running; what the page says of each."""
        self.page.click("[data-go=read]")
        self.page.check(f"[name=running][value={running}]")
        told = []
        for number in range(1, lines + 1):
            self.page.wait_for_selector(f"[data-count]:text-matches('^{number} of')", timeout=HEARS_MS)
            self.mouth.say(self._recorded(self._said(self._what())))
            self.page.wait_for_function(
                _ANSWERED,
                arg=number,
                timeout=HEARS_MS,
            )
            told.append(self.page.inner_text("[data-before]"))
        self.page.wait_for_selector(f"[data-count]:text-matches('^{lines + 1} of')", timeout=HEARS_MS)
        self.page.click("[data-finish]")
        self.page.wait_for_selector("[data-step=result]:not([hidden])")
        return told

    def _what(self) -> str:
        drawn = self.page.locator("[data-shown] use")
        if drawn.count():
            item = drawn.get_attribute("href").removeprefix("#d-")
            return f"Could I have the {shared_chair().pack.called[item]}, please?"
        return str(self.page.inner_text("[data-line]"))

    def _said(self, text: str) -> Samples:
        return (0.5 * cached(self._voice, text, self._folder)).astype(np.float32)


@contextmanager
def reader(folder: Path, recorded: Recorded = close) -> Iterator[tuple[Page, Reader]]:
    with browser() as context:
        page = Page(context)
        yield page, Reader(page, folder, recorded)


def hiss(level_db: float, seconds: float = 4.0) -> Samples:
    """A room's noise at this level below full scale."""
    samples = np.random.default_rng(1).standard_normal(round(16_000 * seconds))
    return (samples * 10 ** (level_db / 20)).astype(np.float32)


def test_a_voice_is_understood_and_nothing_is_stored_before_the_person_agrees(
    server: Server, tmp_path: Path
) -> None:
    database = tmp_path / "data" / FILE
    with reader(tmp_path / "spoken") as (page, person):
        person.come(server.url, hiss(-70))
        assert "That is fine" in person.keep_quiet()
        told = person.read(6)
        assert sum("Understood" in one or "kept quiet" in one or "Asked back" in one for one in told) >= 5
        assert "understood" in page.page.inner_text("[data-summary]")
        assert "another such round" in page.page.inner_text("[data-again]")
        assert not database.exists()

        assert page.page.is_disabled("[data-keep-now]")
        page.page.fill("[data-who]", "R. S.")
        assert page.page.is_disabled("[data-keep-now]")
        assert not page.page.is_checked("[data-agreed]")
        page.page.check("[data-agreed]")
        page.page.click("[data-keep-now]")
        page.page.wait_for_selector("[data-kept]:text-matches('^Kept: 6')")
        assert len(server.app.state.running.voices.recordings()) == 6

        page.page.goto(f"{server.url}/voice-check/recordings")
        assert "R. S." in page.page.inner_text("main")
        page.page.click("text=Its recordings")
        length_s = page.page.evaluate(
            """() => new Promise((done, fail) => {
              const sound = document.querySelector("audio");
              sound.addEventListener("loadedmetadata", () => done(sound.duration));
              sound.addEventListener("error", () => fail(sound.error.message));
              sound.preload = "metadata";
            })"""
        )
        assert length_s > 1
        page.page.click("text=Measure again now")
        page.page.wait_for_selector(".history li >> nth=1", timeout=60_000)
        assert "On the same recordings" in page.page.inner_text(".history")
        page.page.check("text=no longer agrees")
        page.page.click("text=Withdraw and delete")
        page.page.wait_for_selector("text=Nothing is kept.")
        assert server.app.state.running.voices.people() == ()
        assert page.complaints == []


def test_a_microphone_across_the_room_is_said_to_be_too_far(server: Server, tmp_path: Path) -> None:
    with reader(tmp_path / "spoken", far) as (page, person):
        person.come(server.url, hiss(-60))
        person.keep_quiet()
        person.read(3)
        assert "too far away" in page.page.inner_text("[data-result-advice]")
        assert page.complaints == []


def test_a_noisy_room_is_measured_and_speech_is_compared_with_it(server: Server, tmp_path: Path) -> None:
    loud = noise.suction(16_000 * 4, np.random.default_rng(2))
    loud = (loud / np.sqrt(np.mean(loud**2)) * 10 ** (-26 / 20)).astype(np.float32)
    with reader(tmp_path / "spoken") as (page, person):
        person.come(server.url, loud)
        assert "loud here though nothing is running" in person.keep_quiet()
        assert "Measured" in person.keep_quiet("suction")
        person.read(3, "suction")
        assert "Speech" in page.page.inner_text("[data-result-advice]")
        assert page.complaints == []


def test_a_dead_microphone_is_named_and_nothing_can_be_read_into_it(server: Server, tmp_path: Path) -> None:
    with reader(tmp_path / "spoken") as (page, person):
        person.come(server.url, np.zeros(16_000, np.float32))
        assert "No sound comes from this microphone" in person.keep_quiet()
        assert page.page.is_disabled("[data-go=read]")


def test_leaving_the_page_leaves_nothing(server: Server, tmp_path: Path) -> None:
    with reader(tmp_path / "spoken") as (page, person):
        person.come(server.url, hiss(-70))
        person.keep_quiet()
        person.read(2)
        page.page.goto(server.url)
        assert not (tmp_path / "data" / FILE).exists()
