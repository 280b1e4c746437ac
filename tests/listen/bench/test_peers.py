"""Peers hear the very same clips, get the same resolver, and who is missing is named."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from listen.bench import hearings, human, orders, peers, systems
from listen.bench.hearings import Ear, Hearable
from listen.engine import Hearing
from listen.speech import voices
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack


@pytest.fixture(scope="module")
def pack() -> Pack:
    return shipped_pack()


@pytest.fixture
def every_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voices, "_what_is_missing", lambda _: None)


def rows() -> tuple[systems.System, ...]:
    return tuple(system for system in systems.SYSTEMS if system.name in peers.SYSTEMS)


def test_each_sentence_is_there_in_quiet_and_in_noise(pack: Pack, every_voice: None) -> None:
    for group in peers.spoken_groups(pack, 4, 5, 3):
        ((_, clips),) = group.parts
        quiet, loud = ([c.text for c in clips if c.facts["level"] == level] for level in ("quiet", "10 dB"))
        assert quiet == loud and len(quiet) == {"own": 7, "natural": 10}[group.name]
        nothing = [c for c in clips if c.facts["item"] is None]
        assert len(nothing) == {"own": 6, "natural": 10}[group.name]


def test_every_system_hears_the_very_same_clips_and_text_is_looked_up_alike(
    pack: Pack, every_voice: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: dict[str, list[str]] = {}

    def writes_what_was_said(
        clips: Sequence[Hearable], sound: Any, ears: Sequence[Ear], *_: Any
    ) -> list[hearings.Record]:
        """Every engine writes the sentence down without a mistake."""
        out = []
        for ear in ears:
            heard.setdefault(ear.engine, []).extend(clip.id for clip in clips)
            for clip in clips:
                text = Hearing((), clip.facts["text"], 0.0, -1.0, 1.0)
                cost = {"seconds": 1.0, "ms": 5.0, "cpu_ms": 5.0, "start_s": 1.0, "memory_mb": 1.0, "jobs": 1}
                out.append({"engine": ear.engine, **clip.facts, **cost, "hearing": hearings.kept(text)})
        return out

    monkeypatch.setattr(hearings, "hear", writes_what_was_said)
    groups = peers.spoken_groups(pack, 4, 4, 4)
    made = peers.measured(groups, rows(), tmp_path, tmp_path / "hearings.jsonl")
    first, *others = heard.values()
    assert len(heard) == 3 and all(other == first for other in others)
    for by_system in made.values():
        counts = [by_system[name]["levels"] for name in ("neural-text", "sphinx-grammar", "sphinx-text")]
        assert counts[0] == counts[1] == counts[2]
        assert all(one["ms"] >= 5 for one in by_system.values())
    assert made["own"]["sphinx-text"]["levels"]["quiet"]["chosen"] == 4


def test_a_missing_model_is_named_with_the_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("pocketsphinx")
    here, missing = peers.systems_here(None)
    assert [system.name for system in here] == [row.name for row in systems.find(peers.SYSTEMS, None)]
    assert "no English model" in missing["vosk"]
    assert "vosk: not measured" in peers.table({}, missing)
    here, missing = peers.systems_here(Path("an_english_model"))
    assert "vosk" in [system.name for system in here] and not missing


def test_people_ask_with_the_vocabulary_swapped_and_with_ours_for_nothing(
    pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(human, "sets", lambda speech: ())
    monkeypatch.setattr(human, "chatter", lambda: ())
    (tmp_path / "orders").mkdir()
    lines = [{"file": f"orders/{number}.flac", "coffeeDrink": f"drink {number}"} for number in range(6)]
    for file in ("kitchen.flac", *(line["file"] for line in lines)):
        soundfile.write(tmp_path / file, 0.1 * np.random.default_rng(1).standard_normal(8_000), 16_000)
    (tmp_path / orders.LIST_FILE).write_text("\n".join(map(json.dumps, lines)))
    _, ordered = peers.people_groups(pack, tmp_path, 2)
    (swapped, asked), (ours, nothing) = ordered.parts
    assert ours is pack and swapped is not pack
    assert [clip.facts["level"] for clip in asked] == ["quiet", "quiet", "10 dB", "10 dB"]
    assert {clip.facts["path"] for clip in asked} == {clip.facts["path"] for clip in nothing}
    assert all(clip.facts["item"] is None for clip in nothing)
    with pytest.raises(orders.BadOrders, match=r"orders\.jsonl"):
        peers.people_groups(pack, tmp_path / "orders", 2)
