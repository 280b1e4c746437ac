"""What lint says about a vocabulary. Pairs that are mixed up at the chair are common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vocab.layers.test_changes import PACK, item
from tests.vocab.small_pack import small_pack
from vocab.language.pronounce import PHONES, edit_cost
from vocab.lint.findings import MOST_RISKS, Finding, Kind, Severity, lint, lint_name
from vocab.lint.similar_names import NameSounds, _cost_table, _edit_costs
from vocab.pack.load import shipped_names, shipped_pack
from vocab.pack.schema import Name, Pack, Procedure, Tray

SMALL = PACK
WHATSIT = Name(text="whatsit", shared=True)
SOUNDS = NameSounds(SMALL)
OPERATIVE = shipped_pack()
FOUND = lint(OPERATIVE)
NEAR = [{p.one.item, p.other.item} for p in NameSounds(OPERATIVE).pairs() if 0 < p.cost <= 1.75]


def with_items(*items: object, **more: object) -> Pack:
    return SMALL.model_copy(update={"items": (*SMALL.items, *items), **more})


def of(kind: Kind, findings: tuple[Finding, ...]) -> list[Finding]:
    return [finding for finding in findings if finding.kind is kind]


def pairs(findings: tuple[Finding, ...]) -> set[frozenset[str]]:
    return {frozenset(finding.items) for finding in findings}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("matrix_band", "bonding_agent"),
        ("etchant", "wedge"),
        ("hollenback_carver", "amalgam_carrier"),
        ("flowable_composite", "dental_floss"),
    ],
)
def test_pairs_that_sound_alike_at_the_chair_are_near(one: str, other: str) -> None:
    assert {one, other} in NEAR


def test_what_names_share_does_not_make_them_alike() -> None:
    assert {"ball_burnisher", "egg_burnisher"} not in NEAR
    assert {"bur_330", "bur_245"} not in NEAR


# --- names that sound alike -------------------------------------------------------------------------


def together(*placed: str) -> Pack:
    """A pack of one tray with these things."""
    laid = tray("look", *((str(i), item_id) for i, item_id in enumerate(placed)))
    return SMALL.model_copy(update={"trays": (laid,), "procedures": ()})


def test_a_risk_says_what_a_dentist_meets_and_what_helps() -> None:
    (found,) = of(Kind.SOUND, lint(together("matrix_band", "bonding_agent")))
    assert found.ask_back and set(found.items) == {"matrix_band", "bonding_agent"}
    assert str(found) == (
        'medium: "band" (matrix band) sounds almost like "bond" (bonding agent); anyone who says one may be '
        "given the other. Always ask which of the two is meant."
    )


def test_what_is_always_asked_back_or_never_together_is_no_risk() -> None:
    both = together("matrix_band", "bonding_agent")
    for pair in (("matrix_band", "bonding_agent"), ("bonding_agent", "matrix_band")):
        assert of(Kind.SOUND, lint(both.model_copy(update={"wide_margin": (pair,)}))) == []
    assert of(Kind.SOUND, lint(together("matrix_band", "etchant"))) == []


def test_things_that_are_used_together_are_judged_wherever_they_lie() -> None:
    step = {"id": "use", "name": "Use", "items": {"matrix_band": 1, "bonding_agent": 1}}
    used = Procedure.model_validate({"id": "look", "name": "Look", "tray": "look", "steps": [step]})
    pack = together("etchant").model_copy(update={"procedures": (used,)})
    assert len(of(Kind.SOUND, lint(pack))) == 1


def test_names_beside_one_that_both_have_are_no_risk() -> None:
    shared = Name(text="bond", shared=True)
    both = (item("one", "first thing", shared, "pond"), item("two", "second thing", shared))
    laid = tray("look", ("1", "one"), ("2", "two"))
    pack = SMALL.model_copy(update={"items": (*SMALL.items, *both), "trays": (laid,), "procedures": ()})
    assert of(Kind.SOUND, lint(pack)) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped_names())
def test_the_risks_of_a_shipped_pack_are_few_and_each_is_done_with_by_asking_back(name: str) -> None:
    pack = shipped_pack(name)
    found = of(Kind.SOUND, lint(pack))
    assert 0 < len(found) <= MOST_RISKS and all(finding.ask_back for finding in found)
    assert len(pairs(tuple(found))) == len(found)
    asked = tuple((f.items[0], f.items[1]) for f in found)
    after = lint(pack.model_copy(update={"wide_margin": (*pack.wide_margin, *asked)}))
    assert not pairs(tuple(found)) & pairs(after)


def test_the_worst_come_first() -> None:
    assert [f.severity for f in FOUND] == sorted(
        (f.severity for f in FOUND), key=lambda s: list(Severity).index(s)
    )


@pytest.mark.slow
def test_the_shipped_packs_hold_no_mistakes_of_layout() -> None:
    for name in shipped_names():
        found = lint(shipped_pack(name))
        for kind in (Kind.SAME_NAME, Kind.REQUEST_WORDS, Kind.UNSAYABLE, Kind.NOT_ON_TRAY, Kind.UNUSED_TRAY):
            assert of(kind, found) == [], name


# --- names ------------------------------------------------------------------------------------------


def test_the_same_name_on_two_items_is_found_however_it_is_written() -> None:
    (found,) = of(Kind.SAME_NAME, lint(with_items(item("ours", "ours", "The three-thirty bur"))))
    assert set(found.items) == {"bur_330", "ours"}
    assert "is always asked which one" in found.message


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("rinse", "a command"),
        ("smaller", "a size"),
        ("not yet", "a refusal"),
        ("please", "a polite phrase"),
        ("the other end", "an end"),
        ("same again", "a request for the last thing"),
    ],
)
def test_a_name_that_is_also_a_way_of_asking_is_found(name: str, what: str) -> None:
    (found,) = of(Kind.REQUEST_WORDS, lint(with_items(item("ours", "our thing", name))))
    assert found.severity is Severity.HIGH and what in found.message


@pytest.mark.parametrize("name", ["зонд", "!!", "a" * 80])
def test_a_name_that_no_engine_can_say_is_found(name: str) -> None:
    (found,) = of(Kind.UNSAYABLE, lint(with_items(item("ours", "our thing", name))))
    assert found.names == (name,)


# --- trays and procedures ---------------------------------------------------------------------------


def tray(tray_id: str, *slots: tuple[str, str]) -> Tray:
    rows = [{"name": "row", "slots": [{"at": at, "item": item_id} for at, item_id in slots]}]
    return Tray.model_validate({"id": tray_id, "name": tray_id.title(), "rows": rows})


def test_slots_that_are_said_alike_or_hold_the_same_are_found() -> None:
    twice = tray(
        "look", ("5", "mouth_mirror"), ("five", "etchant"), ("6", "mouth_mirror"), ("7", "curing_light")
    )
    found = of(Kind.SLOT_TWICE, lint(SMALL.model_copy(update={"trays": (twice,)})))
    assert [f.severity for f in found] == [Severity.HIGH, Severity.LOW]
    assert 'the slots "5" and "five" sound alike' in found[0].message
    assert "mouth mirror is in slot 5 and in slot 6" in found[1].message


def test_what_a_procedure_asks_for_and_its_tray_lacks_is_found() -> None:
    bare = tray("look", ("1", "mouth_mirror"))
    found = of(Kind.NOT_ON_TRAY, lint(SMALL.model_copy(update={"trays": (bare,)})))
    assert {f.items for f in found} == {("etchant",), ("curing_light",)}


def test_a_tray_that_no_procedure_uses_is_found() -> None:
    found = of(
        Kind.UNUSED_TRAY,
        lint(SMALL.model_copy(update={"trays": (*SMALL.trays, tray("spare", ("1", "etchant")))})),
    )
    assert len(found) == 1 and "Spare" in found[0].message


def test_a_language_that_no_engine_hears_is_told() -> None:
    (found,) = of(Kind.NO_ENGINE, lint(shipped_pack("operativa_es")))
    assert "typed requests are understood, spoken ones are not" in found.message


# --- shared names, sizes, latex ---------------------------------------------------------------------


def test_a_name_that_is_shared_on_purpose_is_no_finding() -> None:
    shared = [item("one", "first thing", WHATSIT)]
    (found,) = of(Kind.SHARED_ALONE, lint(with_items(*shared)))
    assert "only first thing has it" in found.message and found.severity is Severity.LOW
    both = [*shared, item("two", "second thing", WHATSIT)]
    found_of_both = lint(with_items(*both))
    assert of(Kind.SAME_NAME, found_of_both) == of(Kind.SHARED_ALONE, found_of_both) == []
    unlike = [*shared, item("two", "second thing", "whatsit")]
    assert len(of(Kind.SAME_NAME, lint(with_items(*unlike)))) == 1


def test_kinds_with_and_without_latex_must_be_kept_apart() -> None:
    name = Name(text="stretchy sheet", shared=True)
    kinds = (item("free", "plain sheet", name), item("rubber", "rubber sheet", name, latex=True))
    (found,) = of(Kind.LATEX, lint(with_items(*kinds)))
    assert found.severity is Severity.HIGH and set(found.items) == {"free", "rubber"} and found.ask_back
    assert of(Kind.LATEX, lint(with_items(*kinds, wide_margin=(("rubber", "free"),)))) == []


def test_sizes_that_are_said_alike_are_found() -> None:
    sizes = item("clamp", "our clamp", variants=["8", "eight", "9"], variant_names=["{} clamp"])
    (found,) = of(Kind.SAME_SIZE, lint(with_items(sizes)))
    assert found.items == ("clamp",) and "our clamp 8 and eight" in found.message


def test_sizes_of_one_thing_may_lie_in_slots_of_their_own() -> None:
    sizes = item("clamp", "our clamp", variants=["8", "9"], variant_names=["{} clamp"])

    def slots(*held: tuple[str, ...]) -> list[Finding]:
        row = [{"at": str(i), "item": "clamp", "variants": sizes} for i, sizes in enumerate(held)]
        laid = Tray.model_validate({"id": "look", "name": "Look", "rows": [{"name": "row", "slots": row}]})
        return of(Kind.SLOT_TWICE, lint(with_items(sizes, trays=(laid,), procedures=())))

    assert slots(("8",), ("9",)) == []
    assert len(slots(("8",), ("8", "9"))) == 1
    assert len(slots((), ())) == 1


# --- while typing -----------------------------------------------------------------------------------


def live(text: str, item_id: str = "etchant") -> list[Kind]:
    return [finding.kind for finding in lint_name(text, item_id, SMALL, SOUNDS)]


def test_a_new_name_is_judged_while_it_is_typed() -> None:
    assert live("bonds") == [Kind.SAME_NAME]
    assert Kind.SOUND in live("pond")
    assert live("our blue gel") == []
    assert live("acid", "not_there_yet") == []
    assert Kind.REQUEST_WORDS in live("rinse")
    assert live("  ") == []
    assert "new item" in str(lint_name("etch", "not_there_yet", SMALL, SOUNDS)[0])


@pytest.mark.parametrize("text", ["x" * 81, "gel\u202e", "gel\x1b[31m"])
def test_what_cannot_be_a_name_is_told_while_it_is_typed(text: str) -> None:
    (found,) = lint_name(text, "etchant", SMALL, SOUNDS)
    assert found.severity is Severity.HIGH and found.kind is Kind.UNSAYABLE
    assert "\x1b" not in found.message and "\u202e" not in found.message


def test_what_an_engine_took_a_name_for_is_told_instead_of_how_it_sounds() -> None:
    names, items = ("pond", "bond"), ("etchant", "bonding_agent")
    heard = Finding(Kind.HEARD, Severity.HIGH, names, items, "taken for bond", "Choose another name")
    before = lint_name("pond", "etchant", SMALL, SOUNDS)
    after = lint_name("pond", "etchant", SMALL, SOUNDS, (heard,))
    assert any(frozenset(one.items) == frozenset(items) for one in of(Kind.SOUND, before))
    assert after == (heard, *(one for one in before if frozenset(one.items) != frozenset(items)))


def test_a_name_may_sound_like_others_of_its_own_item() -> None:
    assert live("etched", "etchant") == []


@given(st.text(max_size=30))
def test_any_text_can_be_judged(text: str) -> None:
    for finding in lint_name(text, "etchant", SMALL, SOUNDS):
        assert finding.message and finding.help


# --- how it is found --------------------------------------------------------------------------------


def test_every_near_pair_is_found_that_comparing_all_names_finds() -> None:
    some = SMALL
    sounds = NameSounds(some)
    found = {frozenset((p.one.text, p.other.text)) for p in sounds.pairs(1.0)}
    every = {
        frozenset((a.text, b.text))
        for a in sounds.all
        for b in sounds.all
        if a.item < b.item
        and edit_cost(a.phones, b.phones) <= 1.0
        and edit_cost(a.phones, b.phones) <= 0.25 * max(len(a.phones), len(b.phones))
    }
    assert every <= found


sequences = st.lists(st.sampled_from(PHONES), min_size=1, max_size=8)


@given(sequences, sequences)
def test_costs_worked_out_together_equal_those_one_by_one(a: list[str], b: list[str]) -> None:
    import numpy as np

    def rows(phones: list[str]) -> object:
        return np.array([[PHONES.index(p) for p in phones]] * 2, np.int16)

    together = _edit_costs(rows(a), rows(b), _cost_table())  # type: ignore[arg-type]
    assert together == pytest.approx([edit_cost(a, b)] * 2, abs=1e-4)


@pytest.mark.slow
def test_five_thousand_names_can_be_linted() -> None:
    pack = small_pack(extra_items=2500)
    laid = tray("all", *((str(i), known.id) for i, known in enumerate(pack.items)))
    pack = pack.model_copy(update={"trays": (laid,), "procedures": ()})
    sounds = NameSounds(pack)
    assert len(sounds.all) > 5000
    assert len(of(Kind.SOUND, lint(pack, sounds))) == MOST_RISKS
    assert lint_name("pond", "etchant", pack, sounds)
