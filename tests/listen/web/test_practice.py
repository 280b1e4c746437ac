"""Practice in the browser's terms: pages, answers, a class at once, faculty and their pass code."""

from __future__ import annotations

import html
import json
import re
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from listen.chair import ChairOptions, open_chair
from listen.database import Database
from listen.practice.days import MOST_DAYS
from listen.practice.places import PracticeOptions
from listen.practice.questions import LAID, Question
from listen.practice.store import PracticeStore, StoreError, sqlite_url
from listen.practice.tables import PRACTICE
from listen.web import ServerSettings, create_app
from listen.web.practice import pages as practice
from tests.listen.web.desk_app import HERE, OWN, Clock, StandIn, begin, live_of, shared_chair
from vocab.errors import Declined
from vocab.layers import Vocabulary
from vocab.layers.changes import AddName, Dentist, Operation, SetDentists
from vocab.layers.draft import tray_fingerprint
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Name

LEAD = "lead-spoon-17"
SHEET = "/practice/faculty/sheet?trainee=Ann"
NOON = datetime(2024, 3, 4, 12, tzinfo=UTC)
Json = dict[str, Any]


def client_of(data: Path, clock: Clock, lead: str | None = None, **settings: Any) -> TestClient:
    """A client of a new app with the practice pages; use it as a context."""
    app = create_app(
        shared_chair,
        ServerSettings(data=data, clock=clock, **settings),
        StandIn,
        practice.routes(PracticeOptions(lead_code=lead, seed=1)),
        practice.links(),
    )
    return TestClient(app, base_url=HERE, follow_redirects=False)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def client(tmp_path: Path, clock: Clock) -> Iterator[TestClient]:
    with client_of(tmp_path, clock) as client:
        yield client


def code_of(trainee: str) -> str:
    return f"code of {trainee}"


def enter(client: TestClient, trainee: str, code: str | None = None) -> int:
    """Give name and code, and choose it the first time; the status."""
    form = {"trainee": trainee, "code": code or code_of(trainee)}
    answer = client.post("/practice/enter", data=form, headers=OWN)
    if answer.status_code == 200:
        answer = client.post("/practice/enter", data={**form, "again": form["code"]}, headers=OWN)
    return answer.status_code


def browser_of(client: TestClient, trainee: str | None = None) -> TestClient:
    """Another browser on the same server, in which a trainee has given their code."""
    other = TestClient(client.app, base_url=HERE, follow_redirects=False)
    if trainee is not None:
        assert enter(other, trainee) == 303
    return other


def sit(
    client: TestClient, trainee: str = "Ann", *drills: str, procedure: str = "composite_class_two"
) -> str:
    """Begin a session; the path of its drill page."""
    assert enter(client, trainee) == 303
    data = {"procedure": procedure, "minutes": "10", "drill": list(drills)}
    answer = client.post("/practice", data=data, headers=OWN)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def now(client: TestClient, path: str) -> Json:
    return dict(client.get(f"{path}/now").json())


def give(client: TestClient, path: str, number: int, value: str, kind: str = "text", token: str = "") -> Json:
    wish = {
        "number": number,
        "token": token or f"token-{path[-6:]}-{number}-{value[:20]}",
        "kind": kind,
        "value": value,
        "response_s": 1.5,
    }
    return dict(client.post(f"{path}/answer", json=wish, headers=OWN).json())


def asked(client: TestClient, path: str) -> Question:
    """What the server knows of the open question, with its right answer."""
    place = client.app.state.practice.place(path.rsplit("/", 1)[1])  # type: ignore[attr-defined]
    return place.last_asked[1]  # type: ignore[no-any-return]


def asked_next(client: TestClient, path: str) -> str:
    """The right answer to the question that comes now."""
    now(client, path)
    return asked(client, path).right[0]


def store_of(tmp_path: Path) -> PracticeStore:
    return PracticeStore(sqlite_url(tmp_path / "practice.sqlite"))


