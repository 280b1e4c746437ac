"""Spanish: number words and word stems, for look-up and practice by text.

Only tables and what reads them. Articles, cues and courtesies stand in the pack's own speech file; the
reader of requests otherwise works as for English. No engine of this program hears Spanish.
"""

from __future__ import annotations

import re
import unicodedata


def _words(text: str) -> list[str]:
    return text.split()


UNITS = _words("cero uno dos tres cuatro cinco seis siete ocho nueve")
TEENS = _words("diez once doce trece catorce quince dieciseis diecisiete dieciocho diecinueve")
TWENTIES = _words(
    "veinte veintiuno veintidos veintitres veinticuatro veinticinco veintiseis veintisiete veintiocho "
    "veintinueve"
)
_TENS = _words("treinta cuarenta cincuenta sesenta setenta ochenta noventa")
TENS = {word: 10 * i for i, word in enumerate(_TENS, 3)}
_HUNDREDS = _words(
    "cien doscientos trescientos cuatrocientos quinientos seiscientos setecientos ochocientos novecientos"
)
HUNDREDS = {"ciento": 100, **{word: 100 * i for i, word in enumerate(_HUNDREDS, 1)}}
AND = "y"
PLAIN = _words(
    "con del las los para por sin una unas unos grande pequeno corto corta largo larga recto recta fino "
    "fina mesial distal"
)
"""Words in a name that tell nothing by themselves."""

_SMALL = {word: i for i, word in enumerate((*UNITS, *TEENS, *TWENTIES)) if word not in ("uno",)}
"""Uno is left as it is: it is an article and a pronoun far more often than a number."""
_WORD = re.compile(r"[^\W\d_]+")
_ENDS_BARE = frozenset("cdlnrsyz")
"""Letters that a word may end in; a plural then adds "es"."""


def with_digits(text: str) -> str:
    """Lower-case text with number words from 2 to 999 as digits.

    >>> with_digits("la fresa trescientos treinta y cinco y dos gasas")
    'la fresa 335 y 2 gasas'
    """
    found = list(_WORD.finditer(text))
    words = [_bare(match.group()) for match in found]
    out, end, at = [], 0, 0
    while at < len(found):
        value, after = _number(text, found, words, at)
        if after > at:
            out += [text[end : found[at].start()], str(value)]
            end = found[after - 1].end()
        at = max(after, at + 1)
    return "".join([*out, text[end:]])


def stem(word: str) -> str:
    """What singular and plural of a word share, without accents.

    >>> stem("algodones") == stem("algodón"), stem("luces") == stem("luz")
    (True, True)
    """
    word = _bare(word)
    if len(word) > 3 and word.endswith("s"):
        word = word[:-1]
    if len(word) > 3 and word.endswith("e") and word[-2] in _ENDS_BARE:
        word = word[:-1]
    return word[:-1] + "c" if word.endswith("z") else word


def _number(text: str, found: list[re.Match[str]], words: list[str], at: int) -> tuple[int, int]:
    """A number that starts at a word, and the index after it; the same index for none."""
    if words[at] in HUNDREDS:
        value, after = HUNDREDS[words[at]], at + 1
        if after < len(words) and _touch(text, found, after):
            tail, after_tail = _below_hundred(text, found, words, after)
            return value + tail, after_tail
        return value, after
    return _below_hundred(text, found, words, at)


def _below_hundred(text: str, found: list[re.Match[str]], words: list[str], at: int) -> tuple[int, int]:
    word = words[at]
    if word in _SMALL:
        return _SMALL[word], at + 1
    if word not in TENS:
        return 0, at
    joined = at + 2 < len(words) and words[at + 1] == AND and words[at + 2] in UNITS[1:]
    if joined and _touch(text, found, at + 1) and _touch(text, found, at + 2):
        return TENS[word] + UNITS.index(words[at + 2]), at + 3
    return TENS[word], at + 1


def _touch(text: str, found: list[re.Match[str]], at: int) -> bool:
    """Only spaces lie between a word and the one before it."""
    return not text[found[at - 1].end() : found[at].start()].strip()


def _bare(word: str) -> str:
    return "".join(c for c in unicodedata.normalize("NFD", word) if not unicodedata.combining(c))
