"""What is said in a rehearsal, in which order: drawn from the procedure's own order model.

Takes a pack, a procedure, a level, a length and a random generator; returns a `Script` of `Line`s, each with
how long an act is waited for, what is right, and what becomes of the items once it is done. The same
generator gives the same script. Steps are walked as `vocab.procedure` models them, requests drawn from the
step; only what lies on the procedure's own tray is asked for. Nothing here plays, hears or judges.

What is passed comes back when the next thing is passed, and what is used once is used up by then, unless it
was said to be kept or to stay in the mouth. Anaesthesia is left out: it is never handed over against the
clock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from listen.chairside.events import Event, EventKind, Source
from listen.chairside.tray_state import TrayState, apply, start
from listen.practice.choices import FETCH
from listen.practice.questions import Question, Questions
from listen.practice.rehearsal.languages import LINES, wordings
from listen.practice.rehearsal.levels import PAUSE_SPREAD, Level
from listen.practice.rehearsal.lines import worded
from listen.practice.topics import PracticeError, partners
from vocab.errors import nearest
from vocab.pack.schema import Pack, Procedure, Reprocessing, Step, Tray
from vocab.procedure.hmm import Array
from vocab.procedure.model import Belief, ProcedureModel, ProcedureSettings

MINUTES = (3, 5, 10)
ORDER = ProcedureSettings(stray=1e-6, lost_place=1e-6, go_back=0.03)
"""As the chair expects requests, but for strays: what nobody could have seen coming teaches nothing."""
GAP_S = (0.5, 1.3)
"""Seconds until a change of mind is spoken; quick hands have met the request by then."""
TALK_GAP_S = 1.2
SHORTEST_S = 0.8
MOST_KEPT = 2
TAKEN_OUT_P = 0.15
NO_LINES = "a rehearsal has nothing to say yet in the language of this vocabulary"
WORD_S, LINE_S, MET_S = 0.36, 0.5, 2.5
"""About what a word, a line and meeting a request take, to bound the length; our estimate."""

Move = tuple[EventKind, str]
"""What becomes of an item."""


class Kind(StrEnum):
    """What a line is."""

    REQUEST = "request"
    CORRECTION = "correction"
    """takes the request before it back, and asks for something else"""
    DROP = "drop"
    """what was passed has fallen, another is wanted"""
    BACK = "back"
    """something is given back, to be laid in its place"""
    NOTE = "note"
    """something is kept or stays in the mouth, or has come out of it: to be remembered"""
    CHATTER = "chatter"


@dataclass(frozen=True)
class Line:
    """One thing that is said.

    talker: 0 for the dentist; question: of the SLOT drill, `right` empty where nothing is asked for; item:
    what it is about, None for talk; step: its name; wait_s: after its end, how long an act is waited for;
    pause_s: silence after it is done; moves: what becomes of items once it is done; taken_back: the next line
    corrects it.
    """

    kind: Kind
    said: str
    talker: int
    question: Question
    item: str | None
    step: str
    wait_s: float
    pause_s: float
    moves: tuple[Move, ...] = ()
    taken_back: bool = False

    @property
    def asks(self) -> bool:
        """Whether something is to be done."""
        return bool(self.question.right)


@dataclass(frozen=True)
class Script:
    """A rehearsal as it will be played. noted: items that something was said of which has to be
    remembered."""

    procedure: Procedure
    tray: Tray
    level: Level
    lines: tuple[Line, ...]
    noted: frozenset[str]

    @property
    def requests(self) -> int:
        """How many lines ask for something."""
        return sum(line.asks for line in self.lines)


def may_rehearse(pack: Pack) -> bool:
    """Whether there are lines in the pack's language."""
    return pack.language in LINES


def steps_to_begin(pack: Pack, procedure: Procedure) -> tuple[Step, ...]:
    """The steps that a rehearsal may begin with."""
    laid = {slot.item for slot in pack.tray(procedure.tray).slots}
    return tuple(step for step in procedure.steps if _is_played(step, pack, laid))


