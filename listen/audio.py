"""Sound comes in from a file or the microphone; 16 kHz mono float32 blocks go out. A loudspeaker plays such.

Everything is streamed, so an hour costs no more memory than a second. What cannot be played raises
`AudioError`, whose text says what to do. Nothing here looks for speech.
"""

from __future__ import annotations

import importlib
import queue
import re
import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from os import PathLike
from pathlib import Path
from typing import Any, Literal

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from listen.engine import SAMPLE_RATE_HZ, Samples
from vocab.errors import TraycallError
from vocab.language.numerals import whole_number

LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 1_000, 768_000
FLOOR_DB = -120.0
"""Levels are in dB relative to full scale and never below this, so that silence is a number too."""

_CLIPPED_FROM = 0.99
_MIC_BLOCK_S = 0.032
_MIC_QUEUE_S = 30.0
_READABLE = "give a WAV, FLAC or Ogg file (ffmpeg -i YOURS out.wav converts most others)"
_PORTAUDIO_MISSING = (
    "PortAudio, which microphone and loudspeaker need, is missing: apt install libportaudio2 (Debian, "
    "Ubuntu), brew install portaudio (macOS); on Windows it comes with pip install sounddevice."
)


_Kind = Literal["input", "output"]
_KINDS: Mapping[_Kind, str] = {"input": "microphone", "output": "loudspeaker"}
_NONE_CONNECTED: Mapping[_Kind, str] = {
    "input": "no microphone is connected: plug one in, or give traycall sound files instead.",
    "output": "no loudspeaker or headphones are connected: plug some in.",
}


class AudioError(TraycallError):
    """Sound that cannot be had or heard; the text says why and what to do."""


@dataclass(frozen=True)
class Level:
    """How loud a stretch of sound is.

    `rms_db` and `peak_db` are relative to full scale; `clipped_share` is the share (0..1) of samples
    at full scale.
    """

    rms_db: float
    peak_db: float
    clipped_share: float

    @property
    def warning(self) -> str | None:
        """What a person should change about the sound, or None."""
        if self.peak_db <= -90:
            return "silent: is the microphone muted?"
        if self.clipped_share > 0.001:
            return f"clipped ({self.clipped_share:.1%} at full scale): turn the input level down"
        if self.rms_db < -50:
            return f"very quiet ({self.rms_db:.0f} dB): move the microphone closer or turn the input level up"
        return None


def level(samples: Samples) -> Level:
    """Measure `samples`, shape = (n,); no samples count as silence."""
    if not len(samples):
        return Level(FLOOR_DB, FLOOR_DB, 0.0)
    size = np.abs(samples)
    rms = float(np.sqrt(np.mean(np.square(samples, dtype=np.float64))))
    return Level(_db(rms), _db(float(size.max())), float(np.mean(size >= _CLIPPED_FROM)))


def _db(ratio: float) -> float:
    return max(FLOOR_DB, 20 * float(np.log10(ratio))) if ratio > 0 else FLOOR_DB


def file_blocks(
    path: str | PathLike[str],
    block_s: float = 0.5,
    warn: Callable[[str], None] = warnings.warn,
) -> Iterator[Samples]:
    """Play a sound file as blocks of about `block_s` seconds, shape = (n,), n > 0.

    Any sample rate; channels are averaged. A file that breaks off is played as far as it goes, and
    `warn` is then told so, after the last block.

    Raises:
        AudioError: at once for a file that is not sound or is empty; while playing for samples
            that are not numbers.
    """
    sound = _open(Path(path))
    return _resampled(_mono(sound, block_s, warn), sound.samplerate)


def _open(path: Path) -> soundfile.SoundFile:
    try:
        if path.is_dir():
            raise AudioError(f"{path} is a folder: name the sound files in it.")
        if not path.exists():
            raise AudioError(f"{path} does not exist: check the name and the folder.")
        if path.stat().st_size == 0:
            raise AudioError(f"{path} is empty (0 bytes): record or copy it again.")
        with path.open("rb"):
            pass
    except OSError as error:
        raise AudioError(
            f"{path} cannot be read ({error.strerror or error}): check its permissions."
        ) from error
    try:
        sound = _Forward(path)
    except (soundfile.SoundFileError, OSError, TypeError, ValueError) as error:
        raise AudioError(f"{path} {_why_unreadable(path)}") from error
    if not LOWEST_RATE_HZ <= sound.samplerate <= HIGHEST_RATE_HZ:
        raise AudioError(
            f"{path} gives its rate as {sound.samplerate} samples a second; {LOWEST_RATE_HZ} to "
            f"{HIGHEST_RATE_HZ} "
            "make sense: record or convert it again."
        )
    if sound.frames == 0:
        raise AudioError(f"{path} holds no sound (0 samples): record or copy it again.")
    return sound


def _why_unreadable(path: Path) -> str:
    with path.open("rb") as file:
        start = file.read(4)
    if start in (b"RIFF", b"RF64", b"fLaC", b"OggS"):
        return "is damaged or cut off in its header: record or copy it again."
    return f"is not sound traycall can read: {_READABLE}."


