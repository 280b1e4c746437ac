"""Practice answers in people's own words: both sides, how they are filled, and how they are read."""

from __future__ import annotations

from collections import Counter

import pytest

from listen.bench import judge as bench
from listen.bench.natural import BadWays
from listen.bench.natural_answers import DRILLS, GAP, Filled, _way, answers, filled, ways
from listen.speech import voices
from listen.speech.voices import Side
from tests.listen.practice.classroom import questions

SIDES: tuple[Side, ...] = ("tune", "test")


def test_no_way_or_person_is_on_both_sides_and_there_are_enough() -> None:
    tune, test = ({GAP.sub("-", way.sentence.lower()) for way in ways(side)} for side in SIDES)
    assert not tune & test and len(tune) >= 120 and len(test) >= 60
    for side in SIDES:
        assert {drill for way in ways(side) for drill in way.drills} == set(DRILLS)
        assert {way.label for way in ways(side)} == {
            "answer", "doubt", "either", "unknown", "repeat", "other",
        }  # fmt: skip


@pytest.mark.parametrize(
    "line",
    [
        "answer\tcurt\tany",
        "answer\tcurt\tany\tIt's in there.",
        "maybe\tcurt\tany\t{a}.",
        "answer\tx\tnose\t{a}",
    ],
)
def test_a_damaged_line_is_named(line: str) -> None:
    with pytest.raises(BadWays, match=r"ways/answers_tune.tsv, line 7"):
        _way("answers_tune.tsv", 7, line)


@pytest.mark.parametrize("side", SIDES)
def test_every_way_is_filled_with_a_right_and_with_a_wrong_answer(side: Side) -> None:
    made = list(filled(questions(), side))
    assert made == list(filled(questions(), side))
    kinds = Counter((one.way.number, one.kind) for one in made)
    for way in ways(side):
        for kind in ("right", "rival") if way.answers else ():
            assert kinds[way.number, kind] == 1
    assert not any("{" in one.text for one in made)


def test_ways_that_the_lists_were_made_from_are_read_without_a_mistake() -> None:
    """The tuning side; the other one is only measured."""
    judged = bench.typed("tune", 1)
    assert bench.mistakes(judged) == ""


def test_the_levels_and_voices_take_turns(monkeypatch: pytest.MonkeyPatch) -> None:
    some = tuple(v for v in voices.VOICES if v.side == "test" and v.kind == "recorded")
    monkeypatch.setattr(voices, "available", lambda side: some)
    made = list(answers(questions(), "test", (None, 10.0)))
    assert len(made) == len(list(filled(questions(), "test")))
    pairs = Counter((one.voice, one.snr_db) for one in made)
    assert len(pairs) == 2 * len(some) and max(pairs.values()) - min(pairs.values()) <= 1


def test_slots_in_words_are_not_called_slot_again() -> None:
    def reads_well(one: Filled) -> bool:
        return not any(f"slot {word} kit" in one.text.lower() for word in ("bur", "dam", "matrix", "bonding"))

    assert all(map(reads_well, filled(questions(), "tune", 3)))
