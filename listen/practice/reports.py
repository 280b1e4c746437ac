"""What faculty see: the class, the hardest items and names, names nobody knows, what is mixed up.

Comes in: stored answers and memories. Goes out: rows, which `csv_text` and the pages print, and a plot of the
confusion matrix. Shares count the first answer of a trainee to a topic on a day (a later one follows the
explanation) and have Wilson intervals of 95 %. Nothing here ranks trainees for each other to see.
"""

from __future__ import annotations

import csv
import io
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np
from numpy.typing import NDArray

from listen.bench.figures import Share, wilson
from listen.practice.progress import right_item
from listen.practice.schedule import Deck, is_known
from listen.practice.store import Review
from listen.practice.topics import Drill, PracticeError, Topic
from vocab.schema import Pack

PLOT_FORMATS = (".png", ".svg", ".pdf")
MOST_PLOTTED = 30
"""The matrix shows this many items at most, the most often mixed up first."""


@dataclass(frozen=True)
class ClassRow:
    """One trainee: answers, first answers of a day and their share right, median seconds, topics known."""

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
    """A name of an item, and whether anybody knows it: asked how often, by how many, known by how many."""

    item: str
    name: str
    asked: int
    trainees: int
    known_by: int


@dataclass(frozen=True)
class Confusion:
    """What was answered for what. counts: shape = (n, n), rows are what was right, columns the answer."""

    items: tuple[str, ...]
    counts: NDArray[np.int64]


def class_overview(
    reviews: Sequence[Review], decks: Mapping[str, Deck], now: datetime
) -> tuple[ClassRow, ...]:
    """One row a trainee in the order of their names, those without an answer included."""
    by_trainee: dict[str, list[Review]] = defaultdict(list)
    for review in reviews:
        by_trainee[review.trainee].append(review)
    rows = []
    for trainee in sorted({*decks, *by_trainee}):
        own = by_trainee[trainee]
        firsts = first_answers(own)
        share = wilson(sum(r.answer.right for r in firsts), len(firsts))
        times = [r.answer.response_s for r in own if r.answer.right and r.answer.response_s is not None]
        deck = decks.get(trainee, {})
        rows.append(
            ClassRow(
                trainee=trainee,
                answers=len(own),
                firsts=len(firsts),
                right=share.value,
                low=share.low,
                high=share.high,
                response_s=median(times) if times else None,
                asked=len(deck),
                known=sum(is_known(card) for card in deck.values()),
                due=sum(card.due <= now for card in deck.values()),
                last=own[-1].answer.at if own else None,
            )
        )
    return tuple(rows)


def hardest_items(reviews: Sequence[Review], pack: Pack) -> tuple[HardRow, ...]:
    """Items by how surely they are hard: the lower end of the interval of their share of wrong answers.

    Counts finding slots, saying names and telling pairs apart.
    """
    groups: dict[tuple[str, str], list[Review]] = defaultdict(list)
    names = {item.id: item.name.text for item in pack.items}
    for review in first_answers(reviews):
        topic = Topic.read(review.answer.topic)
        item = topic.subject if topic.drill is Drill.SLOT else right_item(review.answer)
        if item in names:
            groups[item, names[item]].append(review)
    return _hard(groups)


def hardest_names(reviews: Sequence[Review], pack: Pack) -> tuple[HardRow, ...]:
    """The same for each name that a request was made by."""
    groups: dict[tuple[str, str], list[Review]] = defaultdict(list)
    known = {item.id for item in pack.items}
    for review in first_answers(reviews, by_name=True):
        topic, name = Topic.read(review.answer.topic), review.answer.asked_name
        if name is not None and topic.drill is Drill.SLOT and topic.subject in known:
            groups[topic.subject, name].append(review)
    return _hard(groups)


def names_nobody_knows(reviews: Sequence[Review], pack: Pack, fewest: int = 3) -> tuple[NameRow, ...]:
    """Names that were asked at least `fewest` times and that no trainee's latest answer got right."""
    return tuple(row for row in name_rows(reviews, pack) if row.asked >= fewest and not row.known_by)


def name_rows(reviews: Sequence[Review], pack: Pack) -> tuple[NameRow, ...]:
    """Every name of the pack, in its order, with who was asked for it and who knows it now."""
    asked: Counter[tuple[str, str]] = Counter()
    latest: dict[tuple[str, str], dict[str, bool]] = defaultdict(dict)
    for review in sorted(reviews, key=lambda r: r.answer.at):
        topic, name = Topic.read(review.answer.topic), review.answer.asked_name
        if topic.drill is Drill.SLOT and name is not None:
            asked[topic.subject, name] += 1
            latest[topic.subject, name][review.trainee] = review.answer.right
    return tuple(
        NameRow(item.id, n.text, asked[key], len(latest[key]), sum(latest[key].values()))
        for item in pack.items
        for n in item.names
        if (key := (item.id, n.text))
    )