def _mono(sound: soundfile.SoundFile, block_s: float, warn: Callable[[str], None]) -> Iterator[Samples]:
    """Blocks at the file's own rate, shape = (n,), checked to be numbers."""
    rate_hz = sound.samplerate
    buffer = np.empty((max(1, round(block_s * rate_hz)), sound.channels), np.float32)
    played = 0
    broken = False
    with sound:
        while not broken:
            try:
                count = len(sound.read(out=buffer))
            except soundfile.SoundFileError:  # what was decoded before the damage lies in the buffer
                broken = True
                count = min(max(0, sound.tell() - played), len(buffer))
            if not count:
                break
            _refuse_non_numbers(sound.name, buffer[:count], played / rate_hz, rate_hz)
            played += count
            yield buffer[:count].mean(axis=1, dtype=np.float32)
        promised_s = _promised_frames(sound) / rate_hz
        broken = broken or _log_says_damaged(sound)
    played_s = played / rate_hz
    if not played:
        raise AudioError(f"{sound.name} is damaged before its first sound: record or copy it again.")
    if played_s < promised_s:
        warn(f"{sound.name} breaks off after {played_s:.1f} of {promised_s:.1f} s: only that much was heard.")
    elif broken:
        warn(f"{sound.name} is damaged or cut off near {played_s:.1f} s: only what is before was heard.")


def _refuse_non_numbers(name: str, frames: NDArray[np.float32], start_s: float, rate_hz: int) -> None:
    good = np.isfinite(frames).all(axis=1)
    if not good.all():
        at_s = start_s + int(np.argmin(good)) / rate_hz
        raise AudioError(
            f"{name} has samples that are not numbers (NaN or infinite), the first at {at_s:.3f} s: "
            "export it again, as 16-bit WAV if in doubt."
        )


def _promised_frames(sound: soundfile.SoundFile) -> int:
    """How many frames the header promises; libsndfile's log tells when the data are shorter."""
    frames = int(sound.frames)
    match = re.search(r"^\s*data : (\d+) \(should be (\d+)\)", sound.extra_info, re.MULTILINE)
    if match and 0 < int(match[2]) < int(match[1]) < 0x7FFF_0000:  # more: unknown, written to a pipe
        return round(frames * int(match[1]) / int(match[2]))
    return frames if frames < 2**40 else 0  # likewise


def _log_says_damaged(sound: soundfile.SoundFile) -> bool:
    return re.search(r"^Ogg : .*(unexpectedly|Corrupted)", sound.extra_info, re.MULTILINE) is not None


