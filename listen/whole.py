"""How long a silence must be before a request that was heard in a pause is answered.

Comes in: a pack, and the judgements on what was heard. Goes out: seconds. A request that is answered and
whole needs the least; one whose last name also begins another item's ("clamp", "clamp forceps"), or that is
to be checked, a little more; everything else waits until the utterance has ended in any case.
"""

from __future__ import annotations

from collections.abc import Sequence

from listen.verdict import Judgement, Verdict
from vocab.schema import Pack
from vocab.spoken import spoken_forms, written_forms

WHOLE_S, OPEN_S = 0.25, 0.35
"""In a request that is spoken in one go, about one pause in a hundred is as long as the first."""


class Wholeness:
    """Knows which names of a pack begin others."""

    def __init__(self, pack: Pack) -> None:
        owners: dict[tuple[str, ...], set[str]] = {}
        for item in pack.items:
            for name in item.names:
                for text in (name.text, *name.say):
                    for form in (*spoken_forms(text), *written_forms(text)):
                        owners.setdefault(tuple(form.split()), set()).add(item.id)
        self._names = frozenset(owners)
        self._open = frozenset(
            form[:length]
            for form, items in owners.items()
            for length in range(1, len(form))
            if items - owners.get(form[:length], items)
        )

    def enough_s(self, judgements: Sequence[Judgement], heard: str) -> float | None:
        """Seconds of silence after which `heard`, the phrasing that was judged, is answered or asked about;
        None where it is not."""
        verdicts = {j.verdict for j in judgements}
        kinds = {j.request.kind for j in judgements}
        if not judgements or Verdict.QUIET in verdicts or not kinds <= {"item", "correction"}:
            return None
        if Verdict.CHECK in verdicts:
            return OPEN_S
        words = tuple(heard.split())
        name = next((words[at:] for at in range(len(words)) if words[at:] in self._names), ())
        return OPEN_S if name in self._open else WHOLE_S
