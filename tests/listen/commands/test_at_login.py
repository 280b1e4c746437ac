"""The unit that starts the chair screen at log-in is one that systemd takes."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from listen.commands import at_login
from listen.commands.main import app
from vocab.errors import Declined


def verified(text: str, folder: Path) -> tuple[int, list[str]]:
    """systemd's exit code, and what it says of a unit (it also looks at the machine's own); nothing is
    installed or started."""
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd-analyze is not installed: apt install systemd")
    file = folder / at_login.UNIT
    file.write_text(text, encoding="utf-8")
    done = subprocess.run(
        ["systemd-analyze", "--user", "verify", str(file)],
        capture_output=True,
        text=True,
        env={**os.environ, "XDG_RUNTIME_DIR": str(folder)},
    )
    return done.returncode, [line for line in done.stderr.splitlines() if at_login.UNIT in line]


@pytest.fixture
def traycall(tmp_path: Path) -> Path:
    """A program whose path holds what systemd reads in its own way."""
    file = tmp_path / "chair 1, 50% $HOME" / "bin" / "traycall"
    file.parent.mkdir(parents=True)
    file.write_text("#!/bin/sh\n")
    file.chmod(0o755)
    return file


def test_systemd_takes_the_unit_that_is_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "traycall").symlink_to("/bin/true")
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))
    done = CliRunner().invoke(app, ["machine", "--at-login"])
    assert done.exit_code == 0, done.output
    (command,) = [line for line in done.stdout.splitlines() if line.startswith("ExecStart=")]
    assert shlex.split(command.partition("=")[2]) == [str(tmp_path / "traycall"), "screen"]
    assert verified(done.stdout, tmp_path) == (0, [])


def test_systemd_finds_the_program_whatever_its_path(traycall: Path, tmp_path: Path) -> None:
    unit = at_login.unit(traycall, system="Linux")
    assert verified(unit, tmp_path) == (0, [])
    traycall.unlink()
    _, said = verified(unit, tmp_path)
    assert "not executable" in "".join(said)


def test_elsewhere_it_is_said_where_to_look(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(Declined, match="the README says how a log-in starts traycall on Windows"):
        at_login.unit(tmp_path, system="Windows")
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))
    done = CliRunner().invoke(app, ["machine", "--at-login"])
    assert done.exit_code == 2 and "install traycall with pip" in done.stderr
