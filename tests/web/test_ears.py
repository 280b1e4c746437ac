"""One engine for all screens, and what happens when it cannot keep up."""

import threading

import numpy as np
import pytest

from listen.engine import Hearing
from listen.web.early import EARLY_S, EarlySegmenter
from listen.web.ears import MOST_WAITING, Ears, EarState
from tests.web.desk_app import StandIn, recording
from vocab.errors import TraycallError

SOUND = np.zeros(1600, np.float32)


class Slow(StandIn):
    """Waits until it is let go."""

    def __init__(self) -> None:
        super().__init__()
        self.go, self.began = threading.Event(), threading.Event()
        self.order: list[float] = []

    def hear(self, samples: np.ndarray) -> Hearing:
        self.began.set()
        self.go.wait(10)
        self.order.append(float(samples[0]))
        return super().hear(samples)


def test_stale_utterances_of_a_screen_are_dropped_and_screens_take_turns() -> None:
    slow = Slow()
    ears = Ears(lambda: slow)
    ears.start()
    first = ears.hear("a", SOUND)
    assert slow.began.wait(10)
    jobs = [ears.hear("a", SOUND + i) for i in range(1, 5)]
    other = ears.hear("b", SOUND + 9)
    slow.go.set()
    for job in (first, *jobs[-MOST_WAITING:], other):
        job.done.result(10)
    assert all(job.done.cancelled() for job in jobs[:-MOST_WAITING])
    assert slow.order == [0.0, 3.0, 9.0, 4.0]
    ears.stop()


def test_an_engine_that_is_missing_says_what_to_do() -> None:
    told = threading.Event()

    def load() -> StandIn:
        raise TraycallError("install it")

    ears = Ears(load, told.set)
    ears.start()
    assert told.wait(10)
    assert (ears.state, ears.problem) == (EarState.MISSING, "install it")
    assert ears.hear("a", SOUND).done.cancelled()
    assert ears.loaded() is None


def test_whoever_needs_the_engine_waits_until_it_is_loaded() -> None:
    go, asked, engine = threading.Event(), threading.Event(), StandIn()

    def load() -> StandIn:
        go.wait(10)
        return engine

    ears = Ears(load)
    ears.start()
    got: list[object] = []

    def ask() -> None:
        asked.set()
        got.append(ears.loaded())

    waiting = threading.Thread(target=ask)
    waiting.start()
    assert asked.wait(10) and not got
    go.set()
    waiting.join(10)
    assert got == [engine]
    ears.stop()


def test_one_bad_utterance_does_not_end_the_hearing() -> None:
    class Bad(StandIn):
        def hear(self, samples: np.ndarray) -> Hearing:
            if samples[0] == 1.0:
                raise RuntimeError("broken")
            return super().hear(samples)

    ears = Ears(Bad)
    ears.start()
    bad, good = ears.hear("a", SOUND + 1), ears.hear("b", SOUND)
    with pytest.raises(RuntimeError):
        bad.done.result(10)
    assert good.done.result(10).free_text == ""
    ears.stop()


def test_what_was_said_so_far_is_the_utterance_without_its_last_silence() -> None:
    """The guess and the finished utterance hold the same sound up to the pause."""
    segmenter = EarlySegmenter(endpoint_s=0.4)
    samples = recording(5)
    guess = None
    for i in range(0, len(samples), 512):
        for utterance in segmenter.push(samples[i : i + 512]):
            assert guess is not None
            assert guess.start_s == utterance.start_s and guess.end_s == utterance.end_s
            heard = round((guess.end_s - guess.start_s + EARLY_S) * 16_000)
            assert np.array_equal(guess.samples[:heard], utterance.samples[:heard])
            assert len(guess.samples) == len(utterance.samples)
            return
        if segmenter.pausing:
            guess = guess or segmenter.so_far()
        elif segmenter.voiced_frames:
            guess = None
    pytest.fail("no utterance was found in the recording")
