"""How the dentist of a rehearsal talks: requests, corrections, what falls or goes back, and talk that asks
nothing.

Sentences with braces for a name come out; `worded` fills them. What is said in a language stands in the
module of its name beside this one, and `languages` chooses. The sentences were written for this, and stand in
none of the sets by which hearing is measured (a test looks).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from enum import StrEnum

from vocab.language.by_language import noun_forms
from vocab.pack.schema import Pack

NAME = "{}"


class Manner(StrEnum):
    """How a request is worded: PLAIN in the pack's own words ("hand me the ..."), EVERYDAY in a sentence of
    one's own, PASSING in the middle of other talk."""

    PLAIN = "plain"
    EVERYDAY = "everyday"
    PASSING = "passing"


@dataclass(frozen=True)
class Lines:
    """What is said in one language.

    plain: the pack's own ways of asking, as sentences; mentions: talk that names an instrument and asks for
    nothing; drops: of what was just passed, without its name. {} is the name, with its article where one
    belongs: "the {}", or "{el} {}" and whatever else agrees with it (see `noun_forms`).
    """

    plain: Callable[[Pack], tuple[str, ...]]
    everyday: tuple[str, ...]
    everyday_of_tools: tuple[str, ...]
    passing: tuple[str, ...]
    passing_of_tools: tuple[str, ...]
    chatter: tuple[str, ...]
    mentions: tuple[str, ...]
    corrections: tuple[str, ...]
    drops: tuple[str, ...]
    backs: tuple[str, ...]
    keeps: tuple[str, ...]
    stays: tuple[str, ...]
    taken_out: tuple[str, ...]

    @property
    def every(self) -> tuple[str, ...]:
        """All sentences, the pack's own ways of asking apart."""
        some = (getattr(self, field.name) for field in fields(self) if field.name != "plain")
        return tuple(line for lines in some for line in lines)

    def requests(self, manner: Manner, tool: bool, pack: Pack) -> tuple[str, ...]:
        """The sentences of a manner that fit an instrument (`tool`) or anything else."""
        if manner is Manner.PLAIN:
            return self.plain(pack)
        if manner is Manner.EVERYDAY:
            return (*self.everyday, *self.everyday_of_tools) if tool else self.everyday
        return (*self.passing, *self.passing_of_tools) if tool else self.passing


def worded(sentence: str, name: str, usual: str, language: str) -> str:
    """A sentence around a name of something whose usual name is given; {usual} in it is that one."""
    return sentence.format(name, usual=usual, **noun_forms(name, usual, language))
