"""Practice at the command line: drills by text and by voice, and what faculty print."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import typer
from typer.testing import CliRunner, Result

from listen.commands import practise
from listen.commands.main import _Commands
from listen.practice.store import PracticeStore, sqlite_url
from listen.practice.voice import SpokenAnswer
from listen.speech import voices
from tests.listen.practice.classroom import NOON, pack

Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Runs a command as `traycall practise` does, on a store of its own."""
    app = typer.Typer(cls=_Commands, pretty_exceptions_enable=False)
    app.add_typer(practise.app, name="practise")

    def invoke(*words: str, typed: str = "", store: bool = True) -> Result:
        place = ["--store", sqlite_url(tmp_path / "practice.sqlite")] if store else []
        return CliRunner().invoke(app, ["practise", *words, *place], input=typed)

    return invoke


@pytest.fixture
def answered(run: Run) -> Run:
    """Two trainees who have each given some answers."""
    for name in ("Ann", "Ben"):
        run(
            "drill",
            "--trainee",
            name,
            "--drill",
            "name",
            "--seed",
            "3",
            typed="mirror\nI don't know\ntwine\n" * 4,
        )
    return run


def test_a_drill_asks_judges_and_keeps(run: Run, tmp_path: Path) -> None:
    result = run("drill", "--trainee", "Ann", "--drill", "name", "--seed", "1", typed="I don't know\nasdf\n")
    assert result.exit_code == 0
    assert "What is it called?" in result.stdout
    assert "No. " in result.stdout and "Say it again, please." in result.stdout
    assert "0 of 1 right" in result.stdout
    assert len(PracticeStore(sqlite_url(tmp_path / "practice.sqlite")).reviews("Ann")) == 1


