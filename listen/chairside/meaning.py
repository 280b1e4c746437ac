"""What somebody means by words that were typed or heard: one way for both, and one meaning for each.

It takes a typed text or a `Hearing`, and the `Scene` in which it is said, and gives a `Meaning`. Nothing is
kept, shown or noted here, so the same words in the same scene always mean the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from listen.answering import Choice
from listen.chair import Chair
from listen.chairside import returns
from listen.chairside.choices import choice_of, confirms
from listen.chairside.count import count_places
from listen.chairside.events import Event, Source
from listen.chairside.spoken_count import CountSaid, count_said
from listen.chairside.spoken_returns import events_of_judged, spoken_returns, typed_returns
from listen.chairside.stage import Check
from listen.chairside.timers import TimerWish, timer_names, understand_timer
from listen.chairside.tray_state import TrayState
from listen.engine import Hearing
from listen.readings import Reader, Readings
from vocab.language.forms import forms_of
from vocab.language.tokens import tokens

NAMED_P, NAMED_SHARE = 0.3, 0.7
"""A name settles a check if the choices hold this much probability together, and one this share of it."""
BELIEVED = 0.5
"""A phrasing of the closed vocabulary counts if the probability that none was said is below this."""


@dataclass(frozen=True)
class Scene:
    """What decides at a chair what words mean.

    reader: knows the names and how they are said; state: what lies where; expected: log-probability by item
    id of what is asked for next; check: the open question; awaited: whether a step waits until a teacher has
    looked; at_s: seconds since 1970.
    """

    chair: Chair
    reader: Reader
    state: TrayState
    expected: Mapping[str, float]
    check: Check | None
    awaited: bool
    at_s: float


@dataclass(frozen=True)
class Chosen:
    """One of the choices of the open check, counted from 1; 0 for none of them."""

    number: int


@dataclass(frozen=True)
class LabelRead:
    """The label of what was chosen was read back."""


@dataclass(frozen=True)
class TeacherLooked:
    """The teacher has looked at the step that waits for it."""


@dataclass(frozen=True)
class TimerSaid:
    """Something is wanted of a timer."""

    wish: TimerWish


@dataclass(frozen=True)
class Wanted:
    """Something may be asked for. text: as typed, or as the engine wrote it; without any ways, `readings`
    says that it was talk, or holds a name that nothing has."""

    text: str
    readings: Readings


@dataclass(frozen=True)
class Happened:
    """Something became of items; `rest` is what else was said, None for nothing."""

    events: tuple[Event, ...]
    rest: Wanted | None = None


@dataclass(frozen=True)
class Nothing:
    """Something was told that cannot have happened, as talk does."""


Meaning = Chosen | LabelRead | TeacherLooked | CountSaid | TimerSaid | Happened | Wanted | Nothing


def interpret(said: str | Hearing, now: Scene) -> Meaning:
    """What a typed text, or an utterance that an engine heard, means in this scene."""
    text = said if isinstance(said, str) else said.free_text
    return (
        _settles(said, text, now)
        or _looked(text, now)
        or _counted(said, text, now)
        or _timer(said, text, now)
        or (_typed(said, now) if isinstance(said, str) else _spoken(said, now))
        or Wanted(text, _read(said, now, now.expected))
    )


def _read(said: str | Hearing, now: Scene, expected: Mapping[str, float]) -> Readings:
    read = now.reader
    return read.of_text(said, expected) if isinstance(said, str) else read.of_hearing(said, expected)


def _settles(said: str | Hearing, text: str, now: Scene) -> Chosen | LabelRead | None:
    """Whether it settles the open check: by number, by name, or as the label was read back."""
    check = now.check
    if check is None:
        return None
    if check.chosen is not None and confirms(text, now.chair.pack.language):
        return LabelRead()
    number = choice_of(text, len(check.choices), now.chair.pack.language)
    if number is None and len(check.choices) > 1:
        number = _named(check.choices, _read(said, now, {}))
    return None if number is None else Chosen(number)


def _named(choices: Sequence[Choice], readings: Readings) -> int | None:
    """The choice (from 1) that is named, by its item and, where that is shared, its size."""
    mass = [0.0] * len(choices)
    for way in readings.ways:
        for candidate in way.requests[0].candidates if len(way.requests) == 1 else ():
            if way.requests[0].kind not in ("item", "correction"):
                continue
            meant = [i for i, c in enumerate(choices) if c.item == candidate.item]
            meant = [i for i in meant if candidate.variant in (None, choices[i].size)] or meant
            for i in meant:
                mass[i] += way.p * candidate.p / len(meant)
    total, best = sum(mass), max(range(len(choices)), key=lambda i: mass[i])
    return best + 1 if total >= NAMED_P and mass[best] >= NAMED_SHARE * total else None


def _looked(text: str, now: Scene) -> TeacherLooked | None:
    """Whether somebody said that the teacher has looked, while a step waits for that."""
    forms = forms_of(now.chair.pack.speech, now.chair.pack.language)
    return TeacherLooked() if now.awaited and forms.faculty_checked.whole(tokens(text)) is not None else None


def _counted(said: str | Hearing, text: str, now: Scene) -> CountSaid | None:
    """Whether a row or a kit was counted aloud."""
    places = count_places(now.state, now.chair.pack, now.chair.tray)
    far = None if isinstance(said, str) else now.reader.apart
    return count_said(text, places, now.chair.lexicon, far)


def _timer(said: str | Hearing, text: str, now: Scene) -> TimerSaid | None:
    far = None if isinstance(said, str) else now.reader.apart
    wish = understand_timer(text, timer_names(now.chair.pack), far, now.chair.pack.language)
    return None if wish is None else TimerSaid(wish)


def _typed(text: str, now: Scene) -> Happened | None:
    """What was typed about items; whoever types is believed."""
    judged = partial(now.reader.told_in_text, text)
    lexicon = now.chair.lexicon
    events = typed_returns(text, judged, lexicon, now.state, now.at_s, Source.KEYBOARD)
    plain = returns.understand(text, lexicon)
    return Happened(events, _rest(plain.rest if plain.told else "", now)) if events else None


def _spoken(hearing: Hearing, now: Scene) -> Happened | Wanted | Nothing | None:
    """What was told of items by voice, which must have been out; None where nothing was told."""
    told = spoken_returns(
        hearing.free_text,
        hearing.phrasings[0].text if hearing.phrasings else "",
        lambda: _read(hearing, now, {}).p_nothing < BELIEVED,
        now.chair.lexicon,
        now.state,
        now.at_s,
        now.reader.apart,
    )
    if told is not None and told.events:
        return Happened(told.events, _rest(told.rest, now))
    judged = events_of_judged(now.reader.told_in_hearing(hearing), now.state, now.at_s)
    if judged:
        return Happened(judged)
    return None if told is None else _rest(told.rest, now) or Nothing()


def _rest(text: str, now: Scene) -> Wanted | None:
    """What else was said beside what became of items."""
    return Wanted(text, _read(text, now, now.expected)) if text else None
