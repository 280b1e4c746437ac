"""Finds the pack's phrases (cues, endings, actions ...) at either end of what was said.

Tokens and a `Speech` come in; how many tokens a phrase takes and what it means go out. Articles are
optional in the phrases and in what is said, and small words of courtesy may stand in between.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from vocab.language.by_language import read_numbers
from vocab.language.english import (
    ARTICLES,
    FILLERS,
    LAST_FILLERS,
    POLITE,
    QUESTION_ENDINGS,
    QUESTIONS,
)
from vocab.language.tokens import Token, words
from vocab.pack.schema import Speech


class Phrases:
    """A set of phrases, each with a meaning, that is found at either end of some tokens.

    Articles are optional everywhere, in the phrases and in what is said.
    """

    def __init__(self, meanings: Mapping[str, str | int]) -> None:
        self._by_first: dict[str, list[tuple[str, ...]]] = {}
        self._meanings: dict[tuple[str, ...], str | int] = {}
        for phrase, meaning in meanings.items():
            content = tuple(word for word in words(phrase) if word not in ARTICLES)
            if content and content not in self._meanings:
                self._meanings[content] = meaning
                self._by_first.setdefault(content[0], []).append(content)

    def at_start(self, said: Sequence[Token]) -> tuple[tuple[str, ...], int]:
        """The longest phrase that opens the tokens, and how many tokens it takes; ((), 0) for none."""
        start = skip(said, 0, ARTICLES | POLITE - self._by_first.keys())
        best: tuple[tuple[str, ...], int] = ((), 0)
        if start >= len(said):
            return best
        for content in self._by_first.get(said[start].text, ()):
            end = _match(said, start, content)
            if end and (end, len(content)) > (best[1], len(best[0])):
                best = (content, end)
        return best

    def at_end(self, said: Sequence[Token]) -> int:
        """How many tokens stand before the longest phrase that closes them; all of them for none."""
        for start in range(len(said)):
            if said[start].text in self._by_first:
                for content in self._by_first[said[start].text]:
                    if _match(said, start, content) == len(said):
                        while start and said[start - 1].text in ARTICLES:
                            if start > 1 and said[start - 2].numeric:
                                break  # "fourteen a please" asks for a 14A
                            start -= 1
                        return start
        return len(said)

    def whole(self, said: Sequence[Token]) -> str | int | None:
        """The meaning of the phrase that is all of the tokens, or None."""
        return self._meanings.get(tuple(token.text for token in said if token.text not in ARTICLES))

    def meaning(self, content: tuple[str, ...]) -> str | int:
        """What a phrase returned by `at_start` means."""
        return self._meanings[content]


def _match(said: Sequence[Token], start: int, content: tuple[str, ...]) -> int:
    """The index after `content` in `said` from `start` on, skipping small words; 0 for no match."""
    at = start
    for i, word in enumerate(content):
        while i and at < len(said) and said[at].text != word and said[at].text in ARTICLES | POLITE:
            at += 1
        if at >= len(said) or said[at].text != word:
            return 0
        at += 1
    return at


def skip(said: Sequence[Token], at: int, skipped: frozenset[str]) -> int:
    while at < len(said) and said[at].text in skipped:
        at += 1
    return at


@dataclass(frozen=True)
class Forms:
    """The pack's speech lists, ready for matching."""

    cues: Phrases
    questions: Phrases
    question_endings: Phrases
    endings: Phrases
    fillers: Phrases
    last_fillers: Phrases
    joiners: Phrases
    corrections: Phrases
    refusals: Phrases
    name_refusals: Phrases
    actions: Phrases
    ends: Phrases
    sizes: Phrases
    quantities: Phrases
    repeats: Phrases
    not_ours: Phrases
    faculty_checked: Phrases


SHARPS_INJURY = "sharps_injury"
"""The action that opens the clinic's card."""

MOST_PREPARED = 8
_PREPARED: dict[int, tuple[Speech, Forms]] = {}


def forms_of(speech: Speech, language: str = "en") -> Forms:
    """Prepared once for each `Speech`."""
    known = _PREPARED.get(id(speech))
    if known is None or known[0] is not speech:
        if len(_PREPARED) >= MOST_PREPARED:
            _PREPARED.clear()
        known = _PREPARED[id(speech)] = (speech, _prepare(speech, language))
    return known[1]


def _prepare(speech: Speech, language: str) -> Forms:
    def meaning(groups: Mapping[str, Iterable[str]] | Mapping[int, Iterable[str]]) -> Phrases:
        return Phrases(
            {read_numbers(phrase, language): key for key, phrases in groups.items() for phrase in phrases}
        )

    def plain(phrases: Iterable[str]) -> Phrases:
        return Phrases(dict.fromkeys((read_numbers(phrase, language) for phrase in phrases), ""))

    return Forms(
        cues=plain(speech.cues),
        questions=plain(QUESTIONS),
        question_endings=plain(QUESTION_ENDINGS),
        endings=plain(speech.endings),
        fillers=plain(FILLERS),
        last_fillers=plain(LAST_FILLERS),
        joiners=plain(speech.joiners),
        corrections=plain(speech.corrections),
        refusals=plain(speech.refusals),
        name_refusals=plain(speech.name_refusals),
        actions=meaning({**speech.actions, SHARPS_INJURY: speech.sharps_injury}),
        ends=meaning(speech.ends),
        sizes=meaning(speech.sizes),
        quantities=meaning(speech.quantities),
        repeats=plain(speech.repeats),
        not_ours=plain(speech.not_ours),
        faculty_checked=plain(speech.faculty_checked),
    )
