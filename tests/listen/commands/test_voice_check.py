"""`traycall voice-check` with sound files, heard by a stand-in and by the real engine."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner

from listen.commands.main import app
from listen.live.all_fields import AllFields
from listen.speech.voices import available, cached
from listen.voicecheck.store import FILE, VoiceStore
from tests.listen.web.desk_app import StandIn, recording

PROCEDURE = ("--procedure", "composite_class_two", "--changes")


class Run:
    """Commands on one data folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __call__(self, *words: str, code: int = 0) -> str:
        result = CliRunner().invoke(app, ["voice-check", *words, "--data", str(self.folder / "data")])
        assert result.exit_code == code, (result.output, result.exception)
        return result.output

    def lines(self) -> list[str]:
        """What is to be read, without what only pictures and numbers say."""
        told = self("lines", *PROCEDURE, str(self.folder / "layers")).splitlines()
        return [re.sub(r"^ *\d+  (\(picture\) )?", "", line) for line in told]

    def read(self, *words: str, code: int = 0) -> str:
        return self("read", *PROCEDURE, str(self.folder / "layers"), *words, code=code)


@pytest.fixture
def run(tmp_path: Path) -> Run:
    return Run(tmp_path)


@pytest.fixture
def engine(monkeypatch: pytest.MonkeyPatch) -> StandIn:
    engine = StandIn()
    monkeypatch.setattr(AllFields, "engine", lambda *_: engine)
    return engine


@pytest.fixture
def files(tmp_path: Path) -> list[str]:
    """Three sound files in which somebody speaks."""
    paths = [tmp_path / f"{number}.wav" for number in range(3)]
    for path in paths:
        soundfile.write(path, recording(5), 16_000)
    return [str(path) for path in paths]


def test_files_are_read_and_nothing_is_kept_without_consent(
    run: Run, engine: StandIn, files: list[str]
) -> None:
    engine.texts.extend(run.lines()[:3])
    told = run.read(*files)
    assert "understood. In another such round" in told and told.endswith("Nothing was kept.\n")
    assert engine.heard == 3
    engine.texts.extend(run.lines()[:3])
    assert "takes both --keep NAME and --agreed" in run.read(*files, "--keep", "R. S.", code=2)
    assert "takes both" in run.read(*files, "--agreed", code=2)
    assert not (run.folder / "data" / FILE).exists()
    assert run("list") == "No recordings are kept.\n"


def test_kept_recordings_are_listed_measured_and_deleted(run: Run, engine: StandIn, files: list[str]) -> None:
    engine.texts.extend(run.lines()[:3])
    assert "Kept: 3 recordings of R. S." in run.read(*files, "--keep", "R. S.", "--agreed")
    assert "R. S., agreed" in run("list") and "vocabulary" in run("list")
    assert "On the same recordings" in run("measure", "--changes", str(run.folder / "layers"))
    assert run("list").count("understood  (traycall") == 2
    assert "two numbers can be fitted" in run("fit", code=2)
    assert "nothing was fitted" in run("fit", "--off", code=2)
    assert "there is no recording 99" in run("delete", "99", code=2)
    assert run("delete", "1") == "Deleted 1 recording.\n"
    assert "nobody called" in run("delete", "--who", "T. U.", code=2)
    assert "name recordings" in run("delete", code=2)
    assert run("delete", "--who", "R. S.") == "Deleted 2 recordings.\n"
    assert VoiceStore(run.folder / "data").people() == ()
    assert "no recordings are kept" in run("measure", code=2)


def test_a_silent_room_and_bad_input_are_told(
    run: Run, engine: StandIn, files: list[str], tmp_path: Path
) -> None:
    silent = tmp_path / "silent.wav"
    soundfile.write(silent, np.zeros(48_000, np.float32), 16_000)
    assert "No sound comes from this microphone" in run.read(files[0], "--room", str(silent))
    assert "does not exist" in run.read("nowhere.wav", code=2)
    assert "--running is one of" in run.read(files[0], "--running", "music", code=2)
    assert "there are 25 lines" in run.read(*(files * 9), code=2)
    assert "no procedure is called" in run("lines", "--procedure", "nothing", code=2)


@pytest.mark.slow
def test_a_real_voice_is_heard_by_the_real_engine(run: Run, tmp_path: Path) -> None:
    """A synthesized test voice; nothing is claimed but that most of what is read arrives."""
    voices: Any = [one for one in available("test") if not one.id.startswith("espeak")]
    if not voices:
        pytest.skip("no voice is installed (apt install flite festival)")
    paths = []
    for number, text in enumerate(run.lines()[:8]):
        said = cached(voices[0], text, tmp_path / "spoken")
        paths.append(tmp_path / f"{number}.wav")
        around = np.zeros(8_000, np.float32)
        soundfile.write(paths[-1], np.concatenate([around, 0.5 * said, around, around]), 16_000)
    told = run.read(*map(str, paths))
    assert len(re.findall("Understood|kept quiet, as|Asked back", told)) >= 6
