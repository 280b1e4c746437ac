"""The systems that are compared: ours, and peers on the same sound with the same resolver.

An `Engine` by name comes out of `load`; its hearings are kept by the runner. `outcome` then says what a
system makes of a hearing: all are read, weighed and judged by the same code, with nothing asked for
before unless it is told what was expected. A system that gives only text is resolved as typed requests are.
Judging apart from hearing lets weights change without hearing everything again.
"""

from __future__ import annotations

import importlib.util
import math
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from listen.engine import SAMPLE_RATE_HZ, Engine, Hearing, Samples
from listen.pause import Wholeness
from listen.readings import Reader, Readings, load_calibration
from listen.verdict import Costs, Judgement, Verdict, judge
from vocab.errors import TraycallError
from vocab.language.pronounce import Pronouncer
from vocab.language.tokens import spoken_forms
from vocab.pack.schema import Pack
from vocab.procedure.step_tables import USUAL
from vocab.requests.lexicon import Lexicon

THREADS = 2
SPHINX_PATHS = 1000
"""Most paths PocketSphinx keeps a frame under our grammar. Its default of 30,000 took up to 16 s a clip in
noise and heard the same on 36 of 37 clips tried; the other was chatter heard as nonsense both times."""
KEPT_P = 1e-4
"""Items less likely than this are not kept in an outcome."""
NOTHING_EXPECTED: Mapping[str, float] = {}


class NoPeer(TraycallError):
    """A system cannot run here; the text says what it needs."""


@dataclass(frozen=True)
class System:
    """One row of the comparison: which engine hears, and whether its scores or only its text are used."""

    name: str
    title: str
    engine: str
    scored: bool


SYSTEMS = (
    System("neural", "traycall, embedded engine", "neural", scored=True),
    System("neural-text", "free text of the same model, best text resolver", "neural", scored=False),
    System("untaught", "the same without the adapter", "untaught", scored=True),
    System(
        "sphinx-text", "PocketSphinx, its language model, best text resolver", "sphinx-text", scored=False
    ),
    System("sphinx-grammar", "PocketSphinx, grammar of our cues and names", "sphinx-grammar", scored=False),
    System("vosk", "Vosk with our grammar", "vosk", scored=True),
)

RECIPE = "2"
"""Part of every mark below; raise it when the peers are set up otherwise."""

_SOUNDS = ("language/pronounce.py", "language/g2p.py", "language/data/*.npz", "language/data/*.gz")

ENGINE_CODE = {
    "neural": ("neural/*.py", "neural/*.npz", "engine.py", "language/tokens.py"),
    "untaught": ("neural/*.py", "engine.py", "language/tokens.py"),
    "sphinx-text": (),
    "sphinx-grammar": (*_SOUNDS, "language/tokens.py"),
    "vosk": ("vosk/*.py", *_SOUNDS, "language/tokens.py"),
}
"""Code of `listen` and `vocab` that decides what an engine hears; when it changes, clips are heard again."""


def find(names: Sequence[str], vosk_model: Path | None) -> tuple[System, ...]:
    """The systems of these names.

    Raises:
        NoPeer: one is unknown or cannot run here.
    """
    known = {system.name: system for system in SYSTEMS}
    for name in names:
        if name not in known:
            raise NoPeer(f"no system is called {name!r}; there are: {', '.join(known)}")
        if name.startswith("sphinx") and importlib.util.find_spec("pocketsphinx") is None:
            raise NoPeer(f"{name} needs PocketSphinx: pip install pocketsphinx, or leave it out of --systems")
        if name == "vosk" and vosk_model is None:
            raise NoPeer("vosk needs a model folder: name it with --vosk-model, or leave it out of --systems")
    return tuple(known[name] for name in dict.fromkeys(names))


def load(engine: str, pack: Pack, vosk_model: Path | None = None, adapter: Path | None = None) -> Engine:
    """The engine of this name, bound to a pack and ready to hear; `adapter` in place of the shipped one."""
    if engine in ("neural", "untaught"):
        from listen.neural.engine import NeuralEngine
        from listen.neural.weights import ADAPTER

        taught = None if engine == "untaught" else adapter or ADAPTER
        return NeuralEngine(pack, threads=THREADS, adapter=taught)
    if engine == "vosk":
        return _vosk(pack, vosk_model)
    return Sphinx(engine, pack if engine == "sphinx-grammar" else None)


