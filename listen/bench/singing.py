"""A song with words behind the speech, made: spoken sentences that are given a tune, over made music.

Speech comes in, something like singing goes out. The WORLD vocoder (Morise, Yokomori and Ozawa, IEICE Trans.
E99-D (2016) 1877) keeps the words and puts notes in place of the voice's own melody. No singer would be taken
in by it, but it has what makes songs hard to hear over: words, held notes and a beat.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Sequence

import numpy as np

from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.speech import noise
from listen.speech.noise import Wave
from listen.speech.voices import VoiceMissing

SLOWER = 0.7
"""How fast words are sung, as a share of how fast they were spoken."""
NOTE_S = (0.3, 0.7)
SCALE = (0, 2, 4, 7, 9, 12)
"""Semitones of a major pentatonic scale."""
VIBRATO_HZ, VIBRATO_SEMITONES = 5.5, 0.4
FRAME_S = 0.005
OVER_MUSIC_DB = 3.0
"""How far the voice stands above its accompaniment (a usual mix; from memory)."""


def sung(spoken: Samples, rng: np.random.Generator) -> Samples:
    """The words of `spoken` as a song. shape = (about n / SLOWER,), 16 kHz.

    Raises:
        VoiceMissing: the WORLD vocoder is not installed.
    """
    if importlib.util.find_spec("pyworld") is None:
        raise VoiceMissing("a song with words needs the WORLD vocoder; install it with: pip install pyworld")
    import pyworld

    own_hz, envelope, aperiodicity = pyworld.wav2world(
        spoken.astype(np.float64), SAMPLE_RATE_HZ, frame_period=1000 * FRAME_S
    )
    frames = np.minimum(np.arange(0, len(own_hz), SLOWER).astype(int), len(own_hz) - 1)
    voiced = own_hz[frames] > 0
    lowest_hz = float(np.median(own_hz[own_hz > 0])) if np.any(own_hz > 0) else 120.0
    made = pyworld.synthesize(
        np.where(voiced, melody(len(frames), lowest_hz, rng), 0.0),
        np.ascontiguousarray(envelope[frames]),
        np.ascontiguousarray(aperiodicity[frames]),
        SAMPLE_RATE_HZ,
        1000 * FRAME_S,
    )
    return np.asarray(made, np.float32)


def melody(frames: int, lowest_hz: float, rng: np.random.Generator) -> Wave:
    """Notes of the scale from `lowest_hz` up, each held for a while with vibrato. shape = (frames,), Hz."""
    semitones = np.zeros(frames)
    at = 0
    while at < frames:
        end = at + round(rng.uniform(*NOTE_S) / FRAME_S)
        semitones[at:end] = rng.choice(SCALE)
        at = end
    time_s = np.arange(frames) * FRAME_S
    semitones += VIBRATO_SEMITONES * np.sin(2 * np.pi * VIBRATO_HZ * time_s)
    hz: Wave = lowest_hz * 2.0 ** (semitones / 12.0)
    return hz


def song(n: int, rng: np.random.Generator, spoken: Sequence[Samples]) -> Samples:
    """Music with somebody singing these sentences to it, for all of its length. shape = (n,)."""
    line = np.zeros(0, np.float32)
    while len(line) < n:
        line = np.concatenate([line, *(sung(one, rng) for one in spoken)])
    first = int(rng.integers(len(line) - n + 1))
    return noise.mix(line[first : first + n], noise.music(n, rng), OVER_MUSIC_DB).samples
