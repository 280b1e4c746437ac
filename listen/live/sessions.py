"""All sessions of a server: opens them, finds them again after a restart, and notifies the screens.

It gives one `ChairSession` for each session that is opened or found, and notifies every screen of a session
that changed. It holds every vocabulary that the server is for (its fields, by id of the pack), the one queue
of their engines (`EngineQueue`) and the one log.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from listen.chair import Chair, find_procedure, find_tray
from listen.chairside.assistant import ChairAssistant
from listen.chairside.consents import Consents
from listen.chairside.handing import ChairSettings
from listen.chairside.learning import Learning, LearningError, habits_for
from listen.chairside.log import LoggedSession, SessionLog
from listen.chairside.session import ChairSession
from listen.engine import Engine, Samples
from listen.live.all_fields import AllFields
from listen.live.dentists import DentistChairs
from listen.live.engine_queue import EngineQueue
from listen.live.microphone import OwnMicrophone
from listen.live.settings import ServerSettings
from listen.voicecheck.store import Adopted, VoiceStore, VoiceStoreError
from vocab.errors import Declined
from vocab.files import private_folder, write_atomically
from vocab.layers.draft import ClinicSettings
from vocab.pack.schema import Pack

ChairFactory = Callable[[], Chair]
"""Opens a pack; called once."""

MOST_SCREENS = 32
"""Screens that may be connected at once; far more than a clinic has."""
LONGEST_TIMER_S = 3600.0
"""A maker's time that is longer is not timed at the chair."""
_SETTINGS = TypeAdapter(dict[str, ChairSettings])
"""By session, by dentist (`_of_dentist`: hand and place), and under `_USUAL` what holds for everybody:
makers' times and faculty."""
_USUAL = "usual"
_NOT_OF_ONE: dict[str, object] = {"arch": None, "maker_times": {}, "faculty": True}
"""What is not kept for a single dentist."""


class NoSession(Declined):
    """A session that is not in the log."""


class NoField(Declined):
    """A vocabulary that this server does not have."""


class Screen:
    """A connected page; `changed` is set when it must look at its session again.

    Args:
        show_ear: told "speaking", "thinking" or "quiet" as the session's open microphone hears it.
    """

    def __init__(self, screen_id: str, show_ear: Callable[[str], None]) -> None:
        self.id, self.show_ear = screen_id, show_ear
        self.changed = asyncio.Event()
        self.loop = asyncio.get_running_loop()

    def tell(self) -> None:
        """Safe to call from any thread."""
        with contextlib.suppress(RuntimeError):  # the loop has ended
            self.loop.call_soon_threadsafe(self.changed.set)


@dataclass(frozen=True)
class OpenMicrophone:
    """A microphone that is open in a session: for which screen and, if it is the server's own, its name."""

    screen: str
    own: str | None = None


