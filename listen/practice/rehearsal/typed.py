"""What somebody means who types during a rehearsal: a slot, a name, "back", "fetch", or that it is over.

Takes a line and what was typed; returns a `Marking`, and whether a slot was given: only a slot shows that one
knows where something lies.
"""

from __future__ import annotations

from dataclasses import dataclass

from listen.practice.choices import FETCH
from listen.practice.judging import Judge, Marking, Outcome
from listen.practice.rehearsal.languages import wordings
from listen.practice.rehearsal.script import Kind, Line
from vocab.language.by_language import read_words
from vocab.pack.schema import Tray
from vocab.requests.lexicon import Lexicon

SURE_P = 0.5
"""The least probability at which a typed name is taken to mean an item."""


@dataclass(frozen=True)
class Meant:
    """placed: whether it names a place, and not a thing."""

    marking: Marking
    placed: bool


class Typed:
    """Reads what is typed in rehearsals on one tray."""

    def __init__(self, judge: Judge, lexicon: Lexicon, tray: Tray) -> None:
        self._judge, self._lexicon, self._tray = judge, lexicon, tray
        self._language = lexicon.pack.language
        said = wordings(self._language)
        self._back, self._fetch, self._end = map(self._forms, (said.back, said.fetched, said.end))

    def ends(self, text: str) -> bool:
        """Whether it asks for the end."""
        return read_words(text, self._language) in self._end

    def meant(self, line: Line, text: str) -> Meant:
        """What it is worth as an answer to this line."""
        key = read_words(text, self._language)
        if key in self._back:
            right = line.kind is Kind.BACK
            where = line.question.right[0] if right else None
            return Meant(Marking(Outcome.RIGHT if right else Outcome.WRONG, where, text, 1.0), placed=False)
        if key in self._fetch:
            return Meant(self._judge.touch(line.question, FETCH.id), placed=True)
        marking = self._judge.text(line.question, self._without_back(line, text))
        if marking.outcome is not Outcome.AGAIN or marking.repeat:
            return Meant(marking, placed=True)
        return Meant(self._named(line, self._without_back(line, text)) or marking, placed=False)

    def _named(self, line: Line, text: str) -> Marking | None:
        """The verdict on a name; None where it is none."""
        found = self._lexicon.find(text)
        if not found or found[0].p < SURE_P:
            return None
        item, right = found[0].item, line.question.right
        if item == line.item and FETCH.id not in right and right:
            return self._judge.touch(line.question, right[0])
        at = self._tray.slot_of(item)
        if at is None:
            return Marking(Outcome.WRONG, None, text, found[0].p)
        return self._judge.touch(line.question, at)

    def _without_back(self, line: Line, text: str) -> str:
        """ "back 7" and "7 back" without the word, where something is given back."""
        kept = text.split()
        if line.kind is Kind.BACK and len(kept) > 1:
            for end in (kept[1:], kept[:-1]):
                gone = kept[:1] if end == kept[1:] else kept[-1:]
                if read_words(gone[0], self._language) in self._back:
                    return " ".join(end)
        return text

    def _forms(self, some: tuple[str, ...]) -> frozenset[tuple[str, ...]]:
        return frozenset(read_words(text, self._language) for text in some)
