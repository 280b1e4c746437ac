"""One engine for all screens, and what happens when it cannot keep up."""

import asyncio
import threading

import numpy as np
import pytest

from listen.engine import EngineFailed, Hearing
from listen.live.engine_queue import MOST_WAITING, EarState, EngineQueue, Job
from listen.live.listener import Listener
from listen.segments import EARLY_S, FRAME, EarlySegmenter, Utterance
from tests.listen.web.desk_app import StandIn, recording
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
    engine_queue = EngineQueue(lambda: slow)
    engine_queue.start()
    first = engine_queue.hear("a", SOUND)
    assert slow.began.wait(10)
    jobs = [engine_queue.hear("a", SOUND + i) for i in range(1, 5)]
    other = engine_queue.hear("b", SOUND + 9)
    slow.go.set()
    for job in (first, *jobs[-MOST_WAITING:], other):
        job.done.result(10)
    assert all(job.done.cancelled() for job in jobs[:-MOST_WAITING])
    assert slow.order == [0.0, 3.0, 9.0, 4.0]
    engine_queue.stop()


def test_an_engine_that_is_missing_says_what_to_do() -> None:
    told = threading.Event()

    def load() -> StandIn:
        raise TraycallError("install it")

    engine_queue = EngineQueue(load, told.set)
    engine_queue.start()
    assert told.wait(10)
    assert (engine_queue.state, engine_queue.problem) == (EarState.MISSING, "install it")
    assert engine_queue.hear("a", SOUND).done.cancelled()
    assert engine_queue.loaded() is None


def test_whoever_needs_the_engine_waits_until_it_is_loaded() -> None:
    go, asked, engine = threading.Event(), threading.Event(), StandIn()

    def load() -> StandIn:
        go.wait(10)
        return engine

    engine_queue = EngineQueue(load)
    engine_queue.start()
    got: list[object] = []

    def ask() -> None:
        asked.set()
        got.append(engine_queue.loaded())

    waiting = threading.Thread(target=ask)
    waiting.start()
    assert asked.wait(10) and not got
    go.set()
    waiting.join(10)
    assert got == [engine]
    engine_queue.stop()


def test_one_bad_utterance_does_not_end_the_hearing() -> None:
    class Bad(StandIn):
        def hear(self, samples: np.ndarray) -> Hearing:
            if samples[0] == 1.0:
                raise RuntimeError("broken")
            return super().hear(samples)

    engine_queue = EngineQueue(Bad)
    engine_queue.start()
    bad, good = engine_queue.hear("a", SOUND + 1), engine_queue.hear("b", SOUND)
    with pytest.raises(EngineFailed, match="RuntimeError: broken"):
        bad.done.result(10)
    assert good.done.result(10).free_text == ""
    engine_queue.stop()


def test_what_was_said_so_far_is_the_utterance_without_its_last_silence() -> None:
    """The guess and the finished utterance hold the same sound up to the pause, and equally much after it."""
    segmenter = EarlySegmenter(endpoint_s=0.4)
    samples = recording(5)
    guess = None
    for i in range(0, len(samples), FRAME):
        for utterance in segmenter.push(samples[i : i + FRAME]):
            assert guess is not None
            assert guess.start_s == utterance.start_s and guess.end_s <= utterance.end_s
            heard = round((guess.end_s - guess.start_s + EARLY_S) * 16_000)
            assert np.array_equal(guess.samples[:heard], utterance.samples[:heard])
            later_s = utterance.end_s - guess.end_s  # a pause begins before an utterance ends
            assert len(guess.samples) == len(utterance.samples) - round(later_s * 16_000)
            return
        if segmenter.pausing:
            guess = guess or segmenter.so_far()
        elif segmenter.speaking:
            guess = None
    pytest.fail("no utterance was found in the recording")


def test_an_utterance_ended_early_leaves_the_next_whole() -> None:
    """Ended in the pause after it, the same recording said twice is heard twice, with the same sound."""
    segmenter = EarlySegmenter(endpoint_s=0.4)
    said = []
    samples = np.concatenate([recording(5), recording(5)])
    for i in range(0, len(samples), FRAME):
        assert segmenter.push(samples[i : i + FRAME]) == []
        if segmenter.pausing and segmenter.pause_s >= 0.25:
            said.append(segmenter.end_now())
            assert not segmenter.speaking and segmenter.end_now() is None
    lengths = [len(one.samples) for one in said if one is not None]
    assert len(lengths) == 2 and abs(lengths[0] - lengths[1]) <= 3 * FRAME


