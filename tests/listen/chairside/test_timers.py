"""Timers run with the maker's time that the clinic set, and anybody can stop them by voice."""

from __future__ import annotations

import pytest

from listen.chairside.events import Event, EventKind
from listen.chairside.timers import (
    Running,
    TimerAct,
    TimerReply,
    TimerWish,
    maker_time_s,
    over,
    running,
    step_cautions,
    timer_names,
    timer_reply,
    understand_timer,
)
from tests.listen.chairside.chair_pack import PACK, at_chair, in_order
from vocab.language.english import TIMER_REPLIES
from vocab.pack.load import shipped_pack

NAMES = ("etch", "cure", "topical anaesthetic")


@pytest.mark.parametrize(
    ("text", "wish"),
    [
        ("start the etch timer", TimerWish(TimerAct.START, "etch")),
        ("Start the timer for the etchant, please.", TimerWish(TimerAct.START, "etch")),
        ("can you start the curing timer", TimerWish(TimerAct.START, "cure")),
        ("start the topical timer", TimerWish(TimerAct.START, "topical anaesthetic")),
        ("time the etch", TimerWish(TimerAct.START, "etch")),
        ("start the timer", TimerWish(TimerAct.START)),
        ("stop the timer", TimerWish(TimerAct.STOP)),
        ("timer off", TimerWish(TimerAct.STOP)),
        ("stop the etch timer", TimerWish(TimerAct.STOP, "etch")),
        ("stop all timers", TimerWish(TimerAct.STOP, everything=True)),
        ("how long", TimerWish(TimerAct.TELL, said_timer=False)),
        ("how much longer", TimerWish(TimerAct.TELL, said_timer=False)),
        ("how much time is left on the etch?", TimerWish(TimerAct.TELL, "etch")),
        ("how long left on the timer", TimerWish(TimerAct.TELL)),
    ],
)
def test_timers_are_understood(text: str, wish: TimerWish) -> None:
    assert understand_timer(text, NAMES) == wish


@pytest.mark.parametrize(
    "text",
    [
        "how long have you been a dentist",
        "how long will this take",
        "it's time",
        "time for lunch",
        "stop",
        "stop that",
        "etch",
        "cure it",
        "start the engine",
        "start the lunch timer",
        "the timer broke last week",
        "",
    ],
)
def test_talk_is_no_wish_for_a_timer(text: str) -> None:
    assert understand_timer(text, NAMES) is None


def test_without_a_time_set_the_timer_does_not_start_and_says_why() -> None:
    reply = timer_reply(TimerWish(TimerAct.START, "etch"), (), {}, 0.0)
    assert reply is not None and reply.events == ()
    assert "set the maker's time" in reply.text


def test_a_timer_starts_with_the_clinics_time_and_the_steps_cautions() -> None:
    reply = timer_reply(
        TimerWish(TimerAct.START, "etch"),
        (),
        {"etch": 15},
        100.0,
        cautions=lambda timer: step_cautions(PACK, timer),
    )
    assert reply is not None
    assert reply.text == "Etch: 15 seconds, the time set by the clinic. Not too long."
    (timer,) = running(reply.events)
    assert timer == Running("etch", 100.0, 15) and timer.left_s(104.0) == 11.0


def test_a_step_without_cautions_has_the_usual_ones() -> None:
    reply = timer_reply(TimerWish(TimerAct.START, "cure"), (), {"cure": 20}, 0.0)
    assert reply is not None and "Do not look into the beam" in reply.text


def test_start_the_timer_means_the_present_steps() -> None:
    reply = timer_reply(TimerWish(TimerAct.START), (), {"etch": 15, "cure": 20}, 0.0, step_timers=("cure",))
    assert reply is not None and reply.events[0].about == "cure"
    unknown = timer_reply(TimerWish(TimerAct.START), (), {"etch": 15}, 0.0)
    assert unknown is not None and unknown.events == () and "Which timer?" in unknown.text


def test_what_is_left_is_told_down_to_the_end() -> None:
    timers = (Running("etch", 100.0, 15.0),)
    for now_s, text in ((104.0, "Etch: 11 seconds left."), (115.0, "Etch: time is up.")):
        reply = timer_reply(TimerWish(TimerAct.TELL, said_timer=False), timers, {}, now_s)
        assert reply is not None and reply.text == text and reply.events == ()
    assert over(timers, 114.0) == () and over(timers, 115.0) == timers


