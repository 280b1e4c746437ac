"""Hears a request, works out what is meant, and shows it; nothing leaves this machine.

    from listen import ChairOptions, file_blocks, open_chair, utterances

    chair = open_chair(ChairOptions(procedure="composite_class_two"))
    assistant = chair.assistant(chair.engine())
    for utterance in utterances(file_blocks("request.wav")):
        for answer in assistant.hear(utterance, "request.wav"):
            print(answer.to_json())

What is listed here is for other programs to use; each name is loaded where it is first asked for. `vocab` has
what needs no sound. What a caller can put right raises `vocab.TraycallError`.

onnxruntime 1.29 and later tell their maker what they run on, from the moment they are imported, unless this
is set before. Processes that are started from here take it over.
"""

from __future__ import annotations

import os
import sys
import warnings
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from listen.answer import Answer, Likely
    from listen.assistant import Assistant
    from listen.audio import AudioError, file_blocks, microphone_blocks
    from listen.chair import Chair, ChairOptions, EngineName, open_chair
    from listen.engine import SAMPLE_RATE_HZ, Engine, Hearing, Phrasing, Samples
    from listen.segments import Segmenter, Utterance, utterances
    from listen.verdict import Verdict

__all__ = [
    "SAMPLE_RATE_HZ",
    "Answer",
    "Assistant",
    "AudioError",
    "Chair",
    "ChairOptions",
    "Engine",
    "EngineName",
    "Hearing",
    "Likely",
    "Phrasing",
    "Samples",
    "Segmenter",
    "Utterance",
    "Verdict",
    "file_blocks",
    "microphone_blocks",
    "open_chair",
    "utterances",
]

_OFF = "ORT_DISABLE_TELEMETRY"

if "onnxruntime" in sys.modules and os.environ.get(_OFF) != "1":
    warnings.warn(
        f"onnxruntime was imported before listen and may report to its maker: import listen first, or set "
        f"{_OFF}=1",
        stacklevel=2,
    )
os.environ[_OFF] = "1"

if not TYPE_CHECKING:
    _HOMES = {
        "SAMPLE_RATE_HZ": "listen.engine",
        "Answer": "listen.answer",
        "Assistant": "listen.assistant",
        "AudioError": "listen.audio",
        "Chair": "listen.chair",
        "ChairOptions": "listen.chair",
        "Engine": "listen.engine",
        "EngineName": "listen.chair",
        "Hearing": "listen.engine",
        "Likely": "listen.answer",
        "Phrasing": "listen.engine",
        "Samples": "listen.engine",
        "Segmenter": "listen.segments",
        "Utterance": "listen.segments",
        "Verdict": "listen.verdict",
        "file_blocks": "listen.audio",
        "microphone_blocks": "listen.audio",
        "open_chair": "listen.chair",
        "utterances": "listen.segments",
    }

    def __getattr__(name: str) -> object:
        if name in _HOMES:
            return getattr(import_module(_HOMES[name]), name)
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