class _Inline(HTMLParser):
    """Collects what the content policy would refuse: scripts, styles and handlers inside a page."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.found += [name for name in given if name.startswith("on") or name == "style"]
        if tag == "style" or (
            tag == "script" and not ("src" in given or given.get("type") == "application/json")
        ):
            self.found.append(tag)


def forbidden_in(text: str) -> list[str]:
    parser = _Inline()
    parser.feed(text)
    return parser.found


# --- the drill -------------------------------------------------------------------------------------


def test_the_menu_leads_to_practice(client: TestClient) -> None:
    assert '<a href="/practice">Practice</a>' in client.get("/").text
    page = client.get("/practice").text
    assert "Who are you?" in page and "Lay the tray" in page
    enter(client, "Ann")
    page = client.get("/practice").text
    assert "Welcome, Ann" in page and 'value="lay"' in page


def test_a_right_name_is_right_and_counts(client: TestClient, tmp_path: Path) -> None:
    path = sit(client, "Ann", "name")
    view = now(client, path)
    assert view["drill"] == "name" and view["picture"] is not None and not view["choices"]
    item = shared_chair().pack.item(asked(client, path).right[0])
    reply = give(client, path, view["number"], item.names[-1].text)
    assert reply["outcome"] == "right" and reply["counted"]
    (review,) = store_of(tmp_path).reviews("Ann")
    assert review.answer.right and review.answer.by == "text" and review.answer.response_s == 1.5


def test_a_name_that_is_asked_for_stands_nowhere_on_the_page(client: TestClient) -> None:
    path = sit(client, "Ann", "name")
    view = now(client, path)
    item = shared_chair().pack.item(asked(client, path).right[0])
    assert item.name.text.lower() not in str(view).lower()
    text = client.get(path).text
    assert f"<title>{item.name.text}</title>" not in text and f"d-{item.id}" not in text


def test_a_wrong_answer_is_told_with_the_difference(client: TestClient) -> None:
    path = sit(client, "Ann", "name")
    pack = shared_chair().pack
    for _ in range(12):
        view = now(client, path)
        item = pack.item(asked(client, path).right[0])
        if item.confused_with:
            other = item.confused_with[0]
            reply = give(client, path, view["number"], pack.item(other.item).name.text)
            assert reply["outcome"] == "wrong" and other.tell in reply["explain"]
            assert item.name.text.lower() in reply["explain"].lower() and reply["right"] == [item.id]
            return
        give(client, path, view["number"], item.name.text)
    raise AssertionError("no item with a look-alike was asked for")


def test_what_is_unclear_is_asked_again_and_never_wrong(client: TestClient, tmp_path: Path) -> None:
    path = sit(client, "Ann", "name")
    view = now(client, path)
    reply = give(client, path, view["number"], "xyzzy")
    assert reply["outcome"] == "say again" and reply["open"] and not reply["right"]
    assert now(client, path)["number"] == view["number"]
    assert store_of(tmp_path).reviews("Ann") == ()


def test_a_slot_is_touched_on_the_tray(client: TestClient) -> None:
    path = sit(client, "Ann", "slot")
    view = now(client, path)
    assert view["place"] and len(view["scene"]) > 10 and all(p["name"] is None for p in view["scene"])
    right = asked(client, path).right[0]
    wrong = next(p["at"] for p in view["scene"] if p["at"] not in asked(client, path).right)
    assert give(client, path, view["number"], wrong, "touch")["outcome"] == "wrong"
    view = now(client, path)
    right = asked(client, path).right[0]
    reply = give(client, path, view["number"], right, "touch")
    assert reply["outcome"] == "right" and right in reply["right"]


def test_a_row_is_laid_piece_by_piece(client: TestClient, tmp_path: Path) -> None:
    path = sit(client, "Ann", "lay")
    view = now(client, path)
    question = asked(client, path)
    item, _, at = question.right[0].partition(LAID)
    elsewhere = next(r.partition(LAID)[2] for r in question.right if not r.startswith(f"{item}{LAID}"))
    reply = give(client, path, view["number"], f"{item}{LAID}{elsewhere}", "touch")
    assert reply["outcome"] == "wrong" and reply["open"] and reply["right"] == []
    usual = shared_chair().pack.item(item).name.text
    assert f"The {usual} belongs in slot {at}" in reply["explain"]
    assert f"Slot {elsewhere} is for" in reply["explain"]
    reply = give(client, path, view["number"], f"{item}{LAID}{at}", "touch")
    assert reply["laid"] == {at: item}
    for placement in question.right[1:]:
        reply = give(client, path, view["number"], placement, "touch")
    assert not reply["open"] and reply["counted"]
    assert len(store_of(tmp_path).reviews("Ann")) == 1


def test_an_answer_that_is_sent_twice_counts_once(client: TestClient, tmp_path: Path) -> None:
    path = sit(client, "Ann", "name")
    number = now(client, path)["number"]
    one = give(client, path, number, "I don't know", token="the-same-token")
    again = give(client, path, number, "I don't know", token="the-same-token")
    assert one == again and len(store_of(tmp_path).reviews("Ann")) == 1
    late = give(client, path, number, "I don't know", token="another-token")
    assert late["stale"] and len(store_of(tmp_path).reviews("Ann")) == 1


def test_a_session_lasts_as_long_as_it_was_set_and_ends_on_a_success(
    client: TestClient, clock: Clock
) -> None:
    path = sit(client, "Ann", "name")
    give(client, path, now(client, path)["number"], "I don't know")
    clock.now_s += 11 * 60
    view = now(client, path)
    assert view["type"] == "question"
    right = shared_chair().pack.item(asked(client, path).right[0]).name.text
    assert give(client, path, view["number"], right)["outcome"] == "right"
    summary = now(client, path)
    assert summary["type"] == "summary" and (summary["asked"], summary["right"]) == (2, 1)
    assert len(summary["missed"]) == 1 and "streak" not in str(summary)


def test_today_is_what_is_due_then_something_new_and_ends(client: TestClient, clock: Clock) -> None:
    assert enter(client, "Ann") == 303
    page = client.get("/practice").text
    assert "Begin: 8 new" in page and "<strong>2</strong> minutes or so" in page
    path = str(client.post("/practice", data={"today": "yes"}, headers=OWN).headers["location"])
    first = answer_all(client, path)
    assert 8 <= first["asked"] <= 20 and first["again"] and first["learnt"]
    clock.now_s += 40 * 86_400
    assert "Welcome" not in client.get("/practice").text
    assert enter(client, "Ann") == 303
    page = client.get("/practice").text
    assert "Continue: 8 due" in page and "<strong>8</strong> new" in page
    path = str(client.post("/practice", data={"today": "yes"}, headers=OWN).headers["location"])
    assert answer_all(client, path)["asked"] >= 16


def answer_all(client: TestClient, path: str) -> Json:
    """Answer every question rightly, but for the first; the summary."""
    for turn in range(60):
        view = now(client, path)
        if view["type"] == "summary":
            return view
        question = asked(client, path)
        if turn == 0:
            give(client, path, view["number"], "I don't know")
        elif view["drill"] == "name":
            give(client, path, view["number"], shared_chair().pack.item(question.right[0]).name.text)
        else:
            for n, right in enumerate(question.right if view["drill"] == "lay" else question.right[:1]):
                give(client, path, view["number"], right, "touch", f"turn-{turn}-{n}-{path[-6:]}")
    raise AssertionError("it never ends")


def test_the_summary_says_what_was_learnt_and_what_comes_when(client: TestClient) -> None:
    path = sit(client, "Ann", "name")
    first = shared_chair().pack.item(asked_next(client, path)).name.text
    give(client, path, now(client, path)["number"], first)
    second = shared_chair().pack.item(asked_next(client, path)).name.text
    give(client, path, now(client, path)["number"], "I don't know")
    client.post(f"{path}/stop", json={}, headers=OWN)
    summary = now(client, path)
    assert summary["learnt"] == [first]
    days = {name: one["days"] for one in summary["again"] for name in one["about"]}
    assert days[second] == 1 and days[first] > 1


def test_a_newcomer_has_look_alikes_to_tell_apart(client: TestClient) -> None:
    for procedure in ("composite_class_two", ""):
        view = now(client, sit(client, f"New {procedure}", "apart", procedure=procedure))
        assert view["drill"] == "apart" and len(view["choices"]) == 2
        assert all(choice["picture"] is not None for choice in view["choices"])
        names = [shared_chair().pack.item(choice["id"]).name.text for choice in view["choices"]]
        assert not any(name == choice["shown"] for name in names for choice in view["choices"])


def test_a_name_is_chosen_from_a_few_only_if_that_is_wanted_and_then_may_be_a_guess(
    client: TestClient, tmp_path: Path
) -> None:
    path = sit(client, "Ann", "name")
    view = now(client, path)
    assert view["choices"] == [] and view["may_choose"]
    recalled, *_ = asked(client, path).right
    give(client, path, view["number"], shared_chair().pack.item(recalled).name.text)
    chosen = client.get(f"{path}/now?choose=yes").json()
    assert 4 <= len(chosen["choices"]) <= 6 and not chosen["may_choose"]
    right = asked(client, path).right[0]
    assert right in [choice["id"] for choice in chosen["choices"]]
    assert now(client, path)["choices"] == []  # the next look recalls again, but the names were seen
    give(client, path, chosen["number"], right, "touch", "a-choice-of-six")
    first, second = (review.answer for review in store_of(tmp_path).reviews("Ann"))
    assert (first.rating, second.rating) == (4, 3) and first.response_s == second.response_s


def test_passing_is_answered_by_touch_and_told_as_the_vocabulary_says(client: TestClient) -> None:
    path = sit(client, "Ann", "pass")
    view, question = now(client, path), asked(client, path)
    assert view["drill"] == "pass" and 3 <= len(view["choices"]) <= 4 and view["picture"] is not None
    assert [choice["id"] for choice in view["choices"]] == list(question.offered)
    wrong = next(one for one in question.offered if one not in question.right)
    reply = give(client, path, view["number"], wrong, "touch")
    assert reply["outcome"] == "wrong" and question.answer in reply["explain"]


@pytest.mark.parametrize("drill", ["next", "fault"])
def test_a_handful_is_offered_and_the_right_one_is_among_it(client: TestClient, drill: str) -> None:
    path = sit(client, "Ann", drill)
    kinds = set()
    for _ in range(14):
        view, question = now(client, path), asked(client, path)
        offered = [choice["id"] for choice in view["choices"]]
        assert len(offered) == len(set(offered)) <= 6
        if drill == "next":
            assert len(offered) == 6 and 0 < len(set(offered) & set(question.right)) <= 3
        else:
            held = {place["item"] for place in view["scene"]}
            assert set(question.right) & (held | set(offered)) and bool(offered) == (None in held)
            assert not offered or not held & set(offered)
            kinds.add(bool(offered))
        give(client, path, view["number"], question.right[0], "touch")
    assert drill == "next" or kinds == {True, False}


def test_on_an_own_device_a_trainee_is_remembered_for_days_and_not_without_asking(
    client: TestClient, clock: Clock
) -> None:
    form = {"trainee": "Ann", "code": code_of("Ann"), "own": "yes"}
    assert 'name="own" value="yes"' in client.post("/practice/enter", data=form, headers=OWN).text
    form["again"] = form["code"]
    assert client.post("/practice/enter", data=form, headers=OWN).status_code == 303
    shared = browser_of(client, "Ann")
    for _ in range(3):
        clock.now_s += 20 * 86_400
        path = str(client.post("/practice", data={"today": "yes"}, headers=OWN).headers["location"])
        assert now(client, path)["type"] == "question"  # and its time starts again
    assert "Who are you?" in shared.get("/practice").text
    clock.now_s += 31 * 86_400
    assert "Who are you?" in client.get("/practice").text


def test_a_session_is_ended_early_and_summed_up(client: TestClient) -> None:
    path = sit(client)
    now(client, path)
    assert client.post(f"{path}/stop", json={}, headers=OWN).json()["type"] == "summary"
    assert now(client, path)["type"] == "summary"


def test_a_question_is_spoken(client: TestClient) -> None:
    from listen.speech import replies as speak

    if speak.voice_name() is None:
        pytest.skip("no voice is installed")
    path = sit(client, "Ann", "fact", procedure="")
    number = now(client, path)["number"]
    sound = client.get(f"{path}/say?n={number}")
    assert sound.headers["content-type"] == "audio/wav" and sound.content[:4] == b"RIFF"
    assert client.get(f"{path}/say?n={number + 1}").status_code == 204


@pytest.mark.parametrize(
    "wish",
    [
        "", "no json", "[]", "{}", '{"number": true}', '{"number": 1, "token": "short"}',
        '{"number": 1, "token": "long-enough", "kind": "shout", "value": "x"}',
        '{"number": 1, "token": "long-enough", "kind": "text", "value": " "}',
        '{"number": 1, "token": "long-enough", "kind": "touch", "value": "ghost"}',
        '{"number": 1, "token": "long-enough", "kind": "touch", "value": 7, "response_s": "x"}',
        '{"number": 1, "token": "long-enough", "kind": "text", "value": "\\ud800"}',
        '{"number": 1, "token": "long-enough", "kind": "text", "value": "\\u202eegdew"}',
        '{"number": 1, "token": "long-enough", "kind": "text", "value": "' + "x" * 300 + '"}',
        "x" * 5000, "[" * 2000,
    ],
)  # fmt: skip
def test_nonsense_is_answered_and_changes_nothing(client: TestClient, wish: str, tmp_path: Path) -> None:
    path = sit(client, "Ann", "slot")
    now(client, path)
    answer = client.post(f"{path}/answer", content=wish, headers=OWN)
    assert answer.status_code == 400 and answer.json()["type"] == "problem"
    assert store_of(tmp_path).reviews("Ann") == ()


@pytest.mark.parametrize("data", [
    {}, {"minutes": "0"}, {"minutes": "1e9"}, {"minutes": "9" * 3000}, {"minutes": "\u00b2"},
    {"minutes": "10", "drill": "dance"}, {"minutes": "10", "procedure": "ghost"},
    {"minutes": "10", "drill": "lay"},
])  # fmt: skip
def test_a_start_that_makes_no_sense_is_told_so(client: TestClient, data: Json) -> None:
    enter(client, "Ann")
    answer = client.post("/practice", data=data, headers=OWN)
    assert answer.status_code == 400 and "traycall" in answer.text


@pytest.mark.parametrize("name", ["", " ", "x" * 60, "\u202eAnn", "A\0nn"])
def test_a_name_that_cannot_be_shown_is_told_so(client: TestClient, name: str) -> None:
    answer = client.post("/practice/enter", data={"trainee": name, "code": "ivory-42"}, headers=OWN)
    assert answer.status_code == 400 and "1 to 40 plain characters" in answer.text


def test_a_session_that_is_gone_is_told_so(client: TestClient) -> None:
    assert client.get("/practice/nowhere").status_code == 404
    assert client.get("/practice/nowhere/now").status_code == 404


def test_another_website_can_answer_for_nobody(client: TestClient) -> None:
    path = sit(client)
    evil = {"origin": "http://evil.example"}
    assert client.post(f"{path}/answer", json={}, headers=evil).status_code == 403
    assert client.post("/practice/faculty/remove", data={"trainee": "Ann"}, headers=evil).status_code == 403


@pytest.mark.parametrize("attack", ["<script>alert(1)</script>", '"><img src=x onerror=x>', "{{ 7*7 }}"])
def test_a_name_is_shown_as_text_everywhere(client: TestClient, attack: str) -> None:
    path = sit(client, attack, "name")
    give(client, path, now(client, path)["number"], attack)
    give(client, path, now(client, path)["number"], "I don't know")
    query = {"trainee": attack}
    assert "<img src=x" not in browser_of(client).get("/practice").text
    for where in (path, "/practice", "/practice/progress", "/practice/faculty", "/practice/faculty/trainee",
                  "/practice/faculty/remove"):  # fmt: skip
        answer = client.get(where, params=query)
        assert answer.status_code == 200 and "<script>alert" not in answer.text
        assert "<img src=x" not in answer.text and "49" not in answer.text.split("<main")[0]
        assert not forbidden_in(answer.text)


# --- a class at once -----------------------------------------------------------------------------------


@pytest.mark.slow
def test_sixty_trainees_answer_at_once_and_no_answer_is_lost(client: TestClient, tmp_path: Path) -> None:
    first = client
    most = 60
    counted: dict[str, int] = {}
    failed: list[BaseException] = []
    start = threading.Barrier(most)

    def practise(name: str) -> None:
        try:
            start.wait()
            client = browser_of(first)
            path, count = sit(client, name), 0
            for turn in range(6):
                view = now(client, path)
                if view["drill"] == "lay" or view["drill"] == "name":
                    reply = give(client, path, view["number"], "I don't know", token=f"{name}-turn-{turn}")
                else:
                    right = asked(client, path).right[0]
                    reply = give(client, path, view["number"], right, "touch", f"{name}-turn-{turn}")
                assert reply["number"] == view["number"]
                count += reply["counted"]
            counted[name] = count
        except BaseException as error:  # told below, in the test's own thread
            failed.append(error)

    threads = [threading.Thread(target=practise, args=(f"T{n:02d}",)) for n in range(most)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failed
    store = store_of(tmp_path)
    kept = {name: len(store.reviews(name)) for name in store.trainees()}
    assert kept == counted and sum(kept.values()) == most * 6


def test_whoever_comes_in_keeps_nobody_waiting_who_answers(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the codes of more trainees than there are threads are being looked at."""
    path = sit(client, "Ann", "name")
    looked_at, begun = threading.Event(), threading.Semaphore(0)

    def is_their_code(*given: object) -> bool:
        begun.release()
        assert looked_at.wait(60)
        return True

    coming = [browser_of(client, f"T{number}") for number in range(8)]
    monkeypatch.setattr("listen.practice.trainees.is_their_code", is_their_code)
    with ThreadPoolExecutor(len(coming)) as pool:
        entered = [pool.submit(enter, one, f"T{number}") for number, one in enumerate(coming)]
        try:
            assert begun.acquire(timeout=60)
            for _ in range(6):  # by then all of them would have had their turn
                view = now(client, path)
                assert give(client, path, view["number"], "I don't know")["counted"]
            assert not any(one.done() for one in entered)
        finally:
            looked_at.set()
        assert [one.result() for one in entered] == [303] * len(coming)


