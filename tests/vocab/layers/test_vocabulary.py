"""Editing a clinic's vocabulary. What should come of it is our own design, no outside source."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.vocab.layers.test_changes import PACK
from tests.vocab.small_pack import small_pack
from vocab.layers import EditError, Held, Vocabulary
from vocab.layers.changes import (
    AddName,
    ClearSlot,
    Mean,
    Operation,
    RemoveName,
    RenameItem,
    SetSlot,
)
from vocab.layers.vocabulary import moved_slot
from vocab.pack.labels import MOST_NAMES_OF_PACK
from vocab.pack.schema import Name
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import understand

WHEN = datetime(2026, 1, 2, 10, 30, tzinfo=UTC)
ACID = AddName(item="etchant", name=Name(text="our acid"))


@pytest.fixture
def clinic(tmp_path: Path) -> Vocabulary:
    return Vocabulary(PACK, tmp_path)


def refused(vocabulary: Vocabulary, *operations: Operation, layer: str = "clinic") -> str:
    """Why the operations are not saved."""
    before = vocabulary.layers()
    with pytest.raises(EditError) as caught:
        vocabulary.record(layer, operations, "Ada", WHEN)
    assert vocabulary.layers() == before
    return str(caught.value)


def test_a_request_with_a_new_name_is_understood_at_once(clinic: Vocabulary) -> None:
    pack = clinic.record("clinic", [ACID], "Ada", WHEN, "we say so").pack
    (request,) = understand("can I have the our acid please", Lexicon(pack), pack.speech)
    assert request.candidates[0].item == "etchant"
    assert clinic.composed().pack == pack


def test_a_preview_says_what_would_change_and_saves_nothing(clinic: Vocabulary) -> None:
    preview = clinic.preview("clinic", [ACID, Mean(name="light", item="etchant")], "Ada", WHEN)
    assert preview.lines == ('adds the name "our acid" to etchant', 'makes "light" mean etchant')
    assert preview.troubles == () and "our acid" in [
        n.text for n in preview.composed.pack.item("etchant").names
    ]
    assert clinic.layers()[0].changes == () and not list(clinic.folder.iterdir())


def test_a_name_that_another_item_has_is_not_added_but_can_be_given_a_meaning(clinic: Vocabulary) -> None:
    said = refused(clinic, AddName(item="etchant", name=Name(text="Bond")))
    assert said == (
        'it adds the name "Bond" to etchant, but "Bond" is also a name of bonding agent; '
        "make it mean one of them, or choose another name"
    )
    clinic.record("clinic", [Mean(name="bond", item="etchant")], "Ada", WHEN)
    assert clinic.composed().conflicts == ()


@pytest.mark.parametrize(
    ("operation", "why"),
    [
        (AddName(item="etchant", name=Name(text="etch")), 'etchant already has the name "etch"'),
        (AddName(item="etchent", name=Name(text="gel")), "there is no item etchent; did you mean etchant?"),
        (Mean(name="bond", item="bonding_agent"), '"bond" already means bonding agent'),
        (RemoveName(item="etchant", name="etsch"), 'etchant has no name "etsch"; did you mean etch'),
        (ClearSlot(tray="look", at="9"), "tray look has no slot 9"),
        (SetSlot(tray="look", at="9", item="etchant"), "name the row it belongs to"),
        (AddName(item="etchant", name=Name(text="?!")), "has no letters or digits"),
    ],
)
def test_what_cannot_be_done_is_refused_with_the_reason(
    clinic: Vocabulary, operation: Operation, why: str
) -> None:
    assert why in refused(clinic, operation)


def test_all_or_nothing_is_saved(clinic: Vocabulary) -> None:
    refused(clinic, ACID, ClearSlot(tray="look", at="9"))
    assert "nothing to change" in refused(clinic)


def test_a_change_is_undone_once_and_the_history_keeps_both(clinic: Vocabulary) -> None:
    clinic.record("clinic", [ACID], "Ada", WHEN, "we say so")
    clinic.undo("clinic", "c1", "Ben", WHEN, "we do not")
    with pytest.raises(EditError, match="c1 is already undone"):
        clinic.undo("clinic", "c1", "Ben", WHEN)
    with pytest.raises(EditError, match="no earlier change c7"):
        clinic.undo("clinic", "c7", "Ben", WHEN)
    first, second = clinic.history()
    assert (first.text, first.counts) == ('adds the name "our acid" to etchant', False)
    assert (second.text, second.change.who) == ('takes back: adds the name "our acid" to etchant', "Ben")
    assert clinic.history(("name", "our acid")) == (first, second)
    assert clinic.history(("name", "other")) == ()
    clinic.undo("clinic", "c2", "Ada", WHEN)
    assert clinic.composed().came_from("our acid").change == "c1"


def test_a_dentist_has_a_layer_of_their_own(clinic: Vocabulary) -> None:
    grey = Vocabulary(PACK, clinic.folder, "grey")
    grey.record("grey", [Mean(name="mirror", item="hand_mirror")], "Grey", WHEN)
    assert grey.composed().came_from("mirror").layer == "grey"
    assert clinic.composed().came_from("mirror").layer == "pack"
    preview = grey.preview("clinic", [Mean(name="mirror", item="etchant")], "Ada", WHEN)
    assert preview.troubles == () and "c1 for grey" in preview.warnings[0]
    with pytest.raises(EditError, match="not open here; open are those of clinic"):
        clinic.record("grey", [ACID], "Ada", WHEN)
    with pytest.raises(EditError, match="cannot have the id"):
        Vocabulary(PACK, clinic.folder, "clinic")


def test_what_a_newer_pack_disagrees_with_is_settled_by_confirming(clinic: Vocabulary) -> None:
    rename = RenameItem(item="etchant", name=Name(text="acid"))
    clinic.record("clinic", [rename], "Ada", WHEN)
    etchant = PACK.item("etchant").model_copy(update={"name": Name(text="etching gel")})
    items = tuple(etchant if item.id == "etchant" else item for item in PACK.items)
    newer = Vocabulary(PACK.model_copy(update={"version": "2", "items": items}), clinic.folder)
    (conflict,) = newer.composed().conflicts
    assert (conflict.kind, conflict.subject) == ("changed", ("preferred", "etchant"))
    assert newer.record("clinic", [rename], "Ada", WHEN).conflicts == ()
    assert newer.layers()[0].pack_version == "2"


def test_dragging_a_slot_swaps_it_with_another_or_moves_it(clinic: Vocabulary) -> None:
    clinic.record("clinic", moved_slot(PACK, "look", "1", "light hook"), "Ada", WHEN)
    tray = clinic.composed().pack.tray("look")
    assert [slot.item for slot in tray.slots] == ["curing_light", "etchant", "mouth_mirror"]
    pack = clinic.record("clinic", moved_slot(clinic.composed().pack, "look", "2", "7"), "Ada", WHEN).pack
    assert [(slot.at, slot.item) for slot in pack.tray("look").rows[0].slots] == [
        ("1", "curing_light"),
        ("7", "etchant"),
    ]
    with pytest.raises(EditError, match="there is no slot 9"):
        moved_slot(PACK, "look", "9", "1")
    with pytest.raises(EditError, match="there is no tray lok; did you mean look"):
        moved_slot(PACK, "lok", "1", "2")


def test_a_broken_file_is_reported_and_editing_goes_on(clinic: Vocabulary) -> None:
    clinic.record("clinic", [ACID], "Ada", WHEN)
    clinic.store("clinic").file.write_text("oops", encoding="utf-8")
    assert "clinic.yaml:1" in clinic.recovered()[0]
    assert clinic.composed().came_from("our acid").change == "c1"
    clinic.record("clinic", [Mean(name="light", item="etchant")], "Ada", WHEN)
    assert clinic.recovered() == ()


def test_a_second_editor_is_told_who_is_editing(clinic: Vocabulary) -> None:
    with clinic.store("clinic").editing("Ada", WHEN), pytest.raises(Held, match="Ada"):
        clinic.record("clinic", [ACID], "Ben", WHEN)


def test_a_pack_of_five_thousand_names_is_edited_like_any_other_until_it_is_full(tmp_path: Path) -> None:
    pack = small_pack(extra_items=2480)
    chair_session = MOST_NAMES_OF_PACK - sum(len(item.names) for item in pack.items)
    assert 0 < chair_session < 10
    big = Vocabulary(pack, tmp_path)
    more = [AddName(item="etchant", name=Name(text=f"our acid {i}")) for i in range(chair_session)]
    composed = big.record("clinic", more, "Ada", WHEN)
    assert Lexicon(composed.pack).find("our acid 0")[0].item == "etchant"
    assert "5,001 names in all, and at most 5,000 are allowed; leave some out" in refused(big, ACID)
