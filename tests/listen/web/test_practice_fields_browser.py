"""Practice in a real browser on a server of every English vocabulary: chosen by field, answered, seen."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from listen.chair import ChairOptions, EngineName, open_chairs, vocabularies
from listen.practice.places import PracticeOptions
from listen.practice.topics import Drill
from listen.web import create_app
from listen.web.practice import pages as practice
from tests.listen.web.browser import Page, Server, browser, need_browser, served
from tests.listen.web.desk_app import StandIn
from tests.listen.web.test_practice_browser import enter, reviews, right_of

pytestmark = pytest.mark.slow

CLEANING = "hygiene/prophylaxis"


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """The app with the practice pages and every shipped English vocabulary."""
    more = {"more_routes": practice.routes(PracticeOptions(seed=1)), "more_links": practice.links()}
    monkeypatch.setattr("tests.listen.web.browser.create_app", partial(create_app, **more))
    _, *further = open_chairs(ChairOptions(), vocabularies((), EngineName.NEURAL))
    with served(tmp_path / "data", StandIn(), further=further) as server:
        yield server


def begin(shown: Any, server: Server, drill: str) -> None:
    """Choose a cleaning and one kind of question, by touch."""
    shown.goto(f"{server.url}/practice")
    shown.tap("#choose > summary")
    if not shown.is_visible(f"[value='{CLEANING}']"):
        shown.tap("summary:text-is('Cleaning and periodontal care')")
    shown.tap(f".pick:has([value='{CLEANING}'])")
    shown.tap(f"label:has(input[value={drill}])")
    shown.tap("#start button[type=submit]")
    shown.wait_for_selector("#kind:not(:empty)")


def answer(shown: Any, server: Server) -> None:
    """Give the right answer of the open question, and go: a name is typed, as it is not to be picked."""
    question = right_of(server)
    if question.topic.drill is Drill.NAME:
        shown.fill("#text", question.choice(question.right[0]).shown)
        shown.press("#text", "Enter")
    else:
        shown.tap(f"#board [data-value='{question.right[0]}']")
    shown.wait_for_selector("#verdict[data-outcome=right]")
    shown.tap("#stop")
    shown.wait_for_selector("#summary h1")


def test_a_cleaning_is_practised_where_every_field_is_and_the_lead_opens_its_checklist(
    server: Server,
) -> None:
    with browser(has_touch=True) as context:
        page = Page(context)
        shown = page.page
        shown.set_default_timeout(10_000)
        shown.goto(f"{server.url}/practice")
        enter(page)
        shown.wait_for_selector("#choose")
        assert shown.locator("#start .field").count() == len(server.app.state.running.packs) == 9
        for drill in ("name", "slot"):
            begin(shown, server, drill)
            answer(shown, server)
        assert [(one.topic.split(":")[0], one.right, one.by) for one in reviews(server)] == [
            ("name", True, "text"),
            ("slot", True, "touch"),
        ]
        assert reviews(server)[1].topic.startswith("slot:prophylaxis:")
        shown.tap("text=See progress")
        shown.wait_for_selector("text=Progress of Ann")
        assert "answers of Adult cleaning" in shown.inner_text(".lead")
        assert shown.input_value("select[name=procedure]") == CLEANING
        shown.goto(f"{server.url}/practice/faculty")
        assert shown.input_value("select[name=field]") == "hygiene"
        shown.tap(".people a:has-text('Ann')")
        shown.tap("text=Checklist and sign-off")
        shown.wait_for_selector("#checklist")
        assert "Cleaning and periodontal care" in shown.inner_text("main > .lead")
        assert "never pinches gauze round a blade" in shown.inner_text(".sheet")
        assert page.complaints == []
