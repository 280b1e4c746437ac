"""What a busy practice costs the chair: the lit slot beside a locked store and reports, and their own time.

Clips and a number of answers come in; a store of simulated answers is made, a `traycall screen` is served
over it, and the chair is spoken to in real time, first alone, then while trainees answer into a locked store
and faculty read reports without a pause. Out come waiting times. Every trainee and every answer is made up.
"""

from __future__ import annotations

import http.cookiejar
import json
import secrets
import sqlite3
import statistics
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from fsrs import Card, Rating
from sqlalchemy import insert

from listen.bench.screen_latency import Moments, NoScreen
from listen.database import Database
from listen.practice.facts import Facts
from listen.practice.schedule import reviewed
from listen.practice.session import Answered
from listen.practice.store import PracticeStore, StoreError, sqlite_url
from listen.practice.tables import PRACTICE, AnswerRow, MemoryRow, TraineeRow, counted_by, memory_values
from listen.practice.topics import Drill, Topic, curriculum
from vocab.pack.schema import Pack

REPORTS = ("class", "items", "names", "unknown", "ability", "mixed", "objections", "class.csv")
DAYS = 60
LAST_S = 1_750_000_000.0
"""The last simulated answers, in seconds since 1970."""
CODE = "made-up-code"


@dataclass
class Pages:
    """How long pages took, in seconds, by their names."""

    took_s: dict[str, list[float]] = field(default_factory=dict)

    def add(self, page: str, seconds: float) -> None:
        """One more time."""
        self.took_s.setdefault(page, []).append(seconds)


def simulated_store(
    file: Path, pack: Pack, facts: Facts, answers: int, trainees: int, seed: int
) -> tuple[str, ...]:
    """Fill a new practice store; the trainees' names.

    Trainees of differing ability practise one procedure's topics of differing difficulty for `DAYS` days.
    """
    rng = np.random.default_rng(seed)
    procedure = max(pack.procedures, key=lambda one: len(one.steps))
    topics = curriculum(pack, facts, procedure.id)
    names = tuple(f"Trainee {number + 1:03}" for number in range(trainees))
    start = datetime.fromtimestamp(LAST_S, UTC) - timedelta(days=DAYS)
    rows = sorted(_answers(rng, pack, topics, answers, trainees, start), key=lambda row: row["at"])
    counted = [{**row, **about} for row, about in zip(rows, counted_by(rows), strict=True)]
    memories: dict[tuple[int, str], Card] = {}
    firsts: dict[tuple[int, str], bool] = {}
    for row in counted:
        about = row["trainee_id"], row["topic"]
        memories[about] = reviewed(memories.get(about), Rating(row["rating"]), row["at"])
        if row["first_on_day"]:
            firsts[about] = row["right"]
    database = Database(file, PRACTICE, StoreError)
    with database.writing() as connection:
        known = [
            {"id": number + 1, "name": name, "name_key": name.casefold(), "since": start}
            for number, name in enumerate(names)
        ]
        connection.execute(insert(TraineeRow), known)
        connection.execute(insert(AnswerRow), counted)
        connection.execute(
            insert(MemoryRow),
            [
                {
                    "trainee_id": trainee,
                    "topic": topic,
                    **memory_values(card),
                    "first_right": firsts[trainee, topic],
                }
                for (trainee, topic), card in memories.items()
            ],
        )
    database.close()
    return names


def _answers(
    rng: np.random.Generator,
    pack: Pack,
    topics: Sequence[Topic],
    answers: int,
    trainees: int,
    start: datetime,
) -> Iterator[dict[str, Any]]:
    ability, difficulty = rng.normal(0.8, 0.8, trainees), rng.normal(0.0, 1.0, len(topics))
    named = [topic.subject for topic in topics if topic.drill is Drill.NAME]
    for number in range(answers):
        who, what = int(rng.integers(trainees)), int(rng.integers(len(topics)))
        topic = topics[what]
        right = bool(rng.random() < 1 / (1 + np.exp(difficulty[what] - ability[who])))
        other = named[int(rng.integers(len(named)))]
        own = pack.item(topic.subject).own_names if topic.drill is Drill.SLOT and topic.items else ()
        yield {
            "trainee_id": who + 1,
            "token": f"simulated-{number}",
            "at": start + timedelta(days=float(rng.random()) * DAYS),
            "topic": topic.key,
            "right": right,
            "choice": (topic.items[0] if topic.items else topic.subject) if right else other,
            "asked_name": own[int(rng.integers(len(own)))].text if own else None,
            "said": "",
            "response_s": float(rng.gamma(4.0, 0.8)),
            "unsure": False,
            "rating": 3 if right else 1,
            "by": "touch",
        }


