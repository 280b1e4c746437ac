"""Finished sessions teach what comes next, with consent only, and can be left out again.

The habit is our own (common practice, no source): a dentist who wants the wedge before the band.
"""

from __future__ import annotations

import json
import stat
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from listen.chairside.closing import Override
from listen.chairside.consents import Consents, read_learning
from listen.chairside.events import Event, EventKind, Source
from listen.chairside.learning import (
    Consent,
    Learning,
    LearningError,
    dentist_meant,
    habits_for,
    teaching,
)
from listen.chairside.log import SessionLog
from listen.chairside.session import ChairSession
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from tests.listen.web.desk_app import Clock, StandIn, shared_chair

PROCEDURE = "amalgam_class_two"
BAND, WEDGE, PLIERS = "matrix_band", "wedge", "cotton_pliers"


def house_at(folder: Path, clock: Clock) -> Sessions:
    return Sessions(shared_chair, ServerSettings(data=folder, clock=clock), StandIn)


def opened(running: Sessions, dentist: str) -> ChairSession:
    """A session with no teacher for whom it would wait."""
    chair_session = running.open(PROCEDURE, None, dentist)
    chair_session.settings = chair_session.settings.model_copy(update={"faculty": False})
    return chair_session


def held(running: Sessions, clock: Clock, items: tuple[str, ...], dentist: str = "green") -> int:
    """A session of which every event is in the log, closed; its number."""
    chair_session = opened(running, dentist)
    for item in items:
        clock.now_s += 60
        ask(chair_session, item)
    chair_session.close(override=Override("Dr Green", "Only a rehearsal."))
    clock.now_s += 3600
    return chair_session.session.id


def ask(chair_session: ChairSession, item: str) -> None:
    """Point at it; of several sizes the first is wanted."""
    chair_session.request(item)
    if chair_session.check is not None:
        chair_session.choose(1)


def p_next(chair_session: ChairSession, item: str) -> float:
    return next((likely.p for likely in chair_session.following if likely.item == item), 0.0)


BEFORE = ("mouth_mirror", "matrix_retainer")
HABIT = (*BEFORE, WEDGE, BAND, "ball_burnisher")
USUAL = (*BEFORE, BAND, WEDGE, "ball_burnisher")


def ask_before(running: Sessions, dentist: str = "green") -> ChairSession:
    chair_session = opened(running, dentist)
    for item in BEFORE:
        ask(chair_session, item)
    return chair_session


@pytest.fixture
def clock() -> Clock:
    return Clock()


def test_after_three_sessions_the_wedge_is_expected_before_the_band(tmp_path: Path, clock: Clock) -> None:
    for dentist in ("green", "blue"):
        Consents(tmp_path).switch(True, clock.now_s, dentist)
    running = house_at(tmp_path, clock)
    p_before = p_next(ask_before(running), WEDGE) - p_next(ask_before(running), BAND)
    for _ in range(3):
        held(running, clock, HABIT, "green")
        held(running, clock, USUAL, "blue")
    again = house_at(tmp_path, clock)
    green, blue = ask_before(again, "green"), ask_before(again, "blue")
    assert green.following[0].item == WEDGE and blue.following[0].item == BAND
    assert p_next(green, WEDGE) - p_next(green, BAND) > p_before + 0.3
    ask(green, WEDGE)
    assert green.following[0].item == BAND


def test_without_consent_nothing_is_learnt(tmp_path: Path, clock: Clock) -> None:
    running = house_at(tmp_path, clock)
    before = ask_before(running).following
    for _ in range(3):
        held(running, clock, HABIT)
    Consents(tmp_path).switch(True, clock.now_s, "green")
    assert ask_before(running).following == before
    assert teaching(running.log, read_learning(tmp_path)) == ()


