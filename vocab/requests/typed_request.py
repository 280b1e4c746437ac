"""A typed request that the pack's own phrasings do not cover: with a reason behind it, or misspelled.

Somebody who types means to ask. So a name with more behind it ("twelve blade, back of the tuberosity") is
taken for a request, and a few words that are nearly a name ("yankeur") are offered. A text that tells something
("the spoon, which was blunt") is left alone. Nothing that was heard comes here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from vocab.language.english import ARTICLES, BEHIND_A_NAME, SMALL_WORDS, TELLING, TYPED_SHORT
from vocab.language.forms import forms_of, skip
from vocab.language.tokens import tidy, tokens
from vocab.pack.schema import Speech
from vocab.requests.lexicon import Lexicon
from vocab.requests.sentence import NOTHING, Asked
from vocab.requests.understand import Request, understand

COMMA_P, WORD_P = 0.93, 0.8
"""How surely a name is asked for that has more behind it: after a comma, and without one."""
LEAST_NEAR, LEAST_NEAR_FIRST, NEAR_P = 0.2, 0.5, 0.8
"""Names nearly written are offered from this much in all on, where they are the whole text or stand before
its first comma; they count `NEAR_P`, so that they are asked about."""
MOST_WORDS = 14
MOST_NAME_WORDS = 4


def typed_request(text: str, lexicon: Lexicon, speech: Speech) -> Asked:
    """What a typed text asks for, to be used where it is not understood as it stands."""
    plain = " ".join(TYPED_SHORT.get(word.lower(), word) for word in text.split())
    if plain != text and (requests := understand(plain, lexicon, speech)):
        return Asked(requests, 1.0)
    if len(plain.split()) > MOST_WORDS:
        return NOTHING
    for head, behind, p in _heads(plain):
        requests = understand(head, lexicon, speech)
        if _only_items(requests) and not _takes_back(behind, lexicon, speech):
            return Asked(requests, p)
    first, comma, _ = plain.partition(",")
    for name, least in ((plain, LEAST_NEAR), (first, LEAST_NEAR_FIRST) if comma else ("", 1.0)):
        if near := _nearly(name, least, lexicon, speech):
            return Asked((near,), 1.0)
    return NOTHING


def _heads(text: str) -> Iterator[tuple[str, str, float]]:
    """What may be the request, what stands behind it, and how surely it is one; the longest first."""
    for cut in reversed([match.start() for match in re.finditer(r"[,;:]| - | \(", text)]):
        behind = text[cut:].lstrip(",;:-( ")
        if behind and behind.split()[0].lower() not in TELLING:
            yield text[:cut], behind, COMMA_P
    words = text.split()
    if words and words[0].lower() in ARTICLES:
        return
    for at in range(len(words) - 1, 0, -1):
        if words[at].lower() in BEHIND_A_NAME:
            yield " ".join(words[:at]), " ".join(words[at:]), WORD_P


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
    if total < least:
        return None
    shares = tuple(replace(candidate, p=candidate.p * NEAR_P / total) for candidate in found)
    return Request("item", name, shares)
