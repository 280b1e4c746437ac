"""Words that were asked for and not known. Our own design, no outside source."""

from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vocab.small_pack import small_pack
from vocab.layers.unknown_words import HeardError, Unknown, UnknownWords, adopted, suggestions, unknown_name
from vocab.layers.vocabulary import Vocabulary
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon

WHEN = datetime(2026, 1, 2, tzinfo=UTC)
DAY = date(2026, 1, 2)
SMALL = small_pack()
LEXICON = Lexicon(SMALL)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("can I have the looking glass please", "looking glass"),
        ("Hand me the Flurb, thanks.", "flurb"),
        ("can I have the mirror please", None),
        ("looking glass", None),
        ("the looking glass", None),
        ("my daughter started school on monday", None),
        ("can I have the name of your doctor and your address", None),
        ("can I have the flurb. My tooth still hurts.", None),
        ("not yet", None),
        ("", None),
    ],
)
def test_only_the_few_words_of_an_unknown_name_are_ever_kept(text: str, name: str | None) -> None:
    assert unknown_name(text, LEXICON, SMALL.speech) == name


def test_spanish_names_are_kept_as_well() -> None:
    pack = shipped_pack("operativa_es")
    lexicon = Lexicon(pack)
    assert unknown_name("pásame el chirimbolo por favor", lexicon, pack.speech) == "chirimbolo"
    assert unknown_name("el chirimbolo", lexicon, pack.speech) is None


def test_nothing_is_kept_until_it_is_switched_on(tmp_path: Path) -> None:
    words = UnknownWords(tmp_path / "unknown.json")
    assert words.note("hand me the flurb", LEXICON, SMALL.speech, date(2026, 1, 2)) is None
    assert words.entries() == () and list(tmp_path.iterdir()) == []
    words.switch(True)
    assert words.on and words.entries() == ()
    for day in (2, 3):
        assert words.note("hand me the flurb", LEXICON, SMALL.speech, date(2026, 1, day)) == "flurb"
    words.note("hand me the zilk", LEXICON, SMALL.speech, date(2026, 1, 4))
    words.switch(True)
    assert words.entries() == (
        Unknown("flurb", 2, "2026-01-02", "2026-01-03"),
        Unknown("zilk", 1, "2026-01-04", "2026-01-04"),
    )
    words.switch(False)
    assert not words.on and words.entries() == ()
    assert b"".join(file.read_bytes() for file in tmp_path.iterdir()) == b""


def test_an_unknown_name_is_adopted_with_one_touch(tmp_path: Path) -> None:
    words = UnknownWords(tmp_path / "unknown.json")
    words.switch(True)
    words.note("hand me the mouth mirorrs thing", LEXICON, SMALL.speech, date(2026, 1, 2))
    (entry,) = words.entries()
    assert isinstance(suggestions(entry.text, LEXICON), tuple)
    composed = Vocabulary(SMALL, tmp_path / "layers").record(
        "clinic", [adopted(entry.text, "mouth_mirror")], "Ada", WHEN
    )
    words.drop(entry.text)
    assert words.entries() == ()
    assert Lexicon(composed.pack).find(entry.text)[0].item == "mouth_mirror"


def test_a_broken_list_is_told(tmp_path: Path) -> None:
    file = tmp_path / "unknown.json"
    file.write_text("[{")
    with pytest.raises(HeardError, match="delete the file"):
        UnknownWords(file).entries()


@given(st.text(max_size=60))
def test_any_text_can_be_heard(text: str) -> None:
    name = unknown_name(text, LEXICON, SMALL.speech)
    assert name is None or (name and len(name.split()) <= 8)


# --- many at once -----------------------------------------------------------------------------------

NAMES = ("flurb", "zilk", "blork")


def note(words: UnknownWords, i: int) -> str | None:
    return words.note(f"hand me the {NAMES[i % len(NAMES)]}", LEXICON, SMALL.speech, DAY)


def test_no_note_is_lost_when_many_threads_note_at_once(tmp_path: Path) -> None:
    words = UnknownWords(tmp_path / "unknown.json")
    words.switch(True)
    with ThreadPoolExecutor(12) as threads:
        noted = list(threads.map(lambda i: note(words, i), range(96)))
    assert None not in noted
    assert {entry.text: entry.times for entry in words.entries()} == dict.fromkeys(NAMES, 32)


MANY = """
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tests.vocab.layers.test_unknown_words import note
from vocab.layers.unknown_words import UnknownWords
words = UnknownWords(Path(sys.argv[1]))
with ThreadPoolExecutor(4) as threads:
    list(threads.map(lambda i: note(words, i), range(12)))
"""


@pytest.mark.slow
def test_no_note_is_lost_when_several_programs_note_at_once(tmp_path: Path) -> None:
    file = tmp_path / "unknown.json"
    words = UnknownWords(file)
    words.switch(True)
    running = [subprocess.Popen([sys.executable, "-c", MANY, str(file)]) for _ in range(3)]
    assert [process.wait() for process in running] == [0, 0, 0]
    assert {entry.text: entry.times for entry in words.entries()} == dict.fromkeys(NAMES, 12)


def test_switching_off_while_others_note_leaves_nothing(tmp_path: Path) -> None:
    words = UnknownWords(tmp_path / "unknown.json")
    words.switch(True)
    with ThreadPoolExecutor(8) as threads:
        notes = [threads.submit(note, words, i) for i in range(40)]
        words.switch(False)
        for one in notes:
            one.result()
    assert not words.on and words.entries() == ()


def test_a_list_that_cannot_be_written_is_told_and_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = UnknownWords(tmp_path / "unknown.json")
    words.switch(True)
    note(words, 0)
    with monkeypatch.context() as patch:

        def full(_: int) -> None:
            raise OSError(28, "No space left on device")

        patch.setattr(os, "fsync", full)
        with pytest.raises(HeardError, match="No space left on device.*free some space"):
            note(words, 0)
    assert [entry.times for entry in words.entries()] == [1]
    note(words, 0)
    assert [entry.times for entry in words.entries()] == [2]
