"""When each page first shows something, and how tall and how small its text is, in a real Chromium.

A browser's context and the address of a running `traycall screen` come in; `furnish` does a little there,
as people would, and gives the pages; `measured` loads each some times. Every trainee and every answer is
made up.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from listen.bench import load
from listen.practice.facts import facts_beside
from listen.practice.topics import Drill
from vocab.pack.load import open_pack

CODE = "made-up-code"
"""The lead's pass code, and the code of the trainee."""
ANSWERS, TRAINEES = 600, 8
PROCEDURE, ITEM, NEW_NAME = "composite_class_two", "cotton_pliers", "pocket grabbers"
REQUESTS = ("could I have the mirror", "cotton pliers", "spoon excavator")
GOAL_MS = 300
"""Until the chair screen first shows something, on an idle machine."""
SIZE: Any = {"width": 1280, "height": 800}
HEARS_MS = 300_000
"""Longest time until the engine hears; what it loads before would slow the first pages."""

_FIRST_MS = """() => new Promise((resolve) =>
  new PerformanceObserver((list, self) => {
    const first = list.getEntriesByName("first-contentful-paint")[0];
    if (!first) return;
    self.disconnect();
    resolve(first.startTime);
  }).observe({type: "paint", buffered: true}))"""
_LOOK = """() => {
  const words = [...document.querySelectorAll("body *")].filter((one) =>
    !one.closest("svg, script, .hidden-text, .skip") && one.checkVisibility({visibilityProperty: true})
    && [...one.childNodes].some((node) => node.nodeType === Node.TEXT_NODE && node.textContent.trim()));
  const sizes = words.map((one) => parseFloat(getComputedStyle(one).fontSize));
  return [document.documentElement.scrollHeight, Math.min(...sizes)];
}"""


@dataclass(frozen=True)
class Painted:
    """A page. first_ms: first contentful paint of each load, in ms; height_px, smallest_px: how tall it is
    and its smallest text, in CSS pixels at 1280 by 800."""

    page: str
    path: str
    first_ms: tuple[float, ...]
    height_px: int
    smallest_px: float

    @property
    def median_ms(self) -> int:
        """Of all loads."""
        return round(statistics.median(self.first_ms))

    def as_json(self) -> dict[str, object]:
        """What `--json` prints; `first_paint_ms` is the median."""
        return {
            "page": self.page,
            "path": self.path,
            "first_paint_ms": self.median_ms,
            "loads_ms": [round(ms, 1) for ms in self.first_ms],
            "height_px": self.height_px,
            "smallest_text_px": self.smallest_px,
        }


def practised(data: Path) -> None:
    """Put the answers of a few simulated trainees into a new data folder."""
    pack = open_pack("operative")
    data.mkdir(parents=True, exist_ok=True)
    facts = facts_beside("operative", pack)
    load.simulated_store(data / "practice.sqlite", pack, facts, ANSWERS, TRAINEES, 1)


def furnish(context: Any, address: str, drills: Sequence[Drill] = (Drill.NAME,)) -> dict[str, str]:
    """Hold one session to its end and begin another, save a name, and sit down to drills.

    Args:
        context: a browser's, which is signed in afterwards; the server has `CODE` as the lead's pass code,
            and what `practised` makes.

    Returns:
        Every kind of page: its path by what it is called.
    """

    def post(path: str, **form: str) -> str:
        sent = context.request.post(f"{address}{path}", form=form, headers={"origin": address})
        return str(sent.url).removeprefix(address)

    page = context.new_page()
    over = post("/start", procedure=PROCEDURE)
    _ask(page, f"{address}{over}", REQUESTS)
    report = post(f"{over}/end", by="Dr. Grey", reason="only a trial")
    chair = post("/start", procedure=PROCEDURE, latex_free="yes")
    _ask(page, f"{address}{chair}", REQUESTS[:1])
    post("/edit/enter", name="Kim", code=CODE)
    page.goto(f"{address}/edit/items/{ITEM}/name")
    page.fill("input[name=name]", NEW_NAME)
    page.click("text=Add the name")
    page.wait_for_selector("[data-saved]")
    page.close()
    post("/practice/faculty/enter", code=CODE)
    post("/practice/enter", trainee="Trainee 001", code=CODE, again=CODE)
    seats = {drill: post("/practice", procedure=PROCEDURE, minutes="10", drill=drill) for drill in drills}
    _answer(context, f"{address}{post('/practice', procedure=PROCEDURE, minutes='10', drill=Drill.NAME)}")
    trainee = f"trainee=Trainee+001&procedure={PROCEDURE}"
    return {
        "start": "/",
        "set-up": f"{chair}/setup",
        "chair": chair,
        "count": f"{chair}/count",
        "pick list": f"/procedures/{PROCEDURE}/pick",
        "pick list of a session": f"{chair}/pick",
        "turn-over": f"/procedures/{PROCEDURE}/turn-over",
        "turn-over after a session": f"{report}/turn-over",
        "restocking": f"{report}/restock",
        "restocking, a day": "/sessions/restock",
        "sessions": "/sessions",
        "report": report,
        "learning": "/sessions/learning",
        "voice check": "/voice-check",
        "recordings": "/voice-check/recordings",
        "items": "/items",
        "item": f"/items/{ITEM}",
        "find": "/find?q=burnisher",
        "find, nothing": "/find?q=flux+capacitor",
        "trays": "/trays",
        "tray": f"/trays/{PROCEDURE}",
        "practice start": "/practice",
        **{f"drill: {drill}": path for drill, path in seats.items()},
        **_rehearsal(context, address),
        "progress": f"/practice/progress?procedure={PROCEDURE}",
        "class": "/practice/faculty",
        "hardest items": "/practice/faculty/items",
        "hardest names": "/practice/faculty/names",
        "names nobody knows": "/practice/faculty/unknown",
        "fair comparison": "/practice/faculty/ability",
        "mixed up": "/practice/faculty/mixed",
        "objections": "/practice/faculty/objections",
        "trainee": f"/practice/faculty/trainee?{trainee}",
        "sign-off": f"/practice/faculty/sheet?{trainee}",
        "data": "/practice/faculty/data",
        "delete a trainee": f"/practice/faculty/remove?{trainee}",
        "vocabulary": "/edit",
        "edit an item": f"/edit/items/{ITEM}",
        "add a name": f"/edit/items/{ITEM}/name",
        "add a photograph": f"/edit/items/{ITEM}/photograph",
        "where it is kept": f"/edit/kept?things=kit%3Adam_kit&back=/procedures/{PROCEDURE}/pick",
        "ask which of two": f"/edit/ask-back?item={ITEM}&other=articulating_forceps",
        "new item": "/edit/new",
        "edit a tray": f"/edit/trays/{PROCEDURE}",
        "edit the steps": f"/edit/procedures/{PROCEDURE}",
        "names to look over": "/edit/risks",
        "history": "/edit/history",
        "import": "/edit/import",
        "setting up the clinic": "/edit/first-hour",
        "what is done here": "/edit/procedures",
        "how a tray lies": f"/edit/trays/{PROCEDURE}/lay",
        "what things are called": "/edit/names",
        "unknown words": "/edit/unknown",
        "who is editing": "/edit/enter",
        "log-in": "/practice/faculty/enter",
        "error": "/nowhere",
    }


