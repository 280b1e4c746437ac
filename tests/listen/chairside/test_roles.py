"""Who fetches what: the tray and the chair's reach, or the counter and the room."""

from pathlib import Path

from listen.chairside.roles import Role, fetched_by, within_reach
from listen.chairside.view import session_view
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from tests.listen.web.desk_app import Clock, StandIn, shared_chair
from vocab.pack.schema import KitPlace


def test_what_is_on_the_counter_or_not_here_is_fetched_by_the_rover() -> None:
    tray = shared_chair().pack.tray("composite_class_two")
    counter = [kit for kit in tray.opened if kit.place is KitPlace.COUNTER]
    assert counter, "the tray of this test needs a kit on the counter"
    assert fetched_by(tray, counter[0].on_tray[0].at) is Role.ROVING
    assert fetched_by(tray, tray.rows[0].slots[0].at) is Role.CHAIRSIDE
    assert all(fetched_by(tray, slot.at) is Role.CHAIRSIDE for slot in tray.chair_side)
    assert fetched_by(tray, None) is Role.ROVING
    assert fetched_by(None, None) is Role.CHAIRSIDE
    assert tray.rows[0].slots[0].item in within_reach(tray)


def test_the_view_says_who_fetches_what_was_asked_for_and_what_the_rover_may_need_next(
    tmp_path: Path,
) -> None:
    running = Sessions(shared_chair, ServerSettings(data=tmp_path, clock=Clock()), StandIn)
    chair_session = running.open("composite_class_two", None)
    tray = chair_session.chair.tray
    assert tray is not None
    to_fetch = session_view(chair_session)["to_fetch"]
    assert to_fetch and all(one["by"] == "roving" for one in to_fetch)
    assert not {one["item"] for one in to_fetch} & within_reach(tray)
    chair_session.ask("mouth mirror")
    assert [one["by"] for one in session_view(chair_session)["stage"]["answers"]] == ["chairside"]
    chair_session.ask("amalgam carrier")  # on another tray
    assert [one["by"] for one in session_view(chair_session)["stage"]["answers"]] == ["roving"]
