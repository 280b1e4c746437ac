"""Commands that time: the lit slot, pages, a school at once, hours of listening, big vocabularies."""

from __future__ import annotations

import json
from collections.abc import Sequence
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from listen.bench import clips as clips_of
from listen.bench import hearings, systems
from listen.bench.clips import Clip, ClipPlan
from listen.bench.commands.common import (
    ChatterOption,
    EndpointOption,
    FolderOption,
    KeepOption,
    LevelsOption,
    RequestsOption,
    SideOption,
    VocabularyOption,
    app,
    keep_counts,
    levels_db,
    spoken_folder,
)
from vocab.errors import TraycallError
from vocab.pack.load import open_pack

TURNS = 5
"""In which two things are compared, so that both meet the same moments of the machine."""


@app.command()
def shift(
    hours: Annotated[float, typer.Option(min=1, help="Whole hours of simulated listening.")] = 24,
    requests: RequestsOption = 200,
    chatter: ChatterOption = 200,
    endpoint_s: EndpointOption = 0.35,
    side: SideOption = "test",
    pack: VocabularyOption = "operative",
    folder: FolderOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="For shift.jsonl, an hour a line.")] = Path(
        "bench_shift"
    ),
) -> None:
    """Listen for hours, sped up: time from the last word to the verdict, processor and memory by the hour."""
    from listen.bench import long_shift as long
    from listen.speech import noise

    keep = spoken_folder(folder)
    loaded = open_pack(pack)
    spoken = clips_of.clips(loaded, ClipPlan(side, requests, chatter, (None,)))
    hearings.prepare([partial(clips_of.speech, clip, keep) for clip in spoken], 2)
    lines = [
        long.ShiftLine(clips_of.without_silence(clips_of.speech(clip, keep)), clip.item) for clip in spoken
    ]
    system = systems.find(["neural"], None)[0]
    engine, judge = systems.load(system.engine, loaded, None), systems.SystemJudge(loaded)
    out.mkdir(parents=True, exist_ok=True)
    done: list[long.Hour] = []
    with hearings.progress() as bar, (out / "shift.jsonl").open("w", encoding="utf-8") as file:
        task = bar.add_task("listen", total=int(hours) * sum(long.STRETCHES_S.values()))
        for at in range(int(hours)):
            done.append(
                long.hour(
                    lines,
                    lambda: long.SimulatedChair(engine, judge, system, endpoint_s),
                    noise.generator_for("shift", at),
                    advance=lambda seconds: bar.advance(task, seconds),
                )
            )
            file.write(json.dumps({"hour": at + 1, **done[-1].facts}) + "\n")
            file.flush()
    print(long.table(done))


@app.command()
def size(
    names: Annotated[
        str, typer.Option(metavar="LIST", help="Numbers of names, with commas between.")
    ] = "250,900,5000",
    requests: RequestsOption = 40,
    pack: VocabularyOption = "operative",
    folder: FolderOption = None,
) -> None:
    """Time loading, search tree, look-up and hearing with small and big vocabularies."""
    import tempfile

    from listen.bench import vocabulary_size as sizes

    try:
        wanted = [int(part) for part in names.split(",")]
    except ValueError:
        raise TraycallError(f"--names {names!r}: write whole numbers with commas, as 250,5000") from None
    keep = spoken_folder(folder)
    loaded = open_pack(pack)
    todo = clips_of.clips(loaded, ClipPlan("tune", requests, 0, (None,)))
    hearings.prepare([partial(clips_of.speech, clip, keep) for clip in todo], 2)
    sounds = [clips_of.sound(clip, keep) for clip in todo]
    rows = []
    for count in wanted:
        with tempfile.TemporaryDirectory() as empty:
            rows.append(sizes.measured(loaded, count, Path(empty), sounds))
    print(sizes.table(rows))