def _rehearsal(context: Any, address: str) -> dict[str, str]:
    """The pages of a rehearsal, one of which is over; only the first where no voice is installed."""
    home = "/practice/rehearsal"
    form = {"procedure": PROCEDURE, "minutes": "3", "level": "1"}
    headers = {"origin": address}
    begun = [context.request.post(f"{address}{home}", form=form, headers=headers) for _ in range(2)]
    if not all(one.ok for one in begun):
        return {"rehearsal": home}
    over, running = (str(one.url) for one in begun)
    line = context.request.get(f"{over}/now").json()["number"]
    done = {"number": line, "token": "made-up-1", "kind": "silence"}
    context.request.post(f"{over}/done", data=done, headers=headers)
    context.request.post(f"{over}/stop", data={}, headers=headers)
    kept = context.request.post(f"{over}/count", data={"answers": {}}, headers=headers).json()["record"]
    return {
        "rehearsal": home,
        "rehearsing": running.removeprefix(address),
        "rehearsal, timeline": f"{home}/record/{kept}",
    }


def _ask(page: Any, chair: str, requests: Sequence[str]) -> None:
    page.goto(chair)
    page.wait_for_selector("body[data-ready]")
    page.wait_for_selector("#ear:not(:text-is('hearing is starting'))", state="attached", timeout=HEARS_MS)
    for request in requests:
        page.fill("#text", request)
        page.press("#text", "Enter")
        page.wait_for_selector(".slot[data-lit]")


def _answer(context: Any, place: str) -> None:
    number = context.request.get(f"{place}/now").json()["number"]
    wish = {"number": number, "token": "made-up", "kind": "text", "value": "I don't know"}
    origin = place.partition("/practice")[0]
    context.request.post(f"{place}/answer", data=wish, headers={"origin": origin})


def measured(context: Any, address: str, pages: Mapping[str, str], loads: int) -> Iterator[Painted]:
    """Load each page so many times, each time in a new tab of 1280 by 800; static files are cached."""
    for name, path in pages.items():
        first_ms = []
        for _ in range(loads):
            page = context.new_page()
            page.set_viewport_size(SIZE)
            page.goto(f"{address}{path}")
            first_ms.append(float(page.evaluate(_FIRST_MS)))
            if len(first_ms) == loads:
                page.wait_for_load_state("networkidle")
                height, smallest = page.evaluate(_LOOK)
            page.close()
        yield Painted(name, path, tuple(first_ms), int(height), round(float(smallest), 1))


def counts(found: Sequence[Painted]) -> dict[str, dict[str, float]]:
    """What is kept for the model card, by page."""
    return {
        one.page: {
            "first_paint_ms": one.median_ms,
            "height_px": one.height_px,
            "smallest_text_px": one.smallest_px,
        }
        for one in found
    }


def table(found: Sequence[Painted], about: str) -> str:
    """The figures as lines of text."""
    lines = [about, f"{'':24}{'first paint':>14}{'longest':>10}{'height':>11}{'smallest text':>16}"]
    for one in found:
        lines.append(
            f"{one.page:24}{one.median_ms:11} ms{max(one.first_ms):7.0f} ms{one.height_px:8} px"
            f"{one.smallest_px:13.1f} px"
        )
    every = statistics.median([one.median_ms for one in found]) if found else math.nan
    lines.append(f"{'median of all pages':24}{every:11.0f} ms")
    lines += [
        f"The chair first shows something after {one.median_ms} ms; "
        f"the goal is at most {GOAL_MS} ms on an idle machine."
        for one in found
        if one.page == "chair"
    ]
    return "\n".join(lines)
