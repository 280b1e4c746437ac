"""The report shows a session as it was, corrections included, and nothing that could be run."""

from __future__ import annotations

from dataclasses import replace
from html.parser import HTMLParser

from listen.chairside.events import Event, EventKind
from listen.chairside.log import LoggedSession
from listen.chairside.report import Predictions, SessionReport, as_html, session_report, tables
from tests.listen.chairside.chair_pack import PACK, TRAY, at_chair, in_order

SESSION = LoggedSession(4, 0.0, 700.0, "chair", "composite", "composite", None, None)
_PLAIN = (
    at_chair(EventKind.OPENED, at_s=0.0),
    at_chair(EventKind.CHECKED, about="barriers_on", good=True, at_s=5.0),
    at_chair(EventKind.ASKED, "mouth_mirror", slot="1", predicted=("mouth_mirror", "wedge"), at_s=10.0),
    at_chair(EventKind.ASKED, "explorer_shepherd", predicted=("wedge", "explorer_shepherd"), at_s=20.0),
    at_chair(EventKind.ASKED, "wedge", predicted=("etchant",), at_s=30.0),
    at_chair(EventKind.RETURNED, "explorer_shepherd", at_s=80.0),
    at_chair(EventKind.DROPPED, "wedge", at_s=90.0),
    at_chair(EventKind.CORRECTED, corrects=7, at_s=95.0),
    at_chair(EventKind.ASKED, "explorer_shepherd", at_s=100.0),
    at_chair(EventKind.ASKED, "needle_long", verdict="check", predicted=("needle_long",), at_s=110.0),
    at_chair(EventKind.TIMER_STARTED, about="etch", seconds_s=15.0, at_s=120.0),
    at_chair(EventKind.RETURNED, "explorer_shepherd", at_s=130.0),
    at_chair(EventKind.STEP, about="check", by="Prof. Brown", at_s=140.0),
    at_chair(EventKind.ACTION, about="rinse", at_s=150.0),
    at_chair(EventKind.COUNTED, "wedge", 1, at_s=600.0),
    at_chair(EventKind.COUNTED, "explorer_shepherd", 1, at_s=610.0),
    at_chair(EventKind.CLOSED, at_s=700.0),
)
EVENTS = tuple(replace(event, seq=seq) for seq, event in enumerate(_PLAIN, 1))


def report() -> SessionReport:
    return session_report(SESSION, EVENTS, PACK, TRAY)


def test_every_event_is_a_line_and_what_was_taken_back_says_so() -> None:
    lines = report().timeline
    assert len(lines) == len(EVENTS)
    assert [line.name for line in lines if line.taken_back] == ["wedge"]
    assert lines[7].what == "corrected" and lines[7].name == "line 7 undone"
    assert lines[2].detail == "slot 1, expected" and lines[3].detail == "among the expected"


def test_predictions_count_answered_requests_only() -> None:
    assert report().predictions == Predictions(asked=3, first=1, near=2)


def test_time_out_adds_up_and_says_what_never_came_back() -> None:
    out = {t.item: (t.times, t.out_s, t.still_out) for t in report().times_out}
    assert out == {
        "mouth_mirror": (1, 690.0, True),
        "wedge": (1, 670.0, True),
        "explorer_shepherd": (2, 90.0, False),
    }


def test_the_count_shows_what_is_missing_and_what_nobody_counted() -> None:
    assert [(line.item, line.expected, line.counted) for line in report().missing] == [("wedge", 2, 1)]
    assert "cotton roll" in report().uncounted and "wedge" not in report().uncounted