def test_how_long_is_no_question_to_us_while_nothing_runs() -> None:
    assert timer_reply(TimerWish(TimerAct.TELL, said_timer=False), (), {}, 0.0) is None
    told = timer_reply(TimerWish(TimerAct.STOP), (), {}, 0.0)
    assert told is not None and told.text == "No timer is running."


def _stopped(wish: TimerWish, now_s: float) -> list[str | None]:
    timers = (Running("set", 0.0, 300.0), Running("etch", 10.0, 15.0), Running("cure", 20.0, 20.0))
    reply = timer_reply(wish, timers, {}, now_s)
    return [event.about for event in reply.events] if reply else []


def test_stop_the_timer_stops_what_is_over_or_else_the_last_one() -> None:
    assert _stopped(TimerWish(TimerAct.STOP), 22.0) == ["cure"]
    assert _stopped(TimerWish(TimerAct.STOP), 26.0) == ["etch"]
    assert _stopped(TimerWish(TimerAct.STOP, "set"), 22.0) == ["set"]
    assert _stopped(TimerWish(TimerAct.STOP, everything=True), 22.0) == ["set", "etch", "cure"]


def test_a_timer_is_the_fold_of_its_events() -> None:
    started = at_chair(EventKind.TIMER_STARTED, about="etch", seconds_s=15.0)
    stopped = at_chair(EventKind.TIMER_STOPPED, about="etch")

    def running_after(*events: Event) -> list[tuple[str, float]]:
        return [(timer.name, timer.started_s) for timer in running(in_order(*events))]

    assert running_after(started) == [("etch", 1.0)]
    assert running_after(started, stopped) == []
    assert running_after(started, started) == [("etch", 2.0)]
    assert running_after(started, stopped, at_chair(EventKind.CORRECTED, corrects=2)) == [("etch", 1.0)]
    assert running_after(started, at_chair(EventKind.CLOSED)) == []


def test_the_pack_says_what_is_timed() -> None:
    assert timer_names(PACK) == ("etch", "cure")


MATERIALS = ("etch enamel", "etch dentine", "cure bond", "bond", "set liner")
CURED = ("cure liner", "cure bond", "cure flowable", "cure composite", "cure sealant")


@pytest.mark.parametrize(
    ("text", "wish"),
    [
        ("start the etch timer", TimerWish(TimerAct.START, "etch", ("etch enamel", "etch dentine"))),
        ("start the etching timer", TimerWish(TimerAct.START, "etch", ("etch enamel", "etch dentine"))),
        ("start the etch enamel timer", TimerWish(TimerAct.START, "etch enamel")),
        ("start the enamel etch timer", TimerWish(TimerAct.START, "etch enamel")),
        ("start the dentin timer", TimerWish(TimerAct.START, "etch dentine")),
        ("start the curing timer", TimerWish(TimerAct.START, "cure bond")),
        ("start the bond timer", TimerWish(TimerAct.START, "bond")),
        ("stop the etch timer", TimerWish(TimerAct.STOP, "etch", ("etch enamel", "etch dentine"))),
    ],
)
def test_a_word_of_several_timers_may_be_any_of_them(text: str, wish: TimerWish) -> None:
    assert understand_timer(text, MATERIALS) == wish


def started(text: str, step_timers: tuple[str, ...] = (), **times: float) -> tuple[list[str | None], str]:
    wish = understand_timer(text, MATERIALS)
    assert wish is not None
    spelled = {name.replace("_", " "): seconds for name, seconds in times.items()}
    reply = timer_reply(wish, (), spelled, 0.0, step_timers=step_timers)
    assert reply is not None
    return [event.about for event in reply.events], reply.text


def test_the_etch_timer_is_the_present_steps() -> None:
    assert started("start the etch timer", ("etch dentine",), etch=15)[0] == ["etch dentine"]


@pytest.mark.parametrize("text", ["start the etch timer", "start the timer"])
def test_where_the_step_does_not_tell_it_is_asked_which(text: str) -> None:
    events, said = started(text, ("etch enamel", "etch dentine"), etch=15)
    assert events == [] and said == "Which timer: etch enamel or etch dentine? Say its full name."


