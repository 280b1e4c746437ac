"""The model card and the README say what the figures say; a measurement replaces its own entry alone."""

from __future__ import annotations

import shutil
from contextlib import nullcontext
from datetime import date
from pathlib import Path

import pytest
import yaml
from typer.testing import CliRunner

from listen.bench import card, clips, systems
from listen.bench.__main__ import app

MEASURED = card.Measured(
    command="python -m listen.bench talk",
    date=date(2026, 1, 2),
    engine="one before",
    counts={"all": {"n": 3}},
)


@pytest.fixture
def figures(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Copies of the figures and of both documents, which may be written."""
    for name in ("FIGURES", "CARD", "README"):
        monkeypatch.setattr(card, name, Path(shutil.copy(getattr(card, name), tmp_path)))
    return card.FIGURES


def test_card_and_readme_are_what_the_command_writes() -> None:
    for path, text in card.documents().items():
        assert path.read_text(encoding="utf-8") == text, f"run: python -m listen.bench card ({path.name})"


@pytest.mark.slow
def test_a_figure_that_changed_is_told_and_then_written(figures: Path) -> None:
    before = card.README.read_text(encoding="utf-8")
    screen = card.figures()["screen"]
    card.keep("screen", screen.model_copy(update={"counts": {**screen.counts, "median_ms": 1361}}))
    told = CliRunner().invoke(app, ["card", "--check"])
    assert told.exit_code == 1 and "MODEL_CARD.md" in told.output and "README.md" in told.output
    assert card.README.read_text(encoding="utf-8") == before
    assert CliRunner().invoke(app, ["card"]).exit_code == 0
    assert "median 1,361 ms" in card.CARD.read_text(encoding="utf-8")
    then = f"takes {screen.counts['median_ms']} ms"
    assert card.README.read_text(encoding="utf-8") == before.replace(then, "takes 1,361 ms")
    assert CliRunner().invoke(app, ["card", "--check"]).exit_code == 0


def test_what_an_earlier_engine_gave_is_not_said_to_be_of_the_present_one(figures: Path) -> None:
    talk = card.figures()["talk"]
    card.keep("talk", talk.model_copy(update={"engine": card.engine()}))
    assert "with the present engine and through everything" in card.documents()[card.CARD]
    card.keep("talk", talk.model_copy(update={"engine": "adapter 0, intent 0"}))
    assert f"with the engine of {talk.date} and through everything" in card.documents()[card.CARD]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("run: [", "not valid YAML"),
        ("- run", "valid dictionary"),
        ("run: {command: x, engine: y, counts: {}}", "run.date: Field required"),
        ("run: {command: x, date: 2026-01-02, engine: y, counts: {}, day: 1}", "run.day: Extra inputs"),
        ("run: {command: x, date: 2026-01-02, engine: y, counts: {a: {k: -1}}}", "a.k is -1; write a number"),
        ("run: {command: x, date: 2026-01-02, engine: y, counts: {k: many}}", "k is 'many'; write a number"),
        ("run: {command: x, date: 2026-01-02, engine: y, counts: {k: yes}}", "k is True; write a number"),
        ("Run: {command: x, date: 2026-01-02, engine: y, counts: {}}", "Run"),
        ("{}", "MODEL_CARD.md.jinja, line "),
    ],
)
def test_bad_figures_are_told_with_their_place(figures: Path, text: str, told: str) -> None:
    figures.write_text(text)
    refused = CliRunner().invoke(app, ["card"])
    assert refused.exit_code == 2
    assert told in refused.stderr and "Traceback" not in refused.stderr


def test_more_right_than_there_were_is_no_share(figures: Path) -> None:
    figures.write_text(figures.read_text(encoding="utf-8").replace("offered: 200", "offered: 228"))
    with pytest.raises(card.BadFigures, match="MODEL_CARD.md.jinja, line .*228 of 227 is not a share"):
        card.documents()


def test_a_readme_without_a_place_for_the_figures_is_told(figures: Path) -> None:
    card.README.write_text("# traycall\n")
    with pytest.raises(card.BadFigures, match="put them back"):
        card.documents()


def test_a_measurement_replaces_its_own_entry_and_no_other(figures: Path) -> None:
    before = card.figures()
    card.keep("talk", MEASURED)
    card.keep("talk_of_mine", MEASURED)
    assert card.figures() == before | {"talk": MEASURED, "talk_of_mine": MEASURED}
    assert list(card.figures()) == [*before, "talk_of_mine"]


def test_the_figures_are_written_as_they_stand_here(figures: Path) -> None:
    """Nobody's hand-written comment or order is lost when something is kept."""
    before = figures.read_text(encoding="utf-8")
    card.keep("talk", card.figures()["talk"])
    assert figures.read_text(encoding="utf-8") == before


def test_a_command_keeps_what_it_measured_with_date_and_engine(figures: Path, tmp_path: Path) -> None:
    adapter = tmp_path / "adapter.npz"
    adapter.write_bytes(b"another")
    args = ["natural", "--typed", "--ways", "4", "--adapter", str(adapter), "--keep", "natural_typed"]
    done = CliRunner().invoke(app, [*args, "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    kept = card.figures()["natural_typed"]
    assert kept.command == "python -m listen.bench natural --ways 4 --typed --adapter FILE"
    assert kept.engine == card.engine(adapter) != card.engine()
    assert kept.date >= date(2026, 11, 29)
    assert set(kept.counts["typed"]) == set(card.figures()["natural"].counts["quiet"])


def test_talk_and_the_screen_keep_theirs_under_the_name_given(
    figures: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of no clip at all, so that nothing is heard."""
    talking = pytest.importorskip("listen.bench.talking", exc_type=ImportError)
    screen = pytest.importorskip("listen.bench.screen_latency", exc_type=ImportError)
    monkeypatch.setattr(talking, "clips", lambda *_: ())
    monkeypatch.setattr(systems, "load", lambda *_: None)
    monkeypatch.setattr(systems, "SystemJudge", lambda *_: None)
    monkeypatch.setattr(clips, "clips", lambda *_: ())
    monkeypatch.setattr(screen, "served", lambda *_: nullcontext("http://127.0.0.1"))
    monkeypatch.setattr(screen, "measured", lambda *_: iter(()))
    for command in ("talk", "screen"):
        done = CliRunner().invoke(app, [command, "--out", str(tmp_path / command), "--keep", "trial"])
        assert done.exit_code == 0, done.output
        assert card.figures()["trial"].command == f"python -m listen.bench {command}"
    assert card.figures()["trial"].counts == {"requests": 0, "shown": 0, "right": 0}


def test_hearings_of_any_code_are_not_said_to_be_of_the_present_engine(figures: Path) -> None:
    done = CliRunner().invoke(app, ["natural", "--typed", "--ways", "1", "--any-code", "--keep", "trial"])
    assert done.exit_code == 0 and card.figures()["trial"].engine == "hearings of any code"


@pytest.mark.parametrize(
    "command", ["run", "natural", "told", "human", "talk", "screen", "prediction", "judge"]
)
def test_a_name_that_no_template_could_use_is_refused_first(command: str, figures: Path) -> None:
    refused = CliRunner().invoke(app, [command, "--keep", "My figures"])
    assert refused.exit_code == 2 and "small letters" in refused.stderr


@pytest.mark.parametrize(
    ("k", "n", "written"),
    [
        (397, 400, "99.2 % (397; 97.8-99.7)"),
        (0, 400, "0.0 % (0; 0-1.0)"),
        (150, 150, "100.0 % (150; 97.5-100)"),
    ],
)
def test_a_share_is_written_with_its_interval(k: int, n: int, written: str) -> None:
    """Wilson's intervals, which test_bench compares with statsmodels."""
    assert card.share(k, n) == written


def test_a_rate_and_several_numbers_are_written_as_in_a_sentence() -> None:
    assert card.an_hour(3, 3.0) == "1.0 an hour; 0.2-2.9"  # Garwood for 3 events
    assert card.an_hour(0, 3.0) == "0-1.2 an hour"
    some = {"quiet": {"k": 1, "n": 2}, "10 dB": {"k": 1, "n": 4}, "5 dB": {"k": 1000, "n": 1000}}
    assert card.each(some, "k") == "1, 1 and 1,000"
    assert card.each(some, "k", "n", 0, at=["quiet", "10 dB"]) == "50 and 25"
    assert card.each(some, "k", at=["quiet"]) == "1"


def test_the_file_holds_no_path_of_a_machine() -> None:
    assert all("/" not in one["command"] for one in yaml.safe_load(card.FIGURES.read_text("utf-8")).values())
