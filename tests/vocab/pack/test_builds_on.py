"""A vocabulary that builds on what all fields share."""

from __future__ import annotations

from pathlib import Path

import pytest

from vocab.errors import PackError
from vocab.pack.load import load_pack

HEAD = """
id: ours
name: Ours
language: en
version: "1"
builds_on: common
"""
ITEM = """
- id: {id}
  class: examination
  name: {name}
  synonyms: [{names}]
  purpose: Shows.
  look: Round.
  reprocessing: clean and heat-sterilise
"""
TRAY = """
trays:
- id: look
  name: Look
  rows:
    - name: far row
      slots:
        - {at: 1, item: mouth_mirror}
        - {at: 2, item: our_probe}
  kits: [cotton_kit]
procedures:
- id: look
  name: Look
  tray: look
  steps: [{id: look, name: Look, items: {mouth_mirror: 1, our_probe: 1, cotton_roll: 1}}]
"""
PROBE = ITEM.format(id="our_probe", name="our probe", names="probe of ours")


def written(folder: Path, items: str, trays: str = TRAY) -> Path:
    (folder / "pack.yaml").write_text(f"{HEAD}items:{items}{trays}", encoding="utf-8")
    return folder


def test_it_has_what_its_trays_lay_and_nothing_else_of_what_is_shared(tmp_path: Path) -> None:
    pack = load_pack(written(tmp_path, PROBE))
    assert {"our_probe", "mouth_mirror", "cotton_roll", "gauze_square"} <= set(pack.by_id)
    assert "bur_330" not in pack.by_id and "etchant" not in pack.by_id
    assert [kit.id for kit in pack.kits] == ["cotton_kit"]
    assert "hand me the" in pack.speech.cues
    for item in pack.items:
        assert {alike.item for alike in item.confused_with} <= set(pack.by_id)
    for pair in (*pack.wide_margin, *pack.offered_together):
        assert set(pair) <= set(pack.by_id)


def test_an_item_of_its_own_takes_the_place_of_the_shared_one(tmp_path: Path) -> None:
    mirror = ITEM.format(id="mouth_mirror", name="our mirror", names="looking glass")
    pack = load_pack(written(tmp_path, PROBE + mirror))
    assert pack.item("mouth_mirror").name.text == "our mirror"
    assert [item.id for item in pack.items].count("mouth_mirror") == 1


def test_a_name_is_shared_with_the_shared_item_only_if_it_says_so(tmp_path: Path) -> None:
    with pytest.raises(PackError, match="'mirror' already belongs to"):
        load_pack(written(tmp_path, PROBE.replace("probe of ours", "mirror")))
    pack = load_pack(written(tmp_path, PROBE.replace("probe of ours", "{text: mirror, shared: true}")))
    (name,) = (name for name in pack.item("mouth_mirror").names if name.text == "mirror")
    assert name.shared


def test_a_mistake_is_told_with_its_own_file_and_line(tmp_path: Path) -> None:
    folder = written(tmp_path, PROBE, TRAY.replace("item: our_probe", "item: our_prob"))
    with pytest.raises(PackError) as error:
        load_pack(folder)
    assert "pack.yaml:23: trays[look]" in str(error.value) and "did you mean our_probe?" in str(error.value)
