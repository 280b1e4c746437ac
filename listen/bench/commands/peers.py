"""The command that compares other ways of hearing with the tool's own."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from listen.bench import clips as clips_of
from listen.bench import hearings
from listen.bench.clips import Clip
from listen.bench.commands.common import (
    HEARINGS,
    AnyCodeOption,
    FolderOption,
    KeepOption,
    VocabularyOption,
    VoskOption,
    app,
    keep_counts,
    spoken_folder,
)
from vocab.pack.load import open_pack


@app.command()
def peers(
    context: typer.Context,
    requests: Annotated[int, typer.Option(min=0, help="Requests in the tool's own phrasings.")] = 40,
    ways: Annotated[int, typer.Option(min=0, help="Natural ways of asking, and as many of mentioning.")] = 40,
    chatter: Annotated[int, typer.Option(min=0, help="Sentences that ask for nothing.")] = 20,
    people: Annotated[
        Path | None,
        typer.Option("--people", metavar="FOLDER", help="Orders by people, beside a few."),
    ] = None,
    orders: Annotated[int, typer.Option(min=0, help="How many of those orders.")] = 30,
    pack: VocabularyOption = "operative",
    vosk_model: VoskOption = None,
    folder: FolderOption = None,
    any_code: AnyCodeOption = False,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Where hearings are kept.")] = Path(
        "bench_peers"
    ),
) -> None:
    """Hear the same with traycall, with its free text looked up, and with PocketSphinx and Vosk: own
    phrasings, natural ones, mentions and people, in quiet and at 10 dB (half an hour on one core)."""
    from listen.bench import peers as compared

    rows, missing = compared.systems_here(vosk_model)
    keep, loaded = spoken_folder(folder), open_pack(pack)
    groups = (
        *compared.spoken_groups(loaded, requests, ways, chatter),
        *compared.people_groups(loaded, people, orders),
    )
    spoken = [clip for group in groups for _, some in group.parts for clip in some if isinstance(clip, Clip)]
    hearings.prepare([partial(clips_of.speech, clip, keep) for clip in spoken if clip.kind is None], 1)
    murmured_at = {clip.voice for clip in spoken if clip.kind == "babble"}
    hearings.prepare([clips_of.babblers(voice, keep) for voice in murmured_at], 1)
    made = compared.measured(groups, rows, keep, out / HEARINGS, vosk_model, any_code)
    print(compared.table(made, missing))
    keep_counts(context, keep_as, made)
