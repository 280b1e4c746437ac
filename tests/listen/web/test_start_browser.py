"""Starting a session and setting it up, counted in touches; two fields and two roles on one server."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.listen.web.browser import Page, Server, axe_finds, browser, need_browser, served
from tests.listen.web.desk_app import StandIn, surgery_chair

pytestmark = pytest.mark.slow

SIZES = {"small": (1024, 768), "chair": (1280, 800), "large": (1920, 1080), "phone": (390, 844)}
ROWS, COUNTER = "#tray .rows", "#tray .kits.counter"


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    with served(tmp_path / "data", StandIn(), further=[surgery_chair()]) as server:
        yield server


def test_a_session_starts_with_one_touch_and_is_set_up_with_three(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.page.goto(server.url)
        page.page.click("text=Start >> nth=-2")  # one
        page.page.wait_for_url("**/setup")
        page.page.evaluate("window.same = true")
        page.page.click("[data-all]")  # one
        page.page.wait_for_selector("[data-row=barriers_on][data-good=yes]")
        page.page.click("[aria-label='No: Is this a latex-free session?']")  # two
        page.page.wait_for_selector("[data-stands]:text('in order')")
        assert page.page.evaluate("window.same"), "the page was loaded again"
        page.page.click("[data-done]")  # three
        session = page.ready()
        state = server.app.state.running.chair_session(session).state
        assert len(state.checks) == 6 and state.checks["latex_free"] is False
        assert page.complaints == []


def test_enter_starts_what_is_proposed_and_sets_it_up(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.page.goto(server.url)
        page.page.keyboard.press("Enter")
        page.page.wait_for_url("**/setup")
        page.page.keyboard.press("Enter")
        page.page.wait_for_selector("[data-last]:focus")
        page.page.keyboard.press("Tab")
        page.page.keyboard.press("Enter")
        page.page.wait_for_selector("[data-done]:focus")
        page.page.keyboard.press("Enter")
        session = page.ready()
        chair_session = server.app.state.running.chair_session(session)
        assert chair_session.chair.procedure.id == "composite_class_two" and chair_session.latex_free


def test_an_exception_is_answered_singly_moves_nothing_and_stands_in_the_options(server: Server) -> None:
    boxes = "all => all.map(e => e.getBoundingClientRect()).map(b => [b.x, b.y + scrollY, b.width, b.height])"
    with browser() as context:
        page = Page(context)
        page.page.goto(server.url)
        page.page.keyboard.press("Enter")
        page.page.wait_for_url("**/setup")
        before = page.page.eval_on_selector_all("main button, main a, main select", boxes)
        page.page.click("[aria-label='No: Is everything in date?']")
        page.page.wait_for_selector("[data-row=in_date][data-good=no]")
        page.page.click("[data-all]")
        page.page.wait_for_selector("[data-row=barriers_on][data-good=yes]")
        assert page.page.get_attribute("[data-row=in_date]", "data-good") == "no"
        assert "Remove and replace it." in page.page.inner_text("[data-stands]")
        after = page.page.eval_on_selector_all("main button, main a, main select", boxes)
        assert after == before
        page.page.click("[data-done]")
        page.ready()
        page.page.click("#more")
        assert "Not ready. Remove and replace it." in page.page.inner_text(".setup-open")


def test_set_up_and_start_work_without_a_script(server: Server) -> None:
    with browser(java_script_enabled=False) as context:
        page = Page(context)
        page.page.goto(server.url)
        page.page.click("button[value=setup]")
        page.page.click("[data-all]")
        assert "1 of 6 questions are open." in page.page.inner_text("[data-stands]")
        page.page.select_option("[name=handed]", "left")
        page.page.click("text=Keep")
        session = server.app.state.running.chair_session(1)
        assert session.settings.operator_handed == "left" and len(session.state.checks) == 5


def test_two_fields_are_open_side_by_side_in_one_server(server: Server) -> None:
    with browser() as context:
        filling, surgery = Page(context), Page(context)
        filling.begin(server.url)
        surgery.begin(server.url, "surgical_extraction")
        filling.ask("cotton pliers")
        surgery.ask("crane pick")
        filling.wait_lit("cotton_pliers")
        surgery.page.wait_for_selector("#stage[data-kind=answer]")
        assert surgery.page.inner_text(".named h2").lower() == "crane pick"
        surgery.page.click(".slot >> nth=0")
        link = surgery.page.get_attribute("#slot-page", "href")
        assert link is not None and link.endswith("?vocabulary=oral_surgery")
        filling.page.goto(server.url)
        assert {"Composite, class II", "Surgical extraction"} <= set(
            filling.page.locator(".list.lines strong").all_inner_texts()
        )
        assert filling.complaints == surgery.complaints == []


def test_two_screens_of_two_roles_see_the_same_session_each_its_own_part_large(server: Server) -> None:
    with browser() as near, browser_again(near) as far:
        chairside, rover = Page(near), Page(far)
        session = chairside.begin(server.url)
        rover.page.goto(f"{server.url}/chair/{session}")
        rover.ready()
        for page, role in ((chairside, "chairside"), (rover, "roving")):
            page.page.click("#more")
            page.page.select_option("#role", role)
            page.page.wait_for_selector(f"body[data-role={role}][data-ready]")
        high = "e => e.offsetHeight"
        for part, larger, smaller in ((ROWS, chairside, rover), (COUNTER, rover, chairside)):
            assert larger.page.eval_on_selector(part, high) > smaller.page.eval_on_selector(part, high)
        chairside.ask("amalgam carrier")
        for page in (chairside, rover):
            page.page.wait_for_selector("#stage[data-kind=answer]")
        assert chairside.page.inner_text(".named h2") == "Rover: amalgam carrier"
        assert rover.page.inner_text(".named h2") == "amalgam carrier"
        size = "e => parseFloat(getComputedStyle(e).fontSize)"
        large = rover.page.eval_on_selector(".named h2", size)
        assert chairside.page.eval_on_selector(".named h2", size) < 0.6 * large
        rover.ask("mouth mirror")
        chairside.wait_lit("mouth_mirror")
        rover.page.wait_for_selector("text=Chairside: mouth mirror")
        chairside.page.reload()
        chairside.ready()
        assert chairside.page.get_attribute("body", "data-role") == "chairside"
        assert chairside.complaints == rover.complaints == []


def browser_again(context: object) -> "Other":
    """Another browser profile beside the first one's."""
    return Other(context)


