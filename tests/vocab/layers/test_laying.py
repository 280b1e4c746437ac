"""A clinic lays its trays: trimmed, with items of other fields, and confirmed."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from vocab.errors import Declined
from vocab.layers import EditError, Operation, Vocabulary
from vocab.layers.changes import SetNotDone, SetTraysUsed, UseItem
from vocab.layers.laying import field_having, laid_here
from vocab.layers.store import CLINIC
from vocab.pack.load import shipped_pack
from vocab.pack.references import normalised
from vocab.pack.schema import Pack

WHEN = datetime(2026, 11, 29, 9, 0, tzinfo=UTC)
HYGIENE, SURGERY = shipped_pack("hygiene"), shipped_pack("oral_surgery")
TRAY = "prophylaxis"


@pytest.fixture
def clinic(tmp_path: Path) -> Vocabulary:
    return Vocabulary(HYGIENE, tmp_path)


def kept(clinic: Vocabulary, *operations: Operation) -> Pack:
    """The pack once these changes are saved."""
    return clinic.record(CLINIC, operations, "Kim", WHEN).pack


def asked_for(pack: Pack, procedure: str) -> set[str]:
    return {item for step in pack.procedure(procedure).steps for item in step.items}


def test_what_is_taken_off_is_not_asked_for_any_more(clinic: Vocabulary) -> None:
    at = HYGIENE.tray(TRAY).slot_of("polishing_cup")
    assert at is not None and "polishing_cup" in asked_for(HYGIENE, TRAY)
    pack = kept(clinic, *laid_here(HYGIENE, TRAY, [at], []))
    assert pack.tray(TRAY).slot_of("polishing_cup") is None
    assert "polishing_cup" not in asked_for(pack, TRAY)
    assert asked_for(pack, TRAY) | {"polishing_cup"} == asked_for(HYGIENE, TRAY)
    assert clinic.composed().conflicts == ()


def test_an_item_of_another_field_comes_as_it_is_there(clinic: Vocabulary) -> None:
    pack = kept(clinic, *laid_here(HYGIENE, TRAY, [], ["bone_file"]))
    slots = pack.tray(TRAY).rows[-1].slots
    assert (slots[-1].item, int(slots[-1].at)) == ("bone_file", int(slots[-2].at) + 1)
    here, there = pack.item("bone_file"), SURGERY.item("bone_file")
    for field in ("purpose", "look", "handing", "cautions", "sharp", "reprocessing", "ends"):
        assert getattr(here, field) == getattr(there, field), field
    assert {name.text for name in here.names} == {name.text for name in there.names}
    assert clinic.composed().conflicts == ()
    assert [entry.text for entry in clinic.history()][0] == "takes bone file over from oral surgery"


def test_a_name_that_both_fields_have_is_shared_by_both(clinic: Vocabulary) -> None:
    """Every item of oral surgery is taken over in turn; no name is left that only one of two admits to."""
    shared = 0
    for item in SURGERY.items:
        if item.id in HYGIENE.by_id:
            continue
        taken = UseItem(item=item.id, field="oral_surgery")
        preview = clinic.preview(CLINIC, [taken], "Kim", WHEN)
        assert preview.troubles == () and preview.composed.conflicts == (), item.id
        pack = preview.composed.pack
        holders: dict[str, list[bool]] = {}
        for one in pack.items:
            for name in one.own_names:
                holders.setdefault(normalised(name.text), []).append(name.shared)
        new = {normalised(name.text) for name in item.own_names}
        both = [marks for text, marks in holders.items() if text in new and len(marks) > 1]
        assert all(all(marks) for marks in both), item.id
        shared += len(both)
    assert shared > 0


def test_pairs_that_are_asked_about_there_are_asked_about_here(clinic: Vocabulary) -> None:
    there = [pair for pair in SURGERY.wide_margin if not {*pair} & HYGIENE.by_id.keys()]
    pack = kept(clinic, *(UseItem(item=item, field="oral_surgery") for item in there[0]))
    assert there[0] in pack.wide_margin
    assert all({*pair} <= pack.by_id.keys() for pair in pack.wide_margin)


def test_a_kit_of_which_all_is_taken_off_is_not_opened_and_stays_packed(clinic: Vocabulary) -> None:
    kit = HYGIENE.tray(TRAY).opened[0]
    pack = kept(clinic, *laid_here(HYGIENE, TRAY, [slot.at for slot in kit.on_tray], []))
    assert kit.id not in pack.tray(TRAY).kits
    assert kit in pack.kits


def test_a_tray_is_confirmed_until_it_is_changed(clinic: Vocabulary) -> None:
    assert not clinic.composed().settings.has_confirmed(HYGIENE.tray(TRAY))
    pack = kept(clinic, *laid_here(HYGIENE, TRAY, ["2"], []))
    assert clinic.composed().settings.has_confirmed(pack.tray(TRAY))
    later = kept(clinic, *laid_here(pack, TRAY, ["3"], [])[:-1])
    assert not clinic.composed().settings.has_confirmed(later.tray(TRAY))


def test_what_cannot_be_laid_says_why(clinic: Vocabulary) -> None:
    tray = HYGIENE.tray(TRAY)
    with pytest.raises(Declined, match="no such tray"):
        laid_here(HYGIENE, "nothing", [], [])
    with pytest.raises(Declined, match="in no vocabulary"):
        laid_here(HYGIENE, TRAY, [], ["philosophers_stone"])
    with pytest.raises(Declined, match="nothing left"):
        laid_here(HYGIENE, TRAY, [slot.at for slot in tray.own_slots], [])
    with pytest.raises(EditError, match="Oral surgery has no item bone_fil"):
        kept(clinic, UseItem(item="bone_fil", field="oral_surgery"))
    with pytest.raises(EditError, match="is in this vocabulary already"):
        kept(clinic, UseItem(item="mouth_mirror", field="oral_surgery"))


def test_an_item_is_looked_for_in_its_own_language_only() -> None:
    assert field_having("bone_file", "en") == "oral_surgery"
    assert field_having("bone_file", "es") is None


def test_an_undone_item_leaves_its_slot_to_be_decided(clinic: Vocabulary) -> None:
    kept(clinic, *laid_here(HYGIENE, TRAY, [], ["bone_file"]))
    clinic.undo(CLINIC, "c1", "Kim", WHEN)
    composed = clinic.composed()
    assert "bone_file" not in composed.pack.by_id
    assert [one.kind for one in composed.conflicts] == ["gone"]


def test_what_is_not_done_takes_its_trays_along_and_deletes_nothing(clinic: Vocabulary) -> None:
    rest = tuple(p.id for p in HYGIENE.procedures if p.id != TRAY)
    pack = kept(clinic, SetNotDone(procedures=(*rest, "gone_since")))
    settings = clinic.composed().settings
    assert [p.id for p in settings.done(pack)] == [TRAY]
    assert [tray.id for tray in settings.trays_laid(pack)] == [TRAY]
    assert pack.procedures == HYGIENE.procedures and pack.trays == HYGIENE.trays
    clinic.undo(CLINIC, "c1", "Kim", WHEN)
    assert clinic.composed().settings.done(pack) == HYGIENE.procedures


def test_the_trays_that_an_earlier_version_asked_for_are_still_read(clinic: Vocabulary) -> None:
    pack = kept(clinic, SetTraysUsed(trays=(TRAY,)))
    assert clinic.composed().settings.trays_laid(pack) == HYGIENE.trays
    assert clinic.composed().conflicts == ()
