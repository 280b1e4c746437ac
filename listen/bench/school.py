"""A school at once: hundreds of trainees who practise on one or several servers over one PostgreSQL.

A database's URL and a plan come in; `traycall screen` is served over it, trainees come with name and code and
answer at a human pace through the addresses that the drill page uses, a few of them in real browsers, and
every answer that a server called counted is looked for in the database afterwards. Out come counts and times.
Every trainee is made up; nothing is spoken.
"""

from __future__ import annotations

import asyncio
import json
import secrets
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import psutil
from sqlalchemy import insert, select

from listen.bench.pictures import SIZE, chromium
from listen.bench.screen_latency import NoScreen, served
from listen.database import Database
from listen.practice.codes import hashed_code
from listen.practice.store import StoreError
from listen.practice.tables import PRACTICE, AnswerRow, TraineeRow, name_key

CODE = "made-up-code"
DRILL = "name"
UNKNOWN = "I don't know"
PACE_S = (2.0, 5.0)
"""Between a verdict and the next answer."""
ARRIVAL_S = 30.0
"""In so many seconds all have come."""
LONGEST_S = 120.0
"""Longest time for one reply."""
CALM, CALM_S = 0.2, 2.0
"""A server that took so small a part of one core for so long has loaded what it loads at its start."""


@dataclass(frozen=True)
class Plan:
    """How many trainees, in how many of them real browsers, on how many servers, each giving how many
    answers; seed: of their pace and of what they touch."""

    trainees: int = 300
    servers: int = 1
    browsers: int = 3
    answers: int = 10
    seed: int = 1


@dataclass
class Noted:
    """What all of them noted. given: tokens of the answers that a server called counted, once each; times in
    seconds; again: answers that were sent a second time; errors: by what was said."""

    given: list[str] = field(default_factory=list)
    verdict_s: list[float] = field(default_factory=list)
    browser_s: list[float] = field(default_factory=list)
    entry_s: list[float] = field(default_factory=list)
    again: int = 0
    errors: Counter[str] = field(default_factory=Counter)


@dataclass(frozen=True)
class Found:
    """What came of it. stored: how often each token is in the database; lasted_s: from the first trainee to
    the last verdict; of each server the memory at rest before and at the end, and the processor time."""

    noted: Noted
    stored: Counter[str]
    lasted_s: float
    memory_mb: tuple[tuple[float, float], ...]
    worked_s: tuple[float, ...]

    @property
    def lost(self) -> int:
        """Answers that a server called counted and that are not in the database."""
        return len(set(self.noted.given) - self.stored.keys())

    @property
    def twice(self) -> int:
        """Answers that are in the database more than once."""
        return sum(1 for times in self.stored.values() if times > 1)


def measured(url: str, plan: Plan) -> Found:
    """Hold the practice over an empty database.

    Raises:
        NoScreen: a server does not start; StoreError: the database cannot be used, or is not empty.
    """
    names = [f"Trainee {number + 1:03}" for number in range(plan.trainees)]
    _enrol(url, names)
    with tempfile.TemporaryDirectory() as folder, ExitStack() as servers:
        running = []
        for number in range(plan.servers):
            data = Path(folder) / f"server {number + 1}"
            data.mkdir()
            running.append(servers.enter_context(_server(url, data)))
        processes = [process for _, process in running]
        rest_mb, before_s = [_megabytes(one) for one in processes], [_worked_s(one) for one in processes]
        began_s = time.perf_counter()
        noted = asyncio.run(_practise(names, [address for address, _ in running], plan))
        lasted_s = time.perf_counter() - began_s
        memory_mb = tuple(zip(rest_mb, map(_megabytes, processes), strict=True))
        worked_s = tuple(_worked_s(one) - before for one, before in zip(processes, before_s, strict=True))
    return Found(noted, _stored(url), lasted_s, memory_mb, worked_s)


