"""Trainees practising on one server: each has a place of their own, in one of the server's vocabularies.

Takes who wants to practise what, and gives a `Place`; says what is due, in which vocabulary. It holds no
sound, and when the server stops only the open question is lost.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from listen.engine import SAMPLE_RATE_HZ
from listen.live.dentists import DentistChairs
from listen.live.pass_codes import secret_key
from listen.live.sessions import Sessions
from listen.practice.desk import Desk
from listen.practice.facts import Facts
from listen.practice.fields import belongs, latest, observed_in, point_of
from listen.practice.held import Held
from listen.practice.judging import AnswerEngines
from listen.practice.naming import topic_label
from listen.practice.place import Matter, Place
from listen.practice.plan import New, new_names, news, seen_well
from listen.practice.questions import Question
from listen.practice.schedule import Course, SessionSettings
from listen.practice.store import Known, Observed, PracticeStore, clean_name, sqlite_url
from listen.practice.tables import name_key
from listen.practice.today import SETTINGS, Today, today
from listen.practice.topics import Drill, Topic, partners
from listen.practice.trainees import Trainees
from vocab.errors import Declined
from vocab.layers.store import CLINIC
from vocab.layers.vocabulary import Entry
from vocab.pack.schema import Pack

MOST_PLACES = 400
FORGOTTEN_S = 6 * 3600.0
"""A place unused for this long is removed; its answers are stored already."""
LATEST = 500
"""Among so many of the latest answers the vocabulary used most lately is looked for."""
OF = "/"
"""Joins vocabulary and procedure where a procedure is chosen ("hygiene/prophylaxis")."""


@dataclass(frozen=True)
class PracticeOptions:
    """The options of practice on the web.

    store_url: the database of all trainees, a file in the app's data folder unless given; lead_code: opens
    the faculty pages, None leaves them open on this machine and closed in an app that is open to others;
    seed: draws the same questions again.
    """

    store_url: str | None = None
    lead_code: str | None = None
    seed: int | None = None


class Places:
    """All trainees who practise, with one store, one engine and the matter of each of the server's
    vocabularies, made when it is first needed. Safe to use from many threads."""

    def __init__(self, running: Sessions, options: PracticeOptions) -> None:
        self._running, self._options = running, options
        self._clock = running.settings.clock
        self._places: Held[Place] = Held(
            MOST_PLACES,
            FORGOTTEN_S,
            self._clock,
            f"{MOST_PLACES} trainees are already practising; wait until one has finished.",
            "this session is no longer open; start a new one. What was answered is kept.",
        )
        self._lock, self._making = threading.Lock(), threading.Lock()
        self._rng = np.random.default_rng(options.seed)
        self._engines = AnswerEngines(running.engine_queue.loaded)
        self._matters: dict[tuple[str, str | None], Matter] = {}
        self._histories: dict[tuple[str, str | None], tuple[DentistChairs, tuple[Entry, ...]]] = {}
        self._warmed: dict[str, tuple[Matter, Future[Any]]] = {}
        self.store = PracticeStore(options.store_url or sqlite_url(running.settings.data / "practice.sqlite"))
        self.trainees = Trainees(self.store, secret_key(running.settings.data), self._clock)
        self.hearing = ThreadPoolExecutor(1, "practice-ears")
        """Spoken answers wait here for the one engine, so that touched and typed ones never wait for them."""

    def matter(self, field: str, dentist: str | None = None) -> Matter:
        """What new sessions in a vocabulary, with a dentist's changes if one is named, are about; made again,
        which takes a while, after it has changed.

        Raises:
            NoField: the server does not have it.
        """
        chair = self._running.field(field).of(dentist)
        with self._making:
            known = self._matters.get((field, dentist))
            if known is None or known.chair is not chair:
                known = self._matters[field, dentist] = Matter.of(chair, self._engines)
            return known

    def history(self, field: str, dentist: str | None = None) -> tuple[Entry, ...]:
        """The clinic's changes of a vocabulary, or one dentist's own, oldest first."""
        chairs = self._running.field(field)
        held, entries = self._histories.get((field, dentist), (None, ()))
        if held is not chairs:
            kept = chairs.vocabulary(dentist).history()
            entries = tuple(one for one in kept if one.layer == (dentist or CLINIC))
            self._histories[field, dentist] = (chairs, entries)
        return entries

    @property
    def packs(self) -> tuple[Pack, ...]:
        """The vocabularies as they are now."""
        return self._running.packs

    def field_used(self, trainee: str | None = None) -> str:
        """The vocabulary that a trainee, or anybody, practised most lately; the proposed one if none was."""
        known = None if trainee is None else self.store.known(trainee)
        if trainee is not None and known is None:
            return self._running.proposed.pack.id
        found = latest(self.store.tallies.latest_topics(LATEST, known.id if known else None), self.packs)
        return found.id if found else self._running.proposed.pack.id

    def chosen(self, wanted: str, field: str) -> tuple[str, str]:
        """Vocabulary and procedure of a choice: "hygiene/prophylaxis", "hygiene/" for names, look-alikes
        and numbers only, or a procedure alone; `field` is the vocabulary where the choice does not tell."""
        if OF in wanted:
            said, _, procedure = wanted.partition(OF)
            return said, procedure
        having = (pack.id for pack in self.packs if any(p.id == wanted for p in pack.procedures))
        return next(having, field), wanted

    def asked_in(self, field: str) -> Callable[[str], bool]:
        """Whether a stored topic is asked in a vocabulary."""
        matter = self.matter(field)
        return lambda key: belongs(key, matter.pack, matter.facts)

    def label(self, topic: str) -> str:
        """A stored topic in words of the vocabulary that asks it."""
        for pack in self.packs:
            facts = self.matter(pack.id).facts if topic.startswith(f"{Drill.FACT}:") else Facts()
            if belongs(topic, pack, facts):
                return topic_label(topic, pack, facts)
        return topic_label(topic, self.packs[0], Facts())

    @property
    def called(self) -> dict[str, str]:
        """The usual name of every item of all vocabularies; the first that has an item names it."""
        return {item: name for pack in reversed(self.packs) for item, name in pack.called.items()}

    def observations(self, trainee: str, field: str) -> tuple[Observed, ...]:
        """What was observed of a vocabulary's checklist; older notes do not tell theirs, and count for the
        first vocabulary, as practice knew only that one."""
        return observed_in(field, self.store.observations(trainee), unsaid=field == self.packs[0].id)

    def everybody_seen(self, field: str) -> dict[str, frozenset[str]]:
        """The points of a vocabulary's checklist that each trainee was seen to do well, by name."""
        unsaid = field == self.packs[0].id
        noted = self.store.everybody_observed().items()
        return {who: seen_well(observed_in(field, some, unsaid)) for who, some in noted}

    def observe(self, trainee: str, field: str, seen: Sequence[Observed]) -> None:
        """Store what was observed of a vocabulary's checklist, all of it or nothing."""
        self.store.observe(trainee, *(replace(one, point=point_of(field, one.point)) for one in seen))

    def warm(self, matter: Matter, question: Question) -> Future[Any]:
        """Load the engine for a matter now, so that the first spoken answer need not wait.

        The future is done once it is loaded; after a failure the next call tries again.
        """
        with self._lock:
            held, last = self._warmed.get(matter.pack.id, (None, None))
            if held is not matter or last is None or (last.done() and last.exception() is not None):
                silence = np.zeros(SAMPLE_RATE_HZ // 2, np.float32)
                last = self.hearing.submit(matter.judge.listen, question, silence)
                self._warmed[matter.pack.id] = (matter, last)
            return last

    def now(self) -> datetime:
        """The app's clock."""
        return datetime.fromtimestamp(self._clock(), UTC)

    def sit(self, trainee: Known, procedure: str, drills: Sequence[str], minutes: float) -> Place:
        """Begin a session for a trainee who has given their code; `procedure` is a choice as in `chosen`.

        Raises:
            TraycallError: there is nothing to practise, or too many practise at once.
        """
        if not 1 <= minutes <= 120:
            raise Declined("a session lasts from 1 to 120 minutes.")
        unknown = [drill for drill in drills if drill not in tuple(Drill)]
        if unknown:
            raise Declined("there is no such drill; load the page again.")
        field, course = self.chosen(procedure, self.field_used(trainee.name))
        matter = self.matter(field)
        wanted = [Drill(drill) for drill in drills] or None
        topics = matter.topics(course or None, wanted)
        return self._seat(matter, trainee, topics, SessionSettings(length=timedelta(minutes=minutes)))

    def sit_today(self, trainee: Known, field: str | None = None) -> Place:
        """Begin today's practice of a trainee who has given their code, in the vocabulary used most lately
        unless another is given.

        Raises:
            TraycallError: as `sit`.
        """
        found = self.today(trainee.name, field)
        return self._seat(self.matter(found.field), trainee, found.topics, SETTINGS, found.changed)

    def sit_news(self, trainee: Known, field: str, dentist: str) -> Place:
        """Begin a short practice of what is new with one dentist.

        Raises:
            TraycallError: nothing is, or as `sit`.
        """
        found = self.news_of(trainee.name, field).get(dentist, ())
        if not found:
            raise Declined("nothing is new there any more; load the page again.")
        topics = [new.topic for new in found]
        return self._seat(self.matter(field, dentist), trainee, topics, SETTINGS, found)

    def news_of(self, trainee: str, field: str) -> dict[str, tuple[New, ...]]:
        """What has changed with each dentist since the trainee practised it, by the dentist's id."""
        deck = self.store.deck(trainee)
        found = {}
        for dentist in self._running.field(field).dentists if deck else ():
            history = self.history(field, dentist)
            if history:
                matter = self.matter(field, dentist)
                places = {topic.place for topic in map(_read, deck) if topic is not None and topic.place}
                used = [p.id for p in matter.pack.procedures if {p.id, p.tray} & places]
                every = (matter.topics(one) for one in (None, *used))
                own = dict.fromkeys(topic for some in every for topic in some)
                found[dentist] = news(history, tuple(own), deck)
        return {dentist: some for dentist, some in found.items() if some}

    def dentists(self, field: str) -> dict[str, str]:
        """The names of the dentists of a vocabulary, by id."""
        return self._running.field(field).dentists

    def today(self, trainee: str, field: str | None = None) -> Today:
        """What a trainee is to practise now, in the vocabulary used most lately unless another is given."""
        deck, matter = self.store.deck(trainee), self.matter(field or self.field_used(trainee))
        answers = [review.answer for review in self.store.reviews(trainee)]
        proposed, history = matter.chair.options.procedure, self.history(matter.pack.id)
        asked = matter.trays.practised
        return today(matter.pack, matter.facts, deck, answers, proposed, self.now(), history, asked)

    def due_elsewhere(self, trainee: str, field: str) -> dict[str, int]:
        """How many topics are due in each other vocabulary, by its id; what several ask counts once."""
        now, here = self.now(), self.asked_in(field)
        due = [key for key, card in self.store.deck(trainee).items() if card.due <= now and not here(key)]
        found: Counter[str] = Counter()
        for pack in self.packs:
            if due and pack.id != field:
                asked = set(filter(self.asked_in(pack.id), due))
                found[pack.id] += len(asked)
                due = [key for key in due if key not in asked]
        return {pack: count for pack, count in found.items() if count}

    def _seat(
        self,
        matter: Matter,
        trainee: Known,
        topics: Sequence[Topic],
        settings: SessionSettings,
        changed: Sequence[New] = (),
    ) -> Place:
        with self._lock:
            seed = int(self._rng.integers(2**32))
        desk = Desk(
            matter.questions,
            matter.judge,
            self.store,
            trainee.name,
            Course(topics, partners(matter.pack)),
            self.now(),
            np.random.default_rng(seed),
            replace(settings, first=frozenset(new.topic.key for new in changed)),
            new_names(changed),
        )
        return self._places.add(Place(desk, trainee, matter, self._clock))

    def place(self, place_id: str) -> Place:
        """The place with this id.

        Raises:
            NoPlace: it never existed, or no longer does.
        """
        return self._places.get(place_id)

    def remove(self, trainee: str) -> dict[str, Any]:
        """Delete everything about a trainee, end their sessions, and return what was deleted."""
        self._end(trainee)
        return self.store.remove(trainee)

    def reset_code(self, trainee: str) -> str:
        """Remove a trainee's code and end their sessions; returns their name."""
        name = self.store.reset_code(trainee)
        self._end(trainee)
        return name

    def close(self) -> None:
        """Close the store and drop waiting answers when the server stops."""
        self.hearing.shutdown(wait=False, cancel_futures=True)
        self.store.close()

    def _end(self, trainee: str) -> None:
        key = name_key(clean_name(trainee))
        for place in self._places.drop(lambda place: name_key(place.trainee) == key):
            place.stop()  # waits for an answer that is being taken


def _read(key: str) -> Topic | None:
    try:
        return Topic.read(key)
    except ValueError:  # written by a later version
        return None
