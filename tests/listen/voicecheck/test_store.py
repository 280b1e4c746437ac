"""Nothing is on the disk without consent, and nothing stays there once it is withdrawn.

The last test walks through every order in which a person may agree, withdraw, delete and measure.
"""

from __future__ import annotations

import os
import stat
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from listen.readings import Adjustment, load_calibration
from listen.voicecheck.outcome import Outcome
from listen.voicecheck.store import FILE, PURPOSE, VoiceStore, VoiceStoreError, as_flac
from tests.listen.voicecheck.rounds import NOW, line, one_read, read_round
from vocab.errors import Declined


@pytest.fixture
def store(tmp_path: Path) -> VoiceStore:
    return VoiceStore(tmp_path / "data")


def on_disk(folder: Path) -> bytes:
    """Every byte below a folder."""
    return b"".join(file.read_bytes() for file in sorted(folder.rglob("*")) if file.is_file())


@pytest.mark.parametrize(
    ("who", "agreed", "says"),
    [
        ("R. S.", False, "only if"),
        ("", True, "name or initials"),
        (" ", True, "name"),
        ("x" * 41, True, "40"),
    ],
)
def test_nothing_is_written_without_consent_and_a_name(
    store: VoiceStore, tmp_path: Path, who: str, agreed: bool, says: str
) -> None:
    with pytest.raises(Declined, match=says):
        store.keep(who, agreed, one_read(), NOW, 1.0)
    assert not (tmp_path / "data").exists()
    assert (store.people(), store.recordings(), store.measurements(), store.adopted()) == ((), (), (), None)
    store.delete(1)
    store.withdraw(1)
    store.delete_everything()
    store.switch(True)
    assert not (tmp_path / "data").exists()


def test_with_consent_a_recording_is_kept_with_its_purpose_for_its_owner_only(
    store: VoiceStore, tmp_path: Path
) -> None:
    (read,) = one_read()
    (key,) = store.keep("  R.  S. ", True, [read], NOW, 5.0)
    (person,) = store.people()
    assert (person.who, person.agreed_s, person.purpose, person.recordings) == ("R. S.", 5.0, PURPOSE, 1)
    (kept,) = store.recordings()
    assert (kept.id, kept.line, kept.at_s) == (key, read.line, 5.0)
    assert np.allclose(store.sound(key), read.sound, atol=1e-4)
    assert store.measurements()[0].outcomes == {key: Outcome.RIGHT}
    if os.name != "nt":
        assert stat.S_IMODE((tmp_path / "data" / FILE).stat().st_mode) == 0o600


