"""Beginning: another field, and the first hour. Our own design; facts of the trade name their source."""

from __future__ import annotations

import re
import unicodedata
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from vocab.layers.apply import compose
from vocab.layers.changes import (
    AddName,
    Dentist,
    Layer,
    Mean,
    Operation,
    SetDentists,
    SetHandedness,
    SetMakerTime,
    SetNotDone,
)
from vocab.layers.draft import CannotApply, ClinicSettings, Draft
from vocab.layers.starter import FirstHourQuestion, StarterError, answered, first_hour, given_before, new_pack
from vocab.layers.vocabulary import EditError, Vocabulary
from vocab.lint.findings import Severity, lint
from vocab.pack.load import load_pack, shipped_pack
from vocab.pack.schema import Pack
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import understand

WHEN = datetime(2026, 1, 2, tzinfo=UTC)
OPERATIVE = shipped_pack()
NOTHING_YET = ClinicSettings({})


# --- another field ----------------------------------------------------------------------------------


@pytest.mark.parametrize("field", ["Endodontics", "Orthodontics (fixed)", '"Perio" & implants', "3rd molars"])
def test_a_begun_pack_can_be_used_at_once(tmp_path: Path, field: str) -> None:
    files = new_pack(tmp_path / "pack", field)
    pack = load_pack(tmp_path / "pack")
    assert pack.name == field and len(files) == 4
    (request,) = understand("can I have the mirror please", Lexicon(pack), pack.speech)
    assert request.candidates[0].item == "mouth_mirror"
    assert [f for f in lint(pack) if f.severity is not Severity.LOW] == []
    assert f"How to build a vocabulary for {field}" in files[0].read_text(encoding="utf-8")


