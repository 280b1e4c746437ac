"""What a trainee is to practise today, and about how long that takes.

Takes one vocabulary, a trainee's memories and answers, and a time; gives the topics of the procedure that was
practised last, with everything begun elsewhere, and how many of them are due.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil
from statistics import median

from listen.practice.facts import Facts
from listen.practice.plan import New, news, opened
from listen.practice.schedule import Deck, SessionSettings
from listen.practice.session import Answered
from listen.practice.topics import Topic, curriculum
from vocab.layers.vocabulary import Entry
from vocab.pack.schema import Pack

NEW = 8
"""So many new topics are begun in one sitting."""
LONGEST = timedelta(minutes=20)
USUAL_S = 12.0
"""Seconds from one answer to the next before a trainee has a pace of their own (a guess, not measured)."""
SAME_SITTING_S = 120.0
RECENT = 100
SETTINGS = SessionSettings(length=LONGEST, new=NEW)
"""A sitting that ends once nothing is due, nothing new is wanted and what was missed came once more."""


@dataclass(frozen=True)
class Today:
    """Today's practice.

    field: the vocabulary's id; procedure: its id, "" for none; topics: what may be asked; due: topics to
    repeat now; new: topics that will be begun; changed: what has changed since it was practised, which is
    asked first; tomorrow: topics due within a day; minutes: about how long it takes; begun: whether this
    trainee has answered anything yet.
    """

    field: str
    procedure: str
    topics: tuple[Topic, ...]
    due: int
    new: int
    changed: tuple[New, ...]
    tomorrow: int
    minutes: int
    begun: bool


def today(
    pack: Pack,
    facts: Facts,
    deck: Deck,
    answers: Sequence[Answered],
    proposed: str | None,
    now: datetime,
    history: Sequence[Entry] = (),
    asked: Callable[[Topic], bool] = lambda topic: True,
) -> Today:
    """What is to be practised now, new things stage by stage.

    Args:
        proposed: the procedure for somebody who practised none yet; history: the clinic's changes; asked:
            whether a topic may be asked at all.
    """
    procedure = last_procedure(pack, answers) or proposed
    own = tuple(filter(asked, curriculum(pack, facts, procedure)))
    changed = news(history, own, deck)
    begun = {t.key: t for t in (*opened(own, deck), *(t for t in own if t.key in deck))}
    begun |= {new.topic.key: new.topic for new in changed}
    for other in (None, *(p.id for p in pack.procedures if p.id != procedure)):
        more = filter(asked, curriculum(pack, facts, other))
        begun |= {t.key: t for t in more if t.key in deck and t.key not in begun}
    cards = [deck[key] for key in begun if key in deck]
    first = {new.topic.key for new in changed}
    due = sum(card.due <= now for key in begun if key not in first and (card := deck.get(key)))
    new = min(NEW, sum(key not in deck and key not in first for key in begun))
    return Today(
        field=pack.id,
        procedure=procedure or "",
        topics=tuple(begun.values()),
        due=due,
        new=new,
        changed=changed,
        tomorrow=sum(now < card.due <= now + timedelta(days=1) for card in cards),
        minutes=minutes_for(len(changed) + due + new, answers, LONGEST),
        begun=bool(answers),
    )


def hours_left(known: int, asked: int, topics: int, answers: Sequence[Answered]) -> int | None:
    """About how many hours of practice are left until all `topics` are known, at the pace so far; None while
    fewer than 10 are known, 0 once all are."""
    if known >= topics:
        return 0
    if known < 10:
        return None
    answers_each = max(1.0, len(answers) / asked)
    return max(1, round((topics - known) * answers_each * seconds_each(answers) / 3600))


def last_procedure(pack: Pack, answers: Sequence[Answered]) -> str | None:
    """The procedure that was practised last, by its own questions or by those about its tray."""
    by_place = {p.tray: p.id for p in reversed(pack.procedures)} | {p.id: p.id for p in pack.procedures}
    for answer in reversed(answers):
        place = answer.topic.split(":")[1:2]
        if place and place[0] in by_place:
            return by_place[place[0]]
    return None


def seconds_each(answers: Sequence[Answered]) -> float:
    """Seconds from one answer to the next, in the middle of the trainee's recent ones."""
    gaps = [(after.at - before.at).total_seconds() for before, after in pairwise(answers[-RECENT:])]
    within = [gap for gap in gaps if 0 < gap <= SAME_SITTING_S]
    return median(within) if len(within) >= 5 else USUAL_S


def minutes_for(questions: int, answers: Sequence[Answered], longest: timedelta | None = None) -> int:
    """About how many minutes so many questions take this trainee, at least 1."""
    minutes = max(1, ceil(questions * seconds_each(answers) / 60))
    return minutes if longest is None else min(minutes, int(longest / timedelta(minutes=1)))
