"""The engine that spoken answers are judged with: the one that is loaded already, bound to answers.

Comes in: a way to the engine in use, if there is one. Goes out: engines for the answers of a pack, which
share its model. A second model is loaded only beside an engine that cannot be bound to answers.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from listen.engine import Engine
from listen.practice.judging import AnswerEngine
from vocab.pack.schema import Pack

if TYPE_CHECKING:
    from listen.neural.engine import NeuralEngine


class AnswerEngines:
    """Makes a judge's engine; a changed vocabulary's out of the last one, so that only new names take time.

    Args:
        in_use: waits for the engine in use and returns it, None where there is none.
    """

    def __init__(self, in_use: Callable[[], Engine | None] = lambda: None) -> None:
        self._in_use = in_use
        self._last: NeuralEngine | None = None

    def __call__(self, answers: Pack) -> AnswerEngine:
        """The engine for these answers; raises `TraycallError` where the model is missing."""
        from listen.chair import cache_folder
        from listen.neural.engine import NeuralEngine

        engine = self._last or self._in_use()
        if isinstance(engine, NeuralEngine):
            self._last = engine.renewed(answers)
        else:
            self._last = NeuralEngine(answers, cache_folder())
        return self._last
