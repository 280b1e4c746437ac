"""Names to items. What is said for what is common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vocab.small_pack import small_pack
from vocab.language.tokens import spoken_forms, written_forms
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Candidate, Lexicon

SMALL = Lexicon(small_pack())


def found(text: str) -> list[str]:
    return [candidate.item for candidate in SMALL.find(text)]


def best(text: str) -> Candidate:
    return SMALL.find(text)[0]


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("the mouth mirrors", "mouth_mirror"),
        ("Hollenback carver", "hollenback_carver"),
        ("round four", "bur_round_4"),
        ("four round", "bur_round_4"),
        ("number four round", "bur_round_4"),
        ("#4 round bur", "bur_round_4"),
        ("three-thirty", "bur_330"),
        ("two by twos", "gauze_square"),
        ("P.F.I.", "plastic_instrument"),
        ("one quarter round", "bur_round_quarter"),
        ("shepherds hooks", "explorer_shepherd"),
        ("cottonroll", "cotton_roll"),
        ("high speed hand piece", "high_speed_handpiece"),
    ],
)
def test_a_name_is_known_however_it_is_written(text: str, item: str) -> None:
    assert (best(text).item, best(text).how) == (item, "exact")
    assert best(text).p >= 0.9


def test_a_sure_name_leaves_little_for_anything_else() -> None:
    assert best("etch").p >= 0.97


def test_a_part_of_one_name_means_that_item() -> None:
    assert found("hollenback") == ["hollenback_carver"]
    assert found("pigtail") == ["explorer_pigtail"]


def test_a_part_of_several_names_means_all_of_them() -> None:
    assert set(found("explorer")) == {"explorer_shepherd", "explorer_pigtail"}
    assert set(found("burnisher")) == {"ball_burnisher", "egg_burnisher"}
    assert best("burnisher").p < 0.5


def test_a_name_that_ends_other_names_leaves_them_a_share() -> None:
    assert found("mirror") == ["mouth_mirror", "hand_mirror"]
    assert 0.7 < best("mirror").p < best("mouth mirror").p


def test_names_that_sound_alike_are_near() -> None:
    assert (best("mouse mirror").item, best("mouse mirror").how) == ("mouth_mirror", "sound")
    assert best("hollow back carver").item == "hollenback_carver"


def test_names_that_are_spelled_alike_are_near() -> None:
    assert best("holenback carvr").item == "hollenback_carver"
    assert best("mirorr").item == "mouth_mirror"


def test_a_near_name_is_less_sure_than_the_name() -> None:
    assert best("pond").item == "bonding_agent"
    assert best("pond").p < 0.6 < best("bond").p


def test_a_number_that_no_bur_has_is_not_taken_for_one_that_has() -> None:
    assert all(candidate.p < 0.3 for candidate in SMALL.find("331 bur"))


@pytest.mark.parametrize(
    "text", ["", "the", "newspaper", "coffee", "light contact is there", "the three thirty appointment", "!?"]
)
def test_foreign_words_are_no_name(text: str) -> None:
    assert sum(candidate.p for candidate in SMALL.find(text)) < 0.3


def test_a_plain_word_alone_is_hardly_a_name() -> None:
    assert sum(candidate.p for candidate in SMALL.find("high")) <= 0.25


@given(st.text(max_size=60))
def test_any_text_gives_honest_probabilities(text: str) -> None:
    candidates = SMALL.find(text)
    assert all(0.0 < candidate.p < 1.0 for candidate in candidates)
    assert sum(candidate.p for candidate in candidates) < 0.98
    assert [c.p for c in candidates] == sorted((c.p for c in candidates), reverse=True)
    assert len({c.item for c in candidates}) == len(candidates)


def test_every_shipped_name_finds_its_item_in_every_form() -> None:
    pack = shipped_pack()
    lexicon = Lexicon(pack)
    for item in pack.items:
        for name in item.names:
            for form in (name.text, *name.say, *spoken_forms(name.text), *written_forms(name.text)):
                assert lexicon.is_name(form), form
                candidates = lexicon.find(form)
                top = [c.item for c in candidates if c.p == candidates[0].p]
                assert item.id in top, form


def test_a_thousand_names_are_looked_up_without_asking_for_every_sound_again() -> None:
    lexicon = Lexicon(small_pack(extra_items=500))
    assert lexicon.find("badegipo curette") == lexicon.find("badegipo curette")
    assert lexicon.find("mouse mirror")[0].item == "mouth_mirror"


def test_the_sounds_of_names_are_worked_out_once_and_only_when_needed() -> None:
    lexicon = Lexicon(small_pack())
    assert lexicon.find("Hollenback carver")[0].item == "hollenback_carver"
    assert "_sounds" not in vars(lexicon)
    lexicon.prepare()
    sounds = vars(lexicon)["_sounds"]
    assert lexicon.find("mouse mirror")[0].item == "mouth_mirror"
    assert vars(lexicon)["_sounds"] is sounds
