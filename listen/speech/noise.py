"""The sound of a dental chair, made from physics, and speech put into it at a stated level.

Every maker takes a length and a numpy Generator and returns noise at a root mean square of 0.1; the same
generator state gives the same samples. `mix` sets speech over noise by the speech's active level. Figures
without a source beside them are common practice in acoustics or from memory, and say so. Nothing here
knows what is said.

Levels are in dB relative to full scale, where a mean square of 1 is 0 dB (a full-scale sine is -3.01 dB,
as `sox stat` and ffmpeg's `astats` count).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from listen.engine import SAMPLE_RATE_HZ, Samples

Wave = NDArray[np.float64]

NOISE_RMS = 0.1
"""Root mean square of every noise made here (-20 dB)."""

SPEECH_BAND_HZ = (300.0, 3400.0)
"""The band that carries most of intelligibility: the classical telephone band (ITU-T G.712)."""

P56_TIME_CONSTANT_S = 0.03
P56_HANGOVER_S = 0.2
P56_MARGIN_DB = 15.9
"""ITU-T P.56 (12/2011), method B: envelope time constant, hangover and margin."""

LOWEST_DB = -200.0
"""What silence measures."""


def generator_for(*parts: str | int | float) -> np.random.Generator:
    """A generator that belongs to these parts alone (file, kind, level), the same on every machine."""
    digest = hashlib.sha256("\x1f".join(str(p) for p in parts).encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:16], "big"))


# ---------------------------------------------------------------- levels


def level_db(samples: NDArray[np.floating]) -> float:
    """Long-term level: mean square over all samples, in dB re full scale. shape = (n,)."""
    mean_square = float(np.mean(np.square(samples, dtype=np.float64))) if samples.size else 0.0
    return max(LOWEST_DB, 10.0 * np.log10(mean_square)) if mean_square > 0 else LOWEST_DB


@dataclass(frozen=True)
class SpeechLevel:
    """Active level in dB re full scale, and the share of time the talker was active (0..1)."""

    active_db: float
    activity: float


def speech_level(samples: NDArray[np.floating]) -> SpeechLevel:
    """Active speech level after ITU-T P.56, method B.

    The rectified signal is smoothed twice with 0.03 s; for each threshold c (15 steps of 6.02 dB down
    from half of full scale) the samples whose envelope reached c within the last 0.2 s count as active, A(c)
    is the energy spread over them alone, and the level is read where A(c) lies 15.9 dB above c, by
    straight interpolation in dB. Differences to the standard: the smoothing is a convolution with its
    own impulse response cut at 20 time constants, and no band-limiting filter is applied first.

    Args:
        samples: shape = (n,), 16 kHz.
    """
    wave = samples.astype(np.float64)
    energy = float(np.sum(wave**2))
    if energy == 0.0:
        return SpeechLevel(LOWEST_DB, 0.0)
    envelope = _p56_envelope(wave)
    margins: list[tuple[float, float]] = []
    for step in range(1, 31):
        threshold = 0.5**step
        active = int(np.count_nonzero(_held(envelope >= threshold, round(P56_HANGOVER_S * SAMPLE_RATE_HZ))))
        if active == 0:
            continue
        active_db = 10.0 * np.log10(energy / active)
        margins.append((active_db, active_db - 20.0 * np.log10(threshold)))
        if margins[-1][1] >= P56_MARGIN_DB:
            break
    else:
        return SpeechLevel(level_db(wave), 1.0)
    active_db = margins[-1][0]
    if len(margins) > 1:
        (above, margin_above), (below, margin_below) = margins[-2:]
        part = (P56_MARGIN_DB - margin_above) / (margin_below - margin_above)
        active_db = above + part * (below - above)
    return SpeechLevel(active_db, min(1.0, 10.0 ** ((level_db(wave) - active_db) / 10.0)))


def in_band(samples: NDArray[np.floating], band_hz: tuple[float, float] = SPEECH_BAND_HZ) -> Samples:
    """Only what lies inside the band, by a brick-wall filter without phase. shape = (n,)."""
    padded = np.concatenate([samples.astype(np.float64), np.zeros(SAMPLE_RATE_HZ // 4)])
    spectrum = np.fft.rfft(padded)
    hz = np.fft.rfftfreq(len(padded), 1.0 / SAMPLE_RATE_HZ)
    spectrum[(hz < band_hz[0]) | (hz > band_hz[1])] = 0.0
    return np.fft.irfft(spectrum, len(padded))[: len(samples)].astype(np.float32)


def in_band_snr(speech: Samples, noise: Samples) -> float:
    """Active level of the speech over the level of the noise, both inside `SPEECH_BAND_HZ`, in dB."""
    return speech_level(in_band(speech)).active_db - level_db(in_band(noise))


@dataclass(frozen=True)
class Mixture:
    """Speech in noise, and what was reached.

    `samples` shape = (n,), float32 within -1..1. `snr_db` is the active speech level over the long-term
    noise level, `in_band_snr_db` the same inside the speech band, `speech_db` the active level of the
    speech as it stands in the mixture.
    """

    samples: Samples
    snr_db: float
    in_band_snr_db: float
    speech_db: float


def mix(speech: Samples, noise: Samples, snr_db: float) -> Mixture:
    """Put noise under speech so that the active speech level lies `snr_db` above the noise level.

    The level of the noise is its long-term level over the stretch that is used. The speech keeps its
    own level unless the sum would pass full scale; then both are turned down alike.

    Args:
        speech: shape = (n,). Filter it (mask, turned head, room) before mixing.
        noise: shape = (at least n,); the first n samples are used.

    Raises:
        ValueError: the noise is shorter than the speech, or one of them is silent.
    """
    if len(noise) < len(speech):
        raise ValueError(f"noise of {len(noise)} samples is shorter than speech of {len(speech)}; make more")
    under = noise[: len(speech)].astype(np.float64)
    spoken = speech_level(speech)
    if spoken.active_db <= LOWEST_DB or level_db(under) <= LOWEST_DB:
        raise ValueError("silence has no level to set; check the speech and the noise")
    under *= 10.0 ** ((spoken.active_db - snr_db - level_db(under)) / 20.0)
    total = speech + under
    down = min(1.0, 0.99 / float(np.max(np.abs(total))))
    under32 = under.astype(np.float32)
    return Mixture(
        samples=(total * down).astype(np.float32),
        snr_db=spoken.active_db - level_db(under),
        in_band_snr_db=in_band_snr(speech, under32),
        speech_db=spoken.active_db + 20.0 * float(np.log10(down)),
    )


def pad(samples: Samples, before_s: float, after_s: float) -> Samples:
    """The same sound with silence before and after it, so that noise can lead in and out."""
    return np.pad(samples, (round(before_s * SAMPLE_RATE_HZ), round(after_s * SAMPLE_RATE_HZ)))


# ---------------------------------------------------------------- chair noise


def high_speed(n: int, rng: np.random.Generator, work_share: float = 0.7) -> Samples:
    """An air-turbine handpiece.

    The turbine sings at its turning rate: 400,000 turns a minute running free is 6.7 kHz, 250,000 at
    work 4.2 kHz (turns a minute / 60; rates from the trade notes, common practice). It falls when the
    bur touches and recovers with a lag of some 0.1 s; the hand's pressure makes it wander a few
    per cent. Second and higher harmonics, a ball cage near 0.4 of the rate (bearing theory: half the
    shaft rate less a little), exhaust hiss rising with frequency, and while cutting a rough noise between
    500 Hz and 3 kHz that follows the load. Balance between the parts is from memory.

    Args:
        n: samples to make.
        work_share: share of time the bur cuts; 0 is free running.
    """
    free_hz = rng.uniform(5_900.0, 6_600.0)
    work_hz = rng.uniform(3_900.0, 4_500.0)
    cutting = _lagged(_spells(n, rng, work_share, on_s=(0.8, 3.0), off_s=(0.3, 1.2)), 0.1)
    pressure = np.clip(1.0 + 0.25 * _slow(n, rng, 2.0), 0.3, 1.7) * cutting
    rate_hz = free_hz - (free_hz - work_hz) * cutting
    rate_hz *= 1.0 - 0.05 * (pressure - cutting) + 0.004 * _slow(n, rng, 12.0)
    tone = _harmonics(rate_hz, (1.0, 0.25, 0.1), rng) + _harmonics(0.4 * rate_hz, (0.08, 0.04), rng)
    tone *= 1.0 + 0.15 * _slow(n, rng, 6.0)
    hiss = _unit(_noise_shaped(n, rng, ((200, -30), (1_000, -14), (3_000, -4), (6_000, 0), (8_000, 0))))
    rough = _unit(_noise_shaped(n, rng, ((200, -24), (500, -6), (1_200, 0), (3_000, -4), (5_000, -20))))
    rough *= pressure * np.clip(1.0 + 0.4 * _slow(n, rng, 30.0), 0.0, 3.0)
    return _as_noise(_unit(tone) + 0.6 * hiss + 0.7 * rough)


def slow_speed(n: int, rng: np.random.Generator) -> Samples:
    """A slow-speed motor with a contra-angle: lower and rattling.

    8,000 to 30,000 turns a minute are 133 to 500 Hz (common practice). Gears mesh at a small whole
    number of teeth times that, the head's play makes a click of noise each turn, and both rise and
    fall with pressure. Number of teeth and balance are invented.
    """
    turn_hz = rng.uniform(8_000.0, 30_000.0) / 60.0
    rate_hz = turn_hz * (1.0 + 0.03 * _slow(n, rng, 1.5) + 0.005 * _slow(n, rng, 15.0))
    teeth = int(rng.integers(7, 14))
    turn = np.cumsum(rate_hz) / SAMPLE_RATE_HZ
    hum = _harmonics(rate_hz, (1.0, 0.7, 0.5, 0.35, 0.25, 0.15, 0.1), rng)
    mesh = _harmonics(rate_hz * teeth, (1.0, 0.4), rng) * (1.0 + 0.5 * np.sin(2 * np.pi * turn))
    strength = rng.lognormal(0.0, 0.25, int(turn[-1]) + 2)[turn.astype(int)]
    clicks = strength * np.exp(-3.0 * (turn % 1.0))
    rattle = _noise_shaped(n, rng, ((200, -20), (800, -4), (2_000, 0), (4_000, -6), (8_000, -18))) * clicks
    sway = np.clip(1.0 + 0.3 * _slow(n, rng, 2.0), 0.2, 2.0)
    return _as_noise((_unit(hum) + 0.5 * _unit(mesh) + 0.8 * _unit(rattle)) * sway)


def suction(n: int, rng: np.random.Generator) -> Samples:
    """High-volume suction: broad flow noise, the tip's own tone, gurgles, and lips closing on the tip.

    The tip is an open tube and stresses multiples of c / 2L (343 m/s, 11 to 15 cm: 1.1 to 1.6 kHz). Water
    makes bubbles that ring at 3.26 m/s divided by their radius (Minnaert 1933; 1.5 to 8 mm: 0.4 to 2.2 kHz).
    A closed lip seal throttles the flow for some tenths of a second: duller and 6 to 12 dB softer.
    """
    tube_hz = 343.0 / (2.0 * rng.uniform(0.11, 0.15))
    flow = _noise_shaped(n, rng, ((50, -14), (200, -5), (600, 0), (2_000, -3), (5_000, -10), (8_000, -16)))
    ring = sum(_resonance(rng.standard_normal(n), tube_hz * k, 120.0 * k) / k for k in (1, 2, 3))
    open_tip = _unit(flow) + 0.35 * _unit(np.asarray(ring))
    dull = _filtered(open_tip, ((50, 0), (400, 0), (1_000, -8), (3_000, -20), (8_000, -30)))
    seal = _lagged(_spells(n, rng, 0.15, on_s=(0.2, 0.6), off_s=(0.8, 3.5)), 0.03)
    soft = 10.0 ** (-rng.uniform(6.0, 12.0) / 20.0)
    gurgle_share = _lagged(_spells(n, rng, 0.4, on_s=(0.3, 1.5), off_s=(0.5, 2.5)), 0.08)
    flutter = 1.0 + gurgle_share * 0.6 * _slow(n, rng, 14.0)
    steady = (open_tip * (1.0 - seal) + soft * dull * seal) * np.clip(flutter, 0.05, 3.0)
    return _as_noise(steady + 0.7 * _bubbles(n, rng) * gurgle_share * (1.0 - seal))


def ultrasonic(n: int, rng: np.random.Generator) -> Samples:
    """An ultrasonic scaler: the 25 to 30 kHz stroke itself is not heard (common practice).

    What is heard: cavitation's subharmonics at a quarter and a fifth of the stroke (5 to 7.5 kHz), spray
    hiss, and hum of the supply at twice the mains, 120 Hz, with harmonics. Balance is from memory.
    """
    stroke_hz = rng.uniform(25_000.0, 30_000.0) * (1.0 + 0.002 * _slow(n, rng, 3.0))
    squeal = _harmonics(stroke_hz / 4.0, (1.0,), rng) + _harmonics(stroke_hz / 5.0, (0.5,), rng)
    squeal *= np.clip(1.0 + 0.5 * _slow(n, rng, 5.0), 0.0, 3.0)
    spray = _noise_shaped(n, rng, ((200, -24), (1_000, -12), (3_000, -3), (6_000, 0), (8_000, -1)))
    hum = _harmonics(np.full(n, 120.0), (1.0, 0.5, 0.4, 0.2, 0.15, 0.1), rng)
    return _as_noise(0.7 * _unit(squeal) + _unit(spray) + 0.5 * _unit(hum))


def music(n: int, rng: np.random.Generator) -> Samples:
    """A radio in the corner: four chords in a loop, plucked, with a soft beat (equal temperament)."""
    tonic_hz = 110.0 * 2.0 ** (rng.integers(0, 12) / 12.0)
    beat_s = 60.0 / rng.uniform(72.0, 120.0)
    chords = ((0, 4, 7), (9, 12, 16), (5, 9, 12), (7, 11, 14))
    out = np.zeros(n)
    for beat in range(int(n / SAMPLE_RATE_HZ / beat_s) + 1):
        start = round(beat * beat_s * SAMPLE_RATE_HZ)
        room = min(n - start, round(2.0 * beat_s * SAMPLE_RATE_HZ))
        if room <= 0:
            break
        t_s = np.arange(room) / SAMPLE_RATE_HZ
        chord = chords[beat // 4 % len(chords)]
        notes = (*(chord if beat % 2 == 0 else rng.permutation(chord)[:2]), int(rng.choice(chord)) + 12)
        for note in notes:
            hz = tonic_hz * 2.0 ** (note / 12.0)
            for k in range(1, 6):
                out[start : start + room] += (
                    np.sin(2 * np.pi * hz * k * t_s + rng.uniform(0, 6.3)) * np.exp(-t_s * (2.0 + k)) / k
                )
        tap = rng.standard_normal(room) * np.exp(-t_s * 60.0)
        out[start : start + room] += (0.8 if beat % 2 else 0.3) * tap
    return _as_noise(_filtered(out, ((60, -12), (150, 0), (4_000, 0), (8_000, -12))))


def babble(n: int, rng: np.random.Generator, recordings: Sequence[Samples], talkers: int = 5) -> Samples:
    """Other people talking: recordings laid over each other, each at one active level.

    Args:
        recordings: speech of shape = (any,); drawn with replacement, started anywhere, run in a loop.
        talkers: how many at once. One is a competing talker, five or more a murmur.

    Raises:
        ValueError: there is no recording, or one is silent.
    """
    if not recordings:
        raise ValueError("babble needs recordings of other people; pass at least one")
    out = np.zeros(n)
    for _ in range(talkers):
        line = np.zeros(0)
        while len(line) < 2 * n:
            piece = recordings[int(rng.integers(len(recordings)))]
            level = speech_level(piece).active_db
            if level <= LOWEST_DB:
                raise ValueError("a recording for babble is silent; leave it out")
            rest = np.zeros(round(rng.uniform(0.1, 0.6) * SAMPLE_RATE_HZ))
            line = np.concatenate([line, piece * 10.0 ** (-level / 20.0), rest])
        start = int(rng.integers(len(line) - n + 1))
        out += line[start : start + n] * 10.0 ** (rng.uniform(-3.0, 3.0) / 20.0)
    return _as_noise(out)


NOISES: dict[str, Callable[[int, np.random.Generator], Samples]] = {
    "high speed": high_speed,
    "slow speed": slow_speed,
    "suction": suction,
    "ultrasonic": ultrasonic,
    "music": music,
}
"""Noises that need nothing but a length and a generator; `babble` needs recordings as well."""


def chair(n: int, rng: np.random.Generator) -> Samples:
    """Handpiece and suction together, as in real work: the suction 0 to 6 dB below the handpiece."""
    return _as_noise(high_speed(n, rng) + 10.0 ** (-rng.uniform(0.0, 6.0) / 20.0) * suction(n, rng))


# ---------------------------------------------------------------- room, mask, turned head


@dataclass(frozen=True)
class Room:
    """A small treatment room. Volume in cubic metres, reverberation time in seconds, distance in metres."""

    volume_m3: float = 35.0
    t60_s: float = 0.45
    distance_m: float = 0.7

    @property
    def direct_to_reverb_db(self) -> float:
        """Direct over reverberant energy: the critical distance is 0.057 sqrt(V / T60) (room acoustics)."""
        critical_m = 0.057 * float(np.sqrt(self.volume_m3 / self.t60_s))
        return 20.0 * float(np.log10(critical_m / self.distance_m))


def room_response(room: Room, rng: np.random.Generator) -> Wave:
    """Impulse response: a direct sound of 1 and an exponentially decaying Gaussian tail.

    The statistical model of Polack (1988): noise whose energy falls by 60 dB in T60, from 2 ms on, scaled to
    the direct-to-reverberant ratio of the room. shape = (1.2 T60 in samples,).
    """
    n = round(1.2 * room.t60_s * SAMPLE_RATE_HZ)
    t_s = np.arange(n) / SAMPLE_RATE_HZ
    tail = rng.standard_normal(n) * 10.0 ** (-3.0 * t_s / room.t60_s)
    tail[: round(0.002 * SAMPLE_RATE_HZ)] = 0.0
    tail *= np.sqrt(10.0 ** (-room.direct_to_reverb_db / 10.0) / np.sum(tail**2))
    tail[0] = 1.0
    return tail


def reverberate(samples: Samples, response: Wave) -> Samples:
    """The sound in the room, of the same length (the tail past the end is cut). shape = (n,)."""
    return _convolved(samples.astype(np.float64), response).astype(np.float32)


def mask_filter(samples: Samples, face_shield: bool = False) -> Samples:
    """Speech through a pleated surgical mask, and a face shield over it if asked.

    A surgical mask takes about 3 to 4 dB above 2 kHz and nothing below 1 kHz; a shield takes more, with a
    small gain near 800 Hz (after Corey, Jones and Singer, J. Acoust. Soc. Am. 148 (2020) 2371; the
    points are from memory).
    """
    through = _filtered(samples, ((100, 0), (1_000, 0), (2_000, -2), (3_000, -3.5), (5_000, -4), (8_000, -4)))
    if face_shield:
        points = ((100, 0), (500, 1), (800, 3), (1_500, -1), (3_000, -7), (5_000, -9), (8_000, -10))
        through = _filtered(through, points)
    return through.astype(np.float32)


TURNED_HZ = (100.0, 250.0, 500.0, 1_000.0, 2_000.0, 4_000.0, 8_000.0)
TURNED_90_DB = (0.0, -1.0, -1.5, -2.5, -4.0, -6.0, -8.0)
TURNED_180_DB = (-1.0, -3.0, -6.0, -8.0, -12.0, -17.0, -20.0)
"""Radiation beside and behind a talker's head (after Chu and Warnock, NRC IRC-RR-104, 2002; from memory)."""


