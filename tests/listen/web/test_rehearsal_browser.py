"""A rehearsal in a real Chromium: by touch, by keys and by voice; nothing asked for is on the page before."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import soxr

from listen.chair import ChairOptions, open_chair
from listen.practice.choices import FETCH
from listen.practice.places import PracticeOptions
from listen.practice.rehearsal.running import whereabouts
from listen.practice.rehearsal.script import Line
from listen.practice.rehearsal.seats import Seat
from listen.practice.rehearsal.sound import can_speak
from listen.speech import voices
from listen.web import create_app
from listen.web.practice import pages as practice
from tests.listen.web.browser import RATE_HZ, Page, Server, axe_finds, browser, need_browser, served
from tests.listen.web.desk_app import StandIn
from tests.listen.web.test_practice_browser import enter

pytestmark = pytest.mark.slow

HOME = "/practice/rehearsal"


@pytest.fixture(scope="module", autouse=True)
def _browser_and_voices_are_there() -> None:
    need_browser()
    if not voices.available(formant=True):
        pytest.skip("no voice is installed: apt install flite espeak-ng")


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """The app with the practice pages."""
    more = {"more_routes": practice.routes(PracticeOptions(seed=1)), "more_links": practice.links()}
    monkeypatch.setattr("tests.listen.web.browser.create_app", partial(create_app, **more))
    with served(tmp_path / "data", StandIn()) as server:
        yield server


@pytest.fixture
def spanish(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """The same with a Spanish vocabulary beside the English one."""
    more = {"more_routes": practice.routes(PracticeOptions(seed=1)), "more_links": practice.links()}
    monkeypatch.setattr("tests.listen.web.browser.create_app", partial(create_app, **more))
    further = (open_chair(ChairOptions("operativa_es")),)
    with served(tmp_path / "data", StandIn(), further=further) as server:
        yield server


class Trainee:
    """Somebody at the page of a rehearsal, who knows what is wanted from the server alone."""

    def __init__(self, context: Any, server: Server, level: int, procedure: str = "examination") -> None:
        self.server, self.console = server, Page(context)
        self.page = self.console.page
        self.received: list[str] = []
        self.page.goto(f"{server.url}/practice")
        enter(self.console)
        self.page.wait_for_selector("#continue", timeout=90_000)
        self.page.click(f"a[href='{HOME}']")
        self.page.wait_for_selector("#procedure option", state="attached")
        self.page.select_option("#procedure", value=self.value_of(procedure))
        self.page.check(f"input[name=level][value='{level}']")
        self.page.select_option("select[name=minutes]", "3")
        self.page.on("response", self._note)
        self.page.click("#go")
        self.page.wait_for_selector("body.rehearsing")

    def value_of(self, procedure: str) -> str:
        every = "all => all.map(one => one.value)"
        values: list[str] = self.page.eval_on_selector_all("#procedure option", every)
        return next(value for value in values if value.endswith(procedure))

    def _note(self, response: Any) -> None:
        self.received.append(response.url)
        if "json" in response.headers.get("content-type", ""):
            with suppress(Exception):  # the page it was for has gone
                self.received.append(response.text())

    @property
    def seat(self) -> Seat:
        *_, seat = self.server.app.state.rehearsals._seats.values()
        return seat  # type: ignore[no-any-return]

    def start(self) -> None:
        self.page.click("#go")
        self.page.wait_for_selector("body[data-state=listening]", timeout=60_000)

    @property
    def line(self) -> Line:
        assert self.seat.rehearsal.line is not None
        return self.seat.rehearsal.line

    def is_written(self, line: Line) -> list[str]:
        """What of a line the page shows, holds or was sent, but for names that earlier lines have told."""
        everything = self.page.content().casefold() + "".join(self.received).casefold()
        told = " ".join(played["told"] for played in self.seat._played().timeline["lines"]).casefold()
        name = line.question.asked_name or ""
        asked = [line.said, *([name] if name and name.casefold() not in told else [])]
        return [text for text in asked if text.casefold() in everything]

    def next_line(self, number: int) -> None:
        """Wait until line `number` is done and the next one has been spoken, or all are."""
        self.page.wait_for_selector(
            f"body[data-state=listening]:has(#progress:not(:text-is('· {number} of {self.of}'))), "
            "body[data-state=count]",
            timeout=60_000,
        )

    @property
    def of(self) -> int:
        return len(self.seat.rehearsal.script.lines)

    def touch(self, at: str) -> None:
        if at == FETCH.id:
            self.page.click("#fetch")
            return
        slot = self.page.locator(f".slot[data-at='{at}']").first
        if not slot.is_visible():
            self.page.locator(f".kit:has(.slot[data-at='{at}']) .box").first.click()
        slot.click()

    def keys(self, at: str) -> None:
        self.page.focus("#text")
        self.page.keyboard.type(at)
        self.page.keyboard.press("Enter")

    def count(self) -> None:
        """Say of each item where it is."""
        self.page.wait_for_selector("#ending:not([hidden]), .record")
        if not self.seat.rehearsal.to_count():  # nothing is out, and the timeline comes at once
            return
        for item in self.seat.rehearsal.to_count():
            where = whereabouts(self.seat.rehearsal.state.of(item))[0]
            self.page.check(f"#counted input[name='{item}'][value='{where}']")
        self.page.click("#counted-all")
        self.page.wait_for_selector(".record")

    def timeline(self) -> dict[str, Any]:
        found = self.page.request.get(f"{self.page.url}.json")
        assert found.status == 200
        return dict(json.loads(found.text()))


def store_of(server: Server) -> Any:
    return server.app.state.practice.store


def test_a_rehearsal_by_touch_from_start_to_timeline(server: Server) -> None:
    with browser(has_touch=True) as context:
        ann = Trainee(context, server, level=1)
        before = ann.page.locator("#tray").bounding_box()
        ann.start()
        for _ in range(4):
            number, line = ann.seat.rehearsal.number, ann.line
            if line.asks:
                assert ann.is_written(line) == []
                ann.touch(line.question.right[0])
                assert line.question.asked_name is not None
                ann.page.wait_for_selector(f'#told[data-came=right]:has-text("{line.question.asked_name}")')
            assert ann.page.locator("#tray").bounding_box() == before  # nothing moves under a finger
            ann.next_line(number)
        ann.page.click("#stop")
        ann.count()
        told = ann.timeline()
        lines = told["lines"]
        assert len(lines) == 4 and told["level"] == 1 and told["procedure"] == "examination"
        asked = [one for one in lines if one["kind"] != "note"]
        assert all(one["came"] == "right" and one["response_s"] > 0 for one in asked)
        assert [one["at_s"] for one in lines] == sorted(one["at_s"] for one in lines)
        assert all(one["right"] for one in told["count"])
        shown = ann.page.inner_text("main")
        assert f"{len(asked)} of {len(asked)}" in shown and all(one["said"] in shown for one in lines)
        ann.page.goto(f"{server.url}{HOME}")
        assert ann.page.locator("table a").count() == 1
        assert ann.console.complaints == []
    answers = [review.answer for review in store_of(server).reviews("Ann")]
    stored = [one for one in lines if one["kind"] in ("request", "correction")]
    assert [answer.topic.split(":")[2] for answer in answers] == [one["item"] for one in stored]
    assert all(answer.right and answer.by == "touch" and answer.response_s for answer in answers)


def test_a_rehearsal_by_keys_with_a_wrong_one_a_slow_one_and_a_false_alarm(server: Server) -> None:
    with browser() as context:
        ann = Trainee(context, server, level=5, procedure="composite_class_two")
        ann.page.wait_for_selector("#go:focus")
        ann.page.keyboard.press("Enter")
        ann.page.wait_for_selector("body[data-state=listening]", timeout=60_000)
        wanted = {"wrong", "too slow", "false alarm"}
        came: list[str] = []
        while wanted - set(came):
            number, line = ann.seat.rehearsal.number, ann.line
            if line.taken_back or (not line.asks and "false alarm" in came):
                ann.next_line(number)
                continue
            assert not line.asks or ann.is_written(line) == []
            if not line.asks:
                ann.keys("1")
            elif "wrong" not in came:
                ann.keys("2" if "1" in line.question.right else "1")
            elif "too slow" in came:
                at = line.question.right[0]
                (ann.touch if at == FETCH.id else ann.keys)(at)
            ann.page.wait_for_selector("#told[data-came]:not([data-came=''])")
            ann.next_line(number)
            came = [str(entry.came) for entry in ann.seat.rehearsal.entries]
        ann.page.click("#stop")
        ann.count()
        told = ann.timeline()
        assert wanted <= {line["came"] for line in told["lines"]}
        slow = next(line for line in told["lines"] if line["came"] == "too slow")
        assert slow["chosen"] is None and slow["response_s"] == pytest.approx(6.0)
        assert ann.console.complaints == []
    (kept,) = [played for _, played in store_of(server).rehearsals("Ann")]
    assert kept.false_alarms == 1 and kept.slow == 1 and kept.wrong >= 1


def test_a_spanish_one_is_touched_and_told_in_spanish(spanish: Server) -> None:
    if not can_speak("es"):
        pytest.skip("no Spanish voice is installed: apt install espeak-ng")
    with browser(has_touch=True) as context:
        ann = Trainee(context, spanish, level=1, procedure="operativa_es/examen")
        assert not ann.page.is_visible("#mic") and "inglés" in ann.page.inner_text("#ear")
        ann.start()
        number, line = ann.seat.rehearsal.number, ann.line
        while not line.asks:
            ann.next_line(number)
            number, line = ann.seat.rehearsal.number, ann.line
        assert ann.is_written(line) == []
        ann.touch(line.question.right[0])
        ann.page.wait_for_selector("#told[data-came=right]:has-text('correcto')")
        ann.page.click("#stop")
        ann.page.wait_for_selector("#ending:not([hidden]), .record")
        for item in ann.seat.rehearsal.to_count():
            ann.page.check(f"#counted input[name='{item}'][value='todavía con el dentista']")
        if ann.seat.rehearsal.to_count():
            ann.page.click("#counted-all")
        ann.page.wait_for_selector(".record")
        assert line.said in ann.page.inner_text("main [lang=es] .record")
        assert ann.console.complaints == []


def test_said_again_it_is_the_same_line_and_counts_as_asked_again(server: Server) -> None:
    with browser() as context:
        ann = Trainee(context, server, level=1)
        ann.start()
        number, line = ann.seat.rehearsal.number, ann.line
        with ann.page.expect_response(lambda reply: "/say?" in reply.url) as spoken:
            ann.page.click("#again")
        assert spoken.value.status == 200 and spoken.value.url.endswith(f"/say?n={number}")
        ann.page.wait_for_selector("body[data-state=listening]")
        ann.touch(line.question.right[0])
        ann.page.wait_for_selector("#told[data-came=right]")
        assert ann.seat.rehearsal.entries[0].again == 1
        (answer,) = [review.answer for review in store_of(server).reviews("Ann")]
        assert answer.unsure and answer.rating == 2


def numbers(folder: Path, *spoken: str) -> Path:
    """Slots said aloud one after the other, as a microphone."""
    voice = voices.available(formant=True)[0]
    parts = [np.zeros(round(2.5 * RATE_HZ), np.float32)]
    for text in spoken:
        said = voices.synthesize(voice, text)
        parts += [soxr.resample(said, 16_000, RATE_HZ), np.zeros(round(1.5 * RATE_HZ), np.float32)]
    path = folder / "microphone.wav"
    soundfile.write(path, np.concatenate(parts), RATE_HZ, subtype="PCM_16")
    return path


def test_a_slot_is_said_aloud(server: Server, tmp_path: Path) -> None:
    """One slot is said over and over, until a request for it is met; the others are touched."""
    with browser(numbers(tmp_path, *["Slot one."] * 40)) as context:
        ann = Trainee(context, server, level=1)
        ann.start()
        while ann.line.question.right != ("1",):
            number = ann.seat.rehearsal.number
            if ann.line.asks:
                ann.touch(ann.line.question.right[0])
            ann.next_line(number)
        number = ann.seat.rehearsal.number
        ann.page.click("#mic")
        ann.page.wait_for_selector(f"#progress:not(:text-is('· {number} of {ann.of}'))", timeout=90_000)
        ann.page.click("#mic")
        entry = ann.seat.rehearsal.entries[number - 1]
        assert (entry.by, entry.choice, str(entry.came)) == ("voice", "1", "right")
        assert entry.response_s is not None and entry.response_s >= 0


def test_without_a_voice_nothing_is_written_instead(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("listen.practice.rehearsal.seats.can_speak", lambda language: False)
    with browser() as context:
        page = Page(context)
        page.page.goto(f"{server.url}/practice")
        enter(page)
        page.page.wait_for_selector("#continue")
        page.page.click(f"a[href='{HOME}']")
        assert "no voice is installed" in page.page.inner_text("[role=alert]")
        assert "espeak-ng" in page.page.inner_text("[role=alert]") and not page.page.is_visible("#go")
        answer = page.page.request.post(
            f"{server.url}{HOME}",
            form={"procedure": "examination", "minutes": "3", "level": "1"},
            headers={"origin": server.url},
        )
        assert answer.status == 400 and "no voice is installed" in answer.text()


def test_a_line_that_cannot_be_spoken_is_passed_over(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    with browser() as context:
        ann = Trainee(context, server, level=1)
        said = ann.seat.sound
        monkeypatch.setattr(ann.seat, "sound", lambda number: None if number == 1 else said(number))
        ann.start()
        assert str(ann.seat.rehearsal.entries[0].came) == "not heard" and ann.seat.rehearsal.number == 2


def test_a_rehearsal_is_its_trainees_own(server: Server) -> None:
    with browser() as context:
        ann = Trainee(context, server, level=1)
        ann.start()
        path = ann.page.url
        context.clear_cookies()
        ann.touch("1")
        ann.page.wait_for_selector("#problem:not([hidden])")
        assert "nly Ann can go on here" in ann.page.inner_text("#problem")
        assert ann.seat.rehearsal.entries == []
        assert ann.page.request.get(f"{path}/now").status == 403
        assert ann.page.request.get(f"{path}/say?n=1").status == 403
        store_of(server).keep("Ann", ann.seat._played())
        assert ann.page.request.get(f"{server.url}{HOME}/record/1.json").status == 403


def test_axe_finds_nothing_from_the_first_line_to_the_timeline(server: Server, axe: str) -> None:
    found: list[str] = []
    with browser(bypass_csp=True) as context:
        ann = Trainee(context, server, level=1)

        def look(where: str) -> None:
            found.extend(f"{where}, {one}" for one in axe_finds(ann.page, axe))

        look("before the start")
        ann.start()
        look("listening")
        number, line = ann.seat.rehearsal.number, ann.line
        ann.touch("3" if "3" not in line.question.right else "4")
        ann.page.wait_for_selector("#told[data-came=wrong]")
        look("told")
        ann.next_line(number)
        for _ in range(3):
            number, line = ann.seat.rehearsal.number, ann.line
            if line.asks:
                ann.touch(line.question.right[0])
            ann.next_line(number)
        ann.page.click("#stop")
        ann.page.wait_for_selector("#ending:not([hidden])")
        look("the count")
        ann.count()
        look("the timeline")
        assert found == [] and ann.console.complaints == []
