"""Pick list and turn-over in a real Chromium: ticked by touch and by key, kept for one patient, printed."""

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from listen.chair import ChairOptions, open_chair
from listen.web import create_app
from listen.web.edit import pages as edit
from tests.listen.web.browser import Page, Server, browser, need_browser, served
from tests.listen.web.desk_app import StandIn

pytestmark = pytest.mark.slow

PICK = "/procedures/composite_class_two/pick"
MOST_PAGES = 2


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """With the pages of the editor, so that places can be said."""
    data: Path = tmp_path_factory.mktemp("turnover")
    chair = open_chair(ChairOptions(procedure="composite_class_two", layers=data / "layers"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            "tests.listen.web.browser.create_app",
            lambda *given, **named: create_app(
                *given, more_routes=edit.routes(), more_links=(edit.LINK,), **named
            ),
        )
        patch.setattr("tests.listen.web.browser.shared_chair", lambda: chair)
        with served(data, StandIn()) as running:
            yield running


def ticked(page: Page) -> list[str]:
    found: list[str] = page.page.eval_on_selector_all(
        "[data-tick]:checked", "all => all.map(one => one.dataset.tick)"
    )
    return found


def told(page: Page) -> str:
    return str(page.page.inner_text("[data-ticked]"))


def test_a_touch_anywhere_on_its_line_ticks_a_thing_and_a_reload_keeps_it(server: Server) -> None:
    with browser(has_touch=True) as context:
        page = Page(context)
        page.page.goto(server.url + PICK)
        assert told(page).startswith("0 of ") and not page.page.is_visible("[data-clear]")
        page.page.tap(".take:has([data-tick='kit:dam_kit']) strong")
        page.page.tap("[data-tick='kit:bur_kit']")
        assert ticked(page) == ["kit:dam_kit", "kit:bur_kit"] and told(page).startswith("2 of ")
        page.page.reload()
        page.page.wait_for_selector("[data-clear]:visible")
        assert ticked(page) == ["kit:dam_kit", "kit:bur_kit"]
        page.page.tap("[data-clear]")
        assert ticked(page) == [] and told(page).startswith("0 of ")
        page.page.reload()
        assert ticked(page) == [] and page.complaints == []


@pytest.mark.parametrize("path", [PICK, "/procedures/composite_class_two/turn-over"])
def test_everything_is_ticked_by_key_in_order(server: Server, path: str) -> None:
    with browser() as context:
        page = Page(context)
        page.page.goto(server.url + path)
        boxes = page.page.locator("[data-tick]")
        number = boxes.count()
        boxes.first.focus()
        done = 0
        for _ in range(number * 3):
            if page.page.evaluate("document.activeElement.matches('[data-tick]')"):
                page.page.keyboard.press("Space")
                done += 1
            if done == number:
                break
            page.page.keyboard.press("Tab")
        assert told(page) == f"{number} of {number} ticked" and page.complaints == []


@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_whatever_is_touched_is_44_px_high(server: Server, size: tuple[int, int]) -> None:
    with browser() as context:
        page = Page(context)
        page.page.set_viewport_size({"width": size[0], "height": size[1]})
        for path in (PICK, "/procedures/composite_class_two/turn-over", "/sessions/restock"):
            page.page.goto(server.url + path)
            low = page.page.eval_on_selector_all(
                "main :is(.take, button, .button, summary, .around a)",
                "all => all.filter(one => one.checkVisibility() && one.getBoundingClientRect().height < 44)"
                ".map(one => one.textContent.trim())",
            )
            assert low == [], path


def test_ticks_are_this_patients_only(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.page.goto(server.url + PICK)
        page.page.check("[data-tick='kit:dam_kit']")
        first = page.begin(server.url)
        page.page.goto(f"{server.url}/chair/{first}/pick")
        assert ticked(page) == ["kit:dam_kit"], "ticked before the session began"
        page.page.goto(server.url + PICK)
        assert ticked(page) == [], "they went with the patient"
        second = page.begin(server.url)
        page.page.goto(f"{server.url}/chair/{second}/pick")
        assert ticked(page) == []
        page.page.goto(f"{server.url}/chair/{first}/pick")
        later = "() => { const now = Date.now; Date.now = () => now() + 4 * 3600e3; }"
        page.page.add_init_script(f"({later})()")
        page.page.reload()
        assert ticked(page) == [], "a patient is not set up for four hours"


def test_nothing_that_is_ticked_is_sent(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.page.goto(server.url + PICK)
        page.page.wait_for_load_state("networkidle")
        asked: list[Any] = []
        page.page.on("request", lambda request: asked.append(request.url))
        for number in range(4):
            page.page.locator("[data-tick]").nth(number).check()
        page.page.wait_for_timeout(300)
        assert asked == []


def test_a_lead_says_where_a_kit_is_kept_in_two_steps_and_takes_it_back_in_one(server: Server) -> None:
    with browser() as context:
        context.request.post(f"{server.url}/edit/enter", form={"name": "Kim"}, headers={"origin": server.url})
        page = Page(context)
        page.page.goto(server.url + PICK)
        row = page.page.locator("li:has(> .take [data-tick='kit:dam_kit'])")
        row.locator("summary").click()  # one
        row.locator("[name=place]").fill("cupboard 2, top drawer")
        page.page.keyboard.press("Enter")  # two
        page.page.wait_for_selector("h2:text('Cupboard 2, top drawer')")
        page.page.wait_for_selector("[data-saved] button:text('Undo')")
        page.page.click("[data-saved] button:text('Undo')")
        page.page.wait_for_selector("[data-saved]:has-text('takes back')")
        assert page.page.locator("h2:text('Cupboard 2, top drawer')").count() == 0
        assert page.complaints == []


def test_lists_print_on_two_pages_at_most_and_without_what_is_only_for_the_screen(server: Server) -> None:
    pypdf = pytest.importorskip("pypdf", reason="pypdf is missing: pip install pypdf")
    with browser() as context:
        page = context.new_page()
        for procedure in server.app.state.running.chair.pack.procedures:
            for kind in ("pick", "turn-over"):
                page.goto(f"{server.url}/procedures/{procedure.id}/{kind}")
                read = pypdf.PdfReader(io.BytesIO(page.pdf(format="A4")))
                text = " ".join(one.extract_text() for one in read.pages)
                assert len(read.pages) <= MOST_PAGES, procedure.id
                assert procedure.name in text and "Local rules" in text
                assert "Kept where?" not in text and "Any name of an item" not in text
