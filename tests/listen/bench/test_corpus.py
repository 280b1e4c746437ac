"""The sentences of the measuring stick keep the promises its figures rest on."""

from __future__ import annotations

import numpy as np
import pytest

from listen.bench.corpus import chatter, requests, side_of
from vocab.language.tokens import words
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def pack() -> Pack:
    return shipped_pack()


def rng() -> np.random.Generator:
    return np.random.default_rng(5)


def test_there_is_enough_chatter_and_none_of_it_twice() -> None:
    said = [" ".join(words(line)) for line in chatter()]
    assert len(said) >= 420
    assert len(set(said)) == len(said)


def test_no_chatter_is_on_both_sides_and_both_have_plenty() -> None:
    tune, test = set(chatter("tune")), set(chatter("test"))
    assert not tune & test
    assert tune | test == set(chatter())
    assert min(len(tune), len(test)) >= 180


def test_chatter_is_never_a_bare_name(pack: Pack) -> None:
    names = {" ".join(words(name.text)) for item in pack.items for name in item.names}
    assert not names & {" ".join(words(line)) for line in chatter()}


def test_chatter_often_holds_instrument_words(pack: Pack) -> None:
    heads = {words(item.name.text)[-1] for item in pack.items}
    assert sum(bool(heads & set(words(line))) for line in chatter()) >= 60


def test_no_request_is_on_both_sides(pack: Pack) -> None:
    tune = {r.text for r in requests(pack, "tune", rng(), per_name=4)}
    test = {r.text for r in requests(pack, "test", rng(), per_name=4)}
    assert tune
    assert not tune & test


@pytest.mark.parametrize("side", ["tune", "test"])
def test_every_item_is_asked_for_on_both_sides(pack: Pack, side: str) -> None:
    asked = requests(pack, side, rng())  # type: ignore[arg-type]
    assert {r.item for r in asked} == {item.id for item in pack.items}
    assert len(asked) > 0.9 * sum(not name.shared for item in pack.items for name in item.names)


def test_the_same_seed_asks_the_same(pack: Pack) -> None:
    assert requests(pack, "test", rng()) == requests(pack, "test", rng())


def test_capital_letters_do_not_change_the_side() -> None:
    assert side_of("Not yet.") == side_of("not YET. ")
