"""Timers for timed steps: started, asked about and stopped by voice, with the maker's time and no other.

From text, the events so far, the clinic's times and the clock's reading this makes a reply and events to
append. No time is shipped: without one set by the clinic a timer does not start, and the reply says so. Each
material has its own timer ("etch enamel", "etch dentine"); a word that several share means the present
step's, or the reply asks which. Nothing here sleeps, rings or reads a clock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, lru_cache, partial
from typing import TypeVar

from listen.chairside.events import Event, EventKind, Source, effective
from vocab.language.by_language import read_words, tables
from vocab.language.forms import Templates, Words
from vocab.language.tables import TimerReplies
from vocab.pack.schema import Pack

Far = Callable[[str, str], float]
MISHEARD = 0.3
"""The share of a name's phones that may be wrong; author's judgement."""
LONGEST_NAME = 3
_T = TypeVar("_T")


class TimerAct(StrEnum):
    """What is to be done with a timer."""

    START = "start"
    STOP = "stop"
    TELL = "tell"


@dataclass(frozen=True)
class TimerWish:
    """What is to be done, with which timer.

    name: as it was said, None where none was named; among: the timers that may be meant, () where it is the
    name of one; everything: "all timers"; said_timer: whether the words can mean nothing else ("how long"
    alone can).
    """

    wish: TimerAct
    name: str | None = None
    among: tuple[str, ...] = ()
    everything: bool = False
    said_timer: bool = True

    def means(self, timer: str) -> bool:
        """Whether this timer may be meant."""
        return self.name is None or timer in (self.among or (self.name,))


@dataclass(frozen=True)
class Running:
    """A timer that was started and not stopped; it stays, at 0, until somebody stops it."""

    name: str
    started_s: float
    length_s: float

    def left_s(self, now_s: float) -> float:
        """Seconds to go, 0 once it is over."""
        return max(0.0, self.started_s + self.length_s - now_s)

    def is_over(self, now_s: float) -> bool:
        return self.left_s(now_s) <= 0.0


@dataclass(frozen=True)
class TimerReply:
    """What to show, and the events to append."""

    text: str
    events: tuple[Event, ...] = ()


def timer_names(pack: Pack) -> tuple[str, ...]:
    """What the pack's procedures time, in order of appearance."""
    named = (timer for procedure in pack.procedures for step in procedure.steps for timer in step.timers)
    return tuple(dict.fromkeys(named))


def understand_timer(
    text: str, names: Sequence[str], far: Far | None = None, language: str = "en"
) -> TimerWish | None:
    """What the text wants of a timer; None for any other text.

    Args:
        far: how far apart two texts sound, 0 to 1; with it, a form that says "timer" accepts a name that
            was misheard ("start the etched timer").
        language: of the pack whose timers they are.
    """
    known = tables(language).timers
    plain = tuple(word for word in read_words(text, language) if word not in known.dropped)
    said = tuple(word for word in plain if word not in known.skipped)
    briefly = _briefly(language)
    if briefly.whole(plain) or briefly.whole(said):
        return TimerWish(TimerAct.TELL, said_timer=False)
    everything = bool(known.every & set(said))
    said = tuple(known.singular.get(word, word) for word in said if word not in known.every)
    fits = _forms(language).fits(said)
    for fit in fits:
        if not fit.gap:
            return TimerWish(fit.meaning, everything=everything)
        found = _known(fit.gap, names, language)
        if found:
            plainly = not found[1] or not known.timer.isdisjoint(fit.form.split())
            return TimerWish(fit.meaning, *found, everything, said_timer=plainly)
    if far is None:
        return None
    for fit in fits:
        found = None if known.timer.isdisjoint(fit.form.split()) else _near(fit.gap, names, far, language)
        if found:
            return TimerWish(fit.meaning, *found, everything)
    return None


def maker_time_s(times: Mapping[str, float], timer: str) -> float | None:
    """The time set for a timer, in seconds: its own, or else a general one ("cure" for "cure bond"); None
    where neither is set."""
    return _by_beginning(times, timer)


def running(events: Iterable[Event]) -> tuple[Running, ...]:
    """The timers that run after these events, in the order they were started; restarting one resets it."""
    timers: dict[str, Running] = {}
    for event in effective(tuple(events)):
        if event.kind is EventKind.TIMER_STARTED and event.about and event.seconds_s:
            timers.pop(event.about, None)
            timers[event.about] = Running(event.about, event.at_s, event.seconds_s)
        elif event.kind is EventKind.TIMER_STOPPED and event.about:
            timers.pop(event.about, None)
        elif event.kind is EventKind.CLOSED:
            timers.clear()
    return tuple(timers.values())


def over(timers: Iterable[Running], now_s: float) -> tuple[Running, ...]:
    """Those whose time is up."""
    return tuple(timer for timer in timers if timer.is_over(now_s))


