"""The tray map in a real Chromium: read when much is out, kits that open, and mistakes put right."""

import pytest

from listen.chairside.events import EventKind
from listen.chairside.handing import ChairSettings
from listen.chairside.session import ChairSession
from tests.listen.web.browser import THEMES, Page, Server, axe_finds, browser, need_browser
from tests.listen.web.desk_app import shared_chair
from tests.listen.web.test_chair_page import LEAST_CONTRAST, SIZES, contrast, set_size, set_theme

pytestmark = pytest.mark.slow

LEAST_PX = 16

FAULTS = """least => {
    const found = [];
    const shown = e => e.checkVisibility({visibilityProperty: true}) && !e.closest('.hidden-text');
    const label = e => `${e.className}: ${e.textContent.trim().slice(0, 30)}`;
    const own = e => [...e.childNodes].filter(n => n.nodeType === 3 && n.textContent.trim());
    const inked = e => {  // the lines that are read, without the room over and under the letters
        const range = document.createRange(), px = parseFloat(getComputedStyle(e).fontSize);
        range.setStartBefore(own(e)[0]);
        range.setEndAfter(own(e).at(-1));
        return [...range.getClientRects()].map(b => ({left: b.left, right: b.right,
            top: b.top + px * 0.16, bottom: b.bottom - px * 0.16}));
    };
    const all = [...document.querySelectorAll('#tray *, .foot *, dialog[open] *')]
        .filter(e => own(e).length && shown(e) && !e.closest('svg') && e.offsetWidth > 1);
    for (const e of all) {
        if (parseFloat(getComputedStyle(e).fontSize) < least) found.push(`small: ${label(e)}`);
    }
    const texts = all.filter(e => e.closest('#tray')).map(e => [e, inked(e)]);
    const meet = (x, y) =>
        x.left < y.right - 1 && y.left < x.right - 1 && x.top < y.bottom && y.top < x.bottom;
    texts.forEach(([a, some], i) => texts.slice(i + 1).forEach(([b, others]) => {
        const over = some.some(x => others.some(y => meet(x, y)));
        if (over) found.push(`over each other: ${label(a)}, ${label(b)}`);
    }));
    for (const [e, lines] of texts) {
        const home = e.closest('.slot, .box, .shut, #tray').getBoundingClientRect();
        const inside = b => b.left >= home.left - 1 && b.right <= home.right + 1
            && b.top >= home.top - 1 && b.bottom <= home.bottom + 1;
        if (!lines.every(inside)) found.push(`cut: ${label(e)}`);
    }
    const cut = [...document.querySelectorAll('.foot :is(button, p), dialog[open] :is(button, p, h2)')]
        .filter(e => shown(e) && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1));
    for (const e of cut) found.push(`cut: ${label(e)}`);
    const tray = document.getElementById('tray');
    if (document.documentElement.scrollWidth > innerWidth) found.push('the page is too wide');
    if (tray.scrollWidth > tray.clientWidth) found.push('the tray is too wide');
    if (innerWidth >= 1000 && tray.scrollHeight > tray.clientHeight + 1) found.push('the tray scrolls');
    return found;
}"""


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


def room_of(server: Server, session: int) -> ChairSession:
    chair_session: ChairSession = server.app.state.running.chair_session(session)
    return chair_session


def make_busy(server: Server, session: int, pieces: int = 40) -> ChairSession:
    """A chair with so many things out, one in the mouth, one fallen, one missing, and two timers running."""
    room, running = room_of(server, session), server.app.state.running
    assert room.chair.tray is not None
    own = [slot.item for slot in room.chair.tray.own_slots]
    items = list(dict.fromkeys([*own, *(slot.item for slot in room.chair.tray.slots)]))
    for item in items[:pieces]:
        room.touch(EventKind.PASSED, item)
    room.touch(EventKind.IN_MOUTH, own[3])
    room.touch(EventKind.DROPPED, own[5])
    room.touch(EventKind.SHORT, items[-1])
    names = room.timer_names[:2]
    running.set_up(room, ChairSettings(maker_times=dict.fromkeys(names, 300.0)))
    for name in names:
        room.start_timer(name)
    running.tell(session)
    return room


