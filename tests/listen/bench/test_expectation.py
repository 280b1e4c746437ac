"""What history is worth is counted on the same clips with and without it, and fitted on tuning voices only.

Hearings are made up so that what must come out can be told by hand; dentists are those of
`listen.bench.simulated_dentists`.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from listen import shares
from listen.bench import expectation, fit
from listen.bench.__main__ import app
from listen.bench.expectation import KNOWN, LEARNT, NONE, WRITTEN, Case, Moment
from listen.bench.systems import SystemJudge
from listen.readings import load_calibration
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack
from vocab.requests.lexicon import Lexicon

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def pack() -> Pack:
    return shipped_pack()


@pytest.fixture(scope="module")
def judge(pack: Pack) -> SystemJudge:
    by_score = replace(load_calibration(), unlike=0.0)
    return SystemJudge(pack, reader=expectation.SteadyReader(pack, Lexicon(pack), by_score))


@pytest.fixture(scope="module")
def said(pack: Pack) -> tuple[Moment, ...]:
    return expectation.moments(pack, "test", dentists=1)


def record(clip: str, item: str | None, phrasings: list[tuple[str, float]], free: str) -> dict[str, Any]:
    """A hearing of the test side in which a request is plain, but not which."""
    evidence = -0.5 if item else -20.0
    hearing = {
        "phrasings": phrasings, "free_text": free, "log_p_free": 0.0, "log_p_best": evidence,
        "duration_s": 2.0,
    }  # fmt: skip
    return {
        "engine": "neural", "clip": clip, "side": "test", "text": free, "item": item, "speaker": clip[-1],
        "level": "5 dB", "voice": "v", "hearing": hearing,
    }  # fmt: skip


def doubtful(pack: Pack) -> list[dict[str, Any]]:
    """Every item that may be answered, each heard a hair behind another of the pack, and written freely as
    either; and some chatter."""
    items = [item for item in pack.items if not item.always_check]
    out = []
    for i, item in enumerate(items):
        mine, other = (f"pass me the {x.name.text.lower()}" for x in (item, items[(i + 61) % len(items)]))
        out.append(record(f"clip {i}", item.id, [(other, 0.05), (mine, 0.0)], (mine, other)[i % 2]))
    talk = "we went to the lake again last week"
    return [*out, record("talk 0", None, [("pass me the mouth mirror", 0.0)], talk)]


# ---------------------------------------------------------------- what is asked for when


def test_what_is_expected_are_probabilities_of_the_whole_pack(pack: Pack, said: tuple[Moment, ...]) -> None:
    for moment in said[::40]:
        assert moment.expected[NONE] == {}
        for known in (WRITTEN, LEARNT):
            assert math.fsum(map(math.exp, moment.expected[known].values())) == pytest.approx(1.0)


def test_sessions_of_the_dentist_foretell_better_than_written_steps(said: tuple[Moment, ...]) -> None:
    asked = [moment for moment in said if moment.item is not None]
    log_p = {k: np.mean([m.expected[k][m.item or ""] for m in asked]) for k in (WRITTEN, LEARNT)}
    assert log_p[LEARNT] > log_p[WRITTEN] > math.log(1 / 25)


def test_the_dentists_of_the_two_sides_are_others(pack: Pack, said: tuple[Moment, ...]) -> None:
    tune = [moment.item for moment in expectation.moments(pack, "tune", dentists=1)]
    assert tune != [moment.item for moment in said]


# ---------------------------------------------------------------- clips at moments


def test_doubtful_hearings_are_settled_by_history(
    pack: Pack, judge: SystemJudge, said: tuple[Moment, ...]
) -> None:
    found = expectation.judged(expectation.cases(doubtful(pack), said, judge), judge)
    at = expectation.study(found)["5 dB"]
    asked = [moment for moment in said if moment.item and not pack.item(moment.item).always_check]
    assert at["requests"] == len(asked)
    assert at["chatter"] == sum(moment.item is None for moment in said)
    assert at[NONE]["item right"]["share"] < 0.5 and at[NONE]["wrong items left"]["share"] == 1.0
    assert at[LEARNT]["item right"]["share"] > at[WRITTEN]["item right"]["share"] > 0.8
    assert at[LEARNT]["wrong items left"]["share"] == pytest.approx(
        (1 - at[LEARNT]["item right"]["share"]) / (1 - at[NONE]["item right"]["share"])
    )
    for known in KNOWN:
        kinds = [at[known][kind]["k"] for kind in ("right", "checked", "wrong", "missed")]
        assert sum(kinds) == at["requests"]


def test_chatter_is_also_judged_just_where_it_sounds_like_what_is_next(
    pack: Pack, judge: SystemJudge, said: tuple[Moment, ...]
) -> None:
    worst: list[Case] = [case for case in expectation.cases(doubtful(pack), said, judge) if case.worst]
    (case,) = worst
    heard = max(moment.expected[LEARNT]["mouth_mirror"] for moment in said)
    assert case.record["clip"] == "talk 0" and case.moment.expected[LEARNT]["mouth_mirror"] == heard


def test_a_clip_heard_twice_counts_as_heard_last(tmp_path: Path) -> None:
    file = tmp_path / "hearings.jsonl"
    old, new = (record("clip 1", "explorer", [], text) for text in ("then", "now"))
    other_side = {**record("clip 2", "explorer", [], "then"), "side": "tune"}
    file.write_text("".join(json.dumps(r) + "\n" for r in (old, other_side, new)))
    assert [r["text"] for r in expectation.kept([file], "test")] == ["now"]


# ---------------------------------------------------------------- intervals


def test_half_the_mistakes_on_every_clip_are_half_with_no_doubt() -> None:
    people, lines = [*"aabbcc"] * 2, [*"112233"] * 2
    mistakes = [True] * 12
    half = [True, False] * 6  # one of two of each speaker and sentence
    ratio = shares.bootstrap_ratio(half, mistakes, people, lines, np.random.default_rng(1))
    assert ratio == (0.5, 0.5)
    nothing = shares.bootstrap_ratio(half, [False] * 12, people, lines, np.random.default_rng(1))
    assert all(map(math.isnan, nothing))


# ---------------------------------------------------------------- fitting


def test_the_weights_of_history_lower_the_log_loss_they_are_fitted_on(pack: Pack) -> None:
    pytest.importorskip("sklearn")
    records = [{**r, "side": "tune", "speaker": str(i % 3)} for i, r in enumerate(doubtful(pack))]
    chat = [
        {**records[-1], "text": f"{records[-1]['text']} number {i}", "speaker": str(i % 3)} for i in range(20)
    ]
    start = replace(load_calibration(), history=0.1, history_request=0.0)
    fitted = fit.fit([*records, *chat], pack, start, dentists=1)
    worth = fitted.figures["history"]
    assert fitted.calibration.history > 0.3
    assert worth["which item"]["log loss"] < worth["which item"]["log loss before"]
    assert worth["which item"]["log loss"] < worth["which item"]["without"]
    assert worth["request or chatter"]["log loss"] <= worth["request or chatter"]["without"] + 1e-6


# ---------------------------------------------------------------- the command


def test_the_command_writes_a_table_and_the_same_as_json(pack: Pack, tmp_path: Path) -> None:
    (tmp_path / "hearings.jsonl").write_text("".join(json.dumps(r) + "\n" for r in doubtful(pack)))
    options = ["history", str(tmp_path), "--dentists", "1", "--out", str(tmp_path / "out")]
    done = CliRunner().invoke(app, options)
    assert done.exit_code == 0, done.output
    made = json.loads((tmp_path / "out" / "history.json").read_text())
    text = (tmp_path / "out" / "history.md").read_text()
    assert text in done.output
    n = made["levels"]["5 dB"]["requests"]
    assert f"| 5 dB | learnt | {n} (" in text


@pytest.mark.parametrize("side", ["tune", "test"])
def test_without_hearings_it_says_how_to_make_some(side: str, tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["history", str(tmp_path), "--side", side])
    assert done.exit_code == 2 and "listen.bench run" in done.output
