"""`traycall session ...` as a person meets it. The tray is the shipped one; common practice, no source."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from listen.chairside.consents import read_learning
from listen.chairside.events import EventKind, Source
from listen.chairside.log import SessionLog
from listen.chairside.report import EVERY_EVENT
from listen.commands.main import app
from vocab.layers import open_vocabulary
from vocab.layers.changes import Dentist, SetDentists
from vocab.pack.load import shipped_pack


def run(data: Path, *words: str, typed: str = "") -> Result:
    places = ["--data", str(data)]
    layers = (
        ["--changes", str(data / "layers")]
        if words[0] in ("report", "setup", "count", "end", "undo", "chair")
        or words[:2] in (("learn", "on"), ("learn", "off"), ("learn", "list"))
        else []
    )
    return CliRunner().invoke(app, ["session", *words, *places, *layers], input=typed)


def held(data: Path, *lines: str) -> Result:
    """A new session in which these lines are typed."""
    typed = "".join(f"{line}\n" for line in lines)
    return run(data, "chair", "--procedure", "composite_class_two", typed=typed)


def ended(data: Path, session: int = 1, reason: str = "Only a rehearsal.") -> Result:
    """A session ended though hardly anything was counted."""
    return run(data, "end", str(session), "--by", "Dr Green", "--reason", reason)


def kinds(data: Path, session: int = 1) -> list[EventKind]:
    return [event.kind for event in SessionLog(data / "sessions.db").events(session)]


def test_a_session_is_held_by_typing_and_everything_is_logged(tmp_path: Path) -> None:
    said = held(
        tmp_path,
        "mirror please",
        "burnisher please",
        "2",
        "mirror back",
        "that one fell",
        "undo",
        "out",
    )
    acorn = shipped_pack().tray("composite_class_two").slot_of("acorn_burnisher")
    assert said.exit_code == 0
    assert "> MOUTH MIRROR - SLOT 1" in said.stdout and "pass: " in said.stdout
    assert "? WHICH ONE?" in said.stdout and f"> ACORN BURNISHER - SLOT {acorn}" in said.stdout
    assert "Noted: returned: mouth mirror." in said.stdout
    assert "Taken back: acorn burnisher, fell." in said.stdout
    assert "Noted: fell: acorn burnisher." in said.stdout
    assert "Believed out: acorn burnisher." in said.stdout
    assert ended(tmp_path).exit_code == 0
    assert kinds(tmp_path) == [
        EventKind.OPENED,
        EventKind.ASKED,
        EventKind.ASKED,
        EventKind.ASKED,
        EventKind.RETURNED,
        EventKind.DROPPED,
        EventKind.CORRECTED,
        EventKind.CLOSED,
    ]


def test_a_needle_is_checked_with_its_label_read_back(tmp_path: Path) -> None:
    said = held(tmp_path, "short needle please")
    assert all(part in said.stdout for part in ("1  SHORT NEEDLE", "LONG NEEDLE", "Read back"))
    (_, asked) = SessionLog(tmp_path / "sessions.db").events(1)
    assert asked.verdict == "check"


def test_a_timer_without_the_makers_time_does_not_start_and_says_why(tmp_path: Path) -> None:
    assert "No time is set for topical" in held(tmp_path, "start the topical timer").stdout
    assert kinds(tmp_path) == [EventKind.OPENED]


def test_the_clinics_time_starts_a_timer_and_a_word_stops_it(tmp_path: Path) -> None:
    (tmp_path / "chairs.json").write_text('{"usual": {"maker_times": {"etch": 15}}}')
    said = held(tmp_path, "start the etch dentine timer", "how long left", "stop the timer")
    assert "15 seconds, the time set by the clinic" in said.stdout and "seconds left" in said.stdout
    assert kinds(tmp_path)[1:] == [EventKind.TIMER_STARTED, EventKind.TIMER_STOPPED]


@pytest.mark.slow
def test_a_session_goes_on_after_the_terminal_was_closed(tmp_path: Path) -> None:
    assert "stays open" in held(tmp_path, "mirror please").stderr
    again = run(tmp_path, "chair", "1", typed="out\n")
    assert "Believed out: mouth mirror." in again.stdout
    ended(tmp_path)
    closed = run(tmp_path, "chair", "1", typed="mirror please\n")
    assert closed.exit_code == 2 and "is closed" in closed.stderr


def test_talk_is_not_kept(tmp_path: Path) -> None:
    held(tmp_path, "how was your weekend")
    assert kinds(tmp_path) == [EventKind.OPENED]
    assert b"weekend" not in (tmp_path / "sessions.db").read_bytes()


@pytest.mark.slow
def test_the_setup_check_is_asked_and_a_no_says_what_to_do(tmp_path: Path) -> None:
    held(tmp_path)
    said = run(tmp_path, "setup", "1", typed="y\nn\nmaybe\n\ny\ny\n")
    assert "take another pack and tell the person responsible" in said.stdout
    assert "Type y or n" in said.stdout and "1 open, 1 answered with no" in said.stdout
    events = SessionLog(tmp_path / "sessions.db").events(1)[1:]
    assert [event.good for event in events] == [True, False, True, True]
    assert {event.source for event in events} == {Source.KEYBOARD}
    assert "0 open, 0 answered with no" in run(tmp_path, "setup", "1", typed="y\ny\n").stdout


def test_the_count_goes_by_exception_and_begins_with_what_is_confirmed_by_itself(tmp_path: Path) -> None:
    held(tmp_path, "cotton roll please")
    said = run(tmp_path, "count", "1", typed="many\n5\none spoon missing\nwhat\ny\n").stdout
    titles = (
        "One by one",
        "Row by row",
        "Far row",
        "Near row",
        "Into the sharps container",
        "Clean and heat",
    )
    places = [said.index(title) for title in titles]
    assert places == sorted(places)
    assert "Type a number" in said and "Type y, n, or what is missing" in said
    assert "Fewer than expected: spoon excavator (0 of 1), cotton roll (5 of " in " ".join(said.split())
    assert "1 noted as out: look in the mouth first." in said
    assert "Local rules and the person responsible decide." in said
    events = SessionLog(tmp_path / "sessions.db").events(1)[2:]
    assert {event.kind for event in events} == {EventKind.COUNTED}
    assert {event.source for event in events} == {Source.KEYBOARD}
    assert {event.about for event in events} == {None, "all here"}


@pytest.mark.slow
def test_a_session_with_sharps_uncounted_is_not_ended_by_a_word(tmp_path: Path) -> None:
    said = held(tmp_path, "end", "mirror please")
    flat = " ".join(said.stdout.split())
    assert "cannot be ended yet" in flat and "Not counted: " in flat
    assert "`traycall session count 1` counts" in flat and "SLOT 1" in flat
    assert kinds(tmp_path) == [EventKind.OPENED, EventKind.ASKED]
    plain = run(tmp_path, "end", "1")
    assert plain.exit_code == 2 and "--by NAME" in plain.stderr
    for half in (("--by", "Dr Green"), ("--reason", "in a hurry"), ("--by", " ", "--reason", "in a hurry")):
        wrong = run(tmp_path, "end", "1", *half)
        assert wrong.exit_code == 2 and "nothing about a patient" in wrong.stderr
    assert EventKind.CLOSED not in kinds(tmp_path)


@pytest.mark.slow
def test_who_ended_it_all_the_same_and_why_stands_in_list_and_report(tmp_path: Path) -> None:
    held(tmp_path, "mirror please")
    assert ended(tmp_path, reason="Band is in the sharps container.").exit_code == 0
    closed = SessionLog(tmp_path / "sessions.db").events(1)[-1]
    assert (closed.by, closed.reason) == ("Dr Green", "Band is in the sharps container.")
    report = " ".join(run(tmp_path, "report", "1").stdout.split())
    assert "Ended with an incomplete count by Dr Green: Band is in the sharps container." in report
    listed = run(tmp_path, "list").stdout
    assert "Dr Green" in listed and "counted" in listed
    assert ended(tmp_path).exit_code == 2  # it is closed


@pytest.mark.slow
def test_once_everything_is_counted_end_ends_it(tmp_path: Path) -> None:
    held(tmp_path)
    counted = run(tmp_path, "count", "1", typed="y\n" * 30).stdout
    assert "not opened? [y/n" in counted and "Fewer than expected" not in counted
    assert run(tmp_path, "end", "1").exit_code == 0


@pytest.mark.slow
def test_undo_is_one_command_and_leaves_a_trace(tmp_path: Path) -> None:
    held(tmp_path, "mirror please", "mirror back")
    assert "Taken back: mouth mirror, returned." in run(tmp_path, "undo", "1").stdout
    assert kinds(tmp_path)[-2:] == [EventKind.RETURNED, EventKind.CORRECTED]
    run(tmp_path, "undo", "1")
    assert "nothing to undo" in run(tmp_path, "undo", "1").stdout


@pytest.mark.slow
def test_the_report_is_a_table_or_a_page(tmp_path: Path) -> None:
    held(tmp_path, "mirror please", "mirror back")
    said = run(tmp_path, "report", "1").stdout
    assert EVERY_EVENT in said and "mouth mirror" in said and "returned" in said
    page = tmp_path / "report.html"
    run(tmp_path, "report", "1", "--html", str(page))
    assert f"<summary>{EVERY_EVENT}</summary>" in page.read_text(encoding="utf-8")


@pytest.mark.slow
def test_sessions_are_listed_and_an_unknown_one_is_told(tmp_path: Path) -> None:
    assert "No sessions yet" in run(tmp_path, "list").stdout
    held(tmp_path)
    ended(tmp_path)
    held(tmp_path)
    said = " ".join(run(tmp_path, "list").stdout.split())
    assert "composite" in said and "running" in said and "0 min" in said
    for command in ("report", "setup", "count", "undo", "end"):
        wrong = run(tmp_path, command, "9")
        assert wrong.exit_code == 2 and "no session 9" in wrong.stderr


@pytest.mark.slow
def test_learning_is_off_until_switched_on_and_a_session_can_be_forgotten(tmp_path: Path) -> None:
    assert "Learning is off." in run(tmp_path, "learn", "list").stdout
    held(tmp_path, "mirror please")
    ended(tmp_path, 1)
    assert "consent" in run(tmp_path, "learn", "on").stdout
    held(tmp_path, "mirror please")
    ended(tmp_path, 2)
    said = run(tmp_path, "learn", "list").stdout
    assert "\n2  " in said and "\n1  " not in said
    run(tmp_path, "learn", "forget", "2")
    assert "No finished session has taught anything yet" in run(tmp_path, "learn", "list").stdout
    assert run(tmp_path, "learn", "forget", "9").exit_code == 2
    run(tmp_path, "learn", "off")
    assert read_learning(tmp_path).on_for == ()


def list_dentists(layers: Path, **names: str) -> None:
    """The clinic lists its dentists."""
    dentists = tuple(Dentist(id=one, name=name) for one, name in names.items())
    day = datetime(2026, 1, 5, tzinfo=UTC)
    open_vocabulary("operative", layers).record("clinic", [SetDentists(dentists=dentists)], "Kim", day)


@pytest.mark.slow
def test_consent_is_given_for_one_dentist_by_written_name_or_id(tmp_path: Path) -> None:
    list_dentists(tmp_path / "layers", green="Dr Green", blue="Dr Blue")
    assert "on for Dr Green." in run(tmp_path, "learn", "on", "--dentist", "dr green").stdout
    held(tmp_path, "mirror please")
    ended(tmp_path)
    assert "No finished session has taught anything yet" in run(tmp_path, "learn", "list").stdout
    for who in ("Dr Grey", "Greene", "d_7"):
        refused = run(tmp_path, "learn", "off", "--dentist", who)
        assert refused.exit_code == 2 and "listed: Dr Green, Dr Blue" in " ".join(refused.stderr.split())
    assert read_learning(tmp_path).on_for == ("green",)
    assert "Learning is off." in run(tmp_path, "learn", "off", "--dentist", "Dr Green").stdout
    assert read_learning(tmp_path).on_for == ()