def write(
    questions: Questions,
    procedure_id: str,
    level: Level,
    rng: np.random.Generator,
    minutes: float,
    first_step: str | None = None,
    weights_of: Callable[[str], Mapping[str, float]] = lambda item: {},
) -> Script:
    """A script of about so many minutes, or until the procedure is over.

    Args:
        first_step: id of the step to begin with; None for the first.
        weights_of: how much each name of an item is wanted, 1 where not given.

    Raises:
        PracticeError: there is no such procedure or step, or nothing of it can be asked for.
    """
    pack = questions.pack
    known = {procedure.id: procedure for procedure in pack.procedures}
    if not may_rehearse(pack):
        raise PracticeError(f"{NO_LINES}: choose another vocabulary.")
    if procedure_id not in known:
        raise PracticeError(f"no procedure is called {procedure_id!r}{nearest(procedure_id, known)}.")
    procedure = known[procedure_id]
    begin = steps_to_begin(pack, procedure)
    if not begin:
        raise PracticeError(f"nothing on the tray of {procedure.name} can be asked for; choose another one.")
    if first_step is not None and all(step.id != first_step for step in begin):
        raise PracticeError(f"{procedure.name} has no step {first_step!r} to begin with.")
    writer = _Writer(questions, procedure, level, rng, weights_of)
    return writer.written(first_step or begin[0].id, 60.0 * minutes)


def overheard(
    questions: Questions, procedure_id: str, items: Sequence[str], level: Level, rng: np.random.Generator
) -> tuple[Line, ...]:
    """The lines in which these items are asked for, in this order, with talk and changes of mind between them
    as the level has them; nothing falls, comes back or is kept. All of them lie on the procedure's tray."""
    calm = replace(level, drop=0.0, back=0.0, note=0.0)
    return _Writer(questions, questions.pack.procedure(procedure_id), calm, rng, lambda item: {}).asking(
        items
    )


def _is_played(step: Step, pack: Pack, laid: set[str]) -> bool:
    """Whether a step can be rehearsed: something of it is laid, and nothing of it is always checked."""
    return any(item in laid for item in step.items) and not any(
        pack.item(item).always_check for item in step.items
    )


