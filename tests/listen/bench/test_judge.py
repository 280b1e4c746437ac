"""The measure of the judge: what its made-up trainees say, what is kept, and how weights are fitted.

The likelihood and the costs are our own; that a fit on answers drawn by known weights finds them again is
checked on simulated scores.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from listen.bench import hearings, judge_fit
from listen.bench import judge as bench
from listen.bench.__main__ import app
from listen.bench.spoken_answers import FOREIGN, MadeAnswer, answers
from listen.engine import Hearing, Phrasing
from listen.practice.judging import HeardMeaning, Judge, Listened, Marking, Outcome, load_weights
from listen.speech import voices
from tests.listen.practice.classroom import lexicon, questions

pytestmark = pytest.mark.slow


@pytest.fixture(autouse=True)
def _voices_are_there(monkeypatch: pytest.MonkeyPatch) -> None:
    """Which voices could speak matters to no text; nothing speaks here."""
    every = {
        side: tuple(v for v in voices.VOICES if v.side == side and v.kind == "recorded")
        for side in ("tune", "test")
    }
    monkeypatch.setattr(voices, "available", lambda side: every[side])


def asked(side: voices.Side = "tune", count: int = 300) -> list[MadeAnswer]:
    return list(answers(questions(), side, count, seed=3))


def test_the_same_answers_come_again_and_more_begin_with_fewer() -> None:
    assert [s.id for s in asked(count=60)][:30] == [s.id for s in asked(count=30)]


def test_what_is_said_deserves_what_it_should_get() -> None:
    """Read as text, where nothing is misheard."""
    judge = Judge(questions(), lexicon())
    foreign = tuple(words.lower() for side in FOREIGN.values() for words in side)
    for spoken in asked():
        if spoken.kind != "something else" and not spoken.text.lower().startswith(foreign):
            assert bench.is_fair(spoken, judge.text(spoken.question, spoken.text)), spoken


def test_no_speaker_chatter_or_strange_opener_is_on_both_sides() -> None:
    tune, test = asked("tune"), asked("test")
    speakers = [{voices.voice(s.voice).speaker for s in side} for side in (tune, test)]
    assert not speakers[0] & speakers[1]
    chatter = [{s.text for s in side if s.kind == "something else"} for side in (tune, test)]
    assert chatter[0] and chatter[1] and not chatter[0] & chatter[1]
    assert not set(FOREIGN["tune"]) & set(FOREIGN["test"])


def heard_nothing(spoken: MadeAnswer) -> hearings.Record:
    hearing = Hearing((Phrasing("the wedge", -3.0),), spoken.text, -1.0, -3.0, 1.0)
    return {"hearing": hearings.kept(hearing), "names": hearings.kept(hearing)}


def test_a_run_that_was_stopped_goes_on_where_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    todo: list[int] = []

    def stopped(
        some: Sequence[MadeAnswer], folder: Path, jobs: int, adapter: Path
    ) -> Iterator[tuple[MadeAnswer, hearings.Record]]:
        todo.append(len(some))
        for spoken in some[:5]:
            yield spoken, heard_nothing(spoken)
        raise KeyboardInterrupt

    file, wanted = tmp_path / "heard.jsonl", asked(count=12)
    monkeypatch.setattr(bench, "_heard", stopped)
    for _ in range(2):
        with pytest.raises(KeyboardInterrupt):
            bench.hear(wanted, tmp_path, file, 1)
    monkeypatch.setattr(bench, "_heard", lambda some, *rest: ((s, heard_nothing(s)) for s in some))
    heard = bench.hear(wanted, tmp_path, file, 1)
    assert todo == [12, 7]
    assert [h.hearing.free_text for h in heard] == [s.text for s in wanted]
    of_items = next(h for s, h in zip(wanted, heard, strict=True) if s.question.items)
    assert of_items.meanings["wedge"].wording == "the wedge" and of_items.meanings["wedge"].log_p <= -2.0


def test_what_the_goals_are_about_is_counted_among_the_answers_that_a_person_would_mark() -> None:
    some = asked()
    right, clear = (sum(s.kind in kinds for s in some) for kinds in (("right",), bench.CLEAR))
    judged = [(spoken, Marking(Outcome.RIGHT, None, "", 1.0)) for spoken in some]
    assert 0 < right < clear < len(some)
    assert bench.counts(judged) == {
        "right_marked_right": {"k": right, "n": right},
        "right_marked_wrong": {"k": 0, "n": right},
        "wrong_marked_right": {"k": clear - right, "n": clear - right},
        "asked_again": {"k": 0, "n": clear},
    }
    assert f"right marked right   {right} of {right}: 100.0 %" in bench.report(judged)
    unfair = bench.mistakes(judged).splitlines()
    assert len(unfair) == len(some) - right and not any(line.startswith("right: ") for line in unfair)


def test_what_was_asked_again_is_said_once_more_and_both_hearings_count(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = next(s for s in asked() if s.kind == "right")
    clear = next(s for s in asked() if s.kind == "rival")
    meant = right.question.right[0]
    other = next(c.id for c in right.question.choices if c.id not in right.question.right)
    unclear = Marking(Outcome.AGAIN, None, "", 0.5, likely={meant: 0.5, other: 0.4})
    judged = [(right, unclear), (clear, Marking(Outcome.WRONG, None, "", 1.0))]

    def heard(some: list[MadeAnswer], *_: object) -> list[tuple[MadeAnswer, Listened]]:
        assert [(s.text, s.again) for s in some] == [(right.text, True)] and some[0].id != right.id
        meanings = {meant: HeardMeaning(-8.0, 3, "right"), other: HeardMeaning(-11.0, 3, "other")}
        return [(some[0], Listened(meanings, Hearing((), "words", -5.0, -6.0, 1.0)))]

    monkeypatch.setattr(bench, "_all_heard", heard)
    after = bench.once_more(judged, "test", None, 1, tmp_path)
    assert [m.outcome for _, m in after] == [Outcome.RIGHT, Outcome.WRONG]
    assert bench.counts_by_part(after)["all"]["asked_again"] == {"k": 0, "n": 2}
    assert set(bench.counts_by_part(after)) == {
        "all",
        *(bench.level(s) for s, _ in after),
        *(bench.drill(s) for s, _ in after),
    }


def simulated(rng: np.random.Generator, count: int) -> list[tuple[MadeAnswer, Listened]]:
    """Scores as a judge of scale 0.5 and prior 1 would have them."""
    out = []
    for spoken in asked(count=count):
        question = spoken.question
        other = next(c.id for c in question.choices if c.id not in question.right)
        lead = (math.log(9) if rng.random() < 0.9 else -math.log(9)) * (1 if spoken.kind == "right" else -1)
        lead += float(rng.normal(0.0, 0.5))
        meanings = {
            question.right[0]: HeardMeaning(-10.0 + lead / 0.5 - 1.0, 3, "right"),
            other: HeardMeaning(-10.0, 3, "other"),
        }
        sure = spoken.kind != "something else"
        out.append(
            (spoken, Listened(meanings, Hearing((), "some words", -5.0, -6.0 if sure else -40.0, 1.5)))
        )
    return out


def test_a_fit_explains_the_answers_better_and_pays_less_for_mistakes() -> None:
    rng = np.random.default_rng(4)
    heard, later = simulated(rng, 200), simulated(rng, 400)
    start = replace(load_weights(), spellings=0.5, prior=3.0, scale=0.1, right=0.6, wrong=0.6)
    fitted = judge_fit.fit(heard)
    assert cost(fitted, later) < cost(start, later)
    assert fitted.scale == pytest.approx(0.5, abs=0.15)
    assert fitted.prior == pytest.approx(1.0, abs=1.0) and fitted.prior < load_weights().prior


def cost(weights: Any, heard: list[tuple[MadeAnswer, Listened]]) -> float:
    judge, costs = Judge(questions(), lexicon(), None, weights), judge_fit.MarkingCosts()
    total = 0.0
    for spoken, listened in heard:
        outcome = judge.weigh(spoken.question, listened).outcome
        if spoken.kind == "repeat":
            continue
        if outcome is Outcome.AGAIN:
            total += costs.again * (spoken.kind != "something else")
        elif (outcome is Outcome.RIGHT) != (spoken.kind == "right"):
            total += (
                costs.wrong_as_right
                if outcome is Outcome.RIGHT
                else costs.right_as_wrong * (spoken.kind == "right")
            )
    return total


def test_weights_that_are_written_are_those_that_are_read(tmp_path: Path) -> None:
    file = tmp_path / "judge.json"
    judge_fit.write(load_weights(), simulated(np.random.default_rng(0), 10), file)
    assert json.loads(file.read_text())["weights"] == asdict(load_weights())


def test_nothing_is_fitted_on_test_voices() -> None:
    result = CliRunner().invoke(app, ["judge", "--fit", "--side", "test"])
    assert result.exit_code == 2 and "nothing is fitted on test voices" in result.stderr