def test_the_dentist_is_the_one_the_screen_was_started_for(tmp_path: Path, clock: Clock) -> None:
    chair = replace(shared_chair(), options=replace(shared_chair().options, dentist="green"))
    running = Sessions(lambda: chair, ServerSettings(data=tmp_path, clock=clock), StandIn)
    assert running.open(PROCEDURE, None).session.dentist == "green"


def test_a_session_left_out_is_undone_exactly(tmp_path: Path, clock: Clock) -> None:
    learning = Learning().switched(True, clock.now_s, "green")
    running = house_at(tmp_path, clock)
    first = held(running, clock, HABIT)
    now = running.open(PROCEDURE, None, "green").session
    before = habits_for(running.log, learning, now)
    second = held(running, clock, (PLIERS,))
    later = running.open(PROCEDURE, None, "green").session
    assert len(habits_for(running.log, learning, later).sessions) == 2
    assert habits_for(running.log, learning.without(second), later) == before
    assert [s.id for s in teaching(running.log, learning.without(second))] == [first]


def test_what_was_taken_back_or_only_checked_teaches_nothing(tmp_path: Path) -> None:
    log = SessionLog(tmp_path / "log.db")
    session = log.open_session(100.0, "operative", None, "sealant", dentist="green")
    for item, verdict in ((WEDGE, "answer"), (BAND, "check"), (PLIERS, "answer")):
        log.append(Event(EventKind.ASKED, 110.0, Source.TOUCH, item=item, verdict=verdict), session.id)
    log.append(Event(EventKind.CORRECTED, 120.0, Source.TOUCH, corrects=2), session.id)
    log.append(Event(EventKind.CLOSED, 130.0, Source.TOUCH), session.id)
    following = log.open_session(200.0, "operative", None, "sealant", dentist="green")
    (taught,) = habits_for(log, Learning({"green": Consent((50.0,))}), following).sessions
    assert (taught.procedure, taught.items, taught.dentist) == ("sealant", (PLIERS,), "green")


def test_running_sessions_and_those_across_a_switch_never_count(tmp_path: Path) -> None:
    log = SessionLog(tmp_path / "log.db")
    for closed_s in (None, 300.0):
        session = log.open_session(100.0, "operative", None, "sealant")
        if closed_s is not None:
            log.append(Event(EventKind.CLOSED, closed_s, Source.TOUCH), session.id)
    learning = Learning({"": Consent((50.0, 400.0), (200.0,))})
    assert learning.of(None).is_on and teaching(log, learning) == ()
    assert [s.id for s in teaching(log, Learning({"": Consent((50.0,))}))] == [2]


def test_one_dentists_consent_is_not_anothers(tmp_path: Path, clock: Clock) -> None:
    learning = Learning().switched(True, clock.now_s, "green")
    running = house_at(tmp_path, clock)
    green, blue = (held(running, clock, HABIT, dentist) for dentist in ("green", "blue"))
    assert [s.id for s in teaching(running.log, learning)] == [green]
    both = learning.switched(True, clock.now_s, "blue")
    assert [s.id for s in teaching(running.log, both)] == [green]  # blue's was held before
    assert teaching(running.log, both.switched(False, clock.now_s, "green")) == ()
    assert blue not in both.left_out


def test_consent_given_again_lets_earlier_sessions_count_that_it_covered(
    tmp_path: Path, clock: Clock
) -> None:
    learning = Learning().switched(True, clock.now_s, "green")
    running = house_at(tmp_path, clock)
    first = held(running, clock, HABIT)
    learning = learning.switched(False, clock.now_s, "green")
    held(running, clock, HABIT)
    learning = learning.switched(True, clock.now_s, "green")
    assert [s.id for s in teaching(running.log, learning)] == [first]


# ---------------------------------------------------------------- what is kept


