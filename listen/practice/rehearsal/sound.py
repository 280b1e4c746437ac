"""The lines of a rehearsal as sound: one voice a talker, at one level, in chair noise.

Takes text, a talker and a level of noise; gives 16 kHz mono. Recorded voices speak where there are any, then
rule-made ones, then the one voice of this machine. What was spoken is kept in a folder, as in the drills; no
sound of a trainee is in it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from listen.engine import Samples
from listen.practice import voice
from listen.speech import noise, replies, voices
from listen.speech.voices import Voice
from vocab.errors import TraycallError

SPEECH_DB = -23.0
"""Active level (ITU-T P.56) of every line, in dB re full scale; voices come at levels 10 dB apart."""
HIGHEST_PEAK = 0.98
NO_VOICE = (
    "A rehearsal is heard and never read, and no voice is installed on this machine. Windows and macOS bring "
    "one; on Linux install espeak-ng (apt install espeak-ng), or anywhere a natural one: "
    "pip install 'traycall[voice]'."
)


def can_speak(language: str) -> bool:
    """Whether anything on this machine speaks the language."""
    return bool(language == "en" and _voices()) or replies.voice_name(language) is not None


class Talkers:
    """Who speaks in one rehearsal.

    Args:
        many: how many there are; fewer voices are shared.
        folder: where speech is cached; None for nowhere, with the machine's one voice.
    """

    def __init__(self, many: int, language: str, rng: np.random.Generator, folder: Path | None) -> None:
        self._language, self._folder = language, folder
        known = _voices() if language == "en" and folder is not None else ()
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
        return voice.in_chair_noise(at_level(samples), snr_db, rng)

    def _spoken(self, text: str, talker: int) -> Samples | None:
        if self._voices and self._folder is not None:
            try:
                return voices.cached(self._voices[talker % len(self._voices)], text, self._folder)
            except (TraycallError, ImportError, OSError):
                pass  # the plain voice will do
        return voice.plainly(text, self._language)


def at_level(samples: Samples) -> Samples:
    """The same speech at `SPEECH_DB`, or as near to it as its peak allows; shape = (n,)."""
    gain = 10.0 ** ((SPEECH_DB - noise.speech_level(samples).active_db) / 20.0)
    at_most = HIGHEST_PEAK / float(np.max(np.abs(samples)))
    return np.asarray(min(gain, at_most) * samples, np.float32)


def _voices() -> tuple[Voice, ...]:
    """Recorded voices, or rule-made ones where there is none."""
    return voices.available() or voices.available(formant=True)
