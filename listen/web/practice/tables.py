"""Rows of the reports about a class, in words and as the cells of a table.

Takes the places of a server and one of its vocabularies; nothing here answers a request.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from listen.practice.ability import Estimate, rasch
from listen.practice.places import Places
from listen.practice.reports import (
    ClassRow,
    Confusion,
    HardRow,
    NameRow,
    class_overview,
    hardest_items,
    hardest_names,
    names_nobody_knows,
)
from listen.practice.standing import of_first_tries, of_ten
from listen.practice.topics import Drill, Topic
from listen.shares import Z_95
from vocab.pack.schema import Pack

_SHOWN: dict[type, tuple[str, ...]] = {
    ClassRow: ("trainee", "right", "surely", "firsts", "response_s"),
    HardRow: ("name", "wrong", "surely", "firsts", "trainees"),
    NameRow: ("name", "asked", "trainees"),
    Estimate: ("who", "logits", "error", "answers"),
}
"""The columns of a table on a page; the CSV has all that there are."""
_HEADS = {
    "trainee": "Trainee",
    "name": "Name",
    "who": "Trainee or question",
    "right": "Right",
    "wrong": "Missed",
    "surely": "Surely",
    "firsts": "First tries",
    "response_s": "Usual time, s",
    "asked": "Asked",
    "trainees": "Trainees",
    "logits": "Place on the scale",
    "error": "Give or take",
    "answers": "Answers",
}
_KINDS = {
    Drill.SLOT: "its slot",
    Drill.NAME: "its name",
    Drill.APART: "told apart",
    Drill.NEXT: "what comes next",
    Drill.LAY: "laid",
    Drill.FAULT: "its faults found",
    Drill.FACT: "a number",
    Drill.PASS: "how it is passed",
}
"""What is asked about something, in few words."""
_SHARES = frozenset(("right", "wrong"))
EASY, HARD = 0.8, 0.5
"""From this share of right answers on a question is easy for most; below the other it is hard for most."""
Rows = tuple[ClassRow | HardRow | NameRow | Estimate, ...]
NO_ROWS: Rows = ()


def rows_of(places: Places, table: str, pack: Pack) -> Rows:
    """The rows of one of the tables, of one vocabulary.

    Raises:
        PracticeError: there are too few answers.
    """
    tallies = places.store.tallies
    if table == "items":
        return hardest_items(tallies.items(), pack)
    if table == "names":
        return hardest_names(tallies.names(), pack)
    if table == "unknown":
        return names_nobody_knows(tallies.requests(), pack)
    here = places.asked_in(pack.id)
    if table == "class":
        keys = [key for key in tallies.topics() if here(key)]
        return class_overview(tallies.trainees(places.now(), keys))
    found = rasch({one: right for one, right in tallies.latest_firsts().items() if here(one[1])})
    return (*found.trainees, *found.items)


def pairs_of(found: Confusion, pack: Pack) -> list[tuple[str, str, int]]:
    """The right item, another that was answered, and how often, most frequent first."""
    pairs = [
        (right, said, int(found.counts[i, j]))
        for i, right in enumerate(found.items)
        for j, said in enumerate(found.items)
        if i != j and found.counts[i, j]
    ]
    return sorted(pairs, key=lambda pair: (-pair[2], pack.called[pair[0]]))


def first_of(rows: Sequence[Any], most: int, places: Places) -> list[Any]:
    """The first rows, so many at most of trainees and so many of questions."""
    kinds: dict[bool, list[Any]] = {False: [], True: []}
    for row in rows:
        kinds[isinstance(row, Estimate) and called(row.who, places)[1]].append(row)
    return [row for kind in kinds.values() for row in kind[:most]]


def in_words(rows: Sequence[Any], pack: Pack, places: Places) -> list[tuple[str, list[tuple[str, str, str]]]]:
    """Rows in words, under headings where they are of two kinds."""
    found: dict[str, list[tuple[str, str, str]]] = {}
    for row in rows:
        head = ""
        if isinstance(row, Estimate):
            head = "Questions, the hardest first" if called(row.who, places)[1] else "Trainees"
        found.setdefault(head, []).append(_line(row, pack, places))
    return list(found.items())


def _line(row: ClassRow | HardRow | NameRow | Estimate, pack: Pack, places: Places) -> tuple[str, str, str]:
    """A row in words: what it is about, what was found, and on how much that rests."""
    if isinstance(row, ClassRow):
        return row.trainee, "", ""
    if isinstance(row, HardRow):
        usual = pack.called[row.item]
        about = row.name if row.name == usual else f"{row.name} (the {usual})"
        missed = of_first_tries(row.wrong, row.low, row.high, row.firsts)
        rests = f"{_count(row.firsts, 'first try', 'first tries')} of {_count(row.trainees, 'trainee')}"
        return about, f"Missed {missed}.", rests
    if isinstance(row, NameRow):
        asked = f"{_count(row.asked, 'request')} to {_count(row.trainees, 'trainee')}"
        return row.name, f"Another name of the {pack.called[row.item]}.", asked
    who, is_topic = called(row.who, places)
    sign = -1 if is_topic else 1
    share, low, high = (_of_logits(sign * row.logits + spread * row.error) for spread in (0.0, -Z_95, Z_95))
    if is_topic:
        return (
            who,
            f"{_how_hard(share)}: a usual trainee gets it right {of_ten(share, low, high, ' times')}.",
            _count(row.answers, "answer"),
        )
    return who, f"Knows {of_ten(share, low, high, ' usual questions')}.", _count(row.answers, "answer")


def _how_hard(share: float) -> str:
    """How hard a question is, by the share of usual trainees who get it right."""
    if share >= EASY:
        return "Easy for most"
    return "Hard for most" if share < HARD else "Hard for some"


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


def _of_logits(logits: float) -> float:
    return 1 / (1 + math.exp(-logits))


def called(who: str, places: Places) -> tuple[str, bool]:
    """A topic in words, or a trainee's name as it is; and whether it is a topic."""
    try:
        drill = Topic.read(who).drill
    except ValueError:
        return who, False
    return f"{places.label(who)}: {_KINDS[drill]}", True


def cells_of(
    rows: Sequence[Any], places: Places
) -> tuple[list[tuple[str, bool]], list[list[tuple[str, str]]]]:
    """Heads (text, whether it is a number) and cells (text, the trainee it links to) of a table."""
    if not rows:
        return [], []
    columns = _SHOWN[type(rows[0])]
    heads = [(_HEADS[column], column not in ("trainee", "name", "who")) for column in columns]
    return heads, [[_cell(column, row, places) for column in columns] for row in rows]


def _cell(column: str, row: Any, places: Places) -> tuple[str, str]:
    if column == "surely":
        return f"{row.low:.0%} to {row.high:.0%}", ""
    value = getattr(row, column)
    if value is None or value != value:
        return "–", ""
    if column == "trainee":
        return str(value), str(value)
    if column == "who":
        return called(str(value), places)[0], ""
    if isinstance(value, float):
        return (f"{value:.0%}" if column in _SHARES else f"{value:.1f}"), ""
    return str(value), ""
