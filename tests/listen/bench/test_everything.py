"""Every figure can be traced to the ear that gave it, and made again by the command beside it."""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer.main
from statsmodels.stats.proportion import proportion_confint
from typer.testing import CliRunner

from listen.bench import card, everything
from listen.bench.__main__ import app


@pytest.fixture
def copies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Copies of the figures and of both documents, which may be written."""
    for name in ("FIGURES", "CARD", "README"):
        monkeypatch.setattr(card, name, Path(shutil.copy(getattr(card, name), tmp_path)))
    monkeypatch.setattr(card, "commit", lambda: "0123456789ab")
    return tmp_path


def table() -> Iterator[tuple[str, str, str]]:
    """The cells of the README's table of figures: row, level, text."""
    text = card.README.read_text(encoding="utf-8").partition(card.START)[2].partition(card.END)[0]
    lines = [line.split("|")[1:-1] for line in text.splitlines() if line.startswith("|")]
    head, _, *rows = [[cell.strip() for cell in line] for line in lines]
    for row in rows:
        yield from ((row[0], level, cell) for level, cell in zip(head[1:], row[1:], strict=True))


OF_EACH_ROW = {
    "right item": ("run", "chosen", "requests"),
    "answered rightly at once": ("run", "right", "requests"),
    "checked, the right item offered": ("run", "checked", "requests"),
    "wrong item answered": ("run", "wrong", "requests"),
    "missed": ("run", "missed", "requests"),
    "chatter answered": ("run", "answered", "chatter"),
    "in a sentence of one's own: right item answered or offered": ("natural", "offered", "requests"),
    "the same, answered rightly at once": ("natural", "at_once", "requests"),
    "the same, wrong item answered": ("natural", "wrong", "requests"),
    "an item only mentioned, and answered": ("natural", "mentions_lit", "mentions"),
}


OF_VOICES = ("right item, ", "the same, sentences of one's own included, ")
"""How the rows of the other voices begin; how many, and whose is the worst, stand behind."""


def of_row(known: dict[str, card.Measured], row: str, level: str) -> tuple[int, int]:
    """What the record of a row counts at a level, and of how many; 0 of 0 where it was not heard."""
    if row in OF_EACH_ROW:
        name, right, of = OF_EACH_ROW[row]
        at = known[name].counts["neural"][level] if name == "run" else known[name].counts[level]
        return at[right], at[of]
    voices = known["speakers"].counts
    assert row.startswith(OF_VOICES)
    if row.startswith(OF_VOICES[0]):
        at = voices["groups"]["one network"].get(level)
        return (at["chosen"], at["requests"]) if at else (0, 0)
    worst = re.search(r"\((.+)\)", row)
    assert worst is not None
    at = voices["speakers"]["one network"][worst[1]].get(level)
    return (at["chosen"] + at["ways_chosen"], at["requests"] + at["ways"]) if at else (0, 0)


def test_each_number_in_the_readmes_table_is_that_of_its_record() -> None:
    """Worked out here from the counts and by statsmodels, not by the code that wrote the table."""
    known, seen = card.figures(), set()
    for row, level, cell in table():
        k, n = of_row(known, row, level)
        seen.add((row, level))
        if not n:
            assert cell == "", (row, level)
            continue
        if of_many := re.fullmatch(r"(\d+) of (\d+)", cell):
            assert (int(of_many[1]), int(of_many[2])) == (k, n), (row, level)
            continue
        if per_cent := re.search(r"([\d.]+) %", cell):
            assert float(per_cent[1]) == pytest.approx(100 * k / n, abs=0.051), (row, level)
        if counted := re.search(r"(?:\(|^)(\d+)(?:;|:| \()", cell):
            assert int(counted[1]) == k, (row, level)
        if interval := re.search(r"([\d.]+)-([\d.]+)\)", cell):
            wanted = [100 * end for end in proportion_confint(k, n, method="wilson")]
            assert [float(end) for end in interval.groups()] == pytest.approx(wanted, abs=0.051), (row, level)
    assert len(seen) == (len(OF_EACH_ROW) + len(OF_VOICES)) * len(known["run"].counts["neural"])


