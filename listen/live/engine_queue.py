"""One engine for every screen: utterances are queued and heard one after the other in one thread.

Given an utterance's sound and the screen it comes from, it returns a future with its `Hearing`. Sound that
waits too long or is overtaken by newer sound of the same screen is dropped, never heard late. It never
decides what an utterance means and keeps no sound.
"""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from enum import StrEnum

from listen.engine import Engine, Hearing, Samples, failures_told
from vocab.errors import TraycallError

MOST_WAITING = 2
"""Utterances of one screen that may wait; a newer one pushes the oldest out."""


class EarState(StrEnum):
    """Whether anything can be heard yet."""

    LOADING = "loading"
    READY = "ready"
    MISSING = "missing"


@dataclass(eq=False)
class Job:
    """Sound to be heard, shape = (n,); `done` is cancelled if it was dropped."""

    screen: str
    samples: Samples
    done: Future[Hearing] = field(default_factory=Future)

    def drop(self) -> None:
        """Take it out of the queue; nothing happens if it is being heard already."""
        self.done.cancel()


class EngineQueue:
    """The worker and its queue.

    Args:
        load: makes the engine; called once, in the worker.
        on_state: told from the worker when the state changes.
    """

    def __init__(self, load: Callable[[], Engine], on_state: Callable[[], None] = lambda: None) -> None:
        self._load, self._on_state = load, on_state
        self._engine: Engine | None = None
        self._waiting: OrderedDict[str, deque[Job]] = OrderedDict()
        self._wake = threading.Condition()
        self._stopping = False
        self._settled = threading.Event()
        self._thread = threading.Thread(target=self._work, name="ears", daemon=True)
        self.state, self.problem = EarState.LOADING, ""

    def start(self) -> None:
        """Begin loading the engine."""
        self._thread.start()

    def stop(self) -> None:
        """Drop what is waiting; an utterance that is being heard is finished."""
        with self._wake:
            self._stopping = True
            for jobs in self._waiting.values():
                for job in jobs:
                    job.drop()
            self._waiting.clear()
            self._wake.notify_all()

    def hear(self, screen: str, samples: Samples) -> Job:
        """Queue an utterance; screens take turns."""
        job = Job(screen, samples)
        with self._wake:
            if self._stopping or self.state is EarState.MISSING:
                job.drop()
                return job
            jobs = self._waiting.setdefault(screen, deque())
            jobs.append(job)
            while len(jobs) > MOST_WAITING:
                jobs.popleft().drop()
            self._wake.notify_all()
        return job

    @property
    def engine(self) -> Engine | None:
        """The engine in use; None until it is loaded."""
        return self._engine

    def loaded(self) -> Engine | None:
        """Wait until the engine is loaded and return it; None if it is missing."""
        self._settled.wait()
        return self._engine

    def use(self, engine: Engine) -> None:
        """Hear with this engine from the next utterance on; safe to call from any thread."""
        self._engine = engine

    @property
    def idle(self) -> bool:
        """Whether a guess would keep nobody waiting."""
        return self.state is EarState.READY and not self._waiting

    def _next(self) -> Job | None:
        """The next job, or None once stopped; the screen it is from goes to the back of the queue."""
        with self._wake:
            while True:
                while not self._waiting and not self._stopping:
                    self._wake.wait()
                if self._stopping:
                    return None
                screen, jobs = self._waiting.popitem(last=False)
                job = jobs.popleft()
                if jobs:
                    self._waiting[screen] = jobs
                if job.done.set_running_or_notify_cancel():
                    return job

    def _work(self) -> None:
        try:
            with failures_told():
                self._engine = self._load()
        except TraycallError as error:
            self.state, self.problem = EarState.MISSING, str(error)
            self._settled.set()
            with self._wake:
                for jobs in self._waiting.values():
                    for job in jobs:
                        job.drop()
                self._waiting.clear()
            self._on_state()
            return
        self.state = EarState.READY
        self._settled.set()
        self._on_state()
        while (wanted := self._next()) is not None:
            try:
                with failures_told():
                    hearing = self._engine.hear(wanted.samples)
                wanted.done.set_result(hearing)
            except TraycallError as error:  # one utterance must not end the hearing of all others
                wanted.done.set_exception(error)
