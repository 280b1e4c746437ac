"""Kits: what stands beside a tray, how its slots are addressed, and what is wrong with a pack of them."""

from pathlib import Path

import pytest

from tests.vocab.pack.test_load import changed, only, problems, write
from vocab.pack.load import load_pack, shipped_names, shipped_pack
from vocab.pack.schema import KitPlace

KITS = """\
kits:
  - id: small_kit
    name: Small kit
    picture: wedge
    slots:
      - {at: 1, item: wedge, count: 2}
"""
OPENED = {"kits.yaml": KITS, **changed("trays.yaml", "    rows:", "    kits: [small_kit]\n    rows:")}


def test_a_kit_stands_beside_the_trays_that_name_it(tmp_path: Path) -> None:
    tray = load_pack(write(tmp_path, OPENED)).tray("look")
    assert [kit.name for kit in tray.opened] == ["Small kit"]
    assert [slot.at for slot in tray.slots if slot.item == "wedge"] == ["small kit 1", "counter one"]
    assert "small kit 1" not in [slot.at for slot in tray.own_slots]
    assert tray.slot_of("wedge") == "small kit 1"
    assert tray.opened[0].place is KitPlace.CHAIR and tray.opened[0].drawn_as == "wedge"


def test_the_box_itself_has_the_name_of_the_kit_as_its_address(tmp_path: Path) -> None:
    boxed = KITS.replace("picture: wedge", "item: mouth_mirror\n    said: the box")
    tray = load_pack(write(tmp_path, {**OPENED, "kits.yaml": boxed})).tray("look")
    assert [(slot.at, slot.item) for slot in tray.opened[0].on_tray] == [
        ("the box", "mouth_mirror"),
        ("the box 1", "wedge"),
    ]


@pytest.mark.parametrize(
    ("old", "new", "field", "message"),
    [
        ("item: wedge", "item: wege", "kits[small_kit].slots", "there is no item 'wege'"),
        ("picture: wedge", "picture: wege", "kits[small_kit].picture", "there is no item 'wege'"),
        ("item: wedge", "item: wedge, variants: [big]", "variants", "wedge has no variant 'big'"),
        ("id: small_kit", "id: smal_kit", "trays[look].kits", "there is no kit 'small_kit'; did you mean"),
        (
            "name: Small kit",
            "name: Small kit\n    said: counter",
            "trays[look].kits",
            "'counter one' is used twice",
        ),
    ],
)
def test_a_mistake_in_a_kit_is_told_once_with_its_place(
    tmp_path: Path, old: str, new: str, field: str, message: str
) -> None:
    assert KITS.count(old) == 1
    kits = KITS.replace(old, new)
    if "counter" in new:
        kits = kits.replace("at: 1", "at: one")
    found = problems(write(tmp_path, {**OPENED, "kits.yaml": kits}))
    assert [field in one.field and message in one.message for one in found] == [True], found


def test_two_kits_of_one_id_are_refused(tmp_path: Path) -> None:
    twice = KITS + KITS.removeprefix("kits:\n")
    found = only(write(tmp_path, {**OPENED, "kits.yaml": twice}))
    assert "the id 'small_kit' is already used" in found.message


@pytest.mark.parametrize("name", shipped_names())
def test_a_shipped_tray_is_short_and_its_kits_hold_the_rest(name: str) -> None:
    """At most 20 things lie on the tray itself (common practice, no source), and every kit is used."""
    pack = shipped_pack(name)
    for tray in pack.trays:
        assert sum(len(row.slots) for row in tray.rows) <= 20, tray.id
        assert [kit.id for kit in tray.opened] == list(tray.kits)
    assert {kit.id for kit in pack.kits} == {kit for tray in pack.trays for kit in tray.kits}
