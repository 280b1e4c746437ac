"""Cuts one screen's sound into utterances and has them heard, mostly before they have ended.

Comes in: blocks of sound. Goes out: hearings, in order, and whether somebody speaks. It stores no sound and
decides nothing.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass

from listen.engine import Hearing, Samples
from listen.segments import Utterance
from listen.web.early import EarlySegmenter
from listen.web.ears import Ears, Job
from vocab.errors import TraycallError

_LOG = logging.getLogger(__name__)
FINISH_S = 0.2
"""Who lets the key go within a word is heard so much longer, at most."""


@dataclass(frozen=True)
class _Guess:
    """What was heard of an utterance in a pause; good only if no voice followed."""

    voiced_frames: int
    job: Job


class Listener:
    """Cuts one screen's sound into utterances and has them heard.

    Args:
        heard: awaited with each hearing, in order.
        show: told "speaking", "thinking" or "quiet" when that changes.
    """

    def __init__(
        self,
        screen: str,
        ears: Ears,
        endpoint_s: float,
        heard: Callable[[Hearing, Utterance], Awaitable[None]],
        show: Callable[[str], None],
    ) -> None:
        self._screen, self._ears, self._heard, self._show = screen, ears, heard, show
        self._segmenter = EarlySegmenter(endpoint_s=endpoint_s)
        self._guess: _Guess | None = None
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
        before = self._segmenter.voiced_frames
        for utterance in self._segmenter.push(block):
            self._end(utterance, before)
        voiced = self._segmenter.voiced_frames
        if self._guess is not None and voiced != self._guess.voiced_frames:
            self._guess.job.drop()
            self._guess = None
        if self._guess is None and self._segmenter.pausing and self._ears.idle:
            so_far = self._segmenter.so_far()
            self._guess = _Guess(voiced, self._ears.hear(self._screen, so_far.samples))
        if self._pause is not None and self._segmenter.silent_frames:
            self._pause.set()
        self._tell()

    async def finish(self) -> None:
        """End what is being said: at once in a pause, else in the next one or after `FINISH_S`."""
        self._pause = asyncio.Event()
        if self._segmenter.speaking and not self._segmenter.silent_frames:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._pause.wait(), FINISH_S)
        before = self._segmenter.voiced_frames
        for utterance in self._segmenter.end():
            self._end(utterance, before)
        self._finished = True
        self._ended.put_nowait(None)
        self._tell()

    async def delivered(self) -> None:
        """Wait, after `finish`, until everything that was said has been heard."""
        await asyncio.wait([self._task])

    def close(self) -> None:
        """The microphone was closed: what was being said is thrown away."""
        if self._guess is not None:
            self._guess.job.drop()
        self._task.cancel()
        self._show("quiet")

    def _end(self, utterance: Utterance, voiced_before: int) -> None:
        self._ended.put_nowait((self._job_of(utterance, voiced_before), utterance))
        self._open_jobs += 1
        self._guess = None

    def _job_of(self, utterance: Utterance, voiced_before: int) -> Job:
        """The guess, if nothing was voiced after it; else the utterance is heard now."""
        if self._guess is not None and self._guess.voiced_frames == voiced_before:
            return self._guess.job
        return self._ears.hear(self._screen, utterance.samples)

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
                _LOG.info("an utterance was not used: %s", error)
            except Exception:  # one utterance must not end the hearing of the next
                _LOG.exception("an utterance could not be heard")
            finally:
                self._open_jobs -= 1
                self._tell()

    def _tell(self) -> None:
        now = "speaking" if self._segmenter.speaking else "thinking" if self._open_jobs else "quiet"
        if now != self._shown:
            self._shown = now
            self._show(now)
