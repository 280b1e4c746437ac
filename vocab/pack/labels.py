"""What a name or text that was entered may hold, and how to show text that may hold anything.

Takes text and gives what is wrong with it, as the end of a sentence, or the text made safe to print.
Letters of every script are allowed; invisible characters and those that change the writing direction are
not.
"""

from __future__ import annotations

import unicodedata

LONGEST_NAME = 80
"""Characters; far more than anyone says in one breath."""
LONGEST_TEXT = 1_000
MOST_NAMES = 200
"""Names of one item, those of its variants among them."""
MOST_NAMES_OF_PACK = 5_000
"""The most that look-up, hearing and practice were tested with."""

_JOINERS = "\u200c\u200d"
"""They shape letters of Persian and of Indian scripts."""
_INVISIBLE = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def composed(text: str) -> str:
    """Text with its letters and accents in the one form (NFC) in which it is kept and compared."""
    return unicodedata.normalize("NFC", text)


def name_problem(text: str) -> str | None:
    """Why a text cannot be a name, a place or the like, or None."""
    return _problem(text, LONGEST_NAME, "")


def text_problem(text: str) -> str | None:
    """The same for one or more sentences, which may take several lines."""
    return _problem(text, LONGEST_TEXT, "\n")


def item_problem(names: int) -> str | None:
    """Why an item cannot have so many names, or None."""
    if names <= MOST_NAMES:
        return None
    return f"these are {names:,} names of one item, and at most {MOST_NAMES} are allowed; leave some out"


def pack_problem(names: int) -> str | None:
    """Why a pack cannot have so many names, or None."""
    if names <= MOST_NAMES_OF_PACK:
        return None
    return f"these are {names:,} names in all, and at most {MOST_NAMES_OF_PACK:,} are allowed; leave some out"


def shown(text: str, most: int = LONGEST_TEXT) -> str:
    """Untrusted text made fit for a terminal: invisible characters are left out, long text is cut."""
    seen = "".join(" " if c in "\n\t" else c for c in text if c in "\n\t" or not _is_invisible(c))
    return seen if len(seen) <= most else f"{seen[: most - 1]}…"


def same(text: str) -> str:
    """The form in which people's names are compared: case, spaces and the form of accents do not count."""
    return " ".join(composed(composed(text).casefold()).split())


def _problem(text: str, longest: int, allowed: str) -> str | None:
    if len(text) > longest:
        return f"has {len(text):,} characters, and at most {longest:,} are allowed; shorten it"
    odd = next((c for c in text if c not in allowed and _is_invisible(c)), None)
    if odd is None:
        return None
    return f"contains an invisible character (U+{ord(odd):04X}); write it again without it"


def _is_invisible(character: str) -> bool:
    return character not in _JOINERS and unicodedata.category(character) in _INVISIBLE