class _Writer:
    """Writes one script; `_state` is the tray as it is when everything is met."""

    def __init__(
        self,
        questions: Questions,
        procedure: Procedure,
        level: Level,
        rng: np.random.Generator,
        weights_of: Callable[[str], Mapping[str, float]],
    ) -> None:
        self._questions, self._procedure = questions, procedure
        self._level, self._rng, self._weights_of = level, rng, weights_of
        self._pack = questions.pack
        self._says = LINES[self._pack.language]
        self._fetch = wordings(self._pack.language).fetch
        self._tray = self._pack.tray(procedure.tray)
        self._laid = {slot.item for slot in self._tray.slots}
        self._sized = {slot.item for slot in self._tray.slots if slot.variants}
        self._partners = partners(self._pack)
        self._state: TrayState = start(self._tray, self._pack)
        self._working: str | None = None
        self._kept: list[str] = []
        self._in_mouth: list[str] = []
        self._noted: set[str] = set()
        self._lines: list[Line] = []
        self._decks: dict[Sequence[str], list[str]] = {}
        self._step = self._called = ""

    def written(self, first_step: str, most_s: float) -> Script:
        for step, item in self._walk(first_step):
            self._step = step.name
            self._between()
            self._ask(item)
            self._after(item)
            if self._seconds >= most_s:
                break
        return Script(self._procedure, self._tray, self._level, tuple(self._lines), frozenset(self._noted))

    def asking(self, items: Sequence[str]) -> tuple[Line, ...]:
        """The lines that ask for these items."""
        for item in items:
            self._between()
            self._ask(item)
        return tuple(self._lines)

    @property
    def _seconds(self) -> float:
        """About how long it takes so far."""
        return sum(
            LINE_S + WORD_S * len(line.said.split()) + (MET_S if line.asks else line.wait_s) + line.pause_s
            for line in self._lines
        )

    # --- the order of the procedure -------------------------------------------------------------------

    def _walk(self, first_step: str) -> Iterator[tuple[Step, str]]:
        """Steps and items as the order model has them, until the last step has had its requests."""
        model = ProcedureModel(self._pack, [self._procedure.id], ORDER)
        steps = self._procedure.steps
        move = np.exp(model.log_move)
        at = next(i for i, step in enumerate(steps) if step.id == first_step)
        last, of_last = len(steps) - 1, 0
        recent: tuple[str, ...] = ()
        for _ in range(40 * len(steps)):
            step = steps[at]
            if _is_played(step, self._pack, self._laid):
                item = self._drawn(model, at, recent)
                if item is not None:
                    recent = (*recent, item)[-ORDER.recent :]
                    yield step, item
            if at == last:
                of_last += 1
                if of_last >= step.requests:
                    return
            at = int(self._rng.choice(len(steps), p=move[at] / move[at].sum()))

    def _drawn(self, model: ProcedureModel, at: int, recent: tuple[str, ...]) -> str | None:
        """An item that this step asks for next, of those that can be asked for now; None for none."""
        log_p: Array = np.full(len(model.states), -np.inf)
        log_p[at] = 0.0
        columns = tuple(self._pack.order[item] for item in recent)
        p = model.next_items(Belief(log_p, 0, columns, np.zeros(0), 0.0))
        free = {item: share for item, share in p.items() if share > 1e-4 and self._is_free(item)}
        if not free:
            return None
        shares = np.array(list(free.values()))
        return list(free)[int(self._rng.choice(len(free), p=shares / shares.sum()))]

    def _is_free(self, item: str) -> bool:
        """Whether it lies where it can be passed from, and a dentist might ask for it now."""
        if item not in self._laid or self._checked(item):
            return False
        if item == self._working or item in self._kept or item in self._in_mouth:
            return False
        held = self._state.of(item)
        return held.clean + (0 if self._once(item) else held.back) > 0

    # --- what is said ---------------------------------------------------------------------------------

    def _between(self) -> None:
        """Before a request: talk, something given back, something out of the mouth."""
        level = self._level
        if self._chance(level.chatter):
            self._talk()
        if self._in_mouth and self._chance(TAKEN_OUT_P):
            item = self._in_mouth.pop(0)
            self._note(self._says.taken_out, item, (EventKind.OUT_OF_MOUTH, item))
        held = [*self._kept, *((self._working,) if self._working and not self._once(self._working) else ())]
        if held and self._chance(level.back):
            item = held[0]
            self._kept = [kept for kept in self._kept if kept != item]
            self._working = None if item == self._working else self._working
            question = self._question(item, usual=True)
            self._say(Kind.BACK, self._says.backs, question, item, ((EventKind.RETURNED, item),))

    def _ask(self, item: str) -> None:
        """The request, now and then for something else first."""
        kind, other = Kind.REQUEST, self._other(item) if self._chance(self._level.correction) else None
        if other is not None:
            question = self._question(other)
            self._add(
                Kind.REQUEST, self._request(question), question, other, ((EventKind.PASSED, other),), True
            )
            kind = Kind.CORRECTION
        question = self._question(item)
        self._called = question.asked_name or ""
        moves: list[Move] = []
        if self._working is not None:
            moves.append(
                (EventKind.USED_UP if self._once(self._working) else EventKind.RETURNED, self._working)
            )
        moves.append((EventKind.PASSED, item))
        if kind is Kind.CORRECTION:
            self._say(kind, self._says.corrections, question, item, tuple(moves))
        else:
            self._add(kind, self._request(question), question, item, tuple(moves))
        self._working = item

    def _after(self, item: str) -> None:
        """After it was passed: it falls, is kept, or stays in the mouth."""
        level, known = self._level, self._pack.item(item)
        if item not in self._sized and self._chance(level.drop):
            another = self._state.of(item).clean > 0
            question = self._question(item, usual=True)
            brought: tuple[Move, ...] = () if another else ((EventKind.ADDED, item),)
            if not another:
                question = replace(question, right=(FETCH.id,))
            moves = ((EventKind.DROPPED, item), *brought, (EventKind.PASSED, item))
            said = self._worded(self._one_of(self._says.drops), item, self._called)
            self._add(Kind.DROP, said, question, item, moves)
            self._noted.add(item)
        if not self._chance(level.note):
            return
        if known.counted and self._once(item):
            self._in_mouth.append(item)
            self._working = None
            self._note(self._says.stays, item, (EventKind.IN_MOUTH, item))
        elif self._tool(item) and len(self._kept) < MOST_KEPT:
            self._kept.append(item)
            self._working = None
            self._note(self._says.keeps, item)

    def _talk(self) -> None:
        named = self._chance(self._level.mention)
        text = self._one_of(self._says.mentions if named else self._says.chatter)
        item = None
        if named:
            some = [item for item in sorted(self._laid) if self._tool(item) and not self._checked(item)]
            item = some[int(self._rng.integers(len(some)))]
            text = self._worded(text, item)
        self._add(Kind.CHATTER, text, self._nothing(), item, ())

    def _note(self, some: tuple[str, ...], item: str, *moves: Move) -> None:
        self._noted.add(item)
        text = self._worded(self._one_of(some), item)
        self._add(Kind.NOTE, text, self._nothing(), item, moves)

    def _say(
        self, kind: Kind, some: tuple[str, ...], question: Question, item: str, moves: tuple[Move, ...]
    ) -> None:
        self._add(kind, self._worded(self._one_of(some), item, question.asked_name), question, item, moves)

    def _add(
        self,
        kind: Kind,
        said: str,
        question: Question,
        item: str | None,
        moves: tuple[Move, ...],
        taken_back: bool = False,
    ) -> None:
        said = f"{said[:1].upper()}{said[1:]}"
        asks = bool(question.right)
        wait_s = self._level.wait_s if asks else self._lasting(TALK_GAP_S)
        pause_s = self._lasting(self._level.pause_s) if asks else SHORTEST_S
        if taken_back:
            wait_s, pause_s = float(self._rng.uniform(*GAP_S)), GAP_S[0]
        talks = kind is Kind.CHATTER and self._level.talkers > 1
        talker = int(self._rng.integers(self._level.talkers)) if talks else 0
        question = replace(question, prompt=said, spoken=said)
        line = Line(kind, said, talker, question, item, self._step, wait_s, pause_s, moves, taken_back)
        self._lines.append(line)
        if not taken_back:
            self._state = moved(self._state, moves, 0.0)

    # --- parts ----------------------------------------------------------------------------------------

    def _question(self, item: str, usual: bool = False) -> Question:
        """Which slot an item lies in; by its usual name where it was named before, or the level wants it."""
        known = self._pack.item(item)
        weights = {
            name.text: 1.0
            if name.text == known.name.text
            else 0.0
            if usual
            else self._level.other_names * self._weights_of(item).get(name.text, 1.0)
            for name in known.names
        }
        question = self._questions.on_whole_tray(item, self._tray.id, self._rng, weights)
        return replace(question, choices=(*question.choices, self._fetch))

    def _nothing(self) -> Question:
        """A question to which nothing is right."""
        any_item = self._tray.slots[0].item
        return replace(self._question(any_item, usual=True), right=(), answer="", asked_name=None, tells={})

    def _request(self, question: Question) -> str:
        manners = self._level.manners
        shares = np.array(list(manners.values()))
        manner = list(manners)[int(self._rng.choice(len(shares), p=shares / shares.sum()))]
        item = question.topic.subject
        fitting = self._says.requests(manner, self._tool(item), self._pack)
        return self._worded(self._one_of(fitting), item, question.asked_name)

    def _worded(self, sentence: str, item: str, name: str | None = None) -> str:
        """A sentence around an item's name, the usual one unless another is given."""
        usual = self._pack.item(item).name.text
        return worded(sentence, name or usual, usual, self._pack.language)

    def _other(self, item: str) -> str | None:
        """What is asked for by mistake: a look-alike on the tray, or else another instrument."""
        tools = [
            other
            for other in sorted(self._laid)
            if other != item and self._is_free(other) and not self._once(other)
        ]
        alike = [other for other in tools if other in self._partners[item]]
        among = alike or tools
        return among[int(self._rng.integers(len(among)))] if among else None

    def _one_of(self, some: tuple[str, ...]) -> str:
        """One of some sentences, each once before any comes again."""
        left = self._decks.setdefault(some, [])
        if not left:
            left.extend(some[int(i)] for i in self._rng.permutation(len(some)))
        return left.pop()

    def _lasting(self, median_s: float) -> float:
        """A length of time about this median, never more than four times as long."""
        drawn = float(median_s * self._rng.lognormal(0.0, PAUSE_SPREAD))
        return min(4 * median_s, max(SHORTEST_S, drawn))

    def _chance(self, p: float) -> bool:
        return bool(self._rng.random() < p)

    def _once(self, item: str) -> bool:
        return self._pack.item(item).reprocessing is Reprocessing.SINGLE_USE

    def _checked(self, item: str) -> bool:
        return self._pack.item(item).always_check

    def _tool(self, item: str) -> bool:
        return self._pack.item(item).reprocessing is Reprocessing.STERILISE


def moved(state: TrayState, moves: Sequence[Move], at_s: float, source: Source = Source.TOUCH) -> TrayState:
    """The tray after these moves."""
    for kind, item in moves:
        state = apply(state, Event(kind, at_s, source, item=item, seq=len(state.events) + 1))
    return state
