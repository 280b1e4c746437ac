"""The chair screen in a real Chromium: it hears recordings, and is worked by voice, keys and touch."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from listen.chairside.events import EventKind
from listen.chairside.handing import ChairSettings, handing_line
from tests.listen.web.browser import Page, Server, axe_finds, browser, microphone_file, need_browser, served
from tests.listen.web.desk_app import StandIn, shared_chair

pytestmark = pytest.mark.slow

PERIO_PROBE, CHATTER, GAUZE, DAM_PUNCH, TOPICAL = 5, 4, 9, 16, 10
SIZES = {"chair": (1280, 800), "tablet": (820, 1180), "phone": (390, 844)}


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@pytest.fixture(scope="module")
def real_engine() -> Any:
    return shared_chair().engine()


def test_the_page_hears_a_recording_and_lights_the_right_slot(tmp_path: Path, real_engine: Any) -> None:
    sound, length_s = microphone_file(tmp_path, PERIO_PROBE, CHATTER, GAUZE)
    with served(tmp_path / "data", real_engine) as server, browser(sound) as context:
        page = Page(context)
        session = page.begin(server.url)
        page.open_microphone()
        page.wait_lit("perio_probe", length_s + 15)
        assert page.page.inner_text(".named h2") == "periodontal probe"
        assert "3" in page.page.inner_text(".where")
        page.wait_lit("gauze_square", length_s + 15)
        chair_session = server.app.state.running.chair_session(session)
        assert [event.item for event in chair_session.state.events if event.item] == [
            "perio_probe",
            "gauze_square",
        ]
        assert page.complaints == []


def test_anaesthesia_heard_is_checked_and_noted_once_its_label_was_read_back(
    tmp_path: Path, real_engine: Any
) -> None:
    sound, _ = microphone_file(tmp_path, TOPICAL)
    with served(tmp_path / "data", real_engine) as server, browser(sound) as context:
        page = Page(context)
        session = page.begin(server.url)
        page.open_microphone()
        page.page.wait_for_selector("#stage[data-kind=check]")
        assert "Read back by the person responsible" in page.page.inner_text("#stage")
        assert page.lit() == []
        page.read_back()
        assert "topical anaesthetic" in page.page.inner_text("#stage")
        assert page.lit() == []
        passed = server.app.state.running.chair_session(session).state.events[-1]
        assert (passed.kind, passed.item) == (EventKind.PASSED, "topical_anaesthetic")
        assert page.complaints == []


def test_a_check_is_answered_by_voice(tmp_path: Path) -> None:
    """The recordings only make the utterances; the stand-in engine says what they were."""
    engine = StandIn()
    engine.texts.extend(["the burnisher please", "The second one."])
    sound, _ = microphone_file(tmp_path, PERIO_PROBE, DAM_PUNCH)
    with served(tmp_path / "data", engine) as server, browser(sound) as context:
        page = Page(context)
        page.begin(server.url)
        page.open_microphone()
        page.page.wait_for_selector("#stage[data-kind=check]")
        second = page.page.inner_text("[data-choose='2'] b")
        page.page.wait_for_selector("#stage[data-kind=answer]")
        assert page.page.inner_text(".named h2") == second


def test_a_check_is_answered_by_key_touch_and_escape(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        acts: dict[str, Callable[[], None]] = {
            "the burnisher": lambda: page.page.keyboard.press("2"),
            "a round bur": lambda: page.page.click("[data-choose='2']"),
        }
        for text, act in acts.items():
            page.ask(text)
            page.page.wait_for_selector("#stage[data-kind=check]")
            second = page.page.inner_text("[data-choose='2'] b")
            act()
            page.page.wait_for_selector("#stage[data-kind=answer]")
            assert page.page.inner_text(".named h2").startswith(second)
        page.ask("the carver")
        page.page.wait_for_selector("#stage[data-kind=check]")
        page.page.keyboard.press("Escape")
        page.page.wait_for_selector("#stage[data-kind=idle]")


def test_a_whole_procedure_is_followed_slot_by_slot(server: Server) -> None:
    """One item of each step of the longest procedure, typed; each lights its own slot."""
    pack = shared_chair().pack
    procedure = max(pack.procedures, key=lambda p: len(p.steps))
    tray = pack.tray(procedure.tray)
    items = list(dict.fromkeys(max(step.items, key=lambda i: step.items[i]) for step in procedure.steps))
    with browser() as context:
        page = Page(context)
        page.begin(server.url, procedure.id)
        for item in items:
            page.ask(pack.item(item).name.text)
            if pack.item(item).always_check:
                page.page.wait_for_selector("#stage[data-kind=check]")
                page.read_back()
                assert page.lit() == []
                continue
            if len(tray.variants_of(item)) > 1:
                page.page.wait_for_selector("#stage[data-kind=check]")
                page.page.keyboard.press("1")
            if tray.slot_of(item) is None:
                page.page.wait_for_selector(".where.none")
                continue
            page.wait_lit(item)
            assert page.lit() == [item]
        assert page.complaints == []


def test_a_refused_microphone_says_what_to_do_and_typing_goes_on(server: Server) -> None:
    with browser(allow=False) as context:
        page = Page(context)
        page.begin(server.url)
        page.page.click("#mic")
        page.page.wait_for_selector("#problem:not([hidden])")
        assert "then try again" in page.page.inner_text("#problem")
        assert page.page.get_attribute("body", "data-mic") == "closed"
        page.ask("cotton pliers")
        page.wait_lit("cotton_pliers")


def test_the_microphone_is_open_or_closed_in_words_sign_and_for_screen_readers(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        mic = page.page.locator("#mic")
        assert "Microphone closed" in mic.inner_text() and mic.get_attribute("aria-pressed") == "false"
        assert page.page.is_visible("#mic svg.off") and not page.page.is_visible("#mic svg.on")
        page.open_microphone()
        assert "Microphone open" in mic.inner_text() and mic.get_attribute("aria-pressed") == "true"
        assert page.page.is_visible("#mic svg.on") and not page.page.is_visible("#mic svg.off")
        page.page.keyboard.press("Space")
        page.page.wait_for_selector("body[data-mic=closed]")


def test_a_restart_of_the_server_in_mid_session_loses_nothing(tmp_path: Path) -> None:
    with served(tmp_path / "data", StandIn()) as server, browser() as context:
        page = Page(context)
        page.begin(server.url)
        page.open_microphone()
        page.ask("spoon excavator")
        page.wait_lit("spoon_excavator")
        server.stop()
        page.page.wait_for_selector("#lost:not([hidden])")
        assert page.page.get_attribute("body", "data-mic") == "closed"
        server.start()
        page.page.wait_for_selector("#lost", state="hidden")
        page.page.wait_for_selector("body[data-mic=open]")
        page.page.wait_for_selector(".slot[data-away=out][data-item=spoon_excavator]")
        assert page.page.inner_text("#out-sharps") == "1 sharp out"
        page.ask("mouth mirror")
        page.wait_lit("mouth_mirror")


def test_two_screens_show_the_same(server: Server) -> None:
    with browser() as context:
        one = Page(context)
        session = one.begin(server.url)
        other = Page(context)
        other.page.goto(f"{server.url}/chair/{session}")
        other.ready()
        one.ask("cotton pliers")
        for page in (one, other):
            page.wait_lit("cotton_pliers")
        other.page.click("#undo")
        for page in (one, other):
            page.page.wait_for_selector(".slot[data-item=cotton_pliers]:not([data-away])")
        one.open_microphone()
        other.page.wait_for_selector("body[data-mic=elsewhere]")
        assert one.complaints == other.complaints == []


def test_the_tray_is_worked_by_keyboard_alone(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        page.page.focus(".slot[tabindex='0']")
        page.page.keyboard.press("ArrowRight")
        page.page.keyboard.press("ArrowDown")
        page.page.keyboard.press("ArrowUp")
        page.page.keyboard.press("Home")
        page.page.keyboard.press("Enter")
        page.page.wait_for_selector("#slot-dialog[open]")
        assert page.page.inner_text("#slot-name") == "mouth mirror"
        page.page.focus("#slot-likely [data-kind=dropped]")
        page.page.keyboard.press("Enter")
        page.page.wait_for_selector(".slot[data-away=dropped][data-item=mouth_mirror]")
        assert page.page.evaluate("document.activeElement.dataset.item") == "mouth_mirror"
        assert "dropped" in page.page.inner_text(".slot[data-item=mouth_mirror]")


def test_an_answer_is_announced_to_those_who_hear_the_screen(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        page.ask("cotton pliers")
        page.wait_lit("cotton_pliers")
        assert page.page.get_attribute("#live", "aria-live") == "polite"
        assert page.page.inner_text("#live").startswith("cotton pliers. slot 4.")


def test_the_barrier_is_told_once_when_the_screen_is_touched(server: Server) -> None:
    with browser(has_touch=True) as context:
        page = Page(context)
        session = page.begin(server.url)
        assert not page.page.is_visible("#barrier")
        page.page.touchscreen.tap(640, 200)
        page.page.click("#barrier-ok")
        page.page.goto(f"{server.url}/chair/{session}")
        page.ready()
        page.page.touchscreen.tap(640, 200)
        page.page.wait_for_timeout(200)
        assert not page.page.is_visible("#barrier")


def test_a_theme_is_kept_and_a_pedal_key_can_be_chosen(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        page.page.click("#more")
        page.page.select_option("#options select", "contrast")
        page.page.click("#pedal")
        page.page.keyboard.press("F9")
        page.page.click("#options .close")
        page.page.goto(f"{server.url}/chair/{session}")
        page.ready()
        assert page.page.get_attribute("html", "data-theme") == "contrast"
        page.page.keyboard.press("F9")
        page.page.wait_for_selector("body[data-mic=open]")


@pytest.mark.parametrize("size", SIZES)
def test_nothing_overflows_and_targets_are_large(server: Server, size: str) -> None:
    """44 px is what WCAG 2.5.5 asks for; two rows of kits on 800 px may be a little lower, not smaller than
    the 24 px of WCAG 2.5.8."""
    width, height = SIZES[size]
    with browser() as context:
        page = Page(context)
        page.page.set_viewport_size({"width": width, "height": height})
        session = page.begin(server.url)
        for path in ("", "/setup", "/count"):
            page.page.goto(f"{server.url}/chair/{session}{path}")
            assert page.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
            small = page.page.eval_on_selector_all(
                "button:not(.slot, .box), input:not([type=hidden]):not([type=checkbox]), select",
                """all => all.filter(e => e.offsetParent).map(e => e.getBoundingClientRect())
                    .filter(b => b.width < 44 || b.height < 44).length""",
            )
            assert small == 0, path
        page.page.goto(f"{server.url}/chair/{session}")
        page.ready()
        least = page.page.eval_on_selector_all(
            ":is(.slot, .box):visible",
            "all => Math.min(...all.map(s => Math.min(s.offsetWidth, s.offsetHeight)))",
        )
        assert least >= 43


def test_on_a_chair_screen_all_slots_are_in_view_and_nothing_moves(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        places = """all => all.map(s => s.getBoundingClientRect()).map(b => [b.x, b.y, b.right, b.bottom])"""
        tray = ":is(.rows .slot, .box, .beside .slot)"
        before = page.page.eval_on_selector_all(tray, places)
        assert all(x >= 0 and y >= 0 and right <= 1280 and bottom <= 800 for x, y, right, bottom in before)
        for text in (
            "cotton pliers",
            "the burnisher",
            "mirror and explorer",
            "cartridge with vasoconstrictor",
        ):
            page.ask(text)
            page.page.wait_for_timeout(300)
            assert page.page.eval_on_selector_all(tray, places) == before


def test_names_can_be_read_from_two_metres_and_nothing_is_cut_off(server: Server) -> None:
    """20 minutes of arc at 2 m (16 at least; ISO 9241-303, from memory) are 11.6 mm (9.3 mm) of capitals;
    on a 13.3 inch screen of 1280 by 800 a pixel is 0.224 mm, and capitals are 0.7 of the type size."""
    pack = shared_chair().pack
    tray = pack.tray("composite_class_two")
    on_tray = [pack.item(slot.item) for slot in tray.slots if not pack.item(slot.item).always_check]
    longest_names = sorted(on_tray, key=lambda item: -len(item.name.text))[:10]
    longest_lines = sorted(on_tray, key=lambda item: -len(handing_line(item, ChairSettings()) or ""))[:8]
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        server.app.state.running.chair_session(session).settings = ChairSettings(faculty=False)
        for item in dict.fromkeys(i.id for i in (*longest_names, *longest_lines)):
            name = pack.item(item).name.text
            page.ask(name)
            page.wait_lit_or_choose(item)
            size = page.page.eval_on_selector(".named h2", "e => parseFloat(getComputedStyle(e).fontSize)")
            assert size >= (11.6 if len(name) <= 26 else 9.3) / 0.224 / 0.7, name
            inside = """e => { const s = document.getElementById('stage').getBoundingClientRect();
                const under = [...document.querySelectorAll('.then, .faculty')].find(e => e.offsetParent);
                const then = under ? under.getBoundingClientRect() : {top: s.bottom};
                const b = e.getBoundingClientRect();
                return b.top >= s.top && b.bottom <= then.top + 4 && b.right <= s.right
                    && e.scrollWidth <= e.clientWidth + 1 }"""
            assert page.page.eval_on_selector(".named", inside), name


@pytest.mark.parametrize("size", SIZES)
def test_the_drawing_of_what_was_asked_for_is_always_in_view(server: Server, size: str) -> None:
    """Beside the longest names, in the places with the longest words, off the tray, and two at once."""
    pack = shared_chair().pack
    tray = max(pack.trays, key=lambda tray: len(tray.slots))
    on_tray = [slot for slot in tray.slots if not pack.item(slot.item).always_check]
    long = sorted(on_tray, key=lambda slot: -len(pack.item(slot.item).name.text))[:3]
    far = sorted(on_tray, key=lambda slot: -max(map(len, slot.at.split())))[:3]
    off = next(item for item in pack.items if tray.slot_of(item.id) is None and not item.always_check)
    names = [pack.item(slot.item).name.text for slot in (*long, *far)] + [off.name.text]
    with browser() as context:
        page = Page(context)
        page.page.set_viewport_size(dict(zip(("width", "height"), SIZES[size], strict=True)))
        page.begin(server.url, next(p.id for p in pack.procedures if p.tray == tray.id))
        for text in (*names, "explorer and mirror"):
            page.ask(text)
            last = text.rpartition(" and ")[2].split()[-1]
            named = "[...document.querySelectorAll('.named h2')].some(e => e.textContent.includes(last))"
            page.page.wait_for_function(f"last => stage.dataset.kind === 'check' || {named}", arg=last)
            if page.page.get_attribute("#stage", "data-kind") == "check":
                page.page.keyboard.press("1")
            page.page.wait_for_function(f"last => {named}", arg=last)
            shown = page.page.eval_on_selector_all(
                ".answer",
                """all => all.map(answer => {
                    const stage = document.getElementById('stage').getBoundingClientRect();
                    const [where, pic] = ['.where', '.pic'].map(s => answer.querySelector(s));
                    const p = pic.getBoundingClientRect();
                    const inside = p.left >= stage.left && p.right <= stage.right && p.bottom <= stage.bottom;
                    const cut = where.scrollWidth > where.clientWidth
                        || where.scrollHeight > where.clientHeight + 3;
                    return inside && !cut ? Math.min(p.width, p.height) : 0;
                })""",
            )
            assert shown and min(shown) >= 44, (text, shown)


def test_movement_stops_for_those_who_mind_it(server: Server) -> None:
    with browser(reduced_motion="reduce") as context:
        page = Page(context)
        page.begin(server.url)
        page.ask("cotton pliers")
        page.wait_lit("cotton_pliers")
        assert page.page.evaluate("document.getAnimations().length") == 0


def test_axe_finds_nothing_whatever_the_stage_shows(server: Server, axe: str) -> None:
    with browser(bypass_csp=True) as context:
        page = Page(context)
        page.begin(server.url)
        found: list[str] = []

        def look(where: str) -> None:
            found.extend(f"{where}, {one}" for one in axe_finds(page.page, axe))

        look("idle")
        for text in ("spoon excavator", "the burnisher", "short needle"):
            page.ask(text)
            page.page.wait_for_timeout(300)
            look(text)
        page.page.keyboard.press("Escape")
        page.page.click("#injury")
        look("after a needle stick")
        page.page.click("#injury-card .close")
        page.page.click("#more")
        look("options")
        page.page.select_option("#pedal-way", "hold")
        look("options, held")
        page.page.click("#options .close")
        page.page.keyboard.down("Space")
        page.page.wait_for_selector("body[data-mic=open]")
        look("microphone open")
        page.page.keyboard.up("Space")
        assert found == []
