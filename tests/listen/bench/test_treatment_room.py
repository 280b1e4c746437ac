"""What a microphone hears from where it is: farther away there is less voice, more room, and as much noise.

Sources: IEC 61672-1, table of the weighting A; the inverse square law.
"""

from __future__ import annotations

import numpy as np
import pytest

from listen.bench import treatment_room as treatment
from listen.bench.treatment_room import Microphone
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.speech import noise
from listen.speech.noise import Wave

pytest.importorskip("pyroomacoustics", reason="needs pip install -e '.[bench]'")
ARRIVING = round(0.005 * SAMPLE_RATE_HZ)
"""What comes within so many samples counts as straight from the mouth."""


def tone(hz: float, seconds: float = 1.0) -> Samples:
    t = np.arange(round(seconds * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
    return (0.1 * np.sin(2 * np.pi * hz * t)).astype(np.float32)


def speechlike() -> Samples:
    pulses = np.sin(2 * np.pi * 3 * np.arange(SAMPLE_RATE_HZ) / SAMPLE_RATE_HZ) > -0.5
    return noise.pad((tone(500) * pulses).astype(np.float32), 0.25, 0.25)


@pytest.fixture(scope="module")
def by_distance() -> list[tuple[Microphone, Wave]]:
    return sorted(treatment.responses().items(), key=lambda pair: pair[0].distance_m)


@pytest.mark.parametrize(("hz", "gain_db"), [(100, -19.1), (500, -3.2), (1_000, 0.0), (4_000, 1.0)])
def test_levels_are_weighted_as_a_sound_level_meter_does(hz: float, gain_db: float) -> None:
    wave = tone(hz)
    told_db = treatment.noise_dba(wave) - treatment.FULL_SCALE_DBA
    assert told_db - noise.level_db(wave) == pytest.approx(gain_db, abs=0.15)


def test_each_microphone_is_where_it_is_said_to_be_and_inside_the_room() -> None:
    for microphone in treatment.microphones():
        at = np.array(microphone.position_m)
        assert np.linalg.norm(at - treatment.MOUTH_M) == pytest.approx(microphone.distance_m)
        assert np.all(at > 0) and np.all(at < treatment.SIZE_M)
    ceiling = [m.position_m[2] for m in treatment.microphones() if m.place == "ceiling"]
    assert min(ceiling) > 2.2


def test_the_voice_itself_falls_with_the_square_of_the_distance(
    by_distance: list[tuple[Microphone, Wave]],
) -> None:
    for microphone, response in by_distance:
        straight_db = 10 * np.log10(np.sum(response[:ARRIVING] ** 2))
        expected_db = -20 * np.log10(microphone.distance_m)
        assert straight_db == pytest.approx(expected_db, abs=4.0), microphone  # with the first reflections


def test_farther_is_softer_until_the_room_is_all_that_is_heard(
    by_distance: list[tuple[Microphone, Wave]],
) -> None:
    heard = {m: treatment.speech_dba(treatment.at_microphone(speechlike(), m)) for m, _ in by_distance}
    loudest = {place: max(v for m, v in heard.items() if m.place == place) for place in treatment.PLACES}
    assert loudest["headset"] > loudest["collar"] + 6 > loudest["tablet"] + 9
    assert loudest["ceiling"] < loudest["collar"] - 6


def test_farther_is_more_reverberant(by_distance: list[tuple[Microphone, Wave]]) -> None:
    def straight_over_room_db(response: Wave) -> float:
        return 10 * float(np.log10(np.sum(response[:ARRIVING] ** 2) / np.sum(response[ARRIVING:] ** 2)))

    shares = {
        place: [straight_over_room_db(wave) for m, wave in by_distance if m.place == place]
        for place in treatment.PLACES
    }
    for near, far in zip(treatment.PLACES, treatment.PLACES[1:], strict=False):
        assert min(shares[near]) > max(shares[far])


def test_a_normal_voice_has_its_level_at_one_metre_without_a_room(monkeypatch: pytest.MonkeyPatch) -> None:
    here = Microphone("tablet", 1.0)
    monkeypatch.setattr(treatment, "responses", lambda: {here: np.array([1.0])})
    assert treatment.speech_dba(treatment.at_microphone(speechlike(), here)) == pytest.approx(60, abs=0.3)


@pytest.mark.parametrize("place", treatment.PLACES)
@pytest.mark.parametrize("dba", [treatment.IDLE_DBA, treatment.LIGHT_DBA, treatment.HEAVY_DBA])
def test_the_noise_has_the_stated_level_at_every_microphone(place: str, dba: float) -> None:
    microphone = Microphone(place, treatment.DISTANCES_M[place][0])
    rng = np.random.default_rng(4)
    around = noise.suction(2 * SAMPLE_RATE_HZ, rng)
    mixed = treatment.in_room(speechlike(), microphone, around, dba).astype(np.float64)
    voice = treatment.at_microphone(speechlike(), microphone).astype(np.float64)
    parts = np.stack([voice, around[: len(voice)].astype(np.float64)], axis=1)
    (of_voice, of_noise), *_ = np.linalg.lstsq(parts, mixed, rcond=None)
    behind = (around[: len(voice)] * (of_noise / of_voice)).astype(np.float32)
    assert treatment.noise_dba(behind) == pytest.approx(dba, abs=0.2)
    assert np.max(np.abs(mixed)) <= 1.0


def test_ventilation_is_low_and_the_same_each_time() -> None:
    made = treatment.ventilation(SAMPLE_RATE_HZ, np.random.default_rng(1))
    assert np.array_equal(made, treatment.ventilation(SAMPLE_RATE_HZ, np.random.default_rng(1)))
    power = np.abs(np.fft.rfft(made)) ** 2
    assert np.sum(power[60:500]) > 10 * np.sum(power[2_000:])
