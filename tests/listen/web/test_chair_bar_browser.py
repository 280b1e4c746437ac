"""The bar of the chair screen, its timers and its microphone state, in a real Chromium."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from listen.chairside.closing import Override
from listen.chairside.events import Source
from listen.chairside.handing import ChairSettings
from listen.chairside.session import ChairSession
from listen.live.spoken_switch import Switch
from listen.segments import FRAME, EarlySegmenter
from tests.listen.web.browser import Page, Server, axe_finds, browser, need_browser

pytestmark = pytest.mark.slow

SIZES = {"chair": (1280, 800), "small": (1024, 768), "phone": (390, 844)}
LARGE_PX = 40
"""What is read from two metres on a screen of 1280 by 800."""


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


def chair_of(server: Server, session: int) -> ChairSession:
    """The session, with a time for what is etched and one for what is cured; no step waits for a teacher."""
    chair_session: ChairSession = server.app.state.running.chair_session(session)
    chair_session.settings = ChairSettings(maker_times={"etch": 2.0, "cure": 90.0}, faculty=False)
    return chair_session


def type_px(page: Page, selector: str) -> float:
    return float(page.page.eval_on_selector(selector, "e => parseFloat(getComputedStyle(e).fontSize)"))


def boxes(page: Page) -> Any:
    """Where the stage, every place of the tray and everything on the bar lies."""
    return page.page.eval_on_selector_all(
        "#stage, .slot, .bar button, .bar a",
        "all => all.map(e => e.getBoundingClientRect()).map(b => [b.x, b.y, b.width, b.height])",
    )


def focused(page: Page) -> str:
    found: str = page.page.evaluate("document.activeElement.id || document.activeElement.tagName")
    return found


def test_the_bar_leads_to_the_count_and_says_what_undo_takes_back(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        undo = page.page.get_by_role("button", name="Undo")
        for name in ("End the session", "Options", "Needle stick"):
            assert page.page.locator(".bar").get_by_role("button", name=name).is_visible()
        assert undo.get_attribute("aria-disabled") == "true"
        undo.click(force=True)
        assert page.page.get_attribute("#stage", "data-kind") == "idle"
        page.ask("mouth mirror")
        page.wait_lit("mouth_mirror")
        assert page.page.get_by_role("button", name="Undo: mouth mirror, asked for").is_visible()
        undo.click()
        page.page.wait_for_selector("#stage[data-kind=note]")
        assert page.page.inner_text("#stage .note") == "Taken back: mouth mirror, asked for."
        page.page.get_by_role("button", name="End the session").click()
        page.page.wait_for_url(f"**/chair/{session}/count*")
        page.page.go_back()
        page.ready()
        page.page.get_by_role("link", name="Count").click()
        page.page.wait_for_url(f"**/chair/{session}/count")
        assert page.complaints == []


def test_a_closed_microphone_is_said_large_while_nothing_is_shown(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        assert page.page.inner_text("#stage h2") == "Microphone closed"
        assert page.page.inner_text("#stage .silent p") == "Space opens it"
        assert type_px(page, "#stage h2") >= LARGE_PX and type_px(page, "#stage .silent p") >= LARGE_PX
        page.open_microphone()
        assert page.page.query_selector("#stage .silent") is None
        page.page.keyboard.press("Space")
        page.page.wait_for_selector("#stage .silent")
        page.ask("mouth mirror")
        page.wait_lit("mouth_mirror")
        assert page.page.inner_text(".named h2") == "mouth mirror"
        assert page.page.inner_text(".unheard") == "Microphone closed. Space opens it"
        page.page.click("#more")
        page.page.select_option("#pedal-way", "hold")
        page.page.keyboard.press("Escape")
        assert page.page.inner_text(".unheard") == "Microphone closed. Hold space to speak"


def test_waiting_for_the_phrase_and_open_elsewhere_are_said_large(server: Server) -> None:
    with browser() as context:
        one = Page(context)
        session = one.begin(server.url)
        other = Page(context)
        other.page.goto(f"{server.url}/chair/{session}")
        other.ready()
        other.page.click("#more")
        other.page.check("#spoken-start")
        other.page.click("#options .close")
        other.page.keyboard.press("Space")
        other.page.wait_for_selector("body[data-mic=waiting]")
        assert Switch.START.value in other.page.inner_text("#stage h2")
        one.page.wait_for_selector("body[data-mic=elsewhere]")
        assert one.page.inner_text("#stage h2") == "Open at another screen"
        for page in (one, other):
            assert type_px(page, "#stage h2") >= LARGE_PX


def test_two_timers_are_read_from_afar_and_move_nothing(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        chair_of(server, page.begin(server.url))
        page.ask("mouth mirror")
        page.wait_lit("mouth_mirror")
        before = boxes(page)
        page.ask("start the cure bond timer")
        page.page.wait_for_selector(".timers button")
        assert boxes(page) == before
        page.ask("start the etch enamel timer")
        page.page.wait_for_selector(".timers button >> nth=1")
        assert boxes(page) == before
        names = page.page.eval_on_selector_all(".timers span", "all => all.map(e => e.textContent)")
        assert names == ["cure bond", "etch enamel"]
        assert type_px(page, ".timers b") >= LARGE_PX
        first = page.page.inner_text(".timers b")
        page.page.wait_for_selector(".timers [data-over]")
        assert page.page.inner_text(".timers b") != first
        assert page.page.inner_text(".timers [data-over] b") == "time is up"
        assert type_px(page, ".timers [data-over] b") >= LARGE_PX
        assert page.page.inner_text("#live") == "etch enamel: time is up."
        assert boxes(page) == before
        page.page.focus(".timers button >> nth=1")
        page.page.keyboard.press("Enter")
        page.page.wait_for_selector(".timers button >> nth=1", state="detached")
        assert page.page.evaluate("document.activeElement.textContent").startswith("cure bond")
        page.ask("stop the cure bond timer")
        page.page.wait_for_selector(".timers button", state="detached")
        assert boxes(page) == before


COUNT_NOTES = """window.notes = 0;
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (...at) { window.notes += 1; return start.apply(this, at); };"""


def test_a_tone_sounds_at_zero_only_where_the_timer_was_seen_to_run(server: Server) -> None:
    with browser() as context:
        context.add_init_script(COUNT_NOTES)
        page = Page(context)
        session = page.begin(server.url)
        chair_of(server, session)
        page.page.keyboard.press("Tab")
        page.ask("start the etch enamel timer")
        page.page.wait_for_selector(".timers [data-over]")
        page.page.wait_for_function("() => notes === 2")
        later = Page(context)
        later.page.goto(f"{server.url}/chair/{session}")
        later.ready()
        later.page.keyboard.press("Tab")
        later.page.wait_for_selector(".timers [data-over]")
        page.page.wait_for_function("() => notes === 6")
        page.page.wait_for_timeout(4500)
        assert page.page.evaluate("notes") == 6
        assert later.page.evaluate("notes") == 0
        page.page.click("#more")
        page.page.uncheck("#tone")
        page.page.keyboard.press("Escape")
        page.ask("start the etch enamel timer")
        page.page.wait_for_selector(".timers button:not([data-over])")
        page.page.wait_for_selector(".timers [data-over]")
        page.page.wait_for_timeout(500)
        assert page.page.evaluate("notes") == 6
        assert page.complaints == []


def test_the_tone_is_never_taken_for_speech(server: Server) -> None:
    """The page's own tone, computed at the rate of the engine, from faint to as loud as can be."""
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        computed = page.page.evaluate(
            """async () => {
                const { sound } = await import("/static/tone.js");
                const context = new OfflineAudioContext(1, 16000 * 13, 16000);
                for (const at of [1, 5, 9]) sound(context, at);
                return [...(await context.startRendering()).getChannelData(0)];
            }"""
        )
    tone = np.array(computed, np.float32)
    loudest = float(np.abs(tone).max())
    assert 0.05 < loudest < 0.5
    room = np.random.default_rng(3).standard_normal(len(tone)).astype(np.float32)
    for gain in (0.02, 0.1, 0.3, 1.0, 0.9 / loudest):
        for room_rms in (0.0, 0.003):
            heard = (gain * tone + room_rms * room).astype(np.float32)
            segmenter = EarlySegmenter(0.35)
            ended = [u for at in range(0, len(heard), FRAME) for u in segmenter.push(heard[at : at + FRAME])]
            assert ended == [] and not segmenter.speaking, (gain, room_rms)


