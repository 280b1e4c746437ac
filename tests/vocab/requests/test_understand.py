"""What an utterance asks for. The labelled utterances are our own (see utterances.py), no outside source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vocab.requests.utterances import CHATTER, REQUESTS
from tests.vocab.small_pack import small_pack
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Name
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import Request, understand

SHIPPED = shipped_pack()
SHIPPED_LEXICON = Lexicon(SHIPPED)
SMALL = small_pack()
SMALL_LEXICON = Lexicon(SMALL)


def asked(text: str) -> tuple[Request, ...]:
    return understand(text, SMALL_LEXICON, SMALL.speech)


def label(request: Request) -> str:
    """A request in the notation of utterances.py."""
    top = request.candidates[0].item if request.candidates else ""
    rejected = "".join(f"-{item}" for item in request.rejected)
    modifiers = f"x{request.quantity}" if request.quantity else ""
    modifiers += f"/{request.end}" if request.end else ""
    modifiers += f"<{request.size}" if request.size else ""
    match request.kind:
        case "action":
            return f"action:{request.action}{top}"
        case "repeat" | "refusal":
            return request.kind + rejected + modifiers
        case "correction":
            return f"correction:{top}{rejected}{modifiers}"
        case _:
            return top + modifiers


@pytest.mark.parametrize(("text", "expected"), REQUESTS)
def test_requests_are_understood(text: str, expected: str) -> None:
    assert " ".join(label(r) for r in understand(text, SHIPPED_LEXICON, SHIPPED.speech)) == expected


@pytest.mark.parametrize("text", CHATTER)
def test_chatter_asks_for_nothing(text: str) -> None:
    assert understand(text, SHIPPED_LEXICON, SHIPPED.speech) == ()


def test_a_name_with_a_number_is_that_name_where_the_rest_always_ends_in_s() -> None:
    names = ("cotton pliers", "four cotton pliers", "roll", "four roll")
    items = tuple(
        item.model_copy(update={"name": Name(text=name), "synonyms": (), "variants": ()})
        for item, name in zip(SMALL.items, names, strict=False)
    )
    pack = SMALL.model_copy(update={"items": items, "trays": (), "procedures": (), "wide_margin": ()})
    pliers, four_pliers, roll, _ = (item.id for item in items)
    lexicon = Lexicon(pack)

    def meant(text: str) -> list[str]:
        return [label(request) for request in understand(text, lexicon, pack.speech)]

    assert meant("four cotton pliers") == [four_pliers]
    assert meant("two cotton pliers") == [f"{pliers}x2"]
    assert meant("four rolls") == [f"{roll}x4"]


def test_what_was_heard_is_kept_as_it_was_said() -> None:
    assert asked("Can I have the Three-Thirty bur, please?")[0].heard == "three-thirty bur"
    assert asked("two more cotton rolls")[0].heard == "cotton rolls"
    assert asked("thank you") == ()


def test_a_correction_replaces_what_was_said_before_it() -> None:
    (request,) = asked("Hand me the carver. No, the carrier.")
    assert (request.kind, request.candidates[0].item) == ("correction", "amalgam_carrier")
    assert request.rejected == ("hollenback_carver",)


def test_a_refused_item_is_never_a_candidate() -> None:
    for text in ("no more etch", "hold the bond", "etch, not yet", "no etch please"):
        (request,) = asked(text)
        assert (request.kind, request.candidates) == ("refusal", ())
        assert request.rejected


def test_no_before_an_article_corrects_and_before_a_bare_name_refuses() -> None:
    assert asked("no the mirror")[0].kind == "correction"
    assert asked("no, mirror")[0].kind == "correction"
    assert asked("no mirror")[0].kind == "refusal"


def test_a_foreign_noun_in_a_cue_asks_for_nothing() -> None:
    assert asked("hand me the newspaper") == ()


def test_a_bare_name_beside_chatter_needs_a_cue_or_an_ending() -> None:
    assert asked("That looks high. Light.") == ()
    assert asked("That looks high. Light, please.")[0].candidates[0].item == "curing_light"


def test_a_size_that_does_not_exist_is_a_quantity_and_a_size() -> None:
    (request,) = asked("two fifty six burs")
    assert (request.quantity, request.candidates[0].item) == (2, "bur_fissure_56")


def test_words_that_may_open_a_sentence_may_open_a_name() -> None:
    for text in ("no, the right-angle explorer", "not the mirror, the right-angle explorer"):
        (request,) = understand(text, SHIPPED_LEXICON, SHIPPED.speech)
        assert (request.kind, request.candidates[0].item) == ("correction", "explorer_right_angle")


def test_an_action_can_carry_an_item() -> None:
    (request,) = asked("load the carrier")
    assert (request.kind, request.action, request.candidates[0].item) == ("action", "load", "amalgam_carrier")


@given(st.text(max_size=80))
def test_any_text_can_be_read(text: str) -> None:
    understand(text, SMALL_LEXICON, SMALL.speech)


FRAGMENTS = [
    "no",
    "not",
    "the",
    "and",
    "mirror",
    "carver",
    "330",
    "two",
    "please",
    ",",
    ".",
    "yet",
    "hold",
    "other",
    "end",
    "of",
    "on",
    "thirty",
    "smaller",
    "cure",
    "um",
]


@given(st.lists(st.sampled_from(FRAGMENTS), max_size=9))
def test_any_jumble_of_request_words_can_be_read(parts: list[str]) -> None:
    for request in understand(" ".join(parts), SMALL_LEXICON, SMALL.speech):
        assert request.heard or request.kind == "refusal"
        assert not {c.item for c in request.candidates} & set(request.rejected)


@pytest.mark.parametrize("part", ["mirror, ", "no the ", "light ", "two more ", "not the mirror and "])
def test_a_long_ramble_is_chatter_and_is_read_at_once(part: str) -> None:
    # Reading every way of cutting up such a sentence would take years.
    assert asked(part * 25 + "zzz") == ()


@given(st.data())
def test_every_shipped_name_is_found_in_every_cue_with_every_ending(data: st.DataObject) -> None:
    item = data.draw(st.sampled_from(SHIPPED.items))
    name = data.draw(st.sampled_from(item.names))
    cue = data.draw(st.sampled_from(("", *SHIPPED.speech.cues)))
    ending = data.draw(st.sampled_from(("", *SHIPPED.speech.endings)))
    text = f"{cue} {name.text} {ending}"
    requests = understand(text, SHIPPED_LEXICON, SHIPPED.speech)
    two_actions = len(requests) > 1 and all(r.kind == "action" for r in requests)  # "more air and water"
    if name.shared:
        (shared,) = requests
        likeliest = {c.item for c in shared.candidates if c.p == shared.candidates[0].p}
        assert item.id in likeliest and len(likeliest) > 1, text
        return
    assert two_actions or [r.candidates[0].item for r in requests if r.candidates] == [item.id], text
