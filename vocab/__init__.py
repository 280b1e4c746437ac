"""The instruments of a field, what they are called, and what is asked for in a text.

    from vocab import Lexicon, open_pack, understand

    pack = open_pack("operative")
    for request in understand("mirror and explorer, please", Lexicon(pack), pack.speech):
        print([pack.item(candidate.item).name.text for candidate in request.candidates])

What is listed here is for other programs to use; each name is loaded where it is first asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from vocab.errors import PackError, TraycallError
    from vocab.language.pronounce import Pronouncer
    from vocab.layers import Vocabulary, open_vocabulary
    from vocab.pack.load import open_pack, shipped_names
    from vocab.pack.schema import Item, Pack, Procedure, Tray
    from vocab.requests.lexicon import Candidate, Lexicon
    from vocab.requests.understand import Request, understand

__all__ = [
    "Candidate",
    "Item",
    "Lexicon",
    "Pack",
    "PackError",
    "Procedure",
    "Pronouncer",
    "Request",
    "TraycallError",
    "Tray",
    "Vocabulary",
    "open_pack",
    "open_vocabulary",
    "shipped_names",
    "understand",
]

if not TYPE_CHECKING:
    _HOMES = {
        "Candidate": "vocab.requests.lexicon",
        "Item": "vocab.pack.schema",
        "Lexicon": "vocab.requests.lexicon",
        "Pack": "vocab.pack.schema",
        "PackError": "vocab.errors",
        "Procedure": "vocab.pack.schema",
        "Pronouncer": "vocab.language.pronounce",
        "Request": "vocab.requests.understand",
        "TraycallError": "vocab.errors",
        "Tray": "vocab.pack.schema",
        "Vocabulary": "vocab.layers",
        "open_pack": "vocab.pack.load",
        "open_vocabulary": "vocab.layers",
        "shipped_names": "vocab.pack.load",
        "understand": "vocab.requests.understand",
    }

    def __getattr__(name: str) -> object:
        if name in _HOMES:
            return getattr(import_module(_HOMES[name]), name)
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
