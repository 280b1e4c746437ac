"""Questions: what is asked, which answers count, and what is explained."""

from __future__ import annotations

import numpy as np
import pytest

from listen.practice.clues import without_names
from listen.practice.facts import Facts
from listen.practice.laying import Laying
from listen.practice.questions import LAID, MOST_OFFERED, Questions
from listen.practice.topics import Drill, PracticeError, Topic, curriculum, look_alikes, partners
from tests.listen.practice.classroom import CLASS_TWO, ask, facts, pack, questions
from vocab.pack.load import shipped_pack


@pytest.mark.parametrize("procedure", [None, *(p.id for p in pack().procedures)])
def test_every_topic_makes_a_question_whose_right_answers_can_be_given(procedure: str | None) -> None:
    rng = np.random.default_rng(1)
    for topic in curriculum(pack(), facts(), procedure):
        question = questions().ask(topic, rng)
        given = {choice.id for choice in question.choices}
        laid = topic.drill is Drill.LAY
        assert set(question.offered) <= given and len(question.offered) <= MOST_OFFERED, topic.key
        wanted = {part for r in question.right for part in (r.split(LAID) if laid else [r])}
        assert wanted and wanted <= given, topic.key
        assert len(given) > len(question.right) or laid
        assert all(choice.ways for choice in question.choices)


def test_a_request_is_asked_by_every_name_sooner_or_later() -> None:
    item = pack().item("cotton_pliers")
    asked = {ask(Drill.SLOT, item.id, CLASS_TWO, seed).asked_name for seed in range(200)}
    assert asked == {name.text for name in item.names if not name.shared}


def test_a_name_that_is_not_known_is_asked_more_often() -> None:
    topic, weights = Topic(Drill.SLOT, "cotton_pliers", CLASS_TWO), {"pliers": 50.0}
    rng = np.random.default_rng(0)
    asked = [questions().ask(topic, rng, weights).asked_name for _ in range(50)]
    assert asked.count("pliers") > 30


def test_the_slot_is_the_one_on_the_tray() -> None:
    question = ask(Drill.SLOT, "wedge", CLASS_TWO)
    assert question.right == (pack().tray(CLASS_TWO).slot_of("wedge"),)


def test_a_slot_is_asked_for_by_a_name_that_means_that_slot() -> None:
    surgery = shipped_pack("oral_surgery")
    questions = Questions(surgery, Facts())
    tray = surgery.tray("surgical_extraction")
    for item_id in ("gauze_square", "suture_scissors", "suture_silk", "straight_elevator"):
        item = surgery.item(item_id)
        variants = {name.text: variant for name, variant in item.variant_name_pairs}
        shared = {name.text for name in item.names if name.shared}
        for seed in range(40):
            rng = np.random.default_rng(seed)
            question = questions.ask(Topic(Drill.SLOT, item_id, tray.id), rng)
            said = question.asked_name
            assert said is not None and said not in shared
            holding = [
                s.at for s in tray.slots if s.item == item_id and variants.get(said, "") in (*s.variants, "")
            ]
            assert holding and question.right == tuple(holding), said


def test_a_clue_does_not_give_the_name_away() -> None:
    for item in pack().items:
        for clue in (item.purpose, item.look):
            shown = without_names(clue, item).lower()
            assert item.name.text.lower() not in shown
    assert "carver" not in without_names("A carver for amalgam.", pack().item("hollenback_carver"))


def test_a_spanish_clue_does_not_give_the_name_away() -> None:
    item = shipped_pack("operativa_es").item("pinza_algodonera")
    assert "pinza de algodón" in {name.text for name in item.names}
    assert without_names("Lleva algodones con dos puntas.", item, "es") == "Lleva ... con dos puntas."


def test_look_alikes_are_always_among_the_rivals_of_a_name() -> None:
    question = ask(Drill.NAME, "hollenback_carver")
    assert "amalgam_carrier" in {choice.id for choice in question.choices}
    assert "hollow tube" in question.tells["amalgam_carrier"]


def test_a_pair_is_asked_both_ways() -> None:
    pair = "amalgam_carrier+hollenback_carver"
    assert {ask(Drill.APART, pair, seed=s).right[0] for s in range(20)} == set(pair.split("+"))


def test_several_answers_may_be_right_for_what_comes_next() -> None:
    question = ask(Drill.NEXT, "rinse_and_dry", CLASS_TWO)
    assert {"air_water_syringe", "high_volume_tip"} <= set(question.right)
    assert "patient_bib" not in question.right


def test_after_the_etchant_the_brush_for_the_bond_is_no_wrong_answer_once_it_is_rinsed() -> None:
    assert {"bonding_agent", "applicator_brush"} <= set(ask(Drill.NEXT, "bond", CLASS_TWO).right)


def test_a_fault_is_one_that_can_be_seen_in_the_row() -> None:
    tray = pack().tray(CLASS_TWO)
    row = tray.rows[0]
    kinds = set()
    for seed in range(30):
        question = ask(Drill.FAULT, row.name, CLASS_TWO, seed)
        differs = [
            (slot.item, place.item)
            for slot, place in zip(row.slots, question.scene, strict=True)
            if slot.item != place.item
        ]
        assert {item for pair in differs for item in pair if item} == set(question.right)
        kinds.add((len(differs), differs[0][1] is None))
    assert kinds == {(1, True), (2, False), (1, False)}


