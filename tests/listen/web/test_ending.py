"""Ending a session: not while something is missing, unless a named person says why; and what is kept."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from listen.chairside.closing import open_lines
from listen.chairside.count import count_list
from listen.chairside.events import LONGEST_BY
from listen.chairside.session import ChairSession
from tests.listen.web.desk_app import OWN, begin, client_for

NAME, REASON = "Dr. Grey", "Band is seen on the radiograph; it is taken out on Monday"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_for(tmp_path) as client:
        yield client


def room_of(client: TestClient, session: int) -> ChairSession:
    chair_session: ChairSession = client.app.state.running.chair_session(session)  # type: ignore[attr-defined]
    return chair_session


def count_all(chair_session: ChairSession, **found: int) -> None:
    """Count every line as it was laid, but those of `found`."""
    for line in count_list(chair_session.state, chair_session.chair.pack):
        chair_session.count(line.item, found.get(line.item, line.expected))


def end(client: TestClient, session: int, **form: str) -> tuple[int, str]:
    """Press End; the status, and where it leads or what the page says."""
    answer = client.post(f"/chair/{session}/end", data=form, headers=OWN)
    return answer.status_code, answer.headers.get("location") or unescape(answer.text)


def test_a_session_with_a_band_missing_is_not_ended_and_the_count_says_what_is_missing(
    client: TestClient,
) -> None:
    session = begin(client)
    chair_session = room_of(client, session)
    count_all(chair_session, matrix_band=0)
    assert end(client, session) == (303, f"/chair/{session}/count#end")
    assert not chair_session.closed
    section = unescape(client.get(f"/chair/{session}/count").text).split('id="end"')[1]
    assert "It cannot be ended yet" in section
    assert re.search(r"matrix band</strong></a>: 0 of \d, \d missing", section)


def test_a_session_that_nobody_counted_is_not_ended(client: TestClient) -> None:
    session = begin(client)
    assert end(client, session) == (303, f"/chair/{session}/count")
    section = client.get(f"/chair/{session}/count").text.split('id="end"')[1]
    chair_session = room_of(client, session)
    uncounted = open_lines(chair_session.state, chair_session.chair.pack).uncounted
    assert len(uncounted) > 10
    assert all(f'href="#line-{line.item}"' in section for line in uncounted)


def test_a_complete_count_ends_with_one_press_and_the_list_says_so(client: TestClient) -> None:
    session = begin(client)
    count_all(room_of(client, session))
    assert end(client, session) == (303, f"/sessions/{session}")
    assert "count complete" in client.get("/sessions").text
    assert "Ended with an incomplete count" not in client.get(f"/sessions/{session}").text


@pytest.mark.parametrize(
    ("form", "told"),
    [
        ({"by": "", "reason": REASON}, "give the name"),
        ({"by": NAME, "reason": " "}, "give the reason"),
        ({"by": "...", "reason": REASON}, "give the name"),
        ({"by": NAME}, "give the reason"),
        ({"by": "n" * (LONGEST_BY + 1), "reason": REASON}, "at most 80 characters"),
        ({"by": NAME, "reason": "r" * 50_000}, "at most 200 characters"),
        ({"by": NAME, "reason": "one line\nand another"}, "one line"),
        ({"by": "Dr. \u202eyerG", "reason": REASON}, "one line"),
    ],
)
def test_to_end_it_all_the_same_takes_a_name_and_a_reason(
    client: TestClient, form: dict[str, str], told: str
) -> None:
    session = begin(client)
    status, text = end(client, session, **form)
    assert status == 400
    assert told in text.lower()
    assert not room_of(client, session).closed
    assert "r" * 1000 not in text


def test_no_name_and_no_reason_is_ever_proposed(client: TestClient) -> None:
    """Not even after one session was ended so."""
    first, second = begin(client), begin(client)
    assert end(client, first, by=NAME, reason=REASON)[0] == 303
    text = client.get(f"/chair/{second}/count").text
    fields = re.findall(r'<input type="text" name="(by|reason)"([^>]*)>', text)
    assert [name for name, _ in fields] == ["by", "reason"]
    assert all('value=""' in rest and "required" in rest for _, rest in fields)
    assert NAME not in text and 'autocomplete="off"' in text


def test_who_ended_it_and_why_stand_in_the_log_the_list_and_the_report(client: TestClient) -> None:
    session = begin(client)
    chair_session = room_of(client, session)
    count_all(chair_session, matrix_band=0)
    assert end(client, session, by=f"  {NAME} ", reason=REASON) == (303, f"/sessions/{session}")
    closed = chair_session.state.events[-1]
    assert (closed.by, closed.reason, closed.short, closed.uncounted) == (NAME, REASON, 1, 0)
    listed = unescape(client.get("/sessions").text)
    assert f"count incomplete; ended by {NAME}" in listed
    assert "short: matrix band (0 of 1)" in listed and "count complete" not in listed
    report = unescape(client.get(f"/sessions/{session}").text)
    assert f"by {NAME}" in report and REASON in report
    short = report.split("<h2>Fewer than expected in the count")[1].split("<table>")[1].split("</table>")[0]
    assert "matrix band" in short


def test_what_was_counted_beyond_what_was_laid_is_reported(client: TestClient) -> None:
    session = begin(client)
    chair_session = room_of(client, session)
    count_all(chair_session, matrix_band=9)
    assert "more than was laid and added" in client.get(f"/chair/{session}/count").text.lower()
    assert end(client, session) == (303, f"/sessions/{session}")
    report = client.get(f"/sessions/{session}").text
    beyond = report.split("<h2>More than was laid and added")[1].split("<table>")[1]
    assert "matrix band" in beyond.split("</table>")[0]
    assert "count complete, 1 more than laid" in client.get("/sessions").text


def test_what_a_person_types_is_shown_as_text(client: TestClient) -> None:
    session = begin(client)
    end(client, session, by="<b>Grey</b>", reason="<script>alert(1)</script>")
    for path in (f"/sessions/{session}", "/sessions"):
        text = client.get(path).text
        assert "<script>alert" not in text and "<b>Grey" not in text


def test_an_ended_session_is_not_ended_again(client: TestClient) -> None:
    session = begin(client)
    end(client, session, by=NAME, reason=REASON)
    assert end(client, session, by="Dr. Brown", reason="other")[0] == 303
    assert "Dr. Brown" not in client.get(f"/sessions/{session}").text
    assert 'id="end"' not in client.get(f"/chair/{session}/count").text
