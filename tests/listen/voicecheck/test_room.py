"""What is said of a microphone's sound: silence, clipping, hum, a loud room, a voice from afar."""

from __future__ import annotations

import numpy as np
import pytest

from listen.engine import Samples
from listen.voicecheck.room import DISTANCE, Running, measured, room_advice, speech_advice, speech_db

N = 3 * 16_000


def hiss(level_db: float) -> Samples:
    rng = np.random.default_rng(1)
    return (rng.standard_normal(N) * 10 ** (level_db / 20)).astype(np.float32)


def hum(mains_hz: float) -> Samples:
    t = np.arange(N) / 16_000
    parts = [np.sin(2 * np.pi * mains_hz * k * t) / k for k in (1, 2, 3)]
    return np.asarray(0.02 * np.sum(parts, axis=0), np.float32)


def test_a_quiet_room_needs_nothing() -> None:
    room = measured(hiss(-65))
    assert room.noise.rms_db == pytest.approx(-65, abs=0.5)
    assert room_advice(room) == ()


@pytest.mark.parametrize("dead", [np.zeros(N), np.zeros(0), np.full(N, 0.25), hiss(-110)])
def test_a_device_that_gives_nothing_is_dead(dead: Samples) -> None:
    room = measured(dead.astype(np.float32))
    assert room.is_dead
    assert "No sound comes from this microphone" in room_advice(room)[0]


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
def test_mains_hum_is_told_from_noise(mains_hz: float) -> None:
    room = measured(hum(mains_hz) + hiss(-60))
    assert room.hum_hz == mains_hz
    assert f"({mains_hz:.0f} Hz)" in room_advice(room)[0]
    assert measured(hiss(-40)).hum_hz == 0


def test_a_loud_room_is_told_of_only_while_nothing_runs() -> None:
    room = measured(hiss(-30))
    assert "loud here though nothing is running" in room_advice(room)[0]
    assert room_advice(room, Running.SUCTION) == ()


def test_sound_that_is_cut_off_is_told_of() -> None:
    assert "cut off" in room_advice(measured(np.clip(hiss(0), -1, 1)))[0]


def test_a_constant_offset_is_no_loudness() -> None:
    assert measured(hiss(-65) + np.float32(0.1)).noise.rms_db == pytest.approx(-65, abs=0.5)


@pytest.mark.parametrize(
    ("speech", "room_db", "says"),
    [
        (-20.0, -65.0, ""),
        (-20.0, -32.0, "stands out from the noise a little"),
        (-20.0, -25.0, "hardly stands out from the noise"),
        (-50.0, -80.0, "arrives very softly"),
        (-50.0, None, "arrives very softly"),
        (-20.0, None, ""),
        (3.0, -65.0, "cut off at its loudest"),
    ],
)
def test_speech_is_compared_with_the_room(speech: float, room_db: float | None, says: str) -> None:
    spoken = np.clip(hiss(speech), -1, 1)
    found = speech_advice(None if room_db is None else measured(hiss(room_db)), [spoken])
    assert says in " ".join(found) if says else found == ()
    too_far = says.startswith(("hardly", "arrives"))
    assert (DISTANCE in " ".join(found)) == too_far  # what being far costs is told where it is too far


def test_pauses_do_not_make_speech_softer() -> None:
    word = hiss(-20)[:8_000]
    with_pauses = np.concatenate([word, np.zeros(10_000, np.float32)])
    assert speech_db(with_pauses) == pytest.approx(-20, abs=1)
    assert speech_advice(None, []) == ()