class Sessions:
    """The running sessions, with their screens and microphones.

    Args:
        chair_factory: opens the first vocabulary; its tray and procedure are only the ones proposed first.
        load_engine: makes the engine for the first vocabulary; its own when left out.
        further: the other vocabularies; one whose pack has an id that is there already is left out.
    """

    def __init__(
        self,
        chair_factory: ChairFactory,
        settings: ServerSettings,
        load_engine: Callable[[], Engine] | None = None,
        further: Sequence[Chair] = (),
    ) -> None:
        self.settings = settings
        self._fields: dict[str, DentistChairs] = {}
        for chair in (chair_factory(), *further):
            self._fields.setdefault(chair.pack.id, DentistChairs(chair, settings.clock))
        self._first, *others = self._fields
        self.voices = VoiceStore(settings.data)
        self.all_fields = AllFields(self._fields, adopted=self._adopted())
        private_folder(settings.data)
        self.log = SessionLog(settings.where_log)
        self.consents = Consents(settings.data)
        self._learning = Learning()
        self.engine_queue = EngineQueue(
            load_engine or (lambda: self.all_fields.engine(self._first)),
            self.tell_all,
            self._first,
            {field: partial(self.engine_like, field) for field in others},
        )
        self.own_microphone = OwnMicrophone(settings.microphone)
        self._chair_sessions: dict[int, ChairSession] = {}
        self._screens: dict[int, list[Screen]] = {}
        self._microphones: dict[int, OpenMicrophone] = {}
        self._lock = threading.RLock()

    # --- vocabularies ---------------------------------------------------------------------------

    @property
    def packs(self) -> tuple[Pack, ...]:
        """The vocabularies of anyone without changes of their own; the first is proposed first."""
        with self._lock:
            return tuple(chairs.own.pack for chairs in self._fields.values())

    def field(self, pack: str) -> DentistChairs:
        """Everybody's chairs in the vocabulary whose pack has this id; `NoField` if it is not here."""
        if pack not in self._fields:
            raise NoField(f"there is no vocabulary {pack!r} here; there are: {', '.join(self._fields)}.")
        return self._fields[pack]

    @property
    def offered(self) -> tuple[DentistChairs, ...]:
        """The vocabularies of which the clinic does something; all of them if it does nothing of any."""
        with self._lock:
            fields = tuple(self._fields.values())
        return tuple(one for one in fields if one.procedures or not one.own.pack.procedures) or fields

    @property
    def chairs(self) -> DentistChairs:
        """Everybody's chairs in the first vocabulary."""
        return self._fields[self._first]

    @property
    def chair(self) -> Chair:
        """The first vocabulary, of anyone without changes of their own."""
        return self.chairs.own

    @property
    def proposed(self) -> Chair:
        """The chair whose procedure is proposed first, of those of which something is done: one opened with a
        procedure, else the first."""
        chairs = [chairs.own for chairs in self.offered]
        return next((chair for chair in chairs if chair.procedure is not None), chairs[0])

    @property
    def dentists(self) -> dict[str, str]:
        """Whom a session can be for: names by id, of all vocabularies."""
        return {
            dentist: name
            for chairs in reversed(self._fields.values())
            for dentist, name in chairs.dentists.items()
        }

    def prepare(self) -> None:
        """Do now what the first request would otherwise wait for."""
        for field in tuple(self._fields):
            self.all_fields.reader(field, None)

    def engine_like(self, field: str, like: Engine) -> Engine:
        """The engine of a field, out of one that is there (see `AllFields.engine`)."""
        return self.all_fields.engine(field, like)

    def renew(self, *chairs: Chair) -> None:
        """Go on with changed vocabularies, in every session of them, without a restart."""
        self._go_on({chair.pack.id: DentistChairs(chair, self.settings.clock) for chair in chairs})

    def readjust(self) -> None:
        """Hear with the clinic's two numbers as they are now (see `listen.voicecheck.fit`)."""
        self._go_on({})

    def _adopted(self) -> Adopted | None:
        """The clinic's two numbers; None if they cannot be read, as the page of the recordings says."""
        try:
            return self.voices.adopted()
        except VoiceStoreError:
            return None

    def _go_on(self, changed: dict[str, DentistChairs]) -> None:
        fields = {**self._fields, **changed}
        all_fields = AllFields(fields, self.all_fields, self._adopted())
        for field in changed:
            all_fields.reader(field, None)
        with self._lock:
            self._fields, self.all_fields = fields, all_fields
            for chair_session in self._chair_sessions.values():  # each knows the names of all fields
                own = self.chair_of(chair_session.session)
                chair_session.renew(own, self._assistant(chair_session.session, own))
        self.tell_all()

    # --- sessions -------------------------------------------------------------------------------

    def open(
        self, procedure: str | None, tray: str | None, dentist: str | None = None, field: str | None = None
    ) -> ChairSession:
        """Begin a session and return it.

        Args:
            field: id of the pack; without one, the first that has this procedure or, with none, this tray.

        Raises:
            TraycallError: what is wanted is not in the vocabulary.
        """
        chairs = self.field(field) if field else self._having(procedure, tray)
        pack = chairs.of(dentist).pack
        chosen = find_procedure(pack, procedure) if procedure else None
        tray_id = tray or (chosen.tray if chosen else None)
        if tray_id is not None:
            find_tray(pack, tray_id)
        session = self.log.open_session(
            self.settings.clock(),
            pack.id,
            tray_id,
            chosen.id if chosen else None,
            dentist=dentist or self.chair.options.dentist,
        )
        return self._chair_session(session)

    def _having(self, procedure: str | None, tray: str | None) -> DentistChairs:
        """The first vocabulary with this procedure or tray; the first of all where none has it."""
        for chairs in self._fields.values():
            pack = chairs.own.pack
            known = [p.id for p in pack.procedures] if procedure else [t.id for t in pack.trays]
            if (procedure or tray) in known:
                return chairs
        return self.chairs

    def chair_session(self, session_id: int) -> ChairSession:
        """The session with this number, made again from the log if need be.

        Raises:
            NoSession: it is not in the log, or was held with a vocabulary that is not here.
        """
        with self._lock:
            known = self._chair_sessions.get(session_id)
        return known or self._chair_session(self.session(session_id))

    def session(self, session_id: int) -> LoggedSession:
        """A session as the log has it; `NoSession` if it has none of that number."""
        for session in self.log.sessions():
            if session.id == session_id:
                return session
        raise NoSession(f"there is no session {session_id}; the list of sessions shows those there are.")

    def chair_of(self, session: LoggedSession) -> Chair:
        """Pack, tray and procedure of a session as its dentist has them; what is gone since is left out."""
        if session.pack not in self._fields:
            raise NoSession(
                f"session {session.id} was held with the vocabulary {session.pack!r}: start with "
                f"--vocabulary {session.pack}."
            )
        usual = self.all_fields.chair(session.pack, session.dentist)
        pack = usual.pack
        tray = next((t for t in pack.trays if t.id == session.tray), None)
        procedure = next((p for p in pack.procedures if p.id == session.procedure), None)
        return Chair(usual.options, pack, tray, procedure, self._with_card(usual.clinic), usual.lexicon)

    def _with_card(self, clinic: ClinicSettings) -> ClinicSettings:
        """The clinic's settings; a needle-stick card written in another vocabulary holds here, too."""
        cards = (chairs.own.clinic.injury_card for chairs in self._fields.values())
        return replace(clinic, injury_card=clinic.injury_card or next(filter(None, cards), ()))

    def _chair_session(self, session: LoggedSession) -> ChairSession:
        self.look_at_consents()
        with self._lock:
            if session.id not in self._chair_sessions:
                chair = self.chair_of(session)
                self._chair_sessions[session.id] = ChairSession(
                    session,
                    chair,
                    self._assistant(session, chair),
                    self.log,
                    self.settings_of(session),
                    self.settings.clock,
                )
            return self._chair_sessions[session.id]

    def _assistant(self, session: LoggedSession, chair: Chair) -> ChairAssistant:
        """An assistant that expects what consenting sessions have taught, if that is switched on."""
        learnt = habits_for(self.log, self._learning, session)
        chairs = self._fields[chair.pack.id]
        reader = self.all_fields.reader(chair.pack.id, session.dentist)
        note = chairs.note(session.dentist)
        return ChairAssistant(chair, reader, learnt, session.dentist, note)

    def look_at_consents(self) -> None:
        """Consent given or withdrawn, by whatever program, counts in every session from now on."""
        if self._consented() != self._learning:
            self.learn_again()

    def _consented(self) -> Learning:
        """Which sessions may teach; none if that cannot be read, as the page of consents says."""
        try:
            return self.consents.learning()
        except LearningError:
            return Learning()

    def learn_again(self) -> None:
        """After a change in which sessions may teach: every session expects what those teach now."""
        learning = self._consented()
        with self._lock:
            before, self._learning = self._learning, learning
            try:
                for chair_session in self._chair_sessions.values():
                    chair_session.renew(
                        chair_session.chair, self._assistant(chair_session.session, chair_session.chair)
                    )
            except BaseException:
                self._learning = before  # to be tried again
                raise
        self.tell_all()

    # --- how a chair is set up ------------------------------------------------------------------

    def set_up(self, chair_session: ChairSession, settings: ChairSettings) -> None:
        """Keep a chair's settings: hand and place for its dentist's next, if it is for a dentist, makers'
        times and faculty for everybody's next."""
        with self._lock:
            chair_session.settings = settings
            kept = self._chair_settings()
            kept[str(chair_session.session.id)] = settings
            if chair_session.session.dentist is not None:
                kept[_of_dentist(chair_session.session.dentist)] = settings.model_copy(update=_NOT_OF_ONE)
            kept[_USUAL] = ChairSettings.model_validate(_of_all(settings))
            try:
                write_atomically(self._settings_file, _SETTINGS.dump_json(kept, indent=1), private=True)
            except OSError as error:
                raise Declined(
                    "this chair keeps this set-up until the server ends, but "
                    f"{self._settings_file} cannot be "
                    f"written ({error.strerror}): free some space or check its permissions, then "
                    "send it again."
                ) from None
        self.tell(chair_session.session.id)

    def settings_of(self, session: LoggedSession) -> ChairSettings:
        """As this chair was set up, else as the dentist's last one, else as the clinic has it set; what was
        set for no specific dentist holds for that session alone."""
        kept = self._chair_settings()
        if str(session.id) in kept:
            return kept[str(session.id)]
        clinic = self._as_the_clinic_said(session)
        usual = kept.get(_USUAL, clinic)
        own = clinic if session.dentist is None else kept.get(_of_dentist(session.dentist), clinic)
        times = {**clinic.maker_times, **usual.maker_times}
        return own.model_copy(update={**_of_all(usual), "maker_times": times})

    def _as_the_clinic_said(self, session: LoggedSession) -> ChairSettings:
        """Its vocabulary's times; the dentist's hand from there, or from another that lists the dentist."""
        clinic = self._fields[session.pack].of(session.dentist).clinic
        times = {name: s for name, s in clinic.maker_times_s.items() if s <= LONGEST_TIMER_S}
        listing = (chairs.own.clinic for chairs in self._fields.values())
        lists = [one for one in (clinic, *listing) if session.dentist in [d.id for d in one.dentists]]
        hand = (lists[0] if lists else clinic).hand_of(session.dentist)
        return ChairSettings(operator_handed=hand, maker_times=times)

    @property
    def _settings_file(self) -> Path:
        return self.settings.data / "chairs.json"

    def _chair_settings(self) -> dict[str, ChairSettings]:
        if not self._settings_file.exists():
            return {}
        try:
            return _SETTINGS.validate_json(self._settings_file.read_bytes())
        except (ValidationError, OSError) as error:
            raise Declined(
                f"{self._settings_file} cannot be read; move it away to start again without it."
            ) from error

    # --- screens --------------------------------------------------------------------------------

    def join(self, session_id: int, screen: Screen) -> None:
        """A screen shows a session from now on."""
        with self._lock:
            if sum(len(screens) for screens in self._screens.values()) >= MOST_SCREENS:
                raise Declined(f"{MOST_SCREENS} screens are already connected; close one.")
            self._screens.setdefault(session_id, []).append(screen)

    def leave(self, session_id: int, screen: Screen) -> None:
        """A screen has gone, and its microphone with it."""
        with self._lock:
            self._screens.get(session_id, []).remove(screen)
        self.close_microphone(session_id, screen)

    def tell(self, session_id: int) -> None:
        """Have every screen of a session look at it again."""
        with self._lock:
            screens = list(self._screens.get(session_id, ()))
        for screen in screens:
            screen.tell()

    def show_ear(self, session_id: int, state: str) -> None:
        """Tell every screen of a session what its microphone hears, so that none speaks over anybody."""
        with self._lock:
            screens = list(self._screens.get(session_id, ()))
        for screen in screens:
            screen.show_ear(state)

    def tell_all(self) -> None:
        """Have every screen look at its session again."""
        with self._lock:
            sessions = list(self._screens)
        for session_id in sessions:
            self.tell(session_id)

    # --- microphones: at most one is open in a session --------------------------------------------

    def microphone(self, session_id: int) -> OpenMicrophone | None:
        """The microphone that is open in this session."""
        with self._lock:
            return self._microphones.get(session_id)

    def open_microphone(self, session_id: int, screen: Screen) -> None:
        """A screen's browser has opened its microphone; the session's other one is closed."""
        self._open(session_id, OpenMicrophone(screen.id))

    def open_own_microphone(
        self, session_id: int, screen: Screen, take: Callable[[Samples], None], lost: Callable[[str], None]
    ) -> None:
        """Open the server's own for a screen (see `OwnMicrophone.open`); the session's other one is closed.

        Raises:
            listen.audio.AudioError: it is open in another session, or will not open.
        """
        with self._lock:
            last = self._microphones.get(session_id)
            if last is not None and last.own is not None:
                self.own_microphone.close(last.screen)
                del self._microphones[session_id]
        name = self.own_microphone.open(screen.id, take, lost)
        self._open(session_id, OpenMicrophone(screen.id, name))

    def close_microphone(self, session_id: int, screen: Screen) -> None:
        """Close the microphone that a screen has open, if it has."""
        self.own_microphone.close(screen.id)
        with self._lock:
            last = self._microphones.get(session_id)
            if last is not None and last.screen == screen.id:
                del self._microphones[session_id]
        self.tell(session_id)

    def _open(self, session_id: int, opened: OpenMicrophone) -> None:
        with self._lock:
            last = self._microphones.get(session_id)
            self._microphones[session_id] = opened
        if last is not None and last.own is not None:
            self.own_microphone.close(last.screen)
        self.tell(session_id)


def _of_all(settings: ChairSettings) -> dict[str, object]:
    """What holds for every chair of the clinic."""
    return {"maker_times": settings.maker_times, "faculty": settings.faculty}


def _of_dentist(dentist: str) -> str:
    """The key of a dentist's settings; no session's key looks like it."""
    return f"dentist:{dentist}"
