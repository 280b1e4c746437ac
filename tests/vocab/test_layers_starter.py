"""Beginning: another field, the first hour, and words not known. Our own design, no outside source."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.vocab.small_pack import small_pack
from vocab.layers.changes import AddName, Mean, SetDentists, SetHandedness, SetMakerTime, SetTraysUsed
from vocab.layers.starter import StarterError, answered, first_hour, new_pack
from vocab.layers.vocabulary import Vocabulary
from vocab.lexicon import Lexicon
from vocab.lint import Severity, lint
from vocab.load import load_pack, shipped_pack
from vocab.request import understand

WHEN = datetime(2026, 1, 2, tzinfo=UTC)
OPERATIVE = shipped_pack()
SMALL = small_pack()
LEXICON = Lexicon(SMALL)


# --- another field ----------------------------------------------------------------------------------


@pytest.mark.parametrize("field", ["Endodontics", "Orthodontics (fixed)", '"Perio" & implants', "3rd molars"])
def test_a_begun_pack_can_be_used_at_once(tmp_path: Path, field: str) -> None:
    files = new_pack(tmp_path / "pack", field)
    pack = load_pack(tmp_path / "pack")
    assert pack.name == field and len(files) == 5
    (request,) = understand("can I have the mirror please", Lexicon(pack), pack.speech)
    assert request.candidates[0].item == "mouth_mirror"
    assert [f for f in lint(pack) if f.severity is not Severity.LOW] == []
    assert f"How to build a pack for {field}" in files[0].read_text(encoding="utf-8")


def test_a_pack_is_never_begun_over_something(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(StarterError, match="is not empty; give a new folder"):
        new_pack(tmp_path, "Endodontics")
    with pytest.raises(StarterError, match="is not empty"):
        new_pack(tmp_path / "mine.txt", "Endodontics")
    with pytest.raises(StarterError, match="no field"):
        new_pack(tmp_path / "new", " 33 ")
    assert [f.name for f in tmp_path.iterdir()] == ["mine.txt"]


# --- the first hour ---------------------------------------------------------------------------------


def test_the_first_hour_asks_only_what_differs_here() -> None:
    questions = {question.id: question for question in first_hour(OPERATIVE)}
    assert {q.kind for q in questions.values()} == {
        "trays",
        "dentists",
        "handedness",
        "makers_names",
        "maker_time",
    }
    assert ("examination", "Examination") in questions["trays"].choices
    assert "bonding agent" in questions["makers_names:bonding_agent"].text
    assert questions["maker_time:topical anaesthetic"].about == "topical anaesthetic"
    assert len(questions) < 50


def test_answers_become_changes_that_are_understood(tmp_path: Path) -> None:
    operations = answered(
        OPERATIVE,
        {
            "trays": ["examination", "sealant"],
            "dentists": ["Dr. Grey", "Dr. Ann Lee", "dr grey"],
            "handedness": ["left"],
            "makers_names:bonding_agent": ["Stickwell", " Stickwell  Plus "],
            "makers_names:etchant": ["bond bottle", "etch"],
            "maker_time:topical anaesthetic": ["90 s"],
            "makers_names:primer": [],
        },
    )
    assert [type(o) for o in operations] == [
        SetTraysUsed,
        SetDentists,
        SetHandedness,
        Mean,
        AddName,
        AddName,
        SetMakerTime,
    ]
    composed = Vocabulary(OPERATIVE, tmp_path).record("clinic", operations, "Ada", WHEN)
    assert composed.conflicts == ()
    assert [d.id for d in composed.settings.dentists] == ["grey", "ann_lee", "grey_2"]
    assert composed.settings.maker_times_s == {"topical anaesthetic": 90.0}
    (request,) = understand("stickwell plus please", Lexicon(composed.pack), composed.pack.speech)
    assert request.candidates[0].item == "bonding_agent"
    assert Lexicon(composed.pack).find("bond bottle")[0].item == "etchant"


@pytest.mark.parametrize(
    ("answers", "message"),
    [
        ({"tray": ["examination"]}, "no question 'tray'; did you mean trays"),
        ({"trays": ["exam"]}, "'exam' is not to choose from: examination"),
        ({"handedness": ["left", "right"]}, "Give one answer, not 2"),
        ({"maker_time:topical anaesthetic": ["soon"]}, "'soon' is no number of seconds"),
        ({"maker_time:topical anaesthetic": ["0"]}, "'0' is no number of seconds"),
        ({"makers_names:etchant": ["!!"]}, "holds no letter or digit"),
    ],
)
def test_an_answer_that_fits_no_question_is_told(answers: dict[str, list[str]], message: str) -> None:
    with pytest.raises(StarterError, match=message):
        answered(OPERATIVE, answers)
