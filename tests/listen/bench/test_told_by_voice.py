"""The measure of what is told by voice compares rightly, on made-up hearings: perfect, deaf, mistaken."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from listen.bench import told_by_voice
from listen.bench.told_by_voice import ToldLine
from listen.chair import Chair, ChairOptions, open_chair
from listen.chairside.events import EventKind
from listen.speech.voices import Side

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def chair(tmp_path_factory: pytest.TempPathFactory) -> Chair:
    return open_chair(ChairOptions(layers=tmp_path_factory.mktemp("layers")))


def record(text: str, free: str, phrasing: str = "") -> dict[str, Any]:
    """A hearing of a text: what was written freely, and the best phrasing, which is as likely."""
    hearing = {
        "phrasings": [(phrasing, 0.0)] if phrasing else [], "free_text": free, "log_p_free": 0.0,
        "log_p_best": 0.0, "duration_s": 1.5,
    }  # fmt: skip
    return {
        "engine": "neural", "clip": text, "text": text, "level": "quiet", "speaker": "a", "hearing": hearing
    }  # fmt: skip


def of(line: ToldLine, chair: Chair, folder: Path, free: str, phrasing: str = "") -> told_by_voice.ToldResult:
    """What comes of one hearing."""
    (found,) = told_by_voice.results([record(line.text, free, phrasing)], {line.text: line}, chair, folder)
    return found


@pytest.mark.parametrize("side", ["tune", "test"])
def test_every_way_of_telling_is_asked_on_both_sides_and_no_sentence_twice(chair: Chair, side: Side) -> None:
    mine = told_by_voice.lines(chair.pack, side)
    other = told_by_voice.lines(chair.pack, "test" if side == "tune" else "tune")
    assert {line.kind for line in mine} == {*told_by_voice.TOLD, *told_by_voice.TOLD_OF_MATERIAL}
    shared = {line.text for line in mine} & {line.text for line in other}
    assert all(any(word in text.lower() for word in ("that one", "it", "undo", "scratch")) for text in shared)


@pytest.mark.parametrize("kind", [*told_by_voice.TOLD, *told_by_voice.TOLD_OF_MATERIAL])
def test_what_is_written_as_it_was_said_is_noted(chair: Chair, tmp_path: Path, kind: EventKind) -> None:
    line = next(line for line in told_by_voice.lines(chair.pack, "test") if line.kind is kind)
    phrasing = line.text.lower().rstrip(".")
    assert of(line, chair, tmp_path, line.text, phrasing).kind == "right"


def test_silence_another_item_and_a_request_are_told_apart(chair: Chair, tmp_path: Path) -> None:
    line = ToldLine("Explorer back.", EventKind.RETURNED, "explorer_shepherd")
    assert of(line, chair, tmp_path / "a", "").kind == "not"
    assert of(line, chair, tmp_path / "b", "Mirror back.").kind == "wrong"
    asked = of(line, chair, tmp_path / "c", "Explorer please.", "explorer please")
    assert asked.kind == "wrong" and asked.noted == ((EventKind.ASKED, "explorer_shepherd"),)


def test_requests_and_chatter_must_tell_of_nothing(chair: Chair, tmp_path: Path) -> None:
    request = ToldLine("Explorer please.", None, "explorer_shepherd")
    assert of(request, chair, tmp_path / "a", request.text, "explorer please").kind == "right"
    assert of(request, chair, tmp_path / "b", "Mirror back.").kind == "wrong"
    assert of(replace(request, item=None), chair, tmp_path / "c", "My back hurts.").kind == "right"


def test_the_table_counts_by_what_was_told(chair: Chair, tmp_path: Path) -> None:
    lines = [ToldLine("Explorer back.", EventKind.RETURNED, "explorer_shepherd")] * 2
    heard = [record(lines[0].text, free) for free in (lines[0].text, "")]
    found = told_by_voice.results(heard, {lines[0].text: lines[0]}, chair, tmp_path / "data")
    made = told_by_voice.study(found)
    text = told_by_voice.write(made, tmp_path)
    assert told_by_voice.counts(made)["quiet"]["told"] == {"n": 2, "right": 1, "wrong": 0}
    assert "| quiet | told: returned | 50.0 % (1/2, 9.5-90.5) | 50.0 %" in text  # Wilson for 1 of 2
    assert (tmp_path / "told.json").exists()


@pytest.mark.parametrize("side", ["tune", "test"])
def test_natural_words_tell_of_what_was_handed_over_and_mention_what_else_is_out(
    chair: Chair, side: Side
) -> None:
    lines = told_by_voice.natural_lines(chair.pack, side, 20)
    telling = [line for line in lines if line.kind is not None]
    assert len(telling) >= 25 and {line.kind for line in telling} == set(told_by_voice.NATURAL.values())
    assert len(lines) - len(telling) == 20 and all(line.natural for line in lines)
    assert not {line.item for line in telling} & set(told_by_voice.OUT)
    assert not {line.text for line in lines} & {line.text for line in told_by_voice.lines(chair.pack, side)}


def test_a_mention_that_is_noted_is_wrong(chair: Chair, tmp_path: Path) -> None:
    line = ToldLine("My mirror at home fell.", None, None, natural=True)
    assert of(line, chair, tmp_path / "a", "My cousin sails.").kind == "right"
    assert of(line, chair, tmp_path / "b", "The mirror fell on the floor.").kind == "wrong"
