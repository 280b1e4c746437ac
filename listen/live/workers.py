"""Threads for one group of pages, so that slow work there keeps nobody else waiting.

They run the work of practice, of faculty pages, or of edits, and return its result once a thread of that
group was free. The event loop's own threads (`asyncio.to_thread`) are left to requests from the chairs.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from functools import partial
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


LONGEST_REST_S = 0.15


class Workers:
    """A fixed number of threads, made when there is work for them.

    Args:
        rests: how many times as long as it has worked a thread then rests (at most `LONGEST_REST_S`), so that
            even endless work leaves most of a processor to the chairs.
    """

    def __init__(self, name: str, threads: int, rests: float = 0.0) -> None:
        self._threads, self._rests = ThreadPoolExecutor(threads, name), rests

    async def run(self, act: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> T:
        """What `act` returns, called in one of the threads."""
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._threads, partial(self._done, act, *args, **kwargs))

    def _done(self, act: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> T:
        began_s = time.monotonic()
        try:
            return act(*args, **kwargs)
        finally:
            if self._rests:
                rest_s = min(LONGEST_REST_S, self._rests * (time.monotonic() - began_s))
                with suppress(RuntimeError):  # closed
                    self._threads.submit(time.sleep, rest_s)

    def close(self) -> None:
        """Drop what has not begun; wait for nothing."""
        self._threads.shutdown(wait=False, cancel_futures=True)
