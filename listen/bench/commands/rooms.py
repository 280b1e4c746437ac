"""The command that tells what microphones, masks, other voices and songs cost."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from listen.bench import clips as clips_of
from listen.bench import hearings, systems
from listen.bench.commands.common import (
    HEARINGS,
    AnyCodeOption,
    FolderOption,
    JobsOption,
    KeepOption,
    VocabularyOption,
    app,
    keep_counts,
    spoken_folder,
)
from listen.speech import voices
from vocab.pack.load import open_pack

PeopleOption = Annotated[
    Path | None,
    typer.Option("--people", metavar="FOLDER", help="Only the room, in the kitchen.flac of this folder."),
]


@app.command()
def rooms(
    context: typer.Context,
    requests: Annotated[int, typer.Option(min=0, help="Requests in the tool's own phrasings.")] = 100,
    ways: Annotated[int, typer.Option(min=0, help="Natural ways of asking.")] = 40,
    chatter: Annotated[int, typer.Option(min=0, help="Sentences that ask for nothing.")] = 20,
    people: PeopleOption = None,
    pack: VocabularyOption = "operative",
    folder: FolderOption = None,
    jobs: JobsOption = 1,
    any_code: AnyCodeOption = False,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Where hearings are kept.")] = Path(
        "bench_rooms"
    ),
) -> None:
    """Ask the same by headset, collar, tablet and ceiling microphones in a room as loud as a clinic; through
    a mask; with somebody else talking; over a song with words.

    With --people the microphones are heard in the recorded noise of a kitchen instead, and nothing else."""
    from listen.bench import report
    from listen.bench import rooms as tried
    from listen.bench.said import said

    keep, loaded = spoken_folder(folder), open_pack(pack)
    sentences = said(loaded, requests, ways, 0, chatter)
    todo = tried.clips(sentences, tried.conditions(people is not None), people)
    lines = dict.fromkeys(line for clip in todo for line in tried.spoken(clip))
    hearings.prepare([partial(voices.cached, voices.voice(v), text, keep) for text, v in lines], jobs)
    hearings.prepare([clips_of.babblers(v, keep) for v in {clip.said.voice for clip in todo}], 1)
    (neural,) = systems.find(["neural"], None)
    ears = [hearings.Ear(neural.engine, loaded)]
    records = hearings.hear(todo, partial(tried.sound, folder=keep), ears, out / HEARINGS, jobs, any_code)
    judge = systems.SystemJudge(loaded)
    counted = tried.counts(report.results(records, [neural], lambda _: judge)[neural.name])
    print(tried.table(counted))
    keep_counts(context, keep_as, counted)
