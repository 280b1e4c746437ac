"""A trainee's day and a lead's, in a browser: today, who is ready, sign-off, and data out and back in."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from listen.practice.places import PracticeOptions
from listen.practice.standing import requests
from listen.practice.store import PracticeStore, sqlite_url
from listen.web import create_app
from listen.web.practice import pages as practice
from tests.listen.practice.classroom import CLASS_TWO, answer
from tests.listen.web.browser import Page, Server, browser, need_browser, served
from tests.listen.web.desk_app import Clock, StandIn, shared_chair

pytestmark = pytest.mark.slow

CODE = "lead-spoon-17"


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """The practice pages, and Ann, who knew all that a procedure asks for yesterday and the day before."""
    more = {
        "more_routes": practice.routes(PracticeOptions(seed=1, lead_code=CODE)),
        "more_links": practice.links(),
    }
    monkeypatch.setattr("tests.listen.web.browser.create_app", partial(create_app, **more))
    clock, data = Clock(), tmp_path / "data"
    data.mkdir()
    store = PracticeStore(sqlite_url(data / "practice.sqlite"))
    pack, now = shared_chair().pack, datetime.fromtimestamp(clock(), UTC)
    store.add("Ann", now)
    for n, topic in enumerate(sorted(requests(pack, pack.procedure(CLASS_TWO), ()))):
        for ago in (2, 1):
            given = answer(topic, True, now - timedelta(days=ago), f"answer-{n}-{ago}", rating=4)
            store.record("Ann", given)
    store.close()
    with served(data, StandIn(), clock=clock) as server:
        yield server


def test_a_day_of_a_trainee_and_of_a_lead(server: Server, tmp_path: Path) -> None:
    with browser(accept_downloads=True) as context:
        page = Page(context)
        shown = page.page
        shown.set_default_timeout(10_000)

        # the trainee: name and code once, on a device of their own; from then on one step
        shown.goto(f"{server.url}/practice")
        shown.fill("#enter input[name=trainee]", "Ann")
        shown.check("#enter input[name=own]")
        shown.click("#enter button[type=submit]")
        for field in ("code", "again"):
            shown.fill(f"input[name={field}]", "ivory-42")
        shown.click("main button[type=submit]")
        shown.wait_for_selector("#continue")
        shown.goto(f"{server.url}/practice")
        assert shown.is_visible(".path [aria-current=step]")
        assert "2 days in a row" in shown.inner_text(".today")
        shown.keyboard.press("Enter")  # the one step: the button has the focus
        shown.wait_for_selector("#kind:not(:empty)")
        shown.click("#stop")

        # the lead: who is ready
        shown.goto(f"{server.url}/practice/faculty")
        shown.fill("input[name=code]", CODE)
        shown.click("main button[type=submit]")
        row = shown.locator(".people li", has_text="Ann")
        course = shared_chair().pack.procedure(CLASS_TWO).name
        assert f"{course}: knows 10 of 10 things asked for" in row.inner_text()
        assert "Nobody is ready for a procedure yet" in shown.inner_text("main")
        row.locator("a").click()
        shown.click("text=Checklist and sign-off")

        # sign-off: every point on one page, one name for all of them
        assert shown.locator("input[name=observer]").count() == 1
        shown.fill("input[name=observer]", "Dr Grey")
        points = shown.locator(".point").all()
        for point in points:
            point.locator("input[value=yes]").check()
        shown.click("text=Keep these notes")
        shown.wait_for_selector("text=by Dr Grey")
        assert shown.locator(".point", has_text="by Dr Grey").count() == len(points) > 10
        assert f"Ready for {course}" in shown.inner_text("main")
        pdf = f"{server.url}/practice/faculty/signoff.pdf?trainee=Ann&procedure={CLASS_TWO}"
        sheet = context.request.get(pdf)
        assert sheet.body().startswith(b"%PDF")
        shown.goto(f"{server.url}/practice/faculty")
        ready = shown.locator(".people li", has_text="Ann").inner_text().partition("Ready for: ")[2]
        assert course in ready.partition("\n")[0]

        # out, gone, and in again
        shown.goto(f"{server.url}/practice/progress")
        before = shown.inner_text("main")
        shown.goto(f"{server.url}/practice/faculty/remove?trainee=Ann")
        shown.check("input[name=sure]")
        with shown.expect_download() as downloaded:
            shown.click("button.danger")
        file = tmp_path / "ann.json"
        downloaded.value.save_as(file)
        shown.goto(f"{server.url}/practice/faculty/data")
        assert "Nobody has practised yet" in shown.inner_text("main")
        for told in ("Taken in: Ann", "Ann is here already"):
            shown.set_input_files("input[type=file]", file)
            shown.click("main form[enctype] button")
            shown.wait_for_selector(".notice")
            assert told in shown.inner_text(".notice")
        assert again(shown, server) == before
        assert [one for one in page.complaints if "400" not in one] == []


def again(shown: Any, server: Server) -> str:
    """What Ann's progress page says once she has chosen a code anew."""
    shown.goto(f"{server.url}/practice")
    shown.fill("#enter input[name=trainee]", "Ann")
    shown.click("#enter button[type=submit]")
    for field in ("code", "again"):
        shown.fill(f"input[name={field}]", "amber-43")
    shown.click("main button[type=submit]")
    shown.wait_for_selector("#continue")
    shown.goto(f"{server.url}/practice/progress")
    return str(shown.inner_text("main"))
