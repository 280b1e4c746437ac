"""Rehearsals that are open on one server: what a page is told, and what it sends, one thing at a time.

Takes trainees with their codes, line numbers, acts and times; returns plain data for JSON in which nothing
says what a line asks for before it is done, only how long to wait for an act. An act that is sent twice, or
belongs to a line that is over, changes nothing. It holds no sound of a trainee.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from listen.engine import Samples
from listen.practice.held import Held
from listen.practice.judging import Judge, Marking, Outcome
from listen.practice.place import Matter, check_token, seconds
from listen.practice.places import Places
from listen.practice.played import Played
from listen.practice.questions import Question
from listen.practice.rehearsal.beginning import Wish, begun, proposed
from listen.practice.rehearsal.languages import NAMES, wordings
from listen.practice.rehearsal.levels import MOST_PAUSE_S, Level
from listen.practice.rehearsal.outcomes import Came
from listen.practice.rehearsal.running import Entry, Rehearsal
from listen.practice.rehearsal.script import NO_LINES, may_rehearse
from listen.practice.rehearsal.sound import Talkers, can_speak, is_rule_made, no_voice
from listen.practice.rehearsal.timeline import played, stored, told
from listen.practice.session import By
from listen.practice.store import Known, PracticeStore
from listen.practice.topics import PracticeError
from listen.practice.trainees import Ticket
from vocab.errors import Declined
from vocab.lint.findings import HEARD_LANGUAGES
from vocab.pack.schema import Pack

MOST_SEATS = 40
FORGOTTEN_S = 2 * 3600.0
"""A rehearsal unused for this long is removed; answers that were given are stored already."""


class Seat:
    """One rehearsal of one trainee. Safe to use from many threads; acts are taken one at a time."""

    def __init__(
        self,
        rehearsal: Rehearsal,
        talkers: Talkers,
        matter: Matter,
        store: PracticeStore,
        trainee: Known,
        clock: Callable[[], float],
    ) -> None:
        self.id = secrets.token_urlsafe(16)
        self.trainee, self.ticket, self.matter = trainee.name, Ticket.of(trainee), matter
        self.rehearsal, self.used_s = rehearsal, clock()
        self.kept: int | None = None
        self._talkers, self._store, self._clock = talkers, store, clock
        self._judge: Judge = matter.judge
        self._questions, self._said = matter.questions, wordings(matter.pack.language)
        self._lock, self._speaking = threading.Lock(), threading.Lock()
        self._replied: tuple[str, dict[str, Any]] | None = None
        self._sounds: dict[int, Samples | None] = {}

    @property
    def last_asked(self) -> tuple[int, Question] | None:
        """The open line's number and question, by which an engine is loaded; None once it is over."""
        line = self.rehearsal.line
        return None if line is None else (self.rehearsal.number, line.question)

    def now(self) -> dict[str, Any]:
        """The open line, the count, or that it is over."""
        with self._lock:
            self.used_s = self._clock()
            return self._now()

    def answer(
        self, number: int, token: str, value: str, response_s: float | None, kind: str = "touch"
    ) -> dict[str, Any]:
        """Take a touched slot or, `kind` "text", a typed one.

        Raises:
            Declined: it is no place of this tray.
        """
        if kind not in ("touch", "text"):
            raise Declined("an answer is typed or touched.")

        def marked(question: Question) -> Marking:
            if kind == "text":
                return self._judge.text(question, value)
            if all(choice.id != value for choice in question.choices):
                raise Declined("that is no place of this tray; load the page again.")
            return self._judge.touch(question, value)

        return self._take(number, token, marked, response_s, "text" if kind == "text" else "touch")

    def hear(self, number: int, token: str, samples: Samples, response_s: float | None) -> dict[str, Any]:
        """Take what was spoken, shape = (n,), float32, 16 kHz mono."""
        return self._take(
            number, token, lambda question: self._judge.speech(question, samples), response_s, "voice"
        )

    def silence(self, number: int, token: str, unheard: bool = False) -> dict[str, Any]:
        """Nothing was done until the line's time was over; `unheard` where it could not be played."""
        check_token(token)
        with self._lock:
            return self._replying(number, token, lambda: self._passed_over(unheard))

    def again(self, number: int) -> None:
        """The open line is to be said once more."""
        with self._lock:
            if self.rehearsal.line is not None and number == self.rehearsal.number:
                self.rehearsal.again()

    def stop(self) -> dict[str, Any]:
        """End before its time; the count follows."""
        with self._lock:
            if self.rehearsal.line is not None:
                self.rehearsal.stop(self._clock())
            return self._now()

    def count(self, answers: Mapping[str, str]) -> int:
        """Take the count and keep the rehearsal; its number in the store.

        Raises:
            Declined: it is not at its count, or a place is none.
        """
        with self._lock:
            if self.kept is None:
                if self.rehearsal.counted is None:
                    known = {shown: where for where, shown in self._said.places.items()}
                    if not set(answers.values()) <= known.keys():
                        raise Declined("that is no place to be; load the page again.")
                    said = {item: known[where] for item, where in answers.items()}
                    self.rehearsal.count(said, self._clock())
                self.kept = self._store.keep(self.trainee, self._played())
            return self.kept

    def sound(self, number: int) -> Samples | None:
        """The line with this number, if it is open or the next, shape = (n,), 16 kHz mono; None otherwise."""
        lines = self.rehearsal.script.lines
        open_now = self.rehearsal.number
        if self.rehearsal.line is None or number not in (open_now, open_now + 1) or number > len(lines):
            return None
        with self._speaking:
            if number not in self._sounds:
                line = lines[number - 1]
                noise_db = self.rehearsal.script.level.noise_db
                self._sounds = {n: s for n, s in self._sounds.items() if n >= number - 1}
                self._sounds[number] = self._talkers.said(line.said, line.talker, number, noise_db)
            return self._sounds[number]

    # --- parts ----------------------------------------------------------------------------------------

    def _take(
        self,
        number: int,
        token: str,
        marked: Callable[[Question], Marking],
        response_s: float | None,
        by: By,
    ) -> dict[str, Any]:
        check_token(token)
        with self._lock:
            line = self.rehearsal.line

            def act() -> dict[str, Any]:
                assert line is not None
                marking = marked(line.question)
                entry = self.rehearsal.act(marking, self._clock(), seconds(response_s), by)
                if entry is None:
                    repeat = marking.repeat or marking.outcome is not Outcome.AGAIN  # or it crossed this line
                    return {"type": "reply", "number": number, "open": True, "repeat": repeat}
                return self._done(entry, token)

            return self._replying(number, token, act)

    def _replying(self, number: int, token: str, act: Callable[[], dict[str, Any]]) -> dict[str, Any]:
        """What came of an act, which counts once."""
        self.used_s = self._clock()
        if self._replied is not None and self._replied[0] == token:
            return self._replied[1]
        if self.rehearsal.line is None or number != self.rehearsal.number:
            return {"type": "reply", "number": number, "stale": True}
        reply = act()
        self._replied = token, reply
        return reply

    def _passed_over(self, unheard: bool) -> dict[str, Any]:
        now_s = self._clock()
        entry = self.rehearsal.unheard(now_s) if unheard else self.rehearsal.silence(now_s)
        return self._done(entry, self.id)

    def _done(self, entry: Entry, token: str) -> dict[str, Any]:
        answer = stored(entry, self._time(), f"{self.id}-{entry.number}")
        if answer is not None:
            self._store.record(self.trainee, answer)
        silent = entry.came in (Came.LEFT, Came.TAKEN_BACK)
        return {
            "type": "reply",
            "number": entry.number,
            "open": False,
            "came": None if silent else str(entry.came),
            "told": "" if silent else told(entry, self._questions),
            "right": [] if silent or entry.came is Came.ALARM else list(entry.line.question.right),
            "chosen": entry.choice,
            "pause_s": min(MOST_PAUSE_S, entry.line.pause_s),
        }

    def _now(self) -> dict[str, Any]:
        line = self.rehearsal.line
        if line is not None:
            return {
                "type": "line",
                "number": self.rehearsal.number,
                "of": len(self.rehearsal.script.lines),
                "wait_s": line.wait_s,
            }
        if self.rehearsal.counted is None:
            order = self.matter.pack.order
            return {
                "type": "count",
                "places": list(self._said.places.values()),
                "items": [
                    {"id": item, "name": self._questions.called(item), "picture": order[item]}
                    for item in self.rehearsal.to_count()
                ],
            }
        return {"type": "over", "record": self.kept}

    def _played(self) -> Played:
        began = datetime.fromtimestamp(self.rehearsal.started_s, UTC)
        return played(self.rehearsal, self._questions, self.id, began)

    def _time(self) -> datetime:
        return datetime.fromtimestamp(self._clock(), UTC)


