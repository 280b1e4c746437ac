"""One trainee's place: a desk with a question open, and answers that are taken one at a time.

Takes an answer with a question number and a token; returns plain data for JSON. An answer that is sent twice,
or to a question that is no longer open, changes nothing.
"""

from __future__ import annotations

import secrets
import threading
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from statistics import median
from typing import Any

from listen.chair import Chair
from listen.engine import Samples
from listen.practice.days import PracticeDay, practice_days
from listen.practice.desk import Desk, Reply
from listen.practice.facts import Facts, facts_in_use
from listen.practice.fields import belongs
from listen.practice.judging import EngineFactory, Judge, Outcome
from listen.practice.naming import topic_label
from listen.practice.questions import LAID, Question, Questions
from listen.practice.schedule import is_known
from listen.practice.sketches import sketch_id
from listen.practice.store import Known
from listen.practice.story import Story
from listen.practice.topics import Drill, PracticeError, Topic, curriculum
from listen.practice.trainees import Ticket
from listen.practice.trays_here import WAITING, TraysHere
from vocab.errors import Declined
from vocab.pack.schema import Pack

OLD_PAGE = "this page is older than the server: load it again."
LONGEST_ANSWER = 200
LONGEST_TOKEN = 64
MOST_DAYS = 14
"""So many days are in the picture at the end."""
LONGEST_S = 600.0
"""Nobody thinks longer about one question; a longer time is stored as none."""


@dataclass(frozen=True)
class Matter:
    """What is practised: a chair's pack with its facts, questions and judge."""

    chair: Chair
    facts: Facts
    questions: Questions
    judge: Judge
    trays: TraysHere

    @classmethod
    def of(cls, chair: Chair, engine_factory: EngineFactory) -> Matter:
        """The matter of a chair; the judge's engine is made at the first spoken answer."""
        facts = facts_in_use(chair.options.pack, chair.pack)
        questions = Questions(chair.pack, facts)
        judge = Judge(questions, chair.lexicon, engine_factory)
        return cls(chair, facts, questions, judge, TraysHere.of(chair.clinic, chair.pack))

    @property
    def pack(self) -> Pack:
        """The vocabulary."""
        return self.chair.pack

    def topics(self, procedure: str | None, drills: Sequence[Drill] | None = None) -> tuple[Topic, ...]:
        """Everything that is practised here (see `curriculum`).

        Raises:
            PracticeError: there is nothing.
        """
        every = curriculum(self.pack, self.facts, procedure, drills)
        found = tuple(filter(self.trays.practised, every))
        if not found:
            raise PracticeError(WAITING)
        return found


@dataclass(frozen=True)
class GivenAnswer:
    """An answer that counted, for the summary; fresh: its topic was not known before."""

    token: str
    topic: str
    fresh: bool
    prompt: str
    right: bool
    explain: str
    response_s: float | None