# --- progress and faculty ----------------------------------------------------------------------------


def answered(client: TestClient, trainee: str, *drills: str, turns: int = 4) -> None:
    """Some right and some wrong answers of a trainee."""
    path = sit(client, trainee, *drills)
    pack = shared_chair().pack
    for turn in range(turns):
        view = now(client, path)
        question = asked(client, path)
        if view["drill"] == "name":
            wrong = [c.id for c in question.choices if c.id not in question.right]
            said = pack.item(question.right[0] if turn % 2 else wrong[0]).name.text
            give(client, path, view["number"], said)
        else:
            wrong = [c.id for c in question.choices if c.id not in question.right]
            give(client, path, view["number"], question.right[0] if turn % 2 else wrong[0], "touch")


def test_progress_shows_what_is_known_and_what_is_mixed_up(client: TestClient) -> None:
    answered(client, "Ann", "name")
    text = client.get("/practice/progress").text
    assert "Progress of Ann" in text and "Mixed up most" in text and "in 30 days" in text


def test_progress_after_weeks_without_practice_says_that_there_was_none(
    client: TestClient, clock: Clock
) -> None:
    answered(client, "Ann", "name", turns=1)
    clock.now_s += (MOST_DAYS + 1) * 86_400
    enter(client, "Ann")
    shown = client.get("/practice/progress")
    assert shown.status_code == 200 and "no answers since" in shown.text


