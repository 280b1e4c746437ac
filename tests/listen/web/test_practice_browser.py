"""Practice in a real Chromium: answered by voice, by keys and by touch."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from listen.practice.places import PracticeOptions
from listen.practice.topics import Drill, Topic
from listen.web import create_app
from listen.web.practice import pages as practice
from tests.listen.web.browser import Page, Server, axe_finds, browser, microphone_file, need_browser, served
from tests.listen.web.desk_app import Clock, StandIn, shared_chair

pytestmark = pytest.mark.slow

DAM_PUNCH = 16
SIZES = {"desk": (1280, 800), "tablet": (820, 1180), "phone": (390, 844)}


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """The app with the practice pages."""
    more = {"more_routes": practice.routes(PracticeOptions(seed=1)), "more_links": practice.links()}
    monkeypatch.setattr("tests.listen.web.browser.create_app", partial(create_app, **more))
    with served(tmp_path / "data", StandIn()) as server:
        yield server


@pytest.fixture
def only(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Makes sessions ask about one topic."""

    def choose(topic: Topic) -> None:
        monkeypatch.setattr("listen.practice.place.curriculum", lambda *given: (topic,))

    return choose


def enter(page: Page, code: str = "ivory-42", own_device: bool = False) -> None:
    """Give name and code, and choose it the first time."""
    page.page.fill("#enter input[name=trainee]", "Ann")
    page.page.fill("#enter input[name=code]", code)
    page.page.set_checked("#enter input[name=own]", own_device)
    page.page.click("#enter button[type=submit]")
    page.page.wait_for_selector("input[name=again], #continue, [role=alert]")
    if page.page.is_visible("input[name=again]"):
        page.page.fill("input[name=code]", code)
        page.page.fill("input[name=again]", code)
        page.page.click("main button[type=submit]")


def begin(page: Page, server: Server, *drills: str, written: bool = True) -> Any:
    """Start a session as a person does; the browser's page. A story is there to be read, if `written`."""
    page.page.goto(server.url)
    page.page.evaluate(
        f"localStorage.setItem('traycall.practice.story', '{'written' if written else 'heard'}')"
    )
    page.page.click("text=Practice")
    page.page.wait_for_selector("#enter, #continue")
    if page.page.is_visible("#enter"):
        enter(page)
    page.page.click("#choose summary")
    page.page.check("#start [value='operative/composite_class_two']")
    for drill in drills:
        page.page.check(f"input[value={drill}]")
    page.page.click("#start button[type=submit]")
    page.page.wait_for_selector("#kind:not(:empty)")
    return page.page


def reviews(server: Server) -> list[Any]:
    return [review.answer for review in server.app.state.practice.store.reviews("Ann")]


def right_of(server: Server) -> Any:
    """The open question with its right answers."""
    *_, place = server.app.state.practice._places.values()
    return place.last_asked[1]