def test_a_handful_is_offered_with_the_look_alikes_of_what_is_right() -> None:
    for seed in range(12):
        question = ask(Drill.NEXT, "matrix", CLASS_TWO, seed)
        right = set(question.right) & set(question.offered)
        assert len(question.offered) == MOST_OFFERED and 1 <= len(right) < MOST_OFFERED / 2
        assert {choice.id for choice in question.choices} >= set(question.offered)
        alike = {other for item in right for other in partners(pack())[item]}
        known = {choice.id for choice in question.choices} - set(question.right)
        assert alike & set(question.offered) or not alike & known
        again = ask(Drill.NEXT, "matrix", CLASS_TWO, seed)
        assert again.offered == question.offered


def test_a_name_may_be_chosen_among_its_look_alikes() -> None:
    question = ask(Drill.NAME, "explorer_shepherd", seed=3)
    assert question.right[0] in question.offered and len(question.offered) == MOST_OFFERED
    assert set(question.offered) & partners(pack())["explorer_shepherd"]
    assert question.offered == ask(Drill.NAME, "explorer_shepherd", seed=3).offered


def test_two_pictures_are_shown_for_one_request_and_their_looks_name_neither() -> None:
    for seed in range(20):
        question = ask(Drill.APART, "needle_long+needle_short", seed=seed)
        item = pack().item(question.right[0])
        assert any(name.text.lower() in question.spoken.lower() for name in item.own_names)
        assert set(question.offered) == set(question.looks) == {"needle_long", "needle_short"}
        assert tuple(choice.id for choice in question.choices) == question.offered
        for one, look in question.looks.items():
            assert pack().item(one).name.text not in look


def test_what_lies_in_a_kit_is_asked_for_within_the_kit() -> None:
    kit = next(kit for kit in pack().tray(CLASS_TWO).opened if kit.id == "bur_kit")
    question = ask(Drill.SLOT, "bur_330", CLASS_TWO)
    assert [place.at for place in question.scene] == [f"bur kit {slot.at}" for slot in kit.slots]
    assert kit.name in question.prompt and question.right == ("bur kit 1",)
    assert "At the chair" in question.answer or "at the chair" in question.answer
    whole = ask(Drill.SLOT, "mouth_mirror", CLASS_TWO)
    assert len(whole.scene) == len(pack().tray(CLASS_TWO).slots)


def test_a_kit_is_found_where_it_stands_and_the_counter_is_not_asked_for() -> None:
    topics = curriculum(pack(), facts(), "amalgam_class_two", [Drill.SLOT])
    tray = pack().tray(pack().procedure("amalgam_class_two").tray)
    kits = {f"kit/{kit.id}": kit for kit in tray.opened}
    asked = {topic.subject for topic in topics} & kits.keys()
    assert asked == {kit for kit in kits if kits[kit].name != "Counter"}
    for kit in asked:
        question = ask(Drill.SLOT, kit, tray.id)
        assert question.right == (kits[kit].place.value,) and len(question.offered) == 3


def test_a_fault_is_looked_for_in_kits_too() -> None:
    question = ask(Drill.FAULT, "Bur kit", CLASS_TWO, 4)
    assert {place.at for place in question.scene} == {f"bur kit {n}" for n in range(1, 15)}


def test_a_row_is_laid_when_everything_lies_in_its_slot() -> None:
    question = ask(Drill.LAY, pack().tray(CLASS_TWO).rows[0].name, CLASS_TWO)
    laying = Laying(question)
    first, second, *rest = question.right
    item, at = first.split(LAID)
    assert not laying.place(item, second.split(LAID)[1])
    assert laying.place(item, at)
    laying.place(item, at)  # said twice: no mistake
    for placement in (second, *rest):
        assert not laying.done
        laying.place(*placement.split(LAID))
    assert laying.done and laying.mistakes == 1
    assert laying.share == len(question.right) / (len(question.right) + 1)


def test_the_same_seed_asks_the_same_question() -> None:
    for drill, subject in ((Drill.NAME, "wedge"), (Drill.FACT, "etch_depth")):
        assert ask(drill, subject, seed=7) == ask(drill, subject, seed=7)


def test_a_topic_that_left_the_pack_is_told_by_name() -> None:
    for topic in (Topic(Drill.NAME, "gone"), Topic(Drill.FACT, "gone"), Topic(Drill.LAY, "gone", CLASS_TWO)):
        with pytest.raises(PracticeError, match="no longer in the vocabulary"):
            questions().ask(topic, np.random.default_rng(0))


def test_slots_without_a_procedure_say_what_to_add() -> None:
    with pytest.raises(PracticeError, match="add --procedure"):
        curriculum(pack(), facts(), None, [Drill.SLOT])
    with pytest.raises(PracticeError, match="did you mean composite_class_two"):
        curriculum(pack(), facts(), "composite_class_to")


def test_what_is_asked_for_most_is_taught_first() -> None:
    order = [t.subject for t in curriculum(pack(), facts(), CLASS_TWO, [Drill.NAME])]
    assert order.index("mouth_mirror") < order.index("dam_napkin")


def test_topics_survive_being_stored() -> None:
    for topic in curriculum(pack(), facts(), CLASS_TWO):
        assert Topic.read(topic.key) == topic


def test_pairs_that_must_never_be_confused_are_look_alikes() -> None:
    known = {frozenset(pair) for pair in look_alikes(pack())}
    assert {frozenset(pair) for pair in pack().wide_margin} <= known