def test_a_drill_is_answered_by_voice(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    voice = voices.voice("flite-rms")
    if voice not in voices.available():
        pytest.skip("flite, whose voice answers here, is not installed: apt install flite")
    said = voices.synthesize(voice, "I don't know.")

    class Listener:
        left = 2

        def answer(self, wait_s: float) -> SpokenAnswer | None:
            if not self.left:
                raise KeyboardInterrupt
            self.left -= 1
            return SpokenAnswer(np.asarray(said), 0.0) if self.left else None

    monkeypatch.setattr(practise, "make_listener", Listener)
    result = run("drill", "--trainee", "Ann", "--drill", "fact", "--voice", "--seed", "1")
    assert "No. " in result.stdout
    assert "Say it again, please." in result.stdout


@pytest.mark.parametrize("drill", ["slot", "next", "lay", "fault", "fact"])
def test_every_drill_can_be_asked_for(run: Run, drill: str) -> None:
    result = run(
        "drill", "--trainee", "A", "--procedure", "composite_class_two", "--drill", drill, typed="no idea\n"
    )
    assert result.exit_code == 0 and "No. " in result.stdout


@pytest.mark.slow
def test_progress_shows_drills_and_forecast(answered: Run) -> None:
    out = answered("progress", "--trainee", "Ann").stdout
    assert "say the name" in out and f"of {len(pack().items)}" in out and "remembered without practice" in out


@pytest.mark.slow
def test_faculty_see_class_and_hardest_items_also_as_csv(answered: Run) -> None:
    assert "Ann" in answered("class").stdout
    header, *rows = answered("class", "--csv").stdout.splitlines()
    assert header.startswith("trainee,answers") and len(rows) == 2
    assert answered("hardest", "--csv").stdout.startswith("item,name,firsts,wrong,low,high")
    assert answered("unknown").stdout.strip() == "Nothing yet."
    told = answered("ability").stdout
    assert "knows, of 10 topics" in told and "(say the name)" in told
    assert "logits" not in told and "::" not in told and "_" not in told
    assert answered("ability", "--csv").stdout.startswith("who,logits,error,answers")


@pytest.mark.slow
def test_confusions_are_written_as_a_page(answered: Run, tmp_path: Path) -> None:
    path = tmp_path / "confusions.html"
    assert answered("confusions", str(path)).exit_code == 0
    assert "<td" in path.read_text()


@pytest.mark.slow
def test_a_sheet_is_written_with_the_thresholds_given(answered: Run, tmp_path: Path) -> None:
    path = tmp_path / "sheet.pdf"
    result = answered(
        "signoff",
        "--trainee",
        "Ann",
        "--procedure",
        "examination",
        "--known",
        "0.5",
        "--date",
        "2024-03-05",
        str(path),
    )
    assert "NOT all requirements are met" in result.stdout and path.read_bytes().startswith(b"%PDF")


@pytest.mark.slow
def test_points_are_listed_and_ticked(answered: Run) -> None:
    listed = answered("observe", "--trainee", "Ann", "--by", "Dr. K").stdout
    assert "sharps_recap" in listed
    assert answered("observe", "--trainee", "Ann", "--by", "Dr. K", "pass_zone").exit_code == 0
    wrong = answered("observe", "--trainee", "Ann", "--by", "Dr. K", "pass_zon")
    assert wrong.exit_code == 2 and "did you mean pass_zone?" in wrong.stderr


@pytest.mark.slow
def test_one_trainee_is_written_out_and_deleted(answered: Run, tmp_path: Path) -> None:
    path = tmp_path / "ann.json"
    result = answered("export", "--trainee", "Ann", "--delete", str(path))
    assert result.exit_code == 0 and "is deleted" in result.stderr
    assert json.loads(path.read_text())["trainee"] == "Ann"
    assert "Ann" not in answered("class").stdout


@pytest.mark.slow
def test_what_was_written_out_is_taken_in_again_and_never_over_anybody(answered: Run, tmp_path: Path) -> None:
    path, before = tmp_path / "ann.json", answered("class").stdout
    answered("export", "--trainee", "Ann", str(path))
    refused = answered("import", str(path))
    assert refused.exit_code == 2 and "Ann is here already" in " ".join(refused.stderr.split())
    answered("export", "--trainee", "Ann", "--delete", str(path))
    assert answered("import", str(path)).stdout == "taken in: Ann\n"
    assert answered("class").stdout == before
    missing = answered("import", str(tmp_path / "nowhere.json"))
    assert missing.exit_code == 2 and "Nothing was taken in" in " ".join(missing.stderr.split())


@pytest.mark.slow
def test_what_cannot_be_written_out_is_not_deleted(answered: Run, tmp_path: Path) -> None:
    result = answered("export", "--trainee", "Ann", "--delete", str(tmp_path / "nowhere" / "ann.json"))
    assert result.exit_code == 2 and "Nothing was deleted" in " ".join(result.stderr.split())
    assert "Ann" in answered("class").stdout


@pytest.mark.slow
def test_a_forgotten_code_is_reset(answered: Run, tmp_path: Path) -> None:
    store = PracticeStore(sqlite_url(tmp_path / "practice.sqlite"))
    store.choose_code("Ann", "ivory-42", NOON)
    assert "chosen" in answered("class", "--csv").stdout
    assert "chooses one at the next practice" in answered("reset-code", "--trainee", "ANN").stdout
    assert "chosen" not in answered("class", "--csv").stdout


@pytest.mark.parametrize("kind", ["foreign", "damaged", "newer", "locked", "folder"])
def test_a_store_that_cannot_be_used_is_told_in_plain_words(run: Run, tmp_path: Path, kind: str) -> None:
    path = tmp_path / "practice.sqlite"
    if kind == "folder":
        path.mkdir()
    elif kind == "damaged":
        path.write_text("no database " * 500)
    else:
        PracticeStore(sqlite_url(path)).close()
    holder = sqlite3.connect(path, isolation_level=None) if kind not in ("folder", "damaged") else None
    if holder is not None:
        holder.execute(
            {
                "foreign": "ALTER TABLE practice_store_version RENAME TO letter",
                "newer": "UPDATE practice_store_version SET version = 99",
                "locked": "BEGIN EXCLUSIVE",
            }[kind]
        )
    if kind == "foreign" and holder is not None:
        holder.execute("ALTER TABLE trainee DROP COLUMN since")
    said = {
        "foreign": "is not a traycall practice store",
        "damaged": "this is not a database",
        "newer": "update traycall",
        "locked": "another program holds it",
        "folder": "is a folder",
    }[kind]
    for words in (("drill", "--trainee", "Ann"), ("class",), ("export", "--trainee", "Ann", "--delete")):
        result = run(*words)
        assert result.exit_code == 2 and said in " ".join(result.stderr.split())
        assert "Traceback" not in result.output
        if kind == "locked":
            break
    if holder is not None:
        holder.close()


def test_a_number_that_makes_no_sense_is_told_with_what_would(run: Run) -> None:
    result = run("drill", "--trainee", "Ann", "--seed", "-1")
    assert result.exit_code == 2 and "--seed" in result.stderr and "Traceback" not in result.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("progress", "--trainee", "Nobody"), "no trainee is called 'Nobody'"),
        (("drill", "--trainee", "A", "--drill", "nam"), "no drill is called 'nam'"),
        (("drill", "--trainee", "A", "--drill", "slot"), "add --procedure"),
        (("drill", "--trainee", "A", "--procedure", "composite"), "no procedure is called 'composite'"),
        (("drill", "--trainee", " "), "1 to 40 plain characters"),
        (("hardest", "--since", "yesterday"), "write it like 2025-03-31"),
        (("confusions", "x.html"), "nothing was answered yet"),
        (("confusions", "x.png"), "must end in .html"),
        (("ability",), "at least two trainees"),
        (("signoff", "--trainee", "A", "--procedure", "x", "x.pdf"), "no procedure is called 'x'"),
    ],
)
def test_what_is_wrong_is_said_without_a_traceback(run: Run, words: tuple[str, ...], said: str) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert said in " ".join(result.stderr.split())
    assert "Traceback" not in result.output
