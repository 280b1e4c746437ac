"""Which requests may be answered after the shortest silence."""

import pytest

from listen.pause import BROKEN_S, CLOSED_S, OPEN_S, WHOLE_S, Wholeness
from listen.readings import Reader, load_calibration
from listen.verdict import Costs, Verdict, judge
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon

PACK = shipped_pack()


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader(PACK, Lexicon(PACK), load_calibration())


@pytest.mark.parametrize(
    ("heard", "enough_s"),
    [
        ("can i have the cotton pliers", WHOLE_S),
        ("cotton pliers please", CLOSED_S),
        ("the clamp forceps", WHOLE_S),
        ("the clamp", OPEN_S),  # clamp forceps
        ("the clamp please", CLOSED_S),  # nothing follows a please
        ("could i have the mouth mirror when you're ready", CLOSED_S),
        ("the rubber dam", BROKEN_S),  # checked, and a rubber dam clamp begins with it
        ("mouth mirror and the clamp", OPEN_S),
        ("the clamp and the mouth mirror", WHOLE_S),
        ("not yet", None),
        ("short needle", OPEN_S),  # always checked
        ("the ball", OPEN_S),  # ball diamond
        ("", None),
    ],
)
def test_only_whole_answers_are_quick_and_names_that_begin_others_wait(
    reader: Reader, heard: str, enough_s: float | None
) -> None:
    judgements = judge(reader.of_text(heard, {}), PACK, Costs())
    assert Wholeness(PACK).enough_s(judgements, heard) == enough_s


@pytest.mark.parametrize(
    ("free_text", "enough_s"),
    [
        ("Can I have the thirty three?", BROKEN_S),  # and a half
        ("Can I have the thirty-three?", BROKEN_S),
        ("Can I have the 33?", BROKEN_S),
        ("Can I have the thirty three and", BROKEN_S),
        ("Can I have the thirty three and a half?", OPEN_S),
        ("Can I have the thirty three, please?", OPEN_S),
    ],
)
def test_a_question_about_half_a_name_waits_for_the_other_half(
    reader: Reader, free_text: str, enough_s: float
) -> None:
    """An engine that knows whole names only takes half of one for the nearest whole one."""
    heard = "the burnisher"
    judgements = judge(reader.of_text(heard, {}), PACK, Costs())
    assert [j.verdict for j in judgements] == [Verdict.CHECK]
    assert Wholeness(PACK).enough_s(judgements, heard, free_text) == enough_s


def test_every_name_that_begins_another_items_name_waits() -> None:
    """By the plain definition, over all pairs of names."""
    by_text = {n.text.lower(): item.id for item in PACK.items for n in item.names if not n.shared}
    begin = {
        one for one, item in by_text.items() for other, its in by_text.items()
        if other.startswith(f"{one} ") and its != item
    }  # fmt: skip
    wholeness = Wholeness(PACK)
    assert len(begin) > 5
    for text in begin:
        assert tuple(text.split()) in wholeness._begun, text
    assert ("cotton", "pliers") not in wholeness._begun
