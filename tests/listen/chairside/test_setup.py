"""The set-up check: in order in one touch, exceptions singly."""

from pathlib import Path

import pytest

from listen.chairside.count import SETUP_CHECKS
from listen.chairside.session import ChairSession
from listen.chairside.setup import all_in_order, set_up_of
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from tests.listen.web.desk_app import Clock, StandIn, shared_chair


@pytest.fixture
def chair_session(tmp_path: Path) -> ChairSession:
    running = Sessions(shared_chair, ServerSettings(data=tmp_path, clock=Clock()), StandIn)
    return running.open("sealant", None)


def test_everything_in_order_and_the_answer_on_latex_leave_nothing_open(chair_session: ChairSession) -> None:
    assert set_up_of(chair_session).in_words == "6 of 6 questions are open."
    all_in_order(chair_session)
    assert set_up_of(chair_session).in_words == "1 of 6 questions are open."
    chair_session.mark_latex_free(False)
    assert set_up_of(chair_session).ready
    assert set_up_of(chair_session).in_words == "Everything is answered, and in order."


def test_a_no_stays_when_the_rest_is_in_order_and_says_what_to_do(chair_session: ChairSession) -> None:
    chair_session.check_setup("in_date", False)
    all_in_order(chair_session)
    chair_session.mark_latex_free(True)
    setup = set_up_of(chair_session)
    assert [check.id for check in setup.problems] == ["in_date"] and not setup.open
    assert setup.in_words.startswith("Not ready. Remove and replace it.") and not setup.ready
    assert sum(setup.answers[check.id] for check in SETUP_CHECKS) == len(SETUP_CHECKS) - 1
