"""The lines of a rehearsal as sound: one voice a talker, at one level, in chair noise.

Takes text, a talker and a level of noise; gives 16 kHz mono. Recorded voices speak where there are any, then
rule-made ones, then the one voice of this machine; in Spanish, of which no recorded voice is known, the voice
of the operating system comes before rule-made ones. What was spoken is kept in a folder, as in the drills; no
sound of a trainee is in it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.practice import voice
from listen.practice.rehearsal.languages import NAMES
from listen.speech import noise, replies, voices
from listen.speech.voices import Sex, Voice
from vocab.errors import TraycallError

SPEECH_DB = -23.0
"""Active level (ITU-T P.56) of every line, in dB re full scale; voices come at levels 10 dB apart."""
HIGHEST_PEAK = 0.98
FAINTEST_DB, MARGIN_S = -40.0, 0.05
"""What is fainter than this below the peak at either end is cut off but for a margin: voices leave up to half
a second of silence there, and who listens to one of them would seem to answer the sooner."""
_SPANISH: tuple[tuple[str, Sex], ...] = (
    ("es-419+f2", "woman"),
    ("es+m3", "man"),
    ("es-419+m1", "man"),
    ("es+f4", "woman"),
    ("es-419+m7", "man"),
)
SPANISH_VOICES = tuple(
    Voice(id, id, "espeak-ng", "tune", how, "Spanish", sex)
    for how, sex in _SPANISH
    for id in (f"espeak-{how.replace('+', '-')}",)
)
"""Rule-made; they speak in rehearsals only, and no figure comes from them."""


def no_voice(language: str) -> str:
    """What to do where nothing speaks the language."""
    natural = ", or anywhere a natural one: pip install 'traycall[voice]'" if language == "en" else ""
    spoken = NAMES.get(language, language)
    return (
        f"A rehearsal in {spoken} is heard and never read, and no voice is installed here that speaks it. "
        f"Windows and macOS bring one; on Linux install espeak-ng (apt install espeak-ng){natural}."
    )


def can_speak(language: str) -> bool:
    """Whether anything on this machine speaks the language."""
    return bool(_voices(language)) or replies.voice_name(language) is not None


def is_rule_made(language: str) -> bool:
    """Whether all that speaks the language here is made by rules, and not recorded from anybody."""
    return all(voice.formant for voice in _voices(language)) and replies.voice_name(language) in (
        None,
        replies.SPARE,
    )


class Talkers:
    """Who speaks in one rehearsal.

    Args:
        many: how many there are; fewer voices are shared.
        folder: where speech is cached; None for nowhere, with the machine's one voice.
    """

    def __init__(self, many: int, language: str, rng: np.random.Generator, folder: Path | None) -> None:
        self._language, self._folder = language, folder
        known = _voices(language) if folder is not None else ()
        order = rng.permutation(len(known))
        self._voices: tuple[Voice, ...] = tuple(known[int(i)] for i in order[:many])
        self._seed = int(rng.integers(2**32))

    @property
    def names(self) -> tuple[str, ...]:
        """What the voices are called."""
        return tuple(v.id for v in self._voices) or (replies.voice_name(self._language) or "none",)

    def said(self, text: str, talker: int, number: int, snr_db: float | None) -> Samples | None:
        """A line, shape = (n,), float32, 16 kHz mono; None where no voice could speak it.

        Args:
            number: of the line, so that its noise is the same when it is said again.
            snr_db: active speech over chair noise; None for quiet.
        """
        samples = self._spoken(text, talker)
        if samples is None or not np.any(samples):
            return None
        rng = np.random.default_rng([self._seed, number])
        return voice.in_chair_noise(at_level(trimmed(samples)), snr_db, rng)

    def _spoken(self, text: str, talker: int) -> Samples | None:
        if self._voices and self._folder is not None:
            try:
                return voices.cached(self._voices[talker % len(self._voices)], text, self._folder)
            except (TraycallError, ImportError, OSError):
                pass  # the plain voice will do
        return voice.plainly(text, self._language)


def trimmed(samples: Samples) -> Samples:
    """The same speech without the silence around it; shape = (at most n,)."""
    heard = np.flatnonzero(np.abs(samples) >= 10.0 ** (FAINTEST_DB / 20.0) * np.max(np.abs(samples)))
    margin = round(MARGIN_S * SAMPLE_RATE_HZ)
    return samples[max(0, heard[0] - margin) : heard[-1] + margin + 1]


def at_level(samples: Samples) -> Samples:
    """The same speech at `SPEECH_DB`, or as near to it as its peak allows; shape = (n,)."""
    gain = 10.0 ** ((SPEECH_DB - noise.speech_level(samples).active_db) / 20.0)
    at_most = HIGHEST_PEAK / float(np.max(np.abs(samples)))
    return np.asarray(min(gain, at_most) * samples, np.float32)


def _voices(language: str) -> tuple[Voice, ...]:
    """In English recorded voices, or rule-made ones where there is none; in Spanish rule-made ones, unless
    this machine has a voice of its own."""
    if language == "en":
        return voices.available() or voices.available(formant=True)
    if language == "es" and replies.voice_name(language) == replies.SPARE:
        return SPANISH_VOICES
    return ()