def test_a_pack_is_never_begun_over_something(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(StarterError, match="is not empty; give a new folder"):
        new_pack(tmp_path, "Endodontics")
    with pytest.raises(StarterError, match="is not empty"):
        new_pack(tmp_path / "mine.txt", "Endodontics")
    with pytest.raises(StarterError, match="not a field of dentistry"):
        new_pack(tmp_path / "new", " 33 ")
    assert [f.name for f in tmp_path.iterdir()] == ["mine.txt"]


# --- the first hour ---------------------------------------------------------------------------------


def test_the_first_hour_asks_only_what_differs_here() -> None:
    questions = {question.id: question for question in first_hour(OPERATIVE)}
    assert {q.kind for q in questions.values()} == {
        "procedures",
        "dentists",
        "handedness",
        "kept",
        "injury_card",
        "makers_names",
        "maker_time",
    }
    assert ("examination", "Examination") in questions["procedures"].choices
    assert "bonding agent" in questions["makers_names:bonding_agent"].text
    assert questions["maker_time:topical anaesthetic"].about == "topical anaesthetic"
    assert len(questions) < 60


def test_people_are_asked_what_they_call_things_that_have_a_makers_name() -> None:
    """The clear strip, the cotton swab, the small brush, the glass cartridge: common practice, no source."""
    asked = {question.about for question in first_hour(OPERATIVE) if question.kind == "makers_names"}
    assert {"clear_strip", "cotton_tip_applicator", "applicator_brush", "cartridge_plain", "etchant"} <= asked
    assert "mouth_mirror" not in asked


def test_no_time_is_suggested() -> None:
    """Etching enamel and topical anaesthetic differ by minutes; the maker's time counts. Common practice."""
    asked = [question for question in first_hour(OPERATIVE) if question.kind == "maker_time"]
    assert len(asked) > 5 and all(question.example == "" for question in asked)


def test_a_time_kept_for_all_that_is_cured_is_asked_about_beside_each_material() -> None:
    asked = {q.about: q.label for q in first_hour(OPERATIVE) if q.kind == "maker_time"}
    assert {"cure bond", "cure flowable", "cure composite"} <= set(asked) and "cure" not in asked
    kept = settings_after(SetMakerTime(timer="cure", seconds=20))
    asked = {q.about: q.label for q in first_hour(OPERATIVE, kept) if q.kind == "maker_time"}
    assert asked["cure"] == "cure, where it has no time of its own"
    general = next(q for q in first_hour(OPERATIVE, kept) if q.about == "cure")
    assert given_before(general, OPERATIVE, kept) == ("20",)


def test_answers_become_changes_that_are_understood(tmp_path: Path) -> None:
    operations = answered(
        OPERATIVE,
        {
            "procedures": ["examination", "sealant"],
            "dentists": ["Dr. Grey", "Dr. Ann Lee", "dr.  grey"],
            "handedness": ["left"],
            "makers_names:bonding_agent": ["Stickwell", " Stickwell  Plus "],
            "makers_names:etchant": ["bond bottle", "etch"],
            "maker_time:topical anaesthetic": ["90 s"],
            "makers_names:primer": [],
        },
    )
    assert [type(o) for o in operations] == [
        SetDentists,
        SetNotDone,
        SetHandedness,
        Mean,
        AddName,
        AddName,
        SetMakerTime,
    ]
    composed = Vocabulary(OPERATIVE, tmp_path).record("clinic", operations, "Ada", WHEN)
    assert composed.conflicts == ()
    assert [d.name for d in composed.settings.dentists] == ["Dr. Grey", "Dr. Ann Lee"]
    assert composed.settings.maker_times_s == {"topical anaesthetic": 90.0}
    (request,) = understand("stickwell plus please", Lexicon(composed.pack), composed.pack.speech)
    assert request.candidates[0].item == "bonding_agent"
    assert Lexicon(composed.pack).find("bond bottle")[0].item == "etchant"


def test_what_holds_already_is_no_change() -> None:
    answers = {
        "procedures": ["sealant"],
        "handedness": ["left"],
        "injury_card": ["Stop."],
        "kept:dam_sheet": ["dam_sheet"],
        "maker_time:topical anaesthetic": ["90"],
        "dentists": ["Dr. Grey"],
    }
    pack = OPERATIVE
    now = settings_after(*answered(pack, answers))
    assert answered(pack, answers, now) == ()
    assert [given_before(q, pack, now) for q in first_hour(pack, now) if q.id in answers] == [
        ("sealant",),
        ("Dr. Grey",),
        ("left",),
        ("dam_sheet",),
        ("Stop.",),
        ("90",),
    ]


def settings_after(*operations: Operation) -> ClinicSettings:
    draft = Draft(OPERATIVE)
    for operation in operations:
        draft.apply(operation)
    return draft.settings


# --- dentists ---------------------------------------------------------------------------------------


def ids(*names: str, now: ClinicSettings = NOTHING_YET) -> tuple[dict[str, str], ClinicSettings]:
    """The ids that dentists of these names have, and the settings with them."""
    changed = answered(OPERATIVE, {"dentists": names}, now)
    settings = settings_after(*changed) if changed else now
    return {dentist.name: dentist.id for dentist in settings.dentists}, settings


SCRIPTS = ("Dr. Grey", "王医生", "Д-р Петров", "د. سمير", "डॉ. राव", "Δρ. Παππάς")


def test_every_dentist_has_an_id_of_their_own_in_every_script() -> None:
    given, _ = ids(*SCRIPTS)
    assert len(set(given.values())) == len(SCRIPTS)
    assert all(re.fullmatch("[a-z][a-z0-9_]*", dentist) for dentist in given.values())
    other, _ = ids(*SCRIPTS)
    assert not set(given.values()) & set(other.values())  # they say nothing of the person


@hypothesis_settings(max_examples=40)
@given(st.permutations(SCRIPTS), st.integers(0, len(SCRIPTS)))
def test_a_dentist_keeps_the_id_wherever_in_the_list(order: list[str], left: int) -> None:
    given, now = ids(*SCRIPTS)
    kept, _ = ids(*order[left:], "Dr. New", now=now)
    assert all(kept[name] == given[name] for name in order[left:])
    assert kept["Dr. New"] not in given.values()


def test_case_spaces_and_the_form_of_accents_make_no_other_dentist() -> None:
    given, now = ids("Dr. Müller")
    again, _ = ids(unicodedata.normalize("NFD", "DR.  MÜLLER"), now=now)
    assert again == given
    assert len(ids("Dr. Müller", "Dr. Muller", now=now)[0]) == 2


def test_an_id_of_somebody_who_left_is_never_given_again(tmp_path: Path) -> None:
    vocabulary = Vocabulary(OPERATIVE, tmp_path)

    def list_(*dentists: Dentist) -> tuple[str, ...]:
        composed = vocabulary.record("clinic", [SetDentists(dentists=dentists)], "Ada", WHEN)
        return tuple(dentist.id for dentist in composed.settings.dentists)

    grey, reed = Dentist(id="grey", name="Dr. Grey"), Dentist(id="reed", name="Dr. Reed")
    assert list_(grey, reed) == ("grey", "reed")
    assert list_(reed) == ("reed",)
    with pytest.raises(EditError, match="belonged to someone who has left"):
        list_(reed, Dentist(id="grey", name="Dr. Black"))
    with pytest.raises(EditError, match="is taken"):
        list_(reed, reed)
    with pytest.raises(EditError, match="is taken"):
        list_(Dentist(id="clinic", name="Dr. Black"))
    vocabulary.undo("clinic", "c2", "Ada", WHEN)  # the same person is back
    assert [d.id for d in vocabulary.composed().settings.dentists] == ["grey", "reed"]
    answers = {"dentists": ["Dr. Grey"]}
    left = answered(OPERATIVE, {"dentists": ["Dr. Reed"]}, vocabulary.composed().settings)
    composed = vocabulary.record("clinic", left, "Ada", WHEN)
    back = answered(OPERATIVE, answers, composed.settings)
    assert vocabulary.record("clinic", back, "Ada", WHEN).settings.dentists[0].id not in ("grey", "reed")


OLD_LAYER = """\
format: 1
layer: "clinic"
pack: "operative"
pack_version: "1"
changes:
- id: "c1"
  who: "Ada"
  when: "2026-01-02T10:30:00Z"
  do: {"op": "set_dentists", "dentists": [
    {"id": "grey", "name": "Dr. Grey"}, {"id": "dentist", "name": "王医生"}]}
...
"""


def test_dentists_of_an_old_layer_keep_their_ids(tmp_path: Path) -> None:
    """A layer as it was written before a dentist had a hand."""
    (tmp_path / "clinic.yaml").write_text(OLD_LAYER, encoding="utf-8")
    vocabulary = Vocabulary(OPERATIVE, tmp_path)
    now = vocabulary.composed().settings
    assert vocabulary.recovered() == () and now.hand_of("grey") == "right"
    changed = answered(OPERATIVE, {"dentists": ["王医生", "李医生", "Dr. Grey"]}, now)
    listed = vocabulary.record("clinic", changed, "Ada", WHEN).settings.dentists
    assert (listed[0].id, listed[2].id) == ("dentist", "grey") and listed[1].id != "dentist_2"


def test_each_dentist_may_have_a_hand_of_their_own() -> None:
    given, now = ids("Dr. Grey", "Dr. Reed")
    grey, reed = given.values()
    asked = [question.id for question in first_hour(OPERATIVE, now) if question.kind == "hand"]
    assert asked == [f"hand:{grey}", f"hand:{reed}"]
    answers = {f"hand:{grey}": ["left"], f"hand:{reed}": ["usual"]}
    settings = settings_after(*answered(OPERATIVE, answers, now))
    assert (settings.hand_of(grey), settings.hand_of(reed), settings.hand_of(None)) == (
        "left",
        "right",
        "right",
    )
    assert given_before(FirstHourQuestion(f"hand:{grey}", "hand", "", grey), OPERATIVE, settings) == ("left",)
    again = settings_after(
        *answered(OPERATIVE, {f"hand:{grey}": ["usual"], "handedness": ["left"]}, settings)
    )
    assert (again.hand_of(grey), again.hand_of(reed)) == ("left", "left")


# --- what is kept -----------------------------------------------------------------------------------

DAM, DAM_FREE = "dam_sheet", "dam_sheet_latex_free"


def keeping(kept: str) -> Pack:
    operations = answered(OPERATIVE, {"kept:dam_sheet": [kept]})
    return compose(
        OPERATIVE,
        [Layer(name="clinic", pack="operative", pack_version="1").with_changes(operations, "Ada", WHEN)],
    ).pack


@pytest.mark.parametrize(("kept", "other"), [(DAM, DAM_FREE), (DAM_FREE, DAM)])
def test_where_one_kind_of_dam_is_kept_its_name_means_that_one(kept: str, other: str) -> None:
    pack = keeping(kept)
    assert [c.item for c in Lexicon(OPERATIVE).find("rubber dam")][:2] in ([DAM, DAM_FREE], [DAM_FREE, DAM])
    assert [c.item for c in Lexicon(pack).find("rubber dam") if c.p > 0.1] == [kept]
    assert not any(name.shared for name in pack.item(kept).names)
    assert Lexicon(pack).find(pack.item(other).name.text)[0].item == other
    for tray in OPERATIVE.trays:
        before, now = ({slot.item for slot in t.slots} for t in (tray, pack.tray(tray.id)))
        assert (kept in now) == bool(before & {DAM, DAM_FREE}) and other not in now
        assert sum(slot.item == kept for slot in pack.tray(tray.id).slots) <= 1
    for procedure in pack.procedures:
        asked = {item for step in procedure.steps for item in step.items} | set(procedure.any_time)
        assert other not in asked and all(pack.tray(procedure.tray).slot_of(item) for item in asked)
    assert frozenset((DAM, DAM_FREE)) in {frozenset(pair) for pair in pack.wide_margin}


def test_both_kinds_can_be_kept_again() -> None:
    first = answered(OPERATIVE, {"kept:dam_sheet": [DAM_FREE]})
    now = settings_after(*first)
    second = answered(keeping(DAM_FREE), {"kept:dam_sheet": ["all"]}, now)
    layer = Layer(name="clinic", pack="operative", pack_version="1").with_changes(
        [*first, *second], "Ada", WHEN
    )
    composed = compose(OPERATIVE, [layer])
    assert composed.pack == OPERATIVE and composed.settings.kept == () and composed.conflicts == ()


def test_what_a_dentist_calls_it_stays_theirs() -> None:
    """Somebody may still mean the other kind by a name of their own."""
    operations = answered(OPERATIVE, {"kept:dam_sheet": [DAM_FREE]})
    clinic = Layer(name="clinic", pack="operative", pack_version="1").with_changes(operations, "Ada", WHEN)
    own = Layer(name="grey", pack="operative", pack_version="1").with_changes(
        [Mean(name="rubber dam", item=DAM)], "Grey", WHEN
    )
    found = Lexicon(compose(OPERATIVE, [clinic, own]).pack).find("rubber dam")
    assert found[0].item == DAM


# --- after a needle stick ---------------------------------------------------------------------------


def test_the_clinics_card_for_a_needle_stick_is_its_own_words(tmp_path: Path) -> None:
    assert ClinicSettings({}).injury_card == ()
    (question,) = (q for q in first_hour(OPERATIVE) if q.kind == "injury_card")
    assert question.example == "Stop. Make safe. Tell ... ."
    lines = ["Stop, hands off.", " Make the sharp  safe. ", "Tell the lead; see the plan on the wall."]
    operations = answered(OPERATIVE, {"injury_card": lines})
    composed = Vocabulary(OPERATIVE, tmp_path).record("clinic", operations, "Ada", WHEN)
    assert composed.settings.injury_card == (lines[0], "Make the sharp safe.", lines[2])
    assert "writes the needle-stick card: Stop" in str(Vocabulary(OPERATIVE, tmp_path).history()[0])
    with pytest.raises(StarterError, match="at most 12 lines of at most 200 characters"):
        answered(OPERATIVE, {"injury_card": ["Stop."] * 13})


# --- names that must stay where they are ------------------------------------------------------------


def test_a_nickname_for_an_anaesthetic_is_still_always_checked(tmp_path: Path) -> None:
    operations = answered(OPERATIVE, {"makers_names:cartridge_plain": ["numberino"]})
    pack = Vocabulary(OPERATIVE, tmp_path).record("clinic", operations, "Ada", WHEN).pack
    (found,) = (c for c in Lexicon(pack).find("numberino") if c.p > 0.5)
    assert pack.item(found.item).always_check


def test_no_name_is_taken_from_what_is_always_checked() -> None:
    drug = OPERATIVE.item("cartridge_plain").name.text
    with pytest.raises(StarterError, match="which is always checked; choose another name"):
        answered(OPERATIVE, {"makers_names:etchant": [drug]})


def test_a_general_time_of_before_stands_for_its_kinds() -> None:
    """ "etch" was one timer; now each material has its own."""
    settings = settings_after(SetMakerTime(timer="etch", seconds=15))
    assert settings.maker_times_s == {"etch": 15}
    with pytest.raises(CannotApply, match="no step times 'etc'"):
        settings_after(SetMakerTime(timer="etc", seconds=15))


@pytest.mark.parametrize(
    ("answers", "message"),
    [
        ({"procedure": ["examination"]}, "no question 'procedure'; did you mean procedures"),
        ({"procedures": ["exam"]}, "'exam' is not one of the choices: examination"),
        ({"handedness": ["left", "right"]}, "Give one answer, not 2"),
        ({"maker_time:topical anaesthetic": ["soon"]}, "'soon' is not a number of seconds"),
        ({"maker_time:topical anaesthetic": ["0"]}, "'0' is not a number of seconds"),
        ({"maker_time:topical anaesthetic": ["9" * 5000]}, "is not a number of seconds"),
        ({"makers_names:etchant": ["!!"]}, "has no letters or digits"),
        ({"makers_names:etchant": ["x" * 81]}, "has 81 characters, and at most 80 are allowed"),
        ({"makers_names:etchant": ["x\u202ey"]}, "invisible character"),
        ({"dentists": ["Dr. \x1b[31m"]}, "invisible character"),
        ({"kept:dam_sheet": ["gauze"]}, "'gauze' is not one of the choices: all, dam_sheet"),
    ],
)
def test_an_answer_that_fits_no_question_is_told(answers: dict[str, list[str]], message: str) -> None:
    with pytest.raises(StarterError, match=message):
        answered(OPERATIVE, answers)
