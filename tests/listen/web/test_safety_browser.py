"""What keeps people safe at the chair screen, in a real Chromium: latex, label, needle stick, faculty."""

from collections.abc import Callable

import pytest

from listen.chairside.events import EventKind
from listen.chairside.injury import DEFAULT_CARD
from listen.chairside.session import LATEX_FREE, ChairSession
from tests.listen.web.browser import THEMES, Page, Server, browser, need_browser
from tests.listen.web.test_chair_page import LEAST_CONTRAST, SIZES, contrast, set_size, set_theme

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


def room_of(server: Server, session: int) -> ChairSession:
    chair_session: ChairSession = server.app.state.running.chair_session(session)
    return chair_session


def kinds(chair_session: ChairSession) -> list[EventKind]:
    return [event.kind for event in chair_session.state.events]


def wait_kind(page: Page, kind: str) -> None:
    page.page.wait_for_selector(f"#stage[data-kind={kind}]")


# --- latex --------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_latex_free_session_is_marked_at_the_start_and_unmarked_in_set_up(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.page.goto(server.url)
        page.page.check("[name=latex_free]")
        session = page.begin_here()
        assert page.page.inner_text("#latex-free").lower() == "latex-free"
        assert room_of(server, session).latex_free
        for size in SIZES:
            set_size(page, size)
            assert page.page.is_visible("#latex-free"), size
        for theme in THEMES:
            set_theme(page, theme)
            assert contrast(page, "#latex-free") >= LEAST_CONTRAST, theme
        page.page.goto(f"{server.url}/chair/{session}/setup")
        page.page.click("[aria-label='No: Is this a latex-free session?']")
        page.page.wait_for_selector("[aria-label='No: Is this a latex-free session?'][aria-pressed=true]")
        page.page.goto(f"{server.url}/chair/{session}")
        page.ready()
        assert not page.page.is_visible("#latex-free")
        marks = [e.good for e in room_of(server, session).state.events if e.about == LATEX_FREE]
        assert marks == [True, False]


