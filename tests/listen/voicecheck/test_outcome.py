"""What counts as understood, and what another round is expected to bring."""

from __future__ import annotations

import pytest
from scipy.stats import betabinom

from listen.shares import another_round
from listen.voicecheck.outcome import Outcome, Tally
from tests.listen.voicecheck.rounds import line, place
from tests.listen.web.desk_app import hearing_of


@pytest.mark.parametrize(
    ("item", "size", "said", "outcome"),
    [
        ("mouth_mirror", None, ["mouth mirror please"], Outcome.RIGHT),
        ("mouth_mirror", None, ["cotton pliers please"], Outcome.WRONG),
        ("mouth_mirror", None, ["rinse"], Outcome.WRONG),
        ("mouth_mirror", None, ["I was late this morning"], Outcome.MISSED),
        ("mouth_mirror", None, [], Outcome.MISSED),
        ("mouth_mirror", None, ["well now", "mouth mirror please"], Outcome.RIGHT),
        ("bur_round_4", None, ["a round bur please"], Outcome.ASKED),
        ("bur_330", None, ["a round bur please"], Outcome.MISSED),
        ("dam_clamp", "W8A", ["the w8a clamp please"], Outcome.RIGHT),
        ("dam_clamp", "2A", ["the w8a clamp please"], Outcome.WRONG),
        ("dam_clamp", None, ["dam clamp please"], Outcome.RIGHT),
        (None, None, ["I was late this morning"], Outcome.RIGHT),
        (None, None, ["mouth mirror please"], Outcome.WRONG),
        (None, None, ["a round bur please"], Outcome.ASKED),
    ],
)
def test_what_was_heard_decides_what_came_of_a_line(
    item: str | None, size: str | None, said: list[str], outcome: Outcome
) -> None:
    """Asking which size, where none was said, is what the tool always does, and so counts as right."""
    assert place().result(line(item, size=size), map(hearing_of, said)).outcome is outcome


def test_what_is_always_checked_is_right_when_it_is_checked() -> None:
    asked = line("topical_anaesthetic", always_asked=True)
    assert place().result(asked, [hearing_of("the topical anaesthetic please")]).outcome is Outcome.RIGHT


def test_a_tally_counts_requests_and_other_sentences_apart() -> None:
    outcomes = [(True, Outcome.RIGHT)] * 18 + [(True, Outcome.ASKED)] * 5 + [(True, Outcome.MISSED)] * 2
    tally = Tally.of([*outcomes, (False, Outcome.RIGHT), (False, Outcome.WRONG)])
    assert tally.in_words == "23 of 25 understood"
    assert (tally.errors, tally.all_wrong, tally.spoken) == (8, 1, 2)
    assert "kept quiet in 1 of 2 sentences" in tally.parts_in_words
    assert "19 to 25 understood" in tally.again_in_words
    assert Tally().again_in_words == ""


@pytest.mark.parametrize(("k", "n"), [(0, 1), (0, 20), (3, 20), (23, 25), (20, 20), (1, 1), (90, 200)])
def test_another_round_is_the_beta_binomials_interval(k: int, n: int) -> None:
    """Against scipy's beta-binomial distribution (an outside source)."""
    there = betabinom(n, k + 0.5, n - k + 0.5)
    assert another_round(k, n) == (there.ppf(0.05), there.ppf(0.95))


def test_another_round_of_a_share_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="not a share"):
        another_round(3, 2)
