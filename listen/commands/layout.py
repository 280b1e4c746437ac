"""How the terminal looks: lists, labelled lines, progress and colours, the same in every command.

Rows of text come in, what a `rich` console prints goes out. A list has no box: a light line under its heads,
and two spaces between its columns. Where the columns are too narrow for their longest words, every row is
written as a few lines of its own. Colours are those that a light and a dark terminal both show well; with
NO_COLOR set there are none, and nothing is told by colour alone.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal, TextIO

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, Group, RenderableType
from rich.progress import Progress, ProgressColumn, Task
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from listen.commands.say import WIDTH

ANSWER, QUESTION, MISSING, MIND = "bold green", "bold magenta", "bold red", "bold"
"""Styles by what is told."""
GAP = 2
"""Spaces between columns."""
MOST_LINES = 5
"""A row whose cells need more lines than this beside each other is written line by line."""
BAR = 20
"""Cells of a progress bar."""


def console(file: TextIO) -> Console:
    """A console no wider than 80 columns."""
    found = Console(file=file, highlight=False)
    return Console(file=file, highlight=False, width=min(WIDTH, found.width))


@dataclass(frozen=True)
class Listing:
    """A list with heads; `numbers` are the columns (from 0) that stand at the right.

    A column without any text is left out. The first column says what a row is about.
    """

    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    numbers: Collection[int] = ()

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        kept = [i for i in range(len(self.heads)) if any(row[i] for row in self.rows)]
        widths = _widths([[self.heads[i], *(row[i] for row in self.rows)] for i in kept], options.max_width)
        if widths is None:
            for row in self.rows:
                yield from self._record(row, kept)
            return
        columns = [
            ("right" if i in self.numbers else "left", width) for i, width in zip(kept, widths, strict=True)
        ]
        yield _grid(columns, [[Text(self.heads[i]) for i in kept]], "bottom")
        yield Rule(style="dim", characters="─")
        yield _grid(
            columns, [[Text(row[i], "bold" if i == kept[0] else "") for i in kept] for row in self.rows]
        )

    def _record(self, row: Sequence[str], kept: Sequence[int]) -> Iterator[RenderableType]:
        first, *others = kept
        title = (
            f"{self.heads[first].removesuffix('.')} {row[first]}" if row[first].isdecimal() else row[first]
        )
        yield Text(title, "bold")
        wide = max((cell_len(self.heads[i]) for i in others), default=0)
        table = Table.grid(padding=(0, 1))
        table.add_column(width=GAP + wide, justify="right")
        table.add_column(overflow="fold")
        for i in others:
            if row[i]:
                table.add_row(Text(self.heads[i]), Text(row[i]))
        yield table
        yield Text("")


def _grid(
    columns: Iterable[tuple[str, int]],
    rows: Iterable[Sequence[Text]],
    vertical: Literal["top", "bottom"] = "top",
) -> Table:
    table = Table.grid(padding=(0, GAP, 0, 0))
    for side, width in columns:
        table.add_column(
            width=width, justify="right" if side == "right" else "left", overflow="fold", vertical=vertical
        )
    for row in rows:
        table.add_row(*row)
    return table


def _widths(columns: Sequence[Sequence[str]], width: int) -> list[int] | None:
    """The widths of columns of cells, at least that of the longest word of each; None where that is too wide,
    or where a row would need more than `MOST_LINES` lines."""
    room = width - GAP * (len(columns) - 1)
    natural = [max(map(cell_len, cells)) for cells in columns]
    widths = [max((longest_word(cell) for cell in cells), default=0) for cells in columns]
    if sum(natural) <= room:
        return natural
    if natural[0] <= width // 3 and sum(widths[1:]) + natural[0] <= room:
        widths[0] = natural[0]
    left = room - sum(widths)
    for _ in range(max(0, left)):
        tightest = max(range(len(widths)), key=lambda i: natural[i] / max(1, widths[i]))
        widths[tightest] += 1
    tall = max(-(-most // max(1, own)) for most, own in zip(natural, widths, strict=True))
    return None if left < 0 or tall > MOST_LINES else widths


def longest_word(text: str) -> int:
    """The columns that the longest word takes."""
    return max(map(cell_len, text.split()), default=0)


def side_by_side(cells: Sequence[tuple[str, str]], most: int) -> RenderableType:
    """Short texts, each with its number before it, in up to `most` columns, line by line."""
    return _SideBySide(cells, most)


@dataclass(frozen=True)
class _SideBySide:
    cells: Sequence[tuple[str, str]]
    most: int

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        before = max(cell_len(number) for number, _ in self.cells)
        word = max(longest_word(text) for _, text in self.cells)
        gaps = GAP + (GAP if before else 0)
        fits = (n for n in range(self.most, 0, -1) if n * (before + word + gaps) - GAP <= options.max_width)
        columns = next(fits, 1)
        table = Table.grid(padding=(0, GAP, 0, 0), expand=True)
        for _ in range(columns):
            if before:
                table.add_column(width=before, justify="right", style="bold", no_wrap=True)
            table.add_column(ratio=1, overflow="fold")
        for start in range(0, len(self.cells), columns):
            line = self.cells[start : start + columns]
            table.add_row(*(part for cell in line for part in (cell if before else cell[1:])))
        yield table


def two_ends(rows: Iterable[tuple[Text, Text]]) -> Table:
    """Lines with a part at the right edge."""
    table = Table.grid(padding=(0, 1), expand=True)
    table.add_column(ratio=1, overflow="fold")
    table.add_column(justify="right", overflow="fold")
    for row in rows:
        table.add_row(*row)
    return table


def labelled(lines: Iterable[tuple[str, Text]]) -> Table:
    """Lines with a label before them, such as "pass:"."""
    table = Table.grid(padding=(0, 1))
    table.add_column(width=8, justify="right")
    table.add_column(overflow="fold")
    for label, text in lines:
        table.add_row(label, text)
    return table


def heading(text: str) -> RenderableType:
    """What stands over a list."""
    return Group(Text(""), Text(text, "bold"))


@contextmanager
def progress(start: str, total: int) -> Iterator[Callable[[str], None]]:
    """A row of slots on standard error; yields a function that counts one more and names the step."""
    with Progress(_Slots(), console=console(sys.stderr)) as bar:
        task = bar.add_task(start, total=total)
        yield lambda text: bar.update(task, advance=1, description=text)


class _Slots(ProgressColumn):
    """ "■■■■■······  12 of 77  mouth mirror, please": as many whole words as there is room for."""

    def render(self, task: Task) -> Text:
        total = int(task.total or 0)
        filled = BAR * int(task.completed) // total if total else 0
        count = f"{int(task.completed):>{len(str(total))}} of {total}"
        room = console(sys.stderr).width - BAR - len(count) - 2 * GAP
        return Text.assemble(
            ("■" * filled, "green"),
            "·" * (BAR - filled),
            " " * GAP,
            count,
            " " * GAP,
            beginning(task.description, room),
        )


def beginning(text: str, width: int) -> str:
    """The text, or its first words and "…", in at most `width` columns."""
    if cell_len(text) <= width:
        return text
    kept = ""
    for word in text.split():
        if cell_len(f"{kept}{word} …") > width:
            break
        kept += f"{word} "
    return f"{kept}…"
