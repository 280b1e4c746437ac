"""A pack that was read once is kept, and whatever does not fit it any more is left aside."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from vocab.errors import PackError
from vocab.pack.kept import kept_pack
from vocab.pack.load import load_pack, shipped_pack
from vocab.pack.schema import Pack

PACK = shipped_pack("dentures")


class Reads:
    """Gives the pack and counts how often it was asked for."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self) -> Pack:
        self.times += 1
        return PACK


@pytest.fixture
def source(tmp_path: Path) -> Path:
    file = tmp_path / "pack.yaml"
    file.write_text("name: one", encoding="utf-8")
    return file


def test_a_pack_is_read_once_and_the_same_afterwards(source: Path, tmp_path: Path) -> None:
    read, folder = Reads(), tmp_path / "kept"
    first, second = (kept_pack("one", [source], read, folder) for _ in range(2))
    assert read.times == 1 and first == second == PACK
    assert second.model_dump_json() == PACK.model_dump_json()
    assert [item.model_fields_set for item in second.items] == [item.model_fields_set for item in PACK.items]
    (file,) = folder.iterdir()
    assert folder.stat().st_mode & 0o777 == 0o700 and file.stat().st_mode & 0o777 == 0o600


def test_a_changed_file_makes_another_pack_and_the_old_one_goes(source: Path, tmp_path: Path) -> None:
    read, folder = Reads(), tmp_path / "kept"
    kept_pack("one", [source], read, folder)
    source.write_text("name: two", encoding="utf-8")
    kept_pack("one", [source], read, folder)
    assert read.times == 2 and len(list(folder.iterdir())) == 1


@pytest.mark.parametrize(
    "damage",
    [
        lambda data: data[: len(data) // 2],
        lambda data: data.replace(b"denture", b"venture"),
        lambda data: b"",
    ],
)
def test_what_is_damaged_is_read_anew(damage: Callable[[bytes], bytes], source: Path, tmp_path: Path) -> None:
    read, folder = Reads(), tmp_path / "kept"
    kept_pack("one", [source], read, folder)
    (file,) = folder.iterdir()
    whole = file.read_bytes()
    file.write_bytes(damage(whole))
    assert kept_pack("one", [source], read, folder) == PACK
    assert read.times == 2 and file.read_bytes() == whole


def test_a_folder_that_cannot_be_used_is_done_without(source: Path, tmp_path: Path) -> None:
    read, blocked = Reads(), tmp_path / "file"
    blocked.write_text("no folder")
    assert kept_pack("one", [source], read, blocked / "kept") == PACK
    assert kept_pack("one", [source], read, blocked / "kept") == PACK and read.times == 2


def test_a_pack_with_mistakes_is_not_kept(source: Path, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    for _ in range(2):
        with pytest.raises(PackError):
            kept_pack("one", [source], lambda: load_pack(tmp_path), folder)
    assert not folder.exists()
