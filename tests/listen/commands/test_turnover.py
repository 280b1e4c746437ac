"""`traycall pick`, `turn-over`, `restock` and `edit keep`. What they print is our own, no outside source."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from listen.commands.main import app


class Run:
    """Commands on one data folder and one folder of changes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __call__(self, *words: str, code: int = 0, typed: str = "") -> str:
        layers = ["--changes", str(self.folder / "layers")]
        data = ["--data", str(self.folder)] if words[0] in ("restock", "session") else []
        first = ["edit", *layers, *words[1:]] if words[0] == "edit" else [*words, *data, *layers]
        result: Result = CliRunner().invoke(app, first, input=typed)
        assert result.exit_code == code, (result.output, result.exception)
        return result.output


@pytest.fixture
def run(tmp_path: Path) -> Run:
    return Run(tmp_path)


def test_a_pick_list_is_grouped_by_what_things_are_and_then_by_where_they_are_kept(run: Run) -> None:
    told = run("pick", "composite_class_two")
    assert told.startswith("Pick list: Composite, class II") and "\nKits\n" in told
    assert "[ ] Dam kit" in told and "dam clamp ×5 (W8A, 14, 2A, 9, 212)" in told and "▲ sharp" in told
    said = run("edit", "keep", "dam kit", "cupboard 2, top drawer")
    assert said == 'saved c1: keeps the dam kit in "cupboard 2, top drawer"\n'
    assert run("edit", "keep", "Dam kit", "cupboard 2, top drawer") == "nothing to change\n"
    told = run("pick", "composite_class_two")
    assert told.index("cupboard 2, top drawer") < told.index("[ ] Dam kit") < told.index("Instrument pack")
    run("edit", "undo", "c1")
    assert "cupboard" not in run("pick", "composite_class_two")


def test_a_trays_pack_and_an_item_have_places_and_lose_them(run: Run) -> None:
    assert "the pack of the tray examination" in run("edit", "keep", "Examination", "shelf 1")
    assert 'keeps etchant in "fridge"' in run("edit", "keep", "etch", "fridge")
    assert "no longer says where etchant is kept" in run("edit", "keep", "etchant", "--forget")
    assert "either the PLACE" in run("edit", "keep", "etchant", code=2)
    assert "no item" in run("edit", "keep", "flux capacitor", "shelf", code=2)
    assert "did you mean composite_class_two" in run("pick", "composite_class_tow", code=2)


def test_a_turn_over_is_told_in_order(run: Run) -> None:
    told = run("turn-over", "composite_class_two")
    assert told.index("sharps container") < told.index("Flush the lines") < told.index("heat-sterilise")
    assert "CDC (2003)" in told


def test_a_session_and_a_day_are_restocked(run: Run) -> None:
    assert "Nothing was noted" in run("restock")
    typed = "two cotton rolls\nmirror please\n"
    run("session", "chair", "--procedure", "composite_class_two", typed=typed)
    told = run("restock", "1")
    assert told.startswith("Restocking: Session 1") and "cotton roll" in told and "opened, single use" in told
    assert "1 session" in run("restock") and "0 sessions" in run("restock", "--day", "2001-01-01")
    file = run.folder / "restock.csv"
    assert run("restock", "1", "--csv", str(file)) == f"Written: {file}\n"
    rows = list(csv.DictReader(file.read_text(encoding="utf-8").splitlines()))
    assert [row["pieces"] for row in rows if row["item"] == "cotton roll"] == ["6"]
    assert "not a day" in run("restock", "--day", "soon", code=2)
    assert "not both" in run("restock", "1", "--day", "2026-05-31", code=2)
    assert "no session 9" in run("restock", "9", code=2)
