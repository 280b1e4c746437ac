"""Both sets of typed requests can be read, and what became of a request is counted as it should be."""

from __future__ import annotations

import pytest

from listen.bench.trial import Set, Trial, TrialSessions, fields, tally, trials


@pytest.fixture(scope="module")
def sessions() -> TrialSessions:
    return TrialSessions()


@pytest.mark.parametrize("of", ["first", "unseen"])
def test_every_id_of_a_trial_is_an_item(of: Set, sessions: TrialSessions) -> None:
    known = {item.id: item for pack in sessions.packs.values() for item in pack.items}
    for field in fields(of):
        for one in trials(field, of):
            assert one.fits <= known.keys(), one
            assert (one.kind == "nothing") == (not one.fits), one
            drugs = any(known[item].always_check for item in one.fits)
            assert of == "first" or (one.kind == "checked") == drugs, one


def test_the_unseen_set_has_every_english_field_and_talk_in_each(sessions: TrialSessions) -> None:
    assert set(fields("unseen")) == set(sessions.packs)
    for field in fields("unseen"):
        kinds = [one.kind for one in trials(field, "unseen")]
        assert len(kinds) - kinds.count("nothing") >= 30 and kinds.count("nothing") == 5, field


def test_no_request_is_in_both_sets() -> None:
    for field in set(fields("first")) & set(fields("unseen")):
        first = {one.text.lower() for one in trials(field)}
        assert first.isdisjoint(one.text.lower() for one in trials(field, "unseen")), field


def wanted(text: str, *groups: str) -> Trial:
    return Trial("operative", text, tuple(frozenset(ids.split(",")) for ids in groups), "item")


@pytest.mark.parametrize(
    ("one", "outcome"),
    [
        (wanted("the hollenback carver please", "hollenback_carver"), "answered"),
        (wanted("the hollenback carver please", "wards_carver"), "wrong"),
        (wanted("mirror and the acorn burnisher", "mouth_mirror", "acorn_burnisher"), "answered"),
        (wanted("the acorn burnisher", "mouth_mirror", "acorn_burnisher"), "missed"),
        (wanted("cure it", "curing_light"), "answered"),
        (wanted("cure it", "mouth_mirror"), "missed"),
        (Trial("operative", "we'll polish at the next visit", (), "nothing"), "quiet"),
        (Trial("operative", "cure it", (), "nothing"), "wrong"),
    ],
)
def test_the_outcome_is_that_of_all_that_was_asked_for(
    one: Trial, outcome: str, sessions: TrialSessions
) -> None:
    tried = sessions.tried(one)
    assert tried.outcome == outcome
    counts = tally([tried])["operative"]
    assert counts[outcome if one.fits else f"nothing {outcome}"] == 1
