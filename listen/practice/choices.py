"""What an answer may be: an item, a place, a value or one of some numbered things, with all its wordings.

Takes items, addresses and values, and gives an `AnswerChoice` for each. It knows no questions.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from listen.practice.facts import Value
from listen.practice.wordings import Wordings
from vocab.language.tokens import spoken_forms
from vocab.pack.schema import Item, Name


@dataclass(frozen=True)
class AnswerChoice:
    """One thing an answer may be: an item, a slot or a value.

    ways: all accepted wordings; shared: names that other items also have, so that more must be said.
    """

    id: str
    shown: str
    ways: tuple[str, ...]
    shared: tuple[str, ...] = ()


FETCH = AnswerChoice("fetch", "a sterile one from outside the tray", ("a sterile one", "fetch a sterile one"))
"""In a rehearsal: what has fallen, and of which the tray has no other."""


def item_choice(item: Item) -> AnswerChoice:
    """The choice of an item, by every name that it has."""

    def wordings_of(names: Iterable[Name]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(text for name in names for text in name.ways_to_say))

    own = [name for name in item.names if not name.shared] or [item.name]
    shared = [name for name in item.names if name.shared]
    return AnswerChoice(item.id, item.name.text, wordings_of(own), wordings_of(shared))


def slot_choice(at: str, said: Wordings, kit: str = "") -> AnswerChoice:
    """A slot by its address; by its number alone, too, where only this kit is asked about ("bur kit 3")."""
    short = at.removeprefix(kit).strip()
    ways = (short, said.number.format(at=short)) if short.isdigit() else (short,)
    return AnswerChoice(at, at, tuple(dict.fromkeys((*ways, at))))


def numbered_choice(
    choice_id: str, number: int, shown: str, said: Wordings, more: Sequence[str] = ()
) -> AnswerChoice:
    """Something that is shown under a number and answered by it, or by further ways."""
    at = str(number)
    return AnswerChoice(choice_id, shown, (at, said.number.format(at=at), *more))


def value_choice(value: Value, more: Sequence[str] = ()) -> AnswerChoice:
    """A value with its spoken forms; thousands are said in words only."""
    ways = [*value.say, *more]
    if "," not in value.text:
        plain = value.text.removeprefix("the ").replace("%", "percent")
        spelled = re.sub(r"\bmm\b", "millimetres", plain)
        ways = [plain, spelled, *(form for form in spoken_forms(spelled)[:1]), *ways]
        ways += [re.sub(r" (millimetres|seconds|percent|degrees|micrometres)$", "", way) for way in ways]
    return AnswerChoice(value.text, value.text, tuple(dict.fromkeys(ways)))
