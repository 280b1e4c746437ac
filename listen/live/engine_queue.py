"""One queue for every screen: utterances are heard one after the other in one thread.

Given an utterance's sound, the screen it comes from and its field (the vocabulary in use there), it returns a
future with its `Hearing`. Each field has an engine of its own; all of them share one model. Sound that waits
too long or is overtaken by newer sound of the same screen is dropped, never heard late. It never decides what
an utterance means and keeps no sound.
"""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass
from dataclasses import field as dataclass_field
from enum import StrEnum
from functools import partial

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
    """Sound to be heard, shape = (n,), in a field; `done` is cancelled if it was dropped."""

    screen: str
    samples: Samples
    field: str = ""
    done: Future[Hearing] = dataclass_field(default_factory=Future)

    def drop(self) -> None:
        """Take it out of the queue; nothing happens if it is being heard already."""
        self.done.cancel()


class FieldEar:
    """The engine of one field, and the way into the queue for sound of that field."""

    def __init__(self, field: str, queue: EngineQueue) -> None:
        self.field, self._queue = field, queue
        self.engine: Engine | None = None
        self.state, self.problem = EarState.LOADING, ""
        self._settled = threading.Event()

    def hear(self, screen: str, samples: Samples) -> Job:
        """Queue an utterance; screens take turns. It waits until this field's engine is loaded."""
        return self._queue._add(Job(screen, samples, self.field))

    @property
    def idle(self) -> bool:
        """Whether a guess would keep nobody waiting."""
        return self.state is EarState.READY and not self._queue._busy

    def loaded(self) -> Engine | None:
        """Wait until the engine is loaded and return it; None if it is missing."""
        self._settled.wait()
        return self.engine

    def use(self, engine: Engine) -> None:
        """Hear with this engine from the next utterance on; safe to call from any thread."""
        self.engine = engine

    def _settle(self, engine: Engine | None, problem: str = "") -> None:
        self.engine, self.problem = engine, problem
        self.state = EarState.MISSING if engine is None else EarState.READY
        self._settled.set()


class EngineQueue:
    """The worker and its queue. What is said of "the engine" is said of the first field's.

    Args:
        load: makes the first field's engine; called once, in the worker.
        on_state: told when the state of a field changes.
        field: the first field.
        further: makes the engine of each further field out of the first one's; called once each, one after
            the other, in a thread of their own, so that the first field is heard meanwhile.
    """

    def __init__(
        self,
        load: Callable[[], Engine],
        on_state: Callable[[], None] = lambda: None,
        field: str = "",
        further: Mapping[str, Callable[[Engine], Engine]] | None = None,
    ) -> None:
        self._load, self._on_state, self._further = load, on_state, dict(further or {})
        self._ears = {name: FieldEar(name, self) for name in (field, *self._further)}
        self._first = self._ears[field]
        self._waiting: OrderedDict[str, deque[Job]] = OrderedDict()
        self._wake = threading.Condition()
        self._stopping = False
        self._thread = threading.Thread(target=self._work, name="ears", daemon=True)
        self._loading = threading.Thread(target=self._load_further, name="more-ears", daemon=True)

    def start(self) -> None:
        """Begin loading the engines."""
        self._thread.start()
        if self._further:
            self._loading.start()

    def stop(self) -> None:
        """Drop what is waiting; an utterance that is being heard is finished."""
        with self._wake:
            self._stopping = True
            for jobs in self._waiting.values():
                for job in jobs:
                    job.drop()
            self._waiting.clear()
            self._wake.notify_all()

    def of(self, field: str) -> FieldEar:
        """A field's own engine and state; `KeyError` for a field that is not here."""
        return self._ears[field]

    def hear(self, screen: str, samples: Samples) -> Job:
        """Queue an utterance of the first field."""
        return self._first.hear(screen, samples)

    @property
    def state(self) -> EarState:
        """Whether the first field is heard yet."""
        return self._first.state

    @property
    def problem(self) -> str:
        """Why the first field is not heard, if its engine is missing."""
        return self._first.problem

    @property
    def engine(self) -> Engine | None:
        """The engine in use; None until it is loaded."""
        return self._first.engine

    def loaded(self) -> Engine | None:
        """Wait until the engine is loaded and return it; None if it is missing."""
        return self._first.loaded()

    @property
    def idle(self) -> bool:
        """Whether a guess would keep nobody waiting."""
        return self._first.idle

    # --- the queue ------------------------------------------------------------------------------

    def _add(self, job: Job) -> Job:
        with self._wake:
            if self._stopping or self._ears[job.field].state is EarState.MISSING:
                job.drop()
                return job
            jobs = self._waiting.setdefault(job.screen, deque())
            jobs.append(job)
            while len(jobs) > MOST_WAITING:
                jobs.popleft().drop()
            self._wake.notify_all()
        return job

    def _next(self) -> Job | None:
        """The next job whose engine is there, or None once stopped; the screen it is from goes to the back of
        the queue."""
        with self._wake:
            while not self._stopping:
                job = self._ready()
                if job is None:
                    self._wake.wait()
                elif job.done.set_running_or_notify_cancel():
                    return job
            return None

    @property
    def _busy(self) -> bool:
        """Whether something waits that could be heard now."""
        with self._wake:
            return any(self._ears[jobs[0].field].state is EarState.READY for jobs in self._waiting.values())

    def _ready(self) -> Job | None:
        for screen, jobs in self._waiting.items():
            if self._ears[jobs[0].field].state is EarState.READY:
                job = jobs.popleft()
                del self._waiting[screen]
                if jobs:
                    self._waiting[screen] = jobs
                return job
        return None

    # --- loading and hearing --------------------------------------------------------------------

    def _work(self) -> None:
        self._settle(self._first, self._load)
        if self._first.engine is None:
            return
        while (wanted := self._next()) is not None:
            engine = self._ears[wanted.field].engine
            assert engine is not None, "only jobs whose engine is there are taken"
            try:
                with failures_told():
                    hearing = engine.hear(wanted.samples)
                wanted.done.set_result(hearing)
            except TraycallError as error:  # one utterance must not end the hearing of all others
                wanted.done.set_exception(error)

    def _load_further(self) -> None:
        engine = self._first.loaded()
        for field, make in self._further.items():
            if self._stopping:
                return
            if engine is None:
                self._settle(self._ears[field], None)
            else:
                self._settle(self._ears[field], partial(make, engine))

    def _settle(self, ear: FieldEar, make: Callable[[], Engine] | None) -> None:
        """Make a field's engine; with None it is missing for the same reason as the first field's."""
        try:
            with failures_told():
                ear._settle(None if make is None else make(), self._first.problem)
        except TraycallError as error:
            ear._settle(None, str(error))
        with self._wake:
            if ear.state is EarState.MISSING:
                for screen, jobs in list(self._waiting.items()):
                    for job in [job for job in jobs if job.field == ear.field]:
                        job.drop()
                        jobs.remove(job)
                    if not jobs:
                        del self._waiting[screen]
            self._wake.notify_all()
        self._on_state()
