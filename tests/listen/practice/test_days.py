"""A trainee's practice day by day."""

from __future__ import annotations

from datetime import date, timedelta, timezone

from listen.practice.days import days_in_a_row, practice_days
from listen.practice.topics import Drill, Topic
from tests.listen.practice.classroom import NOON, answer, days

ONE, OTHER = Topic(Drill.NAME, "wedge").key, Topic(Drill.NAME, "etchant").key


def test_each_day_has_its_answers_and_what_was_known_that_evening() -> None:
    given = [answer(ONE, True), answer(OTHER, False), answer(OTHER, True, NOON + days(2), rating=4)]
    given.append(answer(ONE, False, NOON + days(3)))
    found = practice_days(given, {ONE, OTHER}, NOON + days(4))
    assert [d.day for d in found] == [NOON.date() + timedelta(days=n) for n in range(5)]
    assert [(d.answers, d.right, d.wrong) for d in found] == [
        (2, 1, 1), (0, 0, 0), (1, 1, 0), (1, 0, 1), (0, 0, 0)
    ]  # fmt: skip
    assert [d.known for d in found] == [1, 1, found[2].known, found[3].known, found[3].known]
    assert found[3].known < found[2].known or found[2].known == 1


def test_only_the_topics_and_the_last_days_count() -> None:
    given = [answer(ONE, True, NOON + days(n)) for n in range(40)]
    found = practice_days([*given, answer(OTHER, True, NOON + days(40))], {ONE}, NOON + days(40), most=5)
    assert [d.answers for d in found] == [1, 1, 1, 1, 0] and found[-1].known == 1
    assert practice_days(given, {OTHER}, NOON) == ()


def test_a_day_is_that_of_the_clinic() -> None:
    late = NOON.replace(hour=23)
    eastern = timezone(timedelta(hours=2))
    (found,) = practice_days([answer(ONE, True, late)], {ONE}, late.astimezone(eastern))
    assert found.day == date(2024, 3, 5)


def test_days_in_a_row_lead_up_to_today_and_a_day_not_over_breaks_nothing() -> None:
    def row(*on: int, today: int) -> int:
        return days_in_a_row(
            practice_days([answer(ONE, True, NOON + days(n)) for n in on], {ONE}, NOON + days(today))
        )

    assert row(0, 1, 2, today=2) == row(0, 1, 2, today=3) == 3
    assert row(0, 1, 2, today=4) == 0 and row(0, 2, today=2) == 1 and days_in_a_row(()) == 0