def counts(found: Found, plan: Plan) -> dict[str, float]:
    """What is kept for the model card; times in ms, memory in MB."""
    noted = found.noted
    out: dict[str, float] = {
        "trainees": plan.trainees,
        "servers": plan.servers,
        "browsers": plan.browsers,
        "given": len(noted.given),
        "stored": found.stored.total(),
        "lost": found.lost,
        "twice": found.twice,
        "again": noted.again,
        "errors": noted.errors.total(),
        "memory_mb": round(max(after for _, after in found.memory_mb)),
        "lasted_s": round(found.lasted_s),
        "worked_s": round(sum(found.worked_s)),
        "memory_before_mb": round(max(before for before, _ in found.memory_mb)),
    }
    for name, times_s in (("", noted.verdict_s), ("browser_", noted.browser_s), ("entry_", noted.entry_s)):
        if times_s:
            median, high = np.percentile(times_s, [50, 95])
            out |= {f"{name}median_ms": round(1000 * median), f"{name}p95_ms": round(1000 * high)}
    return out


def table(found: Found, plan: Plan, about: str) -> str:
    """The figures as lines of text."""
    noted = found.noted
    lines = [
        about,
        f"{plan.trainees} trainees ({plan.browsers} of them in browsers), {plan.servers} server(s)",
        f"answers given {len(noted.given)}, stored {found.stored.total()}, lost {found.lost}, "
        f"stored twice {found.twice}; sent a second time {noted.again}; errors {noted.errors.total()}",
        *(f"  {times} times: {said}" for said, times in noted.errors.most_common()),
        f"{'':38}{'median':>9}{'p95':>9}{'longest':>10}{'n':>7}",
    ]
    for called, times_s in (
        ("answer to verdict", noted.verdict_s),
        ("the same, seen in a browser", noted.browser_s),
        ("name and code to the first question", noted.entry_s),
    ):
        if times_s:
            median, high, most = (1000 * np.percentile(times_s, [50, 95, 100])).round().astype(int)
            lines.append(f"{called:38}{median:6} ms{high:6} ms{most:7} ms{len(times_s):7}")
    lines.append(f"all of it lasted {found.lasted_s:.0f} s")
    for number, ((before, after), worked_s) in enumerate(
        zip(found.memory_mb, found.worked_s, strict=True), 1
    ):
        lines.append(
            f"server {number}: {before:.0f} MB at rest, {after:.0f} MB at the end; {worked_s:.0f} s of a core"
        )
    return "\n".join(lines)


# ---------------------------------------------------------------- the database and the servers


def _enrol(url: str, names: Sequence[str]) -> None:
    """Every trainee has been here once and chose a code, the same for all."""
    database, now = Database(url, PRACTICE, StoreError), datetime.now(UTC)
    code = hashed_code(CODE)
    try:
        with database.writing() as connection:
            if connection.scalar(select(TraineeRow.id).limit(1)) is not None:
                raise StoreError("there are trainees in this database; name an empty one.")
            known = [{"name": name, "name_key": name_key(name), "since": now, "code": code} for name in names]
            connection.execute(insert(TraineeRow), known)
    finally:
        database.close()


def _stored(url: str) -> Counter[str]:
    """How often each token is in the database."""
    database = Database(url, PRACTICE, StoreError)
    try:
        with database.reading() as connection:
            return Counter(connection.scalars(select(AnswerRow.token)))
    finally:
        database.close()


@contextmanager
def _server(url: str, data: Path) -> Iterator[tuple[str, psutil.Process]]:
    """Address and process of a server that has loaded what it loads."""
    with served(["--store", url], data) as address:
        port = address.rpartition(":")[2]
        process = next(one for one in psutil.Process().children() if port in one.cmdline())
        while process.cpu_percent(CALM_S) > 100 * CALM:
            pass
        yield address, process


def _worked_s(process: psutil.Process) -> float:
    times = process.cpu_times()
    return float(times.user + times.system)


def _megabytes(process: psutil.Process) -> float:
    return float(process.memory_info().rss) / 1e6


# ---------------------------------------------------------------- the trainees


