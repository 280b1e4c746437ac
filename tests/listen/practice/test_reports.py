"""What faculty and trainees see: progress, class, hardest, unknown names, confusions, CSV, sign-off."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fsrs import Rating
from statsmodels.stats.proportion import proportion_confint

from listen.practice.facts import Observation, facts_beside
from listen.practice.progress import mixed_up, progress
from listen.practice.reports import (
    class_overview,
    confusion,
    csv_text,
    first_answers,
    hardest_items,
    hardest_names,
    name_weights,
    names_nobody_knows,
)
from listen.practice.schedule import reviewed
from listen.practice.signoff import SignOff, Thresholds, Watched, sign_off, write_sheet
from listen.practice.store import Observed, PracticeStore, Review, sqlite_url
from listen.practice.tallies import Tallies, TraineeTally
from listen.practice.topics import Drill, Topic, curriculum
from tests.listen.practice.classroom import CLASS_TWO, NOON, answer, days, facts, pack
from vocab.pack.load import shipped_names, shipped_pack

Counted = Callable[[list[Review]], Tallies]

CARVER, CARRIER = "hollenback_carver", "amalgam_carrier"
NAME = Topic(Drill.NAME, CARVER).key
SLOT = Topic(Drill.SLOT, CARVER, CLASS_TWO).key
PAIR = Topic(Drill.APART, f"{CARRIER}+{CARVER}").key


def review(trainee: str, topic: str, right: bool, day: float = 0, **more: object) -> Review:
    return Review(trainee, answer(topic, right, NOON + days(day), **more))  # type: ignore[arg-type]


def test_only_the_first_answer_of_a_day_counts() -> None:
    reviews = [review("A", NAME, False), review("A", NAME, True, 0.01), review("A", NAME, True, 1)]
    assert [r.answer.right for r in first_answers(reviews)] == [False, True]


@pytest.fixture
def counted(tmp_path: Path) -> Iterator[Counted]:
    """Keeps answers in a store and counts them there."""
    store = PracticeStore(sqlite_url(tmp_path / "practice.sqlite"))

    def count(reviews: list[Review]) -> Tallies:
        for one in reviews:
            store.add(one.trainee, NOON)
            store.record(one.trainee, one.answer)
        return store.tallies

    yield count
    store.close()


def test_the_class_is_shown_with_wilson_intervals(counted: Counted) -> None:
    """The interval is that of statsmodels (`proportion_confint`, method wilson)."""
    reviews = [review("A", NAME, day > 2, day, response_s=2.0 + day) for day in range(9)]
    reviews.append(review("A", NAME, False, 8.1))
    counted([review("B", NAME, True)])
    rows = class_overview(counted(reviews).trainees(NOON + days(60)))
    first, second = rows
    assert (first.trainee, first.answers, first.firsts, first.due) == ("A", 10, 9, 1)
    assert (first.low, first.high) == pytest.approx(proportion_confint(6, 9, method="wilson"))
    assert first.response_s == 7.5 and first.last == NOON + days(8.1) and first.code == "none yet"
    assert (second.trainee, second.answers, second.known, second.response_s) == ("B", 1, 1, None)


def test_who_has_not_answered_yet_stands_in_the_class(counted: Counted) -> None:
    tallies = counted([review("Ann", NAME, True)])
    tallies.trainees(NOON)
    (row,) = class_overview([TraineeTally("Ben", True)])
    assert (row.trainee, row.answers, row.last, row.code) == ("Ben", 0, None, "chosen")


def test_the_median_time_of_an_odd_number_is_the_middle_one(counted: Counted) -> None:
    reviews = [review("A", NAME, True, day, response_s=s) for day, s in enumerate((9.0, 1.0, 4.0))]
    assert counted(reviews).trainees(NOON)[0].response_s == 4.0


def test_the_hardest_item_is_the_one_that_is_surely_hard(counted: Counted) -> None:
    often = [review(f"T{i}", NAME, i % 4 == 0) for i in range(20)]
    once = [review("A", Topic(Drill.NAME, "wedge").key, False)]
    rows = hardest_items(counted([*often, *once]).items(), pack())
    assert [row.item for row in rows] == [CARVER, "wedge"]
    assert rows[0].trainees == 20 and rows[0].wrong == 0.75


def test_the_pair_tells_which_of_the_two_was_mistaken(counted: Counted) -> None:
    wrong = counted([review("A", PAIR, False, choice=CARVER)])
    assert [row.item for row in hardest_items(wrong.items(), pack())] == [CARRIER]
    both = counted([review("A", PAIR, True, 1, choice=CARVER)])
    assert {row.item for row in hardest_items(both.items(NOON.date() + days(1)), pack())} == {CARVER}


def test_what_is_no_longer_in_the_vocabulary_is_left_out(counted: Counted) -> None:
    tallies = counted(
        [review("A", "name::gone", False), review("A", "dance::x", False), review("A", "x", True)]
    )
    assert hardest_items(tallies.items(), pack()) == ()
    assert tallies.trainees(NOON)[0].answers == 3


def test_names_that_nobody_knows_are_listed(counted: Counted) -> None:
    names = [name.text for name in pack().item(CARVER).own_names[:2]]
    reviews = [review(t, SLOT, False, i, asked_name=names[0]) for i, t in enumerate("ABC")]
    reviews += [review(t, SLOT, t == "C", i, asked_name=names[1]) for i, t in enumerate("ABC")]
    reviews += [review("C", SLOT, False, 9, asked_name="a name that is gone")]
    tallies = counted([replace(r, answer=replace(r.answer, token=str(n))) for n, r in enumerate(reviews)])
    (row,) = names_nobody_knows(tallies.requests(), pack())
    assert (row.item, row.name, row.asked, row.trainees, row.known_by) == (CARVER, names[0], 3, 3, 0)
    assert [r.name for r in hardest_names(tallies.names(), pack())][:1] == names[:1]


def test_a_name_counts_as_known_by_who_knew_it_last(counted: Counted) -> None:
    name = pack().item(CARVER).name.text
    reviews = [review("A", SLOT, right, i, asked_name=name) for i, right in enumerate((True, False, False))]
    assert [row.name for row in names_nobody_knows(counted(reviews).requests(), pack())] == [name]


def test_the_first_answer_of_the_latest_day_says_what_is_known(counted: Counted) -> None:
    given = ((0, False), (2, True), (2.01, False))
    reviews = [review("A", NAME, right, day) for day, right in given]
    assert counted(reviews).latest_firsts() == {("A", NAME): True}


def test_names_that_were_missed_are_asked_more() -> None:
    reviews = [
        review("A", SLOT, False, asked_name="carver"),
        review("A", SLOT, True, 1, asked_name="Hollenback"),
    ]
    weights = name_weights(reviews, CARVER)
    assert weights["carver"] > 1 > weights["Hollenback"]


def test_the_confusion_matrix_counts_what_was_answered_for_what(counted: Counted) -> None:
    reviews = [
        review("A", NAME, False, choice=CARRIER),
        review("B", NAME, True, choice=CARVER),
        review("C", NAME, False, choice=None),
        review("A", PAIR, False, choice=CARVER),
        review("A", SLOT, False, choice="5"),
    ]
    found = confusion(counted(reviews).confusions(), pack())
    place = {item: i for i, item in enumerate(found.items)}
    wanted = np.zeros((2, 2), np.int64)
    wanted[place[CARVER], place[CARRIER]] = wanted[place[CARVER], place[CARVER]] = 1
    wanted[place[CARRIER], place[CARVER]] = 1
    assert (found.counts == wanted).all()
    assert mixed_up([r.answer for r in reviews])[0].count == 1


def test_csv_has_one_row_a_trainee_and_runs_no_formula() -> None:
    tallies = [TraineeTally("=1+2", False), TraineeTally("Zoë, B", False)]
    rows = list(csv.DictReader(io.StringIO(csv_text(class_overview(tallies)))))
    assert [row["trainee"] for row in rows] == ["'=1+2", "Zoë, B"]
    assert csv_text([]) == ""


# --- one trainee ------------------------------------------------------------------------------------------


def test_progress_says_what_is_known_how_fast_and_what_will_be_left() -> None:
    topics = curriculum(pack(), facts())
    answers = [
        answer(NAME, False, NOON, choice=CARRIER, response_s=9.0),
        answer(NAME, True, NOON + days(1), response_s=3.0),
        answer(NAME, True, NOON + days(2), response_s=2.0),
    ]
    card = None
    for given in answers:
        card = reviewed(card, Rating(given.rating), given.at)
    assert card is not None
    found = progress(topics, {NAME: card}, answers, NOON + days(2))
    names = next(s for s in found.standings if s.drill is Drill.NAME)
    assert (names.asked, names.response_s) == (1, 2.5)
    assert found.mixed[0].answered == CARRIER
    expected = [p for _, p in found.forecast]
    assert expected == sorted(expected, reverse=True) and expected[0] == 1.0
    assert sum(found.due) == 1 and found.topics == len(topics)


def test_a_trainee_who_never_practised_has_no_progress() -> None:
    found = progress(curriculum(pack(), facts()), {}, [], NOON)
    assert (found.known, found.answers, found.last) == (0, 0, None)


# --- sign-off ---------------------------------------------------------------------------------------------


def sheet(seen: bool = True, **thresholds: Any) -> SignOff:
    topics = curriculum(pack(), facts(), CLASS_TWO, [Drill.NAME])
    deck = {t.key: reviewed(None, Rating.Good, NOON) for t in topics}
    reviews = [review("Łukasz", t.key, True, response_s=2.0) for t in topics]
    observed = [Observed(p.id, seen, "Dr. K", NOON) for p in facts().checklist]
    wanted = replace(Thresholds(), **thresholds)
    return sign_off(
        "Łukasz", "Class II", topics, deck, reviews, facts().checklist, observed, wanted, date(2024, 3, 5)
    )


def test_a_sheet_is_met_when_every_threshold_and_required_point_is() -> None:
    assert sheet().met


@pytest.mark.parametrize(
    "thresholds",
    [{"known": 1.01}, {"right": 0.99}, {"response_s": 1.0}, {"answers": 500}, {"since": date(2030, 1, 1)}],
)
def test_a_threshold_that_is_not_reached_is_shown(thresholds: dict[str, Any]) -> None:
    found = sheet(**thresholds)
    assert not found.met and any(not m.met for m in found.measures)


def test_a_quiz_alone_signs_nobody_off() -> None:
    unseen = replace(sheet(), watched=tuple(replace(w, seen=None) for w in sheet().watched))
    assert not unseen.met
    assert not sheet(seen=False).met


def test_a_sheet_never_says_that_all_is_met_where_nobody_watched_anything() -> None:
    nice_only = tuple(Watched(Observation(id="a", group="count", text="Counts."), None) for _ in range(2))
    for watched, said in (
        ((), "there is nothing to observe, because this vocabulary has no checklist"),
        (nice_only, "nobody has observed anything yet"),
    ):
        found = replace(sheet(), watched=watched)
        assert all(m.met for m in found.measures) and not found.met
        assert found.verdict.startswith("NOT all requirements are met") and said in found.verdict


def test_a_sheet_that_is_met_says_how_much_was_watched() -> None:
    points = len(facts().checklist)
    assert f"somebody watched {points} of {points} points" in sheet().verdict


def test_a_sheet_without_a_checklist_says_so_on_paper(tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf", reason="reading the sheet back needs pypdf")
    path = tmp_path / "sheet.pdf"
    write_sheet(replace(sheet(), watched=()), path)
    text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())
    assert "There is nothing to observe" in text and "NOT all requirements are met" in text
    assert "All thresholds" not in text and "Sharps" not in text


def test_who_watched_everything_stands_on_paper_once_and_otherwise_at_each_point(tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf", reason="reading the sheet back needs pypdf")

    def written(one: SignOff) -> str:
        write_sheet(one, tmp_path / "sheet.pdf")
        (page,) = pypdf.PdfReader(tmp_path / "sheet.pdf").pages  # all points on one page
        return " ".join(page.extract_text().split())

    text = written(sheet())
    assert text.count("Dr. K") == 1 and text.count("seen 2024-03-04") == len(facts().checklist)
    assert "Faculty, name and signature: ____" in text and "Trainee, signature: ____" in text
    first, *rest = sheet().watched
    by_two = replace(first, seen=Observed(first.point.id, True, "Dr. L", NOON))
    text = written(replace(sheet(), watched=(by_two, *rest)))
    assert text.count("by Dr. L") == 1 and text.count("by Dr. K") == len(rest)


@pytest.mark.parametrize("name", shipped_names())
def test_in_every_shipped_pack_passing_count_and_sharps_have_to_be_watched(name: str) -> None:
    points = facts_beside(name, shipped_pack(name)).checklist
    for group in ("passing", "count", "sharps"):
        assert any(p.must for p in points if p.group == group), group
    unseen = replace(sheet(), watched=tuple(Watched(p, None) for p in points))
    assert not unseen.met


def test_the_sheet_holds_name_date_thresholds_and_checklist(tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf", reason="reading the sheet back needs pypdf")
    path = tmp_path / "sheet.pdf"
    write_sheet(sheet(), path)
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(path).pages)
    text = " ".join(text.split())
    for wanted in (
        "Łukasz",
        "Class II",
        "2024-03-05",
        "surely 85% or more",
        "never over the face",
        "by Dr. K",
    ):
        assert wanted in text, wanted
    again = tmp_path / "again.pdf"
    write_sheet(sheet(), again)
    assert again.read_bytes() == path.read_bytes()


def test_the_sheet_prints_the_letters_of_many_languages(tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf", reason="reading the sheet back needs pypdf")
    path = tmp_path / "sheet.pdf"
    name = "Đặng Thị Ωmega Groß-Nováčková"
    write_sheet(replace(sheet(), trainee=name), path)
    reader = pypdf.PdfReader(path)
    assert name in reader.pages[0].extract_text() and reader.metadata.title == f"Sign-off: {name}"