def _vosk(pack: Pack, model: Path | None) -> Engine:
    from listen.chair import Chair, ChairOptions, EngineName

    return Chair(ChairOptions(engine=EngineName.VOSK, model=model), pack, None, None).engine()


# ---------------------------------------------------------------- from hearings to outcomes


@dataclass(frozen=True)
class SystemOutcome:
    """What a system made of one clip.

    `top` are single items with their probability of having been asked for, likeliest first; `item` is the
    first of them (None without any), the choice where one is forced. `verdict` is what the system would
    do, `named` what it would answer (items, or the action or kind where there is none), `offered` what a
    check would show. `p_nothing` is its probability that nothing was asked for; `ms` what judging took;
    `enough_s` the silence after which it is answered where it was heard in a pause (`listen.pause`).
    """

    item: str | None
    p: float
    p_nothing: float
    verdict: Verdict
    named: tuple[str, ...]
    offered: tuple[str, ...]
    top: tuple[tuple[str, float], ...]
    heard: str
    ms: float
    enough_s: float | None = None


def nothing_asked_yet(pack: Pack) -> Mapping[str, float]:
    """Log-probability of each item where no procedure is known: all alike, but for those of other fields,
    which get the share that a procedure leaves them."""
    if not pack.beyond:
        return NOTHING_EXPECTED
    home, elsewhere = len(pack.items) - len(pack.beyond), USUAL.stray / 2 * USUAL.beyond
    own, other = (1 - elsewhere) / home, elsewhere / len(pack.beyond)
    return {item: math.log(other if item in pack.beyond else own) for item in pack.by_id}


class SystemJudge:
    """Turns hearings into outcomes for one pack.

    Args:
        reader: reads for the embedded engine; None: one with the shipped calibration.
    """

    def __init__(self, pack: Pack, costs: Costs | None = None, reader: Reader | None = None) -> None:
        from listen.chair import vosk_calibration

        self._pack, self._costs, self._wholeness = pack, costs or Costs(), Wholeness(pack)
        lexicon = Lexicon(pack)
        self.reader = reader or Reader(pack, lexicon, load_calibration())
        self._vosk = Reader(pack, lexicon, vosk_calibration())
        self._usual = nothing_asked_yet(pack)

    def outcome(
        self, system: System, hearing: Hearing, log_prior: Mapping[str, float] = NOTHING_EXPECTED
    ) -> SystemOutcome:
        """What the system makes of a hearing of its engine, where `log_prior` was expected.

        Without one, items of other fields are still expected less than the pack's own.
        """
        log_prior = log_prior or self._usual
        began = time.perf_counter()
        if system.scored:
            reader = self._vosk if system.engine == "vosk" else self.reader
            readings = reader.of_hearing(hearing, log_prior)
        else:
            readings = self.reader.of_text(hearing.free_text, log_prior)
        judgements = judge(readings, self._pack, self._costs)
        ms = 1000 * (time.perf_counter() - began)
        heard = readings.ways[0].text if readings.ways else hearing.free_text
        enough_s = self._wholeness.enough_s(judgements, heard, hearing.free_text)
        return replace(_outcome(readings, judgements, heard, ms), enough_s=enough_s)

    def typed(self, text: str) -> SystemOutcome:
        """What is made of typed words."""
        began = time.perf_counter()
        readings = self.reader.of_text(text, self._usual)
        judgements = judge(readings, self._pack, self._costs)
        return _outcome(readings, judgements, text, 1000 * (time.perf_counter() - began))


def item_ps(readings: Readings) -> dict[str, float]:
    """How probable it is of each item that it was asked for, and nothing else."""
    items: dict[str, float] = {}
    for way in readings.ways:
        if len(way.requests) == 1:
            for candidate in way.requests[0].candidates:
                items[candidate.item] = items.get(candidate.item, 0.0) + way.p * candidate.p
    return items


def _outcome(readings: Readings, judgements: Sequence[Judgement], heard: str, ms: float) -> SystemOutcome:
    loud = [j for j in judgements if j.verdict is not Verdict.QUIET and _acts(j)]
    answers = [j for j in loud if j.verdict is Verdict.ANSWER]
    checks = [j for j in loud if j.verdict is Verdict.CHECK]
    ranked = sorted(item_ps(readings).items(), key=lambda pair: -pair[1])
    return SystemOutcome(
        item=ranked[0][0] if ranked else None,
        p=ranked[0][1] if ranked else 0.0,
        p_nothing=readings.p_nothing,
        verdict=Verdict.CHECK if checks else Verdict.ANSWER if answers else Verdict.QUIET,
        named=tuple(_name(j) for j in answers),
        offered=tuple(item for j in checks for item in (j.item, *(i for i, _ in j.alternatives[:2])) if item),
        top=tuple(pair for pair in ranked if pair[1] >= KEPT_P),
        heard=heard,
        ms=ms,
    )