async def _practise(names: Sequence[str], addresses: Sequence[str], plan: Plan) -> Noted:
    """All of them at once, in turn on one server and the next."""
    noted = Noted()
    limits = httpx.Limits(max_connections=None, max_keepalive_connections=None)
    async with httpx.AsyncHTTPTransport(limits=limits) as wire:
        work = []
        for number, name in enumerate(names):
            address = addresses[number % len(addresses)]
            rng = np.random.default_rng([plan.seed, number])
            if number < plan.browsers:
                work.append(asyncio.to_thread(_in_a_browser, address, name, rng, plan.answers, noted))
            else:
                work.append(_over_the_wire(wire, address, name, rng, plan.answers, noted))
        for ended in await asyncio.gather(*work, return_exceptions=True):
            if isinstance(ended, BaseException):
                noted.errors[f"{type(ended).__name__}: {' '.join(str(ended).split())[:100]}"] += 1
    return noted


async def _over_the_wire(
    wire: httpx.AsyncHTTPTransport,
    address: str,
    name: str,
    rng: np.random.Generator,
    answers: int,
    noted: Noted,
) -> None:
    """What the pages of one trainee ask of the server; the last answer is sent twice."""
    client = httpx.AsyncClient(
        transport=wire,
        base_url=address,
        headers={"origin": address},
        timeout=LONGEST_S,
        follow_redirects=True,
    )

    async def ask(path: str, **sent: Any) -> httpx.Response:
        """A reply; asked again where the server had just closed the connection, as browsers do."""
        how = "POST" if sent else "GET"
        try:
            reply = await client.request(how, path, **sent)
        except (httpx.ReadError, httpx.RemoteProtocolError):
            noted.again += path.endswith("/answer")
            reply = await client.request(how, path, **sent)
        return reply.raise_for_status()

    await asyncio.sleep(rng.uniform(0, ARRIVAL_S))
    began_s = time.perf_counter()
    await ask("/practice/enter", data={"trainee": name, "code": CODE})
    form = {"procedure": "", "minutes": "120", "drill": DRILL}
    drill = (await ask("/practice", data=form)).url.path
    question = (await ask(f"{drill}/now")).json()
    noted.entry_s.append(time.perf_counter() - began_s)
    for turn in range(answers):
        await asyncio.sleep(rng.uniform(*PACE_S))
        wish = {**_wish(question, rng), "number": question["number"], "token": secrets.token_hex(8)}
        began_s = time.perf_counter()
        reply = (await ask(f"{drill}/answer", json=wish)).json()
        noted.verdict_s.append(time.perf_counter() - began_s)
        if not reply["counted"]:
            raise NoScreen(f"an answer did not count: {reply}")
        noted.given.append(str(wish["token"]))
        if turn == answers - 1:
            noted.again += 1
            if (await ask(f"{drill}/answer", json=wish)).json() != reply:
                noted.errors["an answer sent twice got another verdict"] += 1
        question = (await ask(f"{drill}/now")).json()


def _wish(question: dict[str, Any], rng: np.random.Generator) -> dict[str, str]:
    """One of the choices, right or wrong, or that it is not known."""
    choices = question["choices"]
    if not choices or rng.random() < 0.3:
        return {"kind": "text", "value": UNKNOWN}
    return {"kind": "touch", "value": choices[int(rng.integers(len(choices)))]["id"]}


def _in_a_browser(address: str, name: str, rng: np.random.Generator, answers: int, noted: Noted) -> None:
    """One trainee in Chromium who touches "I don't know" and goes on; timed until the verdict is seen."""
    with chromium() as browser:
        page = browser.new_context(viewport=SIZE).new_page()
        page.set_default_timeout(1000 * LONGEST_S)

        def took(reply: Any) -> None:
            if reply.url.endswith("/answer") and reply.ok and reply.json().get("counted"):
                noted.given.append(json.loads(reply.request.post_data)["token"])

        page.on("response", took)
        page.goto(f"{address}/practice")
        page.fill("#enter input[name=trainee]", name)
        page.fill("#enter input[name=code]", CODE)
        page.click("#enter button[type=submit]")
        page.click("#choose summary")
        page.check(f"input[value={DRILL}]")
        page.click("#start button[type=submit]")
        for _ in range(answers):
            page.wait_for_selector("#say:not([hidden])")
            page.wait_for_timeout(1000 * rng.uniform(*PACE_S))
            began_s = time.perf_counter()
            page.click("#unknown")
            page.wait_for_selector("#onward:not([hidden])")
            noted.browser_s.append(time.perf_counter() - began_s)
            page.click("#next")
