"""Judging: right, wrong, or say it again; by text, touch and voice."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from listen.engine import Hearing, Phrasing, Samples
from listen.practice.answers import answers_pack, value_key
from listen.practice.judging import AnswerEngines, Judge, Marking, Outcome
from listen.practice.questions import Question
from listen.practice.topics import Drill
from listen.speech import voices
from tests.listen.practice.classroom import CLASS_TWO, ask, lexicon, pack, questions
from vocab.pack.schema import Pack

CARVER = ask(Drill.NAME, "hollenback_carver")


@pytest.fixture(scope="module")
def judge() -> Judge:
    return Judge(questions(), lexicon())


@pytest.mark.parametrize(
    "said", [name.text for name in pack().item("hollenback_carver").names] + ["It's the Hollenback carver."]
)
def test_any_accepted_name_is_right(judge: Judge, said: str) -> None:
    assert judge.text(CARVER, said).outcome is Outcome.RIGHT


def test_a_name_that_says_a_size_is_a_name(judge: Judge) -> None:
    clamp = ask(Drill.NAME, "dam_clamp")
    own = [name.text for name, _ in pack().item("dam_clamp").variant_name_pairs if not name.shared]
    assert own and all(judge.text(clamp, said).outcome is Outcome.RIGHT for said in own)


@pytest.mark.parametrize(
    ("item", "said"),
    [("egg_burnisher", "football"), ("diamond_football", "the egg"), ("needle_long", "a needle")],
)
def test_a_name_that_several_items_have_is_asked_back(judge: Judge, item: str, said: str) -> None:
    """As at the chair: it is neither right nor wrong before more is said."""
    judgement = judge.text(ask(Drill.NAME, item), said)
    assert (judgement.outcome, judgement.choice, judgement.said) == (Outcome.AGAIN, None, said)
    assert judge.text(ask(Drill.NAME, item), pack().item(item).name.text).outcome is Outcome.RIGHT


@pytest.mark.parametrize(
    ("said", "place"),
    [
        ("1", 0),
        ("two", 1),
        ("number one", 0),
        ("the left one", 0),
        ("right", 1),
        ("it's the second one", 1),
        ("I think the one on the left", 0),
        ("needle", None),
        ("long needle", None),
    ],
)
def test_of_two_pictures_one_is_said_by_its_number_or_side(
    judge: Judge, said: str, place: int | None
) -> None:
    question = ask(Drill.APART, "needle_long+needle_short")
    marked = judge.text(question, said)
    assert marked.choice == (None if place is None else question.offered[place])
    assert marked.outcome is not Outcome.AGAIN or place is None


def test_a_way_to_pass_a_place_in_a_kit_and_where_a_kit_stands_are_said(judge: Judge) -> None:
    passing = ask(Drill.PASS, "explorer_shepherd")
    right = passing.offered.index(passing.right[0]) + 1
    wrong = next(n for n in (1, 2, 3, 4) if n != right)
    for said in (str(right), f"number {right}"):
        assert judge.text(passing, said).outcome is Outcome.RIGHT
    assert judge.text(passing, f"number {wrong}").outcome is Outcome.WRONG
    stands = ask(Drill.SLOT, "kit/bur_kit", CLASS_TWO)
    assert judge.text(stands, "at the chair").outcome is Outcome.RIGHT
    assert judge.text(stands, "counter").outcome is Outcome.WRONG
    in_kit = ask(Drill.SLOT, "bur_330", CLASS_TWO)
    number = in_kit.right[0].rpartition(" ")[2]
    for said in (number, f"number {number}", in_kit.right[0]):
        assert judge.text(in_kit, said).outcome is Outcome.RIGHT


def test_the_name_of_another_item_is_wrong_and_the_difference_is_told(judge: Judge) -> None:
    judgement = judge.text(CARVER, "the carrier")
    assert (judgement.outcome, judgement.choice) == (Outcome.WRONG, "amalgam_carrier")
    assert "hollow tube" in judgement.tell


def test_an_item_outside_the_closed_set_is_still_told_from_the_right_one(judge: Judge) -> None:
    given = {choice.id for choice in CARVER.choices}
    other = next(item for item in pack().items if item.id not in given)
    assert judge.text(CARVER, other.name.text).choice == other.id


@pytest.mark.parametrize("said", ["", "asdf qwer", "something", "?!"])
def test_what_means_nothing_is_asked_again_not_marked_wrong(judge: Judge, said: str) -> None:
    assert judge.text(CARVER, said).outcome is Outcome.AGAIN


def test_a_slip_of_the_pen_is_forgiven(judge: Judge) -> None:
    assert judge.text(CARVER, "hollenbak carver").outcome is Outcome.RIGHT


@pytest.mark.parametrize("said", ["I don't know", "no idea", "not sure."])
def test_giving_up_is_wrong_and_told_as_such(judge: Judge, said: str) -> None:
    judgement = judge.text(CARVER, said)
    assert judgement.outcome is Outcome.WRONG and judgement.gave_up and judgement.choice is None


@pytest.mark.parametrize("said", ["repeat", "Say that again, please.", "what was that?"])
def test_asking_again_marks_nothing(judge: Judge, said: str) -> None:
    judgement = judge.text(CARVER, said)
    assert judgement.outcome is Outcome.AGAIN and judgement.repeat


@pytest.mark.parametrize(
    "said", ["I think it's the Hollenback", "Hollenback?", "maybe the carver", "carver I guess"]
)
def test_doubt_is_noticed(judge: Judge, said: str) -> None:
    judgement = judge.text(CARVER, said)
    assert judgement.outcome is Outcome.RIGHT and judgement.unsure


@pytest.mark.parametrize(
    "opener",
    [
        "that would be the",
        "that'd be the",
        "it's the",
        "I think it's the",
        "um, the",
        "uh, well, that's the",
        "hmm... let me see, it's a",
        "oh, that's called the",
        "so it's probably the",
    ],
)
def test_words_before_an_answer_change_nothing(judge: Judge, opener: str) -> None:
    for question, bare in (
        (CARVER, "Hollenback"),
        (CARVER, "carrier"),
        (CARVER, "right angle explorer"),
        (ask(Drill.SLOT, "wedge", CLASS_TWO), ask(Drill.SLOT, "wedge", CLASS_TWO).right[0]),
        (ask(Drill.FACT, "etch_enamel_time"), "fifteen seconds"),
    ):
        plain, opened = judge.text(question, bare), judge.text(question, f"{opener} {bare}")
        assert (opened.outcome, opened.choice) == (plain.outcome, plain.choice)


def test_a_hesitation_alone_is_no_answer(judge: Judge) -> None:
    for said in ("um", "I think", "that would be the"):
        assert judge.text(CARVER, said).outcome is Outcome.AGAIN


def test_a_plain_answer_shows_no_doubt(judge: Judge) -> None:
    assert not judge.text(CARVER, "it's the carver").unsure


@pytest.mark.parametrize(
    ("fact", "said", "outcome"),
    [
        ("high_speed_most", "400,000", Outcome.RIGHT),
        ("high_speed_most", "about four hundred thousand rpm", Outcome.RIGHT),
        ("high_speed_most", "40000", Outcome.WRONG),
        ("high_speed_most", "12", Outcome.WRONG),
        ("high_speed_most", "very fast", Outcome.AGAIN),
        ("etch_enamel_time", "15 s", Outcome.RIGHT),
        ("etch_enamel_time", "fifteen seconds", Outcome.RIGHT),
        ("etch_enamel_time", "15", Outcome.RIGHT),
        ("etch_enamel_time", "15 minutes", Outcome.WRONG),
        ("probe_healthy", "one to three millimeters", Outcome.RIGHT),
        ("size_330", "oh oh eight", Outcome.RIGHT),
        ("size_330", "008", Outcome.RIGHT),
        ("size_330", "oh fourteen", Outcome.WRONG),
        ("trimmer_angle", "50.4", Outcome.RIGHT),
        ("latch_fits", "contra angle", Outcome.RIGHT),
        ("latch_fits", "the high speed", Outcome.WRONG),
    ],
)
def test_numbers_are_judged_as_they_are_said_and_written(
    judge: Judge, fact: str, said: str, outcome: Outcome
) -> None:
    assert judge.text(ask(Drill.FACT, fact), said).outcome is outcome


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("8,000 to 30,000", "eight to thirty thousand"),
        ("250,000", "two hundred and fifty thousand"),
        ("15 s", "about fifteen seconds"),
        ("25 microns", "25 micrometres"),
        ("35 to 37 %", "thirty-five to thirty-seven percent"),
    ],
)
def test_a_value_has_one_form(one: str, other: str) -> None:
    assert value_key(one) == value_key(other)


def test_a_slot_is_said_or_touched(judge: Judge) -> None:
    question = ask(Drill.SLOT, "wedge", CLASS_TWO)
    (at,) = question.right
    assert judge.text(question, f"slot {at}").outcome is Outcome.RIGHT
    assert judge.text(question, "it's in slot one").outcome is Outcome.WRONG
    assert judge.touch(question, at).outcome is Outcome.RIGHT
    assert judge.touch(question, "1").outcome is Outcome.WRONG


def test_an_item_and_its_slot_are_said_in_either_order(judge: Judge) -> None:
    question = ask(Drill.LAY, pack().tray(CLASS_TWO).rows[0].name, CLASS_TWO)
    item, at = question.right[0].split("@")
    name = question.choice(item).shown
    for said in (f"the {name} goes in slot {at}", f"{at} {name}", f"{name} {at}"):
        assert judge.text(question, said).choice == question.right[0]
    wrong = question.right[1].split("@")[1]
    assert judge.text(question, f"{name} in {wrong}").outcome is Outcome.WRONG
    assert judge.text(question, name).outcome is Outcome.AGAIN


# --- in free words ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "choice"),
    [
        ("the one next to the mirror... five", "5"),
        ("Five, the one next to the mirror.", "5"),
        ("seven, no, eight", "8"),
        ("seven no wait eight", "8"),
        ("It's not seven, it's eight.", "8"),
        ("eight, not seven", "8"),
        ("it goes in seven I guess", "7"),
        ("Oh I know this, um, slot seven!", "7"),
        ("uh, matrix kit, um, two", "matrix kit 2"),
        ("either two or three, I'd say three", "3"),
    ],
)
def test_a_slot_in_free_words_is_the_last_that_was_meant(judge: Judge, said: str, choice: str) -> None:
    question = questions().on_whole_tray("wedge", CLASS_TWO, np.random.default_rng(0), {})
    assert judge.text(question, said).choice == choice


@pytest.mark.parametrize(
    ("said", "choice"),
    [
        ("I think it's the, um, Hollenback?", "hollenback_carver"),
        ("that's the acorn one", "acorn_burnisher"),
        ("amalgam carrier, no wait, the Hollenback", "hollenback_carver"),
        ("definitely not the hollenback, so the cleoid", "discoid_cleoid"),
        ("It looks a lot like the amalgam carrier but it's really the Hollenback.", "hollenback_carver"),
        ("After the amalgam carrier you take the Hollenback.", "hollenback_carver"),
        ("The Hollenback's gone.", "hollenback_carver"),
    ],
)
def test_a_name_in_free_words_is_the_one_that_was_meant(judge: Judge, said: str, choice: str) -> None:
    assert judge.text(CARVER, said).choice == choice


@pytest.mark.parametrize(
    "said",
    [
        "the amalgam carrier or the Hollenback",
        "not the Hollenback",
        "I don't think it's the Hollenback",
        "The Hollenback? No.",
        "It's used after the condenser.",
    ],
)
def test_what_is_not_settled_on_is_asked_again_and_is_no_request_to_repeat(judge: Judge, said: str) -> None:
    judgement = judge.text(CARVER, said)
    assert judgement.outcome is Outcome.AGAIN and not judgement.repeat


def test_what_is_gone_may_be_written_like_a_plural(judge: Judge) -> None:
    """Speech has no apostrophe: "the wedge's gone" is often written "the wedges gone"."""
    question = ask(Drill.FAULT, pack().tray(CLASS_TWO).rows[0].name, CLASS_TWO)
    name = question.choice(question.right[0]).shown
    for said in (f"The {name}'s gone.", f"The {name}s gone."):
        assert judge.text(question, said).outcome is Outcome.RIGHT


def test_two_answers_of_which_either_is_right_are_right(judge: Judge) -> None:
    question = ask(Drill.NEXT, pack().procedure(CLASS_TWO).steps[3].id, CLASS_TWO)
    wrong = next(choice.id for choice in question.choices if choice.id not in question.right)
    shown = [question.choice(choice).shown for choice in (*question.right[:2], wrong)]
    assert len(question.right) > 1
    assert judge.text(question, f"the {shown[0]} or the {shown[1]}").outcome is Outcome.RIGHT
    assert judge.text(question, f"the {shown[0]} or the {shown[2]}").outcome is Outcome.AGAIN


@pytest.mark.parametrize(
    ("said", "outcome"),
    [
        ("two seconds, no, fifteen", Outcome.RIGHT),
        ("not fifty, fifteen", Outcome.RIGHT),
        ("My notes say fifteen seconds.", Outcome.RIGHT),
        ("fifteen to twenty seconds", Outcome.WRONG),
        ("fifteen minutes, I looked it up", Outcome.WRONG),
        ("give me one more second", Outcome.AGAIN),
    ],
)
def test_a_value_in_free_words_counts_whole(judge: Judge, said: str, outcome: Outcome) -> None:
    assert judge.text(ask(Drill.FACT, "etch_enamel_time"), said).outcome is outcome


@pytest.mark.parametrize("said", ["the second one", "the last one", "not seven", "I need one more second"])
def test_a_word_that_only_may_be_a_number_is_no_wrong_slot(judge: Judge, said: str) -> None:
    assert judge.text(ask(Drill.SLOT, "wedge", CLASS_TWO), said).outcome is Outcome.AGAIN


def test_giving_up_and_asking_again_are_understood_in_sentences(judge: Judge) -> None:
    for said in ("Sorry, I really have no idea what that is.", "It's on the tip of my tongue but no."):
        assert judge.text(CARVER, said).gave_up
    for said in ("Sorry, could you ask me that again?", "I wasn't listening, what was it?"):
        assert judge.text(CARVER, said).repeat
    judgement = judge.text(CARVER, "I don't know, maybe the Hollenback?")
    assert judgement.outcome is Outcome.RIGHT and judgement.unsure and not judgement.gave_up


def test_an_item_and_its_slot_may_be_corrected(judge: Judge) -> None:
    question = ask(Drill.LAY, pack().tray(CLASS_TWO).rows[0].name, CLASS_TWO)
    (item, at), (other, elsewhere) = (one.split("@") for one in question.right[:2])
    name, wrong = question.choice(item).shown, question.choice(other).shown
    for said in (f"I'd put the {name} into {at}", f"{wrong} in {elsewhere}, no, the {name} in {at}"):
        assert judge.text(question, said).choice == question.right[0]


# --- by voice: an engine that hears what the test says ------------------------------------------------


@dataclass
class Scripted:
    """Hears the given phrasings (nats) whatever the sound; remembers what it was bound to."""

    heard: dict[str, float]
    log_p_free: float = -5.0
    free_text: str = "something"
    spliced: dict[str, float] = field(default_factory=dict)
    bound: list[tuple[str, ...]] = field(default_factory=list)

    def hear(self, samples: Samples, expected: Sequence[str] = ()) -> Hearing:
        ranked = sorted(self.heard.items(), key=lambda pair: -pair[1])
        best = ranked[0][1] if ranked else -math.inf
        return Hearing(
            phrasings=tuple(Phrasing(text, log_p) for text, log_p in ranked),
            free_text=self.free_text,
            log_p_free=self.log_p_free,
            log_p_best=best,
            duration_s=len(samples) / 16_000,
            spliced=tuple(Phrasing(text, log_p) for text, log_p in self.spliced.items()),
            evidence_spliced=-1.0 if self.spliced else 0.0,
        )

    def among(
        self,
        names: Iterable[str],
        pairs: bool = False,
        within: bool = False,
        places: Iterable[str] = (),
    ) -> Scripted:
        self.bound.append(tuple(names))
        return self


def spoken(heard: dict[str, float], question: Question = CARVER, log_p_free: float = -5.0) -> Outcome:
    engine = Scripted(heard, log_p_free)
    return (
        Judge(questions(), lexicon(), lambda _: engine).speech(question, np.zeros(16_000, np.float32)).outcome
    )


def test_a_mumbled_right_answer_is_heard() -> None:
    assert spoken({"the hollenback carver": -12.0, "the carrier": -13.5}) is Outcome.RIGHT


def test_a_clear_wrong_answer_is_marked_wrong() -> None:
    assert spoken({"the carrier": -6.0, "the carver": -20.0}) is Outcome.WRONG


def test_between_a_right_and_a_wrong_answer_that_sound_alike_it_is_asked_again() -> None:
    outcomes = [spoken({"the carrier": -9.0, "the carver": -9.0 + nats}) for nats in np.arange(-12, 6, 0.5)]
    assert outcomes == sorted(outcomes, key=[Outcome.WRONG, Outcome.AGAIN, Outcome.RIGHT].index)
    assert set(outcomes) == set(Outcome)


def test_something_that_is_no_answer_is_asked_again() -> None:
    assert spoken({"the carver": -45.0}, log_p_free=-5.0) is Outcome.AGAIN
    assert spoken({}) is Outcome.AGAIN


def in_free_words(free_text: str, spliced: dict[str, float], heard: dict[str, float]) -> Marking:
    engine = Scripted(heard, -5.0, free_text, spliced)
    return Judge(questions(), lexicon(), lambda _: engine).speech(CARVER, np.zeros(16_000, np.float32))


def test_a_sentence_in_free_words_is_heard_and_so_is_its_doubt() -> None:
    """The closed grammar hears nothing of it; a name put into the free words does."""
    said = {"I think, um, it's the hollenback?": 12.0, "I think, um, it's the carrier?": -3.0}
    judgement = in_free_words("I think, um, it's the hole in back?", said, {"the carrier": -60.0})
    assert judgement.outcome is Outcome.RIGHT and judgement.unsure


def test_a_spoken_correction_counts_and_what_was_corrected_does_not() -> None:
    said = {"the hollenback, no, the amalgam carrier": 12.0}
    judgement = in_free_words("The Hollenback, no, the amalgam carrier.", said, {"the hollenback": -50.0})
    assert (judgement.outcome, judgement.choice) == (Outcome.WRONG, "amalgam_carrier")


def test_what_is_heard_the_same_twice_is_believed() -> None:
    """Neither hearing is enough by itself; together they are, and a second that is another answer counts."""
    engine = Scripted({}, -5.0)
    judge, sound = Judge(questions(), lexicon(), lambda _: engine), np.zeros(16_000, np.float32)

    def heard(carver: float, before: Marking | None = None) -> Marking:
        engine.heard = {"the carrier": -9.0, "the hollenback carver": -9.0 + carver}
        return judge.speech(CARVER, sound, before.likely if before else None)

    unclear = next(m for nats in np.arange(-12, 6, 0.25) if (m := heard(nats)).outcome is Outcome.AGAIN)
    lead = next(nats for nats in np.arange(-12, 6, 0.25) if heard(nats).outcome is Outcome.AGAIN)
    assert unclear.likely and max(unclear.likely, key=lambda m: unclear.likely[m]) == "amalgam_carrier"
    assert heard(lead, unclear).outcome is Outcome.WRONG
    assert heard(lead + 20.0, unclear).outcome is Outcome.RIGHT
    assert heard(lead + 20.0).likely == {}


def test_a_number_is_heard_after_a_place_that_is_run_together_with_it() -> None:
    bound: list[tuple[str, ...]] = []

    class Placed(Scripted):
        def among(
            self,
            names: Iterable[str],
            pairs: bool = False,
            within: bool = False,
            places: Iterable[str] = (),
        ) -> Scripted:
            bound.append(tuple(places))
            return self

    judge = Judge(questions(), lexicon(), lambda _: Placed({"7": -4.0}))
    judge.speech(ask(Drill.SLOT, "wedge", CLASS_TWO), np.zeros(16_000, np.float32))
    judge.speech(ask(Drill.FACT, "etch_enamel_time"), np.zeros(16_000, np.float32))
    assert "in" in bound[0] and "slot" in bound[0] and bound[1] == ()


def test_giving_up_in_free_words_is_heard_although_a_name_could_be_put_in() -> None:
    judgement = in_free_words(
        "My mind has gone blank.", {"My mind has gone plane.": -6.0, "My mandrel gone blank.": -2.0}, {}
    )
    assert judgement.gave_up


def test_giving_up_and_asking_again_are_heard() -> None:
    assert spoken({"i don't know": -6.0}) is Outcome.WRONG
    assert spoken({"say that again": -6.0}) is Outcome.AGAIN


def test_the_engine_is_asked_for_the_same_answers_and_bound_to_those_of_the_question() -> None:
    made: list[Pack] = []
    engine = Scripted({"fifteen seconds": -4.0})

    def factory(answers: Pack) -> Scripted:
        made.append(answers)
        return engine

    judge = Judge(questions(), lexicon(), factory)
    question = ask(Drill.FACT, "etch_enamel_time")
    for _ in range(2):
        assert judge.speech(question, np.zeros(16_000, np.float32)).outcome is Outcome.RIGHT
    assert made[0] is made[1]
    known = {name.text for item in made[0].items for name in item.names}
    assert set(engine.bound[0]) <= known
    assert set(engine.bound[0]) == {way for choice in question.choices for way in choice.ways}


def test_text_needs_no_engine_but_voice_does(judge: Judge) -> None:
    with pytest.raises(ValueError, match="only judges text"):
        judge.speech(CARVER, np.zeros(16_000, np.float32))


# --- by voice: the embedded engine --------------------------------------------------------------------


@pytest.fixture(scope="module")
def hearing() -> Judge:
    from listen.neural.engine import NeuralEngine

    return Judge(questions(), lexicon(), AnswerEngines(lambda: NeuralEngine(pack())))


def test_the_model_of_the_engine_in_use_is_shared(monkeypatch: pytest.MonkeyPatch) -> None:
    from listen.neural import engine
    from listen.neural.network import Network

    loaded: list[Path] = []

    class Counted(Network):
        def __init__(self, folder: Path, threads: int = 2) -> None:
            loaded.append(folder)
            super().__init__(folder, threads)

    monkeypatch.setattr(engine, "Network", Counted)
    engines = AnswerEngines(partial(engine.NeuralEngine, pack()))
    one, other = ("mouth mirror", "wedge"), ("mouth mirror", "hoe")
    for answers in (one, other):
        engines(answers_pack(answers)).among(answers)
    assert engines(answers_pack(one)) is engines(answers_pack(other)), "two vocabularies, two engines"
    engines(answers_pack(one)).among((*one, *other))
    assert len(loaded) == 1


@pytest.mark.parametrize(
    ("said", "outcome"),
    [
        ("It's the Hollenback carver.", Outcome.RIGHT),
        ("The carver.", Outcome.RIGHT),
        ("That would be the Hollenback carver.", Outcome.RIGHT),
        ("Um, the Hollenback carver.", Outcome.RIGHT),
        ("I think it's the Hollenback carver.", Outcome.RIGHT),
        ("That would be the amalgam carrier.", Outcome.WRONG),
        ("The amalgam carrier.", Outcome.WRONG),
        ("Not the spoon excavator. It's the Hollenback carver.", Outcome.RIGHT),
        ("The Hollenback carver, no, the spoon excavator.", Outcome.WRONG),
        ("I don't know.", Outcome.WRONG),
        ("Say that again, please.", Outcome.AGAIN),
    ],
)
def test_a_voice_is_judged(hearing: Judge, said: str, outcome: Outcome) -> None:
    voice = voices.voice("flite-rms")
    if voice not in voices.available():
        pytest.skip("flite, whose voice answers here, is not installed: apt install flite")
    assert hearing.speech(CARVER, voices.synthesize(voice, said)).outcome is outcome
