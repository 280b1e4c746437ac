"""`traycall pick`, `turn-over` and `restock`: before and after a patient, in the terminal.

Options in, calls to `listen.chairside`, text or a CSV file out; the browser's pages call the same functions.
"""

from __future__ import annotations

import time
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from listen.commands.options import ChangesOption, VocabularyOption
from listen.commands.say import say
from listen.commands.session import DataOption, running
from vocab.errors import TraycallError
from vocab.files import write_atomically

if TYPE_CHECKING:
    from listen.chair import Chair
    from listen.chairside.restocking import Restocking
    from listen.live.sessions import Sessions

ProcedureArgument = Annotated[
    str, typer.Argument(metavar="PROCEDURE", help="Its id, such as composite_class_two.")
]


class RestockError(TraycallError):
    """A list that cannot be made as it was asked for."""


def pick(
    procedure: ProcedureArgument, pack: VocabularyOption = "operative", layers: ChangesOption = None
) -> None:
    """List what to take before a patient, by the place where the clinic keeps it or by what it is."""
    from listen.chairside.pick_list import pick_list
    from listen.commands import show

    chair = _chair(procedure, pack, layers)
    assert chair.procedure is not None and chair.tray is not None
    show.out(show.picks(chair.procedure.name, pick_list(chair.tray, chair.pack, chair.clinic)))


def turn_over(
    procedure: ProcedureArgument, pack: VocabularyOption = "operative", layers: ChangesOption = None
) -> None:
    """List what goes where after a patient, in order, and what else is done."""
    from listen.chairside.turn_over import afterwards_in_general, afterwards_text

    chair = _chair(procedure, pack, layers)
    assert chair.tray is not None
    say(afterwards_text(afterwards_in_general(chair.tray, chair.pack)))


def restock(
    number: Annotated[
        int | None, typer.Argument(metavar="[N]", help="A session's number; leave out for a whole day.")
    ] = None,
    day: Annotated[
        str | None, typer.Option("--day", metavar="DATE", help="As 2026-05-31. [default: today]")
    ] = None,
    file: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write it here, for a spreadsheet.")
    ] = None,
    data: DataOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
) -> None:
    """List what to fill up again after a session, or after all sessions of a day."""
    from listen.chairside.restocking import restocking_csv
    from listen.commands import show

    rooms = running(data, pack, layers)
    if number is not None and day is not None:
        raise RestockError("give a session's number or --day, not both")
    title, found = _of_day(rooms, day) if number is None else _of_session(rooms, number)
    if file is None:
        show.out(show.refills(title, found))
    else:
        write_atomically(file, restocking_csv(found).encode())
        say(f"Written: {file}")


def _chair(procedure: str, pack: str, layers: Path | None) -> Chair:
    from listen.chair import ChairOptions, open_chair

    return open_chair(ChairOptions(pack, procedure=procedure, layers=layers))


def _of_session(rooms: Sessions, number: int) -> tuple[str, Restocking]:
    from listen.chairside.restocking import restocked_after

    known = rooms.session(number)
    return f"Session {number}", restocked_after(rooms.log.events(number), rooms.chair_of(known))


def _of_day(rooms: Sessions, given: str | None) -> tuple[str, Restocking]:
    """The list of all sessions of a day whose vocabulary is here."""
    from listen.chairside.restocking import restocked_after, together

    here = {pack.id for pack in rooms.packs}
    try:
        day = date.fromisoformat(given) if given else datetime.fromtimestamp(time.time()).date()
    except ValueError:
        raise RestockError(f"{given!r} is not a day; write it as 2026-05-31") from None
    held = [
        known
        for known in rooms.log.sessions()
        if known.pack in here and datetime.fromtimestamp(known.opened_s).date() == day
    ]
    found = together(restocked_after(rooms.log.events(one.id), rooms.chair_of(one)) for one in held)
    return f"{day:%Y-%m-%d}, {len(held)} session{'' if len(held) == 1 else 's'}", found
