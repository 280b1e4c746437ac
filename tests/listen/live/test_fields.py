"""Several vocabularies on one server: each session keeps its own, and each has an engine of one model."""

import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from listen.chair import ChairOptions, EngineName, UnknownName, open_chairs, vocabularies
from listen.engine import Engine
from listen.live.engine_queue import EarState, EngineQueue
from listen.live.sessions import NoField, NoSession, Sessions
from listen.live.settings import ServerSettings
from tests.listen.web.desk_app import Clock, StandIn, shared_chair, surgery_chair
from vocab.errors import TraycallError
from vocab.pack.load import shipped_languages
from vocab.pack.schema import Name

SOUND = np.zeros(1600, np.float32)


def house_at(folder: Path) -> Sessions:
    settings = ServerSettings(data=folder, clock=Clock())
    return Sessions(shared_chair, settings, StandIn, further=[surgery_chair()])


def asked_for(running: Sessions, session: int, text: str) -> list[str]:
    """What a typed request lights in a session."""
    chair_session = running.chair_session(session)
    chair_session.ask(text)
    return [answer.item or "" for answer in chair_session.stage.answers]


def test_sessions_of_two_vocabularies_stay_open_side_by_side_through_a_restart(tmp_path: Path) -> None:
    running = house_at(tmp_path)
    filling = running.open("composite_class_two", None).session
    surgery = running.open("simple_extraction", None).session
    assert (filling.pack, surgery.pack) == ("operative", "oral_surgery")
    assert asked_for(running, filling.id, "composite gun") == ["composite_dispenser"]
    assert asked_for(running, surgery.id, "crane pick") == ["crane_pick"]
    again = house_at(tmp_path)
    assert asked_for(again, surgery.id, "bayonet forceps") == ["bayonet_forceps"]
    assert asked_for(again, filling.id, "bayonet forceps") == ["bayonet_forceps"]  # known in every field
    assert again.chair_session(filling.id).stage.answers[0].slot is None
    assert asked_for(again, filling.id, "cotton pliers") == ["cotton_pliers"]
    procedure = again.chair_session(surgery.id).chair.procedure
    assert procedure is not None and procedure.id == "simple_extraction"


def test_a_session_of_a_vocabulary_that_is_not_here_says_how_to_get_it(tmp_path: Path) -> None:
    session = house_at(tmp_path).open("biopsy", None).session.id
    alone = Sessions(shared_chair, ServerSettings(data=tmp_path, clock=Clock()), StandIn)
    with pytest.raises(NoSession, match="oral_surgery"):
        alone.chair_session(session)
    with pytest.raises(NoField, match="operative"):
        alone.open(None, None, field="oral_surgery")


def test_a_name_that_is_added_in_one_vocabulary_is_known_in_sessions_of_the_others(tmp_path: Path) -> None:
    running = house_at(tmp_path)
    filling, surgery = running.open("sealant", None), running.open("biopsy", None)
    chair = shared_chair()
    named = tuple(
        item.model_copy(update={"synonyms": (*item.synonyms, Name(text="the flutterby"))})
        if item.id == "hatchet"
        else item
        for item in chair.pack.items
    )
    assert asked_for(running, surgery.session.id, "hand me the flutterby") == []
    running.renew(replace(chair, pack=chair.pack.model_copy(update={"items": named}), names=None))
    assert running.chair_session(filling.session.id) is filling
    assert asked_for(running, surgery.session.id, "hand me the flutterby") == ["hatchet"]
    assert surgery.chair.tray is not None and surgery.chair.tray.id == "soft_tissue"


# --- engines ------------------------------------------------------------------------------------


class Copy(StandIn):
    """An engine made out of another."""

    def __init__(self, of: Engine) -> None:
        super().__init__()
        self.of = of


