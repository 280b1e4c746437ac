"""What came of a line that was read, and how often what came of how many.

A place (a procedure, with the names a session of it knows) judges hearings as a chair does and gives
outcomes; outcomes are counted in a `Tally`, which says them in words. Nothing is heard or kept here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from listen.answer import Answer
from listen.answering import choices_of
from listen.assistant import log_expected
from listen.chair import Chair
from listen.chairside.assistant import ChairAssistant
from listen.engine import Hearing
from listen.readings import Adjustment, Reader, Readings
from listen.shares import another_round
from listen.verdict import Verdict
from listen.voicecheck.lines import Line
from vocab.procedure.model import ProcedureModel


class Outcome(StrEnum):
    """Of a request: answered right, asked back with the right item offered, missed (nothing happened, or only
    other items were offered), or answered wrong. Of a sentence that asks for nothing: right where it stayed
    quiet, asked or wrong where it did not."""

    RIGHT = "right"
    ASKED = "asked"
    MISSED = "missed"
    WRONG = "wrong"


@dataclass(frozen=True)
class Result:
    """shown: ids of the items that were answered or offered; heard: the phrasing that was judged; acted:
    whether anything was answered or asked about."""

    outcome: Outcome
    shown: tuple[str, ...] = ()
    heard: str = ""
    acted: bool = False


class Place:
    """A procedure as a chair hears it, in no particular step: any may be the present one.

    Args:
        chair: with its procedure and tray chosen, and the pack that its sessions hear.
        reader: understands that pack.
    """

    def __init__(self, chair: Chair, reader: Reader) -> None:
        self.chair, self.reader = chair, reader
        procedure = chair.procedure
        self.field, self.procedure = chair.pack.id, "" if procedure is None else procedure.id
        model = ProcedureModel(chair.pack, None if procedure is None else [procedure.id])
        self.expected = log_expected(model, model.anywhere())

    def adjusted(self, own: Adjustment) -> Place:
        """The same with a clinic's two numbers on top of the shipped weights."""
        return Place(self.chair, self.reader.reweighed(self.chair.calibration.adjusted(own)))

    def readings(self, hearing: Hearing) -> Readings:
        """What a hearing may mean here."""
        return self.reader.of_hearing(hearing, self.expected)

    def assistant(self) -> ChairAssistant:
        """An assistant of this chair, at its first request."""
        return ChairAssistant(self.chair, self.reader)

    def result(self, line: Line, hearings: Iterable[Hearing]) -> Result:
        """What a chair would have done about a line whose utterances were heard as these."""
        answers: list[Answer] = []
        for hearing in hearings:
            answers += self.assistant().answers(self.readings(hearing))
        return judged(line, answers)


def judged(line: Line, answers: Sequence[Answer]) -> Result:
    """The result of a line, from the answers to what was said."""
    acted = [answer for answer in answers if answer.verdict is not Verdict.QUIET]
    shown = tuple(dict.fromkeys(choice.item for answer in acted for choice in choices_of(answer)))
    heard = " / ".join(answer.heard for answer in acted)
    answered = [answer for answer in acted if answer.verdict is Verdict.ANSWER]
    if line.item is None:
        outcome = Outcome.WRONG if answered else Outcome.ASKED if acted else Outcome.RIGHT
    elif any(not _is_meant(line, answer) for answer in answered):
        outcome = Outcome.WRONG
    elif answered or any(_asks_size_or_label(line, answer) for answer in acted):
        outcome = Outcome.RIGHT
    else:
        outcome = Outcome.ASKED if line.item in shown else Outcome.MISSED
    return Result(outcome, shown, heard, bool(acted))


def _is_meant(line: Line, answer: Answer) -> bool:
    return answer.item == line.item and line.size in (None, answer.size)


def _asks_size_or_label(line: Line, answer: Answer) -> bool:
    """Whether it is asked back as it always is: which size, where none was said, or to have a label read."""
    offered = {choice.item for choice in choices_of(answer)}
    return answer.item == line.item and (line.always_asked or (line.size is None and offered == {line.item}))


@dataclass(frozen=True)
class Tally:
    """Counts of outcomes. quiet, spoken: of the sentences that asked for nothing, how many were left alone,
    and how many there were."""

    right: int = 0
    asked: int = 0
    missed: int = 0
    wrong: int = 0
    quiet: int = 0
    spoken: int = 0
    spoken_answered: int = 0

    @classmethod
    def of(cls, outcomes: Iterable[tuple[bool, Outcome]]) -> Tally:
        """Counted; of each, whether its line asked for something."""
        counts = dict.fromkeys(cls.__dataclass_fields__, 0)
        for asks, outcome in outcomes:
            if asks:
                counts[outcome.value] += 1
            else:
                counts["spoken"] += 1
                counts["quiet"] += outcome is Outcome.RIGHT
                counts["spoken_answered"] += outcome is Outcome.WRONG
        return cls(**counts)

    @property
    def requests(self) -> int:
        """How many asked for something."""
        return self.right + self.asked + self.missed + self.wrong

    @property
    def understood(self) -> int:
        """Answered right, or asked back with the right item among those offered."""
        return self.right + self.asked

    @property
    def errors(self) -> int:
        """Requests not answered right at once, and sentences that were not left alone."""
        return self.requests - self.right + self.spoken - self.quiet

    @property
    def all_wrong(self) -> int:
        """Wrong items answered, and sentences answered that asked for nothing."""
        return self.wrong + self.spoken_answered

    @property
    def in_words(self) -> str:
        """ "23 of 25 understood"."""
        return f"{self.understood} of {self.requests} understood"

    @property
    def again_in_words(self) -> str:
        """What to expect of another round; "" where nothing was asked for."""
        if not self.requests:
            return ""
        low, high = another_round(self.understood, self.requests)
        about = f"{low} to {high}" if low != high else f"{high}"
        return f"In another such round expect about {about} understood (in nine rounds of ten)."

    @property
    def parts_in_words(self) -> str:
        """What came of the requests, one by one, and of the rest."""
        parts = [
            f"{self.right} answered right at once",
            f"{self.asked} asked back, the right one offered",
            f"{self.missed} missed",
            f"{self.wrong} answered wrong",
        ]
        said = ", ".join(parts) + "."
        if self.spoken:
            said += f" It kept quiet in {self.quiet} of {self.spoken} sentences that asked for nothing."
        return said
