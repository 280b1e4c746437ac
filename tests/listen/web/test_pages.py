"""Every route, in process."""

import errno
import io
import re
from collections.abc import Iterator
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from listen.chairside.handing import ChairSettings, handing_text
from listen.speech import replies
from listen.web.pages import nameless_symbols, picture, symbols
from tests.listen.web.desk_app import OWN, begin, client_for, shared_chair
from vocab.pack.shapes import line


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_for(tmp_path) as client:
        yield client


@pytest.mark.slow
@pytest.mark.parametrize("path", ["/", "/items", "/trays", "/sessions"])
def test_each_page_of_the_menu_is_there(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 200
    assert "traycall" in answer.text


@pytest.mark.slow
def test_an_item_is_found_by_each_of_its_names_in_two_actions(client: TestClient) -> None:
    """Typing a name and Enter lead to the item, or to a short list that holds it."""
    pack = shared_chair().pack
    missed = []
    for item in pack.items:
        for name in item.names:
            answer = client.get("/find", params={"q": name.text})
            straight = answer.status_code == 303 and answer.headers["location"] == f"/items/{item.id}"
            listed = answer.status_code == 200 and f'href="/items/{item.id}"' in answer.text
            if not straight and not listed:
                missed.append(name.text)
    assert not missed


def test_what_nobody_knows_is_told_to_be_unknown(client: TestClient) -> None:
    answer = client.get("/find", params={"q": "flux capacitor"})
    assert answer.status_code == 404
    assert "Nothing is called" in answer.text
    assert client.get("/find", params={"q": " "}).headers["location"] == "/items"


def test_a_drawing_that_a_pack_brings_is_shown_on_pages_at_the_chair_and_in_practice() -> None:
    pack = shared_chair().pack
    own = pack.item("hoe").drawn((line((3, 4), (123, 45.5)),))
    items = tuple(own if item.id == own.id else item for item in pack.items)
    changed = pack.model_copy(update={"items": items})
    stroke = '<path d="M3,4L123,45.5"/>'
    assert stroke in picture(own) and stroke not in picture(pack.item("hoe"))
    for shown in (symbols, nameless_symbols):
        assert shown(changed).count(stroke) == 1 and stroke not in shown(pack)


@pytest.mark.slow
def test_every_item_has_a_page_with_all_its_names(client: TestClient) -> None:
    from markupsafe import escape

    for item in shared_chair().pack.items:
        text = client.get(f"/items/{item.id}").text
        for name in item.names:
            assert str(escape(name.text)) in text
        assert str(escape(item.purpose)) in text and "<svg" in text
        for other in item.confused_with:
            assert str(escape(other.tell)) in text


@pytest.mark.slow
def test_an_item_tells_its_sizes_its_latex_and_what_is_asked_back(client: TestClient) -> None:
    pack = shared_chair().pack
    clamp = client.get("/items/dam_clamp").text
    sizes = clamp[clamp.index("Sizes and patterns") :]
    for variant in pack.item("dam_clamp").variants:
        assert f"<strong>{variant.text}</strong>" in sizes
    assert "W8A clamp" in sizes and "W8A clamp" not in clamp[: clamp.index("Sizes and patterns")]
    for item in pack.items:
        text = client.get(f"/items/{item.id}").text
        assert ("holds natural rubber latex" in text) is item.latex, item.id
        assert ("asks which one" in text) is any(name.shared for name in item.names), item.id
    football = client.get("/items/egg_burnisher").text
    assert 'asks which one</span> <span class="soft">or <a href="/items/' in football
    assert 'href="/items/diamond_football"' in football
    assert "needle_long" in client.get("/items/needle_short").text.split("Offered with it")[1]


def test_how_an_item_is_passed_stands_in_words(client: TestClient) -> None:
    pack = shared_chair().pack
    text = client.get("/items/dam_clamp").text
    assert (handing_text(pack.item("dam_clamp"), pack.language) or "nothing") in unescape(text)


def test_every_tray_has_a_page_and_cards(client: TestClient) -> None:
    for tray in shared_chair().pack.trays:
        assert client.get(f"/trays/{tray.id}").status_code == 200
    for paper in ("a4", "letter"):
        svg = client.get(f"/trays/examination/card-{paper}.svg")
        assert svg.headers["content-type"].startswith("image/svg+xml") and "<svg" in svg.text
        pdf = client.get(f"/trays/examination/card-{paper}.pdf")
        assert pdf.headers["content-type"] == "application/pdf" and pdf.content.startswith(b"%PDF")
    assert client.get("/trays/examination/card-a3.pdf").status_code == 404


@pytest.mark.parametrize(
    "path",
    [
        "/items/nothing",
        "/trays/nothing",
        "/sessions/99",
        "/chair/99",
        "/chair/99/setup",
        "/nowhere",
        "/chair/x",
    ],
)
def test_what_is_not_there_says_so(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert "There is nothing here" in answer.text


def test_a_session_is_started_shown_and_ended(client: TestClient) -> None:
    session = begin(client)
    chair = client.get(f"/chair/{session}")
    tray = shared_chair().pack.tray("composite_class_two")
    assert chair.status_code == 200
    assert re.findall(r'class="slot" [^>]*data-item="(\w+)"', chair.text) == [
        slot.item for slot in tray.slots
    ]
    decided = {"by": "Dr. Grey", "reason": "only a trial"}
    ended = client.post(f"/chair/{session}/end", data=decided, headers=OWN)
    assert ended.headers["location"] == f"/sessions/{session}"
    assert (
        "Ended with an incomplete count by Dr. Grey: only a trial." in client.get(f"/sessions/{session}").text
    )
    assert client.get(f"/chair/{session}").status_code == 200


def test_a_report_has_a_picture_with_a_mark_for_each_request_and_a_pdf(client: TestClient) -> None:
    pypdf = pytest.importorskip("pypdf", reason="reading the report back needs pypdf")
    session = begin(client)
    assert "<figure" not in client.get(f"/sessions/{session}").text
    chair_session = client.app.state.running.chair_session(session)  # type: ignore[attr-defined]
    for item in ("mouth_mirror", "explorer_shepherd", "hoe"):
        chair_session.request(item)
    text = client.get(f"/sessions/{session}").text
    for drawn in re.split(r'(?=<svg [^>]*class="(?:beside|above)")', text)[1:]:
        assert drawn.count('class="request"') == 3 and "<title>The session over time</title>" in drawn
    assert "Lay it next time" in text and "Every event, line by line (4)" in text
    pdf = client.get(f"/sessions/{session}/report.pdf")
    assert pdf.headers["content-type"] == "application/pdf" and pdf.content.startswith(b"%PDF")
    read = " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf.content)).pages)
    for item in ("mouth_mirror", "explorer_shepherd", "hoe"):
        assert shared_chair().pack.called[item] in " ".join(read.split())
    assert client.get("/sessions/99/report.pdf").status_code == 404


def test_a_session_without_procedure_or_tray_works(client: TestClient) -> None:
    session = begin(client, "")
    assert "No tray was chosen" in client.get(f"/chair/{session}").text
    assert client.get(f"/sessions/{session}").status_code == 200


def test_a_procedure_that_does_not_exist_is_refused_with_the_names_there_are(client: TestClient) -> None:
    answer = client.post("/start", data={"procedure": "root canal"}, headers=OWN)
    assert answer.status_code == 404
    assert "composite_class_two" in answer.text


def test_set_up_questions_are_answered_and_a_no_says_what_to_do(client: TestClient) -> None:
    session = begin(client)
    path = f"/chair/{session}/setup"
    client.post(path, data={"check": "pack_intact", "good": "no"}, headers=OWN)
    client.post(path, data={"check": "in_date", "good": "yes"}, headers=OWN)
    assert "take another pack" in client.get(path).text
    report = client.get(f"/sessions/{session}").text
    assert "Is the pack intact and dry?" in report
    assert client.post(path, data={"check": "nonsense", "good": "yes"}, headers=OWN).status_code == 400


def test_a_time_kept_for_all_that_is_cured_stays_until_it_is_taken_away(client: TestClient) -> None:
    session = begin(client)
    path = f"/chair/{session}/setup"
    chair_session = client.app.state.running.chair_session(session)  # type: ignore[attr-defined]
    chair_session.settings = ChairSettings(maker_times={"cure": 20.0})
    text = client.get(path).text
    assert text.index("Cure, where it has no time of its own") < text.index("Cure bond")
    assert client.post(path, data={"time:cure": "25", "time:bond": "60"}, headers=OWN).status_code == 303
    assert chair_session.settings.maker_times == {"cure": 25.0, "bond": 60.0}
    client.post(path, data={"time:bond": "60"}, headers=OWN)
    assert chair_session.settings.maker_times == {"bond": 60.0}


def test_the_chair_is_set_up_for_a_left_handed_operator(client: TestClient) -> None:
    session = begin(client)
    path = f"/chair/{session}/setup"
    form = {"handed": "left", "arch": "lower", "clock": "3", "time:bond": "15"}
    assert client.post(path, data=form, headers=OWN).status_code == 303
    text = client.get(path).text
    assert '<option value="left" selected>' in text and 'value="15"' in text
    assert client.post(path, data={"time:bond": "soon"}, headers=OWN).status_code == 400
    assert client.post(path, data={"time:bond": "-1"}, headers=OWN).status_code == 400
    assert client.post(path, data={"handed": "both"}, headers=OWN).status_code == 400


@pytest.mark.skipif(replies.voice_name() is None, reason="no voice is installed (espeak-ng, or piper-tts)")
def test_an_answer_can_be_spoken_and_silence_stays_silent(client: TestClient) -> None:
    session = begin(client)
    assert client.get(f"/chair/{session}/say").status_code == 204
    chair_session = client.app.state.running.chair_session(session)  # type: ignore[attr-defined]
    chair_session.ask("cotton pliers")
    sound = client.get(f"/chair/{session}/say")
    assert sound.headers["content-type"] == "audio/wav" and sound.content[:4] == b"RIFF"


def test_a_silent_server_never_speaks(tmp_path: Path) -> None:
    with client_for(tmp_path, spoken=False) as client:
        session = begin(client)
        client.app.state.running.chair_session(session).ask("cotton pliers")  # type: ignore[attr-defined]
        assert client.get(f"/chair/{session}/say").status_code == 204
        assert 'id="voice"' not in client.get(f"/chair/{session}").text


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.inline: list[str] = []
        self.outside: list[str] = []

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        given = dict(attributes)
        if "style" in given or tag == "style" or any(name.startswith("on") for name in given):
            self.inline.append(tag)
        if tag == "script" and "src" not in given and given.get("type") != "application/json":
            self.inline.append(tag)
        self.outside += [v for k, v in attributes if k in ("src", "href") and v and "//" in v]


def test_no_page_holds_inline_code_or_loads_anything_from_outside(client: TestClient) -> None:
    session = begin(client)
    for path in (
        "/", "/items", "/items/bur_330", "/find?q=burnisher", "/trays", "/trays/sealant", "/sessions",
        f"/chair/{session}", f"/chair/{session}/setup", f"/chair/{session}/count", f"/sessions/{session}",
    ):  # fmt: skip
        tags = _Tags()
        tags.feed(client.get(path).text)
        assert (tags.inline, tags.outside) == ([], []), path


def test_a_full_disk_is_told_where_a_chair_is_set_up(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*given: object, **more: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    session = begin(client)
    with monkeypatch.context() as patched:
        patched.setattr("listen.live.sessions.write_atomically", full)
        answer = client.post(f"/chair/{session}/setup", data={"handed": "left"}, headers=OWN)
        assert answer.status_code == 400 and "No space left on device" in answer.text
    again = client.post(f"/chair/{session}/setup", data={"handed": "left"}, headers=OWN)
    assert again.status_code == 303
