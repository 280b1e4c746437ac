"""The measuring stick counts rightly: its figures equal those of reference libraries.

Sources: `statsmodels` (proportion_confint, confint_poisson) and `scikit-learn` (brier_score_loss, log_loss,
calibration_curve) are asked beside our own; the transcriptions of Debian's `pocketsphinx-testdata`.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from typer.testing import CliRunner

from listen import shares
from listen.bench import clips, hearings, human, report, systems
from listen.bench.__main__ import app
from listen.bench.clips import Clip, ClipPlan
from listen.bench.corpus import chatter
from listen.bench.systems import SystemOutcome
from listen.engine import Hearing, Samples
from listen.speech import voices
from listen.verdict import Verdict
from vocab.errors import TraycallError
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack


@pytest.fixture(scope="module")
def pack() -> Pack:
    return shipped_pack()


@pytest.fixture
def every_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    """All voices seem installed, and what they say is a tone with pauses."""

    def spoken(voice: voices.Voice, text: str, folder: Path, *_: float) -> Samples:
        t = np.arange(16_000) / 16_000
        return (0.1 * np.sin(2 * np.pi * 300 * t) * (np.sin(2 * np.pi * 3 * t) > -0.5)).astype(np.float32)

    monkeypatch.setattr(voices, "_what_is_missing", lambda _: None)
    monkeypatch.setattr(voices, "cached", spoken)
    clips.babblers.cache_clear()


# ---------------------------------------------------------------- figures


@pytest.mark.parametrize(("k", "n"), [(0, 10), (10, 10), (1, 1), (39, 40), (193, 200)])
def test_the_interval_of_a_share_is_that_of_statsmodels(k: int, n: int) -> None:
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    ours = shares.wilson(k, n)
    low, high = proportion.proportion_confint(k, n, method="wilson")
    assert (ours.low, ours.high) == pytest.approx((low, high), abs=1e-12)
    assert ours.value == k / n


def test_the_share_of_nothing_may_be_anything() -> None:
    assert (shares.wilson(0, 0).low, shares.wilson(0, 0).high) == (0, 1)
    with pytest.raises(ValueError, match="not a share"):
        shares.wilson(3, 2)


@pytest.mark.parametrize(("k", "hours"), [(0, 3.0), (1, 3.0), (7, 0.5)])
def test_the_interval_of_a_rate_is_that_of_statsmodels(k: int, hours: float) -> None:
    rates = pytest.importorskip("statsmodels.stats.rates")
    ours = shares.hourly(k, hours)
    low, high = rates.confint_poisson(k, hours, method="exact-c")
    assert ours.high == pytest.approx(float(high))
    assert ours.low == pytest.approx(0.0 if k == 0 else float(low))


def test_three_quiet_hours_carry_less_than_one_and_a_quarter_an_hour() -> None:
    assert shares.hourly(0, 3.0).high == pytest.approx(3.689 / 3, abs=1e-3)  # Garwood's table for 0 events


def test_scores_of_probabilities_are_those_of_scikit_learn() -> None:
    metrics = pytest.importorskip("sklearn.metrics")
    calibration = pytest.importorskip("sklearn.calibration")
    rng = np.random.default_rng(1)
    p = rng.random(500)
    y = (rng.random(500) < p**1.5).astype(float)
    assert shares.brier(y, p) == pytest.approx(metrics.brier_score_loss(y, p))
    assert shares.log_loss(np.where(y == 1, p, 1 - p)) == pytest.approx(metrics.log_loss(y, p))
    true, said = calibration.calibration_curve(y, p, n_bins=10)
    bins = shares.reliability(y, p)
    assert [b.true for b in bins] == pytest.approx(true)
    assert [b.p for b in bins] == pytest.approx(said)
    weight = np.histogram(p, np.linspace(0, 1, 11))[0] / 500
    assert shares.calibration_error(y, p) == pytest.approx(float(weight @ np.abs(true - said)))


def test_a_sure_and_wrong_clip_costs_much_but_not_everything() -> None:
    assert math.isfinite(shares.log_loss([0.0, 1.0]))


def test_many_clips_of_few_speakers_leave_a_wide_interval() -> None:
    speakers = ["a", "b", "c"] * 100
    hits = [speaker != "c" for speaker in speakers]
    low, high = shares.bootstrap(hits, speakers, list(range(300)), np.random.default_rng(1))
    share = shares.wilson(200, 300)
    assert low < share.low - 0.1
    assert high > share.high + 0.1


def test_resampling_gives_the_same_interval_again() -> None:
    args = ([True, False] * 20, ["a", "b", "c", "d"] * 10, list(range(40)))
    draws = [shares.bootstrap(*args, np.random.default_rng(3)) for _ in range(2)]
    assert draws[0] == draws[1]


# ---------------------------------------------------------------- clips


@pytest.mark.slow
def test_a_longer_run_takes_up_the_clips_of_a_shorter_one(pack: Pack, every_voice: None) -> None:
    short = clips.clips(pack, ClipPlan(requests=20, chatter=10))
    long = clips.clips(pack, ClipPlan(requests=40, chatter=30))
    assert {c.id for c in short} < {c.id for c in long}
    assert len({c.id for c in long}) == len(long) == 5 * 70


def test_nobody_who_is_reported_on_is_tuned_on(pack: Pack, every_voice: None) -> None:
    tune, test = (clips.clips(pack, ClipPlan(side=side)) for side in ("tune", "test"))
    assert not {c.speaker for c in tune} & {c.speaker for c in test}
    assert not {c.text for c in tune} & {c.text for c in test}
    assert {voices.voice(c.voice).kind for c in (*tune, *test)} == {"recorded"}


@pytest.mark.parametrize("kind", get_args(voices.Kind))
def test_voices_of_another_kind_speak_only_where_they_are_asked_for(
    kind: voices.Kind, pack: Pack, every_voice: None
) -> None:
    made = clips.clips(pack, ClipPlan(voices=kind, requests=60, chatter=60, levels_db=(None,)))
    heard = {voices.voice(c.voice) for c in made}
    assert heard == {v for v in voices.VOICES if v.side == "test" and v.kind == kind}


def test_one_speaker_speaks_alone_whichever_kind_of_voice_that_is(pack: Pack, every_voice: None) -> None:
    made = clips.clips(pack, ClipPlan(side="tune", speaker="af_kore", requests=3, chatter=3))
    assert {c.voice for c in made} == {"kokoro-af_kore"}


def test_every_level_hears_the_same_sentences_in_the_same_noise(pack: Pack, every_voice: None) -> None:
    made = clips.clips(pack, ClipPlan(requests=8, chatter=4, levels_db=(10.0, 0.0)))
    by_level: dict[str, list[tuple[str, str, str | None]]] = {}
    for clip in made:
        by_level.setdefault(clip.level, []).append((clip.text, clip.voice, clip.kind))
    assert by_level["10 dB"] == by_level["0 dB"]


def test_more_chatter_than_sentences_comes_from_other_voices(pack: Pack, every_voice: None) -> None:
    lines = len(chatter("test"))
    made = clips.clips(pack, ClipPlan(requests=0, chatter=4 * lines, levels_db=(None,)))
    assert len({(c.text, c.voice) for c in made[: 3 * lines]}) == 3 * lines
    assert all(c.rate == 1.0 for c in made[: 3 * lines])
    assert all(c.rate != 1.0 or c.pitch for c in made[3 * lines :])
    assert len({c.id for c in made}) == 4 * lines


@pytest.mark.parametrize("kind", clips.KINDS)
def test_a_clip_sounds_the_same_every_time(kind: str, every_voice: None, tmp_path: Path) -> None:
    clip = Clip("Mirror, please.", "mouth_mirror", "flite-rms", 1.0, 0.0, 1.0, kind, 5.0, True, "mask")
    once, again = clips.sound(clip, tmp_path), clips.sound(clip, tmp_path)
    assert once.dtype == np.float32
    assert np.array_equal(once, again)
    assert not np.array_equal(once, clips.sound(replace(clip, snr_db=0.0), tmp_path))


def test_silence_of_the_speech_program_is_cut_off() -> None:
    sound = np.concatenate([np.zeros(3_200), np.ones(1_600), np.zeros(800)]).astype(np.float32)
    assert len(clips.without_silence(sound)) == 1_600


def test_a_cut_pack_has_about_as_many_names_as_asked(pack: Pack) -> None:
    cut = clips.cut(pack, 250)
    assert 250 <= sum(len(item.names) for item in cut.items) < 275
    assert {i for pair in cut.wide_margin for i in pair} <= {item.id for item in cut.items}


def test_without_voices_it_says_what_to_install(pack: Pack, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voices, "available", lambda *_, **__: ())
    with pytest.raises(clips.NoVoices, match="apt install flite"):
        clips.clips(pack, ClipPlan())


# ---------------------------------------------------------------- what came of a clip


def outcome(verdict: Verdict, named: tuple[str, ...] = (), offered: tuple[str, ...] = ()) -> SystemOutcome:
    return SystemOutcome("explorer", 0.8, 0.1, verdict, named, offered, (("explorer", 0.8),), "", 0.0)


@pytest.mark.parametrize(
    ("asked", "found", "kind"),
    [
        ("explorer", outcome(Verdict.ANSWER, named=("explorer",)), "right"),
        ("explorer", outcome(Verdict.ANSWER, named=("mirror",)), "wrong"),
        ("explorer", outcome(Verdict.ANSWER, named=("explorer", "mirror")), "wrong"),
        ("explorer", outcome(Verdict.CHECK, offered=("mirror", "explorer")), "checked"),
        ("explorer", outcome(Verdict.CHECK, offered=("mirror",)), "missed"),
        ("explorer", outcome(Verdict.QUIET), "missed"),
        (None, outcome(Verdict.QUIET), "quiet"),
        (None, outcome(Verdict.CHECK, offered=("mirror",)), "asked"),
        (None, outcome(Verdict.ANSWER, named=("rinse",)), "answered"),
    ],
)
def test_what_came_of_a_clip_is_named_as_people_would(
    asked: str | None, found: SystemOutcome, kind: str
) -> None:
    assert report.result({"item": asked}, found).kind == kind


def test_a_perfect_hearing_is_answered_and_a_refusal_is_quiet(pack: Pack) -> None:
    judge = systems.SystemJudge(pack)
    text_only = next(s for s in systems.SYSTEMS if s.name == "neural-text")
    said = pack.items[0].name.text
    answered = judge.outcome(text_only, Hearing((), f"Can I have the {said}, please?", 0.0, -math.inf, 2.0))
    assert answered.item == pack.items[0].id
    refused = judge.outcome(text_only, Hearing((), "Not yet.", 0.0, -math.inf, 1.0))
    assert (refused.verdict, refused.named, refused.item) == (Verdict.QUIET, (), None)


def test_a_report_shows_counts_rates_and_plots(pack: Pack, tmp_path: Path) -> None:
    row = systems.SYSTEMS[0]
    facts: dict[str, Any] = {
        "text": "Explorer.", "speaker": "rms", "level": "quiet", "kind": None, "seconds": 2.0, "ms": 50.0,
        "cpu_ms": 60.0, "start_s": 0.5, "memory_mb": 200.0, "jobs": 1, "hearing": {"free_text": "Explorer."},
    }  # fmt: skip
    asked = [report.result({**facts, "item": "explorer"}, outcome(Verdict.ANSWER, ("explorer",)))] * 3
    quiet = [report.result({**facts, "item": None}, outcome(Verdict.QUIET))] * 2
    found = {row.name: [*asked, *quiet]}
    made = report.study(found, [row], pack, {"what": "a trial"})
    text = report.write(made, found, tmp_path) if _has("matplotlib") else report.in_words(made)
    assert "100.0 % (3/3, 43.9-100.0)" in text  # Wilson for 3 of 3
    assert "| neural | quiet | 2 in 0.1 min |" in text
    kept = report.counts(made)["neural"]["quiet"]
    assert (kept["requests"], kept["chosen"], kept["right"], kept["missed"]) == (3, 3, 3, 0)
    assert (kept["chatter"], kept["answered"], kept["asked"], kept["hours"]) == (2, 0, 0, 0.001)
    if _has("matplotlib"):
        assert {f.name for f in tmp_path.glob("*.png")} == {"accuracy.png", "reliability.png", "tradeoff.png"}
        assert (
            json.loads((tmp_path / "report.json").read_text())["systems"]["neural"]["speakers"]["rms"]["n"]
            == 3
        )


# ---------------------------------------------------------------- taking up work


def test_what_was_heard_before_is_not_heard_again(pack: Pack, tmp_path: Path, every_voice: None) -> None:
    made = clips.clips(pack, ClipPlan(requests=2, chatter=0, levels_db=(None,)))
    ear = hearings.Ear("sphinx-text", pack)
    file = tmp_path / "hearings.jsonl"
    known = [{"engine": ear.engine, "mark": ear.mark, "clip": clip.id} for clip in made]
    file.write_text("".join(json.dumps(record) + "\n" for record in known) + '{"engine": "sph')
    assert hearings.hear(made, lambda _: pytest.fail("heard again"), [ear], file, 1) == known
    assert hearings.read(file) == known


def test_a_damaged_file_of_hearings_is_named(tmp_path: Path) -> None:
    file = tmp_path / "hearings.jsonl"
    file.write_text("{}\nnonsense\n")
    with pytest.raises(hearings.BadResults, match="delete it"):
        hearings.read(file)


def test_another_vocabulary_makes_another_mark(pack: Pack) -> None:
    assert hearings.Ear("neural", pack).mark != hearings.Ear("neural", clips.cut(pack, 250)).mark


@pytest.mark.parametrize("engine", systems.ENGINE_CODE)
def test_the_code_that_marks_a_hearing_is_there(engine: str, pack: Pack) -> None:
    assert len(hearings.Ear(engine, pack).mark) == 12  # and no pattern was refused


# ---------------------------------------------------------------- peers


def test_a_grammar_shares_the_first_words_of_phrases() -> None:
    grammar = systems.jsgf(("give me", "give me the"), ("mirror", "mouth mirror", "mouth prop"), ("please",))
    assert "public <request> = [<cue>] <name> [<ending>];" in grammar
    assert "<cue> = give (me [the]);" in grammar
    assert "<name> = mirror | mouth (mirror | prop);" in grammar


def test_pocketsphinx_takes_the_grammar_of_the_whole_pack(pack: Pack) -> None:
    pytest.importorskip("pocketsphinx")
    silent = systems.Sphinx("sphinx-grammar", pack).hear(np.zeros(8_000, np.float32))
    assert silent.phrasings == ()


def test_an_unknown_peer_is_told_with_the_known_ones() -> None:
    with pytest.raises(systems.NoPeer, match="neural-text"):
        systems.find(["parrot"], None)
    with pytest.raises(systems.NoPeer, match="--vosk-model"):
        systems.find(["vosk"], None)


# ---------------------------------------------------------------- people


def test_people_are_asked_to_pick_one_of_many_distinct_strings(pack: Pack) -> None:
    try:
        sets = human.sets(pack.speech)
    except human.NoPeople as missing:
        pytest.skip(str(missing))
    cards, digits, commands = sets
    assert [len(s.clips) for s in sets] == [5, 1, 1]
    assert [len(s.pack.items) for s in sets] == [250, 250, 40]
    assert {c.text for c in cards.clips} >= {"ten of clubs", "eight of spades four of clubs seven of hearts"}
    assert digits.clips[0].text == "two nine three four zero"
    for clip in (*cards.clips, *digits.clips, *commands.clips):
        assert clip.item is not None
        names = {item.id: item.name.text for item in (cards, digits, commands)[0].pack.items}
        assert clip.group != "cards" or names[clip.item] == clip.text
        assert len(human.sound(clip)) > 16_000


def test_without_the_recordings_it_says_what_to_install(pack: Pack, tmp_path: Path) -> None:
    with pytest.raises(human.NoPeople, match="apt install pocketsphinx-testdata"):
        human.sets(pack.speech, tmp_path)


# ---------------------------------------------------------------- the command


@pytest.mark.slow
def test_a_short_run_writes_its_report_and_goes_on_where_it_was(tmp_path: Path) -> None:
    for name in ("pocketsphinx", "matplotlib"):
        pytest.importorskip(name)
    if not voices.available("test"):
        pytest.skip("no test voice can speak here: apt install flite")
    args = ["run", "--requests", "1", "--chatter", "1", "--levels", "quiet,10", "--systems", "sphinx-text"]
    args += ["--folder", str(tmp_path / "sound"), "--out", str(tmp_path / "out")]
    first = CliRunner().invoke(app, args)
    assert first.exit_code == 0, first.output
    heard = (tmp_path / "out" / "hearings.jsonl").read_text()
    assert len(heard.splitlines()) == 4
    assert "Right item when forced to choose" in (tmp_path / "out" / "report.md").read_text()
    assert CliRunner().invoke(app, args).exit_code == 0
    assert (tmp_path / "out" / "hearings.jsonl").read_text() == heard


@pytest.mark.parametrize("args", [["run", "--levels", "loud"], ["run", "--systems", "parrot"]])
def test_bad_options_get_one_line_and_exit_code_2(args: list[str]) -> None:
    refused = CliRunner().invoke(app, args)
    assert refused.exit_code == 2
    assert not isinstance(refused.exception, TraycallError)


def _has(module: str) -> bool:
    try:
        __import__(module)
    except ImportError:
        return False
    return True
