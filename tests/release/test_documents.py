"""What the documents say of a release is true of this one."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from listen.commands.at_login import UNIT
from listen.commands.machine import KEPT
from listen.commands.screen import PORT

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
VERSION = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]


def test_the_readme_installs_the_wheel_of_this_version() -> None:
    assert set(re.findall(r"traycall-([\d.]+)-py3-none-any\.whl", README)) == {VERSION}


def test_the_changes_begin_with_this_version_or_with_what_is_to_come() -> None:
    changes = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("\n## Changes\n")[2]
    headings = re.findall(r"^(Unreleased|[\d.]+, \d{4}-\d\d-\d\d):$", changes, re.MULTILINE)
    assert [one.partition(",")[0] for one in headings if one != "Unreleased"][0] == VERSION
    assert headings.index(next(one for one in headings if one.startswith(VERSION))) <= 1


def test_the_readme_lists_what_is_kept_as_the_machines_check_does() -> None:
    rows = re.findall(r"^\| `([^`]+)` \| ([^|`]+) \|$", README.partition("**What is kept**")[2], re.MULTILINE)
    assert dict(rows) == KEPT


def test_the_readme_names_the_unit_and_where_the_screen_is() -> None:
    assert f"machine --at-login > ~/.config/systemd/user/{UNIT}" in README
    assert f"http://localhost:{PORT}" in README
