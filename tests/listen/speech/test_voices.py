"""Voices for the measuring stick. Sources are named beside each check; the rest is our own promise."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import numpy as np
import pytest

from listen.engine import SAMPLE_RATE_HZ
from listen.speech import voices
from listen.speech.voices import VOICES, Voice, VoiceMissing, available, cached, synthesize, widen

KINDS: tuple[voices.Kind, ...] = get_args(voices.Kind)
SIDES: tuple[voices.Side, ...] = get_args(voices.Side)
SENTENCE = "Could you hand me the mirror, please?"


def some_voice() -> Voice:
    """The quickest voice on this machine."""
    ready = available(formant=True)
    if not ready:
        pytest.skip("no speech program is installed (apt install flite)")
    return min(ready, key=lambda v: v.family not in ("flite", "espeak-ng"))


def vowel(f0_hz: float, formants_hz: tuple[float, ...]) -> np.ndarray:
    """One second of a steady vowel: a pulse train through two-pole resonances, shape = (16000,)."""
    n = SAMPLE_RATE_HZ
    source = np.zeros(n)
    source[:: round(SAMPLE_RATE_HZ / f0_hz)] = 1.0
    for centre_hz in formants_hz:
        radius = np.exp(-np.pi * 80.0 / SAMPLE_RATE_HZ)
        a1 = 2 * radius * np.cos(2 * np.pi * centre_hz / SAMPLE_RATE_HZ)
        out = np.zeros(n)
        for i in range(n):
            out[i] = source[i] + a1 * out[i - 1] - radius**2 * out[i - 2]
        source = out
    return np.array(0.3 * source / np.max(np.abs(source)), np.float32)


def peak_hz(samples: np.ndarray, low_hz: float, high_hz: float) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)))) ** 2
    smooth = np.convolve(spectrum, np.hanning(301), mode="same")
    hz = np.fft.rfftfreq(len(samples), 1 / SAMPLE_RATE_HZ)
    inside = (hz >= low_hz) & (hz <= high_hz)
    return float(hz[inside][np.argmax(smooth[inside])])


def test_nobody_speaks_on_two_sides() -> None:
    for v in VOICES:
        assert {w.side for w in VOICES if w.speaker == v.speaker} == {v.side}


def test_each_side_has_three_recorded_speakers() -> None:
    for side in ("tune", "test"):
        assert len({v.speaker for v in VOICES if v.side == side and v.kind == "recorded"}) >= 3


def test_whoever_teaches_is_never_asked_to_be_fitted_or_reported_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voices, "_what_is_missing", lambda _: None)
    teach = {v for v in VOICES if v.side == "teach"}
    assert teach == set(available("teach", kinds=KINDS)) and {v.kind for v in teach} == {"style"}
    for side in SIDES:
        assert teach.isdisjoint(available(side, kinds=KINDS))
        assert teach.isdisjoint(v for kind in KINDS for v in voices.speaking(side, kind))
        assert not [spoken for v in teach for spoken in voices.speaking(side, speaker=v.speaker)]


def test_at_least_as_many_women_as_men_teach() -> None:
    """Most recorded speakers of the tuning side are men (our aim: the adapter hears both)."""
    sexes = [v.sex for v in VOICES if v.side == "teach"]
    assert sexes.count("woman") >= sexes.count("man") > 0


def test_only_recorded_voices_speak_unless_others_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voices, "_what_is_missing", lambda _: None)
    assert {v.kind for v in available()} == {"recorded"}
    assert {v.kind for v in available(formant=True)} == {"recorded", "formant"}
    assert {v.id for v in available("test")} == {"flite-rms", "festival-ked", "piper-joe"}
    styles = available("test", kinds=("style",))
    assert styles and {v.kind for v in styles} == {"style"}


def test_voice_names_are_unique() -> None:
    assert len({v.id for v in VOICES}) == len(VOICES)


def test_a_missing_program_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voices, "_flite_voices", frozenset)
    with pytest.raises(VoiceMissing, match="apt install flite"):
        synthesize(voices.voice("flite-awb"), SENTENCE)


def test_an_unknown_voice_is_told_apart() -> None:
    with pytest.raises(VoiceMissing, match="known: "):
        voices.voice("nobody")


@pytest.mark.parametrize("voice", available(formant=True), ids=lambda v: v.id)
def test_every_voice_here_speaks_and_says_it_the_same_way_twice(voice: Voice) -> None:
    first = synthesize(voice, SENTENCE)
    assert first.dtype == np.float32
    assert first.ndim == 1
    assert 1.0 < len(first) / SAMPLE_RATE_HZ < 5.0
    assert np.sqrt(np.mean(first**2)) > 0.01
    assert np.array_equal(first, synthesize(voice, SENTENCE))


def test_a_hurried_speaker_takes_less_time() -> None:
    voice = some_voice()
    ratio = len(synthesize(voice, SENTENCE, rate=1.25)) / len(synthesize(voice, SENTENCE))
    assert ratio == pytest.approx(0.8, abs=0.05)


def test_an_unchanged_speaker_is_left_alone() -> None:
    samples = vowel(125.0, (700.0, 1200.0))
    assert widen(samples) is samples


def test_a_shorter_throat_raises_the_formants_and_not_the_pitch() -> None:
    """Formants of a uniform tube are inverse to its length: (2k-1)c/4L (Fant 1960, handbook formula)."""
    pytest.importorskip("pyworld")
    plain = vowel(125.0, (700.0, 1900.0))
    short = widen(plain, vocal_tract=0.85)
    assert peak_hz(short, 1600, 2800) == pytest.approx(1900 / 0.85, rel=0.06)
    spacing = np.fft.rfft(short[2000:14000] ** 2 - np.mean(short[2000:14000] ** 2))
    hz = np.fft.rfftfreq(12000, 1 / SAMPLE_RATE_HZ)
    low = (hz > 60) & (hz < 220)
    assert hz[low][np.argmax(np.abs(spacing[low]))] == pytest.approx(125.0, abs=4.0)


def test_four_semitones_up_is_a_quarter_more_pitch() -> None:
    """Equal temperament: 2 ** (4 / 12) = 1.26. Measured with another estimator (autocorrelation)."""
    pytest.importorskip("pyworld")
    higher = widen(vowel(125.0, (700.0, 1200.0)), pitch_semitones=4.0)[3000:13000]
    by_lag = np.correlate(higher, higher, mode="full")[len(higher) - 1 :]
    lag = 60 + int(np.argmax(by_lag[60:200]))
    assert SAMPLE_RATE_HZ / lag == pytest.approx(125.0 * 2 ** (4 / 12), rel=0.03)


def test_a_stretched_recording_keeps_its_loudness() -> None:
    pytest.importorskip("pyworld")
    plain = vowel(125.0, (700.0, 1200.0))
    slow = widen(plain, rate=0.8)
    assert len(slow) / len(plain) == pytest.approx(1.25, abs=0.02)
    assert np.sqrt(np.mean(slow**2)) == pytest.approx(np.sqrt(np.mean(plain**2)), rel=0.02)


def test_the_cache_gives_back_what_it_kept(tmp_path: Path) -> None:
    voice = some_voice()
    first = cached(voice, SENTENCE, tmp_path)
    kept = list(tmp_path.rglob("*"))
    assert np.array_equal(first, cached(voice, SENTENCE, tmp_path))
    assert list(tmp_path.rglob("*")) == kept
    assert [p.suffix for p in kept if p.is_file()] == [".flac"]
