"""Commands that fit the calibration, count the demo, and write the model card and the README's figures."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from listen.bench import clips as clips_of
from listen.bench import hearings, systems
from listen.bench.clips import ClipPlan
from listen.bench.commands.common import (
    HEARINGS,
    AdapterOption,
    AnyCodeOption,
    ChatterOption,
    FolderOption,
    JobsOption,
    KeepOption,
    LevelsOption,
    RequestsOption,
    SideOption,
    VocabularyOption,
    VoicesOption,
    app,
    hear_clips,
    keep_counts,
    levels_db,
)
from vocab.pack.load import open_pack


@app.command()
def fit(
    side: SideOption = "tune",
    levels: LevelsOption = "quiet,20,10,5",
    requests: RequestsOption = 400,
    chatter: ChatterOption = 260,
    ways: Annotated[int, typer.Option(min=0, help="Natural sentences, each at every level; 0: all.")] = 0,
    widen: Annotated[bool, typer.Option("--widen", help="Change pace, pitch and vocal tract.")] = False,
    request_share: Annotated[
        float, typer.Option(min=0.01, max=0.99, help="How many utterances at the chair are requests.")
    ] = 0.5,
    voices: VoicesOption = "recorded",
    speaker: Annotated[str | None, typer.Option(metavar="NAME", help="Only this one's voices.")] = None,
    adapter: AdapterOption = None,
    others: Annotated[
        list[Path] | None,
        typer.Option(
            "--with",
            metavar="FOLDER",
            help="Hearings of another speaker, kept by an earlier `fit` with an adapter taught without that "
            "one; repeatable.",
        ),
    ] = None,
    pack: VocabularyOption = "operative",
    folder: FolderOption = None,
    jobs: JobsOption = 1,
    any_code: AnyCodeOption = False,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Where hearings are kept.")] = Path(
        "bench_tune"
    ),
    write: Annotated[Path, typer.Option(metavar="FILE", help="Where the weights go.")] = Path("neural.json"),
    day: Annotated[
        str, typer.Option("--date", metavar="YYYY-MM-DD", help="Written down. [default: today]")
    ] = "",
) -> None:
    """Fit the embedded engine's calibration on tuning voices; test voices are refused.

    A voice that the adapter was taught with is heard too well to learn doubt from: leave a speaker out of
    the teaching (`python -m listen.adapt train --without`), and fit on that one alone with that adapter. To
    fit on several, do so with each, with an --out of its own, and the last time name the others' folders
    (--with). Adapter and code that those were heard with are not looked at, but must be the same for all of a
    folder. The tuning styles of the Kokoro network (--voices style) took no part in the teaching.
    """
    import json

    from listen.bench import fit as fitting
    from listen.bench import natural as freely
    from listen.readings import load_calibration

    if side != "tune":
        raise fitting.NotForTest("nothing is fitted on test voices; use --side tune")
    loaded = open_pack(pack)
    before = [record for one in others or () for record in fitting.heard_before(one / HEARINGS, any_code)]
    plan = ClipPlan(side, requests, chatter, levels_db(levels), voices=voices, widen=widen, speaker=speaker)
    rows = systems.find(["neural"], None)
    said = freely.clips(loaded, "tune", levels_db(levels), ways, speaker, voices)
    single = [one.clip for one in said if len(one.said.wanted) < 2]
    todo = (*clips_of.clips(loaded, plan), *single)
    heard = hear_clips(loaded, todo, rows, folder, out, jobs, any_code, None, adapter)
    records = list({record["clip"]: record for record in (*before, *heard)}.values())
    texts = freely.texts(loaded, "tune")
    fitted = fitting.fit(records, loaded, load_calibration(), request_share, freely=texts)
    fitting.write(fitted, records, write, day or date.today().isoformat())
    print(json.dumps(json.loads(write.read_text(encoding="utf-8")), indent=2))


@app.command()
def demo(context: typer.Context, keep_as: KeepOption = None) -> None:
    """Count what comes of the recordings of `traycall demo` (a minute)."""
    from listen.chair import ChairOptions, open_chair
    from listen.commands import demo as recordings

    manifest = recordings.read_manifest(recordings.find_folder(None))
    chair = open_chair(ChairOptions(procedure=recordings.PROCEDURE))
    with hearings.progress() as bar:
        played = recordings.play(manifest, chair.assistant(chair.engine()))
        outcomes = list(bar.track(played, total=len(manifest), description="hear the demo"))
    counts = json.loads(recordings.summary_json(outcomes, "neural"))
    print(counts)
    keep_counts(
        context, keep_as, {name: k for name, k in counts.items() if name not in ("engine", "latency_ms")}
    )


@app.command()
def everything(
    only: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Only this figure; may be given again.")
    ] = None,
    jobs: JobsOption = 1,
) -> None:
    """Measure every figure again with the present engine, and write the model card and the README's table.

    Hours on two idle cores. A measurement that fails keeps the figure of before, and the others go on.
    """
    from listen.bench import everything as all_of_it

    failed = all_of_it.measure(all_of_it.chosen(only or ()), jobs)
    card(check=False)
    for name in failed:
        print(f"{name} failed and has the figure of before")
    if failed:
        raise typer.Exit(1)


@app.command()
def card(
    check: Annotated[
        bool, typer.Option("--check", help="Write nothing; exit code 1 where something is not up to date.")
    ] = False,
) -> None:
    """Write the model card and the README's figures from listen/neural/figures.yaml and its templates."""
    from listen.bench import card as cards
    from vocab.files import write_atomically

    stale = {path: text for path, text in cards.documents().items() if cards.differs(path, text)}
    for path, text in stale.items():
        print(
            f"{path}: {'not what the figures say; run: python -m listen.bench card' if check else 'written'}"
        )
        if not check:
            write_atomically(path, text.encode())
    other = cards.not_of_this_engine()
    for told in other:
        print(told)
    if check and (stale or other):
        raise typer.Exit(1)
