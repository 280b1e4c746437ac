"""The phrases that switch an open microphone, as an engine writes them, and talk that switches nothing."""

from __future__ import annotations

from importlib.resources import files

import pytest

from listen.live.spoken_switch import Switch, spoken_switch
from vocab.language.pronounce import Pronouncer, phone_distance

PRONOUNCER = Pronouncer()


def far(one: str, other: str) -> float:
    return phone_distance(PRONOUNCER.phrase(one), PRONOUNCER.phrase(other))


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("Chairside ready.", Switch.START),
        ("Chair side ready.", Switch.START),
        ("Chair side rally.", Switch.START),
        ("Okay, chair side ready, please.", Switch.START),
        ("Chair side finished.", Switch.STOP),
        ("Share side finish.", Switch.STOP),
    ],
)
def test_each_phrase_is_known_as_the_engine_writes_it(written: str, meant: Switch) -> None:
    assert spoken_switch(written, far) is meant


@pytest.mark.parametrize(
    "said",
    ["", "Please.", "We're ready.", "The chair is ready.", "This side is finished.", "Chairside.",
     "Chairside assistant.", "Is the other side ready for the chairside assistant today?", "The mirror."],
)  # fmt: skip
def test_what_only_resembles_them_switches_nothing(said: str) -> None:
    assert spoken_switch(said, far) is None


def test_small_talk_switches_nothing() -> None:
    lines = files("listen.bench").joinpath("chatter.txt").read_text(encoding="utf-8").splitlines()
    assert [line for line in lines if spoken_switch(line, far) is not None] == []
