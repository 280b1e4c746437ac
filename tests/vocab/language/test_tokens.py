"""Words and numbers. The expected forms are common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vocab.language.tokens import is_number, spoken_forms, tidy, tokens, words, written_forms

SAME_WORDS = [
    ("three thirty", "330"),
    ("three-thirty", "330"),
    ("330", "330"),
    ("330s", "330"),
    ("three three zero", "330"),
    ("three three oh", "330"),
    ("three hundred thirty", "330"),
    ("three hundred and thirty", "330"),
    ("two forty five", "245"),
    ("five fifty-seven", "557"),
    ("three oh one", "301"),
    ("eleven fifty seven", "1157"),
    ("seventy nine oh one", "7901"),
    ("fifty six", "56"),
    ("one sixty nine l", "169l"),
    ("169 L", "169l"),
    ("one quarter", "1/4"),
    ("quarter", "1/4"),
    ("¼", "1/4"),
    ("half", "1/2"),
    ("thirty three and a half", "33 1/2"),
    ("33 1/2", "33 1/2"),
    ("33½", "33 1/2"),
    ("two by two", "2x2"),
    ("two by twos", "2x2"),
    ("2 x 2", "2x2"),
    ("2×2", "2x2"),
    ("2 by 2", "2x2"),
    ("four by four", "4x4"),
]


@pytest.mark.parametrize(("said", "word"), SAME_WORDS)
def test_a_number_has_one_form_however_it_is_said(said: str, word: str) -> None:
    assert words(said) == (word,)


@pytest.mark.parametrize(
    ("said", "parts"),
    [
        ("two four rounds", ("2", "4", "rounds")),
        ("two 330 burs", ("2", "330", "burs")),
        ("two two forty five burs", ("2", "245", "burs")),
        ("two quarter rounds", ("2", "1/4", "rounds")),
        ("two, thirty", ("2", "30")),
        ("a half round and a quarter round", ("a", "1/2", "round", "and", "a", "1/4", "round")),
        ("at 3:30", ("at", "3:30")),
    ],
)
def test_separate_numbers_stay_separate(said: str, parts: tuple[str, ...]) -> None:
    assert words(said) == parts


@pytest.mark.parametrize("said", ["number four round", "#4 round", "No. 4 round", "no.4 round", "4 round"])
def test_the_word_number_does_not_change_a_name(said: str) -> None:
    assert words(said) == ("4", "round")


def test_a_no_before_a_spelled_number_is_a_no() -> None:
    assert words("no, four round") == ("no", "4", "round")


def test_apostrophes_are_folded_and_hyphens_split() -> None:
    assert words("The Shepherd’s-hook, please!") == ("the", "shepherds", "hook", "please")


@pytest.mark.parametrize(
    ("name", "forms"),
    [
        ("330 bur", ("three thirty bur", "three three zero bur", "three hundred thirty bur")),
        ("2x2", ("two by two",)),
        ("1/4 round", ("quarter round", "one quarter round")),
        ("33 1/2", ("thirty three and a half", "thirty three and one half")),
        ("Hollenback carver", ("hollenback carver",)),
        ("shepherd's hook", ("shepherds hook",)),
        ("No. 4 round", ("number four round", "four round")),
    ],
)
def test_a_name_is_said_in_every_usual_way(name: str, forms: tuple[str, ...]) -> None:
    assert spoken_forms(name) == forms


def test_a_recogniser_may_write_digits_or_hyphens() -> None:
    assert {"330 bur", "three-thirty bur", "three thirty bur"} <= set(written_forms("330 bur"))
    assert {"2x2", "2 x 2", "two by two", "two-by-two"} <= set(written_forms("two by two"))
    assert {"shepherds hook", "shepherd's hook"} <= set(written_forms("Shepherd's hook"))


@given(st.integers(10, 9999))
def test_every_way_of_saying_a_number_reads_back_as_that_number(number: int) -> None:
    for form in (*spoken_forms(f"{number} bur"), *written_forms(f"{number} bur")):
        assert words(form) == (str(number), "bur")


@given(st.text())
def test_any_text_has_words(text: str) -> None:
    plain = tidy(text)
    for token in tokens(text):
        assert token.text and 0 <= token.start < token.end <= len(plain)
        assert token.numeric == is_number(token.text)
    assert words(text) == tuple(token.text for token in tokens(text))
    assert all(form == " ".join(form.split()) for form in (*spoken_forms(text), *written_forms(text)))
