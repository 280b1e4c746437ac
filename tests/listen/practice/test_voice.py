"""Answers by voice: when they begin, silence, and requests in chair noise."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import pytest
from fsrs import Rating

from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.practice.schedule import reviewed
from listen.practice.voice import StreamListener, in_chair_noise, noise_level_db
from listen.speech import voices
from tests.listen.practice.classroom import NOON


def listener(samples: Samples, at_s: float = 100.0) -> StreamListener:
    @contextmanager
    def blocks() -> Iterator[Iterator[Samples]]:
        yield (samples[i : i + 800] for i in range(0, len(samples), 800))

    return StreamListener(blocks, lambda: at_s)


@pytest.fixture(scope="module")
def answer() -> Samples:
    voice = voices.voice("flite-slt")
    if voice not in voices.available():
        pytest.skip("flite, whose voice answers here, is not installed: apt install flite")
    return voices.synthesize(voice, "The amalgam carrier.")


def silence(seconds: float) -> Samples:
    return np.zeros(round(seconds * SAMPLE_RATE_HZ), np.float32)


def test_an_answer_begins_when_the_voice_does(answer: Samples) -> None:
    spoken = listener(np.concatenate([silence(2.0), answer, silence(1.5)])).answer(10.0)
    assert spoken is not None
    assert spoken.start_s == pytest.approx(102.0, abs=0.3)
    assert len(spoken.samples) >= 0.6 * len(answer)


def test_an_answer_that_the_end_of_the_stream_cuts_is_still_heard(answer: Samples) -> None:
    assert listener(np.concatenate([silence(0.5), answer])).answer(10.0) is not None


def test_silence_is_no_answer() -> None:
    assert listener(silence(4.0)).answer(2.0) is None
    assert listener(silence(1.0)).answer(5.0) is None


def test_noise_rises_as_a_topic_is_known_better() -> None:
    assert noise_level_db(None) is None
    levels = []
    for days in (1.0, 5.0, 15.0, 60.0):
        card = reviewed(None, Rating.Good, NOON)
        card.stability = days
        levels.append(noise_level_db(card))
    assert levels == [None, 20.0, 10.0, 5.0]


def test_a_request_in_noise_is_longer_and_in_quiet_unchanged(answer: Samples) -> None:
    rng = np.random.default_rng(0)
    assert in_chair_noise(answer, None, rng) is answer
    noisy = in_chair_noise(answer, 5.0, rng)
    assert len(noisy) == len(answer) + round(0.5 * SAMPLE_RATE_HZ)
    assert np.abs(noisy[:1000]).max() > 0
