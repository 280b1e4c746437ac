"""People who order drinks: a closed vocabulary asked for by more than fifty people, in real kitchen noise.

A folder comes in with `orders.jsonl` (a recording a line, and what it asks for), the recordings that it
names, and `kitchen.flac`. A pack goes out with one item for each order, of which every order of its parts is
a name, and clips. With the shipped pack the same people ask in our words for what is not ours. Who spoke is
not known, so halves are told apart by line: every other one is for tuning.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from listen.bench.human import KITCHEN_FILE, HumanClip, HumanSet, strings_pack
from listen.speech.voices import Side
from vocab.errors import TraycallError
from vocab.pack.schema import Speech

LIST_FILE = "orders.jsonl"
LEVELS_DB: tuple[float | None, ...] = (None, 10.0)
BEFORE, DRINK, WITH = ("size", "roast", "numberOfShots"), "coffeeDrink", ("milkAmount", "sugarAmount")
"""The fields of a line: said before the drink in any order, the drink, said behind "with" in either order."""


class BadOrders(TraycallError):
    """The folder lacks something, or a line of its list cannot be read; the text says where."""


@dataclass(frozen=True)
class SpokenOrder:
    """One recording and the parts that it asks for, by their fields."""

    path: Path
    parts: Mapping[str, str]

    @property
    def texts(self) -> tuple[str, ...]:
        """Every way of saying the parts one after the other."""
        return tuple(
            " ".join([*before, self.parts[DRINK], *(["with", " and ".join(after)] if after else [])])
            for before in itertools.permutations(self._said(BEFORE))
            for after in itertools.permutations(self._said(WITH))
        )

    def _said(self, fields: tuple[str, ...]) -> list[str]:
        return [self.parts[field] for field in fields if field in self.parts]


def orders(folder: Path) -> tuple[SpokenOrder, ...]:
    """What the folder holds, in written order.

    Raises:
        BadOrders: a file is missing or a line cannot be read.
    """
    file = folder / LIST_FILE
    for needed in (file, folder / KITCHEN_FILE):
        if not needed.is_file():
            raise BadOrders(f"{needed} is missing: --people wants the folder that holds {LIST_FILE}.")
    return tuple(_read(file))


def _read(file: Path) -> Iterator[SpokenOrder]:
    for number, line in enumerate(file.read_text("utf-8").splitlines(), 1):
        try:
            told: dict[str, Any] = json.loads(line)
            parts = {field: str(told[field]) for field in (*BEFORE, DRINK, *WITH) if field in told}
            order = SpokenOrder(file.parent / told["file"], {DRINK: told[DRINK], **parts})
        except (ValueError, KeyError, TypeError) as error:
            raise BadOrders(f"{file}, line {number}: {error!r}; it needs file and {DRINK}.") from None
        if not order.path.is_file():
            raise BadOrders(f"{file}, line {number}, file: there is no {order.path}.")
        yield order


def asked_for(found: tuple[SpokenOrder, ...], half: Side, speech: Speech) -> HumanSet:
    """One half's recordings, with the vocabulary swapped for the orders of both."""
    ids = {texts: f"o{number:03d}" for number, texts in enumerate(dict.fromkeys(map(_key, found)))}
    names = {ids[_key(order)]: order.texts for order in found}
    clips = tuple(
        HumanClip(order.path, 0.0, None, "orders", order.texts[0], ids[_key(order)], side=half)
        for order in _half(found, half)
    )
    return HumanSet("orders", strings_pack("orders", names, speech), clips)


def not_ours(found: tuple[SpokenOrder, ...], half: Side) -> tuple[HumanClip, ...]:
    """One half's recordings as people who ask for what lies on no tray."""
    return tuple(
        HumanClip(order.path, 0.0, None, "not ours", order.texts[0], None, side=half)
        for order in _half(found, half)
    )


def _key(order: SpokenOrder) -> frozenset[str]:
    return frozenset(order.texts)


def _half(found: tuple[SpokenOrder, ...], half: Side) -> tuple[SpokenOrder, ...]:
    return found[1::2] if half == "tune" else found[::2]
