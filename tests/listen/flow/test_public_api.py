"""What other programs use: the examples run as they stand, and importing a package loads next to nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from textwrap import dedent

import pytest

import listen
import vocab

ROOT = Path(__file__).parents[3]
PERIO_PROBE = "recordings_demo/audio/005.flac"


def example(text: str, first_line: str) -> str:
    """The indented block of a text that begins with a line of code."""
    lines = text[text.index(f"    {first_line}") :].splitlines()
    length = next((i for i, line in enumerate(lines) if line and not line.startswith("    ")), len(lines))
    return dedent("\n".join(lines[:length]))


def run(program: str, home: Path) -> str:
    """What a program prints, in the checkout and with warnings taken for errors."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "XDG_DATA_HOME": str(home)},
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.slow
def test_the_example_of_the_readme_names_item_slot_and_what_comes_next(tmp_path: Path) -> None:
    program = example((ROOT / "README.md").read_text(encoding="utf-8"), "from listen import")
    assert PERIO_PROBE in program
    (line,) = run(program, tmp_path).splitlines()
    assert line.startswith("periodontal probe 3 ") and "mouth mirror" in line


@pytest.mark.slow
def test_the_example_of_the_package_that_hears_runs(tmp_path: Path) -> None:
    program = example(listen.__doc__ or "", "from listen import")
    assert '"item": "perio_probe"' in run(program.replace("request.wav", PERIO_PROBE), tmp_path)


def test_the_example_of_the_vocabulary_runs(tmp_path: Path) -> None:
    printed = run(example(vocab.__doc__ or "", "from vocab import"), tmp_path)
    assert "mouth mirror" in printed and "shepherd's hook explorer" in printed


@pytest.mark.parametrize("package", ["listen", "vocab"])
def test_every_name_that_is_promised_is_there_and_no_other(package: str) -> None:
    module = import_module(package)
    for name in module.__all__:
        assert getattr(module, name) is not None
    assert set(module.__all__) == set(module._HOMES)
    with pytest.raises(AttributeError, match=f"module '{package}' has no attribute 'open_drawer'"):
        module.open_drawer  # noqa: B018
    assert (ROOT / package / "py.typed").is_file()


def test_importing_loads_nothing_that_takes_long(tmp_path: Path) -> None:
    loaded = run("import sys, listen, vocab\nprint(*sys.modules)", tmp_path).split()
    assert not {"numpy", "onnxruntime", "pydantic", "rapidfuzz", "yaml"} & set(loaded)
