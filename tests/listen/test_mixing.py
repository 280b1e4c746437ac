"""A new name said to the engine: who says it, what is counted, and what lint makes of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from listen import mixing
from listen.bench import voices
from listen.cli import app
from listen.engine import Hearing, Phrasing, Samples
from listen.mixing import CannotTry, tried, with_name
from listen.readings import load_calibration
from vocab.load import shipped_pack
from vocab.mixed_up import Taken, Trial
from vocab.pronounce import Pronouncer
from vocab.schema import Name, Pack

PACK = shipped_pack()
SAY = Pronouncer()
NEW = "caver"


@dataclass
class Hears:
    """Takes every utterance for the carver; remembers which names it was bound to."""

    bound: list[Pack] = field(default_factory=list)

    def renewed(self, pack: Pack, keep: bool = True) -> Hears:
        assert not keep
        self.bound.append(pack)
        return self

    def hear(self, samples: Samples) -> Hearing:
        said = "pass me the carver"
        return Hearing((Phrasing(said, -2.0),), said, log_p_free=-2.0, log_p_best=-2.0, duration_s=1.5)


@pytest.fixture
def spoken(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Six silent utterances of each name; the names that were said."""
    names: list[str] = []

    def say(text: str, folder: Path) -> list[Samples]:
        names.append(text)
        return [np.zeros(16_000, np.float32)] * 6

    monkeypatch.setattr(mixing, "utterances", say)
    return names


def try_it(item: str, folder: Path) -> tuple[Hears, dict[str, Trial]]:
    engine = Hears()
    return engine, tried(PACK, item, NEW, engine, load_calibration(), SAY, folder)  # type: ignore[arg-type]


def test_a_name_and_its_neighbours_are_said_while_it_is_known(spoken: list[str], tmp_path: Path) -> None:
    engine, trials = try_it("cotton_pliers", tmp_path)
    assert spoken[0] == NEW and 1 < len(spoken) <= 1 + mixing.NEIGHBOURS
    assert "carver" in {name.text for i in PACK.items for name in i.names} and len(engine.bound) == 1
    assert NEW in {name.text for name in engine.bound[0].item("cotton_pliers").names}
    assert trials[NEW].times == 6
    assert trials[NEW].taken["hollenback_carver"].said == "carver"
    assert trials[NEW].mass("hollenback_carver") > 3


def test_a_name_of_an_item_that_is_being_made_can_be_tried(spoken: list[str], tmp_path: Path) -> None:
    engine, trials = try_it("new_item", tmp_path)
    assert engine.bound[0].item("new_item").name.text == NEW
    assert trials[NEW].mass("hollenback_carver") > 3


def test_without_voices_or_in_another_language_it_says_why(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(voices, "available", lambda side=None, formant=False: ())
    with pytest.raises(CannotTry, match="apt install espeak-ng"):
        try_it("cotton_pliers", tmp_path)
    spanish = shipped_pack("operativa_es")
    with pytest.raises(CannotTry, match="language es"):
        tried(spanish, "grapa", "x", Hears(), load_calibration(), SAY, tmp_path)  # type: ignore[arg-type]


def test_several_people_say_it_those_that_taught_the_engine_last(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voices, "available", lambda side=None, formant=False: voices.VOICES)
    speaking = mixing._speakers()
    assert len(speaking) == len({voice.speaker for voice in speaking}) == mixing.VOICES
    assert all(voice.side == "test" and not voice.formant for voice in speaking)


def test_a_name_is_heard_by_the_engine_itself(tmp_path: Path) -> None:
    if not any(voice.family == "flite" for voice in voices.available()):
        pytest.skip("no voice that could say it is installed: apt install flite")
    from listen.neural.engine import NeuralEngine

    new = "pocket grabbers"
    trial = tried(PACK, "cotton_pliers", new, NeuralEngine(PACK), load_calibration(), SAY, tmp_path)[new]
    assert trial.times >= 2
    assert sum(taken.mass for taken in trial.taken.values()) < trial.times / 4


def test_the_command_tells_what_a_name_would_be_mixed_up_with(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    import listen.neural.cache
    import listen.neural.engine

    said: list[str] = []

    def told(pack: Pack, item: str, text: str, *rest: object) -> dict[str, Trial]:
        said.append(text)
        return {text: Trial(6, {"hollenback_carver": Taken(3.0, "carver")})}

    monkeypatch.setattr(mixing, "tried", told)
    monkeypatch.setattr(listen.neural.engine, "NeuralEngine", lambda pack, cache: Hears())
    edit = ["edit", "--layers", str(tmp_path / "layers"), "--who", "Ada"]

    def run(*more: str) -> str:
        result = CliRunner().invoke(app, [*edit, *more])
        assert result.exit_code == 0, result.output
        return result.stdout

    told = run("try-name", "cotton_pliers", NEW)
    assert 'high: said in chair noise, "caver" would be taken for "carver"' in told
    assert "no name was added here yet" in run("try-name")
    run("add-name", "cotton_pliers", NEW)
    assert '"caver" would be taken for "carver"' in run("try-name")
    assert said == [NEW]
    assert '"caver" would be taken for "carver"' in run("lint", "--fail-on", "never")
    before = run("lint", "--fail-on", "never")
    monkeypatch.setattr(listen.neural.cache, "fingerprint", lambda folder: "another model")
    assert run("lint", "--fail-on", "never") != before  # what another engine heard does not count
    run("try-name")
    assert said == [NEW, NEW]
    assert run("lint", "--fail-on", "never") == before
    result = CliRunner().invoke(app, [*edit, "try-name", "cotton_pliers"])
    assert result.exit_code == 2 and "or neither" in result.stderr


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("x" * 5_000, "has 5,000 characters, and at most 80 are allowed"),
        ("two\u202elines", "cannot be seen (U+202E)"),
        ("!!", "holds no letter or digit"),
    ],
)
def test_what_cannot_be_a_name_is_told_before_anything_is_said(
    tmp_path: Path, name: str, message: str
) -> None:
    result = CliRunner().invoke(app, ["edit", "--layers", str(tmp_path), "try-name", "etchant", name])
    assert result.exit_code == 2 and message in result.output and len(result.output) < 500


def test_a_new_name_leaves_the_pack_as_it_is() -> None:
    changed = with_name(PACK, "cotton_pliers", Name(text=NEW))
    assert NEW not in {name.text for name in PACK.item("cotton_pliers").names}
    assert NEW in {name.text for name in changed.item("cotton_pliers").names}
