"""Today's practice: what is due, what is new, how long it takes, and when it ends."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fsrs import Card, Rating

from listen.practice.schedule import Course, reviewed
from listen.practice.session import Answered, PracticeSession
from listen.practice.today import NEW, SETTINGS, Today, hours_left, last_procedure, seconds_each, today
from listen.practice.topics import Drill, Topic, curriculum, partners
from tests.listen.practice.classroom import CLASS_TWO, NOON, answer, days, facts, pack

WEDGE = Topic(Drill.NAME, "wedge").key
SLOT = Topic(Drill.SLOT, "wedge", CLASS_TWO).key


def decked(*answers: Answered) -> dict[str, Card]:
    deck: dict[str, Card] = {}
    for one in answers:
        deck[one.topic] = reviewed(deck.get(one.topic), Rating(one.rating), one.at)
    return deck


def at(moment: float, *answers: Answered, proposed: str | None = CLASS_TWO) -> Today:
    return today(pack(), facts(), decked(*answers), answers, proposed, NOON + days(moment))


def test_a_newcomer_begins_some_of_the_proposed_procedure() -> None:
    found = at(0)
    assert (found.procedure, found.due, found.new, found.begun) == (CLASS_TWO, 0, NEW, False)
    first = next(t for t in curriculum(pack(), facts(), CLASS_TWO) if t.drill is Drill.NAME)
    assert found.minutes == 2 and first in found.topics
    assert not {t for t in found.topics if t.drill is Drill.SLOT}  # names come before places
    assert at(0, proposed=None).procedure == ""


def test_what_is_due_is_counted_wherever_it_was_begun() -> None:
    elsewhere = next(p for p in pack().procedures if p.id != CLASS_TWO)
    step = Topic(Drill.NEXT, elsewhere.steps[1].id, elsewhere.id).key
    given = (answer(step, False), answer(WEDGE, False), answer(SLOT, True, rating=4))
    found = at(1.5, *given)
    assert found.procedure == CLASS_TWO and found.begun
    assert found.due == 2 and step in {t.key for t in found.topics}
    assert at(0.1, *given).due == 0 and at(0.1, *given).tomorrow == 2
    assert at(60, *given).due == 3


def test_the_procedure_of_the_last_answer_goes_on() -> None:
    other = next(p for p in pack().procedures if p.id != CLASS_TWO and p.tray != CLASS_TWO)
    by_tray = answer(Topic(Drill.SLOT, "mouth_mirror", other.tray).key, True)
    named = answer(WEDGE, True)
    found = last_procedure(pack(), [answer(SLOT, True), by_tray, named])
    assert found is not None and pack().procedure(found).tray == other.tray
    assert last_procedure(pack(), [named]) is None


def test_time_is_told_at_ones_own_pace() -> None:
    slow = [answer(WEDGE, True, NOON + timedelta(seconds=40 * n)) for n in range(9)]
    assert seconds_each(slow) == 40 and seconds_each(slow[:3]) == seconds_each([])
    apart = [answer(WEDGE, True, NOON + days(n)) for n in range(9)]
    assert seconds_each(apart) == seconds_each([])
    assert hours_left(9, 20, 300, slow) is None and hours_left(300, 300, 300, slow) == 0
    twice = [answer(WEDGE, True, NOON + timedelta(seconds=18 * n)) for n in range(40)]
    assert hours_left(20, 20, 220, twice) == 2  # 200 left, two answers each, 18 s an answer


@pytest.mark.parametrize("right", [True, False])
def test_a_sitting_ends_when_all_that_was_wanted_is_done(right: bool) -> None:
    course = Course(curriculum(pack(), facts(), CLASS_TWO), partners(pack()))
    deck = decked(answer(WEDGE, False), answer(SLOT, False))
    now = NOON + days(2)
    session = PracticeSession(course, deck, now, SETTINGS)
    asked: list[str] = []
    while (topic := session.next(now)) is not None:
        asked.append(topic.key)
        session.take(answer(topic.key, right, now, f"{len(asked)}"))
        now += timedelta(seconds=10)
        assert len(asked) < 60
    assert set(asked[:2]) == {WEDGE, SLOT} and len(set(asked)) == 2 + NEW
    if right:
        assert len(asked) == 2 + NEW
    else:  # each comes a second time, and a few more are asked in the hope of ending well
        assert min(map(asked.count, asked)) == 2
        assert len(asked) <= 2 * (2 + NEW) + SETTINGS.most_extra


def test_look_alikes_are_asked_at_once_where_nothing_else_teaches_them() -> None:
    course = Course(curriculum(pack(), facts(), None, [Drill.APART]), partners(pack()))
    topic = PracticeSession(course, {}, NOON).next(NOON)
    assert topic is not None and topic.drill is Drill.APART
