"""The editor's pages in process: who may edit, what a change does at once, imports, history, spoken names."""

import html
import os
import re
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from listen.chair import Chair, ChairOptions, open_chair
from listen.live import try_names
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from listen.live.try_names import NameToTry
from listen.speech.try_name import Mixup
from listen.web import create_app
from listen.web.edit import editor
from listen.web.edit import pages as editing
from listen.web.edit.editor import way_back
from tests.listen.web.desk_app import (
    HERE,
    OWN,
    Clock,
    StandIn,
    begin,
    hearing_of,
    live_of,
    pcm,
    recording,
    shared_chair,
)
from tests.listen.web.test_live import shows, until
from vocab.layers import Vocabulary
from vocab.layers.changes import AddName, Dentist, SetDentists
from vocab.layers.unknown_words import unknown_words
from vocab.lint.findings import MOST_RISKS, Finding
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Handing, Name, Pack, Tray

CODE = "mirror lead"
NEW = "pocket grabbers"


def app_client(
    folder: Path, lead_code: str | None = None, engine: StandIn | None = None, **settings: Any
) -> TestClient:
    """A client of an app whose layers are in `folder`."""
    options = ChairOptions(procedure="composite_class_two", layers=folder / "layers")

    def opened() -> Chair:
        chair = open_chair(options)
        if chair.pack == shared_chair().pack:  # its names were prepared already
            return replace(chair, names=shared_chair().lexicon)
        return chair

    settings.setdefault("clock", Clock())
    app = create_app(
        opened,
        ServerSettings(data=folder / "data", **settings),
        lambda: engine or StandIn(),
        more_routes=editing.routes(lead_code),
        more_links=(editing.LINK,),
    )
    return TestClient(app, base_url=HERE, follow_redirects=False)


def enter(client: TestClient, name: str = "Kim", code: str = "") -> int:
    """Say who edits; the answer's status."""
    return client.post("/edit/enter", data={"name": name, "code": code}, headers=OWN).status_code


def change(client: TestClient, op: str, **fields: str) -> Any:
    """Send a form of the editor."""
    return client.post("/edit/change", data={"op": op, **fields}, headers=OWN)


def listed(client: TestClient, names: str) -> tuple[str, ...]:
    """List dentists in the first hour; the ids that they were given."""
    client.post("/edit/first-hour", data={"dentists": names}, headers=OWN)
    return tuple(client.app.state.running.chairs.dentists)  # type: ignore[attr-defined]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path


@pytest.fixture
def client(folder: Path) -> Iterator[TestClient]:
    with app_client(folder) as client:
        yield client


PAGES = [
    "/edit",
    "/edit?q=flux+capacitor",
    "/edit/items/cotton_pliers",
    "/edit/new",
    "/edit/trays/composite_class_two",
    "/edit/procedures/composite_class_two",
    "/edit/risks",
    "/edit/history",
    "/edit/import",
    "/edit/first-hour",
    "/edit/unknown",
    "/edit/enter",
]