@pytest.mark.parametrize("table", ["class", "items", "names", "unknown", "ability"])
def test_faculty_see_each_table_and_take_it_as_csv(client: TestClient, table: str) -> None:
    assert client.get(f"/practice/faculty/{table}").status_code == 200  # nothing yet
    for trainee in ("Ann", "Ben"):
        answered(client, trainee, "slot")
    text = client.get(f"/practice/faculty/{table}").text
    csv = client.get(f"/practice/faculty/{table}.csv")
    assert (
        csv.headers["content-type"].startswith("text/csv")
        and "attachment" in csv.headers["content-disposition"]
    )
    if table != "unknown":
        assert "<table>" in text and len(csv.text.splitlines()) > 1


@pytest.mark.parametrize("table", ["class", "items", "ability", "mixed"])
def test_a_report_counts_every_answer_until_now(client: TestClient, tmp_path: Path, table: str) -> None:
    where = f"/practice/faculty/{table}"
    for trainee in ("Ann", "Ben"):
        answered(client, trainee, "name")
    seen = [client.get(where).text]
    assert client.get(where).text == seen[0]
    answered(client, "Ann", "name")
    seen.append(client.get(where).text)
    store_of(tmp_path).remove("Ann")
    seen.append(client.get(where).text)
    if table == "class":
        store_of(tmp_path).reset_code("Ben")
        seen.append(client.get(where).text)
    assert len(set(seen)) == len(seen)


def test_what_is_mixed_up_is_told_in_words_the_most_frequent_first(client: TestClient) -> None:
    assert "Nothing has been answered yet" in client.get("/practice/faculty/mixed").text
    pack = shared_chair().pack
    for trainee, times in (("Ann", 1), ("Ben", 2), ("Cy", 2)):
        path = sit(client, trainee, "name")
        for _ in range(times):
            view, item = now(client, path), asked(client, path).right[0]
            other = "wedge" if item != "wedge" else "etchant"
            give(client, path, view["number"], pack.item(other).name.text)
    text = client.get("/practice/faculty/mixed").text
    told = re.findall(r"picked <strong>[^<]+</strong>: (once|twice|\d+ times)", text)
    counts = [{"once": 1, "twice": 2}.get(times) or int(times.split()[0]) for times in told]
    assert sum(counts) == 5 and counts == sorted(counts, reverse=True) and counts[0] == 3
    assert text.index("Asked for <strong>") < text.index("<table")


def test_somebody_notes_what_was_watched_and_the_sheet_shows_it(client: TestClient, tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf")
    answered(client, "Ann", "slot")
    point = client.app.state.practice.matter("operative").facts.checklist[0]  # type: ignore[attr-defined]
    form = {"observer": "Dr Lead", f"see-{point.id}": "yes"}
    assert client.post(SHEET, data=form, headers=OWN).status_code == 303
    assert "by Dr Lead" in client.get(SHEET).text
    wanted = {"trainee": "Ann", "procedure": "composite_class_two", "known": "80", "date": "2025-03-31"}
    pdf = client.get("/practice/faculty/signoff.pdf", params=wanted)
    assert pdf.headers["content-type"] == "application/pdf"
    (tmp_path / "sheet.pdf").write_bytes(pdf.content)
    text = "".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "sheet.pdf").pages)
    assert "2025-03-31" in text and "at least 80%" in text and "by Dr Lead" in text
    assert client.get("/practice/faculty/signoff.pdf", params={**wanted, "known": "x"}).status_code == 400
    assert client.get("/practice/faculty/signoff.pdf", params={**wanted, "date": "x"}).status_code == 400


def test_an_observer_is_named_once_for_the_whole_sheet(client: TestClient, tmp_path: Path) -> None:
    sit(client)
    points = client.app.state.practice.matter("operative").facts.checklist  # type: ignore[attr-defined]
    page = client.get(SHEET).text
    assert page.count('name="observer"') == 1 and len(points) > 10
    assert all(point.text in html.unescape(page) for point in points)
    form = {"observer": "Dr Lead", "day": "2027-01-10"}
    noted = {f"see-{point.id}": "no" if n == 3 else "yes" for n, point in enumerate(points[:5])}
    empty = client.post(SHEET, data=form, headers=OWN)
    assert empty.status_code == 400 and "nothing is noted yet" in empty.text.lower()
    later = client.post(SHEET, data=form | noted | {"day": "2027-01-16"}, headers=OWN)
    assert later.status_code == 400 and "still to come" in later.text
    assert client.post(SHEET, data=form | noted, headers=OWN).status_code == 303
    seen = store_of(tmp_path).observations("Ann")
    assert [(o.point, o.passed, o.observer) for o in seen] == [
        (f"operative:{point.id}", n != 3, "Dr Lead") for n, point in enumerate(points[:5])
    ]
    assert {str(o.at.date()) for o in seen} == {"2027-01-10"}
    assert 'value="Dr Lead"' in client.get(SHEET).text  # and not asked again the next time


def test_a_class_is_told_by_who_is_ready_who_needs_help_and_who_is_away(
    client: TestClient, clock: Clock
) -> None:
    answered(client, "Away", "name")
    clock.now_s += 9 * 86_400
    path = sit(client, "Helpless", "name")
    for _ in range(45):
        give(client, path, now(client, path)["number"], "I don't know")
    sit(client, "Never")
    text = client.get("/practice/faculty").text
    sections = {part.split(" <span")[0].split(">")[-1]: part for part in text.split("<h2")[1:]}
    assert "Helpless" in sections["Need help"] and "Practised today" in sections["Need help"]
    assert re.search(r"about 0 of 10; sure to within \d", sections["Need help"])
    assert "Last practised 9 days ago" in sections["Have not practised for a week"]
    assert "Never practised" in sections["Have not practised for a week"]
    assert "<details" in text and "logit" not in text.lower()


