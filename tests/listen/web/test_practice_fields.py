"""Practice on a server of several vocabularies: what is drilled, due, shown and deleted, field by field."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from listen.chair import Chair, ChairOptions, open_chair
from listen.practice.places import Places, PracticeOptions
from listen.web import ServerSettings, create_app
from listen.web.practice import pages as practice
from listen.web.practice.measured import measured
from tests.listen.web.desk_app import HERE, OWN, Clock, StandIn, shared_chair
from tests.listen.web.test_practice import asked, enter, give, now, sit

CLEANING, CLASS_TWO = "hygiene/prophylaxis", "operative/composite_class_two"


@cache
def hygiene_chair() -> Chair:
    return open_chair(ChairOptions("hygiene"))


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def client(tmp_path: Path, clock: Clock) -> Iterator[TestClient]:
    app = create_app(
        shared_chair,
        ServerSettings(data=tmp_path, clock=clock),
        StandIn,
        practice.routes(PracticeOptions(seed=1)),
        practice.links(),
        further=[hygiene_chair()],
    )
    with TestClient(app, base_url=HERE, follow_redirects=False) as client:
        yield client


def places(client: TestClient) -> Places:
    found: Places = client.app.state.practice  # type: ignore[attr-defined]
    return found


def answer(client: TestClient, procedure: str, drill: str, count: int = 1, right: bool = True) -> list[str]:
    """Answer some questions of a procedure; the topics that they were about."""
    path, topics = sit(client, "Ann", drill, procedure=procedure), []
    for _ in range(count):
        number, question = now(client, path)["number"], asked(client, path)
        topics.append(question.topic.key)
        if right:
            give(client, path, number, question.right[0], "touch")
        else:
            give(client, path, number, "I don't know")
    client.post(f"{path}/stop", headers=OWN)
    return topics


def told(client: TestClient, path: str, **asked: str) -> str:
    answer = client.get(path, params=asked)
    assert answer.status_code == 200, answer.text
    return str(answer.text)


def test_each_field_has_its_own_matter_made_when_it_is_first_needed(client: TestClient) -> None:
    sit(client, procedure=CLASS_TWO)
    assert list(places(client)._matters) == [("operative", None)]
    (key,) = answer(client, CLEANING, "slot")
    matter = places(client).matter("hygiene")
    assert key.startswith("slot:prophylaxis:") and matter is places(client).matter("hygiene")
    assert matter.pack.id == "hygiene" and matter.judge is not places(client).matter("operative").judge


def test_a_procedure_alone_is_found_in_whatever_field_has_it(client: TestClient) -> None:
    assert answer(client, "prophylaxis", "next")[0].startswith("next:prophylaxis:")
    assert enter(client, "Ann") == 303
    form = {"procedure": "orthodontics/brackets", "minutes": "10"}
    refused = client.post("/practice", data=form, headers=OWN)
    assert refused.status_code == 404 and "there are: operative, hygiene" in refused.text


def test_today_goes_on_in_the_field_of_the_last_answers_and_tells_what_is_due_elsewhere(
    client: TestClient, clock: Clock
) -> None:
    answer(client, CLASS_TWO, "slot", 3, right=False)
    clock.now_s += 3600
    answer(client, CLEANING, "slot", 2, right=False)
    clock.now_s += 3 * 86_400
    found = places(client).today("Ann")
    assert (found.field, found.procedure, found.due) == ("hygiene", "prophylaxis", 2)
    assert enter(client, "Ann") == 303
    text = told(client, "/practice")
    assert "Adult cleaning" in text and "Operative dentistry: 3 due" in text
    assert f'value="{CLEANING}" checked' in text
    begun = client.post("/practice", data={"today": "yes", "field": "operative"}, headers=OWN)
    now(client, begun.headers["location"])
    question = asked(client, begun.headers["location"])
    assert question.topic.place == "composite_class_two"


def test_a_common_item_named_in_one_field_is_known_in_the_other(client: TestClient) -> None:
    common = {t.id for t in shared_chair().pack.items} & {t.id for t in hygiene_chair().pack.items}
    topics = answer(client, CLASS_TWO, "name", 12)
    both = [key for key in topics if key.split(":")[2] in common]
    deck = places(client).store.deck("Ann")
    assert both and all(places(client).asked_in("hygiene")(key) and key in deck for key in both)


def test_progress_is_of_one_field(client: TestClient) -> None:
    answer(client, CLASS_TWO, "next", 2)
    answer(client, CLEANING, "slot", 3)
    zone = None
    found = measured(places(client), "Ann", None, None, zone)
    assert (found["pack"].id, found["procedure"], found["found"].answers) == (
        "hygiene",
        "prophylaxis",
        3,
    )
    assert "of Adult cleaning" in told(client, "/practice/progress")
    other = told(client, "/practice/progress", procedure=CLASS_TWO)
    assert "of Composite, class II" in other
    assert measured(places(client), "Ann", CLASS_TWO, None, zone)["found"].answers == 2


def test_the_figures_of_a_class_are_of_one_field(client: TestClient) -> None:
    answer(client, CLASS_TWO, "slot", 2, right=False)
    answer(client, CLEANING, "slot", 3)
    own = hygiene_chair().pack
    for table in ("class", "items", "names", "unknown", "ability", "mixed"):
        assert f'<option value="hygiene" selected>{own.name}' in told(client, f"/practice/faculty/{table}")
    rows = {
        field: client.get("/practice/faculty/class.csv", params={"field": field})
        for field in ("operative", "hygiene")
    }
    assert rows["operative"].text.splitlines()[1].startswith("Ann,2,2,0.0")
    assert rows["hygiene"].text.splitlines()[1].startswith("Ann,3,3,1.0")
    assert "practice-class-hygiene.csv" in rows["hygiene"].headers["content-disposition"]
    assert client.get("/practice/faculty/class", params={"field": "nothing"}).status_code == 404


def test_a_checklist_is_noted_and_signed_off_in_its_field(client: TestClient, tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf")
    answer(client, CLASS_TWO, "slot")
    form = {"observer": "Dr. Grey", "field": "hygiene", "see-sharps_wipe": "yes"}
    kept = client.post("/practice/faculty/sheet?trainee=Ann", data=form, headers=OWN)
    assert kept.status_code == 303 and "field=hygiene" in kept.headers["location"]
    hygiene = told(client, "/practice/faculty/sheet", trainee="Ann", field="hygiene")
    assert "never pinches gauze round a blade" in hygiene and "by Dr. Grey" in hygiene
    operative = told(client, "/practice/faculty/sheet", trainee="Ann")
    assert "never pinches gauze round a tip" in operative and "by Dr. Grey" not in operative

    def sheet(procedure: str) -> str:
        asked = {"trainee": "Ann", "procedure": procedure}
        (tmp_path / "sheet.pdf").write_bytes(
            client.get("/practice/faculty/signoff.pdf", params=asked).content
        )
        pages = pypdf.PdfReader(tmp_path / "sheet.pdf").pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())

    assert "by Dr. Grey" in sheet(CLEANING) and "by Dr. Grey" not in sheet(CLASS_TWO)


def test_a_trainee_is_exported_and_deleted_with_every_field(client: TestClient) -> None:
    answer(client, CLASS_TWO, "slot", 2)
    answer(client, CLEANING, "slot", 3)
    form: dict[str, Any] = {"observer": "Dr. Grey", "field": "hygiene"}
    client.post("/practice/faculty/sheet?trainee=Ann", data={**form, "see-sharps_wipe": "no"}, headers=OWN)
    kept = client.get("/practice/faculty/export", params={"trainee": "Ann"}).json()
    assert len(kept["answers"]) == 5 and [o["point"] for o in kept["observations"]] == ["hygiene:sharps_wipe"]
    gone = client.post("/practice/faculty/remove", data={"trainee": "Ann", "sure": "yes"}, headers=OWN)
    assert gone.json() == kept
    assert places(client).store.known("Ann") is None and places(client).store.reviews() == ()
