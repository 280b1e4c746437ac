"""The count by exception in a real Chromium: by touch, by key and aloud, without a reload."""

from __future__ import annotations

from typing import Any

import pytest

from listen.chairside.events import EventKind
from listen.chairside.session import ChairSession
from tests.listen.web.browser import Page, Server, axe_finds, browser, need_browser
from tests.listen.web.desk_app import hearing_of

pytestmark = pytest.mark.slow

ASKED = (
    "mouth_mirror", "explorer_shepherd", "gauze_square", "high_speed_handpiece", "bur_330",
    "slow_speed_motor", "bur_round_4", "spoon_excavator", "hatchet", "wedge", "cotton_pliers",
    "sectional_matrix", "sectional_ring", "ring_forceps", "bonding_agent", "dappen_dish", "curing_light",
    "composite_dispenser", "composite_paddle", "finishing_disc", "articulating_forceps", "dam_clamp",
    "dam_clamp_forceps", "dam_frame", "hand_mirror",
)  # fmt: skip
"""An ordinary session; the dam clamp came off again, the rest was merely asked for."""
MOST_STEPS = 24


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


def used(server: Server, page: Page) -> ChairSession:
    """A session in which things were asked for; the page is at the chair."""
    chair_session: ChairSession = server.app.state.running.chair_session(page.begin(server.url))
    for item in (*ASKED, "needle_short"):
        chair_session.request(item)
    chair_session.touch(EventKind.PASSED, "needle_short")
    chair_session.touch(EventKind.IN_MOUTH, "dam_clamp")
    chair_session.touch(EventKind.OUT_OF_MOUTH, "dam_clamp")
    return chair_session


def to_count(page: Page, server: Server, chair_session: ChairSession) -> Any:
    """The count, ready."""
    page.page.goto(f"{server.url}/chair/{chair_session.session.id}/count")
    page.page.wait_for_selector("body[data-ready]")
    page.page.evaluate("window.sameOne = true")
    return page.page


def focused(page: Any) -> str:
    found: str = page.evaluate("document.activeElement.id")
    return found


def test_an_ordinary_session_is_counted_and_ended_by_keys_in_24_steps(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        chair_session = used(server, page)
        page.page.click("text=End >> visible=true")
        page.page.wait_for_url("**/count")
        page.page.wait_for_selector("body[data-ready]")
        page.page.evaluate("window.sameOne = true")
        steps, at = 1, focused(page.page)
        while at != "close":
            assert at and steps < MOST_STEPS, f"{steps} steps, and still at {at!r}"
            page.page.keyboard.press("Enter")
            page.page.wait_for_function("was => ![was, ''].includes(document.activeElement.id)", arg=at)
            steps, at = steps + 1, focused(page.page)
        assert page.page.evaluate("window.sameOne")
        page.page.keyboard.press("Enter")
        page.page.wait_for_url(f"**/sessions/{chair_session.session.id}")
        assert steps + 1 <= MOST_STEPS
        closed = chair_session.state.events[-1]
        assert (closed.kind, closed.short, closed.uncounted, closed.by) == (EventKind.CLOSED, 0, 0, None)
        assert page.complaints == []


def test_touches_count_without_a_reload_and_the_pedal_never_does(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        chair_session = used(server, page)
        at = to_count(page, server, chair_session)
        at.click("#here-row_1")
        at.wait_for_selector("#row_1 .state.good >> text=8 counted")
        assert focused(at) == "row_1"  # not lost, and not on what a pedal would press
        at.click("#less-mouth_mirror")
        at.wait_for_selector("#line-mouth_mirror.off >> text=0 of 1")
        at.wait_for_selector("#standing >> text=Short: mouth mirror (0 of 1)")
        for _ in range(3):
            at.click("#less-gauze_square")
        at.wait_for_selector("#line-gauze_square >> text=5 of 8")
        events = len(chair_session.state.events)
        at.focus("#here-row_2")
        at.keyboard.press("Space")
        at.wait_for_selector("body[data-mic=open]")
        assert len(chair_session.state.events) == events
        at.focus("#more-gauze_square")
        at.keyboard.press("Enter")
        at.wait_for_selector("#line-gauze_square >> text=6 of 8")
        assert focused(at) == "more-gauze_square"
        at.click("#back")
        at.wait_for_selector("#line-gauze_square >> text=5 of 8")
        assert at.evaluate("window.sameOne")
        assert page.complaints == []


def test_what_is_said_is_shown_as_said_until_one_touch(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        chair_session = used(server, page)
        at = to_count(page, server, chair_session)
        at.click("#kit_dam_kit summary")
        chair_session.hear(hearing_of("Burs complete, one 330 missing"))
        chair_session.hear(hearing_of("matrix kit complete"))
        server.app.state.running.tell(chair_session.session.id)
        at.wait_for_selector("#standing >> text=330 bur 0 of 1")
        at.wait_for_selector("#line-wedge.said")
        assert at.is_visible("#line-dam_frame")  # what was open stays open
        assert not chair_session.state.counted
        at.click("#as-said")
        at.wait_for_selector("#kit_bur_kit .state.bad >> text=330 bur (0 of 1)")
        assert "wedge" not in chair_session.state.counted and chair_session.state.counted["bur_245"] == 1
        at.click("#is-wedge")
        at.wait_for_selector("#line-wedge.done")
        assert at.evaluate("window.sameOne")


def test_it_counts_without_a_script(server: Server) -> None:
    with browser(java_script_enabled=False) as context:
        page = Page(context)
        session = server.app.state.running.open("composite_class_two", None, None).session.id
        page.page.goto(f"{server.url}/chair/{session}/count")
        page.page.click("#here-row_1")
        page.page.wait_for_url("**/count#row_1")
        page.page.click("#less-mouth_mirror")
        page.page.wait_for_url("**/count#line-mouth_mirror")
        assert page.page.inner_text("#line-mouth_mirror .state") == "▼ 0 of 1"


@pytest.mark.parametrize("width,height", [(1280, 800), (1024, 768), (1920, 1080), (390, 844)])
def test_everything_is_large_enough_and_nothing_overflows(
    server: Server, axe: str, width: int, height: int
) -> None:
    with browser() as context:
        page = Page(context)
        page.page.set_viewport_size({"width": width, "height": height})
        chair_session = used(server, page)
        chair_session.count("dappen_dish", 0)
        chair_session.ask("burs complete, one 330 missing")
        at = to_count(page, server, chair_session)
        for summary in at.query_selector_all("summary"):
            if not summary.evaluate("one => one.parentElement.open"):
                summary.click()
        assert at.evaluate("document.documentElement.scrollWidth <= innerWidth")
        small = at.eval_on_selector_all(
            "main button, main summary, main a, main input",
            """all => all.filter(e => e.offsetParent)
                .map(e => [e.id || e.textContent, e.getBoundingClientRect()])
                .filter(([, b]) => b.width < 44 || b.height < 44).map(([name]) => name)""",
        )
        assert small == []
        tiny = at.eval_on_selector_all(
            "main *:not(svg *)",
            """all => [...new Set(all.filter(e => e.offsetParent && [...e.childNodes].some(
                n => n.nodeType === 3 && n.textContent.trim())
                && parseFloat(getComputedStyle(e).fontSize) < 16).map(e => e.className || e.tagName))]""",
        )
        assert tiny == []
        assert axe_finds(at, axe) == []
