"""The model knows where we are and what is next, and learns habits; as hmmlearn and counting say."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from hmmlearn.hmm import CategoricalHMM  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import settings as effort
from hypothesis import strategies as st

from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack, Procedure
from vocab.procedure.habits import Habits, PastSession
from vocab.procedure.model import CHANGE_OF_MIND, Belief, ProcedureError, ProcedureModel, ProcedureSettings
from vocab.procedure.replay import remembered
from vocab.procedure.step_tables import Teaching, authored, taught

PACK = shipped_pack()
PLAIN = ProcedureSettings(again=1.0)
"""Nothing depends on what was just asked for, as in a textbook chain."""


@cache
def model(procedure: str | None = None) -> ProcedureModel:
    return ProcedureModel(PACK, None if procedure is None else [procedure])


def walk(procedure: Procedure) -> list[str]:
    """The weightiest items of every step that is not optional, as many as the step takes."""
    steps = [step for step in procedure.steps if not step.optional]
    return [
        item
        for step in steps
        for item in sorted(step.items, key=lambda i: -step.items[i])[: round(step.requests)]
    ]


def tiny_pack() -> Pack:
    """Two procedures of a few steps over five items, one of them of any moment."""
    items = [
        {"id": i, "class": "matrix", "name": i, "purpose": "p", "look": "l", "reprocessing": "single use"}
        for i in "abcde"
    ]
    trays = [{"id": "t", "name": "t", "rows": [{"name": "r", "slots": [{"at": 1, "item": "a"}]}]}]
    first = [
        {"id": "one", "name": "one", "items": {"a": 2, "b": 1}, "requests": 2},
        {"id": "two", "name": "two", "items": {"b": 1, "c": 3}, "optional": True},
        {"id": "three", "name": "three", "items": {"c": 1, "d": 1}, "requests": 3},
    ]
    second = [{"id": "only", "name": "only", "items": {"d": 1}}]
    return Pack.model_validate(
        {
            "id": "tiny",
            "name": "tiny",
            "language": "en",
            "version": "1",
            "items": items,
            "trays": trays,
            "procedures": [
                {"id": "p", "name": "p", "tray": "t", "steps": first, "any_time": {"e": 1}},
                {"id": "q", "name": "q", "tray": "t", "steps": second},
            ],
            "speech": {"cues": [], "endings": []},
        }
    )


# Against hmmlearn: the same chain, handed over as plain tables.


def hmm_of(m: ProcedureModel) -> CategoricalHMM:
    hmm = CategoricalHMM(n_components=len(m.states), n_features=len(m.items))
    hmm.startprob_ = np.exp(m.log_start)
    hmm.transmat_, hmm.emissionprob_ = np.exp(m.log_move), np.exp(m.log_emit)
    return hmm


@pytest.mark.parametrize("procedure", [None, "composite_class_two", "sealant"])
def test_steps_and_likelihood_equal_hmmlearn(procedure: str | None) -> None:
    m = ProcedureModel(PACK, None if procedure is None else [procedure], PLAIN)
    items = walk(PACK.procedure(procedure or "amalgam_class_two"))
    columns = np.array([[m.items.index(i)] for i in items])
    hmm = hmm_of(m)
    np.testing.assert_allclose(m.smooth(items), hmm.predict_proba(columns), atol=1e-9)
    assert m.log_likelihood(items) == pytest.approx(hmm.score(columns), abs=1e-8)
    assert m.best_path(items) == [m.states[s] for s in hmm.decode(columns)[1]]
    belief = m.start()
    for t, item in enumerate(items[:12]):
        belief = m.after(belief, item)
        now = hmm.predict_proba(columns[: t + 1])[-1]
        np.testing.assert_allclose(np.exp(belief.log_p), now, atol=1e-9)


def test_one_teaching_equals_one_round_of_baum_welch_with_the_same_prior() -> None:
    # hmmlearn adds prior - 1 to its counts, so a prior of 1 + strength x share is ours.
    plain = ProcedureSettings(again=1.0, any_time=0.0, stray=1e-12)
    teaching = Teaching(items=8.0, moves=4.0, first=10.0, shares=30.0, half_life=50.0)
    procedure = PACK.procedure("sealant")
    before = authored(procedure, PACK, plain)
    m = ProcedureModel(PACK, ["sealant"], plain)
    sessions = [walk(procedure), walk(procedure)[2:] + walk(procedure)[-2:]]
    columns = [[m.items.index(i) for i in items] for items in sessions]
    after = taught(before, [(c, 1.0) for c in columns], teaching, plain.recent)

    priors: dict[str, Any] = {
        "startprob_prior": 1 + teaching.first * before.start,
        "transmat_prior": 1 + teaching.moves * before.move,
        "emissionprob_prior": 1 + teaching.items * before.own,
    }
    size, width = before.own.shape
    hmm = CategoricalHMM(n_components=size, n_features=width, n_iter=1, init_params="", **priors)
    hmm.startprob_, hmm.transmat_, hmm.emissionprob_ = before.start, before.move, np.exp(m.log_emit)
    hmm.fit(np.concatenate(columns)[:, None], [len(c) for c in columns])
    np.testing.assert_allclose(after.start, hmm.startprob_, atol=1e-6)
    np.testing.assert_allclose(after.move, hmm.transmat_, atol=1e-6)
    np.testing.assert_allclose(after.own, hmm.emissionprob_, atol=1e-6)


# Against counting every possibility, the discount on items just asked for included.


def p_of_session(m: ProcedureModel, items: tuple[str, ...], settings: ProcedureSettings) -> float:
    """p of a session by summing over every path, emissions made anew from the pack in plain loops."""
    pack = tiny_pack()
    total = 0.0
    for path in itertools.product(range(len(m.states)), repeat=len(items)):
        p = float(np.exp(m.log_start[path[0]]))
        for t, item in enumerate(items):
            if t:
                p *= float(np.exp(m.log_move[path[t - 1], path[t]]))
            procedure_id, step_id = m.states[path[t]]
            procedure = pack.procedure(procedure_id)
            step = next(s for s in procedure.steps if s.id == step_id)
            recent = items[max(0, t - settings.recent) : t]
            weights = {i: w * (settings.again if i in recent else 1.0) for i, w in step.items.items()}
            any_time = settings.any_time if procedure.any_time else 0.0
            own = weights.get(item, 0.0) / sum(weights.values())
            stray = 0.5 * (item == "a") + 0.5 / len(m.items)
            p *= (1 - any_time - settings.stray) * own + any_time * (item == "e") + settings.stray * stray
        total += p
    return total


SETTINGS = ProcedureSettings(recent=2, again=0.2)


@pytest.mark.parametrize("items", [("a", "b", "b", "c"), ("d", "e", "d"), ("c", "a", "a", "e")])
def test_the_next_item_equals_counting_all_paths(items: tuple[str, ...]) -> None:
    m = ProcedureModel(tiny_pack(), None, SETTINGS)
    belief = m.start()
    for t, item in enumerate(items):
        before = p_of_session(m, items[:t], SETTINGS) if t else 1.0
        ahead = m.next_items(belief)
        for other in m.items:
            joint = p_of_session(m, (*items[:t], other), SETTINGS)
            assert ahead[other] == pytest.approx(joint / before)
        belief = m.after(belief, item)
    assert m.log_likelihood(items) == pytest.approx(np.log(p_of_session(m, items, SETTINGS)))


def test_habit_and_steps_are_weighed_by_what_each_foretold() -> None:
    pack = tiny_pack()
    habits = Habits((PastSession("p", ("a", "c", "b", "d"), "dr"), PastSession("p", ("b", "e", "d"), "dr")))
    m = ProcedureModel(pack, ["p"], SETTINGS, habits, "dr")
    steps = ProcedureModel(pack, ["p"], replace(SETTINGS, remembered=False), habits, "dr")
    old = 0.5 ** (1 / SETTINGS.dentist.half_life)
    script = remembered([[([1, 4, 3], 1.0), ([0, 2, 1, 3], old)]], 5)
    assert script is not None
    belief, by_steps, place, habit_p = m.start(), steps.start(), script.start(), 0.5
    for item in ("a", "c", "e", "b", "b"):
        column = m.items.index(item)
        steps_p = np.array([steps.next_items(by_steps)[i] for i in m.items])
        script_p = script.next_items(place, steps_p)
        expected = habit_p * script_p + (1 - habit_p) * steps_p
        assert [m.next_items(belief)[i] for i in m.items] == pytest.approx(list(expected))
        belief, by_steps = m.after(belief, item), steps.after(by_steps, item)
        place, _ = script.after(place, column, steps_p[column])
        habit_p *= script_p[column] / expected[column]
        habit_p += CHANGE_OF_MIND * (0.5 - habit_p)
    np.testing.assert_allclose(belief.log_p, by_steps.log_p)


# What a user would say is true.

HABITS = Habits(
    tuple(PastSession(p.id, tuple(walk(p)), who) for p in PACK.procedures for who in ("dr a", "dr b"))
)
MODELS = [
    model(),
    model("composite_class_two"),
    ProcedureModel(PACK, ["sealant"], habits=HABITS, dentist="dr a"),
]


def procedure_p(m: ProcedureModel, belief: Belief) -> dict[str, float]:
    """How probable each procedure is."""
    total: dict[str, float] = {}
    for (procedure, _), p in zip(m.states, np.exp(belief.log_p), strict=True):
        total[procedure] = total.get(procedure, 0.0) + float(p)
    return total


@effort(max_examples=30, deadline=None)
@given(
    st.sampled_from(MODELS),
    st.lists(st.sampled_from([*MODELS[0].items, "no such item"]), max_size=25),
)
def test_whatever_was_asked_the_next_items_sum_to_one_and_nothing_is_impossible(
    m: ProcedureModel, items: list[str]
) -> None:
    belief = m.start()
    for item in items:
        belief = m.after(belief, item)
    ahead = m.next_items(belief)
    assert set(ahead) == set(m.items)
    assert sum(ahead.values()) == pytest.approx(1.0)
    assert min(ahead.values()) > 0
    assert list(ahead.values()) == sorted(ahead.values(), reverse=True)
    assert np.exp(belief.log_p).sum() == pytest.approx(1.0)


def test_an_item_the_pack_lacks_changes_nothing() -> None:
    belief = model().after(model().start(), "etchant")
    assert model().after(belief, "coffee") is belief
    assert belief.asked == 1


@pytest.mark.parametrize("procedure", PACK.procedures, ids=lambda p: p.id)
def test_walking_through_a_procedure_the_next_item_is_mostly_among_the_first(procedure: Procedure) -> None:
    m = model(procedure.id)
    belief, ranks = m.start(), []
    for item in walk(procedure):
        ranks.append(list(m.next_items(belief)).index(item) + 1)
        belief = m.after(belief, item)
    assert np.median(ranks) <= 4
    assert np.mean(np.array(ranks) <= 10) >= 0.8


@pytest.mark.parametrize("procedure", PACK.procedures, ids=lambda p: p.id)
def test_walking_through_a_procedure_the_step_is_known(procedure: Procedure) -> None:
    steps = [
        step.id
        for step in procedure.steps
        if not step.optional
        for _ in range(min(round(step.requests), len(step.items)))
    ]
    found = [step for _, step in model(procedure.id).best_path(walk(procedure))]
    assert np.mean([a == b for a, b in zip(steps, found, strict=True)]) >= 0.85


@pytest.mark.parametrize("procedure", PACK.procedures, ids=lambda p: p.id)
def test_an_unknown_procedure_is_named_in_the_end(procedure: Procedure) -> None:
    m = model()
    belief = m.start()
    for item in walk(procedure):
        belief = m.after(belief, item)
    assert procedure_p(m, belief)[procedure.id] > 0.9


def test_a_few_characteristic_requests_name_the_procedure() -> None:
    m = model()
    belief = m.start()
    assert max(procedure_p(m, belief).values()) < 0.2
    for item in ("sectional_matrix", "wedge", "sectional_ring", "etchant"):
        belief = m.after(belief, item)
    assert procedure_p(m, belief)["composite_class_two"] > 0.95
    assert m.likely_step(belief)[:2] == ("composite_class_two", "etch")


def test_after_the_etchant_comes_water_and_suction_then_the_bond() -> None:
    m = model("composite_class_two")
    belief = m.after(m.start(), "etchant")
    assert set(list(m.next_items(belief))[:2]) == {"air_water_syringe", "high_volume_tip"}
    belief = m.after(m.after(belief, "air_water_syringe"), "high_volume_tip")
    assert {"applicator_brush", "bonding_agent"} <= set(list(m.next_items(belief))[:4])


def test_suction_at_any_moment_does_not_lose_the_step() -> None:
    m = model("amalgam_class_two")
    belief = m.start()
    for item in ("matrix_retainer", "matrix_band", "saliva_ejector", "gauze_square"):
        belief = m.after(belief, item)
    assert m.likely_step(belief)[1] == "matrix"


def test_going_back_to_an_earlier_step_is_followed() -> None:
    m = model("composite_class_two")
    belief = m.start()
    for item in ("universal_composite", "composite_paddle", "curing_light", "universal_composite"):
        belief = m.after(belief, item)
    assert m.likely_step(belief)[1] == "fill"


def test_what_was_just_passed_is_less_likely_next_but_not_impossible() -> None:
    m = model("amalgam_class_two")
    before = m.after(m.start(), "matrix_retainer")
    after = m.after(before, "wedge")
    assert 0 < m.next_items(after)["wedge"] < m.next_items(before)["wedge"]


def test_looking_back_corrects_what_was_ambiguous() -> None:
    m = model()
    items = ["mouth_mirror", "explorer_shepherd", "amalgam_capsule", "amalgam_carrier", "condenser_small"]
    amalgam = [i for i, (procedure, _) in enumerate(m.states) if procedure.startswith("amalgam")]
    back = m.smooth(items)
    at_the_time = np.exp(m.after(m.start(), items[0]).log_p)
    assert back.shape == (5, len(m.states))
    assert back[0, amalgam].sum() > 0.9 > at_the_time[amalgam].sum()


def test_unknown_items_in_a_finished_session_take_the_row_before() -> None:
    m = model("sealant")
    with_unknown = m.smooth(["coffee", "etchant", "coffee", "curing_light"])
    without = m.smooth(["etchant", "curing_light"])
    np.testing.assert_allclose(with_unknown, without[[0, 0, 0, 1]])
    np.testing.assert_allclose(m.smooth(["coffee"]), np.exp(m.log_start)[None, :])
    assert m.smooth([]).shape == (0, len(m.states))
    assert m.best_path(["coffee"]) == []


# Learning.

BAND_FIRST = ("high_speed_handpiece", "bur_330", "hatchet", "matrix_retainer", "matrix_band", "wedge")
WEDGE_FIRST = ("high_speed_handpiece", "bur_330", "hatchet", "matrix_retainer", "wedge", "matrix_band")
REST = ("ball_burnisher", "amalgam_capsule", "amalgam_carrier", "condenser_small", "discoid_cleoid")


def session(items: tuple[str, ...], dentist: str) -> PastSession:
    return PastSession("amalgam_class_two", (*items, *REST), dentist)


def wedge_before_band(habits: Habits, dentist: str) -> bool:
    """Whether, with the retainer just passed, the wedge is expected before the band."""
    m = ProcedureModel(PACK, ["amalgam_class_two"], habits=habits, dentist=dentist)
    belief = m.start()
    for item in ("high_speed_handpiece", "bur_330", "hatchet", "matrix_retainer"):
        belief = m.after(belief, item)
    ahead = list(m.next_items(belief))
    return ahead.index("wedge") < ahead.index("matrix_band")


@pytest.mark.parametrize("sessions", [1, 3])
def test_a_dentist_who_wants_the_wedge_before_the_band_gets_it_so_within_three_sessions(
    sessions: int,
) -> None:
    habits = Habits(tuple(session(BAND_FIRST, "dr a") for _ in range(3)))
    assert not wedge_before_band(habits, "dr a")
    habits = Habits((*habits.sessions, *[session(WEDGE_FIRST, "dr b")] * sessions))
    assert wedge_before_band(habits, "dr b")
    assert not wedge_before_band(habits, "dr a")


def test_a_dentist_who_wants_the_band_before_the_wedge_gets_it_so_though_written_otherwise() -> None:
    assert wedge_before_band(Habits(), "dr a")
    assert not wedge_before_band(Habits((session(BAND_FIRST, "dr a"),) * 3), "dr a")


def test_the_usual_order_is_expected_though_the_only_day_without_the_hatchet_went_otherwise() -> None:
    without = tuple(item for item in WEDGE_FIRST if item != "hatchet")
    habits = Habits((*[session(BAND_FIRST, "dr a")] * 4, session(without, "dr a")))
    m = ProcedureModel(PACK, ["amalgam_class_two"], habits=habits, dentist="dr a")
    belief = m.start()
    for item in ("high_speed_handpiece", "bur_330", "matrix_retainer"):
        belief = m.after(belief, item)
    assert next(iter(m.next_items(belief))) == "matrix_band"


def test_an_old_habit_gives_way_to_a_new_one() -> None:
    habits = Habits((session(BAND_FIRST, "dr a"),) * 6)
    changed = Habits((*habits.sessions, *[session(WEDGE_FIRST, "dr a")] * 6))
    assert not wedge_before_band(habits, "dr a")
    assert wedge_before_band(changed, "dr a")


def test_a_step_the_clinic_always_skips_is_expected_less() -> None:
    etched = ("etchant", "air_water_syringe", "high_volume_tip", "sealant", "curing_light")
    skipping = ("mouth_mirror", "explorer_shepherd", "dam_clamp", "dam_frame", *etched)
    m = ProcedureModel(PACK, ["sealant"], habits=Habits((PastSession("sealant", skipping),) * 6))
    examine, clean = m.states.index(("sealant", "examine")), m.states.index(("sealant", "clean"))
    assert m.log_move[examine, clean] < model("sealant").log_move[examine, clean] - np.log(1.5)


def test_an_item_of_the_dentists_own_becomes_part_of_the_step() -> None:
    odd = ("etchant", "crown_scissors", "air_water_syringe", "high_volume_tip", "applicator_brush")
    habits = Habits((PastSession("sealant", odd, "dr a"),) * 3)
    m = ProcedureModel(PACK, ["sealant"], habits=habits, dentist="dr a")
    belief = m.after(m.start(), "etchant")
    assert next(iter(m.next_items(belief))) == "crown_scissors"
    assert list(model("sealant").next_items(model("sealant").start())).index("crown_scissors") > 20


def test_sessions_of_procedures_or_items_the_pack_no_longer_has_are_passed_over() -> None:
    habits = Habits((PastSession("root_canal", ("wedge",)), PastSession("sealant", ("file", "reamer"))))
    m = ProcedureModel(PACK, ["sealant"], habits=habits)
    np.testing.assert_array_equal(m.log_emit, model("sealant").log_emit)


# Mistakes are told.


def test_an_unknown_procedure_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ProcedureError, match="'root_canal'; choose from examination, "):
        ProcedureModel(PACK, ["root_canal"])


def test_no_procedure_at_all_is_refused() -> None:
    with pytest.raises(ProcedureError, match="no procedure was chosen"):
        ProcedureModel(PACK, [])
    with pytest.raises(ProcedureError, match="has no procedures"):
        ProcedureModel(PACK.model_copy(update={"procedures": ()}))


def test_the_tables_cannot_be_changed_by_mistake() -> None:
    with pytest.raises(ValueError, match="read-only"):
        model().log_emit[0, 0] = 0.0
