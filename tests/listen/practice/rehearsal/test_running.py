"""A rehearsal as it runs: what counts, what is taken back, and what the count at the end asks."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from listen.chairside.count import count_list
from listen.practice.choices import FETCH
from listen.practice.judging import Judge, Marking, Outcome
from listen.practice.rehearsal.levels import LEVELS, level, next_level
from listen.practice.rehearsal.outcomes import Came, Where
from listen.practice.rehearsal.running import Rehearsal, asked, whereabouts
from listen.practice.rehearsal.script import Kind, Line, Script, write
from listen.practice.rehearsal.timeline import played, stored, told
from tests.listen.practice.classroom import CLASS_TWO, NOON, lexicon, pack, questions
from vocab.errors import Declined


@cache
def script(number: int = 5, seed: int = 0) -> Script:
    return write(questions(), CLASS_TWO, level(number), np.random.default_rng(seed), 10)


@cache
def judge() -> Judge:
    return Judge(questions(), lexicon())


class Run:
    """A rehearsal on a clock of its own, one line after the other."""

    def __init__(self, made: Script) -> None:
        self.now_s = 100.0
        self.on = Rehearsal(made, pack(), self.now_s)

    def touch(self, at: str, after_s: float = 1.5) -> Came | None:
        assert self.on.line is not None
        self.now_s += 2.0 + after_s
        entry = self.on.act(judge().touch(self.on.line.question, at), self.now_s, after_s, "touch")
        return None if entry is None else entry.came

    def wait(self) -> Came:
        assert self.on.line is not None
        self.now_s += 2.0 + self.on.line.wait_s
        return self.on.silence(self.now_s).came

    def properly(self) -> Came | None:
        """Do what is right: pass what is asked for, leave talk alone, and wait where it is taken back."""
        line = self.on.line
        assert line is not None
        return self.touch(line.question.right[0]) if line.asks and not line.taken_back else self.wait()

    def to(self, kind: Kind) -> Line:
        while self.on.line is not None and self.on.line.kind is not kind:
            self.properly()
        assert self.on.line is not None
        return self.on.line

    def to_the_end(self) -> Run:
        while self.on.line is not None:
            self.properly()
        return self


def test_who_does_everything_right_has_it_all_right() -> None:
    for one in LEVELS:
        run = Run(script(one.number)).to_the_end()
        truth = {item: whereabouts(run.on.state.of(item))[0] for item in run.on.to_count()}
        run.on.count(truth, run.now_s)
        came = played(run.on, questions(), "token", NOON)
        assert (came.right, came.wrong, came.slow, came.false_alarms) == (came.requests, 0, 0, 0)
        assert came.requests == sum(line.asks and not line.taken_back for line in run.on.script.lines)
        assert came.median_s == 1.5 and came.counted_right == came.counted > 0
        assert [line["number"] for line in came.timeline["lines"]] == list(range(1, len(run.on.entries) + 1))


def test_talk_is_no_request_and_acting_on_it_a_false_alarm() -> None:
    run = Run(script())
    run.to(Kind.CHATTER)
    assert run.touch("1") is Came.ALARM
    run.to(Kind.CHATTER)
    assert run.wait() is Came.LEFT
    requests = len(asked(run.on.entries))
    assert requests == sum(e.line.asks and not e.line.taken_back for e in run.on.entries)
    alarm = next(e for e in run.on.entries if e.came is Came.ALARM)
    assert told(alarm, questions()).startswith("Nothing was asked for.")
    assert stored(alarm, NOON, "token-1234") is None


def test_a_correction_cancels_the_request_before_it() -> None:
    run = Run(script())
    correction = run.to(Kind.CORRECTION)
    before = run.on.entries[-1]
    assert (before.came, before.line.taken_back) == (Came.TAKEN_BACK, True)
    assert before not in asked(run.on.entries) and stored(before, NOON, "token-1234") is None
    assert run.on.state.of(before.line.item or "").out == 0
    assert run.touch(correction.question.right[0]) is Came.RIGHT


def test_quick_hands_are_right_before_the_correction_and_the_thing_comes_back() -> None:
    run = Run(script())
    while run.on.line is not None and not run.on.line.taken_back:
        run.properly()
    first = run.on.line
    assert first is not None and first.item is not None
    assert run.touch(first.question.right[0], 0.4) is Came.RIGHT
    assert run.on.state.of(first.item).out == 1
    assert run.on.line is not None and run.on.line.kind is Kind.CORRECTION
    run.properly()
    assert run.on.state.of(first.item).out == 0 and run.on.state.of(first.item).back == 1


def test_the_old_one_is_wrong_after_a_correction() -> None:
    run = Run(script())
    run.to(Kind.CORRECTION)
    assert run.touch(run.on.entries[-1].line.question.right[0]) is Came.WRONG


def test_what_fell_is_replaced_and_still_counted() -> None:
    seen = set()
    for seed in range(8):
        run = Run(script(5, seed))
        while run.on.line is not None:
            line = run.on.line
            if line.kind is Kind.DROP and line.item is not None:
                before = run.on.state.of(line.item)
                fetched = line.question.right == (FETCH.id,)
                seen.add(fetched)
                assert run.properly() is Came.RIGHT
                after = run.on.state.of(line.item)
                assert after.dropped == before.dropped + 1 and after.out == before.out
                assert after.total == before.total + fetched  # the fallen one counts on
                assert Where.FELL in whereabouts(after)
            else:
                run.properly()
        for item in {e.line.item for e in run.on.entries if e.line.kind is Kind.DROP}:
            counted = {line.item: line.expected for line in count_list(run.on.state, pack())}
            if item in counted:
                assert counted[item] <= run.on.state.of(item or "").total
    assert seen == {True, False}


def test_its_old_slot_is_wrong_for_what_fell_and_has_no_other() -> None:
    run = Run(script())
    line = run.to(Kind.DROP)
    while line.question.right != (FETCH.id,):
        run.properly()
        line = run.to(Kind.DROP)
    at = script().tray.slot_of(line.item or "")
    assert at is not None and run.touch(at) is Came.WRONG
    assert "the tray has no other" in told(run.on.entries[-1], questions())


def test_too_slow_is_told_and_stored_as_not_known() -> None:
    run = Run(script())
    run.to(Kind.REQUEST)
    assert run.on.line is not None and not run.on.line.taken_back
    assert run.wait() is Came.SLOW
    entry = run.on.entries[-1]
    assert "not within" in told(entry, questions())
    kept = stored(entry, NOON, "token-1234")
    assert kept is not None and not kept.right and kept.choice is None and kept.rating == 1
    assert kept.topic == f"slot:{script().tray.id}:{entry.line.item}"


def test_each_request_is_an_answer_about_its_slot_with_its_time() -> None:
    run = Run(script(1)).to_the_end()
    for entry in run.on.entries:
        kept = stored(entry, NOON, "token-1234")
        if entry.line.kind in (Kind.REQUEST, Kind.CORRECTION):
            assert kept is not None and kept.right and kept.response_s == 1.5 and kept.by == "touch"
            assert kept.asked_name == entry.line.question.asked_name and kept.rating == 4
        else:
            assert kept is None


def test_what_was_said_again_is_no_quick_success() -> None:
    run = Run(script(1))
    run.on.again()
    run.properly()
    entry = run.on.entries[0]
    kept = stored(entry, NOON, "token-1234")
    assert entry.again == 1 and kept is not None and kept.unsure and kept.rating == 2
    run.properly()
    assert run.on.entries[1].again == 0


def test_what_was_unclear_leaves_the_line_open() -> None:
    run = Run(script(1))
    unclear = Marking(Outcome.AGAIN, None, "mumble", 0.2)
    assert run.on.act(unclear, run.now_s, 1.0, "voice") is None and run.on.number == 1
    wanted_again = replace(unclear, repeat=True)
    assert run.on.act(wanted_again, run.now_s, 1.0, "voice") is None
    run.properly()
    assert run.on.entries[0].again == 1


def test_an_answer_that_was_not_understood_was_no_hesitation() -> None:
    """The time of the first try counts, as the second is only said again; not where it was heard again."""
    run = Run(script(1))
    unclear = Marking(Outcome.AGAIN, None, "mumble", 0.2)
    run.on.act(unclear, run.now_s, 1.0, "voice")
    run.properly()
    assert run.on.entries[0].response_s == 1.0
    run.on.act(unclear, run.now_s, 1.0, "voice")
    run.on.again()
    run.properly()
    assert run.on.entries[1].response_s == 1.5
    run.properly()
    assert run.on.entries[2].response_s == 1.5


def test_an_act_that_crosses_the_correction_is_not_held_against_anybody() -> None:
    """The old one is touched while the correction is still spoken; it is said again, and nothing is wrong."""
    run = Run(script())
    correction = run.to(Kind.CORRECTION)
    old = run.on.entries[-1].line.question.right[0]
    assert run.touch(old, 0.0) is None and run.on.line is correction
    assert run.on.entries[-1].came is Came.TAKEN_BACK
    assert run.touch(correction.question.right[0]) is Came.RIGHT
    run = Run(script())
    correction = run.to(Kind.CORRECTION)
    slots = [slot.at for slot in script().tray.slots]
    neither = next(at for at in slots if at not in (*correction.question.right, old))
    assert run.touch(neither, 0.0) is Came.WRONG


def test_what_could_not_be_spoken_counts_for_nothing() -> None:
    run = Run(script(1))
    run.on.unheard(run.now_s)
    assert asked(run.on.entries) == () and stored(run.on.entries[0], NOON, "token-1234") is None


def test_the_count_asks_what_was_heard_of_and_knows_where_it_is() -> None:
    kinds = set()
    for seed in range(8):
        run = Run(script(5, seed)).to_the_end()
        items = run.on.to_count()
        assert 1 <= len(items) <= 8
        noted = {e.line.item for e in run.on.entries if e.line.kind in (Kind.NOTE, Kind.DROP)}
        for item in items:
            truth = whereabouts(run.on.state.of(item))
            kinds |= set(truth)
            if item not in noted and item != run.on.entries[-1].line.item:
                assert truth in ((Where.BACK,), (Where.OUT,))
        answers = {item: Where.BACK for item in items}
        counted = run.on.count(answers, run.now_s)
        assert [one.item for one in counted] == list(items)
        assert all(one.right == (Where.BACK in one.truth) for one in counted)
        with pytest.raises(Declined, match="not at its count"):
            run.on.count(answers, run.now_s)
    assert kinds == set(Where)


def test_one_that_was_ended_early_is_counted_as_far_as_it_went() -> None:
    run = Run(script(1))
    assert run.on.to_count() == ()
    with pytest.raises(Declined, match="not at its count"):
        run.on.count({}, run.now_s)
    run.properly()
    run.properly()
    run.on.stop(run.now_s)
    run.on.count({}, run.now_s)
    came = played(run.on, questions(), "token", NOON)
    assert came.requests == 2 and came.seconds == pytest.approx(7.0)


def test_the_next_level_follows_the_last_result() -> None:
    run = Run(script(3)).to_the_end()
    run.on.count({}, run.now_s)
    good = played(run.on, questions(), "token", NOON)
    assert next_level([]).number == 1 and next_level([good]).number == 4
    assert next_level([replace(good, level=5)]).number == 5
    assert next_level([replace(good, median_s=6.0)]).number == 3
    assert next_level([replace(good, false_alarms=good.requests)]).number == 3
    poor = replace(good, right=good.requests // 2)
    assert next_level([poor]).number == 2 and next_level([replace(poor, level=1)]).number == 1
    too_short = replace(good, requests=3)
    assert next_level([too_short, poor]).number == 2
