"""The calibration is fitted on tuning voices alone, on those of earlier hearings too."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner, Result

from listen.bench import clips, fit, natural, systems
from listen.bench.__main__ import app
from listen.bench.commands import figures
from listen.engine import Phrasing
from listen.readings import Calibration, load_calibration
from vocab.errors import TraycallError
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack


@pytest.fixture(scope="module")
def pack() -> Pack:
    return shipped_pack()


def tuning(pack: Pack, n: int = 60) -> list[dict[str, Any]]:
    """Hearings where a rival is a little behind and wins by its score in one of five."""
    rng = np.random.default_rng(2)
    out: list[dict[str, Any]] = []
    items = [item for item in pack.items if not item.always_check]
    for i in range(n):
        item, rival = items[i % len(items)], items[(i + 7) % len(items)]
        lead = 2.0 if rng.random() < 0.8 else -2.0
        said, other = (f"can i have the {thing.name.text.lower()}" for thing in (item, rival))
        pairs = sorted([Phrasing(said, lead), Phrasing(other, 0.0)], key=lambda p: -p.log_p)
        out.append(_record(pairs, said, -1.0, said, item.id, f"speaker {i % 3}"))
        chat = f"we went to the lake number {i} again last week"
        out.append(_record(pairs, chat, -25.0, chat, None, f"speaker {i % 3}"))
    return out


def _record(
    pairs: list[Phrasing], free: str, evidence: float, text: str, item: str | None, speaker: str
) -> dict[str, Any]:
    kept = {
        "phrasings": [(p.text, p.log_p) for p in pairs], "free_text": free, "log_p_free": 0.0,
        "log_p_best": evidence, "duration_s": 2.0,
    }  # fmt: skip
    return {
        "side": "tune", "text": text, "item": item, "speaker": speaker, "level": "quiet", "voice": "v",
        "hearing": kept,
    }  # fmt: skip


@pytest.mark.slow
def test_fitting_finds_how_often_the_best_score_is_right(pack: Pack, tmp_path: Path) -> None:
    pytest.importorskip("sklearn")
    records = tuning(pack)
    fitted = fit.fit(records, pack, load_calibration(), dentists=1)
    share = fitted.figures["which item"]["right when forced to choose"] / 60
    assert 1 / (1 + math.exp(-2.0 * fitted.calibration.scale)) == pytest.approx(share, abs=0.1)
    assert fitted.figures["which item"]["log loss"] <= fitted.figures["which item"]["log loss before"]
    assert fitted.figures["request or chatter"]["held out, all"]["area under curve"] > 0.99
    file = tmp_path / "neural.json"
    fit.write(fitted, records, file, "2026-01-02")
    written = json.loads(file.read_text())
    weights = {**written["weights"], "request_weights": tuple(written["weights"]["request_weights"])}
    assert Calibration(**weights).scale == pytest.approx(fitted.calibration.scale, abs=1e-3)
    assert (written["fitted_on"]["requests"], written["fitted_on"]["date"]) == (60, "2026-01-02")


def test_nothing_is_fitted_on_test_voices(pack: Pack) -> None:
    records = [{**record, "side": "test"} for record in tuning(pack, 2)]
    with pytest.raises(fit.NotForTest):
        fit.fit(records, pack, load_calibration())
    refused = CliRunner().invoke(app, ["fit", "--side", "test"])
    assert refused.exit_code == 2


def test_chatter_that_refuses_is_no_example(pack: Pack) -> None:
    reader = systems.SystemJudge(pack).reader
    chat = [_record([], text, 0.0, text, None, "s") for text in ("Not yet.", "My knee hurts when it rains.")]
    assert [e.hearing.free_text for e in fit.examples(chat, reader)] == ["My knee hurts when it rains."]


# ---------------------------------------------------------------- other speakers' hearings


def kept(text: str, mark: str = "now", **facts: str) -> dict[str, Any]:
    """A record as an earlier run keeps it."""
    record = _record([], text, 0.0, text, None, "slt")
    return {**record, "engine": "neural", "clip": f"clip of {text}", "mark": mark, **facts}


def keep(folder: Path, records: Iterable[dict[str, Any]]) -> Path:
    """The file of hearings in a folder."""
    folder.mkdir(exist_ok=True)
    file = folder / "hearings.jsonl"
    file.write_text("".join(json.dumps(record) + "\n" for record in records))
    return file


def test_a_clip_heard_twice_counts_as_heard_last_and_peers_do_not_count(tmp_path: Path) -> None:
    again = kept("mirror", speaker="awb")
    file = keep(tmp_path, [kept("mirror", "then"), kept("probe"), kept("wedge", engine="vosk"), again])
    assert fit.heard_before(file) == [again, kept("probe")]


def test_hearings_with_several_marks_are_taken_only_where_that_is_asked_for(tmp_path: Path) -> None:
    file = keep(tmp_path, [kept("mirror", "then"), kept("probe")])
    with pytest.raises(TraycallError, match="--any-code"):
        fit.heard_before(file)
    assert len(fit.heard_before(file, any_code=True)) == 2


@pytest.mark.parametrize("side", ["test", "teach"])
def test_earlier_hearings_of_other_sides_are_refused(side: str, tmp_path: Path) -> None:
    file = keep(tmp_path, [kept("mirror"), kept("probe", side=side, voice="flite-rms")])
    with pytest.raises(fit.NotForTest, match="nothing is fitted on flite-rms"):
        fit.heard_before(file)


def test_an_absent_file_and_one_without_hearings_say_what_to_name(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    keep(tmp_path / "empty", [])
    for name in ("absent", "empty"):
        with pytest.raises(TraycallError, match=f"{name}: name the folder"):
            fit.heard_before(tmp_path / name / "hearings.jsonl")


def fit_with(
    folders: Iterable[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> tuple[Result, list[dict[str, Any]]]:
    """Run the command with these folders; what it says, and the records that it fitted on.

    Nobody speaks, and what is heard now is one clip. A record also tells whether it was fitted as natural.
    """
    fitted_on: list[dict[str, Any]] = []

    def fitted(records: Any, loaded: Pack, start: Calibration, _: float, freely: frozenset[str]) -> fit.Fit:
        fitted_on.extend({**record, "natural": record["text"] in freely} for record in records)
        return fit.Fit(start, {})

    monkeypatch.setattr(clips, "clips", lambda *_: ())
    monkeypatch.setattr(natural, "clips", lambda *_: ())
    monkeypatch.setattr(figures, "hear_clips", lambda *_: [kept("heard now", voice="flite-awb")])
    monkeypatch.setattr(fit, "fit", fitted)
    args = ["fit", "--ways", "1", "--write", str(tmp_path / "neural.json")]
    done = CliRunner().invoke(app, [*args, *(word for one in folders for word in ("--with", str(one)))])
    return done, fitted_on


def test_several_speakers_are_fitted_on_together(
    pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    way = natural.Filler(pack).said(natural.ways("tune")[-1]).text
    folders = [tmp_path / name for name in ("slt", "kal")]
    keep(folders[0], [kept(way, "without slt", voice="flite-slt")])
    keep(folders[1], [kept("mirror", "without kal", voice="flite-kal16"), kept("heard now", "without kal")])
    done, records = fit_with(folders, tmp_path, monkeypatch)
    assert done.exit_code == 0, done.output
    assert [record["text"] for record in records] == [way, "mirror", "heard now"]
    assert [record["natural"] for record in records] == [True, False, False]
    voices = json.loads((tmp_path / "neural.json").read_text())["fitted_on"]["voices"]
    assert voices == ["flite-awb", "flite-kal16", "flite-slt"]


def test_what_cannot_be_joined_is_told_before_anything_is_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done, records = fit_with([tmp_path / "absent"], tmp_path, monkeypatch)
    assert done.exit_code == 2 and "name the folder where" in done.stderr
    assert records == [] and not (tmp_path / "neural.json").exists()
