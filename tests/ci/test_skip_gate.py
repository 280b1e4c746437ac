"""CI cannot be green because what a test needs is missing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

CI = Path(__file__).parents[2] / ".ci"
MISSING = {
    "a call": 'def test(): pytest.skip("no browser")',
    "a mark": '@pytest.mark.skipif(True, reason="no browser")\ndef test(): pass',
    "a fixture": '@pytest.fixture\ndef it(): pytest.skip("no browser")\ndef test(it): pass',
    "a module": 'pytest.skip("no browser", allow_module_level=True)',
    "an import": 'pytest.importorskip("no_such_module", reason="no browser")\ndef test(): pass',
}
FINE = """
def test(): pass
@pytest.mark.xfail
def test_that_is_expected_to_fail(): assert False
def test_that_may_be_skipped(): pytest.skip("this user may read everything")
"""


def outcome(tests: str, folder: Path) -> tuple[int, str]:
    """Exit code and output of pytest with the gate."""
    (folder / "test_it.py").write_text(f"import pytest\n{tests}\n")
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-p",
        "skip_gate",
        "-p",
        "no:cacheprovider",
        "-ra",
        str(folder),
    ]
    environment = {**os.environ, "PYTHONPATH": str(CI), "PYTEST_ADDOPTS": ""}
    done = subprocess.run(command, capture_output=True, text=True, cwd=folder, env=environment)
    return done.returncode, done.stdout


@pytest.mark.parametrize("how", MISSING)
def test_a_test_that_is_skipped_fails(how: str, tmp_path: Path) -> None:
    code, out = outcome(MISSING[how], tmp_path)
    assert code in (1, 2) and "skipped, and that is not allowed here: no browser" in out


def test_what_may_be_skipped_is_said_above_the_closing_line(tmp_path: Path) -> None:
    code, out = outcome(FINE, tmp_path)
    assert code == 0
    *_, why, closing = out.splitlines()
    assert "1 passed, 1 skipped, 1 xfailed" in closing
    assert "this user may read everything" in out.partition("short test summary")[2] and why.startswith(
        "XFAIL"
    )