@pytest.mark.parametrize(
    "where",
    ["/practice", "/practice/progress"]
    + [
        f"/practice/faculty{part}"
        for part in (
            "",
            "/items",
            "/mixed",
            "/objections",
            "/trainee?trainee=Ann",
            "/sheet?trainee=Ann",
            "/data",
        )
    ],
)
def test_no_page_says_what_only_developers_say(client: TestClient, where: str) -> None:
    answered(client, "Ann", "name")
    answered(client, "Ann", "slot")
    seen = re.sub(
        r"<(script|svg)\b.*?</\1>|<[^>]*>", " ", client.get(where).text.split("<main")[1], flags=re.S
    )
    for word in ("topic", "curriculum", "FSRS", "stability", "median", "interval", "::", "_"):
        assert word not in seen, word


def test_who_objects_is_looked_at_and_what_was_right_counts_as_right(
    client: TestClient, tmp_path: Path
) -> None:
    path = sit(client, "Ann", "name")
    wrong = give(client, path, now(client, path)["number"], "I don't know", token="the-wrong-one")
    right = shared_chair().pack.item(asked_next(client, path)).name.text
    good = give(client, path, now(client, path)["number"], right, token="the-right-one")
    assert wrong["token"] == "the-wrong-one" and good["token"] is None

    def object_to(token: object) -> int:
        return client.post(f"{path}/object", json={"token": token}, headers=OWN).status_code

    assert object_to("the-right-one") == object_to("never-given") == object_to(7) == 400
    before = store_of(tmp_path).tallies.trainees(NOON)
    assert object_to("the-wrong-one") == object_to("the-wrong-one") == 200
    assert store_of(tmp_path).tallies.trainees(NOON) == before
    assert "the lead has not looked yet" in client.get("/practice/progress").text
    assert "1 answer to look at" in client.get("/practice/faculty").text
    (one,) = store_of(tmp_path).objections()
    where = "/practice/faculty/objections"
    assert "It was right" in client.get(where).text
    assert client.post(where, data={"number": "x", "right": "yes"}, headers=OWN).status_code == 400
    assert client.post(where, data={"number": "999", "right": "yes"}, headers=OWN).status_code == 400
    form = {"number": str(one.number), "right": "yes"}
    assert client.post(where, data=form, headers=OWN).status_code == 303
    assert "the lead agrees that it was right" in client.get("/practice/progress").text
    assert "to look at" not in client.get("/practice/faculty").text
    (was,), (now_,) = before, store_of(tmp_path).tallies.trainees(NOON)
    assert (now_.firsts, now_.right) == (was.firsts, was.right + 1)
    assert client.post(where, data=form, headers=OWN).status_code == 400  # decided already


def test_somebody_else_objects_to_nothing(client: TestClient, tmp_path: Path) -> None:
    path = sit(client, "Ann", "name")
    give(client, path, now(client, path)["number"], "I don't know", token="the-wrong-one")
    other = browser_of(client, "Ben")
    answer = other.post(f"{path}/object", json={"token": "the-wrong-one"}, headers=OWN)
    assert answer.status_code == 403 and store_of(tmp_path).objections() == ()


def test_one_action_hands_out_and_deletes_everything_about_a_trainee(
    client: TestClient, tmp_path: Path
) -> None:
    answered(client, "Ann", "slot")
    answered(client, "Ben", "slot")
    path = sit(client, "Ann")
    form = {"trainee": "Ann"}
    assert "4 answers" in client.get("/practice/faculty/remove", params=form).text
    assert client.post("/practice/faculty/remove", data=form, headers=OWN).status_code == 400  # not sure
    assert len(client.get("/practice/faculty/export", params=form).json()["answers"]) == 4
    gone = client.post("/practice/faculty/remove", data={**form, "sure": "yes"}, headers=OWN)
    assert len(gone.json()["answers"]) == 4 and "attachment" in gone.headers["content-disposition"]
    assert store_of(tmp_path).trainees() == ("Ben",)
    assert client.get(f"{path}/now").status_code == 404


def test_what_was_exported_and_deleted_comes_back_by_import(client: TestClient, tmp_path: Path) -> None:
    answered(client, "Ann", "slot")
    answered(client, "Ben", "name")
    tallies, data = store_of(tmp_path).tallies, "/practice/faculty/data"
    before = tallies.trainees(NOON)[0]
    gone = client.post("/practice/faculty/remove", data={"trainee": "Ann", "sure": "yes"}, headers=OWN)

    def taken(content: bytes) -> Any:
        return client.post(data, files={"file": ("ann.json", content)}, headers=OWN)

    spoilt = taken(gone.content.replace(b'"rating": ', b'"rating": 7'))
    assert spoilt.status_code == 400 and "Ann answer 1 rating" in spoilt.text
    assert store_of(tmp_path).trainees() == ("Ben",) and taken(b"").status_code == 400
    assert "Taken in: Ann" in taken(gone.content).text
    assert tallies.trainees(NOON)[0] == replace(before, has_code=False)
    again = taken(gone.content)
    assert again.status_code == 400 and "Ann is here already" in again.text
    everybody = client.get("/practice/faculty/export")
    assert [one["trainee"] for one in everybody.json()["trainees"]] == ["Ann", "Ben"]
    lines = client.get("/practice/faculty/export", params={"form": "csv"}).text.splitlines()
    assert len(lines) == 1 + sum(row.answers for row in tallies.trainees(NOON))
    assert client.get("/practice/faculty/export", params={"form": "exe"}).status_code == 400


def test_one_trainees_addresses_show_nothing_to_another(tmp_path: Path, clock: Clock) -> None:
    """Every address that Ann has met, tried by Ben, who is signed in, and by nobody."""
    with client_of(tmp_path, clock, LEAD) as client:
        path = sit(client, "Ann", "name")
        give(client, path, now(client, path)["number"], "I don't know")
        mine = client.get("/practice/mine.json")
        assert mine.json()["trainee"] == "Ann" and len(mine.json()["answers"]) == 1
        assert "Ann," in client.get("/practice/mine.csv").text
        who = {"trainee": "Ann"}
        tried = ["/practice", "/practice/progress", "/practice/mine.json", "/practice/mine.csv"]
        tried += ["/practice/rehearsal"]
        tried += [f"{path}{part}" for part in ("/now", "/say?n=1")]
        tried += [
            f"/practice/faculty{part}"
            for part in (
                "",
                "/trainee",
                "/sheet",
                "/signoff.pdf",
                "/export",
                "/data",
                "/remove",
                "/class.csv",
            )
        ]
        for other in (browser_of(client, "Ben"), browser_of(client)):
            for address in tried:
                answer = other.get(address, params=who)
                shown = re.sub(r'"only Ann|nly Ann can go on here', "", answer.text)
                listed = re.sub(r"<datalist.*?</datalist>", "", shown, flags=re.S)
                assert "Ann" not in listed.replace("trainee=Ann", ""), address
            form = {**who, "sure": "yes", "observer": "Ben", "number": "1", "right": "yes"}
            for address in ("remove", "reset", "data", "sheet", "objections"):
                answer = other.post(f"/practice/faculty/{address}", params=who, data=form, headers=OWN)
                assert answer.status_code in (303, 401, 403) and "enter" in answer.headers.get(
                    "location", "enter"
                )
        assert len(store_of(tmp_path).export("Ann")["answers"]) == 1
        assert store_of(tmp_path).observations("Ann") == ()


