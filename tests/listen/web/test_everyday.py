"""The everyday ways at the desk, over HTTP: a name from an item's page, the look-up, photographs, errors."""

import io
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient

from listen.web.edit.editor import way_back
from listen.web.pages import whereabouts
from tests.listen.web.desk_app import HERE, OWN, begin, client_for, live_of
from tests.listen.web.test_edit import app_client, change, enter
from vocab.layers.photographs import LARGEST_FILE
from vocab.layers.unknown_words import unknown_words

ITEM, NEW = "cotton_pliers", "pocket grabbers"
NAME_PAGE, PHOTOGRAPH = f"/edit/items/{ITEM}/name", f"/edit/items/{ITEM}/photograph"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with app_client(tmp_path) as client:
        yield client


def main_of(text: str) -> str:
    """What a page says, without its tags."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text[text.index("<main") :])).split())


# --- a name from an item's page ------------------------------------------------------------------


def test_an_items_page_leads_to_the_form_and_back_with_what_was_added(client: TestClient) -> None:
    enter(client)
    assert f'href="{NAME_PAGE}"' in client.get(f"/items/{ITEM}").text
    form = client.get(NAME_PAGE).text
    assert 'name="name" value="" required autofocus' in form and "data-lint" in form
    back = re.search(r'name="back" value="([^"]+)"', form)
    assert back is not None and back[1] == f"/items/{ITEM}"
    answer = change(client, "add_name", item=ITEM, name=NEW, back=back[1])
    assert answer.status_code == 303 and answer.headers["location"].startswith(f"/items/{ITEM}?saved=")
    shown = client.get(answer.headers["location"]).text
    assert f'Saved. Kim adds the name "{NEW}" to cotton pliers.' in main_of(shown)
    assert (
        'value="undo"' in shown
        and client.get("/find", params={"q": NEW}).headers["location"] == f"/items/{ITEM}"
    )


def test_who_has_not_said_who_they_are_is_asked_once_and_comes_back(client: TestClient) -> None:
    asked = client.get(f"{NAME_PAGE}?called=pocket+grabbers")
    assert asked.status_code == 303 and asked.headers["location"].startswith("/edit/enter?back=")
    form = client.get(asked.headers["location"]).text
    back = re.search(r'name="back" value="([^"]+)"', form)
    assert back is not None
    entered = client.post("/edit/enter", data={"name": "Kim", "back": unescape(back[1])}, headers=OWN)
    assert entered.headers["location"] == f"{NAME_PAGE}?called=pocket+grabbers"
    assert f'value="{NEW}"' in client.get(entered.headers["location"]).text


def test_a_clash_is_said_in_the_form_with_what_was_typed(client: TestClient) -> None:
    enter(client)
    answer = change(client, "add_name", item=ITEM, name="mouth mirror", back=f"/items/{ITEM}")
    assert answer.status_code == 400
    assert "Not saved" in main_of(answer.text) and 'value="mouth mirror"' in answer.text


@pytest.mark.parametrize(
    "wanted",
    [
        "",
        "https://example.org",
        "//example.org",
        "/\\example.org",
        "/items/../x",
        "/edit/enter",
        "/static/x",
        "/editor",
    ],
)
def test_a_way_back_leads_to_a_page_of_the_vocabulary_or_of_an_item_only(wanted: str) -> None:
    assert way_back(wanted) == "/edit"


def test_a_way_back_keeps_the_address() -> None:
    for address in ("/edit", "/items/hoe", "/edit/items/hoe/name?called=it%27s+new"):
        assert way_back(address) == address


def test_without_the_pages_of_the_vocabulary_nothing_is_offered(tmp_path: Path) -> None:
    with client_for(tmp_path) as client:
        assert "/edit" not in client.get(f"/items/{ITEM}").text
        assert "What is it?" not in client.get("/find", params={"q": "flux capacitor"}).text


# --- what nobody knows ---------------------------------------------------------------------------


def test_an_unknown_name_is_asked_about_and_may_be_given_to_an_item(client: TestClient) -> None:
    enter(client)
    missed = client.get("/find", params={"q": NEW})
    assert missed.status_code == 404 and f"You called it “{NEW}”. What is it?" in main_of(missed.text)
    chosen = client.get("/find", params={"q": "cotton pliers", "called": NEW})
    assert chosen.headers["location"] == f"{NAME_PAGE}?called=pocket+grabbers"
    unclear = client.get("/find", params={"q": "plugger", "called": NEW})
    assert unclear.status_code == 200
    assert "/edit/items/condenser_large/name?called=pocket%20grabbers" in unclear.text
    nothing = client.get("/find", params={"q": "flux capacitor", "called": NEW})
    assert nothing.status_code == 404 and f"called “{NEW}” here" in main_of(nothing.text)


def test_only_the_name_in_a_request_is_asked_about(client: TestClient) -> None:
    missed = client.get("/find", params={"q": f"can I have the {NEW}, please"}).text
    assert f"You called it “{NEW}”" in main_of(missed)


def test_a_near_miss_leads_to_the_item_and_offers_the_name(client: TestClient) -> None:
    found = client.get("/find", params={"q": "pluger"})
    assert found.headers["location"] == "/items/condenser_small?called=pluger"
    page = client.get(found.headers["location"])
    assert "“pluger” is not one of its names" in main_of(page.text)
    assert client.get("/find", params={"q": "tweezers"}).headers["location"] == f"/items/{ITEM}"
    other = client.get("/find", params={"q": "pluger", "called": "pluger", "all": "yes"})
    assert other.status_code == 200 and "/edit/items/condenser_small/name?called=pluger" in other.text


def test_a_name_that_was_added_leaves_the_list_of_unknown_words(client: TestClient, tmp_path: Path) -> None:
    enter(client)
    client.post("/edit/unknown", data={"do": "on"}, headers=OWN)
    words = unknown_words(client.app.state.running.chairs.vocabulary(None))  # type: ignore[attr-defined]
    session = begin(client)
    with client.websocket_connect(live_of(session), headers=OWN) as screen:
        screen.send_json({"do": "ask", "text": f"can I have the {NEW}"})
        _message(screen, "unknown")
    assert [one.text for one in words.entries()] == [NEW]
    change(client, "add_name", item=ITEM, name=NEW, back=f"/items/{ITEM}")
    assert words.entries() == ()


def _message(screen: Any, kind: str) -> dict[str, Any]:
    for _ in range(20):
        message: dict[str, Any] = screen.receive_json()
        if message["type"] == kind:
            return message
    raise AssertionError(f"no {kind} came")


def test_a_chair_tells_an_unknown_name_to_the_screen_it_was_typed_on_alone(tmp_path: Path) -> None:
    with client_for(tmp_path) as client:
        session = begin(client)
        address = live_of(session)
        with (
            client.websocket_connect(address, headers=OWN) as typed,
            client.websocket_connect(address, headers=OWN) as other,
        ):
            typed.send_json({"do": "ask", "text": f"can I have the {NEW}"})
            told = _message(typed, "unknown")
            assert told["called"] == NEW
            seen: list[dict[str, Any]] = []
            while not any(message.get("number") == told["number"] for message in seen):
                seen.append(other.receive_json())
            typed.send_json({"do": "ask", "text": "can I have the mouth mirror"})
            while not seen or seen[-1].get("stage", {}).get("kind") != "answer":
                seen.append(other.receive_json())
        assert NEW not in str(seen)
    kept = b"".join(file.read_bytes() for file in tmp_path.rglob("*") if file.is_file())
    assert NEW.encode() not in kept


# --- the look-up while typing, and filters -------------------------------------------------------


def test_letters_find_items_as_json(client: TestClient) -> None:
    found = client.get("/find/near", params={"q": "pluger"}).json()
    assert [one["id"] for one in found][:1] == ["condenser_small"]
    assert found[0]["called"] == "plugger" and found[0]["name"] == "small condenser"
    assert found[0]["drawing"].startswith("<svg aria-hidden")
    assert client.get("/find/near", params={"q": "tweez"}).json()[0]["id"] == ITEM
    for nothing in ("", "cavitron", "x" * 5000):
        assert client.get("/find/near", params={"q": nothing}).json() == []


def tiles(text: str) -> list[str]:
    return re.findall(r'<li data-id="(\w+)"><a', text)


def test_filters_hide_what_does_not_fit_with_and_without_a_script(client: TestClient) -> None:
    every = tiles(client.get("/items").text)
    assert len(every) == len(client.app.state.running.chair.pack.items)  # type: ignore[attr-defined]
    for wanted in ({"kind": "bur"}, {"used": "tray examination", "sharp": "yes"}, {"name": "pluger"}):
        shown = tiles(client.get("/items", params=wanted).text)
        assert 0 < len(shown) < len(every)
        assert shown == [one for one in every if one in client.get("/find/items", params=wanted).json()]
    nothing = client.get("/items", params={"kind": "spoons"}).text
    assert tiles(nothing) == [] and "<p data-none>" in nothing
    assert re.search(r'<option value="bur" selected>', client.get("/items", params={"kind": "bur"}).text)


def test_a_dentists_own_names_are_a_filter(client: TestClient) -> None:
    enter(client)
    client.post("/edit/first-hour", data={"dentists": "Dr Lee"}, headers=OWN)
    (dentist,) = client.app.state.running.chairs.dentists  # type: ignore[attr-defined]
    change(client, "add_name", item=ITEM, name=NEW, layer=dentist)
    assert client.get("/find/items", params={"dentist": dentist}).json() == [ITEM]


# --- where one is, and errors --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("href", "path", "told"),
    [
        ("/", "/", "page"),
        ("/", "/chair/3", "true"),
        ("/", "/items", ""),
        ("/items", "/items", "page"),
        ("/items", "/items/hoe", "true"),
        ("/items", "/find", "true"),
        ("/items", "/itemsofmine", ""),
        ("/edit", "/edit/items/hoe", "true"),
        ("/items", "/edit/items/hoe", ""),
    ],
)
def test_the_menu_says_where_one_is(href: str, path: str, told: str) -> None:
    assert whereabouts(href, path) == told


def test_one_entry_of_the_menu_is_current(client: TestClient) -> None:
    for path in (
        "/",
        "/items",
        "/items/hoe",
        "/trays",
        "/trays/examination",
        "/sessions",
        "/edit",
        "/edit/new",
    ):
        assert (
            len(re.findall(r"<li><a [^>]*aria-current=", client.get(path).text.split("</header>")[0])) == 1
        ), path


def test_a_page_that_is_not_there_offers_the_way_back_and_the_likely_page(client: TestClient) -> None:
    missing = client.get("/items/plugger", headers={"referer": f"{HERE}/trays?x=1"})
    assert missing.status_code == 404
    for href in ("/trays?x=1", "/find?q=plugger", "/items", "/"):
        assert f'href="{href}"' in missing.text
    assert 'href="/trays"' in main_links(client.get("/tray").text)
    for strange in ("https://example.org/x", "http://[", f"{HERE}//example.org", f"{HERE}/nowhere", "x"):
        assert ">Back<" not in client.get("/nowhere", headers={"referer": strange}).text, strange


def main_links(text: str) -> str:
    return text[text.index("<main") :]


def test_what_cannot_be_done_says_to_go_back(client: TestClient) -> None:
    answer = client.post("/start", data={"procedure": "nowhere"}, headers={**OWN, "referer": f"{HERE}/"})
    assert answer.status_code in (400, 404) and ">Back<" in answer.text


# --- photographs ---------------------------------------------------------------------------------


def picture(kind: str = "PNG", size: tuple[int, int] = (300, 200), colour: str = "red") -> bytes:
    written = io.BytesIO()
    Image.new("RGB", size, colour).save(written, kind)
    return written.getvalue()


def sent(client: TestClient, raw: bytes, name: str = "p.png") -> Any:
    return client.post(PHOTOGRAPH, files={"file": (name, raw)}, headers=OWN)


def address(client: TestClient) -> str | None:
    found = re.search(rf'src="(/items/{ITEM}/photograph/\w+\.jpg)"', client.get(f"/items/{ITEM}").text)
    return found[1] if found else None


def test_a_photograph_is_shown_beside_the_drawing_replaced_undone_and_removed(client: TestClient) -> None:
    enter(client)
    assert address(client) is None
    saved = sent(client, picture(size=(2400, 1200)))
    assert saved.headers["location"].startswith(f"/items/{ITEM}?saved=")
    page = client.get(saved.headers["location"]).text
    assert "Kim adds a photograph of cotton pliers" in main_of(page)
    assert 'alt="Photograph of the cotton pliers used here"' in page and 'aria-label="Drawing: ' in page
    first = address(client)
    assert first is not None
    shown = client.get(first)
    assert shown.headers["content-type"] == "image/jpeg"
    assert Image.open(io.BytesIO(shown.content)).size == (1200, 600)
    sent(client, picture(colour="blue"))
    second = address(client)
    assert second not in (None, first) and client.get(first).status_code == 404
    change(client, "undo", change="c2")
    assert address(client) == first
    client.post(PHOTOGRAPH, data={"do": "remove"}, headers=OWN)
    assert address(client) is None and "Kim removes the photograph" in main_of(
        client.get("/edit/history").text
    )
    change(client, "undo", change="c4")
    assert address(client) == first


def test_a_photograph_deleted_for_good_cannot_be_brought_back(client: TestClient, tmp_path: Path) -> None:
    enter(client)
    sent(client, picture())
    assert len(list((tmp_path / "layers/photographs").iterdir())) == 1
    client.post(PHOTOGRAPH, data={"do": "remove", "for_good": "yes"}, headers=OWN)
    assert not list((tmp_path / "layers/photographs").iterdir())
    change(client, "undo", change="c2")
    assert address(client) is None and client.get(f"/items/{ITEM}").status_code == 200


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"", "choose a picture first"),
        (b"<svg/>", "choose a PNG, JPEG or WebP file"),
        (picture("GIF"), "choose a PNG, JPEG or WebP file"),
        (bytes(LARGEST_FILE + 1), "larger than 2.9 MB"),
    ],
)
def test_what_is_no_picture_is_refused_on_the_form(client: TestClient, raw: bytes, why: str) -> None:
    enter(client)
    answer = sent(client, raw)
    assert answer.status_code == 400 and why.lower() in main_of(answer.text).lower()
    assert 'type="file"' in answer.text and address(client) is None


def test_a_body_that_is_too_large_is_refused_by_the_server(client: TestClient) -> None:
    enter(client)
    assert sent(client, bytes(3_000_000)).status_code == 413


def test_a_photograph_is_added_by_who_may_edit_only(client: TestClient, tmp_path: Path) -> None:
    assert sent(client, picture()).status_code == 403
    assert client.get(PHOTOGRAPH).headers["location"].startswith("/edit/enter?back=")
    assert not (tmp_path / "layers" / "photographs").exists()


def test_only_the_photograph_that_an_item_has_is_served(client: TestClient) -> None:
    enter(client)
    sent(client, picture())
    shown = address(client)
    assert shown is not None
    checksum = shown.rsplit("/", 1)[1]
    for path in (f"/items/hoe/photograph/{checksum}", f"/items/{ITEM}/photograph/{'0' * 64}.jpg"):
        assert client.get(path).status_code == 404
    assert client.get(f"/items/{ITEM}/photograph/..%2F..%2Fclinic.yaml.jpg").status_code == 404


def test_practice_and_the_chair_keep_the_drawings(client: TestClient) -> None:
    enter(client)
    sent(client, picture())
    session = begin(client)
    assert "photograph" not in client.get(f"/chair/{session}").text
