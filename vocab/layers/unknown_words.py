"""Unknown names that were asked for, kept only where a clinic has switched this on.

Takes what was said or typed and a pack's lexicon. Gives the unknown name in a request, and a list of such
names with how often and on which days they came up. From an utterance that asks for nothing, nothing is
kept. From a request, only the few words where a name should stand are kept: never a sentence, a time of day
or a voice.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path

from vocab.errors import TraycallError
from vocab.files import locked, write_atomically
from vocab.language.by_language import read_numbers
from vocab.language.english import ARTICLES
from vocab.language.forms import forms_of, skip
from vocab.language.tokens import tidy, tokens
from vocab.layers.changes import AddName, Operation
from vocab.layers.vocabulary import Vocabulary
from vocab.pack.schema import Name, Speech
from vocab.requests.lexicon import Candidate, Lexicon
from vocab.requests.understand import understand

MOST_WORDS = 4
"""A name is short; what is longer may be about a patient and is not kept."""
MOST_KEPT = 500
TELLING_CUE = 4
"""Fewest letters of a one-word cue that shows a request ("pásame"); one-word English cues show none."""


@dataclass(frozen=True)
class Unknown:
    """A name that was asked for and not known."""

    text: str
    times: int
    first: str
    last: str


class HeardError(TraycallError):
    """The list of unknown words cannot be read or written."""


class UnknownWords:
    """The list of one clinic, in one file. Off until switched on; switching it off deletes the list.

    Any number of threads and processes may note words at once. Everything that changes the list raises
    `HeardError` where it cannot be read or written.
    """

    def __init__(self, file: Path) -> None:
        self._file = file

    @property
    def on(self) -> bool:
        """Whether anything is kept."""
        return self._file.exists()

    def switch(self, on: bool) -> None:
        """Starts to keep words, or stops and deletes what was kept."""
        if on == self.on:
            return
        with self._alone():
            if not on:
                self._file.unlink(missing_ok=True)
            elif not self.on:
                self._write([])

    def note(self, text: str, lexicon: Lexicon, speech: Speech, day: date) -> str | None:
        """Keeps the unknown name in an utterance, if there is one and this is switched on; returns it."""
        if not self.on:
            return None
        name = unknown_name(text, lexicon, speech)
        if name is None:
            return None
        today = day.isoformat()
        with self._alone():
            if not self.on:
                return None
            kept = {entry.text: entry for entry in self.entries()}
            known = kept.get(name)
            kept[name] = (
                replace(known, times=known.times + 1, last=today) if known else Unknown(name, 1, today, today)
            )
            self._write(sorted(kept.values(), key=lambda e: (-e.times, e.last, e.text))[:MOST_KEPT])
        return name

    def entries(self) -> tuple[Unknown, ...]:
        """What was kept, the most frequent first; () where nothing is kept."""
        try:
            return tuple(Unknown(**entry) for entry in json.loads(self._file.read_text("utf-8")))
        except FileNotFoundError:
            return ()
        except (OSError, ValueError, TypeError, RecursionError):
            raise HeardError(
                f"{self._file}: the list of unknown words cannot be read; delete the file"
            ) from None

    def drop(self, text: str) -> None:
        """Takes a name off the list: it was adopted, or is not wanted."""
        if self.on:
            with self._alone():
                if self.on:
                    self._write([entry for entry in self.entries() if entry.text != text])

    @contextmanager
    def _alone(self) -> Iterator[None]:
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            with locked(self._file.with_suffix(".lock")):
                yield
        except OSError as error:
            raise HeardError(
                f"{self._file} cannot be written ({error.strerror or error}); free some space or check that "
                "the folder is writable"
            ) from error

    def _write(self, entries: Sequence[Unknown]) -> None:
        plain = json.dumps([asdict(e) for e in entries], indent=1, ensure_ascii=False)
        write_atomically(self._file, plain.encode(), private=True)


def unknown_words(vocabulary: Vocabulary) -> UnknownWords:
    """The list beside a clinic's changes."""
    return UnknownWords(vocabulary.folder / "unknown_words.json")


def unknown_name(text: str, lexicon: Lexicon, speech: Speech) -> str | None:
    """The few words where a request holds a name that is not known, or None.

    There must be a cue before them ("can I have the ..."), and the utterance must not be understood.
    """
    text = read_numbers(text, lexicon.pack.language)
    if understand(text, lexicon, speech):
        return None
    said, forms, plain = tokens(text), forms_of(speech, lexicon.pack.language), tidy(text)
    if any(token.stop for token in said[:-1]):
        return None
    content, start = forms.cues.at_start(said)
    start = skip(said, start, ARTICLES)
    length = forms.endings.at_end(said[start:])
    words_ = said[start : start + length]
    english = lexicon.pack.language == "en"
    cued = len(content) > 1 or (not english and len("".join(content)) >= TELLING_CUE)
    if not cued or not 0 < len(words_) <= MOST_WORDS:
        return None
    return " ".join(plain[words_[0].start : words_[-1].end].split())


def suggestions(text: str, lexicon: Lexicon) -> tuple[Candidate, ...]:
    """The items that an unknown name is most likely to mean, for adoption with one touch."""
    return lexicon.find(text)


def adopted(text: str, item: str) -> Operation:
    """The change that adopts an unknown name; save it and then `drop` the name."""
    return AddName(item=item, name=Name(text=text, note="heard here"))
