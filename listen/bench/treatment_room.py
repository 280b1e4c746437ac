"""A treatment room with microphones in it: what reaches each of them of a voice and of noise, in dB(A).

Speech and noise come in as dry samples, what the microphone hears goes out. The room is simulated by image
sources (Allen and Berkley, J. Acoust. Soc. Am. 65 (1979) 943) with pyroomacoustics. The noise has the same
level at every microphone, as it has in a small hard room beyond half a metre from its source, while the voice
is softer and more reverberant the farther away it is. Mouth and microphones have no direction here.
`listen.speech.noise.room_response` is the quick room that the engine is taught in; it has no microphones.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.speech import noise
from listen.speech.noise import Wave

SIZE_M = (4.2, 3.4, 2.6)
T60_S = 0.5
"""Length, width and height, and Sabine's reverberation time: vinyl floor, plasterboard, a tiled ceiling (from
memory; clinics are not published much)."""
MOUTH_M = (2.1, 1.5, 1.25)
"""Where somebody who sits at the chair speaks."""
DIRECTIONS = {
    "headset": (1.0, 0.2, -0.3),
    "collar": (0.4, 0.0, -1.0),
    "tablet": (0.7, 0.6, -0.3),
    "ceiling": (-1.6, 1.3, 1.2),
}
"""From the mouth to each kind of microphone."""
DISTANCES_M = {
    "headset": (0.03, 0.04, 0.05),
    "collar": (0.15, 0.2, 0.25),
    "tablet": (0.6, 0.8, 1.0),
    "ceiling": (2.0, 2.2, 2.4),
}
PLACES = tuple(DISTANCES_M)
"""At the head, at the collar, on the chair's arm or a tablet, at the ceiling."""

NORMAL_DBA = 60.0
"""A voice of normal effort at 1 m (ISO 9921, from memory; there raised is 66, loud 72). In schools, homes
and hospitals talk was 55 to 66 dB(A) (Pearsons, Bennett and Fidell, EPA 1977, as summed up by Olsen, Am. J.
Audiol. 7 (1998) 21)."""
IDLE_DBA, LIGHT_DBA, HEAVY_DBA = 40.0, 65.0, 75.0
"""Nothing but the ventilation (from memory); and a clinic at work: beside the chair suction alone 63 to 79
dB(A), with a handpiece 67 to 80 (Dutta, Mala and Acharya, J. Conserv. Dent. 16 (2013) 121); 30 cm away
handpieces 76 to 82, suction 75 to 77 (a study of 2002, AIHA J. 63, 231)."""

SOUND_M_S = 343.0
FULL_SCALE_DBA = 100.0
"""What a mean square of 1 stands for in these sounds."""
_LEAD_OUT_S = 0.3


@dataclass(frozen=True)
class Microphone:
    """A place and the distance from the mouth in metres."""

    place: str
    distance_m: float

    @property
    def position_m(self) -> tuple[float, float, float]:
        """Where it is in the room."""
        towards = np.array(DIRECTIONS[self.place])
        x, y, z = np.array(MOUTH_M) + self.distance_m * towards / np.linalg.norm(towards)
        return float(x), float(y), float(z)


def microphones() -> tuple[Microphone, ...]:
    """Every place at each of its distances."""
    return tuple(Microphone(place, far) for place, some in DISTANCES_M.items() for far in some)


@lru_cache(maxsize=1)
def responses() -> dict[Microphone, Wave]:
    """What each microphone hears, from its arrival on, of a click at the mouth with an amplitude of 1 at 1 m.

    shape = (any,) each, 16 kHz. Takes some ten seconds.
    """
    import pyroomacoustics

    absorption, order = pyroomacoustics.inverse_sabine(T60_S, SIZE_M)
    material = pyroomacoustics.Material(absorption)
    room = pyroomacoustics.ShoeBox(
        SIZE_M, fs=SAMPLE_RATE_HZ, materials=material, max_order=order, air_absorption=True
    )
    room.add_source(MOUTH_M)
    every = microphones()
    room.add_microphone_array(np.array([one.position_m for one in every]).T)
    room.compute_rir()
    arrivals = [round(one.distance_m / SOUND_M_S * SAMPLE_RATE_HZ) for one in every]
    return {
        one: np.asarray(rir[0])[first:] for one, first, rir in zip(every, arrivals, room.rir, strict=True)
    }


def a_weighted(samples: Samples) -> Wave:
    """Weighted by the curve A of IEC 61672-1 (its closed form), without phase. shape = (n,)."""
    padded = np.concatenate([samples.astype(np.float64), np.zeros(SAMPLE_RATE_HZ // 8)])
    square = np.square(np.fft.rfftfreq(len(padded), 1.0 / SAMPLE_RATE_HZ))
    near = np.sqrt((square + 107.7**2) * (square + 737.9**2))
    gain = 10**0.1 * 12_194.0**2 * square**2 / ((square + 20.6**2) * near * (square + 12_194.0**2))
    weighted: Wave = np.fft.irfft(np.fft.rfft(padded) * gain, len(padded))[: len(samples)]
    return weighted


def noise_dba(samples: Samples) -> float:
    """Long-term level in dB(A) of noise in these sounds."""
    return noise.level_db(a_weighted(samples)) + FULL_SCALE_DBA


def speech_dba(samples: Samples) -> float:
    """Active level in dB(A) of speech in these sounds."""
    return noise.speech_level(a_weighted(samples)).active_db + FULL_SCALE_DBA


def noise_of(samples: Samples, dba: float) -> Samples:
    """The noise at this level. shape = (n,)."""
    return _times(samples, dba - noise_dba(samples))


def at_microphone(spoken: Samples, microphone: Microphone, at_1_m_dba: float = NORMAL_DBA) -> Samples:
    """Speech as it reaches a microphone, with what the room adds. shape = (n + 0.3 s,).

    Args:
        spoken: dry, at any level. shape = (n,).
        at_1_m_dba: the level that the voice would have at 1 m without a room.
    """
    voice = _times(spoken, at_1_m_dba - speech_dba(spoken))
    return noise.reverberate(noise.pad(voice, 0.0, _LEAD_OUT_S), responses()[microphone])


def in_room(spoken: Samples, microphone: Microphone, around: Samples, dba: float) -> Samples:
    """Speech at a microphone in noise of a level, scaled as a recorder would. shape = (n + 0.3 s,).

    Args:
        around: the noise, shape = (at least n + 0.3 s,).
    """
    heard = at_microphone(spoken, microphone)
    total = heard.astype(np.float64) + noise_of(around[: len(heard)], dba)
    scaled: Samples = (0.5 * total / np.max(np.abs(total))).astype(np.float32)
    return scaled


def _times(samples: Samples, gain_db: float) -> Samples:
    louder: Samples = (samples.astype(np.float64) * 10.0 ** (gain_db / 20.0)).astype(np.float32)
    return louder


def ventilation(n: int, rng: np.random.Generator) -> Samples:
    """A room where nothing runs: air at low frequencies, falling by 5 dB an octave (balance from memory)."""
    hz = np.fft.rfftfreq(n, 1.0 / SAMPLE_RATE_HZ)
    falling = np.maximum(hz, 60.0) ** (-5.0 / (20.0 * np.log10(2.0)))
    made = np.fft.irfft(np.fft.rfft(rng.standard_normal(n)) * falling, n)
    scaled: Samples = (noise.NOISE_RMS * made / np.sqrt(np.mean(made**2))).astype(np.float32)
    return scaled
