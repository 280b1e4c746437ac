"""The demo counts what it says it counts, and runs on the shipped recordings."""

from __future__ import annotations

import json
import shutil
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

import listen
from listen.answer import Answer, Likely
from listen.commands.demo import (
    DemoOutcome,
    NoRecordings,
    Recording,
    counts,
    find_folder,
    read_manifest,
    result_of,
)
from listen.commands.main import app
from listen.verdict import Verdict

FOLDER = Path(__file__).parents[3] / "recordings_demo"
ASKED = Recording(Path("1.flac"), "The mirror.", "item", ("mouth_mirror",), None, None, None, None)
PAIR = replace(ASKED, items=("mouth_mirror", "perio_probe"))
RINSE = replace(ASKED, kind="action", items=(), action="rinse")
OTHER_END = replace(ASKED, kind="repeat", end="other")
REFUSED = replace(ASKED, kind="refusal", items=())
CHATTER = replace(ASKED, kind="chatter", items=())


def said(
    verdict: str,
    item: str | None = None,
    kind: str = "item",
    action: str | None = None,
    end: str | None = None,
    others: Sequence[str] = (),
) -> Answer:
    return Answer(
        source="1.flac",
        start_s=0.0,
        end_s=1.0,
        heard="",
        kind=kind,
        verdict=Verdict(verdict),
        item=item,
        name=item,
        slot=None,
        action=action,
        end=end,
        size=None,
        quantity=None,
        replaces=None,
        refused=(),
        warning=None,
        p=0.9,
        alternatives=tuple(Likely(other, 0.1) for other in others),
        next=(),
        engine="stand-in",
        latency_ms=100.0,
    )


QUIET = said("quiet", kind="nothing")


@pytest.mark.parametrize(
    ("recording", "answers", "result"),
    [
        (ASKED, [said("answer", "mouth_mirror")], "right"),
        (ASKED, [said("answer", "hand_mirror")], "wrong"),
        (ASKED, [said("answer", "mouth_mirror"), said("answer", "hand_mirror")], "wrong"),
        (ASKED, [said("check", "mouth_mirror", others=["hand_mirror"])], "checked"),
        (ASKED, [said("check", "hand_mirror", others=["mouth_mirror"])], "checked"),
        (ASKED, [said("check", "hand_mirror", others=["etchant", "wedge", "mouth_mirror"])], "missed"),
        (ASKED, [said("check", "hand_mirror")], "missed"),
        (ASKED, [QUIET], "missed"),
        (ASKED, [], "missed"),
        (PAIR, [said("answer", "mouth_mirror"), said("answer", "perio_probe")], "right"),
        (PAIR, [said("answer", "mouth_mirror"), said("check", "perio_probe")], "checked"),
        (PAIR, [said("answer", "mouth_mirror")], "missed"),
        (RINSE, [said("answer", kind="action", action="rinse")], "right"),
        (RINSE, [said("answer", kind="action", action="dry")], "wrong"),
        (OTHER_END, [said("answer", "mouth_mirror", "repeat", end="other")], "right"),
        (OTHER_END, [said("answer", "mouth_mirror", "repeat")], "wrong"),
        (REFUSED, [said("quiet", kind="refusal")], "right"),
        (REFUSED, [QUIET], "missed"),
        (REFUSED, [said("answer", "etchant")], "wrong"),
        (CHATTER, [QUIET], "quiet"),
        (CHATTER, [said("check", "etchant")], "asked"),
        (CHATTER, [QUIET, said("answer", "etchant")], "answered"),
    ],
)
def test_each_recording_is_counted_as_it_should_be(
    recording: Recording, answers: list[Answer], result: str
) -> None:
    assert result_of(recording, answers) == result


def test_the_recordings_are_found_beside_the_package_or_where_told(tmp_path: Path) -> None:
    assert find_folder(None) == FOLDER
    assert find_folder(FOLDER) == FOLDER
    with pytest.raises(NoRecordings, match="name the folder of recordings"):
        find_folder(tmp_path)


def test_outside_the_checkout_the_recordings_are_looked_for_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(listen, "__path__", [str(tmp_path / "site" / "listen")])
    monkeypatch.chdir(FOLDER.parent)
    assert find_folder(None) == FOLDER
    monkeypatch.chdir(tmp_path)
    with pytest.raises(NoRecordings):
        find_folder(None)


@pytest.mark.parametrize("text", ["", "{", '{"file": "a.flac"}', "[]"])
def test_a_damaged_manifest_is_told(tmp_path: Path, text: str) -> None:
    (tmp_path / "manifest.jsonl").write_text(text)
    with pytest.raises(NoRecordings, match=r"manifest\.jsonl"):
        read_manifest(tmp_path)
    result = CliRunner().invoke(app, ["demo", str(tmp_path)])
    assert result.exit_code == 2
    assert "manifest.jsonl" in result.stderr


def some_recordings(folder: Path, lines: range) -> Path:
    manifest = (FOLDER / "manifest.jsonl").read_text("utf-8").splitlines()
    chosen = [manifest[line - 1] for line in lines]
    (folder / "audio").mkdir()
    for line in chosen:
        shutil.copy(FOLDER / json.loads(line)["file"], folder / "audio")
    (folder / "manifest.jsonl").write_text("\n".join(chosen), encoding="utf-8")
    return folder


def test_the_demo_ends_with_its_table_in_eighty_columns(tmp_path: Path) -> None:
    result = CliRunner().invoke(app, ["demo", str(some_recordings(tmp_path, range(4, 8)))])
    assert result.exit_code == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 80
    for word in ("right", "checked", "wrong", "missed", "quiet", "answered", "engine: neural"):
        assert word in result.stdout
    assert "4 of 4" in result.stderr


@pytest.mark.slow
def test_the_whole_demo_is_mostly_right_and_mostly_quiet_on_chatter() -> None:
    """The floors are far below the figures in the README: they catch a broken engine, not a slip."""
    result = CliRunner().invoke(app, ["demo", "--json"])
    assert result.exit_code == 0, result.stderr
    (line,) = result.stdout.splitlines()
    total = json.loads(line)
    recordings = read_manifest(FOLDER)
    assert total["requests"] + total["chatter"] == len(recordings)
    assert total["right"] + total["checked"] + total["wrong"] + total["missed"] == total["requests"]
    assert total["quiet"] + total["asked"] + total["answered"] == total["chatter"]
    assert total["right"] + total["checked"] >= 0.85 * total["requests"]
    assert total["wrong"] <= 0.1 * total["requests"]
    assert total["answered"] <= 0.25 * total["chatter"]
    assert total["engine"] == "neural"


def test_counts_hold_every_result() -> None:
    outcomes = [DemoOutcome(ASKED, "right", ()), DemoOutcome(CHATTER, "quiet", ())]
    assert counts(outcomes) == {
        "right": 1,
        "checked": 0,
        "wrong": 0,
        "missed": 0,
        "quiet": 1,
        "asked": 0,
        "answered": 0,
    }
