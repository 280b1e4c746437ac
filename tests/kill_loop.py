"""Kills writers of a store at random moments and says whether anything acknowledged was lost.

Run as a program: `python kill_loop.py STORE FOLDER KILLS SEED`. Each writer is a forked child that opens the
store anew, writes one entry after the other and tells each through a pipe once it is acknowledged. The parent
kills every other one with SIGKILL a random time after the fork, which also hits the opening, and the others a
random time after a random number of acknowledgements. Every fourth store is a new one, so that its making is
hit as well. Prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from listen.chairside.consents import Consents
from listen.chairside.events import Event, EventKind, Source
from listen.chairside.log import SessionLog
from listen.practice.session import Answered
from listen.practice.store import PracticeStore, sqlite_url

LONGEST_OPENING_S = 0.1
LONGEST_DELAY_S = 0.02
MOST_AWAITED = 8
WHEN = datetime(2026, 1, 2, 10, 30, tzinfo=UTC)


@dataclass(frozen=True)
class Kind:
    """How a store is written without end, each entry yielded once it is acknowledged (`run` differs for each
    writer), and what it holds."""

    write: Callable[[Path, int], Iterator[str]]
    held: Callable[[Path], list[str]]


def write_log(folder: Path, run: int) -> Iterator[str]:
    log = SessionLog(folder / "sessions.db")
    known = log.sessions()
    session = known[run % len(known)].id if known and run % 2 else log.open_session(0.0, "operative").id
    while True:
        event = Event(EventKind.ASKED, 1.0, Source.SPEECH, item="wedge", verdict="answer")
        yield f"{session} {log.append(event, session)}"


def held_in_log(folder: Path) -> list[str]:
    log = SessionLog(folder / "sessions.db")
    held = {session.id: [event.seq for event in log.events(session.id)] for session in log.sessions()}
    log.close()
    for numbers in held.values():
        assert numbers == list(range(1, len(numbers) + 1)), numbers
    return [f"{session} {number}" for session, numbers in held.items() for number in numbers]


def write_consents(folder: Path, run: int) -> Iterator[str]:
    consents = Consents(folder)
    on = not consents.learning().of(None).is_on
    at_s = 1e6 * run
    while True:
        at_s += 1
        consents.switch(on, at_s)
        yield f"{on} {at_s}"
        consents.leave_out(int(at_s))
        yield f"left out {int(at_s)}"
        on = not on


def held_in_consents(folder: Path) -> list[str]:
    consents = Consents(folder)
    learning = consents.learning()
    consents.close()
    switched = learning.of(None)
    turns = [(True, at_s) for at_s in switched.on_s] + [(False, at_s) for at_s in switched.off_s]
    return [f"{on} {at_s}" for on, at_s in turns] + [f"left out {one}" for one in learning.left_out]


def write_practice(folder: Path, run: int) -> Iterator[str]:
    store = PracticeStore(sqlite_url(folder / "practice.sqlite"))
    store.add("Ada", WHEN)
    number = 0
    while True:
        number += 1
        token = f"{run} {number}"
        topic = f"name:topic_{number % 5}:"
        store.record("Ada", Answered(token, WHEN, topic, True, None, None, "", None, False, 3, "touch"))
        yield token


def held_in_practice(folder: Path) -> list[str]:
    store = PracticeStore(sqlite_url(folder / "practice.sqlite"))
    held = [review.answer.token for review in store.reviews()]
    counted = sum(one.answers for one in store.tallies.trainees(WHEN))
    store.close()
    assert counted == len(held), (counted, len(held))
    return held


KINDS = {
    "log": Kind(write_log, held_in_log),
    "consents": Kind(write_consents, held_in_consents),
    "practice": Kind(write_practice, held_in_practice),
}


def main(kind: Kind, folder: Path, kills: int, seed: int) -> dict[str, int]:
    random_ = random.Random(seed)
    acknowledged: dict[Path, set[str]] = {}
    found = {"kills": 0, "acknowledged": 0, "kept": 0, "lost": 0, "unreadable": 0, "while_opening": 0}
    for kill in range(kills):
        path = folder / f"{kill // 4}"
        path.mkdir(exist_ok=True)
        told_before = acknowledged.setdefault(path, set())
        lines = killed(kind, path, kill, random_)
        found["kills"] += 1
        found["while_opening"] += not lines
        told_before.update(lines)
        try:
            found["lost"] += len(told_before - set(kind.held(path)))
        except Exception as error:
            print(repr(error), file=sys.stderr)
            found["unreadable"] += 1
    for path, told_before in acknowledged.items():
        found["acknowledged"] += len(told_before)
        found["kept"] += len(kind.held(path))
    return found


def killed(kind: Kind, path: Path, run: int, random_: random.Random) -> list[str]:
    """What a writer had told when it was killed."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            for entry in kind.write(path, run):
                os.write(writing, f"{entry}\n".encode())
        finally:
            os._exit(1)
    os.close(writing)
    told = b""
    if run % 2:
        time.sleep(random_.uniform(0.0, LONGEST_OPENING_S))
    else:
        awaited = random_.randint(1, MOST_AWAITED)
        while told.count(b"\n") < awaited and (more := os.read(reading, 4096)):
            told += more
        time.sleep(random_.uniform(0.0, LONGEST_DELAY_S))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL, status
    with os.fdopen(reading, "rb") as pipe:
        return (told + pipe.read()).decode().splitlines()


if __name__ == "__main__":
    print(json.dumps(main(KINDS[sys.argv[1]], Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))))
