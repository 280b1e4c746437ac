"""What the judge of intent is taught with: marked names of the teaching side, as written and as heard."""

from pathlib import Path

import pytest

from listen.adapt.intent_data import IntentExample, examples, heard, load, save, tuning
from listen.bench.natural import Filler, ways
from listen.engine import Hearing, Phrasing
from vocab.pack.load import shipped_pack
from vocab.requests.intent import LABELS, TARGET

PACK = shipped_pack()


@pytest.fixture(scope="module")
def taught() -> tuple[IntentExample, ...]:
    return examples(PACK)


def test_every_example_has_one_marked_name_and_a_known_label(taught: tuple[IntentExample, ...]) -> None:
    assert all(one.label in LABELS and TARGET in one.text for one in taught)
    assert {one.label for one in taught} == set(LABELS)


def test_no_sentence_of_the_test_side_is_taught_or_fitted_on(taught: tuple[IntentExample, ...]) -> None:
    tested = {way.sentence.replace("{a}", TARGET).lower() for way in ways("test")}
    assert not tested & {one.text.lower() for one in (*taught, *tuning())}


def test_the_one_that_is_not_wanted_is_refused(taught: tuple[IntentExample, ...]) -> None:
    way = next(way for way in ways("teach") if way.label == "ask" and "{x}" in way.sentence)
    labels = {
        one.label
        for one in taught
        if one.text.replace("[unused0]", "").replace("[unused1]", "")
        == way.sentence.replace("{x}", "").replace("{a}", "").replace("{b}", "")
    }
    assert labels == {"ask", "refuse"}


def test_what_was_heard_is_labelled_by_what_was_said() -> None:
    way = next(way for way in ways("teach") if way.label == "ask" and way.sentence.count("{") == 1)
    said = Filler(PACK).said(way)
    name, other = said.names["a"], next(i for i in PACK.items if i.id != said.items["a"]).name.text
    sentences = tuple(
        Phrasing(f"We heard the {one} now.", score) for one, score in ((other, 2.0), (name, 1.0))
    )
    found = list(heard([(said, Hearing((), "", 0.0, 0.0, 2.0, sentences))], PACK))
    assert [(one.label, one.weight) for one in found] == [("mention", 0.5), ("ask", 0.5)]


def test_examples_are_read_as_they_were_written(tmp_path: Path) -> None:
    some = (
        IntentExample(f"Give me the {TARGET}.", "ask"),
        IntentExample(f"“{TARGET}” he said.", "mention", 0.5),
    )
    save(some, tmp_path / "some.jsonl")
    assert load(tmp_path / "some.jsonl") == some
