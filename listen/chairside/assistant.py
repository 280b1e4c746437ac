"""An assistant that can be told what a person chose, and put back to where a session was.

It takes the ids of items that were settled by hand, by voice or in the log, and only improves its expectation
of what is next from them. It works on what has already been heard, so one engine serves every chair.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable
from itertools import islice

from listen.answer import Answer, Likely
from listen.answering import Choice
from listen.assistant import Assistant
from listen.chair import Chair, EngineName, vosk_calibration
from listen.engine import Hearing, Samples
from listen.pause import Wholeness
from listen.readings import Reader, Readings, load_calibration
from listen.segments import Utterance
from listen.verdict import judge
from vocab.procedure.habits import NONE_YET, Habits
from vocab.procedure.model import ProcedureModel


class _Heard:
    """Stands in for the engine: gives the hearing that was made elsewhere."""

    def __init__(self) -> None:
        self.name = ""
        self.hearing: Hearing | None = None

    def hear(self, samples: Samples) -> Hearing:
        if self.hearing is None:
            raise ValueError("nothing has been heard yet")
        return self.hearing


class ChairAssistant(Assistant):
    """One chair's assistant on a server with one engine for all of them.

    Args:
        habits: logged sessions that teach what comes next; dentist: whose own sessions count most.
        note: called once with every utterance that is acted on, but not with guesses at one.

    `latex_free` is set by the caller, which knows the session.
    """

    def __init__(
        self,
        chair: Chair,
        reader: Reader,
        habits: Habits = NONE_YET,
        dentist: str | None = None,
        note: Callable[[str], None] = lambda _: None,
    ) -> None:
        self._note = note
        self.latex_free = False
        self._heard = _Heard()
        chosen = None if chair.procedure is None else [chair.procedure.id]
        model = ProcedureModel(chair.pack, chosen, habits=habits, dentist=dentist or "")
        super().__init__(
            chair.pack, reader, model, self._heard, chair.tray, latex_free=lambda: self.latex_free
        )
        self._wholeness = Wholeness(chair.pack)

    def take(self, hearing: Hearing, utterance: Utterance, engine: str) -> tuple[Answer, ...]:
        """Answers to an utterance that the engine called `engine` has already heard."""
        self._note(hearing.free_text)
        self._heard.name, self._heard.hearing = engine, hearing
        try:
            return self.hear(utterance, "microphone")
        finally:
            self._heard.hearing = None

    def ask(self, text: str) -> tuple[Answer, ...]:
        """See `Assistant`."""
        self._note(text)
        return super().ask(text)

    def readings(self, hearing: Hearing) -> Readings:
        """The ways a hearing may be meant, without changing what is expected."""
        return self._reader.of_hearing(hearing, {})

    def text_readings(self, text: str) -> Readings:
        """The same for a typed text."""
        return self._reader.of_text(text, {})

    def enough_s(self, hearing: Hearing) -> float | None:
        """Seconds of silence after which what was heard in a pause is answered (see `listen.pause`)."""
        readings = self._reader.of_hearing(hearing, self._expected())
        judgements = judge(self._without_taken_back(readings), self._pack, self._costs)
        heard = readings.ways[0].text if readings.ways else ""
        return self._wholeness.enough_s(judgements, heard, hearing.free_text)

    def start_again(self, asked: Iterable[Choice]) -> None:
        """Forget the session and replay these requests instead."""
        self._belief, self._last = self._model.start(), None
        for one in asked:
            self._last = self._made.pointed_at(one.item, one.size, self._latex_free())
            self._belief = self._model.after(self._belief, one.item)

    def following(self, without: Container[str] = (), most: int = 3) -> tuple[Likely, ...]:
        """The likeliest next items that are not in `without`."""
        ranked = self._model.next_items(self._belief).items()
        likely = (Likely(item, p) for item, p in ranked if item not in without)
        return tuple(islice(likely, most))

    def step(self) -> tuple[str, float]:
        """The step (its id) that the procedure is most likely in, and how likely."""
        _, step, p = self._model.likely_step(self._belief)
        return step, p


def reader_for(chair: Chair) -> Reader:
    """One reader for every chair of a server; it remembers what it has understood."""
    vosk = chair.options.engine is EngineName.VOSK
    return Reader(chair.pack, chair.lexicon, vosk_calibration() if vosk else load_calibration())
