"""Every kind of page in a real Chromium: axe, overflow, small text, words broken without a hyphen.

One server, furnished once, for all of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

import pytest
from starlette.routing import Match, Route

from listen.chair import ChairOptions, open_chair
from listen.live.pass_codes import PassCodes
from listen.practice.places import PracticeOptions
from listen.practice.topics import Drill
from listen.voicecheck.store import VoiceStore
from listen.web import consent, create_app
from listen.web.edit import pages as edit
from listen.web.practice import pages as practice
from listen.web.voice import pages as voice
from tests.listen.voicecheck.rounds import NOW, one_read
from tests.listen.web.browser import THEMES, Server, axe_finds, browser, need_browser, served
from tests.listen.web.desk_app import StandIn

paint = pytest.importorskip(
    "listen.bench.paint", reason="needs pip install -e '.[bench]'", exc_type=ImportError
)
pytestmark = pytest.mark.slow

DESK, PHONE = (1280, 800), (390, 844)
SIZES = (DESK, (1024, 768), (1920, 1080), PHONE)
AXE_THEMES = {DESK: THEMES, PHONE: ("light",)}
"""Where axe looks."""
NO_PAGE = {
    "/find/near": "names for the letters typed, as JSON",
    "/find/items": "items that fit, as JSON",
    "/items/{item}/drawing": "a drawing",
    "/items/{item}/photograph/{checksum}.jpg": "a photograph",
    "/trays/{tray}/card-{paper}.{form}": "a card for printing",
    "/chair/{session}/say": "a sound",
    "/pick": "leads to the pick list of what is chosen",
    "/sessions/{session}/report.pdf": "for printing",
    "/sessions/{session}/restock.csv": "for a spreadsheet",
    "/sessions/restock.csv": "for a spreadsheet",
    "/practice/{place}/now": "a question, as JSON",
    "/practice/{place}/say": "a sound",
    "/practice/rehearsal/record/{number}.json": "a timeline, as JSON",
    "/practice/rehearsal/steps": "the steps of a procedure, as JSON",
    "/practice/rehearsal/{seat}/now": "whether a line is open, as JSON",
    "/practice/rehearsal/{seat}/say": "a sound",
    "/practice/faculty/signoff.pdf": "a sheet for printing",
    "/practice/faculty/export": "a trainee's or a class's data, as JSON or CSV",
    "/practice/mine.{form:str}": "a trainee's own data, as JSON or CSV",
    "/sessions/learning/enter": "the same form as that of the faculty pages",
    "/voice-check/recordings/enter": "the same form as that of the faculty pages",
    "/voice-check/recordings/state": "how far measuring is, as JSON",
    "/voice-check/recordings/{recording}.flac": "a sound",
    "/edit/export/{file}": "names for a spreadsheet",
    "/edit/near": "items of all fields for the letters typed so far, as JSON",
    "/trays/cards-{paper}.pdf": "cards for printing",
    "/edit/lint": "what a name could be mistaken for, as JSON",
    "/edit/state": "whether a name is understood, as JSON",
}
"""Addresses that need no look, and why."""

Found = dict[tuple[str, str], object]
"""What breaks a rule, by page and rule."""

SMALL = """least => [...document.querySelectorAll("body *")].filter(one =>
  !one.closest("svg, script, .hidden-text") && one.checkVisibility({visibilityProperty: true})
  && [...one.childNodes].some(node => node.nodeType === Node.TEXT_NODE && node.textContent.trim())
  && parseFloat(getComputedStyle(one).fontSize) < least)
  .map(one => `${one.tagName}.${one.className} ${one.textContent.trim().slice(0, 40)}`)"""
BROKEN = """() => {
  const found = [];
  const words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const range = document.createRange();
  const top = (node, letter) => {
    range.setStart(node, letter);
    range.setEnd(node, letter + 1);
    return Math.round([...range.getClientRects()].at(-1)?.top ?? NaN);  // a hyphen before it has a box, too
  };
  while (words.nextNode()) {
    const node = words.currentNode, holder = node.parentElement;
    if (holder.closest("svg, script, select, .hidden-text")) continue;
    if (!holder.checkVisibility({visibilityProperty: true})) continue;
    for (const word of node.data.matchAll(/[^\\s\\u00ad\\u200b\\-\\u2010\\u2013\\u2014/]+/gu)) {
      const down = top(node, word.index + word[0].length - 1) - top(node, word.index);
      if (down > 4) found.push(`${word[0]} (${holder.tagName}.${holder.className})`);
    }
  }
  return found;
}"""
"""Parts of words, between white space, hyphens, dashes and slashes, whose letters stand on several lines."""


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The app with all of its pages, which a lead's code closes."""
    options = PracticeOptions(seed=1, lead_code=paint.CODE)
    routes = (
        *edit.routes(paint.CODE),
        *practice.routes(options),
        *consent.routes(paint.CODE),
        *voice.routes(paint.CODE),
    )
    links = (*practice.links(), edit.LINK, consent.LINK, voice.LINK)
    data = tmp_path_factory.mktemp("pages")
    paint.practised(data)
    VoiceStore(data).keep("R. S.", True, one_read(), NOW, 0.0)
    chair = open_chair(ChairOptions(procedure=paint.PROCEDURE, layers=data / "layers"))
    with pytest.MonkeyPatch.context() as patch:
        whole = partial(create_app, more_routes=routes, more_links=links)
        patch.setattr("tests.listen.web.browser.create_app", whole)
        patch.setattr("tests.listen.web.browser.shared_chair", lambda: chair)
        with served(data, StandIn()) as running:
            yield running