@pytest.mark.slow
@pytest.mark.parametrize("path", PAGES)
def test_everybody_may_read(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 200
    assert 'action="/edit/change"' not in answer.text
    assert "script-src 'self'" in answer.headers["content-security-policy"]


@pytest.mark.parametrize("path", PAGES)
def test_no_page_holds_a_script_or_a_style(client: TestClient, path: str) -> None:
    enter(client)
    text = client.get(path).text
    assert not re.search(r"<script(?![^>]* src=)|<style|\sstyle=|\son[a-z]+=", text)


def test_a_trainee_cannot_change_anything(client: TestClient, folder: Path) -> None:
    assert change(client, "add_name", item="cotton_pliers", name=NEW).status_code == 403
    assert client.post("/edit/steps", json={}, headers=OWN).status_code in (400, 403)
    assert client.post("/edit/unknown", data={"do": "on"}, headers=OWN).status_code == 403
    assert client.post("/edit/import", data={"text": "x"}, headers=OWN).status_code == 403
    assert client.post("/edit/first-hour", data={"dentists": "x"}, headers=OWN).status_code == 403
    assert not (folder / "layers").exists()


def test_another_website_cannot_change_anything(client: TestClient) -> None:
    enter(client)
    answer = client.post(
        "/edit/change", data={"op": "add_name"}, headers={"origin": "https://elsewhere.example"}
    )
    assert answer.status_code == 403


def test_editing_needs_the_leads_code_where_one_is_set(folder: Path) -> None:
    with app_client(folder, CODE) as client:
        assert enter(client, code="wrong code") == 403
        assert change(client, "add_name", item="cotton_pliers", name=NEW).status_code == 403
        client.cookies.set("traycall_editor", "abc.Kim")
        assert change(client, "add_name", item="cotton_pliers", name=NEW).status_code == 403
        client.cookies.clear()
        assert enter(client, code=CODE) == 303
        assert change(client, "add_name", item="cotton_pliers", name=NEW).status_code == 303


def test_guessing_the_leads_code_is_slowed_down(folder: Path) -> None:
    with app_client(folder, CODE) as client:
        assert [enter(client, code=f"guess {i}") for i in range(6)][-1] == 429
        assert enter(client, code=CODE) == 429


def test_the_pass_code_of_the_screen_does_not_let_one_edit(folder: Path) -> None:
    with app_client(folder, CODE, pass_code=CODE) as client:
        client.post("/enter", data={"code": CODE}, headers=OWN)
        client.cookies.set("traycall_lead", client.cookies["traycall"])
        client.cookies.set("traycall_editor", "abc.Kim")
        assert change(client, "add_name", item="cotton_pliers", name=NEW).status_code == 403


def test_an_open_server_without_a_leads_code_cannot_be_edited(folder: Path) -> None:
    with app_client(folder, None, pass_code="for screens") as client:
        client.post("/enter", data={"code": "for screens"}, headers=OWN)
        assert "TRAYCALL_LEAD_CODE" in client.get("/edit").text
        enter(client)
        client.cookies.set("traycall_editor", "abc.Kim")
        assert change(client, "add_name", item="cotton_pliers", name=NEW).status_code == 403


def test_on_this_machine_the_page_says_that_anybody_may_edit(client: TestClient) -> None:
    assert "anyone at this machine may edit" in client.get("/edit").text


def test_a_new_synonym_is_understood_at_the_chair_at_once(client: TestClient, folder: Path) -> None:
    enter(client)
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        live.send_json({"do": "ask", "text": f"can I have the {NEW}"})
        until(live, shows("note"))
        answer = change(client, "add_name", item="cotton_pliers", name=NEW, why="the evening clinic says so")
        assert answer.status_code == 303
        live.send_json({"do": "ask", "text": f"can I have the {NEW}"})
        assert until(live, shows("answer"))["stage"]["answers"][0]["item"] == "cotton_pliers"
    page = client.get("/edit/items/cotton_pliers").text
    assert NEW in page and "Kim" in page and "the evening clinic says so" in page
    assert open_chair(ChairOptions(layers=folder / "layers")).lexicon.is_name(NEW)


def test_a_room_keeps_its_requests_when_the_vocabulary_changes(client: TestClient) -> None:
    enter(client)
    with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
        live.send_json({"do": "ask", "text": "mouth mirror"})
        before = until(live, shows("answer"))
        change(client, "add_name", item="cotton_pliers", name=NEW)
        live.send_json({"do": "ask", "text": NEW})
        after = until(live, lambda m: m["type"] == "room" and m["events"] > before["events"])
        assert {held["item"] for held in after["out"]} == {"mouth_mirror", "cotton_pliers"}


def test_each_change_can_be_undone_and_both_stay_in_the_history(client: TestClient) -> None:
    enter(client)
    location = change(client, "add_name", item="cotton_pliers", name=NEW).headers["location"]
    mark = location.split("saved=")[1]
    assert mark == "clinic:c1" and "Saved." in client.get(location).text
    assert change(client, "undo", change="c1").status_code == 303
    assert NEW not in client.get("/edit/items/cotton_pliers").text
    page = client.get("/edit/history").text
    assert page.count(NEW) >= 1 and "takes back: adds the name" in page and "undone" in page


def test_a_name_that_another_item_has_is_refused_in_plain_words(client: TestClient) -> None:
    enter(client)
    answer = change(client, "add_name", item="mouth_mirror", name="cotton pliers")
    assert answer.status_code == 400 and "also a name of cotton pliers" in answer.text


@pytest.mark.slow
def test_names_are_renamed_moved_removed_and_items_retired(client: TestClient) -> None:
    enter(client)
    change(client, "rename", item="cotton_pliers", name="long tweezers", keep_old="yes")
    assert "<h1>long tweezers</h1>" in client.get("/edit/items/cotton_pliers").text
    change(client, "add_name", item="mouth_mirror", name=NEW)
    change(client, "move_name", source="mouth_mirror", name=NEW, item="long tweezers")
    assert NEW in client.get("/edit/items/cotton_pliers").text
    change(client, "remove_name", item="cotton_pliers", name=NEW)
    assert f"<strong>{NEW}</strong>" not in client.get("/edit/items/cotton_pliers").text
    assert change(client, "retire", item="cotton_pliers", back="/edit/items/cotton_pliers").status_code == 303
    assert client.get("/edit/items/cotton_pliers").status_code == 404
    assert client.get("/items/cotton_pliers").status_code == 404


@pytest.mark.slow
def test_the_item_page_tells_who_added_each_name_when_and_why(client: TestClient, folder: Path) -> None:
    """Read back from the page's table, row by row; what the layers hold is written by the library itself."""
    vocabulary = Vocabulary(shipped_pack("operative"), folder / "layers", "grey")
    day = datetime(2027, 1, 15, 23, 30, tzinfo=UTC)
    ours = AddName(item="cotton_pliers", name=Name(text="grabbers", note="heard daily"))
    vocabulary.record("clinic", [SetDentists(dentists=(Dentist(id="grey", name="Dr Grey"),))], "Kim", day)
    vocabulary.record("clinic", [ours], "Kim", day, "we <all> say it")
    theirs = AddName(item="cotton_pliers", name=Name(text="tweezies"))
    vocabulary.record("grey", [theirs], "Noor", day)
    enter(client)
    change(client, "add_name", item="mouth_mirror", name="looking glass")  # the app reads the layers anew
    page = client.get("/items/cotton_pliers").text
    rows = {cells[0]: cells[1:] for cells in table_rows(page)}
    assert rows["grabbers"] == ["", "Kim, for everyone", "2027-01-15", "we <all> say it; heard daily"]
    assert rows["tweezies"] == ["", "Noor, for Dr Grey", "2027-01-15", ""]
    assert rows["cotton pliers (preferred)"][1] == "as it came"
    assert "we &lt;all&gt; say it" in page


def table_rows(page: str) -> list[list[str]]:
    """The cells of a page's tables as text."""
    rows = re.findall(r"<tr>(.*?)</tr>", page, re.DOTALL)
    cells = [re.findall(r"<td[^>]*>(.*?)</td>", row, re.DOTALL) for row in rows]
    plain = [[" ".join(html.unescape(re.sub(r"<[^>]+>", "", cell)).split()) for cell in row] for row in cells]
    return [row for row in plain if row]


def test_a_new_item_is_found_by_its_name(client: TestClient) -> None:
    enter(client)
    fields = {
        "name": "tongue lollipop",
        "class": "isolation",
        "purpose": "Holds a tongue.",
        "look": "A flat stick.",
        "reprocessing": "single use",
    }
    assert change(client, "add_item", **fields).headers["location"].startswith("/edit/items/tongue_lollipop")
    assert client.get("/find", params={"q": "tongue lollipop"}).status_code == 303
    assert change(client, "add_item", **{**fields, "class": "nonsense", "name": "other"}).status_code == 400


@pytest.mark.slow
def test_a_name_means_another_item_for_one_dentist_only(client: TestClient, folder: Path) -> None:
    enter(client)
    grey, _ = listed(client, "Dr. Grey, Dr. Reed")
    assert change(client, "mean", layer=grey, name="pickups", item="mouth mirror").status_code == 303
    own = Vocabulary(shipped_pack("operative"), folder / "layers", grey).composed().pack
    assert "pickups" in [name.text for name in own.item("mouth_mirror").names]
    assert client.app.state.running.chair.lexicon.find("pickups")[0].item == "cotton_pliers"  # type: ignore[attr-defined]
    assert "Dr. Grey only" in client.get("/edit/items/mouth_mirror").text
    assert change(client, "mean", layer="nobody", name="pickups", item="mouth mirror").status_code == 400


@pytest.mark.slow
def test_a_session_goes_by_the_names_of_its_dentist(client: TestClient) -> None:
    enter(client)
    grey, reed = listed(client, "Dr. Grey, Dr. Reed")
    change(client, "mean", layer=grey, name="pickups", item="mouth mirror")
    change(client, "add_name", layer=reed, name="whirly", item="cotton_pliers")
    assert "Dr. Reed" in client.get("/").text
    running: Sessions = client.app.state.running  # type: ignore[attr-defined]

    def asked(text: str, dentist: str) -> str | None:
        begun = client.post(
            "/start", data={"procedure": "composite_class_two", "dentist": dentist}, headers=OWN
        )
        chair_session = running.chair_session(int(begun.headers["location"].rsplit("/", 1)[1]))
        chair_session.ask(text)
        page = client.get(begun.headers["location"]).text
        assert (f", for {running.chairs.dentists[dentist]}" in page) if dentist else (", for Dr." not in page)
        return chair_session.stage.answers[0].item if chair_session.stage.answers else None

    assert asked("pickups please", grey) == "mouth_mirror"
    assert asked("pickups please", reed) == asked("pickups please", "") == "cotton_pliers"
    assert asked("can I have the whirly", reed) == "cotton_pliers"
    assert asked("can I have the whirly", grey) is None
    heard = {name.text for item in running.all_fields.heard("operative").items for name in item.names}
    assert {"whirly", "pickups"} <= heard
    nobody = client.post(
        "/start", data={"procedure": "composite_class_two", "dentist": "nobody"}, headers=OWN
    )
    assert nobody.status_code == 400


@pytest.mark.slow
def test_a_change_of_a_dentists_names_counts_in_a_session_that_runs(client: TestClient) -> None:
    enter(client)
    (grey,) = listed(client, "Dr. Grey")
    begun = client.post("/start", data={"procedure": "composite_class_two", "dentist": grey}, headers=OWN)
    number = int(begun.headers["location"].rsplit("/", 1)[1])
    change(client, "add_name", layer=grey, name="whirly", item="cotton_pliers")
    chair_session = client.app.state.running.chair_session(number)  # type: ignore[attr-defined]
    chair_session.ask("can I have the whirly")
    assert chair_session.stage.answers[0].item == "cotton_pliers"


@pytest.mark.slow
def test_a_server_may_be_started_for_a_dentist_by_name(client: TestClient, folder: Path) -> None:
    enter(client)
    (grey,) = listed(client, "Dr. Grey")
    chair = open_chair(ChairOptions(layers=folder / "layers", dentist="dr.  GREY"))
    assert chair.options.dentist == grey


def test_kits_are_opened_and_packed_beside_a_tray(client: TestClient) -> None:
    def now() -> Tray:
        return client.app.state.running.chair.pack.tray("examination")  # type: ignore[attr-defined,no-any-return]

    enter(client)
    assert change(client, "set_tray_kits", tray="examination", kit_dam_kit="yes").status_code == 303
    assert now().kits == ("dam_kit",) and now().slot_of("dam_punch") == "dam kit 1"
    lines = "cotton pliers\nshepherd's hook explorer"
    new = {"name": "Second look", "place": "counter", "items": lines}
    assert change(client, "new_kit", tray="examination", **new).status_code == 303
    kit = now().opened[-1]
    assert (kit.id, kit.place, now().slot_of("gauze_square")) == ("second_look", "counter", "15")
    assert [(s.at, s.item) for s in kit.on_tray][1] == ("second look 2", "explorer_shepherd")
    assert "Second look" in client.get("/edit/trays/examination").text
    wrong = change(client, "new_kit", tray="examination", **{**new, "items": "flux capacitor"})
    assert wrong.status_code == 400 and "flux capacitor" in wrong.text


@pytest.mark.slow
def test_two_slots_change_places(client: TestClient) -> None:
    enter(client)
    tray = shipped_pack("operative").tray("composite_class_two")
    one, two = tray.slots[0], tray.slots[1]
    assert change(client, "move_slot", tray=tray.id, source=one.at, target=two.at).status_code == 303
    now = client.app.state.running.chair.pack.tray(tray.id)  # type: ignore[attr-defined]
    assert (now.slots[0].item, now.slots[1].item) == (two.item, one.item)
    change(client, "set_slot", tray=tray.id, at="99", item="gauze", count="3", row=tray.rows[0].name)
    change(client, "clear_slot", tray=tray.id, at="99")
    assert change(client, "clear_slot", tray=tray.id, at="99").status_code == 400
    bad = change(client, "set_slot", tray=tray.id, at="1", item="gauze", count="many")
    assert bad.status_code == 400


@pytest.mark.slow
def test_other_steps_show_another_order_and_are_saved_only_when_told_to(client: TestClient) -> None:
    enter(client)
    known = shipped_pack("operative").procedure("composite_class_two")
    steps = [step.model_dump(mode="json", exclude_defaults=True) for step in reversed(known.steps)]
    wish = {"procedure": known.id, "steps": steps}
    shown = client.post("/edit/steps", json=wish, headers=OWN).json()
    assert shown["before"] != shown["after"] and shown["saved"] == ""
    assert client.get("/edit/history").text.count("sets the steps") == 0
    shown = client.post("/edit/steps", json={**wish, "save": True}, headers=OWN).json()
    assert shown["saved"] == "clinic:c1"
    broken = {"procedure": known.id, "steps": [{"name": "Empty", "items": {}}]}
    assert "at least one item" in client.post("/edit/steps", json=broken, headers=OWN).json()["problem"]


def test_findings_come_while_typing(client: TestClient) -> None:
    found = client.get("/edit/lint", params={"name": "cotton pliers", "item": "mouth_mirror"}).json()
    assert found["findings"][0]["severity"] == "high" and "asked which one" in found["findings"][0]["message"]
    assert client.get("/edit/lint", params={"name": "", "item": "mouth_mirror"}).json()["findings"] == []
    assert client.get("/edit/lint", params={"name": "rinse", "item": ""}).json()["findings"]


def test_a_name_that_stands_is_said_to_the_engine_once_and_its_findings_change(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    go = threading.Event()

    def heard(running: Sessions, field: str, wish: NameToTry) -> tuple[Mixup, ...]:
        said.append(wish.text)
        assert go.wait(10)
        return (Mixup(wish.text, "carver", (wish.item, "hollenback_carver"), 6, 3.0),)

    monkeypatch.setattr(try_names, "heard_of", heard)
    name = {"name": "whirly", "item": "cotton_pliers"}

    def ask(**more: str) -> Any:
        return client.get("/edit/lint", params={**name, **more}).json()

    assert ask(**{"try": "yes"})["tried"] == "not"  # a reader may not
    enter(client)
    assert ask()["tried"] == "not"
    assert ask(**{"try": "yes"})["tried"] == "being said"
    assert ask(**{"try": "yes"})["tried"] == "being said"
    go.set()
    for _ in range(200):
        if (told := ask())["tried"] == "done":
            break
        time.sleep(0.05)
    assert told["findings"][0]["severity"] == "high" and told["taken"]
    assert '"whirly" would be taken for "carver" about 1 time in' in told["findings"][0]["message"]
    assert ask(**{"try": "yes"})["tried"] == "done" and said == ["whirly"]
    change(client, "add_name", name="another", item="cotton_pliers")
    assert ask()["tried"] == "not"  # among other names it may be taken for another


@pytest.mark.slow
def test_a_risk_is_done_with_by_its_button_and_comes_back_with_undo(client: TestClient) -> None:
    reader = client.get("/edit/risks").text
    assert "<button>Always ask" not in reader and 'href="/edit/enter?back=/edit/risks"' in reader
    enter(client)
    page = client.get("/edit/risks").text
    one, other = re.findall(r'name="(?:item|other)" value="(\w+)"', page)[:2]
    saved = change(client, "ask_back", item=one, other=other, back="/edit/risks")
    assert saved.headers["location"].startswith("/edit/risks?saved=")
    running: Sessions = client.app.state.running  # type: ignore[attr-defined]
    assert (one, other) in running.chair.pack.wide_margin
    after = client.get(saved.headers["location"]).text
    assert "always asks which one is meant" in after and "Put right here" in after
    assert f'value="{one}"><input type="hidden" name="other" value="{other}"' not in after
    assert change(client, "ask_back", item=other, other=one).status_code == 400
    assert change(client, "ask_back", item=one, other=one).status_code == 400
    change(client, "undo", change="c1")
    assert (one, other) not in running.chair.pack.wide_margin
    assert "Put right here" not in client.get("/edit/risks").text


def test_names_are_looked_over_once_for_each_version_of_the_vocabulary(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    packs = []

    def counted(pack: Pack, sounds: object) -> tuple[Finding, ...]:
        packs.append(pack.called["cotton_pliers"])
        return ()

    monkeypatch.setattr(editor, "lint", counted)
    enter(client)
    for _ in range(3):
        assert client.get("/edit/risks").status_code == 200
    assert len(packs) == 1
    change(client, "add_name", name="pocket grabbers", item="cotton_pliers")
    client.get("/edit/risks")
    assert len(packs) == 2


def test_every_finding_about_two_names_has_its_remedy_as_a_button(client: TestClient) -> None:
    enter(client)
    page = client.get("/edit/risks").text
    found = page.count('<li class="finding"')
    assert 0 < found <= MOST_RISKS
    assert len(re.findall(r"<button aria-label=\"Always ask which of the two is meant: ", page)) == found
    assert "traycall " not in re.sub(r"<[^>]+>", "", page.split("<main", 1)[1])


@pytest.mark.parametrize(
    "path", ["/edit/first-hour", "/edit/new", "/edit/unknown", "/edit/import", "/edit/trays/examination"]
)
def test_a_closed_form_says_how_to_begin_and_leads_back(client: TestClient, path: str) -> None:
    page = client.get(path).text
    main = page.split("<main", 1)[1]
    assert "disabled" not in main and f'class="button main" href="/edit/enter?back={path}"' in main
    back = client.post("/edit/enter", data={"name": "Kim", "back": path}, headers=OWN)
    assert back.headers["location"] == path
    assert "after saying who you are" not in client.get(path).text


def test_the_way_back_keeps_the_place_on_a_page() -> None:
    assert way_back("/edit/risks#about-1") == "/edit/risks#about-1"
    assert way_back("/edit/risks#<img>") == "/edit"


def test_where_nothing_can_say_a_name_the_page_goes_by_sound_and_tells_why(client: TestClient) -> None:
    enter(client)
    query = {"name": "whirly", "item": "cotton_pliers", "try": "yes"}
    for _ in range(200):
        if (told := client.get("/edit/lint", params=query).json())["problem"]:
            break
        time.sleep(0.05)
    assert told["problem"] == "only the embedded engine can be asked about a name"
    assert client.get("/edit/lint", params=query).json()["tried"] == "not"


@pytest.mark.slow
def test_a_file_is_previewed_with_every_problem_before_it_is_saved(client: TestClient) -> None:
    enter(client)
    exported = client.get("/edit/export/names.csv").text
    head = exported.splitlines()[0]
    empty = "," * 7
    rows = [f",cotton_pliers,synonym,{NEW}", ",no_such,synonym,thing", ",cotton_pliers,odd,x y"]
    bad = "\n".join([head, *(row + empty for row in rows)])
    page = client.post("/edit/import", files={"file": ("names.csv", bad)}, headers=OWN).text
    assert "2 problems" in page and NEW in page and "Save all of it" not in page
    good = f"{head}\n,cotton_pliers,synonym,{NEW},,,,,,,\n"
    page = client.post("/edit/import", files={"file": ("names.csv", good)}, headers=OWN).text
    assert "Save all of it" in page and "1 thing" in page
    assert not client.app.state.running.chair.lexicon.is_name(NEW)  # type: ignore[attr-defined]
    saved = {"text": good, "name": "names.csv", "sure": "yes"}
    assert client.post("/edit/import", data=saved, headers=OWN).status_code == 303
    assert client.app.state.running.chair.lexicon.is_name(NEW)  # type: ignore[attr-defined]
    unchanged = client.get("/edit/export/vocabulary.yaml").text
    page = client.post("/edit/import", files={"file": ("all.yaml", unchanged)}, headers=OWN).text
    assert "Nothing would change" in page
    assert client.post("/edit/import", files={"file": ("x.csv", b"\xff\xfe")}, headers=OWN).status_code == 200
    assert client.post("/edit/import", files={"file": ("x.csv", b"")}, headers=OWN).status_code == 400


def test_the_first_hour_is_asked_once_and_remembers_its_answers(client: TestClient) -> None:
    enter(client)
    data = {"handedness": "left", "makers_names:gauze": "", "dentists": "Dr. Grey"}
    assert (
        client.post("/edit/first-hour", data={k: v for k, v in data.items() if v}, headers=OWN).status_code
        == 303
    )
    page = client.get("/edit/first-hour").text
    assert re.search(r'value="left" checked', page) and 'value="Dr. Grey"' in page
    chair_session = client.app.state.running.chair_session(begin(client))  # type: ignore[attr-defined]
    assert chair_session.settings.operator_handed == "left"
    before = client.get("/edit/history").text.count("<li")
    client.post("/edit/first-hour", data={"handedness": "left", "dentists": "Dr. Grey"}, headers=OWN)
    assert client.get("/edit/history").text.count("<li") == before
    assert client.post("/edit/first-hour", data={"handedness": "third"}, headers=OWN).status_code == 400


@pytest.mark.slow
def test_the_first_hour_asks_for_hands_the_dam_and_the_card(client: TestClient) -> None:
    enter(client)
    grey, reed = listed(client, "Dr. Grey, Dr. Reed")
    page = client.get("/edit/first-hour").text
    assert "Which hand does Dr. Grey work with?" in page and "Which rubber dam do you stock?" in page
    assert 'placeholder="Stop. Make safe. Tell ... ."' in page
    card = "Stop, hands off.\r\nMake it safe, then wash.\r\n\r\nTell the lead."
    data = {f"hand:{reed}": "left", "kept:dam_sheet": "dam_sheet_latex_free", "injury_card": card}
    assert client.post("/edit/first-hour", data=data, headers=OWN).status_code == 303
    running: Sessions = client.app.state.running  # type: ignore[attr-defined]
    clinic = running.chair.clinic
    assert clinic.injury_card == ("Stop, hands off.", "Make it safe, then wash.", "Tell the lead.")
    assert (clinic.hand_of(grey), clinic.hand_of(reed)) == ("right", "left")
    assert [c.item for c in running.chair.lexicon.find("rubber dam") if c.p > 0.1] == ["dam_sheet_latex_free"]
    page = client.get("/edit/first-hour").text
    assert "Make it safe, then wash.\nTell the lead." in page
    assert re.search(r'value="dam_sheet_latex_free" checked', page)
    before = client.get("/edit/history").text.count("<li")
    again = {**data, "dentists": "DR. REED, Dr. Grey", "injury_card": card}
    client.post("/edit/first-hour", data=again, headers=OWN)
    assert client.get("/edit/history").text.count("<li") == before + 1  # the order of the dentists
    assert set(running.chairs.dentists) == {grey, reed}
    for dentist, hand in ((grey, "right"), (reed, "left")):
        begun = client.post("/start", data={"procedure": "sealant", "dentist": dentist}, headers=OWN)
        chair_session = running.chair_session(int(begun.headers["location"].rsplit("/", 1)[1]))
        assert chair_session.settings.operator_handed == hand
        assert chair_session.injury_card == clinic.injury_card
        assert "<li>Make it safe, then wash.</li>" in client.get(f"/chair/{chair_session.session.id}").text


@pytest.mark.slow
def test_sizes_and_how_an_item_is_passed_are_kept_on_its_page(client: TestClient, folder: Path) -> None:
    enter(client)
    item = {"item": "cotton_pliers"}
    sizes = "small\nlarge\n"
    answer = change(client, "set_details", **item, variants=sizes, variant_names="{} grabbers", latex="yes")
    assert answer.status_code == 303
    passed = {
        "taken_by": "operator",
        "grasp": "palm",
        "exchange": "two hands",
        "part": "tips",
        "faces": "teeth",
    }
    change(client, "set_handing", **item, **passed, out_of_sight="yes", note="Closed.")
    pack = client.app.state.running.chair.pack  # type: ignore[attr-defined]
    known = pack.item("cotton_pliers")
    assert known.latex and [v for _, v in known.variant_name_pairs] == ["small", "large"]
    assert known.handing == Handing.model_validate({**passed, "out_of_sight": True, "note": "Closed."})
    page = client.get("/edit/items/cotton_pliers").text
    assert (
        "large grabbers" in page
        and 'value="two hands" selected' in page
        and "small\nlarge</textarea>" in page
    )
    assert (
        change(
            client, "set_details", **item, variants=sizes, variant_names="{} grabbers", latex="yes"
        ).status_code
        == 400
    )
    change(client, "set_handing", **item, taken_by="operator", part="tips")
    assert change(client, "set_handing", **item, taken_by="patient", grasp="pen").status_code == 400
    tray = pack.tray("composite_class_two")
    at = tray.slot_of("cotton_pliers")
    assert change(client, "set_slot", tray=tray.id, at=at, **item, variants="large").status_code == 303
    page = client.get(f"/edit/trays/{tray.id}").text
    assert 'data-variants="large"' in page
    refused = change(client, "set_slot", tray=tray.id, at=at, **item, variants="huge")
    assert refused.status_code == 400 and "there are: small, large" in refused.text
    change(client, "set_slot", tray=tray.id, at=at, **item)
    assert change(client, "set_details", **item, variants="").status_code == 303
    assert client.app.state.running.chair.pack.item("cotton_pliers").variants == ()  # type: ignore[attr-defined]


def test_a_name_may_be_shared_on_purpose(client: TestClient) -> None:
    enter(client)
    name = {"item": "cotton_pliers", "name": "carver"}
    assert change(client, "add_name", **name).status_code == 400
    assert change(client, "add_name", **name, shared="yes").status_code == 303
    running: Sessions = client.app.state.running  # type: ignore[attr-defined]
    found = {c.item for c in running.chair.lexicon.find("carver") if c.p > 0.1}
    assert "cotton_pliers" in found and len(found) > 1
    assert "To be decided" not in client.get("/edit").text


def test_who_may_not_edit_is_told_before_anything_is_read(client: TestClient) -> None:
    def endless() -> Iterator[bytes]:
        yield b'{"procedure": "'
        raise AssertionError("a reader's steps were read")

    answer = client.post("/edit/steps", content=endless(), headers=OWN)
    assert answer.status_code == 403
    enter(client)
    large = b'{"procedure": "' + b"x" * 600_000 + b'"}'
    answer = client.post("/edit/steps", content=large, headers=OWN)
    assert answer.status_code == 400 and "sent too much" in answer.json()["problem"]
    deep = client.post("/edit/steps", content=b"[" * 100_000, headers=OWN)
    assert deep.status_code == 400


def test_a_full_disk_is_told_and_the_editor_works_again_afterwards(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    enter(client)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        answer = change(client, "add_name", item="cotton_pliers", name=NEW)
    assert answer.status_code == 400 and "No space left on device" in answer.text
    assert change(client, "add_name", item="cotton_pliers", name=NEW).status_code == 303


@pytest.mark.parametrize("name", ["x" * 81, "x" * 301, "two\u202elines", "byte\x00", "escape\x1b[31m"])
def test_a_name_that_would_hurt_is_refused_in_words(client: TestClient, name: str) -> None:
    enter(client)
    answer = change(client, "add_name", item="cotton_pliers", name=name)
    assert answer.status_code == 400 and "Nothing was changed" in answer.text


def test_unknown_names_are_kept_only_when_switched_on_and_adopted_by_touch(client: TestClient) -> None:
    enter(client)

    def ask() -> None:
        with client.websocket_connect(live_of(begin(client)), headers=OWN) as live:
            live.send_json({"do": "ask", "text": "could you pass me the zorblat please"})
            until(live, shows("note"))

    ask()
    assert "zorblat" not in client.get("/edit/unknown").text
    client.post("/edit/unknown", data={"do": "on"}, headers=OWN)
    ask()
    assert "zorblat" in client.get("/edit/unknown").text
    wish = {"do": "adopt", "text": "zorblat", "item": "cotton_pliers"}
    assert client.post("/edit/unknown", data=wish, headers=OWN).status_code == 303
    assert client.app.state.running.chair.lexicon.find("zorblat")[0].item == "cotton_pliers"  # type: ignore[attr-defined]
    assert "None so far" in client.get("/edit/unknown").text
    client.post("/edit/unknown", data={"do": "off"}, headers=OWN)
    assert "Nothing is kept now" in client.get("/edit/unknown").text


def test_an_unknown_name_is_noted_once_while_a_question_is_open(folder: Path) -> None:
    options = ChairOptions(procedure="composite_class_two", layers=folder / "layers")

    def opened() -> Chair:
        return replace(open_chair(options), names=shared_chair().lexicon)

    running = Sessions(opened, ServerSettings(data=folder / "data", clock=Clock()), StandIn)
    words = unknown_words(Vocabulary(shipped_pack("operative"), folder / "layers"))
    words.switch(True)
    chair_session = running.open("composite_class_two", None)
    for times, unknown in enumerate(("zorblat", "zorblat"), start=1):
        chair_session.ask("cartridge with vasoconstrictor please")
        assert chair_session.check is not None
        chair_session.ask(f"could you pass me the {unknown} please")
        assert [(entry.text, entry.times) for entry in words.entries()] == [(unknown, times)]
    chair_session.ask("cartridge with vasoconstrictor please")
    assert chair_session.check is not None
    chair_session.hear(hearing_of("Could you pass me the flurb please?", -30.0))
    assert {entry.text: entry.times for entry in words.entries()} == {"zorblat": 2, "flurb": 1}


def test_a_second_editor_is_told_who_is_editing(folder: Path) -> None:
    clock = Clock()
    with app_client(folder, clock=clock) as kim:
        enter(kim, "Kim")
        change(kim, "add_name", item="cotton_pliers", name=NEW)
        lee = TestClient(kim.app, base_url=HERE, follow_redirects=False)
        enter(lee, "Lee")
        assert "Kim</strong> has been editing since" in lee.get("/edit").text
        refused = change(lee, "add_name", item="cotton_pliers", name="other grabbers")
        assert refused.status_code == 409 and "Kim has been editing" in refused.text
        kim.post("/edit/leave", headers=OWN)
        assert change(lee, "add_name", item="cotton_pliers", name="other grabbers").status_code == 303
        enter(kim, "Kim")
        assert change(kim, "undo", change="c1").status_code == 409
        clock.now_s += 601
        assert change(kim, "undo", change="c1").status_code == 303


def test_the_command_line_holding_the_lock_is_named_too(client: TestClient, folder: Path) -> None:
    from datetime import UTC, datetime

    enter(client)
    store = Vocabulary(shipped_pack("operative"), folder / "layers").store("clinic")
    with store.editing("Robin", datetime(2026, 1, 2, tzinfo=UTC)):
        answer = change(client, "add_name", item="cotton_pliers", name=NEW)
    assert answer.status_code == 409 and "Robin has been editing" in answer.text


def test_what_an_editor_writes_is_never_taken_for_markup(client: TestClient) -> None:
    evil = "<img src=x>\"'&"
    enter(client, evil)
    change(client, "add_name", item="cotton_pliers", name=f"{evil} grabber", why=evil)
    for path in (
        "/edit",
        "/edit/items/cotton_pliers",
        "/edit/history",
        "/edit?saved=clinic:c1",
        "/edit?q=<img>",
    ):
        assert "<img" not in client.get(path).text


def test_nonsense_is_answered_in_words(client: TestClient) -> None:
    enter(client)
    assert change(client, "no_such_op").status_code == 400
    assert change(client, "add_name", item="cotton_pliers", name=" ").status_code == 400
    assert change(client, "add_name", item="flux capacitor", name="x y").status_code == 400
    assert change(client, "undo", change="c99").status_code == 400
    assert client.post("/edit/steps", content=b"[1", headers=OWN).status_code == 400
    for path in ("/edit/items/none", "/edit/trays/none", "/edit/procedures/none", "/edit/export/none"):
        assert client.get(path).status_code == 404
    assert client.get("/edit?saved=evil:c1").status_code == 200
    outside = change(client, "add_name", item="cotton_pliers", name=NEW, back="//elsewhere.example")
    assert outside.headers["location"].startswith("/edit?")


def test_a_spoken_name_is_told_as_the_engine_heard_it(folder: Path) -> None:
    engine = StandIn()
    with app_client(folder, engine=engine) as client:
        enter(client)
        engine.texts.append("Cotton pliers.")
        with client.websocket_connect(f"{HERE.replace('http', 'ws')}/edit/listen", headers=OWN) as live:
            live.send_json({"open": True, "item": "cotton_pliers", "name": NEW})
            for block in pcm(recording(5)):
                live.send_bytes(block)
            told = until(live, lambda message: message["type"] == "heard")
        assert told["heard"] == "Cotton pliers." and told["now"]["item"] == "cotton_pliers"


def test_a_reader_cannot_open_the_editors_microphone(client: TestClient) -> None:
    from starlette.websockets import WebSocketDisconnect

    with (
        client.websocket_connect(f"{HERE.replace('http', 'ws')}/edit/listen", headers=OWN) as live,
        pytest.raises(WebSocketDisconnect),
    ):
        live.receive_json()


def test_a_broken_layer_is_told_on_the_page(client: TestClient, folder: Path) -> None:
    enter(client)
    change(client, "add_name", item="cotton_pliers", name=NEW)
    (folder / "layers" / "clinic.yaml").write_text("name: clinic\nchanges: [")
    assert "newest good backup" in client.get("/edit").text


@pytest.mark.slow
def test_an_engine_knows_new_names_as_if_it_had_been_built_with_them(tmp_path: Path) -> None:
    """Against the engine built from nothing."""

    from listen.neural.engine import NeuralEngine
    from listen.speech.try_name import with_name

    pack = shipped_pack("operative")
    small = pack.model_copy(
        update={"items": pack.items[:12], "trays": (), "procedures": (), "wide_margin": ()}
    )
    engine = NeuralEngine(small, tmp_path)
    changed = with_name(small, small.items[2].id, Name(text=NEW, say=("pocket crabbers",)))
    quick, whole = engine.renewed(changed, keep=False), NeuralEngine(changed, tmp_path)
    samples = recording(5)
    one, other = quick.hear(samples), whole.hear(samples)
    assert [p.text for p in one.phrasings] == [p.text for p in other.phrasings]
    here, there = ([p.log_p for p in hearing.phrasings] for hearing in (one, other))
    assert np.allclose(here, there, atol=1e-3)


@pytest.mark.slow
def test_dentists_listed_earlier_stay_editable(client: TestClient, folder: Path) -> None:
    enter(client)
    vocabulary = Vocabulary(shipped_pack("operative"), folder / "layers")
    dentists = SetDentists(dentists=(Dentist(id="grey", name="Dr. Grey"),))
    from datetime import UTC, datetime

    vocabulary.record("clinic", [dentists], "Kim", datetime(2026, 1, 2, tzinfo=UTC))
    added = AddName(item="cotton_pliers", name=Name(text=NEW))
    Vocabulary(vocabulary.pack, vocabulary.folder, "grey").record(
        "grey", [added], "Kim", datetime(2026, 1, 2, tzinfo=UTC)
    )
    assert change(client, "undo", layer="grey", change="c1").status_code == 303
