"""Files that are never half written. The rules are our own, no outside source."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from vocab import files
from vocab.files import Busy, data_folder, locked, private_file, write_atomically
from vocab.layers.vocabulary import layers_folder

OLD, NEW = b"old" * 1000, b"new" * 1000


def names(folder: Path) -> list[str]:
    return sorted(file.name for file in folder.iterdir())


def test_a_file_is_written_and_replaced_whole(tmp_path: Path) -> None:
    file = tmp_path / "words.json"
    for data in (OLD, NEW):
        write_atomically(file, data)
        assert file.read_bytes() == data
    assert names(tmp_path) == ["words.json"]


@pytest.mark.parametrize("broken", ["fsync", "replace"])
def test_a_failed_write_leaves_the_old_file_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    file = tmp_path / "words.json"
    write_atomically(file, OLD)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, broken, full)
    with pytest.raises(OSError, match="No space left"):
        write_atomically(file, NEW)
    assert file.read_bytes() == OLD and names(tmp_path) == ["words.json"]


KILLED = """
import os, signal, sys
from pathlib import Path
from vocab import files
setattr(os, sys.argv[2], lambda *_: os.kill(os.getpid(), signal.SIGKILL))
files.write_atomically(Path(sys.argv[1]), b"new" * 1000)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a system that can kill a process")
@pytest.mark.parametrize("at", ["fsync", "replace"])
def test_a_killed_write_leaves_the_old_file(tmp_path: Path, at: str) -> None:
    file = tmp_path / "words.json"
    write_atomically(file, OLD)
    killed = subprocess.run([sys.executable, "-c", KILLED, str(file), at], check=False)
    assert killed.returncode == -signal.SIGKILL
    assert file.read_bytes() == OLD
    write_atomically(file, NEW)
    assert file.read_bytes() == NEW


@pytest.mark.skipif(os.name == "nt", reason="needs a system with permissions for owner, group and others")
def test_what_is_private_is_readable_by_its_owner_only(tmp_path: Path) -> None:
    def mode(file: Path) -> int:
        return file.stat().st_mode & 0o777

    private, shared, made = tmp_path / "private", tmp_path / "shared", tmp_path / "made"
    write_atomically(private, OLD, private=True)
    write_atomically(shared, OLD)
    private_file(made)
    assert mode(private) == mode(made) == 0o600
    for file in (private, shared, made):
        file.chmod(0o664)
    write_atomically(private, NEW, private=True)
    write_atomically(shared, NEW)
    private_file(made)
    assert (mode(private), mode(shared), mode(made)) == (0o600, 0o664, 0o600)


COUNT = """
import sys, threading
from pathlib import Path
from vocab.files import locked, write_atomically
file = Path(sys.argv[1])
def work():
    for _ in range(6):
        with locked(file.with_name("counter.lock")):
            write_atomically(file, str(int(file.read_bytes()) + 1).encode())
threads = [threading.Thread(target=work) for _ in range(4)]
for thread in threads: thread.start()
for thread in threads: thread.join()
"""


def test_threads_of_several_processes_take_turns(tmp_path: Path) -> None:
    counter = tmp_path / "counter"
    counter.write_bytes(b"0")
    running = [subprocess.Popen([sys.executable, "-c", COUNT, str(counter)]) for _ in range(3)]
    assert [process.wait() for process in running] == [0, 0, 0]
    assert counter.read_bytes() == b"72"


def test_a_lock_that_another_keeps_is_told(tmp_path: Path) -> None:
    lock = tmp_path / "counter.lock"
    code = "import sys; from pathlib import Path; from vocab.files import locked\n"
    code += "with locked(Path(sys.argv[1])): print('held', flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", code, str(lock)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout is not None and other.stdout.readline() == b"held\n"
        with pytest.raises(Busy, match="held by another process"), locked(lock, wait_s=0.05):
            pass
        other.kill()
    with locked(lock):
        pass


def test_a_lock_is_free_after_an_error(tmp_path: Path) -> None:
    lock = tmp_path / "counter.lock"
    with pytest.raises(ValueError, match="inside"), locked(lock):
        raise ValueError("inside")
    got: list[bool] = []

    def take() -> None:
        with locked(lock):
            got.append(True)

    thread = threading.Thread(target=take)
    thread.start()
    thread.join(10)
    assert got == [True]


def test_there_is_one_data_folder_and_the_earlier_one_is_still_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on Windows, where an author's name stands in the path unless it is left out (platformdirs)."""

    def windows(app: str, appauthor: object = None) -> Path:
        return tmp_path / app if appauthor is False else tmp_path / app / app

    monkeypatch.setattr(files, "user_data_path", windows)
    new, old = tmp_path / "traycall" / "layers", tmp_path / "traycall" / "traycall" / "layers"
    assert data_folder() == tmp_path / "traycall"
    assert layers_folder("operative") == new / "operative"
    (old / "operative").mkdir(parents=True)
    assert layers_folder("operative") == old / "operative"
    assert layers_folder("oral_surgery") == new / "oral_surgery"
    (new / "operative").mkdir(parents=True)
    assert layers_folder("operative") == new / "operative"