@contextmanager
def changing(tmp_path: Path, clock: Clock) -> Iterator[tuple[TestClient, Callable[..., None]]]:
    """A client in which Ann has practised slots, and a function that saves changes an hour later."""
    chair = open_chair(ChairOptions(procedure="composite_class_two", layers=tmp_path / "layers"))
    app = create_app(
        lambda: chair,
        ServerSettings(data=tmp_path, clock=clock),
        StandIn,
        practice.routes(PracticeOptions(seed=1)),
        practice.links(),
    )

    def save(layer: str, *changes: Operation) -> None:
        clock.now_s += 3600
        vocabulary = Vocabulary(shipped_pack(), tmp_path / "layers", None if layer == "clinic" else layer)
        vocabulary.record(layer, changes, "Kim", datetime.fromtimestamp(clock.now_s, UTC))
        app.state.running.renew(open_chair(chair.options))
        clock.now_s += 3600
        assert enter(own, "Ann") == 303

    with TestClient(app, base_url=HERE, follow_redirects=False) as own:
        answered(own, "Ann", "slot")
        yield own, save


def practised(tmp_path: Path) -> str:
    """The item that Ann was asked about first."""
    return store_of(tmp_path).reviews("Ann")[0].answer.topic.split(":")[2]


def names_asked(client: TestClient, path: str, turns: int) -> list[str | None]:
    """The names by which the first questions ask."""
    found = []
    for _ in range(turns):
        number = now(client, path)["number"]
        found.append(asked(client, path).asked_name)
        give(client, path, number, "I don't know")
    return found


def test_what_the_clinic_has_changed_comes_first_and_once(tmp_path: Path, clock: Clock) -> None:
    with changing(tmp_path, clock) as (client, save):
        save("clinic", AddName(item=practised(tmp_path), name=Name(text="odd little thing")))
        page = client.get("/practice").text
        assert "odd little thing" in page and "<strong>2</strong> changed" in page  # its name, and its slot
        path = str(client.post("/practice", data={"today": "yes"}, headers=OWN).headers["location"])
        assert "odd little thing" in names_asked(client, path, 2)
        assert "changed" not in client.get("/practice").text.split("<main")[1].split("Your path")[0]


def test_what_is_new_with_a_dentist_is_practised_with_that_dentists_names(
    tmp_path: Path, clock: Clock
) -> None:
    with changing(tmp_path, clock) as (client, save):
        save("clinic", SetDentists(dentists=(Dentist(id="grey", name="Dr. Grey"),)))
        assert "New with" not in client.get("/practice").text
        save("grey", AddName(item=practised(tmp_path), name=Name(text="odd little thing")))
        page = client.get("/practice").text
        assert "New with Dr. Grey" in page and "Practise 2 new" in page
        form = {"field": "operative", "dentist": "grey"}
        path = str(client.post("/practice", data=form, headers=OWN).headers["location"])
        assert "odd little thing" in names_asked(client, path, 2)
        client.post(f"{path}/stop", json={}, headers=OWN)
        assert "New with" not in client.get("/practice").text
        over = client.post("/practice", data=form, headers=OWN)
        assert over.status_code == 400 and "nothing is new there any more" in over.text.lower()


def test_the_faculty_pages_ask_for_the_leads_code(tmp_path: Path, clock: Clock) -> None:
    with client_of(tmp_path, clock, LEAD) as client:
        sit(client)
        for where in (
            "",
            "/class.csv",
            "/trainee?trainee=Ann",
            "/export?trainee=Ann",
            "/mixed",
            "/objections",
        ):
            answer = client.get(f"/practice/faculty{where}")
            assert (answer.status_code, answer.headers["location"]) == (303, "/practice/faculty/enter")
        form = {"trainee": "Ann", "sure": "yes"}
        assert client.post("/practice/faculty/remove", data=form, headers=OWN).status_code == 303
        assert store_of(tmp_path).trainees() == ("Ann",)

        def enter(code: str) -> int:
            given = client.post("/practice/faculty/enter", data={"code": code}, headers=OWN)
            return given.status_code

        assert enter("wrong-code") == 403 and enter(LEAD) == 303
        text = client.get("/practice/faculty").text
        assert "Ann" in text and "open to anyone" not in text
        for _ in range(5):
            enter("wrong-code")
        assert enter(LEAD) == 429


def test_without_a_leads_code_the_pages_are_open_on_this_machine_only(tmp_path: Path, clock: Clock) -> None:
    with client_of(tmp_path / "own", clock) as client:
        assert "open to anyone at this machine" in client.get("/practice/faculty").text
    with client_of(tmp_path / "open", clock, pass_code="molar-17-spoon") as client:
        client.post("/enter", data={"code": "molar-17-spoon"}, headers=OWN)
        sit(client)
        answer = client.get("/practice/faculty")
        assert answer.status_code == 400 and "stay closed" in answer.text
        client.post("/practice/leave", headers=OWN)
        assert "Ann" not in client.get("/practice").text
    with pytest.raises(Declined):
        practice.routes(PracticeOptions(lead_code="1"))


# --- each trainee is one person ------------------------------------------------------------------------


def at_address(client: TestClient, address: str) -> TestClient:
    """A browser on another machine."""
    return TestClient(client.app, base_url=HERE, follow_redirects=False, client=(address, 4711))


def test_the_first_practice_chooses_a_code_and_the_next_ones_ask_for_it(client: TestClient) -> None:
    first = client.post("/practice/enter", data={"trainee": "Ann", "code": ""}, headers=OWN)
    assert first.status_code == 200 and "A code of your own, Ann" in first.text
    form = {"trainee": "Ann", "code": "ivory-42"}
    typo = client.post("/practice/enter", data={**form, "again": "ivory-43"}, headers=OWN)
    easy = client.post("/practice/enter", data={**form, "code": "123456", "again": "123456"}, headers=OWN)
    assert typo.status_code == 400 and "the two codes differ" in typo.text.lower()
    assert easy.status_code == 400 and "too easy to guess" in easy.text
    assert client.post("/practice/enter", data={**form, "again": "ivory-42"}, headers=OWN).status_code == 303
    other = browser_of(client)
    wrong = other.post("/practice/enter", data={**form, "code": "ivory-43"}, headers=OWN)
    assert wrong.status_code == 403 and "the lead can reset it" in wrong.text and 'value="Ann"' in wrong.text
    assert "Welcome" not in other.get("/practice").text
    assert other.post("/practice/enter", data={**form, "trainee": "ANN"}, headers=OWN).status_code == 303
    assert "Welcome, Ann" in other.get("/practice").text


def test_a_chosen_code_is_not_chosen_again_by_somebody_else(client: TestClient) -> None:
    enter(client, "Ann")
    form = {"trainee": "ann", "code": "something else", "again": "something else"}
    taken = browser_of(client).post("/practice/enter", data=form, headers=OWN)
    assert taken.status_code == 400 and "has a code already" in taken.text


