"""What must decide nothing, and what is refused with something else asked for (issue of safety: each line was
met with a wrong answer once). Facts: common practice, no source, unless a line names one."""

from __future__ import annotations

import pytest

from listen.readings import Reader, load_calibration
from listen.verdict import Costs, Judgement, Verdict, judge
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Item
from vocab.requests.lexicon import Lexicon

PACKS = {name: shipped_pack(name) for name in ("operative", "oral_surgery")}
READERS = {name: Reader(pack, Lexicon(pack), load_calibration()) for name, pack in PACKS.items()}

SURFACES = ("mesial", "distal", "buccal", "lingual", "occlusal", "facial", "palatal", "incisal")
TEETH = tuple(str(n) for n in (*range(1, 33), *(10 * q + n for q in range(1, 5) for n in range(1, 9))))
"""Universal numbers 1 to 32 and two-digit numbers (ISO 3950), from memory."""


def judged(text: str, pack: str = "operative") -> tuple[Judgement, ...]:
    return judge(READERS[pack].of_text(text, {}), PACKS[pack], Costs())


def answered(text: str, pack: str = "operative") -> list[str | None]:
    return [j.item for j in judged(text, pack) if j.verdict is Verdict.ANSWER and j.request.kind != "refusal"]


def offered(text: str, pack: str = "operative") -> set[str | None]:
    return {i for j in judged(text, pack) for i in (j.item, *(item for item, _ in j.alternatives))}


@pytest.mark.parametrize("pack", PACKS)
@pytest.mark.parametrize("cue", ["{}", "number {}", "let's take number {}", "number {} please"])
def test_a_tooth_is_no_request(cue: str, pack: str) -> None:
    for tooth in TEETH:
        assert not answered(cue.format(tooth), pack), cue.format(tooth)


@pytest.mark.parametrize("surface", SURFACES)
def test_a_surface_is_no_request(surface: str) -> None:
    for text in (surface, f"{surface} please", f"the {surface}", f"on the {surface}"):
        assert not judged(text), text


@pytest.mark.parametrize("pack", PACKS)
def test_no_name_is_a_bare_tooth_or_surface(pack: str) -> None:
    for item in PACKS[pack].items:
        for name in item.names:
            for text in (name.text, *name.say):
                assert text.lower().removeprefix("number ") not in (*TEETH, *SURFACES), text


@pytest.mark.parametrize(
    "text",
    ["lights", "lights please", "some light in here", "can I get some light in here", "turn the lights off"],
)
def test_the_lamp_overhead_is_not_ours(text: str) -> None:
    assert not judged(text)


def test_the_curing_light_still_is() -> None:
    assert answered("light please") == ["curing_light"]


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("A3 flow", "flowable_composite"),
        ("a three flow please", "flowable_composite"),
        ("hand me the a two composite", "universal_composite"),
        ("856", "diamond_chamfer"),
        ("eight fifty six please", "diamond_chamfer"),
        ("high speed suction", "high_volume_tip"),
        ("finishing bur, the flame", "finishing_bur"),
    ],
)
def test_a_digit_of_a_name_or_shade_is_no_quantity(text: str, item: str) -> None:
    (one,) = judged(text)
    assert (one.item, one.request.quantity) == (item, None)


@pytest.mark.parametrize("size", ["3-0", "4-0", "5-0", "four oh", "five oh"])
def test_a_suture_size_is_no_quantity(size: str) -> None:
    for material in ("silk", "chromic"):
        (one,) = judged(f"{size} {material} please", "oral_surgery")
        assert one.request.quantity is None and one.item is not None and "suture" in one.item


@pytest.mark.parametrize("text", ["two a composite", "six-0 silk", "a seven flow"])
def test_a_size_that_is_not_listed_gives_no_number_of_pieces(text: str) -> None:
    for pack in PACKS:
        assert not [j for j in judged(text, pack) if j.verdict is Verdict.ANSWER and j.request.quantity]


@pytest.mark.parametrize("text", ["disk cleoid", "mirror explorer", "band wedge please", "upper cowhorn"])
def test_two_names_with_nothing_between_them_are_never_two_answers(text: str) -> None:
    assert len(judged(text)) <= 1 and not answered(text)


@pytest.mark.parametrize("text", ["football", "egg", "the football please", "pass me the egg"])
def test_a_shared_name_is_asked_back(text: str) -> None:
    (one,) = judged(text)
    assert one.verdict is Verdict.CHECK
    assert "egg_burnisher" in offered(text) and len(offered(text) - {"egg_burnisher"}) >= 1


@pytest.mark.parametrize(
    ("text", "refused", "wanted"),
    [
        ("never mind the wedge, give me the ring", "wedge", "sectional_ring"),
        ("never mind the wedge give me the ring", "wedge", "sectional_ring"),  # as an engine writes it
        ("no wedge, just the ring", "wedge", "sectional_ring"),
        ("no wedge, just the ring please", "wedge", "sectional_ring"),
        ("not yet, etch first", None, "etchant"),
        ("hold off on the etch, the bond please", "etchant", "bonding_agent"),
        ("never mind the wedge but give me the ring", "wedge", "sectional_ring"),
    ],
)
def test_a_refusal_with_a_request_behind_it(text: str, refused: str | None, wanted: str) -> None:
    no, yes = judged(text)
    assert no.request.kind == "refusal" and no.request.rejected == ((refused,) if refused else ())
    assert (yes.item, yes.verdict) == (wanted, Verdict.ANSWER)


def test_a_contrast_takes_the_second() -> None:
    (one,) = judged("not the explorer, the probe")
    assert one.item == "perio_probe" and "explorer_shepherd" in one.request.rejected


@pytest.mark.parametrize(
    "text",
    ["no wedge", "no wedge, ring", "skip the wedge and the ring", "leave the wedge, the ring, and the band"],
)
def test_a_list_of_what_is_not_wanted_asks_for_nothing(text: str) -> None:
    assert not answered(text)
    assert "wedge" in {item for j in judged(text) for item in j.request.rejected}


def gauged(item: Item) -> list[str]:
    return [name.text for name, variant in item.variant_name_pairs if "gauge" in variant]


@pytest.mark.parametrize("pack", PACKS)
@pytest.mark.parametrize(
    "text", ["27 short", "27 gauge short please", "25 long", "30 long", "27 gauge needle"]
)
def test_gauge_never_decides_length(text: str, pack: str) -> None:
    (one,) = judged(text, pack)
    assert one.verdict is Verdict.CHECK
    if "short" in text or "long" in text:
        assert one.item == f"needle_{'short' if 'short' in text else 'long'}"
    else:
        assert {"needle_short", "needle_long"} <= offered(text, pack)


@pytest.mark.parametrize("pack", PACKS)
@pytest.mark.parametrize("text", ["no epi", "without epi", "plain", "no epi please", "without epi, please"])
def test_plain_is_a_name_and_no_refusal(text: str, pack: str) -> None:
    (one,) = judged(text, pack)
    assert one.request.kind == "item" and one.verdict is Verdict.CHECK
    assert "cartridge_plain" in offered(text, pack)
