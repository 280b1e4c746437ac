"""What is always checked is never answered, whatever the words: every such item of every pack, against every
phrasing of its pack that follows a request. (Anaesthetics are checked with the label read back before they
are passed: common practice, no source.)"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from io import StringIO
from itertools import chain
from pathlib import Path

import pytest

from listen.answer import Answer, Likely
from listen.assistant import Assistant
from listen.bench.natural import ways, written
from listen.chairside.events import EventKind
from listen.chairside.session import ChairSession
from listen.chairside.view import session_view
from listen.commands.layout import console
from listen.commands.show import ChairScreen
from listen.engine import Hearing, Phrasing
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from listen.readings import Reader, load_calibration
from listen.verdict import Costs, Verdict, judge
from tests.listen.web.desk_app import Clock, StandIn, hearing_of, shared_chair
from vocab.pack.load import shipped_names, shipped_pack
from vocab.pack.schema import Item, Pack
from vocab.procedure.model import ProcedureModel
from vocab.requests.lexicon import Lexicon

PACKS = {name: shipped_pack(name) for name in shipped_names()}
READERS = {name: Reader(pack, Lexicon(pack), load_calibration()) for name, pack in PACKS.items()}
CHECKED = [(name, item) for name, pack in PACKS.items() for item in pack.items if item.always_check]
IDS = [f"{name}-{item.id}" for name, item in CHECKED]
CHAIR = shared_chair().pack


def follow_ups(pack: Pack, item: Item) -> Iterator[str]:
    """Every phrasing of the pack that goes on from a request, alone and with the item's name."""
    speech, name = pack.speech, item.name.text
    modifiers = chain.from_iterable((*speech.ends.values(), *speech.sizes.values()))
    counts = list(chain.from_iterable(speech.quantities.values()))
    yield from speech.repeats
    yield from (text for modifier in modifiers for text in (modifier, f"{modifier} please"))
    yield from (
        text for count in counts for text in (count, f"{count} more", f"{count} of those", f"{count} {name}")
    )
    yield from (f"{correction} {name}" for correction in speech.corrections)
    yield from (f"{action} {name}" for forms in speech.actions.values() for action in forms[:1])
    yield from ("the first one", "the second one", "number two", "yes", "that one", "next", "what's next")


def assistant(name: str) -> Assistant:
    pack = PACKS[name]
    procedure = pack.procedures[-1]
    model = ProcedureModel(pack, [procedure.id])
    return Assistant(pack, READERS[name], model, None, pack.tray(procedure.tray))


def answered(answers: tuple[Answer, ...], pack: Pack) -> list[str]:
    """What is always checked and was answered all the same."""
    return [
        a.item
        for a in answers
        if a.verdict is Verdict.ANSWER and a.item is not None and pack.item(a.item).always_check
    ]


@pytest.mark.parametrize(("name", "item"), CHECKED, ids=IDS)
def test_no_phrasing_that_follows_a_request_answers_it(name: str, item: Item) -> None:
    pack, chair = PACKS[name], assistant(name)
    for text in follow_ups(pack, item):
        (first, *_) = chair.ask(item.name.text)
        assert first.verdict is Verdict.CHECK, item.name.text
        assert not answered(chair.ask(text), pack), text


@pytest.mark.slow
@pytest.mark.parametrize(("name", "item"), CHECKED, ids=IDS)
def test_no_name_answers_it_behind_any_cue_or_before_any_ending(name: str, item: Item) -> None:
    pack, chair = PACKS[name], assistant(name)
    for i, known in enumerate(item.names):
        cues, endings = pack.speech.cues, pack.speech.endings
        for k, cue in enumerate(("", *cues)):
            text = f"{cue} {known.text} {endings[(i + k) % len(endings)]}"
            assert not answered(chair.ask(text), pack), text


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "item"),
    [one for one in CHECKED if PACKS[one[0]].language == "en"],
    ids=lambda one: getattr(one, "id", one),
)
def test_no_natural_sentence_answers_it_typed_or_heard(name: str, item: Item) -> None:
    """A ninth of the ways, another one for the items that follow each other."""
    pack, checks = PACKS[name], 0
    for way in ways("tune")[CHECKED.index((name, item)) % 9 :: 9]:
        if not way.label.startswith("ask") or "{x}" in way.sentence:
            continue
        text = written(way, {"a": item.name.text, "b": "etch"})
        heard = Hearing((), text, 0.0, -40.0, 3.0, (Phrasing(text.lower(), 5.0),), 0.0)
        for readings in (READERS[name].of_text(text, {}), READERS[name].of_hearing(heard, {})):
            found = judge(readings, pack, Costs())
            checks += any(one.verdict is Verdict.CHECK for one in found)
            assert not [one for one in found if one.item == item.id and one.verdict is Verdict.ANSWER], text
    assert checks > 6  # most are understood, and asked back


@pytest.mark.parametrize(("name", "item"), CHECKED, ids=IDS)
def test_what_belongs_beside_it_is_offered_beside_it(name: str, item: Item) -> None:
    pack = PACKS[name]
    for known in item.names:
        for answer in assistant(name).ask(known.text):
            if answer.verdict is Verdict.CHECK:
                offered = {answer.item, *(other.item for other in answer.alternatives)}
                for one in offered & {item for pair in pack.offered_together for item in pair}:
                    assert one is not None and set(pack.offered_with(one)) <= offered, known.text


