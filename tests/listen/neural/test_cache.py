"""What is made once is used only as it was made: anything cut short, altered or left over is made again."""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import signal
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from listen.engine import Hearing
from listen.neural.cache import CacheProblem, made
from listen.neural.engine import NeuralEngine
from listen.speech import voices
from tests.listen.web.desk_app import recording
from tests.vocab.small_pack import small_pack

NAME = "graphs-1-abc"


def fill(part: Path) -> None:
    (part / "weights").write_bytes(bytes(range(256)) * 40)
    (part / "table.npy").write_bytes(b"table")


class Maker:
    """Fills folders and counts how often."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self, part: Path) -> None:
        self.times += 1
        fill(part)


def is_whole(folder: Path) -> bool:
    return (folder / "weights").stat().st_size == 10_240 and (folder / "table.npy").read_bytes() == b"table"


def test_what_is_whole_is_not_made_again(tmp_path: Path) -> None:
    maker = Maker()
    assert made(tmp_path / NAME, maker) == made(tmp_path / NAME, maker) == tmp_path / NAME
    assert maker.times == 1 and is_whole(tmp_path / NAME)


def cut_short(folder: Path) -> None:
    os.truncate(folder / "weights", 100)


def altered(folder: Path) -> None:
    data = bytearray((folder / "weights").read_bytes())
    data[5000] ^= 1
    (folder / "weights").write_bytes(data)


def lost(folder: Path) -> None:
    (folder / "table.npy").unlink()


def emptied_sums(folder: Path) -> None:
    (folder / "SHA256SUMS").write_bytes(b"")


def of_an_earlier_version(folder: Path) -> None:
    (folder / "SHA256SUMS").unlink()


def a_file_too_many(folder: Path) -> None:
    (folder / "other").write_bytes(b"")


@pytest.mark.parametrize(
    "damage", [cut_short, altered, lost, emptied_sums, of_an_earlier_version, a_file_too_many]
)
def test_what_is_damaged_is_made_again(damage: Callable[[Path], None], tmp_path: Path) -> None:
    maker = Maker()
    folder = made(tmp_path / NAME, maker)
    damage(folder)
    made(folder, maker)
    assert maker.times == 2 and is_whole(folder)
    made(folder, maker)
    assert maker.times == 2


def test_what_is_whole_but_not_what_is_wanted_is_made_again(tmp_path: Path) -> None:
    maker = Maker()

    def short(part: Path) -> None:
        (part / "table.npy").write_bytes(b"short")

    made(tmp_path / NAME, short)
    made(tmp_path / NAME, maker, fits=lambda folder: (folder / "weights").exists())
    assert maker.times == 1 and is_whole(tmp_path / NAME)


def killed_while_making(folder: Path) -> None:
    def make(part: Path) -> None:
        fill(part)
        os.kill(os.getpid(), signal.SIGKILL)

    made(folder, make)


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system cannot kill a process outright")
def test_a_killed_first_start_leaves_nothing_once_it_was_started_again(tmp_path: Path) -> None:
    killed = multiprocessing.get_context("spawn").Process(target=killed_while_making, args=(tmp_path / NAME,))
    killed.start()
    killed.join()
    assert killed.exitcode == -signal.SIGKILL and not (tmp_path / NAME).exists()
    (tmp_path / "prior-graphs-1-abc-def.x1y2z3").mkdir()  # as earlier versions left them
    made(tmp_path / "prior-graphs-1-abc-123", fill)
    assert {path.name for path in tmp_path.iterdir()} == {".lock", "prior-graphs-1-abc-123"}


def test_a_failed_start_leaves_nothing(tmp_path: Path) -> None:
    def make(part: Path) -> None:
        fill(part)
        raise OSError(28, "No space left on device")

    with pytest.raises(CacheProblem, match=r"No space left on device.*200 MB of space"):
        made(tmp_path / NAME, make)
    assert {path.name for path in tmp_path.iterdir()} == {".lock"}


def test_a_cache_that_cannot_be_made_is_said_plainly(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(
        CacheProblem, match="check that there are 200 MB of space and that you own the folder"
    ):
        made(tmp_path / "file" / NAME, fill)


def make_noting(folder: Path, notes: Path) -> None:
    def make(part: Path) -> None:
        with notes.open("a") as file:
            file.write("made\n")
        fill(part)

    assert is_whole(made(folder, make))


@pytest.mark.slow
def test_several_first_starts_at_once_make_it_once(tmp_path: Path) -> None:
    spawn, notes = multiprocessing.get_context("spawn"), tmp_path / "notes"
    starts = [spawn.Process(target=make_noting, args=(tmp_path / "c" / NAME, notes)) for _ in range(4)]
    for start in starts:
        start.start()
    for start in starts:
        start.join()
    assert [start.exitcode for start in starts] == [0] * 4
    assert notes.read_text() == "made\n"


def heard(cache: Path) -> Hearing:
    return NeuralEngine(small_pack(), cache).hear(recording(3))


@pytest.mark.slow
def test_the_ear_hears_the_same_after_its_files_were_damaged(tmp_path: Path) -> None:
    """Every file of graphs and tables is cut to half, as after a power cut."""
    before = heard(tmp_path)
    files = [path for path in tmp_path.rglob("*") if path.is_file() and path.name != ".lock"]
    assert {"encoder.onnx", "decoder.onnx.weights", "name.npy"} <= {path.name for path in files}
    for file in files:
        os.truncate(file, file.stat().st_size // 2)
    assert heard(tmp_path) == before


@pytest.mark.slow
def test_a_table_of_the_wrong_length_is_never_used(tmp_path: Path) -> None:
    """Even where its checksum is right."""
    before = heard(tmp_path)
    (table,) = tmp_path.glob("prior-*/name.npy")
    np.save(table, np.load(table)[:-1])
    sums = "".join(
        f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.name}\n"
        for path in sorted(table.parent.glob("*.npy"))
    )
    (table.parent / "SHA256SUMS").write_text(sums)
    assert heard(tmp_path) == before


def test_a_damaged_recording_of_a_name_is_spoken_again(tmp_path: Path) -> None:
    ready = voices.available(formant=True)
    if not ready:
        pytest.skip("no speech program is installed: apt install espeak-ng")
    before = voices.cached(ready[0], "the explorer", tmp_path)
    (file,) = tmp_path.rglob("*.flac")
    os.truncate(file, file.stat().st_size // 2)
    np.testing.assert_array_equal(voices.cached(ready[0], "the explorer", tmp_path), before)
