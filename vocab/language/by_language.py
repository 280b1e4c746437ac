"""What differs between the languages of packs, chosen by `Pack.language`.

Takes text or a word and a language code. Gives the text with its number words as digits, the words or the
form of a word by which it is compared, and the tables for talk at the chair and in drills. Text in a language
without tables of its own is read as it is written, and talk in it as English.
"""

from __future__ import annotations

from collections.abc import Mapping

from vocab.language import english, spanish, spanish_nouns
from vocab.language.english import NO_PLURAL, PLAIN, SPELLINGS
from vocab.language.tables import Tables
from vocab.language.tokens import is_number, tidy, words

_TABLES: Mapping[str, Tables] = {"en": english.TABLES, "es": spanish.TABLES}


def tables(language: str) -> Tables:
    """How people talk at the chair and in drills in this language; English where it has no tables."""
    return _TABLES.get(language, english.TABLES)


def read_words(text: str, language: str) -> tuple[str, ...]:
    """The canonical words of a text, numbers read and without accents where those are often left out.

    >>> read_words("Se me cayó el número dos", "es")
    ('se', 'me', 'cayo', 'el', 'numero', '2')
    """
    return tuple(plain_word(word, language) for word in words(read_numbers(text, language)))


def plain_word(word: str, language: str) -> str:
    """A canonical word without accents where those are often left out."""
    return spanish.without_accents(word) if language == "es" else word


def read_numbers(text: str, language: str) -> str:
    """The text in the form the reader of requests expects; English is left to `vocab.language.tokens`."""
    return spanish.with_digits(tidy(text)) if language == "es" else text


def before_a_name(phrase: str, language: str) -> tuple[str, ...]:
    """The forms of what stands before a name; articles of English are left to `vocab.language.forms`."""
    return spanish.before_a_name(phrase) if language == "es" else (phrase,)


def of_a_name(phrase: str, language: str) -> tuple[str, ...]:
    """The forms of what is said of a name that follows; English is left to `vocab.requests.understand`."""
    return spanish.of_a_name(phrase) if language == "es" else (phrase,)


def as_typed(phrase: str, language: str) -> tuple[str, ...]:
    """A phrase as it may be typed: also without accents where those are often left out."""
    return spanish.as_typed(phrase) if language == "es" else (phrase,)


def noun_forms(name: str, usual: str, language: str) -> Mapping[str, str]:
    """The words that agree with a name, as fields for a sentence around it (see `spanish_nouns.forms`); none
    in a language where nothing does. `usual` is the usual name of what it names."""
    return spanish_nouns.forms(name, usual) if language == "es" else {}


def plain_words(language: str) -> frozenset[str]:
    """Words in a name that mean nothing by themselves, as `fold_word` gives them."""
    return frozenset(map(spanish.stem, spanish.PLAIN)) if language == "es" else PLAIN


def fold_word(word: str, language: str = "en") -> str:
    """A word without plural and spelling variants."""
    if is_number(word):
        return word
    return spanish.stem(word) if language == "es" else _english(word)


def _english(word: str) -> str:
    if word in NO_PLURAL:
        return word
    if word.endswith("ies") and len(word) > 4:
        word = word[:-3] + "y"
    elif word.endswith(("sses", "shes", "ches", "xes")):
        word = word[:-2]
    elif word.endswith("s") and len(word) > 3 and not word.endswith(("ss", "us", "is")):
        word = word[:-1]
    return SPELLINGS.get(word, word)
