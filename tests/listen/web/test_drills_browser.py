"""Drills in a real Chromium: the story before what comes next, passing by pictures, slot and name together;
by touch, by keys and by voice."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from listen.practice.passing import RIGHT_WAY
from listen.practice.places import PracticeOptions
from listen.practice.rehearsal.levels import level
from listen.practice.topics import Drill, Topic
from listen.speech import noise, voices
from listen.web import create_app
from listen.web.practice import pages as practice
from tests.listen.web.browser import Page, Server, axe_finds, browser, need_browser, served
from tests.listen.web.desk_app import StandIn, shared_chair
from tests.listen.web.mouth import Mouth
from tests.listen.web.test_practice_browser import SETTLED, SHIFTS, begin, reviews, right_of
from tests.listen.web.test_rehearsal_browser import Trainee

pytestmark = pytest.mark.slow

NEXT = Topic(Drill.NEXT, "matrix", "composite_class_two")
PASS = Topic(Drill.PASS, "explorer_shepherd")
SLOT = Topic(Drill.SLOT, "mouth_mirror", "composite_class_two")
HEARD_MS = 90_000
SIZES = ((1280, 800), (390, 844))
Only = Callable[[Topic], None]


@pytest.fixture(scope="module", autouse=True)
def _browser_and_voices_are_there() -> None:
    need_browser()
    if not voices.available(formant=True):
        pytest.skip("no voice is installed: apt install flite espeak-ng")


@pytest.fixture(autouse=True)
def _short_stories(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two requests without talk, with short pauses: no test needs the pace of a session."""
    quick = replace(level(2), pause_s=0.8, chatter=0.0, correction=0.0)
    monkeypatch.setattr("listen.practice.story.level_of", lambda card: quick)
    monkeypatch.setattr("listen.practice.questions.MOST_HEARD", 2)


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    with practising(tmp_path, monkeypatch) as server:
        yield server


@pytest.fixture
def only(monkeypatch: pytest.MonkeyPatch) -> Only:
    """Makes sessions ask about one topic."""

    def choose(topic: Topic) -> None:
        monkeypatch.setattr("listen.practice.place.curriculum", lambda *given: (topic,))

    return choose


def practising(folder: Path, monkeypatch: pytest.MonkeyPatch, **settings: Any) -> Any:
    more = {"more_routes": practice.routes(PracticeOptions(seed=1)), "more_links": practice.links()}
    monkeypatch.setattr("tests.listen.web.browser.create_app", partial(create_app, **more))
    return served(folder / "data", StandIn(), **settings)


def lines_of(server: Server) -> list[str]:
    """What the open story says."""
    *_, place = server.app.state.practice._places.values()
    return [line.said for line in place._desk.story.lines]


def says(mouth: Mouth, text: str) -> None:
    mouth.say(noise.pad(voices.synthesize(voices.available(formant=True)[0], text), 0.4, 1.2))


# --- the story ----------------------------------------------------------------------------------------


def test_a_story_is_heard_then_stops_and_is_answered_by_touch(server: Server, only: Only) -> None:
    only(NEXT)
    with browser(has_touch=True) as context:
        page = Page(context)
        shown = begin(page, server, written=False)
        shown.wait_for_selector("#story-lines li[data-now]", timeout=HEARD_MS)
        lines = lines_of(server)
        assert shown.locator("#story-lines li").count() == len(lines) == 2
        assert shown.inner_text("#prompt") == "Listen." and shown.is_disabled("#text")
        assert not shown.locator("#board button").first.is_visible()
        shown.wait_for_selector("body[data-story=told]", timeout=HEARD_MS)
        assert shown.inner_text("#prompt") == "What will be asked for next?"
        written = shown.content()
        assert not any(line in written for line in lines)
        assert 4 <= shown.locator(".choice-list button").count() <= 6
        right = next(one for one in right_of(server).offered if one in right_of(server).right)
        shown.tap(f"#board [data-value='{right}']")
        shown.wait_for_selector("#verdict[data-outcome=right]")
        assert all(line in shown.inner_text("#verdict") for line in lines)
        assert page.complaints == []
    (answer,) = reviews(server)
    assert answer.right and answer.by == "touch" and answer.topic == NEXT.key
    assert answer.response_s is not None and answer.response_s < 30


