"""Timers for timed steps: started, told and stopped by voice, with the maker's time and no other.

Comes in: text, the events so far, the clinic's times and the clock's reading. Goes out: a reply, and events
to append. No time is shipped: without one set by the clinic a timer does not start, and the reply says so.
Nothing here sleeps, rings or reads a clock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from listen.chairside.events import Event, EventKind, Source, effective
from vocab.english import ARTICLES, HESITATIONS
from vocab.schema import Pack
from vocab.spoken import words

Far = Callable[[str, str], float]
MISHEARD = 0.3
"""Of the phones of a name so many may be wrong; author's judgement."""
LONGEST_NAME = 3


class Wish(StrEnum):
    """What is to be done with a timer."""

    START = "start"
    STOP = "stop"
    TELL = "tell"


@dataclass(frozen=True)
class TimerWish:
    """`name` is None where no timer was named; `everything` for "all timers"; `said_timer` where the
    words can mean nothing else ("how long" alone can)."""

    wish: Wish
    name: str | None = None
    everything: bool = False
    said_timer: bool = True


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


CAUTIONS: Mapping[str, str] = {
    "etch": "On dentine at most about 15 seconds; have the suction ready before the rinse.",
    "etch sealant": "On uncut enamel often 15 to 30 seconds; have the suction ready before the rinse.",
    "cure": "Nobody looks into the beam; hold the orange shield before the eyes.",
    "bond": "Bonding agents are often cured about 10 seconds; the maker's time counts.",
    "topical anaesthetic": "Dry the tissue first.",
}
"""Told where the step has none of its own. Common practice, no source."""

_SAID: Mapping[str, str] = {
    "etching": "etch",
    "etchant": "etch",
    "acid": "etch",
    "curing": "cure",
    "curing light": "cure",
    "light": "cure",
    "light cure": "cure",
    "bonding": "bond",
    "bonding agent": "bond",
    "topical": "topical anaesthetic",
    "topical anesthetic": "topical anaesthetic",
    "setting": "set",
    "mixing": "mix",
}
_FORMS: Mapping[Wish, tuple[str, ...]] = {
    Wish.START: (
        "start N timer",
        "start timer for N",
        "start timing N",
        "start timer on N",
        "begin N timer",
        "set N timer",
        "run N timer",
        "time N",
        "N timer",
        "start timer",
        "start clock",
        "start timing",
        "time it",
        "time that",
        "time this",
    ),
    Wish.STOP: (
        "stop N timer",
        "stop timer for N",
        "stop timing N",
        "cancel N timer",
        "end N timer",
        "N timer off",
        "turn off N timer",
        "turn N timer off",
        "stop timer",
        "stop clock",
        "stop timing",
        "timer off",
        "turn off timer",
        "turn timer off",
        "cancel timer",
        "end timer",
        "silence timer",
    ),
    Wish.TELL: (
        "how long left on N",
        "how long left for N",
        "how long left on N timer",
        "how much longer on N",
        "how much longer for N",
        "how much time left on N",
        "how much time on N timer",
        "how long on N timer",
        "how long is N timer",
        "time left on N",
        "how long left on timer",
        "how much time left on timer",
        "how long on timer",
        "time left on timer",
    ),
}
_SHORT_TELL = frozenset(
    {
        "how long",
        "how long left",
        "how long is left",
        "how long to go",
        "how long now",
        "how much longer",
        "how much time left",
        "how much time is left",
        "how many seconds",
        "how many seconds left",
        "time left",
        "seconds left",
    }
)
_ALL = frozenset({"all", "every"})
_SKIPPED = frozenset({"please", "now", "thanks", "okay", "ok", "and", "so", "can", "you", "could", "is"})


def timer_names(pack: Pack) -> tuple[str, ...]:
    """The things that the pack's procedures time, in the order of their appearance."""
    named = (timer for procedure in pack.procedures for step in procedure.steps for timer in step.timers)
    return tuple(dict.fromkeys(named))


def understand_timer(text: str, names: Sequence[str], far: Far | None = None) -> TimerWish | None:
    """What the text wants of a timer; None for everything else.

    Args:
        far: how far apart two texts sound, 0 to 1; with it, a form that says "timer" takes a name that
            was misheard ("start the etched timer").
    """
    plain = [word for word in words(text) if word not in HESITATIONS | ARTICLES]
    said = tuple(word for word in plain if word not in _SKIPPED)
    if " ".join(plain) in _SHORT_TELL or " ".join(said) in _SHORT_TELL:
        return TimerWish(Wish.TELL, said_timer=False)
    everything = bool(_ALL & set(said))
    said = tuple("timer" if word == "timers" else word for word in said if word not in _ALL)
    known = {name: name for name in names} | {alias: name for alias, name in _SAID.items() if name in names}
    for wish, forms in _FORMS.items():
        for form in forms:
            found, name = _match(said, form, known)
            if found:
                return TimerWish(wish, name, everything)
    if far is not None:
        for wish, forms in _FORMS.items():
            for form in forms:
                name = _near(said, form, known, far) if "timer" in form.split() else None
                if name:
                    return TimerWish(wish, name, everything)
    return None


