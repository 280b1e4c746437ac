"""Layer files survive what may happen to files. The rules are our own, no outside source.

The kill test runs 40 times by default; TRAYCALL_KILLS=1000 sets another number.
"""

from __future__ import annotations

import errno
import itertools
import os
import random
import re
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.vocab.small_pack import small_pack
from vocab.layers.canonical import LayerError, read_layer, to_text
from vocab.layers.changes import AddItem, AddName, Layer, Operation, SetField, SetMakerTime, Undo
from vocab.layers.lock import Held
from vocab.layers.store import KEPT, CannotSave, LayerStore
from vocab.layers.vocabulary import Vocabulary
from vocab.pack.schema import Name

WHEN = datetime(2026, 1, 2, 10, 30, tzinfo=UTC)
PACK = small_pack()


@pytest.fixture
def store(tmp_path: Path) -> LayerStore:
    return LayerStore(tmp_path / "layers", "clinic", PACK)


def save(store: LayerStore, name: str, who: str = "Ada") -> None:
    """One more name, saved."""
    with store.editing(who, WHEN) as editing:
        new = AddName(item="etchant", name=Name(text=name))
        editing.save(editing.layer.with_changes([new], who, WHEN))


def names(store: LayerStore) -> list[str]:
    changes = store.read().layer.changes
    return [change.do.name.text for change in changes if isinstance(change.do, AddName)]


# --- the written form -------------------------------------------------------------------------------


def test_a_layer_is_written_so_that_a_person_can_read_it(store: LayerStore) -> None:
    with store.editing("Ada", WHEN) as editing:
        new: list[Operation] = [AddName(item="etchant", name=Name(text="our acid")), Undo(change="c1")]
        editing.save(editing.layer.with_changes(new, "Ada", WHEN, 'we say "acid"'))
    text = store.file.read_text(encoding="utf-8")
    assert text.splitlines()[2:] == [
        "# The newest change: c2",
        "format: 1",
        'layer: "clinic"',
        'pack: "small"',
        'pack_version: "1"',
        "changes:",
        '- id: "c1"',
        '  who: "Ada"',
        '  when: "2026-01-02T10:30:00Z"',
        '  why: "we say \\"acid\\""',
        '  do: {"op": "add_name", "item": "etchant", "name": {"text": "our acid"}}',
        '- id: "c2"',
        '  who: "Ada"',
        '  when: "2026-01-02T10:30:00Z"',
        '  why: "we say \\"acid\\""',
        '  do: {"op": "undo", "change": "c1"}',
        "...",
    ]


any_text = st.text(min_size=1).filter(str.strip).map(str.strip)


@settings(max_examples=60)
@given(texts=st.lists(any_text, min_size=1, max_size=4), why=st.text(), seconds=st.floats(1e-9, 86400))
def test_whatever_was_written_reads_back_the_same(
    tmp_path_factory: pytest.TempPathFactory, texts: list[str], why: str, seconds: float
) -> None:
    operations = [AddName(item="etchant", name=Name(text=text, say=tuple(texts))) for text in texts]
    layer = Layer(name="clinic", pack="small", pack_version="1").with_changes(
        [
            *operations,
            SetMakerTime(timer=texts[0], seconds=seconds),
            SetField(item="etchant", field="cautions", value=texts),
            AddItem(item=PACK.item("plastic_instrument")),
        ],
        texts[-1],
        WHEN,
        why,
    )
    file = tmp_path_factory.mktemp("layer") / "clinic.yaml"
    file.write_bytes(to_text(layer).encode())
    assert read_layer(file) == layer
    assert to_text(read_layer(file)) == to_text(layer)
    file.write_bytes(b"# a line added by hand\n" + to_text(layer).encode())
    assert read_layer(file) == layer


