"""The verdict is the cheapest of answer, check and quiet."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listen.readings import Reading, Readings
from listen.verdict import Costs, Verdict, is_wide, judge
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Name
from vocab.requests.lexicon import Candidate
from vocab.requests.understand import Request

PACK = shipped_pack()
COSTS = Costs()


def readings(p_nothing: float = 0.0, **items: float) -> Readings:
    ways = [
        Reading((Request("item", item, (Candidate(item, Name(text=item), 1.0, "exact"),)),), item, p)
        for item, p in items.items()
    ]
    return Readings(tuple(sorted(ways, key=lambda way: -way.p)), p_nothing)


def verdict_of(given_readings: Readings) -> Verdict:
    judged = judge(given_readings, PACK, COSTS)
    return judged[0].verdict if judged else Verdict.QUIET


def test_a_sure_item_is_answered() -> None:
    judged = judge(readings(0.01, hatchet=0.98, gown=0.01), PACK, COSTS)
    assert (judged[0].verdict, judged[0].item) == (Verdict.ANSWER, "hatchet")


def test_two_likely_items_are_offered() -> None:
    judged = judge(readings(0.01, hatchet=0.55, gown=0.44), PACK, COSTS)
    assert judged[0].verdict is Verdict.CHECK
    assert [item for item, _ in judged[0].alternatives] == ["gown"]


def test_likely_chatter_is_met_with_silence() -> None:
    assert verdict_of(readings(0.7, hatchet=0.3)) is Verdict.QUIET


def test_anaesthesia_is_never_answered_without_a_check() -> None:
    assert verdict_of(readings(0.0, needle_short=1.0)) is Verdict.CHECK


@pytest.mark.parametrize("pair", [pair for pair in PACK.wide_margin if not PACK.item(pair[0]).always_check])
def test_pairs_that_must_not_be_confused_need_a_wider_margin(pair: tuple[str, str]) -> None:
    one, other = pair
    stranger = next(i.id for i in PACK.items if not is_wide(one, i.id, PACK) and i.id != one)
    assert verdict_of(readings(0.0, **{one: 0.95, stranger: 0.05})) is Verdict.ANSWER
    assert verdict_of(readings(0.0, **{one: 0.95, other: 0.05})) is Verdict.CHECK


def test_an_unlikely_refusal_is_not_shown() -> None:
    refusal = Request("refusal", "wait")
    likely, unlikely = (Readings((Reading((refusal,), "wait", p),), 1 - p) for p in (0.9, 0.1))
    assert len(judge(likely, PACK, COSTS)) == 1
    assert judge(unlikely, PACK, COSTS) == ()


@pytest.mark.slow
@given(
    st.floats(0, 1),
    st.dictionaries(
        st.sampled_from(["hatchet", "hoe", "gown", "wedge", "etchant"]), st.floats(0.001, 1), min_size=1
    ),
)
def test_no_other_verdict_would_have_cost_less(p_nothing: float, weights: dict[str, float]) -> None:
    """The chosen verdict against the expected cost of each, worked out the long way."""
    total = sum(weights.values())
    items = {item: (1 - p_nothing) * w / total for item, w in weights.items()}
    if p_nothing > 0.999:
        return
    best = max(items, key=lambda i: items[i])
    ranked = sorted(items.values(), reverse=True)
    answer = p_nothing * COSTS.false_answer
    for item, p in items.items():
        if item != best:
            answer += p * COSTS.wrong * (COSTS.wide_margin if is_wide(best, item, PACK) else 1)
    check = p_nothing * COSTS.false_check + sum(ranked) * COSTS.check + sum(ranked[3:]) * COSTS.missed
    quiet = (1 - p_nothing) * COSTS.missed
    cost = {Verdict.ANSWER: answer, Verdict.CHECK: check, Verdict.QUIET: quiet}
    assert cost[verdict_of(readings(p_nothing, **items))] <= min(cost.values()) + 1e-9
