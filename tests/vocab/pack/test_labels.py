"""What may stand in a name. The limits are our own; what characters are, Unicode says (from memory)."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from tests.vocab.small_pack import small_pack
from vocab.pack.labels import LONGEST_NAME, MOST_NAMES, name_problem, same, shown, text_problem
from vocab.pack.load import PackError, load_pack, shipped_names, shipped_pack
from vocab.pack.references import normalised
from vocab.pack.schema import Name


@pytest.mark.parametrize(
    "name",
    ["Hollenback carver", "№ 7 wax", "زرده\u200cها", "नरम दाँत", "鏡", "1/2 round", "a" * LONGEST_NAME],
)
def test_letters_of_every_script_may_stand_in_a_name(name: str) -> None:
    assert name_problem(name) is None


@pytest.mark.parametrize(
    ("name", "problem"),
    [
        ("a" * 81, "has 81 characters, and at most 80 are allowed"),
        ("mirror\nprobe", "U+000A"),
        ("red\x1b[31m", "U+001B"),
        ("mirror\u202eeborp", "U+202E"),
        ("mirror\u2066", "U+2066"),
        ("\ufeffmirror", "U+FEFF"),
        ("mirror\udcff", "U+DCFF"),
        ("mirror\u2028", "U+2028"),
    ],
)
def test_what_is_too_long_or_cannot_be_seen_is_told(name: str, problem: str) -> None:
    said = name_problem(name)
    assert said is not None and problem in said


def test_a_sentence_may_have_lines_and_be_longer() -> None:
    assert text_problem("Dry it first.\nThen etch. " * 10) is None
    assert "U+202E" in (text_problem("\u202e") or "") and "shorten it" in (text_problem("a" * 1001) or "")


@given(st.text(st.characters(), max_size=200))
def test_whatever_is_shown_can_be_printed(text: str) -> None:
    said = shown(text, 40)
    assert len(said) <= 40 and "\x1b" not in said and "\n" not in said
    said.encode()


def test_a_name_is_the_same_however_its_accents_are_written() -> None:
    one, other = "Zahnärztin Größe", unicodedata.normalize("NFD", "ZAHNÄRZTIN  GRÖSSE")
    assert one != other and same(one) == same(other)
    assert same("Dr. Müller") != same("Dr. Muller")
    assert Name(text=unicodedata.normalize("NFD", "pásame")).text == "pásame"
    assert normalised(unicodedata.normalize("NFD", "Pásame!")) == normalised("pásame")
    assert normalised("कि") != normalised("का")


@given(st.text(st.characters(max_codepoint=127), max_size=30))
def test_plain_names_are_compared_like_all_others(text: str) -> None:
    assert normalised(text) == normalised(f"{text} é").removesuffix("é").strip()


def test_the_shipped_packs_keep_to_the_limits() -> None:
    for name in shipped_names():
        for item in shipped_pack(name).items:
            assert len(item.names) <= MOST_NAMES
            assert all(name_problem(text) is None for n in item.names for text in (n.text, *n.say))


def broken(folder: Path, *names: str) -> str:
    """What is said of the small pack with more names for its first item."""
    plain = small_pack().model_dump(mode="json", by_alias=True, exclude_defaults=True)
    plain["items"][0]["synonyms"] += names
    (folder / "pack.yaml").write_text(yaml.safe_dump(plain, allow_unicode=True), encoding="utf-8")
    with pytest.raises(PackError) as caught:
        load_pack(folder)
    return str(caught.value)


def test_a_pack_with_such_a_name_is_told_where_it_stands(tmp_path: Path) -> None:
    said = broken(tmp_path, "x" * 5_000, "mirror\u202e")
    assert "items[mouth_mirror].synonyms[1]" in said and "has 5,000 characters" in said and len(said) < 1_000
    assert "items[mouth_mirror].synonyms[2]" in said and "U+202E" in said and "\u202e" not in said


def test_too_many_names_are_told(tmp_path: Path) -> None:
    said = broken(tmp_path, *(f"glass {i}" for i in range(MOST_NAMES)))
    assert "items[mouth_mirror]" in said and "at most 200 are allowed" in said
    said = broken(tmp_path, *(f"glass {i}" for i in range(5_000)))
    assert "names in all, and at most 5,000 are allowed" in said
