"""The command line: options in, calls to the library, text or JSON lines out.

Answers go to standard output, one JSON object a line with --json; hints, warnings and errors go to
standard error. Whatever takes long to import is imported by the command that needs it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from listen.commands.options import ChangesOption, DentistOption, VocabularyOption
from listen.commands.say import counted, say, tell
from vocab.errors import TraycallError

if TYPE_CHECKING:
    from listen.answer import Answer
    from listen.assistant import Assistant
    from listen.audio import Level
    from listen.chair import Chair
    from listen.engine import Samples
    from vocab.pack.schema import Pack

EXIT_CODES = (
    "Exit codes: 0 fine; 1 it ran, but nothing was asked for (hear, ask), the vocabulary has mistakes or "
    "our changes conflict (check) or the default engine cannot run (machine); 2 bad input or something "
    "missing: the message says what to do."
)
NOTHING, BAD_INPUT, STOPPED = 1, 2, 130


class _Commands(TyperGroup):
    """Turns what a person can put right into one message and exit code 2."""

    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except TraycallError as error:
            tell(f"traycall: {error}")
            raise typer.Exit(BAD_INPUT) from None
        except BrokenPipeError:
            raise  # whoever read the output has left; typer ends quietly
        except OSError as error:
            tell(f"traycall: {error.filename or 'the system'}: {error.strerror or error}")
            raise typer.Exit(BAD_INPUT) from None
        except KeyboardInterrupt:
            raise typer.Exit(STOPPED) from None


app = typer.Typer(
    cls=_Commands,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Hears a dentist ask, and names the instrument, its slot and what comes next.",
    epilog=EXIT_CODES,
)

TrayOption = Annotated[
    str | None, typer.Option("--tray", metavar="ID", help="The tray in use. [default: the procedure's]")
]
ProcedureOption = Annotated[
    str | None, typer.Option("--procedure", metavar="ID", help="The procedure. [default: unknown]")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object a line.")]


@app.command(epilog=EXIT_CODES, short_help="Hear requests in sound files or from the microphone.")
def hear(
    files: Annotated[
        list[Path] | None, typer.Argument(metavar="FILE", help="Sound files; leave out for the microphone.")
    ] = None,
    tray: TrayOption = None,
    procedure: ProcedureOption = None,
    engine: Annotated[str, typer.Option(metavar="neural|vosk", help="The engine to use.")] = "neural",
    model: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="The Vosk model, for --engine vosk.")
    ] = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
    endpoint: Annotated[
        float, typer.Option(metavar="SECONDS", help="Silence that ends an utterance (0.1 to 5).")
    ] = 0.5,
    microphone: Annotated[
        str | None, typer.Option(metavar="NAME|NUMBER", help="Which microphone. [default: the system's]")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Hear requests in sound files or from the microphone; several files are one session."""
    from listen.audio import file_blocks, microphone_called
    from listen.chair import ChairOptions, open_chair
    from listen.segments import Segmenter

    Segmenter(endpoint_s=endpoint)  # a bad setting or file is told before the engine is loaded
    for file in files or ():
        file_blocks(file)
    chair = open_chair(ChairOptions(pack, tray, procedure, _engine_name(engine), model, layers, dentist))
    session = _Printer(chair, as_json)
    if not files:
        _hear_microphone(session, microphone_called(microphone), endpoint)
        return
    assistant = chair.assistant(chair.engine())
    for file in files:
        session.hear(file_blocks(file, warn=tell), str(file), assistant, Segmenter(endpoint_s=endpoint))
    session.end()


@app.command(epilog=EXIT_CODES, short_help="Answer a typed request.")
def ask(
    text: Annotated[list[str], typer.Argument(metavar="TEXT", help='The request; "-" reads lines.')],
    tray: TrayOption = None,
    procedure: ProcedureOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
    as_json: JsonOption = False,
) -> None:
    """Answer a typed request; with "-" every line of standard input is one, in one session."""
    from listen.chair import ChairOptions, open_chair

    chair = open_chair(ChairOptions(pack, tray, procedure, layers=layers, dentist=dentist))
    session = _Printer(chair, as_json)
    assistant = chair.assistant()
    lines = _typed_lines() if text == ["-"] else (" ".join(text),)
    for line in lines:
        session.show(assistant.ask(line))
    session.end()


@app.command(epilog=EXIT_CODES, short_help="List the trays, or show one.")
def tray(
    tray_id: Annotated[str | None, typer.Argument(metavar="ID", help="Which tray; none lists all.")] = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
) -> None:
    """List the trays, or show one, slot by slot."""
    from listen.chair import find_tray
    from listen.commands import show
    from vocab.layers import open_vocabulary

    loaded = open_vocabulary(pack, layers, dentist).composed().pack
    show.out(
        show.tray_list(loaded) if tray_id is None else show.tray_layout(loaded, find_tray(loaded, tray_id))
    )


