"""Whose hand a chair is set up for: the dentist's, whichever chair was set up last."""

from dataclasses import replace
from pathlib import Path

import pytest

from listen.chairside.handing import ChairSettings
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from tests.listen.web.desk_app import Clock, StandIn, shared_chair, surgery_chair
from vocab.layers.changes import Dentist

LEFT = ChairSettings(operator_handed="left", operator_clock=3, arch="upper", maker_times={"etch": 15.0})
OLD = """{
 "1": {"operator_handed": "left", "arch": "lower", "operator_clock": 3, "maker_times": {"etch": 20.0}},
 "usual": {"operator_handed": "left", "arch": null, "operator_clock": 3, "maker_times": {"etch": 20.0}}
}"""
"""As chairs.json was written before hands belonged to dentists."""


@pytest.fixture
def running(tmp_path: Path) -> Sessions:
    return house_at(tmp_path)


def house_at(folder: Path) -> Sessions:
    return Sessions(shared_chair, ServerSettings(data=folder, clock=Clock()), StandIn)


def settings_of_next(running: Sessions, dentist: str | None) -> ChairSettings:
    return running.open("sealant", None, dentist).settings


@pytest.mark.slow
def test_one_dentists_hand_is_not_anothers(running: Sessions) -> None:
    running.set_up(running.open("sealant", None, "grey"), LEFT)
    assert settings_of_next(running, "brown").operator_handed == "right"
    assert settings_of_next(running, "brown").operator_clock is None
    assert settings_of_next(running, None).operator_handed == "right"
    assert settings_of_next(running, "grey").operator_handed == "left"


def test_a_dentists_hand_stays_when_others_set_up_their_chairs(running: Sessions) -> None:
    running.set_up(running.open("sealant", None, "grey"), LEFT)
    running.set_up(running.open("sealant", None, "brown"), ChairSettings(operator_handed="right"))
    running.set_up(running.open("sealant", None), ChairSettings(operator_handed="right"))
    assert settings_of_next(running, "grey").operator_handed == "left"


def test_a_dentists_next_session_begins_with_hand_and_place_but_no_arch(running: Sessions) -> None:
    running.set_up(running.open("sealant", None, "grey"), LEFT)
    following = settings_of_next(running, "grey")
    assert (following.operator_handed, following.operator_clock, following.arch) == ("left", 3, None)


def test_makers_times_belong_to_the_clinic_whoever_enters_them(running: Sessions) -> None:
    running.set_up(running.open("sealant", None, "grey"), LEFT)
    assert settings_of_next(running, "brown").maker_times == {"etch": 15.0}
    assert settings_of_next(running, None).maker_times == {"etch": 15.0}
    running.set_up(running.open("sealant", None), ChairSettings(maker_times={"etch": 20.0}))
    assert settings_of_next(running, "grey").maker_times == {"etch": 20.0}


@pytest.mark.slow
def test_a_dentists_hand_outlives_a_restart(running: Sessions, tmp_path: Path) -> None:
    running.set_up(running.open("sealant", None, "grey"), LEFT)
    assert settings_of_next(house_at(tmp_path), "grey").operator_handed == "left"


def test_whether_faculty_looks_is_kept_for_every_chair(running: Sessions) -> None:
    running.set_up(running.open("sealant", None, "grey"), ChairSettings(faculty=False))
    assert not settings_of_next(running, "brown").faculty
    assert not settings_of_next(running, None).faculty


def test_a_chair_for_no_specific_dentist_begins_as_the_clinic_has_it_not_as_the_last_one(
    running: Sessions,
) -> None:
    running.set_up(running.open("sealant", None), LEFT)
    following = settings_of_next(running, None)
    assert (following.operator_handed, following.operator_clock) == ("right", None)
    assert running.chair_session(1).settings.operator_handed == "left"


def test_a_dentist_listed_in_one_vocabulary_keeps_the_hand_in_the_other(tmp_path: Path) -> None:
    listed = (Dentist(id="reed", name="Dr. Reed", hand="left"),)
    chair = replace(shared_chair(), clinic=replace(shared_chair().clinic, dentists=listed))
    running = Sessions(
        lambda: chair,
        ServerSettings(data=tmp_path, clock=Clock()),
        StandIn,
        further=[surgery_chair()],
    )
    assert running.dentists == {"reed": "Dr. Reed"}
    assert running.open("biopsy", None, "reed").settings.operator_handed == "left"
    assert running.open("biopsy", None).settings.operator_handed == "right"


@pytest.mark.slow
def test_settings_kept_before_hands_belonged_to_dentists_open_as_before(tmp_path: Path) -> None:
    house_at(tmp_path).open("sealant", None)
    (tmp_path / "chairs.json").write_text(OLD)
    running = house_at(tmp_path)
    assert (
        running.chair_session(1).settings.arch == "lower"
        and running.chair_session(1).settings.operator_handed == "left"
    )
    nobody = settings_of_next(running, None)
    assert (nobody.operator_handed, nobody.operator_clock, nobody.maker_times) == (
        "right",
        None,
        {"etch": 20.0},
    )
    known = settings_of_next(running, "grey")
    assert (known.operator_handed, known.maker_times) == ("right", {"etch": 20.0})
