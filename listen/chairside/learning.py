"""What the log may teach the procedure model: items and their order in finished sessions, with consent, only.

It takes the session log and, as `listen.chairside.consents` keeps it, from when to when each dentist
consented and which sessions are left out, and gives `Habits` for one session. Nothing is counted or copied
here, so leaving a session out undoes it exactly. Learning is off at first, and a session held while it is off
never counts.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from listen.chairside.events import EventKind, effective
from listen.chairside.log import LoggedSession, SessionLog
from vocab.errors import TraycallError, nearest
from vocab.procedure import habits
from vocab.procedure.habits import Habits

CONSENT = (
    "Learning needs the dentist's consent: only the items of finished sessions and their order are used; "
    "no sound, no words, nothing about a patient. Sessions held while it is off never count."
)
MOST_TAUGHT = 100
"""How many of the newest sessions of a procedure are looked at; older ones would hardly weigh."""


class LearningError(TraycallError):
    """The setting cannot be read or written, or names a session that does not exist."""


@dataclass(frozen=True)
class Consent:
    """A dentist's consent. on_s, off_s: seconds since 1970 at which it was given and withdrawn, in turn."""

    on_s: tuple[float, ...] = ()
    off_s: tuple[float, ...] = ()

    @property
    def is_on(self) -> bool:
        """Whether it holds now."""
        return len(self.on_s) > len(self.off_s)

    def switched(self, on: bool, now_s: float) -> Consent:
        """With consent given or withdrawn now; unchanged where it already is."""
        if on == self.is_on:
            return self
        if on:
            return replace(self, on_s=(*self.on_s, now_s))
        return replace(self, off_s=(*self.off_s, now_s))

    def covers(self, session: LoggedSession) -> bool:
        """Whether it holds now and held from the session's beginning to its end."""
        ends = (*self.off_s, float("inf"))
        return (
            self.is_on
            and session.closed_s is not None
            and any(
                on_s <= session.opened_s and session.closed_s <= off_s
                for on_s, off_s in zip(self.on_s, ends, strict=False)
            )
        )


@dataclass(frozen=True)
class Learning:
    """The setting: consent by dentist ("" for sessions with no specific dentist), sessions left out."""

    consents: dict[str, Consent] = field(default_factory=dict)
    left_out: tuple[int, ...] = ()

    @property
    def on_for(self) -> tuple[str, ...]:
        """The dentists whose sessions teach now."""
        return tuple(dentist for dentist, consent in self.consents.items() if consent.is_on)

    def of(self, dentist: str | None) -> Consent:
        """A dentist's consent; None is no specific dentist."""
        return self.consents.get(dentist or "", Consent())

    def switched(self, on: bool, now_s: float, dentist: str | None = None) -> Learning:
        """The setting with a dentist's consent given or withdrawn now."""
        changed = self.of(dentist).switched(on, now_s)
        return replace(self, consents={**self.consents, dentist or "": changed})

    def without(self, *sessions: int) -> Learning:
        """The setting with sessions left out."""
        return replace(self, left_out=tuple(sorted({*self.left_out, *sessions})))

    def covers(self, session: LoggedSession) -> bool:
        """Whether a session may teach: its dentist's consent covers it, and it was not left out."""
        return session.id not in self.left_out and self.of(session.dentist).covers(session)


def dentists_known(
    listed: Mapping[str, str], learning: Learning, sessions: Iterable[LoggedSession]
) -> dict[str, str]:
    """Names by id of dentists who can consent: those listed, and others who consented or held a session."""
    others = (*learning.consents, *(session.dentist or "" for session in sessions))
    return {**{dentist: dentist for dentist in others if dentist}, **listed}


def dentist_meant(said: str, known: Mapping[str, str]) -> str:
    """The id of a dentist given by id or name.

    Raises:
        LearningError: nobody has this name, or several do; the text gives near names or the ids.
    """
    if said in known:
        return said
    wanted = _plain(said)
    named = [dentist for dentist, name in known.items() if wanted in (_plain(name), _plain(dentist))]
    if len(named) == 1:
        return named[0]
    if named:
        raise LearningError(f"several dentists are called {said!r}; give one's id: {', '.join(named)}.")
    there = (
        ", ".join(dict.fromkeys(known.values()))
        or "nobody; add them while setting up the clinic (traycall edit clinic)"
    )
    raise LearningError(f"no dentist is called {said!r}{nearest(said, known.values())}; listed: {there}.")


def _plain(name: str) -> str:
    return unicodedata.normalize("NFC", " ".join(name.split())).casefold()


def teaching(log: SessionLog, learning: Learning) -> tuple[LoggedSession, ...]:
    """The sessions that count, oldest first."""
    return tuple(s for s in log.sessions() if s.procedure is not None and learning.covers(s))


def habits_for(log: SessionLog, learning: Learning, session: LoggedSession) -> Habits:
    """What had been learnt when the session was opened, so that it is the same again after a restart.

    Only sessions of the same pack and clinic count, and of the same procedure where one was chosen.
    """
    earlier = [
        s
        for s in teaching(log, learning)
        if s.closed_s is not None
        and s.closed_s <= session.opened_s
        and s.id != session.id
        and (s.pack, s.clinic) == (session.pack, session.clinic)
        and session.procedure in (None, s.procedure)
    ]
    return Habits(tuple(taught(log, s) for s in earlier[-MOST_TAUGHT:]))


def taught(log: SessionLog, session: LoggedSession) -> habits.PastSession:
    """What was asked for, answered and not taken back."""
    items = tuple(
        event.item
        for event in effective(log.events(session.id))
        if event.kind is EventKind.ASKED and event.verdict == "answer" and event.item is not None
    )
    return habits.PastSession(session.procedure or "", items, session.dentist or "")
