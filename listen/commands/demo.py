"""Runs the scripted recordings through the real engine and counts the results.

Takes a folder with `manifest.jsonl` and its sound files, and an assistant; yields one `DemoOutcome` per
recording. The recordings are one session, in their order; none is skipped or repeated.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Any, Literal

import listen
from listen.answer import Answer
from listen.assistant import Assistant
from listen.audio import file_blocks
from listen.segments import Segmenter, utterances
from listen.verdict import Verdict
from vocab.errors import TraycallError

FOLDER = "recordings_demo"
PROCEDURE = "composite_class_two"

Result = Literal["right", "checked", "wrong", "missed", "quiet", "asked", "answered"]
REQUEST_RESULTS: tuple[Result, ...] = ("right", "checked", "wrong", "missed")
CHATTER_RESULTS: tuple[Result, ...] = ("quiet", "asked", "answered")


class NoRecordings(TraycallError):
    """The folder of recordings or its manifest is missing or damaged."""


@dataclass(frozen=True)
class Recording:
    """One line of the manifest. `items` were asked for; `noise` is None in quiet."""

    path: Path
    text: str
    kind: str
    items: tuple[str, ...]
    action: str | None
    end: str | None
    quantity: int | None
    noise: str | None


@dataclass(frozen=True)
class DemoOutcome:
    """The result of one recording.

    For a request: right (item, action, end and number all as asked), checked (the right one was among
    those offered), wrong (something else was answered, or the item with another end or number),
    missed (silence, or a check without the right one). For chatter: quiet,
    asked (a check was shown) or answered.
    """

    recording: Recording
    result: Result
    answers: tuple[Answer, ...]


def find_folder(given: Path | None) -> Path:
    """The recordings: the folder given, or the one beside the package, or the one in this folder.

    Raises:
        NoRecordings: there is none.
    """
    beside = Path(next(iter(listen.__path__))).parent / FOLDER
    for folder in (given,) if given else (beside, Path.cwd() / FOLDER):
        if (folder / "manifest.jsonl").is_file():
            return folder
    where = f"in {given}" if given else f"beside the package or in {Path.cwd()}"
    raise NoRecordings(
        f"there is no {FOLDER}/manifest.jsonl {where}: run this in a checkout of traycall, or name the "
        "folder of recordings."
    )


def read_manifest(folder: Path) -> tuple[Recording, ...]:
    """The recordings in the order they were spoken. Raises NoRecordings for a damaged manifest."""
    file = folder / "manifest.jsonl"
    recordings = []
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), start=1):
        try:
            recordings.append(_recording(folder, json.loads(line)))
        except (json.JSONDecodeError, KeyError, TypeError) as error:
            raise NoRecordings(
                f"{file}:{number} is not a valid manifest line ({error}): get it again, or run make.py."
            ) from error
    if not recordings:
        raise NoRecordings(f"{file} is empty: get it again, or run make.py.")
    return tuple(recordings)


def _recording(folder: Path, entry: dict[str, Any]) -> Recording:
    asked = entry["item"]
    items = tuple(asked) if isinstance(asked, list) else (asked,) if asked else ()
    return Recording(
        path=folder / entry["file"],
        text=entry["text"],
        kind=entry["kind"],
        items=items,
        action=entry.get("action"),
        end=entry.get("end"),
        quantity=entry.get("quantity"),
        noise=entry["noise"],
    )


def play(recordings: Iterable[Recording], assistant: Assistant) -> Iterator[DemoOutcome]:
    """Hear the recordings one after another."""
    for recording in recordings:
        heard = utterances(file_blocks(recording.path), Segmenter())
        answers = tuple(a for utterance in heard for a in assistant.hear(utterance, recording.path.name))
        yield DemoOutcome(recording, result_of(recording, answers), answers)


def result_of(recording: Recording, answers: Sequence[Answer]) -> Result:
    """How the answers compare with what was asked."""
    loud = [answer for answer in answers if answer.verdict is not Verdict.QUIET]
    answered = [answer for answer in loud if answer.verdict is Verdict.ANSWER]
    if recording.kind == "chatter":
        return "answered" if answered else "asked" if loud else "quiet"
    if recording.kind == "refusal":
        if answered:
            return "wrong"
        return "right" if any(answer.kind == "refusal" for answer in answers) and not loud else "missed"
    if len(answered) == len(loud) and _all_asked(recording, answered):
        return "right"
    if any(not _offered(recording, [answer]) for answer in answered):
        return "wrong"
    if not _covers(recording, loud):
        return "missed"
    return "checked" if len(answered) < len(loud) else "wrong"


def _all_asked(recording: Recording, answered: Sequence[Answer]) -> bool:
    """Whether the answers are just what was asked, in the order it was said."""
    if recording.action is not None and [a.action for a in answered] != [recording.action]:
        return False
    if recording.end is not None and all(a.end != recording.end for a in answered):
        return False
    if recording.quantity is not None and all(a.quantity != recording.quantity for a in answered):
        return False
    return tuple(a.item for a in answered if a.item) == recording.items and bool(answered)


def _offered(recording: Recording, answers: Sequence[Answer]) -> bool:
    """Whether everything in the answers was asked for."""
    return all(a.item in recording.items if a.item else a.action == recording.action for a in answers)


def _covers(recording: Recording, loud: Sequence[Answer]) -> bool:
    """Whether every item asked for is answered or among those a check offers."""
    seen = {item for a in loud for item in (a.item, *(likely.item for likely in a.alternatives[:2]))}
    return bool(recording.items) and set(recording.items) <= seen


def counts(outcomes: Iterable[DemoOutcome]) -> dict[str, int]:
    """Number of each result; all seven are there."""
    total: dict[str, int] = dict.fromkeys((*REQUEST_RESULTS, *CHATTER_RESULTS), 0)
    for outcome in outcomes:
        total[outcome.result] += 1
    return total


def summary_json(outcomes: Sequence[DemoOutcome], engine: str) -> str:
    """The counts as one JSON object; `latency_ms` is the median over utterances, null without any."""
    latencies = [answer.latency_ms for outcome in outcomes for answer in outcome.answers]
    requests = [outcome for outcome in outcomes if outcome.recording.kind != "chatter"]
    return json.dumps(
        {
            "requests": len(requests),
            "chatter": len(outcomes) - len(requests),
            **counts(outcomes),
            "engine": engine,
            "latency_ms": round(median(latencies), 1) if latencies else None,
        }
    )
