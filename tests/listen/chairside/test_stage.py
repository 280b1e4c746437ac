"""What the large part of the screen keeps from one moment to the next."""

from __future__ import annotations

from listen.answer import Answer, Likely
from listen.answering import Choice
from listen.chairside.stage import CHECK_S, Check, Stage
from listen.verdict import Verdict
from tests.listen.chairside.chair_pack import PACK

ASKED = Answer(kind="item", verdict=Verdict.CHECK, item="needle_long", p=0.9)
EITHER = Answer(
    kind="item", verdict=Verdict.CHECK, item="wedge", p=0.5, alternatives=(Likely("etchant", 0.4),)
)


def test_only_what_was_plainly_asked_for_and_is_held_back_waits_for_its_label() -> None:
    assert Check.of(ASKED, (), PACK, False).chosen == 0
    assert Check.of(EITHER, ("etchant",), PACK, False) == Check(
        (Choice("wedge"), Choice("etchant")), EITHER, ("etchant",)
    )


def test_after_a_choice_its_sizes_are_asked_or_its_label() -> None:
    check = Check.of(EITHER, ("etchant",), PACK, False)
    sizes = Answer(
        verdict=Verdict.CHECK, item="wedge", size="small", alternatives=(Likely("wedge", 0.5, "large"),)
    )
    assert check.narrowed(sizes).chosen is None and len(check.narrowed(sizes).choices) == 2
    assert check.narrowed(ASKED).chosen == 0 and check.narrowed(ASKED).predicted == ("etchant",)


def test_a_question_grows_too_old() -> None:
    check = Check.of(ASKED, (), PACK, False)
    stage = Stage(at_s=100.0, checks=(check,))
    assert stage.check(100.0 + CHECK_S) is check
    assert stage.check(101.0 + CHECK_S) is None
    assert Stage().check(0.0) is None


def test_the_card_after_a_needle_stick_stays_until_it_is_put_away() -> None:
    stage = Stage(number=3, note="Before.").with_card(True, 5.0)
    assert (stage.number, stage.note, stage.injury) == (4, "Before.", True)
    following = stage.followed_by(Stage(note="After."), 6.0)
    assert (following.number, following.at_s, following.note, following.injury) == (5, 6.0, "After.", True)
    assert not following.with_card(False, 7.0).injury
