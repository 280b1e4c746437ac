"""A row of a tray while it is laid, item by item.

Takes a LAY question and placements; knows what is still open and how often it went wrong.
"""

from __future__ import annotations

from listen.practice.questions import LAID, Question
from listen.practice.topics import Drill


class Laying:
    """A row being laid: what still has to go where, and how often it went wrong."""

    def __init__(self, question: Question) -> None:
        if question.topic.drill is not Drill.LAY:
            raise ValueError("only a LAY question is laid")
        self.question = question
        self.laid: list[str] = []
        self.mistakes = 0

    @property
    def open(self) -> tuple[str, ...]:
        """The placements still to be made, as "item@slot"."""
        return tuple(r for r in self.question.right if r not in self.laid)

    @property
    def done(self) -> bool:
        """Whether everything is in its slot."""
        return not self.open

    def place(self, item: str, at: str) -> bool:
        """Put an item into a slot; True where it belongs. A wrong place counts and stays empty."""
        placement = f"{item}{LAID}{at}"
        if placement in self.open:
            self.laid.append(placement)
            return True
        if placement not in self.laid:
            self.mistakes += 1
        return False

    @property
    def share(self) -> float:
        """Share of the attempts that were right, 1.0 before the first."""
        tried = len(self.laid) + self.mistakes
        return len(self.laid) / tried if tried else 1.0
