"""Hears many clips in other processes and keeps every hearing as soon as it is done.

Takes clips, how to make their sound, and the engines; returns records, one per clip and engine, and appends
them to a file of JSON lines. What the file already holds from the same code is not heard again. Each engine
has processes of its own, so that its memory use can be told apart. Nothing is judged here.
"""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import resource
import signal
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, ThreadPoolExecutor, wait
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Protocol

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

import listen
import vocab
from listen.bench import systems
from listen.engine import SAMPLE_RATE_HZ, Engine, Hearing, Phrasing, Samples
from vocab.errors import TraycallError
from vocab.pack.schema import Pack

Record = dict[str, Any]

KEPT_NATS = 16.0
"""Phrasings further below the best one are not kept; no reading looks that far."""


class BadResults(TraycallError):
    """A file of results is damaged."""


class Hearable(Protocol):
    """A clip to hear: `id` names its sound, `facts` is what its records say of it."""

    @property
    def id(self) -> str: ...

    @property
    def facts(self) -> Record: ...


Sound = Callable[[Any], Samples]


@dataclass(frozen=True)
class Ear:
    """An engine to be loaded in a process of its own; `adapter` replaces the shipped one."""

    engine: str
    pack: Pack
    vosk_model: Path | None = None
    adapter: Path | None = None

    @property
    def mark(self) -> str:
        """A hash of the pack and the code that decides what this engine hears."""
        adapter = self.adapter.read_bytes().hex() if self.adapter else ""
        text = systems.RECIPE + self.pack.model_dump_json() + adapter
        return mark_of(text, systems.ENGINE_CODE[self.engine])


def mark_of(text: str, patterns: Iterable[str]) -> str:
    """A hash of a text and the files that match these patterns, to tell apart results of different code.

    Raises:
        ValueError: no file matches a pattern, so that moved code cannot go unnoticed.
    """
    digest = hashlib.sha256(text.encode())
    folders = [Path(next(iter(package.__path__))) for package in (listen, vocab)]
    for pattern in patterns:
        found = [file for folder in folders for file in sorted(folder.glob(pattern))]
        if not found:
            raise ValueError(f"no file of the program is called {pattern}")
        for file in found:
            digest.update(file.read_bytes())
    return digest.hexdigest()[:12]


def hear(
    clips: Sequence[Hearable],
    sound: Sound,
    ears: Sequence[Ear],
    file: Path,
    jobs: int,
    any_code: bool = False,
) -> list[Record]:
    """Hear every clip with every engine; returns the records of these clips and engines.

    Args:
        sound: makes the samples, in the process that hears; picklable.
        jobs: processes at a time.
        any_code: also use what other code or another pack heard.
    """
    file.parent.mkdir(parents=True, exist_ok=True)
    out: list[Record] = []
    before = read(file)
    with progress() as bar, file.open("a", encoding="utf-8") as lines:
        for ear in ears:
            mark = ear.mark
            known = {
                r["clip"]: r for r in before if r["engine"] == ear.engine and (any_code or r["mark"] == mark)
            }
            todo = [clip for clip in clips if clip.id not in known]
            task = bar.add_task(f"hear with {ear.engine}", total=len(clips), completed=len(clips) - len(todo))
            for clip, result in _heard(todo, sound, ear, jobs):
                known[clip.id] = {
                    "engine": ear.engine, "clip": clip.id, "mark": mark, "jobs": jobs, **clip.facts, **result
                }  # fmt: skip
                lines.write(json.dumps(known[clip.id]) + "\n")
                lines.flush()
                bar.advance(task)
            out += [known[clip.id] for clip in clips]
    return out


def prepare(makers: Sequence[Callable[[], object]], jobs: int) -> None:
    """Make what is slow to make and is kept, before anything is timed."""
    with progress() as bar, ThreadPoolExecutor(jobs) as pool:
        task = bar.add_task("speak", total=len(makers))
        for _ in pool.map(lambda make: make(), makers):
            bar.advance(task)


def read(file: Path) -> list[Record]:
    """The records kept so far; a last line that was cut off is taken out of the file."""
    if not file.exists():
        return []
    text = file.read_bytes()
    if not text.endswith(b"\n"):
        text = text[: text.rfind(b"\n") + 1]
        file.write_bytes(text)
    try:
        return [json.loads(line) for line in text.decode().splitlines()]
    except ValueError as error:
        raise BadResults(f"{file} is damaged ({error}): delete it, or name another --out.") from error


def hearing_of(record: Record) -> Hearing:
    """The hearing that a record keeps."""
    heard = record["hearing"]
    told = {part: tuple(Phrasing(*one) for one in heard.get(part, ())) for part in ("phrasings", "spliced")}
    return Hearing(**{**heard, **told})


def kept(hearing: Hearing) -> Record:
    """A hearing as a record keeps it."""
    best = hearing.phrasings[0].log_p if hearing.phrasings else 0.0
    phrasings = [(p.text, p.log_p) for p in hearing.phrasings if p.log_p >= best - KEPT_NATS]
    spliced = [(p.text, p.log_p) for p in hearing.spliced]
    return {**asdict(hearing), "phrasings": phrasings, "spliced": spliced}


# ---------------------------------------------------------------- in other processes


def _heard(clips: Sequence[Hearable], sound: Sound, ear: Ear, jobs: int) -> Iterator[tuple[Hearable, Record]]:
    if not clips:
        return
    spawn = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(min(jobs, len(clips)), spawn, _open, (ear, sound))
    try:
        waiting = {pool.submit(_hear_one, clip): clip for clip in clips}
        while waiting:
            done, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for future in done:
                yield waiting.pop(future), future.result()
    finally:
        pool.shutdown(cancel_futures=True)


_here: dict[str, Any] = {}
"""What this process hears with; filled once by `_open`."""


def _open(ear: Ear, sound: Sound) -> None:
    """The engine loads with the first clip: an error there is reported, one here would break the pool."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent takes the interrupt and lets this clip finish
    _here.update(ear=ear, sound=sound)


def _engine() -> Engine:
    if "engine" not in _here:
        ear: Ear = _here["ear"]
        began = time.perf_counter()
        _here["engine"] = systems.load(ear.engine, ear.pack, ear.vosk_model, ear.adapter)
        _here["start_s"] = time.perf_counter() - began
    engine: Engine = _here["engine"]
    return engine


def _hear_one(clip: Hearable) -> Record:
    engine, samples = _engine(), _here["sound"](clip)
    began, worked = time.perf_counter(), time.process_time()
    hearing = engine.hear(samples)
    ms, cpu_ms = 1000 * (time.perf_counter() - began), 1000 * (time.process_time() - worked)
    return {
        "seconds": round(len(samples) / SAMPLE_RATE_HZ, 3),
        "ms": round(ms, 2),
        "cpu_ms": round(cpu_ms, 2),
        "start_s": round(_here["start_s"], 3),
        "memory_mb": round(_peak_mb(), 1),
        "hearing": kept(hearing),
    }


def _peak_mb() -> float:
    """Peak memory of this process; the system counts it in KiB, on macOS in bytes."""
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / 1e6 if sys.platform == "darwin" else most * 1024 / 1e6


def progress() -> Progress:
    """A bar on standard error."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    return Progress(*columns, console=Console(stderr=True))