def name_weights(reviews: Sequence[Review], item: str) -> dict[str, float]:
    """How much each name of an item is wanted in the next request: more where it was not known."""
    weights: dict[str, float] = {}
    for review in reviews:
        topic, name = Topic.read(review.answer.topic), review.answer.asked_name
        if topic.drill is Drill.SLOT and topic.subject == item and name is not None:
            weights[name] = 0.4 if review.answer.right else 2.0
    return weights


def confusion(reviews: Sequence[Review], pack: Pack) -> Confusion:
    """All answers to names and pairs: what was right against what was answered, in the pack's order."""
    order = {item.id: i for i, item in enumerate(pack.items)}
    pairs = Counter(
        (right, review.answer.choice)
        for review in reviews
        if (right := right_item(review.answer)) in order and review.answer.choice in order
    )
    met = sorted({item for pair in pairs for item in pair if item is not None}, key=lambda i: order[i])
    place = {item: i for i, item in enumerate(met)}
    counts = np.zeros((len(met), len(met)), np.int64)
    for (right, said), n in pairs.items():
        if right is not None and said is not None:
            counts[place[right], place[said]] = n
    return Confusion(tuple(met), counts)


def plot_confusion(found: Confusion, pack: Pack, path: Path) -> None:
    """Draw the items that are mixed up most as a matrix; the ending of the name chooses the format.

    Raises:
        PracticeError: another format, or nothing was answered yet.
    """
    if path.suffix.lower() not in PLOT_FORMATS:
        raise PracticeError(f"{path.name}: the name must end in {', '.join(PLOT_FORMATS)}.")
    if not found.items:
        raise PracticeError("nothing was answered yet, so there is nothing to plot.")
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    wrong = found.counts - np.diag(np.diag(found.counts))
    weight = wrong.sum(axis=0) + wrong.sum(axis=1)
    kept = np.sort(np.argsort(-weight, kind="stable")[:MOST_PLOTTED])
    counts = found.counts[np.ix_(kept, kept)]
    names = [pack.item(found.items[i]).name.text for i in kept]
    size = 3.0 + 0.32 * len(names)
    figure = Figure(figsize=(size + 1.5, size), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    asked = np.maximum(1, counts.sum(axis=1, keepdims=True))
    image = axes.imshow(counts / asked, cmap="Blues", vmin=0, vmax=1)
    for y, x in zip(*np.nonzero(counts), strict=True):
        dark = counts[y, x] / asked[y, 0] > 0.5
        axes.text(x, y, str(counts[y, x]), ha="center", va="center", fontsize=7, color="w" if dark else "k")
    axes.set_xticks(range(len(names)), names, rotation=90, fontsize=8)
    axes.set_yticks(range(len(names)), names, fontsize=8)
    axes.set_xlabel("answered")
    axes.set_ylabel("right")
    figure.colorbar(image, label="share of the answers in a row", shrink=0.6)
    figure.savefig(path, dpi=150)


def first_answers(reviews: Iterable[Review], by_name: bool = False) -> tuple[Review, ...]:
    """The first answer of each trainee to each topic (or to each name of it) on each day (UTC)."""
    firsts: dict[tuple[object, ...], Review] = {}
    for review in sorted(reviews, key=lambda r: r.answer.at):
        answer = review.answer
        name = answer.asked_name if by_name else None
        firsts.setdefault((review.trainee, answer.topic, name, answer.at.date()), review)
    return tuple(firsts.values())


def csv_text(rows: Sequence[Any]) -> str:
    """Rows of one kind as CSV with a header; "" for none. Cells that a spreadsheet would run are quoted."""
    if not rows:
        return ""
    out = io.StringIO()
    writer = csv.DictWriter(out, [f.name for f in fields(rows[0])], lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: _cell(value) for name, value in asdict(row).items()} for row in rows)
    return out.getvalue()


def _hard(groups: Mapping[tuple[str, str], Sequence[Review]]) -> tuple[HardRow, ...]:
    rows = []
    for (item, name), reviews in groups.items():
        share: Share = wilson(sum(not r.answer.right for r in reviews), len(reviews))
        trainees = len({r.trainee for r in reviews})
        rows.append(HardRow(item, name, share.n, share.value, share.low, share.high, trainees))
    return tuple(sorted(rows, key=lambda row: (-row.low, -row.wrong, row.name)))


def _cell(value: object) -> object:
    if isinstance(value, float):
        return round(value, 4)
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return f"'{value}"
    return value
