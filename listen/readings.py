"""From scored phrasings to possible readings of an utterance, with probabilities.

It turns a `Hearing`, or a typed text, into `Readings`: the ways the utterance may be meant and the
probability that it asked for nothing. The weights are those of `Calibration`, fitted on tuning voices and
shipped with the engine. It never decides on a verdict.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.resources import files
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from listen.engine import Hearing, Phrasing
from vocab.language.pronounce import Pronouncer, phone_distance
from vocab.language.tokens import words
from vocab.pack.schema import Pack
from vocab.requests import intent
from vocab.requests.lexicon import Lexicon
from vocab.requests.sentence import NOTHING, Asked, Became, Sentences
from vocab.requests.typed_request import TypedRequests
from vocab.requests.understand import Request, is_not_ours, understand

Understand = Callable[[str], tuple[Request, ...]]
PhonesOf = Callable[[str], tuple[str, ...]]
Apart = Callable[[str, str], float]
Floats = NDArray[np.float64]
_Scored = tuple[tuple[Request, ...], str, float]
"""Requests, best phrasing and log-score of one meaning, without regard to what is expected."""

_OWN_CUT, _CUT, _LEAST_P = 8.0, 6.0, 1e-6
"""Limits at which log-odds are cut, and the smallest probability that is turned into any."""
_LEAST_ASKS = 0.02
"""A sentence counts as asking with at least this probability, once something was asked for."""
_REMEMBERED = 20_000
"""How many texts have their meaning remembered."""
_ALIKE = 3.0
"""Sentences within this many nats of the likeliest may be the right one as well."""
_WITHIN = 12.0
"""Phrasings further than this (nats) below the best are left out."""


@dataclass(frozen=True)
class Reading:
    """One way an utterance may be meant: its requests as said, its best phrasing, its probability."""

    requests: tuple[Request, ...]
    text: str
    p: float


@dataclass(frozen=True)
class Readings:
    """All ways, likeliest first. The probabilities and `p_nothing` (it asked for nothing) sum to 1."""

    ways: tuple[Reading, ...]
    p_nothing: float


@dataclass(frozen=True)
class Calibration:
    """Weights that turn scores into probabilities.

    scale: multiplies score differences; unlike: nats that a phrasing costs for each unit of phone distance
    (0..1) from the free text, which knows nothing of the vocabulary and favours none of it;
    unlike_spliced: as `unlike`, for sentences of free words with a name put in;
    other_kinds: nats that a correction, refusal, action or the like costs compared with asking for an item;
    history: weight of the procedure's expectation among items; history_request: weight of the same in whether
    anything was asked for (1 would be Bayes' rule if talk never were about what comes next). The rest are two
    logistic regressions, P(request) = 1 / (1 + exp(-(bias + w . x))), where nothing is expected: one on
    `evidence_features`, and one on `sentence_features`, which has the first's log-odds in it and is used
    wherever a name could be put into the free decode. shift: nats added to the log-odds of either (see
    `Adjustment`).
    """

    scale: float
    unlike: float
    unlike_spliced: float
    other_kinds: float
    history: float
    history_request: float
    request_bias: float
    request_weights: tuple[float, ...]
    sentence_bias: float
    sentence_weights: tuple[float, ...]
    shift: float = 0.0

    def adjusted(self, own: Adjustment) -> Calibration:
        """With a clinic's two numbers on top."""
        return replace(self, scale=self.scale * own.factor, shift=self.shift + own.shift)

    @property
    def checksum(self) -> str:
        """Tells these weights from any others."""
        return hashlib.sha256(repr(self).encode()).hexdigest()[:16]


@dataclass(frozen=True)
class Adjustment:
    """Two numbers that a clinic's own recordings may change (see `listen.voicecheck.fit`).

    shift: nats added to the log-odds that anything was asked for; factor: on the differences between the
    scores of names, so that below 1 the tool asks back more often and above 1 less often.
    """

    shift: float = 0.0
    factor: float = 1.0


AS_SHIPPED = Adjustment()


def load_calibration(name: str = "neural") -> Calibration:
    """The fitted weights shipped for an engine."""
    data = json.loads(files("listen").joinpath("calibration", f"{name}.json").read_text("utf-8"))
    weights: dict[str, Any] = data["weights"]
    listed: dict[str, Any] = {name: tuple(w) if isinstance(w, list) else w for name, w in weights.items()}
    return Calibration(**listed)


FEATURES = ("evidence", "free text asks", "sounds unlike", "more words", "too long", "lead")
SENTENCE_FEATURES = (
    "own", "intent", "spliced evidence", "spliced unlike", "own, at least 0", "intent, at least 0",
    "the larger", "the smaller", "intent by unlike", "free text asks", "more words",
)  # fmt: skip
"""Of a sentence of free words, beside `own`, the log-odds that `FEATURES` give (both cut at 8 and 6)."""


class Reader:
    """Understands phrasings and texts of one pack, remembering what it has met."""

    def __init__(self, pack: Pack, lexicon: Lexicon, calibration: Calibration) -> None:
        self._calibration = calibration
        self.understand: Understand = lru_cache(maxsize=_REMEMBERED)(
            lambda text: understand(text, lexicon, pack.speech)
        )
        read: Callable[[str], Asked] = _nothing
        told: Callable[[str], tuple[Became, ...]] = _nothing_told
        if pack.language in intent.LANGUAGES:
            sentences = Sentences(lexicon, pack.speech, intent.shipped())
            read, told = sentences.read, sentences.told
        self._asked: Callable[[str], Asked] = lru_cache(maxsize=_REMEMBERED)(read)
        typed = TypedRequests(lexicon, pack.speech)
        self._typed: Callable[[str], Asked] = lru_cache(maxsize=_REMEMBERED)(
            lambda text: typed.read(text, self._asked(text))
        )
        self._told: Callable[[str], tuple[Became, ...]] = lru_cache(maxsize=_REMEMBERED)(told)
        self._is_not_ours: Callable[[str], bool] = lru_cache(maxsize=_REMEMBERED)(
            lambda text: is_not_ours(text, lexicon, pack.speech)
        )
        self._phones: PhonesOf = lru_cache(maxsize=_REMEMBERED)(Pronouncer().phrase)
        self.apart: Apart = lru_cache(maxsize=_REMEMBERED)(
            lambda one, other: phone_distance(self._phones(one), self._phones(other))
        )

    def reweighed(self, calibration: Calibration) -> Self:
        """The same reader with other weights; what was understood is shared."""
        other = copy(self)
        other._calibration = calibration
        return other

    def of_text(self, text: str, log_prior: Mapping[str, float]) -> Readings:
        """The one reading of a text; its candidates are weighed by what the procedure expects."""
        requests, p = self.understand(text), 1.0
        if not requests and not self._is_not_ours(text):
            asked = self._typed(text)
            requests, p = asked.requests, asked.p
        if not requests:
            return Readings((), 1.0)
        weighed = tuple(self._weighed(request, log_prior) for request in requests)
        return Readings((Reading(weighed, text, p),), 1 - p)

    def of_hearing(self, hearing: Hearing, log_prior: Mapping[str, float]) -> Readings:
        """The readings of an utterance.

        Args:
            log_prior: log-probability by item id of what is asked for next; empty for no history.
        """
        scored = self._scored(hearing)
        if not scored or self._is_not_ours(hearing.free_text):
            return Readings((), 1.0)
        p_request = self._p_request(hearing, self._foreseen(scored, log_prior))
        ways = [replace(way, p=way.p * p_request) for way in self._ways(scored, log_prior)]
        ours = tuple(way for way in ways if way.requests)
        return Readings(ours, 1 - sum(way.p for way in ours))

    def told_in_text(self, text: str) -> tuple[Became, ...]:
        """What a free text tells of items (such as given back); nothing if it may ask for something."""
        return () if self.understand(text) else self._told(text)

    def told_in_hearing(self, hearing: Hearing) -> tuple[Became, ...]:
        """The same for the likeliest text heard that tells anything: as written, or with a name put in."""
        texts = (hearing.free_text, *(one.text for one in _near(hearing.spliced, _ALIKE)))
        return next(filter(None, map(self.told_in_text, texts)), ())

    def of_request(self, hearing: Hearing, log_prior: Mapping[str, float]) -> Readings:
        """As `of_hearing`, for an utterance that is known to ask for something."""
        scored = [one for one in self._scored(hearing) if one[0]]
        return Readings(self._ways(scored, log_prior), 0.0) if scored else Readings((), 1.0)

    def foreseen(self, hearing: Hearing, log_prior: Mapping[str, float]) -> float:
        """Nats by which expectation makes a hearing likelier as a request; 0 if nothing is expected."""
        return self._foreseen(self._scored(hearing), log_prior)

    def features(self, hearing: Hearing) -> tuple[float, ...]:
        """What tells a request from chatter (see `evidence_features`)."""
        return evidence_features(hearing, self.understand, self._phones)

    def sentence_features(self, hearing: Hearing) -> tuple[float, ...]:
        """What tells whether a sentence of free words asks for a name, in the order of `SENTENCE_FEATURES`;
        () where no name could be put into the free decode.

        intent: the log-odds that it asks, over the likeliest sentences; spliced evidence: log-probability of
        the best one less that of the free decode (nats, cut at -15); spliced unlike: its phone distance
        (0..1) from the free text.
        """
        if not hearing.spliced:
            return ()
        of_phrasings = self.features(hearing)
        own = max(-_OWN_CUT, min(_OWN_CUT, self._own_log_odds(of_phrasings)))
        best = hearing.spliced[0]
        near = _near(hearing.spliced)
        share = np.exp(self._calibration.scale * (np.array([one.log_p for one in near]) - best.log_p))
        p = float(np.dot(share, [self._asks(one.text) for one in near]) / share.sum())
        intent_ = max(-_CUT, min(_CUT, math.log(max(p, _LEAST_P) / max(1 - p, _LEAST_P))))
        unlike = self.apart(hearing.free_text, best.text)
        return (
            own,
            intent_,
            max(-15.0, hearing.evidence_spliced),
            unlike,
            max(0.0, own),
            max(0.0, intent_),
            max(own, intent_),
            min(own, intent_),
            intent_ * unlike,
            of_phrasings[1],
            of_phrasings[3],
        )

    def _asks(self, text: str) -> float:
        """The probability that a sentence asks for something, and does not only refuse."""
        requests = self.understand(text)
        if requests:
            return float(any(request.kind != "refusal" for request in requests))
        return self._asked(text).p

    def _own_log_odds(self, features: Sequence[float]) -> float:
        weights = self._calibration
        return weights.request_bias + float(np.dot(weights.request_weights, features))

    def _ways(self, scored: Sequence[_Scored], log_prior: Mapping[str, float]) -> tuple[Reading, ...]:
        """Meanings with their shares, likeliest first."""
        log_p = self._joint(scored, log_prior)
        share = np.exp(log_p - np.logaddexp.reduce(log_p))
        ways = [
            Reading(tuple(self._weighed(_sure(r), log_prior) for r in requests), text, float(p))
            for (requests, text, _), p in zip(scored, share, strict=True)
        ]
        return tuple(sorted(ways, key=lambda way: -way.p))

    def _scored(self, hearing: Hearing) -> list[_Scored]:
        """Each distinct meaning, including talk of things that are not ours."""
        weights, by_meaning = self._calibration, dict[object, _Scored]()

        def add(requests: tuple[Request, ...], text: str, score: float) -> None:
            meaning = tuple(meaning_of(request) for request in requests)
            score -= weights.other_kinds * sum(request.kind != "item" for request in requests)
            known = by_meaning.get(meaning, (requests, text, -math.inf))
            by_meaning[meaning] = (known[0], known[1], float(np.logaddexp(known[2], score)))

        for phrasing in _near(hearing.phrasings):
            requests = self.understand(phrasing.text)
            if requests or self._is_not_ours(phrasing.text):
                unlike = weights.unlike * self.apart(hearing.free_text, phrasing.text)
                add(requests, phrasing.text, phrasing.log_p - unlike)
        for sentence in _near(hearing.spliced):
            requests = self.understand(sentence.text) or self._asked(sentence.text).requests
            if requests:
                unlike = weights.unlike_spliced * self.apart(hearing.free_text, sentence.text)
                asks = math.log(max(_LEAST_ASKS, self._asks(sentence.text)))
                add(requests, sentence.text, sentence.log_p - unlike + asks)
        return list(by_meaning.values())

    def _joint(self, scored: Sequence[_Scored], log_prior: Mapping[str, float]) -> Floats:
        """Log-score of each meaning with what is expected, shape = (meanings,)."""
        expected = [sum(self._expected(r, log_prior) for r in requests) for requests, _, _ in scored]
        heard = [self._calibration.scale * score for _, _, score in scored]
        return np.add(heard, expected)

    def _foreseen(self, scored: Sequence[_Scored], log_prior: Mapping[str, float]) -> float:
        if not scored or not log_prior:
            return 0.0
        with_, without = self._joint(scored, log_prior), self._joint(scored, {})
        return float(np.logaddexp.reduce(with_) - np.logaddexp.reduce(without))

    def _expected(self, request: Request, log_prior: Mapping[str, float]) -> float:
        """Nats for what is expected, compared with all items alike; a shared name gets the mean of its items.
        An expected item is as likely to be refused as to be asked for."""
        shares = [(c.item, c.p) for c in request.candidates] or [(item, 1.0) for item in request.rejected]
        if not shares or not log_prior:
            return 0.0
        favours = self._favours([item for item, _ in shares], log_prior)
        total = sum(p for _, p in shares)
        return math.log(sum(p / total * f for (_, p), f in zip(shares, favours, strict=True)))

    def _favours(self, items: Sequence[str], log_prior: Mapping[str, float]) -> list[float]:
        """Factor on each item for what is expected: 1 where all items are alike."""
        weight, even, lowest = self._calibration.history, math.log(len(log_prior)), min(log_prior.values())
        return [math.exp(weight * (log_prior.get(item, lowest) + even)) for item in items]

    def _p_request(self, hearing: Hearing, foreseen: float) -> float:
        weights, of_sentence = self._calibration, self.sentence_features(hearing)
        if of_sentence:
            logit = weights.sentence_bias + float(np.dot(weights.sentence_weights, of_sentence))
        else:
            logit = self._own_log_odds(self.features(hearing))
        logit += weights.shift + weights.history_request * foreseen
        return 1 / (1 + math.exp(-max(-50.0, min(50.0, logit))))

    def _weighed(self, request: Request, log_prior: Mapping[str, float]) -> Request:
        """Shared names ("burnisher") are settled by what the procedure expects; the total mass stays."""
        candidates = request.candidates
        if len(candidates) < 2 or not log_prior:
            return request
        favours = self._favours([c.item for c in candidates], log_prior)
        raised = [c.p * f for c, f in zip(candidates, favours, strict=True)]
        total = sum(c.p for c in candidates) / sum(raised)
        weighed = [replace(c, p=p * total) for c, p in zip(candidates, raised, strict=True)]
        return replace(request, candidates=tuple(sorted(weighed, key=lambda c: -c.p)))


def _near(phrasings: Sequence[Phrasing], within: float = _WITHIN) -> list[Phrasing]:
    """Those that are not far below the first (nats)."""
    return [one for one in phrasings if one.log_p >= phrasings[0].log_p - within]


def _nothing(text: str) -> Asked:
    return NOTHING


def _nothing_told(text: str) -> tuple[Became, ...]:
    return ()


def _sure(request: Request) -> Request:
    """A phrasing of the grammar is exactly a name: its candidates share the whole probability."""
    total = sum(candidate.p for candidate in request.candidates)
    return replace(request, candidates=tuple(replace(c, p=c.p / total) for c in request.candidates))


def meaning_of(request: Request) -> tuple[object, ...]:
    """What two phrasings must share to ask for the same thing."""
    items = tuple((candidate.item, candidate.variant) for candidate in request.candidates)
    what = items or request.action or request.kind
    return (request.kind, what, request.end, request.size, request.quantity, request.rejected)


def evidence_features(hearing: Hearing, understand_text: Understand, phones: PhonesOf) -> tuple[float, ...]:
    """What tells a request from chatter, in the order of `FEATURES`.

    evidence: log-probability of the best phrasing less that of the free decode (nats, cut at -40);
    free text asks: 1 where the free text asks for something by itself; sounds unlike: least phone
    distance (0..1) between the free text and a phrasing close to the best; more words: those the free
    text has beyond the best phrasing (cut at 12); too long: log of how much longer the sound is than
    the phrasing takes to say; lead: of the best phrasing over the next meaning (nats, cut at 10).
    """
    best = hearing.phrasings[0].text if hearing.phrasings else ""
    evidence = max(-40.0, hearing.log_p_best - hearing.log_p_free) if best else -40.0
    more = len(words(hearing.free_text)) - len(words(best))
    return (
        evidence,
        1.0 if understand_text(hearing.free_text) else 0.0,
        _unlike(hearing, phones),
        float(min(12, max(0, more))),
        max(0.0, math.log(hearing.duration_s / (_PADDING_S + _LETTER_S * len(best)))),
        _lead(hearing, understand_text),
    )


def _unlike(hearing: Hearing, phones: PhonesOf) -> float:
    said = phones(hearing.free_text)
    near = [p.text for p in hearing.phrasings if p.log_p >= hearing.phrasings[0].log_p - _CLOSE]
    return min((phone_distance(said, phones(text)) for text in near[:_COMPARED]), default=1.0)


_CLOSE, _COMPARED = 3.0, 6
"""Phrasings within this many nats of the best, at most so many, are compared by sound."""
_PADDING_S, _LETTER_S = 0.8, 0.07
"""About what a phrasing takes to say: the quiet around it, and a letter."""


def _lead(hearing: Hearing, understand_text: Understand) -> float:
    if not hearing.phrasings:
        return 0.0
    first = hearing.phrasings[0]
    meaning = tuple(meaning_of(r) for r in understand_text(first.text))
    for phrasing in hearing.phrasings[1:]:
        if first.log_p - phrasing.log_p > 10:
            break
        if tuple(meaning_of(r) for r in understand_text(phrasing.text)) != meaning:
            return first.log_p - phrasing.log_p
    return 10.0