@pytest.mark.slow
def test_a_trainee_comes_back_with_their_own_code_only(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        shown = begin(page, server, "name")
        shown.click("#unknown")
        shown.wait_for_selector("#onward:not([hidden])")
        shown.click("#stop")
        shown.click("text=See progress")
        shown.wait_for_selector("text=Progress of Ann")
        shown.goto(f"{server.url}/practice")
        shown.click("text=done for today")
        enter(page, "something else")
        assert "not the code of this trainee" in shown.inner_text("[role=alert]")
        enter(page)
        shown.wait_for_selector("text=Welcome back, Ann")
        assert page.complaints == [
            "Failed to load resource: the server responded with a status of 403 (Forbidden)"
        ]


@pytest.mark.slow
def test_a_drill_that_is_somebody_elses_now_says_so(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        shown = begin(page, server, "name")
        context.clear_cookies()
        shown.click("#unknown")
        shown.wait_for_selector("#problem:not([hidden])")
        assert "only Ann can go on here" in shown.inner_text("#problem").replace("Only", "only")
    assert reviews(server) == []


@pytest.mark.slow
def test_a_name_is_answered_by_voice(server: Server, tmp_path: Path, only: Any) -> None:
    only(Topic(Drill.NAME, "dam_punch"))
    sound, _ = microphone_file(tmp_path, DAM_PUNCH)
    with browser(sound) as context:
        page = Page(context)
        shown = begin(page, server)
        assert shown.is_visible("#picture svg") and "punch" not in shown.inner_text("main").lower()
        shown.click("#mic")
        shown.wait_for_selector("#verdict[data-outcome=right]", timeout=90_000)
        assert "Right." in shown.inner_text("#verdict")
        assert page.complaints == []
    (answer,) = reviews(server)
    assert (answer.right, answer.by, answer.choice) == (True, "voice", "dam_punch")
    assert answer.response_s is not None and answer.response_s > 0


def test_a_row_is_laid_by_keys_alone(server: Server, only: Any) -> None:
    tray = shared_chair().tray
    assert tray is not None
    only(Topic(Drill.LAY, tray.rows[0].name, tray.id))
    with browser() as context:
        page = Page(context)
        shown = begin(page, server)
        placements = [placement.split("@") for placement in right_of(server).right]
        for count, (item, at) in enumerate(placements, 1):
            for where in (f".pool [data-item='{item}']", f"[data-at='{at}']"):
                shown.focus(where)
                shown.keyboard.press("Enter")
            if count < len(placements):
                shown.wait_for_selector(f"[data-at='{at}']:disabled")
        shown.wait_for_selector("#onward:not([hidden])")
        assert page.complaints == []
    (answer,) = reviews(server)
    assert answer.right and answer.by == "touch" and answer.response_s is not None


@pytest.mark.slow
def test_an_item_is_dragged_into_its_slot(server: Server, only: Any) -> None:
    tray = shared_chair().tray
    assert tray is not None
    only(Topic(Drill.LAY, tray.rows[0].name, tray.id))
    with browser() as context:
        page = Page(context)
        shown = begin(page, server)
        item, at = right_of(server).right[0].split("@")
        shown.drag_and_drop(f".pool [data-item='{item}']", f"[data-at='{at}']")
        shown.wait_for_selector(f"[data-at='{at}']:disabled")
        assert page.complaints == []


@pytest.mark.slow
def test_a_wrong_slot_is_touched_and_the_right_one_shown(server: Server) -> None:
    with browser(has_touch=True) as context:
        page = Page(context)
        shown = begin(page, server, "slot")
        right = right_of(server).right
        wrong = next(place.at for place in right_of(server).scene if place.at not in right)
        shown.tap(f"#board [data-value='{wrong}']")
        shown.wait_for_selector("#verdict[data-outcome=wrong]")
        assert shown.get_attribute(f"#board [data-value='{right[0]}']", "data-mark") == "right"
        assert shown.get_attribute(f"#board [data-value='{wrong}']", "data-mark") == "chosen"
        shown.keyboard.press("Enter")  # the next question has the focus
        shown.wait_for_selector("#verdict:empty", state="attached")
        shown.click("#stop")
        shown.wait_for_selector("#summary h1")
        assert "0 of 1 right" in shown.inner_text("#summary")
        assert page.complaints == []


@pytest.mark.slow
def test_a_request_is_heard_and_not_read_until_it_is_answered(server: Server) -> None:
    from listen.speech import replies

    if replies.voice_name() is None:
        pytest.skip("no voice is installed")
    with browser() as context:
        page = Page(context)
        shown = begin(page, server, "slot")
        with shown.expect_response(lambda reply: "/say?" in reply.url) as spoken:
            shown.check("#hear")
        assert spoken.value.status == 200
        assert shown.inner_text("#prompt") == "Listen."
        question = right_of(server)
        shown.click(f"#board [data-value='{question.right[0]}']")
        shown.wait_for_selector("#verdict[data-outcome=right]")
        assert shown.inner_text("#prompt") == question.prompt
        assert page.complaints == []


@pytest.mark.slow
def test_what_is_unclear_is_asked_again_and_a_typed_name_is_timed_from_its_first_key(
    server: Server,
) -> None:
    with browser() as context:
        page = Page(context)
        shown = begin(page, server, "name")
        shown.keyboard.type("xyzzy")
        shown.keyboard.press("Enter")
        shown.wait_for_selector("#verdict[data-outcome=again]")
        assert "Say it again" in shown.inner_text("#verdict")
        shown.keyboard.type(shared_chair().pack.item(right_of(server).right[0]).name.text)
        shown.keyboard.press("Enter")
        shown.wait_for_selector("#verdict[data-outcome=right]")
        assert page.complaints == []
    (answer,) = reviews(server)
    assert answer.by == "text" and answer.response_s is not None


@pytest.mark.slow
def test_a_server_that_was_away_loses_no_answer(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        shown = begin(page, server, "slot")
        right = right_of(server).right[0]
        context.set_offline(True)
        shown.click(f"#board [data-value='{right}']")
        shown.wait_for_selector("#problem:not([hidden])")
        assert reviews(server) == []
        context.set_offline(False)
        shown.wait_for_selector("#verdict[data-outcome=right]", timeout=20_000)
    assert len(reviews(server)) == 1


@pytest.fixture
def dated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Server, Clock]]:
    """The app on a clock that is moved by hand."""
    more = {"more_routes": practice.routes(PracticeOptions(seed=1)), "more_links": practice.links()}
    monkeypatch.setattr("tests.listen.web.browser.create_app", partial(create_app, **more))
    clock = Clock()
    with served(tmp_path / "data", StandIn(), clock=clock) as server:
        yield server, clock


def test_todays_practice_is_one_step_for_who_practised_here_before(dated: tuple[Server, Clock]) -> None:
    server, clock = dated
    with browser() as context:
        page = Page(context)
        shown = page.page
        shown.goto(f"{server.url}/practice")
        enter(page, own_device=True)
        shown.wait_for_selector("#continue")
        assert "Begin: 8 new" in shown.inner_text("#continue")
        shown.keyboard.press("Enter")
        for _ in range(3):
            shown.wait_for_selector("#kind:not(:empty)")
            shown.click("#unknown")
            shown.wait_for_selector("#onward:not([hidden])")
            shown.click("#next")
            shown.wait_for_selector("#verdict:empty", state="attached")
        clock.now_s += 2 * 86_400
        shown.goto(f"{server.url}/practice")
        assert "Continue: 3 due" in shown.inner_text("#continue")
        assert "minute" in shown.inner_text(".today") and not shown.is_visible("#start")
        shown.click("#continue")  # the one step
        shown.wait_for_selector("#kind:not(:empty)")
        assert shown.is_visible("#text") and page.complaints == []


SHIFTS = """() => {
  window.shifts = [];
  new PerformanceObserver((list) => {
    for (const one of list.getEntries())
      shifts.push(`${one.value} ${one.sources.map((s) => s.node?.id || s.node?.className).join()}`);
  }).observe({ type: "layout-shift" });
}"""
SETTLED = (
    "() => new Promise((done) => setTimeout(() => requestAnimationFrame(() => done(window.shifts)), 400))"
)


@pytest.mark.slow
@pytest.mark.parametrize("size", ["desk", "phone"])
def test_nothing_moves_when_the_verdict_appears(server: Server, size: str) -> None:
    width, height = SIZES[size]
    with browser() as context:
        page = Page(context)
        page.page.set_viewport_size({"width": width, "height": height})
        for drill in ("slot", "next", "fault", "name", "lay", "apart", "fact", "pass"):
            shown = begin(page, server, drill)
            shown.wait_for_timeout(300)
            shown.evaluate(SHIFTS)
            if drill == "name":
                shown.click("#unknown")
            elif drill == "lay":
                item, at = right_of(server).right[0].split("@")
                shown.click(f".pool [data-item='{item}']")
                shown.click(f"[data-at='{at}']")
            else:
                shown.locator("#board button[data-value]").first.click()
            shown.wait_for_selector("#verdict[data-outcome]")
            assert shown.evaluate(SETTLED) == [], drill
        assert page.complaints == []


def test_a_tray_that_jumped_would_be_noticed(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        shown = begin(page, server, "slot")
        shown.wait_for_timeout(300)
        shown.evaluate("document.getElementById('ask').after(document.getElementById('verdict'))")
        shown.evaluate(SHIFTS)
        shown.locator("#board button[data-value]").first.click()
        shown.wait_for_selector("#verdict[data-outcome]")
        assert shown.evaluate(SETTLED) != []


def test_a_newcomer_has_look_alikes_to_practise(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        shown = begin(page, server, "apart")
        assert shown.locator("#board button").count() == 2
        shown.click(f"#board [data-value='{right_of(server).right[0]}']")
        shown.wait_for_selector("#verdict[data-outcome=right]")
        shown.click("#stop")
        shown.wait_for_selector("#summary h1")
        said = shown.inner_text("#summary")
        assert "1 of 1 right" in said and "You know now" in said and "What comes again, and when" in said
        assert page.complaints == []


@pytest.mark.slow
def test_the_faulty_tray_is_tapped_itself(server: Server, only: Any) -> None:
    tray = shared_chair().tray
    assert tray is not None
    only(Topic(Drill.FAULT, tray.rows[0].name, tray.id))
    seen = set()
    with browser(has_touch=True) as context:
        page = Page(context)
        shown = begin(page, server)
        for number in range(12):
            question = right_of(server)
            missing = any(place.item is None for place in question.scene)
            seen.add(missing)
            if missing:
                shown.tap("#board [data-gap]")
                assert shown.evaluate("document.activeElement.closest('.choice-list') !== null")
                assert 4 <= shown.locator(".choice-list button").count() <= 6
                shown.tap(f".choice-list [data-value='{question.right[0]}']")
            else:
                held = {place.item for place in question.scene} & set(question.right)
                shown.tap(f".places [data-value='{held.pop()}']")
            shown.wait_for_selector("#verdict[data-outcome=right]")
            assert len(reviews(server)) == number + 1
            if len(seen) == 2:
                break
            shown.click("#next")
            shown.wait_for_selector("#verdict:empty", state="attached")
        assert len(seen) == 2 and page.complaints == []


def test_who_was_right_says_so_and_goes_on(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        shown = begin(page, server, "name")
        shown.click("#unknown")
        shown.wait_for_selector("#object:not([hidden])")
        shown.click("#object")
        shown.wait_for_selector("#verdict >> text=Noted")
        assert shown.evaluate("document.activeElement.id") == "next"
        (one,) = server.app.state.practice.store.objections()
        assert (one.trainee, one.decided) == ("Ann", None)
        shown.keyboard.press("Enter")
        shown.wait_for_selector("#verdict:empty", state="attached")
        assert not shown.is_visible("#object") and page.complaints == []


CHOSEN = {
    "next": Topic(Drill.NEXT, "matrix", "composite_class_two"),
    "name": Topic(Drill.NAME, "explorer_shepherd"),
    "apart": Topic(Drill.APART, "needle_long+needle_short"),
    "pass": Topic(Drill.PASS, "explorer_shepherd"),
    "kit": Topic(Drill.SLOT, "kit/bur_kit", "composite_class_two"),
}
"""A question of each kind that is answered by choosing from a few."""


@pytest.mark.parametrize("hand", ["touch", "keys"])
def test_a_few_choices_are_answered_by_hand(server: Server, only: Any, hand: str) -> None:
    with browser(has_touch=hand == "touch") as context:
        page = Page(context)
        for name, topic in CHOSEN.items():
            only(topic)
            shown = begin(page, server)
            if name == "name" and hand == "touch":
                shown.tap("#choose")
            elif name == "name":
                shown.focus("#choose")
                shown.keyboard.press("Enter")
            shown.wait_for_selector(".choice-list button")
            listed = shown.locator(".choice-list button")
            assert 2 <= listed.count() <= 6, name
            if name == "apart":
                assert shown.locator(".choice-list .pic svg").count() == 2
                assert not any("needle" in text for text in listed.all_inner_texts())
            ids = [listed.nth(n).get_attribute("data-value") for n in range(listed.count())]
            place = next(n for n, one in enumerate(ids) if one in right_of(server).right)
            if hand == "touch":
                listed.nth(place).tap()
            else:
                shown.keyboard.press(str(place + 1))
            shown.wait_for_selector("#verdict[data-outcome=right]")
            assert listed.nth(place).get_attribute("data-mark") == "right", name
        assert page.complaints == []
    given = reviews(server)
    assert len(given) == len(CHOSEN) and all(one.right and one.by == "touch" for one in given)
    assert all(one.rating < 4 for one in given), "a quick first choice of a few may be a guess"


def test_what_is_in_a_kit_is_found_in_the_kit_and_its_faults_too(server: Server, only: Any) -> None:
    only(Topic(Drill.SLOT, "bur_330", "composite_class_two"))
    with browser(has_touch=True) as context:
        page = Page(context)
        shown = begin(page, server)
        assert shown.locator("#board .places button").count() == 14
        shown.tap(f"#board [data-value='{right_of(server).right[0]}']")
        shown.wait_for_selector("#verdict[data-outcome=right]")
        only(Topic(Drill.FAULT, "Bonding kit", "composite_class_two"))
        shown = begin(page, server)
        assert shown.locator("#board .places button").count() == 5
        question = right_of(server)
        held = {place.item for place in question.scene} & set(question.right)
        if any(place.item is None for place in question.scene):
            shown.tap("#board [data-gap]")
            shown.tap(f".choice-list [data-value='{question.right[0]}']")
        else:
            shown.tap(f".places [data-value='{held.pop()}']")
        shown.wait_for_selector("#verdict[data-outcome=right]")
        assert page.complaints == []


def test_letters_still_go_to_the_field_where_numbers_choose(server: Server, only: Any) -> None:
    only(CHOSEN["next"])
    with browser() as context:
        page = Page(context)
        shown = begin(page, server)
        name = shared_chair().pack.item(right_of(server).right[0]).name.text
        shown.keyboard.type(name)
        assert shown.input_value("#text") == name
        shown.keyboard.press("Enter")
        shown.wait_for_selector("#verdict[data-outcome=right]")
        assert page.complaints == []


DRILLS = ("slot", "name", "lay", "fault", "fact", "next", "apart", "pass")


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_no_drill_is_wider_than_its_screen(server: Server, size: str) -> None:
    width, height = SIZES[size]
    with browser() as context:
        page = Page(context)
        page.page.set_viewport_size({"width": width, "height": height})
        wide = []
        for drill in DRILLS:
            shown = begin(page, server, drill)
            if shown.evaluate("document.documentElement.scrollWidth") > width:
                wide.append(drill)
        assert wide == [] and page.complaints == []


@pytest.mark.slow
def test_axe_finds_nothing_before_and_after_an_answer(server: Server, axe: str) -> None:
    with browser(bypass_csp=True) as context:
        page = Page(context)
        found: list[str] = []

        def look(where: str) -> None:
            found.extend(f"{where}, {one}" for one in axe_finds(page.page, axe))

        for drill in DRILLS:
            shown = begin(page, server, drill)
            look(drill)
            shown.click("#unknown")
            shown.wait_for_selector("#onward:not([hidden])")
            look(f"{drill}, answered")
        shown.click("#stop")
        shown.wait_for_selector("#summary h1")
        look("summary")
        context.clear_cookies()
        page.page.goto(f"{server.url}/practice")
        look("who are you")
        page.page.fill("#enter input[name=trainee]", "Ben")
        page.page.click("#enter button[type=submit]")
        page.page.wait_for_selector("input[name=again]")
        look("choosing a code")
        assert found == []
