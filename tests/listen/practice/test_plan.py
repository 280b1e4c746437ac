"""The path of the first weeks: stages and their checks, what may be begun, and what is new."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import pytest
from fsrs import Card, Rating

from listen.practice.facts import Observation
from listen.practice.plan import (
    GROUP,
    MOST_NEW,
    STAGES,
    Path,
    enough,
    grouped,
    known_in,
    new_names,
    news,
    opened,
    path,
    seen_well,
    went_well,
)
from listen.practice.schedule import Course, reviewed
from listen.practice.store import Observed
from listen.practice.today import NEW, today
from listen.practice.topics import Drill, Topic, curriculum, partners
from tests.listen.practice.classroom import CLASS_TWO, NOON, answer, days, facts, pack
from vocab.layers.changes import (
    AddItem,
    AddName,
    Change,
    ClearSlot,
    Operation,
    SetSlot,
    SetSteps,
    Undo,
    UseItem,
)
from vocab.layers.vocabulary import Entry
from vocab.pack.schema import Name

TOPICS = curriculum(pack(), facts(), CLASS_TWO)
CHECKLIST = facts().checklist
MUST = frozenset(point.id for point in CHECKLIST if point.must)
WEDGE = Topic(Drill.SLOT, "wedge", CLASS_TWO)


def of(*drills: str) -> list[str]:
    return [topic.key for topic in TOPICS if topic.drill in drills]


def stands(memories: dict[str, bool], seen: Iterable[str] = (), rehearsed: bool = False) -> Path:
    return path(TOPICS, memories, CHECKLIST, frozenset(seen), rehearsed)


def test_every_drill_is_in_one_stage() -> None:
    taught = [drill for stage in STAGES for drill in stage.drills]
    assert len(taught) == len(set(taught)) and set(Drill) <= set(taught)
    groups = [group for stage in STAGES for group in stage.groups]
    assert sorted(groups) == sorted({point.group for point in CHECKLIST})


@pytest.mark.parametrize(
    ("known", "of", "is_enough"),
    [(9, 10, True), (8, 9, False), (26, 29, False), (27, 29, True), (0, 0, False)],
)
def test_nine_of_ten_are_enough(known: int, of: int, is_enough: bool) -> None:
    assert enough(known, of) is is_enough


def test_a_newcomer_stands_on_the_first_stage_and_only_that_is_open() -> None:
    found = stands({})
    assert [step.name for step in found.steps] == [stage.name for stage in STAGES]
    assert found.number == 1 and found.here is found.steps[0]
    assert [step.open for step in found.steps] == [True, False, False, False, False]
    assert {topic.drill for topic in opened(TOPICS, ())} == {Drill.NAME, Drill.APART, Drill.FACT}


def test_a_stage_opens_once_half_of_the_one_before_is_begun_in_a_group_of_items() -> None:
    group = grouped(TOPICS)[0]
    names = [t.key for t in group if t.drill in STAGES[0].drills and t.drill is not Drill.APART]
    half = dict.fromkeys(names[: (len(names) + 1) // 2], False)
    found = stands(half)
    assert found.steps[1].open and not found.steps[2].open and not found.steps[0].passed
    assert Drill.SLOT in {t.drill for t in opened(TOPICS, half)} and set(opened(TOPICS, half)) <= set(group)
    fewer = dict(list(half.items())[:-1])
    assert not stands(fewer).steps[1].open
    assert Drill.SLOT not in {t.drill for t in opened(TOPICS, fewer)}


def test_a_stage_is_passed_at_nine_of_ten() -> None:
    names = of("name", "apart", "fact")
    nine = -(-9 * len(names) // 10)
    known = {key: n < nine for n, key in enumerate(names)}
    assert stands(known).number == 2
    assert stands(known | {names[0]: False}).number == 1


def test_the_items_asked_for_most_come_first_ten_at_a_time_each_with_its_check() -> None:
    groups = grouped(TOPICS)
    assert sorted(topic for group in groups for topic in group) == sorted(TOPICS)
    names = [topic for topic in TOPICS if topic.drill is Drill.NAME]
    for n, group in enumerate(groups):
        assert [t for t in group if t.drill is Drill.NAME] == names[GROUP * n : GROUP * (n + 1)]
        met = {item for some in groups[: n + 1] for t in some for item in t.items}
        assert {item for t in group if t.drill is Drill.APART for item in t.items} <= met
    first = stands({topic.key: True for topic in groups[0]})
    assert first.groups[0].passed and first.group == 2 and not first.groups[1].passed
    assert len(first.groups) == len(groups)
    assert set(groups[1]) & set(opened(TOPICS, {topic.key for topic in groups[0]}))
    assert stands({topic.key: True for topic in TOPICS}).group == len(groups) + 1


def test_a_newcomer_gets_to_places_and_passing_in_the_first_week() -> None:
    """Eight new things a day, as they are offered, each answered rightly."""
    for procedure in pack().procedures:
        topics, held = curriculum(pack(), facts(), procedure.id), dict[str, Card]()
        for day in range(5):
            offered = today(pack(), facts(), held, (), procedure.id, NOON + days(day)).topics
            course = Course(offered, partners(pack()))
            for _ in range(NEW):
                new = [t for t in course.topics if t.key not in held and course.may_start(t, held)]
                held |= deck(*(topic.key for topic in new[:1]), at=NOON + days(day))
        begun = {topic.drill for topic in topics if topic.key in held}
        assert {Drill.NAME, Drill.SLOT, Drill.PASS} <= begun, procedure.id


def test_a_stage_that_is_watched_needs_every_point_that_must_be_seen() -> None:
    known = dict.fromkeys((topic.key for topic in TOPICS), True)
    passing = {p.id for p in CHECKLIST if p.must and p.group == "passing"}
    here = stands(known).here
    assert here is not None and (here.name, here.seen) == ("Passing", 0)
    assert stands(known, passing).number == 5
    assert stands(known, MUST).number == 5  # it was not rehearsed
    assert stands(known, MUST, True).here is None and stands(known, MUST, True).number == 6


@pytest.mark.parametrize(("requests", "right", "well"), [(10, 9, True), (10, 8, False), (7, 7, False)])
def test_a_rehearsal_goes_well_with_nine_of_ten_right_and_not_too_few(
    requests: int, right: int, well: bool
) -> None:
    assert went_well(requests, right) is well


def test_without_a_checklist_or_a_procedure_stages_with_nothing_in_them_are_left_out() -> None:
    names = curriculum(pack(), facts(), drills=(Drill.NAME, Drill.APART, Drill.FACT))
    assert [step.name for step in path(names, {}, (), (), None).steps] == ["Names"]


def test_the_latest_note_of_a_point_counts() -> None:
    seen = [Observed("a", True, "Lee", NOON), Observed("a", False, "Lee", NOON + days(1))]
    assert seen_well(seen[:1]) == {"a"} and seen_well(seen[::-1]) == frozenset()


# --- what is new ----------------------------------------------------------------------------------------


def entry(do: Operation, when: datetime = NOON, counts: bool = True, ident: str = "c1") -> Entry:
    return Entry("clinic", Change(id=ident, who="Kim", when=when, do=do), counts, f"about {ident}")


def deck(*keys: str, at: datetime = NOON) -> dict[str, Card]:
    return {key: reviewed(None, Rating.Good, at) for key in keys}


def test_a_new_name_is_asked_by_that_name_until_it_was_answered() -> None:
    change = entry(AddName(item="wedge", name=Name(text="wood chip")), NOON + days(1))
    found = news([change], TOPICS, deck(WEDGE.key))
    assert WEDGE in {new.topic for new in found} and new_names(found)["wedge"] == "wood chip"
    assert all("wedge" in new.topic.items and new.text == "about c1" for new in found)
    after = deck(*(new.topic.key for new in found), at=NOON + days(2))
    assert news([change], TOPICS, after) == ()


def test_a_change_concerns_only_who_practised_something_of_it_before() -> None:
    moved = entry(SetSlot(tray=CLASS_TWO, at="1", item="wedge"), NOON + days(1))
    other = deck(Topic(Drill.SLOT, "mouth_mirror", CLASS_TWO).key)
    assert [new.topic for new in news([moved], TOPICS, other)] == [WEDGE]
    assert news([moved], TOPICS, {}) == ()
    assert news([moved], TOPICS, deck(Topic(Drill.SLOT, "mouth_mirror", "extraction").key)) == ()
    late = deck(Topic(Drill.SLOT, "mouth_mirror", CLASS_TWO).key, at=NOON + days(2))
    assert news([moved], TOPICS, late) == ()


@pytest.mark.parametrize("own", [True, False])
def test_of_an_item_that_is_new_here_name_and_place_are_asked(own: bool) -> None:
    """Whether the clinic has made it, or uses one of another vocabulary."""
    item = pack().item("wedge")
    use = AddItem(item=item) if own else UseItem(item="wedge", field="endodontics")
    history = [
        entry(use, NOON + days(1), ident="c1"),
        entry(SetSlot(tray=CLASS_TWO, at="1", item="wedge"), NOON + days(1), ident="c2"),
    ]
    mirror = deck(Topic(Drill.SLOT, "mouth_mirror", CLASS_TWO).key)
    found = {new.topic: new.text for new in news(history, TOPICS, mirror)}
    assert found == {WEDGE: "about c2", Topic(Drill.NAME, "wedge"): "about c1"}
    named = mirror | deck(Topic(Drill.NAME, "wedge").key, at=NOON + days(2))
    assert [new.topic for new in news(history, TOPICS, named)] == [WEDGE]
    elsewhere = deck(Topic(Drill.SLOT, "mouth_mirror", "extraction").key)
    assert news(history, TOPICS, elsewhere) == () and news(history, TOPICS, {}) == ()


def test_a_changed_tray_and_changed_steps_are_laid_and_told_again() -> None:
    cleared = entry(ClearSlot(tray=CLASS_TWO, at="1"), NOON + days(1))
    begun = deck(WEDGE.key, Topic(Drill.NEXT, TOPICS[-1].subject, CLASS_TWO).key)
    assert {new.topic.drill for new in news([cleared], TOPICS, begun)} == {Drill.LAY}
    steps = entry(SetSteps(procedure=CLASS_TWO, steps=pack().procedure(CLASS_TWO).steps), NOON + days(1))
    found = news([steps], TOPICS, begun)
    assert {new.topic.drill for new in found} == {Drill.NEXT} and len(found) == MOST_NEW


def test_what_was_taken_back_is_new_as_it_was_before() -> None:
    named = AddName(item="wedge", name=Name(text="wood chip"))
    history = [
        entry(named, NOON + days(1), counts=False, ident="c1"),
        entry(Undo(change="c1"), NOON + days(2), ident="c2"),
    ]
    found = news(history, TOPICS, deck(WEDGE.key))
    assert WEDGE in {new.topic for new in found} and new_names(found) == {}
    assert {new.text for new in found} == {"about c2"}


def test_what_has_changed_is_part_of_today_and_not_counted_twice() -> None:
    given = [answer(WEDGE.key, True)]
    change = entry(SetSlot(tray=CLASS_TWO, at="1", item="wedge"), NOON + days(1))
    memories = deck(WEDGE.key)
    found = today(pack(), facts(), memories, given, CLASS_TWO, NOON + days(60), [change])
    assert [new.topic for new in found.changed] == [WEDGE] and found.due == 0
    assert today(pack(), facts(), memories, given, CLASS_TWO, NOON + days(60)).due == 1
    assert known_in(memories) == {WEDGE.key: True}


def test_an_observation_of_another_group_says_nothing() -> None:
    point = Observation(id="x", group="passing", text="Passes well", must=True)
    (step,) = path((), {}, (point,), {"y"}, None).steps
    assert (step.name, step.must, step.seen, step.passed) == ("Passing", 1, 0, False)
