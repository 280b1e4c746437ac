"""Templates fit whole sentences; the pack's phrases are made once for equal lists."""

from __future__ import annotations

from functools import partial

import pytest

from vocab.language.by_language import _TABLES, read_words, tables
from vocab.language.forms import Templates, Words, forms_of
from vocab.language.tokens import tokens
from vocab.pack.load import shipped_pack

ENGLISH = partial(read_words, language="en")


def gaps(template: str, said: str) -> list[str]:
    return [" ".join(fit.gap) for fit in Templates({1: (template,)}, ENGLISH).fits(ENGLISH(said))]


@pytest.mark.parametrize(
    ("template", "said", "found"),
    [
        ("start N timer", "start etch enamel timer", ["etch enamel"]),
        ("start N timer", "start timer", []),
        ("start N timer", "start etch timer now", []),
        ("N back", "mirror back", ["mirror"]),
        ("N back", "back", []),
        ("dropped N", "I dropped it", []),
        ("N fell|dropped", "mirror dropped", ["mirror"]),
        ("how long [is] left on|for N", "how long left for etch", ["etch"]),
        ("how long [is] left on|for N", "how long is left on etch", ["etch"]),
        ("how long [is] left on|for N", "how long left etch", []),
        ("maybe [N]", "maybe", [""]),
        ("maybe [N]", "maybe the carver", ["the carver"]),
        ("[stop|end] clock", "clock", [""]),
        ("that one", "that 1", [""]),
        ("N in two", "it's in 2", ["its"]),
        ("N", "anything at all", ["anything at all"]),
        ("took N took", "took took took", ["took"]),
    ],
)
def test_a_template_fits_all_the_words_or_nothing(template: str, said: str, found: list[str]) -> None:
    assert gaps(template, said) == found


def test_what_fits_is_given_as_it_was_written() -> None:
    known = Templates({"stop": ("stop N", "stop timer"), "start": ("N timer",)}, ENGLISH)
    fits = known.fits(("stop", "timer"))
    assert [(fit.meaning, fit.gap, fit.form) for fit in fits] == [
        ("stop", ("timer",), "stop N"),
        ("stop", (), "stop timer"),
        ("start", ("stop",), "N timer"),
    ]
    assert known.whole(("stop", "timer")) == "stop" and known.whole(("stop", "it")) is None
    assert list(known.gaps(("stop", "timer"))) == [("timer",), ("stop",)]


def test_words_that_may_be_left_out_are_no_part_of_a_gap_if_they_can_be_helped() -> None:
    assert gaps("timer [for] N", "timer for etch")[0] == "etch"


@pytest.mark.parametrize("template", ["", "N to N", "a||b", "[a", "a]", "[a b]", "[]"])
def test_a_template_that_cannot_be_read_is_refused_by_name(template: str) -> None:
    with pytest.raises(ValueError, match="template|part"):
        Templates({1: (template,)}, ENGLISH)


@pytest.mark.parametrize("language", sorted(_TABLES))
def test_no_table_names_what_another_does_not(language: str) -> None:
    one, english = tables(language), tables("en")
    assert one.timers.forms.keys() == english.timers.forms.keys()
    assert one.returns.forms.keys() == english.returns.forms.keys()
    assert one.returns.alone.keys() == english.returns.alone.keys()
    assert one.choices.places.keys() == english.choices.places.keys()


def test_a_language_without_tables_talks_english() -> None:
    assert tables("xx") is tables("en") is not tables("es")


def test_spanish_is_read_without_accents_and_with_its_numbers() -> None:
    assert read_words("Se cayó el número treinta y dos", "es") == ("se", "cayo", "el", "numero", "32")
    said: Words = read_words("se cayó", "en")
    assert said == ("se", "cayó")


def test_equal_speech_is_prepared_once_and_by_language() -> None:
    speech = shipped_pack("operativa_es").speech
    again = speech.model_copy(deep=True)
    assert again is not speech and forms_of(again, "es") is forms_of(speech, "es")
    changed = speech.model_copy(update={"endings": (*speech.endings, "pues")})
    assert forms_of(changed, "es").endings.at_end(tokens("espejo pues")) == 1
    assert forms_of(speech, "es").endings.at_end(tokens("espejo pues")) == 2
    dozen = speech.model_copy(update={"quantities": {12: ("doce",)}})
    assert forms_of(dozen, "en").quantities.at_start(tokens("12 gasas"))[1] == 0
    assert forms_of(dozen, "es").quantities.at_start(tokens("12 gasas"))[1] == 1
