"""Commands that let synthesized voices and people ask, and count what comes of it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer

from listen.bench import clips as clips_of
from listen.bench import hearings, systems
from listen.bench.clips import ClipPlan, Muffle
from listen.bench.commands.common import (
    HEARINGS,
    PEERS,
    AdapterOption,
    AllFieldsOption,
    AnyCodeOption,
    ChatterOption,
    EndpointOption,
    FolderOption,
    JobsOption,
    KeepOption,
    LevelsOption,
    RequestsOption,
    SideOption,
    VocabularyOption,
    VoicesOption,
    VoskOption,
    app,
    hear_clips,
    keep_counts,
    known_pack,
    levels_db,
    size_of,
    spoken_folder,
)
from listen.speech.voices import Kind
from vocab.pack.load import open_pack

KINDS: dict[Kind, str] = {"recorded": "recorded", "style": "one network's", "formant": "rule-made"}


@app.command()
def run(
    context: typer.Context,
    side: SideOption = "test",
    levels: LevelsOption = "quiet,20,10,5,0",
    requests: RequestsOption = 400,
    chatter: ChatterOption = 400,
    systems_: Annotated[
        str,
        typer.Option("--systems", metavar="LIST", help=f"Of {', '.join(s.name for s in systems.SYSTEMS)}."),
    ] = PEERS,
    voices: VoicesOption = "recorded",
    widen: Annotated[bool, typer.Option("--widen", help="Change pace, pitch and vocal tract.")] = False,
    room: Annotated[bool, typer.Option("--room", help="In a small treatment room.")] = False,
    muffle: Annotated[Muffle, typer.Option(help="A mask, or a head turned by 90 degrees.")] = "open",
    names: Annotated[int, typer.Option(min=0, help="Cut the pack to about so many names; 0: all.")] = 0,
    pack: VocabularyOption = "operative",
    all_fields: AllFieldsOption = False,
    vosk_model: VoskOption = None,
    folder: FolderOption = None,
    jobs: JobsOption = 1,
    any_code: AnyCodeOption = False,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Hearings, report and plots.")] = Path(
        "bench_out"
    ),
) -> None:
    """Hear requests and chatter in noise with every system, and write report.md, report.json and plots."""
    from listen.bench import report

    loaded = clips_of.cut(open_pack(pack), names) if names else open_pack(pack)
    plan = ClipPlan(
        side, requests, chatter, levels_db(levels), voices=voices, widen=widen, room=room, muffle=muffle
    )
    rows = systems.find(systems_.split(","), vosk_model)
    known = known_pack(loaded, all_fields)
    records = hear_clips(known, clips_of.clips(loaded, plan), rows, folder, out, jobs, any_code, vosk_model)
    judge = systems.SystemJudge(known)
    found = report.results(records, rows, lambda _: judge)
    about = {
        "pack": f"{loaded.name} {loaded.version}, {size_of(loaded)}"
        + (f"; heard among {size_of(known)}" if all_fields else ""),
        "speech": f"{side} side, {KINDS[voices]} voices"
        + (", widened" if widen else "")
        + (", small room" if room else "")
        + ("" if muffle == "open" else f", {muffle}"),
        "speakers": ", ".join(sorted({record["speaker"] for record in records})),
    }
    made = report.study(found, rows, loaded, about)
    print(report.write(made, found, out))
    keep_counts(context, keep_as, report.counts(made))


@app.command()
def natural(
    context: typer.Context,
    side: SideOption = "test",
    levels: LevelsOption = "quiet,10,5",
    ways: Annotated[int, typer.Option(min=0, help="How many ways of asking and mentioning; 0: all.")] = 0,
    typed: Annotated[bool, typer.Option("--typed", help="Type them instead of saying them.")] = False,
    speaker: Annotated[str | None, typer.Option(metavar="NAME", help="Only this person's voices.")] = None,
    adapter: AdapterOption = None,
    pack: VocabularyOption = "operative",
    all_fields: AllFieldsOption = False,
    folder: FolderOption = None,
    jobs: JobsOption = 1,
    any_code: AnyCodeOption = False,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Where hearings are kept.")] = Path(
        "bench_natural"
    ),
) -> None:
    """Ask for items, and mention them, in natural sentences that the tool's own lists do not hold."""
    from listen.bench import natural as freely

    loaded = open_pack(pack)
    known = known_pack(loaded, all_fields)
    judge = systems.SystemJudge(known)
    if typed:
        filler = freely.Filler(loaded)
        said = [filler.said(way) for way in freely.ways(side)[: ways or None]]
        rows = [freely.answered("typed", one, judge.typed(one.text)) for one in said]
        scores = [freely.score("typed", rows, loaded)]
        print(freely.table(scores))
        keep_counts(context, keep_as, freely.counts(scores))
        return
    clips = freely.clips(loaded, side, levels_db(levels), ways, speaker)
    neural = systems.find(["neural"], None)[0]
    plain = [clip.clip for clip in clips]
    heard = hear_clips(known, plain, [neural], folder, out, jobs, any_code, None, adapter)
    scores = []
    for snr_db in levels_db(levels):
        level = clips_of.level_name(snr_db)
        pairs = [pair for pair in zip(clips, heard, strict=True) if pair[0].clip.level == level]
        rows = [
            freely.answered(level, c.said, judge.outcome(neural, hearings.hearing_of(r))) for c, r in pairs
        ]
        scores.append(freely.score(level, rows, loaded))
    print(freely.table(scores))
    keep_counts(context, keep_as, freely.counts(scores))