@app.command()
def screen(
    context: typer.Context,
    side: SideOption = "test",
    levels: LevelsOption = "quiet",
    requests: RequestsOption = 200,
    chatter: ChatterOption = 0,
    pack: VocabularyOption = "operative",
    tray: Annotated[
        str | None, typer.Option(metavar="ID", help="What lies at the chair. [default: the fullest tray]")
    ] = None,
    screens: Annotated[int, typer.Option(min=1, help="Chairs that are spoken to at the same time.")] = 1,
    folder: FolderOption = None,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="For screen.jsonl, a clip a line.")] = Path(
        "bench_screen"
    ),
) -> None:
    """Serve the chair screen, speak to it in real time, and time from the last word to the lit slot.

    About five seconds a clip. Nothing else should run meanwhile: the load is printed beside the figures.
    """
    import tempfile
    from concurrent.futures import ThreadPoolExecutor

    from listen.bench import screen_latency as lit

    keep = spoken_folder(folder)
    loaded = open_pack(pack)
    todo = clips_of.clips(loaded, ClipPlan(side, requests, chatter, levels_db(levels)))
    hearings.prepare([partial(clips_of.speech, clip, keep) for clip in todo], 2)
    tray = tray or max(loaded.trays, key=lambda known: len(known.slots)).id
    before, found = lit.load(), list[lit.Moments]()
    with (
        tempfile.TemporaryDirectory() as data,
        lit.served(["--vocabulary", pack], Path(data)) as address,
        hearings.progress() as bar,
        ThreadPoolExecutor(screens) as chairs,
    ):
        task = bar.add_task("speak to the screen", total=len(todo))

        def speak(some: Sequence[Clip]) -> None:
            for moments in lit.measured(address, tray, some, keep):
                found.append(moments)
                bar.advance(task)

        list(chairs.map(speak, [todo[first::screens] for first in range(screens)]))
    lit.write(found, out / "screen.jsonl")
    busy = f"{lit.cores()} cores, load {before:.1f} before and {lit.load():.1f} after"
    print(lit.table(found, f"{side} side, {levels}; {screens} screens; {busy}"))
    keep_counts(context, keep_as, lit.counts(found))


@app.command()
def pictures(
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="For the two PNG files.")] = Path(
        "recordings_demo"
    ),
) -> None:
    """Take the README's pictures of a chair screen with a lit slot and of a drill. Needs Chromium."""
    from listen.bench.pictures import take

    for path in take(out):
        print(path)


@app.command()
def paint(
    context: typer.Context,
    loads: Annotated[int, typer.Option(min=1, help="How often each page is loaded.")] = 5,
    json_: Annotated[bool, typer.Option("--json", help="Print one JSON object a line, a page each.")] = False,
    keep_as: KeepOption = None,
) -> None:
    """Time how long every page takes until it first shows something, in Chromium at 1280 by 800.

    A server of its own, over a scratch folder with a little made-up content. Nothing else should run
    meanwhile: the load is printed beside the figures.
    """
    import tempfile

    from listen.bench import paint as painting
    from listen.bench import screen_latency as lit
    from listen.bench.pictures import chromium
    from listen.web.access.editors import LEAD_CODE

    before = lit.load()
    with tempfile.TemporaryDirectory() as folder, hearings.progress() as bar, chromium() as browser:
        painting.practised(Path(folder))
        with lit.served([], Path(folder), {LEAD_CODE: painting.CODE}) as address:
            opened = browser.new_context(viewport=painting.SIZE)
            pages = painting.furnish(opened, address)
            seen = painting.measured(opened, address, pages, loads)
            found = list(bar.track(seen, total=len(pages), description="load pages"))
            opened.close()
    if json_:
        for one in found:
            print(json.dumps(one.as_json()))
    else:
        busy = f"{lit.cores()} cores, load {before:.1f} before and {lit.load():.1f} after"
        print(painting.table(found, f"1280 by 800, {loads} loads a page; {busy}"))
    keep_counts(context, keep_as, painting.counts(found), engine="none takes part")


