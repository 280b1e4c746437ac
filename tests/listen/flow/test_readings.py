"""Scored phrasings become readings with probabilities: made-up hearings, checkable by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from sklearn.linear_model import LogisticRegression

from listen.engine import Hearing, Phrasing
from listen.readings import FEATURES, Calibration, Reader, Readings, load_calibration
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack
from vocab.requests.lexicon import Lexicon

PLAIN = Calibration(
    scale=1.0,
    unlike=0.0,
    other_kinds=0.0,
    history=1.0,
    history_request=0.0,
    request_bias=100.0,
    request_weights=(0.0,) * len(FEATURES),
    unlike_spliced=0.0,
    sentence_bias=0.0,
    sentence_weights=(),
)
"""Scores as they are, and everything a request."""


@pytest.fixture(scope="module")
def pack() -> Pack:
    return shipped_pack()


@pytest.fixture(scope="module")
def lexicon(pack: Pack) -> Lexicon:
    return Lexicon(pack)


def hearing(
    *scored: tuple[str, float], free: str = "", evidence: float = 0.0, duration_s: float = 1.5
) -> Hearing:
    phrasings = tuple(Phrasing(text, log_p) for text, log_p in scored)
    return Hearing(phrasings, free or scored[0][0], -5.0, -5.0 + evidence, duration_s)


def p_of(readings: Readings, item: str) -> float:
    return sum(
        way.p
        for way in readings.ways
        if way.requests[0].candidates and way.requests[0].candidates[0].item == item
    )


def test_phrasings_of_one_meaning_are_added(pack: Pack, lexicon: Lexicon) -> None:
    heard = hearing(("the hatchet", -1.0), ("the enamel hatchet", -1.0), ("the hoe", -1.0))
    readings = Reader(pack, lexicon, PLAIN).of_hearing(heard, {})
    assert p_of(readings, "hatchet") == pytest.approx(2 / 3)
    assert p_of(readings, "hoe") == pytest.approx(1 / 3)
    assert sum(way.p for way in readings.ways) + readings.p_nothing == pytest.approx(1.0)


def test_what_sounds_like_the_free_text_is_likelier(pack: Pack, lexicon: Lexicon) -> None:
    """ "Now the ball" was heard freely, and the grammar liked a rare opener better."""
    heard = replace(hearing(("not a ball", -1.0), ("now the ball", -2.0)), free_text="Now the ball.")
    plain, unlike = (
        Reader(pack, lexicon, replace(PLAIN, unlike=weight)).of_hearing(heard, {}) for weight in (0.0, 17.0)
    )
    assert plain.ways[0].text == "not a ball"
    assert unlike.ways[0].text == "now the ball"
    assert unlike.ways[0].p > 0.7


def test_what_the_procedure_expects_tips_the_balance(pack: Pack, lexicon: Lexicon) -> None:
    heard = hearing(("the hatchet", -1.0), ("the hoe", -1.0))
    expected = {item.id: math.log(1 / len(pack.items)) for item in pack.items}
    expected["hoe"] = math.log(0.5)
    readings = Reader(pack, lexicon, PLAIN).of_hearing(heard, expected)
    assert p_of(readings, "hoe") == pytest.approx(0.5 / (0.5 + 1 / len(pack.items)), abs=1e-6)


def test_a_shared_name_is_settled_by_what_the_procedure_expects(pack: Pack, lexicon: Lexicon) -> None:
    reader = Reader(pack, lexicon, replace(PLAIN, history=0.5))
    expected = {item.id: math.log(0.001) for item in pack.items}
    expected["acorn_burnisher"] = math.log(0.5)
    before = reader.of_text("burnisher", {}).ways[0].requests[0].candidates[0].item
    after = reader.of_text("burnisher", expected).ways[0].requests[0].candidates[0].item
    assert (before, after) == ("ball_burnisher", "acorn_burnisher")


def test_a_shared_name_is_expected_as_much_as_its_items(pack: Pack, lexicon: Lexicon) -> None:
    heard = hearing(("the burnisher", -1.0), ("the hoe", -1.0))
    rest = {item.id: 0.5 / (len(pack.items) - 1) for item in pack.items}
    expected = {item: math.log(p) for item, p in {**rest, "acorn_burnisher": 0.5}.items()}
    meant = {c.item: c.p for c in Reader(pack, lexicon, PLAIN).understand("the burnisher")[0].candidates}
    mean = sum(p * math.exp(expected[item]) for item, p in meant.items()) / sum(meant.values())
    readings = Reader(pack, lexicon, PLAIN).of_hearing(heard, expected)
    assert "acorn_burnisher" in meant
    assert p_of(readings, "hoe") == pytest.approx(rest["hoe"] / (rest["hoe"] + mean))


def test_a_request_that_was_expected_is_believed_by_bayes_rule(pack: Pack, lexicon: Lexicon) -> None:
    even = replace(PLAIN, request_bias=0.0, history_request=1.0)
    heard = hearing(("the hatchet", -1.0), ("the hoe", -2.0))
    for p_hoe in (0.5, 1 / len(pack.items), 0.001):
        expected = {item.id: math.log((1 - p_hoe) / (len(pack.items) - 1)) for item in pack.items}
        expected["hoe"] = math.log(p_hoe)
        asked = sum(math.exp(log_p + expected[i]) for i, log_p in (("hatchet", -1.0), ("hoe", -2.0)))
        even_odds = (math.exp(-1.0) + math.exp(-2.0)) / len(pack.items)
        p_nothing = Reader(pack, lexicon, even).of_hearing(heard, expected).p_nothing
        assert p_nothing == pytest.approx(even_odds / (even_odds + asked))


def test_nothing_scored_and_foreign_words_ask_for_nothing(pack: Pack, lexicon: Lexicon) -> None:
    reader = Reader(pack, lexicon, load_calibration())
    assert reader.of_hearing(Hearing((), "", 0.0, -math.inf, 1.0), {}) == Readings((), 1.0)
    assert reader.of_text("your bite feels high, light contact there", {}) == Readings((), 1.0)


def test_sound_that_says_something_else_asks_for_nothing(pack: Pack, lexicon: Lexicon) -> None:
    reader = Reader(pack, lexicon, load_calibration())
    said = "could i have the curing light please"
    asked = hearing((said, -2.0), free=said, duration_s=3.0)
    chatted = hearing(
        (said, -40.0),
        free="We are going to the lake on Sunday with my sister",
        evidence=-22.0,
        duration_s=4.0,
    )
    assert reader.of_hearing(asked, {}).p_nothing < 0.1
    assert reader.of_hearing(chatted, {}).p_nothing > 0.9


def test_the_probability_of_a_request_is_that_of_a_logistic_regression(pack: Pack, lexicon: Lexicon) -> None:
    """Against scikit-learn's LogisticRegression with the same weights."""
    weights = load_calibration()
    reference = LogisticRegression()
    reference.classes_ = np.array([0, 1])
    reference.coef_, reference.intercept_ = (
        np.array([weights.request_weights]),
        np.array([weights.request_bias]),
    )
    reader = Reader(pack, lexicon, weights)
    heard = hearing(("the hoe", -3.0), ("the hatchet", -4.0), free="the whole thing", evidence=-6.0)
    p_request = reference.predict_proba(np.array([reader.features(heard)]))[0, 1]
    assert 1 - reader.of_hearing(heard, {}).p_nothing == pytest.approx(p_request)