def test_the_readmes_figures_belong_to_the_ear_that_is_shipped() -> None:
    assert card.in_readme() >= {"run", "natural", "screen"}
    assert card.not_of_this_engine() == []


def test_the_check_fails_once_adapter_judge_or_calibration_is_another(
    copies: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fitted = copies / "neural.json"
    fitted.write_text("{}")
    monkeypatch.setattr(card, "_CALIBRATION", fitted)
    told = CliRunner().invoke(app, ["card", "--check"])
    assert told.exit_code == 1 and "everything --only natural" in told.output
    natural = card.figures()["natural"]
    for name in card.in_readme():
        one = card.figures()[name]
        card.keep(name, one.model_copy(update={"engine": f"earlier engine of {one.date}"}))
    assert CliRunner().invoke(app, ["card"]).exit_code == 0
    assert CliRunner().invoke(app, ["card", "--check"]).exit_code == 0
    assert f"The last four rows (the engine of {natural.date}, " in card.README.read_text(encoding="utf-8")


def test_a_table_says_which_engine_it_is_of(copies: Path) -> None:
    run = card.figures()["run"]
    for engine, told in ((card.engine(), "the present engine"), ("of before", f"the engine of {run.date}")):
        card.keep("run", run.model_copy(update={"engine": engine, "commit": "0123456789ab"}))
        text = card.documents()[card.README]
        assert f"Measured on {run.date} (commit 0123456789ab) with {told}" in text


def test_what_is_measured_again_has_its_own_command_that_can_keep_it() -> None:
    commands = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    for name in everything.AGAIN:
        line = everything.command(name, jobs=2)
        assert line[:3] == [sys.executable, "-m", "listen.bench"] and line[-2:] == ["--keep", name]
        options = {option for parameter in commands[line[3]].params for option in parameter.opts}
        assert {word for word in line[4:] if word.startswith("--")} <= options, name
        assert not re.search("FILE|FOLDER", " ".join(line)), f"{name} needs what is on one machine only"
    blind = card.figures()["trial_blind"]
    assert blind.command == card.figures()["trial_repaired"].command and "trial_blind" not in everything.AGAIN


def test_only_what_is_named_is_measured_and_a_failure_stops_no_other(
    capfd: pytest.CaptureFixture[str],
) -> None:
    assert everything.chosen(()) == everything.AGAIN
    assert everything.chosen(("run", "demo")) == ("demo", "run")
    lines: list[list[str]] = []

    def run(line: list[str]) -> int:
        lines.append(line)
        return int("demo" in line)

    assert everything.measure(("demo", "natural"), 3, run) == ("demo",)
    assert [line[3] for line in lines] == ["demo", "natural"]
    assert "--jobs" not in lines[0] and lines[1][lines[1].index("--jobs") + 1] == "3"


def test_a_figure_that_cannot_be_made_again_is_refused_with_those_that_can() -> None:
    refused = CliRunner().invoke(app, ["everything", "--only", "trial_blind"])
    assert refused.exit_code == 2
    assert "'trial_blind' cannot be measured again" in refused.stderr and "natural" in refused.stderr


def test_measuring_ends_with_both_documents(copies: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def kept(line: list[str]) -> int:
        assert line[3] == "demo"
        one = card.figures()["demo"]
        card.keep("demo", one.model_copy(update={"counts": {**one.counts, "right": 49, "missed": 2}}))
        return 0

    monkeypatch.setattr(everything.measure, "__defaults__", (kept,))
    done = CliRunner().invoke(app, ["everything", "--only", "demo"])
    assert done.exit_code == 0, done.output
    assert "of 59 requests 49 right" in card.CARD.read_text(encoding="utf-8").replace("\n", " ")
    monkeypatch.setattr(everything.measure, "__defaults__", (lambda line: 1,))
    failed = CliRunner().invoke(app, ["everything", "--only", "demo"])
    assert failed.exit_code == 1 and "demo failed and has the figure of before" in failed.output