def test_each_fields_utterances_are_heard_by_its_own_engine_made_out_of_the_first() -> None:
    first = StandIn()
    queue = EngineQueue(lambda: first, field="operative", further={"oral_surgery": Copy})
    queue.start()
    second = queue.of("oral_surgery").loaded()
    assert isinstance(second, Copy) and second.of is first
    queue.of("oral_surgery").hear("a", SOUND).done.result(10)
    assert (first.heard, second.heard) == (0, 1)
    queue.of("operative").hear("a", SOUND).done.result(10)
    assert (first.heard, second.heard) == (1, 1)
    queue.stop()


def test_a_field_is_heard_while_another_is_loading_and_what_waits_for_that_is_heard_then() -> None:
    go, first = threading.Event(), StandIn()

    def slowly(engine: Engine) -> Engine:
        assert go.wait(10)
        return Copy(engine)

    queue = EngineQueue(lambda: first, field="operative", further={"oral_surgery": slowly})
    queue.start()
    waits = queue.of("oral_surgery").hear("surgery", SOUND)
    queue.of("operative").hear("filling", SOUND).done.result(10)
    assert queue.of("oral_surgery").state is EarState.LOADING and not waits.done.done()
    assert queue.idle, "what cannot be heard yet keeps no guess waiting"
    go.set()
    waits.done.result(10)
    queue.stop()


def test_a_field_whose_engine_fails_is_told_so_and_the_first_goes_on() -> None:
    def fails(engine: Engine) -> Engine:
        raise TraycallError("no names")

    queue = EngineQueue(StandIn, field="operative", further={"oral_surgery": fails})
    waits = queue.of("oral_surgery").hear("surgery", SOUND)
    queue.start()
    assert queue.of("oral_surgery").loaded() is None
    assert (queue.of("oral_surgery").state, queue.of("oral_surgery").problem) == (
        EarState.MISSING,
        "no names",
    )
    queue.hear("filling", SOUND).done.result(10)
    assert waits.done.cancelled() and queue.state is EarState.READY
    queue.stop()


@pytest.mark.slow
def test_two_vocabularies_share_one_real_engine(tmp_path: Path) -> None:
    running = Sessions(shared_chair, ServerSettings(data=tmp_path, clock=Clock()), further=[surgery_chair()])
    running.engine_queue.start()
    engines = [running.engine_queue.of(pack.id).loaded() for pack in running.packs]
    assert engines[0] is not None and engines[0] is engines[1], "one engine hears the names of both"
    running.engine_queue.stop()


# --- which vocabularies --------------------------------------------------------------------------


def test_every_shipped_vocabulary_that_the_engine_understands_is_served_after_those_named() -> None:
    english = [name for name, language in shipped_languages().items() if language == "en"]
    others = [name for name in english if name != "operative"]
    assert {"oral_surgery", "endodontics", "hygiene"} <= set(others)
    assert vocabularies((), EngineName.NEURAL) == ("operative", *others)
    after = tuple(name for name in ("operative", *others) if name != "oral_surgery")
    assert vocabularies(("oral_surgery",), EngineName.NEURAL) == ("oral_surgery", *after)
    assert vocabularies(("operativa_es",), EngineName.NEURAL) == ("operativa_es", "operative", *others)
    assert vocabularies((), EngineName.VOSK) == ("operative",)


def test_the_procedure_proposed_first_may_be_of_any_vocabulary(tmp_path: Path) -> None:
    options = ChairOptions(procedure="biopsy", layers=tmp_path)
    first, second = open_chairs(options, ("operative", "oral_surgery"))
    assert first.procedure is None and second.procedure is not None
    assert second.options.layers == tmp_path / "oral_surgery"
    running = Sessions(lambda: first, ServerSettings(data=tmp_path, clock=Clock()), StandIn, further=[second])
    assert running.proposed is second
    with pytest.raises(UnknownName, match="composite_class_two.*biopsy"):
        open_chairs(ChairOptions(procedure="root canal"), ("operative", "oral_surgery"))
