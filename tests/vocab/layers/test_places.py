"""Where a clinic keeps things: saved, replaced, undone, and told where what is kept is gone."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from vocab.layers import EditError, Vocabulary
from vocab.layers.changes import RetireItem, SetPlace
from vocab.layers.store import CLINIC
from vocab.pack.load import shipped_pack

PACK = shipped_pack("operative")
WHEN = datetime(2026, 1, 2, 10, 30, tzinfo=UTC)
DAM = SetPlace(kind="kit", id="dam_kit", place=" cupboard 2, top drawer ")


def test_a_place_is_kept_replaced_and_undone(tmp_path: Path) -> None:
    ours = Vocabulary(PACK, tmp_path)

    def place() -> str | None:
        return Vocabulary(PACK, tmp_path).composed().settings.place_of("kit", "dam_kit")

    ours.record(CLINIC, [DAM], "Kim", WHEN)
    assert place() == "cupboard 2, top drawer"
    ours.record(CLINIC, [DAM.model_copy(update={"place": "shelf"})], "Ada", WHEN)
    assert place() == "shelf"
    ours.undo(CLINIC, "c2", "Kim", WHEN)
    assert place() == "cupboard 2, top drawer"
    ours.record(CLINIC, [SetPlace(kind="kit", id="dam_kit")], "Kim", WHEN)
    assert place() is None
    told = [entry.text for entry in ours.history()]
    assert told[0] == 'keeps the dam kit in "cupboard 2, top drawer"'
    assert told[-1] == "no longer says where the dam kit is kept"


def test_a_pack_a_kit_and_an_item_of_one_name_are_three_things(tmp_path: Path) -> None:
    ours = Vocabulary(PACK, tmp_path)
    tray = SetPlace(kind="tray", id="examination", place="shelf 1")
    item = SetPlace(kind="item", id="etchant", place="fridge")
    settings = ours.record(CLINIC, [DAM, tray, item], "Kim", WHEN).settings
    assert [settings.place_of(one.kind, one.id) for one in (DAM, tray, item)] == [
        "cupboard 2, top drawer",
        "shelf 1",
        "fridge",
    ]
    assert settings.place_of("item", "examination") is None
    assert [entry.text for entry in ours.history()][1:] == [
        'keeps the pack of the tray examination in "shelf 1"',
        'keeps etchant in "fridge"',
    ]


@pytest.mark.parametrize(
    "wrong",
    [
        SetPlace(kind="kit", id="damm_kit", place="shelf"),
        SetPlace(kind="tray", id="dam_kit", place="shelf"),
        SetPlace(kind="item", id="dam_kit", place="shelf"),
    ],
)
def test_what_is_not_there_has_no_place(tmp_path: Path, wrong: SetPlace) -> None:
    with pytest.raises(EditError, match="there is no"):
        Vocabulary(PACK, tmp_path).record(CLINIC, [wrong], "Kim", WHEN)


@pytest.mark.parametrize("place", ["x" * 81, "two\nlines", "\u202eturned"])
def test_a_place_is_one_short_line(place: str) -> None:
    with pytest.raises(ValueError, match="where it is kept"):
        SetPlace(kind="kit", id="dam_kit", place=place)


def test_the_place_of_a_retired_item_is_told_and_the_rest_counts(tmp_path: Path) -> None:
    ours = Vocabulary(PACK, tmp_path)
    kept = SetPlace(kind="item", id="hoe", place="shelf")
    composed = ours.record(CLINIC, [kept, DAM, RetireItem(item="hoe")], "Kim", WHEN)
    assert composed.settings.place_of("kit", "dam_kit") and not composed.conflicts
    with pytest.raises(EditError, match="there is no item hoe"):
        ours.record(CLINIC, [kept], "Kim", WHEN)
