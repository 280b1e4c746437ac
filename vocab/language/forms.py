"""Matches what was said with phrases: templates that have a gap, and the pack's own phrases.

`Templates` takes the words of a whole sentence and gives what they mean and the words in the gap. `Phrases`
finds the phrases of a `Speech` (cues, endings, actions ...) at either end of some tokens and gives how many
tokens they take; articles are optional there, and small words of courtesy may stand in between.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Generic, TypeVar

from vocab.language.by_language import as_typed, before_a_name, of_a_name, read_numbers
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

Words = tuple[str, ...]
Formed = Callable[[str, str], tuple[str, ...]]
"""Gives the forms of a phrase in a language."""
GAP = "N"
"""Stands in a template for the words that are not given."""
_Meaning = TypeVar("_Meaning")


@dataclass(frozen=True)
class Fitting(Generic[_Meaning]):
    """A template that fits: what it means, and the words in its gap, () where it has none.

    form: the template as it was said, with its alternatives chosen and N for the gap.
    """

    meaning: _Meaning
    gap: Words
    form: str


class Templates(Generic[_Meaning]):
    """Templates by what they mean, compared with all the words of a sentence at once.

    A template is a line of parts with a space between them:

    * a word: itself;
    * ``N``: one or more words of any kind, the gap; a template has one at most;
    * ``a|b``: either of these words;
    * ``[a]``, ``[a|b]`` or ``[N]``: the same, or nothing.

    "how long [is] left on|for N" fits "how long left for etch enamel" with the gap "etch enamel".

    Args:
        table: templates by meaning.
        read: gives the words of a text, as it is used for what is said as well ("one" is "1").

    Raises:
        ValueError: a template cannot be read; the text says which, and why.
    """

    def __init__(self, table: Mapping[_Meaning, Iterable[str]], read: Callable[[str], Words]) -> None:
        self._gapped: dict[Words, dict[Words, list[tuple[int, _Meaning, str]]]] = {}
        self._whole: dict[Words, list[tuple[int, _Meaning, str]]] = {}
        self._longest_before = self._longest_after = 0
        number = itertools.count()
        for meaning, templates in table.items():
            for template in templates:
                for before, after in _variants(template, read):
                    if after is None:
                        kept = self._whole.setdefault(before, [])
                        form = " ".join(before)
                    else:
                        kept = self._gapped.setdefault(before, {}).setdefault(after, [])
                        form = " ".join((*before, GAP, *after))
                        self._longest_before = max(self._longest_before, len(before))
                        self._longest_after = max(self._longest_after, len(after))
                    kept.append((next(number), meaning, form))

    def fits(self, said: Words) -> tuple[Fitting[_Meaning], ...]:
        """Every template that fits, in the order in which they were written; () for none."""
        found = [(number, Fitting(meaning, (), form)) for number, meaning, form in self._whole.get(said, ())]
        length = len(said)
        for start in range(min(self._longest_before + 1, length)):
            by_end = self._gapped.get(said[:start])
            if by_end is None:
                continue
            for end in range(max(start + 1, length - self._longest_after), length + 1):
                for number, meaning, form in by_end.get(said[end:], ()):
                    found.append((number, Fitting(meaning, said[start:end], form)))
        return tuple(fit for _, fit in sorted(found, key=lambda one: one[0]))

    def whole(self, said: Words) -> _Meaning | None:
        """What a sentence means that a template without a gap fits; None for any other."""
        kept = self._whole.get(said)
        return kept[0][1] if kept else None

    def gaps(self, said: Words) -> Iterator[Words]:
        """The words in the gap of every template that fits and has one."""
        return (fit.gap for fit in self.fits(said) if fit.gap)


def _variants(template: str, read: Callable[[str], Words]) -> Iterator[tuple[Words, Words | None]]:
    """The words before and after the gap in every way to read a template, the fullest first; None after the
    words of one without a gap."""
    choices: list[list[Words]] = []
    for part in template.split():
        optional = part.startswith("[") and part.endswith("]")
        either = part[1:-1].split("|") if optional else part.split("|")
        if any(not word or set(word) & set("[]") for word in either):
            raise ValueError(f"the part {part!r} of {template!r} is not a word, a|b, [a] or [a|b]")
        choices.append([(GAP,) if word == GAP else read(word) for word in either])
        if optional:
            choices[-1].append(())
    if not choices or sum(any(words == (GAP,) for words in choice) for choice in choices) > 1:
        raise ValueError(f"the template {template!r} must have words, and {GAP} once at most")
    for chosen in itertools.product(*choices):
        parts = tuple(itertools.chain.from_iterable(chosen))
        if GAP in parts:
            at = parts.index(GAP)
            yield parts[:at], parts[at + 1 :]
        elif parts:
            yield parts, None


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


@lru_cache(maxsize=8)
def forms_of(speech: Speech, language: str) -> Forms:
    """The lists of a pack's speech in its language; made once for equal ones."""

    def meaning(
        groups: Mapping[str, Iterable[str]] | Mapping[int, Iterable[str]], formed: Formed = as_typed
    ) -> Phrases:
        return Phrases(
            {
                read_numbers(form, language): key
                for key, phrases in groups.items()
                for phrase in phrases
                for form in formed(phrase, language)
            }
        )

    def plain(phrases: Iterable[str], formed: Formed = as_typed) -> Phrases:
        formed_all = (form for phrase in phrases for form in formed(phrase, language))
        return Phrases(dict.fromkeys((read_numbers(form, language) for form in formed_all), ""))

    return Forms(
        cues=plain(speech.cues, before_a_name),
        questions=plain(QUESTIONS),
        question_endings=plain(QUESTION_ENDINGS),
        endings=plain(speech.endings),
        fillers=plain(FILLERS),
        last_fillers=plain(LAST_FILLERS),
        joiners=plain(speech.joiners, before_a_name),
        corrections=plain(speech.corrections, before_a_name),
        refusals=plain(speech.refusals),
        name_refusals=plain(speech.name_refusals, before_a_name),
        actions=meaning({**speech.actions, SHARPS_INJURY: speech.sharps_injury}, before_a_name),
        ends=meaning(speech.ends, of_a_name),
        sizes=meaning(speech.sizes, of_a_name),
        quantities=meaning(speech.quantities),
        repeats=plain(speech.repeats),
        not_ours=plain(speech.not_ours),
        faculty_checked=plain(speech.faculty_checked),
    )
