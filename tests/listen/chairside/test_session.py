"""What the screens of one chair show and what is kept, without a browser."""

from pathlib import Path

import numpy as np
import pytest

from listen.chairside.closing import Override
from listen.chairside.events import EventKind, effective
from listen.chairside.handing import ChairSettings
from listen.chairside.session import CHECK_S, ECHO_S, ChairSession
from listen.chairside.view import room_view
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from listen.pause import OPEN_S, WHOLE_S
from listen.segments import Utterance
from tests.listen.web.desk_app import Clock, StandIn, hearing_of, shared_chair
from vocab.errors import Declined


@pytest.fixture
def clock() -> Clock:
    return Clock()


def house_at(folder: Path, clock: Clock) -> Sessions:
    return Sessions(shared_chair, ServerSettings(data=folder, clock=clock), StandIn)


@pytest.fixture
def room(tmp_path: Path, clock: Clock) -> ChairSession:
    return house_at(tmp_path, clock).open("composite_class_two", None)


def say(room: ChairSession, text: str, evidence: float = 0.0) -> bool:
    utterance = Utterance(0.0, 1.0, np.zeros(16_000, np.float32))
    return room.hear(hearing_of(text, evidence), utterance, "stand-in")


def stage(room: ChairSession) -> dict:
    return room_view(room)["stage"]


def kinds(room: ChairSession) -> list[EventKind]:
    return [event.kind for event in room.state.events]


def test_a_request_shows_item_slot_and_how_it_is_passed(room: ChairSession) -> None:
    assert say(room, "Can I have the cotton pliers?")
    shown = stage(room)
    assert shown["kind"] == "answer"
    (answer,) = shown["answers"]
    assert (answer["name"], answer["slot"], answer["place"]) == ("cotton pliers", "4", "slot 4")
    assert "operator" in answer["passing"]
    assert answer["said"] == "cotton pliers, 4"


def test_what_was_asked_for_is_out_and_not_expected_next(room: ChairSession) -> None:
    say(room, "mouth mirror please")
    view = room_view(room)
    assert view["places"]["mouth_mirror"] == {"out": 1}
    assert "mouth_mirror" not in {likely["item"] for likely in view["next"]}
    assert len(view["next"]) == 3


def test_sharps_that_are_out_are_told_as_sharp(room: ChairSession) -> None:
    say(room, "spoon excavator please")
    assert room_view(room)["out"] == [
        {"item": "spoon_excavator", "count": 1, "name": "spoon excavator", "sharp": True}
    ]


@pytest.mark.parametrize("text", ["How was your holiday?", "There is a shadow between these two teeth."])
def test_chatter_changes_nothing_and_leaves_nothing(room: ChairSession, text: str) -> None:
    before = room_view(room)
    assert not say(room, text, evidence=-20.0)
    assert room_view(room) == before
    assert kinds(room) == [EventKind.OPENED]


def test_a_check_is_settled_by_the_first_one(room: ChairSession) -> None:
    say(room, "the burnisher please")
    shown = stage(room)
    assert shown["kind"] == "check" and 2 <= len(shown["choices"]) <= 3
    assert not room.state.out
    assert say(room, "The first one.")
    assert [a["item"] for a in stage(room)["answers"]] == [shown["choices"][0]["item"]]
    assert room.state.out == {shown["choices"][0]["item"]: 1}


def test_a_check_is_settled_by_a_name(room: ChairSession) -> None:
    say(room, "the burnisher please")
    assert "acorn_burnisher" in [choice["item"] for choice in stage(room)["choices"]]
    assert say(room, "the acorn burnisher")
    assert [a["item"] for a in stage(room)["answers"]] == ["acorn_burnisher"]


def test_a_check_is_settled_by_touch_and_none_of_these_drops_it(room: ChairSession) -> None:
    say(room, "the burnisher please")
    second = stage(room)["choices"][1]["item"]
    assert room.choose(2)
    assert stage(room)["answers"][0]["item"] == second
    say(room, "the explorer please")
    room.choose(0)
    assert not room.choose(1)


def test_chatter_during_a_check_leaves_it_open(room: ChairSession) -> None:
    say(room, "the burnisher please")
    assert not say(room, "It only hurts when I bite.", evidence=-20.0)
    assert stage(room)["kind"] == "check"


def test_a_check_that_nobody_answers_goes_away(room: ChairSession, clock: Clock) -> None:
    say(room, "the burnisher please")
    clock.now_s += CHECK_S + 1
    assert stage(room)["kind"] != "check"
    assert not say(room, "the first one", evidence=-20.0)


