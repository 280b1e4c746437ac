"""Ending a session in a real Chromium: tried with a band missing, stopped, then ended by a named person."""

import pytest

from listen.chairside.session import ChairSession
from tests.listen.web.browser import Page, Server, browser, need_browser
from tests.listen.web.test_ending import NAME, REASON, count_all

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.mark.slow
def test_a_session_with_a_band_missing_is_stopped_then_ended_by_name(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        chair_session: ChairSession = server.app.state.running.chair_session(session)
        page.ask("matrix band")
        page.page.wait_for_selector(".slot[data-item=matrix_band][data-lit]")
        count_all(chair_session, matrix_band=0)

        page.page.click("text=End >> visible=true")
        page.page.wait_for_url(f"**/chair/{session}/count*")
        assert page.page.is_visible("#end >> text=matrix band")
        assert not chair_session.closed
        assert page.page.input_value("[name=by]") == page.page.input_value("[name=reason]") == ""

        page.page.click("text=End with what is missing >> nth=-1")
        page.page.wait_for_timeout(200)
        assert f"/chair/{session}/count" in page.page.url and not chair_session.closed

        page.page.fill("[name=by]", NAME)
        page.page.fill("[name=reason]", REASON)
        page.page.click("text=End with what is missing >> nth=-1")
        page.page.wait_for_url(f"**/sessions/{session}")
        told = page.page.inner_text("main")
        assert f"by {NAME}" in told and REASON in told and "matrix band" in told

        page.page.goto(f"{server.url}/sessions")
        line = page.page.inner_text(f"a[href='/sessions/{session}']")
        assert "short: matrix band (0 of 1)" in line and NAME in line
        assert page.complaints == []


@pytest.mark.slow
def test_the_same_by_keyboard_alone(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        chair_session: ChairSession = server.app.state.running.chair_session(session)
        count_all(chair_session, matrix_band=0)
        for _ in range(12):
            page.page.keyboard.press("Tab")
            if page.page.evaluate("document.activeElement.textContent") == "End the session":
                break
        page.page.keyboard.press("Enter")
        page.page.wait_for_url(f"**/chair/{session}/count*")
        for _ in range(12):  # from the section that the address points to
            page.page.keyboard.press("Tab")
            if page.page.evaluate("document.activeElement.name") == "by":
                break
        page.page.keyboard.type(NAME)
        page.page.keyboard.press("Tab")
        page.page.keyboard.type(REASON)
        page.page.keyboard.press("Enter")
        page.page.wait_for_url(f"**/sessions/{session}")
        assert chair_session.closed and chair_session.state.events[-1].by == NAME


def test_a_complete_count_ends_from_the_chair_screen_with_one_press(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        count_all(server.app.state.running.chair_session(session))
        page.page.click("text=End >> visible=true")
        page.page.wait_for_url(f"**/sessions/{session}")
        page.page.goto(f"{server.url}/sessions")
        assert "count complete" in page.page.inner_text(f"a[href='/sessions/{session}']")