@pytest.mark.parametrize(
    ("old", "new", "line", "field", "message"),
    [
        ('  who: "Ada"', "", 9, "changes[c1].who", "is missing"),
        ('"op": "add_name"', '"op": "add_nam"', 12, "changes[c1].do.op", "not a kind of change"),
        ('"op": "add_name", ', "", 12, "changes[c1].do", "give it an op"),
        ('"item": "etchant"', '"item": "The Etchant"', 12, "changes[c1].do.item", "pattern"),
        ('"item": "etchant"', '"itm": "etchant"', 12, "changes[c1].do.itm", "no such field"),
        ('"2026-01-02T10:30:00Z"', '"yesterday"', 11, "changes[c1].when", "datetime"),
        ('"our acid"', '"our acid', 13, "", "valid YAML"),
        ("format: 1", "format: 2", 4, "format", "newer version"),
        ('layer: "clinic"', 'layer: "Clinic 1"', 5, "layer", "pattern"),
        ('pack: "small"', 'pack: "large"', 0, "pack", "move the file to its own place"),
        ('id: "c2"', 'id: "c1"', 13, "changes[c1].id", "used twice"),
        ("\n...\n", "\n", 16, "", "cut off"),
    ],
)
def test_a_hand_broken_file_is_told_with_its_line_and_the_backup_is_used(
    store: LayerStore, old: str, new: str, line: int, field: str, message: str
) -> None:
    save(store, "our acid")
    save(store, "second")
    text = store.file.read_text(encoding="utf-8")
    assert old in text
    store.file.write_text(text.replace(old, new, 1), encoding="utf-8")
    read = store.read()
    assert names(store) == ["our acid", "second"]
    with pytest.raises(LayerError) as caught:
        store._ours(store.file)
    found = [(p.line, p.field, p.message) for p in caught.value.problems]
    assert any(at == line and where == field and message in said for at, where, said in found), found
    assert str(caught.value) in read.recovered
    assert "clinic.00002.yaml" in read.recovered


# --- recovery ---------------------------------------------------------------------------------------


def test_nothing_saved_is_an_empty_layer(store: LayerStore) -> None:
    assert store.read().layer.changes == ()
    assert not store.folder.exists()