def test_the_keys_are_told_and_the_focus_comes_back(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        page.page.focus("#more")
        page.page.keyboard.press("?")
        page.page.wait_for_selector("#keys[open]")
        assert "opens the microphone" in page.page.inner_text("#keys")
        page.page.keyboard.press("Escape")
        assert focused(page) == "more"
        page.page.focus("#text")
        page.page.keyboard.press("?")
        assert page.page.query_selector("#keys[open]") is None
        page.page.fill("#text", "")
        page.ask("the burnisher")
        page.page.wait_for_selector("[data-choose='1']")
        page.page.focus("[data-choose='1']")
        page.page.keyboard.press("Enter")
        page.page.wait_for_selector("#stage[data-kind=answer]")
        assert focused(page) == "stage"
        page.page.focus("#undo")
        for _ in range(3):
            page.page.keyboard.press("Enter")
            page.page.wait_for_timeout(150)
        assert focused(page) == "undo"


@pytest.mark.parametrize("size", SIZES)
def test_axe_finds_nothing_in_any_state_of_bar_and_stage(server: Server, axe: str, size: str) -> None:
    width, height = SIZES[size]
    with browser(bypass_csp=True) as context:
        page = Page(context)
        page.page.set_viewport_size({"width": width, "height": height})
        session = page.begin(server.url)
        chair_session = chair_of(server, session)
        found: list[str] = []

        def look(where: str) -> None:
            found.extend(f"{where}, {one}" for one in axe_finds(page.page, axe))
            assert page.page.evaluate("document.documentElement.scrollWidth <= innerWidth"), where

        look("closed microphone")
        page.ask("start the cure bond timer")
        page.ask("start the etch enamel timer")
        page.page.wait_for_selector(".timers [data-over]")
        page.ask("mouth mirror")
        page.wait_lit("mouth_mirror")
        look("two timers and an answer")
        page.page.keyboard.press("?")
        look("keys")
        page.page.keyboard.press("Escape")
        chair_session.close(Source.TOUCH, Override(by="Dr Green", reason="Only a rehearsal."))
        server.app.state.running.tell(session)
        page.page.wait_for_selector("#stage[data-kind=closed]")
        assert not page.page.is_visible("#undo") and not page.page.is_visible("#mic")
        look("closed session")
        assert found == []


def test_the_tray_of_a_closed_session_keeps_its_room(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        page.page.wait_for_selector("#stage .silent")
        tops = "all => all.map(e => e.getBoundingClientRect().top)"
        before = page.page.eval_on_selector_all(".group", tops)
        chair_of(server, session).close(Source.TOUCH, Override(by="Dr Green", reason="Only a rehearsal."))
        server.app.state.running.tell(session)
        page.page.wait_for_selector("#stage[data-kind=closed]")
        assert page.page.eval_on_selector_all(".group", tops) == before
        inside = """e => { const s = document.getElementById('stage').getBoundingClientRect();
            const b = e.getBoundingClientRect(); return b.top >= s.top && b.bottom <= s.bottom; }"""
        assert page.page.eval_on_selector(".closed", inside)