@app.command(epilog=EXIT_CODES, short_help="List the items, or explain one.")
def item(
    name: Annotated[
        list[str] | None, typer.Argument(metavar="NAME", help="Any name of it; none lists all.")
    ] = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
) -> None:
    """List the items, or explain one: names, use, look, handing, look-alikes, cautions, slots."""
    from listen.chair import find_items
    from listen.commands import show
    from vocab.layers import open_vocabulary
    from vocab.requests.lexicon import Lexicon

    loaded = open_vocabulary(pack, layers, dentist).composed().pack
    if not name:
        show.out(show.item_list(loaded))
        return
    found = find_items(loaded, Lexicon(loaded), " ".join(name))
    show.out(show.item_page(loaded, found[0]) if len(found) == 1 else show.item_choices(found))


@app.command(epilog=EXIT_CODES, short_help="Check a vocabulary and our changes to it.")
def check(
    pack: Annotated[
        str, typer.Argument(metavar="NAME|FOLDER", help="The vocabulary to check.")
    ] = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
) -> None:
    """Check a vocabulary: its counts, or every mistake with file, line and field; then our changes."""
    from listen.commands import show
    from listen.practice.facts import facts_beside
    from vocab.drawings.items import drawing_of
    from vocab.errors import PackError
    from vocab.layers import open_vocabulary
    from vocab.layers.changes import in_effect

    try:
        vocabulary = open_vocabulary(pack, layers, dentist)
        facts_beside(pack, vocabulary.pack)
        for item in vocabulary.pack.items:
            drawing_of(item.id, item.item_class, item.drawing)
    except PackError as error:
        for problem in error.problems:
            say(str(problem))
        tell(f"traycall: {counted(len(error.problems), 'mistake')} in {pack}")
        raise typer.Exit(NOTHING) from None
    own = vocabulary.pack
    say(f"{own.name} (version {own.version}): {_counts(own)}; no mistakes found")
    torn = vocabulary.recovered()
    for said in torn:
        say(said)
    changes = sum(len(in_effect(layer)) for layer in vocabulary.layers())
    if not changes:
        raise typer.Exit(NOTHING if torn else 0)
    composed = vocabulary.composed()
    if composed.conflicts:
        show.out(show.conflict_list(composed.conflicts))
    disagree = counted(len(composed.conflicts), "conflict") if composed.conflicts else "no conflicts"
    theirs = "" if dentist is None else f", {dentist}'s own among them"
    say(f"with {counted(changes, 'change')} of ours{theirs}: {_counts(composed.pack)}; {disagree}")
    raise typer.Exit(NOTHING if composed.conflicts or torn else 0)


@app.command(epilog=EXIT_CODES, short_help="Say what is installed and what is missing.")
def machine(
    model: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Also look at this Vosk model folder.")
    ] = None,
    at_login: Annotated[
        bool,
        typer.Option("--at-login", help="Only print the systemd unit that starts the screen at log-in."),
    ] = False,
) -> None:
    """Say what is installed and kept where, which engine would run, and what is missing and how to get it."""
    if at_login:
        from listen.commands.at_login import program, unit

        print(unit(program()), end="")
        return
    from listen.commands import show
    from listen.commands.machine import findings

    runs = True
    for finding in findings(model):
        show.out(show.finding(finding))
        runs = runs and not (finding.needed and finding.state == "missing")
    say("\nThe demo and `traycall hear FILE` can run." if runs else "\nThe default engine CANNOT run.")
    raise typer.Exit(0 if runs else NOTHING)


