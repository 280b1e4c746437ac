"""The languages that a rehearsal speaks: how its dentist talks, and what a trainee reads."""

from __future__ import annotations

from collections.abc import Mapping

from listen.practice.rehearsal import english, spanish
from listen.practice.rehearsal.lines import Lines
from listen.practice.rehearsal.wordings import Wordings

LINES: Mapping[str, Lines] = {"en": english.LINES, "es": spanish.LINES}
"""What is said, by the language of a pack; a language that is not here has no rehearsal."""
WORDINGS: Mapping[str, Wordings] = {"en": english.WORDINGS, "es": spanish.WORDINGS}
NAMES: Mapping[str, str] = {"en": "English", "es": "Spanish"}
"""What they are called on English pages."""


def wordings(language: str) -> Wordings:
    """What is told in this language."""
    return WORDINGS.get(language, english.WORDINGS)