def test_what_is_expected_is_as_likely_to_be_refused_as_to_be_asked_for(pack: Pack, lexicon: Lexicon) -> None:
    """Else a refusal of just what comes next would be heard as a request for it."""
    reader = Reader(pack, lexicon, PLAIN)
    hearing = Hearing(
        (Phrasing("the etch", 0.0), Phrasing("hold the etch", 0.0)), "hold the etch", 0.0, 0.0, 1.5
    )

    def share(log_prior: dict[str, float]) -> float:
        ways = {way.requests[0].kind: way.p for way in reader.of_request(hearing, log_prior).ways}
        return ways["refusal"] / ways["item"]

    assert share({"etchant": -0.1, "mouth_mirror": -3.0}) == pytest.approx(share({}))


def test_a_sentence_that_hardly_asks_counts_less(pack: Pack, lexicon: Lexicon) -> None:
    reader = Reader(pack, lexicon, PLAIN)
    told = "I lost a perio probe once, years and years ago, in another clinic."
    sentences = (Phrasing(told, 0.0), Phrasing("So I will need the etchant now, thanks.", 0.0))
    ways = reader.of_request(Hearing((), told, 0.0, -40.0, 4.0, sentences, 0.0), {}).ways
    likely = {way.requests[0].candidates[0].item: way.p for way in ways}
    assert likely["etchant"] > 3 * likely.get("perio_probe", 0.0)