def test_a_story_is_heard_again_by_keys_and_no_key_counts_before_it_stops(server: Server, only: Only) -> None:
    only(NEXT)
    with browser() as context:
        page = Page(context)
        shown = begin(page, server, written=False)
        shown.wait_for_selector("#story-lines li[data-now]", timeout=HEARD_MS)
        shown.keyboard.press("1")
        shown.wait_for_selector("body[data-story=told]", timeout=HEARD_MS)
        assert reviews(server) == []
        shown.focus("#story-again")
        with shown.expect_response(lambda reply: "/say?" in reply.url and "line=1" in reply.url):
            shown.keyboard.press("Enter")
        shown.wait_for_selector("body[data-story=told]", timeout=HEARD_MS)
        ids = shown.eval_on_selector_all(".choice-list button", "all => all.map(one => one.dataset.value)")
        place = next(n for n, one in enumerate(ids, 1) if one in right_of(server).right)
        shown.keyboard.press(str(place))
        shown.wait_for_selector("#verdict[data-outcome=right]")
        assert page.complaints == []
    (answer,) = reviews(server)
    assert answer.right and answer.unsure, "it had to be heard again"


def test_what_comes_next_is_said_aloud_once_the_story_stops(server: Server, only: Only) -> None:
    only(NEXT)
    with browser() as context:
        page = Page(context)
        mouth = Mouth(page.page)
        shown = begin(page, server, written=False)
        shown.click("#mic")
        shown.wait_for_selector("body[data-story=told]", timeout=HEARD_MS)
        shown.wait_for_selector("#ear[data-state=listening]", timeout=HEARD_MS)
        says(mouth, f"The {shared_chair().pack.item(right_of(server).right[0]).name.text}.")
        shown.wait_for_selector("#verdict[data-outcome=right]", timeout=HEARD_MS)
        assert page.complaints == []
    (answer,) = reviews(server)
    assert answer.right and answer.by == "voice"


def test_a_browser_that_plays_nothing_before_a_touch_is_asked_for_one(server: Server, only: Only) -> None:
    only(NEXT)
    with browser() as context:
        page = Page(context)
        page.page.add_init_script(
            """const play = HTMLMediaElement.prototype.play;
            HTMLMediaElement.prototype.play = function () {
              if (window.touched) return play.call(this);
              return Promise.reject(new DOMException("touch it first", "NotAllowedError"));
            };
            addEventListener("click", () => (window.touched = true), true);"""
        )
        shown = begin(page, server, written=False)
        shown.wait_for_selector("body[data-story=waiting]", timeout=HEARD_MS)
        assert shown.inner_text("#story-again") == "Play"
        assert not shown.locator("#board button").first.is_visible()
        shown.click("#story-again")
        shown.wait_for_selector("body[data-story=told]", timeout=HEARD_MS)
        assert page.complaints == []


def test_who_does_not_hear_reads_it_and_is_asked_no_more(server: Server, only: Only) -> None:
    only(NEXT)
    with browser(has_touch=True) as context:
        page = Page(context)
        shown = begin(page, server, written=False)
        shown.tap("#story-way")
        shown.wait_for_selector("#story-lines[data-way=written]")
        assert [f"“{line}”" for line in lines_of(server)] == shown.locator(
            "#story-lines li"
        ).all_inner_texts()
        shown.wait_for_selector("body[data-story=told]")
        shown.tap("#unknown")
        shown.wait_for_selector("#onward:not([hidden])")
        shown.tap("#next")
        shown.wait_for_selector("body[data-story=told]:has(#verdict:empty)", state="attached")
        assert shown.get_attribute("#story-lines", "data-way") == "written"
        shown.tap("#story-way")
        shown.wait_for_selector("#story-lines li[data-now]", timeout=HEARD_MS)
        assert page.complaints == []


