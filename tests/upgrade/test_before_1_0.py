"""A data folder that was written before 1.0 is all there for the traycall of today.

`before_1_0` is the data folder of a made-up teaching clinic as version 0.1 left it on 2026-11-29: changes of
the clinic and of one dentist, sessions, consents, practice, and how chairs were set up. Its databases stand
there as SQL and are never made again: what is tested is that today's code reads what that code wrote.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from typer.testing import CliRunner

from listen.chairside.consents import Consents
from listen.chairside.log import SessionLog
from listen.commands.machine import KEPT
from listen.commands.main import app
from listen.commands.session import running
from listen.practice.codes import is_code
from listen.practice.store import PracticeStore, sqlite_url
from vocab.files import data_folder
from vocab.layers import Vocabulary, open_vocabulary
from vocab.layers.changes import in_effect
from vocab.layers.photographs import Photographs

OLD = Path(__file__).parent / "before_1_0"
GREEN = "d_0fe86c74a3"
"""Under which Dr. Green's own changes and consent are kept."""


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the old folder, where traycall looks for its data."""
    folder = Path(shutil.copytree(OLD, tmp_path / "data" / "traycall"))
    for dump in folder.glob("*.sql"):
        with closing(sqlite3.connect(dump.with_suffix(""))) as database:
            database.executescript(dump.read_text(encoding="utf-8"))
        dump.unlink()
    monkeypatch.setattr("vocab.files.user_data_path", lambda *_, **__: folder)
    assert data_folder() == folder
    return folder


@pytest.fixture
def vocabulary(data: Path) -> Vocabulary:
    return open_vocabulary(dentist="Dr. Green")


def printed(*words: str) -> str:
    done = CliRunner().invoke(app, list(words))
    assert done.exit_code == 0, done.output
    return " ".join(done.stdout.split())


def test_every_change_of_clinic_and_dentist_is_in_force(data: Path, vocabulary: Vocabulary) -> None:
    clinic, own = vocabulary.layers()
    assert [change.id for change in clinic.changes] == [f"c{number}" for number in range(1, 10)]
    assert {change.id for change in clinic.changes} - {change.id for change in in_effect(clinic)} == {
        "c6",
        "c7",
    }
    made = vocabulary.composed()
    assert set(map(frozenset, made.pack.wide_margin)) >= {frozenset({"explorer_shepherd", "perio_probe"})}
    assert made.conflicts == ()
    names = {name.text for name in made.pack.item("mouth_mirror").names}
    assert {"looking glass", "my mirror"} <= names and len(own.changes) == 1
    assert made.settings.place_of("item", "mouth_mirror") == "cupboard 2, top drawer"
    assert made.settings.injury_card == ("Stop. Make safe.", "Tell the instructor.")
    assert [dentist.name for dentist in made.settings.dentists] == ["Dr. Green"]
    picture = made.settings.photograph_of("perio_probe")
    assert picture and (Photographs(vocabulary.folder).read(picture) or b"").startswith(b"\xff\xd8")


def test_who_changed_what_and_why_can_be_read_and_undone(data: Path) -> None:
    history = printed("edit", "history")
    assert "Ann" in history and "Kim" in history and "retires shade guide" in history
    (moved,) = [change for change in open_vocabulary().layers()[0].changes if change.id == "c6"]
    assert moved.why == "moved by the window"
    printed("edit", "undo", "c5")
    assert "shade guide" in printed("item", "shade guide").lower()


def test_names_to_be_decided_are_still_listed(data: Path) -> None:
    assert "wibbler" in printed("edit", "unknown", "list")


def test_sessions_have_their_events_and_their_end(data: Path) -> None:
    log = SessionLog(data / "sessions.db")
    first, second, third = log.sessions()
    assert (first.procedure, first.ended_by, first.reason) == (
        "composite_class_two",
        "Dr Green",
        "the fire alarm",
    )
    assert (first.short, first.uncounted, second.closed_s, third.dentist) == (0, 54, None, "green")
    assert [event.item for event in log.events(1) if event.item] == [
        "mouth_mirror", "explorer_shepherd", "cotton_roll", "mouth_mirror",
    ]  # fmt: skip
    log.close()
    assert "the fire alarm" in printed("session", "report", "1")


def test_a_session_that_ran_goes_on_as_it_was_set_up(data: Path) -> None:
    sessions = running(None, "operative", None)
    chair = sessions.chair_session(2)
    assert not chair.closed
    assert (chair.settings.operator_handed, chair.settings.maker_times) == ("left", {"etch": 20.0})
    chair.ask("looking glass")
    assert [answer.item for answer in chair.stage.answers] == ["mouth_mirror"]


def test_consents_are_as_they_were_given_and_withdrawn(data: Path) -> None:
    learning = Consents(data).learning()
    assert learning.of(GREEN).is_on and not learning.of(None).is_on
    assert len(learning.of(None).off_s) == 1
    assert "Learning is on for Dr. Green" in printed("session", "learn", "list")


def test_practice_has_its_answers_decks_codes_objections_and_what_was_watched(data: Path) -> None:
    store = PracticeStore(sqlite_url(data / "practice.sqlite"))
    assert store.trainees() == ("Ann", "Bob")
    assert {review.answer.topic for review in store.reviews("Ann")} == set(store.deck("Ann"))
    assert len(store.reviews()) == 5
    (objection,) = store.objections()
    assert (objection.trainee, objection.answer.said, objection.decided) == ("Bob", "mouth mirror", None)
    (seen,) = store.observations("Ann")
    assert (seen.point, seen.observer) == ("pass_zone", "Prof. Brown")
    bob, ann = store.known("Bob"), store.known("Ann")
    assert bob and bob.code and is_code("4711-bob", bob.code) and not is_code("4711-ann", bob.code)
    assert ann and ann.code is None
    store.close()
    assert "will be remembered" in printed("practise", "progress", "--trainee", "Ann")


def test_the_old_folder_is_whole() -> None:
    """None of its files was left out when it was kept here."""
    kept = {path.relative_to(OLD).as_posix() for path in OLD.rglob("*") if path.is_file()}
    assert {"chairs.json", "consents.db.sql", "practice.sqlite.sql", "sessions.db.sql"} <= kept
    assert {path.name.removesuffix(".sql") for path in OLD.iterdir()} <= set(KEPT)
    assert {f"layers/operative/{GREEN}.yaml", "layers/operative/clinic.yaml"} <= kept
    assert json.loads((OLD / "layers/operative/unknown_words.json").read_text())[0]["text"] == "wibbler"
