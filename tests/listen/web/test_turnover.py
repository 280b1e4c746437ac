"""Pick list, turn-over and restocking over HTTP, and where things are kept, saved from the pick list."""

import csv
import io
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from listen.chair import ChairOptions, open_chair
from listen.chairside.events import EventKind
from listen.web.edit.editor import way_back
from tests.listen.web.desk_app import OWN, Clock, begin, client_for, surgery_chair
from tests.listen.web.test_edit import CODE, app_client

PICK = "/procedures/composite_class_two/pick"


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def client(tmp_path: Path, clock: Clock) -> Iterator[TestClient]:
    with client_for(tmp_path, further=[surgery_chair()], clock=clock) as client:
        yield client


@pytest.fixture
def lead(tmp_path: Path) -> Iterator[TestClient]:
    """Somebody who has said that they edit."""
    with app_client(tmp_path) as client:
        client.post("/edit/enter", data={"name": "Kim"}, headers=OWN)
        yield client


def test_pages_for_spanish_names_say_that_only_the_names_are_spanish(tmp_path: Path) -> None:
    spanish = open_chair(ChairOptions(pack="operativa_es", procedure="resina"))
    with client_for(tmp_path, further=[spanish]) as client:
        session = begin(client, "operativa_es/resina")
        for path in (
            "/procedures/resina/pick?vocabulary=operativa_es",
            "/procedures/resina/turn-over?vocabulary=operativa_es",
            f"/chair/{session}/pick",
            f"/sessions/{session}/turn-over",
            f"/sessions/{session}/restock",
        ):
            assert "the rest of this page is in English only" in client.get(path).text, path
        client.cookies.clear()
        assert "in English only" not in client.get(PICK).text


def headings(client: TestClient, path: str = PICK) -> list[str]:
    return [unescape(text) for text in re.findall("<h2>(.*?)</h2>", client.get(path).text)]


def keep(client: TestClient, things: str, place: str, back: str = PICK) -> str:
    """Save a place; where that leads."""
    form = {"things": things, "place": place, "back": back}
    answer = client.post("/edit/kept", data=form, headers=OWN)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def test_every_procedure_has_a_pick_list_and_a_turn_over_that_its_tray_leads_to(client: TestClient) -> None:
    for pack in client.app.state.running.packs:  # type: ignore[attr-defined]
        for procedure in pack.procedures:
            tray = client.get(f"/trays/{procedure.tray}").text
            for page in ("pick", "turn-over"):
                address = f"/procedures/{procedure.id}/{page}"
                assert address in tray and client.get(address).status_code == 200
    assert client.get("/procedures/nothing/pick").status_code == 404


def test_start_leads_to_the_list_of_what_is_chosen(client: TestClient) -> None:
    def led(query: str) -> str:
        return str(client.get(f"/pick?{query}").headers["location"])

    assert 'formaction="/pick"' in client.get("/").text
    assert led("procedure=operative/sealant&tray=") == "/procedures/sealant/pick"
    assert led("procedure=oral_surgery/biopsy") == "/procedures/biopsy/pick?vocabulary=oral_surgery"
    assert led("procedure=operative/sealant&tray=operative/examination") == "/procedures/examination/pick"
    assert led("procedure=operative/") == led("procedure=%2F%2Fevil/") == led("") == "/trays"


def test_set_up_count_and_report_lead_to_their_lists(client: TestClient) -> None:
    session = begin(client)
    assert f"/chair/{session}/pick" in client.get(f"/chair/{session}/setup").text
    assert f"/sessions/{session}/turn-over" in client.get(f"/chair/{session}/count").text
    report = client.get(f"/sessions/{session}").text
    assert f"/sessions/{session}/turn-over" in report and f"/sessions/{session}/restock" in report
    for path in (f"/chair/{session}/pick", f"/sessions/{session}/turn-over", f"/sessions/{session}/restock"):
        assert client.get(path).status_code == 200
        assert client.get(path.replace(str(session), "99")).status_code == 404


def test_a_session_without_a_tray_says_what_to_do(client: TestClient) -> None:
    session = begin(client, "")
    assert "/pick" not in client.get(f"/chair/{session}/setup").text
    answer = client.get(f"/chair/{session}/pick")
    assert answer.status_code == 400 and "choose a procedure or a tray" in answer.text
    assert client.get(f"/sessions/{session}/turn-over").status_code == 200


def test_a_place_is_said_on_the_list_and_taken_back_there(lead: TestClient) -> None:
    assert headings(lead)[0] == "Instrument pack"
    back = keep(lead, "kit:dam_kit kit:bur_kit", "cupboard 2, top drawer")
    assert back.startswith(f"{PICK}?saved=clinic:")
    page = lead.get(back).text
    assert headings(lead)[0] == "Cupboard 2, top drawer"
    assert "keeps the dam kit in" in page and page.count('value="undo"') == 2
    for change in ("c1", "c2"):
        form = {"op": "undo", "vocabulary": "operative", "back": PICK, "layer": "clinic", "change": change}
        answer = lead.post("/edit/change", data=form, headers=OWN)
        assert answer.headers["location"].startswith(f"{PICK}?saved=")
    assert headings(lead)[0] == "Instrument pack"
    assert "keeps the dam kit in" in lead.get("/edit/history").text