def test_a_broken_file_is_kept_beside_and_put_right_at_the_next_change(store: LayerStore) -> None:
    save(store, "one")
    save(store, "two")
    whole = store.file.read_bytes()
    store.file.write_bytes(whole[: len(whole) // 2])
    with store.editing("Ada", WHEN) as editing:
        assert "clinic.yaml.broken-1" in editing.recovered
    assert (store.folder / "clinic.yaml.broken-1").read_bytes() == whole[: len(whole) // 2]
    assert store.read().recovered == ""
    save(store, "three")
    assert names(store) == ["one", "two", "three"]
    store.file.write_bytes(b"")
    save(store, "four")
    assert (store.folder / "clinic.yaml.broken-2").read_bytes() == b""
    assert names(store) == ["one", "two", "three", "four"]


@pytest.mark.slow
def test_a_file_cut_off_anywhere_is_never_taken_for_a_whole_one(store: LayerStore) -> None:
    for name in ("one", "two", "three"):
        save(store, name)
    whole = store.file.read_bytes()
    for length in range(0, len(whole) - 1):
        store.file.write_bytes(whole[:length])
        assert names(store) == ["one", "two", "three"], length
        assert store.read().recovered
    store.file.write_bytes(whole[:60] + bytes(len(whole) - 60))
    assert names(store) == ["one", "two", "three"]


def test_a_broken_backup_is_passed_over(store: LayerStore) -> None:
    save(store, "one")
    save(store, "two")
    store.backups()[-1].write_bytes(b"changes: [")
    store.file.unlink()
    read = store.read()
    assert names(store) == ["one"]
    assert "the file is gone" in read.recovered and "clinic.00001.yaml" in read.recovered


def test_a_file_without_any_good_backup_is_left_alone(store: LayerStore) -> None:
    save(store, "one")
    for backup in store.backups():
        backup.unlink()
    store.file.write_text("changes: [", encoding="utf-8")
    with pytest.raises(LayerError, match="clinic.yaml:1"), store.editing("Ada", WHEN):
        pass
    assert store.file.read_text(encoding="utf-8") == "changes: ["


def test_corrections_by_hand_are_kept(store: LayerStore) -> None:
    save(store, "one")
    text = store.file.read_text(encoding="utf-8")
    store.file.write_text(text.replace('"one"', '"uno"'), encoding="utf-8")
    save(store, "two")
    assert names(store) == ["uno", "two"]


def test_ten_backups_are_kept_and_the_newest_equals_the_file(store: LayerStore) -> None:
    for i in range(KEPT + 4):
        save(store, f"name {i}")
    backups = store.backups()
    assert len(backups) == KEPT
    assert backups[-1].read_bytes() == store.file.read_bytes()
    assert backups[0].name == "clinic.00005.yaml"


def test_a_layer_of_another_pack_is_refused(tmp_path: Path) -> None:
    save(LayerStore(tmp_path, "clinic", PACK), "one")
    other = LayerStore(tmp_path, "clinic", PACK.model_copy(update={"id": "other"}))
    with pytest.raises(LayerError, match="'other' belongs here"):
        other.read()


# --- two editors ------------------------------------------------------------------------------------


def test_a_second_editor_is_told_who_is_editing(store: LayerStore) -> None:
    with store.editing("Ada", WHEN):
        with pytest.raises(Held, match="Ada has been editing our changes since 2026-01-02 10:30 UTC"):
            save(store, "mine", "Ben")
        assert LayerStore(store.folder, "grey", PACK).read().layer.changes == ()
        save(LayerStore(store.folder, "grey", PACK), "other layer", "Ben")
    save(store, "mine", "Ben")
    assert names(store) == ["mine"]


def test_two_threads_lose_nothing(store: LayerStore) -> None:
    def work(who: str) -> None:
        for i in range(10):
            while True:
                try:
                    save(store, f"{who} {i}", who)
                    break
                except Held:
                    time.sleep(0.002)

    threads = [threading.Thread(target=work, args=(who,)) for who in ("ada", "ben")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(names(store)) == sorted(f"{who} {i}" for who in ("ada", "ben") for i in range(10))
    assert len({change.id for change in store.read().layer.changes}) == 20


class running:  # noqa: N801
    """A Python process that ends with the block."""

    def __init__(self, code: str, folder: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", code, str(folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def __enter__(self) -> subprocess.Popen[str]:
        return self.process

    def __exit__(self, *_: object) -> None:
        self.process.kill()
        self.process.communicate()


HOLD = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from tests.vocab.small_pack import small_pack
from vocab.layers.store import LayerStore
with LayerStore(Path(sys.argv[1]), "clinic", small_pack()).editing("Ada", datetime(2026, 1, 2, tzinfo=UTC)):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_the_lock_of_a_dead_process_is_taken_over(store: LayerStore) -> None:
    with running(HOLD, store.folder) as process:
        assert process.stdout is not None and process.stdout.readline() == "held\n"
        with pytest.raises(Held, match="Ada"):
            save(store, "mine", "Ben")
        process.kill()
        process.wait()
    save(store, "mine", "Ben")
    assert names(store) == ["mine"]


# --- killed while saving ----------------------------------------------------------------------------

KILLS = int(os.environ.get("TRAYCALL_KILLS", "40"))


def save_for_ever(store: LayerStore, first: int, told: int) -> None:
    """Runs in a child: one change after the other, each told through a pipe once it is saved."""
    for i in itertools.count(first):
        with store.editing("Ada", WHEN) as editing:
            new = AddName(item="etchant", name=Name(text=f"name {i}"))
            recent = editing.layer.model_copy(update={"changes": editing.layer.changes[-40:]})
            editing.save(recent.with_changes([new], "Ada", WHEN))
        os.write(told, f"{i}\n".encode())


def killed_after(store: LayerStore, first: int, seconds: float) -> list[int]:
    """What a child had told to be saved when it was killed."""
    listen, told = os.pipe()
    child = os.fork()
    if not child:
        try:
            save_for_ever(store, first, told)
        finally:
            os._exit(1)
    os.close(told)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    assert os.WIFSIGNALED(os.waitpid(child, 0)[1]), "the child ended by itself"
    with os.fdopen(listen, encoding="ascii") as said:
        return [int(line) for line in said.read().split()]


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork and kill a process")
def test_a_save_that_is_killed_leaves_the_old_text_or_the_new(store: LayerStore) -> None:
    rng = random.Random(7)
    newest, told_at_all, in_between = 0, 0, 0
    for kill in range(KILLS):
        told = killed_after(store, newest, rng.uniform(0.0, 0.15))
        last = told[-1] + 1 if told else newest
        read = store.read()
        assert read.recovered == "", kill
        held = [c.do.name.text for c in read.layer.changes if isinstance(c.do, AddName)]
        newest = int(held[-1].split()[1]) + 1 if held else 0
        # What was told to be saved is there; at most the one being saved may be there too.
        assert newest in (last, last + 1), kill
        assert held == [f"name {i}" for i in range(newest - len(held), newest)], kill
        told_at_all += len(told)
        in_between += bool(list(store.folder.glob(".*.part"))) or newest != last
    assert told_at_all > 0 and list(store.folder.glob("*.broken-*")) == []
    print(f"{KILLS} kills, {told_at_all} saves told, {in_between} kills in the middle of a save")
    save(store, "after all")
    assert list(store.folder.glob("**/.*.part")) == []


# --- a full disk ------------------------------------------------------------------------------------


def full(*_: object, **__: object) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


@pytest.mark.parametrize("at", ["lock", "backup", "file"])
def test_a_full_disk_is_told_changes_nothing_and_locks_nobody(
    store: LayerStore, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    save(store, "one")
    before = {file: file.read_bytes() for file in store.folder.glob("**/*.yaml")}
    with monkeypatch.context() as patch:
        if at == "lock":
            patch.setattr(Path, "write_text", full)
        else:
            calls = itertools.count(1 if at == "backup" else 0)
            patch.setattr(os, "fsync", lambda _: full() if next(calls) in (1, 2) else None)
        with pytest.raises(
            CannotSave, match="No space left on device.* nothing was changed; free some space"
        ):
            save(store, "two")
    assert {file: file.read_bytes() for file in store.folder.glob("**/*.yaml")} == before
    save(store, "two", "Ben")
    assert names(store) == ["one", "two"]


def test_a_folder_that_may_not_be_changed_is_told(tmp_path: Path) -> None:
    (tmp_path / "layers").write_text("a file where the folder should be")
    with pytest.raises(CannotSave, match="check that the folder is writable"):
        save(LayerStore(tmp_path / "layers", "clinic", PACK), "one")


# --- what a torn file has lost ----------------------------------------------------------------------


def test_a_change_that_is_lost_with_the_newest_backup_is_told(store: LayerStore) -> None:
    save(store, "one")
    save(store, "two")
    save(store, "three")
    whole = store.file.read_bytes()
    for backup in store.backups()[1:]:
        backup.unlink()
    store.file.write_bytes(whole[: whole.index(b"...\n", 300)])
    read = store.read()
    assert [(lost.id, lost.change.do.name.text) for lost in read.missing if lost.change] == [  # type: ignore[union-attr]
        ("c2", "two"),
        ("c3", "three"),
    ]
    store.file.write_bytes(whole[: whole.index(b'"three"')])
    assert [(lost.id, lost.change is None) for lost in store.read().missing] == [("c2", False), ("c3", True)]
    store.file.write_bytes(whole[: whole.index(b"- id")])
    assert [(lost.id, lost.change) for lost in store.read().missing] == [("c2", None), ("c3", None)]
    vocabulary = Vocabulary(PACK, store.folder)
    assert vocabulary.recovered()[1].startswith("clinic c2 is missing: what it did can no longer be read")


def test_a_torn_file_whose_newest_backup_is_there_has_lost_nothing(store: LayerStore) -> None:
    save(store, "one")
    save(store, "two")
    store.file.write_bytes(store.file.read_bytes()[:-9])
    assert store.read().recovered and store.read().missing == ()


def test_a_change_taken_out_by_hand_is_not_lost(store: LayerStore) -> None:
    for name in ("one", "two", "three"):
        save(store, name)
    text = store.file.read_text(encoding="utf-8")
    start = text.index('- id: "c2"')
    store.file.write_text(text[:start] + text[text.index('- id: "c3"') :], encoding="utf-8")
    save(store, "four")
    store.file.write_bytes(store.file.read_bytes()[:-9])
    assert store.read().missing == ()


def test_a_layer_from_before_the_newest_change_stood_in_its_head_opens_as_ever(store: LayerStore) -> None:
    save(store, "one")
    text = store.file.read_text(encoding="utf-8")
    store.file.write_text(re.sub("# The newest change.*\n", "", text), encoding="utf-8")
    assert names(store) == ["one"] and store.read().recovered == ""
