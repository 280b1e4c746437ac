"""A lead makes nine fields the clinic's own: what is done, how trays lie, what things are called, cards."""

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient

from listen.chair import Chair, ChairOptions, open_chairs
from listen.web import ServerSettings, create_app
from listen.web.edit import pages as edit
from tests.listen.web.desk_app import HERE, OWN, StandIn

FIELDS = ("operative", "hygiene", "oral_surgery")
CHOSEN = ("operative/examination", "operative/sealant", "hygiene/prophylaxis")


@pytest.fixture
def chairs(tmp_path: Path) -> tuple[Chair, ...]:
    return open_chairs(ChairOptions(layers=tmp_path / "layers"), FIELDS)


@pytest.fixture
def client(tmp_path: Path, chairs: tuple[Chair, ...]) -> Iterator[TestClient]:
    """A browser in which a lead has said who they are."""
    app = create_app(
        lambda: chairs[0],
        ServerSettings(data=tmp_path / "data"),
        StandIn,
        edit.routes(),
        (edit.LINK,),
        further=chairs[1:],
    )
    with TestClient(app, base_url=HERE) as client:
        client.post("/edit/enter", data={"name": "Kim"}, headers=OWN)
        yield client


def post(client: TestClient, path: str, data: dict[str, object]) -> str:
    """The page that a form leads to."""
    reply = client.post(path, data={"vocabulary": "operative", **data}, headers=OWN)
    assert reply.status_code == 200, reply.text
    return str(reply.text)


def laid(page: str, name: str = "laid") -> list[str]:
    return re.findall(rf'name="{name}" value="([^"]+)" checked', page)


def lay(client: TestClient, tray: str, field: str, off: set[str], added: list[str]) -> str:
    """Unticks and adds on the page of a tray; where it leads."""
    page = client.get(f"/edit/trays/{tray}/lay?vocabulary={field}").text
    was = re.search(r'name="was" value="(\w+)"', page)
    assert was is not None and off <= {*laid(page)}
    form = {
        "vocabulary": field,
        "was": was[1],
        "laid": [at for at in laid(page) if at not in off],
        "kit": laid(page, "kit"),
        "added": added,
    }
    return post(client, f"/edit/trays/{tray}/lay?vocabulary={field}", form)


def test_what_is_not_ticked_is_offered_nowhere_and_comes_back(client: TestClient) -> None:
    assert 'value="oral_surgery/biopsy"' in client.get("/").text
    page = post(client, "/edit/procedures", {"done": CHOSEN})
    assert "3 of 30 procedures, in 2 fields" in page
    start = client.get("/").text
    assert {*re.findall(r'name="procedure" value="([a-z_]+/[a-z_]+)"', start)} == {*CHOSEN}
    assert "Oral surgery" not in start and "Oral surgery" not in client.get("/trays").text
    trays = client.get("/trays?vocabulary=operative").text
    assert {*re.findall(r'href="/trays/([a-z_]+)"', trays)} == {"examination", "sealant"}
    assert client.get("/trays/abscess").status_code == 200  # nothing is deleted
    assert "leaves out" in client.get("/edit/history?vocabulary=hygiene").text
    every = re.findall(r'name="done" value="([^"]+)"', client.get("/edit/procedures").text)
    assert len(every) == 30
    assert "30 of 30 procedures" in post(client, "/edit/procedures", {"done": every})
    assert 'value="oral_surgery/biopsy"' in client.get("/").text


def test_a_clinic_does_something(client: TestClient) -> None:
    reply = client.post("/edit/procedures", data={"vocabulary": "operative"}, headers=OWN)
    assert reply.status_code == 400 and "ick at least one procedure" in reply.text


def test_a_reader_chooses_nothing(client: TestClient) -> None:
    client.post("/edit/leave", headers=OWN)
    reply = client.post("/edit/procedures", data={"done": CHOSEN}, headers=OWN)
    assert reply.status_code == 403
    assert client.get("/edit/procedures").url.path == "/edit/enter"


def test_a_tray_is_trimmed_gets_an_item_of_another_field_and_the_next_one_follows(client: TestClient) -> None:
    post(client, "/edit/procedures", {"done": CHOSEN})
    page = lay(client, "examination", "operative", {"2", "5"}, ["bone_file"])
    assert "Examination lies as you said" in page and "1 of 3 trays confirmed" in page
    tray = client.get("/trays/examination").text
    assert "bone file" in tray and "pigtail explorer" not in tray
    item = client.get("/items/bone_file?vocabulary=operative").text
    assert "Oral surgery" not in item.partition("<main")[0]
    lay(client, "sealant", "operative", set(), [])
    last = lay(client, "prophylaxis", "hygiene", set(), [])
    assert "3 of 3 confirmed as they lie here" in last


def test_a_tray_that_was_changed_meanwhile_is_not_overwritten(client: TestClient) -> None:
    form = {"vocabulary": "operative", "was": "long ago", "laid": ["1"], "kit": [], "added": []}
    reply = client.post("/edit/trays/examination/lay?vocabulary=operative", data=form, headers=OWN)
    assert reply.status_code == 400 and "changed in another window" in reply.text


def test_items_of_all_fields_are_offered_while_a_name_is_typed(client: TestClient) -> None:
    found = client.get("/edit/near?vocabulary=operative&q=bone fi").json()
    assert ("bone_file", "Oral surgery") in [(one["id"], one["field"]) for one in found]
    assert found[0]["drawing"].startswith("<svg")
    own = client.get("/edit/near?vocabulary=operative&q=mouth mirror").json()
    assert (own[0]["id"], own[0]["field"]) == ("mouth_mirror", "")


def test_names_are_saved_together_in_every_field_that_has_the_item(client: TestClient) -> None:
    post(client, "/edit/procedures", {"done": CHOSEN})
    names = {"operative/mouth_mirror": "looker, peeper", "operative/cotton_pliers": "pinchers"}
    assert "3 names" in post(client, "/edit/names", {**names})
    for field in ("operative", "hygiene"):
        found = client.get(f"/find?q=peeper&vocabulary={field}", follow_redirects=False)
        assert found.headers["location"].startswith("/items/mouth_mirror")
    assert "3 names of your own" in client.get("/edit/first-hour").text
    assert client.get("/edit/names").text.count("mouth mirror") == 1


def test_a_name_of_another_item_is_refused_and_may_be_shared(client: TestClient) -> None:
    post(client, "/edit/procedures", {"done": CHOSEN})
    names = {"operative/mouth_mirror": "looker", "operative/cotton_pliers": "bite block"}
    reply = client.post("/edit/names", data={"vocabulary": "operative", **names}, headers=OWN)
    assert reply.status_code == 400
    assert "Nothing is saved yet" in reply.text and "is also a name of bite block" in reply.text
    assert 'value="looker"' in reply.text and 'name="shared:operative/cotton_pliers"' in reply.text
    assert "looker" not in client.get("/edit/history?vocabulary=operative").text
    again = post(client, "/edit/names", {**names, "shared:operative/cotton_pliers": "yes"})
    assert "2 names" in again


def test_all_cards_are_one_file_with_a_bookmark_each(client: TestClient) -> None:
    post(client, "/edit/procedures", {"done": CHOSEN})
    reply = client.get("/trays/cards-a4.pdf")
    assert reply.headers["content-type"] == "application/pdf"
    titles = [
        str(one["/Title"]) for one in PdfReader(BytesIO(reply.content)).outline if not isinstance(one, list)
    ]
    assert [title.partition(" — ")[0] for title in titles] == ["Examination", "Sealant", "Adult cleaning"]
    assert client.get("/trays/cards-a3.pdf").status_code == 404
