"""Names inside free sentences: what is asked for, in whatever words.

A text comes in, typed or heard; the requests in it go out with the probability that anything was asked for.
Every name of the pack in the sentence is judged by what stands around it (`vocab.intent`). The pack's own
phrasings are read by `vocab.request`, which this complements.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vocab.intent import LABELS, OTHER, TARGET, Intent
from vocab.lexicon import Lexicon
from vocab.request import Named, Request, names_within
from vocab.schema import Speech

ASK, REFUSE = LABELS.index("ask"), LABELS.index("refuse")
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


class Sentences:
    """Reads free sentences of one pack."""

    def __init__(self, lexicon: Lexicon, speech: Speech, intent: Intent) -> None:
        self._lexicon, self._speech, self._intent = lexicon, speech, intent

    def read(self, text: str) -> Asked:
        """What is asked for in a text."""
        plain, named = names_within(text, self._lexicon, self._speech)
        if not named:
            return NOTHING
        p = self._intent.p([marked(plain, named, place) for place in range(len(named))])
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


def marked(text: str, named: Sequence[Named], place: int) -> str:
    """The text with one name marked as the one in question, and the others as names."""
    out, at = "", 0
    for number, one in enumerate(named):
        out += text[at : one.start] + (TARGET if number == place else OTHER)
        at = one.end
    return out + text[at:]