class Browser:
    """Somebody at the pages, with their cookies."""

    def __init__(self, address: str) -> None:
        self._address = address
        jar = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        self._open = urllib.request.build_opener(jar).open

    def get(self, path: str) -> bytes:
        """A page."""
        with self._open(f"{self._address}{path}") as page:
            return bytes(page.read())

    def post(self, path: str, form: dict[str, str] | bytes) -> tuple[str, bytes]:
        """Where a form led, and what stood there."""
        body = form if isinstance(form, bytes) else urllib.parse.urlencode(form).encode()
        kind = "application/json" if isinstance(form, bytes) else "application/x-www-form-urlencoded"
        headers = {"origin": self._address, "content-type": kind}
        asked = urllib.request.Request(f"{self._address}{path}", body, headers)
        try:
            with self._open(asked) as answer:
                return urllib.parse.urlparse(answer.url).path, answer.read()
        except urllib.error.HTTPError as error:
            return path, error.read()


Seat = tuple[Browser, str]


def seated(address: str, name: str) -> Seat:
    """A trainee at a drill: browser and the drill's path."""
    browser = Browser(address)
    browser.post("/practice/enter", {"trainee": name, "code": CODE, "again": CODE})
    path, _ = browser.post("/practice", {"procedure": "", "minutes": "120", "drill": "name"})
    question = json.loads(browser.get(f"{path}/now"))
    if question.get("type") != "question":
        raise NoScreen(f"practice asks nothing: {question.get('text', '')}")
    return browser, path


def timed_pages(address: str, file: Path, trainee: str, rounds: int) -> Pages:
    """Every faculty page in turn; before each one an answer is stored, so that they are counted again."""
    browser, pages, store = Browser(address), Pages(), PracticeStore(sqlite_url(file))
    one = f"trainee?{urllib.parse.urlencode({'trainee': trainee})}"
    for turn in range(rounds):
        for report in (*REPORTS, one):
            now = datetime.now(UTC)
            new = Answered(f"{turn} {report}", now, "name::", True, None, None, "", None, False, 3, "touch")
            store.record(trainee, new)
            began_s = time.perf_counter()
            browser.get(f"/practice/faculty/{report}")
            pages.add(report.partition("?")[0], time.perf_counter() - began_s)
    store.close()
    return pages


@dataclass
class Work:
    """What is done beside the chair: answers that the lock refuses, and reports."""

    refused: int = 0
    reports: Pages = field(default_factory=Pages)


@contextmanager
def at_work(address: str, file: Path, seats: Sequence[Seat], reports: int, work: Work) -> Iterator[None]:
    """The store is locked by another program, trainees answer into it, and so many reports are read, all of
    it again and again until the block ends."""
    over = threading.Event()

    def answer(browser: Browser, path: str) -> None:
        while not over.is_set():
            number = json.loads(browser.get(f"{path}/now")).get("number", 0)
            wish = {"number": number, "token": secrets.token_hex(8), "kind": "text", "value": "I don't know"}
            said = json.loads(browser.post(f"{path}/answer", json.dumps(wish).encode())[1])
            work.refused += said.get("type") == "problem"

    def read(first: int) -> None:
        browser, turn = Browser(address), first
        while not over.is_set():
            report = REPORTS[turn % len(REPORTS)]
            began_s = time.perf_counter()
            browser.get(f"/practice/faculty/{report}")
            work.reports.add(report, time.perf_counter() - began_s)
            turn += 1

    threads = [threading.Thread(target=answer, args=seat) for seat in seats]
    threads += [threading.Thread(target=read, args=(first,)) for first in range(reports)]
    with closing(sqlite3.connect(file, isolation_level=None, check_same_thread=False)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        for thread in threads:
            thread.start()
        try:
            yield
        finally:
            over.set()
            holder.execute("ROLLBACK")
            for thread in threads:
                thread.join()


def table(alone: Sequence[Moments], busy: Sequence[Moments], work: Work, pages: Pages, about: str) -> str:
    """The figures as lines of text."""
    lines = [about, f"{'':44}{'median':>9}{'p95':>9}{'n':>6}"]
    medians = []
    for called, found in (("alone", alone), ("beside practice at work", busy)):
        shown = [one.shown for one in found if one.shown is not None and not one.early]
        median, high = np.percentile(shown, [50, 95]) if shown else (np.nan, np.nan)
        medians.append(median)
        lines.append(f"{f'last word to lit slot, {called}':44}{median:6.0f} ms{high:6.0f} ms{len(shown):6}")
    lines.append(f"beside it {medians[1] / medians[0]:.2f} times as long (median)")
    read = sum(map(len, work.reports.took_s.values()))
    lines.append(f"meanwhile: {read} reports read, {work.refused} answers refused by the lock")
    lines.append(f"{'faculty page, alone':44}{'first':>9}{'median':>9}{'longest':>9}")
    for page, took in pages.took_s.items():
        middle = statistics.median(took)
        lines.append(f"{page:44}{1000 * took[0]:6.0f} ms{1000 * middle:6.0f} ms{1000 * max(took):6.0f} ms")
    return "\n".join(lines)
