"""The two numbers: adopted where they help on recordings held out, and not otherwise.

Hearings are made up: requests heard with so much evidence for the vocabulary, and other sentences with less.
"""

from __future__ import annotations

import pytest

from listen.engine import Hearing, Phrasing
from listen.readings import AS_SHIPPED, Adjustment
from listen.voicecheck.fit import LEAST, Fitted, HeardLine, fitted, too_few
from listen.voicecheck.outcome import Place, Tally
from tests.listen.voicecheck.rounds import line, place

ITEMS = (
    "mouth_mirror", "perio_probe", "cotton_pliers", "spoon_excavator", "hatchet", "composite_paddle",
    "plastic_instrument", "interproximal_carver", "cotton_pellet", "dental_floss", "dam_punch", "dam_frame",
    "crown_scissors", "bite_block", "bur_block", "wedge_remover", "curing_light", "bonding_agent",
    "dappen_dish", "shade_guide",
)  # fmt: skip


def spoken(item: str, evidence: float) -> HeardLine:
    """A request of which the engine wrote something else, and heard the name with so much evidence (nats)."""
    name = place().chair.pack.item(item).name.text.lower()
    hearing = Hearing((Phrasing(name, -4.0),), name, -4.0 - evidence, -4.0, 1.6)
    return HeardLine(line(item, f"{name}."), (hearing,))


def chat(number: int, evidence: float) -> HeardLine:
    """A sentence that asks for nothing, in which a name was heard with so much evidence (nats)."""
    name = place().chair.pack.item(ITEMS[number % len(ITEMS)]).name.text.lower()
    hearing = Hearing((Phrasing(name, -4.0),), f"talk of {number}", -4.0 - evidence, -4.0, 2.5)
    return HeardLine(line(None, f"Talk of {number}."), (hearing,))


def same(_: object) -> Place:
    return place()


def borderline() -> float:
    """Evidence at which a clear request is just no longer answered."""
    for evidence in range(0, -60, -1):
        if (
            place()
            .result(spoken("mouth_mirror", evidence).line, spoken("mouth_mirror", evidence).hearings)
            .shown
            == ()
        ):
            return float(evidence)
    raise AssertionError("it always answers")


def test_a_voice_that_is_a_little_unlike_all_others_is_helped() -> None:
    edge = borderline()
    requests = [spoken(item, edge - 0.3) for item in ITEMS for _ in range(2)]
    others = [chat(number, -40.0) for number in range(20)]
    found = fitted([*requests, *others], same)
    assert found.own.shift > 0
    assert found.after.missed < found.before.missed
    assert found.after.all_wrong == found.before.all_wrong == 0
    assert found.helps and found.in_words.endswith("Adopted.")


def test_where_talk_is_taken_for_requests_the_numbers_go_the_other_way_or_stay() -> None:
    """Raising the shift would gain nothing here, and is not done."""
    requests = [spoken(item, 6.0) for item in ITEMS for _ in range(2)]
    others = [chat(number, 3.0) for number in range(20)]
    found = fitted([*requests, *others], same)
    assert found.own.shift <= 0
    assert found.after.all_wrong <= found.before.all_wrong


def test_where_all_is_well_nothing_is_adopted() -> None:
    requests = [spoken(item, 6.0) for item in ITEMS for _ in range(2)]
    others = [chat(number, -40.0) for number in range(10)]
    found = fitted([*requests, *others], same)
    assert found.before.errors == 0
    assert not found.helps


def test_without_other_sentences_the_shift_is_not_fitted() -> None:
    edge = borderline()
    requests = [spoken(item, edge - 0.3) for item in ITEMS for _ in range(2)]
    assert fitted(requests, same).own.shift == 0


@pytest.mark.parametrize(
    ("after", "helps"),
    [
        (Tally(right=38, missed=2), True),
        (Tally(right=36, missed=4), False),
        (Tally(right=38, missed=1, wrong=1), False),
        (Tally(right=35, missed=5), False),
        (Tally(right=34, asked=6), False),
    ],
)
def test_it_is_adopted_only_for_fewer_errors_and_no_more_wrong_or_missed(after: Tally, helps: bool) -> None:
    before = Tally(right=36, asked=0, missed=4)
    assert Fitted(Adjustment(0.5, 1.0), before, after).helps is helps
    assert not Fitted(AS_SHIPPED, before, after).helps


def test_few_recordings_are_said_to_be_too_few() -> None:
    assert "There are 25 recordings" in too_few(25)
    assert too_few(LEAST) == ""