def test_a_place_holds_on_every_list_that_has_the_thing(lead: TestClient) -> None:
    keep(lead, "item:cartridge_plain", "locked cabinet")
    session = begin(lead)
    for path in (PICK, "/procedures/amalgam_class_one/pick", f"/chair/{session}/pick"):
        assert "Locked cabinet" in headings(lead, path)
    keep(lead, "item:cartridge_plain", "")
    assert "Locked cabinet" not in headings(lead)


def test_whoever_has_not_said_who_they_are_is_asked_first_and_loses_nothing(tmp_path: Path) -> None:
    with app_client(tmp_path, CODE) as client:
        asked = keep(client, "kit:dam_kit", "shelf 1")
        assert asked.startswith("/edit/enter?back=%2Fedit%2Fkept")
        assert client.get(asked).status_code == 200
        back = unescape(re.findall('name="back" value="([^"]*)"', client.get(asked).text)[0])
        entered = client.post("/edit/enter", data={"name": "Kim", "code": CODE, "back": back}, headers=OWN)
        form = client.get(entered.headers["location"]).text
        assert 'value="shelf 1"' in form and "Dam kit" in form and f'value="{PICK}"' in form
        keep(client, "kit:dam_kit", "shelf 1")
        assert headings(client)[0] == "Shelf 1"


def test_a_place_that_cannot_be_is_refused_where_it_was_written(lead: TestClient) -> None:
    for things, place, told in (
        ("kit:dam_kit", "x" * 200, "at most 80"),
        ("kit:gone", "shelf", "load the page again"),
        ("kit:dam_kit", "", "kept already"),
    ):
        form = {"things": things, "place": place, "back": PICK}
        answer = lead.post("/edit/kept", data=form, headers=OWN)
        assert answer.status_code == 400 and told in unescape(answer.text)
    assert lead.post("/edit/kept", data={"things": "kit:dam_kit"}).status_code == 403, "another website"
    assert "<script>" not in lead.get("/edit/kept?things=<script>&place=<script>").text


def test_after_saving_one_comes_back_to_a_page_of_ours_only() -> None:
    assert way_back(PICK) == PICK and way_back("/chair/3/pick") == "/chair/3/pick"
    for elsewhere in ("//evil.example", "/chairs", "https://evil.example/procedures", "/procedures/../x"):
        assert way_back(elsewhere) == "/edit"


def used(client: TestClient, procedure: str = "composite_class_two") -> int:
    """A session in which a needle, cotton rolls and the dam were used."""
    session = begin(client, procedure)
    chair_session = client.app.state.running.chair_session(session)  # type: ignore[attr-defined]
    for item in ("needle_short", "cotton_roll", "dam_clamp"):
        chair_session.touch(EventKind.PASSED, item)
    return session


def test_a_class_two_session_is_restocked_as_a_page_and_as_csv(client: TestClient) -> None:
    session = used(client)
    page = client.get(f"/sessions/{session}/restock").text
    assert "Cotton kit" in page and "short needle" in page and "opened, single use" in page
    answer = client.get(f"/sessions/{session}/restock.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert {"kit or tray": "Cotton kit", "slot": "2", "pieces": "6"}.items() <= rows[1].items()
    assert [row["pieces"] for row in rows if row["item"] == "short needle"] == ["1"]


def test_a_day_adds_up_its_sessions_and_no_others(client: TestClient, clock: Clock) -> None:
    def rolls(query: str = "") -> list[str]:
        rows = csv.DictReader(io.StringIO(client.get(f"/sessions/restock.csv{query}").text))
        return [row["pieces"] for row in rows if row["item"] == "cotton roll"]

    assert "No session was held" in client.get("/sessions/restock").text
    used(client)
    used(client, "amalgam_class_two")
    used(client, "simple_extraction")
    assert rolls() == ["12", "1"], "the last was brought"
    assert "3 sessions" in client.get("/sessions/restock").text
    yesterday = re.findall(r"day=([-\d]+)", client.get("/sessions/restock").text)[1]
    assert rolls(f"?day={yesterday}") == []
    clock.now_s += 24 * 3600
    assert rolls() == []
    assert "/sessions/restock" in client.get("/sessions").text


@pytest.mark.parametrize("day", ["yesterday", "2026-13-01", "0001-01-01", "9999-12-31", "<b>"])
def test_what_is_no_day_is_told(client: TestClient, day: str) -> None:
    answer = client.get(f"/sessions/restock?day={day}")
    assert answer.status_code == 400 and "day" in answer.text and "<b>" not in answer.text
