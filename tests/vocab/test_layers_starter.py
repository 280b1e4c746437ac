"""Beginning: another field, the first hour, and words not known. Our own design, no outside source."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vocab.small_pack import small_pack
from vocab.heard import HeardError, Unknown, UnknownWords, adopted, suggestions, unknown_name
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


# --- words that were not known ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("can I have the looking glass please", "looking glass"),
        ("Hand me the Flurb, thanks.", "flurb"),
        ("can I have the mirror please", None),
        ("looking glass", None),
        ("the looking glass", None),
        ("my daughter started school on monday", None),
        ("can I have the name of your doctor and your address", None),
        ("can I have the flurb. My tooth still hurts.", None),
        ("not yet", None),
        ("", None),
    ],
)
def test_only_the_few_words_of_an_unknown_name_are_ever_kept(text: str, name: str | None) -> None:
    assert unknown_name(text, LEXICON, SMALL.speech) == name


def test_spanish_names_are_kept_as_well() -> None:
    pack = shipped_pack("operativa_es")
    lexicon = Lexicon(pack)
    assert unknown_name("pásame el chirimbolo por favor", lexicon, pack.speech) == "chirimbolo"
    assert unknown_name("el chirimbolo", lexicon, pack.speech) is None


def test_nothing_is_kept_until_it_is_switched_on(tmp_path: Path) -> None:
    words = UnknownWords(tmp_path / "unknown.json")
    assert words.note("hand me the flurb", LEXICON, SMALL.speech, date(2026, 1, 2)) is None
    assert words.entries() == () and list(tmp_path.iterdir()) == []
    words.switch(True)
    assert words.on and words.entries() == ()
    for day in (2, 3):
        assert words.note("hand me the flurb", LEXICON, SMALL.speech, date(2026, 1, day)) == "flurb"
    words.note("hand me the zilk", LEXICON, SMALL.speech, date(2026, 1, 4))
    words.switch(True)
    assert words.entries() == (
        Unknown("flurb", 2, "2026-01-02", "2026-01-03"),
        Unknown("zilk", 1, "2026-01-04", "2026-01-04"),
    )
    words.switch(False)
    assert not words.on and list(tmp_path.iterdir()) == []


def test_an_unknown_name_is_adopted_with_one_touch(tmp_path: Path) -> None:
    words = UnknownWords(tmp_path / "unknown.json")
    words.switch(True)
    words.note("hand me the mouth mirorrs thing", LEXICON, SMALL.speech, date(2026, 1, 2))
    (entry,) = words.entries()
    assert isinstance(suggestions(entry.text, LEXICON), tuple)
    composed = Vocabulary(SMALL, tmp_path / "layers").record(
        "clinic", [adopted(entry.text, "mouth_mirror")], "Ada", WHEN
    )
    words.drop(entry.text)
    assert words.entries() == ()
    assert Lexicon(composed.pack).find(entry.text)[0].item == "mouth_mirror"


def test_a_broken_list_is_told(tmp_path: Path) -> None:
    file = tmp_path / "unknown.json"
    file.write_text("[{")
    with pytest.raises(HeardError, match="delete the file"):
        UnknownWords(file).entries()


@given(st.text(max_size=60))
def test_any_text_can_be_heard(text: str) -> None:
    name = unknown_name(text, LEXICON, SMALL.speech)
    assert name is None or (name and len(name.split()) <= 8)
