"""How a rehearsal sounds: one level for all voices, noise as the level says, the same when said again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.practice import voice as plain
from listen.practice.rehearsal import sound
from listen.practice.rehearsal.levels import LEVELS
from listen.practice.rehearsal.sound import (
    HIGHEST_PEAK,
    MARGIN_S,
    SPEECH_DB,
    Talkers,
    at_level,
    can_speak,
    trimmed,
)
from listen.speech import noise, replies, voices
from listen.speech.voices import Voice

LINE = "Whenever you're set, slide me the Hollenback."


def tone(amplitude: float) -> Samples:
    return np.asarray(amplitude * np.sin(np.arange(SAMPLE_RATE_HZ) * 0.2), np.float32)


@pytest.fixture
def talkers(tmp_path: Path) -> Talkers:
    if not voices.available(formant=True):
        pytest.skip("no voice is installed: apt install flite espeak-ng")
    return Talkers(3, "en", np.random.default_rng(4), tmp_path)


def test_soft_and_loud_voices_come_at_one_level() -> None:
    for amplitude in (0.01, 0.1, 0.9):
        level = noise.speech_level(at_level(tone(amplitude)))
        assert level.active_db == pytest.approx(SPEECH_DB, abs=0.3)


def test_silence_around_speech_is_cut_off_so_that_all_voices_end_when_they_end() -> None:
    silence = np.full(SAMPLE_RATE_HZ // 2, 1e-4, np.float32)
    for spoken in (tone(0.1), tone(0.9)):
        cut = trimmed(np.concatenate((silence, spoken, silence)))
        margins = 2 * MARGIN_S * SAMPLE_RATE_HZ
        assert len(spoken) <= len(cut) <= len(spoken) + margins + 1
        assert np.array_equal(trimmed(spoken), spoken)


def test_a_voice_with_high_peaks_is_not_cut() -> None:
    spiky = np.zeros(SAMPLE_RATE_HZ, np.float32)
    spiky[::1600] = 0.01
    assert float(np.max(np.abs(at_level(spiky)))) <= HIGHEST_PEAK + 1e-6


def test_chair_noise_is_as_far_below_the_speech_as_the_level_says(
    talkers: Talkers, monkeypatch: pytest.MonkeyPatch
) -> None:
    quiet = talkers.said(LINE, 0, 1, None)
    assert quiet is not None
    spoken_db = noise.speech_level(quiet).active_db
    for level in LEVELS:
        if level.noise_db is None:
            continue
        loud = talkers.said(LINE, 0, 1, level.noise_db)
        assert loud is not None and float(np.max(np.abs(loud))) <= 1.0
        padded = noise.pad(quiet, 0.3, 0.2)
        gain = float(loud @ padded / (padded @ padded))  # turned down where the sum would pass full scale
        under = loud / gain - padded
        assert spoken_db - noise.level_db(under) == pytest.approx(level.noise_db, abs=0.7)


def test_a_line_that_is_said_again_sounds_the_same(talkers: Talkers) -> None:
    first, again = talkers.said(LINE, 0, 7, 10.0), talkers.said(LINE, 0, 7, 10.0)
    assert first is not None and again is not None and np.array_equal(first, again)


def test_each_talker_keeps_a_voice_and_recorded_ones_come_first(talkers: Talkers) -> None:
    recorded = {voice.id for voice in voices.available()}
    if recorded:
        assert set(talkers.names) <= recorded
    assert len(set(talkers.names)) == min(3, len(voices.available() or voices.available(formant=True)))


def test_a_voice_that_fails_leaves_the_plain_one(talkers: Talkers, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(voice: Voice, text: str, folder: Path) -> Samples:
        raise voices.VoiceFailed("it gave no sound")

    monkeypatch.setattr(voices, "cached", fail)
    monkeypatch.setattr(plain, "plainly", lambda text, language: tone(0.1))
    assert talkers.said(LINE, 0, 1, None) is not None
    monkeypatch.setattr(plain, "plainly", lambda text, language: None)
    assert talkers.said(LINE, 0, 1, None) is None


def test_a_machine_without_any_voice_knows_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sound, "_voices", lambda language: ())
    monkeypatch.setattr(replies, "voice_name", lambda language: None)
    assert not can_speak("en")
    monkeypatch.setattr(replies, "voice_name", lambda language: "this machine's own voice")
    assert can_speak("en")
