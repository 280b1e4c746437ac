"""Threads of one group of pages: what is done there is done, and its thread rests afterwards."""

from __future__ import annotations

import asyncio
import threading
from types import SimpleNamespace

import pytest

from listen.live import workers
from listen.live.workers import LONGEST_REST_S, Workers


def test_a_thread_rests_longer_the_longer_it_has_worked_but_never_long(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now, rests, all_rested = [0.0], list[float](), threading.Semaphore(0)

    def rest(seconds: float) -> None:
        rests.append(seconds)
        all_rested.release()

    def work(seconds: float) -> float:
        now[0] += seconds
        return seconds

    monkeypatch.setattr(workers, "time", SimpleNamespace(monotonic=lambda: now[0], sleep=rest))
    reports = Workers("reports", 1, rests=2.0)

    async def three() -> list[float]:
        return [await reports.run(work, seconds) for seconds in (0.01, 0.05, 3.0)]

    assert asyncio.run(three()) == [0.01, 0.05, 3.0]
    for _ in range(3):
        assert all_rested.acquire(timeout=60)
    assert rests == pytest.approx([0.02, 0.1, LONGEST_REST_S])
    reports.close()


def test_an_error_comes_back_to_whoever_asked() -> None:
    def fail() -> None:
        raise ValueError("no such report")

    for own in (Workers("one", 1), Workers("two", 1, rests=1.0)):
        with pytest.raises(ValueError, match="no such report"):
            asyncio.run(own.run(fail))
        own.close()


def test_what_waits_in_one_room_keeps_no_other_waiting() -> None:
    slow, quick, go = Workers("slow", 2), Workers("quick", 1), threading.Event()

    async def both() -> str:
        waiting = [asyncio.ensure_future(slow.run(go.wait)) for _ in range(20)]
        said = await quick.run(lambda: "here")
        assert not any(one.done() for one in waiting)
        go.set()
        await asyncio.gather(*waiting)
        return said

    assert asyncio.run(both()) == "here"


def test_what_has_not_begun_is_dropped_when_the_server_ends() -> None:
    own, go, begun = Workers("own", 1), threading.Event(), list[int]()

    async def end() -> None:
        first = asyncio.ensure_future(own.run(go.wait))
        later = asyncio.ensure_future(own.run(begun.append, 1))
        await asyncio.sleep(0)
        own.close()
        go.set()
        await first
        with pytest.raises(asyncio.CancelledError):
            await later

    asyncio.run(end())
    assert begun == []
