"""Kills writers of a log at random moments and says whether anything acknowledged was lost.

Run as a program: `python kill_loop.py FOLDER KILLS SEED`. Each writer is a forked child that opens the log
anew, appends events and tells each seq through a pipe once `append` has returned. The parent kills every
other one with SIGKILL a random time after the fork, which also hits the opening, and the others a random
time after a random number of acknowledgements. Every fourth log is a new file, so that the making of the
tables is hit as well. Prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from pathlib import Path

from listen.chairside.events import Event, EventKind, Source
from listen.chairside.log import SessionLog

LONGEST_OPENING_S = 0.1
LONGEST_DELAY_S = 0.02
MOST_AWAITED = 8


def write_until_killed(path: Path, session: int | None, told: int) -> None:
    log = SessionLog(path)
    if session is None:
        session = log.open_session(0.0, "operative").id
        os.write(told, b"%d 1\n" % session)
    n = 0
    while True:
        n += 1
        event = Event(EventKind.ASKED, float(n), Source.SPEECH, item="wedge", verdict="answer")
        os.write(told, b"%d %d\n" % (session, log.append(event, session)))


def main(folder: Path, kills: int, seed: int) -> dict[str, int]:
    random_ = random.Random(seed)
    told_before: dict[Path, dict[int, int]] = {}
    path, number = folder / "0.db", 0
    found = {"kills": 0, "acknowledged": 0, "kept": 0, "lost": 0, "unreadable": 0, "while_opening": 0}
    for kill in range(kills):
        if kill % 4 == 0:
            number += 1
            path = folder / f"{number}.db"
        acknowledged = told_before.setdefault(path, {})
        session = random_.choice([None, *acknowledged])
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reading)
            write_until_killed(path, session, writing)
        os.close(writing)
        told = b""
        if kill % 2:
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
            lines = (told + pipe.read()).splitlines()
        found["kills"] += 1
        found["while_opening"] += not lines
        for line in lines:
            session_told, seq = map(int, line.split())
            acknowledged[session_told] = max(seq, acknowledged.get(session_told, 0))
            found["acknowledged"] += 1
        try:
            log = SessionLog(path)
            for kept_session, highest in acknowledged.items():
                seqs = [event.seq for event in log.events(kept_session)]
                if seqs != list(range(1, len(seqs) + 1)) or len(seqs) < highest:
                    found["lost"] += 1
            log.close()
        except Exception as error:
            print(repr(error), file=sys.stderr)
            found["unreadable"] += 1
    for path in told_before:
        log = SessionLog(path)
        found["kept"] += sum(len(log.events(session.id)) for session in log.sessions())
        log.close()
    return found


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))))
