"""Commands about voices: fetching more of them, and how well each speaker is heard."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from listen.bench import systems
from listen.bench.commands.common import (
    AnyCodeOption,
    FolderOption,
    JobsOption,
    KeepOption,
    LevelsOption,
    VocabularyOption,
    app,
    hear_clips,
    keep_counts,
    levels_db,
)
from vocab.pack.load import open_pack


@app.command()
def voices() -> None:
    """Fetch the styles of the Kokoro network, many more voices, with npm (27 MB, once)."""
    from listen.speech import kokoro

    print(f"{len(kokoro.STYLES)} styles in {kokoro.fetch()}")
    if missing := kokoro.what_is_missing():
        raise kokoro.NoStyles(missing)


@app.command()
def speakers(
    context: typer.Context,
    levels: LevelsOption = "quiet,10,5",
    requests: Annotated[int, typer.Option(min=0, help="In our own phrasings, by every speaker.")] = 24,
    ways: Annotated[int, typer.Option(min=0, help="In natural sentences, by every speaker.")] = 10,
    chatter: Annotated[int, typer.Option(min=0, help="That ask for nothing, by every speaker.")] = 6,
    styles: Annotated[int, typer.Option(min=0, help="At most so many styles of the network; 0: all.")] = 0,
    speaker: Annotated[str | None, typer.Option(metavar="NAME", help="Only this one.")] = None,
    adapter: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Hear with this one, taught without --speaker.")
    ] = None,
    pack: VocabularyOption = "operative",
    folder: FolderOption = None,
    jobs: JobsOption = 1,
    any_code: AnyCodeOption = False,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Where hearings are kept.")] = Path(
        "bench_speakers"
    ),
) -> None:
    """Hear the same sentences from every speaker of the test side, and count by speaker, worst heard first.

    A speaker of the tuning side is heard with an adapter that was taught without that speaker alone: give
    both --speaker and --adapter.
    """
    from listen.bench import report
    from listen.bench import speakers as by_speaker

    loaded = open_pack(pack)
    said = by_speaker.lines(loaded, requests, ways, chatter)
    todo = by_speaker.clips(said, by_speaker.chosen(speaker, adapter is not None, styles), levels_db(levels))
    neural = systems.find(["neural"], None)
    records = hear_clips(loaded, todo, neural, folder, out, jobs, any_code, None, adapter)
    judge = systems.SystemJudge(loaded)
    found = by_speaker.heard(said, report.results(records, neural, lambda _: judge)["neural"])
    counts = by_speaker.counts(found)
    print(by_speaker.table(counts))
    keep_counts(context, keep_as, counts)
