"""What comes next, as a short story in a running procedure: requests that are heard, until it stops.

Takes a NEXT question and how well its topic is known; returns the lines with their pauses, and each as
sound in chair noise. How the dentist talks, pauses and sounds is the rehearsal's, on a level that rises with
the memory of the topic. Where nobody can speak, the lines are there to be read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from fsrs import Card

from listen.engine import Samples
from listen.practice.clues import sentence
from listen.practice.questions import Question, Questions
from listen.practice.rehearsal.levels import PAUSE_SPREAD, Level, level
from listen.practice.rehearsal.script import may_rehearse, overheard
from listen.practice.rehearsal.sound import Talkers, can_speak
from listen.speech import noise

LEVEL_DAYS = ((2.0, 2), (7.0, 3), (21.0, 4))
TOP_LEVEL = 5
"""The rehearsal's level by a memory's stability in days: 2 below 2 days, 3 below 7, 4 below 21, then 5. Level
1 is left out, as nobody talks so plainly for long. Our choice, not measured."""
FIRST_S, LAST_S = 0.6, 0.4
"""Chair noise before the first line and after the last."""


@dataclass(frozen=True)
class StoryLine:
    """Something that is said. talker: 0 for the dentist; pause_s: the silence after it."""

    said: str
    talker: int
    pause_s: float


@dataclass(frozen=True)
class Story:
    """What is heard before a question. procedure: in which it is, by name; level: how the dentist talks, and
    in which noise."""

    procedure: str
    lines: tuple[StoryLine, ...]
    level: Level


def level_of(card: Card | None) -> Level:
    """The level of a topic with this memory; None for a new one."""
    days = card.stability or 0.0 if card is not None else 0.0
    return level(next((number for below, number in LEVEL_DAYS if days < below), TOP_LEVEL))


def told(questions: Questions, question: Question, card: Card | None, rng: np.random.Generator) -> Story:
    """The story before a NEXT question."""
    at, name = level_of(card), questions.pack.procedure(question.topic.place).name
    if may_rehearse(questions.pack):
        lines = overheard(questions, question.topic.place, question.heard, at, rng)
        return Story(name, tuple(StoryLine(one.said, one.talker, one.pause_s) for one in lines), at)
    asks = questions.words.requests
    return Story(
        name,
        tuple(
            StoryLine(
                sentence(asks[int(rng.integers(len(asks)))].format(questions.called(item))),
                0,
                float(at.pause_s * np.exp(np.clip(rng.normal(0.0, PAUSE_SPREAD), -1.0, 1.0))),
            )
            for item in question.heard
        ),
        at,
    )


def spoken(
    story: Story, line: int, language: str, seed: Sequence[int], folder: Path | None
) -> Samples | None:
    """One line of a story and the silence after it, in chair noise; shape = (n,), float32, 16 kHz mono. None
    where nothing on this machine speaks the language, or the story has no such line.

    Args:
        line: its number, from 0.
        seed: the story's own: the same talkers and the same noise each time it is heard.
        folder: where speech is cached; None for nowhere, with the machine's one voice.
    """
    if not 0 <= line < len(story.lines) or not can_speak(language):
        return None
    talkers = Talkers(story.level.talkers, language, np.random.default_rng([*seed]), folder)
    one = story.lines[line]
    said = talkers.said(one.said, one.talker, line, None)
    if said is None:
        return None
    last = line == len(story.lines) - 1
    padded = noise.pad(said, FIRST_S if line == 0 else 0.0, LAST_S if last else one.pause_s)
    if story.level.noise_db is None:
        return padded
    chair = noise.chair(len(padded), np.random.default_rng([*seed, line]))
    return noise.mix(padded, chair, story.level.noise_db).samples
