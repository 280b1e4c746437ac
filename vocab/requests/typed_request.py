"""A typed request that the pack's own phrasings do not cover: with a reason, described, or misspelled.

Somebody who types means to ask. So a name with more behind it ("twelve blade, back of the tuberosity") or
with the reason before it ("it's bleeding, so astringent") is taken for a request; and what is described ("the
thing for crimping"), nearly a name ("yankeur") or a mere number is offered, never sure. A text that tells of
something ("the spoon, which was blunt") is left alone. Nothing that was heard comes here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from vocab.language.by_language import plain_word, tables
from vocab.language.forms import forms_of, skip
from vocab.language.tokens import Token, tidy, tokens
from vocab.pack.schema import Speech
from vocab.requests.described import Descriptions
from vocab.requests.lexicon import Candidate, Lexicon
from vocab.requests.sentence import NOTHING, Asked
from vocab.requests.understand import Request, understand

COMMA_P, WORD_P = 0.93, 0.8
"""How surely a name is asked for that has more behind it: after a comma, and without one."""
SO_P, LAST_P = 0.9, 0.8
"""The same with the reason before it: after "so", and after a mere comma."""
LEAST_NEAR, LEAST_NEAR_FIRST, NEAR_P, NEARLY_P = 0.4, 0.5, 0.8, 0.9
"""Names nearly written are offered from this much in all on, where they are the whole text or stand before
a reason; they count `NEAR_P`, so that they are asked about, and give way to what asks more likely."""
DESCRIBED_P = 0.9
"""How surely a description asks; its candidates are never sure."""
TYPED_LOG_ODDS, MOST_RAISED_P = 1.5, 0.85
"""A free sentence asks likelier when typed than when overheard, but is then asked about. Author's judgement:
of 87 typed sentences that ask for nothing the judge gave 3 more than 0.15."""
MOST_WORDS = 14
MOST_NAME_WORDS = 4
MOST_DESCRIBING, MOST_BARE = 12, 5
"""The words of a description, and of one that does not say that it is one."""
MOST_BEFORE_VAGUE = 4
MANY = 3
"""A name of so many things is settled by the reason that goes with it."""


class TypedRequests:
    """Reads typed texts of one pack."""

    def __init__(self, lexicon: Lexicon, speech: Speech) -> None:
        self._lexicon, self._speech = lexicon, speech
        self._language = lexicon.pack.language
        self._known = tables(self._language).typed

    def read(self, text: str, free: Asked = NOTHING) -> Asked:
        """What a typed text asks for, to be used where it is not understood as it stands.

        Args:
            free: what it asks for as a free sentence.
        """
        plain = self._in_full(text)
        if plain != text and (requests := self._understood(plain)):
            return Asked(requests, 1.0)
        if len(plain.split()) > MOST_WORDS:
            return free
        heads = [one for one in self._heads(plain) if not self._takes_back(one.behind)]
        plainly = self._with_reason_behind(heads, free) or self._described(plain)
        if plainly:
            return plainly
        free = _typed(self._without_objects(plain, free), self._is_vague(plain))
        readings: tuple[Callable[[], Asked | None], ...] = (
            lambda: self._with_reason_before(plain),
            lambda: self._nearly_named(plain, heads),
            lambda: self._number([plain, *(one.text for one in heads if one.p == COMMA_P)]),
            lambda: self._described_barely(plain),
        )
        for read in readings:
            reading = read()
            if reading and reading.p >= free.p:
                return reading
        return free

    @cached_property
    def _descriptions(self) -> Descriptions:
        return Descriptions(self._lexicon.pack, self._known)

    # --- a name with a reason -----------------------------------------------------------------------

    def _with_reason_behind(self, heads: list[_Head], free: Asked) -> Asked | None:
        """What stands before the reason; whatever is named in the reason is not asked for."""
        for one in heads:
            requests = self._understood(one.text)
            if _only_items(requests):
                requests = tuple(self._settled(request, one.behind) for request in requests)
                within = {candidate.item for request in requests for candidate in request.candidates}
                agreed = any(candidate.item in within for r in free.requests for candidate in r.candidates)
                return Asked(requests, max(one.p, free.p if agreed else 0.0))
        return None

    def _settled(self, request: Request, reason: str) -> Request:
        """A name of several things, settled by the reason for which it is asked for."""
        if len(request.candidates) < MANY:
            return request
        return replace(request, candidates=self._descriptions.settled(request.candidates, reason))

    def _heads(self, text: str) -> Iterator[_Head]:
        """Where the text may be cut, the longest first: before a comma, then before a word of reason."""
        known = self._known
        for cut in reversed([match.start() for match in re.finditer(r"[,;:]| - | \(|\.\.\.", text)]):
            behind = text[cut:].lstrip(",;:-(. ")
            if behind and self._plain(behind.split()[0]) not in known.telling | known.joining:
                yield _Head(text[:cut], behind, COMMA_P)
        said = text.split()
        if said and self._plain(said[0]) in known.articles:
            return
        for at in range(len(said) - 1, 0, -1):
            if self._plain(said[at]) in known.behind:
                yield _Head(" ".join(said[:at]), " ".join(said[at:]), WORD_P)

    def _takes_back(self, behind: str) -> bool:
        return any(request.kind == "refusal" for request in self._understood(behind))

    def _with_reason_before(self, text: str) -> Asked | None:
        """What a reason leads to: behind "so", or behind the last comma."""
        so = "|".join(map(re.escape, self._known.so))
        for pattern, p in ((rf"\b(?:{so})\b(?!.*\b(?:{so})\b)", SO_P), (r",(?!.*,)", LAST_P)):
            cut = re.search(pattern, text, re.IGNORECASE)
            if cut is None or not text[: cut.start()].strip(" ,"):
                continue
            before = {self._plain(word) for word in text[: cut.start()].split()}
            requests = self._understood(text[cut.end() :].strip(" ,"))
            if _only_items(requests) and not before & self._known.denials:
                return Asked(requests, p)
        return None

    # --- what is offered ----------------------------------------------------------------------------

    def _described(self, text: str) -> Asked | None:
        """Items for what says of itself that it describes: "something for ...", "a cup for her earrings"."""
        said = [self._plain(word) for word in text.split()]
        start = self._after_cue(text)
        if not start < len(said) <= MOST_DESCRIBING:
            return None
        if self._is_vague(text):
            return self._offered(text, plainly=True)
        purpose = next((at for at in range(start, len(said)) if said[at] in self._known.purpose), None)
        if purpose and start < purpose <= start + MOST_NAME_WORDS and self._is_nominal(said[start:purpose]):
            return self._offered(text, plainly=False)
        return None

    def _is_vague(self, text: str) -> bool:
        """Whether a text says that it describes: "something to ...", "that green stuff for ..."."""
        said = [self._plain(word) for word in text.split()]
        start = self._after_cue(text)
        at = next((at for at in range(start, len(said)) if said[at] in self._known.vague), None)
        if at is None or at - start > MOST_BEFORE_VAGUE or not self._is_nominal(said[start:at]):
            return False
        return at + 1 == len(said) or text.split()[at][-1] == "," or said[at + 1] in self._known.after_vague

    def _described_barely(self, text: str) -> Asked | None:
        """Items for a few words that are no name: "specimen cup"."""
        said = [self._plain(word) for word in text.split()][self._after_cue(text) :]
        if not 1 < len(said) <= MOST_BARE or not self._is_nominal(said):
            return None
        return self._offered(text, plainly=False)

    def _is_nominal(self, said: list[str]) -> bool:
        """Whether words may name a thing: no pronoun, verb or denial among them."""
        known = self._known
        never = (known.small | known.telling | known.denials) - known.articles
        return not any(word in never or "'" in word for word in said)

    def _offered(self, text: str, plainly: bool) -> Asked | None:
        candidates = self._descriptions.find(text, plainly)
        return Asked((Request("item", text, candidates),), DESCRIBED_P) if candidates else None

    def _after_cue(self, text: str) -> int:
        """How many words of a text ask and are no part of what is asked for."""
        said = tokens(text)
        forms = forms_of(self._speech, self._language)
        start = skip(said, forms.cues.at_start(said)[1], self._known.articles)
        return len(tidy(text)[: said[start].start].split()) if start < len(said) else len(text.split())

    def _nearly_named(self, text: str, heads: list[_Head]) -> Asked | None:
        for text_, least in ((text, LEAST_NEAR), *((one.text, LEAST_NEAR_FIRST) for one in heads)):
            said = self._name_in(text_)
            near = (
                self._shared(text_, said, self._lexicon.find(_between(text_, said)), least) if said else None
            )
            if near:
                return Asked((near,), NEARLY_P)
        return None

    def _name_in(self, text: str) -> tuple[Token, ...]:
        """The words of a text that is hardly more than a name; () for any other."""
        said, forms = tokens(text), forms_of(self._speech, self._language)
        if any(token.stop for token in said[:-1]):
            return ()
        start = skip(said, forms.cues.at_start(said)[1], self._known.articles)
        words = said[start : start + forms.endings.at_end(said[start:])]
        short = 0 < len(words) <= MOST_NAME_WORDS
        return words if short and not any(token.text in self._known.small for token in words) else ()

    def _shared(
        self, text: str, said: tuple[Token, ...], found: tuple[Candidate, ...], least: float
    ) -> Request | None:
        total = sum(candidate.p for candidate in found)
        if not found or total < least or found[0].how == "exact" and total > NEAR_P:
            return None
        shares = tuple(replace(candidate, p=candidate.p * NEAR_P / total) for candidate in found)
        return Request("item", _between(text, said), shares)

    def _number(self, texts: list[str]) -> Asked | None:
        """What has a mere number for a name, or a part of one: to somebody who types it is no tooth's."""
        for text in texts:
            said = self._name_in(text)
            if said and all(token.numeric for token in said):
                numbers = tuple(token.text for token in said)
                if near := self._shared(text, said, self._lexicon.find(numbers), 0.0):
                    return Asked((near,), NEARLY_P)
        return None

    # --- small parts --------------------------------------------------------------------------------

    def _in_full(self, text: str) -> str:
        """A text with what is typed for short in full, and without an order before a thing ("swing the
        ...")."""
        known = self._known
        said = [known.short.get(word.lower(), word) for word in text.split()]
        if said and (full := known.openings.get(said[0].lower())):
            said[0] = full
        if len(said) > 2 and self._plain(said[0]) in known.orders:
            at = next((at for at in (1, 2) if self._plain(said[at]) in known.articles), 0)
            said = said[at:]
        return " ".join(said)

    def _without_objects(self, text: str, free: Asked) -> Asked:
        """A free sentence without what another thing is for ("toothpaste for the EPT")."""
        low = text.lower()
        for_ = "|".join(map(re.escape, sorted(self._known.purpose)))
        articles = "|".join(sorted(self._known.articles))
        kept = [
            request
            for at, request in enumerate(free.requests)
            if not at
            or not re.search(rf"\b(?:{for_}) (?:{articles}) {re.escape(request.heard.lower())}", low)
        ]
        return replace(free, requests=tuple(kept))

    def _understood(self, text: str) -> tuple[Request, ...]:
        return understand(text, self._lexicon, self._speech)

    def _plain(self, word: str) -> str:
        return plain_word(word.lower().strip(",;:.!?()"), self._language)


@dataclass(frozen=True)
class _Head:
    """What may be the request, what stands behind it, and how surely it is one."""

    text: str
    behind: str
    p: float


def _only_items(requests: tuple[Request, ...]) -> bool:
    return bool(requests) and all(request.kind in ("item", "correction") for request in requests)


def _between(text: str, said: tuple[Token, ...]) -> str:
    return " ".join(tidy(text)[said[0].start : said[-1].end].split())


def _typed(free: Asked, vague: bool) -> Asked:
    """A free sentence, raised for being typed; what it names within a description is never sure."""
    if not free.requests or free.p == 0.0:
        return NOTHING
    if free.p >= MOST_RAISED_P:
        return replace(free, p=MOST_RAISED_P) if vague else free
    raised = 1 / (1 + math.exp(-math.log(free.p / (1 - free.p)) - TYPED_LOG_ODDS))
    return replace(free, p=min(MOST_RAISED_P, raised))
