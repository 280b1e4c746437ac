"""Practice answers in people's own words: the ways of one side, filled in for questions, and spoken.

Takes questions and a side; yields answers with the kind of marking that each should get. The ways stand in
`ways/answers_tune.tsv` and `answers_test.tsv`, each of other made-up people, and no way is on both. A line
has four columns: label, manner, drills (`any`, `item` for those that ask for an item, or a drill), sentence.

Labels: `answer`; `doubt`, with doubt; `either`, {a} or {x}; `unknown`, giving up; `repeat`, `other`.
Gaps: {a} is the answer, {x} another of its kind that is named too, {at} the slot in which {a} is laid, {n}
some item of the tray and {i} the one that was asked for.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from listen.bench.clips import NoVoices
from listen.bench.natural import BadWays
from listen.bench.spoken_answers import PROCEDURES, Kind, MadeAnswer, said_form
from listen.practice.questions import LAID, Question, Questions
from listen.practice.topics import Drill, Topic, curriculum
from listen.speech import voices

LABELS: dict[str, Kind] = {
    "either": "undecided", "unknown": "unknown", "repeat": "repeat", "other": "something else",
}  # fmt: skip
"""What those deserve that give no answer; the others are filled with a right and with a wrong one."""
ITEMS = (Drill.NAME, Drill.NEXT, Drill.FAULT)
DRILLS = (*ITEMS, Drill.SLOT, Drill.FACT, Drill.LAY)
"""What is answered with a name or a place; in the others the right picture or phrase is pointed out."""
GAP = re.compile(r"\{(a|x|at|n|i)\}")
_SEED = 2_203


@dataclass(frozen=True)
class AnswerWay:
    """One way of answering; `number` is its line."""

    number: int
    label: str
    manner: str
    drills: tuple[Drill, ...]
    sentence: str

    @property
    def answers(self) -> bool:
        """Whether it settles on an answer."""
        return self.label in ("answer", "doubt")


@cache
def ways(side: voices.Side) -> tuple[AnswerWay, ...]:
    """The ways of one side, in written order.

    Raises:
        BadWays: a line is damaged.
    """
    name = f"answers_{side}.tsv"
    text = files("listen.bench").joinpath("ways", name).read_text(encoding="utf-8")
    return tuple(_way(name, number, line) for number, line in enumerate(text.splitlines(), 1))


def _way(name: str, number: int, line: str) -> AnswerWay:
    columns = line.split("\t")
    if len(columns) != 4:
        raise BadWays(f"ways/{name}, line {number}: {len(columns)} columns instead of 4.")
    label, manner, where, sentence = columns
    groups = {"any": tuple(d for d in DRILLS if d is not Drill.LAY or "{a}" not in sentence), "item": ITEMS}
    drills = groups.get(where) or tuple(drill for drill in DRILLS if drill == where)
    if (
        label not in ("answer", "doubt", *LABELS)
        or not drills
        or (label in ("answer", "doubt")) != ("{a}" in sentence and label != "either")
    ):
        raise BadWays(f"ways/{name}, line {number}: label, drill or gap is none that is known.")
    return AnswerWay(number, label, manner, drills, sentence)


@dataclass(frozen=True)
class Filled:
    """An answer in a way: the question, the kind of marking it deserves, and its words."""

    way: AnswerWay
    question: Question
    kind: Kind
    text: str


def filled(questions: Questions, side: voices.Side, turns: int = 1) -> Iterator[Filled]:
    """Every way of a side, with a right and with a wrong answer where it gives one; each turn with others."""
    topics: dict[Drill, list[Topic]] = {drill: [] for drill in DRILLS}
    for procedure in PROCEDURES:
        for topic in curriculum(questions.pack, questions.facts, procedure, DRILLS):
            if topic.items or topic.drill is not Drill.SLOT:  # where a whole kit stands is not asked here
                topics[topic.drill].append(topic)
    for turn in range(turns):
        for way in ways(side):
            rng = np.random.default_rng([_SEED, side == "test", way.number, turn])
            kinds: Sequence[Kind] = ("right", "rival") if way.answers else (LABELS[way.label],)
            for kind in kinds:
                drill = way.drills[int(rng.integers(len(way.drills)))]
                question = questions.ask(topics[drill][int(rng.integers(len(topics[drill])))], rng)
                yield Filled(way, question, kind, _said(questions, question, way, kind, rng))


def answers(
    questions: Questions, side: voices.Side, levels_db: Sequence[float | None], turns: int = 1
) -> Iterator[MadeAnswer]:
    """The filled ways, each said by a recorded voice of the side at one of the levels, which take turns.

    Raises:
        NoVoices: no recorded voice of this side can speak here.
    """
    speaking = voices.available(side)
    if not speaking:
        raise NoVoices(f"no recorded voice of the {side} side can speak here; see DEVELOPERS.md")
    for place, one in enumerate(filled(questions, side, turns)):
        at, voice = divmod(place, len(speaking))
        snr_db = levels_db[at % len(levels_db)]
        yield MadeAnswer(one.question, one.kind, one.text, speaking[voice].id, snr_db)


def _said(
    questions: Questions, question: Question, way: AnswerWay, kind: Kind, rng: np.random.Generator
) -> str:
    text, drill = way.sentence, question.topic.drill
    right = [str(one) for one in rng.permutation(question.right)]
    if drill is Drill.LAY:
        item, at = right[0].split(LAID)
        slots = [place.split(LAID)[1] for place in question.right]
        if kind == "rival":
            at = str(rng.choice([slot for slot in slots if f"{item}{LAID}{slot}" not in question.right]))
        others = [c.id for c in question.choices if c.id not in (item, *slots)]
        gaps = {"a": _name(question, item, rng), "x": _name(question, str(rng.choice(others)), rng), "at": at}
    else:
        wrong = [choice.id for choice in question.choices if choice.id not in question.right]
        meant, other = (right[0], str(rng.choice(wrong)))
        if kind == "rival":
            meant, other = other, right[0] if rng.random() < 0.5 else str(rng.choice([*wrong]))
            other = other if other != meant else right[0]
        gaps = {"a": _name(question, meant, rng, right), "x": _name(question, other, rng, right)}
    if drill is Drill.SLOT:
        neighbours = [
            slot.item for slot in question.scene if slot.item and slot.item != question.topic.subject
        ]
        gaps["n"] = questions.called(str(rng.choice(neighbours)))
        gaps["i"] = question.asked_name or questions.called(question.topic.subject)
    for gap in dict.fromkeys(GAP.findall(text)):
        name = said_form(gaps[gap], rng)
        mark = f"{{{gap}}}"
        if not re.fullmatch(r"\d+", gaps[gap]):  # "slot bur kit 3" is said by nobody
            text = re.sub(
                rf"\b(?:[Ss]lot number|[Ss]lot|[Nn]umber|place number) {re.escape(mark)}", mark, text
            )
        if re.match(r"(?:the|in|from|before) ", name):
            text = re.sub(rf"\b(?:[Tt]he|[Aa]|[Ii]n|[Ll]ike|[Aa]bout|[Ii]s) {re.escape(mark)}", mark, text)
        text = text.replace(mark, name)
    text = text.replace("s's ", "s' ")
    return text[:1].upper() + text[1:]


def _name(question: Question, choice: str, rng: np.random.Generator, right: Sequence[str] = ()) -> str:
    """One of the names of a choice; of a wrong one a name that no right one has."""
    taken = {way.lower() for one in right if one != choice for way in question.choice(one).ways}
    own = [way for way in question.choice(choice).ways if way.lower() not in taken]
    return own[int(rng.integers(len(own)))]
