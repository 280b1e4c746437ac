"""Names inside free sentences: what is asked for, in whatever words.

A text comes in, typed or heard; the requests in it go out with the probability that anything was asked for,
or what it tells of items: that one was given back, or fell. Every name of the pack in the sentence is judged
by what stands around it (`vocab.requests.intent`). The pack's own phrasings are read by
`vocab.requests.understand`, which this complements.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from vocab.pack.schema import Speech
from vocab.requests.intent import LABELS, OTHER, TARGET, Intent
from vocab.requests.lexicon import Candidate, Lexicon
from vocab.requests.understand import Named, Request, names_within

ASK = LABELS.index("ask")
TOLD = tuple(LABELS.index(label) for label in ("back", "fell"))
TOLD_P = 0.7
"""An item is given back, or fell, from this probability on: so 18 of the tuning side's 27 ways of telling it
are noted, and one of 247 mentions of what is out."""
_REMEMBERED = 1_000
"""Sentences that were judged last: each is read for what it asks and for what it tells."""
LEAST_P = 0.1
"""A name that is asked for less likely than this is left out."""
BESIDE_P = 0.5
"""Beside the likeliest, a further thing is asked for from this probability on."""


@dataclass(frozen=True)
class Asked:
    """What a sentence asks for, and how probable it is that it asks for anything."""

    requests: tuple[Request, ...]
    p: float


NOTHING = Asked((), 0.0)


@dataclass(frozen=True)
class Became:
    """What a sentence tells of an item: `label` is "back" or "fell"."""

    label: str
    candidates: tuple[Candidate, ...]


class Sentences:
    """Reads free sentences of one pack."""

    def __init__(self, lexicon: Lexicon, speech: Speech, intent: Intent) -> None:
        self._lexicon, self._speech, self._intent = lexicon, speech, intent
        self._judged = lru_cache(maxsize=_REMEMBERED)(self._judge)

    def read(self, text: str) -> Asked:
        """What is asked for in a text."""
        named, p = self._judged(text)
        if not named:
            return NOTHING
        likeliest = float(p[:, ASK].max())
        if likeliest < LEAST_P:
            return NOTHING
        wanted: dict[tuple[str, ...], Request] = {}
        for place in np.argsort(-p[:, ASK], kind="stable"):
            request = named[int(place)].request
            items = tuple(candidate.item for candidate in request.candidates)
            if p[place, ASK] >= min(BESIDE_P, likeliest) and items not in wanted:
                wanted[items] = request
        order = [one.request for one in named if one.request in wanted.values()]
        return Asked(tuple(dict.fromkeys(order)), likeliest)

    def told(self, text: str) -> tuple[Became, ...]:
        """What a text tells of items that it names, in the order of the names."""
        named, p = self._judged(text)
        return tuple(
            Became(LABELS[label], one.request.candidates)
            for one, of_name in zip(named, p, strict=True)
            for label in TOLD
            if of_name[label] >= TOLD_P
        )

    def _judge(self, text: str) -> tuple[tuple[Named, ...], NDArray[np.float64]]:
        """The names in a text, and the probability of each label for each, shape = (names, labels)."""
        plain, named = names_within(text, self._lexicon, self._speech)
        return named, self._intent.p([marked(plain, named, place) for place in range(len(named))])


def marked(text: str, named: Sequence[Named], place: int) -> str:
    """The text with one name marked as the one in question, and the others as names."""
    out, at = "", 0
    for number, one in enumerate(named):
        out += text[at : one.start] + (TARGET if number == place else OTHER)
        at = one.end
    return out + text[at:]
