"""What somebody wishes to rehearse, and a rehearsal of it, ready to begin with those who speak in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from listen.practice.questions import Questions
from listen.practice.rehearsal.levels import Level, level, next_level
from listen.practice.rehearsal.running import Rehearsal
from listen.practice.rehearsal.script import MINUTES, write
from listen.practice.rehearsal.sound import Talkers
from listen.practice.reports import name_weights
from listen.practice.store import PracticeStore
from vocab.errors import Declined


@dataclass(frozen=True)
class Wish:
    """What is to be rehearsed. field: the vocabulary's id; level: None for the proposed one; first_step: None
    for the beginning."""

    field: str
    procedure: str
    minutes: int
    level: int | None = None
    first_step: str | None = None


def proposed(store: PracticeStore, trainee: str) -> Level:
    """The level that comes next for a trainee."""
    return next_level([one for _, one in store.rehearsals(trainee)])


def begun(
    wish: Wish,
    questions: Questions,
    store: PracticeStore,
    trainee: str,
    rng: np.random.Generator,
    folder: Path,
    now_s: float,
) -> tuple[Rehearsal, Talkers]:
    """A rehearsal that begins now, and its voices.

    Args:
        questions: of the vocabulary that is wished for; folder: where speech is cached.

    Raises:
        TraycallError: it cannot be rehearsed.
    """
    if wish.minutes not in MINUTES:
        raise Declined(f"a rehearsal lasts {', '.join(map(str, MINUTES))} minutes at most.")
    chosen = proposed(store, trainee) if wish.level is None else level(wish.level)
    reviews, pack = store.reviews(trainee), questions.pack
    script = write(
        questions,
        wish.procedure,
        chosen,
        rng,
        wish.minutes,
        wish.first_step,
        lambda item: name_weights(reviews, item),
    )
    return Rehearsal(script, pack, now_s), Talkers(chosen.talkers, pack.language, rng, folder)
