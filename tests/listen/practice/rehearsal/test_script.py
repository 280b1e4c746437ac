"""What is said in a rehearsal: in the procedure's order, from its own tray, the same for the same seed."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from importlib.resources import files

import numpy as np
import pytest

from listen.chairside.events import EventKind
from listen.practice.choices import FETCH
from listen.practice.facts import facts_beside
from listen.practice.questions import Questions
from listen.practice.rehearsal.languages import LINES
from listen.practice.rehearsal.levels import LEVELS, Level, level
from listen.practice.rehearsal.lines import NAME, Manner
from listen.practice.rehearsal.script import Kind, Script, steps_to_begin, write
from listen.practice.topics import PracticeError
from tests.listen.practice.classroom import CLASS_TWO, facts, pack, questions
from vocab.pack.load import shipped_names, shipped_pack

SEEDS = range(6)


@cache
def script(number: int = 5, seed: int = 0, procedure: str = CLASS_TWO, minutes: float = 10) -> Script:
    return write(questions(), procedure, level(number), np.random.default_rng(seed), minutes)


def some_scripts() -> list[Script]:
    return [script(one.number, seed) for one in LEVELS for seed in SEEDS]


def test_the_same_seed_says_the_same_and_another_something_else() -> None:
    again = write(questions(), CLASS_TWO, level(5), np.random.default_rng(0), 10)
    assert again == script(5, 0) != script(5, 1)


def test_what_is_asked_for_lies_on_the_procedures_own_tray() -> None:
    for one in some_scripts():
        holds = {slot.at: slot.item for slot in one.tray.slots}
        asked = [line for line in one.lines if line.asks]
        assert asked
        for line in asked:
            if line.question.right != (FETCH.id,):
                assert {holds[at] for at in line.question.right} == {line.item}


def test_every_procedure_can_be_rehearsed() -> None:
    for procedure in pack().procedures:
        one = script(3, 1, procedure.id)
        assert one.requests >= 10, procedure.id
        assert {line.step for line in one.lines} <= {step.name for step in procedure.steps}


def test_every_field_can_be_rehearsed() -> None:
    for name in shipped_names():
        field = shipped_pack(name)
        asks = Questions(field, facts_beside(name, field))
        for procedure in field.procedures:
            one = write(asks, procedure.id, level(4), np.random.default_rng(3), 3)
            assert one.requests, (name, procedure.id)


def test_requests_come_in_the_order_of_the_steps() -> None:
    """Most moves between steps lead on; the order model goes back now and then."""
    order = {step.name: place for place, step in enumerate(pack().procedure(CLASS_TWO).steps)}
    on, back = 0, 0
    for seed in range(20):
        places = [order[line.step] for line in script(1, seed).lines if line.asks]
        moves = [after - before for before, after in zip(places, places[1:], strict=False) if after != before]
        on += sum(move > 0 for move in moves)
        back += sum(move < 0 for move in moves)
        assert places[-1] > places[0]
    assert on > 10 * back > 0


def test_it_begins_where_it_is_wanted_and_ends_in_time() -> None:
    procedure = pack().procedure(CLASS_TWO)
    one = write(questions(), CLASS_TWO, level(2), np.random.default_rng(0), 3, first_step="finish")
    assert one.lines[0].step == next(step.name for step in procedure.steps if step.id == "finish")
    for made, minutes in ((one, 3), (script(1), 10), (script(5), 10)):
        silence_s = sum(line.pause_s for line in made.lines)
        assert silence_s < 60 * minutes


def test_nothing_that_is_always_checked_is_asked_for_or_named() -> None:
    for one in some_scripts():
        assert not any(line.item and pack().item(line.item).always_check for line in one.lines)
        assert not any(step.id == "anaesthetise" for step in steps_to_begin(pack(), one.procedure))


def test_talk_and_notes_are_never_requests() -> None:
    kinds: Counter[Kind] = Counter()
    for one in some_scripts():
        for line in one.lines:
            kinds[line.kind] += 1
            assert line.asks == (line.kind not in (Kind.CHATTER, Kind.NOTE))
            assert line.asks or not line.taken_back
    assert set(kinds) == set(Kind) and min(kinds.values()) >= 5


def test_a_correction_asks_for_something_else_than_what_it_takes_back() -> None:
    seen = 0
    for one in some_scripts():
        for before, line in zip(one.lines, one.lines[1:], strict=False):
            assert before.taken_back == (line.kind is Kind.CORRECTION)
            if before.taken_back:
                seen += 1
                assert before.item != line.item and not set(before.question.right) & set(line.question.right)
                assert before.wait_s < 2 < line.wait_s
    assert seen >= 10


def test_what_falls_was_just_passed_and_is_replaced_from_where_there_is_another() -> None:
    fetched, taken = 0, 0
    for one in some_scripts():
        for before, line in zip(one.lines, one.lines[1:], strict=False):
            if line.kind is not Kind.DROP:
                continue
            assert before.item == line.item and (EventKind.PASSED, line.item) in before.moves
            if line.question.right == (FETCH.id,):
                fetched += 1
                assert (EventKind.ADDED, line.item) in line.moves
            else:
                taken += 1
                assert (EventKind.ADDED, line.item) not in line.moves
    assert fetched >= 5 and taken >= 1


def test_calm_is_plain_and_quiet_and_busy_is_not() -> None:
    calm, busy = script(1, 2), script(5, 2)
    usual = {item.name.text for item in pack().items}
    assert all(line.question.asked_name in usual for line in calm.lines if line.asks)
    assert not any(line.kind is Kind.CHATTER for line in calm.lines)
    assert any(line.question.asked_name not in usual for line in busy.lines if line.asks)

    def share(made: Script, *kinds: Kind) -> float:
        return sum(line.kind in kinds for line in made.lines) / len(made.lines)

    for kinds in ((Kind.CHATTER,), (Kind.CORRECTION, Kind.DROP, Kind.BACK)):
        assert np.mean([share(script(5, s), *kinds) for s in SEEDS]) > np.mean(
            [share(script(2, s), *kinds) for s in SEEDS]
        )
    for easier, harder in zip(LEVELS, LEVELS[1:], strict=False):
        assert easier.pause_s > harder.pause_s and easier.wait_s > harder.wait_s
        assert easier.noise_db is None or (harder.noise_db or 99) < easier.noise_db


def test_a_name_that_was_missed_comes_up_more() -> None:
    mirror = pack().item("mouth_mirror")
    other = next(n.text for n in mirror.names if n.text != mirror.name.text and not n.shared)

    def asked(weights: dict[str, float]) -> int:
        some = (
            write(
                questions(), "examination", level(5), np.random.default_rng(s), 5, None, lambda item: weights
            )
            for s in range(10)
        )
        return sum(line.question.asked_name == other for one in some for line in one.lines)

    assert asked({other: 20.0}) > asked({})


def test_no_line_stands_in_a_set_by_which_hearing_is_measured() -> None:
    """Nor in those that it is taught or tuned by."""
    ways = files("listen.bench").joinpath("ways")
    known = set()
    for name in ("test.tsv", "tune.tsv", "teach.tsv", "everyday.tsv", "talk.txt"):
        for line in ways.joinpath(name).read_text("utf-8").splitlines():
            known.add(line.split("\t")[-1].replace("{a}", NAME).casefold())
    assert len(known) > 10_000
    every = [line for some in LINES.values() for line in some.every]
    assert not {line for line in every if line.casefold() in known}


def test_plain_requests_are_the_packs_own_words() -> None:
    plain = LINES["en"].requests(Manner.PLAIN, True, pack())
    assert "Could I have the {}?" in plain and "Hand me the {}." in plain and len(plain) > 20
    assert all(line.count(NAME) == 1 for line in plain)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"procedure_id": "composite"}, "no procedure is called 'composite'"),
        ({"first_step": "anaesthetise"}, "no step 'anaesthetise' to begin with"),
    ],
)
def test_what_cannot_be_rehearsed_is_said(change: dict[str, str], told: str) -> None:
    given = {"procedure_id": CLASS_TWO, "first_step": None, **change}
    with pytest.raises(PracticeError, match=told):
        write(
            questions(),
            str(given["procedure_id"]),
            level(1),
            np.random.default_rng(0),
            3,
            given["first_step"],
        )


def test_a_pack_in_a_language_without_lines_is_refused() -> None:
    other = pack().model_copy(update={"language": "nl"})
    with pytest.raises(PracticeError, match="nothing to say yet in the language"):
        write(Questions(other, facts()), CLASS_TWO, level(1), np.random.default_rng(0), 3)


def test_pauses_are_log_normal_about_the_levels_median() -> None:
    one: Level = replace(level(3), back=0.0)
    pauses = [
        line.pause_s
        for seed in range(8)
        for line in write(questions(), CLASS_TWO, one, np.random.default_rng(seed), 10).lines
        if line.asks and not line.taken_back
    ]
    assert len(pauses) > 200
    logs = np.log(pauses)
    assert np.median(logs) == pytest.approx(np.log(one.pause_s), abs=0.15)
    assert np.std(logs) == pytest.approx(0.6, abs=0.1)
