"""Items while a name is typed."""

import pytest

from tests.listen.web.desk_app import shared_chair
from vocab.requests.typed import Suggester


@pytest.fixture(scope="module")
def suggester() -> Suggester:
    return Suggester(shared_chair().lexicon)


def items(suggester: Suggester, text: str, most: int = 8) -> list[str]:
    return [one.item for one in suggester.suggest(text, most)]


def test_the_first_letters_of_a_name_find_it(suggester: Suggester) -> None:
    assert items(suggester, "cotton pl")[0] == "cotton_pliers"
    assert items(suggester, "mirr")[0] == "mouth_mirror"
    assert items(suggester, "MIRR") == items(suggester, " mirr ")


def test_every_item_is_found_by_the_whole_of_each_of_its_names(suggester: Suggester) -> None:
    pack = shared_chair().pack
    every = len(pack.items)
    for item in pack.items[::5]:
        assert all(item.id in items(suggester, name.text, every) for name in item.names), item.id


def test_words_may_be_begun_in_any_order(suggester: Suggester) -> None:
    assert items(suggester, "pl cot")[0] == "cotton_pliers"


def test_a_name_that_begins_with_the_letters_comes_before_one_with_a_later_word(suggester: Suggester) -> None:
    names = [one.name.text for one in suggester.suggest("carv", 40)]
    assert names[0].startswith("carv") and any(not name.startswith("carv") for name in names)


@pytest.mark.parametrize("typed", ["pluger", "pluggar", "plugr"])
def test_spelling_is_forgiven_and_every_plugger_is_offered(suggester: Suggester, typed: str) -> None:
    found = items(suggester, typed)
    assert found[0] == "condenser_small"
    assert {"condenser_large", "composite_paddle"} <= set(found)


@pytest.mark.parametrize("typed", ["", " ", "?!", "cavitron", "flux capacitor", "dycal"])
def test_a_foreign_word_finds_nothing(suggester: Suggester, typed: str) -> None:
    assert items(suggester, typed) == []


def test_no_item_is_offered_twice_nor_more_than_wanted(suggester: Suggester) -> None:
    found = items(suggester, "c", 200)
    assert len(found) == len(set(found)) > 8
    assert items(suggester, "c") == found[:8]
