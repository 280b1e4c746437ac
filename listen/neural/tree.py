"""A growing tree of token sequences whose nodes share one decoder cache.

Nodes are added, each under a parent, and each gives the log-probabilities of the tokens that may follow it.
It never decides which nodes to add.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from listen.neural.network import Array, Encoded, Network, empty_cache
from listen.neural.tokenizer import BEGIN

ROOT = 0
"""The node of the begin mark."""


class TokenTree:
    """All sequences tried on one utterance.

    Nodes are numbered in the order they are added; node 0 is the begin mark. `log_p_next(node)` is
    the row of log-probabilities, shape = (32768,), of the tokens that may follow it.
    """

    def __init__(self, network: Network, heard: Encoded) -> None:
        self._network = network
        self._heard = heard
        self._keys = self._values = empty_cache()
        self._lineages: list[tuple[int, ...]] = []
        self._rows: list[Array] = []
        self._add([(ROOT,)], [BEGIN])

    def __len__(self) -> int:
        return len(self._lineages)

    def add(self, parents: Sequence[int], tokens: Sequence[int]) -> range:
        """Add one node for each parent and token; returns their numbers.

        A parent may be a node of the same call that stands before its child.
        """
        first = len(self)
        lineages: list[tuple[int, ...]] = []
        for parent in parents:
            above = self._lineages[parent] if parent < first else lineages[parent - first]
            lineages.append((*above, first + len(lineages)))
        return self._add(lineages, tokens)

    def log_p_next(self, node: int) -> Array:
        """Log-probability of each next token after `node`, shape = (32768,)."""
        return self._rows[node]

    def forget(self, nodes: Iterable[int]) -> None:
        """Drop the rows of nodes that are done with (128 KB each)."""
        for node in nodes:
            self._rows[node] = _NO_ROW

    def _add(self, lineages: Sequence[tuple[int, ...]], tokens: Sequence[int]) -> range:
        """`lineages` name each new node's ancestors and itself."""
        first = len(self)
        visible = np.zeros((len(tokens), first + len(tokens)), bool)
        for place, lineage in enumerate(lineages):
            visible[place, list(lineage)] = True
        extension = self._network.extend(
            self._heard,
            np.asarray(tokens, np.int64),
            np.array([len(lineage) - 1 for lineage in lineages], np.int64),
            visible,
            self._keys,
            self._values,
        )
        self._keys = np.concatenate([self._keys, extension.keys], axis=2)
        self._values = np.concatenate([self._values, extension.values], axis=2)
        self._lineages += lineages
        self._rows += list(extension.log_p)
        return range(first, len(self))


_NO_ROW = np.zeros(0, np.float32)
