"""A slot and its item said in one breath: right only if both are, and which of them is wrong is told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from listen.engine import Hearing, Phrasing, Samples
from listen.practice.facts import Facts
from listen.practice.judging import AnswerEngines, Judge, Outcome
from listen.practice.questions import Question, Questions
from listen.practice.topics import Drill, Topic
from listen.speech import noise, voices
from tests.listen.practice.classroom import CLASS_TWO, ask, lexicon, questions
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon

MIRROR = ask(Drill.SLOT, "mouth_mirror", CLASS_TWO)
AT, ELSEWHERE = MIRROR.right[0], "3"
SAID_TOGETHER = (
    "slot {at}, the {name}",
    "the {name}, {at}",
    "{at}, {name}",
    "the {name} is in slot {at}",
    "{at}, that's the {name}",
    "I think it's slot {at}, the {name}",
    "the {name} in {at}, please",
    "Um, {at}, the, uh, {name}.",
)
together = pytest.mark.parametrize("said", SAID_TOGETHER)


@pytest.fixture(scope="module")
def judge() -> Judge:
    return Judge(questions(), lexicon())


@together
def test_both_right_is_right(judge: Judge, said: str) -> None:
    marking = judge.text(MIRROR, said.format(at=AT, name="mirror"))
    assert (marking.outcome, marking.choice, marking.tell) == (Outcome.RIGHT, AT, "")


@together
def test_a_wrong_name_makes_a_right_slot_wrong_and_is_told(judge: Judge, said: str) -> None:
    marking = judge.text(MIRROR, said.format(at=AT, name="perio probe"))
    assert (marking.outcome, marking.choice) == (Outcome.WRONG, None) and not marking.gave_up
    assert "The slot is right, the name is not" in marking.tell
    assert "periodontal probe" in marking.tell and "mouth mirror" in marking.tell


@together
def test_a_wrong_slot_is_wrong_whatever_the_name_and_which_of_them_is_told(judge: Judge, said: str) -> None:
    marking = judge.text(MIRROR, said.format(at=ELSEWHERE, name="mirror"))
    assert (marking.outcome, marking.choice) == (Outcome.WRONG, ELSEWHERE)
    assert marking.tell.startswith("The name is right, the slot is not.")
    neither = judge.text(MIRROR, said.format(at=ELSEWHERE, name="perio probe"))
    assert neither.outcome is Outcome.WRONG and neither.tell.startswith("Neither is right")


@pytest.mark.parametrize(
    "said",
    ["slot {at}", "{at}, next to the perio probe", "not the perio probe, slot {at}", "{at}, the xyzzy"],
)
def test_a_slot_alone_is_judged_alone(judge: Judge, said: str) -> None:
    marking = judge.text(MIRROR, said.format(at=AT))
    assert (marking.outcome, marking.choice, marking.tell) == (Outcome.RIGHT, AT, "")


def test_a_number_that_is_a_name_is_no_slot(judge: Judge) -> None:
    bur = ask(Drill.SLOT, "bur_330", CLASS_TWO)
    short = bur.right[0].split()[-1]
    marking = judge.text(bur, f"{short}, the 330")
    assert (marking.outcome, marking.choice) == (Outcome.RIGHT, bur.right[0])


def test_doubt_about_both_is_kept(judge: Judge) -> None:
    assert judge.text(MIRROR, f"I think it's slot {AT}, the mirror").unsure


def test_other_drills_are_judged_as_before(judge: Judge) -> None:
    named = ask(Drill.NAME, "mouth_mirror")
    assert judge.text(named, "the mirror").outcome is Outcome.RIGHT


def test_it_is_understood_in_spanish() -> None:
    spanish = shipped_pack("operativa_es")
    asking = Questions(spanish, Facts())
    tray = spanish.trays[0]
    slot = tray.slots[0]
    question = asking.ask(Topic(Drill.SLOT, slot.item, tray.id), np.random.default_rng(0))
    judge, name = Judge(asking, Lexicon(spanish)), spanish.item(slot.item).name.text
    other = next(spanish.item(s.item).name.text for s in tray.slots if s.item != slot.item)
    assert judge.text(question, f"hueco {question.right[0]}, {name}").outcome is Outcome.RIGHT
    marking = judge.text(question, f"{other}, en {question.right[0]}")
    assert marking.outcome is Outcome.WRONG and "El hueco es correcto" in marking.tell


# --- spoken -------------------------------------------------------------------------------------------


@dataclass
class Hears:
    """An engine that hears one thing in slots alone, and another where items are listened for too."""

    slots: Hearing
    pairs: Hearing
    paired: int = 0

    def among(
        self,
        names: Iterable[str],
        pairs: bool = False,
        within: bool = False,
        places: Iterable[str] = (),
    ) -> Hears:
        self.paired += pairs
        return Hears(self.pairs if pairs else self.slots, self.pairs)

    def hear(self, samples: Samples, expected: Sequence[str] = ()) -> Hearing:
        return self.slots


def hearing(free: str, **phrasings: float) -> Hearing:
    found = tuple(Phrasing(text.replace("_", " "), -10.0 + nats) for text, nats in phrasings.items())
    best = max((one.log_p for one in found), default=-60.0)
    return Hearing(found, free, -10.0, best, 1.0)


def spoken(free: str, pairs: Hearing, question: Question = MIRROR) -> tuple[Hears, Outcome, str]:
    number = {"1": "one", "3": "three"}[AT]
    engine = Hears(hearing(free, **{f"slot_{number}": 0.0}), pairs)
    marking = Judge(questions(), lexicon(), lambda answers: engine).speech(
        question, np.zeros(16_000, np.float32)
    )
    return engine, marking.outcome, marking.tell


def test_what_is_heard_together_is_judged_together() -> None:
    free = "Slot one, the perio probe."
    _, outcome, tell = spoken(free, hearing(free, slot_one_the_perio_probe=18.0, slot_one=2.0))
    assert outcome is Outcome.WRONG and "The slot is right" in tell
    _, outcome, tell = spoken("Slot one, the mirror.", hearing("", slot_one_the_mirror=18.0, slot_one=2.0))
    assert (outcome, tell) == (Outcome.RIGHT, "")


def test_a_name_that_is_not_surely_heard_is_never_held_against_anybody() -> None:
    free = "Slot one, the pearl rope."
    _, outcome, _ = spoken(free, hearing(free, slot_one_the_perio_probe=2.0, slot_one=3.0))
    assert outcome is Outcome.RIGHT
    _, outcome, _ = spoken(free, hearing(free, slot_one_the_perio_probe=6.0, slot_one_the_mirror=5.0))
    assert outcome is Outcome.RIGHT


def test_a_slot_alone_is_heard_once() -> None:
    engine, outcome, _ = spoken("I think it's slot one.", hearing(""))
    assert outcome is Outcome.RIGHT and engine.paired == 0


@pytest.mark.slow
@pytest.mark.parametrize(
    ("said", "outcome", "tell"),
    [
        ("Slot one, the mirror.", Outcome.RIGHT, ""),
        ("The mirror, slot one.", Outcome.RIGHT, ""),
        ("Slot one, the cotton roll.", Outcome.WRONG, "The slot is right"),
        ("Slot four, the mirror.", Outcome.WRONG, "The name is right"),
    ],
)
def test_a_voice_says_both(said: str, outcome: Outcome, tell: str, tmp_path: Path) -> None:
    if not voices.available("test"):
        pytest.skip("no voice is installed")
    judge = Judge(questions(), lexicon(), AnswerEngines())
    samples = noise.pad(voices.synthesize(voices.available("test")[0], said), 0.3, 0.3)
    marking = judge.speech(MIRROR, samples)
    assert marking.outcome is outcome and marking.tell.startswith(tell)
