"""What is said to choose among offered items; common practice, no source."""

import pytest

from listen.chairside.choices import choice_of


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("The first one.", 1),
        ("first", 1),
        ("Number two, please.", 2),
        ("the 2nd one", 2),
        ("three", 3),
        ("One.", 1),
        ("number one", 1),
        ("the last one", 3),
        ("the left one", 1),
        ("the middle one", 2),
        ("the right one", 3),
        ("None of these.", 0),
        ("Never mind", 0),
        ("no", 0),
    ],
)
def test_a_choice_of_three_is_understood(said: str, number: int) -> None:
    assert choice_of(said, 3) == number


@pytest.mark.parametrize("said", ["yes", "That's right.", "Correct", "confirmed", "one", "the first one"])
def test_a_single_item_can_be_confirmed(said: str) -> None:
    assert choice_of(said, 1) == 1


@pytest.mark.parametrize(
    "said",
    ["", "yes", "the one", "two two", "three thirty", "look at tooth number two there", "the third molar"],
)
def test_other_words_choose_nothing(said: str) -> None:
    assert choice_of(said, 3) is None


def test_what_was_not_offered_cannot_be_chosen() -> None:
    assert choice_of("the third one", 2) is None
    assert choice_of("the middle one", 2) is None
    assert choice_of("the last one", 2) == 2