class _Page(HTMLParser):
    """Counts tags and checks that each is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_page_is_whole_and_loads_nothing() -> None:
    page = _Page()
    page.feed(as_html(report()))
    assert page.open == [] and page.seen.count("table") == 5
    assert not {"script", "link", "img", "iframe"} & set(page.seen)


def test_names_are_escaped_in_the_page_and_plain_in_the_tables() -> None:
    items = list(PACK.items)
    evil = items[0].name.model_copy(update={"text": "<script>alert(1)</script> [bold]mirror & co"})
    pack = PACK.model_copy(update={"items": (items[0].model_copy(update={"name": evil}), *items[1:])})
    evil_report = session_report(SESSION, EVENTS, pack, TRAY)
    assert "<script>" not in as_html(evil_report)
    assert "&lt;script&gt;alert(1)&lt;/script&gt; [bold]mirror &amp; co" in as_html(evil_report)
    cells = [cell for _, _, rows in tables(evil_report) for row in rows for cell in row]
    assert any("[bold]mirror" in cell for cell in cells)


def test_a_session_that_was_cut_short_and_an_empty_one_have_reports() -> None:
    cut = session_report(SESSION, EVENTS[:4], PACK, TRAY)
    assert not cut.closed and "not closed" in as_html(cut)
    assert session_report(SESSION, (), PACK, None).predictions == Predictions(0, 0, 0)


def ended(*more: Event) -> SessionReport:
    """The session with these events before its end, which somebody decided on."""
    closing = replace(
        EVENTS[-1], by="Dr Green", reason="Wedge is in the waste.", short=1, uncounted=5, beyond=0
    )
    events = in_order(*EVENTS[:-1], *more, closing)
    return session_report(SESSION, events, PACK, TRAY)


def test_who_ended_it_with_something_open_and_why_stands_at_the_top() -> None:
    found = ended()
    assert (found.ended_by, found.reason) == ("Dr Green", "Wedge is in the waste.")
    assert found.timeline[-1].detail == "1 short, 5 not counted, ended by Dr Green"
    assert "Ended with an incomplete count by Dr Green: Wedge is in the waste." in as_html(found)
    assert report().ended_by is None


def test_what_was_counted_beyond_what_was_laid_is_shown() -> None:
    found = ended(at_chair(EventKind.COUNTED, "wedge", 3))
    assert [(line.item, line.expected, line.counted) for line in found.beyond] == [("wedge", 2, 3)]
    assert "More than was laid and added" in as_html(found) and found.missing == ()


def test_what_stayed_in_the_mouth_broke_or_is_missed_is_shown() -> None:
    found = ended(
        at_chair(EventKind.IN_MOUTH, "cotton_roll", 2),
        at_chair(EventKind.SHORT, "gauze_square"),
        at_chair(EventKind.BROKEN, "mouth_mirror"),
    )
    assert found.in_mouth == (("cotton roll", 2),) and found.missed == (("gauze square", 1),)
    page = as_html(found)
    assert "Noted as still in the mouth: cotton roll (2)." in page and "Broken: mouth mirror." in page
    assert "Noted as missing, and not counted since: gauze square." in page


def test_a_size_stands_beside_its_item() -> None:
    found = ended(at_chair(EventKind.ASKED, "wedge", size="small", slot="7"))
    assert found.timeline[-2].detail == "small, slot 7"


def test_when_the_card_after_a_needle_stick_was_opened_is_shown_and_nothing_about_a_person() -> None:
    found = ended(at_chair(EventKind.INJURY_CARD))
    (at_s,) = found.injury_card_s
    assert found.timeline[-2].what == "sharps-injury card opened" and at_s == found.timeline[-2].after_s
    assert "no personal details are kept" in as_html(found)


def test_faculty_checks_say_when_and_by_whom_and_which_nobody_noted() -> None:
    (looked,) = report().faculty
    assert (looked.name, looked.after_s, looked.by) == ("Teacher checks", 140.0, "Prof. Brown")
    nobody = session_report(SESSION, EVENTS[:12], PACK, TRAY)
    assert [(check.name, check.after_s) for check in nobody.faculty] == [("Teacher checks", None)]
    assert "not noted" in as_html(nobody)
    assert session_report(SESSION, EVENTS[:12], PACK, TRAY, faculty=False).faculty == ()
