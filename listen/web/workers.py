"""Threads of one group of pages, so that what is slow there keeps nobody else waiting.

Comes in: work of practice, of faculty pages, of edits. Goes out: its result, when a thread of that group had
time for it. What the chairs ask for has the loop's own threads (`asyncio.to_thread`) to itself.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


class Workers:
    """So many threads, made when there is work for them."""

    def __init__(self, name: str, threads: int) -> None:
        self._threads = ThreadPoolExecutor(threads, name)

    async def run(self, act: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> T:
        """What `act` returns, called in one of the threads."""
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._threads, partial(act, *args, **kwargs))

    def close(self) -> None:
        """What has not begun is dropped; nothing is waited for."""
        self._threads.shutdown(wait=False, cancel_futures=True)
