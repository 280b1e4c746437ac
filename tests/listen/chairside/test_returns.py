"""What is told of an item is understood, and talk, questions and requests are not.

The sentences are our own (common practice, no source).
"""

from __future__ import annotations

import pytest

from listen.chairside.events import Event, EventKind, Source
from listen.chairside.returns import return_events, understand
from listen.chairside.tray_state import TrayState, fold
from tests.listen.chairside.chair_pack import PACK, TRAY, at_chair, in_order
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon


@pytest.fixture(scope="module")
def operative() -> Lexicon:
    return Lexicon(shipped_pack("operative"))


@pytest.fixture(scope="module")
def small() -> Lexicon:
    return Lexicon(PACK)


@pytest.fixture(scope="module")
def operativa() -> Lexicon:
    return Lexicon(shipped_pack("operativa_es"))


RETURNED, DROPPED, WIPED = EventKind.RETURNED, EventKind.DROPPED, EventKind.WIPED
USED_UP, ADDED, PASSED = EventKind.USED_UP, EventKind.ADDED, EventKind.PASSED
IN_MOUTH, OUT_OF_MOUTH = EventKind.IN_MOUTH, EventKind.OUT_OF_MOUTH
BROKEN, SHORT = EventKind.BROKEN, EventKind.SHORT

TOLD: list[tuple[str, list[tuple[EventKind, str | None, int | None]]]] = [
    ("mirror back", [(RETURNED, "mouth_mirror", 1)]),
    ("okay, mirror back", [(RETURNED, "mouth_mirror", 1)]),
    ("the mirror's back", [(RETURNED, "mouth_mirror", 1)]),
    ("explorer is back", [(RETURNED, "explorer_shepherd", 1)]),
    ("one cotton roll came back", [(RETURNED, "cotton_roll", 1)]),
    ("two cotton rolls back", [(RETURNED, "cotton_roll", 2)]),
    ("two by twos back", [(RETURNED, "gauze_square", 1)]),
    ("the matrix band has come back", [(RETURNED, "matrix_band", 1)]),
    ("mirror and explorer back", [(RETURNED, "mouth_mirror", 1), (RETURNED, "explorer_shepherd", 1)]),
    ("put the mirror back, please", [(RETURNED, "mouth_mirror", 1)]),
    ("you can have the mirror back", [(RETURNED, "mouth_mirror", 1)]),
    ("I'm done with the carver", [(RETURNED, "hollenback_carver", 1)]),
    ("it's back", [(RETURNED, None, 1)]),
    ("that one fell", [(DROPPED, None, 1)]),
    ("it fell on the floor", [(DROPPED, None, 1)]),
    ("dropped the explorer", [(DROPPED, "explorer_shepherd", 1)]),
    ("I just dropped the mirror", [(DROPPED, "mouth_mirror", 1)]),
    ("oops, the wedge fell", [(DROPPED, "wedge", 1)]),
    ("the 330 fell on the floor", [(DROPPED, "bur_330", 1)]),
    ("the carver is contaminated", [(DROPPED, "hollenback_carver", 1)]),
    ("I wiped it", [(WIPED, None, 1)]),
    ("I've wiped the explorer", [(WIPED, "explorer_shepherd", 1)]),
    ("used up", [(USED_UP, None, 1)]),
    ("the etch is empty", [(USED_UP, "etchant", 1)]),
    ("the bond ran out", [(USED_UP, "bonding_agent", 1)]),
    ("we're out of cotton rolls", [(USED_UP, "cotton_roll", None)]),
    ("add two cotton rolls to the tray", [(ADDED, "cotton_roll", 2)]),
    ("added three more gauze", [(ADDED, "gauze_square", 3)]),
    ("a sterile explorer on the tray", [(ADDED, "explorer_shepherd", 1)]),
    ("passed the mirror", [(PASSED, "mouth_mirror", 1)]),
    ("two rolls in", [(IN_MOUTH, "cotton_roll", 2)]),
    ("rolls out", [(OUT_OF_MOUTH, "cotton_roll", None)]),
    ("both rolls are out", [(OUT_OF_MOUTH, "cotton_roll", None)]),
    ("one roll out", [(OUT_OF_MOUTH, "cotton_roll", 1)]),
    ("gauze out", [(OUT_OF_MOUTH, "gauze_square", 1)]),
    ("cord in", [(IN_MOUTH, "retraction_cord", 1)]),
    ("the cord is out", [(OUT_OF_MOUTH, "retraction_cord", 1)]),
    ("clamp on", [(IN_MOUTH, "dam_clamp", 1)]),
    ("clamp off", [(OUT_OF_MOUTH, "dam_clamp", 1)]),
    ("took the clamp off", [(OUT_OF_MOUTH, "dam_clamp", 1)]),
    ("wedge and band out", [(OUT_OF_MOUTH, "wedge", 1), (OUT_OF_MOUTH, "matrix_band", 1)]),
    ("clamp broke", [(BROKEN, "dam_clamp", 1)]),
    ("the clamp has snapped", [(BROKEN, "dam_clamp", 1)]),
    ("band tore", [(BROKEN, "matrix_band", 1)]),
    ("that one broke", [(BROKEN, None, 1)]),
    ("we're short one gauze", [(SHORT, "gauze_square", 1)]),
    ("we are missing two rolls", [(SHORT, "cotton_roll", 2)]),
    ("a wedge is missing", [(SHORT, "wedge", 1)]),
    ("undo that", [(EventKind.CORRECTED, None, 1)]),
]

