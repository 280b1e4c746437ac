"""Names inside free sentences: found wherever they stand, and judged by the words around them.

The sentences here were written for these tests; the judge was taught with none of them. What is asked
for in them is common practice, no source.
"""

import pytest

from vocab.pack.load import shipped_pack
from vocab.requests.intent import LABELS, OTHER, TARGET, shipped
from vocab.requests.lexicon import Lexicon
from vocab.requests.sentence import Sentences, marked
from vocab.requests.understand import names_within

PACK = shipped_pack()
LEXICON = Lexicon(PACK)
SENTENCES = Sentences(LEXICON, PACK.speech, shipped())


def asked(text: str) -> dict[str, int | None]:
    """The likeliest items asked for with their quantities, where asking is likelier than not."""
    found = SENTENCES.read(text)
    return {one.candidates[0].item: one.quantity for one in found.requests} if found.p > 0.5 else {}


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("Right, so I think I'm gonna need the perio probe for this one.", "perio_probe"),
        ("Go ahead and pass me the etchant, would you?", "etchant"),
        ("Elena, could you reach over and grab me the shepherd's hook?", "explorer_shepherd"),
        ("Okay mouth open big for me, great, and the spoon excavator when you're there.", "spoon_excavator"),
    ],
)
def test_a_request_in_nobodys_list_is_understood(text: str, item: str) -> None:
    assert list(asked(text)) == [item]


@pytest.mark.parametrize(
    "text",
    [
        "We were taught about the perio probe in our second year.",
        "The etchant arrived on Tuesday, in the wrong boxes as usual.",
        "My brother runs a shop that repairs the curing light you dropped last summer.",
        "How much did they charge us for the spoon excavator?",
        "Your bite is high and there is light contact on the left.",
    ],
)
def test_what_is_only_mentioned_is_not_asked_for(text: str) -> None:
    assert asked(text) == {}


def test_the_amount_beside_a_name_is_kept() -> None:
    assert asked("Uh, two more of those cotton rolls for the other side please.") == {"cotton_roll": 2}


def test_the_one_that_is_wanted_is_told_from_the_one_that_is_not() -> None:
    assert list(asked("That's the spoon excavator you've given me, I was after the perio probe.")) == [
        "perio_probe"
    ]


def test_names_are_found_with_the_longest_first_and_no_bare_number_is_one() -> None:
    text, named = names_within("Seventeen first, the number 8 round bur, then eight.", LEXICON, PACK.speech)
    assert [text[one.start : one.end] for one in named] == ["number 8 round bur"]
    assert marked(text, named, 0).endswith(f"{TARGET}, then eight.") and text.endswith("then eight.")


def test_other_names_are_marked_as_such() -> None:
    text, named = names_within("the wedge, not the etchant", LEXICON, PACK.speech)
    assert marked(text, named, 1).replace(" ", "") == f"the{OTHER},notthe{TARGET}"


def test_probabilities_add_up_and_do_not_depend_on_company() -> None:
    texts = [f"Can I have the {TARGET}?", f"I lost a {TARGET} once, years and years ago, in another clinic."]
    both = shipped().p(texts)
    assert both.shape == (2, len(LABELS)) and both.sum(axis=1) == pytest.approx([1, 1])
    assert shipped().p(texts[:1])[0] == pytest.approx(both[0], abs=0.05)
    assert both[0, 0] > 0.9 > 0.1 > both[1, 0]


def test_a_long_text_is_cut_around_the_name() -> None:
    long = "and so on and on " * 40 + f"give me the {TARGET} please " + "and so on " * 40
    assert shipped().p([long]).shape == (1, len(LABELS))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("There you go, I'm finished with the explorer for now.", [("back", "explorer")]),
        ("Oh no, the mirror just slid off and it's on the floor.", [("fell", "mirror")]),
        ("I need the explorer for the next one.", []),
        ("My old teacher always dropped the mirror when he laughed.", []),
    ],
)
def test_what_became_of_an_item_is_told_from_asking_and_from_stories(
    text: str, told: list[tuple[str, str]]
) -> None:
    found = SENTENCES.told(text)
    assert [one.label for one in found] == [label for label, _ in told]
    for one, (_, name) in zip(found, told, strict=True):
        assert LEXICON.find((name,))[0].item in {candidate.item for candidate in one.candidates}