class Place:
    """One trainee's session. Safe to use from many threads; answers are taken one at a time."""

    def __init__(self, desk: Desk, trainee: Known, matter: Matter, clock: Callable[[], float]) -> None:
        self.id = secrets.token_urlsafe(16)
        self.trainee, self.ticket, self.pack = trainee.name, Ticket.of(trainee), matter.pack
        self.matter = matter
        self.used_s = clock()
        self.last_asked: tuple[int, Question] | None = None
        self._desk, self._clock, self._facts = desk, clock, matter.facts
        self._numbers = self.pack.order
        self._lock = threading.Lock()
        self._number = 0
        self._open: Question | None = None
        self._given: list[GivenAnswer] = []
        self._replied: tuple[str, dict[str, Any]] | None = None
        self._stopped = False

    def now(self, choose: bool = False) -> dict[str, Any]:
        """The open question, the next one, or the summary once the session is over; `choose` gives some names
        to choose from where a name is asked for."""
        with self._lock:
            self.used_s = self._clock()
            question = None if self._stopped else self._desk.next(self._time())
            if question is None:
                return self._summary()
            if question is not self._open:
                self._open, self._number = question, self._number + 1
                self.last_asked = (self._number, question)
            return self._question(question, choose)

    def answer(
        self, number: int, token: str, kind: str, value: str, response_s: float | None
    ) -> dict[str, Any]:
        """Take a typed ("text") or touched ("touch") answer to question `number`.

        Raises:
            Declined: it cannot be an answer.
        """
        _check_answer(token, kind, value)

        def act(question: Question) -> Reply:
            if kind == "text":
                return self._desk.by_text(value, self._time(), token, seconds(response_s))
            _check_choice(question, value)
            return self._desk.by_touch(value, self._time(), token, seconds(response_s))

        return self._take(number, token, act)

    def hear(self, number: int, token: str, samples: Samples, response_s: float | None) -> dict[str, Any]:
        """Take a spoken answer, shape = (n,), float32, 16 kHz mono."""
        return self._take(
            number,
            token,
            lambda question: self._desk.by_voice(samples, self._time(), token, seconds(response_s)),
        )

    def object_to(self, token: str) -> None:
        """Mark the wrong answer with this token: the trainee says that it was right.

        Raises:
            Declined: no such answer was marked wrong in this session.
        """
        with self._lock:
            if not any(given.token == token and not given.right for given in self._given):
                raise Declined(OLD_PAGE)
            self._desk.object_to(token)

    def stop(self) -> None:
        """End the session before its time."""
        with self._lock:
            self._stopped = True

    def spoken(self, number: int) -> tuple[Question, Any, Story | None] | None:
        """The question with this number, if it is still open, the memory of its topic, and the story before
        it."""
        with self._lock:
            if self._open is None or number != self._number:
                return None
            return self._open, self._desk.card(), self._desk.story

    # --- parts ----------------------------------------------------------------------------------------

    def _take(self, number: int, token: str, act: Callable[[Question], Reply]) -> dict[str, Any]:
        with self._lock:
            self.used_s = self._clock()
            if self._replied is not None and self._replied[0] == token:
                return self._replied[1]
            question = self._open
            if question is None or number != self._number or self._stopped:
                return {"type": "reply", "number": number, "stale": True}
            before = self._desk.card()
            reply = act(question)
            if (stored := reply.stored) is not None:
                fresh = not is_known(before)
                self._given.append(
                    GivenAnswer(
                        stored.token,
                        stored.topic,
                        fresh,
                        question.prompt,
                        stored.right,
                        reply.explain,
                        stored.response_s,
                    )
                )
            if not reply.open:
                self._open = None
            shown = self._shown(question, reply)
            self._replied = (token, shown)
            return shown

    def _question(self, question: Question, choose: bool) -> dict[str, Any]:
        drill, story = question.topic.drill, self._desk.story
        slots = {place.at for place in question.scene}
        recalled = drill is Drill.NAME and not choose
        offered = () if recalled else self._desk.offer()
        listed = [
            {
                "id": c.id,
                "shown": question.looks.get(c.id, c.shown),
                "picture": self._numbers.get(c.id),
                "sketches": _sketches(question, c.id),
            }
            for c in question.choices
            if (c.id not in slots if drill is Drill.LAY else c.id in offered)
        ]
        if question.items:
            listed.sort(key=lambda choice: str(choice["shown"]).lower())
        return {
            "type": "question",
            "number": self._number,
            "drill": str(drill),
            "prompt": question.spoken if drill in (Drill.LAY, Drill.NEXT) else question.prompt,
            "story": [line.said for line in story.lines] if story is not None else [],
            "picture": self._numbers.get(question.picture) if question.picture else None,
            "choices": listed,
            "as_it_came": not self.matter.trays.counts(question.topic),
            "may_choose": recalled and bool(question.offered),
            "place": question.topic.place,
            "procedure": story.procedure if story is not None else "",
            "row": question.topic.subject if drill in (Drill.LAY, Drill.FAULT) else None,
            "scene": [self._seen(question, place.at, place.item) for place in question.scene],
            "laid": self._laid(),
            "left": self._left(),
            "asked": self._desk.session.asked,
        }

    def _seen(self, question: Question, at: str, item: str | None) -> dict[str, Any]:
        """A slot as it is shown: with a picture of its item, named only in the FAULT drill."""
        named = question.topic.drill is Drill.FAULT and item is not None
        return {
            "at": at,
            "picture": None if item is None else self._numbers.get(item),
            "name": next((c.shown for c in question.choices if c.id == item), None) if named else None,
            "item": item if named else None,
        }

    def _laid(self) -> dict[str, str]:
        laying = self._desk.laying
        placed = () if laying is None else laying.laid
        return {at: item for item, _, at in (p.partition(LAID) for p in placed)}

    def _left(self) -> dict[str, int]:
        """How many of each item are still to be laid."""
        laying = self._desk.laying
        return {} if laying is None else dict(Counter(p.partition(LAID)[0] for p in laying.open))

    def _shown(self, question: Question, reply: Reply) -> dict[str, Any]:
        outcome = reply.judgement.outcome
        return {
            "type": "reply",
            "number": self._number,
            "outcome": "aside" if reply.aside else "repeat" if reply.judgement.repeat else str(outcome),
            "said": ""
            if outcome is Outcome.RIGHT or reply.judgement.gave_up
            else reply.judgement.said.rstrip("."),
            "explain": reply.explain,
            "chosen": reply.judgement.choice,
            "open": reply.open,
            "counted": reply.stored is not None,
            "token": None if reply.stored is None or reply.stored.right else reply.stored.token,
            "right": [] if reply.open else list(question.right),
            "laid": self._laid() if reply.open else {},
            "left": self._left() if reply.open else {},
        }

    def _summary(self) -> dict[str, Any]:
        times = [g.response_s for g in self._given if g.right and g.response_s is not None]
        missed = {g.prompt: g.explain for g in self._given if not g.right}
        deck, now = self._desk.session.deck, self._time()
        learnt = [g.topic for g in self._given if g.fresh and is_known(deck.get(g.topic))]
        again: dict[int, list[str]] = {}
        for topic in dict.fromkeys(g.topic for g in self._given):
            days = max(1, -((now - deck[topic].due) // timedelta(days=1)))
            again.setdefault(days, []).append(topic)
        return {
            "type": "summary",
            "asked": self._desk.session.asked,
            "right": self._desk.session.right,
            "response_s": round(median(times), 1) if times else None,
            "missed": [{"prompt": prompt, "explain": explain} for prompt, explain in missed.items()],
            "learnt": self._labels(learnt),
            "days": [[str(one.day), one.answers, one.known] for one in self._days(now)],
            "again": [{"days": days, "about": self._labels(again[days])} for days in sorted(again)],
        }

    def _days(self, now: datetime) -> Sequence[PracticeDay]:
        """The latest days with what was answered and known in this field, by the server's own calendar."""
        here = {a.topic for a in self._desk.answers if belongs(a.topic, self.pack, self._facts)}
        return practice_days(self._desk.answers, here, now.astimezone(), MOST_DAYS)

    def _labels(self, topics: Sequence[str]) -> list[str]:
        """What these topics are called, each name once."""
        return list(dict.fromkeys(topic_label(topic, self.pack, self._facts) for topic in topics))

    def _time(self) -> datetime:
        return datetime.fromtimestamp(self._clock(), UTC)


def _sketches(question: Question, choice: str) -> list[dict[str, str]]:
    """The sketches that show a way to pass something, each with what it shows in words."""
    way = question.ways.get(choice)
    if way is None:
        return []
    return [{"id": sketch_id(name), "alt": alt} for name, alt in zip(way.sketches, way.alt, strict=True)]


def check_token(token: str) -> None:
    """Raises `Declined` where this cannot be the token of an answer."""
    if not 8 <= len(token) <= LONGEST_TOKEN or not token.isascii() or not token.isprintable():
        raise Declined(OLD_PAGE)


def _check_answer(token: str, kind: str, value: str) -> None:
    check_token(token)
    if kind not in ("text", "touch"):
        raise Declined("an answer is typed or touched.")
    if not value.strip() or len(value) > LONGEST_ANSWER or not value.isprintable():
        raise Declined(f"type between 1 and {LONGEST_ANSWER} plain characters.")


def _check_choice(question: Question, value: str) -> None:
    known = {choice.id for choice in question.choices}
    parts = value.split(LAID) if question.topic.drill is Drill.LAY else [value]
    laid = {place.at for place in question.scene}
    if question.topic.drill is Drill.LAY:
        fine = len(parts) == 2 and parts[0] in known - laid and parts[1] in laid
    else:
        fine = value in known
    if not fine:
        raise Declined("that is not one of the choices; load the page again.")


def seconds(value: float | None) -> float | None:
    """A response time as it may be stored, or None."""
    if value is None or not 0 <= value <= LONGEST_S:  # false for NaN too
        return None
    return float(value)
