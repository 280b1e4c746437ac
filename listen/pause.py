"""How long a silence must last before a request that was heard in a pause is answered.

From a pack, the judgements on what was heard, and its words it gives seconds. A complete request that will
be answered needs little, and least if it ends in a "please" or the like. One whose last words also begin
another item's name ("clamp", "clamp forceps"), or that is to be checked, needs a little more; one that is to
be checked and stops in the middle of a name ("thirty three", and a half) needs the most. Everything else
waits for the end of the utterance.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from listen.verdict import Judgement, Verdict
from vocab.language.tokens import spoken_forms, tidy, written_forms
from vocab.pack.schema import Pack

CLOSED_S, WHOLE_S, OPEN_S = 0.16, 0.25, 0.35
"""In a request that is spoken in one go, about one pause in a hundred is as long as the second. The first is
hardly longer than it takes to hear what was said; anything after a "please" is a new request."""
BROKEN_S = 0.6
"""Longer than any silence that ends an utterance at the chair: a question about half a name is about the
wrong thing."""
_WORD = re.compile(r"[\w'/\-]+")


class Wholeness:
    """Knows which words begin names of a pack's own field."""

    def __init__(self, pack: Pack) -> None:
        owners: dict[tuple[str, ...], set[str]] = {}
        for item in (one for one in pack.items if one.id not in pack.beyond):
            for text in item.ways_to_say:
                for form in (*spoken_forms(text), *written_forms(text)):
                    owners.setdefault(tuple(form.split()), set()).add(item.id)
        self._endings = tuple(f" {ending}" for ending in pack.speech.endings)
        self._names = frozenset(owners)
        self._begun = frozenset(
            form[:length]
            for form, items in owners.items()
            for length in range(1, len(form))
            if items - owners.get(form[:length], set())
        )

    def enough_s(self, judgements: Sequence[Judgement], heard: str, free_text: str = "") -> float | None:
        """Seconds of silence after which what was heard is answered or asked about; None if it is neither.

        Args:
            heard: the phrasing that was judged; it never holds half a name.
            free_text: what the engine wrote without a grammar; it may.
        """
        verdicts = {j.verdict for j in judgements}
        kinds = {j.request.kind for j in judgements}
        if not judgements or Verdict.QUIET in verdicts or not kinds <= {"item", "correction"}:
            return None
        begun = self._ends_begun(heard)
        if Verdict.CHECK in verdicts:
            return BROKEN_S if begun or self._ends_begun(free_text) else OPEN_S
        if begun:
            return OPEN_S
        return CLOSED_S if heard.endswith(self._endings) else WHOLE_S

    def _ends_begun(self, text: str) -> bool:
        """Whether the last words, as many as are a name or begin one, also begin another item's."""
        words = tuple(_WORD.findall(tidy(text)))
        ends = (words[at:] for at in range(len(words)))
        return next((end in self._begun for end in ends if end in self._names or end in self._begun), False)
