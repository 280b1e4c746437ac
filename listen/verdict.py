"""From readings to a verdict by expected cost: answer, check, or stay quiet.

It turns the readings of one utterance into one `Judgement` for each request. What each mistake costs is a
named setting. It never looks at the sound or at the tray.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from listen.readings import Reading, Readings
from vocab.pack.schema import Item, Pack
from vocab.requests.understand import Request


class Verdict(StrEnum):
    """What is done with a request."""

    ANSWER = "answer"
    CHECK = "check"
    QUIET = "quiet"


@dataclass(frozen=True)
class Costs:
    """What each outcome costs, in units of one needless check of a right item.

    wrong: another item answered; false_answer: chatter answered; false_check: chatter asked about;
    missed: a request met with silence; wide_margin: factor on `wrong` for pairs that must never be
    confused silently; shown: how many items a check offers; refusal_p: probability from which on a
    refusal ("not yet") is taken as said.
    """

    wrong: float = 12.0
    false_answer: float = 25.0
    false_check: float = 8.0
    check: float = 1.0
    missed: float = 4.0
    wide_margin: float = 4.0
    shown: int = 3
    refusal_p: float = 0.5


@dataclass(frozen=True)
class Judgement:
    """The verdict on one request.

    `item` is the likeliest (None where none was asked for), `p` its probability, or that of the
    request itself where it names none; `alternatives` are the other items, likeliest first; `variants`
    has the probability of each size or pattern of an item that may have been said, None for none of them.
    """

    request: Request
    verdict: Verdict
    item: str | None
    p: float
    alternatives: tuple[tuple[str, float], ...]
    variants: Mapping[str, tuple[tuple[str | None, float], ...]] = field(default_factory=dict)


def allowed(verdict: Verdict, item: Item, latex_free: bool = False) -> Verdict:
    """The verdict that may be given on an item: one that is always checked is never answered outright, nor is
    latex in a session marked latex-free. Nothing else decides this."""
    held_back = item.always_check or latex_free and item.latex
    return Verdict.CHECK if held_back and verdict is Verdict.ANSWER else verdict


def judge(readings: Readings, pack: Pack, costs: Costs) -> tuple[Judgement, ...]:
    """One judgement for each request of the likeliest reading; () where silence costs least."""
    if not readings.ways:
        return ()
    best = readings.ways[0]
    judgements = tuple(
        _judge_one(place, request, readings, pack, costs) for place, request in enumerate(best.requests)
    )
    acted_on = any(j.verdict is not Verdict.QUIET for j in judgements)
    refused = any(j.request.kind == "refusal" and j.p >= costs.refusal_p for j in judgements)
    return judgements if acted_on or refused else ()


def _judge_one(place: int, request: Request, readings: Readings, pack: Pack, costs: Costs) -> Judgement:
    items = _items_at(place, readings.ways)
    if not request.candidates:
        p = sum(way.p for way in readings.ways if _same_at(place, request, way))
        return Judgement(request, _without_item(p, readings.p_nothing, costs), None, p, ())
    ranked = sorted(items.items(), key=lambda pair: -pair[1])
    item, p = ranked[0]
    verdict = allowed(_with_items(ranked, readings.p_nothing, pack, costs), pack.item(item))
    variants = _variants_at(place, readings.ways)
    return Judgement(request, verdict, item, p, tuple(ranked[1 : 1 + costs.shown]), variants)


def _variants_at(place: int, ways: Sequence[Reading]) -> dict[str, tuple[tuple[str | None, float], ...]]:
    """Probability of each variant of each item at one place, likeliest first."""
    found: dict[str, dict[str | None, float]] = {}
    for way in ways:
        for candidate in way.requests[place].candidates if place < len(way.requests) else ():
            of_item = found.setdefault(candidate.item, {})
            of_item[candidate.variant] = of_item.get(candidate.variant, 0.0) + way.p * candidate.p
    return {item: tuple(sorted(of.items(), key=lambda pair: -pair[1])) for item, of in found.items()}


def _items_at(place: int, ways: Sequence[Reading]) -> dict[str, float]:
    """Probability of each item as the request at one place of the utterance."""
    items: dict[str, float] = {}
    for way in ways:
        if place < len(way.requests):
            for candidate in way.requests[place].candidates:
                items[candidate.item] = items.get(candidate.item, 0.0) + way.p * candidate.p
    return items


def _same_at(place: int, request: Request, way: Reading) -> bool:
    if place >= len(way.requests):
        return False
    other = way.requests[place]
    return (other.kind, other.action, other.end, other.size) == (
        request.kind,
        request.action,
        request.end,
        request.size,
    )


def _without_item(p: float, p_nothing: float, costs: Costs) -> Verdict:
    """Actions, repeats and the like are acted on or not; there is nothing to choose from."""
    answer = p_nothing * costs.false_answer + max(0.0, 1 - p_nothing - p) * costs.wrong
    quiet = (1 - p_nothing) * costs.missed
    return Verdict.ANSWER if answer <= quiet else Verdict.QUIET


def _with_items(ranked: Sequence[tuple[str, float]], p_nothing: float, pack: Pack, costs: Costs) -> Verdict:
    item, p = ranked[0]
    risky = sum(q for other, q in ranked[1:] if is_wide(item, other, pack))
    wrong = max(0.0, 1 - p_nothing - p) + (costs.wide_margin - 1) * risky
    shown = sum(q for _, q in ranked[: costs.shown])
    not_shown = max(0.0, 1 - p_nothing - shown)
    expected = {
        Verdict.ANSWER: p_nothing * costs.false_answer + wrong * costs.wrong,
        Verdict.CHECK: p_nothing * costs.false_check
        + shown * costs.check
        + not_shown * (costs.check + costs.missed),
        Verdict.QUIET: (1 - p_nothing) * costs.missed,
    }
    return min(expected, key=lambda verdict: expected[verdict])


def is_wide(one: str, other: str, pack: Pack) -> bool:
    """Whether a pair must never be confused silently."""
    return (one, other) in pack.wide_margin or (other, one) in pack.wide_margin