@app.command(epilog=EXIT_CODES, short_help="Run the demo recordings and count what came of them.")
def demo(
    folder: Annotated[
        Path | None, typer.Argument(metavar="FOLDER", help="The recordings. [default: recordings_demo]")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Run the recordings of a class II composite through the engine and count what came of them."""
    from listen.chair import ChairOptions, open_chair
    from listen.commands import demo as recordings
    from listen.commands import layout, show

    manifest = recordings.read_manifest(recordings.find_folder(folder))
    chair = open_chair(ChairOptions(procedure=recordings.PROCEDURE))
    outcomes = []
    with layout.progress("starting the engine", len(manifest)) as advance:
        engine = chair.engine()
        for outcome in recordings.play(manifest, chair.assistant(engine)):
            advance(outcome.recording.text)
            outcomes.append(outcome)
    if as_json:
        print(recordings.summary_json(outcomes, engine.name))
    else:
        show.out(show.demo_report(outcomes, engine.name))


class _Printer:
    """Prints the answers of one session and remembers whether anything was asked for."""

    def __init__(self, chair: Chair, as_json: bool) -> None:
        from listen.commands import show
        from listen.commands.layout import console

        self._as_json = as_json
        self._screen = show.ChairScreen(chair.pack, chair.tray)
        self._out = console(sys.stdout)
        self._asked = False
        self._hint = chair.tray is None
        self.chair = chair

    def show(self, answers: Sequence[Answer]) -> None:
        """Print the answers to one utterance at once."""
        self._asked = self._asked or any(answer.kind != "nothing" for answer in answers)
        if self._as_json:
            for answer in answers:
                print(answer.to_json(), flush=True)
        elif (block := self._screen.answers(answers)) is not None:
            if self._hint:
                self._hint = False
                tell("No tray chosen, so no slots: `traycall tray` lists them, --tray ID takes one.")
            self._out.print(block)

    def hear(self, blocks: Iterable[Samples], source: str, assistant: Assistant, segmenter: Any) -> None:
        """Answer every utterance of a stream and warn, once for each reason, of poor sound."""
        from listen.audio import level
        from listen.segments import utterances

        warned: set[str] = set()
        loudest: Level | None = None

        def listened() -> Iterator[Samples]:
            nonlocal loudest
            for block in blocks:
                now = level(block)
                loudest = now if loudest is None or now.peak_db > loudest.peak_db else loudest
                yield block

        heard = 0
        for utterance in utterances(listened(), segmenter):
            heard += 1
            warning = level(utterance.samples).warning
            if warning and (reason := warning.split("(")[0]) not in warned:
                warned.add(reason)
                tell(f"{source} at {utterance.start_s:.1f} s is {warning}")
            self.show(assistant.hear(utterance, source))
        if not heard:
            why = loudest.warning if loudest else None
            tell(f"{source} is {why}" if why else f"{source} contains no speech")

    def end(self) -> None:
        """Close a session that has an end; exit code 1 where nothing was asked for."""
        if not self._asked:
            tell("Nothing was asked for.")
            raise typer.Exit(NOTHING)


def _hear_microphone(session: _Printer, device: int | str | None, endpoint_s: float) -> None:
    from listen.audio import AudioError, microphone_blocks, microphone_problem
    from listen.segments import Segmenter

    problem = microphone_problem(device)
    if problem:
        raise AudioError(problem)
    assistant = session.chair.assistant(session.chair.engine())
    with microphone_blocks(device) as blocks:
        tell(f"● MICROPHONE OPEN ({blocks.name}) - Ctrl-C closes it")
        with suppress(KeyboardInterrupt):
            session.hear(blocks, "microphone", assistant, Segmenter(endpoint_s=endpoint_s))
    tell("○ microphone closed")
    if blocks.dropped:
        tell(f"sound was lost {counted(blocks.dropped, 'time')}: this machine is too busy to keep up")


def _engine_name(text: str) -> Any:
    from listen.chair import EngineName

    if text not in tuple(EngineName):
        raise TraycallError(f"no engine is called {text!r}; there are: {', '.join(EngineName)}.")
    return EngineName(text)


def _typed_lines() -> Iterator[str]:
    return (line.strip() for line in sys.stdin if line.strip())


def _mount(group: typer.Typer) -> None:
    """Commands that are written beside what they command."""
    import listen.commands.edit
    import listen.commands.practise
    import listen.commands.session
    import listen.commands.voice_check
    from listen.commands.rehearse import rehearse
    from listen.commands.screen import serve
    from listen.commands.try_name import try_name
    from listen.commands.turnover import pick, restock, turn_over

    group.add_typer(
        listen.commands.session.app, name="session", help="Hold sessions by typing; set-up, count, report."
    )
    listen.commands.practise.app.command("rehearse", short_help="Hear a procedure, and pass in time.")(
        rehearse
    )
    group.add_typer(
        listen.commands.practise.app, name="practise", help="Drill, rehearse, see progress, sign off."
    )
    listen.commands.edit.app.command("try-name", short_help="Say a name, and hear what it is taken for.")(
        try_name
    )
    group.add_typer(
        listen.commands.edit.app, name="edit", help="Change the clinic's vocabulary, and undo it."
    )
    group.add_typer(
        listen.commands.voice_check.app, name="voice-check", help="Read 25 lines, and see what is understood."
    )
    for name, command, told in (
        ("pick", pick, "List what to take before a patient."),
        ("turn-over", turn_over, "List what goes where after a patient."),
        ("restock", restock, "List what to fill up again after a session or a day."),
    ):
        group.command(name, epilog=EXIT_CODES, short_help=told)(command)
    group.command("screen", epilog=EXIT_CODES, short_help="Serve the chair screen and desk pages.")(serve)


def _counts(pack: Pack) -> str:
    names = sum(len(entry.names) for entry in pack.items)
    return (
        f"{counted(len(pack.items), 'item')}, {counted(names, 'name')}, {counted(len(pack.trays), 'tray')}, "
        f"{counted(len(pack.procedures), 'procedure')}"
    )


def main() -> None:
    """The command `traycall`."""
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        reconfigure: Callable[..., None] | None = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
    app()


_mount(app)
