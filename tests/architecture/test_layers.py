"""Every module imports only what lies below it; the rules are the contracts in pyproject.toml."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def lint_imports(root: Path) -> subprocess.CompletedProcess[str]:
    """`lint-imports` over the packages of a folder."""
    program = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()"]
    return subprocess.run(
        [*program, "--no-cache"],
        cwd=root,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(root), "COLUMNS": "200"},
    )


def test_no_import_breaks_a_contract() -> None:
    done = lint_imports(ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("vocab/pack/formula.py", "import listen.engine"),
        ("listen/readings.py", "import listen.web.pages"),
        ("listen/chairside/session.py", "import starlette.requests"),
        ("listen/live/settings.py", "import typer"),
        ("listen/commands/machine.py", "import listen.bench.clips"),
    ],
)
def test_an_import_that_runs_back_up_is_found(tmp_path: Path, module: str, line: str) -> None:
    for name in ("listen", "vocab"):
        for file in (ROOT / name).rglob("*.py"):
            copy = tmp_path / file.relative_to(ROOT)
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(file.read_bytes())
    (tmp_path / "pyproject.toml").write_bytes((ROOT / "pyproject.toml").read_bytes())
    broken = tmp_path / module
    broken.write_text(broken.read_text(encoding="utf-8") + f"\n{line}\n", encoding="utf-8")
    done = lint_imports(tmp_path)
    assert done.returncode == 1, done.stdout + done.stderr
    assert module.removesuffix(".py").replace("/", ".") in done.stdout
