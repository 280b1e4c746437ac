"""Lines that are typed while something else goes on: each with the time at which it was begun.

On a terminal keys are taken one by one, so that somebody who has begun to type can be waited for; what is
typed is shown here then, as the terminal no longer does. Where keys cannot be taken singly (Windows, a pipe),
a line begins when it ends.
"""

from __future__ import annotations

import codecs
import os
import queue
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Protocol

ERASE, ERASE_ALL, END, ESCAPE = "\x7f\b", "\x15", "\x04", "\x1b"
STEP_S = 0.05


@dataclass(frozen=True)
class TypedLine:
    """A line without its end, and when its first key was pressed, in seconds on the keyboard's clock."""

    text: str
    began_s: float


class Keyboard(Protocol):
    """Gives typed lines."""

    def line(self, until: Callable[[], bool], typing_s: float) -> TypedLine | None:
        """The next line; None once `until` says so and nobody is typing. Who has begun has `typing_s` from
        the first key on.

        Raises:
            EOFError: there will be no more.
        """
        ...

    def forget(self) -> None:
        """Take back what was typed without Enter, and whatever else waits."""
        ...


@contextmanager
def keyboard(clock: Callable[[], float]) -> Iterator[Keyboard]:
    """The keyboard of this process's standard input."""
    try:
        import termios
        import tty

        file = sys.stdin.fileno()
        before = termios.tcgetattr(file) if os.isatty(file) else None
    except (ImportError, OSError, ValueError):  # Windows, no file at all
        before = None
    if before is None:  # also a pipe
        yield Lines(clock)
        return
    tty.setcbreak(file)
    try:
        yield Keys(file, clock)
    finally:
        termios.tcsetattr(file, termios.TCSADRAIN, before)


class Keys:
    """The keys of a terminal that neither shows nor gathers them itself.

    Args:
        file: its descriptor.
    """

    def __init__(self, file: int, clock: Callable[[], float]) -> None:
        self._file, self._clock = file, clock
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")
        self._keys: list[str] = []
        self._typed = ""
        self._began_s: float | None = None

    def line(self, until: Callable[[], bool], typing_s: float) -> TypedLine | None:
        """See `Keyboard`."""
        while True:
            self._wait(0.0)
            while self._keys:
                if (line := self._press(self._keys.pop(0))) is not None:
                    return line
            late = self._began_s is not None and self._clock() - self._began_s > typing_s
            if until() and (self._began_s is None or late):
                return None
            self._wait()

    def forget(self) -> None:
        """See `Keyboard`."""
        self._wait(0.0)
        self._keys.clear()
        self._erase(len(self._typed))

    def _wait(self, seconds: float = STEP_S) -> None:
        """Take what keys there are, or wait a little for one."""
        import select

        if select.select([self._file], [], [], seconds)[0]:
            given = os.read(self._file, 1024)
            if not given:
                raise EOFError
            text = self._decoder.decode(given)
            self._keys += () if text.startswith(ESCAPE) else text  # an arrow or the like, which comes whole

    def _press(self, key: str) -> TypedLine | None:
        if key in "\r\n":
            line = TypedLine(self._typed, self._clock() if self._began_s is None else self._began_s)
            self._typed, self._began_s = "", None
            print(flush=True)
            return line
        if key == END and not self._typed:
            raise EOFError
        if key in ERASE or key == ERASE_ALL:
            self._erase(1 if key in ERASE else len(self._typed))
        elif key.isprintable():
            self._began_s = self._clock() if self._began_s is None else self._began_s
            self._typed += key
            print(key, end="", flush=True)
        return None

    def _erase(self, count: int) -> None:
        gone = min(count, len(self._typed))
        print("\b \b" * gone, end="", flush=True)
        self._typed = self._typed[: len(self._typed) - gone]
        if not self._typed:
            self._began_s = None


class Lines:
    """Whole lines of standard input, from a thread that waits for them."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._lines: queue.Queue[TypedLine | None] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def line(self, until: Callable[[], bool], typing_s: float) -> TypedLine | None:
        """See `Keyboard`."""
        while True:
            try:
                line = self._lines.get(timeout=STEP_S)
            except queue.Empty:
                if until():
                    return None
                continue
            if line is None:
                self._lines.put(None)
                raise EOFError
            return line

    def forget(self) -> None:
        """See `Keyboard`."""
        while not self._lines.empty():
            if self._lines.get_nowait() is None:
                self._lines.put(None)
                return

    def _read(self) -> None:
        for line in sys.stdin:
            self._lines.put(TypedLine(line.strip(), self._clock()))
        self._lines.put(None)
