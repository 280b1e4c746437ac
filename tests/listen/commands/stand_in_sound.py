"""Stands for the package sounddevice in a process of its own: writes each sound to the folder SOUND_OUT.

`test_rehearse.py` copies it to where that process finds it under that name.

A sound is over after as long as it lasts; then there is an empty file "NNN.over" beside its WAV file.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

_OUT = Path(os.environ.get("SOUND_OUT", "."))


class PortAudioError(Exception):
    pass


class CallbackStop(Exception):
    pass


def query_devices(device: object = None, kind: str | None = None) -> Any:
    one = {
        "name": "Headphones",
        "max_input_channels": 0,
        "max_output_channels": 2,
        "default_samplerate": 48_000.0,
    }
    return [one] if kind is None else one


class OutputStream:
    def __init__(self, samplerate: float, channels: int, dtype: str, callback: Callable[..., None]) -> None:
        assert dtype == "float32"
        self._rate_hz, self._channels, self._callback = round(samplerate), channels, callback
        self._number = len(list(_OUT.glob("*.wav"))) + 1
        self._timer: threading.Timer | None = None
        self.active = False

    def start(self) -> None:
        blocks, over = [], False
        while not over:
            block = np.zeros((512, self._channels), np.float32)
            try:
                self._callback(block, len(block), None, None)
            except CallbackStop:
                over = True
            blocks.append(block)
        sound = np.concatenate(blocks)
        soundfile.write(_OUT / f"{self._number:03d}.wav", sound, self._rate_hz, subtype="FLOAT")
        self.active = True
        self._timer = threading.Timer(len(sound) / self._rate_hz, self._over)
        self._timer.daemon = True
        self._timer.start()

    def close(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self.active = False

    def _over(self) -> None:
        self.active = False
        (_OUT / f"{self._number:03d}.over").touch()
