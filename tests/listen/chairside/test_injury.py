"""After a needle stick the clinic's card is opened: what to do, and nothing about a person."""

from __future__ import annotations

from listen.chairside.events import EventKind
from listen.chairside.injury import DEFAULT_CARD, card, injury_event


def test_the_clinics_own_card_is_shown() -> None:
    assert card(("Stop.", "", "Tell the practice manager.")) == ("Stop.", "Tell the practice manager.")


def test_without_one_it_says_to_stop_make_safe_and_follow_the_local_plan() -> None:
    # P: OSHA 29 CFR 1910.1030 asks every employer for an exposure control plan; the rest is local
    assert card(()) == card((" ",)) == DEFAULT_CARD
    said = " ".join(DEFAULT_CARD).lower()
    assert "stop" in said and "safe" in said and "local exposure plan" in said
    assert not any(word in said for word in ("wash", "squeeze", "milk", "bleach", "test", "medicine"))


def test_that_it_was_opened_is_kept_and_nothing_else() -> None:
    event = injury_event(5.0)
    assert (event.kind, event.item, event.about, event.by) == (EventKind.INJURY_CARD, None, None, None)