@app.command()
def told(
    context: typer.Context,
    side: SideOption = "test",
    levels: LevelsOption = "quiet,10",
    others: Annotated[
        int, typer.Option(min=0, help="Requests, and as many pieces of chatter, that tell of nothing.")
    ] = 60,
    pack: VocabularyOption = "operative",
    folder: FolderOption = None,
    jobs: JobsOption = 1,
    any_code: AnyCodeOption = False,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Hearings, told.json and told.md.")] = Path(
        "bench_told"
    ),
) -> None:
    """Tell by voice what came back, fell, was wiped or used up, and see what a chair's session notes."""
    import tempfile

    from listen.bench import told_by_voice as telling
    from listen.chair import ChairOptions, open_chair

    with tempfile.TemporaryDirectory() as empty:
        chair = open_chair(ChairOptions(pack, layers=Path(empty) / "layers"))
        todo, by_text = telling.clips_of(chair.pack, side, levels_db(levels), others)
        records = hear_clips(
            chair.pack, todo, systems.find(["neural"], None), folder, out, jobs, any_code, None
        )
        found = telling.results(records, by_text, chair, Path(empty) / "data")
    made = telling.study(found)
    print(telling.write(made, out))
    keep_counts(context, keep_as, telling.counts(made))


@app.command()
def human(
    context: typer.Context,
    levels: LevelsOption = "quiet,20,10,5,0",
    systems_: Annotated[
        str,
        typer.Option("--systems", metavar="LIST", help=f"Of {', '.join(s.name for s in systems.SYSTEMS)}."),
    ] = PEERS,
    chatter_file: Annotated[
        list[Path] | None, typer.Option(metavar="FILE", help="More speech that asks for nothing; repeatable.")
    ] = None,
    people_folder: Annotated[
        Path | None,
        typer.Option("--people", metavar="FOLDER", help="Hear these orders instead."),
    ] = None,
    side: SideOption = "test",
    pack: VocabularyOption = "operative",
    vosk_model: VoskOption = None,
    jobs: JobsOption = 1,
    any_code: AnyCodeOption = False,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Hearings, report and plots.")] = Path(
        "bench_human"
    ),
) -> None:
    """Hear people: strings out of about 250 with the vocabulary swapped, and chatter with the real pack.

    Needs the recordings: apt install pocketsphinx-testdata. With --people a folder of orders is heard, one
    half of it (--side), in quiet and in kitchen noise: with the vocabulary swapped for them, and with the
    real pack, as people who ask for what is not there.
    """
    from listen.bench import human as people
    from listen.bench import orders, report

    rows = systems.find(systems_.split(","), vosk_model)
    loaded = open_pack(pack)
    kinds: Sequence[str] = people.KINDS
    if people_folder is None:
        asking, at = people.sets(loaded.speech), levels_db(levels)
        talk = people.HumanSet("chatter", loaded, people.chatter(chatter_file or ()))
        of_whom = "recordings of pocketsphinx-testdata and moonshine-voice; few, and none of a clinic"
    else:
        found_orders = orders.orders(people_folder)
        asking, at = (orders.asked_for(found_orders, side, loaded.speech),), orders.LEVELS_DB
        talk = people.HumanSet("not ours", loaded, orders.not_ours(found_orders, side))
        kinds, of_whom = (people.KITCHEN,), f"the {side} half of {len(found_orders)} orders, none of a clinic"
    engines = list(dict.fromkeys(row.engine for row in rows))
    records: list[hearings.Record] = []
    for group in (*asking, talk):
        ears = [hearings.Ear(name, group.pack, vosk_model) for name in engines]
        clips = people.at_levels(group.clips, at, kinds)
        records += hearings.hear(clips, people.sound, ears, out / HEARINGS, jobs, any_code)
    judges = {group.name: systems.SystemJudge(group.pack) for group in (*asking, talk)}
    found = report.results(records, rows, lambda record: judges[record["group"]])
    about = {
        "asked for": "; ".join(f"{s.name}: {len(s.clips)} of people, {size_of(s.pack)}" for s in asking),
        "chatter": f"{len(talk.clips)} utterances of people, heard with {size_of(loaded)}",
        "people": of_whom,
    }
    prose: dict[str, Any] = {}
    if people_folder is None:
        wrong = {title: people.word_errors(taught) for title, taught in (("with", True), ("without", False))}
        prose = {
            "words": wrong["with"].words,
            "wrong_taught": wrong["with"].errors,
            "wrong_untaught": wrong["without"].errors,
        }
        about["word errors in read prose, free text"] = "; ".join(
            f"{title} the adapter {one.errors} of {one.words}" for title, one in wrong.items()
        )
    made = report.study(found, rows, None, about)
    print(report.write(made, found, out))
    keep_counts(context, keep_as, report.counts(made) | ({"read prose": prose} if prose else {}))


