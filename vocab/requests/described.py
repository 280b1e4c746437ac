"""What is described rather than named ("the thing for crimping"): items whose texts say it, to be offered.

Searches the names, purposes and looks of a pack's items for the words of a description. What is found is only
ever offered: a description fits several things, and whoever describes does not know the name to be read back.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from vocab.language.by_language import fold_word
from vocab.language.tables import TypedWords
from vocab.language.tokens import is_number, words
from vocab.pack.schema import Item, Pack
from vocab.requests.lexicon import Candidate

MENTION = 0.7
"""What a word counts that is in an item's purpose or look; a word of a name counts 1."""
UNKNOWN = 0.6
"""What a word counts that is in no text, as a share of the rarest."""
LEAST, LEAST_NAMELESS = 0.4, 0.55
"""How much of a description an item must cover, by weight; more where nothing says that it is one."""
NEAR_BEST = 0.7
"""What covers this share of the best is offered beside it."""
MOST = 6
OFFERED_P = 0.7
"""The probability that all candidates share: too little for an answer, enough for an offer."""


class Descriptions:
    """The texts of a pack's items, ready to be searched."""

    def __init__(self, pack: Pack, known: TypedWords) -> None:
        self._pack, self._known = pack, known
        self._by_word: dict[str, dict[str, float]] = defaultdict(dict)
        self._named: dict[str, set[str]] = defaultdict(set)
        for item in pack.items:
            names = set(self._content(" ".join(name.text for name in item.names)))
            for word in {*self._content(f"{item.purpose} {item.look}"), *names}:
                self._by_word[word][item.id] = 1.0 if word in names else MENTION
            for word in names:
                self._named[word].add(item.id)
        self._rarest = math.log(len(pack.items) + 1)

    def find(self, text: str, plainly: bool) -> tuple[Candidate, ...]:
        """The items that a description fits best, with shares of `OFFERED_P`; () where none fits well.

        Args:
            plainly: whether the text says that it describes ("the thing for ..."); else a word of the item's
                own name must be in it, and more of it must fit.
        """
        said = tuple(dict.fromkeys(self._content(text)))
        weights = {word: self._weight(word) for word in said}
        total = sum(weights.values())
        if not total:
            return ()
        fits: Counter[str] = Counter()
        matched: Counter[str] = Counter()
        for word in said:
            for item, share in self._by_word.get(word, {}).items():
                fits[item] += share * weights[word] / total  # type: ignore[assignment]
                matched[item] += 1
        if not plainly:
            fits = Counter({item: p for item, p in fits.items() if matched[item] > 1 and self._names(item, said)})
        best = max(fits.values(), default=0.0)
        if best < (LEAST if plainly else LEAST_NAMELESS):
            return ()
        near = sorted((item for item, p in fits.items() if p >= NEAR_BEST * best), key=lambda i: (-fits[i], i))
        return self._shared([self._pack.item(item) for item in near[:MOST]], [fits[i] ** 3 for i in near[:MOST]])

    def _shared(self, items: Sequence[Item], shares: Sequence[float]) -> tuple[Candidate, ...]:
        total = sum(shares)
        return tuple(
            Candidate(item.id, item.name, OFFERED_P * share / total, "description")
            for item, share in zip(items, shares, strict=True)
        )

    def _names(self, item: str, said: Iterable[str]) -> bool:
        return any(item in self._named.get(word, ()) for word in said)

    def _weight(self, word: str) -> float:
        of = len(self._by_word.get(word, ()))
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
