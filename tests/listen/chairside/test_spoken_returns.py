"""Returns, falls and timers are understood by voice though the engine writes them badly; talk is not.

What the engine wrote was taken down from synthetic tuning voices; the sentences are our own (common
practice, no source).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from listen.chairside.events import EventKind
from listen.chairside.handing import ChairSettings
from listen.chairside.session import ChairSession
from listen.chairside.spoken_returns import spoken_returns
from listen.chairside.tray_state import fold
from listen.engine import Hearing, Phrasing
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from tests.listen.chairside.chair_pack import at_chair, in_order
from tests.listen.web.desk_app import Clock, StandIn, shared_chair
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon

OUT = ("mouth_mirror", "explorer_shepherd", "wedge")


@pytest.fixture
def chair_session(tmp_path: Path) -> ChairSession:
    running = Sessions(shared_chair, ServerSettings(data=tmp_path, clock=Clock()), StandIn)
    return running.open("composite_class_two", None)


@pytest.fixture
def with_three_out(chair_session: ChairSession) -> ChairSession:
    for item in OUT:
        chair_session.request(item)
    assert set(chair_session.state.out) == set(OUT)
    return chair_session


def hear(chair_session: ChairSession, free_text: str, phrasing: str, evidence: float) -> bool:
    """What an engine wrote freely, its best phrasing, and how much better that is (nats)."""
    heard = Hearing((Phrasing(phrasing, evidence - 8.0),), free_text, -8.0, evidence - 8.0, 1.4)
    return chair_session.hear(heard)


def new(chair_session: ChairSession, before: int) -> list[tuple[EventKind, str | None]]:
    return [(event.kind, event.item) for event in chair_session.state.events[before:]]


BADLY_WRITTEN = [
    ("Wedge out.", "wedge out", -4.0, EventKind.OUT_OF_MOUTH, "wedge"),
    ("Wedges in.", "the wedge", -9.0, EventKind.IN_MOUTH, "wedge"),
    ("The which is out.", "the wedge", -12.0, EventKind.OUT_OF_MOUTH, "wedge"),
    ("The wedge broke.", "the wedge", -9.0, EventKind.BROKEN, "wedge"),
    ("We're short one wedge.", "a short wedge", -9.0, EventKind.SHORT, "wedge"),
    ("Explorer bat.", "explorer back", -4.0, EventKind.RETURNED, "explorer_shepherd"),
    ("What's back?", "wedge back", -4.5, EventKind.RETURNED, "wedge"),
    ("Mirror back.", "not a barrier", -11.3, EventKind.RETURNED, "mouth_mirror"),
    ("The Explore fell.", "a explorer a explorer", -20.0, EventKind.DROPPED, "explorer_shepherd"),
    ("That one fell.", "that's fine", -17.4, EventKind.DROPPED, "wedge"),
    ("It fell on the floor.", "briault briault", -21.7, EventKind.DROPPED, "wedge"),
    ("Here's the mirror back.", "pass the mirror back", -8.0, EventKind.RETURNED, "mouth_mirror"),
    ("You can have the explorer black.", "can i have the explorer back", -14.4, EventKind.RETURNED, OUT[1]),
    ("I drop the mirror.", "i don't need a mirror", -12.5, EventKind.DROPPED, "mouth_mirror"),
    ("The shepherds who explore a fellow on the floor,", "the shepherds hook explorer", -9.9,
     EventKind.DROPPED, OUT[1]),
]  # fmt: skip


@pytest.mark.parametrize(("free_text", "phrasing", "evidence", "kind", "item"), BADLY_WRITTEN)
def test_what_is_told_is_understood_though_badly_written(
    with_three_out: ChairSession, free_text: str, phrasing: str, evidence: float, kind: EventKind, item: str
) -> None:
    before = len(with_three_out.state.events)
    assert hear(with_three_out, free_text, phrasing, evidence)
    assert new(with_three_out, before) == [(kind, item)]


WIPED = [
    ("Wipe the mirror.", "wipe", -13.0),
    ("Why, the mirror, please.", "wait with the mirror please", -10.1),
    ("I wipe the mirror.", "i'd like the mirror", -2.3),
    ("The mirror is white.", "the mirror", -12.7),
    ("Wipe that one.", "wipe that", -9.6),
]


@pytest.mark.parametrize(("free_text", "phrasing", "evidence"), WIPED)
def test_what_is_wiped_is_not_asked_for(
    with_three_out: ChairSession, free_text: str, phrasing: str, evidence: float
) -> None:
    with_three_out.touch(EventKind.RETURNED, "mouth_mirror")
    before = len(with_three_out.state.events)
    assert hear(with_three_out, free_text, phrasing, evidence)
    noted = [(kind, item) for kind, item in new(with_three_out, before) if kind is not EventKind.ACTION]
    assert noted == [(EventKind.WIPED, "mouth_mirror")]


def test_an_order_to_wipe_what_is_still_out_is_shown_and_changes_nothing(
    with_three_out: ChairSession,
) -> None:
    before = len(with_three_out.state.events)
    assert hear(with_three_out, "Why the explorer?", "larger explorer", -5.3)
    (shown,) = with_three_out.stage.answers
    assert (shown.action, shown.item) == ("wipe", "explorer_shepherd")
    assert new(with_three_out, before) == [(EventKind.ACTION, None)]


CHATTER = [
    ("It's out.", "the wedge"),
    ("He's out today.", "the wedge"),
    ("Work out.", "the wedge"),
    ("It broke.", "the wedge"),
    ("Is the wedge out?", "the wedge out"),
    ("We're short today.", "the short needle"),
    ("The suction stopped.", "the suction"),
    ("The wedge is bad.", "the wedge"),
    ("Is the wedge black?", "the wedge"),
    ("Why that one?", "wipe that"),
    ("Why the long face?", "the long needle"),
    ("And do that.", "hand me a clamp"),
    ("The pain is black.", "the band back"),
    ("He exploded his back.", "the explorer"),
    ("The team fell on the floor.", "the gym"),
    ("I'll be back in a minute.", "can i have a briault"),
    ("My back hurts.", "more of that"),
    ("The mirror in my bathroom fell.", "the mirror"),
    ("She fell on the stairs.", "g i"),
    ("Time flies.", "five floss"),
    ("Stop it.", "dappen"),
    ("He came back yesterday.", "a single barrier"),
    ("The pain is back.", "the band back"),
    ("Come back next week.", "cord pack"),
    ("My filling fell out.", "my filling instrument"),
    ("The price dropped.", "the briault"),
    ("Is the mirror back?", "the mirror back"),
    ("Brought it.", "brush tip"),
    ("How long?", "cowhorn"),
    ("What's back there?", "wedge"),
    ("Did she drop the explorer?", "the explorer"),
    ("Lean back for me.", "lecron back"),
    ("I just came back from the store.", "sealant back"),
    ("We finished with the kitchen.", "the gingival trimmer"),
]


@pytest.mark.parametrize(("free_text", "phrasing"), CHATTER)
def test_talk_changes_nothing(with_three_out: ChairSession, free_text: str, phrasing: str) -> None:
    before = len(with_three_out.state.events)
    hear(with_three_out, free_text, phrasing, -30.0)
    assert new(with_three_out, before) == []


@pytest.mark.parametrize(
    "text", ["Cotton pliers back.", "The burnisher fell.", "That one fell.", "It's back."]
)
def test_what_was_never_out_does_not_come_back_on_the_free_text_alone(
    chair_session: ChairSession, text: str
) -> None:
    assert not hear(chair_session, text, "cord packer", -15.0)
    assert [event.kind for event in chair_session.state.events] == [EventKind.OPENED]


def test_what_both_say_counts_of_what_was_passed_in_silence(chair_session: ChairSession) -> None:
    assert hear(chair_session, "Cotton pliers back.", "cotton pliers back", 0.0)
    assert new(chair_session, 1) == [(EventKind.RETURNED, "cotton_pliers")]


def test_a_request_in_the_same_breath_is_answered(with_three_out: ChairSession) -> None:
    before = len(with_three_out.state.events)
    assert hear(with_three_out, "Mirror back. Cotton pliers please.", "mirror cotton pliers", -9.0)
    assert new(with_three_out, before) == [
        (EventKind.RETURNED, "mouth_mirror"),
        (EventKind.ASKED, "cotton_pliers"),
    ]


def test_a_timer_with_a_misheard_name_is_started_and_stopped_by_voice(chair_session: ChairSession) -> None:
    chair_session.settings = ChairSettings(maker_times={"etch": 15, "cure": 20})
    assert hear(chair_session, "Start the etched enamel timer.", "the etch primer", -16.7)
    assert [timer.name for timer in chair_session.timers] == ["etch enamel"]
    assert hear(chair_session, "Stop the timer.", "stop the timer", 0.0)
    assert not chair_session.timers


@pytest.mark.parametrize("text", ["Start the kitchen timer.", "My egg timer.", "It's time for lunch."])
def test_other_timers_are_not_ours(chair_session: ChairSession, text: str) -> None:
    chair_session.settings = ChairSettings(maker_times={"etch": 15, "cure": 20})
    hear(chair_session, text, "the etch primer", -30.0)
    assert not chair_session.timers


def test_another_program_on_the_same_log_is_noticed(chair_session: ChairSession, tmp_path: Path) -> None:
    other = Sessions(shared_chair, ServerSettings(data=tmp_path, clock=Clock()), StandIn)
    other.chair_session(chair_session.session.id).request("mouth_mirror")
    chair_session.request("wedge")
    assert set(chair_session.state.out) == {"mouth_mirror", "wedge"}
    assert [event.seq for event in chair_session.state.events] == [1, 2, 3]


OWN_WORDS = [
    ("There you go, I'm finished with the mirror for now.", EventKind.RETURNED, "mouth_mirror"),
    ("Whoops, I think the wedge just landed somewhere on the floor.", EventKind.DROPPED, "wedge"),
]


@pytest.mark.parametrize(("text", "kind", "item"), OWN_WORDS)
def test_what_is_told_in_words_of_ones_own_is_noted(
    with_three_out: ChairSession, text: str, kind: EventKind, item: str
) -> None:
    before = len(with_three_out.state.events)
    assert hear(with_three_out, text, "", -30.0)
    assert new(with_three_out, before) == [(kind, item)]


@pytest.mark.parametrize(("text", "kind", "item"), OWN_WORDS)
def test_typed_it_is_noted_as_well(
    with_three_out: ChairSession, text: str, kind: EventKind, item: str
) -> None:
    before = len(with_three_out.state.events)
    with_three_out.ask(text)
    assert new(with_three_out, before) == [(kind, item)]


@pytest.mark.parametrize(("text", "kind", "item"), OWN_WORDS)
def test_of_what_never_was_out_nothing_is_noted(
    chair_session: ChairSession, text: str, kind: EventKind, item: str
) -> None:
    before = len(chair_session.state.events)
    assert not hear(chair_session, text, "", -30.0)
    assert not new(chair_session, before)


@pytest.mark.parametrize(
    "text",
    ["I broke a mirror on my first day here.", "The wedge is the one thing that students always lose."],
)
def test_a_story_about_what_is_out_tells_nothing(with_three_out: ChairSession, text: str) -> None:
    before = len(with_three_out.state.events)
    hear(with_three_out, text, "", -30.0)
    assert not new(with_three_out, before)


@pytest.mark.parametrize(
    ("text", "events", "rest"),
    [
        ("Se me ha caído el explorador.", [(EventKind.DROPPED, "explorador")], ""),
        (
            "Espejo de vuelta. Un cincel, por favor.",
            [(EventKind.RETURNED, "espejo_bucal")],
            "un cincel, por favor",
        ),
        ("El explorador se me ha sido.", [(EventKind.DROPPED, "explorador")], ""),
        ("Limpia ese, por favor.", [], "límpialo"),
        ("Limpia el explorador.", [], "limpia explorador"),
    ],
)
def test_a_spanish_pack_is_told_in_spanish(text: str, events: list[tuple[EventKind, str]], rest: str) -> None:
    pack = shipped_pack("operativa_es")
    out = (at_chair(EventKind.ASKED, "espejo_bucal"), at_chair(EventKind.ASKED, "explorador"))
    state = fold(in_order(*out), pack.trays[0], pack)

    def far(one: str, other: str) -> float:
        return 0.0 if one == other else 0.2 if (one, other) == ("sido", "caido") else 1.0

    told = spoken_returns(text, "", lambda: False, Lexicon(pack), state, 50.0, far)
    assert told is not None and told.rest == rest
    assert [(event.kind, event.item) for event in told.events] == events
