"""A stand-in for the sounddevice module, as no test machine need have a microphone."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from listen.engine import Samples


class PortAudioError(Exception):
    pass


class FakeStream:
    def __init__(
        self, callback: Callable[..., None], samplerate: float, channels: int, blocksize: int, **_: Any
    ):
        self.callback, self.rate_hz, self.channels, self.blocksize = callback, samplerate, channels, blocksize
        self.active = self.closed = False

    def start(self) -> None:
        self.active = True

    def close(self) -> None:
        self.active, self.closed = False, True

    def deliver(self, block: Samples, overflow: bool = False) -> None:
        indata = np.repeat(block[:, None], self.channels, axis=1)
        self.callback(indata, len(indata), None, SimpleNamespace(input_overflow=overflow))


class CallbackStop(Exception):
    pass


class FakeOutput:
    """A loudspeaker that takes all of a sound at once, and keeps it; shape = (frames, channels)."""

    BLOCK = 512

    def __init__(self, callback: Callable[..., None], samplerate: float, channels: int, **_: Any) -> None:
        self.callback, self.rate_hz, self.channels = callback, samplerate, channels
        self.played = np.zeros((0, channels), np.float32)
        self.active = False

    def start(self) -> None:
        over = False
        while not over:
            block = np.full((self.BLOCK, self.channels), np.nan, np.float32)
            try:
                self.callback(block, len(block), None, None)
            except CallbackStop:
                over = True
            self.played = np.concatenate((self.played, block))

    def close(self) -> None:
        self.active = False


class FakeSounddevice:
    """Devices 0 (no input) and 1; `accepts` says at which (rate, channels) the latter opens. Both play."""

    PortAudioError, CallbackStop = PortAudioError, CallbackStop

    def __init__(
        self, accepts: set[tuple[float, int]], default: int | None = 1, inputs: int = 2, outputs: int = 2
    ) -> None:
        self.accepts, self.default = accepts, default
        self.devices = [
            {
                "name": "Speaker",
                "max_input_channels": 0,
                "max_output_channels": outputs,
                "default_samplerate": 48_000.0,
            },
            {
                "name": "Headset",
                "max_input_channels": inputs,
                "max_output_channels": outputs,
                "default_samplerate": 44_100.0,
            },
        ]
        self.streams: list[FakeStream] = []
        self.sounds: list[FakeOutput] = []

    def query_devices(self, device: int | str | None = None, kind: str | None = None) -> Any:
        if kind is None:
            return self.devices
        channels = f"max_{kind}_channels"
        if isinstance(device, str):
            found = [d for d in self.devices if device in str(d["name"]) and d[channels]]
            if not found:
                raise ValueError(f"No input device matching {device!r}")
            return found[0]
        number = self.default if device is None else device
        if number is None:
            raise PortAudioError("Error querying device -1")
        if not self.devices[number][channels]:
            raise ValueError(f"Not an {kind} device")
        return self.devices[number]

    def InputStream(self, **settings: Any) -> FakeStream:  # noqa: N802
        if (settings["samplerate"], settings["channels"]) not in self.accepts:
            raise PortAudioError("Invalid sample rate [PaErrorCode -9997]")
        self.streams.append(FakeStream(**settings))
        return self.streams[-1]

    def OutputStream(self, **settings: Any) -> FakeOutput:  # noqa: N802
        if (settings["samplerate"], settings["channels"]) not in self.accepts:
            raise PortAudioError("Invalid sample rate [PaErrorCode -9997]")
        self.sounds.append(FakeOutput(**settings))
        return self.sounds[-1]


def install(monkeypatch: pytest.MonkeyPatch, fake: FakeSounddevice) -> FakeSounddevice:
    monkeypatch.setitem(sys.modules, "sounddevice", fake)
    return fake
