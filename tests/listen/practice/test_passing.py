"""How an item is passed: the ways that are offered, and which items are asked about."""

from __future__ import annotations

import numpy as np
import pytest

from listen.practice.facts import Facts
from listen.practice.passing import RIGHT_WAY, aspects, is_passed, ways_to_pass
from listen.practice.questions import Questions
from listen.practice.sketches import SKETCHES
from listen.practice.topics import Drill, Topic, curriculum
from listen.practice.wordings import ENGLISH
from tests.listen.practice.classroom import CLASS_TWO, ask, facts, pack
from vocab.pack.load import shipped_names, shipped_pack
from vocab.pack.schema import Exchange, Facing, Handing, TakenBy, TakingHand


@pytest.mark.parametrize("name", shipped_names())
def test_what_is_right_is_as_the_pack_says_and_no_safe_way_is_called_wrong(name: str) -> None:
    shipped = shipped_pack(name)
    asked = [item for item in shipped.items if is_passed(item)]
    assert len(asked) >= 20
    for item in asked:
        handing = item.handing
        assert handing is not None and handing.taken_by is TakenBy.OPERATOR and not item.always_check
        for one in aspects(handing, "upper"):
            if one.name in ("hand", "exchange", "grasp"):
                assert one.right == getattr(handing, one.name)
            assert one.wrong and one.right not in one.wrong
            assert Exchange.NEUTRAL_ZONE not in one.wrong
            assert {f"{one.name}={value}" for value in one.every} <= SKETCHES.keys()


def test_what_lies_in_a_neutral_zone_goes_to_no_hand() -> None:
    neutral = Handing(hand=TakingHand.WORKING, exchange=Exchange.NEUTRAL_ZONE, offered="handle")
    (only,) = aspects(neutral, "upper")
    assert (only.right, set(only.wrong)) == ("neutral zone", {"one hand", "two hands"})
    ways = ways_to_pass(neutral, (only,), ENGLISH, np.random.default_rng(0))
    assert [way.mark for way in ways] == [RIGHT_WAY, "exchange=one hand", "exchange=two hands"]


def test_the_arch_decides_which_way_the_tip_faces() -> None:
    handing = pack().item("explorer_shepherd").handing
    assert handing is not None
    up, down = ({one.name: one.right for one in aspects(handing, arch)} for arch in ("upper", "lower"))
    assert (up["faces"], down["faces"]) == ("up", "down")
    ring = Handing(part="wider opening", faces=Facing.CHEWING_SURFACE)
    assert aspects(ring, "upper")[0].right == "down"


def test_two_things_are_asked_together_and_the_right_picture_has_nothing_more_in_common_than_the_rest() -> (
    None
):
    """A picture that shares most with all others would be right without any knowledge."""
    for seed in range(30):
        question = ask(Drill.PASS, "explorer_shepherd", seed=seed)
        assert len(question.offered) == 4 and RIGHT_WAY in question.offered
        shared = [
            sum(name in other.sketches for other in question.ways.values() for name in way.sketches)
            for way in question.ways.values()
        ]
        assert len(set(shared)) == 1 and all(len(way.sketches) == 2 for way in question.ways.values())


def test_pictures_have_captions_that_differ_and_each_sketch_is_told_in_words() -> None:
    asked = {item.id for item in pack().items if is_passed(item)}
    for seed, item in enumerate(sorted(asked)):
        ways = ask(Drill.PASS, item, seed=seed).ways
        assert 2 <= len(ways) <= 4 and len({way.caption for way in ways.values()}) == len(ways)
        for way in ways.values():
            assert len(way.alt) == len(way.sketches) and not any("{" in text for text in way.alt)
            assert "None" not in way.caption + "".join(way.alt)


def test_the_question_names_the_arch_where_it_matters() -> None:
    for seed in range(8):
        question = ask(Drill.PASS, "explorer_shepherd", seed=seed)
        upper = "an upper tooth" in question.prompt
        assert upper or "a lower tooth" in question.prompt
        assert ("tip up" if upper else "tip down") in question.answer
    flat = next(i for i in pack().items if is_passed(i) and i.handing is not None and i.handing.part is None)
    assert "tooth" not in ask(Drill.PASS, flat.id).prompt


def test_what_is_told_says_that_it_has_no_source() -> None:
    assert "no source" in ask(Drill.PASS, "explorer_shepherd").answer


def test_what_is_checked_first_is_not_practised_as_an_ordinary_pass() -> None:
    topics = {t.subject for t in curriculum(pack(), facts(), CLASS_TWO, [Drill.PASS])}
    assert "explorer_shepherd" in topics
    assert not topics & {item.id for item in pack().items if item.always_check}


def test_spanish_ways_are_in_spanish() -> None:
    spanish = shipped_pack("operativa_es")
    question = Questions(spanish, Facts()).ask(Topic(Drill.PASS, "explorador"), np.random.default_rng(0))
    assert "¿Cómo se entrega?" in question.prompt and "El mango hacia" in question.answer
