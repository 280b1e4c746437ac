"""What is asked when, and how a session goes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from fsrs import Card, Rating, Scheduler

from listen.practice.judging import Marking, Outcome
from listen.practice.schedule import (
    SCHEDULER,
    Course,
    SessionSettings,
    Trail,
    is_known,
    next_topic,
    rating,
    rating_of_row,
    recall_p,
    reviewed,
)
from listen.practice.session import Answered, PracticeSession, answered, response_time
from listen.practice.topics import Drill, Topic, curriculum, partners
from tests.listen.practice.classroom import NOON, answer, ask, days, facts, pack

AGAIN, HARD, GOOD, EASY = Rating.Again, Rating.Hard, Rating.Good, Rating.Easy

# --- the published algorithm: tests/test_basic.py in the source of fsrs 6.3 (PyPI) ----------------------


def test_the_scheduler_gives_its_published_intervals() -> None:
    """`test_review_card`: intervals in days for these ratings, each review when it is due."""
    scheduler, card, now = Scheduler(enable_fuzzing=False), Card(card_id=1, due=NOON), NOON
    intervals = []
    for given in (GOOD, GOOD, GOOD, GOOD, GOOD, GOOD, AGAIN, AGAIN, GOOD, GOOD, GOOD, GOOD, GOOD):
        card, _ = scheduler.review_card(card, given, now)
        assert card.last_review is not None
        intervals.append((card.due - card.last_review).days)
        now = card.due
    assert intervals == [0, 2, 11, 46, 163, 498, 0, 0, 2, 4, 7, 12, 21]


def test_our_memories_reach_the_published_stability_and_difficulty() -> None:
    """`test_memo_state`: 53.62691 days and 6.3574867 after these ratings at these gaps."""
    card, now = None, datetime(2022, 11, 29, 12, 30, tzinfo=UTC)
    for given, gap in zip((AGAIN, GOOD, GOOD, GOOD, GOOD, GOOD), (0, 0, 1, 3, 8, 21), strict=True):
        now += days(gap)
        card = reviewed(card, given, now)
    assert card is not None
    assert card.stability == pytest.approx(53.62691, abs=1e-4)
    assert card.difficulty == pytest.approx(6.3574867, abs=1e-4)


def test_an_interval_is_when_recall_has_fallen_to_nine_in_ten() -> None:
    """By its definition the stability is the time after which recall is 90 %."""
    card = reviewed(reviewed(None, GOOD, NOON), GOOD, NOON + days(2))
    assert card.last_review is not None and card.stability is not None
    assert (card.due - card.last_review).days == round(card.stability)
    assert recall_p(card, card.due) == pytest.approx(0.9, abs=0.01)


def test_nothing_comes_back_by_minutes_or_by_chance() -> None:
    assert SCHEDULER.learning_steps == () and SCHEDULER.relearning_steps == ()
    assert not SCHEDULER.enable_fuzzing
    assert {reviewed(None, AGAIN, NOON).due for _ in range(5)} == {NOON + days(1)}


def test_a_time_in_any_zone_is_taken() -> None:
    from zoneinfo import ZoneInfo

    there = NOON.astimezone(ZoneInfo("Pacific/Auckland"))
    assert reviewed(None, GOOD, there).due == reviewed(None, GOOD, NOON).due


# --- rating -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("right", "response_s", "unsure", "new", "wanted"),
    [
        (False, 1.0, False, False, AGAIN),
        (True, 1.0, False, False, EASY),
        (True, 1.0, True, False, HARD),
        (True, 4.0, False, False, GOOD),
        (True, 9.0, False, False, HARD),
        (True, None, False, False, GOOD),
        (True, None, True, False, HARD),
        (True, 1.0, False, True, EASY),
    ],
)
def test_speed_and_doubt_count(
    right: bool, response_s: float | None, unsure: bool, new: bool, wanted: Rating
) -> None:
    assert rating(Drill.NAME, right, response_s, unsure, new) is wanted


def test_a_first_quick_answer_that_may_be_a_guess_is_not_easy() -> None:
    assert rating(Drill.FACT, True, 0.5, False, new=True) is GOOD
    assert rating(Drill.FACT, True, 0.5, False, new=False) is EASY
    assert rating(Drill.NAME, True, 0.5, False, new=True, chosen=True) is GOOD
    assert rating(Drill.NAME, True, 0.5, False, new=False, chosen=True) is EASY
    assert rating(Drill.PASS, True, 0.5, False, new=True) is GOOD


def test_a_row_counts_by_what_was_placed_right() -> None:
    assert [rating_of_row(share, 4.0, False) for share in (1.0, 0.8, 0.5)] == [GOOD, HARD, AGAIN]


def test_response_time_runs_from_the_end_of_the_question_to_the_start_of_the_answer() -> None:
    assert response_time(10.0, 12.5) == 2.5
    assert response_time(10.0, 9.9) == 0.0  # answered before the question had ended


def test_an_unclear_answer_is_never_stored() -> None:
    question = ask(Drill.NAME, "wedge")
    with pytest.raises(ValueError, match="never stored"):
        answered(question, Marking(Outcome.AGAIN, None, "", 0.2), None, NOON, "t", 1.0, "voice")


def test_a_question_that_had_to_be_repeated_counts_as_unsure() -> None:
    question = ask(Drill.NAME, "wedge")
    right = Marking(Outcome.RIGHT, "wedge", "wedge", 1.0)
    assert answered(question, right, None, NOON, "t", 1.0, "voice", repeated=True).rating == HARD
    assert answered(question, right, None, NOON, "t", 1.0, "voice").rating == EASY


# --- what comes next ------------------------------------------------------------------------------------


def course() -> Course:
    return Course(curriculum(pack(), facts()), partners(pack()))


_COURSE = course()


def _card(stability_days: float, due: datetime) -> Card:
    card = reviewed(None, GOOD, NOON - days(1))
    card.stability, card.due = stability_days, due
    return card


def test_a_pair_is_told_apart_once_each_of_the_two_was_met() -> None:
    pair = Topic(Drill.APART, "amalgam_carrier+hollenback_carver")
    whole = course()
    one, other = (Topic(Drill.NAME, item).key for item in pair.items)
    sure, shaky = _card(30, NOON + days(9)), _card(0.5, NOON + days(9))
    assert not whole.may_start(pair, {})
    assert not whole.may_start(pair, {one: sure})
    assert whole.may_start(pair, {one: sure, other: shaky})
    assert next_topic(whole, {one: sure, other: shaky}, NOON, Trail(), SessionSettings()) == pair


def test_look_alikes_do_not_arrive_together() -> None:
    whole = _COURSE
    deck: dict[str, Card] = {}
    trail = Trail()
    now = NOON
    for _ in range(40):
        topic = next_topic(whole, deck, now, trail, SessionSettings())
        assert topic is not None
        if topic.key not in deck:
            begun = {t.subject for t in whole.topics if t.drill is Drill.NAME and t.key in deck}
            assert not begun & partners(pack())[topic.subject] if topic.drill is Drill.NAME else True
        new = topic.key not in deck
        deck[topic.key] = reviewed(deck.get(topic.key), AGAIN, now)
        trail = trail.after(topic.key, new, False)
        now += timedelta(seconds=8)


def test_new_topics_arrive_in_small_groups() -> None:
    settings = SessionSettings(group=3)
    trail, now = Trail(), NOON
    deck: dict[str, Card] = {}
    for _ in range(60):
        topic = next_topic(_COURSE, deck, now, trail, settings)
        assert topic is not None
        new = topic.key not in deck
        deck[topic.key] = reviewed(deck.get(topic.key), GOOD, now)
        trail = trail.after(topic.key, new, True)
        now += timedelta(seconds=8)
        assert sum(trail.new[-6:]) <= 3
    assert sum(trail.new) > 20


def test_what_is_due_comes_before_anything_new_the_weakest_first() -> None:
    keys = [Topic(Drill.NAME, item).key for item in ("wedge", "matrix_band", "etchant")]
    weak, weaker, later = _card(3, NOON), _card(1, NOON), _card(1, NOON + days(3))
    deck = dict(zip(keys, (weak, weaker, later), strict=True))
    topic = next_topic(_COURSE, deck, NOON + days(1), Trail(), SessionSettings())
    assert topic is not None and topic.key == keys[1]


def test_a_topic_does_not_come_back_at_once() -> None:
    session = PracticeSession(_COURSE, {}, NOON, SessionSettings(gap=4))
    asked: list[str] = []
    now = NOON
    while (topic := session.next(now)) is not None and len(asked) < 50:
        assert topic.key not in asked[-4:]
        asked.append(topic.key)
        session.take(answer(topic.key, False, now))
        now += timedelta(seconds=8)


def test_what_was_missed_has_a_second_turn_in_the_session() -> None:
    session = PracticeSession(_COURSE, {}, NOON, SessionSettings(length=timedelta(minutes=5)))
    first = session.next(NOON)
    assert first is not None
    session.take(answer(first.key, False, NOON))
    asked, now = [], NOON
    while (topic := session.next(now := now + timedelta(seconds=8))) is not None:
        asked.append(topic.key)
        session.take(answer(topic.key, True, now))
    assert first.key in asked


# --- a session ----------------------------------------------------------------------------------------


def run(answers: Callable[[int], bool], length: timedelta = timedelta(minutes=2)) -> list[Answered]:
    session, now = PracticeSession(_COURSE, {}, NOON, SessionSettings(length=length)), NOON
    given: list[Answered] = []
    while (topic := session.next(now)) is not None:
        given.append(answer(topic.key, answers(len(given)), now))
        session.take(given[-1])
        now += timedelta(seconds=10)
        assert len(given) < 100
    return given


def test_a_session_has_a_set_length() -> None:
    assert len(run(lambda _: True)) == 12
    assert len(run(lambda _: True, timedelta(minutes=4))) == 24


def test_a_session_ends_on_a_success() -> None:
    for number in range(2, 6):
        for first in range(number):
            given = run([i % number == first for i in range(100)].__getitem__)
            assert given[-1].right


def test_a_session_ends_even_where_nothing_succeeds() -> None:
    assert len(run(lambda _: False)) == 12 + SessionSettings().most_extra


def test_the_last_question_is_one_that_is_known() -> None:
    session = PracticeSession(_COURSE, {}, NOON, SessionSettings(length=timedelta(minutes=1)))
    first, second = session.next(NOON), None
    assert first is not None
    session.take(answer(first.key, True, NOON, rating=4))
    second = session.next(NOON)
    assert second is not None
    session.take(answer(second.key, False, NOON))
    assert session.next(NOON + timedelta(minutes=2)) == first


def test_a_question_put_aside_does_not_come_back_at_once() -> None:
    session = PracticeSession(_COURSE, {}, NOON)
    topic = session.next(NOON)
    assert topic is not None
    session.put_aside(topic)
    assert session.next(NOON) != topic
    assert topic.key not in session.deck


def test_a_course_of_one_topic_still_goes_on() -> None:
    single = Course([Topic(Drill.NAME, "wedge")], {})
    session, now = PracticeSession(single, {}, NOON, SessionSettings(length=timedelta(minutes=1))), NOON
    count = 0
    while (topic := session.next(now)) is not None:
        session.take(answer(topic.key, count > 2, now))
        count, now = count + 1, now + timedelta(seconds=10)
    assert count == 6


def test_known_means_held_for_some_days() -> None:
    assert not is_known(None)
    assert not is_known(reviewed(None, AGAIN, NOON))
    assert is_known(reviewed(None, GOOD, NOON))
