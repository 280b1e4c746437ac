"""The count by exception over HTTP: what each button does, with and without the page's script."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from listen.chairside.count import one_by_one
from listen.chairside.events import CountedAs, EventKind
from listen.chairside.session import ChairSession
from tests.listen.web.desk_app import OWN, Clock, begin, client_for, hearing_of


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def client(tmp_path: Path, clock: Clock) -> Iterator[TestClient]:
    with client_for(tmp_path, clock=clock) as client:
        yield client


def room_of(client: TestClient, session: int) -> ChairSession:
    chair_session: ChairSession = client.app.state.running.chair_session(session)  # type: ignore[attr-defined]
    return chair_session


def press(client: TestClient, session: int, button: str, value: str, part: str = "") -> tuple[int, str]:
    """Press a button of the count; the status, and where it leads or what comes back."""
    answer = client.post(f"/chair/{session}/count{part}", data={button: value}, headers=OWN)
    return answer.status_code, answer.headers.get("location") or unescape(answer.text)


def test_a_row_and_a_kit_are_all_here_in_one_press(client: TestClient) -> None:
    session = begin(client)
    room = room_of(client, session)
    room.request("bur_330")
    assert press(client, session, "here", "row_1") == (303, f"/chair/{session}/count#row_1")
    assert press(client, session, "here", "kit_bur_kit")[0] == 303
    counted = room.state.counted
    assert counted["mouth_mirror"] == counted["explorer_shepherd"] == counted["bur_330"] == 1
    assert "bur_245" in counted and "wedge" not in counted
    kept = [event for event in room.state.events if event.kind is EventKind.COUNTED]
    assert {event.about for event in kept} == {CountedAs.ALL_HERE}
    assert "✓ 15 counted" in client.get(f"/chair/{session}/count").text


def test_plus_and_minus_count_from_what_is_expected(client: TestClient) -> None:
    session = begin(client)
    room = room_of(client, session)
    assert press(client, session, "less", "mouth_mirror") == (
        303, f"/chair/{session}/count#line-mouth_mirror",
    )  # fmt: skip
    assert room.state.counted == {"mouth_mirror": 0}
    press(client, session, "less", "mouth_mirror")
    assert room.state.counted == {"mouth_mirror": 0}
    press(client, session, "more", "gauze_square")
    assert room.state.counted["gauze_square"] == 9
    press(client, session, "here", "row_1")
    assert room.state.counted["mouth_mirror"] == 0  # what was counted by itself stays


def test_what_is_confirmed_by_itself_never_goes_with_its_kit(client: TestClient) -> None:
    session = begin(client)
    room = room_of(client, session)
    for item in ("aspirating_syringe", "wedge"):
        room.request(item)
        room.choose(1)
    room.touch(EventKind.PASSED, "aspirating_syringe")
    for place in room.places:
        if place.opened:
            press(client, session, "here", place.id)
    still_open = {line.item for line in one_by_one(room.state, room.chair.pack, room.chair.tray)}
    assert {"needle_short", "cartridge_plain", "wedge", "matrix_band", "sectional_matrix"} <= still_open
    assert not still_open & room.state.counted.keys()
    text = client.get(f"/chair/{session}/count").text
    assert text.index("One by one") < text.index('id="is-needle_short"') < text.index('id="row_1"')
    press(client, session, "pieces", "needle_short 1")
    assert room.state.counted["needle_short"] == 1


def test_kits_that_were_never_opened_are_confirmed_as_such(client: TestClient) -> None:
    session = begin(client)
    room = room_of(client, session)
    room.request("bur_330")
    room.request("bur_330")
    press(client, session, "unopened", "")
    assert "diamond_wheel" in room.state.counted and "bur_245" not in room.state.counted
    assert "needle_short" not in room.state.counted
    press(client, session, "unopened", "kit_anaesthesia_kit")
    assert room.state.counted["needle_short"] == 1
    assert {e.about for e in room.state.events if e.kind is EventKind.COUNTED} == {CountedAs.NOT_OPENED}


def test_the_last_press_is_taken_back_as_a_whole(client: TestClient, clock: Clock) -> None:
    session = begin(client)
    room = room_of(client, session)
    press(client, session, "less", "cotton_roll")
    clock.now_s += 1
    press(client, session, "here", "row_1")
    clock.now_s += 1
    press(client, session, "back", "yes")
    assert room.state.counted == {"cotton_roll": 5}
    press(client, session, "back", "yes")
    assert room.state.counted == {}
    assert press(client, session, "back", "yes")[0] == 303


def test_what_is_said_is_proposed_and_one_press_takes_it_over(client: TestClient) -> None:
    session = begin(client)
    room = room_of(client, session)
    room.request("bur_330")
    room.request("matrix_retainer")
    assert room.hear(hearing_of("Burs complete, one three-thirty missing."))
    assert room.hear(hearing_of("matrix kit complete"))
    assert room.state.counted == {} and room.said["bur_330"] == 0
    text = client.get(f"/chair/{session}/count").text
    assert "330 bur 0 of 1" in unescape(text) and 'id="line-bur_330"' in text
    press(client, session, "said", "yes")
    assert room.state.counted["bur_330"] == 0 and room.state.counted["bur_245"] == 1
    assert "matrix_band" not in room.state.counted  # a band is confirmed by itself
    assert "matrix_band" in room.said
    press(client, session, "pieces", "matrix_band 1")
    assert room.state.counted["matrix_band"] == 1 and "matrix_band" not in room.said


def test_only_what_changes_comes_back_to_the_script(client: TestClient) -> None:
    session = begin(client)
    status, text = press(client, session, "here", "row_1", "?part")
    assert status == 200 and "<html" not in text and 'id="part"' in text and 'id="standing"' in text
    assert len(text) < 0.5 * len(client.get(f"/chair/{session}/count").text)
    events = re.search(r'data-events="(\d+)"', text)
    assert events and int(events[1]) == len(room_of(client, session).state.events)


@pytest.mark.parametrize(
    ("button", "value"),
    [
        ("pieces", "explorer_shepherd two"),
        ("pieces", "explorer_shepherd"),
        ("pieces", "ghost 1"),
        ("less", "ghost"),
        ("here", "row_9"),
        ("nothing", "at all"),
    ],
)
def test_what_cannot_be_counted_is_declined(client: TestClient, button: str, value: str) -> None:
    session = begin(client)
    assert press(client, session, button, value)[0] == 400
    assert room_of(client, session).state.counted == {}


def test_an_opened_kit_is_never_said_to_be_unopened(client: TestClient) -> None:
    session = begin(client)
    room_of(client, session).request("bur_330")
    press(client, session, "unopened", "kit_bur_kit")
    assert room_of(client, session).state.counted == {}