@pytest.mark.parametrize("why", ["silent", "no voice"])
def test_where_nothing_can_speak_the_story_is_written_and_that_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, only: Only, why: str
) -> None:
    only(NEXT)
    monkeypatch.setattr(practice, "can_speak", lambda language: False)
    with practising(tmp_path, monkeypatch, spoken=why != "silent") as server, browser() as context:
        page = Page(context)
        shown = begin(page, server, written=False)
        shown.wait_for_selector("body[data-story=told]")
        told = shown.inner_text("#story-unspoken")
        assert told.startswith("Speech is switched off" if why == "silent" else "No voice is installed")
        assert shown.locator("#story-lines li").all_inner_texts() == [f"“{s}”" for s in lines_of(server)]
        assert not shown.is_visible("#story-way") and not shown.is_visible("#story-again")
        shown.locator("#board button").first.click()
        shown.wait_for_selector("#onward:not([hidden])")
        assert page.complaints == []


@pytest.mark.parametrize("size", SIZES)
def test_nothing_moves_when_the_story_stops_or_is_answered(
    server: Server, only: Only, size: tuple[int, int]
) -> None:
    only(NEXT)
    with browser() as context:
        page = Page(context)
        page.page.set_viewport_size({"width": size[0], "height": size[1]})
        shown = begin(page, server, written=False)
        shown.wait_for_selector("#story-lines li[data-now]", timeout=HEARD_MS)
        shown.evaluate(SHIFTS)
        shown.wait_for_selector("body[data-story=told]", timeout=HEARD_MS)
        assert shown.evaluate(SETTLED) == []
        shown.locator("#board button").first.click()
        shown.wait_for_selector("#verdict[data-outcome]")
        assert shown.evaluate(SETTLED) == []
        assert shown.evaluate("document.documentElement.scrollWidth") <= size[0]


# --- pictures of how it is passed -----------------------------------------------------------------------


@pytest.mark.parametrize("hand", ["touch", "keys"])
def test_how_it_is_passed_is_chosen_among_pictures(server: Server, only: Only, hand: str) -> None:
    only(PASS)
    with browser(has_touch=hand == "touch") as context:
        page = Page(context)
        shown = begin(page, server)
        buttons = shown.locator(".choice-list button")
        ways = right_of(server).ways
        assert buttons.count() == len(ways) == 4
        for n in range(4):
            way = ways[buttons.nth(n).get_attribute("data-value")]
            drawn = buttons.nth(n).locator("svg[role=img]")
            assert [drawn.nth(i).get_attribute("aria-label") for i in range(2)] == list(way.alt)
            assert all(drawn.nth(i).bounding_box()["height"] > 60 for i in range(2))
            assert way.caption in buttons.nth(n).inner_text()
        marks = list(ways)
        if hand == "touch":
            shown.tap(f"#board [data-value='{RIGHT_WAY}']")
        else:
            shown.keyboard.press(str(marks.index(RIGHT_WAY) + 1))
        shown.wait_for_selector("#verdict[data-outcome=right]")
        assert "Common practice, no source" in shown.inner_text("#verdict")
        assert page.complaints == []


def test_the_number_of_a_picture_is_said_aloud(server: Server, only: Only) -> None:
    only(PASS)
    with browser() as context:
        page = Page(context)
        mouth = Mouth(page.page)
        shown = begin(page, server)
        shown.click("#mic")
        shown.wait_for_selector("#ear[data-state=listening]", timeout=HEARD_MS)
        number = [*right_of(server).ways].index(RIGHT_WAY) + 1
        says(mouth, f"Number {('one', 'two', 'three', 'four')[number - 1]}.")
        shown.wait_for_selector("#verdict[data-outcome=right]", timeout=HEARD_MS)
        assert page.complaints == []
    assert reviews(server)[0].by == "voice"


