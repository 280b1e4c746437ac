"""Cuts one screen's sound into utterances and has them heard, mostly before they have ended.

It takes blocks of sound and delivers hearings, in order, and whether someone is speaking. In every short
pause it makes a guess: what was said so far is heard. If speech goes on, the guess is thrown away; otherwise
it becomes the hearing of the utterance, which may then end sooner, or later if it stops in the middle of a
name. It stores no sound and decides nothing.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from contextlib import suppress

from listen.engine import Hearing, Samples
from listen.live.engine_queue import EngineQueue, FieldEar, Job
from listen.segments import FRAME, EarlySegmenter, Utterance
from vocab.errors import TraycallError

_LOG = logging.getLogger(__name__)
FINISH_S = 0.2
"""How much longer, at most, is heard of a speaker who lets the key go within a word."""
HELD_S = 5.0
"""Silence that ends an utterance while a key is held: letting go ends it much sooner."""

Enough = Callable[[Hearing], Awaitable[float | None]]
"""Seconds of silence after which a hearing may be used, not before; None: once the utterance has ended."""


class _Guess:
    """An utterance heard in a pause; good as long as the pause goes on."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.enough_s: float | None = None


class Listener:
    """Cuts one screen's sound into utterances and has them heard.

    Args:
        endpoint_s: silence that ends an utterance, unless a guess asks for another.
        heard: awaited with each hearing, in order.
        show: told "speaking", "thinking" or "quiet" when that changes.
        failed: told in plain words why an utterance was not heard.
        enough: asked of each guess whether its utterance may end sooner, or must wait; None: never.
    """

    def __init__(
        self,
        screen: str,
        engine_queue: EngineQueue | FieldEar,
        endpoint_s: float,
        heard: Callable[[Hearing, Utterance], Awaitable[None]],
        show: Callable[[str], None],
        failed: Callable[[str], None],
        enough: Enough | None = None,
    ) -> None:
        self._screen, self._engine_queue, self._heard = screen, engine_queue, heard
        self._show, self._failed = show, failed
        self._segmenter = EarlySegmenter(endpoint_s)
        self._enough = enough
        self._guess: _Guess | None = None
        self._weighing: set[asyncio.Task[None]] = set()
        self._ended: asyncio.Queue[tuple[Job, Utterance] | None] = asyncio.Queue()
        self._pause: asyncio.Event | None = None
        self._shown = "quiet"
        self._open_jobs = 0
        self._finished = False
        self._task = asyncio.create_task(self._deliver())

    def push(self, block: Samples) -> None:
        """Hear the next block, shape = (n,)."""
        if self._finished:
            return
        for at in range(0, len(block), FRAME):
            self._push(block[at : at + FRAME])
        self._tell()

    async def finish(self) -> None:
        """End what is being said: at once in a pause, else in the next one or after `FINISH_S`."""
        self._pause = asyncio.Event()
        if self._segmenter.speaking and not self._segmenter.pause_s:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._pause.wait(), FINISH_S)
        self._end_now()
        self._finished = True
        self._ended.put_nowait(None)
        self._tell()

    async def delivered(self) -> None:
        """Wait, after `finish`, until everything that was said has been heard."""
        await asyncio.wait([self._task])

    def close(self) -> None:
        """The microphone was closed: what was being said is thrown away."""
        self._drop_guess()
        for task in (*self._weighing, self._task):
            task.cancel()
        self._show("quiet")

    def _push(self, block: Samples) -> None:
        for utterance in self._segmenter.push(block):
            if self._segmenter.speaking:  # it was cut for its length; the guess covers more than that
                self._drop_guess()
            self._end(utterance)
        if not self._segmenter.pausing:
            self._drop_guess()
        elif self._guess is None and self._engine_queue.idle:
            self._make_guess()
        self._end_early()
        if self._pause is not None and self._segmenter.pause_s:
            self._pause.set()

    # --- guesses --------------------------------------------------------------------------------

    def _make_guess(self) -> None:
        self._guess = _Guess(self._engine_queue.hear(self._screen, self._segmenter.so_far().samples))
        if self._enough is not None:
            task = asyncio.create_task(self._weigh(self._guess, self._enough))
            self._weighing.add(task)
            task.add_done_callback(self._weighing.discard)

    def _drop_guess(self) -> None:
        if self._guess is not None:
            self._guess.job.drop()
            self._guess = None

    async def _weigh(self, guess: _Guess, enough: Enough) -> None:
        try:
            hearing = await asyncio.shield(asyncio.wrap_future(guess.job.done))
            guess.enough_s = await enough(hearing)
        except Exception:  # the utterance is heard again once it has ended, and the problem reported then
            return
        if guess is self._guess and guess.enough_s is not None:
            self._segmenter.wait_for(guess.enough_s)
        self._end_early()
        self._tell()

    def _end_early(self) -> None:
        """End the utterance if what was heard of it is enough and the pause has been long enough for it."""
        enough_s = None if self._guess is None else self._guess.enough_s
        if enough_s is not None and self._segmenter.pause_s >= enough_s:
            self._end_now()

    def _end_now(self) -> None:
        utterance = self._segmenter.end_now()
        if utterance is not None:
            self._end(utterance)

    def _end(self, utterance: Utterance) -> None:
        guess, self._guess = self._guess, None
        if guess is None or guess.job.done.cancelled():
            job = self._engine_queue.hear(self._screen, utterance.samples)
        else:
            job = guess.job
        self._ended.put_nowait((job, utterance))
        self._open_jobs += 1

    async def _deliver(self) -> None:
        while (ended := await self._ended.get()) is not None:
            job, utterance = ended
            try:
                hearing = await asyncio.wrap_future(job.done)
                await self._heard(hearing, utterance)
            except asyncio.CancelledError:
                task = asyncio.current_task()
                if task is not None and task.cancelling():
                    raise  # the microphone was closed; else only this utterance was dropped
            except TraycallError as error:
                self._failed(str(error))
            except Exception as error:  # one utterance must not end the hearing of the next
                _LOG.exception("an utterance could not be answered")
                self._failed(
                    f"What was said could not be answered ({type(error).__name__}): say it again or touch it."
                )
            finally:
                self._open_jobs -= 1
                self._tell()

    def _tell(self) -> None:
        now = "speaking" if self._segmenter.speaking else "thinking" if self._open_jobs else "quiet"
        if now != self._shown:
            self._shown = now
            self._show(now)