def test_the_setting_is_off_until_switched_on_and_outlives_a_restart(tmp_path: Path) -> None:
    assert read_learning(tmp_path).on_for == () and list(tmp_path.iterdir()) == []
    for now_s in (10.0, 20.0):
        Consents(tmp_path).switch(True, now_s, "green")
    Consents(tmp_path).leave_out(7, 7)
    kept = Consents(tmp_path).leave_out(7, 3)
    assert read_learning(tmp_path) == kept == Learning({"green": Consent((10.0,))}, (3, 7))
    assert Consents(tmp_path).switch(False, 30.0, "green").of("green") == Consent((10.0,), (30.0,))
    assert Consents(tmp_path).switch(False, 40.0, "green").of("green") == Consent((10.0,), (30.0,))


AT_ONCE = """
import sys
from pathlib import Path
from listen.chairside.consents import Consents
data, what, which = Path(sys.argv[1]), sys.argv[2], sys.argv[3]
consents = Consents(data)
print("ready", flush=True)
sys.stdin.readline()
if what == "forget":
    consents.leave_out(int(which))
else:
    consents.switch(what == "on", 500.0, which)
print("confirmed", flush=True)
"""


def at_once(data: Path, *wishes: tuple[str, str]) -> None:
    """Programs that change the setting at the same moment; each must confirm."""
    programs = [
        subprocess.Popen(
            [sys.executable, "-c", AT_ONCE, str(data), *wish],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for wish in wishes
    ]
    for program in programs:
        assert program.stdout is not None and program.stdout.readline() == "ready\n"
    for program in programs:
        assert program.stdin is not None
        program.stdin.write("go\n")
        program.stdin.flush()
    for program in programs:
        assert program.communicate()[0] == "confirmed\n"


@pytest.mark.slow
def test_of_eight_withdrawals_at_once_none_is_lost(tmp_path: Path) -> None:
    dentists = [f"dentist_{n}" for n in range(8)]
    for dentist in (*dentists, "stays"):
        Consents(tmp_path).switch(True, 10.0, dentist)
    at_once(tmp_path, *(("off", dentist) for dentist in dentists))
    learning = read_learning(tmp_path)
    assert learning.on_for == ("stays",)
    assert all(learning.of(dentist) == Consent((10.0,), (500.0,)) for dentist in dentists)


@pytest.mark.slow
def test_a_withdrawal_stays_whatever_is_changed_beside_it(tmp_path: Path) -> None:
    for dentist in ("green", "blue"):
        Consents(tmp_path).switch(True, 10.0, dentist)
    at_once(tmp_path, ("off", "green"), ("on", "red"), ("forget", "4"), ("forget", "5"), ("off", "blue"))
    learning = read_learning(tmp_path)
    assert learning.on_for == ("red",) and learning.left_out == (4, 5)


def test_many_threads_of_one_server_lose_no_withdrawal(tmp_path: Path) -> None:
    consents, dentists = Consents(tmp_path), [f"dentist_{n}" for n in range(24)]
    for dentist in dentists:
        consents.switch(True, 10.0, dentist)
    with ThreadPoolExecutor(12) as pool:
        list(pool.map(lambda dentist: consents.switch(False, 20.0, dentist), dentists))
    assert consents.learning().on_for == ()


EARLIER = {
    "consents": {"green": {"on_s": [50.0, 400.0], "off_s": [200.0]}, "": {"on_s": [60.0], "off_s": [70.0]}},
    "left_out": [3, 9],
}


def test_what_the_first_versions_kept_is_taken_over_once(tmp_path: Path) -> None:
    earlier = tmp_path / "learning.json"
    earlier.write_text(json.dumps(EARLIER))
    wanted = Learning({"green": Consent((50.0, 400.0), (200.0,)), "": Consent((60.0,), (70.0,))}, (3, 9))
    assert read_learning(tmp_path) == wanted
    assert not earlier.exists()
    assert json.loads((tmp_path / "learning.json.taken-over").read_text()) == EARLIER
    Consents(tmp_path).switch(False, 500.0, "green")
    assert read_learning(tmp_path).on_for == ()


@pytest.mark.slow
def test_several_programs_may_take_it_over_at_the_same_moment(tmp_path: Path) -> None:
    (tmp_path / "learning.json").write_text(json.dumps(EARLIER))
    at_once(tmp_path, ("off", "green"), ("forget", "3"), ("forget", "4"), ("on", "blue"))
    learning = read_learning(tmp_path)
    assert learning.on_for == ("blue",) and learning.left_out == (3, 4, 9)


def test_consent_given_anew_in_an_old_file_is_not_taken_over_a_withdrawal(tmp_path: Path) -> None:
    Consents(tmp_path).switch(True, 10.0, "green")
    Consents(tmp_path).switch(False, 20.0, "green")
    (tmp_path / "learning.json").write_text(json.dumps(EARLIER))
    assert read_learning(tmp_path).of("green") == Consent((10.0,), (20.0,))


def test_a_broken_setting_is_told_with_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "learning.json").write_text("yes")
    with pytest.raises(LearningError, match="move it away"):
        read_learning(tmp_path)
    (tmp_path / "learning.json").unlink()
    (tmp_path / "consents.db").write_text("yes " * 2000)
    with pytest.raises(LearningError, match="this is not a database and is left as it is"):
        Consents(tmp_path).switch(False, 10.0, "green")


