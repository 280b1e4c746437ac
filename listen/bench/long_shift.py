"""A long shift at the chair, sped up: what hearing costs, how late a verdict is, whether anything grows.

Takes clips of the benchmark, an engine and a number of hours; returns figures for every hour. The sound is
real, only the clock is not: blocks are handed on as fast as they are processed, and the time of an answer is
computed from the sound's own time and the time that each computation really took. As on the chair screen, an
utterance is heard in its first short pause, and that hearing is used if the pause lasts as long as it needs.

An hour is made of stretches: nobody speaks; nobody speaks but the handpiece runs; people talk to each other;
requests are made, the second half of them in noise.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import psutil

from listen.bench.clips import LEAD_S
from listen.bench.systems import System, SystemJudge, SystemOutcome
from listen.engine import SAMPLE_RATE_HZ, Engine, Samples
from listen.segments import EarlySegmenter, Utterance
from listen.speech import noise
from listen.verdict import Verdict

STRETCHES_S = {"silence": 1500.0, "handpiece": 600.0, "talk": 900.0, "requests": 600.0}
"""The stretches of an hour, in seconds."""
BLOCK = SAMPLE_RATE_HZ // 50
ROOM_RMS = 0.0005
"""Room tone, about 40 dB below speech."""
NOISE_RMS = 0.02
SPEECH_OVER_NOISE_DB = 10.0
SPEECH_DB = -26.0
"""Active level that every clip is brought to (the usual level of ITU-T speech files)."""
TALK_PAUSE_S, REQUEST_PAUSE_S = (0.6, 3.0), (4.0, 15.0)


@dataclass(frozen=True)
class ShiftLine:
    """Words with nothing around them, shape = (n,); `item` is None if nothing is asked for."""

    words: Samples
    item: str | None


@dataclass(frozen=True)
class SpokenLine:
    """When in the stream a line was spoken."""

    start_s: float
    end_s: float
    item: str | None


@dataclass(frozen=True)
class TimedVerdict:
    """A judged utterance: when its words began and when its verdict was ready, in seconds of the stream."""

    start_s: float
    ready_s: float
    outcome: SystemOutcome


@dataclass
class Account:
    """What one kind of stretch cost: seconds of sound and of processor time."""

    sound_s: float = 0.0
    cpu_s: float = 0.0


@dataclass
class Hour:
    """One hour's figures. delays_ms: from the last word of a request to its answer or check."""

    accounts: dict[str, Account] = field(default_factory=dict)
    delays_ms: list[float] = field(default_factory=list)
    right: int = 0
    wrong: int = 0
    checked: int = 0
    missed: int = 0
    chatter: int = 0
    chatter_answered: int = 0
    hearings: int = 0
    memory_mb: float = 0.0
    handles: int = 0
    threads: int = 0

    @property
    def facts(self) -> dict[str, Any]:
        """As plain values; a share of 1 is one core kept busy."""
        ms = np.array(self.delays_ms or [np.nan])
        return {
            "core share": {k: round(a.cpu_s / a.sound_s, 4) for k, a in self.accounts.items() if a.sound_s},
            "verdict after the last word, ms": {
                "median": round(float(np.median(ms)), 1),
                "95th": round(float(np.percentile(ms, 95)), 1),
                "of": len(self.delays_ms),
            },
            "requests": {k: getattr(self, k) for k in ("right", "checked", "wrong", "missed")},
            "chatter": {"lines": self.chatter, "answered": self.chatter_answered},
            "hearings": self.hearings,
            "memory_mb": round(self.memory_mb, 1),
            "handles": self.handles,
            "threads": self.threads,
        }