def running(events: Iterable[Event]) -> tuple[Running, ...]:
    """The timers that run after these events, in the order they were started; restarting begins anew."""
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
    """Those whose time has come."""
    return tuple(timer for timer in timers if timer.is_over(now_s))


def timer_reply(
    wish: TimerWish,
    timers: Sequence[Running],
    maker_times: Mapping[str, float],
    now_s: float,
    source: Source = Source.SPEECH,
    step_timer: str | None = None,
    cautions: Sequence[str] = (),
) -> TimerReply | None:
    """Does what is wished for.

    Args:
        timers: from `running`.
        maker_times: seconds by timer, from `ChairSettings`.
        step_timer: what the present step times; meant by "start the timer".
        cautions: of the present step.

    Returns:
        None where silence is right: "how long" with no timer running was no question to us.
    """
    if wish.wish is Wish.START:
        return _started(wish.name or step_timer, maker_times, now_s, source, cautions)
    named = [timer for timer in timers if wish.name in (None, timer.name)]
    if not named:
        return (
            TimerReply(f"No {f'{wish.name} ' if wish.name else ''}timer runs.") if wish.said_timer else None
        )
    if wish.wish is Wish.TELL:
        return TimerReply(" ".join(_left(timer, now_s) for timer in named))
    stopped = named if wish.name or wish.everything else _meant(named, now_s)
    return TimerReply(
        f"{_listed([timer.name for timer in stopped])} stopped.",
        tuple(Event(EventKind.TIMER_STOPPED, now_s, source, about=timer.name) for timer in stopped),
    )


def step_cautions(pack: Pack, timer: str) -> tuple[str, ...]:
    """What the pack warns of in the steps with this timer, each once."""
    said = (c for p in pack.procedures for step in p.steps if timer in step.timers for c in step.cautions)
    return tuple(dict.fromkeys(said))


def _started(
    name: str | None,
    maker_times: Mapping[str, float],
    now_s: float,
    source: Source,
    cautions: Sequence[str],
) -> TimerReply:
    if name is None:
        known = f" Times are set for: {', '.join(maker_times)}." if maker_times else ""
        return TimerReply(f"Which timer? Say its name, such as “start the etch timer”.{known}")
    length_s = maker_times.get(name)
    if length_s is None:
        return TimerReply(
            f"No time is set for {name}. Set the maker's time of the material in use first; none is shipped."
        )
    warned = cautions or [CAUTIONS[name]] if name in CAUTIONS else cautions
    text = f"{name.capitalize()}: {length_s:g} seconds, the time set by the clinic."
    event = Event(EventKind.TIMER_STARTED, now_s, source, about=name, seconds_s=length_s)
    return TimerReply(" ".join((text, *warned)), (event,))


def _meant(timers: Sequence[Running], now_s: float) -> Sequence[Running]:
    """ "Stop the timer": those that are over, or else the last one started."""
    return over(timers, now_s) or timers[-1:]


def _left(timer: Running, now_s: float) -> str:
    left_s = timer.left_s(now_s)
    return f"{timer.name.capitalize()}: " + (f"{left_s:.0f} seconds left." if left_s else "time is over.")


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names).capitalize()


def _near(said: tuple[str, ...], form: str, known: Mapping[str, str], far: Far) -> str | None:
    """The timer whose name sounds most like what stands for N; None if none does."""
    heard = _in_place_of_n(said, form)
    if heard is None or len(heard) > LONGEST_NAME:
        return None
    apart = {name: far(" ".join(heard), name) for name in known}
    nearest = min(apart, key=lambda name: apart[name], default=None)
    return known[nearest] if nearest is not None and apart[nearest] <= MISHEARD else None


def _in_place_of_n(said: tuple[str, ...], form: str) -> tuple[str, ...] | None:
    """The words that stand for N; None where the form has none or does not fit."""
    parts = form.split()
    if "N" not in parts:
        return None
    at = parts.index("N")
    end = len(said) - (len(parts) - at - 1)
    if end <= at or said[:at] != tuple(parts[:at]) or said[end:] != tuple(parts[at + 1 :]):
        return None
    return said[at:end]


def _match(said: tuple[str, ...], form: str, known: Mapping[str, str]) -> tuple[bool, str | None]:
    """Whether the form is all that was said, and the timer that stands for N in it."""
    if "N" not in form.split():
        return said == tuple(form.split()), None
    named = _in_place_of_n(said, form)
    name = None if named is None else known.get(" ".join(named))
    return name is not None, name
