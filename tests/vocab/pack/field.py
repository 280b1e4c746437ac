"""A shipped field, ready to be asked what the tests of its facts ask."""

from __future__ import annotations

from listen.chairside.handing import handing_text
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import understand


class Field:
    """The pack of this name and its look-up."""

    def __init__(self, name: str) -> None:
        self.pack = shipped_pack(name)
        self.lexicon = Lexicon(self.pack)

    def meant(self, text: str) -> list[tuple[str, str | None]]:
        """The items and variants that a request for one thing may mean, likeliest first."""
        (request,) = understand(text, self.lexicon, self.pack.speech)
        assert request.kind == "item" and request.quantity is None
        return [(candidate.item, candidate.variant) for candidate in request.candidates]

    def passing(self, item_id: str) -> str:
        """How an item is passed, in full, on one line."""
        text = handing_text(self.pack.item(item_id))
        assert text is not None
        return " ".join(text.split())

    def cautions(self, item_id: str) -> str:
        """All cautions of an item."""
        return " ".join(self.pack.item(item_id).cautions)

    def place(self, procedure_id: str, step_id: str) -> int:
        """Where a step stands in its procedure, from 0."""
        return [step.id for step in self.pack.procedure(procedure_id).steps].index(step_id)
