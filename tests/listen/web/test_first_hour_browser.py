"""A new lead's first hour in a real browser, step by step, with what each step costs in touches and keys.

Nine fields are served over an empty folder. The lead chooses twelve procedures of four fields, trims three
trays, adds two items of other fields, confirms all twelve trays, writes fifteen names, and prints the cards.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from listen.chair import ChairOptions, EngineName, open_chairs, vocabularies
from listen.web import create_app
from listen.web.edit import pages as edit
from tests.listen.web.browser import Page, Server, browser, need_browser
from tests.listen.web.desk_app import StandIn

pytestmark = pytest.mark.slow

CHOSEN = {
    "operative": ("examination", "composite_class_one", "composite_class_two"),
    "hygiene": ("prophylaxis", "scaling_and_root_planing", "fluoride_treatment"),
    "endodontics": ("root_canal_access", "root_canal_shaping", "root_canal_filling"),
    "oral_surgery": ("simple_extraction", "surgical_extraction", "suture_removal"),
}
TRIMMED = {"examination": 4, "composite_class_one": 6, "prophylaxis": 5}
"""How many places are taken off which trays."""
ADDED = {"composite_class_one": "sickle sc", "prophylaxis": "bone fi"}
"""What is typed to find an item of another field, by tray."""
NAMES = {
    "mouth_mirror": "looker",
    "perio_probe": "depth stick",
    "explorer_pigtail": "curly",
    "explorer_17_23": "double hook",
    "furcation_probe": "the bendy one",
    "cheek_retractor": "smile maker",
    "articulating_forceps": "paper grabber",
    "articulating_paper": "bite marks",
    "dental_floss": "stringy",
    "gauze_square": "wipe squares",
    "cotton_roll": "rollies",
    "locking_pliers": "lock tweezers",
    "bite_block": "prop it",
    "patient_bib": "bibby",
    "bib_clip": "bib necklace",
}
"""What people here say, by item."""


@dataclass
class Cost:
    """What a lead does: touches (each points at something), keys, and choices (each takes a thought)."""

    touches: int = 0
    keys: int = 0
    choices: int = 0

    def seconds(self) -> float:
        """An estimate by the keystroke-level model (Card, Moran and Newell, The Psychology of Human-Computer
        Interaction, 1983): 1.1 s to point and 0.28 s to press for a touch, 0.28 s for a key (40 words a
        minute), 1.35 s for each choice. The lead knows what the clinic does; reading and talk come on top."""
        return self.touches * (1.1 + 0.28) + self.keys * 0.28 + self.choices * 1.35


class Lead:
    """A lead in a browser; all that is done is counted."""

    def __init__(self, page: Any, url: str) -> None:
        self.page, self.url, self.cost = page, url, Cost()

    def touch(self, what: Any, chosen: bool = True) -> None:
        """One touch; `chosen`: it took a thought."""
        (self.page.locator(what) if isinstance(what, str) else what).first.click()
        self.cost.touches += 1
        self.cost.choices += chosen

    def write(self, text: str) -> None:
        """Text for what has the keyboard."""
        self.page.keyboard.type(text)
        self.cost.keys += len(text)

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)
        self.cost.keys += 1


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """Every English field over an empty folder."""
    need_browser()
    options = ChairOptions(layers=tmp_path / "layers")
    first, *further = open_chairs(options, vocabularies((), EngineName.NEURAL))
    with pytest.MonkeyPatch.context() as patch:
        whole = partial(create_app, more_routes=edit.routes(), more_links=(edit.LINK,))
        patch.setattr("tests.listen.web.browser.create_app", whole)
        patch.setattr("tests.listen.web.browser.shared_chair", lambda: first)
        server = Server(tmp_path / "data", StandIn(), further=further)
        server.start()
        try:
            yield server
        finally:
            server.stop()


def test_a_clinic_makes_nine_fields_its_own_within_the_hour(server: Server) -> None:
    with browser() as context:
        shown = Page(context)
        page = shown.page
        lead = Lead(page, server.url)
        page.goto(f"{server.url}/edit")
        lead.touch("text=Set up the clinic", chosen=False)
        choose_procedures(lead)
        choosing = lead.cost.touches
        lay_trays(lead)
        laying = lead.cost.touches - choosing
        write_names(lead)
        naming = lead.cost.touches - choosing - laying
        cards = page.request.get(f"{server.url}{page.get_attribute('text=Print, A4', 'href')}")
        lead.cost.touches += 1
        titles = [
            str(one["/Title"])
            for one in PdfReader(BytesIO(cards.body())).outline
            if not isinstance(one, list)
        ]
        assert len(titles) == 12 and titles[0].startswith("Examination")

        page.goto(server.url)
        offered = page.eval_on_selector_all("[name=procedure]", "all => all.map(one => one.value)")
        assert {one for one in offered if not one.endswith("/")} == {
            f"{field}/{procedure}" for field, some in CHOSEN.items() for procedure in some
        }
        assert shown.complaints == []
        assert (choosing, laying, naming) == (16, 32, 17)
        assert lead.cost.keys == 163
        assert lead.cost.seconds() < 5 * 60


def choose_procedures(lead: Lead) -> None:
    lead.touch("text=Choose procedures", chosen=False)
    lead.page.wait_for_selector("input[name=name]")
    lead.write("Kim")
    lead.press("Enter")
    lead.page.wait_for_selector("[data-choose]")
    lead.touch("text=Untick everything")
    for field, some in CHOSEN.items():
        for procedure in some:
            lead.touch(f"input[value='{field}/{procedure}']")
    assert lead.page.text_content("[data-total]") == "12 procedures in 4 fields"
    lead.touch("text=This is what we do", chosen=False)
    lead.page.wait_for_selector("text=12 of 68 procedures, in 4 fields")


def lay_trays(lead: Lead) -> None:
    page = lead.page
    lead.touch(".hour a[href*='/lay']", chosen=False)
    for _ in range(12):
        page.wait_for_selector("[data-lay]")
        before = page.url
        tray = before.partition("/trays/")[2].partition("/")[0]
        for number in range(TRIMMED.get(tray, 0)):
            lead.touch(page.locator("[name=laid]").nth(2 * number + 1))
        if tray in ADDED:
            lead.touch("[data-more]", chosen=False)
            lead.write(ADDED[tray])
            lead.touch(".lay .suggested li")
            page.wait_for_selector("[data-added] li")
        lead.touch("text=This is how it lies here")
        page.wait_for_url(lambda url, before=before: url != before)
    page.wait_for_selector("text=12 of 12 confirmed as they lie here")


def write_names(lead: Lead) -> None:
    page = lead.page
    lead.touch("text=Write names", chosen=False)
    page.wait_for_selector("[data-called-here]")
    for item, name in NAMES.items():
        lead.touch(f"[data-name][name='operative/{item}']")
        lead.write(name)
    page.wait_for_selector("[data-findings] .finding")  # what the last one might be mistaken for
    lead.touch("text=Save the names", chosen=False)
    page.wait_for_selector("text=15 names")
    page.goto(f"{lead.url}/edit/first-hour")
    page.wait_for_selector("text=15 names of your own so far")


def test_enter_goes_on_from_name_to_name_and_saves_nothing(server: Server) -> None:
    with browser() as context:
        shown = Page(context)
        page = shown.page
        page.goto(f"{server.url}/edit/names")
        page.fill("input[name=name]", "Kim")
        page.press("input[name=name]", "Enter")
        page.wait_for_selector("[data-called-here]")
        inside = page.locator("details").first.locator("[data-name]")
        inside.last.focus()
        page.keyboard.press("Enter")  # into the next tray, which folds open
        assert page.evaluate(
            "document.activeElement.closest('details') !== document.querySelector('details')"
        )
        assert page.evaluate("document.activeElement.closest('details').open")
        page.keyboard.press("Shift+Enter")
        assert page.evaluate("document.activeElement.name") == inside.last.get_attribute("name")
        page.keyboard.type("bite block")
        page.wait_for_selector("[data-findings] .finding[data-severity=high]")
        assert page.url.endswith("/edit/names")
        assert shown.complaints == []
