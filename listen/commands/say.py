"""Sentences for the terminal: answers to standard output, hints and errors to standard error.

On a terminal they are wrapped between words; into a file or a pipe each goes as one line.
"""

from __future__ import annotations

import shutil
import sys
import textwrap
from typing import TextIO

WIDTH = 80
"""Nothing is laid out wider, as long lines are hard to read."""


def say(text: str) -> None:
    """One answer, or part of it."""
    _print(text, sys.stdout)


def tell(text: str) -> None:
    """One hint or error, at once."""
    _print(text, sys.stderr)


def counted(number: int, thing: str) -> str:
    """ "1 item", "2 items"."""
    return f"{number} {thing}{'' if number == 1 else 's'}"


def wrapped(text: str, width: int) -> str:
    """The text in lines of at most `width` characters, no word broken; a line keeps its indentation."""
    return "\n".join(
        textwrap.fill(
            line,
            width,
            subsequent_indent=" " * (len(line) - len(line.lstrip())),
            break_long_words=False,
            break_on_hyphens=False,
        )
        for line in text.split("\n")
    )


def _print(text: str, stream: TextIO) -> None:
    width = min(WIDTH, shutil.get_terminal_size().columns)
    print(wrapped(text, width) if stream.isatty() else text, file=stream, flush=True)
