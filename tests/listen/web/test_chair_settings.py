"""Whose hand a chair is set up for: the dentist's, whichever chair was set up last."""

from pathlib import Path

import pytest

from listen.chairside.handing import ChairSettings
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from tests.listen.web.desk_app import Clock, StandIn, shared_chair

LEFT = ChairSettings(operator_handed="left", operator_clock=3, arch="upper", maker_times={"etch": 15.0})
OLD = """{
 "1": {"operator_handed": "left", "arch": "lower", "operator_clock": 3, "maker_times": {"etch": 20.0}},
 "usual": {"operator_handed": "left", "arch": null, "operator_clock": 3, "maker_times": {"etch": 20.0}}
}"""
"""As chairs.json was written before hands belonged to dentists."""


@pytest.fixture
def house(tmp_path: Path) -> Sessions:
    return house_at(tmp_path)


def house_at(folder: Path) -> Sessions:
    return Sessions(shared_chair, ServerSettings(data=folder, clock=Clock()), StandIn)


def settings_of_next(house: Sessions, dentist: str | None) -> ChairSettings:
    return house.open("sealant", None, dentist).settings


def test_one_dentists_hand_is_not_anothers(house: Sessions) -> None:
    house.set_up(house.open("sealant", None, "grey"), LEFT)
    assert settings_of_next(house, "brown").operator_handed == "right"
    assert settings_of_next(house, "brown").operator_clock is None
    assert settings_of_next(house, None).operator_handed == "right"
    assert settings_of_next(house, "grey").operator_handed == "left"


def test_a_dentists_hand_stays_when_others_set_up_their_chairs(house: Sessions) -> None:
    house.set_up(house.open("sealant", None, "grey"), LEFT)
    house.set_up(house.open("sealant", None, "brown"), ChairSettings(operator_handed="right"))
    house.set_up(house.open("sealant", None), ChairSettings(operator_handed="right"))
    assert settings_of_next(house, "grey").operator_handed == "left"


def test_a_dentists_next_session_begins_with_hand_and_place_but_no_arch(house: Sessions) -> None:
    house.set_up(house.open("sealant", None, "grey"), LEFT)
    following = settings_of_next(house, "grey")
    assert (following.operator_handed, following.operator_clock, following.arch) == ("left", 3, None)


def test_makers_times_belong_to_the_clinic_whoever_enters_them(house: Sessions) -> None:
    house.set_up(house.open("sealant", None, "grey"), LEFT)
    assert settings_of_next(house, "brown").maker_times == {"etch": 15.0}
    assert settings_of_next(house, None).maker_times == {"etch": 15.0}
    house.set_up(house.open("sealant", None), ChairSettings(maker_times={"etch": 20.0}))
    assert settings_of_next(house, "grey").maker_times == {"etch": 20.0}


def test_a_dentists_hand_outlives_a_restart(house: Sessions, tmp_path: Path) -> None:
    house.set_up(house.open("sealant", None, "grey"), LEFT)
    assert settings_of_next(house_at(tmp_path), "grey").operator_handed == "left"


def test_whether_faculty_looks_is_kept_for_every_chair(house: Sessions) -> None:
    house.set_up(house.open("sealant", None, "grey"), ChairSettings(faculty=False))
    assert not settings_of_next(house, "brown").faculty
    assert not settings_of_next(house, None).faculty


def test_settings_kept_before_hands_belonged_to_dentists_open_as_before(tmp_path: Path) -> None:
    house_at(tmp_path).open("sealant", None)
    (tmp_path / "chairs.json").write_text(OLD)
    house = house_at(tmp_path)
    assert house.room(1).settings.arch == "lower" and house.room(1).settings.operator_handed == "left"
    nobody = settings_of_next(house, None)
    assert (nobody.operator_handed, nobody.operator_clock) == ("left", 3)
    known = settings_of_next(house, "grey")
    assert (known.operator_handed, known.maker_times) == ("right", {"etch": 20.0})
