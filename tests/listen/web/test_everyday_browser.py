"""The everyday ways at the desk in a real Chromium, with the number of steps that each may take."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.listen.web.browser import Page, axe_finds, browser, need_browser
from tests.listen.web.desk_app import StandIn
from tests.listen.web.test_edit_browser import editor, enter

pytestmark = pytest.mark.slow

ITEM, NEW = "cotton_pliers", "pocket grabbers"
OPTIONS = "[role=option]"


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """An app for the tests that save nothing."""
    with editor(tmp_path_factory.mktemp("desk"), StandIn()) as address:
        yield address


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as opened:
        yield opened.browser


@pytest.fixture
def context(chromium: Any) -> Iterator[Any]:
    """As if the browser were started anew."""
    opened = chromium.new_context(viewport={"width": 1280, "height": 800})
    yield opened
    opened.close()


@pytest.fixture
def desk(context: Any) -> Iterator[Page]:
    page = Page(context)
    yield page
    assert page.complaints == []


class Steps:
    """What a person does, counted: a click, a text typed, or a key."""

    def __init__(self, page: Any) -> None:
        self._page, self.taken = page, 0

    def click(self, what: str) -> None:
        self.taken += 1
        self._page.click(what)

    def type(self, text: str) -> None:
        """Into whatever has the keyboard."""
        self.taken += 1
        self._page.keyboard.type(text)

    def press(self, key: str) -> None:
        self.taken += 1
        self._page.keyboard.press(key)


def test_a_nickname_in_three_steps_from_an_items_page_and_back(context: Any, tmp_path: Path) -> None:
    with editor(tmp_path, StandIn()) as url:
        lead = Page(context)
        enter(lead.page, url)  # counts once, not each time
        lead.page.goto(f"{url}/items/{ITEM}")
        steps = Steps(lead.page)
        steps.click("text=Add a name")
        lead.page.wait_for_selector("input[name=name]:focus")
        steps.type(NEW)
        lead.page.wait_for_selector(".lint .finding")  # the clash, if there were one, is told before saving
        steps.press("Enter")
        lead.page.wait_for_selector("[data-saved]")
        assert steps.taken == 3
        assert lead.page.url.startswith(f"{url}/items/{ITEM}?")
        assert f'Kim adds the name "{NEW}"' in lead.page.inner_text("[data-saved]")
        assert lead.complaints == []


def test_an_unknown_name_typed_at_the_chair_is_given_to_its_item(context: Any, tmp_path: Path) -> None:
    with editor(tmp_path, StandIn()) as url:
        chair, lead = Page(context), Page(context)
        enter(lead.page, url)
        chair.begin(url)
        chair.ask(f"can I have the {NEW}")
        steps = Steps(chair.page)
        with context.expect_page() as opened:
            steps.click("text=What is it?")
        find = opened.value
        find.wait_for_selector("#what:focus")
        steps = Steps(find)
        steps.type("tweez")
        find.wait_for_selector(OPTIONS)
        steps.press("ArrowDown")
        steps.press("Enter")
        find.wait_for_selector("input[name=name]:focus")
        assert find.input_value("main input[name=name]") == NEW
        steps.press("Enter")
        find.wait_for_selector("[data-saved]")
        assert steps.taken == 4
        chair.ask(f"can I have the {NEW}")
        chair.wait_lit(ITEM)
        assert chair.complaints == []


def test_the_look_up_completes_by_keyboard_and_nothing_else_moves(desk: Page, url: str) -> None:
    desk.page.goto(f"{url}/items/hoe")
    before = desk.page.evaluate("document.querySelector('main').getBoundingClientRect().top")
    desk.page.keyboard.press("/")
    field = desk.page.locator("#q")
    desk.page.keyboard.type("pluger")
    desk.page.wait_for_selector(OPTIONS)
    assert desk.page.evaluate("document.querySelector('main').getBoundingClientRect().top") == before
    assert field.get_attribute("role") == "combobox" and field.get_attribute("aria-expanded") == "true"
    names = desk.page.locator(OPTIONS).all_inner_texts()
    assert "small condenser" in names[0] and len(names) == 3
    desk.page.keyboard.press("ArrowUp")
    marked = field.get_attribute("aria-activedescendant")
    assert desk.page.get_attribute(f"#{marked}", "aria-selected") == "true"
    assert desk.page.locator(OPTIONS).last.get_attribute("id") == marked
    for _ in range(2):  # past the end is the field itself, then the first
        desk.page.keyboard.press("ArrowDown")
    desk.page.keyboard.press("Enter")
    desk.page.wait_for_url(f"{url}/items/condenser_small")


def test_escape_closes_the_names_and_enter_looks_up_as_before(desk: Page, url: str) -> None:
    desk.page.goto(f"{url}/items/hoe")
    desk.page.click("#q")
    desk.page.keyboard.type("tweezers")
    desk.page.wait_for_selector(OPTIONS)
    desk.page.keyboard.press("Escape")
    assert desk.page.locator(OPTIONS).first.is_hidden() and desk.page.input_value("#q") == "tweezers"
    assert desk.page.get_attribute("#q", "aria-expanded") == "false"
    desk.page.keyboard.press("Enter")
    desk.page.wait_for_url(f"{url}/items/{ITEM}")


def test_a_name_that_is_offered_can_be_clicked_and_leaving_closes_the_list(desk: Page, url: str) -> None:
    desk.page.goto(f"{url}/trays")
    desk.page.fill("#q", "mirr")
    desk.page.wait_for_selector(OPTIONS)
    desk.page.keyboard.press("Tab")
    desk.page.wait_for_selector(OPTIONS, state="hidden")
    desk.page.fill("#q", "mirr")
    desk.page.click(f"{OPTIONS} >> nth=0")
    desk.page.wait_for_url(f"{url}/items/mouth_mirror")


def test_filters_of_the_items_work_at_once_and_stay_in_the_address(desk: Page, url: str) -> None:
    desk.page.goto(f"{url}/items")
    assert desk.page.evaluate("document.documentElement.scrollHeight") < 2000
    assert desk.page.locator("li[data-id]:visible").count() == 0  # each kind is one line
    every = desk.page.locator("li[data-id]").count()
    desk.page.click("summary:has-text('Bur')")
    assert desk.page.locator("li[data-id=bur_330]").is_visible()
    desk.page.select_option("[name=kind]", "bur")
    desk.page.wait_for_function(
        "() => document.querySelectorAll('[data-tiles] section:not([hidden])').length === 1"
    )
    burs = desk.page.locator("li[data-id]:visible").count()
    assert 0 < burs < every and desk.page.inner_text("[data-count]").startswith(f"{burs} of {every} ")
    desk.page.reload()
    assert desk.page.locator("li[data-id]:visible").count() == burs
    desk.page.click("text=Show all")
    desk.page.wait_for_function(
        f"() => document.querySelectorAll('li[data-id]:not([hidden])').length === {every}"
    )
    assert desk.page.url == f"{url}/items"
    assert desk.page.locator("li[data-id]:visible").count() == every
    desk.page.fill("main [name=name]", "pluger")
    desk.page.wait_for_selector("li[data-id=hoe]", state="hidden")
    assert desk.page.locator("li[data-id=condenser_large]").is_visible()
    desk.page.fill("main [name=name]", "cavitron")
    desk.page.wait_for_selector("[data-none]:visible")


def test_arrows_go_from_tile_to_tile(desk: Page, url: str) -> None:
    desk.page.goto(f"{url}/items")
    desk.page.click("text=Show all")
    desk.page.wait_for_selector("li[data-id] >> nth=-1")
    where = "document.activeElement.closest('li')?.dataset.id"
    tiles = desk.page.eval_on_selector_all("li[data-id]", "all => all.map(one => one.dataset.id)")
    desk.page.focus("li[data-id] >> nth=0 >> a")
    desk.page.keyboard.press("ArrowRight")
    assert desk.page.evaluate(where) == tiles[1]
    desk.page.keyboard.press("ArrowDown")
    below = desk.page.evaluate(where)
    box = {one: desk.page.locator(f"li[data-id={one}]").bounding_box() for one in (tiles[1], below)}
    assert box[below]["x"] == box[tiles[1]]["x"] and box[below]["y"] > box[tiles[1]]["y"]
    desk.page.keyboard.press("ArrowUp")
    assert desk.page.evaluate(where) == tiles[1]
    desk.page.keyboard.press("End")
    assert desk.page.evaluate(where) == tiles[-1]
    desk.page.keyboard.press("Home")
    assert desk.page.evaluate(where) == tiles[0]


@pytest.mark.parametrize("path", ["/items", "/trays", "/trays/examination", "/find?q=plugger"])
def test_a_question_mark_shows_the_keys_and_gives_the_keyboard_back(desk: Page, url: str, path: str) -> None:
    desk.page.goto(url + path)
    desk.page.focus("main a >> nth=0")
    desk.page.keyboard.press("?")
    assert desk.page.is_visible("#keys") and "look-up box" in desk.page.inner_text("#keys")
    assert desk.page.evaluate("document.activeElement.textContent") == "Close"
    desk.page.keyboard.press("Escape")
    assert desk.page.is_hidden("#keys") and desk.page.evaluate(
        "document.activeElement.closest('main') !== null"
    )
    desk.page.click("#q")
    desk.page.keyboard.type("?")
    assert desk.page.is_hidden("#keys") and desk.page.input_value("#q").endswith("?")


def test_a_large_photograph_is_made_small_before_it_is_sent(context: Any, tmp_path: Path) -> None:
    large = tmp_path / "large.png"
    large.write_bytes(noisy_png(2000, 1500))
    assert large.stat().st_size > 3_000_000  # more than the server takes
    with editor(tmp_path, StandIn()) as url:
        lead = Page(context)
        enter(lead.page, url)
        lead.page.goto(f"{url}/items/{ITEM}")
        lead.page.click("text=Add a photograph")
        lead.page.set_input_files("input[type=file]", large)
        lead.page.wait_for_function(
            "() => document.querySelector('input[type=file]').files[0].name === 'photograph.jpg'"
        )
        lead.page.click("main button.main")
        lead.page.wait_for_selector("[data-saved]")
        seen = "document.querySelector('.item-head img').naturalWidth"
        lead.page.wait_for_function(f"() => {seen} === 1200")
        (kept,) = (tmp_path / "layers/photographs").iterdir()
        assert Image.open(io.BytesIO(kept.read_bytes())).size == (1200, 900)
        assert lead.complaints == []


def test_a_file_that_is_no_picture_is_told_before_it_is_sent(context: Any, tmp_path: Path) -> None:
    (tmp_path / "letter.png").write_bytes(b"Dear all")
    with editor(tmp_path, StandIn()) as url:
        lead = Page(context)
        enter(lead.page, url)
        lead.page.goto(f"{url}/edit/items/{ITEM}/photograph")
        lead.page.set_input_files("input[type=file]", tmp_path / "letter.png")
        lead.page.wait_for_selector("text=not a picture that can be read")
        lead.page.click("main button.main")
        assert lead.page.url == f"{url}/edit/items/{ITEM}/photograph" and not lead.page.is_visible(
            "[data-saved]"
        )


def test_axe_finds_nothing_while_names_are_completed_and_keys_are_shown(
    chromium: Any, url: str, axe: str
) -> None:
    context = chromium.new_context(viewport={"width": 1280, "height": 800}, bypass_csp=True)
    page = context.new_page()
    found = []
    for path in ("/trays", "/items"):
        page.goto(url + path)
        if path == "/trays":
            page.fill("#q", "mirr")
            page.wait_for_selector(OPTIONS)
        else:
            page.keyboard.press("?")
        found += [f"{path}, {one}" for one in axe_finds(page, axe, ("light",))]
    context.close()
    assert found == []


def noisy_png(width: int, height: int) -> bytes:
    """A picture that no format makes small."""
    pixels = np.random.default_rng(1).integers(0, 256, (height, width, 3), dtype=np.uint8)
    written = io.BytesIO()
    Image.fromarray(pixels).save(written, "PNG")
    return written.getvalue()
