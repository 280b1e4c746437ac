"""`traycall session ...`: sessions at the chair from the terminal, on the same log as `traycall screen`.

Options and typed lines in, calls to the room, the count, the report and what is learnt; text out. It holds
no rules of its own, so that a session may be begun here and go on in a browser.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from listen.commands.options import ChangesOption, VocabularyOption
from listen.commands.say import say, tell, wrapped
from vocab.errors import TraycallError
from vocab.files import data_folder, write_atomically
from vocab.language.by_language import tables
from vocab.language.numerals import whole_number

if TYPE_CHECKING:
    from rich.console import Console

    from listen.chairside.closing import Override
    from listen.chairside.count import CountLine, CountPlace
    from listen.chairside.learning import Learning
    from listen.chairside.log import LoggedSession, SessionLog
    from listen.chairside.session import ChairSession
    from listen.live.sessions import Sessions

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)
learn = typer.Typer(no_args_is_help=True, rich_markup_mode=None)
app.add_typer(learn, name="learn", help="Let finished sessions teach what comes next; off by default.")

Number = Annotated[int, typer.Argument(metavar="N", help="The session's number.")]
DataOption = Annotated[
    Path | None,
    typer.Option("--data", metavar="FOLDER", help="Where sessions are kept. [default: your data folder]"),
]

ConsentOption = Annotated[
    str | None,
    typer.Option(
        "--dentist",
        metavar="NAME|ID",
        help="Whose sessions. [default: those without a chosen dentist]",
    ),
]

HELP = (
    "Type what is asked for (“mirror please”), what came back, fell, broke or is missing (“mirror back”, "
    "“that one fell”, “clamp broke”, “we're short one gauze”), what goes in and out of the mouth (“two rolls "
    "in”, “throat pack out”), timers (“start the etch timer”, “how long left”, “stop the timer”), or a "
    "number to answer a check, 0 for none. Also: undo, next, out, end (closes the session), ? (this help)."
)


class SessionError(TraycallError):
    """A command about sessions that cannot be carried out as given."""


@app.command("list", short_help="List the sessions.")
def list_(data: DataOption = None) -> None:
    """List the sessions of the log, the oldest first, and how the count stood at their end."""
    from listen.commands import show

    sessions = _log(data).sessions()
    if not sessions:
        say("No sessions yet; `traycall session chair` or `traycall screen` begins one.")
        return
    rows = [
        (
            str(s.id),
            _day(s.opened_s),
            (s.procedure or s.tray or s.pack).replace("_", " "),
            s.dentist or "",
            _ending(s),
        )
        for s in sessions
    ]
    show.out(show.listing(("no.", "opened", "procedure", "dentist", "ended"), rows))


@app.command(short_help="Show a session's report.")
def report(
    number: Number,
    html: Annotated[
        Path | None, typer.Option("--html", metavar="FILE", help="Write a page here instead.")
    ] = None,
    data: DataOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
) -> None:
    """Show what a session was: its count, what was asked for, faculty checks, and every event."""
    from listen.chairside.report import as_html, session_report
    from listen.commands import show

    rooms = running(data, pack, layers)
    session = rooms.session(number)
    chair = rooms.chair_of(session)
    zone = datetime.fromtimestamp(session.opened_s).astimezone().tzinfo
    assert zone is not None
    faculty = rooms.settings_of(session).faculty
    dentist = rooms.dentists.get(session.dentist or "", "")
    events = rooms.log.events(number)
    found = session_report(session, events, chair.pack, chair.tray, zone, faculty, dentist)
    if html is None:
        show.out(show.session_report(found))
        return
    write_atomically(html, as_html(found).encode())
    say(f"Written: {html}")


@app.command(short_help="Answer the set-up check.")
def setup(
    number: Number,
    data: DataOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
) -> None:
    """Ask the questions before the start that nobody has answered with yes; Enter leaves one open."""
    from listen.chairside.count import setup_open, setup_problems
    from listen.chairside.events import Source

    chair_session = running(data, pack, layers).chair_session(number)
    _must_run(chair_session)
    for check in (*setup_open(chair_session.state), *setup_problems(chair_session.state)):
        good = _yes_or_no(check.question)
        if good is None:
            continue
        chair_session.check_setup(check.id, good, Source.KEYBOARD)
        if not good:
            say(f"  ! {check.if_no}")
    still_open, wrong = len(setup_open(chair_session.state)), len(setup_problems(chair_session.state))
    say(f"Set-up check: {still_open} open, {wrong} answered with no.")


@app.command(short_help="Count by hand: rows and kits at once, what differs by itself.")
def count(
    number: Number,
    data: DataOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
) -> None:
    """Guide the count: what is confirmed by itself, then row by row and kit by kit; then what goes where.

    “y” says that all of a row or kit is here, “n” asks line by line, and words say what is missing (“one 330
    missing”). Enter leaves it uncounted. Nothing here says that all is there; the person who counts does.
    """
    from listen.chairside.count import count_text, one_by_one
    from listen.chairside.turn_over import afterwards, afterwards_text

    chair_session = running(data, pack, layers).chair_session(number)
    _must_run(chair_session)
    known, tray = chair_session.chair.pack, chair_session.chair.tray
    single = [line for line in one_by_one(chair_session.state, known, tray) if line.counted is None]
    if single:
        print("\nOne by one")
    _count_lines(chair_session, single)
    if any(place.open for place in chair_session.places):
        print("\nRow by row, kit by kit")
    for place in chair_session.places:
        if place.open:
            _count_place(chair_session, place)
    say(f"\n{count_text(chair_session.state, known)}\n")
    say(afterwards_text(afterwards(chair_session.state, known, tray)))


@app.command(short_help="End a session once it is counted.")
def end(
    number: Number,
    by: Annotated[
        str | None,
        typer.Option("--by", metavar="NAME", help="Who decides to end it with an incomplete count."),
    ] = None,
    reason: Annotated[
        str | None,
        typer.Option(
            "--reason", metavar="TEXT", help="Why; nothing about a patient. It appears in the report."
        ),
    ] = None,
    data: DataOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
) -> None:
    """End a session. While a sharp or what may stay in a mouth is short or uncounted, --by and --reason say
    who decides to end it all the same."""
    from listen.chairside.closing import Override

    chair_session = running(data, pack, layers).chair_session(number)
    _must_run(chair_session)
    _end(chair_session, None if by is None and reason is None else Override(by or "", reason or ""))
    say(f"Closed. `traycall session report {number}` shows it.")


@app.command(short_help="Undo the last event about an item.")
def undo(
    number: Number,
    data: DataOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
) -> None:
    """Take the last event about an item back; both stay in the log."""
    from listen.chairside.events import Source

    chair_session = running(data, pack, layers).chair_session(number)
    chair_session.undo(Source.KEYBOARD)
    say(chair_session.stage.note)


@app.command(short_help="Hold a session by typing.")
def chair(
    number: Annotated[
        int | None, typer.Argument(metavar="[N]", help="Continue this session; leave out to begin one.")
    ] = None,
    procedure: Annotated[
        str | None, typer.Option("--procedure", metavar="ID", help="The procedure. [default: unknown]")
    ] = None,
    tray: Annotated[
        str | None, typer.Option("--tray", metavar="ID", help="The tray. [default: the procedure's]")
    ] = None,
    dentist: Annotated[
        str | None, typer.Option("--dentist", metavar="ID", help="Whose habits and changes apply.")
    ] = None,
    data: DataOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
) -> None:
    """Hold a session by typing: requests, checks by number, returns, timers; everything is logged."""
    rooms = running(data, pack, layers, dentist)
    if number is None:
        chair_session = rooms.open(procedure, tray, dentist)
    elif procedure or tray:
        raise SessionError("a continued session keeps its procedure and tray; leave --procedure out.")
    else:
        chair_session = rooms.chair_session(number)
        _must_run(chair_session)
    tell(f"Session {chair_session.session.id}. {HELP}")
    out = _console()
    for line in _typed_lines():
        rooms.look_at_consents()
        _answer(chair_session, line, out)
        if chair_session.closed:
            tell(f"Closed. `traycall session report {chair_session.session.id}` shows it.")
            return
    number = chair_session.session.id
    tell(
        f"Session {number} stays open: `traycall session count {number}` counts, "
        f"`traycall session chair {number}` goes on."
    )


@learn.command("on", short_help="A dentist consents: finished sessions teach from now on.")
def learn_on(
    dentist: ConsentOption = None,
    data: DataOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
) -> None:
    """Let sessions that begin from now on teach what comes next. Ask the dentist first."""
    _switch(True, dentist, data, pack, layers)


@learn.command("off", short_help="A dentist's sessions teach nothing, and what they taught is not used.")
def learn_off(
    dentist: ConsentOption = None,
    data: DataOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
) -> None:
    """Withdraw consent: nothing is learnt, and nothing that was learnt is used."""
    _switch(False, dentist, data, pack, layers)


@learn.command("list", short_help="Show for whom it is on, and which sessions have taught.")
def learn_list(
    data: DataOption = None, pack: VocabularyOption = "operative", layers: ChangesOption = None
) -> None:
    """Say for whom learning is on and list the sessions that teach."""
    from listen.chairside.consents import read_learning
    from listen.chairside.learning import dentists_known, teaching
    from listen.commands import show

    learning, log = read_learning(_folder(data)), _log(data)
    known = dentists_known(_listed(pack, layers), learning, log.sessions())
    _say_consent(learning, known)
    rows = [
        (
            str(s.id),
            _day(s.opened_s),
            (s.procedure or "").replace("_", " "),
            known.get(s.dentist or "", s.dentist or ""),
        )
        for s in teaching(log, learning)
    ]
    if rows:
        show.out(show.listing(("no.", "opened", "procedure", "dentist"), rows))
    elif learning.on_for:
        say("No finished session has taught anything yet.")
    if learning.left_out:
        say(f"Left out: {', '.join(map(str, learning.left_out))}.")


@learn.command("forget", short_help="Leave sessions out, as if they had never taught.")
def learn_forget(
    numbers: Annotated[list[int], typer.Argument(metavar="N...", help="The sessions' numbers.")],
    data: DataOption = None,
) -> None:
    """Leave sessions out, as if they had never taught. They stay in the log; this is not undone."""
    from listen.chairside.consents import Consents

    known = {session.id for session in _log(data).sessions()}
    for number in numbers:
        if number not in known:
            raise SessionError(
                f"there is no session {number}; `traycall session list` shows those there are."
            )
    learning = Consents(_folder(data)).leave_out(*numbers)
    say(f"Left out: {', '.join(map(str, learning.left_out))}.")


# --- a typed session ----------------------------------------------------------------------------


def _answer(chair_session: ChairSession, line: str, out: Console) -> None:
    from listen.chairside.events import EventKind
    from listen.chairside.timers import time_left
    from listen.chairside.tray_state import estimate_text
    from listen.chairside.view import with_place
    from listen.chairside.wording import what_happened

    word = line.lower().rstrip(".!")
    before, logged = chair_session.stage.number, len(chair_session.state.events)
    if word == "end":
        try:
            _end(chair_session)
        except SessionError as error:
            _line(out, str(error))
        return
    if word in ("?", "help"):
        tell(HELP)
    elif word == "out":
        say(estimate_text(chair_session.state, chair_session.chair.pack))
    elif word == "next":
        pack, tray = chair_session.chair.pack, chair_session.chair.tray
        say("next: " + ", ".join(with_place(pack.item(one.item), tray) for one in chair_session.following))
    else:
        chair_session.ask(line)
        if chair_session.stage.number != before:
            _show(chair_session, out)
            for event in chair_session.state.events[logged:]:
                if event.item is not None and event.kind is not EventKind.ASKED:
                    _line(out, f"Noted: {what_happened(event)}: {_name(chair_session, event.item)}.")
    for timer in chair_session.timers:
        if timer.is_over(chair_session.now_s):
            print(f"! {time_left(timer, chair_session.now_s, chair_session.chair.pack.language)}")


def _end(chair_session: ChairSession, override: Override | None = None) -> None:
    """End it; where something is open in the count, say what to do."""
    from listen.chairside.closing import NotCounted
    from listen.chairside.events import Source

    try:
        chair_session.close(Source.KEYBOARD, override)
    except NotCounted as error:
        number = chair_session.session.id
        raise SessionError(
            f"{error} `traycall session count {number}` counts; `traycall session end {number} --by NAME "
            "--reason TEXT` ends it anyway."
        ) from None


def _show(chair_session: ChairSession, out: Console) -> None:
    """What the chair screen would show large, and what to get ready."""
    from listen.chairside.view import NOT_HERE, choice_name, get_ready, question, session_view, wait_line

    view = session_view(chair_session)
    stage: dict[str, Any] = view["stage"]
    for text in stage["lines"]:
        _line(out, f"! {text}")
    for answer in stage["answers"]:
        what = ": ".join(part for part in (answer["action"], answer.get("name")) if part).upper()
        what = f"{answer['quantity']} x {what}" if answer["quantity"] else what
        extra = " - ".join(part for part in (answer["size"], answer["end"]) if part)
        place = answer.get("place") or answer.get("elsewhere") or ""
        _line(out, " - ".join(part for part in (f"> {what}", extra, place.upper()) if part))
        if answer.get("passing"):
            _line(out, f"  pass: {answer['passing']}")
        if answer["warning"]:
            _line(out, f"  ! {answer['warning']}")
    if stage["choices"]:
        _line(out, f"? {question(stage['choices'])}")
        for number, choice in enumerate(stage["choices"], 1):
            name = choice_name(choice["name"], choice["size"])
            chosen = " - chosen" if stage["chosen"] == number - 1 and len(stage["choices"]) > 1 else ""
            _line(out, f"  {number}  {name} - {(choice['place'] or NOT_HERE).upper()}{chosen}")
        _line(out, "  0  none of them")
        if stage["warning"]:
            _line(out, f"  ! {stage['warning']}")
        if stage["read_back"]:
            _line(out, f"  {stage['read_back']}")
    elif stage["kind"] == "wait":
        _line(out, f"- {wait_line(stage['wait'])}")
    elif stage["note"]:
        _line(out, stage["note"])
    ready = get_ready(
        [(x.item, x.p) for x in chair_session.following], chair_session.chair.pack, chair_session.chair.tray
    )
    if ready and stage["answers"]:
        _line(out, f"  {ready}")
    if view["faculty"]:
        _line(out, f"  Waiting for faculty: {view['faculty']}. Type “checked” once they have looked.")


# --- asking and printing ------------------------------------------------------------------------


def _yes_or_no(question: str) -> bool | None:
    while True:
        said = _typed(f"{question} [y/n] ").lower()
        if said in ("", "y", "yes", "n", "no"):
            return said.startswith("y") if said else None
        print("  Type y or n; Enter leaves it open.")


def _count_lines(chair_session: ChairSession, lines: Iterable[CountLine]) -> None:
    from listen.chairside.events import Source

    for line in lines:
        pieces = _pieces(line)
        if pieces is not None:
            chair_session.count(line.item, pieces, Source.KEYBOARD)


def _count_place(chair_session: ChairSession, place: CountPlace) -> None:
    """Ask whether all of it is here; what was typed to be missing is counted so, and the others as here."""
    from listen.chairside.events import CountedAs, Source
    from listen.chairside.spoken_count import count_said

    asked = "all here" if place.opened else "not opened"
    name = f"{place.name[:1].upper()}{place.name[1:]}"
    while said := _typed(f"  {name}, {_lines(len(place.open))}: {asked}? [y/n, or what is missing] ").lower():
        if said in ("n", "no"):
            return _count_lines(chair_session, place.open)
        if said in ("y", "yes"):
            together = CountedAs.ALL_HERE if place.opened else CountedAs.NOT_OPENED
            return chair_session.count_together(place.id, together, Source.KEYBOARD)
        whole = f"{place.name} {tables(chair_session.chair.pack.language).counts.whole[0]}"
        told = count_said(f"{whole} {said}", [place], chair_session.chair.lexicon)
        if told is not None and told.pieces:
            for line in place.open:
                chair_session.count(line.item, told.pieces[line.item], Source.KEYBOARD)
            return None
        print("  Type y, n, or what is missing, as “one mirror missing”; Enter leaves it uncounted.")
    return None


def _lines(number: int) -> str:
    return f"{number} line{'' if number == 1 else 's'}"


def _pieces(line: CountLine) -> int | None:
    from listen.chairside.events import MOST_PIECES

    hint = f" ({line.hint})" if line.hint else ""
    while True:
        said = _typed(f"  {line.name}: how many? {line.expected} by the estimate.{hint} ")
        if not said:
            return None
        pieces = whole_number(said)
        if pieces is not None and pieces <= MOST_PIECES:
            return pieces
        print(f"  Type a number from 0 to {MOST_PIECES}; Enter leaves it uncounted.")


def _typed(question: str) -> str:
    """One line; "" at the end of input."""
    print(question, end="", flush=True)
    line = sys.stdin.readline()
    if not sys.stdin.isatty():
        print(line.strip() if line else "")
    return line.strip()


def _typed_lines() -> Iterator[str]:
    return (line.strip() for line in sys.stdin if line.strip())


def _must_run(chair_session: ChairSession) -> None:
    if chair_session.closed:
        raise SessionError(
            f"session {chair_session.session.id} is closed and can no longer be changed; "
            "`traycall session report "
            f"{chair_session.session.id}` shows it."
        )


def _name(chair_session: ChairSession, item: str) -> str:
    return chair_session.chair.pack.called.get(item, item)


def _switch(on: bool, dentist: str | None, data: Path | None, pack: str, layers: Path | None) -> None:
    from listen.chairside.consents import Consents
    from listen.chairside.learning import dentist_meant, dentists_known

    consents = Consents(_folder(data))
    known = dentists_known(_listed(pack, layers), consents.learning(), _log(data).sessions())
    who = None if dentist is None else dentist_meant(dentist, known)
    _say_consent(consents.switch(on, time.time(), who), known)


def _listed(pack: str, layers: Path | None) -> dict[str, str]:
    """The dentists of the clinic: names by id."""
    from vocab.layers import open_vocabulary

    listed = open_vocabulary(pack, layers).composed().settings.dentists
    return {dentist.id: dentist.name for dentist in listed}


def _say_consent(learning: Learning, known: Mapping[str, str]) -> None:
    from listen.chairside.learning import CONSENT

    nobody = "sessions without a chosen dentist"
    whom = ", ".join(known.get(dentist, dentist) or nobody for dentist in learning.on_for)
    say(f"Learning is {f'on for {whom}' if whom else 'off'}. {CONSENT}")


def _folder(data: Path | None) -> Path:
    return data or data_folder()


def _log(data: Path | None) -> SessionLog:
    from listen.chairside.log import SessionLog
    from listen.live.settings import ServerSettings

    return SessionLog(ServerSettings(_folder(data)).where_log)


def running(data: Path | None, pack: str, layers: Path | None, dentist: str | None = None) -> Sessions:
    """The room of a terminal: the log of a data folder, and one vocabulary."""
    from listen.chair import ChairOptions, open_chair
    from listen.live.sessions import Sessions
    from listen.live.settings import ServerSettings

    options = ChairOptions(pack, layers=layers, dentist=dentist)
    return Sessions(lambda: open_chair(options), ServerSettings(_folder(data)))


def _console() -> Console:
    from listen.commands.layout import console

    return console(sys.stdout)


def _line(out: Console, text: str) -> None:
    """A line whose own lines, where it is too long, keep its indentation."""
    from rich.text import Text

    out.print(Text(wrapped(text, out.width)))


def _ending(session: LoggedSession) -> str:
    """ "12 min", with what was open in the count and who ended it all the same."""
    from listen.chairside.closing import ending_text

    if session.closed_s is None:
        return "running"
    lasted = f"{max(0.0, session.closed_s - session.opened_s) / 60:.0f} min"
    stood = ending_text(session.short, session.uncounted, session.beyond)
    by = f"ended by {session.ended_by}: {session.reason}" if session.ended_by else ""
    return "; ".join(part for part in (lasted, stood, by) if part)


def _day(at_s: float) -> str:
    return datetime.fromtimestamp(at_s).strftime("%Y-%m-%d %H:%M")
