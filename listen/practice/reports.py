"""What faculty see: the class, the hardest items and names, names nobody knows, and what is mixed up.

Takes the store's counts (`tallies`); returns rows, which `csv_text` and the pages print, and the confusion
matrix, which `matrix` draws. Shares count a trainee's first answer to a topic on a day (a later one follows
the explanation) and have Wilson intervals of 95 %. Nothing here ranks trainees for each other to see.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from listen.practice.store import Review
from listen.practice.tallies import ItemTally, NameTally, TraineeTally
from listen.practice.topics import PracticeError, item_of
from listen.shares import Share, wilson
from vocab.pack.schema import Pack

MOST_PLOTTED = 30
"""The matrix shows this many items at most, the most often mixed up first."""


@dataclass(frozen=True)
class ClassRow:
    """One trainee: answers, first answers of a day and their share right, median seconds, topics known, and
    whether they have a code of their own."""

    trainee: str
    answers: int
    firsts: int
    right: float
    low: float
    high: float
    response_s: float | None
    asked: int
    known: int
    due: int
    last: datetime | None
    code: str


@dataclass(frozen=True)
class HardRow:
    """How often an item, or a name of it, was not known: share of first answers with its interval."""

    item: str
    name: str
    firsts: int
    wrong: float
    low: float
    high: float
    trainees: int


@dataclass(frozen=True)
class NameRow:
    """A name of an item: how often it was asked, of how many trainees, and how many know it now."""

    item: str
    name: str
    asked: int
    trainees: int
    known_by: int


@dataclass(frozen=True)
class Confusion:
    """What was answered for what. counts: shape = (n, n), rows are the right items, columns the answers."""

    items: tuple[str, ...]
    counts: NDArray[np.int64]


def class_overview(tallies: Sequence[TraineeTally]) -> tuple[ClassRow, ...]:
    """One row per trainee, in the given order."""
    rows = []
    for tally in tallies:
        share = wilson(tally.right, tally.firsts)
        rows.append(
            ClassRow(
                trainee=tally.trainee,
                answers=tally.answers,
                firsts=tally.firsts,
                right=share.value,
                low=share.low,
                high=share.high,
                response_s=tally.response_s,
                asked=tally.asked,
                known=tally.known,
                due=tally.due,
                last=tally.last,
                code="chosen" if tally.has_code else "none yet",
            )
        )
    return tuple(rows)


def hardest_items(tallies: Sequence[ItemTally], pack: Pack) -> tuple[HardRow, ...]:
    """Items by how surely they are hard: the lower end of the interval of their share of wrong answers."""
    names = pack.called
    return _hard((tally, names[tally.item]) for tally in tallies if tally.item in names)


def hardest_names(tallies: Sequence[ItemTally], pack: Pack) -> tuple[HardRow, ...]:
    """The same for each name used in a request."""
    return _hard((tally, tally.name) for tally in tallies if tally.name and tally.item in pack.by_id)


def names_nobody_knows(tallies: Sequence[NameTally], pack: Pack, fewest: int = 3) -> tuple[NameRow, ...]:
    """Names of the pack, in its order, that were asked at least `fewest` times and that no trainee's latest
    answer got right."""
    met = {(tally.item, tally.name): tally for tally in tallies}
    found = (met.get((item.id, name.text)) for item in pack.items for name in item.names)
    return tuple(
        NameRow(tally.item, tally.name, tally.asked, tally.trainees, tally.known_by)
        for tally in found
        if tally is not None and tally.asked >= fewest and not tally.known_by
    )


def name_weights(reviews: Sequence[Review], item: str) -> dict[str, float]:
    """The weight of each name of an item in the next request: more where it was not known."""
    weights: dict[str, float] = {}
    for review in reviews:
        answer = review.answer
        if answer.asked_name is not None and item_of(answer.topic, answer.right, answer.choice) == item:
            weights[answer.asked_name] = 0.4 if answer.right else 2.0
    return weights


def confusion(met: Mapping[tuple[str, str], int], pack: Pack) -> Confusion:
    """How often the right item (first) got each answer (second), in the pack's order."""
    order = pack.order
    pairs = {pair: count for pair, count in met.items() if set(pair) <= order.keys()}
    items = sorted({item for pair in pairs for item in pair}, key=lambda item: order[item])
    place = {item: i for i, item in enumerate(items)}
    counts = np.zeros((len(items), len(items)), np.int64)
    for (right, said), count in pairs.items():
        counts[place[right], place[said]] = count
    return Confusion(tuple(items), counts)


def most_mixed_up(
    found: Confusion, pack: Pack, most: int = MOST_PLOTTED
) -> tuple[list[str], NDArray[np.int64]]:
    """The names of the `most` items that are mixed up most, in the pack's order, and their counts.

    The counts have the shape (n, n).

    Raises:
        PracticeError: nothing was answered yet.
    """
    if not found.items:
        raise PracticeError("nothing was answered yet, so there is nothing to show.")
    wrong = found.counts - np.diag(np.diag(found.counts))
    weight = wrong.sum(axis=0) + wrong.sum(axis=1)
    kept = np.sort(np.argsort(-weight, kind="stable")[:most])
    return [pack.item(found.items[i]).name.text for i in kept], found.counts[np.ix_(kept, kept)]


def first_answers(reviews: Iterable[Review]) -> tuple[Review, ...]:
    """The first answer of each trainee to each topic on each day (UTC)."""
    firsts: dict[tuple[object, ...], Review] = {}
    for review in sorted(reviews, key=lambda r: r.answer.at):
        answer = review.answer
        firsts.setdefault((review.trainee, answer.topic, answer.at.date()), review)
    return tuple(firsts.values())


def csv_text(rows: Sequence[Any]) -> str:
    """Rows of one kind as CSV with a header; "" for none. Cells a spreadsheet would execute are quoted."""
    if not rows:
        return ""
    out = io.StringIO()
    writer = csv.DictWriter(out, [f.name for f in fields(rows[0])], lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: _cell(value) for name, value in asdict(row).items()} for row in rows)
    return out.getvalue()


def _hard(named: Iterable[tuple[ItemTally, str]]) -> tuple[HardRow, ...]:
    rows = []
    for tally, name in named:
        share: Share = wilson(tally.wrong, tally.firsts)
        rows.append(HardRow(tally.item, name, share.n, share.value, share.low, share.high, tally.trainees))
    return tuple(sorted(rows, key=lambda row: (-row.low, -row.wrong, row.name)))


def _cell(value: object) -> object:
    if isinstance(value, float):
        return round(value, 4)
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return f"'{value}"
    return value