@pytest.fixture(scope="module")
def context(server: Server) -> Iterator[Any]:
    """Of a lead and trainee who has signed in; axe needs the policy of the pages out of its way."""
    with browser(bypass_csp=True) as opened:
        yield opened


@pytest.fixture(scope="module")
def pages(server: Server, context: Any) -> dict[str, str]:
    """The path of every kind of page; the pass code is asked for as on a server that is open to others."""
    running = server.app.state.running
    server.app.state.codes = PassCodes("molar-17-spoon", b"key", running.settings.clock)
    found: dict[str, str] = paint.furnish(context, server.url, tuple(Drill))
    return found | {"pass code": "/enter", "not possible": "/practice/faculty/trainee?trainee=nobody"}


def each(server: Server, context: Any, pages: dict[str, str]) -> Iterator[tuple[str, Any]]:
    """Every page, loaded and with all that folds open, by what it is called."""
    for name, path in pages.items():
        page = context.new_page()
        page.goto(f"{server.url}{path}")
        page.wait_for_load_state("networkidle")
        page.evaluate("document.querySelectorAll('details').forEach(one => (one.open = true))")
        yield name, page
        page.close()


def resized(page: Any, sizes: Sequence[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """The sizes, one after the other, once the page has been laid out in them."""
    for width, height in sizes:
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
        yield width, height


def test_every_address_is_swept_or_said_to_be_none(server: Server, pages: dict[str, str]) -> None:
    """A new page fails here until `listen.bench.paint.furnish` lists it."""
    routes = [one for one in server.app.routes if isinstance(one, Route) and "GET" in (one.methods or ())]

    def answering(path: str) -> str:
        scope = {"type": "http", "method": "GET", "path": path.partition("?")[0]}
        return next((one.path for one in routes if one.matches(scope)[0] is Match.FULL), "")

    swept = {answering(path).replace(":int", "") for path in pages.values()}
    there = {one.path.replace(":int", "") for one in routes}
    assert there - swept - NO_PAGE.keys() == set()
    assert NO_PAGE.keys() <= there


def test_every_page_of_the_menu_is_swept(server: Server, pages: dict[str, str]) -> None:
    assert {link.href for link in server.app.state.links} <= set(pages.values())


@pytest.mark.timeout(600)  # all pages, in all sizes and themes
def test_axe_finds_nothing_and_nothing_is_wide_small_or_broken(
    server: Server, context: Any, pages: dict[str, str], axe: str
) -> None:
    found: Found = {}
    for name, page in each(server, context, pages):
        for width, height in resized(page, SIZES):
            beyond = page.evaluate("document.documentElement.scrollWidth") - width
            if beyond > 0:
                found[name, "wide"] = f"{beyond} px beyond {width} px"
            if (width, height) in AXE_THEMES and (small := page.evaluate(SMALL, 16)):
                found[name, "small"] = small[:5]
            if broken := page.evaluate(BROKEN):
                found[name, "broken"] = f"at {width} px: {broken[:5]}"
            if wrong := axe_finds(page, axe, AXE_THEMES.get((width, height), ())):
                found[name, "axe"] = f"at {width} px: {wrong[:5]}"
    assert found == {}


def test_the_sweep_sees_what_is_wrong_in_each_theme(context: Any, axe: str) -> None:
    page = context.new_page()
    page.set_content('<html lang="en"><title>A page</title><main><h1>Tray</h1><img src="tray.png">')
    page.add_style_tag(content="[data-theme=dark] h1 { background: #fff; color: #eee; }")
    found = axe_finds(page, axe)
    page.close()
    assert any(one.startswith("light: image-alt") for one in found)
    assert [one.partition(",")[0] for one in found if not one.startswith("light")] == ["dark: color-contrast"]
