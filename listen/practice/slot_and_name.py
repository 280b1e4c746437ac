"""An answer that says slot and item together: right only if both are.

Takes a question of the SLOT drill, and what was said or heard; gives the slot and the items that the name may
mean, and turns a marking of the slot into one of both. A name that was not surely heard changes nothing. What
words mean is in `listen.practice.meanings`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from listen.engine import Hearing
from listen.practice.meanings import Meanings
from listen.practice.questions import Question


@dataclass(frozen=True)
class Both:
    """Slot and item of one answer. items: of which the name may mean any."""

    slot: str
    items: frozenset[str]

    def agrees(self, question: Question) -> bool:
        """Whether the name is one of the item that was asked for."""
        return question.topic.subject in self.items


def typed(meanings: Meanings, question: Question, said: str) -> Both | None:
    """Slot and item of a typed answer; None where it does not say both."""
    found = meanings.together(question, said)
    return None if found is None else Both(*found)


def heard(
    meanings: Meanings, question: Question, hearing: Hearing, prior: float, scale: float, least: float
) -> Both | None:
    """Slot and item of a spoken answer; None where it does not surely say both.

    Args:
        hearing: bound to pairs of the question's slots and the names of what lies there.
        prior: nats by which a right slot leads, and a right name.
        scale: multiplies differences of scores.
        least: probability from which it is sure.
    """
    nats: defaultdict[Both | None, float] = defaultdict(lambda: -np.inf)
    for text, score in _texts(hearing):
        both = typed(meanings, question, text)
        score += prior * bool(meanings.of(question, text) & {*question.right})
        score += prior * (both is not None and both.agrees(question))
        nats[both] = float(np.logaddexp(nats[both], score))
    if not nats:
        return None
    best = max(nats, key=lambda both: nats[both])
    share = 1.0 / sum(float(np.exp(scale * (other - nats[best]))) for other in nats.values())
    return best if share >= least else None


def _texts(hearing: Hearing) -> Iterable[tuple[str, float]]:
    """All that may have been said, with a score (nats) over what was freely written."""
    for phrasing in hearing.phrasings:
        yield phrasing.text, phrasing.log_p - hearing.log_p_free
    for sentence in hearing.spliced:
        yield sentence.text, sentence.log_p
