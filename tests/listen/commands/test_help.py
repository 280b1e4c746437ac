"""Every command says what it does and what it is given, and the documents list them all."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import typer
import typer.main

import listen.bench.__main__ as bench
from listen.commands.main import app

ROOT = Path(__file__).parents[3]
ROW = re.compile(r"^\| `([^`]+)` \| ((?:`[^`]+`(?:, )?)+) \|$", re.MULTILINE)
"""A line of a table of commands: where they are, and their names."""


def training() -> typer.Typer:
    pytest.importorskip("torch", reason="torch, which only training needs, is not installed")
    import listen.adapt.__main__ as adapt

    return adapt.app


PROGRAMS: dict[str, tuple[str, Callable[[], typer.Typer]]] = {
    "traycall": ("README.md", lambda: app),
    "python -m listen.bench": ("DEVELOPERS.md", lambda: bench.app),
    "python -m listen.adapt": ("DEVELOPERS.md", training),
}


def walk(name: str, command: Any) -> Iterator[tuple[str, Any]]:
    """A command and all beneath it, each with the words that lead to it."""
    yield name, command
    for word, inner in getattr(command, "commands", {}).items():
        yield from walk(f"{name} {word}", inner)


@pytest.mark.parametrize("program", PROGRAMS)
def test_every_command_argument_and_option_has_a_help_text(program: str) -> None:
    _, app_of = PROGRAMS[program]
    silent = []
    for name, command in walk(program, typer.main.get_command(app_of())):
        silent += [name] if not command.help else []
        silent += [f"{name} {parameter.opts[0]}" for parameter in command.params if not parameter.help]
    assert silent == []


@pytest.mark.parametrize("program", PROGRAMS)
def test_the_documents_list_every_command_and_none_that_is_gone(program: str) -> None:
    document, app_of = PROGRAMS[program]
    rows = ROW.findall((ROOT / document).read_text(encoding="utf-8"))
    listed = {
        where: set(re.findall("`([^`]+)`", names)) for where, names in rows if where.startswith(program)
    }
    groups: dict[str, set[str]] = {}
    for name, command in walk(program, typer.main.get_command(app_of())):
        inner = getattr(command, "commands", {})
        if inner:
            groups[name] = {word for word, one in inner.items() if not hasattr(one, "commands")}
    assert listed == groups