def test_without_the_code_nobody_practises_as_another_or_reads_their_progress(client: TestClient) -> None:
    path = sit(client)
    number = now(client, path)["number"]
    for other in (browser_of(client), browser_of(client, "Ben")):
        assert other.get(path).status_code == 400 and "nly Ann can go on here" in other.get(path).text
        for reply in (
            other.get(f"{path}/now"),
            other.post(f"{path}/stop", json={}, headers=OWN),
            other.post(f"{path}/answer", json={"number": number}, headers=OWN),
        ):
            assert reply.status_code == 403 and reply.json()["type"] == "problem"
        assert other.get(f"{path}/say?n={number}").status_code == 400
        live = f"{HERE.replace('http', 'ws')}{path}/live"
        with other.websocket_connect(live, headers=OWN) as connection:
            assert connection.receive()["code"] == 4404
        assert "Ann" not in other.get("/practice/progress", params={"trainee": "Ann"}).text
    assert browser_of(client).get("/practice/progress").headers["location"] == "/practice"
    assert now(client, path)["type"] == "question"


def test_a_start_without_a_code_is_refused(client: TestClient, tmp_path: Path) -> None:
    answer = client.post("/practice", data={"trainee": "Ann", "minutes": "10"}, headers=OWN)
    assert answer.status_code == 400 and "ive your name and your code first" in answer.text
    assert store_of(tmp_path).trainees() == ()


def test_who_is_done_leaves_nothing_open_to_the_next_at_this_browser(client: TestClient) -> None:
    path = sit(client)
    assert client.post("/practice/leave", headers=OWN).status_code == 303
    assert "Who are you?" in client.get("/practice").text
    assert client.get(f"{path}/now").status_code == 403
    assert client.get("/practice/progress").status_code == 303


def test_a_browser_forgets_whose_it_is_after_a_while(client: TestClient, clock: Clock) -> None:
    path = sit(client)
    for _ in range(4):
        clock.now_s += 1.5 * 3600
        assert client.get(f"{path}/now").status_code == 200
    clock.now_s += 2.5 * 3600
    assert client.get(f"{path}/now").status_code == 403
    assert "Who are you?" in client.get("/practice").text


@pytest.mark.parametrize(
    "forged", ["", "x", "1800000000.1.0123456789abcdef.00", "1800000000.1.a.b.c", "\u00e9.x"]
)
def test_a_cookie_that_is_not_ours_is_nobodys(client: TestClient, forged: str) -> None:
    path = sit(client)
    other = browser_of(client)
    headers = [(b"cookie", f"traycall_trainee={forged}".encode())]
    assert other.get(f"{path}/now", headers=headers).status_code == 403
    assert "Who are you?" in other.get("/practice", headers=headers).text


def test_guessing_makes_only_the_guesser_wait(client: TestClient, clock: Clock) -> None:
    enter(client, "Ann")
    guesser, ann = at_address(client, "10.0.0.66"), at_address(client, "10.0.0.7")
    tried = [enter(guesser, "Ann", f"wrong code {n}") for n in range(20)]
    assert tried[:3] == [403] * 3 and set(tried[3:]) == {429}
    refused = guesser.post("/practice/enter", data={"trainee": "Ann", "code": code_of("Ann")}, headers=OWN)
    assert refused.status_code == 429 and "wait 1 s, then try again" in refused.text
    assert enter(ann, "Ann") == 303 and enter(guesser, "Ben") == 303
    clock.now_s += 2
    assert enter(guesser, "Ann", "wrong again") == 403 and enter(guesser, "Ann", "wrong again") == 429
    clock.now_s += 61
    assert enter(guesser, "Ann") == 303


def test_guesses_from_one_network_are_one_guessers(client: TestClient) -> None:
    enter(client, "Ann")
    tried = [enter(at_address(client, f"2001:db8::{n:x}"), "Ann", f"wrong code {n}") for n in range(6)]
    assert tried == [403] * 3 + [429] * 3


def test_the_lead_sees_who_has_no_code_and_resets_one(client: TestClient, tmp_path: Path) -> None:
    path = sit(client)
    store_of(tmp_path).add("Ben", store_of(tmp_path).tallies.trainees(NOON)[0].last or NOON)
    rows = client.get("/practice/faculty/class.csv").text.splitlines()
    assert [(row.split(",")[0], row.rsplit(",", 1)[1]) for row in rows] == [
        ("trainee", "code"), ("Ann", "chosen"), ("Ben", "none yet")
    ]  # fmt: skip
    assert "Reset the code" not in client.get("/practice/faculty/trainee", params={"trainee": "Ben"}).text
    assert "Reset the code" in client.get("/practice/faculty/trainee", params={"trainee": "ann"}).text
    assert client.post("/practice/faculty/reset", data={"trainee": "ann"}, headers=OWN).status_code == 303
    assert client.get(f"{path}/now").status_code == 404 and "Who are you?" in client.get("/practice").text
    assert enter(client, "Ann", "another-42") == 303
    assert enter(browser_of(client), "Ann") == 403


def test_nobody_signs_off_what_they_did_themselves(client: TestClient) -> None:
    sit(client)
    point = client.app.state.practice.matter("operative").facts.checklist[0]  # type: ignore[attr-defined]
    form = {"observer": "ANN", f"see-{point.id}": "yes"}
    answer = client.post(SHEET, data=form, headers=OWN)
    assert answer.status_code == 400 and "cannot be the one who watched" in answer.text


# --- a store that is in the way ------------------------------------------------------------------------


@contextmanager
def held(path: Path, wholly: bool = False) -> Iterator[None]:
    """Another program has the practice store to itself; `wholly`: nobody can read either."""
    holder = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    if wholly:
        holder.execute("PRAGMA locking_mode=EXCLUSIVE")
    holder.execute("BEGIN EXCLUSIVE")
    try:
        yield
    finally:
        holder.execute("ROLLBACK")
        holder.close()


def test_the_chair_answers_while_ten_answers_wait_for_a_locked_store(
    client: TestClient, tmp_path: Path
) -> None:
    """All of them are served by one loop, as in `traycall screen`."""
    chair = begin(client)
    waiting: list[tuple[str, dict[str, str], int]] = []
    for number in range(10):
        path = sit(client, f"T{number}", "name")
        cookie = f"traycall_trainee={client.cookies['traycall_trainee']}"
        waiting.append((path, {**OWN, "cookie": cookie}, now(client, path)["number"]))
    replies: list[Json] = []

    def answer(path: str, headers: dict[str, str], number: int) -> None:
        wish = {"number": number, "token": f"token-{path}"[:40], "kind": "text", "value": "I don't know"}
        replies.append(client.post(f"{path}/answer", json=wish, headers=headers).json())

    threads = [threading.Thread(target=answer, args=one) for one in waiting]
    with held(tmp_path / "practice.sqlite"):
        for thread in threads:
            thread.start()
        with client.websocket_connect(live_of(chair), headers=OWN) as screen:
            screen.send_json({"do": "request", "item": "wedge"})
            while not (told := screen.receive_json()).get("stage", {}).get("answers"):
                pass
            assert told["stage"]["answers"][0]["item"] == "wedge"
        assert client.get(f"/chair/{chair}").status_code == client.get("/items").status_code == 200
        assert all(thread.is_alive() for thread in threads) and replies == []
    for thread in threads:
        thread.join()
    assert len(replies) == 10 and all(reply["counted"] for reply in replies)