def timer_reply(
    wish: TimerWish,
    timers: Sequence[Running],
    maker_times: Mapping[str, float],
    now_s: float,
    source: Source = Source.SPEECH,
    step_timers: Sequence[str] = (),
    cautions: Callable[[str], Sequence[str]] = lambda timer: (),
    procedure_timers: Sequence[str] = (),
    language: str = "en",
) -> TimerReply | None:
    """Start, stop or report on timers, as asked.

    Args:
        timers: from `running`.
        maker_times: seconds by timer, from `ChairSettings`.
        step_timers: what the present step times; "start the timer" means one of them.
        cautions: gives those for a timer, see `step_cautions`.
        procedure_timers: what the procedure times; where the step does not tell, one of them is meant.
        language: of the pack whose timers they are, and of the reply.

    Returns:
        None where silence is right: "how long" with no timer running was not a question to us.
    """
    say = tables(language).timer_replies
    if wish.wish is TimerAct.START:
        choices = _startable(wish, step_timers, procedure_timers)
        if len(choices) == 1:
            return _started(choices[0], maker_times, now_s, source, cautions(choices[0]), say)
        return TimerReply(_which(choices, maker_times, say))
    named = [timer for timer in timers if wish.means(timer.name)]
    if not named:
        none = say.one_running.format(name=wish.name) if wish.name else say.none_running
        return TimerReply(none) if wish.said_timer else None
    if wish.wish is TimerAct.TELL:
        return TimerReply(" ".join(time_left(timer, now_s, language) for timer in named))
    stopped = named if len(named) == 1 or wish.everything else _meant(named, now_s)
    return TimerReply(
        _begun(say.stopped.format(names=", ".join(timer.name for timer in stopped))),
        tuple(Event(EventKind.TIMER_STOPPED, now_s, source, about=timer.name) for timer in stopped),
    )


def time_left(timer: Running, now_s: float, language: str = "en") -> str:
    """A sentence of how long a timer still runs, or that its time is up."""
    say, left_s = tables(language).timer_replies, timer.left_s(now_s)
    return _begun((say.left if left_s else say.over).format(name=timer.name, seconds=left_s))


def step_cautions(pack: Pack, timer: str) -> tuple[str, ...]:
    """What the pack warns of in the steps with this timer, each warning once."""
    said = (c for p in pack.procedures for step in p.steps if timer in step.timers for c in step.cautions)
    return tuple(dict.fromkeys(said))


def _startable(wish: TimerWish, step_timers: Sequence[str], procedure_timers: Sequence[str]) -> Sequence[str]:
    """The timers that may be meant by "start": the step's, else the procedure's, else all."""
    if wish.name is None:
        return step_timers
    for nearer in (step_timers, procedure_timers):
        meant = [name for name in wish.among if name in nearer]
        if meant:
            return meant
    return wish.among or (wish.name,)


def _which(choices: Sequence[str], maker_times: Mapping[str, float], say: TimerReplies) -> str:
    if choices:
        return say.which.format(first=", ".join(choices[:-1]), last=choices[-1])
    known = say.known.format(names=", ".join(maker_times)) if maker_times else ""
    return f"{say.which_of_all} {known}".strip()


def _started(
    name: str,
    maker_times: Mapping[str, float],
    now_s: float,
    source: Source,
    cautions: Sequence[str],
    say: TimerReplies,
) -> TimerReply:
    length_s = maker_time_s(maker_times, name)
    if length_s is None:
        return TimerReply(say.no_time.format(name=name))
    usual = _by_beginning(say.cautions, name)
    warned = cautions or ((usual,) if usual else ())
    text = _begun(say.started.format(name=name, seconds=length_s))
    event = Event(EventKind.TIMER_STARTED, now_s, source, about=name, seconds_s=length_s)
    return TimerReply(" ".join((text, *warned)), (event,))


def _meant(timers: Sequence[Running], now_s: float) -> Sequence[Running]:
    """ "Stop the timer": those that are over, or else the last one started."""
    return over(timers, now_s) or timers[-1:]


def _begun(sentence: str) -> str:
    """A sentence with a capital letter."""
    return sentence[:1].upper() + sentence[1:]


def _by_beginning(of: Mapping[str, _T], timer: str) -> _T | None:
    """The value under a timer's name, or else under the longest beginning of it that has one."""
    parts = timer.split()
    kept = (of.get(" ".join(parts[:length])) for length in range(len(parts), 0, -1))
    return next((found for found in kept if found is not None), None)


@cache
def _forms(language: str) -> Templates[TimerAct]:
    forms = tables(language).timers.forms
    return Templates(
        {TimerAct(act): some for act, some in forms.items()}, partial(read_words, language=language)
    )


@cache
def _briefly(language: str) -> Templates[bool]:
    return Templates({True: tables(language).timers.briefly}, partial(read_words, language=language))


@lru_cache(maxsize=512)
def _plain(name: str, language: str) -> Words:
    """The words of a timer's name by which it is compared."""
    dropped = tables(language).timers.dropped
    return tuple(word for word in read_words(name, language) if word not in dropped)


def _known(said: Words, names: Sequence[str], language: str) -> tuple[str, tuple[str, ...]] | None:
    """A timer's name with (), or words that several share with all of these; None where it is neither."""
    aliases = tables(language).timers.aliases
    whole = " ".join(said)
    name = aliases.get(whole, whole)
    plain = {other: _plain(other, language) for other in names}
    exact = next((other for other, its in plain.items() if " ".join(its) == name), None)
    if exact is not None:
        return exact, ()
    parts = {aliases.get(part, part) for part in name.split()}
    among = tuple(other for other, its in plain.items() if parts <= set(its))
    return (among[0], ()) if len(among) == 1 else (name, among) if among else None


def _near(heard: Words, names: Sequence[str], far: Far, language: str) -> tuple[str, tuple[str, ...]] | None:
    """The timer, or the words that some share, that sound most like what was heard; None if nothing does."""
    if len(heard) > LONGEST_NAME:
        return None
    beginnings = (name.split()[0] for name in names)
    aliases = tables(language).timers.aliases
    said = [*names, *beginnings, *(alias for alias in aliases if _known((alias,), names, language))]
    apart = {text: far(" ".join(heard), text) for text in said}
    nearest = min(apart, key=lambda text: apart[text], default=None)
    if nearest is None or apart[nearest] > MISHEARD:
        return None
    return _known((nearest,), names, language)