def faults(page: Page) -> list[str]:
    """What cannot be read or is covered on the map, the foot or an open dialog."""
    page.page.wait_for_timeout(250)
    found: list[str] = page.page.evaluate(FAULTS, LEAST_PX)
    return found


def open_kits(page: Page) -> list[str]:
    """The kits that are open."""
    found: list[str] = page.page.eval_on_selector_all(
        ".inside:not([hidden])", "all => all.map(e => e.parentElement.dataset.kit)"
    )
    return found


def in_view(page: Page, selector: str) -> bool:
    """Whether the whole of it is seen: between the stage and the foot, covered by nothing."""
    seen: bool = page.page.eval_on_selector(
        selector,
        """e => { const b = e.getBoundingClientRect();
            return [[b.left + 4, b.top + 4], [b.right - 4, b.bottom - 4]]
                .every(([x, y]) => e.contains(document.elementFromPoint(x, y))); }""",
    )
    return seen


# --- reading it -----------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES)
def test_forty_things_out_two_timers_and_a_question_hide_nothing(server: Server, size: str) -> None:
    with browser() as context:
        page = Page(context)
        set_size(page, size)
        session = page.begin(server.url)
        assert faults(page) == [], "laid"
        make_busy(server, session)
        page.page.wait_for_selector("#out-missing:not([hidden])")
        assert faults(page) == [], "out"
        for text, kind in (("the burnisher", "check"), ("a round bur", "check"), ("etchant", "answer")):
            page.ask(text)
            page.page.wait_for_selector(f"#stage[data-kind={kind}]")
            assert faults(page) == [], text
        assert page.complaints == []


@pytest.mark.parametrize("size", ["small", "chair"])
def test_every_tray_can_be_read(server: Server, size: str) -> None:
    with browser() as context:
        page = Page(context)
        set_size(page, size)
        for procedure in shared_chair().pack.procedures:
            page.begin(server.url, procedure.id)
            assert faults(page) == [], procedure.id


@pytest.mark.parametrize(("width", "height"), [(1024, 700), (1120, 700), (1239, 720), (1366, 768)])
def test_nothing_is_cut_on_small_screens(server: Server, width: int, height: int) -> None:
    with browser() as context:
        page = Page(context)
        page.page.set_viewport_size({"width": width, "height": height})
        session = page.begin(server.url)
        assert faults(page) == [], "laid"
        make_busy(server, session)
        page.page.wait_for_selector("#out-missing:not([hidden])")
        assert faults(page) == [], "out"
        page.ask("etchant")
        page.wait_lit("etchant")
        assert faults(page) == [], "kit open"


