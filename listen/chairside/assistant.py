"""An assistant that can be told what a person chose, and put back to where a session was.

It takes the ids of items that were settled by hand, by voice or in the log, and only improves its expectation
of what is next from them. It works on what has already been heard, so one engine serves every chair.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from listen.answering import Choice
from listen.assistant import Assistant
from listen.chair import Chair
from listen.engine import Hearing
from listen.pause import Wholeness
from listen.readings import Reader
from vocab.procedure.habits import NONE_YET, Habits
from vocab.procedure.model import ProcedureModel


class ChairAssistant(Assistant):
    """One chair's assistant on a server with one engine for all of them.

    Args:
        habits: logged sessions that teach what comes next; dentist: whose own sessions count most.
        note: to be called once with every utterance that may ask for something, but not with guesses at one.
    """

    def __init__(
        self,
        chair: Chair,
        reader: Reader,
        habits: Habits = NONE_YET,
        dentist: str | None = None,
        note: Callable[[str], None] = lambda _: None,
    ) -> None:
        self.note = note
        chosen = None if chair.procedure is None else [chair.procedure.id]
        model = ProcedureModel(chair.pack, chosen, habits=habits, dentist=dentist or "")
        super().__init__(chair.pack, reader, model, None, chair.tray)
        self._wholeness = Wholeness(chair.pack)

    def enough_s(self, hearing: Hearing) -> float | None:
        """Seconds of silence after which what was heard in a pause is answered (see `listen.pause`)."""
        readings = self.reader.of_hearing(hearing, self.expected)
        heard = readings.ways[0].text if readings.ways else ""
        return self._wholeness.enough_s(self.judgements(readings), heard, hearing.free_text)

    def start_again(self, asked: Iterable[Choice]) -> None:
        """Forget the session and replay these requests instead."""
        self._belief, self._last = self._model.start(), None
        for one in asked:
            self._last = self._made.pointed_at(one.item, one.size, self.latex_free)
            self._belief = self._model.after(self._belief, one.item)

    def step(self) -> str:
        """The id of the step that the procedure is most likely in."""
        _, step, _ = self._model.likely_step(self._belief)
        return step