def turned_head_filter(samples: Samples, angle_deg: float) -> Samples:
    """Speech of somebody who looks `angle_deg` (0 to 180) away from the microphone. shape = (n,)."""
    angle = abs(angle_deg)
    if angle > 180.0:
        raise ValueError(f"a head turns by 0 to 180 degrees, not {angle_deg}")
    beside, behind = np.array(TURNED_90_DB), np.array(TURNED_180_DB)
    gains = beside * angle / 90.0 if angle <= 90.0 else beside + (behind - beside) * (angle - 90.0) / 90.0
    return _filtered(samples, tuple(zip(TURNED_HZ, gains.tolist(), strict=True))).astype(np.float32)


# ---------------------------------------------------------------- building blocks

Points = Sequence[tuple[float, float]]
"""(Hz, dB) pairs, rising in Hz; between them straight lines over log frequency."""


def _p56_envelope(wave: Wave) -> Wave:
    decay = float(np.exp(-1.0 / (SAMPLE_RATE_HZ * P56_TIME_CONSTANT_S)))
    k = np.arange(round(20 * P56_TIME_CONSTANT_S * SAMPLE_RATE_HZ))
    return _convolved(np.abs(wave), (1.0 - decay) ** 2 * (k + 1) * decay**k)


def _held(marks: NDArray[np.bool_], hold: int) -> NDArray[np.bool_]:
    """True where any of the last `hold` samples (this one too) was marked."""
    counts = np.concatenate([[0], np.cumsum(marks)])
    ends = np.arange(1, len(marks) + 1)
    return counts[ends] > counts[np.maximum(ends - hold, 0)]