def test_on_a_phone_how_a_thing_is_passed_is_at_least_16_px(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        set_size(page, "phone")
        page.begin(server.url)
        for text in ("cotton pliers", "the burnisher"):
            page.ask(text)
            page.page.wait_for_selector(f"#stage[data-kind={'check' if 'burn' in text else 'answer'}]")
            least = page.page.eval_on_selector_all(
                "#stage :is(p, p *, b, small):not(.unheard)",
                "all => Math.min(...all.filter(e => e.checkVisibility() && e.textContent.trim())"
                ".map(e => parseFloat(getComputedStyle(e).fontSize)))",
            )
            assert least >= LEAST_PX, text


def test_letters_are_as_large_as_their_slots_without_a_container_for_each(server: Server) -> None:
    """Sizes are reckoned from the window; a container for each slot made the page slow to appear."""
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        for width, height in SIZES.values():
            page.page.set_viewport_size({"width": width, "height": height})
            page.page.wait_for_timeout(100)
            slots = page.page.eval_on_selector_all(
                ".rows .slot",
                """all => all.filter(s => s.dataset.fit !== "5").map(s => {
                    const style = e => getComputedStyle(e), box = s.getBoundingClientRect();
                    const number = parseFloat(style(s.querySelector(".at")).fontSize);
                    return [style(s.parentElement).containerType, box.width, box.height, number];
                })""",
            )
            assert slots and {one[0] for one in slots} == {"normal"}
            for _, wide, high, number in slots:
                assert abs(number - min(max(22, min(0.3 * wide, 0.38 * high)), 76)) < 2, (width, wide, high)


def test_the_rows_of_the_tray_are_large(server: Server) -> None:
    """Numbers of 36 px or more, names of 18 px or more, drawings of 40 px or more at 1280 by 800."""
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        least = page.page.eval_on_selector_all(
            ".rows .slot",
            """all => ['.at', '.name', 'svg'].map(part => Math.min(...all.map(slot => {
                const e = slot.querySelector(part);
                const px = parseFloat(getComputedStyle(e).fontSize);
                return part === 'svg' ? e.getBoundingClientRect().height : px;
            })))""",
        )
        assert [one >= than for one, than in zip(least, (36, 18, 40), strict=True)] == [True] * 3, least


def test_tags_and_what_is_lit_can_be_read_in_all_colours(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        make_busy(server, session)
        page.ask("etchant")
        page.wait_lit("etchant")
        for theme in THEMES:
            set_theme(page, theme)
            texts = "#tray :is(.slot, .box):not(.inside[hidden] *) :is(.at, .name, .tag:not([hidden]))"
            assert contrast(page, texts) >= LEAST_CONTRAST, theme


# --- kits -----------------------------------------------------------------------------------------


def test_a_kit_opens_by_itself_and_closes_with_the_next_answer(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        assert open_kits(page) == []
        page.ask("etchant")
        page.wait_lit("etchant")
        assert open_kits(page) == ["bonding_kit"] and page.lit() == ["etchant"]
        assert in_view(page, ".slot[data-lit]")
        assert page.page.get_attribute("[data-kit=bonding_kit] .box", "aria-expanded") == "true"
        page.ask("that one fell")
        page.page.wait_for_selector(".slot[data-item=etchant] .tag:has-text('dropped')")
        assert open_kits(page) == ["bonding_kit"]
        page.ask("cotton pliers")
        page.wait_lit("cotton_pliers")
        assert open_kits(page) == []
        page.ask("etchant and a wedge")
        page.page.wait_for_selector(".slot[data-lit][data-item=wedge]")
        assert sorted(open_kits(page)) == ["bonding_kit", "sectional_kit"]
        assert all(in_view(page, f".slot[data-lit][data-item={item}]") for item in ("etchant", "wedge"))
        assert page.complaints == []


@pytest.mark.parametrize("size", SIZES)
def test_a_kit_is_opened_and_closed_by_touch(server: Server, size: str) -> None:
    with browser() as context:
        page = Page(context)
        set_size(page, size)
        session = page.begin(server.url)
        room_of(server, session).touch(EventKind.PASSED, "dam_clamp", 2)
        server.app.state.running.tell(session)
        page.page.wait_for_selector("[data-kit=dam_kit] .tag:has-text('2 out')")
        page.page.click("[data-kit=dam_kit] .box")
        assert open_kits(page) == ["dam_kit"] and faults(page) == []
        page.page.click("[data-kit=dam_kit] .shut")
        assert open_kits(page) == []


def test_a_kit_is_worked_by_keyboard_and_the_keyboard_is_never_lost(server: Server) -> None:
    focused = "document.activeElement.dataset.item ?? document.activeElement.parentElement.dataset.kit"
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        page.page.focus(".slot[tabindex='0']")
        page.page.keyboard.press("ArrowDown")
        page.page.keyboard.press("ArrowDown")
        kit = page.page.evaluate("document.activeElement.parentElement.dataset.kit")
        page.page.keyboard.press("Enter")
        assert open_kits(page) == [kit]
        inside = page.page.evaluate("document.activeElement.closest('.inside')?.parentElement.dataset.kit")
        assert inside == kit
        item = page.page.evaluate(focused)
        page.page.keyboard.press("Enter")
        page.page.wait_for_selector("#slot-dialog[open]")
        page.page.keyboard.press("Escape")
        page.page.wait_for_selector("#slot-dialog", state="hidden")
        assert page.page.evaluate(focused) == item
        page.page.keyboard.press("Escape")
        assert open_kits(page) == []
        assert page.page.evaluate("document.activeElement.className") == "box"


def test_kits_on_the_counter_stand_apart(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url, "amalgam_class_two")
        apart = page.page.eval_on_selector_all(".counter .kit", "all => all.map(e => e.dataset.kit)")
        assert sorted(apart) == ["amalgam_kit", "protection_kit"]
        assert page.page.inner_text(".counter h2") == "on the counter"


def test_on_a_phone_the_lit_slot_is_brought_into_view(server: Server) -> None:
    with browser(reduced_motion="reduce") as context:
        page = Page(context)
        set_size(page, "phone")
        page.begin(server.url)
        for item, text in (
            ("acorn_burnisher", "acorn burnisher"),
            ("dental_floss", "floss"),
            ("curing_light", "curing light"),
        ):
            page.ask(text)
            page.wait_lit_or_choose(item)
            page.page.wait_for_timeout(400)
            assert in_view(page, ".slot[data-lit]"), item


# --- what is out, and putting a mistake right -------------------------------------------------------


@pytest.mark.parametrize("size", SIZES)
def test_sharps_are_a_number_that_opens_to_all_of_them(server: Server, size: str) -> None:
    with browser() as context:
        page = Page(context)
        set_size(page, size)
        session = page.begin(server.url)
        assert page.page.inner_text("#out") == "Nothing noted as out"
        room = make_busy(server, session)
        sharps = {i: n for i, n in room.state.out.items() if room.chair.pack.item(i).sharp}
        page.page.wait_for_selector(f"#out-sharps:text-is('{sum(sharps.values())} sharps out')")
        others = sum(room.state.out.values()) - sum(sharps.values())
        assert page.page.inner_text("#out-others") == f"{others} others out"
        page.page.click("#out-sharps")
        page.page.wait_for_selector("#out-dialog[open]")
        listed = page.page.eval_on_selector_all(
            "#out-list h3.sharp + ul button", "all => all.map(e => e.dataset.item)"
        )
        assert sorted(listed) == sorted(sharps)
        assert faults(page) == []
        page.page.click("#out-list h3.sharp + ul button")
        page.page.wait_for_selector("#slot-dialog[open]")
        page.page.click("#slot-likely [data-kind=returned]")
        page.page.wait_for_selector(f"#out-sharps:text-is('{sum(sharps.values()) - 1} sharps out')")


@pytest.mark.parametrize("size", SIZES)
def test_the_likely_corrections_come_first_and_are_large(server: Server, size: str) -> None:
    with browser() as context:
        page = Page(context)
        set_size(page, size)
        session = page.begin(server.url)
        page.ask("spoon excavator")
        page.wait_lit("spoon_excavator")
        page.pick("spoon_excavator")
        assert page.page.inner_text("#slot-known") == "Noted as asked for and not given back."
        first = page.page.eval_on_selector_all(
            "#slot-likely button",
            """all => all.map(e => [e.textContent, e.getBoundingClientRect()])
                .map(([words, box]) => [words, box.height, box.bottom])""",
        )
        assert [words for words, *_ in first] == [
            "It was given back",
            "It fell",
            "Not asked for: take it back",
        ]
        assert all(height >= 56 and bottom <= SIZES[size][1] for _, height, bottom in first)
        assert not page.page.is_visible("#slot-more [data-kind=broken]")
        page.page.click("#slot-more summary")
        assert page.page.is_visible("#slot-more [data-kind=broken]")
        assert not page.page.is_visible("#slot-more [data-kind=dropped]")
        assert faults(page) == []
        page.page.click("#slot-likely [data-kind=not_asked]")
        page.page.wait_for_selector("#stage[data-kind=note]")
        assert room_of(server, session).state.out == {}
        assert "spoon excavator" in page.page.inner_text("#live")


def test_axe_finds_nothing_on_the_map(server: Server, axe: str) -> None:
    found: list[str] = []
    with browser(bypass_csp=True) as context:
        page = Page(context)
        session = page.begin(server.url)
        make_busy(server, session)

        def look(where: str) -> None:
            found.extend(f"{where}, {one}" for one in axe_finds(page.page, axe))

        look("busy")
        page.ask("etchant")
        page.wait_lit("etchant")
        look("kit open")
        page.pick("etchant")
        page.page.click("#slot-more summary")
        look("dialog")
        page.page.keyboard.press("Escape")
        page.page.click("#out-sharps")
        look("list")
    assert found == []
