"""A trainee at practice: asking, answering, repeating, laying a row, ending."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from listen.practice.desk import Desk
from listen.practice.judging import Judge, Marking, Outcome
from listen.practice.questions import LAID, Question
from listen.practice.schedule import Course, SessionSettings
from listen.practice.session import MOST_AGAIN
from listen.practice.store import PracticeStore, StoreError, sqlite_url
from listen.practice.topics import Drill, Topic, curriculum, partners
from tests.listen.practice.classroom import CLASS_TWO, NOON, facts, lexicon, pack, questions

MakeDesk = Callable[..., Desk]


@pytest.fixture
def store(tmp_path: Path) -> PracticeStore:
    opened = PracticeStore(sqlite_url(tmp_path / "practice.sqlite"))
    opened.add("Ann", NOON)
    return opened


@pytest.fixture
def desk(store: PracticeStore) -> MakeDesk:
    def make(*topics: Topic, minutes: float = 10) -> Desk:
        chosen = topics or curriculum(pack(), facts(), CLASS_TWO)
        return Desk(
            questions(),
            Judge(questions(), lexicon()),
            store,
            "Ann",
            Course(chosen, partners(pack())),
            NOON,
            np.random.default_rng(0),
            SessionSettings(length=timedelta(minutes=minutes)),
        )

    return make


def opened(desk: Desk) -> Question:
    question = desk.next(NOON)
    assert question is not None
    return question


WEDGE = Topic(Drill.NAME, "wedge")


def test_a_right_answer_is_kept_and_the_next_question_comes(desk: MakeDesk, store: PracticeStore) -> None:
    at = desk()
    first = opened(at)
    reply = at.by_touch(first.right[0], NOON, "t1", 1.5)
    assert reply.stored is not None and reply.stored.right and not reply.open
    assert store.reviews("Ann")[0].answer == reply.stored
    assert opened(at) is not first


def test_a_wrong_answer_tells_the_right_one_and_the_difference(desk: MakeDesk) -> None:
    at = desk(WEDGE)
    opened(at)
    reply = at.by_text("etchant", NOON, "t1", 2.0)
    assert reply.judgement.outcome is Outcome.WRONG
    assert reply.explain.startswith("Wedge.") and len(reply.explain) > len("Wedge.")


def test_an_unclear_answer_leaves_the_question_open_and_nothing_is_kept(
    desk: MakeDesk, store: PracticeStore
) -> None:
    at = desk(WEDGE)
    question = opened(at)
    reply = at.by_text("mumble mumble", NOON, "t1", 2.0)
    assert reply.open and reply.stored is None
    assert opened(at) is question
    assert store.reviews("Ann") == ()


def test_a_question_that_stays_unclear_is_put_aside_and_not_marked_wrong(
    desk: MakeDesk, store: PracticeStore
) -> None:
    at = desk()
    question = opened(at)
    replies = [at.by_text("mumble mumble", NOON, str(i), 2.0) for i in range(MOST_AGAIN)]
    assert replies[-1].aside and not replies[-1].open
    assert question.answer in replies[-1].explain
    assert opened(at).topic != question.topic
    assert store.reviews("Ann") == ()


def test_silence_is_like_an_unclear_answer(desk: MakeDesk, store: PracticeStore) -> None:
    at = desk(WEDGE)
    opened(at)
    assert at.by_silence().open
    assert store.reviews("Ann") == ()


def test_what_was_unclear_counts_with_what_is_said_next_and_no_longer(
    desk: MakeDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    before: list[dict[str, float]] = []
    unclear = Marking(Outcome.AGAIN, None, "the holland back.", 0.5, likely={"hollenback_carver": 0.5})

    def speech(judge: Judge, question: Question, samples: object, given: dict[str, float]) -> Marking:
        before.append(dict(given))
        return unclear

    monkeypatch.setattr(Judge, "speech", speech)
    at, sound = desk(WEDGE), np.zeros(16_000, np.float32)
    opened(at)
    reply = at.by_voice(sound, NOON, "v1", None)
    assert reply.open and "the holland back”" in reply.explain
    at.by_voice(sound, NOON, "v2", None)
    assert before == [{}, unclear.likely]
    at.by_voice(sound, NOON, "v3", None)  # set aside
    opened(at)
    at.by_voice(sound, NOON, "v4", None)
    at.by_text("mumble mumble", NOON, "t1", None)
    at.by_voice(sound, NOON, "v5", None)
    assert before[3:] == [{}, {}]


def test_asking_again_costs_no_mark_but_counts_as_unsure(desk: MakeDesk) -> None:
    at = desk(WEDGE)
    opened(at)
    for _ in range(MOST_AGAIN + 2):
        assert at.by_text("say that again", NOON, "r", None).open
    reply = at.by_text("wedge", NOON, "t1", 1.0)
    assert reply.stored is not None and reply.stored.unsure and reply.stored.rating == 2


def test_a_row_is_laid_item_by_item(desk: MakeDesk, store: PracticeStore) -> None:
    at = desk(Topic(Drill.LAY, pack().tray(CLASS_TWO).rows[0].name, CLASS_TWO))
    question = opened(at)
    first, second, *_ = question.right
    wrong = first.split(LAID)[0] + LAID + second.split(LAID)[1]
    told = at.by_touch(wrong, NOON, "w", 2.0).explain
    here, there = (question.choice(one.split(LAID)[0]).shown for one in (second, first))
    assert f"is for the {here}." in told and f"The {there} belongs in slot {first.split(LAID)[1]}" in told
    assert "in the step" in told or "look" in told or "tip" in told
    for number, placement in enumerate(question.right):
        item, slot = placement.split(LAID)
        said = f"{question.choice(item).shown} in {slot}"
        reply = at.by_text(said, NOON, str(number), 4.0)
        assert reply.open == (number + 1 < len(question.right))
    assert reply.stored is not None and reply.stored.rating == 2
    assert reply.stored.response_s == pytest.approx(
        (2.0 + 4.0 * len(question.right)) / (len(question.right) + 1)
    )
    assert len(store.reviews("Ann")) == 1


def test_a_row_whose_answer_could_not_be_kept_takes_its_last_piece_again(
    desk: MakeDesk, store: PracticeStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = desk(Topic(Drill.LAY, pack().tray(CLASS_TWO).rows[0].name, CLASS_TWO))
    *rest, last = opened(at).right
    for number, placement in enumerate(rest):
        at.by_touch(placement, NOON, str(number), 1.0)

    def full(*given: object) -> None:
        raise StoreError("the disk is full; free some space.")

    with monkeypatch.context() as patched, pytest.raises(StoreError, match="disk is full"):
        patched.setattr(store, "record", full)
        at.by_touch(last, NOON, "last", 1.0)
    reply = at.by_touch(last, NOON, "again", 1.0)
    assert reply.stored is not None and len(store.reviews("Ann")) == 1


def test_a_row_may_be_given_up(desk: MakeDesk) -> None:
    at = desk(Topic(Drill.LAY, pack().tray(CLASS_TWO).rows[0].name, CLASS_TWO))
    opened(at)
    reply = at.by_text("I don't know", NOON, "t", None)
    assert reply.stored is not None and not reply.stored.right and not reply.open


def test_a_session_goes_on_where_the_last_one_stopped(desk: MakeDesk) -> None:
    first = desk()
    topic = opened(first).topic
    first.by_text("I don't know", NOON, "t", 1.0)
    again = desk()
    assert topic.key in again.session.deck


def test_the_session_is_over_after_its_length(desk: MakeDesk) -> None:
    at = desk(minutes=1)
    opened(at)
    at.by_touch(at.question.right[0] if at.question else "", NOON, "t", 1.0)
    assert at.next(NOON + timedelta(minutes=2)) is None


def test_an_answer_without_a_question_is_refused(desk: MakeDesk) -> None:
    with pytest.raises(ValueError, match="no question is open"):
        desk().by_text("wedge", NOON, "t", 1.0)
