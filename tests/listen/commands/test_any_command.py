"""Whatever stands on a command line is answered in plain words and with one of the promised exit codes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import typer.main
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from listen.commands.main import app
from tests.nasty import nasty

pytestmark = pytest.mark.slow

LONG = {"screen", "demo", "hear", "machine", "try-name", "look-over", "drill", "hold"}
"""Commands that serve, listen, or take their time whatever they are given."""
MEANT = ("mouth_mirror", "operative", "amalgam_class_two", "mirror", "1", "out.csv", "clinic")


def leaves(command: Any, path: tuple[str, ...] = ()) -> list[tuple[tuple[str, ...], Any]]:
    """Every command that does something, with the words that lead to it."""
    inner = getattr(command, "commands", None)
    if inner is None:
        return [(path, command)]
    return [leaf for name, one in inner.items() if name not in LONG for leaf in leaves(one, (*path, name))]


COMMANDS = leaves(typer.main.get_command(app))


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is written lands here, whatever it is."""
    for name in ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    monkeypatch.chdir(tmp_path)


def as_argument(text: str) -> str:
    """As a system can hand it over: without zero bytes."""
    return text.replace("\x00", "")


@settings(
    deadline=None,
    max_examples=120,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(data=st.data())
def test_any_command_line_is_answered(data: st.DataObject) -> None:
    words, command = data.draw(st.sampled_from(COMMANDS))
    values = st.one_of(nasty.map(as_argument), st.sampled_from(MEANT))
    line = list(words)
    for parameter in command.params:
        required = parameter.required or data.draw(st.integers(0, 3)) == 0
        if not required or parameter.name == "help":
            continue
        if parameter.param_type_name == "argument":
            line.append(data.draw(values))
        elif getattr(parameter, "is_flag", False):
            line.append(parameter.opts[0])
        else:
            line += [parameter.opts[0], data.draw(values)]
    result = CliRunner().invoke(app, line, input=data.draw(nasty.filter(str.isascii)))
    assert result.exception is None or isinstance(result.exception, SystemExit), (line, result.exception)
    assert result.exit_code in (0, 1, 2) and "Traceback" not in result.output, line


ATTACKED = [
    (["ask", f"give me {'9' * 5_000} burs"], ""),
    (["ask", "1² burs please"], ""),
    (["ask", "\udcff mirror"], ""),
    (["ask", "--dentist", "../x", "mirror"], "not a dentist's id"),
    (["hear", "--microphone", "²"], "microphone"),
    (["hear", "--microphone", "9" * 5_000], ""),
    (["practise", "progress", "--store", "nonsense://x", "--trainee", "Ada"], "nonsense"),
    (["edit", "try-name", "mouth_mirror", "a" * 5_000], "at most 80"),
    (["edit", "add-name", "mouth_mirror", ""], ""),
    (["edit", "add-name", "mouth_mirror", "a\x1b[31mb"], ""),
    (["edit", "add-name", "mouth_mirror", "a\u202eb"], ""),
    (["edit", "set-field", "mouth_mirror", "look", "[" * 3_000], ""),
]
"""What met a traceback once, and a part of what is said now."""


@pytest.mark.parametrize(("line", "told"), ATTACKED, ids=[" ".join(line)[:40] for line, _ in ATTACKED])
def test_what_broke_once_is_answered(line: list[str], told: str) -> None:
    result = CliRunner().invoke(app, line)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code in (0, 1, 2) and "Traceback" not in result.output
    assert told in result.output and "\x1b[31m" not in result.output