def test_json_never_says_answer(tmp_path: Path) -> None:
    names = [item.name.text for item in CHAIR.items if item.always_check]
    lines = [text for name in names for text in (name, f"two more {name}", f"no, the {name}", "another one")]
    command = [sys.executable, "-c", "from listen.commands.main import main; main()", "ask", "--json", "-"]
    done = subprocess.run(
        [*command, "--changes", str(tmp_path)], input="\n".join(lines), capture_output=True, text=True
    )
    said = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(said) >= len(lines), done.stderr
    assert {one["item"] for one in said if one["verdict"] == "check"} >= checked_items()
    assert not [one for one in said if one["verdict"] == "answer" and one["item"] in checked_items()]


def test_what_is_likely_next_tells_no_place_of_it() -> None:
    tray = CHAIR.tray("composite_class_two")
    (answer,) = assistant("operative").ask("cotton pliers")
    likely = tuple(Likely(item, 0.3) for item in sorted(checked_items()))
    text = StringIO()
    console(text).print(ChairScreen(CHAIR, tray).answers([replace(answer, next=likely)]))
    following = " ".join(text.getvalue().split("next:")[1].split())
    assert following.count("checked first") == len(likely)
    assert not [at for item in checked_items() if (at := tray.slot_of(item)) and f"({at})" in following]


# --- in the browser and at the terminal's chair -------------------------------------------------------


@pytest.fixture
def chair_session(tmp_path: Path) -> ChairSession:
    running = Sessions(shared_chair, ServerSettings(data=tmp_path, clock=Clock()), StandIn)
    return running.open("composite_class_two", None)


def say(chair_session: ChairSession, *texts: str) -> None:
    """One utterance; of two texts it may have been either."""
    hearing = hearing_of(texts[0])
    if len(texts) > 1:  # the second sounds less like what was written down
        phrasings = (Phrasing(texts[1], 4.0), Phrasing(texts[0], -4.0))
        hearing = Hearing(phrasings, texts[0], 4.0, 4.0, 1.6)
    chair_session.hear(hearing)


def shown(chair_session: ChairSession) -> list[str]:
    return [a["item"] for a in session_view(chair_session)["stage"]["answers"]]


def checked_items() -> set[str]:
    return {item.id for item in CHAIR.items if item.always_check}


@pytest.mark.slow
@pytest.mark.parametrize("item", [i for i in CHAIR.items if i.always_check], ids=lambda i: i.id)
def test_at_the_chair_nothing_that_is_said_answers_it(chair_session: ChairSession, item: Item) -> None:
    for text in list(follow_ups(CHAIR, item))[::7]:
        say(chair_session, item.name.text)
        say(chair_session, text)
        assert not set(shown(chair_session)) & checked_items(), text
        chair_session.ask(item.name.text)
        chair_session.ask(text)
        assert not set(shown(chair_session)) & checked_items(), text


def test_a_number_that_lands_on_it_after_a_check_of_something_else_is_no_answer(
    chair_session: ChairSession,
) -> None:
    say(chair_session, "the short needle", "the large condenser")
    choices = [choice["item"] for choice in session_view(chair_session)["stage"]["choices"]]
    assert {"needle_short", "needle_long", "condenser_large"} <= set(choices)
    say(chair_session, ("the first one", "the second one", "the third one")[choices.index("needle_short")])
    stage = session_view(chair_session)["stage"]
    assert stage["kind"] == "check" and not stage["answers"] and not chair_session.state.out
    say(chair_session, "label read back")  # the gauge is asked first
    assert stage["chosen"] is None and not chair_session.state.out
    say(chair_session, "the first one")
    stage = session_view(chair_session)["stage"]
    assert stage["kind"] == "check" and not stage["answers"] and not chair_session.state.out
    assert stage["choices"][stage["chosen"]]["item"] == "needle_short"
    assert "needle_long" in {choice["item"] for choice in stage["choices"]}
    say(chair_session, "label read back")
    assert chair_session.state.out == {"needle_short": 1} and not shown(chair_session)
    assert [e.kind for e in chair_session.state.events].count(EventKind.PASSED) == 1


def test_pointing_at_it_and_starting_again_are_no_answer(chair_session: ChairSession, tmp_path: Path) -> None:
    for item in sorted(checked_items()):
        chair_session.request(item)
        assert not shown(chair_session), item
    again = Sessions(shared_chair, ServerSettings(data=tmp_path, clock=Clock()), StandIn).chair_session(
        chair_session.session.id
    )
    assert not shown(again)


def test_a_dentists_nickname_for_it_is_checked_too() -> None:
    items = tuple(
        item.model_copy(
            update={"synonyms": (*item.synonyms, item.name.model_copy(update={"text": "magic juice"}))}
        )
        if item.id == "cartridge_plain"
        else item
        for item in CHAIR.items
    )
    pack = CHAIR.model_copy(update={"items": items})
    reader = Reader(pack, Lexicon(pack), load_calibration())
    chair = Assistant(pack, reader, ProcedureModel(pack, ["composite_class_two"]))
    (answer,) = chair.ask("magic juice please")
    assert (answer.verdict, answer.item) == (Verdict.CHECK, "cartridge_plain")
    assert "cartridge_vasoconstrictor" in {other.item for other in answer.alternatives}


def test_on_the_screen_a_guess_lights_no_place_of_it(chair_session: ChairSession) -> None:
    for text in ("shade guide please", "topical anaesthetic please", "syringe please"):
        say(chair_session, text)
        say(chair_session, "yes")
        for likely in session_view(chair_session)["next"]:
            if likely["item"] in checked_items():
                assert (likely["slot"], likely["place"]) == (None, "checked first")