@app.command()
def load(
    requests: Annotated[int, typer.Option(min=2, help="Requests that are spoken, alone and beside it.")] = 20,
    answers: Annotated[int, typer.Option(min=100, help="Simulated answers in the practice store.")] = 100_000,
    trainees: Annotated[int, typer.Option(min=20, help="Simulated trainees who gave them.")] = 200,
    practising: Annotated[int, typer.Option(min=0, help="Trainees who answer into the locked store.")] = 10,
    reports: Annotated[int, typer.Option(min=0, help="Faculty reports that are read at the same time.")] = 8,
    rounds: Annotated[int, typer.Option(min=1, help="How often each faculty page is read alone.")] = 5,
    side: SideOption = "test",
    pack: VocabularyOption = "operative",
    folder: FolderOption = None,
) -> None:
    """Time the lit slot alone and beside a locked practice store with reports at work, and the faculty pages.

    Alone and beside take turns. Nothing else should run meanwhile: the load is printed beside the figures.
    """
    import tempfile

    from listen.bench import load as busy
    from listen.bench import screen_latency as lit
    from listen.practice.facts import facts_beside

    keep = spoken_folder(folder)
    loaded = open_pack(pack)
    todo = clips_of.clips(loaded, ClipPlan(side, requests, 0, (None,)))
    hearings.prepare([partial(clips_of.speech, clip, keep) for clip in todo], 2)
    tray = max(loaded.trays, key=lambda known: len(known.slots)).id
    before = lit.load()
    with tempfile.TemporaryDirectory() as data, hearings.progress() as bar:
        task = bar.add_task("make answers, read reports, speak to the screen", total=1 + TURNS)
        file = Path(data) / "practice.sqlite"
        names = busy.simulated_store(file, loaded, facts_beside(pack, loaded), answers, trainees, 1)
        with lit.served(["--vocabulary", pack], Path(data)) as address:
            pages = busy.timed_pages(address, file, names[0], rounds)
            bar.advance(task)
            seats = [busy.seated(address, name) for name in names[:practising]]
            done, alone, beside = busy.Work(), list[lit.Moments](), list[lit.Moments]()
            for part in (todo[first::TURNS] for first in range(TURNS)):
                alone += lit.measured(address, tray, part, keep)
                with busy.at_work(address, file, seats, reports, done):
                    beside += lit.measured(address, tray, part, keep)
                bar.advance(task)
    about = f"{answers} answers of {trainees} trainees; {lit.cores()} cores, load {before:.1f} before"
    print(busy.table(alone, beside, done, pages, about))


@app.command()
def school(
    context: typer.Context,
    trainees: Annotated[int, typer.Option(min=1, help="Trainees who practise at once.")] = 300,
    servers: Annotated[int, typer.Option(min=1, max=4, help="Servers that they are spread over.")] = 1,
    browsers: Annotated[int, typer.Option(min=0, max=20, help="How many of them use Chromium.")] = 3,
    answers: Annotated[int, typer.Option(min=1, help="Answers of each.")] = 10,
    database: Annotated[
        str | None,
        typer.Option(metavar="URL", help="An empty PostgreSQL database. [default: a server of its own]"),
    ] = None,
    keep_as: KeepOption = None,
) -> None:
    """Let a school practise at once over one PostgreSQL, and look for every answer in it afterwards.

    Trainees, servers and database share this machine: the load is printed beside the figures.
    """
    from listen.bench import school as at_once
    from listen.bench import screen_latency as lit
    from listen.bench.postgres import postgres

    if browsers > trainees:
        raise TraycallError("--browsers is how many of the trainees use one; give no more than --trainees")
    plan, before = at_once.Plan(trainees, servers, browsers, answers), lit.load()
    with ExitStack() as until_the_end:
        url = database or until_the_end.enter_context(postgres())
        found = at_once.measured(url, plan)
    after = lit.load()
    print(at_once.table(found, plan, f"{lit.cores()} cores, load {before:.1f} before and {after:.1f} after"))
    loads = {"load_before": round(before, 1), "load_after": round(after, 1)}
    keep_counts(context, keep_as, at_once.counts(found, plan) | loads, engine="none takes part")
    if found.lost or found.twice or found.noted.errors:
        raise typer.Exit(1)