class Other:
    """A second context of the same browser."""

    def __init__(self, first: object) -> None:
        self._browser = first.browser  # type: ignore[attr-defined]

    def __enter__(self) -> object:
        self._context = self._browser.new_context(viewport={"width": 1280, "height": 800})
        return self._context

    def __exit__(self, *why: object) -> None:
        self._context.close()


@pytest.mark.parametrize("size", SIZES)
def test_start_and_set_up_have_no_finding_overflow_nowhere_and_are_large_enough(
    server: Server, axe: str, size: str
) -> None:
    width, height = SIZES[size]
    with browser() as context:
        page = Page(context)
        page.page.set_viewport_size({"width": width, "height": height})
        session = page.begin(server.url)
        for path in ("/", f"/chair/{session}/setup", "/items", "/trays"):
            page.page.goto(f"{server.url}{path}")
            assert page.page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
            assert page.page.evaluate("scrollY") == 0, path
            assert axe_finds(page.page, axe) == [], path
            small = page.page.eval_on_selector_all(
                "main *",
                """all => all.filter(e => e.offsetParent && [...e.childNodes].some(n => n.nodeType === 3
                    && n.textContent.trim()) && parseFloat(getComputedStyle(e).fontSize) < 15.9)
                    .map(e => e.textContent.trim())""",
            )
            assert path in ("/items", "/trays") or small == [], path
