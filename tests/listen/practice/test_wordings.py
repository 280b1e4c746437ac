"""Drills in the language of the pack: what is asked and told, and what may be typed."""

from __future__ import annotations

import re
import string
from collections.abc import Iterable, Sequence
from dataclasses import fields

import numpy as np
import pytest

from listen.engine import Hearing, Phrasing, Samples
from listen.practice.answers import value_key
from listen.practice.facts import Facts, facts_beside
from listen.practice.judging import Judge, Outcome
from listen.practice.questions import Question, Questions
from listen.practice.topics import Drill, Topic, curriculum
from listen.practice.wordings import BY_LANGUAGE, ENGLISH, SPANISH, Wordings, wordings
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack
from vocab.requests.lexicon import Lexicon

PACK = shipped_pack("operativa_es")
QUESTIONS = Questions(PACK, Facts())
ENGLISH_WORDS = re.compile(
    r"\b(the|which|what|slot|please|or|is|it|next|put|and|could|hand|need|say|lay)\b", re.I
)


@pytest.fixture(scope="module")
def judge() -> Judge:
    return Judge(QUESTIONS, Lexicon(PACK))


def ask(drill: Drill, subject: str, place: str = "", seed: int = 0) -> Question:
    return QUESTIONS.ask(Topic(drill, subject, place), np.random.default_rng(seed))


@pytest.mark.parametrize("procedure", [None, *(p.id for p in PACK.procedures)])
def test_a_spanish_pack_asks_and_explains_in_spanish(procedure: str | None) -> None:
    drills = set()
    for seed, topic in enumerate(curriculum(PACK, Facts(), procedure)):
        question = QUESTIONS.ask(topic, np.random.default_rng(seed))
        drills.add(topic.drill)
        for text in (question.prompt, question.spoken, question.answer):
            assert not ENGLISH_WORDS.search(text) and "{" not in text, text
    assert Drill.NAME in drills and (procedure is None or {Drill.SLOT, Drill.NEXT, Drill.LAY} <= drills)


@pytest.mark.parametrize("told", BY_LANGUAGE.values(), ids=list(BY_LANGUAGE))
def test_every_sentence_has_the_same_gaps_in_each_language(told: Wordings) -> None:
    """What one language leaves out or misspells would be missing, or fail, only in a drill."""

    def gaps(text: str) -> set[str | None]:
        return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}

    for field in fields(ENGLISH):
        one, other = getattr(ENGLISH, field.name), getattr(told, field.name)
        if isinstance(one, str):
            assert gaps(one) == gaps(other), field.name
    assert told.kinds.keys() == set(Drill)
    assert all(gaps(request) == {""} for request in told.requests)


def test_a_language_without_wordings_is_asked_in_english() -> None:
    assert wordings("en") is wordings("xx") is ENGLISH and wordings("es") is SPANISH


@pytest.mark.parametrize(
    "said", ["5", "cinco", "el cinco", "en el hueco cinco", "hueco 5", "está en el número cinco"]
)
def test_a_slot_may_be_typed_in_spanish(judge: Judge, said: str) -> None:
    question = ask(Drill.SLOT, "cucharilla", "resina")
    assert question.right == ("5",)
    assert judge.text(question, said).outcome is Outcome.RIGHT
    assert judge.text(question, said.replace("cinco", "6").replace("5", "6")).outcome is Outcome.WRONG


def test_a_slot_with_a_number_word_in_its_address_keeps_it(judge: Judge) -> None:
    question = ask(Drill.SLOT, "jeringa_de_anestesia", "resina")
    assert judge.text(question, "anestesia dos").outcome is Outcome.RIGHT


@pytest.mark.parametrize(
    "said",
    [
        "el explorador",
        "Es el explorador.",
        "se llama explorador",
        "pues, eh, el explorador",
        "a ver, sería el explorador",
    ],
)
def test_words_around_an_answer_change_nothing_in_spanish(judge: Judge, said: str) -> None:
    judgement = judge.text(ask(Drill.NAME, "explorador"), said)
    assert judgement.outcome is Outcome.RIGHT and not judgement.unsure


@pytest.mark.parametrize("said", ["creo que es el explorador", "el explorador, creo", "quizás el explorador"])
def test_doubt_is_noticed_in_spanish(judge: Judge, said: str) -> None:
    judgement = judge.text(ask(Drill.NAME, "explorador"), said)
    assert judgement.outcome is Outcome.RIGHT and judgement.unsure


