"""The assistant at one chair: takes utterances and typed requests, returns answers.

It is built from an engine, a pack, a tray and a procedure model, and returns `Answer`s. Between requests it
keeps only the last answer and the belief about the procedure's step: no sound, and no words of an utterance
that asked for nothing.
"""

from __future__ import annotations

import math
import time
from collections.abc import Container, Sequence
from dataclasses import replace
from itertools import islice
from typing import Any

from listen.answer import Answer, Likely
from listen.answering import Answers
from listen.engine import Engine, failures_told
from listen.readings import Reader, Readings
from listen.segments import Utterance
from listen.verdict import Costs, Judgement, Verdict, judge
from vocab.pack.schema import Pack, Tray
from vocab.procedure.model import Belief, ProcedureModel

_NEXT_SHOWN = 3
_TAKEN_BACK = 0.02
"""Share of its probability that a correction keeps if it names the item just answered."""


def log_expected(model: ProcedureModel, belief: Belief) -> dict[str, float]:
    """Log-probability of each item as the next request; readings are weighed by it."""
    return {item: math.log(p) for item, p in model.next_items(belief).items() if p > 0}


class Assistant:
    """Answers requests for one pack at one chair.

    Args:
        engine: hears utterances; None if only text is answered.
        tray: where slots are looked up; None leaves them empty.
        model: predicts the next request.

    `latex_free` says whether the session is marked so; the caller sets it.
    """

    def __init__(
        self,
        pack: Pack,
        reader: Reader,
        model: ProcedureModel,
        engine: Engine | None = None,
        tray: Tray | None = None,
    ) -> None:
        self.reader, self.latex_free = reader, False
        self._pack, self._model, self._engine = pack, model, engine
        self._made = Answers(pack, tray)
        self._belief = model.start()
        self._last: Answer | None = None

    @property
    def expected(self) -> dict[str, float]:
        """Log-probability of each item as the next request."""
        return log_expected(self._model, self._belief)

    def hear(self, utterance: Utterance, source: str) -> tuple[Answer, ...]:
        """Answers to one utterance, one for each thing asked for; a single quiet one for chatter."""
        if self._engine is None:
            raise ValueError("this assistant has no engine and only answers text")
        began = time.perf_counter()
        with failures_told():
            hearing = self._engine.hear(utterance.samples)
        answers = self.answers(self.reader.of_hearing(hearing, self.expected))
        times = {"start_s": utterance.start_s, "end_s": utterance.end_s}
        return self._signed(answers, began, source=source, engine=self._engine.name, **times)

    def ask(self, text: str) -> tuple[Answer, ...]:
        """Answers to a typed request."""
        began = time.perf_counter()
        answers = self.answers(self.reader.of_text(text, self.expected))
        return self._signed(answers, began, source="text", engine="text")

    def answers(self, readings: Readings) -> tuple[Answer, ...]:
        """Answers to what may have been asked for; what is answered changes what is expected next."""
        heard = readings.ways[0].text.strip() if readings.ways else ""
        judgements = self.judgements(readings)
        return tuple(self._answer(one, heard) for one in judgements) or (Answer(p=1 - readings.p_nothing),)

    def judgements(self, readings: Readings) -> tuple[Judgement, ...]:
        """What would be answered, asked about or met with silence."""
        return judge(self._without_taken_back(readings), self._pack, Costs())

    def _signed(self, answers: Sequence[Answer], began: float, **told: Any) -> tuple[Answer, ...]:
        """The answers with where they come from, what is likely next, and how long they took."""
        told |= {"next": self.following(), "latency_ms": (time.perf_counter() - began) * 1000}
        return tuple(replace(answer, **told) for answer in answers)

    def following(self, without: Container[str] = (), most: int = _NEXT_SHOWN) -> tuple[Likely, ...]:
        """The likeliest next items that are not in `without`."""
        ranked = self._model.next_items(self._belief).items()
        likely = (Likely(item, p) for item, p in ranked if item not in without)
        return tuple(islice(likely, most))

    def _answer(self, judgement: Judgement, heard: str) -> Answer:
        answer = self._made.of(judgement, heard, self._last, self.latex_free)
        if answer.verdict is not Verdict.QUIET and answer.item is not None:
            self._last = answer
            if answer.kind in ("item", "correction"):
                self._belief = self._model.after(self._belief, answer.item)
        return answer

    def _without_taken_back(self, readings: Readings) -> Readings:
        """The readings, with a correction made unlikely to mean the item just answered."""
        last = self._last.item if self._last else None
        if last is None:
            return readings
        ways = []
        for way in readings.ways:
            first = way.requests[0]
            again = first.kind == "correction" and any(c.item == last for c in first.candidates)
            ways.append(replace(way, p=way.p * _TAKEN_BACK) if again else way)
        total = sum(way.p for way in ways)
        if not total:
            return readings
        factor = (1 - readings.p_nothing) / total
        ways = [replace(way, p=way.p * factor) for way in ways]
        return Readings(tuple(sorted(ways, key=lambda way: -way.p)), readings.p_nothing)