class Seats:
    """All open rehearsals of one app.

    Args:
        places: the app's trainees and what they practise.
        folder: where speech is cached.
        speaks: whether the app may speak at all.
    """

    def __init__(
        self, places: Places, folder: Path, speaks: bool, clock: Callable[[], float], seed: int | None = None
    ) -> None:
        self._places, self._folder, self._speaks, self._clock = places, folder, speaks, clock
        self._rng = np.random.default_rng(seed)
        self._lock = threading.Lock()
        self._seats: Held[Seat] = Held(
            MOST_SEATS,
            FORGOTTEN_S,
            clock,
            f"{MOST_SEATS} rehearsals are open already; wait until one is over.",
            "this rehearsal is no longer open; start a new one. What was answered is kept.",
        )

    def packs(self) -> tuple[Pack, ...]:
        """The vocabularies that can be rehearsed here."""
        return tuple(pack for pack in self._places.packs if may_rehearse(pack) and can_speak(pack.language))

    def problem(self, pack: Pack | None = None) -> str | None:
        """Why nothing, or a vocabulary, cannot be rehearsed here, in words that say what to do; None where it
        can be."""
        worded = tuple(filter(may_rehearse, self._places.packs if pack is None else (pack,)))
        if not worded:
            return f"{NO_LINES[:1].upper()}{NO_LINES[1:]}; the drills speak it."
        if not self._speaks:
            return "A rehearsal is heard and never read; this app was started without speech (--silent)."
        if any(can_speak(one.language) for one in worded):
            return None
        return no_voice(worded[0].language)

    def remarks(self) -> tuple[str, ...]:
        """What is to be known before: of which languages there is no voice, or only rule-made ones, and which
        are not understood when they are spoken."""
        languages = dict.fromkeys(pack.language for pack in self._places.packs if may_rehearse(pack))
        told = []
        for language in languages:
            if not can_speak(language):
                told.append(no_voice(language))
            elif is_rule_made(language):
                told.append(
                    f"The voices that speak {NAMES[language]} here are made by rules (espeak-ng), not "
                    "recorded from people: good enough to practise with, harder to understand than a person."
                )
            if can_speak(language) and language not in HEARD_LANGUAGES:
                told.append(
                    f"What is asked in {NAMES[language]} is answered by touch or by keys: spoken answers are "
                    "understood in English only."
                )
        return tuple(told)

    def proposed(self, trainee: str) -> Level:
        """The level that comes next for a trainee."""
        return proposed(self._places.store, trainee)

    def begin(self, trainee: Known, wish: Wish) -> Seat:
        """Begin a rehearsal for a trainee who has given their code.

        Raises:
            TraycallError: it cannot be rehearsed here, or too many rehearse at once.
        """
        matter = self._places.matter(wish.field)
        if (problem := self.problem(matter.pack)) is not None:
            raise PracticeError(problem)
        with self._lock:
            rng = np.random.default_rng(int(self._rng.integers(2**32)))
        store, name = self._places.store, trainee.name
        rehearsal, talkers = begun(wish, matter.questions, store, name, rng, self._folder, self._clock())
        return self._seats.add(Seat(rehearsal, talkers, matter, self._places.store, trainee, self._clock))

    def seat(self, seat_id: str) -> Seat:
        """The rehearsal with this id.

        Raises:
            NoPlace: it never existed, or no longer does.
        """
        return self._seats.get(seat_id)