def test_what_is_deleted_is_gone_from_the_disk(store: VoiceStore, tmp_path: Path) -> None:
    (read,) = one_read()
    sound = as_flac(read.sound)
    piece = sound[len(sound) // 2 :][:48]
    (key,) = store.keep("R. S.", True, [read], NOW, 5.0)
    assert piece in on_disk(tmp_path) and b"R. S." in on_disk(tmp_path)
    store.delete(key)
    assert store.people() == () and store.measurements() == ()
    assert piece not in on_disk(tmp_path) and b"R. S." not in on_disk(tmp_path)
    with pytest.raises(VoiceStoreError, match="no recording"):
        store.sound_file(key)


def test_one_person_withdraws_and_the_others_stay(store: VoiceStore) -> None:
    store.keep("R. S.", True, one_read(), NOW, 5.0)
    store.keep("T. U.", True, one_read(), NOW, 6.0)
    store.adopt(Adjustment(0.5, 1.0), "w", "told", 7.0)
    first, second = store.people()
    store.withdraw(first.id)
    assert [one.who for one in store.people()] == [second.who]
    assert [one.who for one in store.recordings()] == ["T. U."]
    assert store.adopted() is None
    with pytest.raises(VoiceStoreError, match="no such person"):
        store.withdraw(first.id)


def test_a_later_measurement_stands_beside_the_first(store: VoiceStore) -> None:
    now = read_round([(line(), Outcome.MISSED), (line("cotton_pliers"), Outcome.RIGHT)])
    keys = store.keep("R. S.", True, now.read, NOW, 5.0)
    store.note(replace(NOW, version="0.2.0"), {keys[0]: Outcome.RIGHT, 999: Outcome.RIGHT}, 9.0)
    before, after = store.measurements()
    recordings = {one.id: one for one in store.recordings()}
    assert before.tally(recordings).in_words == "1 of 2 understood"
    assert after.tally(recordings).in_words == "1 of 1 understood"
    assert (before.conditions.version, after.conditions.version) == ("0.1.0", "0.2.0")


def test_the_two_numbers_hold_for_the_weights_they_were_fitted_on_and_can_be_switched_off(
    store: VoiceStore,
) -> None:
    store.keep("R. S.", True, one_read(), NOW, 5.0)
    shipped = load_calibration()
    store.adopt(Adjustment(0.5, 2.0), shipped.checksum, "told", 7.0)
    adopted = store.adopted()
    assert adopted is not None
    assert adopted.applied(shipped).scale == 2 * shipped.scale and adopted.applied(shipped).shift == 0.5
    other = replace(shipped, request_bias=1.0)
    assert adopted.applied(other) == other
    store.switch(False)
    adopted = store.adopted()
    assert adopted is not None and adopted.applied(shipped) == shipped
    store.switch(True)
    adopted = store.adopted()
    assert adopted is not None and adopted.applied(shipped) != shipped


class _Consent(RuleBasedStateMachine):
    """A clinic in which people agree, refuse, withdraw and delete in any order."""

    folder: Path

    def __init__(self) -> None:
        super().__init__()
        self._root = self.folder / os.urandom(6).hex()
        self.store = VoiceStore(self._root)
        self.kept: dict[str, int] = {}
        self.ever = False

    @rule(who=st.sampled_from(["A", "B"]), lines=st.integers(1, 3))
    def agrees(self, who: str, lines: int) -> None:
        self.store.keep(who, True, read_round([(line(), Outcome.RIGHT)] * lines).read, NOW, 1.0)
        self.kept[who] = self.kept.get(who, 0) + lines
        self.ever = True

    @rule(who=st.sampled_from(["A", "B", ""]))
    def does_not_agree(self, who: str) -> None:
        with pytest.raises(Declined):
            self.store.keep(who, False, one_read(), NOW, 1.0)

    @rule(who=st.sampled_from(["A", "B"]))
    def withdraws(self, who: str) -> None:
        person = next((one for one in self.store.people() if one.who == who), None)
        if person is not None:
            self.store.withdraw(person.id)
            del self.kept[who]

    @rule()
    def one_is_deleted(self) -> None:
        for one in self.store.recordings()[:1]:
            self.store.delete(one.id)
            self.kept[one.who] -= 1
            if not self.kept[one.who]:
                del self.kept[one.who]

    @rule()
    def is_measured(self) -> None:
        self.store.note(
            NOW, {one.id: Outcome.ASKED for one in self.store.recordings()}, 2.0
        ) if self.ever else None

    @rule()
    def everything_is_deleted(self) -> None:
        self.store.delete_everything()
        self.kept.clear()

    @invariant()
    def only_what_was_agreed_to_is_there(self) -> None:
        assert {one.who: one.recordings for one in self.store.people()} == self.kept
        assert self._root.exists() == self.ever
        ids = {one.id for one in self.store.recordings()}
        assert len(ids) == sum(self.kept.values())
        assert all(one.outcomes and one.outcomes.keys() <= ids for one in self.store.measurements())
        if not self.kept:
            assert b"fLaC" not in on_disk(self.folder / self._root)

    def teardown(self) -> None:
        self.store.close()


def test_whatever_happens_in_whatever_order_only_what_was_agreed_to_is_kept(tmp_path: Path) -> None:
    _Consent.folder = tmp_path
    run_state_machine_as_test(
        _Consent,
        settings=settings(
            max_examples=25, stateful_step_count=12, deadline=None, suppress_health_check=list(HealthCheck)
        ),
    )
