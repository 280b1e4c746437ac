"""NOTICE names everything that a default installation brings, with the licence that it declares."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.metadata import Distribution, distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
ASKED = "Installed with traycall: what it asks for"
BEYOND = "Installed with traycall: what those ask for"
INSIDE = "Libraries inside those packages"
IN_WORDS = {
    "3-Clause BSD License": {"BSD-3-Clause"},
    "Apache 2.0": {"Apache-2.0"},
    "Apache Software License": {"Apache-2.0"},
    "BSD 3-Clause License": {"BSD-3-Clause"},
    "BSD License": {"BSD-2-Clause", "BSD-3-Clause"},
    "ISC License": {"ISC"},
    "ISC License (ISCL)": {"ISC"},
    "MIT License": {"MIT"},
    "PSFL": {"PSF-2.0"},
    "Python Software Foundation License": {"PSF-2.0"},
    "UNKNOWN": set[str](),
}
"""What a package may declare in words, as SPDX writes it."""


@cache
def sections() -> dict[str, list[tuple[str, str, str]]]:
    """The rows of each table of NOTICE, by its heading: name, second column, licence."""
    found: dict[str, list[tuple[str, str, str]]] = {}
    lines = (ROOT / "NOTICE").read_text(encoding="utf-8").splitlines()
    for before, line in zip(["", *lines], lines, strict=False):
        if line and set(line) == {"-"}:
            found[before] = []
        elif line.startswith("  "):
            name, where, licence = re.fullmatch(r"  (\S+) +(\S.*?)  +(\S.*)", line).groups()  # type: ignore[union-attr]
            found[list(found)[-1]].append((name, where, licence))
    return found


@cache
def installed() -> dict[str, set[str]]:
    """What a default installation brings, without traycall itself, and which packages ask for each."""
    asked: dict[str, set[str]] = {}
    ahead = [("traycall", text) for text in PROJECT["dependencies"]]
    while ahead:
        asks, text = ahead.pop()
        wanted = Requirement(text)
        if wanted.marker is not None and not wanted.marker.evaluate({"extra": ""}):
            continue
        name = canonicalize_name(wanted.name)
        if name not in asked:
            ahead += [(name, further) for further in distribution(name).requires or ()]
        asked.setdefault(name, set()).add(asks)
    return asked


def declared(package: Distribution) -> Iterator[str]:
    """Every licence that a package declares, in SPDX or in words."""
    words = package.metadata
    expressions = words.get_all("License-Expression") or ()
    if expressions:
        yield from expressions
        return
    for text in words.get_all("License") or ():
        yield from text.strip().splitlines()[:1]
    for classifier in words.get_all("Classifier") or ():
        if classifier.startswith("License :: OSI Approved :: "):
            yield classifier.rsplit(" :: ", 1)[1]


def gpl_alone(licence: str) -> bool:
    """Whether a part is under the GPL or AGPL, without the exception that lets any program use it."""
    parts = re.split(r" AND | OR ", licence)
    return any(re.match("A?GPL", part) and "WITH GCC-exception" not in part for part in parts)


def libraries(package: Distribution) -> set[str]:
    """Shared libraries in a package that are no modules of Python, without version and checksum."""
    names = [file.name for file in package.files or () if re.search(r"\.(so|dylib|dll)(\.|$)", file.name)]
    plain = [name for name in names if not re.search(r"\.(cpython-|cp3|abi3|pyd)", name)]
    return {re.split(r"[-.]", name)[0].removesuffix("_x86_64").rstrip("_") for name in plain}


def test_what_is_asked_for_stands_there_with_its_versions() -> None:
    wanted = {canonicalize_name(r.name): r.specifier for r in map(Requirement, PROJECT["dependencies"])}
    assert {name: SpecifierSet(versions) for name, versions, _ in sections()[ASKED]} == wanted


def test_all_that_is_installed_stands_there_once_and_who_asks_for_it() -> None:
    direct = {canonicalize_name(Requirement(text).name) for text in PROJECT["dependencies"]}
    beyond = {name: who for name, who in installed().items() if name not in direct}
    rows = {name: where for name, where, _ in sections()[BEYOND]}
    assert set(rows) == set(beyond)
    for name, where in rows.items():
        assert re.fullmatch("as (.*) asks", where)[1] in beyond[name], name  # type: ignore[index]


@pytest.mark.parametrize("row", [*sections()[ASKED], *sections()[BEYOND]], ids=lambda row: str(row[0]))
def test_a_package_has_the_licence_that_it_declares(row: tuple[str, str, str]) -> None:
    name, _, licence = row
    said = [text for text in declared(distribution(name)) if text != "UNKNOWN"]
    assert said, f"{name} declares no licence; read its own and say here what it is"
    for text in said:
        assert licence in IN_WORDS.get(text, {text, *_short(text)}), f"{name} says {text!r}"
    assert not gpl_alone(licence), f"{name} is under the GPL: make it an optional extra"


def _short(text: str) -> list[str]:
    """The SPDX identifier in brackets behind a name in words: "Mozilla Public License 2.0 (MPL 2.0)"."""
    return [found.replace(" ", "-") for found in re.findall(r"\(([^)]+)\)$", text)]


def test_every_library_inside_a_package_stands_there() -> None:
    told = {(name, package) for name, package, _ in sections()[INSIDE]}
    for name in installed():
        for library in libraries(distribution(name)):
            known = {(library, name), (library.split("_")[0], name)}
            assert known & told, f"{library} in {name}: name it, with its licence, in NOTICE"


def test_no_library_is_under_the_gpl_alone() -> None:
    assert [row for row in sections()[INSIDE] if gpl_alone(row[2])] == []
    assert gpl_alone("GPL-3.0-or-later") and gpl_alone("MIT AND GPL-2.0-only")
    assert not gpl_alone("LGPL-2.1-or-later")
    assert not gpl_alone("GPL-3.0-or-later WITH GCC-exception-3.1")
