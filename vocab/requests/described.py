"""What is described rather than named ("the thing for crimping"): items whose texts say it, to be offered.

Searches the names, purposes and looks of a pack's items for the words of a description. What is found is only
ever offered: a description fits several things, and whoever describes does not know the name to be read back.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

from vocab.language.by_language import fold_word
from vocab.language.tables import TypedWords
from vocab.language.tokens import is_number, words
from vocab.pack.schema import Item, Pack
from vocab.requests.lexicon import Candidate

MENTION = 0.7
"""What a word counts that is in an item's purpose or look and not in its name, or the other way round where
it tells what the thing is for; else it counts 1."""
BOTH = 0.15
"""What it counts beside that where it is in the name and in the texts."""
UNKNOWN = 0.6
"""What a word counts that is in no text, as a share of the rarest."""
LEAST, LEAST_NAMELESS = 0.4, 0.55
"""How much of a description an item must cover, by weight; more where nothing says that it is one."""
NEAR_BEST = 0.6
"""What covers this share of the best is offered beside it."""
EVEN = 0.15
"""Added to how well a text fits each item of a shared name."""
MOST = 6
OFFERED_P = 0.7
"""The probability that all candidates share: too little for an answer, enough for an offer."""


class Descriptions:
    """The texts of a pack's items, ready to be searched."""

    def __init__(self, pack: Pack, known: TypedWords) -> None:
        self._pack, self._known = pack, known
        self._named: dict[str, set[str]] = defaultdict(set)
        self._told: dict[str, set[str]] = defaultdict(set)
        for item in pack.items:
            for word in self._content(" ".join(name.text for name in item.names)):
                self._named[word].add(item.id)
            for word in self._content(f"{item.purpose} {item.look}"):
                self._told[word].add(item.id)
        self._rarest = math.log(len(pack.items) + 1)

    def find(self, text: str, plainly: bool) -> tuple[Candidate, ...]:
        """The items that a description fits best, with shares of `OFFERED_P`; () where none fits well.

        Args:
            plainly: whether the text says that it describes ("the thing for ..."); else a word of the item's
                own name must be in it, and more of it must fit.
        """
        fits, matched = self._fits(text)
        if not plainly:
            fits = {
                item: p for item, p in fits.items() if matched[item] > 1 and self._is_named_in(item, text)
            }
        best = max(fits.values(), default=0.0)
        if best < (LEAST if plainly else LEAST_NAMELESS):
            return ()
        near = sorted(
            (item for item, p in fits.items() if p >= NEAR_BEST * best), key=lambda i: (-fits[i], i)
        )
        return self._shared(
            [self._pack.item(item) for item in near[:MOST]], [fits[i] ** 3 for i in near[:MOST]]
        )

    def settled(self, candidates: Sequence[Candidate], text: str) -> tuple[Candidate, ...]:
        """Candidates of a shared name, likelier the better a text fits them; their sum stays."""
        fits, _ = self._fits(text)
        raised = [candidate.p * (EVEN + fits.get(candidate.item, 0.0)) for candidate in candidates]
        factor = sum(candidate.p for candidate in candidates) / sum(raised)
        weighed = [replace(c, p=p * factor) for c, p in zip(candidates, raised, strict=True)]
        return tuple(sorted(weighed, key=lambda c: -c.p))

    def _fits(self, text: str) -> tuple[dict[str, float], Counter[str]]:
        """The share of a text, by weight, that each item covers, and with how many words.

        Behind "for" or "to" stands what the thing is for: there an item's texts count, its name less.
        """
        said = [word.strip(",;:.!?()").lower() for word in text.split()]
        purpose = next((at for at, word in enumerate(said) if word in self._known.purpose), len(said))
        thing = set(self._content(" ".join(said[:purpose])))
        use = set(self._content(" ".join(said[purpose:]))) - thing
        weights = {word: self._weight(word) for word in sorted(thing | use)}
        total = sum(weights.values())
        fits, matched = defaultdict[str, float](float), Counter[str]()
        for word, weight in weights.items():
            named, told = self._named.get(word, set()), self._told.get(word, set())
            for item in sorted(named | told):
                counts = 1.0 if item in (told if word in use else named) else MENTION
                fits[item] += (counts + (BOTH if item in named & told else 0.0)) * weight / total
                matched[item] += 1
        return fits, matched

    def _shared(self, items: Sequence[Item], shares: Sequence[float]) -> tuple[Candidate, ...]:
        total = sum(shares)
        return tuple(
            Candidate(item.id, item.name, OFFERED_P * share / total, "description")
            for item, share in zip(items, shares, strict=True)
        )

    def _is_named_in(self, item: str, text: str) -> bool:
        return any(item in self._named.get(word, ()) for word in self._content(text))

    def _weight(self, word: str) -> float:
        of = len(self._named.get(word, set()) | self._told.get(word, set()))
        return self._rarest - math.log(of) if of else UNKNOWN * self._rarest

    def _content(self, text: str) -> Iterable[str]:
        """The stems of the words that tell something."""
        language, known = self._pack.language, self._known
        for word in words(text):
            if word not in known.articles | known.small | known.vague | known.behind | known.telling:
                yield stem(fold_word(word, language))


def stem(word: str) -> str:
    """An English word without the commonest endings: "crimping", "crimper" and "crimps" are one.

    >>> [stem(word) for word in ("crimping", "crimper", "shined", "trimming", "pulp")]
    ['crimp', 'crimp', 'shin', 'trim', 'pulp']
    """
    if is_number(word):
        return word
    for ending in ("ing", "ers", "er", "ed", "es", "e"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            word = word[: -len(ending)]
            break
    return word[:-1] if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "aeiouls" else word
