"""Local changes on top of a shipped pack: what they are, how they are applied, and where they are kept."""

from vocab.layers.apply import Composed, Origin, compose
from vocab.layers.changes import Change, Layer, Operation
from vocab.layers.conflicts import Conflict
from vocab.layers.lock import Held
from vocab.layers.store import LayerStore
from vocab.layers.vocabulary import EditError, Preview, Vocabulary, layers_folder, open_vocabulary

__all__ = [
    "Change",
    "Composed",
    "Conflict",
    "EditError",
    "Held",
    "Layer",
    "Operation",
    "Origin",
    "Preview",
    "LayerStore",
    "Vocabulary",
    "compose",
    "layers_folder",
    "open_vocabulary",
]
