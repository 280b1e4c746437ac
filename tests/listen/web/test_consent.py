"""Consent to learning on a desk page: read by all, changed with the lead's code, the same setting as the
terminal's. The habit is our own (common practice, no source): a dentist who wants the wedge before the band.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner

from listen.chairside.closing import Override
from listen.chairside.consents import read_learning
from listen.chairside.learning import Learning, habits_for, teaching
from listen.chairside.session import ChairSession
from listen.commands.session import app as commands
from listen.live.sessions import Sessions
from listen.web import ServerSettings, consent, create_app
from listen.web.consent import LINK, PLACE
from tests.listen.web.browser import Page, browser, need_browser, served
from tests.listen.web.desk_app import HERE, OWN, Clock, StandIn, shared_chair
from vocab.layers.changes import Dentist
from vocab.layers.draft import ClinicSettings

CODE = "lead-code"
PROCEDURE = "amalgam_class_two"
BEFORE = ("mouth_mirror", "matrix_retainer")
HABIT = (*BEFORE, "wedge", "matrix_band")


def client_of(folder: Path, clock: Clock, code: str | None = None, **settings: Any) -> TestClient:
    """A client of an app in a clinic of two dentists."""
    clinic = ClinicSettings(
        {}, dentists=(Dentist(id="green", name="Dr Green"), Dentist(id="blue", name="Dr Blue"))
    )
    chair = replace(shared_chair(), clinic=clinic, names=shared_chair().lexicon)
    app = create_app(
        lambda: chair,
        ServerSettings(data=folder, clock=clock, **settings),
        StandIn,
        more_routes=consent.routes(code),
        more_links=(consent.LINK,),
    )
    return TestClient(app, base_url=HERE, follow_redirects=False)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def client(tmp_path: Path, clock: Clock) -> Iterator[TestClient]:
    with client_of(tmp_path, clock) as client:
        yield client


def send(client: TestClient, do: str, **fields: str) -> Any:
    """Send a form of the page."""
    return client.post(PLACE, data={"do": do, **fields}, headers=OWN)


def give(client: TestClient, dentist: str = "green") -> None:
    assert send(client, "give", dentist=dentist, asked="yes").status_code == 303


def sessions_of(client: TestClient) -> Sessions:
    running: Sessions = client.app.state.running  # type: ignore[attr-defined]
    return running


def held(client: TestClient, clock: Clock, dentist: str = "green", items: tuple[str, ...] = HABIT) -> int:
    """A whole session; its number."""
    chair_session = begun(client, clock, dentist, items)
    chair_session.close(override=Override("Dr Green", "Only a rehearsal."))
    clock.now_s += 3600
    return chair_session.session.id


def begun(
    client: TestClient, clock: Clock, dentist: str = "green", items: tuple[str, ...] = BEFORE
) -> ChairSession:
    chair_session = sessions_of(client).open(PROCEDURE, None, dentist)
    chair_session.settings = chair_session.settings.model_copy(update={"faculty": False})
    for item in items:
        clock.now_s += 60
        chair_session.request(item)
        if chair_session.check is not None:  # of several sizes the first
            chair_session.choose(1)
    return chair_session


def card(client: TestClient, dentist: str) -> str:
    """What the page says of one dentist."""
    text = client.get(PLACE).text
    found = re.search(rf'<section class="card consent" id="of-{dentist}".*?</section>', text, re.DOTALL)
    assert found is not None
    return found[0]


# ---------------------------------------------------------------- reading


def test_it_says_what_is_kept_and_that_nobody_has_consented(client: TestClient) -> None:
    answer = client.get(PLACE)
    assert answer.status_code == 200
    for said in ("No sound", "nothing about a patient", "which items were asked for and in which order"):
        assert said in " ".join(answer.text.split())
    for dentist in ("green", "blue", "nobody"):
        assert "no consent" in card(client, dentist)
    assert not re.search(r"<script(?![^>]* src=)|<style|\sstyle=|\son[a-z]+=", answer.text)
    assert "<code>" not in answer.text and "traycall session" not in answer.text  # words, not a command


def test_the_list_of_sessions_leads_to_it_and_the_menu_stays_short(client: TestClient) -> None:
    sessions = client.get("/sessions").text
    assert f'href="{PLACE}">{LINK.text}<' in sessions
    assert PLACE not in client.get("/items").text


# ---------------------------------------------------------------- giving and withdrawing


def test_consent_is_given_for_one_dentist_only_if_asked(client: TestClient, tmp_path: Path) -> None:
    assert send(client, "give", dentist="green").status_code == 400
    assert read_learning(tmp_path) == Learning()
    give(client)
    assert read_learning(tmp_path).on_for == ("green",)
    assert "consent given" in card(client, "green") and "no consent" in card(client, "blue")


def test_a_dentist_who_is_not_listed_is_told(client: TestClient, tmp_path: Path) -> None:
    answer = send(client, "give", dentist="nobody_known", asked="yes")
    assert answer.status_code == 400 and "No dentist" in answer.text
    assert send(client, "sell", dentist="green").status_code == 400
    assert send(client, "leave_out", session="77").status_code == 404
    assert read_learning(tmp_path) == Learning()


def test_what_was_learnt_is_shown_in_words(client: TestClient, clock: Clock) -> None:
    give(client)
    assert "No session has taught anything yet" in card(client, "green")
    for _ in range(3):
        held(client, clock)
    held(client, clock, "blue")
    shown = " ".join(card(client, "green").split())
    assert "Learnt from 3 sessions" in shown
    assert '<td>wedge</td><td>matrix band</td><td class="number">3 of 3</td>' in shown
    assert "Learnt from" not in card(client, "blue")


def test_an_open_session_expects_what_was_learnt_until_consent_is_withdrawn(
    client: TestClient, clock: Clock
) -> None:
    give(client)
    for _ in range(3):
        held(client, clock)
    chair_session = begun(client, clock)
    learnt = chair_session.following[0]
    assert learnt.item == "wedge"
    assert send(client, "withdraw", dentist="green").status_code == 303
    unlearnt = begun(client, clock)
    assert chair_session.following == unlearnt.following
    assert {likely.item: likely.p for likely in unlearnt.following}.get("wedge", 0.0) < learnt.p
    assert "no consent" in card(client, "green") and "withdrawn" in card(client, "green")


# ---------------------------------------------------------------- undoing


def test_a_session_left_out_counts_as_never_held(client: TestClient, clock: Clock, tmp_path: Path) -> None:
    give(client)
    first, second = held(client, clock), held(client, clock)
    assert send(client, "leave_out", session=str(second)).status_code == 303
    learning, log = read_learning(tmp_path), sessions_of(client).log
    assert [s.id for s in teaching(log, learning)] == [first]
    assert "Learnt from 1 session<" in card(client, "green")
    assert f"Left out for good: session {second}." in client.get(PLACE).text


def test_all_of_a_dentist_can_be_forgotten_but_not_by_accident(
    client: TestClient, clock: Clock, tmp_path: Path
) -> None:
    give(client)
    give(client, "blue")
    greens = [held(client, clock) for _ in range(2)]
    blue = held(client, clock, "blue")
    assert send(client, "leave_all_out", dentist="green").status_code == 400
    assert send(client, "leave_all_out", dentist="green", sure="yes").status_code == 303
    learning = read_learning(tmp_path)
    assert learning.left_out == tuple(greens)
    assert [s.id for s in teaching(sessions_of(client).log, learning)] == [blue]


def test_the_terminal_and_the_page_keep_one_setting(client: TestClient, clock: Clock, tmp_path: Path) -> None:
    give(client)
    data = ("--data", str(tmp_path))
    assert "on for green." in CliRunner().invoke(commands, ["learn", "list", *data]).stdout
    number = held(client, clock)
    assert CliRunner().invoke(commands, ["learn", "forget", str(number), *data]).exit_code == 0
    assert CliRunner().invoke(commands, ["learn", "off", "--dentist", "green", *data]).exit_code == 0
    assert "no consent" in card(client, "green")
    session = sessions_of(client).session(number)
    assert habits_for(sessions_of(client).log, read_learning(tmp_path), session).sessions == ()


def test_a_withdrawal_at_the_terminal_reaches_the_screens_that_are_open(
    tmp_path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("listen.web.app.WATCH_S", 0.02)
    with client_of(tmp_path, clock) as client:
        before = begun(client, clock).following
        give(client)
        for _ in range(3):
            held(client, clock)
        chair_session = begun(client, clock)
        assert chair_session.following != before
        off = CliRunner().invoke(commands, ["learn", "off", "--dentist", "green", "--data", str(tmp_path)])
        assert off.exit_code == 0
        until_s = time.monotonic() + 60
        while chair_session.following != before and time.monotonic() < until_s:
            time.sleep(0.02)
        assert chair_session.following == before


def test_a_store_that_cannot_be_read_is_told_and_nothing_is_given(client: TestClient, tmp_path: Path) -> None:
    (tmp_path / "consents.db").write_text("no database " * 500)
    for answer in (client.get(PLACE), send(client, "give", dentist="green", asked="yes")):
        assert answer.status_code == 400 and "list of consents" in answer.text
        assert "is left as it is" in answer.text
    assert client.get("/").status_code == 200


# ---------------------------------------------------------------- who may


def test_the_leads_code_is_needed_to_change_anything(tmp_path: Path, clock: Clock) -> None:
    with client_of(tmp_path, clock, CODE) as client:
        assert "<button" not in card(client, "green")
        answer = send(client, "give", dentist="green", asked="yes")
        assert (answer.status_code, answer.headers["location"]) == (303, f"{PLACE}/enter")
        assert read_learning(tmp_path) == Learning()
        for code, status in (("wrong-code", 403), (CODE, 303)):
            given = client.post(f"{PLACE}/enter", data={"code": code}, headers=OWN)
            assert given.status_code == status
        assert given.headers["location"] == PLACE
        give(client)
        assert read_learning(tmp_path).on_for == ("green",)


def test_where_other_machines_come_in_it_stays_closed_without_a_code(tmp_path: Path, clock: Clock) -> None:
    with client_of(tmp_path, clock, pass_code="for everybody") as client:
        client.post("/enter", data={"code": "for everybody"}, headers=OWN)
        assert "stay closed" in client.get(PLACE).text and "<button" not in card(client, "green")
        assert send(client, "give", dentist="green", asked="yes").status_code == 400
        assert read_learning(tmp_path) == Learning()


def test_another_website_cannot_consent(client: TestClient, tmp_path: Path) -> None:
    form = {"do": "give", "dentist": "green", "asked": "yes"}
    answer = client.post(PLACE, data=form, headers={"origin": "https://elsewhere.example"})
    assert answer.status_code == 403 and read_learning(tmp_path) == Learning()


# ---------------------------------------------------------------- in a browser


@pytest.mark.slow
def test_in_a_browser_it_is_found_from_the_sessions_and_takes_a_tick(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    need_browser()
    more = {"more_routes": consent.routes(), "more_links": (consent.LINK,)}
    monkeypatch.setattr("tests.listen.web.browser.create_app", partial(create_app, **more))
    with served(tmp_path, StandIn()) as server, browser() as context:
        shown = Page(context)
        shown.page.set_viewport_size({"width": 390, "height": 844})
        shown.page.goto(server.url)
        shown.page.click("nav >> text=Sessions")
        shown.page.click(f"text={LINK.text}")
        shown.page.click("text=Give consent")  # the browser asks for the tick and sends nothing
        assert read_learning(tmp_path) == Learning()
        shown.page.check("#of-nobody input[name=asked]")
        shown.page.click("text=Give consent")
        shown.page.wait_for_selector("#of-nobody >> text=Withdraw consent")
        assert read_learning(tmp_path).on_for == ("",)
        assert not shown.page.evaluate("document.documentElement.scrollWidth > innerWidth")
        assert shown.complaints == []
