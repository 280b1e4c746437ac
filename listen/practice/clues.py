"""Texts of the pack as a question shows them: without the names that would give the answer away.

Takes a text with its item and language, and gives what may be shown.
"""

from __future__ import annotations

import re

from vocab.language.by_language import plain_words
from vocab.language.tokens import words
from vocab.pack.schema import Item
from vocab.requests.lexicon import fold


def without_names(text: str, item: Item, language: str = "en") -> str:
    """A clue with the telling words of the item's own names blanked out."""
    named = {word for name in item.names for word in fold(words(name.text), language)}
    plain = plain_words(language)
    telling = {word for word in named if word not in plain and not word.isdigit() and len(word) > 2}

    def blank(match: re.Match[str]) -> str:
        folded = fold(words(match.group()), language)
        return "..." if folded and set(folded) & telling else match.group()

    return re.sub(r"[^\W\d_]+(?:['-][^\W\d_]+)*", blank, text)


def sentence(text: str) -> str:
    """The text with a capital at its beginning."""
    return text[:1].upper() + text[1:]
