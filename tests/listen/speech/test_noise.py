"""Chair noise and levels, checked against analytical signals, sox and textbook formulas."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile

from listen.engine import SAMPLE_RATE_HZ
from listen.speech import noise
from listen.speech.noise import NOISES, Room, in_band_snr, level_db, mix, pad, speech_level

N = 6 * SAMPLE_RATE_HZ
HZ = np.fft.rfftfreq(N, 1 / SAMPLE_RATE_HZ)


def rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


def sine(hz: float, seconds: float, amplitude: float = 0.5) -> np.ndarray:
    t_s = np.arange(round(seconds * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
    return (amplitude * np.sin(2 * np.pi * hz * t_s)).astype(np.float32)


def syllables(seconds: float = 6.0) -> np.ndarray:
    """Something with the rhythm of speech: 500 Hz and 1.5 kHz, four swells a second, one pause."""
    t_s = np.arange(round(seconds * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
    swell = np.sin(np.pi * 4 * t_s) ** 2
    voice = (np.sin(2 * np.pi * 500 * t_s) + 0.5 * np.sin(2 * np.pi * 1500 * t_s)) * swell
    voice[len(voice) // 3 : len(voice) // 2] = 0.0
    quieter: np.ndarray = (0.3 * voice).astype(np.float32)
    return quieter


def power(samples: np.ndarray) -> np.ndarray:
    return np.abs(np.fft.rfft(samples * np.hanning(len(samples)))) ** 2


def share(samples: np.ndarray, low_hz: float, high_hz: float) -> float:
    spectrum = power(samples)
    hz = np.fft.rfftfreq(len(samples), 1 / SAMPLE_RATE_HZ)
    return float(spectrum[(hz >= low_hz) & (hz < high_hz)].sum() / spectrum.sum())


def smoothed_peak_hz(samples: np.ndarray, width_hz: float = 60.0) -> float:
    width = round(width_hz * len(samples) / SAMPLE_RATE_HZ)
    smooth = np.convolve(power(samples), np.ones(width), mode="same")
    return float(np.fft.rfftfreq(len(samples), 1 / SAMPLE_RATE_HZ)[np.argmax(smooth)])


# --- levels


def test_a_full_scale_sine_lies_three_db_down() -> None:
    """Mean square of a sine is half its squared amplitude: 10 log10(1/2) = -3.01 dB."""
    assert level_db(sine(1000, 1.0, 1.0)) == pytest.approx(-3.0103, abs=0.01)


@pytest.mark.skipif(shutil.which("sox") is None, reason="sox is not installed (apt install sox)")
@pytest.mark.parametrize("kind", sorted(NOISES))
def test_sox_measures_the_same_level(kind: str, tmp_path: Path) -> None:
    """Source: `sox FILE -n stats`, line 'RMS lev dB' (same reference: full-scale square wave)."""
    samples = NOISES[kind](N, rng())
    soundfile.write(tmp_path / "a.wav", samples, SAMPLE_RATE_HZ, subtype="FLOAT")
    told = subprocess.run(
        ["sox", tmp_path / "a.wav", "-n", "stats"], capture_output=True, text=True, check=True
    )
    line = next(x for x in told.stderr.splitlines() if x.startswith("RMS lev dB"))
    assert level_db(samples) == pytest.approx(float(line.split()[3]), abs=0.02)


def test_a_steady_sound_is_active_all_the_time() -> None:
    """ITU-T P.56: without pauses the active level is the long-term level (0.1 dB for the start-up)."""
    steady = noise._as_noise(rng().standard_normal(N))
    measured = speech_level(steady)
    assert measured.active_db == pytest.approx(-20.0, abs=0.1)
    assert measured.activity == pytest.approx(1.0, abs=0.02)


def test_silence_around_speech_does_not_lower_its_level() -> None:
    """P.56 counts the 0.2 s hangover as active, so 10 log10(5.2 / 5) = 0.17 dB and the decay are allowed."""
    alone = np.concatenate([sine(440, 5.0)])
    measured = speech_level(pad(alone, 4.0, 6.0))
    assert measured.active_db == pytest.approx(level_db(alone), abs=0.35)
    assert measured.activity == pytest.approx(5.2 / 15.0, abs=0.03)


def test_turning_speech_up_turns_its_level_up_as_much() -> None:
    quiet = speech_level(syllables() * np.float32(0.1)).active_db
    assert speech_level(syllables()).active_db - quiet == pytest.approx(20.0, abs=0.15)


def test_short_pauses_between_syllables_count_as_speech() -> None:
    measured = speech_level(syllables())
    assert 0.8 < measured.activity < 0.97  # the one-second hole is not speech, the gaps between swells are


def test_the_smoothing_is_the_two_stage_one_of_the_standard() -> None:
    """P.56: p = g p + (1 - g) |x|, q = g q + (1 - g) p, g = exp(-1 / (f T)), run as written."""
    wave = np.abs(rng().standard_normal(4000))
    g = np.exp(-1 / (SAMPLE_RATE_HZ * 0.03))
    p = q = 0.0
    expected = []
    for x in wave:
        p = g * p + (1 - g) * x
        q = g * q + (1 - g) * p
        expected.append(q)
    assert np.allclose(noise._p56_envelope(wave), expected, atol=1e-6)


def test_silence_has_a_level_and_no_activity() -> None:
    assert speech_level(np.zeros(8000, np.float32)) == noise.SpeechLevel(noise.LOWEST_DB, 0.0)
    assert level_db(np.zeros(0, np.float32)) == noise.LOWEST_DB


# --- mixing


@pytest.mark.parametrize("snr_db", [20.0, 10.0, 5.0, 0.0])
@pytest.mark.parametrize("kind", sorted(NOISES))
def test_the_level_asked_for_is_reached(kind: str, snr_db: float) -> None:
    speech = syllables()
    mixed = mix(speech, NOISES[kind](N, rng()), snr_db)
    gain = 10 ** ((mixed.speech_db - speech_level(speech).active_db) / 20)
    left = mixed.samples - speech * np.float32(gain)
    assert speech_level(speech * np.float32(gain)).active_db - level_db(left) == pytest.approx(
        snr_db, abs=0.05
    )
    assert mixed.snr_db == pytest.approx(snr_db, abs=0.01)
    assert np.max(np.abs(mixed.samples)) < 1.0


def test_a_whine_above_the_speech_band_hides_less_speech() -> None:
    """6.5 kHz lies outside 300..3400 Hz, so nothing of it is left in the band."""
    speech, whine = syllables(), sine(6500, 6.0)
    assert mix(speech, whine, 0.0).in_band_snr_db > 40.0
    assert in_band_snr(speech, sine(1000, 6.0, 0.1)) == pytest.approx(
        speech_level(speech).active_db - level_db(sine(1000, 6.0, 0.1)), abs=0.1
    )


def test_noise_too_short_or_silent_is_refused() -> None:
    with pytest.raises(ValueError, match="shorter"):
        mix(syllables(), sine(100, 1.0), 10.0)
    with pytest.raises(ValueError, match="silence"):
        mix(syllables(), np.zeros(N, np.float32), 10.0)
    with pytest.raises(ValueError, match="silence"):
        mix(np.zeros(N, np.float32), sine(100, 6.0), 10.0)


# --- what physics says


@pytest.mark.parametrize("seed", range(4))
def test_the_turbine_sings_at_its_turning_rate(seed: int) -> None:
    """250,000 turns a minute / 60 = 4.17 kHz at work, 400,000 / 60 = 6.67 kHz free (common practice)."""
    assert smoothed_peak_hz(noise.high_speed(N, rng(seed), work_share=1.0)) == pytest.approx(4170, rel=0.12)
    free = noise.high_speed(N, rng(seed), work_share=0.0)
    assert 5800 < smoothed_peak_hz(free) <= 6700


def test_cutting_adds_noise_below_the_tone() -> None:
    cutting = noise.high_speed(N, rng(3), work_share=1.0)
    free = noise.high_speed(N, rng(3), work_share=0.0)
    assert share(cutting, 500, 3000) > 3 * share(free, 500, 3000)


def test_the_slow_motor_is_lower_than_the_turbine() -> None:
    slow, fast = noise.slow_speed(N, rng(2)), noise.high_speed(N, rng(2))
    assert share(slow, 0, 2500) > 0.6 > 0.5 > share(fast, 0, 2500)
    assert smoothed_peak_hz(slow) < 3000


@pytest.mark.parametrize("seed", range(4))
def test_the_slow_motor_turns_between_8000_and_30000_a_minute(seed: int) -> None:
    """Shaft harmonics repeat at the turning rate: the first peak lies in 133..500 Hz, within its wander."""
    spectrum = power(noise.slow_speed(N, rng(seed)))
    low = (HZ > 60) & (HZ < 560)
    assert 120 < HZ[low][np.argmax(spectrum[low])] < 540


def test_suction_is_broad() -> None:
    """Spectral flatness (geometric over arithmetic mean power) tells noise from tones: 1 is white."""

    def flatness(samples: np.ndarray) -> float:
        bands = power(samples)[(HZ > 100) & (HZ < 6000)][:35_200].reshape(-1, 220).mean(axis=1)
        return float(np.exp(np.mean(np.log(bands))) / np.mean(bands))

    assert flatness(noise.suction(N, rng())) > 0.5 > flatness(noise.high_speed(N, rng(), work_share=1.0))
    assert share(noise.suction(N, rng()), 200, 3000) > 0.6


def test_lips_on_the_tip_make_suction_softer_for_a_moment() -> None:
    frames = noise.suction(4 * N, rng(5)).reshape(-1, 1600)
    levels = 10 * np.log10(np.mean(frames.astype(float) ** 2, axis=1))
    assert np.percentile(levels, 2) < np.median(levels) - 5.0


def test_the_ultrasonic_squeals_at_a_quarter_of_its_stroke() -> None:
    """25 to 30 kHz / 4 = 6.25 to 7.5 kHz; the hum is twice 60 Hz."""
    made = noise.ultrasonic(N, rng())
    assert 6200 < smoothed_peak_hz(made[: 2 * SAMPLE_RATE_HZ]) < 7550
    low = HZ < 400
    assert HZ[low][np.argmax(power(made)[low])] == pytest.approx(120.0, abs=1.0)


def test_music_plays_notes_of_the_tempered_scale() -> None:
    """The strongest low line is a semitone of A = 440 Hz (equal temperament) within 10 cents."""
    spectrum = power(noise.music(N, rng()))
    low = (HZ > 100) & (HZ < 900)
    semitones = 12 * np.log2(HZ[low][np.argmax(spectrum[low])] / 440.0)
    assert abs(semitones - round(semitones)) < 0.1


def test_babble_is_made_of_the_recordings_it_was_given() -> None:
    made = noise.babble(N, rng(), [sine(300, 2.0), sine(900, 1.0)])
    assert share(made, 250, 350) + share(made, 850, 950) > 0.95
    with pytest.raises(ValueError, match="at least one"):
        noise.babble(N, rng(), [])


@pytest.mark.parametrize("kind", sorted(NOISES))
def test_every_noise_is_the_same_for_the_same_seed_and_another_for_another(kind: str) -> None:
    first = NOISES[kind](N, rng(7))
    assert first.dtype == np.float32
    assert first.shape == (N,)
    assert np.all(np.isfinite(first))
    assert level_db(first) == pytest.approx(-20.0, abs=0.01)
    assert np.array_equal(first, NOISES[kind](N, rng(7)))
    assert not np.array_equal(first, NOISES[kind](N, rng(8)))


@pytest.mark.parametrize("kind", sorted(NOISES))
def test_noise_can_be_as_short_as_a_word(kind: str) -> None:
    assert np.all(np.isfinite(NOISES[kind](SAMPLE_RATE_HZ // 4, rng())))


def test_a_file_has_its_own_noise() -> None:
    draws = [noise.generator_for("a.wav", "suction", 10).random() for _ in range(2)]
    assert draws[0] == draws[1] != noise.generator_for("b.wav", "suction", 10).random()


# --- room, mask, head


def test_the_room_dies_away_in_its_time() -> None:
    """Schroeder (1965): backward-integrated energy falls 60 dB in T60; fitted from -5 to -25 dB."""
    room = Room(t60_s=0.5)
    tail = noise.room_response(room, rng())[1:]
    decay_db = 10 * np.log10(np.cumsum(tail[::-1] ** 2)[::-1] / np.sum(tail**2) + 1e-12)
    inside = (decay_db < -5) & (decay_db > -25)
    slope = np.polyfit(np.arange(len(tail))[inside] / SAMPLE_RATE_HZ, decay_db[inside], 1)[0]
    assert -60 / slope == pytest.approx(0.5, rel=0.1)


def test_nearer_than_the_critical_distance_the_direct_sound_wins() -> None:
    """Critical distance 0.057 sqrt(V / T60): 35 cubic metres and 0.45 s give 0.50 m."""
    near, far = Room(distance_m=0.503), Room(distance_m=1.006)
    assert near.direct_to_reverb_db == pytest.approx(0.0, abs=0.05)
    assert near.direct_to_reverb_db - far.direct_to_reverb_db == pytest.approx(6.02, abs=0.01)
    response = noise.room_response(far, rng())
    assert -10 * np.log10(np.sum(response[1:] ** 2)) == pytest.approx(far.direct_to_reverb_db, abs=0.01)


def test_a_room_keeps_length_and_first_sound() -> None:
    click = np.zeros(8000, np.float32)
    click[100] = 1.0
    heard = noise.reverberate(click, noise.room_response(Room(), rng()))
    assert len(heard) == len(click)
    assert np.max(np.abs(heard[:100])) < 1e-6
    assert heard[100] == pytest.approx(1.0, abs=1e-5)


def test_a_mask_dulls_and_a_shield_dulls_more() -> None:
    low, high = sine(500, 1.0), sine(4000, 1.0)
    assert level_db(noise.mask_filter(low)) == pytest.approx(level_db(low), abs=0.1)
    assert level_db(noise.mask_filter(high)) - level_db(high) == pytest.approx(-3.8, abs=0.3)
    shielded = noise.mask_filter(high, face_shield=True)
    assert level_db(shielded) < level_db(noise.mask_filter(high)) - 5.0


def test_a_head_turned_away_loses_treble_first() -> None:
    low, high = sine(250, 1.0), sine(4000, 1.0)
    assert np.allclose(noise.turned_head_filter(high, 0.0), high, atol=1e-4)
    for angle_deg in (45.0, 90.0, 180.0):
        loss_low = level_db(low) - level_db(noise.turned_head_filter(low, angle_deg))
        loss_high = level_db(high) - level_db(noise.turned_head_filter(high, angle_deg))
        assert loss_high > loss_low > 0.0
    with pytest.raises(ValueError, match="180"):
        noise.turned_head_filter(low, 270.0)
