"""What a stranger gets: the wheel alone, far from the tree and from any network, runs the demo."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tarfile
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.offline.guard import Run, need_guard, run

pytestmark = [pytest.mark.slow, pytest.mark.timeout(1200)]

ROOT = Path(__file__).parents[2]
PACKAGES = ("listen", "vocab", "recordings_demo")
BESIDE = ("pyproject.toml", "README.md", "LICENSE", "NOTICE")
BUILD = """
import sys, setuptools.build_meta as backend
_, out, *kinds = sys.argv
for kind in kinds:
    getattr(backend, f"build_{kind}")(out)
"""
IN_THE_TREE_ALONE = {"recordings_demo/chair_screen.png", "recordings_demo/drill.png"}
"""The README's pictures."""
LARGEST_WHEEL = 40_000_000
LONGEST_S = 900.0
"""The demo takes a minute and a half, watched on two idle cores."""


@dataclass(frozen=True)
class Built:
    wheel: Path
    again: Path
    """Built from the source distribution, by itself."""


@dataclass(frozen=True)
class Installed:
    home: Path
    programs: Path
    demo: Run
    """The first start of all, offline, in an empty folder."""


def build(tree: Path, out: Path, *kinds: str) -> None:
    """Build the tree's wheel or sdist, or both, with the setuptools of this environment."""
    out.mkdir(exist_ok=True)
    done = subprocess.run(
        [sys.executable, "-c", BUILD, str(out), *kinds], cwd=tree, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr[-3000:]


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of what is built, so that nothing is left in the tree."""
    copy = tmp_path_factory.mktemp("tree")
    for name in PACKAGES:
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__", ".*"))
    for name in BESIDE:
        shutil.copy(ROOT / name, copy)
    return copy


@pytest.fixture(scope="module")
def built(tree: Path, tmp_path_factory: pytest.TempPathFactory) -> Built:
    out, again = tmp_path_factory.mktemp("out"), tmp_path_factory.mktemp("again")
    build(tree, out, "sdist", "wheel")
    (source,) = out.glob("*.tar.gz")
    with tarfile.open(source) as packed:
        packed.extractall(again, filter="data")
    (unpacked,) = again.iterdir()
    build(unpacked, again / "out", "wheel")
    (wheel,), (second,) = out.glob("*.whl"), (again / "out").glob("*.whl")
    return Built(wheel, second)


@pytest.fixture(scope="module")
def installed(built: Built, tmp_path_factory: pytest.TempPathFactory) -> Installed:
    need_guard()
    folder, home = tmp_path_factory.mktemp("environment"), tmp_path_factory.mktemp("home")
    subprocess.run([sys.executable, "-m", "venv", str(folder)], check=True)
    programs = folder / "bin"
    pip = [str(programs / "python"), "-m", "pip", "install", "-q", str(built.wheel)]
    done = subprocess.run(pip, cwd=home, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-3000:]
    empty = tmp_path_factory.mktemp("empty")
    return Installed(
        home,
        programs,
        run([programs / "traycall", "demo"], home, cwd=empty, longest_s=LONGEST_S, PYTHONPATH=""),
    )


def content(wheel: Path) -> dict[str, int]:
    """The files in a wheel, with their checksums."""
    with zipfile.ZipFile(wheel) as packed:
        return {entry.filename: entry.CRC for entry in packed.infolist()}


def test_the_wheel_holds_every_file_of_the_packages_and_no_other(tree: Path, built: Built) -> None:
    there = {path.relative_to(tree).as_posix() for name in PACKAGES for path in (tree / name).rglob("*.*")}
    there = {name for name in there if (tree / name).is_file()}
    there |= {f"vocab/intent_model/{name}" for name in ("NOTICE",)}
    packed = {name for name in content(built.wheel) if ".dist-info/" not in name}
    assert packed == there - IN_THE_TREE_ALONE
    assert built.wheel.stat().st_size < LARGEST_WHEEL


def test_the_source_distribution_builds_the_same_wheel(built: Built) -> None:
    assert built.again.name == built.wheel.name
    assert content(built.again) == content(built.wheel)


def test_every_licence_is_in_the_wheel(built: Built) -> None:
    held = {name.partition(".dist-info/licenses/")[2] for name in content(built.wheel)}
    assert {"LICENSE", "NOTICE", "vocab/intent_model/NOTICE", "vocab/drawings/fonts/LICENSE.txt"} <= held


def test_the_first_start_without_a_network_runs_the_whole_demo(installed: Installed) -> None:
    """The floors are far below the figures in the model card: they catch a broken engine, not a slip."""
    done = installed.demo
    assert (done.code, done.tried) == (0, ()), done.err
    requests, chatter = (
        list(map(int, row.split()[1:])) for row in re.findall(r"^together.*", done.out, re.MULTILINE)
    )
    asked, right, checked, wrong, missed = requests
    talk, quiet, back, answered = chatter
    assert (asked, talk) == (59, 18)
    assert right + checked + wrong + missed == asked and quiet + back + answered == talk
    assert right + checked >= 0.85 * asked and wrong <= 0.1 * asked and answered <= 0.25 * talk
    assert "engine: neural" in done.out


def test_what_is_installed_needs_nothing_of_the_tree(installed: Installed, tmp_path: Path) -> None:
    where = "import listen, vocab; print(*listen.__path__, *vocab.__path__)"
    done = run([installed.programs / "python", "-c", where], installed.home, cwd=tmp_path, PYTHONPATH="")
    assert all(str(installed.programs.parent) in path for path in done.out.split()), done
