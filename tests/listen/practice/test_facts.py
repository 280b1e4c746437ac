"""Facts with numbers and the checklist; every value's source stands in the data beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from listen.practice.facts import facts_in_use, load_facts
from tests.listen.practice.classroom import facts, pack
from vocab.errors import PackError
from vocab.pack.formula import read_formula


def test_every_fact_names_its_source_and_offers_wrong_values() -> None:
    for fact in facts().facts:
        assert fact.source
        assert fact.answer.text not in {value.text for value in fact.instead}


@pytest.mark.parametrize(
    ("fact_id", "value"),
    [
        # common practice, no source
        ("probe_unit", "millimetres"),
        ("probe_healthy", "1 to 3 mm"),
        ("probe_watched", "4 mm"),
        ("probe_loss", "5 mm"),
        ("etchant_strength", "35 to 37 percent"),
        ("etch_enamel_time", "15 seconds"),
        ("etch_depth", "25 micrometres"),
        ("cure_time", "10 to 40 seconds"),
        ("bond_cure_time", "10 seconds"),
        ("slow_speed_turns", "8,000 to 30,000 turns a minute"),
        ("high_speed_most", "400,000 turns a minute"),
        ("high_speed_at_work", "250,000 turns a minute"),
        ("trimmer_mesial_second", "75 to 85"),
        ("trimmer_distal_second", "90 to 100"),
        # US bur numbers against ISO 2157 head sizes as in operative textbooks, from memory
        ("size_round_quarter", "005"),
        ("size_round_half", "006"),
        ("size_round_2", "010"),
        ("size_round_4", "014"),
        ("size_round_6", "018"),
        ("size_round_8", "023"),
        ("size_330", "008"),
        ("size_245", "008"),
        ("size_557", "010"),
        ("size_33_and_a_half", "006"),
    ],
)
def test_a_fact_holds_what_the_trade_knows(fact_id: str, value: str) -> None:
    assert facts().fact(fact_id).answer.text == value


def test_bur_sizes_asked_for_are_those_that_the_items_tell() -> None:
    for fact in facts().facts:
        if fact.id.startswith("size_"):
            assert fact.item is not None
            assert f"ISO size {fact.answer.text}" in pack().item(fact.item).look


def test_a_centigrade_is_a_hundredth_of_a_circle() -> None:
    """G. V. Black, A Work on Operative Dentistry (1908), volume II, page 24."""
    assert facts().fact("centigrade").answer.text == f"{360 / 100} degrees"
    assert (
        facts().fact("trimmer_angle").answer.text == f"{read_formula('10-85-8-14').blade_degrees:g} degrees"
    )


def test_passing_count_and_sharps_are_watched_and_some_points_must_be() -> None:
    for group in ("passing", "count", "sharps"):
        points = [p for p in facts().checklist if p.group == group]
        assert len(points) >= 3 and any(p.must for p in points)


GOOD = """facts:
- id: one
  asks: How long?
  answer: 15 seconds
  instead: [2 seconds]
  source: common practice, no source
"""


def problems_of(text: str, folder: Path) -> str:
    (folder / "practice").mkdir()
    (folder / "practice" / "facts.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(PackError) as caught:
        load_facts(pack(), folder)
    return str(caught.value)


@pytest.mark.parametrize(
    ("change", "line", "said"),
    [
        (("  source: common practice, no source\n", ""), 2, "source: is missing; add it"),
        (("answer:", "anwser:"), 4, "there is no such field; did you mean answer?"),
        (
            ("  source:", "  item: mouth_miror\n  source:"),
            6,
            "no item is called 'mouth_miror'; did you mean mouth_mirror?",
        ),
        (("[2 seconds]", "[15 seconds]"), 5, "the right answer is also listed among the wrong ones"),
        (("[2 seconds]", "[]"), 5, "is empty; write at least one entry"),
        (("15 seconds", "15"), 4, "must be a mapping or text"),
        (
            ("  source:", "  formula: {text: 10-85-8-14, part: length}\n  source:"),
            4,
            "has length 8; it is '15 seconds'",
        ),
        (
            ("  source:", "  formula: {text: 10-85, part: length}\n  source:"),
            6,
            "is not an instrument formula",
        ),
        (("  source:", "  formula: {text: 10-7-14, part: edge}\n  source:"), 6, "has no edge"),
        (("- id: one", "- id: One two"), 2, "is not a valid id"),
    ],
)
def test_a_mistake_is_told_with_its_line_and_what_would_be_right(
    change: tuple[str, str], line: int, said: str, tmp_path: Path
) -> None:
    told = problems_of(GOOD.replace(*change), tmp_path)
    assert f"facts.yaml:{line}: facts[" in told
    assert said in told


def test_an_id_used_twice_is_told(tmp_path: Path) -> None:
    assert "'one' is used twice" in problems_of(GOOD + GOOD.removeprefix("facts:\n"), tmp_path)


def test_a_pack_without_practice_data_has_no_facts(tmp_path: Path) -> None:
    assert load_facts(pack(), tmp_path).facts == ()


def test_a_fact_about_an_item_that_the_clinic_retired_is_left_out() -> None:
    about = next(fact.item for fact in facts().facts if fact.item is not None)
    fewer = pack().model_copy(update={"items": tuple(i for i in pack().items if i.id != about)})
    kept = facts_in_use("operative", fewer).facts
    assert kept and kept == tuple(fact for fact in facts().facts if fact.item != about)
