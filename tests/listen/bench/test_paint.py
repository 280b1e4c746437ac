"""First paint of pages: the figures, and a page whose height and smallest text are known."""

from __future__ import annotations

import pytest

from tests.listen.web.browser import browser, need_browser

paint = pytest.importorskip(
    "listen.bench.paint", reason="needs pip install -e '.[bench]'", exc_type=ImportError
)

PAGE = """<!doctype html><style>body { margin: 0; font-size: 20px } .box { height: 1500px }
small { font-size: 13px } .hidden-text, [hidden] { font-size: 5px }</style>
<div class=box>large <small>small</small><b class=hidden-text>tiny</b><b hidden>tiny</b>
<svg><text font-size=4>drawn</text></svg></div>"""


def test_the_median_counts_and_the_chair_is_held_against_its_goal() -> None:
    found = [
        paint.Painted("chair", "/chair/1", (400.0, 310.0, 350.0), 800, 16.0),
        paint.Painted("items", "/items", (90.0, 110.0, 100.0), 5398, 15.2),
    ]
    text = paint.table(found, "idle")
    assert text.startswith("idle\n")
    assert "350 ms" in text and "400 ms" in text and "5398 px" in text and "15.2 px" in text
    assert "after 350 ms; the goal is at most 300 ms" in text
    assert paint.counts(found)["items"] == {
        "first_paint_ms": 100,
        "height_px": 5398,
        "smallest_text_px": 15.2,
    }
    assert found[1].as_json()["loads_ms"] == [90.0, 110.0, 100.0]


@pytest.mark.slow
def test_a_page_is_loaded_so_often_and_its_text_measured() -> None:
    need_browser()
    with browser() as context:
        context.route(
            "http://127.0.0.1:1/**", lambda route: route.fulfill(body=PAGE, content_type="text/html")
        )
        (seen,) = paint.measured(context, "http://127.0.0.1:1", {"one": "/one"}, 3)
    assert (seen.page, seen.path, seen.height_px, seen.smallest_px) == ("one", "/one", 1500, 13.0)
    assert len(seen.first_ms) == 3 and min(seen.first_ms) > 0