def _acts(judgement: Judgement) -> bool:
    """Whether the tool would do anything: not on a refusal, nor on "the same" with nothing before it."""
    request = judgement.request
    if request.kind == "refusal":
        return False
    return request.kind not in ("repeat", "modifier") or bool(judgement.item or request.action)


def _name(judgement: Judgement) -> str:
    return judgement.item or judgement.request.action or judgement.request.kind


# ---------------------------------------------------------------- PocketSphinx


class Sphinx:
    """PocketSphinx with the model inside its wheel; held to a grammar where a pack is given (`Engine`).

    Its hearing is text only: what it decoded stands in `free_text`.
    """

    def __init__(self, name: str, pack: Pack | None = None) -> None:
        import pocketsphinx

        self.name = name
        # Mean normalisation over the whole utterance, so that no clip depends on the one before it.
        options: dict[str, Any] = {"samprate": 16_000, "cmn": "batch", "loglevel": "FATAL"}
        if pack is not None:
            options |= {"lm": None, "maxhmmpf": SPHINX_PATHS}
        self._decoder: Any = pocketsphinx.Decoder(**options)
        if pack is not None:
            cues, names, endings = request_forms(pack)
            self._add_words({word for form in (*cues, *names, *endings) for word in form.split()})
            self._decoder.add_jsgf_string("requests", jsgf(cues, names, endings))
            self._decoder.activate_search("requests")

    def _add_words(self, words: Iterable[str]) -> None:
        say = Pronouncer()
        for word in sorted(words):
            if self._decoder.lookup_word(word) is None:
                self._decoder.add_word(word, " ".join(say.phones(word)), True)

    def hear(self, samples: Samples) -> Hearing:
        """Decode one utterance, shape = (n,), 16 kHz."""
        self._decoder.start_utt()
        sound = (np.clip(samples, -1.0, 1.0) * 32_767).astype(np.int16).tobytes()
        self._decoder.process_raw(sound, False, True)
        self._decoder.end_utt()
        found = self._decoder.hyp()
        text = found.hypstr if found else ""
        return Hearing((), text, 0.0, -math.inf, len(samples) / SAMPLE_RATE_HZ)


def request_forms(pack: Pack) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Cues, names and endings in words that can all be said."""
    say = Pronouncer()
    names = (
        form
        for item in pack.items
        for name in item.names
        for text in name.ways_to_say
        for form in spoken_forms(text)
    )
    speech = pack.speech
    kept = (
        dict.fromkeys(
            text for form in forms if (text := _speakable(form)) and all(map(say.phones, text.split()))
        )
        for forms in (speech.cues, names, speech.endings)
    )
    cues, said, endings = (tuple(group) for group in kept)
    return cues, said, endings


def _speakable(form: str) -> str:
    """Words as a JSGF may hold them: letters and apostrophes only."""
    return " ".join("".join(c if c.isalpha() or c == "'" else " " for c in form.lower()).split())


def jsgf(cues: Sequence[str], names: Sequence[str], endings: Sequence[str]) -> str:
    """A grammar of one name with a cue before and an ending after it.

    Phrases with the same first words share them, or the decoder takes many times as long.
    """
    rules = {"cue": cues, "name": names, "ending": endings}
    written = [f"<{rule}> = {_alternatives(phrases)};" for rule, phrases in rules.items() if phrases]
    cue, ending = ("[<cue>] " if cues else ""), (" [<ending>]" if endings else "")
    return "\n".join(
        ["#JSGF V1.0;", "grammar requests;", f"public <request> = {cue}<name>{ending};", *written, ""]
    )


def _alternatives(phrases: Iterable[str]) -> str:
    """Phrases as one expression that writes a common first word once."""
    rest: dict[str, list[str]] = {}
    for phrase in phrases:
        first, _, after = phrase.partition(" ")
        rest.setdefault(first, []).append(after)
    parts = []
    for first, following in rest.items():
        longer = [after for after in dict.fromkeys(following) if after]
        inner = _alternatives(longer) if longer else ""
        may_end = "" in following
        parts.append(first + (f" [{inner}]" if inner and may_end else f" ({inner})" if inner else ""))
    return " | ".join(parts)
