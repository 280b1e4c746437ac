"""What the screens of one chair show and what is kept, without a browser."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from listen.chairside.closing import Override
from listen.chairside.events import EventKind, effective
from listen.chairside.handing import ChairSettings
from listen.chairside.session import ECHO_S, ChairSession
from listen.chairside.stage import CHECK_S
from listen.chairside.view import session_view
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from listen.pause import OPEN_S, WHOLE_S
from tests.listen.web.desk_app import Clock, StandIn, hearing_of, shared_chair
from vocab.errors import Declined


@pytest.fixture
def clock() -> Clock:
    return Clock()


def house_at(folder: Path, clock: Clock) -> Sessions:
    return Sessions(shared_chair, ServerSettings(data=folder, clock=clock), StandIn)


@pytest.fixture
def chair_session(tmp_path: Path, clock: Clock) -> ChairSession:
    return house_at(tmp_path, clock).open("composite_class_two", None)


def say(chair_session: ChairSession, text: str, evidence: float = 0.0) -> bool:
    return chair_session.hear(hearing_of(text, evidence))


def stage(chair_session: ChairSession) -> dict[str, Any]:
    shown: dict[str, Any] = session_view(chair_session)["stage"]
    return shown


def clamps(chair_session: ChairSession) -> tuple[str, ...]:
    """The sizes of clamp on the tray."""
    assert chair_session.chair.tray is not None
    return chair_session.chair.tray.variants_of("dam_clamp")


def kinds(chair_session: ChairSession) -> list[EventKind]:
    return [event.kind for event in chair_session.state.events]


def test_a_request_shows_item_slot_and_how_it_is_passed(chair_session: ChairSession) -> None:
    assert say(chair_session, "Can I have the cotton pliers?")
    shown = stage(chair_session)
    assert shown["kind"] == "answer"
    (answer,) = shown["answers"]
    assert (answer["name"], answer["slot"], answer["place"]) == ("cotton pliers", "4", "slot 4")
    assert "operator" in answer["passing"]
    assert answer["said"] == "cotton pliers, slot 4"


def test_a_place_in_a_kit_is_said_with_its_kit(chair_session: ChairSession) -> None:
    assert chair_session.chair.tray is not None
    at = chair_session.chair.tray.slot_of("etchant")
    assert at is not None and at.startswith("bonding kit ")
    say(chair_session, "etchant please")
    (answer,) = stage(chair_session)["answers"]
    assert (answer["place"], answer["said"]) == (at, f"etchant, {at}")


def test_what_was_asked_for_is_out_and_not_expected_next(chair_session: ChairSession) -> None:
    say(chair_session, "mouth mirror please")
    view = session_view(chair_session)
    assert view["places"]["mouth_mirror"] == {"out": 1}
    assert "mouth_mirror" not in {likely["item"] for likely in view["next"]}
    assert len(view["next"]) == 3


def test_sharps_that_are_out_are_told_as_sharp(chair_session: ChairSession) -> None:
    say(chair_session, "spoon excavator please")
    assert session_view(chair_session)["out"] == [
        {"item": "spoon_excavator", "count": 1, "name": "spoon excavator", "sharp": True}
    ]


@pytest.mark.parametrize("text", ["How was your holiday?", "There is a shadow between these two teeth."])
def test_chatter_changes_nothing_and_leaves_nothing(chair_session: ChairSession, text: str) -> None:
    before = session_view(chair_session)
    assert not say(chair_session, text, evidence=-20.0)
    assert session_view(chair_session) == before
    assert kinds(chair_session) == [EventKind.OPENED]


def test_a_check_is_settled_by_the_first_one(chair_session: ChairSession) -> None:
    say(chair_session, "the burnisher please")
    shown = stage(chair_session)
    assert shown["kind"] == "check" and 2 <= len(shown["choices"]) <= 3
    assert not chair_session.state.out
    assert say(chair_session, "The first one.")
    assert [a["item"] for a in stage(chair_session)["answers"]] == [shown["choices"][0]["item"]]
    assert chair_session.state.out == {shown["choices"][0]["item"]: 1}


def test_a_check_is_settled_by_a_name(chair_session: ChairSession) -> None:
    say(chair_session, "the burnisher please")
    assert "acorn_burnisher" in [choice["item"] for choice in stage(chair_session)["choices"]]
    assert say(chair_session, "the acorn burnisher")
    assert [a["item"] for a in stage(chair_session)["answers"]] == ["acorn_burnisher"]


def test_a_check_is_settled_by_touch_and_none_of_these_drops_it(chair_session: ChairSession) -> None:
    say(chair_session, "the burnisher please")
    second = stage(chair_session)["choices"][1]["item"]
    assert chair_session.choose(2)
    assert stage(chair_session)["answers"][0]["item"] == second
    say(chair_session, "the explorer please")
    chair_session.choose(0)
    assert not chair_session.choose(1)


def test_chatter_during_a_check_leaves_it_open(chair_session: ChairSession) -> None:
    say(chair_session, "the burnisher please")
    assert not say(chair_session, "It only hurts when I bite.", evidence=-20.0)
    assert stage(chair_session)["kind"] == "check"


def test_a_check_that_nobody_answers_goes_away(chair_session: ChairSession, clock: Clock) -> None:
    say(chair_session, "the burnisher please")
    clock.now_s += CHECK_S + 1
    assert stage(chair_session)["kind"] != "check"
    assert not say(chair_session, "the first one", evidence=-20.0)


def test_anaesthesia_is_always_checked_with_the_label_read_back(chair_session: ChairSession) -> None:
    say(chair_session, "27 gauge short please")
    shown = stage(chair_session)
    assert shown["kind"] == "check" and "person responsible" in shown["read_back"]
    assert [choice["item"] for choice in shown["choices"]] == ["needle_short", "needle_long"]
    assert not chair_session.state.out
    say(chair_session, "That's right.")
    assert chair_session.state.out == {"needle_short": 1} and not stage(chair_session)["answers"]


def test_naming_anaesthesia_again_is_no_read_back(chair_session: ChairSession) -> None:
    say(chair_session, "short needle please")
    say(chair_session, "short needle")
    assert stage(chair_session)["kind"] == "check" and not chair_session.state.out


def test_anaesthesia_that_is_pointed_at_is_checked_too(chair_session: ChairSession) -> None:
    chair_session.request("needle_short")
    assert stage(chair_session)["kind"] == "check" and not chair_session.state.out


def test_the_assistant_repeating_the_request_is_no_second_request(
    chair_session: ChairSession, clock: Clock
) -> None:
    say(chair_session, "cotton roll please")
    clock.now_s += ECHO_S - 1
    assert not say(chair_session, "cotton roll")
    assert chair_session.state.out == {"cotton_roll": 1}
    clock.now_s += ECHO_S + 1
    assert say(chair_session, "cotton roll please")
    assert chair_session.state.out == {"cotton_roll": 2}


def test_returns_and_falls_are_understood(chair_session: ChairSession) -> None:
    say(chair_session, "mouth mirror please")
    say(chair_session, "mirror back")
    assert not chair_session.state.out
    say(chair_session, "cotton pliers please")
    say(chair_session, "dropped it")
    assert chair_session.state.of("cotton_pliers").dropped == 1
    say(chair_session, "undo that")
    assert chair_session.state.out == {"cotton_pliers": 1}


def test_undo_says_what_it_takes_back_before_and_after(chair_session: ChairSession) -> None:
    assert session_view(chair_session)["undo"] is None
    say(chair_session, "mouth mirror please")
    say(chair_session, "mirror back")
    undo = session_view(chair_session)["undo"]
    assert undo["what"] == "mouth mirror, returned"
    chair_session.undo(seq=undo["seq"])
    assert stage(chair_session)["note"] == "Taken back: mouth mirror, returned."
    assert session_view(chair_session)["undo"]["what"] == "mouth mirror, asked for"
    say(chair_session, "undo that")
    assert stage(chair_session)["note"] == "Taken back: mouth mirror, asked for."
    chair_session.undo()
    assert stage(chair_session)["note"] == "There is nothing to undo."


def test_an_undo_that_was_meant_for_something_earlier_takes_nothing_back(chair_session: ChairSession) -> None:
    say(chair_session, "mouth mirror please")
    shown = session_view(chair_session)["undo"]["seq"]
    say(chair_session, "cotton pliers please")
    chair_session.undo(seq=shown)
    assert stage(chair_session)["note"] == "Nothing taken back: since then came cotton pliers, asked for."
    assert set(chair_session.state.out) == {"mouth_mirror", "cotton_pliers"}


def test_a_refusal_is_no_answer(chair_session: ChairSession) -> None:
    say(chair_session, "no more etch")
    assert stage(chair_session)["kind"] == "wait"
    assert not chair_session.state.out


def test_a_correction_takes_the_wrong_one_back(chair_session: ChairSession, clock: Clock) -> None:
    say(chair_session, "cotton pliers please")
    clock.now_s += 2
    say(chair_session, "no, the plastic instrument")
    assert chair_session.state.out == {"plastic_instrument": 1}


def test_a_timer_needs_the_makers_time_and_can_be_stopped_by_voice(chair_session: ChairSession) -> None:
    say(chair_session, "start the etch enamel timer")
    assert "No time is set" in stage(chair_session)["note"] and not chair_session.timers
    chair_session.settings = ChairSettings(maker_times={"etch": 15})
    say(chair_session, "start the etch timer")
    assert (
        stage(chair_session)["note"].startswith("Which timer: etch enamel or etch dentine?")
        and not chair_session.timers
    )
    say(chair_session, "start the etch enamel timer")
    assert [timer.name for timer in chair_session.timers] == ["etch enamel"]
    say(chair_session, "stop the timer")
    assert not chair_session.timers


def test_what_is_typed_and_unknown_is_told_to_be_unknown(chair_session: ChairSession) -> None:
    assert chair_session.ask("flux capacitor")
    assert stage(chair_session)["kind"] == "note"
    assert kinds(chair_session) == [EventKind.OPENED]


def test_a_restart_in_mid_session_loses_nothing(
    chair_session: ChairSession, tmp_path: Path, clock: Clock
) -> None:
    for text in ("mouth mirror please", "spoon excavator please", "mirror back"):
        clock.now_s += 10
        say(chair_session, text)
    before = session_view(chair_session)
    clock.now_s += 3
    again = house_at(tmp_path, clock).chair_session(chair_session.session.id)
    after = session_view(again)
    for same in ("places", "out", "next", "step", "events"):
        assert after[same] == before[same]
    assert again.state.holdings == chair_session.state.holdings
    assert [a["item"] for a in after["stage"]["answers"]] == ["spoon_excavator"]


def test_a_question_is_asked_again_after_a_restart(
    chair_session: ChairSession, tmp_path: Path, clock: Clock
) -> None:
    say(chair_session, "the burnisher please")
    again = house_at(tmp_path, clock).chair_session(chair_session.session.id)
    assert "ask once more" in session_view(again)["stage"]["note"]


def test_settings_of_a_chair_outlive_a_restart(
    chair_session: ChairSession, tmp_path: Path, clock: Clock
) -> None:
    running = house_at(tmp_path, clock)
    running.set_up(
        running.chair_session(chair_session.session.id), ChairSettings(operator_handed="left", arch="upper")
    )
    assert (
        house_at(tmp_path, clock).chair_session(chair_session.session.id).settings.operator_handed == "left"
    )
    following = house_at(tmp_path, clock).open("sealant", None)
    # A session for no specific dentist begins as the clinic has it, never as the last chair was.
    assert (following.settings.operator_handed, following.settings.arch) == ("right", None)


def test_a_closed_session_hears_nothing(chair_session: ChairSession) -> None:
    chair_session.close(override=Override("Dr Green", "Only a rehearsal."))
    assert not say(chair_session, "mouth mirror please")
    with pytest.raises(Declined, match="closed"):
        chair_session.ask("mouth mirror")


def test_nothing_that_was_said_is_shown_or_kept(chair_session: ChairSession) -> None:
    say(chair_session, "could you please hand me the pickups")
    assert "pickups" not in str(session_view(chair_session)) + str(effective(chair_session.state.events))


def test_what_is_guessed_in_a_pause_is_acted_on_soon_only_if_it_is_whole(chair_session: ChairSession) -> None:
    assert chair_session.enough_s(hearing_of("Can I have the cotton pliers?")) == WHOLE_S
    assert chair_session.enough_s(hearing_of("the clamp")) == OPEN_S  # forceps
    assert chair_session.enough_s(hearing_of("the burnisher")) == OPEN_S  # to be checked
    assert chair_session.enough_s(hearing_of("not yet")) is None
    assert chair_session.enough_s(hearing_of("the second one")) is None
    before = session_view(chair_session)
    say(chair_session, "the burnisher")
    assert chair_session.enough_s(hearing_of("the second one")) == WHOLE_S
    assert session_view(chair_session)["number"] == before["number"] + 1


def test_a_guess_changes_nothing(chair_session: ChairSession) -> None:
    before = session_view(chair_session)
    chair_session.enough_s(hearing_of("Can I have the cotton pliers?"))
    assert session_view(chair_session) == before


def test_which_size_is_asked_where_the_tray_holds_several_and_kept_in_the_log(
    chair_session: ChairSession,
) -> None:
    held = clamps(chair_session)
    say(chair_session, "the dam clamp please")
    shown = stage(chair_session)
    assert [(c["item"], c["size"]) for c in shown["choices"]] == [("dam_clamp", size) for size in held]
    say(chair_session, f"the {held[1]} clamp")
    (answer,) = stage(chair_session)["answers"]
    assert (answer["item"], answer["size"]) == ("dam_clamp", held[1])
    assert [e.size for e in chair_session.state.events if e.verdict == "answer"] == [held[1]]


def test_a_size_that_is_said_is_answered_and_one_that_does_not_lie_there_is_told(
    chair_session: ChairSession,
) -> None:
    held = clamps(chair_session)
    say(chair_session, f"{held[0]} clamp please")
    (answer,) = stage(chair_session)["answers"]
    assert (answer["size"], answer["warning"], answer["slot"] is not None) == (held[0], None, True)
    chair = chair_session.chair
    other = next(v.text for v in chair.pack.item("dam_clamp").variants if v.text not in held)
    say(chair_session, f"the {other} clamp please")
    (answer,) = stage(chair_session)["answers"]
    assert answer["size"] == other and answer["slot"] is None
    assert all(size in answer["warning"] for size in held)


def test_what_fell_is_asked_for_again_with_a_sterile_spare(chair_session: ChairSession) -> None:
    say(chair_session, "cotton pliers please")
    say(chair_session, "that one fell")
    say(chair_session, "cotton pliers please")
    (answer,) = stage(chair_session)["answers"]
    assert "sterile spare" in answer["warning"]


def test_in_a_latex_free_session_latex_is_never_lit_without_the_warning(chair_session: ChairSession) -> None:
    chair_session.mark_latex_free(True)
    assert session_view(chair_session)["latex_free"]
    asks: list[Callable[[], object]] = [
        lambda: say(chair_session, "latex dam please"),
        lambda: chair_session.request("dam_sheet"),
    ]
    for ask in asks:
        ask()
        shown = stage(chair_session)
        assert shown["kind"] == "check" and "latex-free" in shown["warning"] and not shown["answers"]
    say(chair_session, "yes")
    assert not stage(chair_session)["answers"] and chair_session.state.of("dam_sheet").out == 1
    say(chair_session, "another one")
    assert not stage(chair_session)["answers"]
    say(chair_session, "latex-free dam please")
    assert [a["item"] for a in stage(chair_session)["answers"]] == ["dam_sheet_latex_free"]
    chair_session.mark_latex_free(False)
    chair_session.request("dam_sheet")
    assert [a["item"] for a in stage(chair_session)["answers"]] == ["dam_sheet"]


@pytest.mark.parametrize("text", ["needle stick", "I got stuck", "I've been stuck."])
def test_after_a_needle_stick_the_clinics_card_opens(chair_session: ChairSession, text: str) -> None:
    say(chair_session, text)
    shown = stage(chair_session)
    assert shown["kind"] == "injury" and shown["lines"] and not chair_session.state.out
    assert EventKind.INJURY_CARD in kinds(chair_session)
    chair_session.close_injury_card()
    assert stage(chair_session)["kind"] != "injury"


def test_a_faculty_check_waits_until_somebody_has_looked(chair_session: ChairSession) -> None:
    for item in ("shade_guide", "spoon_excavator", "etchant", "curing_light", "mouth_mirror", "hand_mirror"):
        chair_session.request(item)
    step = chair_session.faculty_check
    assert step is not None and session_view(chair_session)["faculty"] == step.name
    say(chair_session, "checked")
    assert step.id in chair_session.state.steps
    assert chair_session.faculty_check is None or chair_session.faculty_check.id != step.id


def test_checked_means_nothing_where_nobody_waits_for_it(chair_session: ChairSession) -> None:
    assert chair_session.faculty_check is None
    assert not say(chair_session, "checked", evidence=-20.0)
    assert EventKind.STEP not in kinds(chair_session)


@pytest.mark.parametrize("ask", [ChairSession.ask, say], ids=["typed", "heard"])
def test_what_came_back_and_what_is_asked_for_may_be_said_in_one_breath(
    chair_session: ChairSession, ask: Callable[[ChairSession, str], bool]
) -> None:
    chair_session.request("mouth_mirror")
    assert ask(chair_session, "mirror back, explorer please")
    assert chair_session.state.out == {"explorer_shepherd": 1}
    assert [answer["item"] for answer in stage(chair_session)["answers"]] == ["explorer_shepherd"]


# --- what is known of an item, and putting a mistake right -----------------------------------------


def known(chair_session: ChairSession, item: str) -> dict[str, Any]:
    shown: dict[str, Any] = session_view(chair_session)["known"][item]
    return shown


def test_what_was_asked_for_by_mistake_is_taken_back(chair_session: ChairSession) -> None:
    say(chair_session, "mouth mirror please")
    say(chair_session, "spoon excavator please")
    assert "asked for" in known(chair_session, "mouth_mirror")["sentence"]
    assert "not_asked" in {one["kind"] for one in known(chair_session, "mouth_mirror")["likely"]}
    assert chair_session.not_asked("mouth_mirror")
    assert chair_session.state.out == {"spoon_excavator": 1}
    assert "mouth mirror" in stage(chair_session)["note"]
    assert chair_session.not_asked("mouth_mirror")
    assert "No request" in stage(chair_session)["note"]
    with pytest.raises(Declined):
        chair_session.not_asked("no_such_item")


def all_out(chair_session: ChairSession, item: str) -> int:
    """Pass every piece; how many there were."""
    laid = chair_session.state.of(item).clean
    chair_session.touch(EventKind.PASSED, item, laid)
    return laid


def test_asking_again_for_what_is_all_out_is_not_one_more_out(chair_session: ChairSession) -> None:
    laid = all_out(chair_session, "sectional_matrix")
    for text in ("sectional matrix please", "two sectional matrices please", "sectional matrix"):
        say(chair_session, text)
    assert chair_session.state.of("sectional_matrix").total == laid
    assert chair_session.state.out == {"sectional_matrix": laid}


@pytest.mark.parametrize("text", ["another sectional matrix please", "one more sectional matrix please"])
def test_another_one_beyond_what_was_laid_is_brought_and_taken_back_as_a_whole(
    chair_session: ChairSession, text: str
) -> None:
    laid = all_out(chair_session, "sectional_matrix")
    say(chair_session, text)
    assert chair_session.state.out == {"sectional_matrix": laid + 1}
    (answer,) = stage(chair_session)["answers"]
    assert "fetch a sterile spare" in answer["warning"]
    chair_session.undo()
    assert chair_session.state.of("sectional_matrix").total == laid


def test_another_one_of_those_that_lie_there_is_not_brought(chair_session: ChairSession) -> None:
    say(chair_session, "sectional matrix please")
    total = chair_session.state.of("sectional_matrix").total
    say(chair_session, "another one please")
    held = chair_session.state.of("sectional_matrix")
    assert (held.out, held.total) == (2, total)
