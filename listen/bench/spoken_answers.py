"""Spoken answers of made-up trainees, with the kind of marking that each should get.

Takes questions and the voices of one side; yields answers of every kind (right, a rival's name, another
item's name, giving up, asking again, something else), always the same ones, and makes their sound. Nothing
here listens.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, TypeVar

import numpy as np

from listen.bench.clips import NoVoices
from listen.bench.corpus import chatter
from listen.engine import Samples
from listen.practice.questions import Question, Questions
from listen.practice.topics import Drill, Topic, curriculum
from listen.speech import noise, voices
from vocab.language.english import ANSWERS
from vocab.language.tokens import spoken_forms

_T = TypeVar("_T")
Kind = Literal["right", "rival", "other item", "unknown", "repeat", "something else", "undecided"]

KINDS: tuple[Kind, ...] = (
    "right", "rival", "other item", "unknown", "repeat", "something else", "undecided",
)  # fmt: skip
SHARES = (0.5, 0.26, 0.09, 0.05, 0.05, 0.05, 0.0)
"""How often each kind of answer is drawn; only `natural_answers` are undecided."""
DRILLS = {
    Drill.NAME: 0.35,
    Drill.SLOT: 0.2,
    Drill.FACT: 0.15,
    Drill.APART: 0.15,
    Drill.NEXT: 0.1,
    Drill.FAULT: 0.05,
}
BEFORE = (
    "",
    "",
    "",
    "",
    "The ",
    "It's the ",
    "That's the ",
    "I'd say the ",
    "That would be the ",
    "Um, the ",
)
FOREIGN: dict[voices.Side, tuple[str, ...]] = {
    "tune": ("You'd ask for the ", "Pretty sure that's the ", "I'd call that the "),
    "test": ("I want to say the ", "My answer is the ", "Yeah, the "),
}
"""Words before an answer that are not in the grammar; each side has its own."""
PROCEDURES = ("composite_class_two", "amalgam_class_two", "dam_placement")
SNRS_DB = (None, 20.0)
CHAIR = "chair"
AGAIN_RATE = 0.9
"""The pace of what is said once more."""


@dataclass(frozen=True)
class MadeAnswer:
    """One spoken answer; `snr_db` None is quiet; again: it is said once more, as it was not clear."""

    question: Question
    kind: Kind
    text: str
    voice: str
    snr_db: float | None
    again: bool = False

    @property
    def id(self) -> str:
        """A hash of everything that decides what is judged, and on what sound."""
        choices = sorted(choice.id for choice in self.question.choices)
        parts = (
            self.question.topic.key,
            choices,
            sorted(self.question.right),
            self.text,
            self.voice,
            self.snr_db,
            *(("again",) if self.again else ()),
        )
        return hashlib.sha256(repr((voices.RECIPE, *parts)).encode()).hexdigest()[:16]

    @property
    def facts(self) -> dict[str, Any]:
        """What a record says about the answer."""
        return {
            "drill": str(self.question.topic.drill),
            "kind": self.kind,
            "text": self.text,
            "voice": self.voice,
            "snr_db": self.snr_db,
            "right": self.question.right,
        }


def answers(
    questions: Questions, side: voices.Side, count: int, seed: int = 5, speaker: str | None = None
) -> Iterator[MadeAnswer]:
    """The same answers for the same arguments; voices take turns.

    Raises:
        NoVoices: no voice of this side, or of this speaker, is available here.
    """
    rng = np.random.default_rng(seed)
    speaking = [voice for voice in voices.available(side) if speaker in (None, voice.speaker)]
    if not speaking:
        raise NoVoices(f"no voice of the {side} side{f' and of {speaker}' if speaker else ''} can speak here")
    topics: dict[Drill, list[Topic]] = {drill: [] for drill in DRILLS}
    for procedure in PROCEDURES:
        for topic in curriculum(questions.pack, questions.facts, procedure, DRILLS):
            topics[topic.drill].append(topic)
    drills, weights = list(DRILLS), np.array(list(DRILLS.values()))
    for number in range(count):
        drill = drills[int(rng.choice(len(drills), p=weights))]
        question = questions.ask(topics[drill][int(rng.integers(len(topics[drill])))], rng)
        kind = KINDS[int(rng.choice(len(KINDS), p=SHARES))]
        yield MadeAnswer(
            question,
            kind,
            _said(questions, question, kind, side, rng),
            speaking[number % len(speaking)].id,
            SNRS_DB[int(rng.integers(len(SNRS_DB)))],
        )


def sound(spoken: MadeAnswer, folder: Path) -> Samples:
    """The samples of an answer, 0.2 s of silence or noise around it. Said again it is a little slower, and in
    other noise."""
    rate = AGAIN_RATE if spoken.again else 1.0
    samples = voices.cached(voices.voice(spoken.voice), spoken.text, folder, rate)
    samples = noise.pad(samples, 0.2, 0.2)
    if spoken.snr_db is None:
        return samples
    rng = noise.generator_for(spoken.text, spoken.voice, f"{CHAIR} again" if spoken.again else CHAIR)
    return noise.mix(samples, noise.chair(len(samples), rng), spoken.snr_db).samples


def _said(
    questions: Questions, question: Question, kind: Kind, side: voices.Side, rng: np.random.Generator
) -> str:
    match kind:
        case "right":
            choice = question.choice(_one(question.right, rng))
        case "unknown":
            return _sentence(_one(ANSWERS.unknown, rng))
        case "repeat":
            return _sentence(_one(ANSWERS.repeat, rng))
        case "something else":
            return _one(chatter(side), rng)
        case _:
            wrong = [c for c in question.choices if c.id not in question.right]
            alike = [c for c in wrong if c.id in question.tells]
            known = {c.id for c in question.choices}
            outside = [item for item in questions.pack.by_id if item not in known]
            if kind == "other item" and question.items and outside:
                item = questions.pack.item(_one(outside, rng))
                names = [way for name in item.names if not name.shared for way in name.ways_to_say]
                return _answer(_one(names, rng), side, rng)
            choice = _one(alike if alike and rng.random() < 0.6 else wrong, rng)
    right_ways = {w for r in question.right for w in question.choice(r).ways}
    ways = [way for way in choice.ways if kind == "right" or way not in right_ways]
    return _answer(_one(ways, rng), side, rng)


def said_form(way: str, rng: np.random.Generator) -> str:
    """A wording as somebody says it: numbers in words, short forms letter by letter."""
    forms = spoken_forms(way)
    form = forms[0] if rng.random() < 0.7 else _one(forms, rng)
    for short in re.findall(r"[A-Z]{2,}", way):
        form = re.sub(rf"\b{short}\b", " ".join(short), form, flags=re.IGNORECASE)
    return re.sub(r"\bmm\b", "millimetres", form)


def _answer(way: str, side: voices.Side, rng: np.random.Generator) -> str:
    form = said_form(way, rng)
    draw = rng.random()
    if draw < 0.08:
        opener = _one(FOREIGN[side], rng)
    elif draw < 0.16:
        opener = f"{_one(ANSWERS.hedges, rng)} the "
    else:
        opener = _one(BEFORE, rng)
    if form.startswith(("the ", "a ", "in ")):
        opener = ""
    return _sentence(opener + form)


def _one(options: Sequence[_T], rng: np.random.Generator) -> _T:
    return options[int(rng.integers(len(options)))]


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."
