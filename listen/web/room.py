"""One session at one chair, the same for every screen that shows it.

Comes in: hearings, typed requests, choices and touches. Goes out: events in the log, and what the screens
show (`listen.web.view`). Everything that must survive a restart is in the log; what is only shown for a
moment is not kept. Chatter changes nothing, and words that were said are never kept.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from listen.answer import Answer, Likely
from listen.chair import Chair
from listen.chairside.asked import asked_events
from listen.chairside.count import count_event, setup_event
from listen.chairside.events import Event, EventKind, Source, effective
from listen.chairside.handing import ChairSettings
from listen.chairside.log import Session, SessionLog
from listen.chairside.returns import return_events
from listen.chairside.state import TrayState, apply, fold
from listen.chairside.timers import (
    Running,
    TimerWish,
    Wish,
    running,
    step_cautions,
    timer_names,
    timer_reply,
    understand_timer,
)
from listen.chairside.told import spoken_returns
from listen.engine import Hearing
from listen.readings import Readings
from listen.segments import Utterance
from listen.verdict import Verdict
from listen.web.chair_assistant import ChairAssistant
from listen.web.choices import choice_of
from listen.web.settings import WebError
from listen.whole import WHOLE_S
from vocab.pronounce import phone_distance
from vocab.schema import Step

MOST_CHOICES = 3
LEAST_CHOICE_P = 0.03
"""Of a check, what is less likely than this is not offered."""
NAMED_P, NAMED_SHARE = 0.3, 0.7
"""A name settles a check if the choices hold so much probability together, and one so much of that."""
BELIEVED = 0.5
"""A phrasing of the closed vocabulary counts if it is less likely than this that none was said."""
ECHO_S = 5.0
"""The same item heard again within this time is the assistant repeating the request."""
CHECK_S = 30.0
"""A check that nobody answers is taken away after this time."""
AGAIN_S = 30.0
"""After a restart an answer younger than this is shown again."""

TOUCHES = frozenset(
    {
        EventKind.PASSED,
        EventKind.RETURNED,
        EventKind.WIPED,
        EventKind.DROPPED,
        EventKind.USED_UP,
        EventKind.ADDED,
    }
)
"""What a person may record of an item by hand."""


@dataclass(frozen=True)
class Check:
    """A question which item was meant; `predicted` are the ids that were expected before it."""

    items: tuple[str, ...]
    asked: Answer
    predicted: tuple[str, ...]
    at_s: float


@dataclass(frozen=True)
class Stage:
    """What stands large on the screen.

    number: rises with every change; answers: what was answered last; checks: what is still open, the
    first of them shown; waiting: something is not wanted now, `wait` names what; note: one sentence.
    """

    number: int = 0
    at_s: float = 0.0
    answers: tuple[Answer, ...] = ()
    checks: tuple[Check, ...] = ()
    waiting: bool = False
    wait: tuple[str, ...] = ()
    note: str = ""


class Room:
    """A session and everything that is remembered of it; safe to call from several threads.

    Every method that changes something returns whether anything on the screen changed.

    Args:
        chair: pack, tray and procedure of the session.
        clock: seconds since 1970.
    """

    def __init__(
        self,
        session: Session,
        chair: Chair,
        assistant: ChairAssistant,
        log: SessionLog,
        settings: ChairSettings,
        clock: Callable[[], float],
    ) -> None:
        self.session, self.chair, self.settings = session, chair, settings
        self._assistant, self._log, self._clock = assistant, log, clock
        self._lock = threading.RLock()
        self._timer_names = timer_names(chair.pack)
        self.state: TrayState = fold(log.events(session.id), chair.tray, chair.pack)
        self._catch_up()
        self.stage = self._stage_again()

    def renew(self, chair: Chair, assistant: ChairAssistant) -> None:
        """Go on with a changed vocabulary; what was asked for and what stands on the screen stay."""
        with self._lock:
            self.chair, self._assistant = chair, assistant
            self._timer_names = timer_names(chair.pack)
            known = {item.id for item in chair.pack.items}
            shown = (*self.stage.answers, *(check.asked for check in self.stage.checks))
            if any(answer.item is not None and answer.item not in known for answer in shown):
                self._set()
            self._catch_up()

    # --- what it knows --------------------------------------------------------------------------

    @property
    def now_s(self) -> float:
        """Seconds since 1970."""
        return self._clock()

    @property
    def closed(self) -> bool:
        """Whether the session is over."""
        return any(event.kind is EventKind.CLOSED for event in effective(self.state.events))

    @property
    def following(self) -> tuple[Likely, ...]:
        """The likeliest next items, without those of which every piece is out already."""
        away = {i for i, held in self.state.holdings.items() if held.out and not held.clean + held.back}
        with self._lock:
            return self._assistant.following(away)

    @property
    def step(self) -> Step | None:
        """The step that the procedure is most likely in; None where no procedure was chosen."""
        procedure = self.chair.procedure
        if procedure is None:
            return None
        with self._lock:
            step_id, _ = self._assistant.step()
        return next((step for step in procedure.steps if step.id == step_id), None)

    @property
    def timers(self) -> tuple[Running, ...]:
        """Timers that run."""
        return running(self.state.events)

    @property
    def timer_names(self) -> tuple[str, ...]:
        """What can be timed."""
        return self._timer_names

    @property
    def check(self) -> Check | None:
        """The open question, if it is not too old."""
        for check in self.stage.checks[:1]:
            if self.now_s - self.stage.at_s <= CHECK_S:
                return check
        return None

    # --- requests -------------------------------------------------------------------------------

    def hear(self, hearing: Hearing, utterance: Utterance, engine: str) -> bool:
        """An utterance was heard."""
        with self._lock:
            if self.closed:
                return False
            if self._chosen(hearing.free_text, lambda: self._assistant.readings(hearing), Source.SPEECH):
                return True
            told = self._told_by_voice(hearing)
            if told is not None:
                return told
            predicted = self._predicted()
            answers = self._assistant.take(hearing, utterance, engine)
            return self._show(answers, predicted, Source.SPEECH)

    def enough_s(self, hearing: Hearing) -> float | None:
        """Seconds of silence after which this, heard in a pause, may be acted on (see `listen.whole`)."""
        with self._lock:
            check = self.check
            if check is not None and choice_of(hearing.free_text, len(check.items)) is not None:
                return WHOLE_S
            return self._assistant.enough_s(hearing)

    def ask(self, text: str) -> bool:
        """A request was typed. Unlike speech, text that asks for nothing is answered with a note."""
        with self._lock:
            self._must_run()
            if self._chosen(text, lambda: self._assistant.text_readings(text), Source.KEYBOARD):
                return True
            if self._told(text, Source.KEYBOARD):
                return True
            predicted = self._predicted()
            if self._show(self._assistant.ask(text), predicted, Source.KEYBOARD):
                return True
            return self._set(note="Nothing on this list is called that. Try another of its names.")

    def request(self, item: str, source: Source = Source.TOUCH) -> bool:
        """An item was asked for by pointing at it; what is always checked is checked all the same."""
        with self._lock:
            self._must_run()
            self._known(item)
            known = self.chair.pack.item(item)
            slot = self.chair.tray.slot_of(item) if self.chair.tray else None
            event = Event(EventKind.ASKED, self.now_s, source, item=item, slot=slot, verdict="answer")
            answer = _answer_again(event, known.name.text)
            if known.always_check:
                answer = replace(answer, verdict=Verdict.CHECK)
            predicted = self._predicted()
            self._show((answer,), predicted, source)
            self._catch_up()
            return True

    def choose(self, number: int, source: Source = Source.TOUCH) -> bool:
        """Settle the open check with one of its choices, counted from 1; 0 means none of them."""
        with self._lock:
            check = self.check
            if check is None or not 0 <= number <= len(check.items):
                return False
            rest = self.stage.checks[1:]
            if number == 0:
                self._catch_up()
                return self._set(answers=self.stage.answers, checks=rest)
            item = check.items[number - 1]
            answer = replace(
                check.asked,
                verdict=Verdict.ANSWER,
                item=item,
                name=self.chair.pack.item(item).name.text,
                slot=self.chair.tray.slot_of(item) if self.chair.tray else None,
                alternatives=(),
            )
            self._keep(asked_events(answer, self.state, check.predicted, self.now_s, source))
            self._catch_up()
            fresh = () if self.stage.number != self._check_stage else self.stage.answers
            return self._set(answers=(*fresh, answer), checks=rest)

    # --- touches --------------------------------------------------------------------------------

    def touch(self, kind: EventKind, item: str, quantity: int = 1, source: Source = Source.TOUCH) -> bool:
        """Record by hand what became of an item."""
        with self._lock:
            self._must_run()
            if kind not in TOUCHES:
                raise WebError(f"{kind.value} cannot be recorded by hand.")
            self._known(item)
            self._keep([Event(kind, self.now_s, source, item=item, quantity=quantity)])
            return True

    def undo(self, source: Source = Source.TOUCH) -> bool:
        """Take the last event about an item back."""
        with self._lock:
            self._must_run()
            last = self.state.last_standing
            if last is None:
                return self._set(note="There is nothing to take back.")
            self._keep([Event(EventKind.CORRECTED, self.now_s, source, corrects=last.seq)])
            self._catch_up()
            return self._set(note="Taken back.")

    def start_timer(self, name: str | None, source: Source = Source.TOUCH) -> bool:
        """Start a timer with the time that the clinic set."""
        with self._lock:
            self._must_run()
            return self._timer(TimerWish(Wish.START, name), source)

    def stop_timer(self, name: str | None, source: Source = Source.TOUCH) -> bool:
        """Stop a timer."""
        with self._lock:
            return self._timer(TimerWish(Wish.STOP, name), source)

    def check_setup(self, check_id: str, good: bool, source: Source = Source.TOUCH) -> None:
        """Answer a set-up question."""
        with self._lock:
            self._must_run()
            self._keep([setup_event(check_id, good, self.now_s, source)])

    def count(self, item: str, pieces: int, source: Source = Source.TOUCH) -> None:
        """Record a count by hand."""
        with self._lock:
            self._must_run()
            if item not in self.state.holdings:
                self._known(item)
            self._keep([count_event(item, pieces, self.now_s, source)])

    def close(self, source: Source = Source.TOUCH) -> None:
        """End the session; a second time changes nothing."""
        with self._lock:
            if not self.closed:
                self._keep([Event(EventKind.CLOSED, self.now_s, source)])
                self._set()

    # --- inside ---------------------------------------------------------------------------------

    _check_stage = -1
    """Number of the stage in which the open checks and the answers beside them came up."""

    def _chosen(self, text: str, readings: Callable[[], Readings], source: Source) -> bool:
        """Settle the open check by number or by name."""
        check = self.check
        if check is None:
            return False
        number = choice_of(text, len(check.items))
        if number is None and len(check.items) > 1:
            number = self._named(check.items, readings())
        return number is not None and self.choose(number, source)

    def _named(self, items: Sequence[str], readings: Readings) -> int | None:
        mass = dict.fromkeys(items, 0.0)
        for way in readings.ways:
            for candidate in way.requests[0].candidates if len(way.requests) == 1 else ():
                if candidate.item in mass and way.requests[0].kind in ("item", "correction"):
                    mass[candidate.item] += way.p * candidate.p
        total = sum(mass.values())
        best = max(mass, key=lambda item: mass[item])
        if total < NAMED_P or mass[best] < NAMED_SHARE * total:
            return None
        return items.index(best) + 1

    def _told(self, text: str, source: Source) -> bool:
        """Act on what was typed about timers and returns."""
        wish = understand_timer(text, self._timer_names)
        if wish is not None:
            return self._timer(wish, source)
        events = return_events(text, self.chair.lexicon, self.state, self.now_s, source)
        if not events:
            return False
        self._keep(events)
        if any(event.corrects is not None for event in events):
            self._catch_up()
            return self._set(note="Taken back.")
        return self._set(note="")

    def _told_by_voice(self, hearing: Hearing) -> bool | None:
        """The same of what was heard; None where nothing was told, and it may be a request."""
        wish = understand_timer(hearing.free_text, self._timer_names, self._far)
        if wish is not None:
            return self._timer(wish, Source.SPEECH)
        told = spoken_returns(
            hearing.free_text,
            hearing.phrasings[0].text if hearing.phrasings else "",
            lambda: self._assistant.readings(hearing).p_nothing < BELIEVED,
            self.chair.lexicon,
            self.state,
            self.now_s,
            self._far,
        )
        if told is None:
            return None
        self._keep(told.events)
        if any(event.corrects is not None for event in told.events):
            self._catch_up()
            return self._set(note="Taken back.")
        if told.rest:
            predicted = self._predicted()
            if self._show(self._assistant.ask(told.rest), predicted, Source.SPEECH):
                return True
        return bool(told.events) and self._set(note="")

    def _far(self, one: str, other: str) -> float:
        say = self.chair.pronouncer
        return phone_distance(say.phrase(one), say.phrase(other))

    def _timer(self, wish: TimerWish, source: Source) -> bool:
        step = self.step
        step_timer = step.timers[0] if step and len(step.timers) == 1 else None
        name = wish.name or step_timer
        cautions = step_cautions(self.chair.pack, name) if name else ()
        reply = timer_reply(
            wish,
            self.timers,
            self.settings.maker_times,
            self.now_s,
            source,
            step_timer,
            cautions,
        )
        if reply is None:
            return False
        self._keep(reply.events)
        return self._set(note=reply.text)

    def _show(self, answers: Sequence[Answer], predicted: tuple[str, ...], source: Source) -> bool:
        loud = [answer for answer in answers if answer.verdict is not Verdict.QUIET]
        refused = [answer for answer in answers if answer.kind == "refusal"]
        if not loud and not refused:
            return False
        if source is Source.SPEECH and self._is_echo(answers):
            self._catch_up()
            return False
        checks: list[Check] = []
        for answer in loud:
            self._keep(asked_events(answer, self.state, predicted, self.now_s, source))
            if answer.verdict is Verdict.CHECK and answer.item is not None:
                checks.append(Check(_choices(answer), answer, predicted, self.now_s))
        shown = tuple(answer for answer in loud if answer.verdict is Verdict.ANSWER)
        if not loud:
            wait = tuple(item for answer in refused for item in answer.refused)
            return self._set(waiting=True, wait=wait)
        self._set(answers=shown, checks=tuple(checks))
        self._check_stage = self.stage.number
        return True

    def _is_echo(self, answers: Sequence[Answer]) -> bool:
        """Whether this only repeats what the screen shows: somebody says again what was asked for."""
        now = {answer.item for answer in answers if answer.verdict is not Verdict.QUIET}
        shown = {answer.item for answer in self.stage.answers}
        if self.stage.checks:
            shown = shown | {self.stage.checks[0].items[0]}
        plain = all(answer.kind == "item" and answer.quantity is None for answer in answers)
        return plain and bool(shown) and now <= shown and self.now_s - self.stage.at_s <= ECHO_S

    def _keep(self, events: Iterable[Event]) -> None:
        for event in events:
            seq = self._log.append(event, self.session.id)
            for missed in self._log.events(self.session.id, len(self.state.events))[:-1]:
                self.state = apply(self.state, missed)  # from another program on the same log
            self.state = apply(self.state, replace(event, seq=seq))

    def _set(
        self,
        answers: tuple[Answer, ...] = (),
        checks: tuple[Check, ...] = (),
        waiting: bool = False,
        wait: tuple[str, ...] = (),
        note: str = "",
    ) -> bool:
        number = self.stage.number + 1
        if checks and self._check_stage == self.stage.number:
            self._check_stage = number
        self.stage = Stage(number, self.now_s, answers, checks, waiting, wait, note)
        return True

    def _predicted(self) -> tuple[str, ...]:
        return tuple(likely.item for likely in self._assistant.following())

    def _catch_up(self) -> None:
        """Expect what follows from the requests that stand in the log."""
        known = {item.id for item in self.chair.pack.items}
        self._assistant.start_again(
            event.item
            for event in effective(self.state.events)
            if event.kind is EventKind.ASKED and event.verdict == "answer" and event.item in known
        )

    def _stage_again(self) -> Stage:
        """After a restart: the last answer, if it is young; a question must be asked again."""
        asked = [event for event in effective(self.state.events) if event.kind is EventKind.ASKED]
        if not asked or self.now_s - asked[-1].at_s > AGAIN_S:
            return Stage(number=len(self.state.events), at_s=self.now_s)
        last = asked[-1]
        if last.verdict == "check":
            note = "The server was started again in the middle of a question. Please ask once more."
            return Stage(number=len(self.state.events), at_s=self.now_s, note=note)
        known = next((item for item in self.chair.pack.items if item.id == last.item), None)
        answers = () if known is None else (_answer_again(last, known.name.text),)
        return Stage(number=len(self.state.events), at_s=last.at_s, answers=answers)

    def _must_run(self) -> None:
        if self.closed:
            raise WebError("this session is closed; start a new one.")

    def _known(self, item: str) -> None:
        if all(known.id != item for known in self.chair.pack.items):
            raise WebError(f"there is no item {item!r}.")


def _choices(answer: Answer) -> tuple[str, ...]:
    likely = [other.item for other in answer.alternatives if other.p >= LEAST_CHOICE_P]
    first = () if answer.item is None else (answer.item,)
    return (*first, *likely)[:MOST_CHOICES]


def _answer_again(event: Event, name: str) -> Answer:
    return Answer(
        source="log",
        start_s=None,
        end_s=None,
        heard="",
        kind="item",
        verdict=Verdict.ANSWER,
        item=event.item,
        name=name,
        slot=event.slot,
        action=None,
        end=None,
        size=None,
        quantity=event.quantity if event.quantity > 1 else None,
        replaces=None,
        refused=(),
        p=1.0,
        alternatives=(),
        next=(),
        engine="log",
        latency_ms=0.0,
    )
