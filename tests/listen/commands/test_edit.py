"""`traycall edit`. What it prints is our own, no outside source."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from typer.testing import CliRunner, Result

from listen.commands.edit import app
from tests.vocab.layers.test_changes import PACK as SMALL
from vocab.errors import TraycallError
from vocab.layers.bulk import names_csv
from vocab.layers.changes import FIELDS
from vocab.layers.store import LayerStore
from vocab.layers.vocabulary import Vocabulary
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Handing, Item
from vocab.procedure.order import predicted_order

PACK = shipped_pack()
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    def call(*arguments: str, code: int = 0) -> Result:
        result = CliRunner().invoke(app, ["--changes", str(tmp_path / "layers"), "--who", "Ada", *arguments])
        assert result.exit_code == code, (result.output, result.exception)
        return result

    return call


@pytest.fixture
def quick(tmp_path: Path, run: Run) -> Run:
    """The same on a small pack."""
    plain = SMALL.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    (tmp_path / "pack.yaml").write_text(yaml.safe_dump(plain), encoding="utf-8")
    return partial(run, "--vocabulary", str(tmp_path))


def refused(run: Run, *arguments: str) -> str:
    """What a command that cannot be carried out says."""
    result = run(*arguments, code=1)
    assert isinstance(result.exception, TraycallError), result.exception
    return str(result.exception)


def test_a_name_is_added_listed_and_taken_back(run: Run) -> None:
    assert run("--why", "we say so", "add-name", "mirror", "looking glass").output == (
        'saved c1: adds the name "looking glass" to mouth mirror\n'
    )
    assert {"Ada", "mouth", "(undone)", "we"} - set(run("history").output.split()) == {"(undone)"}
    entry = json.loads(run("history", "--json").output)
    assert (entry["layer"], entry["counts"], entry["do"]["op"]) == ("clinic", True, "add_name")
    assert "c1 no longer applies" in run("undo", "c1").output
    assert "(undone)" in run("history").output
    assert "already undone" in refused(run, "undo", "c1")


@pytest.mark.slow
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
    run("ask-back", "etchant", "gauze")
    assert len(run("history", "--json").output.splitlines()) == 14
    assert run("conflicts", code=1).output.count("has no slot") == 0


def test_a_photograph_is_added_removed_and_brought_back(quick: Run, tmp_path: Path) -> None:
    file, none = tmp_path / "mirror.png", tmp_path / "none.png"
    Image.new("RGB", (30, 20)).save(file)
    (tmp_path / "letter.png").write_text("Dear all")
    told = quick("photograph", "mouth mirror", str(file)).output
    assert told == "saved c1: adds a photograph of mouth mirror\n"
    assert len(list((tmp_path / "layers/photographs").iterdir())) == 1
    assert "removes the photograph" in quick("photograph", "mouth mirror", "--remove").output
    assert "has no photograph" in refused(quick, "photograph", "mouth mirror", "--remove")
    quick("undo", "c2")
    quick("photograph", "mouth mirror", "--remove")
    for file_, why in ((tmp_path / "letter.png", "not a picture"), (none, "cannot be read")):
        assert why in refused(quick, "photograph", "mouth mirror", str(file_))
    assert "give either" in refused(quick, "photograph", "mouth mirror")


@pytest.mark.slow
def test_a_dentist_has_a_layer(run: Run) -> None:
    run("--dentist", "grey", "mean", "mirror", "hand_mirror")
    assert run("--dentist", "grey", "history").output.splitlines()[2].startswith("c1 ")
    assert "Nothing has been changed yet" in run("history").output
    assert run("conflicts").output == "No conflicts.\n"


@pytest.mark.slow
def test_a_dentist_may_be_given_by_name(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "answers.yaml"
    file.write_text('"dentists": [Dr. Grey, 王医生]', "utf-8")
    run("clinic", str(file))
    assert run("clinic", str(file)).output == "nothing to change\n"
    dentists = Vocabulary(PACK, tmp_path / "layers").composed().settings.dentists
    run("--dentist", "DR. GREY", "mean", "mirror", "hand_mirror")
    run("--dentist", "王医生", "mean", "mirror", "gauze_square")
    for dentist, item in zip(dentists, ("hand_mirror", "gauze_square"), strict=True):
        own = Vocabulary(PACK, tmp_path / "layers", dentist.id).composed().pack
        assert "mirror" in [name.text for name in own.item(item).names]


@pytest.mark.parametrize("dentist", ["../x", "Dr. Who", "", "x\x00y", "clinic"])
def test_a_dentist_who_is_not_there_is_told(quick: Run, dentist: str) -> None:
    assert "dentist" in refused(quick, "--dentist", dentist, "mean", "mirror", "hand_mirror")


@pytest.mark.slow
def test_handing_sizes_and_shared_names_are_set_like_any_field(run: Run, tmp_path: Path) -> None:
    def item(item_id: str) -> Item:
        return Vocabulary(PACK, tmp_path / "layers").composed().pack.item(item_id)

    run("set-field", "etchant", "handing", "Tip toward the tooth: slowly.")
    assert item("etchant").handing == Handing(note="Tip toward the tooth: slowly.")
    run("set-field", "etchant", "handing", "{hand: working, grasp: pen, out_of_sight: true}")
    assert item("etchant").handing == Handing.model_validate(
        {"hand": "working", "grasp": "pen", "out_of_sight": True}
    )
    run("set-field", "etchant", "latex", "true")
    run("set-field", "etchant", "variants", "[gel, {text: liquid, say: [runny], names: [etch water]}]")
    run("set-field", "etchant", "variant_names", "['{} etch']")
    assert item("etchant").latex
    assert [(n.text, v) for n, v in item("etchant").variant_name_pairs] == [
        ("gel etch", "gel"),
        ("liquid etch", "liquid"),
        ("etch water", "liquid"),
    ]
    tray, at = "composite_class_two", PACK.tray("composite_class_two").slot_of("etchant")
    assert at is not None
    run("set-slot", tray, at, "etchant", "--variants", "gel, liquid")
    slot = next(
        s for s in Vocabulary(PACK, tmp_path / "layers").composed().pack.tray(tray).slots if s.at == at
    )
    assert slot.variants == ("gel", "liquid")
    said = refused(run, "set-slot", tray, at, "etchant", "--variants", "powder")
    assert "etchant has no size or pattern 'powder'; there are: gel, liquid" in said
    assert "is on a tray" in refused(run, "set-field", "etchant", "variants", "[gel]")
    assert "make it mean one of them" in refused(run, "add-name", "etchant", "tweezers")
    run("add-name", "etchant", "tweezers", "--shared")
    pack = Vocabulary(PACK, tmp_path / "layers").composed().pack
    marks = [name.shared for item in pack.items for name in item.own_names if name.text == "tweezers"]
    assert len(marks) > 1 and all(marks)
    assert run("conflicts").output == "No conflicts.\n"


DEEP = "[" * 20_000


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("set-field", "etchant", "cautions", DEEP), "brackets nested too deeply"),
        (("set-field", "etchant", "cautions", "[" * 30 + "]" * 30), "brackets nested too deeply"),
        (("set-field", "etchant", "cautions", "[2020-01-01]"), "which means something else; put it in"),
        (("set-field", "etchant", "ends", "9" * 5000), "is not valid YAML"),
        (("set-field", "etchant", "handing", "{hold: tight}"), "extra inputs are not permitted"),
        (("set-field", "etchant", "look", "red\x1b[31m"), "contains an invisible character (U+001B)"),
        (("set-field", "etchant", "look", "x" * 5000), "has 5,000 characters, and at most 1,000"),
        (("set-field", "etchant", "variants", f"[{'x' * 81}]"), "has 81 characters"),
        (("add-name", "etchant", "x" * 5000), "has 5,000 characters, and at most 80 are allowed"),
        (("add-name", "etchant", "bond\u202e"), "contains an invisible character (U+202E)"),
        (("add-name", "etchant", "two\nlines"), "contains an invisible character (U+000A)"),
        (("add-name", "etchant", "byte\udcff"), "unable to parse raw data as a unicode string"),
        (("rename", "etchant", "x" * 81), "has 81 characters"),
        (("mean", "x" * 81, "etchant"), "has 81 characters"),
        (("set-slot", "look", "9" * 90, "etchant", "--row", "near row"), "has 90 characters"),
        (("add-name", "etchant", "  "), "text: string should have at least 1 character"),
        (("--why", "x" * 1001, "add-name", "etchant", "gel"), "has 1,001 characters"),
        (("--who", "x" * 81, "add-name", "etchant", "gel"), "has 81 characters"),
    ],
)
def test_what_would_hurt_later_is_refused_in_words(
    quick: Run, arguments: tuple[str, ...], message: str
) -> None:
    said = refused(quick, *arguments)
    assert message in said and len(said) < 1_500 and "\x1b" not in said and "\u202e" not in said
    assert "Nothing has been changed yet" in quick("history").output


@pytest.mark.slow
@pytest.mark.parametrize("command", ["steps", "clinic"])
def test_a_file_with_deep_brackets_is_told(quick: Run, tmp_path: Path, command: str) -> None:
    file = tmp_path / "answers.txt"
    file.write_text(DEEP, "utf-8")
    arguments = (command, "look", str(file)) if command == "steps" else (command, str(file))
    assert "too deep" in refused(quick, *arguments)


@pytest.mark.slow
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    field=st.sampled_from(FIELDS),
    value=st.one_of(st.text(st.characters(), max_size=60), st.text("[]{}:,'\"-&*!| \n0a", max_size=40)),
)
def test_any_value_is_taken_or_refused_in_words(tmp_path: Path, quick: Run, field: str, value: str) -> None:
    where = ["--vocabulary", str(tmp_path), "--changes", str(tmp_path / "layers"), "--who", "Ada"]
    result = CliRunner().invoke(app, [*where, "set-field", "--", "etchant", field, value])
    assert result.exception is None or isinstance(result.exception, TraycallError), result.exception
    assert quick("history").exit_code == 0


def details(item_class: str) -> tuple[str, ...]:
    return ("--class", item_class, "--purpose", "P.", "--look", "L.", "--reprocessing", "single use")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ("add-name", "mirorr", "x"),
            "no item, or more than one, is called 'mirorr'; did you mean mouth mirror",
        ),
        (("add-name", "explorer trimmer", "x"), "no item, or more than one, is called"),
        (("add-name", "etchant", "bond"), "make it mean one of them, or choose another name"),
        (
            ("set-field", "etchant", "lok", "x"),
            "there is no such field to set; did you mean look?; fields: class, purpose",
        ),
        (("set-field", "etchant", "sharp", "[maybe"), "while parsing"),
        (("set-field", "etchant", "ends", "7"), "less than or equal to 2"),
        (("export", "everything"), "choose names, trays or yaml"),
        (("look-over", "--fail-on", "always"), "choose high, medium, low, never"),
        (("steps", "examinatio"), "did you mean examination"),
        (("add-item", "etchant", "x", *details("bur")), "there is an item 'etchant' already"),
        (("add-item", "ours", "x", *details("burr")), "class: 'burr' is not valid here; did you mean bur"),
        (("move-slot", "examination", "99", "1"), "there is no slot 99"),
        (("--vocabulary", "operativ", "history"), "there is no folder 'operativ'"),
    ],
)
def test_what_cannot_be_done_is_told(run: Run, arguments: tuple[str, ...], message: str) -> None:
    assert message in refused(run, *arguments)


@pytest.mark.slow
def test_an_import_is_shown_first_and_saved_when_told_to(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "names.csv"
    assert run("export", "names", str(file)).output == ""
    assert file.read_text(encoding="utf-8") == names_csv(PACK)
    assert run("import", str(file)).output == "nothing to change\n"
    file.write_text("item,name\netchant,our acid\n", encoding="utf-8")
    assert "not saved yet" in run("import", str(file)).output
    assert "Nothing has been changed yet" in run("history").output
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


@pytest.mark.slow
def test_steps_are_shown_foretold_and_set(run: Run, tmp_path: Path) -> None:
    steps = yaml.safe_load(run("steps", "sealant").output)
    file = tmp_path / "steps.yaml"
    file.write_text(yaml.safe_dump(list(reversed(steps))), encoding="utf-8")
    output = run("steps", "sealant", str(file)).output
    before, after, _ = output.splitlines()
    usual = ", ".join(PACK.called[item] for item in predicted_order(PACK, "sealant"))
    assert before == f"usual order before: {usual}"
    assert before.removeprefix("usual order before: ") != after.removeprefix("usual order after:  ")
    run("steps", "sealant", str(file), "--yes")
    assert yaml.safe_load(run("steps", "sealant").output) == list(reversed(steps))
    file.write_text("- {id: a}", encoding="utf-8")
    assert "0.name: Field required" in refused(run, "steps", "sealant", str(file))


@pytest.mark.slow
def test_lint_tells_and_fails_from_a_severity_on(run: Run) -> None:
    assert "sounds almost like" in run("look-over").output
    run("look-over", "--fail-on", "medium", code=1)
    run("look-over", "--fail-on", "never")
    assert json.loads(run("look-over", "--json").output.splitlines()[0])["kind"]
    run("add-name", "etchant", "rinse")
    assert '"rinse" is also a command' in run("look-over", code=1).output


@pytest.mark.slow
def test_a_risk_is_done_with_by_the_command_that_lint_gives(run: Run) -> None:
    first = run("look-over").output
    line = next(line for line in first.splitlines() if "traycall edit ask-back" in line)
    command = shlex.split(line)[2:]
    assert "always asks which one is meant" in run(*command).output
    assert line not in run("look-over").output
    assert "are already always asked about" in refused(run, *command)
    assert "two different items" in refused(run, "ask-back", "etchant", "etchant")
    run("undo", "c1")
    assert run("look-over").output == first


def test_a_pack_is_begun(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "endo"
    assert "Read the guide" in run("new-vocabulary", str(folder), "Endodontics").output
    assert run("--vocabulary", str(folder), "look-over").output.endswith("0 things to look over.\n")


@pytest.mark.slow
def test_the_first_hour_is_a_file_to_fill_in(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "answers.yaml"
    text = run("clinic").output
    assert set(map(tuple, yaml.safe_load(text).values())) == {()}
    text = text.replace('"handedness": []', '"handedness": [left]')
    file.write_text(
        text.replace('"makers_names:etchant": []', '"makers_names:etchant": [Blue Stuff]'), "utf-8"
    )
    assert 'adds the name "Blue Stuff" to etchant' in run("clinic", str(file)).output
    file.write_text("[", encoding="utf-8")
    assert "answers.yaml is not valid YAML" in refused(run, "clinic", str(file))
    file.write_text("- a", encoding="utf-8")
    assert "one line for each question" in refused(run, "clinic", str(file))


@pytest.mark.slow
def test_unknown_words_are_kept_listed_and_adopted(run: Run, tmp_path: Path) -> None:
    assert run("unknown", "list").output == "None so far.\n"
    run("unknown", "on")
    entry = {"text": "mirorr", "times": 3, "first": "2026-01-02", "last": "2026-01-02"}
    kept = tmp_path / "layers" / "unknown_words.json"
    kept.write_text(json.dumps([entry, {**entry, "text": "flurb"}]), encoding="utf-8")
    assert run("unknown", "list").output.splitlines()[2].split()[:4] == ["mirorr", "3", "mouth", "mirror,"]
    run("unknown", "adopt", "mirorr", "mouth mirror")
    run("unknown", "drop", "flurb")
    assert run("unknown", "list").output == "None so far.\n"
    run("unknown", "off")
    assert not kept.exists()


@pytest.mark.slow
def test_a_second_editor_and_a_broken_file_are_told(run: Run, tmp_path: Path) -> None:
    run("add-name", "etchant", "our acid")
    store = LayerStore(tmp_path / "layers", "clinic", PACK)
    with store.editing("Ben", datetime(2026, 1, 2, tzinfo=UTC)):
        assert "Ben has been editing our changes" in refused(run, "add-name", "etchant", "other")
    store.file.write_text("oops", encoding="utf-8")
    assert "clinic.yaml:1" in run("history").output
    run("add-name", "etchant", "other")
    assert "clinic.yaml:1" not in run("history").output
