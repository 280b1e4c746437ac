"""A field's vocabulary widened with the items of the others."""

from __future__ import annotations

import math

import pytest

from listen.readings import Reader, load_calibration
from vocab.pack.load import shipped_languages, shipped_pack
from vocab.pack.schema import Name, Pack
from vocab.pack.widen import widened
from vocab.procedure.model import ProcedureModel
from vocab.requests.lexicon import Lexicon

FIELDS = {name: shipped_pack(name) for name, language in shipped_languages().items() if language == "en"}
OPERATIVE, SURGERY = FIELDS["operative"], FIELDS["oral_surgery"]
WIDE = widened(OPERATIVE, FIELDS.values())


def test_it_has_every_item_once_and_says_which_field_brought_it() -> None:
    assert set(WIDE.by_id) == {item for pack in FIELDS.values() for item in pack.by_id}
    assert len(WIDE.items) == len(WIDE.by_id)
    assert WIDE.items[: len(OPERATIVE.items)] != () and WIDE.beyond.keys().isdisjoint(OPERATIVE.by_id)
    assert WIDE.beyond["bone_rongeur"] == SURGERY.name
    assert WIDE.beyond.keys() | OPERATIVE.by_id.keys() == WIDE.by_id.keys()
    assert (WIDE.trays, WIDE.procedures, WIDE.speech) == (
        OPERATIVE.trays,
        OPERATIVE.procedures,
        OPERATIVE.speech,
    )


def test_pairs_of_all_fields_are_kept_apart() -> None:
    assert set(WIDE.wide_margin) >= {*OPERATIVE.wide_margin, *SURGERY.wide_margin}
    assert set(WIDE.offered_together) >= set(OPERATIVE.offered_together)


def test_a_pack_beside_itself_stays_as_it_is() -> None:
    alone = widened(OPERATIVE, [OPERATIVE])
    assert alone.items == OPERATIVE.items and alone.beyond == {}


def test_a_name_that_another_field_gives_to_a_common_item_is_known() -> None:
    named = tuple(
        item.model_copy(update={"synonyms": (*item.synonyms, Name(text="flutterby"))})
        if item.id == "mouth_mirror"
        else item
        for item in SURGERY.items
    )
    wide = widened(OPERATIVE, [SURGERY.model_copy(update={"items": named})])
    assert "flutterby" in {name.text for name in wide.item("mouth_mirror").names}


@pytest.mark.parametrize("name", FIELDS)
def test_an_item_of_two_fields_is_defined_once(name: str) -> None:
    """A mirror is one mirror: what two fields have is the common item, whole and alike in both."""
    for other in FIELDS.values():
        for item_id in FIELDS[name].by_id.keys() & other.by_id.keys():
            one, two = FIELDS[name].item(item_id), other.item(item_id)
            same = (
                "name",
                "item_class",
                "purpose",
                "look",
                "handing",
                "sharp",
                "counted",
                "variants",
                "cautions",
            )
            for field in same:
                mine, theirs = getattr(one, field), getattr(two, field)
                if isinstance(mine, Name):
                    mine, theirs = mine.text, theirs.text
                if field == "variants":
                    mine, theirs = [one.text for one in mine], [one.text for one in theirs]
                assert mine == theirs, (item_id, field)


def expected(pack: Pack, procedure: str) -> dict[str, float]:
    model = ProcedureModel(pack, [procedure])
    return {item: math.log(p) for item, p in model.next_items(model.start()).items() if p > 0}


def test_what_other_fields_have_is_seldom_expected() -> None:
    of = expected(WIDE, "amalgam_class_two")
    alone = expected(OPERATIVE, "amalgam_class_two")
    least = min(p for item, p in of.items() if item not in WIDE.beyond)
    assert all(p < least - 1 for item, p in of.items() if item in WIDE.beyond)
    assert all(abs(of[item] - p) < 0.1 for item, p in alone.items())


def test_a_name_of_two_fields_is_settled_by_the_procedure() -> None:
    """ "Explorer" and the like belong to several fields; the tray decides (common practice, no source)."""
    lexicon = Lexicon(WIDE)
    for pack, procedure, item in (
        (OPERATIVE, "dam_placement", "dam_punch"),
        (SURGERY, "biopsy", "biopsy_punch"),
    ):
        wide = widened(pack, FIELDS.values())
        reader = Reader(wide, lexicon, load_calibration())
        (way,) = reader.of_text("the punch please", expected(wide, procedure)).ways
        first = way.requests[0].candidates[0]
        assert first.item == item and first.p > 0.7
