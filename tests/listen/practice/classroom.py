"""What the practice tests share: the shipped pack, its questions, and a clock that stands still."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np

from listen.practice.facts import Facts, facts_beside
from listen.practice.questions import Question, Questions
from listen.practice.session import Answered
from listen.practice.topics import Drill, Topic
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack
from vocab.requests.lexicon import Lexicon

NOON = datetime(2024, 3, 4, 12, tzinfo=UTC)
CLASS_TWO = "composite_class_two"


@cache
def pack() -> Pack:
    return shipped_pack()


@cache
def facts() -> Facts:
    return facts_beside("operative", pack())


@cache
def questions() -> Questions:
    return Questions(pack(), facts())


@cache
def lexicon() -> Lexicon:
    return Lexicon(pack())


def ask(drill: Drill, subject: str, place: str = "", seed: int = 0) -> Question:
    return questions().ask(Topic(drill, subject, place), np.random.default_rng(seed))


def answer(
    topic: str,
    right: bool,
    at: datetime = NOON,
    token: str = "",
    choice: str | None = None,
    asked_name: str | None = None,
    response_s: float | None = None,
    rating: int | None = None,
) -> Answered:
    return Answered(
        token or f"{topic} {at.isoformat()}",
        at,
        topic,
        right,
        choice,
        asked_name,
        "",
        response_s,
        False,
        rating or (3 if right else 1),
        "text",
    )


def days(number: float) -> timedelta:
    return timedelta(days=number)
