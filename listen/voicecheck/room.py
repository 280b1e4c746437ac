"""Measures what a microphone gives: how loud the room is, and what is wrong with the sound.

Sound comes in, figures and plain advice go out. Levels are in dB relative to full scale; a microphone's own
gain is in them, so rooms are compared with the same microphone only, and speech with the room it is in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from listen.audio import FLOOR_DB, Level, level
from listen.engine import SAMPLE_RATE_HZ, Samples

QUIET_S = 3.0
"""How much of a room's sound is measured."""
SILENT_DB = -85.0
"""Below this peak no live microphone is: even a good one's own noise is louder."""
LOUD_ROOM_DB = -35.0
"""A room this loud with nothing running leaves little above it for speech."""
HUM_SHARE, HUM_DB = 0.5, -60.0
"""Mains hum is told of from this share of the sound's power, in a sound at least this loud."""
WEAK_DB = -42.0
"""Speech weaker than this comes from afar, or the input level is low."""
LEAST_APART_DB, GOOD_APART_DB = 8.0, 15.0
"""Speech less far above the room than the first is hardly understood; from the second on all is well."""
_MAINS_HZ = (50.0, 60.0)
_HARMONICS, _HALF_BAND_HZ = 5, 2.0
_FRAME = 512
CLOSER = "A headset or a small microphone at the collar is closer to the mouth and hears less of the room."
HEARD_OF = 30
HEARD_AT_ONCE = {"headset": 25, "collar": 20, "tablet": 2, "ceiling": 2}
"""Requests answered rightly at once in noise of 75 dB(A), by where the microphone is (`rooms` in
`listen/neural/figures.yaml`)."""
_BY_HEADSET, _AT_COLLAR, _ON_TABLET, _AT_CEILING = HEARD_AT_ONCE.values()
DISTANCE = (
    f"Measured with synthesized voices beside a loud handpiece or suction: of {HEARD_OF} requests a headset "
    f"got {_BY_HEADSET} right at once, a microphone at the collar {_AT_COLLAR}, a tablet within reach "
    f"{_ON_TABLET}, one at the ceiling {_AT_CEILING}."
)


class Running(StrEnum):
    """What runs while it is listened to."""

    QUIET = "quiet"
    SUCTION = "suction"
    HANDPIECE = "handpiece"


RUNNING_NAMES = {
    Running.QUIET: "Nothing running",
    Running.SUCTION: "Suction on",
    Running.HANDPIECE: "Handpiece on",
}


@dataclass(frozen=True)
class RoomSound:
    """A stretch of a room's sound. noise: its level; hum_hz: 50 or 60 where mains hum is most of it, else 0;
    stuck: every sample is the same, as of a device that gives nothing."""

    noise: Level
    hum_hz: float = 0.0
    stuck: bool = False

    @property
    def is_dead(self) -> bool:
        """Whether nothing at all comes from the device."""
        return self.stuck or self.noise.peak_db <= SILENT_DB


def measured(samples: Samples) -> RoomSound:
    """Measure a stretch of a room's sound, shape = (n,), 16 kHz; of a constant offset nothing is counted."""
    if not len(samples):
        return RoomSound(Level(FLOOR_DB, FLOOR_DB, 0.0), stuck=True)
    clipped = level(samples).clipped_share
    plain = samples - samples.mean(dtype=np.float64)
    found = level(plain.astype(np.float32))
    stuck = bool(np.ptp(samples) == 0)
    return RoomSound(
        Level(found.rms_db, found.peak_db, clipped), 0.0 if stuck else _hum_hz(plain, found.rms_db), stuck
    )


def _hum_hz(plain: Samples, rms_db: float) -> float:
    """The mains frequency whose harmonics hold most of the power; 0 where they do not."""
    if rms_db < HUM_DB or len(plain) < SAMPLE_RATE_HZ:
        return 0.0
    power = np.abs(np.fft.rfft(plain * np.hanning(len(plain)))) ** 2
    at_hz = np.fft.rfftfreq(len(plain), 1 / SAMPLE_RATE_HZ)
    total = float(power.sum())
    for mains in _MAINS_HZ:
        near = np.zeros(len(at_hz), bool)
        for harmonic in range(1, _HARMONICS + 1):
            near |= np.abs(at_hz - harmonic * mains) <= _HALF_BAND_HZ
        if total and float(power[near].sum()) / total >= HUM_SHARE:
            return mains
    return 0.0


def speech_db(samples: Samples) -> float:
    """How loud somebody speaks: the level of the loudest third of the frames of 32 ms, so that pauses and the
    padding of an utterance do not count. shape = (n,)."""
    whole = samples[: len(samples) // _FRAME * _FRAME].reshape(-1, _FRAME)
    if not len(whole):
        return FLOOR_DB
    power = np.sort(np.mean(np.square(whole, dtype=np.float64), axis=1))[-max(1, len(whole) // 3) :]
    return max(FLOOR_DB, 10 * float(np.log10(power.mean() + 1e-12)))


def room_advice(room: RoomSound, running: Running = Running.QUIET) -> tuple[str, ...]:
    """What to change before anybody reads; () where nothing needs to."""
    if room.is_dead:
        return (
            "No sound comes from this microphone. It is muted or not the one in use: switch it on, choose "
            "another "
            "one, or look whether its plug is in.",
        )
    found = []
    if room.noise.clipped_share > 0.001:
        found.append("The sound is cut off at its loudest: turn the input level down.")
    if room.hum_hz:
        found.append(
            f"Most of what it hears is mains hum ({room.hum_hz:.0f} Hz): try another socket or cable, and "
            "keep the "
            "cable away from power supplies."
        )
    elif running is Running.QUIET and room.noise.rms_db > LOUD_ROOM_DB:
        found.append(f"It is loud here though nothing is running. {CLOSER}")
    return tuple(found)


def room_told(room: RoomSound) -> str:
    """How loud it is."""
    if room.is_dead:
        return "Nothing was heard."
    return f"Measured: {-room.noise.rms_db:.0f} dB below the loudest sound that it can take."


def speech_advice(room: RoomSound | None, spoken: Sequence[Samples]) -> tuple[str, ...]:
    """What the speech itself says about the microphone; () where all is well.

    Args:
        room: with the same things running; None where it was not measured.
        spoken: utterances, shape = (n,) each.
    """
    if not spoken:
        return ()
    loud = float(np.median([speech_db(samples) for samples in spoken]))
    clipped = float(np.mean([level(samples).clipped_share > 0.001 for samples in spoken]))
    found = []
    if clipped > 0.2:
        found.append(
            "Speech is cut off at its loudest: turn the input level down, or move the microphone away a "
            "little."
        )
    apart = None if room is None or room.is_dead else loud - room.noise.rms_db
    if apart is not None and apart < LEAST_APART_DB:
        found.append(
            f"Speech hardly stands out from the noise ({apart:.0f} dB): the microphone is too far away. "
            f"{CLOSER} {DISTANCE}"
        )
    elif loud < WEAK_DB:
        found.append(
            "Speech arrives very softly: the microphone is too far away, or its input level is low. "
            f"{CLOSER} {DISTANCE}"
        )
    elif apart is not None and apart < GOOD_APART_DB:
        found.append(f"Speech stands out from the noise a little ({apart:.0f} dB). {CLOSER}")
    return tuple(found)