NOT_TOLD = [
    "mirror back please",
    "can I have the mirror back",
    "I need the mirror back",
    "let me have the mirror back",
    "is the mirror back?",
    "is the mirror back",
    "mirror back?",
    "the mirror isn't back",
    "the mirror is not back yet",
    "when the wedge is back",
    "don't drop the explorer",
    "did you drop the explorer",
    "mirror",
    "explorer please",
    "wipe it",
    "no more etch",
    "hold the bond",
    "not yet",
    "the other end",
    "I'll be back",
    "come back next week",
    "he's back from vacation",
    "the pain is back",
    "two weeks back",
    "lean back",
    "back",
    "is the wedge out?",
    "is the wedge out",
    "wedge out?",
    "wedge out please",
    "the wedge isn't out",
    "when the rolls are out",
    "it's out",
    "it's in",
    "they're off",
    "it's missing",
    "she's out today",
    "lights out",
    "suction on",
    "the bur is in",
    "cartridge in",
    "mirror out",
    "short needle",
    "short needle please",
    "we're short of time",
    "we're short today",
    "are we missing a wedge",
    "my tooth broke",
    "he's missing a tooth",
    "my filling fell out",
    "my filling fell",
    "my phone fell",
    "my glasses fell",
    "she fell",
    "and then he fell down",
    "the price dropped",
    "the temperature dropped",
    "we were out of town",
    "I passed the exam",
    "she opened the window",
    "she gave him lunch",
    "open wide",
    "thanks",
    "",
    "...",
]


@pytest.mark.parametrize(("text", "told"), TOLD)
def test_what_is_told_is_understood(
    operative: Lexicon, text: str, told: list[tuple[EventKind, str | None, int | None]]
) -> None:
    heard = understand(text, operative)
    assert [(t.kind, t.candidates[0].item if t.candidates else None, t.quantity) for t in heard.told] == told
    assert heard.rest == ""


@pytest.mark.parametrize("text", NOT_TOLD)
def test_talk_questions_and_requests_tell_nothing(operative: Lexicon, text: str) -> None:
    heard = understand(text, operative)
    assert heard.told == () and heard.rest == text


def test_a_request_after_it_is_left_for_others(operative: Lexicon) -> None:
    heard = understand("Mirror back, explorer please.", operative)
    assert [told.kind for told in heard.told] == [RETURNED] and heard.rest == "explorer please"


def after(*events: Event) -> TrayState:
    return fold(in_order(*events), TRAY, PACK)


def test_that_one_is_the_last_item_that_is_out(small: Lexicon) -> None:
    state = after(at_chair(EventKind.ASKED, "mouth_mirror"), at_chair(EventKind.ASKED, "wedge"))
    (event,) = return_events("that one fell", small, state, 50.0)
    assert event == Event(DROPPED, 50.0, Source.SPEECH, item="wedge")


def test_it_is_wiped_means_what_waits_to_be_wiped(small: Lexicon) -> None:
    state = after(
        at_chair(EventKind.ASKED, "mouth_mirror"),
        at_chair(EventKind.RETURNED, "mouth_mirror"),
        at_chair(EventKind.ASKED, "wedge"),
    )
    (event,) = return_events("I wiped it", small, state, 50.0)
    assert event.kind is WIPED and event.item == "mouth_mirror"