def test_every_sketch_on_the_page_draws_something(server: Server, only: Only) -> None:
    only(PASS)
    with browser() as context:
        page = Page(context)
        shown = begin(page, server)
        for where in shown.locator(".choice-list svg use").all():
            href = where.get_attribute("href")
            assert shown.locator(f"symbol[id='{href[1:]}'] > *").count() > 3
            box = where.evaluate("one => one.getBBox().width")
            assert box > 50


# --- slot and name together -----------------------------------------------------------------------------


def test_slot_and_name_are_typed_together(server: Server, only: Only) -> None:
    only(SLOT)
    with browser() as context:
        page = Page(context)
        shown = begin(page, server)
        at = right_of(server).right[0]
        for said, outcome, told in (
            (f"slot {at}, the perio probe", "wrong", "The slot is right, the name is not"),
            ("the mirror, 3", "wrong", "The name is right, the slot is not"),
            (f"the mirror, {at}", "right", ""),
        ):
            shown.fill("#text", said)
            shown.keyboard.press("Enter")
            shown.wait_for_selector(f"#verdict[data-outcome={outcome}]")
            assert told in shown.inner_text("#verdict")
            shown.click("#next")
            shown.wait_for_selector("#verdict:empty", state="attached")
        assert page.complaints == []
    assert [(one.right, one.choice) for one in reviews(server)] == [(False, None), (False, "3"), (True, at)]


def test_slot_and_name_are_said_together(server: Server, only: Only) -> None:
    only(SLOT)
    with browser() as context:
        page = Page(context)
        mouth = Mouth(page.page)
        shown = begin(page, server)
        shown.click("#mic")
        shown.wait_for_selector("#ear[data-state=listening]", timeout=HEARD_MS)
        says(mouth, "Slot one, the cotton roll.")
        shown.wait_for_selector("#verdict[data-outcome=wrong]", timeout=HEARD_MS)
        assert "The slot is right, the name is not" in shown.inner_text("#verdict")
        assert page.complaints == []


def test_slot_and_name_are_given_together_in_a_rehearsal(server: Server) -> None:
    with browser() as context:
        ann = Trainee(context, server, level=1)
        ann.start()
        told = None
        while told is None or not told.startswith("The slot is right"):
            number, line = ann.seat.rehearsal.number, ann.line
            if line.asks:
                other = "bite block" if line.item != "bite_block" else "mirror"
                ann.keys(f"{line.question.right[0]}, the {other}")
                ann.page.wait_for_selector("#told[data-came=wrong]")
                told = ann.page.inner_text("#told").partition(". ")[2]
            ann.next_line(number)
        assert ann.console.complaints == []


# --- for all of them --------------------------------------------------------------------------------------


def test_axe_finds_nothing_while_a_story_runs_and_among_pictures(
    server: Server, axe: str, only: Only
) -> None:
    found: list[str] = []
    with browser(bypass_csp=True) as context:
        page = Page(context)

        def look(where: str) -> None:
            found.extend(f"{where}, {one}" for one in axe_finds(page.page, axe))

        only(NEXT)
        shown = begin(page, server, written=False)
        shown.wait_for_selector("#story-lines li[data-now]", timeout=HEARD_MS)
        look("heard")
        shown.wait_for_selector("body[data-story=told]", timeout=HEARD_MS)
        look("told")
        shown.click("#story-way")
        shown.wait_for_selector("#story-lines[data-way=written]")
        look("written")
        only(PASS)
        shown = begin(page, server)
        look("pictures")
        shown.locator("#board button").first.click()
        shown.wait_for_selector("#onward:not([hidden])")
        look("pictures, answered")
    assert found == []