@pytest.mark.parametrize(
    ("text", "timer"),
    [
        ("start the bond cure timer", "cure bond"),
        ("start the cure flow timer", "cure flowable"),
        ("start the timer for curing the increment", "cure composite"),
        ("start the cure increment timer", "cure composite"),
        ("start the sealant timer", "cure sealant"),
    ],
)
def test_each_material_that_is_cured_has_its_own_timer(text: str, timer: str) -> None:
    assert understand_timer(text, CURED) == TimerWish(TimerAct.START, timer)


def test_cure_alone_means_the_step_then_the_procedure_and_else_is_asked() -> None:
    wish = understand_timer("start the cure timer", CURED)
    assert wish is not None

    def reply_to(step: tuple[str, ...], procedure: tuple[str, ...]) -> TimerReply:
        reply = timer_reply(wish, (), {"cure": 20.0}, 0.0, step_timers=step, procedure_timers=procedure)
        assert reply is not None
        return reply

    assert reply_to(("cure flowable",), CURED).events[0].about == "cure flowable"
    assert reply_to(("bond",), ("bond", "cure sealant")).events[0].about == "cure sealant"
    asked = reply_to((), ("cure bond", "cure composite"))
    assert asked.events == () and asked.text.startswith("Which timer: cure bond or cure composite?")
    assert "cure sealant" in reply_to((), ()).text


def test_a_general_time_stands_for_every_material_until_it_has_its_own() -> None:
    # P: trade review of the packs: "one maker's time per name", before there was one a material
    times = {"cure": 20.0, "cure flowable": 10.0, "cure bo": 5.0}
    assert [maker_time_s(times, name) for name in ("cure bond", "cure flowable", "etch")] == [
        20.0,
        10.0,
        None,
    ]
    assert started("start the etch enamel timer", cure=20)[1].startswith("No time is set for etch enamel.")


def test_the_etch_timers_stop_and_tell_by_their_common_word() -> None:
    timers = (Running("etch enamel", 0.0, 30.0), Running("etch dentine", 5.0, 15.0))

    def reply_to(text: str, now_s: float) -> tuple[list[str | None], str]:
        wish = understand_timer(text, MATERIALS)
        assert wish is not None
        reply = timer_reply(wish, timers, {}, now_s)
        assert reply is not None
        return [event.about for event in reply.events], reply.text

    told = reply_to("how long left on the etch", 10.0)[1]
    assert told == "Etch enamel: 20 seconds left. Etch dentine: 10 seconds left."
    assert reply_to("stop the etch timer", 10.0)[0] == ["etch dentine"]
    assert reply_to("stop the etch enamel timer", 10.0)[0] == ["etch enamel"]
    assert reply_to("stop all etch timers", 10.0)[0] == ["etch enamel", "etch dentine"]


def test_how_long_for_the_filling_is_no_question_to_us_while_nothing_runs() -> None:
    wish = understand_timer("how much longer for the liner?", ("set liner", "cure liner"))
    assert wish is not None and timer_reply(wish, (), {}, 0.0) is None


def test_a_misheard_general_word_is_asked_back_too() -> None:
    def far(one: str, other: str) -> float:
        return 0.1 if (one, other) == ("etched", "etch") else 1.0

    wish = understand_timer("start the etched timer", MATERIALS, far)
    assert wish == TimerWish(TimerAct.START, "etch", ("etch enamel", "etch dentine"))


def test_enamel_is_not_warned_of_as_dentine_is() -> None:
    # common practice, no source
    said = [started(f"start the etch {what} timer", etch=15)[1] for what in ("enamel", "dentine")]
    assert (
        TIMER_REPLIES.cautions["etch enamel"] in said[0] and "dentine at most" not in said[0].split(".", 1)[1]
    )
    assert "On dentine at most about 15 seconds" in said[1]


ESMALTE, DENTINA = "grabado del esmalte", "grabado de la dentina"
GRABADOS = (ESMALTE, DENTINA, "grabado para el sellador")
IONOMERO = ("fraguado del ionómero", "mezcla del ionómero")
MEZCLAS = (
    "mezcla de la amalgama",
    "mezcla de la obturación provisional",
    "mezcla del ionómero",
    "mezcla del cemento provisional",
)


