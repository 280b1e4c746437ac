"""What is drawn to be read: enough of each kind, nothing twice, nothing that typing does not understand."""

from __future__ import annotations

import numpy as np
import pytest

from listen.chair import ChairOptions, open_chair
from listen.readings import Reader
from listen.voicecheck.lines import PICTURES, REQUESTS, SPOKEN, Kind, Line, chosen
from listen.voicecheck.outcome import Outcome, Place
from tests.listen.voicecheck.rounds import place
from tests.listen.web.desk_app import hearing_of


def drawn(seed: int) -> tuple[Line, ...]:
    return chosen([(place().chair, place().reader)], np.random.default_rng(seed))


@pytest.mark.parametrize("seed", range(6))
def test_a_round_has_twenty_requests_five_of_them_pictures_and_five_other_sentences(seed: int) -> None:
    lines = drawn(seed)
    assert sum(one.asks for one in lines) == REQUESTS == 20
    assert sum(one.kind is Kind.PICTURE for one in lines) == PICTURES
    assert sum(one.kind is Kind.TALK for one in lines) == SPOKEN
    items = [one.item for one in lines if one.asks]
    assert len(set(items)) == len(items)
    tray = place().chair.tray
    assert tray is not None
    assert {one for one in items if one} <= {slot.item for slot in tray.slots}


@pytest.mark.parametrize("seed", range(6))
def test_there_are_numbers_look_alikes_short_and_long_ones(seed: int) -> None:
    read = [one for one in drawn(seed) if one.kind is Kind.READ]
    pack = place().chair.pack
    assert sum(any(c.isdigit() for c in one.text) for one in read) >= 3
    assert sum(len(one.text.split()) == 1 for one in read) >= 2
    assert sum(len(one.text.split()) >= 5 for one in read) >= 3
    items = {one.item for one in read}
    pairs = [one for one in items if one and items & {o.item for o in pack.item(one).confused_with}]
    assert len(pairs) >= 2


def test_what_is_read_is_understood_when_it_is_heard_clearly_and_talk_is_left_alone() -> None:
    for one in (one for seed in range(4) for one in drawn(seed)):
        if one.kind is Kind.READ:
            assert place().result(one, [hearing_of(one.text.rstrip(".?"))]).outcome is Outcome.RIGHT, one
        elif one.kind is Kind.TALK:
            assert not place().reader.understand(one.text), one


def test_procedures_take_turns_and_the_same_chance_draws_the_same_lines() -> None:
    other = open_chair(ChairOptions("oral_surgery", procedure=_first("oral_surgery")))
    second = Place(other, Reader(other.pack, other.lexicon, other.calibration))
    places = [(one.chair, one.reader) for one in (place(), second)]
    lines = chosen(places, np.random.default_rng(1))
    for field in ("operative", "oral_surgery"):
        assert sum(one.asks and one.field == field for one in lines) == REQUESTS / 2
    assert drawn(3) == drawn(3) != drawn(4)


def _first(pack: str) -> str:
    return open_chair(ChairOptions(pack)).pack.procedures[0].id
