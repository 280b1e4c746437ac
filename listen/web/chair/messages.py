"""What a chair screen sends over its live connection."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, TypeAdapter

from listen.chairside.events import LONGEST_BY, LONGEST_SIZE, MOST_PIECES, EventKind, Source
from listen.web.wire import Message

LONGEST_TEXT, LONGEST_ID, LONGEST_TIMER = 200, 80, 40

Id = Annotated[str, StringConstraints(min_length=1, max_length=LONGEST_ID)]


class _Act(Message):
    """Something done on the screen; `by` is "keyboard" where no finger touched it."""

    by: str = "touch"

    @property
    def source(self) -> Source:
        """What it was done with."""
        return Source.KEYBOARD if self.by == "keyboard" else Source.TOUCH


class MicrophoneSwitch(Message):
    """Open it (`own`: the server's; `waiting`: for a spoken start; `held`: until a key is let go), close it,
    or, with `finish`, end what is being said."""

    do: Literal["microphone"]
    open: bool
    own: bool = False
    waiting: bool = False
    held: bool = False
    finish: bool = False


class Ask(Message):
    """A typed request."""

    do: Literal["ask"]
    text: Annotated[str, StringConstraints(min_length=1, max_length=LONGEST_TEXT)]


class TouchedItem(_Act):
    """An item that was touched, as if it had been asked for."""

    do: Literal["request"]
    item: Id
    size: Annotated[str, StringConstraints(min_length=1, max_length=LONGEST_SIZE)] | None = None


class Choose(_Act):
    """One of the choices that are shown; `number` from 1."""

    do: Literal["choose"]
    number: int


class Touch(_Act):
    """What became of some pieces of an item."""

    do: Literal["touch"]
    kind: Annotated[EventKind, Field(strict=False)]
    item: Id
    quantity: Annotated[int, Field(ge=1, le=MOST_PIECES)] = 1


class NotAsked(_Act):
    """The last request for an item was none."""

    do: Literal["not_asked"]
    item: Id


class Looked(_Act):
    """Faculty has looked, and who."""

    do: Literal["looked"]
    who: Annotated[str, StringConstraints(max_length=LONGEST_BY)] = ""


class Injury(_Act):
    """The card for a sharps injury is opened or closed."""

    do: Literal["injury"]
    open: bool


class TakeBack(_Act):
    """Undo what was recorded last; with `seq`, its number in the log, nothing else."""

    do: Literal["undo"]
    seq: int | None = None


class Timer(_Act):
    """A timer is started or stopped."""

    do: Literal["timer"]
    name: Annotated[str, StringConstraints(min_length=1, max_length=LONGEST_TIMER)]
    on: bool


Sent = MicrophoneSwitch | Ask | TouchedItem | Choose | Touch | NotAsked | Looked | Injury | TakeBack | Timer
SENT: TypeAdapter[Sent] = TypeAdapter(Annotated[Sent, Field(discriminator="do")])
