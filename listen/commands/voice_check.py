"""`traycall voice-check`: does traycall hear the people of this clinic, in its rooms, with its microphones?

Options in, calls to `listen.live.voice_checks`, text out. The vocabularies and the path from sound to answer
are those of `traycall screen`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from listen.commands.options import ChangesOption, VocabulariesOption
from listen.commands.say import counted, say, tell
from vocab.errors import Declined

if TYPE_CHECKING:
    from listen.audio import Microphone
    from listen.engine import Samples
    from listen.live.voice_checks import VoiceChecks
    from listen.voicecheck.lines import Line
    from listen.voicecheck.outcome import Result
    from listen.voicecheck.room import RoomSound, Running
    from listen.voicecheck.round import Round

GO_ON_S, LONGEST_S = 1.6, 25.0
"""Silence after which a line is over, and the longest that is waited for one."""
BAR = 30

app = typer.Typer(no_args_is_help=True, help="Read 25 lines, and see what is understood.")

DataOption = Annotated[
    Path | None,
    typer.Option("--data", metavar="FOLDER", help="Where recordings are kept. [default: your data folder]"),
]
ProceduresOption = Annotated[
    list[str] | None,
    typer.Option(
        "--procedure",
        metavar="ID",
        help="A procedure whose tray you use; may be given several times. [default: the first there is]",
    ),
]
SeedOption = Annotated[
    int, typer.Option(metavar="N", help="Which lines are drawn: the same number, the same lines.")
]
RunningOption = Annotated[
    str, typer.Option("--running", metavar="quiet|suction|handpiece", help="What runs while you read.")
]


@app.command()
def lines(
    procedure: ProceduresOption = None,
    seed: SeedOption = 1,
    packs: VocabulariesOption = None,
    layers: ChangesOption = None,
    data: DataOption = None,
) -> None:
    """Print the lines to read, one after the other."""
    checks = _checks(data, packs, layers, procedure)
    for number, line in enumerate(_round(checks, procedure, seed).lines, 1):
        say(f"{number:2}  {_put(line, _called(checks))}")


@app.command()
def read(
    files: Annotated[
        list[Path] | None,
        typer.Argument(metavar="FILE", help="Sound files, one for each line; leave out for the microphone."),
    ] = None,
    procedure: ProceduresOption = None,
    seed: SeedOption = 1,
    running: RunningOption = "quiet",
    room: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The room's own sound, with FILEs.")
    ] = None,
    microphone: Annotated[
        str | None, typer.Option(metavar="NAME|NUMBER", help="Which microphone. [default: the system's]")
    ] = None,
    keep: Annotated[
        str | None, typer.Option(metavar="NAME", help="Keep the recordings under this name.")
    ] = None,
    agreed: Annotated[
        bool, typer.Option("--agreed", help="The person who spoke agrees to that; asked if left out.")
    ] = False,
    packs: VocabulariesOption = None,
    layers: ChangesOption = None,
    data: DataOption = None,
) -> None:
    """Read 20 requests and 5 other sentences, and see what is understood.

    Nothing is stored unless the person who spoke agrees.
    """
    from listen.audio import AudioError, file_blocks, microphone_called, microphone_problem

    now_running = _running(running)
    for file in (*(files or ()), *([room] if room else ())):
        file_blocks(file)
    device = microphone_called(microphone)
    if not files and (problem := microphone_problem(device)):
        raise AudioError(problem)
    checks = _checks(data, packs, layers, procedure)
    now = _round(checks, procedure, seed)
    if len(files or ()) > len(now.lines):
        raise Declined(f"there are {len(now.lines)} lines; give one file for each, in their order.")
    if files:
        _from_files(checks, now, files, room, now_running)
    else:
        _from_microphone(checks, now, device, now_running)
    _say_result(checks, now)
    _keep(checks, now, keep, agreed)


@app.command("list")
def list_(data: DataOption = None, packs: VocabulariesOption = None, layers: ChangesOption = None) -> None:
    """List who agreed, what is kept, and what was measured."""
    from listen.voicecheck.room import RUNNING_NAMES
    from listen.voicecheck.store import VoiceStore

    store = VoiceStore(_folder(data))
    recordings = {one.id: one for one in store.recordings()}
    if not recordings:
        say("No recordings are kept.")
        return
    for person in store.people():
        say(f"{person.who}, agreed {_day(person.agreed_s)}: {counted(person.recordings, 'recording')}")
        for one in recordings.values():
            if one.person == person.id:
                text = _put(one.line, str)
                say(f"  {one.id}  {_day(one.at_s)}  {RUNNING_NAMES[one.running]}: {text}")
    for measured in store.measurements():
        made_with = measured.conditions
        say(
            f"{_day(measured.at_s)}: {measured.tally(recordings).in_words}  (traycall {made_with.version}, "
            f"{made_with.engine}, vocabulary {made_with.vocabulary})"
        )
    adopted = store.adopted()
    if adopted is not None:
        say(f"Fitted to your voices, {'in use' if adopted.on else 'switched off'}: {adopted.told}")


@app.command()
def measure(data: DataOption = None, packs: VocabulariesOption = None, layers: ChangesOption = None) -> None:
    """Measure the recordings that are kept, with this version and vocabulary."""
    checks = _kept(data, packs, layers)
    before = checks.store.measurements()[-1:]
    with _progress("measuring") as step:
        checks.measure(step)
    recordings = {one.id: one for one in checks.store.recordings()}
    new = checks.store.measurements()[-1]
    tally = new.tally(recordings)
    say(f"{tally.in_words}. {tally.parts_in_words}")
    for old in before:
        both = {key: recordings[key] for key in old.outcomes.keys() & new.outcomes.keys()}
        if both:
            now = new.tally(both)
            say(
                f"On the same recordings: {old.tally(both).in_words} on {_day(old.at_s)}, now "
                f"{now.understood} of {now.requests}."
            )


@app.command()
def delete(
    recordings: Annotated[
        list[int] | None, typer.Argument(metavar="NUMBER", help="Recordings, as `list` numbers them.")
    ] = None,
    who: Annotated[
        str | None, typer.Option(metavar="NAME", help="All of a person, who then no longer agrees.")
    ] = None,
    everything: Annotated[bool, typer.Option("--everything", help="All of everybody.")] = False,
    data: DataOption = None,
) -> None:
    """Delete recordings for good."""
    from listen.voicecheck.store import VoiceStore, VoiceStoreError

    if bool(recordings) + (who is not None) + everything != 1:
        raise Declined("name recordings by their numbers, or give --who or --everything.")
    store = VoiceStore(_folder(data))
    before = len(store.recordings())
    if everything:
        store.delete_everything()
    elif who is not None:
        found = next((person.id for person in store.people() if person.who == who), None)
        if found is None:
            raise VoiceStoreError(f"nobody called {who!r} has recordings here; `list` shows who has.")
        store.withdraw(found)
    else:
        known = {one.id for one in store.recordings()}
        unknown = [str(one) for one in recordings or () if one not in known]
        if unknown:
            raise VoiceStoreError(f"there is no recording {', '.join(unknown)}; `list` numbers them.")
        store.delete(*(recordings or ()))
    say(f"Deleted {counted(before - len(store.recordings()), 'recording')}.")


@app.command()
def fit(
    off: Annotated[bool, typer.Option("--off", help="Hear as shipped again; nothing is fitted.")] = False,
    on: Annotated[bool, typer.Option("--on", help="Use again what was switched off.")] = False,
    data: DataOption = None,
    packs: VocabulariesOption = None,
    layers: ChangesOption = None,
) -> None:
    """Fit two numbers to the recordings; `traycall screen` uses them if they help on those held back."""
    from listen.voicecheck.fit import too_few
    from listen.voicecheck.store import VoiceStore, VoiceStoreError

    store = VoiceStore(_folder(data))
    if on and off:
        raise Declined("give --on or --off, not both.")
    if on or off:
        if store.adopted() is None:
            raise VoiceStoreError("nothing was fitted to your voices, so there is nothing to switch.")
        store.switch(on)
        say("Fitted to your voices: in use." if on else "Hears as shipped.")
        return
    if few := too_few(len(store.recordings())):
        raise VoiceStoreError(few)
    checks = _kept(data, packs, layers)
    with _progress("hearing") as step:
        found = checks.fit(step)
    say(found.in_words)


# --- a round ----------------------------------------------------------------------------------------


def _from_files(
    checks: VoiceChecks, now: Round, files: list[Path], room: Path | None, running: Running
) -> None:
    import numpy as np

    from listen.audio import file_blocks
    from listen.voicecheck.room import measured

    if room is not None:
        now.rooms[running] = measured(np.concatenate(list(file_blocks(room, warn=tell))))
        _say_room(now.rooms[running], running)
    for number, file in enumerate(files):
        sound = np.concatenate(list(file_blocks(file, warn=tell)))
        _say_line(checks, now, number, checks.read(now, number, running, sound))


def _from_microphone(checks: VoiceChecks, now: Round, device: int | str | None, running: Running) -> None:
    from listen.audio import microphone_blocks
    from listen.voicecheck.room import measured
    from listen.voicecheck.wording import HOW

    checks.warm({line.field for line in now.lines})
    with microphone_blocks(device) as blocks:
        tell(f"● MICROPHONE OPEN ({blocks.name}) - Ctrl-C closes it")
        try:
            tell("Say nothing for three seconds.")
            now.rooms[running] = measured(_room(blocks))
            _say_room(now.rooms[running], running)
            if now.rooms[running].is_dead:
                return
            for number, line in enumerate(now.lines):
                say(f"\n{number + 1} of {len(now.lines)}. {HOW[line.kind]}")
                say(f"    {_put(line, _called(checks))}")
                _say_line(checks, now, number, checks.read(now, number, running, _said(checks, blocks)))
        except KeyboardInterrupt:
            tell("")
    tell("○ microphone closed")


def _room(blocks: Microphone) -> Samples:
    import numpy as np

    from listen.audio import level
    from listen.engine import SAMPLE_RATE_HZ
    from listen.voicecheck.room import QUIET_S

    taken: list[Samples] = []
    for block in blocks:
        taken.append(block)
        if sys.stderr.isatty():
            share = min(1.0, max(0.0, 1 + level(block).peak_db / 60))
            print(f"\r  {'■' * round(BAR * share):{BAR}}", end="", file=sys.stderr, flush=True)
        if sum(map(len, taken)) >= QUIET_S * SAMPLE_RATE_HZ:
            break
    if sys.stderr.isatty():
        print(file=sys.stderr)
    return np.concatenate(taken)


def _said(checks: VoiceChecks, blocks: Microphone) -> Samples:
    """The sound from here to a silence after something was said."""
    import numpy as np

    from listen.engine import SAMPLE_RATE_HZ

    segmenter, taken, heard_at = checks.segmenter(), list[np.ndarray](), 0.0
    length_s = 0.0
    for block in blocks:
        taken.append(block)
        length_s += len(block) / SAMPLE_RATE_HZ
        if segmenter.push(block):
            heard_at = length_s
        if heard_at and not segmenter.speaking and length_s - heard_at >= GO_ON_S:
            break
        if length_s >= LONGEST_S:
            break
    return np.concatenate(taken)


def _say_room(room: RoomSound, running: Running) -> None:
    from listen.voicecheck.room import room_advice, room_told

    say(room_told(room))
    for advice in room_advice(room, running):
        say(advice)


def _say_line(checks: VoiceChecks, now: Round, number: int, result: Result) -> None:
    from listen.voicecheck.wording import told

    say(f"{number + 1:2}  {told(now.lines[number], result, _called(checks))}")


def _say_result(checks: VoiceChecks, now: Round) -> None:
    from listen.voicecheck.room import RUNNING_NAMES
    from listen.voicecheck.wording import OUTCOME_NAMES

    tally = now.tally()
    if not tally.requests:
        say("Nothing was read.")
        return
    say(f"\n{tally.in_words}. {tally.again_in_words}")
    say(tally.parts_in_words)
    for running, one in now.by_running:
        say(f"{RUNNING_NAMES[running]}: {one.in_words}.")
    for advice in now.advice:
        say(advice)
    called = _called(checks)
    for hard in now.hard:
        assert hard.line.item is not None
        say(f"{called(hard.line.item)}: {OUTCOME_NAMES[hard.outcome]}. A second name may be heard better:")
        say(f'  traycall edit add-name {hard.line.item} "NAME"')
        if hard.other is not None:
            say(f"  or, to always be asked: traycall edit ask-back {hard.line.item} {hard.other}")


def _put(line: Line, called: Callable[[str], str]) -> str:
    """What is to be read; of a picture what it would show."""
    return line.text or f"(picture) {called(line.item or '')}"


def _keep(checks: VoiceChecks, now: Round, who: str | None, agreed: bool) -> None:
    """Keep the recordings if the person agrees; nothing else is asked where input is no terminal."""
    from listen.voicecheck.store import PURPOSE

    if not now.read:
        return
    if not agreed and sys.stdin.isatty():
        say(f"\nKeep the recordings? {PURPOSE}")
        print("Does the person who spoke agree? [y/N] ", end="", flush=True)
        agreed = sys.stdin.readline().strip().lower() in ("y", "yes")
        if agreed and who is None:
            print("A name or initials of their choice: ", end="", flush=True)
            who = sys.stdin.readline().strip()
    if agreed and who is not None:
        kept = checks.keep(who, agreed, now.read)
        say(f"Kept: {counted(len(kept), 'recording')} of {who}. `traycall voice-check delete` deletes them.")
    elif agreed or who is not None:
        raise Declined("nothing was kept: that takes both --keep NAME and --agreed.")
    else:
        say("Nothing was kept.")


# --- setting up -------------------------------------------------------------------------------------


def _checks(
    data: Path | None, packs: list[str] | None, layers: Path | None, procedures: list[str] | None = None
) -> VoiceChecks:
    """Voice checks with the vocabularies of a screen."""
    from listen.chair import ChairOptions, EngineName, open_chairs, vocabularies
    from listen.live.sessions import Sessions
    from listen.live.settings import ServerSettings
    from listen.live.voice_checks import OwnEars, VoiceChecks

    first = procedures[0] if procedures else None
    options = ChairOptions("", procedure=first, layers=layers)
    own, *further = open_chairs(options, vocabularies(packs or (), EngineName.NEURAL))
    running = Sessions(lambda: own, ServerSettings(_folder(data)), further=further)
    return VoiceChecks(running, OwnEars(running))


def _kept(data: Path | None, packs: list[str] | None, layers: Path | None) -> VoiceChecks:
    """The same where something is kept; otherwise an error, before anything is loaded."""
    from listen.voicecheck.store import VoiceStore, VoiceStoreError

    if not VoiceStore(_folder(data)).recordings():
        raise VoiceStoreError("no recordings are kept; do a voice check and agree to keep it.")
    return _checks(data, packs, layers)


def _round(checks: VoiceChecks, procedures: list[str] | None, seed: int) -> Round:
    import numpy as np

    from listen.chair import UnknownName

    packs = checks.running.packs
    where = {procedure.id: pack.id for pack in reversed(packs) for procedure in pack.procedures}
    wanted = procedures or [packs[0].procedures[0].id]
    for one in wanted:
        if one not in where:
            raise UnknownName(f"no procedure is called {one!r}; there are: {', '.join(sorted(where))}.")
    return checks.begin([(where[one], one) for one in wanted], np.random.default_rng(seed))


def _called(checks: VoiceChecks) -> Callable[[str], str]:
    names = {item: name for pack in checks.running.packs for item, name in pack.called.items()}
    return lambda item: names.get(item, item)


def _running(text: str) -> Running:
    from listen.voicecheck.room import Running

    try:
        return Running(text)
    except ValueError:
        raise Declined(f"--running is one of: {', '.join(Running)}.") from None


@contextmanager
def _progress(doing: str) -> Iterator[Callable[[int, int], None]]:
    """Says on a terminal how many of how many are done."""

    def step(done: int, of: int) -> None:
        if sys.stderr.isatty():
            print(f"\r{doing}: {done + 1} of {of}", end="", file=sys.stderr, flush=True)

    yield step
    if sys.stderr.isatty():
        print(file=sys.stderr)


def _folder(data: Path | None) -> Path:
    from vocab.files import data_folder

    return data or data_folder()


def _day(at_s: float) -> str:
    return datetime.fromtimestamp(at_s).strftime("%Y-%m-%d %H:%M")
