"""Two vocabularies in one app: the start page, desk pages, set-up and editing know which one is meant."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from listen.chair import ChairOptions, open_chairs
from listen.web import ServerSettings, create_app
from listen.web.edit import pages as edit
from tests.listen.web.desk_app import HERE, OWN, Clock, StandIn, client_for, surgery_chair

JSON = {**OWN, "accept": "application/json"}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_for(tmp_path, further=[surgery_chair()]) as client:
        yield client


def start(client: TestClient, procedure: str, **more: str) -> str:
    """Start a session; where the page leads to."""
    answer = client.post("/start", data={"procedure": procedure, **more}, headers=OWN)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def test_the_start_page_groups_procedures_by_field_and_proposes_the_first(client: TestClient) -> None:
    text = client.get("/").text
    assert text.index("<legend>Operative dentistry</legend>") < text.index("<legend>Oral surgery</legend>")
    assert 'value="operative/composite_class_two" checked' in text and text.count(" checked>") == 1
    assert 'value="oral_surgery/biopsy"' in text


def test_the_procedure_decides_on_the_vocabulary(client: TestClient) -> None:
    assert start(client, "operative/sealant") == "/chair/1"
    assert start(client, "oral_surgery/biopsy", then="setup") == "/chair/2/setup"
    assert 'data-item="biopsy_punch"' in client.get("/chair/2").text
    assert 'data-item="biopsy_punch"' not in client.get("/chair/1").text
    assert start(client, "oral_surgery/") == "/chair/3"
    packs = [s.pack for s in client.app.state.running.log.sessions()]  # type: ignore[attr-defined]
    assert packs == ["operative", "oral_surgery", "oral_surgery"]
    assert "Biopsy" in client.get("/").text and "Sealant" in client.get("/sessions").text
    for path in ("/sessions/2", "/chair/2/count", "/chair/2/setup"):
        assert client.get(path).status_code == 200


def test_a_tray_of_another_field_is_refused(client: TestClient) -> None:
    wrong = {"procedure": "oral_surgery/biopsy", "tray": "operative/sealant"}
    answer = client.post("/start", data=wrong, headers=OWN)
    assert answer.status_code == 400 and "choose the tray again" in answer.text
    unknown = client.post("/start", data={"procedure": "orthodontics/brackets"}, headers=OWN)
    assert unknown.status_code == 404 and "operative, oral_surgery" in unknown.text


def test_a_page_is_about_the_vocabulary_chosen_last_in_this_browser(client: TestClient) -> None:
    assert "items of Operative dentistry" in client.get("/items").text
    assert "items of Oral surgery" in client.get("/items?vocabulary=oral_surgery").text
    assert "items of Oral surgery" in client.get("/items").text
    assert 'href="/trays/soft_tissue"' in client.get("/trays").text
    assert "items of Operative dentistry" in client.get("/items?vocabulary=operative").text
    assert "items of Operative dentistry" in client.get("/items?vocabulary=nothing").text


def test_what_only_another_vocabulary_has_is_found_there(client: TestClient) -> None:
    found = client.get("/find", params={"q": "bayonet forceps"})
    assert found.headers["location"] == "/items/bayonet_forceps?vocabulary=oral_surgery"
    assert client.get("/items/bayonet_forceps").status_code == 200
    assert client.get("/trays/soft_tissue").status_code == 200
    assert client.get("/items/bur_330").status_code == 200
    assert client.get("/find", params={"q": "flux capacitor"}).status_code == 404


def test_a_server_of_one_vocabulary_offers_no_choice(tmp_path: Path) -> None:
    with client_for(tmp_path) as client:
        assert "vocabulary=" not in client.get("/items").text


# --- set-up -------------------------------------------------------------------------------------


def test_the_set_up_is_answered_without_a_reload(client: TestClient) -> None:
    path = start(client, "operative/sealant", then="setup")
    assert "Set-up: 6 of 6 questions are open." in client.get(path.removesuffix("/setup")).text
    told = client.post(path, data={"check": "all", "good": "yes"}, headers=JSON).json()
    assert (told["open"], told["questions_open"]) == (0, 1) and all(told["answers"].values())
    told = client.post(path, data={"check": "latex_free", "good": "no"}, headers=JSON).json()
    assert told["questions_open"] == 0 and told["in_words"] == "Everything is answered, and in order."
    assert "Set-up: " not in client.get(path.removesuffix("/setup")).text
    told = client.post(path, data={"check": "in_date", "good": "no"}, headers=JSON).json()
    assert told["problems"] == 1 and "Remove and replace it." in told["in_words"]
    wrong = client.post(path, data={"handed": "both"}, headers=JSON)
    assert wrong.status_code == 400 and "operator_handed" in wrong.json()["problem"]


def test_the_set_up_works_without_a_script(client: TestClient) -> None:
    path = start(client, "operative/sealant", then="setup")
    answer = client.post(path, data={"check": "all", "good": "yes"}, headers=OWN)
    assert (answer.status_code, answer.headers["location"]) == (303, path)
    assert "1 of 6 questions are open." in client.get(path).text


# --- editing ------------------------------------------------------------------------------------


@pytest.fixture
def editing(tmp_path: Path) -> Iterator[TestClient]:
    options = ChairOptions(layers=tmp_path / "layers")
    first, second = open_chairs(options, ("operative", "oral_surgery"))
    app = create_app(
        lambda: first,
        ServerSettings(data=tmp_path / "data", clock=Clock()),
        StandIn,
        more_routes=edit.routes(),
        further=[second],
    )
    with TestClient(app, base_url=HERE, follow_redirects=False) as client:
        client.post("/edit/enter", data={"name": "Dr. Grey"}, headers=OWN)
        yield client


def test_a_change_is_kept_in_the_vocabulary_that_it_was_made_in(editing: TestClient, tmp_path: Path) -> None:
    running = editing.app.state.running  # type: ignore[attr-defined]
    session = running.open("biopsy", None)
    editing.get("/edit?vocabulary=oral_surgery")
    name = {"op": "add_name", "layer": "clinic", "item": "mouth_mirror", "name": "looking glass"}
    assert editing.post("/edit/change", data=name, headers=OWN).status_code == 303
    session.ask("looking glass")
    assert [answer.item for answer in session.stage.answers] == ["mouth_mirror"]
    assert not running.field("operative").own.lexicon.is_name("looking glass")
    assert (tmp_path / "layers" / "oral_surgery" / "clinic.yaml").exists()
    assert not (tmp_path / "layers" / "clinic.yaml").exists()
    assert "looking glass" in editing.get("/edit/history").text
    assert "looking glass" not in editing.get("/edit/history?vocabulary=operative").text


def test_a_form_of_another_vocabulary_than_the_one_chosen_meanwhile_is_refused(editing: TestClient) -> None:
    assert 'name="vocabulary" value="operative"' in editing.get("/edit/items/mouth_mirror").text
    editing.get("/edit?vocabulary=oral_surgery")  # in another window
    name = {"op": "add_name", "item": "mouth_mirror", "name": "looking glass", "vocabulary": "operative"}
    answer = editing.post("/edit/change", data=name, headers=OWN)
    assert answer.status_code == 400 and "nother vocabulary" in answer.text


def test_a_needle_stick_card_written_in_one_vocabulary_is_shown_in_the_other(editing: TestClient) -> None:
    running = editing.app.state.running  # type: ignore[attr-defined]
    card = {"injury_card": "Wash it. Tell Dr. Grey."}
    questions = editing.get("/edit/first-hour").text
    assert 'name="injury_card"' in questions
    assert editing.post("/edit/first-hour", data=card, headers=OWN).status_code == 303
    assert running.open("biopsy", None).injury_card == ("Wash it. Tell Dr. Grey.",)


def test_the_dentist_chosen_last_is_proposed_next(editing: TestClient) -> None:
    dentists = {"dentists": "Dr. Grey, Dr. Reed"}
    assert editing.post("/edit/first-hour", data=dentists, headers=OWN).status_code == 303
    running = editing.app.state.running  # type: ignore[attr-defined]
    reed = next(dentist for dentist, name in running.dentists.items() if name == "Dr. Reed")
    start(editing, "oral_surgery/biopsy", dentist=reed)
    assert f'<option value="{reed}" selected>Dr. Reed' in editing.get("/").text
    start(editing, "oral_surgery/biopsy", dentist="")
    assert "selected>Dr. " not in editing.get("/").text
