"""The sped-up shift: its clock is the sound's own, and a hearing made in a pause costs no waiting."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from listen.audio import file_blocks
from listen.engine import SAMPLE_RATE_HZ, Hearing, Phrasing, Samples
from listen.verdict import Verdict

shift = pytest.importorskip(
    "listen.bench.long_shift", reason="needs pip install -e '.[bench]'", exc_type=ImportError
)

RECORDINGS = Path(__file__).parents[3] / "recordings_demo"
ENDPOINT_S = 0.35


class _Clock:
    """Stands still but for the seconds that hearing takes."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class _Engine:
    name = "neural"

    def __init__(self, clock: _Clock, takes_s: float) -> None:
        self._clock, self._takes_s = clock, takes_s

    def hear(self, samples: Samples) -> Hearing:
        self._clock.now_s += self._takes_s
        return Hearing(
            (Phrasing("the mouth mirror please", -1.0),), "the mouth mirror please", -1.0, -1.0, 1.5
        )


@pytest.fixture(scope="module")
def judge() -> object:
    from listen.bench.systems import SystemJudge
    from vocab.pack.load import shipped_pack

    return SystemJudge(shipped_pack())


def delay_s(judge: object, takes_s: float) -> float:
    """From the end of a recording's sound to the verdict."""
    from listen.bench import systems
    from listen.bench.clips import without_silence

    recording = RECORDINGS / "audio" / "001.flac"
    words = without_silence(np.concatenate(list(file_blocks(recording))))
    sound = np.concatenate([words, np.zeros(SAMPLE_RATE_HZ, np.float32)])
    clock = _Clock()
    chair = shift.SimulatedChair(
        _Engine(clock, takes_s), judge, systems.find(["neural"], None)[0], ENDPOINT_S, clock
    )
    judged = [v for at in range(0, len(sound), shift.BLOCK) for v in chair.push(sound[at : at + shift.BLOCK])]
    assert judged[-1].outcome.verdict is Verdict.ANSWER
    return float(judged[-1].ready_s - len(words) / SAMPLE_RATE_HZ)


def test_hearing_within_the_pause_adds_nothing_to_the_wait(judge: object) -> None:
    assert delay_s(judge, 0.1) == pytest.approx(delay_s(judge, 0.0), abs=1e-6)


def test_hearing_longer_than_the_pause_adds_what_is_left_of_it(judge: object) -> None:
    at_once = delay_s(judge, 0.0)
    late = delay_s(judge, 1.0)
    assert at_once == pytest.approx(ENDPOINT_S, abs=0.25)
    assert at_once + 0.5 < late < at_once + 1.0


@pytest.mark.slow
def test_an_hour_holds_what_it_says_and_no_line_overlaps_another() -> None:
    words = np.full(SAMPLE_RATE_HZ, 0.1, np.float32) * np.sin(np.arange(SAMPLE_RATE_HZ)).astype(np.float32)
    lines = [shift.ShiftLine(words, "mirror"), shift.ShiftLine(words, None)]
    seen = {}
    for kind, samples, said in shift.stretches(lines, np.random.default_rng(3)):
        seen[kind] = len(samples) / SAMPLE_RATE_HZ
        assert all(a.end_s < b.start_s for a, b in zip(said, said[1:], strict=False))
        assert {s.item for s in said} == {"talk": {None}, "requests": {"mirror"}}.get(kind, set())
    assert seen == shift.STRETCHES_S
