"""People's orders: the pack made from a folder, its halves, and what is said of a folder that is no such.

The recordings here are made up: noise. Nothing outside is checked.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from listen.bench import human, orders
from listen.speech import noise
from listen.speech.voices import Side
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import understand

LINES = [
    {"file": "orders/1.flac", "coffeeDrink": "latte", "size": "small", "roast": "dark roast",
     "milkAmount": "milk", "sugarAmount": "some sugar"},
    {"file": "orders/2.flac", "coffeeDrink": "mocha"},
    {"file": "orders/3.flac", "coffeeDrink": "latte", "numberOfShots": "double shot"},
    {"file": "orders/4.flac", "coffeeDrink": "mocha"},
]  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    rng = np.random.default_rng(1)
    (tmp_path / "orders").mkdir()
    for file in ("kitchen.flac", *(str(line["file"]) for line in LINES)):
        soundfile.write(tmp_path / file, 0.05 * rng.standard_normal(16_000), 16_000)
    (tmp_path / orders.LIST_FILE).write_text("\n".join(map(json.dumps, LINES)))
    return tmp_path


def test_every_order_of_the_parts_is_a_name_of_the_same_item(folder: Path) -> None:
    found = orders.orders(folder)
    assert found[0].texts == (
        "small dark roast latte with milk and some sugar",
        "small dark roast latte with some sugar and milk",
        "dark roast small latte with milk and some sugar",
        "dark roast small latte with some sugar and milk",
    )
    speech = shipped_pack("operative").speech
    asked = orders.asked_for(found, "test", speech)
    assert [len(item.names) for item in asked.pack.items] == [4, 1, 1]  # two ordered a mocha
    (request,) = understand(
        "can I get a dark roast small latte with milk and some sugar", Lexicon(asked.pack), speech
    )
    assert request.candidates[0].item == asked.clips[0].item


def test_a_recording_is_on_one_side_only(folder: Path) -> None:
    found = orders.orders(folder)
    speech = shipped_pack("operative").speech
    halves: tuple[Side, ...] = ("tune", "test")
    sides = {half: {clip.path for clip in orders.asked_for(found, half, speech).clips} for half in halves}
    assert sides["tune"] | sides["test"] == {order.path for order in found}
    assert not sides["tune"] & sides["test"]
    for half in halves:
        clips = orders.not_ours(found, half)
        assert {clip.path for clip in clips} == sides[half]
        assert all(clip.item is None and clip.facts["side"] == half for clip in clips)


def test_the_recorded_noise_is_put_behind_at_its_level(folder: Path) -> None:
    (clip, *_) = orders.not_ours(orders.orders(folder), "test")
    quiet, loud = human.at_levels([clip], (None, 10.0), (human.KITCHEN,))
    speech, mixed = human.sound(quiet), human.sound(loud)
    assert len(speech) == len(mixed) and quiet.id != loud.id
    scale = float(np.dot(mixed, speech) / np.dot(speech, speech))
    behind = mixed - scale * speech
    assert noise.in_band_snr(scale * speech, behind) == pytest.approx(10.0, abs=1.5)
    assert np.array_equal(mixed, human.sound(loud))


@pytest.mark.parametrize(
    ("spoilt", "told"),
    [
        (lambda folder: (folder / "kitchen.flac").unlink(), "kitchen.flac is missing"),
        (lambda folder: (folder / orders.LIST_FILE).unlink(), "orders.jsonl is missing"),
        (lambda folder: (folder / "orders" / "3.flac").unlink(), "line 3, file"),
        (lambda folder: (folder / orders.LIST_FILE).write_text('{"file": 1}'), "line 1"),
        (lambda folder: (folder / orders.LIST_FILE).write_text("[]"), "line 1"),
        (lambda folder: (folder / orders.LIST_FILE).write_text("{"), "line 1"),
    ],
)
def test_a_folder_that_is_no_such_is_said_plainly(folder: Path, spoilt: object, told: str) -> None:
    spoilt(folder)  # type: ignore[operator]
    with pytest.raises(orders.BadOrders, match=told):
        orders.orders(folder)
