"""Conditions are compared on the same sentences, and what is put beside the speech is what is said of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner

from listen.bench import card, report, rooms, said, singing
from listen.bench.__main__ import app
from listen.bench.rooms import Condition, RoomClip
from listen.bench.systems import SystemOutcome
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.speech import noise, voices
from listen.verdict import Verdict
from listen.voicecheck import room
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack

HZ = {"rms": 300.0, "ked": 1_000.0, "joe": 3_000.0}
"""What each speaker says is a tone of its own, so that they can be told apart again."""


@pytest.fixture(scope="module")
def pack() -> Pack:
    return shipped_pack()


@pytest.fixture(autouse=True)
def every_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    """All voices seem installed, and what they say is a tone."""

    def spoken(voice: voices.Voice, text: str, folder: Path, *_: float) -> Samples:
        t = np.arange(SAMPLE_RATE_HZ) / SAMPLE_RATE_HZ
        return (0.1 * np.sin(2 * np.pi * HZ[voice.speaker] * t)).astype(np.float32)

    monkeypatch.setattr(voices, "_what_is_missing", lambda _: None)
    monkeypatch.setattr(voices, "cached", spoken)


def some_clips(pack: Pack, requests: int, tried: tuple[Condition, ...]) -> tuple[RoomClip, ...]:
    return rooms.clips(said.said(pack, requests, requests, 0, requests), tried)


def test_every_condition_has_the_same_sentences_by_the_same_voices(pack: Pack) -> None:
    clips = some_clips(pack, 6, rooms.conditions())
    by_condition: dict[str, set[tuple[str, str]]] = {}
    for clip in clips:
        by_condition.setdefault(clip.condition.name, set()).add((clip.said.text, clip.said.voice))
    everything = by_condition.pop("headset, idle, 40 dB(A)")
    assert len(everything) == 18
    asked = {(c.said.text, c.said.voice) for c in clips if c.said.item is not None}
    for name, of_it in by_condition.items():
        assert of_it == (asked if name.startswith("talker") else everything), name
    assert len({clip.id for clip in clips}) == len(clips)
    assert {voices.voice(voice).speaker for _, voice in everything} == set(said.SPEAKERS)


def test_a_longer_run_takes_up_the_shorter_one(pack: Pack) -> None:
    short, long = ({c.id for c in some_clips(pack, n, rooms.conditions())} for n in (20, 23))
    assert short < long


def test_a_run_cut_short_has_every_condition_of_each_sentence(pack: Pack) -> None:
    tried = rooms.conditions()
    first = some_clips(pack, 6, tried)[: len(tried)]
    assert len({clip.said.text for clip in first}) == 1 and {c.condition for c in first} == set(tried)


def test_recorded_noise_is_as_loud_as_the_made_and_must_be_there(pack: Pack, tmp_path: Path) -> None:
    made = {(c.place, c.level) for c in rooms.conditions() if c.around == "chair"}
    with_kitchen = rooms.conditions(kitchen=True)
    assert {(c.place, c.level) for c in with_kitchen} == made
    assert {c.around for c in with_kitchen} == {"kitchen"}
    with pytest.raises(rooms.NoKitchen, match=r"kitchen\.flac is missing"):
        rooms.clips(said.said(pack, 6, 6, 0, 6), with_kitchen, tmp_path)


def test_the_command_says_which_file_is_missing(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["rooms", "--people", str(tmp_path), "--out", str(tmp_path / "out")])
    assert done.exit_code == 2 and "kitchen.flac is missing" in done.output
    assert not (tmp_path / "out").exists()


def test_recorded_noise_is_what_is_heard_behind_the_speech(pack: Pack, tmp_path: Path) -> None:
    pytest.importorskip("pyroomacoustics", reason="needs pip install -e '.[bench]'")
    hum = np.sin(2 * np.pi * 2_000 * np.arange(3 * SAMPLE_RATE_HZ) / SAMPLE_RATE_HZ)
    soundfile.write(tmp_path / "kitchen.flac", 0.3 * hum, SAMPLE_RATE_HZ)
    loud = Condition("room", 75.0, "tablet", "kitchen")
    (clip, *_) = rooms.clips(said.said(pack, 6, 0, 0, 6), (loud,), tmp_path)
    power = np.abs(np.fft.rfft(rooms.sound(clip, tmp_path))) ** 2
    hz = np.fft.rfftfreq(2 * len(power) - 2, 1 / SAMPLE_RATE_HZ)
    assert hz[int(np.argmax(power))] == pytest.approx(2_000, abs=5)


@pytest.mark.parametrize("below_db", [0.0, 6.0, 12.0])
def test_the_second_talker_is_somebody_else_with_something_else_so_far_below(
    pack: Pack, below_db: float, tmp_path: Path
) -> None:
    for clip in some_clips(pack, 6, (Condition("talker", below_db),)):
        assert clip.said.item is not None and clip.other is not None
        text, voice, item = clip.other
        other = voices.voice(voice).speaker
        assert other != clip.said.speaker and item != clip.said.item and text != clip.said.text
        made = rooms.sound(clip, tmp_path)
        power = np.abs(np.fft.rfft(made.astype(np.float64))) ** 2
        hz = np.fft.rfftfreq(len(made), 1 / SAMPLE_RATE_HZ)
        first, second = (np.sum(power[np.abs(hz - HZ[who]) < 60]) for who in (clip.said.speaker, other))
        assert 10 * np.log10(first / second) == pytest.approx(below_db, abs=0.5)


def test_too_few_sentences_for_a_second_talker_are_refused(pack: Pack) -> None:
    with pytest.raises(rooms.TooFew, match="--requests"):
        rooms.clips(said.said(pack, 1, 0, 0, 0), (Condition("talker", 0.0),))


def test_a_melody_holds_notes_of_the_scale() -> None:
    hz = singing.melody(2_000, 110.0, np.random.default_rng(3))
    semitones = 12 * np.log2(hz / 110.0)
    nearest = np.array(singing.SCALE)[np.argmin(np.abs(semitones[:, None] - singing.SCALE), axis=1)]
    assert np.max(np.abs(semitones - nearest)) <= singing.VIBRATO_SEMITONES + 1e-9
    changes = np.flatnonzero(np.diff(nearest)) * singing.FRAME_S
    assert len(changes) >= 3 and np.min(np.diff(changes)) >= singing.NOTE_S[0] - 0.01


def test_a_song_is_as_long_as_asked_and_louder_in_voice_than_in_music() -> None:
    pytest.importorskip("pyworld", reason="needs pip install -e '.[bench]'", exc_type=ImportError)
    rng = np.random.default_rng(5)
    t = np.arange(SAMPLE_RATE_HZ) / SAMPLE_RATE_HZ
    buzz = sum(np.sin(2 * np.pi * 120 * k * t) / k for k in range(1, 20))
    words = (0.05 * np.asarray(buzz)).astype(np.float32)
    assert len(singing.sung(words, rng)) == pytest.approx(len(words) / singing.SLOWER, rel=0.02)
    made = singing.song(3 * SAMPLE_RATE_HZ, rng, [words])
    assert len(made) == 3 * SAMPLE_RATE_HZ and noise.level_db(made) > -60


def outcome(named: tuple[str, ...]) -> SystemOutcome:
    verdict = Verdict.ANSWER if named else Verdict.QUIET
    return SystemOutcome(named[0] if named else None, 0.9, 0.0, verdict, named, (), (), "", 1.0)


def record(item: str | None, other: str | None) -> dict[str, Any]:
    return {
        "item": item,
        "group": "own" if item else "chatter",
        "condition": "talker, 0 dB" if item else "headset, idle, 40 dB(A)",
        "other_item": other,
    }


def test_what_the_other_voice_asked_for_is_counted_apart() -> None:
    told = [("mirror", "mirror"), ("mirror", "probe"), ("mirror", "carver"), ("mirror", None)]
    results = [
        report.result(record(asked, "probe"), outcome((named,) if named else ())) for asked, named in told
    ]
    results.append(report.result(record(None, None), outcome(("probe",))))
    counted = rooms.counts(results)
    assert counted["talker, 0 dB"]["own"] == {
        "requests": 4, "chosen": 1, "right": 1, "checked": 0, "wrong": 2, "missed": 1, "other": 1,
    }  # fmt: skip
    assert counted["headset, idle, 40 dB(A)"]["chatter"] == {"chatter": 1, "answered": 1, "asked": 0}
    assert "1/4" in rooms.table(counted) and "1/1" in rooms.table(counted)


def test_what_the_voice_check_says_of_distance_is_what_was_measured() -> None:
    measured = card.figures()["rooms"].counts
    for place, right in room.HEARD_AT_ONCE.items():
        own = measured[f"{place}, chair, 75 dB(A)"]["own"]
        assert (right, room.HEARD_OF) == (own["right"], own["requests"]), place
    assert all(str(right) in room.DISTANCE for right in room.HEARD_AT_ONCE.values())