def test_only_its_owner_reads_who_consented(tmp_path: Path) -> None:
    data = tmp_path / "data"
    Consents(data).switch(True, 10.0, "green")
    assert stat.S_IMODE(data.stat().st_mode) == 0o700
    assert stat.S_IMODE((data / "consents.db").stat().st_mode) == 0o600


@pytest.mark.slow
def test_where_consents_cannot_be_read_the_chair_goes_on_and_expects_nothing_learnt(
    tmp_path: Path, clock: Clock
) -> None:
    Consents(tmp_path).switch(True, clock.now_s, "green")
    running = house_at(tmp_path, clock)
    before = ask_before(running).following
    for _ in range(3):
        held(running, clock, HABIT)
    assert ask_before(running).following != before
    (tmp_path / "consents.db").write_text("no database " * 500)
    assert ask_before(house_at(tmp_path, clock)).following == before


@pytest.mark.slow
def test_a_withdrawal_at_a_terminal_counts_in_the_rooms_that_are_open(tmp_path: Path, clock: Clock) -> None:
    running = house_at(tmp_path, clock)
    before = ask_before(running).following
    running.consents.switch(True, clock.now_s, "green")
    for _ in range(3):
        held(running, clock, HABIT)
    chair_session = ask_before(running)
    assert chair_session.following != before
    Consents(tmp_path).switch(False, clock.now_s, "green")  # another program
    running.look_at_consents()
    assert chair_session.following == before


# ---------------------------------------------------------------- whose


KNOWN = {"green": "Dr Green", "d_7": "Dr. Łukasz Żak", "d_8": "美咲 先生", "d_9": "Dr Zoe\u0308 Gray"}


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("green", "green"), ("Dr Green", "green"), ("dr  green", "green"), ("GREEN", "green"),
        ("dr. łukasz żak", "d_7"), ("美咲 先生", "d_8"), ("Dr Zoë Gray", "d_9"), ("DR ZOE\u0308 GRAY", "d_9"),
    ],
)  # fmt: skip
def test_a_dentist_is_meant_by_id_or_by_written_name(said: str, meant: str) -> None:
    assert dentist_meant(said, KNOWN) == meant


def test_who_is_not_known_is_refused_with_who_comes_near() -> None:
    with pytest.raises(LearningError, match="no dentist is called 'Dr Grean'; did you mean Dr Green"):
        dentist_meant("Dr Grean", KNOWN)
    with pytest.raises(LearningError, match="listed: nobody; add them while setting up the clinic"):
        dentist_meant("green", {})
    with pytest.raises(LearningError, match="several dentists are called 'Dr Gray'; give one's id: a, b"):
        dentist_meant("Dr Gray", {"a": "Dr Gray", "b": "dr gray"})