def _convolved(wave: Wave, response: Wave) -> Wave:
    """Causal convolution cut to the length of `wave`."""
    size = 1 << (len(wave) + len(response) - 1).bit_length()
    return np.fft.irfft(np.fft.rfft(wave, size) * np.fft.rfft(response, size), size)[: len(wave)]


def _filtered(wave: NDArray[np.floating], points: Points) -> Wave:
    """Gains in dB over frequency, without phase; padded so that the end does not leak to the start."""
    padded = np.concatenate([wave.astype(np.float64), np.zeros(SAMPLE_RATE_HZ // 8)])
    hz = np.fft.rfftfreq(len(padded), 1.0 / SAMPLE_RATE_HZ)
    at, gain_db = zip(*points, strict=True)
    gains = 10.0 ** (np.interp(np.log(np.maximum(hz, 1.0)), np.log(at), gain_db) / 20.0)
    return np.fft.irfft(np.fft.rfft(padded) * gains, len(padded))[: len(wave)]


def _resonance(wave: Wave, centre_hz: float, width_hz: float) -> Wave:
    """A peak of the given width at half power (a Lorentzian), without phase."""
    hz = np.fft.rfftfreq(len(wave), 1.0 / SAMPLE_RATE_HZ)
    gain = 1.0 / np.sqrt(1.0 + ((hz - centre_hz) / (width_hz / 2.0)) ** 2)
    return np.fft.irfft(np.fft.rfft(wave) * gain, len(wave))


def _noise_shaped(n: int, rng: np.random.Generator, points: Points) -> Wave:
    return _filtered(rng.standard_normal(n), points)


def _slow(n: int, rng: np.random.Generator, cutoff_hz: float) -> Wave:
    """A wandering curve of mean about 0 and variance about 1 without anything above `cutoff_hz`."""
    spare = n + round(2 * SAMPLE_RATE_HZ / cutoff_hz)
    knots = max(4, round(spare / SAMPLE_RATE_HZ * cutoff_hz * 2) + 4)
    at = np.arange(n) / SAMPLE_RATE_HZ * cutoff_hz * 2
    values = rng.standard_normal(knots)
    left = np.minimum(at.astype(int), knots - 2)
    part = 0.5 - 0.5 * np.cos(np.pi * (at - left))
    curve: Wave = (values[left] * (1 - part) + values[left + 1] * part) * 1.15
    return curve


def _lagged(curve: Wave, lag_s: float) -> Wave:
    """First-order lag, starting settled at the curve's first value."""
    k = np.arange(round(8 * lag_s * SAMPLE_RATE_HZ))
    response = np.exp(-k / (lag_s * SAMPLE_RATE_HZ))
    lagged: Wave = curve[0] + _convolved(curve - curve[0], response / response.sum())
    return lagged


def _spells(
    n: int, rng: np.random.Generator, share: float, on_s: tuple[float, float], off_s: tuple[float, float]
) -> Wave:
    """1 while something goes on and 0 between; spells are drawn so that about `share` of the time is on."""
    if share in (0.0, 1.0):
        return np.full(n, share)
    out = np.zeros(n)
    pause = (sum(on_s) / share * (1.0 - share)) / sum(off_s)
    on, at = bool(rng.random() < share), 0
    while at < n:
        length_s = rng.uniform(*on_s) if on else rng.uniform(*off_s) * pause
        end = at + max(1, round(length_s * SAMPLE_RATE_HZ))
        out[at:end] = float(on)
        on, at = not on, end
    return out


def _harmonics(rate_hz: Wave, weights: Sequence[float], rng: np.random.Generator) -> Wave:
    """A tone that follows `rate_hz`, shape = (n,), with its harmonics; what passes 8 kHz is left out."""
    phase = 2.0 * np.pi * np.cumsum(rate_hz) / SAMPLE_RATE_HZ
    out = np.zeros(len(rate_hz))
    for k, weight in enumerate(weights, start=1):
        heard = rate_hz * k < SAMPLE_RATE_HZ / 2
        out += weight * heard * np.sin(k * phase + rng.uniform(0.0, 2.0 * np.pi))
    return out


def _bubbles(n: int, rng: np.random.Generator, a_second: float = 40.0) -> Wave:
    """Bubbles that ring at Minnaert's frequency, rise a little and die out within hundredths of a second."""
    out = np.zeros(n)
    length = round(0.05 * SAMPLE_RATE_HZ)
    t_s = np.arange(length) / SAMPLE_RATE_HZ
    for start in rng.integers(0, max(1, n - length), int(a_second * n / SAMPLE_RATE_HZ) + 1):
        hz = 3.26 / rng.uniform(0.0015, 0.008)
        ring = np.sin(2 * np.pi * hz * (t_s + 4.0 * t_s**2)) * np.exp(-t_s * hz / 12.0)
        room = min(length, n - int(start))
        out[start : start + room] += rng.lognormal(0.0, 0.5) * ring[:room]
    return _unit(out)


def _unit(wave: Wave) -> Wave:
    rms = float(np.sqrt(np.mean(wave**2)))
    return wave / rms if rms > 0 else wave


def _as_noise(wave: Wave) -> Samples:
    return (NOISE_RMS * _unit(wave)).astype(np.float32)