@pytest.mark.parametrize(
    ("text", "wish"),
    [
        ("Pon el temporizador del grabado del esmalte, por favor.", TimerWish(TimerAct.START, ESMALTE)),
        ("pon el temporizador del grabado", TimerWish(TimerAct.START, "grabado", GRABADOS)),
        ("cronometra el adhesivo", TimerWish(TimerAct.START, "adhesivo")),
        ("temporizador para el ionómero", TimerWish(TimerAct.START, "ionomero", IONOMERO)),
        ("temporizador para el ionomero", TimerWish(TimerAct.START, "ionomero", IONOMERO)),
        (
            "empieza el tiempo de la lámpara de la fluida",
            TimerWish(TimerAct.START, "fotocurado de la fluida"),
        ),
        ("pon en marcha el temporizador", TimerWish(TimerAct.START)),
        ("para el temporizador", TimerWish(TimerAct.STOP)),
        ("¿Puedes apagar el cronómetro de la mezcla?", TimerWish(TimerAct.STOP, "mezcla", MEZCLAS)),
        ("para todos los temporizadores", TimerWish(TimerAct.STOP, everything=True)),
        ("¿Cuánto le queda al adhesivo?", TimerWish(TimerAct.TELL, "adhesivo")),
        ("¿cuánto tiempo queda en el temporizador?", TimerWish(TimerAct.TELL)),
        ("¿Cuánto falta?", TimerWish(TimerAct.TELL, said_timer=False)),
        ("pon el temporizador de la anestesia tópica", TimerWish(TimerAct.START, "anestésico tópico")),
        ("ponme el cronómetro del tópico", TimerWish(TimerAct.START, "anestésico tópico")),
        ("temporizador para fraguar el liner", TimerWish(TimerAct.START, "fraguado del hidróxido de calcio")),
        ("pon el tiempo del grabado del sellante", TimerWish(TimerAct.START, "grabado para el sellador")),
        ("temporizador para fotocurar el sellador", TimerWish(TimerAct.START, "fotocurado del sellador")),
        ("temporizador de la base", TimerWish(TimerAct.START, "fotocurado de la base")),
        (
            "toma el tiempo de la mezcla de la obturación provisoria",
            TimerWish(TimerAct.START, "mezcla de la obturación provisional"),
        ),
        ("para el temporizador del flow", TimerWish(TimerAct.STOP, "fotocurado de la fluida")),
        ("pon el temporizador de la resina bulk", TimerWish(TimerAct.START, "fotocurado de la resina")),
    ],
)
def test_timers_are_understood_in_spanish(text: str, wish: TimerWish) -> None:
    assert understand_timer(text, timer_names(shipped_pack("operativa_es")), language="es") == wish


@pytest.mark.parametrize(
    "text",
    [
        "para",
        "es tiempo de comer",
        "¿cuánto falta para comer?",
        "pon el temporizador de la comida",
        "el temporizador se rompió la semana pasada",
        "grabado",
        "start the timer",
    ],
)
def test_talk_in_spanish_is_no_wish_for_a_timer(text: str) -> None:
    assert understand_timer(text, timer_names(shipped_pack("operativa_es")), language="es") is None


def test_a_spanish_session_is_answered_in_spanish() -> None:
    names = timer_names(shipped_pack("operativa_es"))
    start = understand_timer("pon el temporizador del grabado del esmalte", names, language="es")
    assert start is not None
    begun = timer_reply(start, (), {"grabado del esmalte": 20.0}, 5.0, language="es")
    assert begun is not None and begun.text == (
        "Grabado del esmalte: 20 segundos, el tiempo fijado por la clínica. Aspiración lista antes de lavar."
    )
    ask = understand_timer("cuánto queda para el grabado del esmalte", names, language="es")
    assert ask is not None
    for now_s, text in ((10.0, "quedan 15 segundos."), (30.0, "tiempo cumplido.")):
        told = timer_reply(ask, running(begun.events), {}, now_s, language="es")
        assert told is not None and told.text == f"Grabado del esmalte: {text}"
    unset = timer_reply(start, (), {}, 5.0, language="es")
    assert unset is not None and unset.text.startswith("No hay tiempo fijado para grabado del esmalte.")
