"""Keys of a real pseudo-terminal as lines, with the time at which each was begun."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator

import pytest

if sys.platform == "win32":
    pytest.skip("Windows has no pseudo-terminals; lines are taken whole there", allow_module_level=True)

import pty
import tty

from listen.commands.keyboard import Keys, TypedLine, keyboard


class Terminal:
    """Somebody types at one end; the clock counts the looks at it."""

    def __init__(self) -> None:
        self.ours, self.theirs = pty.openpty()
        tty.setcbreak(self.theirs)
        self.now_s = 0.0
        self.keys = Keys(self.theirs, lambda: self.now_s)

    def type(self, text: str) -> None:
        os.write(self.ours, text.encode())

    def line(self, looks: int = 3, typing_s: float = 100.0) -> TypedLine | None:
        """The next line within so many looks, one second apart."""
        left = [looks]

        def until() -> bool:
            left[0] -= 1
            self.now_s += 1.0
            return left[0] < 0

        return self.keys.line(until, typing_s)


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    one = Terminal()
    yield one
    os.close(one.ours)
    os.close(one.theirs)


def test_a_line_tells_when_its_first_key_was_pressed(terminal: Terminal) -> None:
    terminal.now_s = 10.0
    terminal.type("1")
    assert terminal.line(looks=0, typing_s=3.0) is None
    began_s = terminal.now_s
    terminal.type("2\n")
    line = terminal.line()
    assert line is not None and line.text == "12" and line.began_s < began_s


def test_who_has_begun_is_waited_for_but_not_for_ever(terminal: Terminal) -> None:
    terminal.type("7")
    assert terminal.line(looks=0, typing_s=20.0) is None
    assert terminal.now_s >= 20.0


def test_keys_are_taken_back_one_by_one_or_all(
    terminal: Terminal, capsys: pytest.CaptureFixture[str]
) -> None:
    terminal.type("mirror\x7f\x7f\x7fe\n")
    line = terminal.line()
    assert line is not None and line.text == "mire"
    assert capsys.readouterr().out == "mirror" + "\b \b" * 3 + "e\n"
    terminal.type("wrong\x15right\n")
    line = terminal.line()
    assert line is not None and line.text == "right"


def test_accents_and_arrows_do_no_harm(terminal: Terminal) -> None:
    terminal.type("cu\u00f1a")
    terminal.line(looks=1, typing_s=0.0)
    terminal.type("\x1b[A")
    terminal.line(looks=1, typing_s=0.0)
    terminal.type("s\n")
    line = terminal.line()
    assert line is not None and line.text == "cu\u00f1as"


def test_what_waits_is_forgotten(terminal: Terminal) -> None:
    terminal.type("12")
    terminal.line(looks=1, typing_s=0.0)
    terminal.type("3\n4\n")
    terminal.keys.forget()
    assert terminal.line() is None
    terminal.type("5\n")
    line = terminal.line()
    assert line is not None and line.text == "5"


def test_ctrl_d_ends_the_input(terminal: Terminal) -> None:
    terminal.type("\x04")
    with pytest.raises(EOFError):
        terminal.line()


def test_a_pipe_gives_whole_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    """It has no keys to be taken singly: `termios` refuses it."""
    reading, writing = os.pipe()
    os.write(writing, b"seven\n")
    os.close(writing)
    with os.fdopen(reading, encoding="utf-8") as file:
        monkeypatch.setattr(sys, "stdin", file)
        with keyboard(lambda: 3.0) as keys:
            assert keys.line(lambda: False, 1.0) == TypedLine("seven", 3.0)
            with pytest.raises(EOFError):
                keys.line(lambda: False, 1.0)
