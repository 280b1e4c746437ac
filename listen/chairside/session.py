"""One session at one chair, the same for every screen that shows it.

It takes hearings, typed requests, choices and touches, and gives events in the log and what the screens show
(`listen.chairside.view`). Everything that must survive a restart is in the log; what is shown only for a
moment is not kept. Chatter changes nothing, and words that were said are never kept.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from listen.answer import Answer, Likely
from listen.answering import Answers, Choice
from listen.chair import Chair
from listen.chairside.assistant import ChairAssistant
from listen.chairside.choices import choice_of
from listen.chairside.closing import Override, close_event
from listen.chairside.count import (
    CountError,
    CountPlace,
    as_said_events,
    count_event,
    count_list,
    count_places,
    last_counts,
    setup_event,
    together_events,
)
from listen.chairside.events import (
    MOST_PIECES,
    CountedAs,
    Event,
    EventKind,
    Source,
    effective,
    taking_back,
)
from listen.chairside.faculty import looked_event, waiting_check
from listen.chairside.handing import ChairSettings
from listen.chairside.injury import card, injury_event
from listen.chairside.log import LoggedSession, SessionLog
from listen.chairside.meaning import (
    Chosen,
    Happened,
    LabelRead,
    Meaning,
    Nothing,
    Scene,
    TeacherLooked,
    TimerSaid,
    Wanted,
    interpret,
)
from listen.chairside.recording import asked_events, last_asked, one_more
from listen.chairside.roles import within_reach
from listen.chairside.spoken_count import CountSaid
from listen.chairside.stage import NOT_KNOWN, Check, Stage
from listen.chairside.timers import (
    Running,
    TimerAct,
    TimerWish,
    running,
    step_cautions,
    timer_names,
    timer_reply,
)
from listen.chairside.tray_state import TrayState, apply, fold, spare_wanted
from listen.chairside.wording import to_take_back
from listen.engine import Hearing
from listen.pause import WHOLE_S
from listen.verdict import Verdict
from vocab.errors import Declined
from vocab.language.forms import SHARPS_INJURY
from vocab.layers.starter import times_asked
from vocab.pack.schema import Step

PLACE_EMPTY = "Its place is empty: fetch a sterile spare."
LATEX_FREE = "latex_free"
"""The set-up question (`EventKind.CHECKED`) that marks a session as latex-free."""
ECHO_S = 5.0
"""The same item heard again within this time is the assistant repeating the request."""
AGAIN_S = 30.0
"""After a restart an answer younger than this is shown again."""

TOUCHES = frozenset(
    {
        EventKind.PASSED,
        EventKind.RETURNED,
        EventKind.WIPED,
        EventKind.DROPPED,
        EventKind.USED_UP,
        EventKind.IN_MOUTH,
        EventKind.OUT_OF_MOUTH,
        EventKind.BROKEN,
        EventKind.SHORT,
        EventKind.ADDED,
    }
)
"""What a person may record about an item by hand."""


class ChairSession:
    """A session and everything that is remembered about it; safe to call from several threads.

    Every method that changes something returns whether anything on the screen changed.

    Args:
        chair: pack, tray and procedure of the session.
        clock: seconds since 1970.
    """

    def __init__(
        self,
        session: LoggedSession,
        chair: Chair,
        assistant: ChairAssistant,
        log: SessionLog,
        settings: ChairSettings,
        clock: Callable[[], float],
    ) -> None:
        self.session, self.chair, self.settings = session, chair, settings
        self._assistant, self._log, self._clock = assistant, log, clock
        self._lock = threading.RLock()
        self._answers = Answers(chair.pack, chair.tray)
        self.state: TrayState = fold(log.events(session.id), chair.tray, chair.pack)
        self._catch_up()
        self.stage = self._stage_again()
        self._said: Mapping[str, int] = {}

    def renew(self, chair: Chair, assistant: ChairAssistant) -> None:
        """Continue with a changed vocabulary; what was asked for and what the screen shows stay."""
        with self._lock:
            self.chair, self._assistant = chair, assistant
            self._answers = Answers(chair.pack, chair.tray)
            shown = (*self.stage.answers, *(check.asked for check in self.stage.checks))
            if any(answer.item is not None and answer.item not in chair.pack.by_id for answer in shown):
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
        """The likeliest next items, without those whose pieces are all out already; while a step waits for a
        teacher, only that step's items."""
        return self._following(frozenset())

    @property
    def to_fetch(self) -> tuple[Likely, ...]:
        """The same of what the roving assistant fetches; nothing without a tray."""
        tray = self.chair.tray
        return self._following(within_reach(tray)) if tray else ()

    def _following(self, near: frozenset[str]) -> tuple[Likely, ...]:
        """The likeliest next items but for those out and those in `near`."""
        left_out = {i for i, held in self.state.holdings.items() if held.out and not held.clean + held.back}
        waiting = self.faculty_check
        if waiting is not None:
            left_out |= self.chair.pack.by_id.keys() - waiting.items.keys()
        with self._lock:
            return self._assistant.following(left_out | near)

    @property
    def step(self) -> Step | None:
        """The step that the procedure is most likely in; None where no procedure was chosen."""
        procedure = self.chair.procedure
        if procedure is None:
            return None
        with self._lock:
            step_id = self._assistant.step()
        return next((step for step in procedure.steps if step.id == step_id), None)

    @property
    def timers(self) -> tuple[Running, ...]:
        """The timers that are running."""
        return running(self.state.events)

    @property
    def timer_names(self) -> tuple[str, ...]:
        """What can be timed."""
        return timer_names(self.chair.pack)

    @property
    def times_asked(self) -> dict[str, str]:
        """Of what the makers' times are asked, with its label (see `vocab.layers.starter.times_asked`)."""
        return times_asked(self.chair.pack, self.settings.maker_times)

    @property
    def latex_free(self) -> bool:
        """Whether the session is marked latex-free."""
        return self.state.checks.get(LATEX_FREE, False)

    @property
    def injury_card(self) -> tuple[str, ...]:
        """What to do after a needle stick, in the clinic's own lines."""
        return card(self.chair.clinic.injury_card)

    @property
    def faculty_check(self) -> Step | None:
        """The step that waits until a teacher has looked; None where none does."""
        step = self.step if self.settings.faculty else None
        return waiting_check(self.chair.procedure, self.state, step.id if step else None)

    @property
    def check(self) -> Check | None:
        """The open question, if it is not too old."""
        return self.stage.check(self.now_s)

    # --- requests -------------------------------------------------------------------------------

    def hear(self, hearing: Hearing) -> bool:
        """An utterance was heard."""
        with self._lock:
            return not self.closed and self._act(interpret(hearing, self._scene()), Source.SPEECH)

    def enough_s(self, hearing: Hearing) -> float | None:
        """Seconds of silence after which what was heard in a pause may be acted on (see `listen.pause`)."""
        with self._lock:
            check = self.check
            if (
                check is not None
                and choice_of(hearing.free_text, len(check.choices), self.chair.pack.language) is not None
            ):
                return WHOLE_S
            return self._assistant.enough_s(hearing)

    def ask(self, text: str) -> bool:
        """A request was typed. Unlike speech, text that asks for nothing is answered with a note."""
        with self._lock:
            self._must_run()
            return self._act(interpret(text, self._scene()), Source.KEYBOARD) or self._set(note=NOT_KNOWN)

    def request(self, item: str, size: str | None = None, source: Source = Source.TOUCH) -> bool:
        """An item was asked for by pointing at it; what is always checked is still checked."""
        with self._lock:
            self._must_run()
            self._known(item)
            predicted = self._predicted()
            self._show((self._answers.pointed_at(item, size, self.latex_free),), predicted, source)
            self._catch_up()
            return True

    def choose(self, number: int, source: Source = Source.TOUCH) -> bool:
        """Settle the open check with one of its choices, counted from 1; 0 means none of them.

        An item that is always checked is not answered yet: it is marked as chosen, and stays until its label
        was read back, as somebody says or touches once more.
        """
        with self._lock:
            check = self.check
            if check is None or not 0 <= number <= len(check.choices):
                return False
            rest, beside = self.stage.checks[1:], self.stage.answers
            if number == 0:
                self._catch_up()
                return self._set(answers=beside, checks=rest)
            if check.chosen == number - 1 and source is not Source.SPEECH:
                return self._read_back(check, source)
            choice = check.choices[number - 1]
            answer = self._with_spare(self._answers.chosen(check.asked, choice, self.latex_free))
            if answer.verdict is Verdict.CHECK:
                return self._set(answers=beside, checks=(check.narrowed(answer), *rest))
            self._keep(asked_events(answer, self.state, check.predicted, self.now_s, source))
            self._catch_up()
            return self._set(answers=(*beside, answer), checks=rest)

    def open_injury_card(self, source: Source = Source.TOUCH) -> bool:
        """Show the clinic's card of what to do after a needle stick."""
        with self._lock:
            self._must_run()
            self._keep([injury_event(self.now_s, source)])
            return self._show_card(True)

    def close_injury_card(self) -> bool:
        """Put the card away."""
        with self._lock:
            return self.stage.injury and self._show_card(False)

    def looked(self, by: str | None = None, source: Source = Source.TOUCH) -> bool:
        """A teacher has looked at the step that waits for it; `by` is who did, if they want to be named."""
        with self._lock:
            self._must_run()
            step = self.faculty_check
            if step is None:
                return False
            self._keep([looked_event(step, self.now_s, source, by or None)])
            return self._set(note=f"Noted: faculty has looked. {step.name}.")

    def mark_latex_free(self, on: bool, source: Source = Source.TOUCH) -> bool:
        """Mark the session as latex-free, or take the mark off; nothing about the patient is kept."""
        with self._lock:
            self._must_run()
            self._keep([Event(EventKind.CHECKED, self.now_s, source, about=LATEX_FREE, good=on)])
            self._catch_up()
            return True

    # --- touches --------------------------------------------------------------------------------

    def touch(self, kind: EventKind, item: str, quantity: int = 1, source: Source = Source.TOUCH) -> bool:
        """Record by hand what became of an item."""
        with self._lock:
            self._must_run()
            if kind not in TOUCHES:
                raise Declined(f"{kind.value} cannot be recorded by hand.")
            self._known(item)
            self._keep([Event(kind, self.now_s, source, item=item, quantity=quantity)])
            return True

    def undo(self, source: Source = Source.TOUCH, seq: int | None = None) -> bool:
        """Take back the last event about an item; with `seq` only if it is that one."""
        with self._lock:
            self._must_run()
            last = self.state.last_standing
            if last is None:
                return self._set(note="There is nothing to undo.")
            if seq is not None and seq != last.seq:
                came = to_take_back(last, self.chair.pack)
                return self._set(note=f"Nothing taken back: since then came {came}.")
            self._keep(taking_back(last, self.state.events, self.now_s, source))
            self._catch_up()
            return self._set(note=self._taken_back(last))

    def not_asked(self, item: str, source: Source = Source.TOUCH) -> bool:
        """Take back the last request for an item: it was heard or touched by mistake."""
        with self._lock:
            self._must_run()
            self._known(item)
            name = self.chair.pack.item(item).name.text
            asked = last_asked(self.state, item)
            if asked is None:
                return self._set(note=f"No request for {name} is noted.")
            self._keep(taking_back(asked, self.state.events, self.now_s, source))
            self._catch_up()
            return self._set(note=self._taken_back(asked))

    def start_timer(self, name: str | None, source: Source = Source.TOUCH) -> bool:
        """Start a timer with the time that the clinic set."""
        with self._lock:
            self._must_run()
            return self._timer(TimerWish(TimerAct.START, name), source)

    def stop_timer(self, name: str | None, source: Source = Source.TOUCH) -> bool:
        """Stop a timer."""
        with self._lock:
            return self._timer(TimerWish(TimerAct.STOP, name), source)

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
            self._said = {other: found for other, found in self._said.items() if other != item}

    def count_one_more(self, item: str, more: int, source: Source = Source.TOUCH) -> None:
        """Count more pieces (fewer, if negative) than were counted, were said, or else are expected."""
        with self._lock:
            line = next((line for line in count_list(self.state, self.chair.pack) if line.item == item), None)
            if line is None:
                raise CountError(f"there is no {item!r} to count here.")
            now = line.expected if line.counted is None else line.counted
            self.count(item, min(MOST_PIECES, max(0, self.said.get(item, now) + more)), source)

    def count_together(self, place: str, together: CountedAs, source: Source = Source.TOUCH) -> None:
        """Record that all of a row or a kit is here, or that a kit was not opened; `place` is its id."""
        with self._lock:
            self._must_run()
            found = next((one for one in self.places if one.id == place), None)
            if found is None:
                raise CountError(f"there is no {place!r} to count; load the page again.")
            self._keep(together_events(found, together, self.now_s, source))
            done = {line.item for line in found.shown}
            self._said = {item: pieces for item, pieces in self._said.items() if item not in done}

    def count_as_said(self, source: Source = Source.TOUCH) -> None:
        """Take over what was counted aloud, but for what is confirmed by itself."""
        with self._lock:
            self._must_run()
            events = as_said_events(self.said, self.state, self.chair.pack, self.now_s, source)
            self._keep(events)
            done = {event.item for event in events}
            self._said = {item: pieces for item, pieces in self._said.items() if item not in done}

    def uncount(self, source: Source = Source.TOUCH) -> bool:
        """Take back what the last touch counted; whether it counted anything."""
        with self._lock:
            self._must_run()
            back = last_counts(self.state)
            self._keep(Event(EventKind.CORRECTED, self.now_s, source, corrects=e.seq) for e in back)
            return bool(back)

    @property
    def places(self) -> tuple[CountPlace, ...]:
        """The count place by place."""
        return count_places(self.state, self.chair.pack, self.chair.tray)

    @property
    def said(self) -> dict[str, int]:
        """What was counted aloud and nobody has confirmed: pieces by item. It is not in the log."""
        expected = {line.item: line for line in count_list(self.state, self.chair.pack)}
        return {
            item: pieces
            for item, pieces in self._said.items()
            if item in expected and expected[item].counted != pieces
        }

    def close(self, source: Source = Source.TOUCH, override: Override | None = None) -> None:
        """End the session; a second call changes nothing.

        Raises:
            NotCounted: the count is not complete, and no named person has decided to end the session anyway.
        """
        with self._lock:
            self._read_log()
            if not self.closed:
                pack = self.chair.pack
                self._keep([close_event(self.state, pack, self.now_s, source, override)])
                self._set()

    # --- inside ---------------------------------------------------------------------------------

    def _scene(self) -> Scene:
        """What decides now what words mean."""
        return Scene(
            self.chair,
            self._assistant.reader,
            self.state,
            self._assistant.expected,
            self.check,
            self.faculty_check is not None,
            self.now_s,
        )

    def _act(self, meaning: Meaning, source: Source) -> bool:
        """Record what was meant, and show it."""
        match meaning:
            case Chosen():
                return self.choose(meaning.number, source)
            case LabelRead():
                return self.check is not None and self._read_back(self.check, source)
            case TeacherLooked():
                return self.looked(source=source)
            case CountSaid():
                return self._counted_aloud(meaning, source)
            case TimerSaid():
                return self._timer(meaning.wish, source)
            case Happened():
                return self._happened(meaning, source)
            case Wanted():
                return self._wanted(meaning, source)
            case Nothing():
                return False

    def _read_back(self, check: Check, source: Source) -> bool:
        """The label of what was chosen was read back: it is recorded as passed, and never answered."""
        assert check.chosen is not None
        choice = check.choices[check.chosen]
        name = self.chair.pack.item(choice.item).name.text
        passed = Event(EventKind.PASSED, self.now_s, source, item=choice.item, size=choice.size)
        self._keep([passed])
        self._catch_up()
        rest = self.stage.checks[1:]
        noted = "" if rest else f"Checked, and noted as passed: {name}."
        return self._set(answers=self.stage.answers, checks=rest, note=noted)

    def _happened(self, told: Happened, source: Source) -> bool:
        before = {event.seq: event for event in self.state.events}
        self._keep(told.events)
        gone = [before[event.corrects] for event in told.events if event.corrects is not None]
        if gone:
            self._catch_up()
            return self._set(note=self._taken_back(*gone))
        return (told.rest is not None and self._wanted(told.rest, source)) or self._set()

    def _taken_back(self, *gone: Event) -> str:
        return f"Taken back: {'; '.join(to_take_back(event, self.chair.pack) for event in gone)}."

    def _counted_aloud(self, told: CountSaid, source: Source) -> bool:
        """Propose what was counted aloud; what a screen shows large stays, unless it was typed."""
        self._said = {**self._said, **told.pieces}
        if source is Source.SPEECH:
            return bool(told.pieces)
        named = " and ".join(told.places)
        note = f"Said for the count: {named}. Confirm it there with one touch."
        unclear = f"{named[:1].upper()}{named[1:]}: it is not clear what is missing. Count it by touch."
        return self._set(note=note if told.pieces else unclear)

    def _timer(self, wish: TimerWish, source: Source) -> bool:
        step, procedure = self.step, self.chair.procedure
        reply = timer_reply(
            wish,
            self.timers,
            self.settings.maker_times,
            self.now_s,
            source,
            step.timers if step else (),
            lambda timer: step_cautions(self.chair.pack, timer),
            tuple(timer for step in procedure.steps for timer in step.timers) if procedure else (),
            self.chair.pack.language,
        )
        if reply is None:
            return False
        self._keep(reply.events)
        return self._set(note=reply.text)

    def _wanted(self, wanted: Wanted, source: Source) -> bool:
        self._assistant.note(wanted.text)
        predicted = self._predicted()
        return self._show(self._assistant.answers(wanted.readings), predicted, source)

    def _show(self, answers: Sequence[Answer], predicted: tuple[str, ...], source: Source) -> bool:
        loud = [answer for answer in answers if answer.verdict is not Verdict.QUIET]
        refused = [answer for answer in answers if answer.kind == "refusal"]
        if not loud and not refused:
            return False
        if any(answer.action == SHARPS_INJURY for answer in loud):
            return self.open_injury_card(source)
        if source is Source.SPEECH and self._is_echo(answers):
            self._catch_up()
            return False
        if not loud:
            return self._set(waiting=True, wait=tuple(item for one in refused for item in one.refused))
        loud = [self._with_spare(answer) for answer in loud]
        for answer in loud:
            self._keep(asked_events(answer, self.state, predicted, self.now_s, source))
        checks = tuple(
            Check.of(answer, predicted, self.chair.pack, self.latex_free)
            for answer in loud
            if answer.verdict is Verdict.CHECK and answer.item is not None
        )
        shown = tuple(answer for answer in loud if answer.verdict is Verdict.ANSWER)
        return self._set(answers=shown, checks=checks)

    def _with_spare(self, answer: Answer) -> Answer:
        """The answer, with a warning if its place is empty."""
        if answer.item is None or answer.kind == "action":
            return answer
        if not spare_wanted(self.state, answer.item) and not one_more(answer, self.state):
            return answer
        return replace(answer, warning=" ".join(filter(None, (answer.warning, PLACE_EMPTY))))

    def _is_echo(self, answers: Sequence[Answer]) -> bool:
        """Whether this only repeats what the screen shows: somebody says again what was asked for."""
        now = {(answer.item, answer.size) for answer in answers if answer.verdict is not Verdict.QUIET}
        shown = {(answer.item, answer.size) for answer in self.stage.answers}
        shown |= {(check.choices[0].item, check.choices[0].size) for check in self.stage.checks[:1]}
        plain = all(answer.kind == "item" and answer.quantity is None for answer in answers)
        return plain and bool(shown) and now <= shown and self.now_s - self.stage.at_s <= ECHO_S

    def _keep(self, events: Iterable[Event]) -> None:
        kept = tuple(events)
        if kept:
            self._log.append_all(kept, self.session.id)
            self._read_log()

    def _read_log(self) -> None:
        """Read what is new in the log, from this program or another one."""
        for event in self._log.events(self.session.id, len(self.state.events)):
            self.state = apply(self.state, event)

    def _set(
        self,
        answers: tuple[Answer, ...] = (),
        checks: tuple[Check, ...] = (),
        waiting: bool = False,
        wait: tuple[str, ...] = (),
        note: str = "",
    ) -> bool:
        """Show this; the card after a needle stick stays open until someone closes it."""
        shown = Stage(answers=answers, checks=checks, waiting=waiting, wait=wait, note=note)
        self.stage = self.stage.followed_by(shown, self.now_s)
        return True

    def _show_card(self, is_open: bool) -> bool:
        """Open the card over what the stage shows, or put it away."""
        self.stage = self.stage.with_card(is_open, self.now_s)
        return True

    def _predicted(self) -> tuple[str, ...]:
        return tuple(likely.item for likely in self._assistant.following())

    def _catch_up(self) -> None:
        """Work out again what to expect next, from the requests that stand in the log."""
        known = self.chair.pack.by_id
        self._assistant.latex_free = self.latex_free
        self._assistant.start_again(
            Choice(event.item, event.size)
            for event in effective(self.state.events)
            if event.item is not None
            and event.item in known
            and (
                event.kind is EventKind.ASKED
                and event.verdict == "answer"
                or event.kind is EventKind.PASSED
                and (known[event.item].always_check or known[event.item].latex)
            )
        )

    def _stage_again(self) -> Stage:
        """After a restart: the last answer, if it is recent; a question must be asked again."""
        asked = [event for event in effective(self.state.events) if event.kind is EventKind.ASKED]
        if not asked or self.now_s - asked[-1].at_s > AGAIN_S:
            return Stage(number=len(self.state.events), at_s=self.now_s)
        last = asked[-1]
        if last.verdict == "check":
            note = "The server was restarted in the middle of a question. Please ask once more."
            return Stage(number=len(self.state.events), at_s=self.now_s, note=note)
        again = self._again(last)
        return Stage(number=len(self.state.events), at_s=last.at_s, answers=() if again is None else (again,))

    def _again(self, asked: Event) -> Answer | None:
        """An answer from the log, if it may still be given."""
        if asked.item is None or asked.item not in self.chair.pack.by_id:
            return None
        answer = self._answers.pointed_at(asked.item, asked.size, self.latex_free)
        pieces = asked.quantity if asked.quantity > 1 else None
        given = answer.verdict is Verdict.ANSWER
        return replace(answer, source="log", engine="log", quantity=pieces) if given else None

    def _must_run(self) -> None:
        if self.closed:
            raise Declined("this session is closed; start a new one.")

    def _known(self, item: str) -> None:
        if item not in self.chair.pack.by_id:
            raise Declined(f"there is no item {item!r}.")