def test_the_explorer_that_is_out_is_the_one_that_fell(small: Lexicon) -> None:
    state = after(at_chair(EventKind.ASKED, "explorer_pigtail"))
    (event,) = return_events("the explorer fell", small, state, 50.0)
    assert event.item == "explorer_pigtail"


def test_nothing_to_point_at_is_no_event(small: Lexicon) -> None:
    assert return_events("it's back", small, after(), 50.0) == ()
    assert return_events("undo", small, after(), 50.0) == ()


def test_out_of_rolls_means_all_of_them(small: Lexicon) -> None:
    state = after(at_chair(EventKind.ASKED, "cotton_roll", 2))
    (event,) = return_events("we're out of cotton rolls", small, state, 50.0)
    assert (event.kind, event.item, event.quantity) == (USED_UP, "cotton_roll", 4)


def test_undo_is_one_word_and_takes_the_last_one_back(small: Lexicon) -> None:
    state = after(at_chair(EventKind.ASKED, "wedge"), at_chair(EventKind.RETURNED, "wedge"))
    (event,) = return_events("undo", small, state, 50.0, Source.KEYBOARD)
    assert event.corrects == 2 and event.source is Source.KEYBOARD


@pytest.mark.parametrize(
    ("text", "kind", "item"),
    [("dam on", IN_MOUTH, "dam_sheet"), ("dam off", OUT_OF_MOUTH, "dam_sheet")],
)
def test_the_dam_is_whichever_sheet_there_is(
    operative: Lexicon, text: str, kind: EventKind, item: str
) -> None:
    (told,) = understand(text, operative).told
    assert told.kind is kind and item in {candidate.item for candidate in told.candidates}


@pytest.mark.parametrize(("text", "kind"), [("throat pack in", IN_MOUTH), ("throat pack out", OUT_OF_MOUTH)])
def test_the_throat_pack_is_said_in_and_out(text: str, kind: EventKind) -> None:
    # common practice: both are said aloud, and out of the mouth is the sentence that counts
    (told,) = understand(text, Lexicon(shipped_pack("oral_surgery"))).told
    assert (told.kind, told.candidates[0].item, told.quantity) == (kind, "throat_pack", 1)


def test_rolls_out_means_all_that_are_in_the_mouth(small: Lexicon) -> None:
    state = after(at_chair(EventKind.ASKED, "cotton_roll", 3), at_chair(IN_MOUTH, "cotton_roll", 2))
    (event,) = return_events("rolls out", small, state, 50.0)
    assert (event.kind, event.item, event.quantity) == (OUT_OF_MOUTH, "cotton_roll", 2)


def test_rolls_in_means_all_that_were_handed_over(small: Lexicon) -> None:
    state = after(at_chair(EventKind.ASKED, "cotton_roll", 3))
    (event,) = return_events("the cotton rolls are in", small, state, 50.0)
    assert (event.kind, event.quantity) == (IN_MOUTH, 3)


def test_out_is_said_of_what_is_in_the_mouth(small: Lexicon) -> None:
    for text in ("out of gauze", "gauze out"):
        (event,) = return_events(text, small, after(at_chair(IN_MOUTH, "gauze_square")), 50.0)
        assert event.kind is (USED_UP if text.startswith("out") else OUT_OF_MOUTH)


def test_that_one_broke_is_the_last_one_that_is_out(small: Lexicon) -> None:
    state = after(at_chair(EventKind.ASKED, "mouth_mirror"), at_chair(EventKind.ASKED, "wedge"))
    (event,) = return_events("that one broke", small, state, 50.0)
    assert (event.kind, event.item) == (BROKEN, "wedge")