def test_latex_is_not_lit_without_its_warning_in_a_latex_free_session(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        room_of(server, session).mark_latex_free(True)
        page.ask("latex dam")
        wait_kind(page, "check")
        assert page.lit() == []
        warning = page.page.locator("#stage .warning")
        assert "latex" in warning.inner_text().lower()
        assert warning.inner_text() in page.page.inner_text("#live")
        for theme in THEMES:
            set_theme(page, theme)
            assert contrast(page, "#stage .warning") >= LEAST_CONTRAST, theme


# --- labels -------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("by", ["touch", "key"])
def test_a_needle_that_was_chosen_waits_until_its_label_is_read_back(server: Server, by: str) -> None:
    with browser() as context:
        page = Page(context)

        def choose() -> None:
            if by == "key":
                page.page.keyboard.press("1")
            else:
                page.page.click("[data-choose='1']")

        session = page.begin(server.url)
        page.ask("27 gauge short needle")
        wait_kind(page, "check")
        if page.page.query_selector("[data-chosen]") is None:
            choose()
            page.page.wait_for_selector("[data-choose='1'][data-chosen]")
        assert "Read it back, then touch again" in page.page.inner_text("[data-chosen]")
        assert page.page.get_attribute("[data-choose='1']", "aria-pressed") == "true"
        assert page.lit() == [] and EventKind.PASSED not in kinds(room_of(server, session))
        choose()
        wait_kind(page, "note")
        assert "short needle" in page.page.inner_text("#stage")
        assert kinds(room_of(server, session))[-1] is EventKind.PASSED
        assert page.lit() == []


# --- sizes and spares ---------------------------------------------------------------------------


@pytest.mark.slow
def test_the_size_that_was_said_stands_beside_the_name_and_is_asked_back_where_none_was(
    server: Server,
) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        page.ask("W8A clamp")
        page.wait_lit("dam_clamp")
        assert page.page.inner_text(".named h2") == "dam clamp W8A"
        page.page.click("#undo")
        page.ask("dam clamp")
        wait_kind(page, "check")
        names = page.page.eval_on_selector_all(".choices b", "all => all.map(b => b.textContent)")
        assert "dam clamp W8A" in names and len(set(names)) == len(names) > 1


@pytest.mark.slow
def test_what_fell_is_shown_with_a_spare_wanted(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        page.ask("spoon excavator")
        page.wait_lit("spoon_excavator")
        page.ask("that one fell")
        page.page.wait_for_selector(".slot[data-away=dropped][data-item=spoon_excavator]")
        page.ask("spoon excavator")
        page.page.wait_for_selector(".named .warning")
        assert "sterile spare" in page.page.inner_text(".named .warning")


@pytest.mark.slow
def test_what_is_in_the_mouth_broke_or_is_missing_is_noted_by_touch(server: Server) -> None:
    tagged = "tag => document.querySelector('.slot[data-item=dam_frame] .tag').textContent === tag"
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        for kind, tag in (("in_mouth", "in the mouth"), ("out_of_mouth", "back"), ("broken", "broke")):
            page.correct("dam_frame", kind)
            page.page.wait_for_function(tagged, arg=tag)
        page.correct("wedge", "short")
        page.page.wait_for_selector("#out-missing:has-text('1 missing')")
        page.page.click("#out-missing")
        assert "wedge" in page.page.inner_text("#out-list")
        state = room_of(server, session).state
        assert state.broken == {"dam_frame": 1} and state.missed == {"wedge": 1}


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_no_answer_and_no_question_is_cut_off(server: Server, size: str) -> None:
    whole = """() => {
        const stage = document.getElementById('stage').getBoundingClientRect();
        const texts = [...document.querySelectorAll('#stage :is(h2, p, b, small, .warning)')]
            .filter(e => e.offsetParent && e.textContent);
        const boxes = [...document.querySelectorAll('#stage :is(.choices button)')];
        const outside = texts.filter(e => {
            const box = boxes.find(b => b.contains(e))?.getBoundingClientRect() ?? stage;
            const r = e.getBoundingClientRect();
            return r.top < box.top - 1 || r.bottom > box.bottom + 1 || r.right > box.right + 1
                || e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline';
        });
        return outside.map(e => e.textContent);
    }"""
    with browser() as context:
        page = Page(context)
        set_size(page, size)
        session = page.begin(server.url)
        room_of(server, session).mark_latex_free(True)
        for text, kind in (
            ("dam clamp", "check"),
            ("finishing disc", "check"),
            ("short needle", "check"),
            ("latex dam", "check"),
            ("W8A clamp", "answer"),
            ("spoon excavator", "answer"),
            ("interproximal carver", "answer"),
        ):
            page.ask(text)
            wait_kind(page, kind)
            page.page.wait_for_timeout(150)
            assert page.page.evaluate(whole) == [], text
            if text == "short needle":
                page.page.keyboard.press("1")
                page.page.wait_for_timeout(300)
                assert page.page.evaluate(whole) == [], "sizes of needles"


# --- needle stick -------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_card_opens_by_button_and_key_and_is_put_away(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        chair_session = room_of(server, session)
        ways: list[tuple[Callable[[], None], Callable[[], None]]] = [
            (lambda: page.page.click("#injury"), lambda: page.page.click("#injury-card .close")),
            (lambda: page.page.press("#injury", "Enter"), lambda: page.page.keyboard.press("Escape")),
        ]
        for open_it, close_it in ways:
            open_it()
            page.page.wait_for_selector("#injury-card[open]")
            lines = page.page.eval_on_selector_all("#injury-card li", "all => all.map(e => e.textContent)")
            assert tuple(lines) == DEFAULT_CARD
            page.page.wait_for_function(
                "() => document.getElementById('live').textContent.startsWith('Needle stick')"
            )
            close_it()
            page.page.wait_for_selector("#injury-card", state="hidden")
            page.page.wait_for_timeout(300)
            assert not page.page.is_visible("#injury-card") and not chair_session.stage.injury
        assert kinds(chair_session).count(EventKind.INJURY_CARD) == 2


def test_the_card_opens_when_it_is_said_and_on_every_screen_and_stays(server: Server) -> None:
    with browser() as context:
        page, other = Page(context), Page(context)
        session = page.begin(server.url)
        other.page.goto(f"{server.url}/chair/{session}")
        other.ready()
        page.ask("needle stick")
        for one in (page, other):
            one.page.wait_for_selector("#injury-card[open]")
        room_of(server, session).ask("cotton pliers")
        server.app.state.running.tell(session)
        page.page.wait_for_timeout(300)
        assert page.page.is_visible("#injury-card")
        other.page.click("#injury-card .close")
        for one in (page, other):
            one.page.wait_for_selector("#injury-card", state="hidden")
            one.wait_lit("cotton_pliers")


@pytest.mark.slow
def test_the_card_fills_the_screen_and_can_be_read(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        page.page.click("#injury")
        page.page.wait_for_selector("#injury-card[open]")
        for size, (width, height) in SIZES.items():
            set_size(page, size)
            box = page.page.eval_on_selector(
                "#injury-card", "e => (b => [b.x, b.y, b.width, b.height])(e.getBoundingClientRect())"
            )
            assert box == [0, 0, width, height], size
            type_px = page.page.eval_on_selector(
                "#injury-card li", "e => parseFloat(getComputedStyle(e).fontSize)"
            )
            assert type_px >= 22, size
        for theme in THEMES:
            set_theme(page, theme)
            assert contrast(page, "#injury-card :is(h2, li, p, button)") >= LEAST_CONTRAST, theme


@pytest.mark.slow
def test_the_card_opens_without_the_server(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        server.stop()
        page.page.wait_for_selector("#lost:not([hidden])")
        page.page.click("#injury")
        page.page.wait_for_selector("#injury-card[open]")
        server.start()


# --- faculty ------------------------------------------------------------------------------------


def reach_check(page: Page, server: Server, session: int) -> str:
    """Go past a step that faculty looks at; its name."""
    for text in ("mouth mirror", "explorer", "shade guide", "etchant"):
        page.ask(text)
        page.page.wait_for_timeout(300)
        waiting = room_of(server, session).faculty_check
        if waiting is not None:
            return waiting.name
    raise AssertionError("no check was reached")


@pytest.mark.slow
def test_the_screen_waits_for_faculty_in_words_and_goes_on_once_they_looked(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        assert not page.page.is_visible("#faculty")
        name = reach_check(page, server, session)
        page.page.wait_for_selector("#faculty:not([hidden])")
        assert page.page.inner_text("#faculty p") == f"Waiting for faculty: {name}"
        page.ask("cotton pliers")
        page.wait_lit("cotton_pliers")
        assert page.page.is_visible("#faculty")
        page.page.click("#undo")
        wait_kind(page, "note")
        step = room_of(server, session).faculty_check
        assert step is not None
        assert {likely.item for likely in room_of(server, session).following} <= step.items.keys()
        page.page.fill("#faculty-by", "Dr. Grey")
        page.page.press("#faculty-by", "Enter")
        page.page.wait_for_function("() => !document.getElementById('faculty').checkVisibility()")
        looked = room_of(server, session).state.events[-1]
        assert (looked.kind, looked.about, looked.by) == (EventKind.STEP, step.id, "Dr. Grey")
        page.page.goto(f"{server.url}/sessions/{session}")
        row = page.page.inner_text(f"tr:has-text('{name}') >> nth=0")
        assert "Dr. Grey" in row
        assert page.complaints == []


@pytest.mark.slow
def test_where_no_faculty_works_nothing_waits(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        page.page.goto(f"{server.url}/chair/{session}/setup")
        page.page.click("summary")
        page.page.select_option("[name=faculty]", "no")
        page.page.wait_for_selector("[data-kept]:not(:empty)")
        page.page.goto(f"{server.url}/chair/{session}")
        page.ready()
        for text in ("mouth mirror", "explorer", "shade guide", "etchant"):
            page.ask(text)
            page.page.wait_for_timeout(300)
        assert not page.page.is_visible("#faculty")
        session = page.begin(server.url)
        assert not room_of(server, session).settings.faculty
