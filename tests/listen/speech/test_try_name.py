"""A new name said to the engine: who says it, what it is taken for, and what is told of that."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from listen.commands.main import app
from listen.engine import Hearing, Phrasing, Samples
from listen.readings import Reading, Readings, load_calibration
from listen.speech import try_name, voices
from listen.speech.try_name import CannotTry, Mixup, NamesInText, findings, taken_for, tried, with_name
from vocab.language.pronounce import Pronouncer
from vocab.lint.findings import Severity
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Name, Pack
from vocab.requests.lexicon import Candidate
from vocab.requests.understand import Request

pytestmark = pytest.mark.slow

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

    monkeypatch.setattr(try_name, "utterances", say)
    return names


def try_it(item: str, folder: Path) -> tuple[Hears, tuple[Mixup, ...]]:
    engine = Hears()
    return engine, tried(PACK, item, NEW, engine, load_calibration(), SAY, folder)  # type: ignore[arg-type]


def test_a_name_and_its_neighbours_are_said_while_it_is_known(spoken: list[str], tmp_path: Path) -> None:
    engine, found = try_it("cotton_pliers", tmp_path)
    assert spoken[0] == NEW and 1 < len(spoken) <= 1 + try_name.NEIGHBOURS
    assert "carver" in {name.text for i in PACK.items for name in i.names} and len(engine.bound) == 1
    assert NEW in {name.text for name in engine.bound[0].item("cotton_pliers").names}
    carver = next(one for one in found if one.items == ("cotton_pliers", "hollenback_carver"))
    assert (carver.said, carver.heard, carver.times) == (NEW, "carver", 6) and carver.mass > 3
    assert all("cotton_pliers" in one.items for one in found)


def test_a_name_of_an_item_that_is_being_made_can_be_tried(spoken: list[str], tmp_path: Path) -> None:
    engine, found = try_it("new_item", tmp_path)
    assert engine.bound[0].item("new_item").name.text == NEW
    assert any(one.items == ("new_item", "hollenback_carver") and one.mass > 3 for one in found)


def test_the_longest_name_in_a_sentence_is_the_one_that_was_said() -> None:
    names = NamesInText(PACK)
    assert names.called("Can I have the rubber dam clamp, please?", "dam_clamp") == "rubber dam clamp"
    assert names.called("Pass me the wedge.", "dam_clamp") == PACK.item("dam_clamp").name.text


def test_other_items_that_utterances_may_have_asked_for_are_added_up() -> None:
    def way(item: str, text: str, p: float) -> Reading:
        candidate = Candidate(item, PACK.item(item).name, 1.0, "exact")
        return Reading((Request("item", text, (candidate,)),), text, p)

    first = (way("hollenback_carver", "the carver", 0.6), way("amalgam_carrier", "the carrier", 0.3))
    second = (way("amalgam_carrier", "an amalgam carrier", 0.2),)
    heard = [Readings(first, 0.1), Readings(second, 0.8)]
    (found,) = taken_for("carver", "hollenback_carver", heard, NamesInText(PACK))
    assert (found.heard, found.times) == ("carrier", 2) and found.mass == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("times", "mass", "severity", "often"),
    [
        (6, 3.0, Severity.HIGH, "about 1 time in 2"),
        (6, 5.9, Severity.HIGH, "nearly every time"),
        (2, 1.0, Severity.MEDIUM, "about 1 time in 2"),  # one utterance may be an accident
        (6, 0.4, Severity.MEDIUM, "about 1 time in 15"),
    ],
)
def test_what_a_name_was_taken_for_is_told_by_how_often(
    times: int, mass: float, severity: Severity, often: str
) -> None:
    met = Mixup(NEW, "carver", ("cotton_pliers", "hollenback_carver"), times, mass)
    (found,) = findings([met, Mixup(NEW, "wedge", ("cotton_pliers", "wedge"), times, 0.02 * times)])
    assert found.severity is severity
    said = f'said {times} times in chair noise, "caver" would be taken for "carver" {often}'
    assert found.message == said


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
    monkeypatch.setattr(voices, "_what_is_missing", lambda _: None)
    speaking = try_name._speakers()
    assert len(speaking) == len({voice.speaker for voice in speaking}) == try_name.VOICES
    assert all(voice.side == "test" and voice.kind == "recorded" for voice in speaking)


def test_a_name_is_heard_by_the_engine_itself(tmp_path: Path) -> None:
    if not any(voice.family == "flite" for voice in voices.available()):
        pytest.skip("no voice that could say it is installed: apt install flite")
    from listen.neural.engine import NeuralEngine

    new = "pocket grabbers"
    found = tried(PACK, "cotton_pliers", new, NeuralEngine(PACK), load_calibration(), SAY, tmp_path)
    mine = [one for one in found if one.said == new]
    assert mine and all(one.times >= 2 for one in mine)
    assert sum(one.mass for one in mine) < mine[0].times / 4


def test_the_command_tells_what_a_name_would_be_mixed_up_with(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    import listen.neural.engine

    def told(pack: Pack, item: str, text: str, *rest: object) -> tuple[Mixup, ...]:
        return (Mixup(text, "carver", (item, "hollenback_carver"), 6, 3.0),) if text == NEW else ()

    monkeypatch.setattr(try_name, "tried", told)
    monkeypatch.setattr(listen.neural.engine, "NeuralEngine", lambda pack, cache: Hears())
    edit = ["edit", "--changes", str(tmp_path / "layers"), "--who", "Ada"]

    def run(*more: str) -> str:
        result = CliRunner().invoke(app, [*edit, *more])
        assert result.exit_code == 0, result.output
        return result.stdout

    said = run("try-name", "cotton_pliers", NEW)
    assert 'Put right first: said 6 times in chair noise, "caver" would be taken for "carver"' in said
    assert "taken for no other name when it was said" in run("try-name", "cotton_pliers", "pocket grabbers")
    assert not (tmp_path / "layers").exists()  # nothing is kept
    assert CliRunner().invoke(app, [*edit, "try-name", "cotton_pliers"]).exit_code == 2


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("x" * 5_000, "has 5,000 characters, and at most 80 are allowed"),
        ("two\u202elines", "invisible character (U+202E)"),
        ("!!", "has no letters or digits"),
    ],
)
def test_what_cannot_be_a_name_is_told_before_anything_is_said(
    tmp_path: Path, name: str, message: str
) -> None:
    result = CliRunner().invoke(app, ["edit", "--changes", str(tmp_path), "try-name", "etchant", name])
    assert result.exit_code == 2 and message in result.output and len(result.output) < 500


def test_a_new_name_leaves_the_pack_as_it_is() -> None:
    changed = with_name(PACK, "cotton_pliers", Name(text=NEW))
    assert NEW not in {name.text for name in PACK.item("cotton_pliers").names}
    assert NEW in {name.text for name in changed.item("cotton_pliers").names}
