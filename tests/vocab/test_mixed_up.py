"""What was measured of names: added up, pulled towards what is usual, kept and read again."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from tests.vocab.test_layers import PACK
from vocab.load import shipped_pack
from vocab.mixed_up import (
    Chance,
    MixedUp,
    MixedUpError,
    OwnTrials,
    Taken,
    Trial,
    _read,
    learnt_costs,
    measured,
    own_trials,
    shipped,
)
from vocab.pronounce import substitution_cost

EAR = "some engine"
CARRIER = Trial(6, {"hollenback_carver": Taken(1.5, "carver")})


def test_trials_of_a_name_add_up_and_keep_what_was_heard_most() -> None:
    both = CARRIER + Trial(2, {"hollenback_carver": Taken(1.6, "the carver"), "bur_330": Taken(0.1, "330")})
    assert both.times == 8
    assert both.mass("hollenback_carver") == pytest.approx(3.1)
    assert both.taken["hollenback_carver"].said == "the carver"
    assert (both.mass("bur_330"), both.mass("wedge")) == (0.1, 0.0)


def test_a_measured_share_is_pulled_towards_what_is_usual_for_names_so_near() -> None:
    """By hand: 1 / (1 + e^(3 + 0.9)) = 0.0198 at a cost of 1; (1.5 + 20 * 0.0198) / (6 + 20) = 0.0729."""
    known = MixedUp({"carrier": CARRIER})
    usual = 1 / (1 + math.exp(3.9))
    assert known.p("carver", "amalgam_carrier", 1.0) == pytest.approx(usual)
    assert known.p("carrier", "hollenback_carver", 1.0) == pytest.approx((1.5 + 20 * usual) / 26)
    assert known.p("carrier", "bur_330", 1.0) < usual


def test_a_name_is_found_however_it_is_written() -> None:
    known = MixedUp().with_trials({"The Three-Thirty": CARRIER})
    assert known.trial("the 330") == CARRIER


def test_what_is_kept_is_read_again() -> None:
    known = MixedUp({"carrier": CARRIER}, Chance(-2.5, -1.1, 12.0), {"M N": 0.3}, {"pack": "operative"})
    assert _read(known.text(), "here") == known


def test_learnt_costs_are_the_same_both_ways_and_nothing_costs_nothing() -> None:
    costs = learnt_costs({("M", "N"): 0.7, ("N", "M"): 0.3, ("M", ""): 0.5, ("", "M"): 0.4})
    cost = MixedUp(costs=costs).cost
    assert cost("M", "N") == cost("N", "M") == 0.3
    assert cost("M", "") == cost("", "M") == 0.4
    assert cost("M", "M") == 0.0
    assert MixedUp().cost is substitution_cost


def test_the_shipped_measurements_belong_to_one_pack_and_their_costs_to_all_english_ones() -> None:
    own = shipped(shipped_pack("operative"))
    assert own.trials and own.about["pack"] == "operative"
    other = shipped(shipped_pack("oral_surgery"))
    assert not other.trials and other.costs == own.costs
    assert shipped(shipped_pack("operativa_es")) == MixedUp()
    assert all(trial.times > 0 for trial in own.trials.values())
    assert own.chance.p(2.0) < own.chance.p(1.0) < 0.1


def test_what_was_tried_here_counts_while_the_item_has_the_name(tmp_path: Path) -> None:
    kept = own_trials(tmp_path / "layers", EAR)
    assert kept.of("wax knife", "hollenback_carver") is None
    kept.keep("wax knife", "hollenback_carver", {"wax knife": CARRIER, "carver": Trial(6, {})})
    again = OwnTrials(tmp_path / "layers" / "mixed_up.json", EAR)
    assert again.of("Wax knife", "hollenback_carver") == {"wax knife": CARRIER, "carver": Trial(6, {})}
    assert again.of("wax knife", "amalgam_carrier") is None
    assert again.added(MixedUp(), PACK).trials == {}
    assert again.with_tried(MixedUp(), PACK, "wax knife", "hollenback_carver").trial("wax knife") == CARRIER
    item = PACK.item("hollenback_carver")
    named = item.model_copy(
        update={"synonyms": (*item.synonyms, item.name.model_copy(update={"text": "wax knife"}))}
    )
    pack = PACK.model_copy(update={"items": tuple(named if i is item else i for i in PACK.items)})
    added = again.added(MixedUp(), pack)
    assert added.trial("wax knife") == CARRIER
    assert again.with_tried(added, pack, "wax knife", "hollenback_carver") is added
    assert measured(pack, tmp_path / "layers", EAR).trial("wax knife") == CARRIER


def test_what_another_engine_took_names_for_is_tried_again(tmp_path: Path) -> None:
    before, now = (own_trials(tmp_path, ear) for ear in (EAR, "another"))
    before.keep("wax knife", "hollenback_carver", {"wax knife": CARRIER})
    assert now.of("wax knife", "hollenback_carver") is None
    now.keep("wax knife", "hollenback_carver", {"wax knife": Trial(6, {})})
    assert now.of("wax knife", "hollenback_carver") == {"wax knife": Trial(6, {})}
    assert before.of("wax knife", "hollenback_carver") is None


def test_trials_that_do_not_say_which_engine_heard_are_tried_again(tmp_path: Path) -> None:
    file = tmp_path / "mixed_up.json"
    file.write_text(json.dumps([{"name": "wax knife", "item": "wedge", "trials": {}}]))
    assert OwnTrials(file, EAR).of("wax knife", "wedge") is None


def test_a_broken_file_is_told_with_what_to_do(tmp_path: Path) -> None:
    file = tmp_path / "mixed_up.json"
    for text in ("[{", json.dumps([{"name": "x", "ear": EAR}]), "[3]"):
        file.write_text(text)
        with pytest.raises(MixedUpError, match="delete the file"):
            OwnTrials(file, EAR).of("wax knife", "hollenback_carver")
    with pytest.raises(MixedUpError, match="listen.bench lint"):
        _read("{}", "here")
