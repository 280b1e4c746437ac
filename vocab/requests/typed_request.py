"""A typed request that the pack's own phrasings do not cover: with a reason behind it, or misspelled.

Somebody who types means to ask. So a name with more behind it ("twelve blade, back of the tuberosity") is
taken for a request, and a few words that are nearly a name ("yankeur") are offered. A text that tells of
something ("the spoon, which was blunt") is left alone. Nothing that was heard comes here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from vocab.language.english import ARTICLES, BEHIND_A_NAME, SMALL_WORDS, TELLING, TYPED_SHORT
from vocab.language.forms import forms_of, skip
from vocab.language.tokens import tidy, tokens
from vocab.pack.schema import Speech
from vocab.requests.lexicon import Lexicon
from vocab.requests.sentence import NOTHING, Asked
from vocab.requests.understand import Request, understand

COMMA_P, WORD_P = 0.93, 0.8
"""How surely a name is asked for that has more behind it: after a comma, and without one."""
LEAST_NEAR, LEAST_NEAR_FIRST, NEAR_P, NEARLY_P = 0.4, 0.5, 0.8, 0.9
"""Names nearly written are offered from this much in all on, where they are the whole text or stand before
a reason; they count `NEAR_P`, so that they are asked about, and give way to what asks more likely."""
MOST_WORDS = 14
MOST_NAME_WORDS = 4


def typed_request(text: str, lexicon: Lexicon, speech: Speech) -> Asked:
    """What a typed text asks for, to be used where it is not understood as it stands."""
    plain = " ".join(TYPED_SHORT.get(word.lower(), word) for word in text.split())
    if plain != text and (requests := understand(plain, lexicon, speech)):
        return Asked(requests, 1.0)
    if len(plain.split()) > MOST_WORDS:
        return NOTHING
    heads = [one for one in _heads(plain) if not _takes_back(one.behind, lexicon, speech)]
    for one in heads:
        requests = understand(one.text, lexicon, speech)
        if _only_items(requests):
            return Asked(requests, one.p)
    for text_, least in ((plain, LEAST_NEAR), *((one.text, LEAST_NEAR_FIRST) for one in heads)):
        if near := _nearly(text_, least, lexicon, speech):
            return Asked((near,), NEARLY_P)
    return NOTHING


@dataclass(frozen=True)
class _Head:
    """What may be the request, what stands behind it, and how surely it is one."""

    text: str
    behind: str
    p: float


def _heads(text: str) -> Iterator[_Head]:
    """Where the text may be cut, the longest first: before a comma, then before a word of reason."""
    for cut in reversed([match.start() for match in re.finditer(r"[,;:]| - | \(", text)]):
        behind = text[cut:].lstrip(",;:-( ")
        if behind and behind.split()[0].lower() not in TELLING:
            yield _Head(text[:cut], behind, COMMA_P)
    words = text.split()
    if words and words[0].lower() in ARTICLES:
        return
    for at in range(len(words) - 1, 0, -1):
        if words[at].lower() in BEHIND_A_NAME:
            yield _Head(" ".join(words[:at]), " ".join(words[at:]), WORD_P)


def _only_items(requests: tuple[Request, ...]) -> bool:
    return bool(requests) and all(request.kind in ("item", "correction") for request in requests)


def _takes_back(behind: str, lexicon: Lexicon, speech: Speech) -> bool:
    return any(request.kind == "refusal" for request in understand(behind, lexicon, speech))


def _nearly(text: str, least: float, lexicon: Lexicon, speech: Speech) -> Request | None:
    """A request for the items whose names are nearly written, if the text is hardly more than a name."""
    said, forms = tokens(text), forms_of(speech, lexicon.pack.language)
    if any(token.stop for token in said[:-1]):
        return None
    start = skip(said, forms.cues.at_start(said)[1], ARTICLES)
    words = said[start : start + forms.endings.at_end(said[start:])]
    if not 0 < len(words) <= MOST_NAME_WORDS or any(token.text in SMALL_WORDS for token in words):
        return None
    plain = tidy(text)
    name = " ".join(plain[words[0].start : words[-1].end].split())
    found = lexicon.find(name)
    total = sum(candidate.p for candidate in found)
    if total < least or found[0].how == "exact" and total > NEAR_P:
        return None
    shares = tuple(replace(candidate, p=candidate.p * NEAR_P / total) for candidate in found)
    return Request("item", name, shares)
