"""The demo recordings are what their manifest says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import soundfile

from listen.speech.noise import speech_level
from vocab.pack.load import shipped_pack

FOLDER = Path(__file__).parents[3] / "recordings_demo"
KINDS = {"item", "action", "refusal", "repeat", "correction", "chatter"}


@pytest.fixture(scope="module")
def manifest() -> list[dict[str, Any]]:
    lines = (FOLDER / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines]


def test_there_are_enough_requests_and_chatter(manifest: list[dict[str, Any]]) -> None:
    kinds = [entry["kind"] for entry in manifest]
    assert set(kinds) <= KINDS
    assert len(kinds) - kinds.count("chatter") >= 42
    assert kinds.count("chatter") >= 16


def test_everything_asked_for_is_in_the_pack(manifest: list[dict[str, Any]]) -> None:
    pack = shipped_pack()
    for entry in manifest:
        items = entry["item"] if isinstance(entry["item"], list) else [entry["item"]]
        assert all(pack.item(item) for item in items if item is not None)
        assert (entry["kind"] in ("item", "repeat", "correction")) == (entry["item"] is not None)
        assert entry.get("action") is None or entry["action"] in pack.speech.actions
        assert entry.get("end") is None or entry["end"] in pack.speech.ends


def test_every_recording_is_speech_of_an_utterance_length(manifest: list[dict[str, Any]]) -> None:
    assert sorted(p.name for p in (FOLDER / "audio").iterdir()) == [Path(e["file"]).name for e in manifest]
    for entry in manifest:
        samples, rate_hz = soundfile.read(FOLDER / entry["file"], dtype="float32", always_2d=True)
        assert rate_hz == 16_000
        assert samples.shape[1] == 1
        assert 1.3 < len(samples) / rate_hz < 8.0
        assert -32.0 < speech_level(samples[:, 0]).active_db < -22.0
        assert abs(samples).max() < 1.0


def test_the_folder_is_small() -> None:
    assert sum(p.stat().st_size for p in FOLDER.rglob("*") if p.is_file()) < 12e6


def test_most_speech_is_not_from_a_formant_voice(manifest: list[dict[str, Any]]) -> None:
    assert sum(entry["voice"].startswith("espeak") for entry in manifest) <= len(manifest) // 10
