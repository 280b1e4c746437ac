"""The set-up check before a session: how it stands, and answering at once what nobody has answered.

It takes a session and gives which questions are open, which were answered with no, and that in words. The
questions are those of `listen.chairside.count`, and whether the session is latex-free.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from listen.chairside.count import LOCAL_RULES, SETUP_CHECKS, SetupCheck, setup_open, setup_problems
from listen.chairside.events import Source
from listen.chairside.session import LATEX_FREE, ChairSession


@dataclass(frozen=True)
class SetUp:
    """How the set-up of a session stands; `answers` are by question, with `LATEX_FREE` among them."""

    answers: Mapping[str, bool]
    open: tuple[SetupCheck, ...]
    problems: tuple[SetupCheck, ...]

    @property
    def questions_open(self) -> int:
        """How many answers are missing, that on latex included."""
        return len(self.open) + (LATEX_FREE not in self.answers)

    @property
    def ready(self) -> bool:
        """Whether everything is answered, and nothing with no."""
        return not self.questions_open and not self.problems

    @property
    def in_words(self) -> str:
        """How it stands: what is missing, or what to do."""
        if self.problems:
            return " ".join(("Not ready.", *(check.if_no for check in self.problems), LOCAL_RULES))
        if self.questions_open:
            asked = len(SETUP_CHECKS) + 1
            return f"{self.questions_open} of {asked} questions are open."
        return "Everything is answered, and in order."


def set_up_of(chair_session: ChairSession) -> SetUp:
    """How the set-up of this session stands."""
    state = chair_session.state
    known = {*(check.id for check in SETUP_CHECKS), LATEX_FREE}
    answers = {asked: good for asked, good in state.checks.items() if asked in known}
    return SetUp(answers, setup_open(state), setup_problems(state))


def all_in_order(chair_session: ChairSession, source: Source = Source.TOUCH) -> None:
    """Answer with yes whatever is still open; a no that was given stays."""
    for check in setup_open(chair_session.state):
        chair_session.check_setup(check.id, True, source)
