"""What is said to choose among offered items; common practice, no source."""

import pytest

from listen.chairside.choices import choice_of, confirms


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


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("El primero.", 1),
        ("la de la izquierda", 1),
        ("el uno", 1),
        ("Número dos, por favor.", 2),
        ("la segunda", 2),
        ("el del medio", 2),
        ("la opción tres", 3),
        ("el último", 3),
        ("prefiero el dos", 2),
        ("deme el tercero", 3),
        ("el de abajo", 3),
        ("la de la derecha", 3),
        ("Ninguno de esos.", 0),
        ("ni uno ni otro", 0),
        ("no", 0),
    ],
)
def test_a_choice_of_three_is_understood_in_spanish(said: str, number: int) -> None:
    assert choice_of(said, 3, "es") == number


@pytest.mark.parametrize(
    "said", ["", "sí", "ese", "dos dos", "el tercer molar", "el primer", "the first one"]
)
def test_other_words_choose_nothing_in_spanish(said: str) -> None:
    assert choice_of(said, 3, "es") is None


@pytest.mark.parametrize("said", ["Sí.", "si", "correcto", "eso es", "Etiqueta leída."])
def test_a_single_item_is_confirmed_in_spanish(said: str) -> None:
    assert confirms(said, "es") and choice_of(said, 1, "es") == 1
    assert not confirms(said)