class AtOnce(EngineQueue):
    """Hears at once, in no thread of its own, so that only the sound's time counts."""

    def __init__(self, engine: StandIn) -> None:
        super().__init__(lambda: engine)
        self.told, self.of("").state = engine, EarState.READY

    def hear(self, screen: str, samples: np.ndarray) -> Job:
        job = Job(screen, samples)
        job.done.set_result(self.told.hear(samples))
        return job


class Screen:
    """What a listener is told to show, and what it heard; its engine hears what it is told."""

    def __init__(self, engine: StandIn, enough_s: float | None) -> None:
        self.engine, self.enough_s = engine, enough_s
        self.texts: list[str] = []
        self.ends_s: list[float] = []
        self.failed: list[str] = []

    async def heard(self, hearing: Hearing, utterance: Utterance) -> None:
        self.texts.append(hearing.free_text)
        self.ends_s.append(utterance.end_s)

    async def enough(self, hearing: Hearing) -> float | None:
        return self.enough_s

    async def listen(self, samples: np.ndarray, endpoint_s: float) -> int:
        """Push the samples frame by frame; how many frames it took until the first text was there."""
        listener = Listener(
            "one",
            AtOnce(self.engine),
            endpoint_s,
            self.heard,
            lambda state: None,
            self.failed.append,
            self.enough,
        )
        first = -1
        for at in range(0, len(samples), FRAME):
            listener.push(samples[at : at + FRAME])
            for _ in range(20):  # all that is ready to run has its turn
                await asyncio.sleep(0)
            if self.texts and first < 0:
                first = at // FRAME
        await listener.finish()
        await listener.delivered()
        return first


def first_text(text: str, enough_s: float | None, endpoint_s: float = 0.6) -> tuple[int, Screen]:
    engine = StandIn()
    engine.texts.extend([text] * 9)
    screen = Screen(engine, enough_s)
    return asyncio.run(screen.listen(recording(5), endpoint_s)), screen


def test_a_guess_that_is_enough_ends_the_utterance_sooner() -> None:
    soon, one = first_text("the mirror", 0.25)
    later, two = first_text("the mirror", 0.4)
    last, three = first_text("the mirror", None)
    assert soon < later < last
    assert [len(screen.texts) for screen in (one, two, three)] == [1, 1, 1]


def test_a_guess_that_stops_amid_a_name_ends_the_utterance_later_than_any_other() -> None:
    """Two recordings with a pause between them that would otherwise end the first."""
    words = clip_of(recording(5))
    pause, silence = np.zeros(round(0.5 * 16_000), np.float32), np.zeros(24_000, np.float32)
    counts = []
    for enough_s in (None, 0.9):
        engine = StandIn()
        engine.texts.extend(["the mirror"] * 9)
        screen = Screen(engine, enough_s)
        asyncio.run(screen.listen(np.concatenate([silence, words, pause, words, silence]), 0.35))
        counts.append(len(screen.texts))
    assert counts == [2, 1]


def test_a_guess_is_thrown_away_where_speech_goes_on() -> None:
    """Two recordings with a pause between them that is long enough for a guess, and shorter than enough."""
    engine = StandIn()
    engine.texts.extend([f"guess {i}" for i in range(9)])
    screen = Screen(engine, 0.5)
    words = clip_of(recording(5))
    pause = np.zeros(round(0.3 * 16_000), np.float32)
    silence = np.zeros(16_000, np.float32)
    asyncio.run(screen.listen(np.concatenate([silence, words, pause, words, silence]), 0.6))
    assert len(screen.texts) == 1 and screen.texts != ["guess 0"]
    assert screen.ends_s[0] > 1 + 2 * len(words) / 16_000


def clip_of(samples: np.ndarray) -> np.ndarray:
    """Without the silence around it."""
    loud = np.flatnonzero(np.abs(samples) > 0.02)
    return samples[loud[0] : loud[-1]]
