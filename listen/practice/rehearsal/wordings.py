"""What a trainee reads in a rehearsal, in the language of the pack: feedback, count and timeline.

The page around it stays English. The tables of each language stand in the module of its name, and
`languages` chooses; names come from the pack, and slots are named as in the drills.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from listen.practice.choices import AnswerChoice
from listen.practice.rehearsal.outcomes import Came, Where


@dataclass(frozen=True)
class Wordings:
    """Sentences; braces stand for what the pack holds or what was counted.

    item, called: a name with its article, as `lines.worded` fills it, alone and with the usual name beside
    it; fetch: the answer where the tray has no other; places: where a piece may be; came: what came of a
    line, in few words; back, fetched, end: what may be typed for each.
    """

    # told of a line
    item: str
    called: str
    at: str
    met: str
    met_in: str
    slow: str
    instead: str
    no_other: str
    left: str
    alarm: str
    taken_back: str
    unheard: str
    fetch: AnswerChoice
    # on the page while it runs
    listen: str
    unclear: str
    once_more: str
    fetch_one: str
    type_slot: str
    place: str
    enter: str
    not_heard: str
    # the count
    count: str
    count_note: str
    done: str
    places: Mapping[Where, str]
    # at a keyboard
    how: str
    back: tuple[str, ...]
    fetched: tuple[str, ...]
    end: tuple[str, ...]
    # the timeline
    came: Mapping[Came, str]
    of: str
    alarms: str
    half_within: str
    the_count: str
    and_one: str
    you_said: str
    nothing: str
    nothing_to_count: str
    line_by_line: str
    course: str
    course_note: str
    bar_note: str
    hesitated: str
    asked_again: str
    to_remember: str
