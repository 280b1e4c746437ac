"""Trainees' data as JSON and CSV: what goes out comes back, and what is wrong is named and not taken in."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from listen.practice.played import Played
from listen.practice.store import Observed, PracticeStore, StoreError, sqlite_url
from listen.practice.topics import Drill, Topic
from listen.practice.transfer import CannotRead, csv_of, json_of, read
from tests.listen.practice.classroom import CLASS_TWO, NOON, answer, days

WEDGE = Topic(Drill.SLOT, "wedge", CLASS_TWO).key
PLAYED = Played(
    "rehearsal-1", NOON, "operative", CLASS_TWO, 2, 12, 11, 1, 0, 0, 2.5, 20, 20, 300.0, {"lines": [1, 2]}
)
MIRROR = Topic(Drill.NAME, "mouth_mirror").key


@pytest.fixture
def store(tmp_path: Path) -> PracticeStore:
    """Ann with answers, an objection and an observation; Ben with one answer."""
    store = PracticeStore(sqlite_url(tmp_path / "practice.sqlite"))
    for name in ("Ann", "Ben"):
        store.add(name, NOON)
    for n in range(4):
        store.record("Ann", answer(WEDGE, n != 1, NOON + days(n), asked_name="wedge", response_s=1.5 + n))
        store.record("Ann", answer(MIRROR, n > 1, NOON + days(n), choice="explorer" if n < 2 else None))
    store.record("Ben", answer(MIRROR, True))
    store.object_to("Ann", answer(WEDGE, False, NOON + days(1)).token)
    store.keep("Ann", PLAYED)
    store.observe("Ann", Observed("operative:passes_handle", True, "Dr Lee", NOON))
    return store


def counted(store: PracticeStore) -> Any:
    """All that the reports tell, in whatever order."""
    tallies, now = store.tallies, NOON + days(5)
    return (
        tallies.trainees(now), {*tallies.items()}, {*tallies.names()}, {*tallies.missed()},
        tallies.memories(), tallies.latest_firsts(), tallies.confusions(), {*store.reviews()},
    )  # fmt: skip


def test_export_delete_import_is_as_before(store: PracticeStore) -> None:
    before, kept = counted(store), store.export("Ann")
    deck, seen = store.deck("Ann"), store.observations("Ann")
    store.remove("Ann")
    assert counted(store) != before
    assert store.take_in(read(json_of([kept]).encode()), NOON + days(9)) == ("Ann",)
    assert counted(store) == before and store.deck("Ann") == deck and store.observations("Ann") == seen
    assert [one for _, one in store.rehearsals("Ann")] == [PLAYED]
    assert store.tallies.rehearsals() == (("Ann", "operative", CLASS_TWO, 12, 11),)
    assert store.export("Ann") == kept and len(store.objections()) == 1


def test_a_class_goes_to_another_machine_whole(store: PracticeStore, tmp_path: Path) -> None:
    other = PracticeStore(sqlite_url(tmp_path / "other.sqlite"))
    exports = [store.export(name) for name in store.trainees()]
    assert other.take_in(read(json_of(exports).encode()), NOON) == ("Ann", "Ben")
    assert counted(other) == counted(store)


def test_answers_go_through_a_spreadsheet(store: PracticeStore, tmp_path: Path) -> None:
    store.add("=Eve", NOON)
    store.record("=Eve", answer(MIRROR, False, asked_name="+1"))
    text = csv_of([store.export(name) for name in store.trainees()])
    assert "\n'=Eve," in text and ",'+1," in text
    other = PracticeStore(sqlite_url(tmp_path / "other.sqlite"))
    assert set(other.take_in(read(("\ufeff" + text).encode()), NOON)) == {"Ann", "Ben", "=Eve"}
    assert {*other.reviews()} == {*store.reviews()} and other.tallies.memories() == store.tallies.memories()
    assert other.observations("Ann") == ()


@pytest.mark.parametrize("name", ["Ann", "ANN", " ann "])
def test_nobody_is_overwritten_and_nothing_half_taken(store: PracticeStore, name: str) -> None:
    export = store.export("Ben")
    before = counted(store)
    with pytest.raises(StoreError, match="Ann is here already"):
        store.take_in(
            read(json_of([{**export, "trainee": "New"}, {**export, "trainee": name}]).encode()), NOON
        )
    assert counted(store) == before and store.trainees() == ("Ann", "Ben")


def test_a_name_that_stands_in_a_file_twice_is_refused(store: PracticeStore) -> None:
    export = {**store.export("Ben"), "trainee": "New"}
    with pytest.raises(StoreError, match="more than once"):
        store.take_in(read(json_of([export, {**export, "trainee": "NEW"}]).encode()), NOON)


def spoilt(change: Callable[[dict[str, Any]], object], store: PracticeStore) -> bytes:
    kept = store.export("Ann")
    change(kept)
    return json.dumps(kept).encode()


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda kept: kept["answers"][2].update(rating=9), "Ann answer 3 rating"),
        (lambda kept: kept["answers"][0].update(at="yesterday"), "Ann answer 1 at"),
        (lambda kept: kept["answers"][0].update(at="2024-03-04T12:00:00"), "Ann answer 1 at"),
        (lambda kept: kept["answers"][1].pop("topic"), "Ann answer 2 topic: field required"),
        (lambda kept: kept["answers"][1].update(response_s=float("nan")), "Ann answer 2 response_s"),
        (lambda kept: kept["observations"][0].update(observer=""), "Ann observation 1 observer"),
        (lambda kept: kept["rehearsals"][0].update(right=-1), "Ann rehearsal 1 right"),
        (lambda kept: kept.update(trainee="x" * 99), "1 to 40 plain characters"),
        (lambda kept: kept.update(later=1), "Ann later"),
        (lambda kept: kept["answers"].append(kept["answers"][0]), "stands in the file twice"),
    ],
)
def test_each_mistake_is_named_where_it_stands(
    store: PracticeStore, change: Callable[[dict[str, Any]], object], told: str
) -> None:
    with pytest.raises(CannotRead) as refused:
        read(spoilt(change, store))
    assert told in str(refused.value) and "nothing was taken in" in str(refused.value)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"\xff\xfe\x00", "not text in UTF-8"),
        (b'{"trainee": ', "damaged"),
        (b"[]", "no file of practice"),
        (b'{"trainees": []}', "nothing was taken in"),
        (b"name;answer\n", "the first line lacks trainee"),
        (b"", "the first line lacks trainee"),
    ],
)
def test_a_file_that_is_none_is_told_so(data: bytes, told: str) -> None:
    with pytest.raises(CannotRead, match=told):
        read(data)


def test_a_wrong_line_of_a_spreadsheet_is_named_by_its_number(store: PracticeStore) -> None:
    lines = csv_of([store.export("Ann")]).splitlines()
    lines[3] = lines[3].replace(",True,", ",perhaps,").replace(",False,", ",perhaps,", 1)
    with pytest.raises(CannotRead, match=r"Ann answer line 4 right: .*boolean"):
        read("\n".join(lines).encode())
