"""How an item is passed: the ways that are offered, and which items are asked about."""

from __future__ import annotations

import numpy as np
import pytest

from listen.chairside.handing import passing
from listen.practice.facts import Facts
from listen.practice.passing import FEWEST_WAYS, RIGHT_WAY, is_passed, ways_to_pass
from listen.practice.questions import MOST_WAYS, Questions
from listen.practice.topics import Drill, Topic, curriculum
from tests.listen.practice.classroom import CLASS_TWO, ask, facts, pack
from vocab.pack.load import shipped_names, shipped_pack
from vocab.pack.schema import Exchange, TakenBy


@pytest.mark.parametrize("name", shipped_names())
def test_the_right_way_is_as_the_pack_says_and_no_safe_way_is_called_wrong(name: str) -> None:
    shipped = shipped_pack(name)
    asked = [item for item in shipped.items if is_passed(item)]
    assert len(asked) >= 20
    for item in asked:
        handing = item.handing
        assert handing is not None and handing.taken_by is TakenBy.OPERATOR and not item.always_check
        for arch in ("upper", "lower"):
            ways = ways_to_pass(item, arch, shipped.language)
            assert ways[RIGHT_WAY] == passing(handing, arch, shipped.language)
            assert len(set(ways.values())) == len(ways) >= FEWEST_WAYS
            for mark in ways:
                field = mark.partition("=")[0]
                assert mark in (RIGHT_WAY, "turned") or getattr(handing, field) is not None
                assert mark != f"exchange={Exchange.NEUTRAL_ZONE}"


def test_the_arch_decides_which_way_the_tip_faces() -> None:
    item = pack().item("explorer_shepherd")
    assert "tip up" in ways_to_pass(item, "upper", "en")[RIGHT_WAY]
    assert "tip down" in ways_to_pass(item, "lower", "en")[RIGHT_WAY]
    wrong = ways_to_pass(item, "lower", "en")
    assert "tip up" in wrong["faces=chewing surface"]


def test_the_question_names_the_arch_only_where_it_matters_and_offers_the_other_way_round() -> None:
    for seed in range(8):
        question = ask(Drill.PASS, "explorer_shepherd", seed=seed)
        assert FEWEST_WAYS <= len(question.offered) <= MOST_WAYS and RIGHT_WAY in question.offered
        assert "faces=chewing surface" in question.offered
        upper = "an upper tooth" in question.prompt
        assert upper or "a lower tooth" in question.prompt
        assert ("tip up" if upper else "tip down") in question.answer
    flat = next(i for i in pack().items if is_passed(i) and i.handing is not None and i.handing.part is None)
    assert "tooth" not in ask(Drill.PASS, flat.id).prompt


def test_what_is_checked_first_is_not_practised_as_an_ordinary_pass() -> None:
    topics = {t.subject for t in curriculum(pack(), facts(), CLASS_TWO, [Drill.PASS])}
    assert "explorer_shepherd" in topics
    assert not topics & {item.id for item in pack().items if item.always_check}


def test_spanish_ways_are_in_spanish() -> None:
    spanish = shipped_pack("operativa_es")
    question = Questions(spanish, Facts()).ask(Topic(Drill.PASS, "explorador"), np.random.default_rng(0))
    assert "¿Cómo se entrega?" in question.prompt and "El mango hacia" in question.answer
