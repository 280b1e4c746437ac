"""What differs between the languages of packs, chosen by `Pack.language`.

Takes text or a word and a language code. Gives the text with its number words as digits, or the form in
which the word is compared. Text in a language without a table of its own is read as it is written.
"""

from __future__ import annotations

from vocab.language import spanish
from vocab.language.english import NO_PLURAL, PLAIN, SPELLINGS
from vocab.language.tokens import is_number, tidy


def read_numbers(text: str, language: str) -> str:
    """The text in the form the reader of requests expects; English is left to `vocab.language.tokens`."""
    return spanish.with_digits(tidy(text)) if language == "es" else text


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
