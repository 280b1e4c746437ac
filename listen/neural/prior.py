"""What the decoder would say anyway: its log-probabilities on sound that holds no speech.

From a trie of the grammar, a network, and what it heard in silence it computes a complete table of
log P(token | what stands before it), one number per trie node. It never looks at a user's audio.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from listen.neural.grammar import Trie
from listen.neural.network import Array, Encoded, Network
from listen.neural.tree import ROOT, TokenTree

_CHUNK = 192
"""Nodes run in one call."""
_GROUP = 1_500
"""Nodes that share a cache; larger tries are done in several groups."""


def trie_prior(
    network: Network,
    silence: Encoded,
    trie: Trie,
    context: Sequence[int],
    known: tuple[Trie, Array] | None = None,
) -> Array:
    """Log-probability of the token leading to each node of `trie` when `context` stands before it.

    Args:
        known: another trie and its table for the same silence and context; only what it lacks is run.

    Returns:
        shape = (nodes,), 0 for the root.
    """
    if known is not None:
        return _extended(network, silence, trie, context, *known)
    log_p = np.zeros(len(trie.children), np.float32)
    for group in _groups(trie):
        tree = TokenTree(network, silence)
        root = _last(tree, context)
        for token, child in trie.children[0].items():
            log_p[child] = tree.log_p_next(root)[token]
        _extend(tree, root, trie, group, log_p)
    return log_p


def _extended(
    network: Network, silence: Encoded, trie: Trie, context: Sequence[int], known: Trie, table: Array
) -> Array:
    """The table of `trie` with the numbers of the paths that `known` has; the other paths are run."""
    log_p = np.zeros(len(trie.children), np.float32)
    same, paths, new = {0: 0}, {0: tuple[int, ...]()}, dict[int, tuple[int, ...]]()
    for parent, token, child in trie.edges(trie.children[0].values()):
        paths[child] = (*paths[parent], token)
        other = known.children[same[parent]].get(token) if parent in same else None
        if other is None:
            new[child] = paths[child]
        else:
            same[child], log_p[child] = other, table[other]
    if not new:
        return log_p
    small, place = Trie(), dict[int, int]()
    for child, path in new.items():
        place[child] = small.add(path)
    run = trie_prior(network, silence, small, context)
    for child, node in place.items():
        log_p[child] = run[node]
    return log_p


def _last(tree: TokenTree, tokens: Sequence[int]) -> int:
    """Add a chain below the begin mark and return its last node."""
    if not tokens:
        return ROOT
    first = len(tree)
    return tree.add([ROOT, *range(first, first + len(tokens) - 1)], tokens)[-1]


def _extend(tree: TokenTree, root: int, trie: Trie, group: Sequence[int], log_p: Array) -> None:
    """Run the inner nodes of a group, parents first, and read the numbers of their children."""
    node_in_tree = {0: root}
    edges = [(p, t, c) for p, t, c in trie.edges(group) if trie.children[c]]
    for start in range(0, len(edges), _CHUNK):
        chunk = edges[start : start + _CHUNK]
        for place, (_, _, child) in enumerate(chunk):
            node_in_tree[child] = len(tree) + place
        nodes = tree.add([node_in_tree[p] for p, _, _ in chunk], [t for _, t, _ in chunk])
        for node, (_, _, child) in zip(nodes, chunk, strict=True):
            for token, grandchild in trie.children[child].items():
                log_p[grandchild] = tree.log_p_next(node)[token]
        tree.forget(nodes)


def _groups(trie: Trie) -> Iterator[list[int]]:
    """The root's children in groups whose subtrees share a cache."""
    group: list[int] = []
    size = 0
    for child in trie.children[0].values():
        below = trie.below(child)
        if group and size + below > _GROUP:
            yield group
            group, size = [], 0
        group.append(child)
        size += below
    if group:
        yield group