def test_anaesthesia_is_always_checked_with_the_label_read_back(room: ChairSession) -> None:
    say(room, "27 gauge short please")
    shown = stage(room)
    assert shown["kind"] == "check" and "label" in shown["read_back"]
    assert [choice["item"] for choice in shown["choices"]] == ["needle_short", "needle_long"]
    assert not room.state.out
    say(room, "That's right.")
    assert room.state.out == {"needle_short": 1} and not stage(room)["answers"]


def test_naming_anaesthesia_again_is_no_read_back(room: ChairSession) -> None:
    say(room, "short needle please")
    say(room, "short needle")
    assert stage(room)["kind"] == "check" and not room.state.out


def test_anaesthesia_that_is_pointed_at_is_checked_too(room: ChairSession) -> None:
    room.request("needle_short")
    assert stage(room)["kind"] == "check" and not room.state.out


def test_the_assistant_repeating_the_request_is_no_second_request(room: ChairSession, clock: Clock) -> None:
    say(room, "cotton roll please")
    clock.now_s += ECHO_S - 1
    assert not say(room, "cotton roll")
    assert room.state.out == {"cotton_roll": 1}
    clock.now_s += ECHO_S + 1
    assert say(room, "cotton roll please")
    assert room.state.out == {"cotton_roll": 2}


def test_returns_and_falls_are_understood(room: ChairSession) -> None:
    say(room, "mouth mirror please")
    say(room, "mirror back")
    assert not room.state.out
    say(room, "cotton pliers please")
    say(room, "dropped it")
    assert room.state.of("cotton_pliers").dropped == 1
    say(room, "undo that")
    assert room.state.out == {"cotton_pliers": 1}


def test_a_refusal_is_no_answer(room: ChairSession) -> None:
    say(room, "no more etch")
    assert stage(room)["kind"] == "wait"
    assert not room.state.out


def test_a_correction_takes_the_wrong_one_back(room: ChairSession, clock: Clock) -> None:
    say(room, "cotton pliers please")
    clock.now_s += 2
    say(room, "no, the plastic instrument")
    assert room.state.out == {"plastic_instrument": 1}


def test_a_timer_needs_the_makers_time_and_can_be_stopped_by_voice(room: ChairSession) -> None:
    say(room, "start the etch enamel timer")
    assert "No time is set" in stage(room)["note"] and not room.timers
    room.settings = ChairSettings(maker_times={"etch": 15})
    say(room, "start the etch timer")
    assert stage(room)["note"].startswith("Which timer: etch enamel, etch dentine") and not room.timers
    say(room, "start the etch enamel timer")
    assert [timer.name for timer in room.timers] == ["etch enamel"]
    say(room, "stop the timer")
    assert not room.timers


def test_what_is_typed_and_unknown_is_told_to_be_unknown(room: ChairSession) -> None:
    assert room.ask("flux capacitor")
    assert stage(room)["kind"] == "note"
    assert kinds(room) == [EventKind.OPENED]


def test_a_restart_in_mid_session_loses_nothing(room: ChairSession, tmp_path: Path, clock: Clock) -> None:
    for text in ("mouth mirror please", "spoon excavator please", "mirror back"):
        clock.now_s += 10
        say(room, text)
    before = room_view(room)
    clock.now_s += 3
    again = house_at(tmp_path, clock).room(room.session.id)
    after = room_view(again)
    for same in ("places", "out", "next", "step", "events"):
        assert after[same] == before[same]
    assert again.state.holdings == room.state.holdings
    assert [a["item"] for a in after["stage"]["answers"]] == ["spoon_excavator"]


def test_a_question_is_asked_again_after_a_restart(room: ChairSession, tmp_path: Path, clock: Clock) -> None:
    say(room, "the burnisher please")
    again = house_at(tmp_path, clock).room(room.session.id)
    assert "ask once more" in room_view(again)["stage"]["note"]


def test_settings_of_a_chair_outlive_a_restart(room: ChairSession, tmp_path: Path, clock: Clock) -> None:
    house = house_at(tmp_path, clock)
    house.set_up(house.room(room.session.id), ChairSettings(operator_handed="left", arch="upper"))
    assert house_at(tmp_path, clock).room(room.session.id).settings.operator_handed == "left"
    following = house_at(tmp_path, clock).open("sealant", None)
    assert (following.settings.operator_handed, following.settings.arch) == ("left", None)


def test_a_closed_session_hears_nothing(room: ChairSession) -> None:
    room.close(override=Override("Dr Green", "Only a rehearsal."))
    assert not say(room, "mouth mirror please")
    with pytest.raises(Declined, match="closed"):
        room.ask("mouth mirror")


