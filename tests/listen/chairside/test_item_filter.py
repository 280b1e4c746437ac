"""The filters of the list of items."""

import pytest

from listen.chairside.item_filter import ItemFilter, fitting
from tests.listen.web.desk_app import shared_chair
from vocab.pack.schema import Name


def test_an_empty_filter_fits_every_item_in_the_packs_order() -> None:
    pack = shared_chair().pack
    assert fitting(shared_chair(), ItemFilter()) == tuple(item.id for item in pack.items)
    assert fitting(shared_chair(), ItemFilter(text="  ")) == fitting(shared_chair(), ItemFilter())


def test_each_filter_leaves_what_it_says() -> None:
    chair = shared_chair()
    pack = chair.pack
    tray, procedure = pack.tray("examination"), pack.procedures[0]
    burs = fitting(chair, ItemFilter(kind="bur"))
    assert burs and all(pack.item(one).item_class.value == "bur" for one in burs)
    sharp = fitting(chair, ItemFilter(sharp=True))
    assert sharp == tuple(item.id for item in pack.items if item.sharp)
    laid = fitting(chair, ItemFilter(used="tray examination"))
    assert set(laid) == {slot.item for slot in tray.slots}
    asked = fitting(chair, ItemFilter(used=f"procedure {procedure.id}"))
    assert set(procedure.steps[0].items) <= set(asked) < set(pack.by_id)
    assert "condenser_large" in fitting(chair, ItemFilter(text="pluger"))


def test_filters_are_used_together() -> None:
    chair = shared_chair()
    both = fitting(chair, ItemFilter(kind="examination", sharp=True))
    assert set(both) == set(fitting(chair, ItemFilter(kind="examination"))) & set(
        fitting(chair, ItemFilter(sharp=True))
    )


@pytest.mark.parametrize("used", ["tray nowhere", "procedure nowhere", "examination", "x y"])
def test_what_does_not_exist_fits_nothing(used: str) -> None:
    assert fitting(shared_chair(), ItemFilter(used=used)) == ()


def test_a_dentists_own_names_leave_the_items_that_have_one() -> None:
    chair = shared_chair()
    hoe = chair.pack.item("hoe")
    theirs = hoe.model_copy(update={"synonyms": (*hoe.synonyms, Name(text="the little rake"))})
    pack = chair.pack.model_copy(
        update={"items": tuple(theirs if item.id == "hoe" else item for item in chair.pack.items)}
    )
    assert fitting(chair, ItemFilter(), pack) == ("hoe",)
    assert fitting(chair, ItemFilter(), chair.pack) == ()
