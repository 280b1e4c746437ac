"""One chair: what a request gives, in text and in sound, and what is kept between requests."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from listen.answer import Answer
from listen.assistant import Assistant
from listen.audio import file_blocks
from listen.engine import Hearing, Phrasing, Samples
from listen.neural.engine import NeuralEngine
from listen.readings import Reader, load_calibration
from listen.segments import Segmenter, Utterance, utterances
from listen.verdict import Verdict
from vocab.pack.load import shipped_pack
from vocab.procedure.model import ProcedureModel
from vocab.requests.lexicon import Lexicon

PACK = shipped_pack()
READER = Reader(PACK, Lexicon(PACK), load_calibration())
RECORDINGS = Path(__file__).parents[3] / "recordings_demo"


def assistant(engine: object = None) -> Assistant:
    model = ProcedureModel(PACK, ["composite_class_two"])
    return Assistant(PACK, READER, model, engine, PACK.tray("composite_class_two"))  # type: ignore[arg-type]


def items_of(answers: tuple[Answer, ...]) -> list[str | None]:
    return [answer.item for answer in answers]


def test_a_pair_gives_two_answers_with_their_slots() -> None:
    answers = assistant().ask("mirror and explorer, please")
    assert items_of(answers) == ["mouth_mirror", "explorer_shepherd"]
    assert [a.slot for a in answers] == ["1", "2"]
    assert all(a.verdict is Verdict.ANSWER for a in answers)


def test_a_correction_replaces_the_answer() -> None:
    chair = assistant()
    chair.ask("the plugger")
    (answer,) = chair.ask("no, the wedge")
    assert (answer.item, answer.replaces, answer.kind) == ("wedge", "condenser_small", "correction")


def test_a_correction_within_one_breath_names_what_was_not_meant() -> None:
    (answer,) = assistant().ask("not the carver, the carrier")
    assert (answer.item, answer.replaces) == ("amalgam_carrier", "hollenback_carver")


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("another one", {}),
        ("same again", {}),
        ("the other end", {"end": "other"}),
        ("two more", {"quantity": 2}),
    ],
)
def test_the_last_item_is_asked_for_again(said: str, expected: dict[str, object]) -> None:
    chair = assistant()
    chair.ask("the spoon excavator")
    (answer,) = chair.ask(said)
    assert (answer.item, answer.verdict) == ("spoon_excavator", Verdict.ANSWER)
    assert {key: getattr(answer, key) for key in expected} == expected


def test_another_one_of_nothing_is_met_with_silence() -> None:
    (answer,) = assistant().ask("another one")
    assert (answer.verdict, answer.item) == (Verdict.QUIET, None)


@pytest.mark.parametrize("said", ["not yet", "no more etch", "hold the bond"])
def test_a_refusal_never_becomes_an_answer(said: str) -> None:
    (answer,) = assistant().ask(said)
    assert (answer.verdict, answer.item, answer.kind) == (Verdict.QUIET, None, "refusal")


@pytest.mark.parametrize(
    "said",
    ["that looks high, the light contact is there", "the three-thirty appointment", "how was your weekend"],
)
def test_nothing_is_kept_of_what_asked_for_nothing(said: str) -> None:
    (answer,) = assistant().ask(said)
    assert (answer.verdict, answer.heard, answer.kind) == (Verdict.QUIET, "", "nothing")
    assert said not in answer.to_json()


def test_an_action_names_no_item() -> None:
    (answer,) = assistant().ask("rinse, please")
    assert (answer.action, answer.item, answer.verdict) == ("rinse", None, Verdict.ANSWER)


def test_after_the_etchant_rinsing_is_expected() -> None:
    """Common practice, no source: etchant is rinsed off, with suction."""
    (answer,) = assistant().ask("etch")
    assert {"air_water_syringe", "high_volume_tip"} <= {likely.item for likely in answer.next}


def test_speech_and_text_print_the_same_keys() -> None:
    (typed,) = assistant().ask("the wedge")
    (spoken,) = assistant(StandIn("the wedge please")).hear(Utterance(0.5, 1.5, silence()), "microphone")
    assert json.loads(typed.to_json()).keys() == json.loads(spoken.to_json()).keys()
    assert (spoken.item, spoken.start_s, spoken.end_s, spoken.engine) == ("wedge", 0.5, 1.5, "stand-in")


class StandIn:
    """Hears one clear request in every utterance."""

    name = "stand-in"

    def __init__(self, said: str) -> None:
        self._said = said

    def hear(self, samples: Samples) -> Hearing:
        return Hearing((Phrasing(self._said, -1.0),), self._said, -1.0, -1.0, 1.5)


def silence() -> Samples:
    return np.zeros(16_000, np.float32)


@pytest.mark.parametrize(
    ("file", "item"),
    [
        ("005.flac", "perio_probe"),
        ("059.flac", "composite_dispenser"),
        ("002.flac", None),
        ("072.flac", None),
    ],
)
def test_the_real_engine_hears_requests_and_leaves_chatter_alone(
    engine: NeuralEngine, file: str, item: str | None
) -> None:
    (utterance,) = utterances(file_blocks(RECORDINGS / "audio" / file), Segmenter())
    (answer,) = assistant(engine).hear(utterance, file)
    assert answer.item == item
    assert answer.verdict is (Verdict.ANSWER if item else Verdict.QUIET)


@pytest.fixture(scope="module")
def engine() -> NeuralEngine:
    return NeuralEngine(PACK)