class SimulatedChair:
    """Segmenter, engine and judge driven by the stream's clock.

    Args:
        clock: seconds of the machine.
    """

    def __init__(
        self,
        engine: Engine,
        judge: SystemJudge,
        system: System,
        endpoint_s: float,
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        self._engine, self._judge, self._system, self._clock = engine, judge, system, clock
        self._segmenter = EarlySegmenter(endpoint_s=endpoint_s)
        self._now_s = 0.0
        self._free_s = 0.0
        self._guess: tuple[SystemOutcome, float] | None = None
        self.hearings = 0

    def push(self, block: Samples) -> list[TimedVerdict]:
        """Hear the next block, shape = (n,)."""
        self._now_s += len(block) / SAMPLE_RATE_HZ
        verdicts = [self._verdict(utterance) for utterance in self._segmenter.push(block)]
        if not self._segmenter.pausing:
            self._guess = None
        elif self._guess is None and self._free_s <= self._now_s:
            self._guess = self._hear(self._segmenter.so_far().samples)
        if self._guess is not None:
            outcome, ready_s = self._guess
            if outcome.enough_s is not None:
                self._segmenter.wait_for(outcome.enough_s)
            enough = outcome.enough_s is not None and self._segmenter.pause_s >= outcome.enough_s
            if enough and ready_s <= self._now_s and (utterance := self._segmenter.end_now()) is not None:
                verdicts.append(self._verdict(utterance))
        return verdicts

    def _verdict(self, utterance: Utterance) -> TimedVerdict:
        outcome, ready_s = self._guess or self._hear(utterance.samples)
        self._guess = None
        return TimedVerdict(utterance.start_s, max(ready_s, self._now_s), outcome)

    def _hear(self, samples: Samples) -> tuple[SystemOutcome, float]:
        """The outcome and when it is ready: not before the computation in progress has ended."""
        began = self._clock()
        outcome = self._judge.outcome(self._system, self._engine.hear(samples))
        self._free_s = max(self._free_s, self._now_s) + self._clock() - began
        self.hearings += 1
        return outcome, self._free_s


def stretches(
    lines: Sequence[ShiftLine], rng: np.random.Generator
) -> Iterator[tuple[str, Samples, list[SpokenLine]]]:
    """The stretches of an hour in random order: kind, sound, and the lines spoken, timed from the start of
    the stretch. A line may come more than once."""
    asking = [line for line in lines if line.item is not None]
    talking = [line for line in lines if line.item is None]
    for at in rng.permutation(len(STRETCHES_S)):
        kind, length_s = list(STRETCHES_S.items())[int(at)]
        samples = (ROOM_RMS * rng.standard_normal(round(length_s * SAMPLE_RATE_HZ))).astype(np.float32)
        if kind == "handpiece":
            samples += _running(len(samples), rng)
        said: list[SpokenLine] = []
        if kind == "talk":
            said = _speak(samples, talking, TALK_PAUSE_S, rng)
        elif kind == "requests":
            half = len(samples) // 2
            samples[half:] += _running(len(samples) - half, rng)
            said = _speak(samples, asking, REQUEST_PAUSE_S, rng)
        yield kind, samples, said


def _running(n: int, rng: np.random.Generator) -> Samples:
    """Handpiece and suction over n samples, made in pieces of ten seconds."""
    piece = 10 * SAMPLE_RATE_HZ
    pieces = [noise.chair(piece, rng) for _ in range(-(-n // piece))]
    return (np.concatenate(pieces)[:n] * (NOISE_RMS / noise.NOISE_RMS)).astype(np.float32)


def _speak(
    samples: Samples, lines: Sequence[ShiftLine], pause_s: tuple[float, float], rng: np.random.Generator
) -> list[SpokenLine]:
    """Add lines to a stretch with pauses between them; over noise they are spoken louder."""
    said: list[SpokenLine] = []
    at = SAMPLE_RATE_HZ
    noise_db = 20 * np.log10(NOISE_RMS)
    while True:
        line = lines[int(rng.integers(len(lines)))]
        if at + len(line.words) + SAMPLE_RATE_HZ > len(samples):
            return said
        here = samples[at : at + len(line.words)]
        loud = noise.level_db(here) > noise_db - 6
        here += at_level(line.words, noise_db + SPEECH_OVER_NOISE_DB if loud else SPEECH_DB)
        end = at + len(line.words)
        said.append(SpokenLine(at / SAMPLE_RATE_HZ, end / SAMPLE_RATE_HZ, line.item))
        at = end + round(float(rng.uniform(*pause_s)) * SAMPLE_RATE_HZ)


def at_level(words: Samples, active_db: float = SPEECH_DB) -> Samples:
    """Words scaled to an active level in dB."""
    gain = 10 ** ((active_db - noise.speech_level(words).active_db) / 20)
    return (gain * words).astype(np.float32)


def hour(
    lines: Sequence[ShiftLine],
    chair: Callable[[], SimulatedChair],
    rng: np.random.Generator,
    cpu: Callable[[], float] = time.process_time,
    advance: Callable[[float], None] = lambda _: None,
) -> Hour:
    """Run one hour. `advance` is called with the seconds of sound that are done."""
    out = Hour()
    for kind, samples, said in stretches(lines, rng):
        ear = chair()
        verdicts: list[TimedVerdict] = []
        began = cpu()
        for start in range(0, len(samples), BLOCK):
            verdicts += ear.push(samples[start : start + BLOCK])
        account = out.accounts.setdefault(kind, Account())
        account.cpu_s += cpu() - began
        account.sound_s += len(samples) / SAMPLE_RATE_HZ
        out.hearings += ear.hearings
        _count(out, said, verdicts)
        advance(len(samples) / SAMPLE_RATE_HZ)
    process = psutil.Process()
    out.memory_mb, out.threads = process.memory_info().rss / 1e6, process.num_threads()
    out.handles = process.num_handles() if psutil.WINDOWS else process.num_fds()
    return out


def _count(out: Hour, said: Sequence[SpokenLine], verdicts: Sequence[TimedVerdict]) -> None:
    for at, spoken in enumerate(said):
        until = said[at + 1].start_s if at + 1 < len(said) else np.inf
        mine = [v for v in verdicts if spoken.start_s - LEAD_S <= v.start_s < until - LEAD_S]
        named = {name for v in mine for name in v.outcome.named}
        if spoken.item is None:
            out.chatter += 1
            out.chatter_answered += bool(named)
            continue
        if named - {spoken.item}:
            out.wrong += 1
        elif spoken.item in named and all(v.outcome.verdict is not Verdict.CHECK for v in mine):
            out.right += 1
        elif named or any(spoken.item in v.outcome.offered for v in mine):
            out.checked += 1
        else:
            out.missed += 1
        loud = [v for v in mine if v.outcome.verdict is not Verdict.QUIET]
        out.delays_ms += [1000 * (v.ready_s - spoken.end_s) for v in loud[-1:]]


def table(hours: Sequence[Hour]) -> str:
    """The hours as Markdown: first, last and all together."""
    rows = [("first hour", hours[:1]), ("last hour", hours[-1:]), (f"all {len(hours)}", hours)]
    head = [
        "",
        "verdict after the last word, median / 95th ms (of)",
        *(f"core share, {k}" for k in STRETCHES_S),
    ]
    head += [
        "memory MB",
        "open handles",
        "threads",
        "requests right / checked / wrong / missed",
        "chatter answered",
    ]
    lines = [head, ["---"] * len(head)]
    for title, part in rows:
        whole = _together(part)
        facts = whole.facts
        late = facts["verdict after the last word, ms"]
        lines.append(
            [
                title,
                f"{late['median']} / {late['95th']} ({late['of']})",
                *(f"{100 * facts['core share'][kind]:.1f} %" for kind in STRETCHES_S),
                *(str(facts[key]) for key in ("memory_mb", "handles", "threads")),
                " / ".join(str(n) for n in facts["requests"].values()),
                f"{whole.chatter_answered} of {whole.chatter}",
            ]
        )
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def _together(hours: Sequence[Hour]) -> Hour:
    most = {name: max(getattr(h, name) for h in hours) for name in ("memory_mb", "handles", "threads")}
    out = Hour(**most)
    for one in hours:
        out.delays_ms += one.delays_ms
        for name in ("right", "wrong", "checked", "missed", "chatter", "chatter_answered", "hearings"):
            setattr(out, name, getattr(out, name) + getattr(one, name))
        for kind, account in one.accounts.items():
            total = out.accounts.setdefault(kind, Account())
            total.sound_s += account.sound_s
            total.cpu_s += account.cpu_s
    return out