def _resampled(blocks: Iterable[Samples], rate_hz: float) -> Iterator[Samples]:
    """Blocks at 16 kHz, within -1..1, from mono blocks at `rate_hz`."""
    if rate_hz == SAMPLE_RATE_HZ:
        for block in blocks:
            yield np.clip(block, -1, 1)
        return
    stream = soxr.ResampleStream(rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32")
    for block in blocks:
        out = stream.resample_chunk(block)
        if len(out):
            yield np.clip(out, -1, 1)
    out = stream.resample_chunk(np.zeros(0, np.float32), last=True)
    if len(out):
        yield np.clip(out, -1, 1)


class _Forward(soundfile.SoundFile):  # type: ignore[misc]
    """A sound file read in one go; soundfile's seek after every read fails where the length is unknown."""

    def seekable(self) -> bool:
        return False


class Microphone:
    """An endless iterator over what the microphone hears: 16 kHz blocks, shape = (n,).

    `dropped` counts the moments in which sound was lost because nobody took it in time.
    """

    def __init__(self, name: str, rate_hz: float) -> None:
        self.name = name
        self.rate_hz = rate_hz
        self.dropped = 0
        self._queue: queue.Queue[Samples] = queue.Queue(round(_MIC_QUEUE_S / _MIC_BLOCK_S))
        self._stream: Any = None
        self._stopped = False
        self._blocks = _resampled(self._recorded(), rate_hz)

    def __iter__(self) -> Iterator[Samples]:
        return self

    def __next__(self) -> Samples:
        return next(self._blocks)

    def stop(self) -> None:
        """End the iteration, soon; safe to call from any thread."""
        self._stopped = True

    def _take(self, indata: NDArray[np.float32], frames: int, time: object, status: Any) -> None:
        """PortAudio's thread delivers here; it must never wait."""
        if status.input_overflow:
            self.dropped += 1
        try:
            self._queue.put_nowait(indata.mean(axis=1, dtype=np.float32))
        except queue.Full:
            self.dropped += 1

    def _recorded(self) -> Iterator[Samples]:
        while not self._stopped:
            try:
                yield self._queue.get(timeout=0.25)
            except queue.Empty:
                if not self._stream.active:
                    raise AudioError(
                        f"the microphone ({self.name}) stopped: is it still plugged in? Start again."
                    ) from None


def microphone_called(text: str | None) -> int | str | None:
    """The device that was named: by its number, else by a part of its name."""
    number = None if text is None else whole_number(text)
    return text if number is None else number


@contextmanager
def microphone_blocks(device: int | str | None = None) -> Iterator[Microphone]:
    """Open a microphone (None: the system's default; else its number or part of its name).

    It is opened at 16 kHz where the device allows, else at the device's own rate and resampled.

    Raises:
        AudioError: PortAudio or an input device is missing, or the device will not open.
    """
    sounddevice = _sounddevice()
    name, attempts = _settings(sounddevice, device, "input")
    failure: Exception | None = None
    for rate_hz, channels in attempts:
        microphone = Microphone(name, rate_hz)
        try:
            stream = sounddevice.InputStream(
                samplerate=rate_hz,
                channels=channels,
                blocksize=round(_MIC_BLOCK_S * rate_hz),
                device=device,
                dtype="float32",
                callback=microphone._take,
            )
            stream.start()
        except sounddevice.PortAudioError as error:
            failure = error
            continue
        microphone._stream = stream
        try:
            yield microphone
        finally:
            with suppress(sounddevice.PortAudioError):
                stream.close()
        return
    raise AudioError(
        f"the microphone ({name}) will not open ({failure}): close other programs that use it and allow "
        "this one to record in the system's privacy settings."
    )


def microphone_problem(device: int | str | None = None) -> str | None:
    """Why the microphone cannot be used and what to do about it, or None; nothing is recorded."""
    try:
        _settings(_sounddevice(), device, "input")
    except AudioError as error:
        return str(error)
    return None


class Loudspeaker:
    """This machine's loudspeaker, one sound at a time.

    It is opened for each sound, at 16 kHz where the device allows, else at the device's own rate.

    Raises:
        AudioError: PortAudio or an output device is missing.
    """

    def __init__(self) -> None:
        self._sounddevice = _sounddevice()
        self._name, self._attempts = _settings(self._sounddevice, None, "output")
        self._stream: Any = None

    @property
    def sounding(self) -> bool:
        """Whether the last sound is not over yet."""
        return self._stream is not None and bool(self._stream.active)

    def play(self, samples: Samples) -> None:
        """Begin to play a sound, shape = (n,), 16 kHz mono, and return at once; what sounded before stops.

        Raises:
            AudioError: the device will not open.
        """
        self.stop()
        failure: Exception | None = None
        for rate_hz, channels in self._attempts:
            sound = np.clip(soxr.resample(samples, SAMPLE_RATE_HZ, rate_hz), -1, 1).astype(np.float32)
            try:
                self._stream = self._sounddevice.OutputStream(
                    samplerate=rate_hz,
                    channels=channels,
                    dtype="float32",
                    callback=self._feeder(sound),
                )
                self._stream.start()
            except self._sounddevice.PortAudioError as error:
                failure = error
                continue
            return
        raise AudioError(f"the loudspeaker ({self._name}) will not open ({failure}): is it in use?")

    def stop(self) -> None:
        """Stop what sounds."""
        if self._stream is not None:
            with suppress(self._sounddevice.PortAudioError):
                self._stream.close()
            self._stream = None

    def _feeder(self, sound: NDArray[np.float32]) -> Callable[..., None]:
        """PortAudio's thread takes from it until nothing is left; what it has then is still played."""
        at, over = 0, self._sounddevice.CallbackStop

        def feed(outdata: NDArray[np.float32], frames: int, time: object, status: object) -> None:
            nonlocal at
            part = sound[at : at + frames]
            outdata[: len(part)] = part[:, None]
            outdata[len(part) :] = 0.0
            at += frames
            if at >= len(sound):
                raise over

        return feed


def _sounddevice() -> Any:
    try:
        return importlib.import_module("sounddevice")
    except ModuleNotFoundError as error:
        raise AudioError(
            "microphone and loudspeaker need the package sounddevice: pip install sounddevice"
        ) from error
    except OSError as error:
        raise AudioError(_PORTAUDIO_MISSING) from error


def _settings(sounddevice: Any, device: int | str | None, kind: _Kind) -> tuple[str, list[tuple[float, int]]]:
    """The device's name and the (rate, channels) to try, best first."""
    called, counted = _KINDS[kind], f"max_{kind}_channels"
    try:
        found = sounddevice.query_devices(device, kind)
    except (sounddevice.PortAudioError, ValueError) as error:
        names = [f"{i} {d['name']}" for i, d in enumerate(sounddevice.query_devices()) if d[counted]]
        if not names:
            raise AudioError(_NONE_CONNECTED[kind]) from error
        wanted = f"no default {called} is set" if device is None else f"no single {called} matches {device!r}"
        raise AudioError(f"{wanted}: choose one of {'; '.join(names)}.") from error
    own_rate_hz, channels = found["default_samplerate"], found[counted]
    tries = [(float(SAMPLE_RATE_HZ), 1), (own_rate_hz, 1), (own_rate_hz, channels)]
    return found["name"], list(dict.fromkeys(tries))