IN_SPANISH: list[tuple[str, list[tuple[EventKind, str | None, int | None]]]] = [
    ("El espejo está de vuelta.", [(RETURNED, "espejo_bucal", 1)]),
    ("ya ha vuelto el espejo", [(RETURNED, "espejo_bucal", 1)]),
    ("he terminado con la cucharilla", [(RETURNED, "cucharilla", 1)]),
    ("espejo y explorador de vuelta", [(RETURNED, "espejo_bucal", 1), (RETURNED, "explorador", 1)]),
    ("se me ha caído el explorador", [(DROPPED, "explorador", 1)]),
    ("se me ha caido el explorador", [(DROPPED, "explorador", 1)]),
    ("uy, la cuña se cayó al suelo", [(DROPPED, "cuna", 1)]),
    ("la fresa trescientos treinta está en el suelo", [(DROPPED, "fresa_330", 1)]),
    ("ese se ha caído", [(DROPPED, None, 1)]),
    ("se ha caído", [(DROPPED, None, 1)]),
    ("acabo de limpiar la cucharilla", [(WIPED, "cucharilla", 1)]),
    ("se acabó el adhesivo", [(USED_UP, "adhesivo", 1)]),
    ("nos quedamos sin gasas", [(USED_UP, "gasa", None)]),
    ("añado tres gasas más", [(ADDED, "gasa", 3)]),
    ("he pasado el espejo", [(PASSED, "espejo_bucal", 1)]),
    ("dos rollos dentro", [(IN_MOUTH, "rollo_de_algodon", 2)]),
    ("grapa puesta", [(IN_MOUTH, "grapa", 1)]),
    ("rollos fuera", [(OUT_OF_MOUTH, "rollo_de_algodon", None)]),
    ("los dos rollos están fuera", [(OUT_OF_MOUTH, "rollo_de_algodon", 2)]),
    ("se ha roto la grapa", [(BROKEN, "grapa", 1)]),
    ("faltan dos rollos", [(SHORT, "rollo_de_algodon", 2)]),
    ("no encuentro la cuña", [(SHORT, "cuna", 1)]),
    ("deshaz eso", [(EventKind.CORRECTED, None, 1)]),
    ("espejo de vuelta", [(RETURNED, "espejo_bucal", 1)]),
    ("el bruñidor de bola de vuelta", [(RETURNED, "brunidor", 1)]),
    ("se cayó la sonda periodontal", [(DROPPED, "sonda_periodontal", 1)]),
    ("se me resbaló el espejo", [(DROPPED, "espejo_bucal", 1)]),
    ("se contaminó la cucharilla", [(DROPPED, "cucharilla", 1)]),
    ("tocó el piso la cola de castor", [(DROPPED, "brunidor_cola_de_castor", 1)]),
    ("se me fue el espejo al piso", [(DROPPED, "espejo_bucal", 1)]),
    ("tres torundas adentro", [(IN_MOUTH, "torunda", 3)]),
    ("puse dos cuñas", [(IN_MOUTH, "cuna", 2)]),
    ("metimos el hilo retractor", [(IN_MOUTH, "hilo_retractor", 1)]),
    ("el hilo retractor está afuera", [(OUT_OF_MOUTH, "hilo_retractor", 1)]),
    ("salieron las torundas", [(OUT_OF_MOUTH, "torunda", None)]),
    ("se soltó la grapa", [(OUT_OF_MOUTH, "grapa", 1)]),
    ("se rompió la corona de acetato", [(BROKEN, "corona_transparente", 1)]),
    ("se perdió una torunda", [(SHORT, "torunda", 1)]),
    ("ya no hay adhesivo", [(USED_UP, "adhesivo", None)]),
    ("se acabó el sellador", [(USED_UP, "sellador", 1)]),
]

NOT_IN_SPANISH = [
    "espejo",
    "dame el espejo",
    "necesito el espejo de vuelta",
    "¿está el espejo de vuelta?",
    "¿se ha caído el espejo?",
    "el espejo no ha vuelto",
    "todavía no ha vuelto el espejo",
    "limpia el explorador",
    "guarda el espejo",
    "otra gasa",
    "mi diente se cayó",
    "me he caído",
    "está fuera",
    "el dolor ha vuelto",
    "faltan dos semanas",
    "abre la boca",
    "no queda tiempo",
    "no hay problema",
    "se soltó el botón",
    "el paciente ya salió",
    "saque la cuña",
    "¿salió la grapa?",
    "mirror back",
]


@pytest.mark.parametrize(("text", "told"), IN_SPANISH)
def test_what_is_told_in_spanish_is_understood(
    operativa: Lexicon, text: str, told: list[tuple[EventKind, str | None, int | None]]
) -> None:
    heard = understand(text, operativa)
    assert [(t.kind, t.candidates[0].item if t.candidates else None, t.quantity) for t in heard.told] == told
    assert heard.rest in ("", "uy")


@pytest.mark.parametrize("text", NOT_IN_SPANISH)
def test_talk_questions_and_requests_in_spanish_tell_nothing(operativa: Lexicon, text: str) -> None:
    heard = understand(text, operativa)
    assert heard.told == () and heard.rest == text


def test_a_request_after_it_in_spanish_is_left_for_others(operativa: Lexicon) -> None:
    heard = understand("Espejo de vuelta. El explorador, por favor.", operativa)
    assert [told.kind for told in heard.told] == [RETURNED] and heard.rest == "el explorador, por favor"
