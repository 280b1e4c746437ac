"""The assistant at one chair: takes utterances and typed requests, returns answers.

It is built from an engine, a pack, a tray and a procedure model, and returns `Answer`s. Between requests it
keeps only the last answer and the belief about the procedure's step: no sound, and no words of an utterance
that asked for nothing.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping
from dataclasses import replace

from listen.answer import Answer, Likely
from listen.answering import Answers, no_answer
from listen.engine import Engine, Hearing, failures_told
from listen.readings import Reader, Readings
from listen.segments import Utterance
from listen.verdict import Costs, Judgement, Verdict, judge
from vocab.pack.schema import Pack, Tray
from vocab.procedure.model import Belief, ProcedureModel
from vocab.requests.sentence import Became

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
        latex_free: whether the session is marked latex-free.
    """

    def __init__(
        self,
        pack: Pack,
        reader: Reader,
        model: ProcedureModel,
        engine: Engine | None = None,
        tray: Tray | None = None,
        costs: Costs | None = None,
        clock: Callable[[], float] = time.perf_counter,
        latex_free: Callable[[], bool] = lambda: False,
    ) -> None:
        self._pack, self._reader, self._model = pack, reader, model
        self._engine, self._tray = engine, tray
        self._costs = costs or Costs()
        self._clock, self._latex_free = clock, latex_free
        self._made = Answers(pack, tray)
        self._belief = model.start()
        self._last: Answer | None = None

    def hear(self, utterance: Utterance, source: str) -> tuple[Answer, ...]:
        """Answers to one utterance, one for each thing asked for; a single quiet one for chatter."""
        if self._engine is None:
            raise ValueError("this assistant has no engine and only answers text")
        began = self._clock()
        with failures_told():
            hearing = self._engine.hear(utterance.samples)
        readings = self._reader.of_hearing(hearing, self._expected())
        heard = readings.ways[0].text if readings.ways else ""
        return self._answers(
            readings, heard, source, utterance.start_s, utterance.end_s, self._engine.name, began
        )

    def ask(self, text: str) -> tuple[Answer, ...]:
        """Answers to a typed request."""
        began = self._clock()
        readings = self._reader.of_text(text, self._expected())
        return self._answers(readings, text.strip(), "text", None, None, "text", began)

    def told_in_text(self, text: str) -> tuple[Became, ...]:
        """See `Reader`."""
        return self._reader.told_in_text(text)

    def told_in_hearing(self, hearing: Hearing) -> tuple[Became, ...]:
        """See `Reader`."""
        return self._reader.told_in_hearing(hearing)

    def _expected(self) -> dict[str, float]:
        return log_expected(self._model, self._belief)

    def _answers(
        self,
        readings: Readings,
        heard: str,
        source: str,
        start_s: float | None,
        end_s: float | None,
        engine: str,
        began: float,
    ) -> tuple[Answer, ...]:
        judgements = judge(self._without_taken_back(readings), self._pack, self._costs)
        answers = [self._answer(judgement, heard) for judgement in judgements] or [
            no_answer(1 - readings.p_nothing)
        ]
        following = self._following()
        latency_ms = (self._clock() - began) * 1000
        return tuple(
            replace(
                answer,
                source=source,
                start_s=start_s,
                end_s=end_s,
                next=following,
                engine=engine,
                latency_ms=latency_ms,
            )
            for answer in answers
        )

    def _answer(self, judgement: Judgement, heard: str) -> Answer:
        answer = self._made.of(judgement, heard, self._last, self._latex_free())
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

    def _following(self) -> tuple[Likely, ...]:
        expected: Mapping[str, float] = self._model.next_items(self._belief)
        best = sorted(expected.items(), key=lambda pair: -pair[1])[:_NEXT_SHOWN]
        return tuple(Likely(item, p) for item, p in best)