def test_nothing_that_was_said_is_shown_or_kept(room: ChairSession) -> None:
    say(room, "could you please hand me the pickups")
    assert "pickups" not in str(room_view(room)) + str(effective(room.state.events))


def test_what_is_guessed_in_a_pause_is_acted_on_soon_only_if_it_is_whole(room: ChairSession) -> None:
    assert room.enough_s(hearing_of("Can I have the cotton pliers?")) == WHOLE_S
    assert room.enough_s(hearing_of("the clamp")) == OPEN_S  # forceps
    assert room.enough_s(hearing_of("the burnisher")) == OPEN_S  # to be checked
    assert room.enough_s(hearing_of("not yet")) is None
    assert room.enough_s(hearing_of("the second one")) is None
    before = room_view(room)
    say(room, "the burnisher")
    assert room.enough_s(hearing_of("the second one")) == WHOLE_S
    assert room_view(room)["number"] == before["number"] + 1


def test_a_guess_changes_nothing(room: ChairSession) -> None:
    before = room_view(room)
    room.enough_s(hearing_of("Can I have the cotton pliers?"))
    assert room_view(room) == before


def test_which_size_is_asked_where_the_tray_holds_several_and_kept_in_the_log(room: ChairSession) -> None:
    held = room.chair.tray.variants_of("dam_clamp")
    say(room, "the dam clamp please")
    shown = stage(room)
    assert [(c["item"], c["size"]) for c in shown["choices"]] == [("dam_clamp", size) for size in held]
    say(room, f"the {held[1]} clamp")
    (answer,) = stage(room)["answers"]
    assert (answer["item"], answer["size"]) == ("dam_clamp", held[1])
    assert [e.size for e in room.state.events if e.verdict == "answer"] == [held[1]]


def test_a_size_that_is_said_is_answered_and_one_that_does_not_lie_there_is_told(room: ChairSession) -> None:
    held = room.chair.tray.variants_of("dam_clamp")
    say(room, f"{held[0]} clamp please")
    (answer,) = stage(room)["answers"]
    assert (answer["size"], answer["warning"], answer["slot"] is not None) == (held[0], None, True)
    say(room, "the 212 clamp please")
    (answer,) = stage(room)["answers"]
    assert answer["size"] == "212" and answer["slot"] is None
    assert all(size in answer["warning"] for size in held)


def test_what_fell_is_asked_for_again_with_a_sterile_spare(room: ChairSession) -> None:
    say(room, "cotton pliers please")
    say(room, "that one fell")
    say(room, "cotton pliers please")
    (answer,) = stage(room)["answers"]
    assert "sterile spare" in answer["warning"]


def test_in_a_latex_free_session_latex_is_never_lit_without_the_warning(room: ChairSession) -> None:
    room.mark_latex_free(True)
    assert room_view(room)["latex_free"]
    for ask in (lambda: say(room, "latex dam please"), lambda: room.request("dam_sheet")):
        ask()
        shown = stage(room)
        assert shown["kind"] == "check" and "latex-free" in shown["warning"] and not shown["answers"]
    say(room, "yes")
    assert not stage(room)["answers"] and room.state.of("dam_sheet").out == 1
    say(room, "another one")
    assert not stage(room)["answers"]
    say(room, "latex-free dam please")
    assert [a["item"] for a in stage(room)["answers"]] == ["dam_sheet_latex_free"]
    room.mark_latex_free(False)
    room.request("dam_sheet")
    assert [a["item"] for a in stage(room)["answers"]] == ["dam_sheet"]


@pytest.mark.parametrize("text", ["needle stick", "I got stuck", "I've been stuck."])
def test_after_a_needle_stick_the_clinics_card_opens(room: ChairSession, text: str) -> None:
    say(room, text)
    shown = stage(room)
    assert shown["kind"] == "injury" and shown["lines"] and not room.state.out
    assert EventKind.INJURY_CARD in kinds(room)
    room.close_injury_card()
    assert stage(room)["kind"] != "injury"


def test_a_faculty_check_waits_until_somebody_has_looked(room: ChairSession) -> None:
    for item in ("shade_guide", "spoon_excavator", "etchant", "curing_light", "mouth_mirror", "hand_mirror"):
        room.request(item)
    step = room.faculty_check
    assert step is not None and room_view(room)["faculty"] == step.name
    say(room, "checked")
    assert step.id in room.state.steps
    assert room.faculty_check is None or room.faculty_check.id != step.id


def test_checked_means_nothing_where_nobody_waits_for_it(room: ChairSession) -> None:
    assert room.faculty_check is None
    assert not say(room, "checked", evidence=-20.0)
    assert EventKind.STEP not in kinds(room)
