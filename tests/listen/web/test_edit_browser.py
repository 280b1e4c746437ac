"""The editor in a real Chromium: a synonym is added and understood without a restart; trays; steps; voice."""

from __future__ import annotations

import io
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import soxr
import uvicorn

from listen.chair import ChairOptions, open_chair
from listen.engine import Engine
from listen.speech import replies
from listen.web import ServerSettings, create_app
from listen.web.edit import pages as edit
from tests.listen.web.browser import GAP_S, LEAD_S, RATE_HZ, Page, browser, need_browser
from tests.listen.web.desk_app import StandIn
from vocab.pack.load import shipped_pack

pytestmark = pytest.mark.slow

NEW, ITEM = "pocket grabbers", "cotton_pliers"
PROCEDURE = "composite_class_two"
DRAWN = """names => {
  const slots = [...document.querySelectorAll(".slot")];
  return names.every((name, i) => slots[i].dataset.name === name);
}"""
GOAL_MS = 60_000
"""A synonym that is added must be understood within this time."""


@pytest.fixture(scope="module", autouse=True)
def _browser_is_there() -> None:
    need_browser()


@contextmanager
def editor(folder: Path, engine: Engine | None = None) -> Iterator[str]:
    """A running app with the editor, its layers in `folder`; its own engine where none is given."""
    chair = open_chair(ChairOptions(procedure=PROCEDURE, layers=folder / "layers"))
    load = (lambda: engine) if engine is not None else None
    app = create_app(
        lambda: chair, ServerSettings(data=folder / "data"), load, edit.routes(), (edit.LINK,)
    )  # fmt: skip
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    config = uvicorn.Config(
        app, "127.0.0.1", port, log_level="error", ws="websockets-sansio", timeout_graceful_shutdown=1
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started and thread.is_alive():
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(20)


def spoken_file(folder: Path, text: str) -> Path:
    """A text said by an offline voice, as a microphone; skips where no voice is installed."""
    wav = replies.speech(text)
    if wav is None:
        pytest.skip("no voice is installed (apt install espeak-ng)")
    samples, rate_hz = soundfile.read(io.BytesIO(wav), dtype="float32")
    said = soxr.resample(samples, rate_hz, RATE_HZ)
    before, after = (np.zeros(round(RATE_HZ * s), np.float32) for s in (LEAD_S, 2 * GAP_S))
    path = folder / "said.wav"
    soundfile.write(path, np.concatenate([before, 0.5 * said, after]), RATE_HZ, subtype="PCM_16")
    return path


def enter(page: Any, url: str, name: str = "Kim") -> None:
    """Say who edits, as a person does."""
    page.goto(f"{url}/edit")
    page.click(".who a.button")
    page.fill("input[name=name]", name)
    page.press("input[name=name]", "Enter")
    page.wait_for_selector("text=You are editing as")


@pytest.mark.slow
def test_a_synonym_is_understood_typed_and_spoken_without_a_restart(tmp_path: Path) -> None:
    sound = spoken_file(tmp_path, f"Can I have the {NEW}, please?")
    with editor(tmp_path) as url, browser(sound) as context:
        chair, lead = Page(context), Page(context)
        chair.begin(url)
        chair.ask(f"can I have the {NEW}")
        chair.page.wait_for_selector("#stage[data-kind=note]")

        enter(lead.page, url)
        lead.page.fill(".big-find input", "pickups")
        lead.page.press(".big-find input", "Enter")
        lead.page.fill(".add-name [name=name]", NEW)
        lead.page.wait_for_selector(".add-name .lint .finding")
        lead.page.click("text=Add the name")
        lead.page.wait_for_selector("[data-saved]")

        chair.ask(f"can I have the {NEW}")
        chair.wait_lit(ITEM, GOAL_MS / 1000)
        lead.page.wait_for_selector("text=Understood at once, typed and spoken.", timeout=GOAL_MS)

        chair.ask("mouth mirror")
        chair.wait_lit("mouth_mirror")
        chair.page.bring_to_front()
        chair.page.click("body", position={"x": 5, "y": 5})
        chair.open_microphone()
        chair.wait_lit(ITEM, GOAL_MS / 1000)
        assert chair.complaints == [] and lead.complaints == []


@pytest.mark.slow
def test_a_new_name_is_tried_by_voice_before_it_is_saved(tmp_path: Path) -> None:
    sound = spoken_file(tmp_path, NEW)
    with editor(tmp_path) as url, browser(sound) as context:
        lead = Page(context)
        enter(lead.page, url)
        lead.page.goto(f"{url}/edit/items/{ITEM}")
        lead.page.fill(".add-name [name=name]", NEW)
        lead.page.click("[data-speak]")
        lead.page.wait_for_selector(".spoken .finding >> nth=1", timeout=GOAL_MS)
        told = lead.page.inner_text(".spoken")
        assert "The engine wrote" in told and "would be understood" in told
        assert lead.complaints == []


@pytest.mark.slow
def test_a_tray_is_laid_out_by_keyboard_and_by_dragging(tmp_path: Path) -> None:
    with editor(tmp_path, StandIn()) as url, browser() as context:
        chair, lead = Page(context), Page(context)
        chair.begin(url)
        enter(lead.page, url)
        lead.page.goto(f"{url}/edit/trays/{PROCEDURE}")
        names = "all => all.slice(0, 3).map(s => s.dataset.name)"
        one, two, three = lead.page.eval_on_selector_all(".slot", names)
        lead.page.focus(".slot >> nth=0")
        for key in ("Enter", "ArrowRight"):
            lead.page.keyboard.press(key)
        with lead.page.expect_navigation():
            lead.page.keyboard.press("Enter")
        assert lead.page.eval_on_selector_all(".slot", names) == [two, one, three]
        assert lead.page.evaluate("document.activeElement.dataset.name") == one
        with lead.page.expect_navigation():
            lead.page.keyboard.press("Alt+ArrowRight")
        assert lead.page.eval_on_selector_all(".slot", names) == [two, three, one]
        with lead.page.expect_navigation():
            lead.page.drag_and_drop(".slot >> nth=0", ".slot >> nth=2")
        assert lead.page.eval_on_selector_all(".slot", names) == [one, three, two]
        chair.page.wait_for_function(DRAWN, arg=[one, three, two])
        assert lead.complaints == []


def test_kits_of_a_tray_are_lines_that_open_and_stay_open(tmp_path: Path) -> None:
    with editor(tmp_path, StandIn()) as url, browser() as context:
        lead = Page(context)
        enter(lead.page, url)
        lead.page.goto(f"{url}/edit/trays/{PROCEDURE}")
        assert lead.page.evaluate("document.documentElement.scrollHeight") < 2500
        shown = "all => all.filter(s => s.checkVisibility()).map(s => s.dataset.name)"
        rows = lead.page.eval_on_selector_all(".slot", shown)
        lead.page.focus(".slot >> nth=0")
        lead.page.keyboard.press("End")
        assert lead.page.evaluate("document.activeElement.dataset.name") == rows[-1]
        kit = lead.page.locator("[data-kit] >> nth=0")
        kit.locator("summary").click()
        one, two = kit.locator(".slot").evaluate_all("all => all.slice(0, 2).map(s => s.dataset.name)")
        kit.locator(".slot >> nth=0").click()
        with lead.page.expect_navigation():
            kit.locator(".slot >> nth=1").click()
        assert kit.locator(".slot").evaluate_all("all => all.slice(0, 2).map(s => s.dataset.name)") == [
            two,
            one,
        ]
        assert lead.page.evaluate("document.activeElement.dataset.name") == one
        assert lead.page.locator("[data-kit][open]").count() == 1
        assert lead.complaints == []


def test_what_is_changed_of_an_item_is_folded_to_a_line_that_says_how_it_is(tmp_path: Path) -> None:
    with editor(tmp_path, StandIn()) as url, browser() as context:
        lead = Page(context)
        enter(lead.page, url)
        lead.page.goto(f"{url}/edit/items/dam_clamp")
        assert lead.page.is_visible(".add-name [name=name]")
        line = lead.page.locator("summary:has-text('Sizes or patterns')")
        assert "W8A" in line.inner_text() and not lead.page.is_visible("[name=variants]")
        line.click()
        assert "W8A" in lead.page.input_value("[name=variants]")


def test_a_slot_that_is_taken_up_opens_its_form_for_the_keyboard(tmp_path: Path) -> None:
    with editor(tmp_path, StandIn()) as url, browser() as context:
        lead = Page(context)
        enter(lead.page, url)
        lead.page.goto(f"{url}/edit/trays/{PROCEDURE}")
        lead.page.focus(".slot >> nth=3")
        at, name = lead.page.eval_on_selector(".slot >> nth=3", "s => [s.dataset.at, s.dataset.name]")
        lead.page.keyboard.press("Enter")
        lead.page.wait_for_selector("[data-chosen]")
        assert lead.page.input_value("[data-slot-form] [name=item]") == name
        box = lead.page.locator("[data-slot-form]").bounding_box()
        assert box is not None and box["y"] >= 0 and box["y"] + box["height"] <= 800  # in view
        lead.page.keyboard.press("Tab")
        assert lead.page.evaluate("document.activeElement.name") == "item"
        lead.page.keyboard.press("Escape")
        assert lead.page.evaluate("document.activeElement.dataset.at") == at
        assert not lead.page.is_visible("[data-chosen]")
        for key in ("Enter", "Tab", "Tab", "2"):
            lead.page.keyboard.press(key)
        with lead.page.expect_navigation():
            lead.page.keyboard.press("Enter")
        assert lead.page.evaluate("document.activeElement.dataset.at") == at
        assert lead.page.get_attribute(".slot >> nth=3", "data-count") == "2"
        lead.page.keyboard.press("Enter")
        with lead.page.expect_navigation():
            lead.page.click("[data-take-off]")
        assert lead.page.eval_on_selector_all(".slot", "all => all.map(s => s.dataset.at)").count(at) == 0
        assert lead.complaints == []


def test_steps_are_folded_lines_that_open_and_move_by_keyboard(tmp_path: Path) -> None:
    with editor(tmp_path, StandIn()) as url, browser() as context:
        lead = Page(context)
        enter(lead.page, url)
        lead.page.goto(f"{url}/edit/procedures/{PROCEDURE}")
        assert lead.page.evaluate("document.documentElement.scrollHeight") < 2500
        first = shipped_pack("operative").procedure(PROCEDURE).steps[0]
        lead.page.focus(".step-open >> nth=0")
        lead.page.keyboard.press("Enter")
        assert lead.page.locator(".asked > div").count() == len(first.items)
        lead.page.keyboard.press("Alt+ArrowDown")
        assert first.name in lead.page.evaluate("document.activeElement.innerText")
        assert first.name in lead.page.inner_text(".step-open >> nth=1")
        lead.page.drag_and_drop(".grip >> nth=1", ".grip >> nth=0")
        assert first.name in lead.page.inner_text(".step-open >> nth=0")
        assert lead.complaints == []


def test_steps_are_changed_and_the_foretold_order_is_shown_first(tmp_path: Path) -> None:
    with editor(tmp_path, StandIn()) as url, browser() as context:
        lead = Page(context)
        enter(lead.page, url)
        lead.page.goto(f"{url}/edit/procedures/{PROCEDURE}")
        first = shipped_pack("operative").procedure(PROCEDURE).steps[0].name
        lead.page.click(f"[aria-label='{first}: later']")
        lead.page.wait_for_selector("[data-after] li")
        now, after = lead.page.inner_text("[data-before]"), lead.page.inner_text("[data-after]")
        assert now != after
        lead.page.click("[data-save]:enabled")
        lead.page.wait_for_selector("[data-saved]")
        assert first in lead.page.inner_text(".step-open >> nth=1")
        assert lead.page.inner_text("[data-before]") == after
        assert lead.complaints == []