def test_an_answer_that_cannot_be_kept_is_told_and_can_be_given_again(
    client: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = sit(client, "Ann", "name")
    number = now(client, path)["number"]
    store = client.app.state.practice.store  # type: ignore[attr-defined]
    with monkeypatch.context() as patched, held(tmp_path / "practice.sqlite"):
        patched.setattr(
            store, "_database", Database(f"sqlite:///{tmp_path}/other.sqlite", PRACTICE, StoreError)
        )
        reply = give(client, path, number, "I don't know", token="the first try")
        assert reply["type"] == "problem" and "no trainee is called" in reply["text"]
    assert now(client, path)["number"] == number
    assert give(client, path, number, "I don't know", token="the second try")["counted"]


def test_many_who_come_while_the_store_is_locked_wait_once(
    tmp_path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[float] = []
    store_of(tmp_path).close()

    def open_it(url: str) -> PracticeStore:
        opened.append(time.monotonic())
        return PracticeStore(url, wait_s=0.5)

    monkeypatch.setattr("listen.practice.places.PracticeStore", open_it)
    with client_of(tmp_path, clock) as client:
        replies: list[str] = []
        threads = [
            threading.Thread(target=lambda: replies.append(client.get("/practice").text)) for _ in range(4)
        ]
        with held(tmp_path / "practice.sqlite", wholly=True):
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
        assert len(replies) == 4 and all("another program holds it" in reply for reply in replies)
        assert len(opened) < 4
        assert "Who are you?" in client.get("/practice").text


@pytest.mark.parametrize("kind", ["damaged", "foreign", "newer"])
def test_a_store_that_cannot_be_used_is_told_and_the_chair_goes_on(
    tmp_path: Path, clock: Clock, kind: str
) -> None:
    path = tmp_path / "practice.sqlite"
    if kind == "damaged":
        path.write_text("no database " * 500)
    else:
        said = "practice_store_version (version INTEGER)" if kind == "newer" else "letter (text)"
        with sqlite3.connect(path) as connection:
            connection.execute(f"CREATE TABLE {said}")
            if kind == "newer":
                connection.execute("INSERT INTO practice_store_version VALUES (99)")
        connection.close()
    with client_of(tmp_path, clock) as client:
        for where in ("/practice", "/practice/progress", "/practice/faculty", "/practice/faculty/mixed"):
            answer = client.get(where)
            assert answer.status_code == 400 and "practice store" in answer.text
        assert client.get("/practice/nowhere/now").json()["type"] == "problem"
        with client.websocket_connect(f"{HERE.replace('http', 'ws')}/practice/x/live", headers=OWN) as live:
            assert "practice store" in live.receive_json()["text"]
        assert client.get(f"/chair/{begin(client)}").status_code == 200


# --- trays as they lie here ----------------------------------------------------------------------------


def test_places_of_a_tray_as_it_came_are_marked_and_wait_once_another_is_confirmed(
    client: TestClient,
) -> None:
    assert now(client, sit(client, "Ann", "slot"))["as_it_came"]
    assert not now(client, sit(client, "Ann", "name"))["as_it_came"]
    assert "asked as it came" in client.get("/practice").text
    running = client.app.state.running  # type: ignore[attr-defined]
    tray = running.chair.pack.tray("examination")
    clinic = replace(running.chair.clinic, confirmed={tray.id: tray_fingerprint(tray)})
    running.renew(replace(running.chair, clinic=clinic))
    assert "practised once your lead has confirmed" in client.get("/practice").text
    data = {"procedure": "composite_class_two", "minutes": "10", "drill": "slot"}
    refused = client.post("/practice", data=data, headers=OWN)
    assert refused.status_code == 400 and "once your lead has confirmed" in refused.text
    here = now(client, sit(client, "Ann", "slot", procedure="examination"))
    assert here["place"] == "examination" and not here["as_it_came"]


# --- the live connection -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "nonsense", ["", "[]", '{"do": "listen"}', '{"do": "listen", "number": true}', "[" * 900]
)
def test_nonsense_on_the_live_connection_is_answered_and_survived(client: TestClient, nonsense: str) -> None:
    path = sit(client)
    with client.websocket_connect(f"{HERE.replace('http', 'ws')}{path}/live", headers=OWN) as live:
        live.send_bytes(b"\0" * 1024)
        live.send_bytes(b"\0")
        live.send_text(nonsense)
        assert live.receive_json()["type"] == "problem"
        live.send_json({"do": "deaf"})
        assert live.receive_json() == {"type": "ear", "state": "deaf"}


def test_a_live_connection_to_no_session_is_closed(client: TestClient) -> None:
    with client.websocket_connect(f"{HERE.replace('http', 'ws')}/practice/nowhere/live", headers=OWN) as live:
        assert live.receive()["code"] == 4404


def test_a_changed_vocabulary_counts_in_the_next_session(client: TestClient) -> None:
    from listen.chair import Chair

    sit(client)
    running, places = client.app.state.running, client.app.state.practice  # type: ignore[attr-defined]
    before = places.matter("operative")
    old = running.chair
    running.renew(Chair(old.options, old.pack.model_copy(update={"version": "9"}), old.tray, old.procedure))
    sit(client, "Ben")
    assert places.matter("operative") is not before
    assert places.matter("operative").pack.version == "9"


@pytest.fixture
def spanish(tmp_path: Path, clock: Clock) -> Iterator[TestClient]:
    """The practice pages over the Spanish pack."""
    chair = open_chair(ChairOptions(pack="operativa_es", procedure="resina"))
    more = practice.routes(PracticeOptions(seed=1)), practice.links()
    app = create_app(lambda: chair, ServerSettings(data=tmp_path, clock=clock), StandIn, *more)
    with TestClient(app, base_url=HERE, follow_redirects=False) as client:
        yield client


def test_a_spanish_pack_is_practised_in_spanish(spanish: TestClient) -> None:
    path = sit(spanish, "Ana", "slot", procedure="resina")
    page = spanish.get(path).text
    words = json.loads(page.partition('id="words">')[2].partition("</script>")[0])
    assert words["wrong"] == "No." and words["right"] == "Correcto." and words["dont_know"] == "No lo sé"
    assert 'aria-live="polite" aria-label="Question" lang="es"' in page and "Escribe la respuesta" in page
    view = now(spanish, path)
    assert view["prompt"].endswith("¿En qué hueco está?")
    reply = give(spanish, path, view["number"], words["dont_know"], token="token-of-ana")
    assert reply["counted"] and reply["said"] == ""
    places = [slot.at for slot in shipped_pack("operativa_es").tray("resina").slots]
    assert reply["explain"].endswith(tuple(f": {said}{at}." for said in ("", "hueco ") for at in places))


def test_no_microphone_is_offered_where_no_engine_hears_the_language(
    spanish: TestClient, client: TestClient
) -> None:
    english = client.get(sit(client)).text
    other = spanish.get(sit(spanish, procedure="resina")).text
    assert 'id="mic" aria-pressed="false" hidden' in other
    assert 'lang="es">Se responde escribiendo' in other
    assert 'id="mic" aria-pressed="false">' in english and ">Answers are typed" not in english


def test_a_spanish_question_is_read_by_a_spanish_voice_or_none(
    spanish: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    from listen.speech import replies as speak

    asked_for: list[tuple[str, str]] = []

    def speech(text: str, language: str = "en") -> None:
        asked_for.append((text, language))

    monkeypatch.setattr(speak, "speech", speech)
    monkeypatch.setattr(speak, "voice_name", lambda language="en": None if language == "es" else "joe")
    path = sit(spanish, procedure="resina")
    page = spanish.get(path).text
    assert "No hay ninguna voz en español" in page and 'id="hear"' not in page
    number = now(spanish, path)["number"]
    assert spanish.get(f"{path}/say?n={number}").status_code == 204
    assert asked_for and {language for _, language in asked_for} == {"es"}
