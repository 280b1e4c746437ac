"""Spoken replies in a real browser: off until asked for, never over anybody, cut off by speech."""

import io
import threading
import wave
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import soxr

from listen.speech import replies
from tests.listen.web.browser import RATE_HZ, Page, Server, browser, need_browser, served
from tests.listen.web.desk_app import StandIn, recording

REPLY_S = 8.0
"""Longer than any reply, so that there is time to speak over it."""
NOTE_SOUND = """
window.told = [];
const tell = (what) => function (original, ...args) {
  window.told.push({ what, ear: document.body.dataset.ear, at: this.currentTime, length: this.duration });
  return original.apply(this, args);
};
for (const what of ["play", "pause"]) {
  const original = HTMLMediaElement.prototype[what];
  HTMLMediaElement.prototype[what] = function (...args) { return tell(what).call(this, original, ...args); };
}
"""


@pytest.fixture(autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.fixture
def synthesis(monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """Stands for the voice: a long tone, which is ready only when the event is set; it is at first."""
    ready = threading.Event()
    ready.set()
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        tone = 3_000 * np.sin(2 * np.pi * 440 * np.arange(round(REPLY_S * 16_000)) / 16_000)
        file.writeframes(tone.astype("<i2").tobytes())

    def speech(words: str) -> bytes:
        assert ready.wait(60)
        return out.getvalue()

    monkeypatch.setattr(replies, "voice_name", lambda: "a tone")
    monkeypatch.setattr(replies, "speech", speech)
    return ready


@pytest.fixture
def server(tmp_path: Path, synthesis: threading.Event) -> Iterator[Server]:
    with served(tmp_path / "data", StandIn()) as server:
        yield server
        synthesis.set()


def talk_file(folder: Path, silence_s: float, talk_s: float) -> Path:
    """A microphone: silence, then people who hardly pause, then silence."""
    parts, length = [np.zeros(round(silence_s * 16_000), np.float32)], 0.0
    for number in (5, 4, 9, 16, 10, 59) * 9:
        samples = recording(number)
        loud = np.flatnonzero(np.abs(samples) > 0.03)
        parts.append(samples[loud[0] : loud[-1]])
        length += len(parts[-1]) / 16_000
        if length > talk_s:
            break
    path = folder / "talk.wav"
    sound = np.concatenate([*parts, np.zeros(30 * 16_000, np.float32)])
    soundfile.write(path, soxr.resample(sound, 16_000, RATE_HZ), RATE_HZ, subtype="PCM_16")
    return path


def begin(context: Any, server: Server, voice: bool = True) -> Page:
    """A page that notes what it plays."""
    context.add_init_script(NOTE_SOUND)
    page = Page(context)
    page.begin(server.url)
    if voice:
        page.page.click("#more")
        page.page.check("#voice")
        page.page.click("#options .close")
    return page


def told(page: Page, what: str) -> list[dict[str, Any]]:
    """How often and when the reply was begun ("play") or stopped ("pause")."""
    return [one for one in page.page.evaluate("told") if one["what"] == what]


SPEAKING, QUIET = "body[data-ear=speaking]", "body[data-ear=quiet]"


def test_nothing_is_spoken_until_it_is_asked_for(server: Server) -> None:
    with browser() as context:
        page = begin(context, server, voice=False)
        asked: list[str] = []
        page.page.on("request", lambda request: asked.append(request.url))
        page.ask("cotton pliers")
        page.wait_lit("cotton_pliers")
        page.page.wait_for_timeout(500)
        assert told(page, "play") == [] and not any("/say" in url for url in asked)


@pytest.mark.slow
def test_a_reply_stops_as_soon_as_somebody_speaks(tmp_path: Path, server: Server) -> None:
    with browser(talk_file(tmp_path, silence_s=5, talk_s=4)) as context:
        page = begin(context, server)
        page.open_microphone()
        page.ask("cotton pliers")
        page.page.wait_for_function("() => told.some((one) => one.what === 'play')")
        assert told(page, "play")[0]["ear"] != "speaking"
        page.page.wait_for_function("() => told.at(-1).what === 'pause'", timeout=20_000)
        last = told(page, "pause")[-1]
        assert 0 < last["at"] < last["length"] - 0.5  # it was cut off, not over
        assert page.page.evaluate("document.body.dataset.ear") == "speaking"
        assert page.complaints == []


@pytest.mark.slow
def test_what_is_answered_while_somebody_speaks_is_shown_and_never_spoken(
    tmp_path: Path, server: Server
) -> None:
    with browser(talk_file(tmp_path, silence_s=1.5, talk_s=12)) as context:
        page = begin(context, server)
        page.open_microphone()
        page.page.wait_for_selector(SPEAKING)
        page.ask("cotton pliers")
        page.wait_lit("cotton_pliers")
        page.page.wait_for_selector(QUIET, timeout=40_000)
        page.page.wait_for_timeout(700)
        assert told(page, "play") == []


@pytest.mark.slow
def test_a_reply_that_is_made_too_late_is_not_begun(
    tmp_path: Path, server: Server, synthesis: threading.Event
) -> None:
    """The sound of the reply comes when somebody has begun to speak meanwhile."""
    synthesis.clear()
    with browser(talk_file(tmp_path, silence_s=4, talk_s=12)) as context:
        page = begin(context, server)
        page.open_microphone()
        with page.page.expect_response(lambda reply: "/say" in reply.url, timeout=60_000):
            page.ask("cotton pliers")
            page.wait_lit("cotton_pliers")
            page.page.wait_for_selector(SPEAKING)
            synthesis.set()
        page.page.wait_for_timeout(700)
        assert told(page, "play") == []


@pytest.mark.slow
def test_a_screen_without_the_microphone_is_silent_too(tmp_path: Path, server: Server) -> None:
    with browser(talk_file(tmp_path, silence_s=1.5, talk_s=12)) as context:
        hears = begin(context, server, voice=False)
        speaks = Page(context)
        speaks.page.goto(hears.page.url)
        speaks.ready()
        speaks.page.click("#more")
        speaks.page.check("#voice")
        speaks.page.click("#options .close")
        hears.page.bring_to_front()
        hears.open_microphone()
        speaks.page.wait_for_selector(SPEAKING)
        speaks.ask("cotton pliers")
        speaks.wait_lit("cotton_pliers")
        speaks.page.wait_for_timeout(700)
        assert told(speaks, "play") == []


@pytest.mark.slow
def test_a_microphone_that_is_open_learns_that_the_voice_was_switched_on(server: Server) -> None:
    """It is opened again, with the echo of the loudspeaker taken out."""
    with browser() as context:
        context.add_init_script(
            """window.asked = [];
            const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
            navigator.mediaDevices.getUserMedia = (wish) => { asked.push(wish.audio.echoCancellation);
                return ask(wish); };"""
        )
        page = begin(context, server, voice=False)
        page.open_microphone()
        page.page.click("#more")
        page.page.check("#voice")
        page.page.click("#options .close")
        page.page.wait_for_function("() => asked.length === 2")
        page.page.wait_for_selector("body[data-mic=open]")
        assert page.page.evaluate("asked") == [False, True]
