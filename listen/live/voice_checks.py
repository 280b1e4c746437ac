"""The voice checks of a clinic: its places, its recordings measured again, its two numbers fitted.

From the sessions that are running and a way to have sound heard it gives what `listen.voicecheck` needs: the
same vocabularies, engine and judge as at the chair. Measuring and fitting go on in a thread of their own, one
at a time; how far they are can be asked.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import CancelledError
from dataclasses import dataclass, replace
from importlib.metadata import version
from typing import Protocol

import numpy as np

from listen.chair import Chair, find_procedure, find_tray
from listen.engine import Engine, Hearing, Samples, failures_told
from listen.live.sessions import Sessions
from listen.segments import FRAME, Segmenter, Utterance, utterances
from listen.voicecheck.fit import Fitted, HeardLine, fitted, too_few
from listen.voicecheck.lines import Line, chosen
from listen.voicecheck.outcome import Outcome, Place, Result
from listen.voicecheck.room import Running
from listen.voicecheck.round import Read, Round
from listen.voicecheck.store import Conditions, Recording, VoiceStoreError
from vocab.errors import Declined, TraycallError

MOST_PROCEDURES = 6
SCREEN = "voice check"
"""What the queue of the engines calls the recordings that are measured."""
Wanted = tuple[str, str]
"""A field and a procedure."""


@dataclass(frozen=True)
class Progress:
    """What goes on in the background. told: what came of the last one; problem: why there is none."""

    doing: str = ""
    done: int = 0
    of: int = 0
    told: str = ""
    problem: str = ""


class Ears(Protocol):
    """How recordings are heard."""

    def name(self, field: str) -> str:
        """The engine that hears a field; "" while there is none."""
        ...

    def hear(self, field: str, samples: Samples) -> Hearing:
        """Hear an utterance in a field, shape = (n,); `TraycallError` where that is not possible."""
        ...


class QueuedEars:
    """Through the queue of a server, in turn with its chairs."""

    def __init__(self, running: Sessions) -> None:
        self._queue = running.engine_queue

    def name(self, field: str) -> str:
        engine = self._queue.of(field).engine
        return "" if engine is None else engine.name

    def hear(self, field: str, samples: Samples) -> Hearing:
        ear = self._queue.of(field)
        if ear.loaded() is None:
            raise VoiceStoreError(f"nothing can be heard: {ear.problem or 'the engine is missing'}")
        try:
            return ear.hear(SCREEN, samples).done.result()
        except CancelledError:
            raise VoiceStoreError("hearing ended before it was done; try again.") from None


class OwnEars:
    """With engines loaded here, one for each field that is asked for, as a server would have them."""

    def __init__(self, running: Sessions) -> None:
        self._running = running
        self._engines: dict[str, Engine] = {}

    def name(self, field: str) -> str:
        return self._engine(field).name

    def hear(self, field: str, samples: Samples) -> Hearing:
        with failures_told():
            return self._engine(field).hear(samples)

    def _engine(self, field: str) -> Engine:
        if field not in self._engines:
            like = next(iter(self._engines.values()), None)
            self._engines[field] = self._running.all_fields.engine(field, like)
        return self._engines[field]


class VoiceChecks:
    """Voice checks over the running sessions.

    Args:
        ears: those of a server when left out.
    """

    def __init__(self, running: Sessions, ears: Ears | None = None) -> None:
        self.running, self.store = running, running.voices
        self._ears = ears or QueuedEars(running)
        self._lock = threading.Lock()
        self._progress = Progress()

    # --- a round ----------------------------------------------------------------------------------

    def place(self, field: str, procedure: str, shipped: bool = False) -> Place:
        """A procedure as its sessions hear it; with `shipped` without the clinic's two numbers.

        Raises:
            TraycallError: there is no such vocabulary or procedure.
        """
        self.running.field(field)
        usual = self.running.all_fields.chair(field, None)
        chosen_ = find_procedure(usual.pack, procedure)
        tray = find_tray(usual.pack, chosen_.tray)
        chair = Chair(usual.options, usual.pack, tray, chosen_, usual.clinic, usual.lexicon)
        reader = self.running.all_fields.reader(field, None)
        return Place(chair, reader.reweighed(chair.calibration) if shipped else reader)

    def begin(self, wanted: Sequence[Wanted], rng: np.random.Generator) -> Round:
        """A new round with lines from these procedures.

        Raises:
            TraycallError: none was chosen, too many were, or one does not exist.
        """
        if not 0 < len(wanted) <= MOST_PROCEDURES:
            raise Declined(f"choose between 1 and {MOST_PROCEDURES} procedures.")
        places = [self.place(field, procedure) for field, procedure in wanted]
        return Round(chosen([(place.chair, place.reader) for place in places], rng))

    def warm(self, fields: Iterable[str]) -> None:
        """Have the engines of these fields loaded before anybody speaks."""
        for field in fields:
            self._ears.name(field)

    def keep(self, who: str, agreed: bool, read: Sequence[Read]) -> tuple[int, ...]:
        """Keep what somebody read, if they agree (see `VoiceStore.keep`)."""
        conditions = self.conditions({one.line.field for one in read})
        return self.store.keep(who, agreed, read, conditions, self.running.settings.clock())

    def conditions(self, fields: Iterable[str]) -> Conditions:
        """With what recordings of these fields are measured now."""
        names, total = [], hashlib.sha256()
        for field in sorted(fields):
            names.append(self._ears.name(field))
            total.update(self.running.all_fields.heard(field).model_dump_json().encode())
        return Conditions(version("traycall"), next(filter(None, names), ""), total.hexdigest()[:12])

    # --- recordings -------------------------------------------------------------------------------

    def measure(self, tell: Callable[[int, int], None] = lambda done, of: None) -> dict[int, Outcome]:
        """Hear every recording again and keep what came of it.

        A recording whose procedure or item is no longer in the vocabulary is left out.

        Args:
            tell: told how many of how many are heard.

        Raises:
            VoiceStoreError: there is no recording that can be measured.
        """
        heard = self._heard(tell)
        if not heard:
            raise VoiceStoreError(
                "there are no recordings to measure; do a voice check and agree to keep it."
            )
        outcomes = {
            one.id: self.place(one.line.field, one.line.procedure).result(one.line, line.hearings).outcome
            for one, line in heard
        }
        conditions = self.conditions({one.line.field for one, _ in heard})
        self.store.note(conditions, outcomes, self.running.settings.clock())
        return outcomes

    def fit(self, tell: Callable[[int, int], None] = lambda done, of: None) -> Fitted:
        """Fit the clinic's two numbers and use them if they help on recordings held out; otherwise what is in
        use stays.

        Raises:
            VoiceStoreError: there are too few recordings.
        """
        few = too_few(len(self.store.recordings()))
        if few:
            raise VoiceStoreError(few)
        heard = self._heard(tell)
        few = too_few(len(heard))
        if few:
            raise VoiceStoreError(few)
        found = fitted(
            [line for _, line in heard], lambda line: self.place(line.field, line.procedure, shipped=True)
        )
        if found.helps:
            weights = self.place(
                heard[0][1].line.field, heard[0][1].line.procedure
            ).chair.calibration.checksum
            self.store.adopt(found.own, weights, found.in_words, self.running.settings.clock())
            self.running.readjust()
        return found

    def switch(self, on: bool) -> None:
        """Use the two numbers, or hear as shipped."""
        self.store.switch(on)
        self.running.readjust()

    def _heard(self, tell: Callable[[int, int], None]) -> list[tuple[Recording, HeardLine]]:
        recordings = [one for one in self.store.recordings() if self._is_known(one.line)]
        heard = []
        for number, one in enumerate(recordings):
            tell(number, len(recordings))
            hearings = tuple(
                self._ears.hear(one.line.field, utterance.samples)
                for utterance in self.cut(self.store.sound(one.id))
            )
            heard.append((one, HeardLine(one.line, hearings)))
        return heard

    def cut(self, sound: Samples) -> tuple[Utterance, ...]:
        """The utterances in a sound, shape = (n,), as at the chair but without its guesses in pauses."""
        blocks = (sound[at : at + FRAME] for at in range(0, len(sound), FRAME))
        return tuple(utterances(blocks, self.segmenter()))

    def segmenter(self) -> Segmenter:
        """What cuts sound into utterances."""
        return Segmenter(endpoint_s=self.running.settings.endpoint_s)

    def read(self, now: Round, number: int, running: Running, sound: Samples) -> Result:
        """Take a sound, shape = (n,), as line `number` of a round, from 0, and say what came of it."""
        line, spoken = now.lines[number], self.cut(sound)
        hearings = [self._ears.hear(line.field, utterance.samples) for utterance in spoken]
        result = self.place(line.field, line.procedure).result(line, hearings)
        now.heard(number, running, result, sound, spoken)
        return result

    def _is_known(self, line: Line) -> bool:
        try:
            pack = self.place(line.field, line.procedure).chair.pack
        except TraycallError:
            return False
        return line.item is None or line.item in pack.by_id

    # --- in the background ------------------------------------------------------------------------

    @property
    def progress(self) -> Progress:
        """How far the work in the background is."""
        with self._lock:
            return self._progress

    def start_measuring(self) -> None:
        """Measure in the background; nothing happens while something is going on there."""

        def work() -> str:
            self.measure(self._tell)
            return "Measured."

        self._start("Measuring the recordings", work)

    def start_fitting(self) -> None:
        """Fit in the background; nothing happens while something is going on there."""
        self._start("Fitting to the recordings", lambda: self.fit(self._tell).in_words)

    def _start(self, doing: str, work: Callable[[], str]) -> None:
        with self._lock:
            if self._progress.doing:
                return
            self._progress = Progress(doing)
        threading.Thread(target=self._work, args=(work,), name="voice-check", daemon=True).start()

    def _work(self, work: Callable[[], str]) -> None:
        try:
            ended = Progress(told=work())
        except (TraycallError, OSError) as error:
            ended = Progress(problem=str(error))
        except Exception as error:
            ended = Progress(problem=f"it failed ({type(error).__name__}: {error}); try again.")
        with self._lock:
            self._progress = ended

    def _tell(self, done: int, of: int) -> None:
        with self._lock:
            self._progress = replace(self._progress, done=done, of=of)
