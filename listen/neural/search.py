"""The search: one utterance against every phrasing of the grammar, and against anything else.

From what the network heard and the grammar with its prior it returns complete phrasings with raw and prior
log-scores, along with the free decode of the same audio. Partials are extended level by level, each level
in one call; the free decode is extended in the same calls. It never decides on an item.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from listen.neural.grammar import START, Grammar, Trie
from listen.neural.network import Encoded, Network
from listen.neural.tokenizer import END
from listen.neural.tree import ROOT, TokenTree


@dataclass(frozen=True)
class SearchSettings:
    """How wide to look.

    width: most partials extended at a level; margin: nats below the level's best at which a
    partial is dropped; hopeless: nats by which the grammar may fall behind the free decode of equal
    length before it is given up; most: limit on partials extended in all; longest: most tokens
    of a phrasing; longest_free: most tokens of the free decode.
    """

    width: int = 32
    margin: float = 9.0
    hopeless: float = 30.0
    most: int = 600
    longest: int = 24
    longest_free: int = 96


@dataclass(frozen=True)
class Scored:
    """A token sequence without begin and end mark, its log-probability and its bias (nats)."""

    tokens: tuple[int, ...]
    log_p: float
    bias: float

    @property
    def score(self) -> float:
        """What phrasings are compared by: the log-probability with the decoder's own preference removed."""
        return self.log_p + self.bias


@dataclass(frozen=True)
class Found:
    """The complete phrasings found, in no order, and the free decode (its bias is 0).

    free: cut at the length of the longest phrasing, if it is longer than any; written: the whole of it.
    """

    phrasings: tuple[Scored, ...]
    free: Scored
    written: tuple[int, ...]


@dataclass(frozen=True)
class _Partials:
    """The live partials of one length: arrays of shape = (k,) and their token sequences."""

    nodes: list[int]
    states: NDArray[np.int64]
    log_p: NDArray[np.float64]
    bias: NDArray[np.float64]
    tokens: list[tuple[int, ...]]


def search(network: Network, heard: Encoded, grammar: Grammar, settings: SearchSettings) -> Found:
    """Score the grammar, and the best free decode, against one utterance."""
    tree = TokenTree(network, heard)
    one = np.zeros(1)
    live = _Partials([ROOT], np.array([START]), one, one, [()])
    free_node, free, free_open = ROOT, Scored((), 0.0, 0.0), True
    complete: list[Scored] = []
    for _ in range(settings.longest):
        complete += _ended(live, tree, grammar)
        best_complete = max((s.score for s in complete), default=-np.inf)
        parents, grown = _grown(live, tree, grammar, settings, best_complete)
        behind = free.log_p - grown.log_p.max(initial=-np.inf)
        if behind > settings.hopeless or len(tree) + len(parents) > settings.most:
            parents, grown = [], _EMPTY
        tokens = [sequence[-1] for sequence in grown.tokens]
        spent = [*live.nodes, free_node]
        if free_open:
            row = tree.log_p_next(free_node)
            token = int(row.argmax())
            free_open = token != END
            free = Scored(
                (*free.tokens, token) if free_open else free.tokens, free.log_p + float(row[token]), 0.0
            )
            if free_open:
                parents, tokens = [*parents, free_node], [*tokens, token]
        tree.forget(spent)
        if not parents:
            break
        nodes = list(tree.add(parents, tokens))
        if free_open:
            free_node = nodes.pop()
        live = _Partials(nodes, grown.states, grown.log_p, grown.bias, grown.tokens)
    written = list(free.tokens)
    longest_free = min(settings.longest_free, _FEWEST + heard.keys.shape[-1] // _FRAMES_A_TOKEN)
    while free_open and len(written) < longest_free:
        token = int(tree.log_p_next(free_node).argmax())
        if token == END:
            break
        (free_node,) = tree.add([free_node], [token])
        written.append(token)
    return Found(tuple(complete), free, tuple(written))


def log_p_of(
    network: Network, heard: Encoded, sentences: Sequence[Sequence[int]]
) -> list[NDArray[np.float64]]:
    """The log-probability of each token of some sentence beginnings, all scored in one call; what they share
    is run once."""
    trie, parents, tokens = Trie(), list[int](), list[int]()
    for sentence in sentences:
        trie.add(sentence)
    tree, node_of = TokenTree(network, heard), {0: ROOT}
    for parent, token, child in trie.edges(trie.children[0].values()):
        if trie.children[child]:
            node_of[child] = len(tree) + len(parents)
            parents.append(node_of[parent])
            tokens.append(token)
    if parents:
        tree.add(parents, tokens)
    out = []
    for sentence in sentences:
        node, path = 0, np.zeros(len(sentence))
        for place, token in enumerate(sentence):
            path[place] = tree.log_p_next(node_of[node])[token]
            node = trie.children[node][token]
        out.append(path)
    return out


def _ended(live: _Partials, tree: TokenTree, grammar: Grammar) -> list[Scored]:
    """The partials that may stop here, with the end mark counted."""
    return [
        Scored(live.tokens[i], float(live.log_p[i] + tree.log_p_next(node)[END]), float(live.bias[i]))
        for i, node in enumerate(live.nodes)
        if grammar.arcs(int(live.states[i])).may_end
    ]


def _grown(
    live: _Partials, tree: TokenTree, grammar: Grammar, settings: SearchSettings, best_complete: float
) -> tuple[list[int], _Partials]:
    """The continuations worth extending, best first, and the node each hangs under."""
    if not live.nodes:
        return [], _EMPTY
    arcs = [grammar.arcs(int(state)) for state in live.states]
    owner = np.repeat(np.arange(len(arcs)), [len(a.tokens) for a in arcs])
    token, state = (np.concatenate([getattr(a, part) for a in arcs]) for part in ("tokens", "states"))
    following = [tree.log_p_next(node)[a.tokens] for node, a in zip(live.nodes, arcs, strict=True)]
    log_p = live.log_p[owner] + np.concatenate(following)
    bias = live.bias[owner] + np.concatenate([a.bias for a in arcs])
    score = log_p + bias
    best = max(float(score.max(initial=-np.inf)), best_complete)
    order = np.argsort(-score)[: settings.width]
    order = order[score[order] >= best - settings.margin]
    sequences = [(*live.tokens[owner[i]], int(token[i])) for i in order]
    parents = [live.nodes[owner[i]] for i in order]
    return parents, _Partials([], state[order], log_p[order], bias[order], sequences)


_FEWEST, _FRAMES_A_TOKEN = 8, 6
"""A free decode of more tokens than this for the frames heard (24 ms each) has begun to repeat itself."""
_EMPTY = _Partials([], np.zeros(0, np.int64), np.zeros(0), np.zeros(0), [])
