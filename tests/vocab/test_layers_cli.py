"""`traycall edit`. What it prints is our own, no outside source."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
import yaml
from typer.testing import CliRunner, Result

from vocab.edit_cli import app
from vocab.errors import TraycallError
from vocab.layers.bulk import names_csv
from vocab.layers.foresee import foretold
from vocab.layers.store import Store
from vocab.load import shipped_pack

PACK = shipped_pack()
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    def call(*arguments: str, code: int = 0) -> Result:
        result = CliRunner().invoke(app, ["--layers", str(tmp_path / "layers"), "--who", "Ada", *arguments])
        assert result.exit_code == code, (result.output, result.exception)
        return result

    return call


def refused(run: Run, *arguments: str) -> str:
    """What a command that cannot be carried out says."""
    result = run(*arguments, code=1)
    assert isinstance(result.exception, TraycallError), result.exception
    return str(result.exception)


def test_a_name_is_added_listed_and_taken_back(run: Run) -> None:
    assert run("--why", "we say so", "add-name", "mirror", "looking glass").output == (
        'clinic c1 adds the name "looking glass" to mouth mirror\n'
    )
    assert "Ada adds the name" in run("history").output and "(we say so)" in run("history").output
    entry = json.loads(run("history", "--json").output)
    assert (entry["layer"], entry["counts"], entry["do"]["op"]) == ("clinic", True, "add_name")
    assert "c1 counts no more" in run("undo", "c1").output
    assert "[undone]" in run("history").output
    assert "undone already" in refused(run, "undo", "c1")


def test_every_change_has_a_command(run: Run) -> None:
    run("add-item", "our_scaler", "our scaler", *details("finishing"))
    run("set-field", "our scaler", "sharp", "true")
    run("set-field", "our scaler", "look", "A hook: sharp.")
    run("rename", "our scaler", "hook scaler", "--drop-old")
    run("add-name", "hook scaler", "GXS", "--say", "g x s")
    run("move-name", "GXS", "hook scaler", "etchant")
    run("remove-name", "etchant", "GXS")
    run("set-slot", "examination", "19", "hook scaler", "--row", "near row", "--count", "2")
    run("move-slot", "examination", "19", "1")
    run("clear-slot", "examination", "19")
    run("retire", "hook scaler")
    run("mean", "mirror", "hand mirror")
    assert len(run("history").output.splitlines()) == 13
    assert run("conflicts", code=1).output.count("has no slot") == 0


def test_a_dentist_has_a_layer(run: Run) -> None:
    run("--dentist", "grey", "mean", "mirror", "hand_mirror")
    assert run("--dentist", "grey", "history").output.startswith("grey c1")
    assert run("history").output == ""
    assert run("conflicts").output == "no conflicts\n"


def details(item_class: str) -> tuple[str, ...]:
    return ("--class", item_class, "--purpose", "P.", "--look", "L.", "--reprocessing", "single use")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("add-name", "mirorr", "x"), "no item has the id or the name 'mirorr'; did you mean mouth_mirror"),
        (("add-name", "explorer trimmer", "x"), "no item has the id"),
        (("add-name", "etchant", "bond"), "let it mean one of them, or choose another name"),
        (("set-field", "etchant", "lok", "x"), "there is no such field to set; fields: class, purpose"),
        (("set-field", "etchant", "sharp", "[maybe"), "while parsing"),
        (("set-field", "etchant", "ends", "7"), "less than or equal to 2"),
        (("export", "everything"), "choose names, trays or yaml"),
        (("lint", "--fail-on", "always"), "choose high, medium, low, never"),
        (("steps", "examinatio"), "did you mean examination"),
        (("add-item", "etchant", "x", *details("bur")), "there is an item 'etchant' already"),
        (("add-item", "ours", "x", *details("burr")), "class: 'burr' is not known here; did you mean bur"),
        (("move-slot", "examination", "99", "1"), "there is no slot 99"),
        (("--pack", "operativ", "history"), "there is no pack folder 'operativ'"),
    ],
)
def test_what_cannot_be_done_is_told(run: Run, arguments: tuple[str, ...], message: str) -> None:
    assert message in refused(run, *arguments)


def test_an_import_is_shown_first_and_saved_when_told_to(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "names.csv"
    assert run("export", "names", str(file)).output == ""
    assert file.read_text(encoding="utf-8") == names_csv(PACK)
    assert run("import", str(file)).output == "nothing to change\n"
    file.write_text("item,name\netchant,our acid\n", encoding="utf-8")
    assert "not saved yet" in run("import", str(file)).output
    assert run("history").output == ""
    assert "1 change saved" in run("import", str(file), "--yes").output
    file.write_text("item,name\netchant,bond\netchent,gel\n", encoding="utf-8")
    output = run("import", str(file), "--yes", code=1).output
    assert "row 2: it adds the name" in output and "row 3: class: etchent is new" in output
    assert "2 problems; nothing was saved" in output
    trays = tmp_path / "trays.csv"
    trays.write_text("tray,slot,item\nexamination,1,explorer_shepherd\n", encoding="utf-8")
    assert "row 2: puts shepherd's hook explorer in slot 1" in run("import", str(trays)).output
    everything = tmp_path / "all.yaml"
    run("export", "yaml", str(everything))
    assert run("import", str(everything)).output == "nothing to change\n"


def test_steps_are_shown_foretold_and_set(run: Run, tmp_path: Path) -> None:
    steps = yaml.safe_load(run("steps", "sealant").output)
    file = tmp_path / "steps.yaml"
    file.write_text(yaml.safe_dump(list(reversed(steps))), encoding="utf-8")
    output = run("steps", "sealant", str(file)).output
    before, after, _ = output.splitlines()
    assert before == "foretold before: " + ", ".join(foretold(PACK, "sealant"))
    assert before.removeprefix("foretold before: ") != after.removeprefix("foretold after:  ")
    run("steps", "sealant", str(file), "--yes")
    assert yaml.safe_load(run("steps", "sealant").output) == list(reversed(steps))
    file.write_text("- {id: a}", encoding="utf-8")
    assert "0.name: Field required" in refused(run, "steps", "sealant", str(file))


def test_lint_tells_and_fails_from_a_severity_on(run: Run) -> None:
    assert "would be taken for" in run("lint").output
    run("lint", "--fail-on", "medium", code=1)
    run("lint", "--fail-on", "never")
    assert json.loads(run("lint", "--json").output.splitlines()[0])["kind"]
    run("add-name", "etchant", "rinse")
    assert '"rinse" is also an order' in run("lint", code=1).output


def test_a_pack_is_begun(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "endo"
    assert "Read the guide" in run("new-pack", str(folder), "Endodontics").output
    assert run("--pack", str(folder), "lint", "--all").output.endswith("0 findings\n")


def test_the_first_hour_is_a_file_to_fill_in(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "answers.yaml"
    text = run("first-hour").output
    assert set(map(tuple, yaml.safe_load(text).values())) == {()}
    text = text.replace('"handedness": []', '"handedness": [left]')
    file.write_text(
        text.replace('"makers_names:etchant": []', '"makers_names:etchant": [Blue Stuff]'), "utf-8"
    )
    assert 'adds the name "Blue Stuff" to etchant' in run("first-hour", str(file)).output
    file.write_text("[", encoding="utf-8")
    assert "is no YAML file" in refused(run, "first-hour", str(file))
    file.write_text("- a", encoding="utf-8")
    assert "one line for each question" in refused(run, "first-hour", str(file))


def test_unknown_words_are_kept_listed_and_adopted(run: Run, tmp_path: Path) -> None:
    assert run("unknown", "list").output == ""
    run("unknown", "on")
    entry = {"text": "mirorr", "times": 3, "first": "2026-01-02", "last": "2026-01-02"}
    kept = tmp_path / "layers" / "unknown_words.json"
    kept.write_text(json.dumps([entry, {**entry, "text": "flurb"}]), encoding="utf-8")
    assert "   3  mirorr  (perhaps mouth_mirror" in run("unknown", "list").output
    run("unknown", "adopt", "mirorr", "mouth mirror")
    run("unknown", "drop", "flurb")
    assert run("unknown", "list").output == ""
    run("unknown", "off")
    assert not kept.exists()


def test_a_second_editor_and_a_broken_file_are_told(run: Run, tmp_path: Path) -> None:
    run("add-name", "etchant", "our acid")
    store = Store(tmp_path / "layers", "clinic", PACK)
    with store.editing("Ben", datetime(2026, 1, 2, tzinfo=UTC)):
        assert "Ben has been editing the layer clinic" in refused(run, "add-name", "etchant", "other")
    store.file.write_text("oops", encoding="utf-8")
    assert "clinic.yaml:1" in run("history").output
    run("add-name", "etchant", "other")
    assert "clinic.yaml:1" not in run("history").output
