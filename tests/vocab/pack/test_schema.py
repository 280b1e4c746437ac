"""What is looked up in a pack, and that a changed copy of one is looked up anew."""

from __future__ import annotations

import pytest

from tests.vocab.small_pack import small_pack
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Name


def test_items_are_found_by_id_in_written_order() -> None:
    pack = small_pack()
    assert tuple(pack.by_id.values()) == pack.items
    assert [pack.items[place].id for place in pack.order.values()] == list(pack.order)
    assert all(pack.called[item.id] == item.name.text and pack.item(item.id) is item for item in pack.items)
    with pytest.raises(KeyError):
        pack.item("no_such_item")


def test_a_copy_with_other_items_finds_those() -> None:
    pack = small_pack()
    first, *rest = pack.items
    assert first.id in pack.by_id and first.id in pack.called and first.id in pack.order
    fewer = pack.model_copy(update={"items": tuple(rest)})
    renamed = pack.model_copy(
        update={"items": (first.model_copy(update={"name": Name(text="flurb")}), *rest)}
    )
    for index in (fewer.by_id, fewer.called, fewer.order):
        assert list(index) == [item.id for item in rest]
    assert renamed.called[first.id] == "flurb" and pack.called[first.id] == first.name.text
    assert pack == small_pack()


def test_every_way_to_say_an_item_comes_behind_the_name_it_belongs_to() -> None:
    for item in shipped_pack().items:
        assert item.ways_to_say[0] == item.name.text
        assert item.ways_to_say == tuple(text for name in item.names for text in name.ways_to_say)
    assert Name(text="2x2", say=("two by two",)).ways_to_say == ("2x2", "two by two")
