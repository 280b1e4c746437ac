"""The large part of a chair's screen: what was answered last, and what is still asked.

It takes answers and choices and gives the next `Stage`; it keeps nothing, and knows no log.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from listen.answer import Answer
from listen.answering import Choice, choices_of, is_plain
from listen.verdict import Verdict, allowed
from vocab.pack.schema import Pack

NOT_KNOWN = "Nothing on this list is called that. Try another of its names."
"""The note about a typed request that asks for nothing."""
CHECK_S = 30.0
"""A check that nobody answers is removed after this time."""


@dataclass(frozen=True)
class Check:
    """A question about which item was meant, or whether a label was read back.

    predicted: the ids that were expected before it; chosen: the index in `choices` of what was chosen and
    waits for its label to be read back, None where nothing does.
    """

    choices: tuple[Choice, ...]
    asked: Answer
    predicted: tuple[str, ...]
    chosen: int | None = None

    @classmethod
    def of(cls, answer: Answer, predicted: tuple[str, ...], pack: Pack, latex_free: bool) -> Check:
        """The check for an answer; what was plainly asked for waits for its label at once."""
        choices = choices_of(answer)
        item = pack.item(choices[0].item)
        held_back = allowed(Verdict.ANSWER, item, latex_free) is Verdict.CHECK
        return cls(choices, answer, predicted, 0 if held_back and is_plain(answer) else None)

    def narrowed(self, answer: Answer) -> Check:
        """The question left after a choice: which size, or whether the label was read back."""
        choices = choices_of(answer)
        sizes = sum(choice.item == choices[0].item for choice in choices)
        return Check(choices, answer, self.predicted, 0 if sizes == 1 else None)


@dataclass(frozen=True)
class Stage:
    """What is shown large.

    number: rises with every change; answers: what was answered last; checks: what is still open, the
    first of them shown; waiting: whether something is not wanted now, named by `wait`; note: one sentence;
    injury: whether the card of what to do after a needle stick is open, until somebody puts it away.
    """

    number: int = 0
    at_s: float = 0.0
    answers: tuple[Answer, ...] = ()
    checks: tuple[Check, ...] = ()
    waiting: bool = False
    wait: tuple[str, ...] = ()
    note: str = ""
    injury: bool = False

    def check(self, now_s: float) -> Check | None:
        """The open question, if it is not too old."""
        return self.checks[0] if self.checks and now_s - self.at_s <= CHECK_S else None

    def followed_by(self, shown: Stage, now_s: float) -> Stage:
        """The next stage: what `shown` has, beside the card if that is open."""
        return replace(shown, number=self.number + 1, at_s=now_s, injury=self.injury)

    def with_card(self, is_open: bool, now_s: float) -> Stage:
        """The same with the card after a needle stick opened, or put away."""
        return replace(self, number=self.number + 1, at_s=now_s, injury=is_open)
