"""The chair screen in a real Chromium: nothing covers, clips or hides what is to be read or pressed."""

import pytest

from listen.chairside.closing import Override
from tests.listen.web.browser import THEMES, Page, Server, browser, need_browser

SIZES = {"small": (1024, 768), "chair": (1280, 800), "large": (1920, 1080), "phone": (390, 844)}
LEAST_CONTRAST = 4.5
"""Of text, in WCAG 2.2, 1.4.3 (level AA)."""
SLOTS = "all => all.map(s => s.getBoundingClientRect()).map(b => [b.x, b.y, b.width, b.height])"


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


def end(server: Server, session: int) -> None:
    """End a session that nobody counted."""
    running = server.app.state.running
    running.chair_session(session).close(override=Override("Dr. Grey", "only a trial"))
    running.tell(session)


def set_size(page: Page, size: str) -> None:
    """Look at the page on a screen of this size."""
    page.page.set_viewport_size(dict(zip(("width", "height"), SIZES[size], strict=True)))


def set_theme(page: Page, theme: str) -> None:
    """Look at the page in these colours."""
    page.page.evaluate(f"document.documentElement.dataset.theme = '{theme}'")


def contrast(page: Page, selector: str) -> float:
    """The least contrast of the elements' text with the first opaque background behind it (WCAG 2.2)."""
    return float(
        page.page.eval_on_selector_all(
            selector,
            """all => Math.min(...all.map(element => {
                const light = colour => {
                    const [r, g, b] = colour.match(/[\\d.]+/g).map(Number).map(c => c / 255)
                        .map(c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
                    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
                };
                let behind = element;
                const clear = one => /^rgba.*, 0\\)|transparent/.test(getComputedStyle(one).backgroundColor);
                while (behind.parentElement && clear(behind)) behind = behind.parentElement;
                const [a, b] = [getComputedStyle(element).color, getComputedStyle(behind).backgroundColor]
                    .map(light).sort((x, y) => y - x);
                return (a + 0.05) / (b + 0.05);
            }))""",
        )
    )


@pytest.mark.slow
def test_the_drawing_of_a_slot_covers_none_of_its_buttons(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        page.begin(server.url)
        for size in SIZES:
            set_size(page, size)
            for item in ("matrix_band", "mouth_mirror", "bur_330"):
                page.pick(item)
                drawn = page.page.eval_on_selector(
                    "#slot-picture svg",
                    """svg => {
                        const over = (a, b) => a.left < b.right && b.left < a.right
                            && a.top < b.bottom && b.top < a.bottom;
                        const box = svg.getBoundingClientRect();
                        const dialog = document.getElementById('slot-dialog');
                        const others = [...dialog.querySelectorAll('h2, p, a, button, summary')];
                        return {
                            height: box.height,
                            covers: others.filter(o => over(box, o.getBoundingClientRect()))
                                .map(o => o.textContent),
                            scrolls: dialog.scrollHeight > dialog.clientHeight + 1,
                        };
                    }""",
                )
                assert drawn["covers"] == [] and drawn["height"] >= 64, (size, item)
                assert not drawn["scrolls"] or size == "phone"
                page.page.click("#slot-dialog .close")


def test_a_closed_session_says_so_and_its_report_can_be_read_and_opened(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url)
        end(server, session)
        page.page.wait_for_selector("#stage[data-kind=closed]")
        assert "This session is closed" in page.page.inner_text("#stage")
        for theme in THEMES:
            set_theme(page, theme)
            assert contrast(page, "#stage h2, #stage a") >= LEAST_CONTRAST, theme
        page.page.click("#stage a >> text=Its report")
        page.page.wait_for_url(f"**/sessions/{session}")


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_a_session_that_closes_and_a_lost_connection_move_no_slot(server: Server, size: str) -> None:
    with browser() as context:
        page = Page(context)
        set_size(page, size)
        session = page.begin(server.url)
        before = page.page.eval_on_selector_all(".slot", SLOTS)
        end(server, session)
        page.page.wait_for_selector("#stage[data-kind=closed]")
        assert page.page.eval_on_selector_all(".slot", SLOTS) == before
        server.stop()
        page.page.wait_for_selector("#lost:not([hidden])")
        assert page.page.eval_on_selector_all(".slot", SLOTS) == before
        for theme in THEMES:
            set_theme(page, theme)
            assert contrast(page, "#lost") >= LEAST_CONTRAST, theme
        cut = "e => [e.scrollWidth > e.clientWidth, e.scrollHeight > e.clientHeight]"
        assert page.page.eval_on_selector("#lost", cut) == [False, False]
        server.start()