@pytest.mark.parametrize(
    ("fact", "said", "outcome"),
    [
        ("tiempo_dentina", "unos quince segundos", Outcome.RIGHT),
        ("tiempo_dentina", "creo que son 15 s", Outcome.RIGHT),
        ("tiempo_dentina", "quince minutos", Outcome.WRONG),
        ("unidad_sonda", "en milimetros", Outcome.RIGHT),
        ("largo_corta", "de veinte a veinticinco milímetros", Outcome.RIGHT),
        ("largo_corta", "de treinta y dos a treinta y cinco", Outcome.WRONG),
        ("fuerza_acido", "37 %", Outcome.RIGHT),
    ],
)
def test_values_are_said_in_spanish(fact: str, said: str, outcome: Outcome) -> None:
    questions = Questions(PACK, facts_beside("operativa_es", PACK))
    question = questions.ask(Topic(Drill.FACT, fact), np.random.default_rng(0))
    assert Judge(questions, Lexicon(PACK)).text(question, said).outcome is outcome


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("400.000", "cuatrocientos mil"),
        ("de 8 a 30 mil", "8.000 a 30.000"),
        ("15 s", "unos quince segundos"),
        ("37 %", "treinta y siete por ciento"),
    ],
)
def test_a_value_has_one_form_in_spanish(one: str, other: str) -> None:
    assert value_key(one, "es") == value_key(other, "es")


def test_a_spoken_answer_in_spanish_is_heard_among_spanish_words() -> None:
    """No engine hears Spanish yet; one that does is given the words that stand around answers."""
    made: list[Pack] = []

    class Scripted:
        def hear(self, samples: Samples, expected: Sequence[str] = ()) -> Hearing:
            return Hearing(
                (Phrasing("creo que es el explorador", -4.0),), "es el explorador", -5.0, -4.0, 1.0
            )

        def among(
            self,
            names: Iterable[str],
            pairs: bool = False,
            within: bool = False,
            places: Iterable[str] = (),
        ) -> Scripted:
            return self

    def factory(answers: Pack) -> Scripted:
        made.append(answers)
        return Scripted()

    judge = Judge(QUESTIONS, Lexicon(PACK), factory)
    judgement = judge.speech(ask(Drill.NAME, "explorador"), np.zeros(16_000, np.float32))
    assert judgement.outcome is Outcome.RIGHT and judgement.unsure
    assert made[0].language == "es" and "creo que es el" in made[0].speech.cues
    assert {"no lo sé", "ni idea"} <= set(made[0].speech.refusals)


@pytest.mark.parametrize("said", ["No lo sé", "no sé", "no se", "ni idea", "no me acuerdo", "I don't know"])
def test_giving_up_is_understood_in_spanish(judge: Judge, said: str) -> None:
    assert judge.text(ask(Drill.NAME, "explorador"), said).gave_up


def test_the_question_is_repeated_when_asked_for_in_spanish(judge: Judge) -> None:
    assert judge.text(ask(Drill.NAME, "explorador"), "Repítelo, por favor.").repeat
    assert judge.text(ask(Drill.NAME, "explorador"), "otra vez").repeat
    assert not judge.text(ask(Drill.NAME, "explorador"), "el explorador").repeat
    assert judge.text(ask(Drill.NAME, "explorador"), "es el explorador").outcome is Outcome.RIGHT


def test_a_row_is_laid_in_spanish(judge: Judge) -> None:
    question = ask(Drill.LAY, "fila de delante", "resina")
    at = next(r for r in question.right if not r.startswith("rollo_de_algodon@"))
    item, slot = at.split("@")
    said = f"{PACK.item(item).name.text} en el hueco {slot}"
    assert judge.text(question, said).choice == at


def test_what_spanish_puts_around_an_answer_is_not_taken_from_english(judge: Judge) -> None:
    english = shipped_pack()
    other = Judge(Questions(english, Facts()), Lexicon(english))
    question = Questions(english, Facts()).ask(
        Topic(Drill.SLOT, "wedge", "composite_class_two"), np.random.default_rng(0)
    )
    assert other.text(question, "no lo sé").outcome is Outcome.AGAIN