@app.command()
def talk(
    context: typer.Context,
    chatter: Annotated[int, typer.Option(min=0, help="How many sentences; all when 0.")] = 0,
    endpoint_s: EndpointOption = 0.35,
    side: SideOption = "test",
    pack: VocabularyOption = "operative",
    folder: FolderOption = None,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="For talk.jsonl, a sentence a line.")] = Path(
        "bench_talk"
    ),
) -> None:
    """Hear hours of talk that asks for nothing, no sentence twice, through all that the chair screen does."""
    from listen.bench import long_shift, talking

    keep = spoken_folder(folder)
    loaded, todo = open_pack(pack), talking.clips(side, chatter)
    hearings.prepare([partial(clips_of.speech, clip, keep) for clip in todo], 2)
    system = systems.find(["neural"], None)[0]
    engine, judge = systems.load(system.engine, loaded, None), systems.SystemJudge(loaded)
    out.mkdir(parents=True, exist_ok=True)
    done: list[talking.TalkLine] = []
    with hearings.progress() as bar, (out / "talk.jsonl").open("w", encoding="utf-8") as file:
        for start in bar.track(range(0, len(todo), talking.PIECE), description="listen"):
            chair = long_shift.SimulatedChair(engine, judge, system, endpoint_s)
            for line in talking.listen(todo[start : start + talking.PIECE], keep, chair, loaded, start):
                done.append(line)
                file.write(json.dumps(line.facts) + "\n")
            file.flush()
    print(talking.table(done))
    keep_counts(context, keep_as, talking.counts(done))


@app.command()
def history(
    folders: Annotated[
        list[Path] | None,
        typer.Argument(metavar="FOLDER", help="Where `run` kept hearings; several add up. [bench_out]"),
    ] = None,
    side: SideOption = "test",
    dentists: Annotated[int, typer.Option(min=1, help="Made-up dentists, one session a procedure each.")] = 4,
    pack: VocabularyOption = "operative",
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="For history.json and history.md.")] = Path(
        "bench_history"
    ),
) -> None:
    """Compare requests heard with and without knowing what comes next, on hearings that `run` kept."""
    from listen.bench import expectation as worth
    from listen.readings import load_calibration
    from vocab.requests.lexicon import Lexicon

    loaded = open_pack(pack)
    files = [folder / HEARINGS for folder in folders or [Path("bench_out")]]
    records = worth.kept(files, side)
    judge = systems.SystemJudge(
        loaded, reader=worth.SteadyReader(loaded, Lexicon(loaded), load_calibration())
    )
    said = worth.moments(loaded, side, dentists)
    found = worth.judged(worth.cases(records, said, judge), judge)
    about = {
        "hearings": ", ".join(str(file) for file in files),
        "speakers": ", ".join(sorted({record["speaker"] for record in records})),
        "sessions": f"one of each of {len(loaded.procedures)} procedures by {dentists} made-up dentists",
        "written steps": "the pack's procedure, nobody's sessions",
        "learnt": f"also {worth.LESSONS} sessions of each by {worth.TEACHERS} others and {worth.OWN} own",
    }
    print(worth.write({"about": about, "levels": worth.study(found)}, out))
