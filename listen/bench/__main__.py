"""`python -m listen.bench`: the measuring stick of traycall.

Options in, calls to this package, files and one table out. See `--help` of each command.
"""

from __future__ import annotations

import json
import shlex
import sys
from collections.abc import Sequence
from contextlib import ExitStack, suppress
from datetime import date
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer
from platformdirs import user_cache_path
from typer.core import TyperGroup

from listen.bench import clips as clips_of
from listen.bench import hearings, systems
from listen.bench.clips import Clip, ClipPlan, Muffle
from listen.speech.voices import Side
from vocab.errors import TraycallError
from vocab.pack.load import open_pack
from vocab.pack.schema import Pack

PEERS = "neural,neural-text,sphinx-text,sphinx-grammar"
HEARINGS = "hearings.jsonl"
MOST_SIMULATED = 200
"""Trainees of a simulated class."""
TURNS = 5
"""In which two things are compared, so that both meet the same moments of the machine."""


class _BenchCommands(TyperGroup):
    """Turns what a person can put right into one message and exit code 2."""

    def invoke(self, ctx: Any) -> Any:
        with suppress(BrokenPipeError):
            try:
                return super().invoke(ctx)
            except TraycallError as error:
                print(f"listen.bench: {error}", file=sys.stderr)
                raise typer.Exit(2) from None
            except KeyboardInterrupt:
                print("listen.bench: stopped; the same command goes on from here", file=sys.stderr)
                raise typer.Exit(130) from None


app = typer.Typer(
    cls=_BenchCommands,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help=(
        "Measures how well requests are heard and chatter is left alone, on synthesized voices in chair "
        "noise and on people. Needs: pip install -e '.[bench]'; voices: apt install flite festival "
        "festvox-kdlpc16k festvox-kallpc16k festvox-us-slt-hts. Every command may be stopped and given "
        "again: it goes on where it was."
    ),
)

EndpointOption = Annotated[
    float, typer.Option("--endpoint", min=0.1, max=5, help="Silence that ends an utterance, in s.")
]
SideOption = Annotated[
    Side, typer.Option(help="Voices and sentences to report on (test) or to fit on (tune).")
]
LevelsOption = Annotated[
    str, typer.Option(metavar="LIST", help='Speech over noise in dB, and "quiet", with commas between.')
]
RequestsOption = Annotated[int, typer.Option(min=0, help="Sentences that ask, each at every level.")]
ChatterOption = Annotated[int, typer.Option(min=0, help="Sentences that do not, each at every level.")]
FolderOption = Annotated[
    Path | None, typer.Option(help="Where spoken sentences are kept. [default: user cache]")
]
JobsOption = Annotated[
    int, typer.Option(min=1, help="Processes at a time; more than 1 makes the times worthless.")
]
AnyCodeOption = Annotated[
    bool, typer.Option("--any-code", help="Take up hearings of other code or another pack, too.")
]
VocabularyOption = Annotated[
    str,
    typer.Option("--vocabulary", metavar="NAME|FOLDER", help="One that comes with traycall, or a folder."),
]
VoskOption = Annotated[Path | None, typer.Option(metavar="FOLDER", help="An English Vosk model.")]


def _nameable(name: str | None) -> str | None:
    """Refuses what cannot be kept before anything is measured."""
    from listen.bench import card

    if name is not None:
        card.check_name(name)
    return name


KeepOption = Annotated[
    str | None,
    typer.Option(
        "--keep",
        metavar="NAME",
        callback=_nameable,
        help="Put the counts under this name into the figures of the model card; then: card.",
    ),
]


AllFieldsOption = Annotated[
    bool, typer.Option("--all-fields", help="Hear it as a session does that knows every field's items.")
]


def _known(pack: Pack, all_fields: bool) -> Pack:
    """The pack, or the pack with the items of all fields in its language."""
    if not all_fields:
        return pack
    from vocab.pack.load import shipped_languages, shipped_pack
    from vocab.pack.widen import widened

    names = (name for name, language in shipped_languages().items() if language == pack.language)
    return widened(pack, map(shipped_pack, names))


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
    formant: Annotated[bool, typer.Option("--formant", help="Rule-made voices instead of recorded.")] = False,
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
        side, requests, chatter, _levels(levels), formant=formant, widen=widen, room=room, muffle=muffle
    )
    rows = systems.find(systems_.split(","), vosk_model)
    known = _known(loaded, all_fields)
    records = _hear(known, clips_of.clips(loaded, plan), rows, folder, out, jobs, any_code, vosk_model)
    judge = systems.SystemJudge(known)
    found = report.results(records, rows, lambda _: judge)
    about = {
        "pack": f"{loaded.name} {loaded.version}, {_size(loaded)}"
        + (f"; heard among {_size(known)}" if all_fields else ""),
        "speech": f"{side} side, {'rule-made' if formant else 'recorded'} voices"
        + (", widened" if widen else "")
        + (", small room" if room else "")
        + ("" if muffle == "open" else f", {muffle}"),
        "speakers": ", ".join(sorted({record["speaker"] for record in records})),
    }
    made = report.study(found, rows, loaded, about)
    print(report.write(made, found, out))
    _keep(context, keep_as, report.counts(made))


@app.command()
def natural(
    context: typer.Context,
    side: SideOption = "test",
    levels: LevelsOption = "quiet,10,5",
    ways: Annotated[int, typer.Option(min=0, help="How many ways of asking and mentioning; 0: all.")] = 0,
    typed: Annotated[bool, typer.Option("--typed", help="Type them instead of saying them.")] = False,
    speaker: Annotated[str | None, typer.Option(metavar="NAME", help="Only this person's voices.")] = None,
    adapter: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Hear with this one in place of the shipped one.")
    ] = None,
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
    known = _known(loaded, all_fields)
    judge = systems.SystemJudge(known)
    if typed:
        filler = freely.Filler(loaded)
        said = [filler.said(way) for way in freely.ways(side)[: ways or None]]
        rows = [freely.answered("typed", one, judge.typed(one.text)) for one in said]
        scores = [freely.score("typed", rows, loaded)]
        print(freely.table(scores))
        _keep(context, keep_as, freely.counts(scores))
        return
    clips = freely.clips(loaded, side, _levels(levels), ways, speaker)
    neural = systems.find(["neural"], None)[0]
    plain = [clip.clip for clip in clips]
    heard = _hear(known, plain, [neural], folder, out, jobs, any_code, None, adapter)
    scores = []
    for snr_db in _levels(levels):
        level = clips_of.level_name(snr_db)
        pairs = [pair for pair in zip(clips, heard, strict=True) if pair[0].clip.level == level]
        rows = [
            freely.answered(level, c.said, judge.outcome(neural, hearings.hearing_of(r))) for c, r in pairs
        ]
        scores.append(freely.score(level, rows, loaded))
    print(freely.table(scores))
    _keep(context, keep_as, freely.counts(scores))


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
    speaker: Annotated[str | None, typer.Option(metavar="NAME", help="Only this person's voices.")] = None,
    adapter: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Hear with this one in place of the shipped one.")
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
    the teaching (`python -m listen.adapt train --without`), and fit on that one alone with that adapter.
    """
    import json

    from listen.bench import fit as fitting
    from listen.bench import natural as freely
    from listen.readings import load_calibration

    if side != "tune":
        raise fitting.NotForTest("nothing is fitted on test voices; use --side tune")
    loaded = open_pack(pack)
    plan = ClipPlan(side, requests, chatter, _levels(levels), widen=widen, speaker=speaker)
    rows = systems.find(["neural"], None)
    said = freely.clips(loaded, "tune", _levels(levels), ways, speaker)
    single = [one.clip for one in said if len(one.said.wanted) < 2]
    todo = (*clips_of.clips(loaded, plan), *single)
    records = _hear(loaded, todo, rows, folder, out, jobs, any_code, None, adapter)
    texts = frozenset(clip.text for clip in single)
    fitted = fitting.fit(records, loaded, load_calibration(), request_share, freely=texts)
    fitting.write(fitted, records, write, day or date.today().isoformat())
    print(json.dumps(json.loads(write.read_text(encoding="utf-8")), indent=2))


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
        todo, by_text = telling.clips_of(chair.pack, side, _levels(levels), others)
        records = _hear(chair.pack, todo, systems.find(["neural"], None), folder, out, jobs, any_code, None)
        found = telling.results(records, by_text, chair, Path(empty) / "data")
    made = telling.study(found)
    print(telling.write(made, out))
    _keep(context, keep_as, telling.counts(made))


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
        asking, at = people.sets(loaded.speech), _levels(levels)
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
        "asked for": "; ".join(f"{s.name}: {len(s.clips)} of people, {_size(s.pack)}" for s in asking),
        "chatter": f"{len(talk.clips)} utterances of people, heard with {_size(loaded)}",
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
    _keep(context, keep_as, report.counts(made) | ({"read prose": prose} if prose else {}))


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

    keep = folder or user_cache_path("traycall", appauthor=False) / "bench"
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

    keep = folder or user_cache_path("traycall", appauthor=False) / "bench"
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
    _keep(context, keep_as, talking.counts(done))


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
    keep = folder or user_cache_path("traycall", appauthor=False) / "bench"
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

    keep = folder or user_cache_path("traycall", appauthor=False) / "bench"
    loaded = open_pack(pack)
    todo = clips_of.clips(loaded, ClipPlan(side, requests, chatter, _levels(levels)))
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
    _keep(context, keep_as, lit.counts(found))


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
    _keep(context, keep_as, painting.counts(found), engine="none takes part")


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

    keep = folder or user_cache_path("traycall", appauthor=False) / "bench"
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
    _keep(context, keep_as, at_once.counts(found, plan) | loads, engine="none takes part")
    if found.lost or found.twice or found.noted.errors:
        raise typer.Exit(1)


@app.command()
def prediction(
    context: typer.Context,
    seed: Annotated[int, typer.Option(min=0, help="Of the dentists and their days.")] = 2024,
    teachers: Annotated[int, typer.Option(min=1, help="Other dentists of the clinic.")] = 12,
    held_out: Annotated[int, typer.Option(min=1, help="Dentists that are scored.")] = 6,
    lessons: Annotated[int, typer.Option(min=1, help="Sessions of each teacher and procedure.")] = 3,
    earlier: Annotated[str, typer.Option(metavar="N,N", help="Own sessions seen before.")] = "0,1,3,5,10",
    unruly: Annotated[
        float, typer.Option(min=0.0, help="Days so many times as unruly; 0 plays each dentist's script.")
    ] = 1.0,
    watched: Annotated[
        int, typer.Option(min=0, help="Sessions seen by who watched the scored dentist; 0: leave it out.")
    ] = 0,
    step_time: Annotated[
        bool, typer.Option("--step-time", help="Time a step with 500 items and 20 procedures instead.")
    ] = False,
    pack: VocabularyOption = "operative",
    keep_as: KeepOption = None,
) -> None:
    """Measure next-item predictions against baselines on simulated dentists (about a minute)."""
    import time

    import numpy as np

    from listen.bench.prediction import as_text, compare, counts
    from listen.bench.simulated_dentists import COMMON
    from listen.bench.vocabulary_size import big_pack, step_times_s

    rng = np.random.default_rng(seed)
    if step_time:
        big = big_pack(rng)
        times_s = step_times_s(big, rng, time.perf_counter)
        print(
            f"{len(big.items)} items, {len(big.procedures)} procedures, seed {seed}, {len(times_s)} steps: "
            f"update and prediction take {1e3 * float(np.median(times_s)):.2f} ms (median), "
            f"{1e3 * float(np.quantile(times_s, 0.95)):.2f} ms (95 % of steps below)"
        )
        return
    try:
        sessions = tuple(int(part) for part in earlier.split(","))
    except ValueError:
        raise TraycallError(f"--earlier takes numbers such as 0,3,10, not {earlier!r}.") from None
    if min(sessions) < 0:
        raise TraycallError("--earlier takes numbers from 0.")
    whims = COMMON.of_a_day(unruly)
    scores = compare(open_pack(pack), rng, whims, teachers, held_out, lessons, sessions, watched)
    print(
        f"Pack {pack}, seed {seed}: {held_out} dentists held out, {teachers} others taught {lessons} times, "
        f"days {unruly:g} times as unruly as usual."
    )
    print(as_text(scores))
    _keep(context, keep_as, counts(scores), engine="none takes part")


@app.command("class")
def simulated_class(
    context: typer.Context,
    procedure: Annotated[
        str,
        typer.Option("--procedure", metavar="ID", help='What is practised; "all" for the whole field.'),
    ] = "composite_class_two",
    minutes: Annotated[
        list[float] | None,
        typer.Option(min=1, max=120, help="Minutes a day; may be given again. [default: 10]"),
    ] = None,
    weeks: Annotated[int, typer.Option(min=1, max=52, help="So many weeks of five days.")] = 2,
    trainees: Annotated[int, typer.Option(min=2, max=MOST_SIMULATED, help="How many.")] = 20,
    decay: Annotated[float, typer.Option(min=0.05, max=1.0, help="How fast they forget.")] = 0.177,
    seed: Annotated[int, typer.Option(min=0, help="Draw the same class again.")] = 0,
    keep_as: KeepOption = None,
    pack: VocabularyOption = "operative",
) -> None:
    """Does practice teach? Simulated trainees practise five days a week, with a test 30 days later: topics
    scheduled, as today's practice offers them, in fixed rotation, in random order, in a weekly quiz."""

    from listen.bench import simulated_class as simulated
    from listen.practice.facts import facts_beside

    loaded = open_pack(pack)
    topics, course, use = simulated.single_topics(
        loaded, facts_beside(pack, loaded), None if procedure == "all" else procedure
    )
    found = {}
    for each in minutes or [10.0]:
        plan = simulated.ClassPlan.of_weeks(weeks, each, trainees)
        results = simulated.simulate(topics, course, use, plan, seed, simulated.Memory(decay=decay))
        found[f"{each:g}"] = simulated.counts(results, len(topics), seed)
        print(f"{each:g} minutes a day\n{simulated.table(results, len(topics), seed)}")
    _keep(
        context, keep_as, {"weeks": weeks, "trainees": trainees, "minutes": found}, engine="none takes part"
    )


@app.command()
def judge(
    context: typer.Context,
    side: Annotated[Side | None, typer.Option(help="Whose voices. [default: test; tune with --fit]")] = None,
    answers: Annotated[int, typer.Option(min=1, help="How many.")] = 1000,
    seed: Annotated[int, typer.Option(min=0, help="Draw the same answers again.")] = 5,
    speaker: Annotated[str | None, typer.Option(metavar="NAME", help="Only this person's voices.")] = None,
    adapter: Annotated[
        Path | None,
        typer.Option(help="Hear with this one; for --fit one taught without the speaker."),
    ] = None,
    natural: Annotated[bool, typer.Option("--natural", help="In people's own words.")] = False,
    typed: Annotated[bool, typer.Option("--typed", help="The same, typed instead of said.")] = False,
    levels: LevelsOption = "quiet,20,10",
    turns: Annotated[int, typer.Option(min=1, help="How often each natural way, with other names.")] = 1,
    jobs: JobsOption = 1,
    fit: Annotated[bool, typer.Option("--fit", help="Fit the weights, on tuning voices only.")] = False,
    write: Annotated[Path, typer.Option(help="With --fit: where to.")] = Path("judge.json"),
    mistakes: Annotated[bool, typer.Option("--mistakes", help="List what was not judged fairly.")] = False,
    keep_as: KeepOption = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Speech and hearings.")] = Path("bench_answers"),
) -> None:
    """Measure how spoken practice answers are judged, on synthesized voices; with --fit, fit the judge.

    With --natural every way of people's own words is said right and wrong, at the levels in turn; or typed.
    """
    from listen.bench import judge as judging
    from listen.bench import judge_fit

    if fit and keep_as:
        raise TraycallError("--keep is for what is measured on test voices; leave --fit or --keep out")
    if fit and side == "test":
        raise TraycallError("nothing is fitted on test voices; leave --side out")
    whose: Side = side or ("tune" if fit else "test")
    if typed:
        marked = judging.typed(whose, turns)
        print(judging.report(marked))
        if mistakes:
            print(judging.mistakes(marked))
        _keep(context, keep_as, judging.counts(marked), engine="none takes part")
        return
    if natural:
        heard = judging.heard_naturally(whose, _levels(levels), turns, adapter, jobs, out)
    else:
        heard = judging.heard(whose, answers, seed, speaker, adapter, jobs, out)
    if fit:
        print(judge_fit.write(judge_fit.fit(heard), heard, write))
    else:
        marked = judging.judged(heard)
        print(judging.report(marked))
        if mistakes:
            print(judging.mistakes(marked))
        if natural:
            settled = judging.once_more(marked, whose, adapter, jobs, out)
            print(f"\nwhat was asked again, said once more:\n{judging.report(settled)}")
            after = judging.counts(settled)
            _keep(context, keep_as, {**judging.counts_by_part(marked), "once more": after})
        else:
            _keep(context, keep_as, judging.counts(marked))


@app.command()
def trial(
    context: typer.Context,
    field: Annotated[list[str] | None, typer.Option(metavar="ID", help="Only these fields.")] = None,
    missed: Annotated[bool, typer.Option("--missed", help="List what went wrong or was missed.")] = False,
    unseen: Annotated[
        bool, typer.Option("--unseen", help="The second set of requests, at which no rule was made.")
    ] = False,
    keep_as: KeepOption = None,
) -> None:
    """Type each field's trial requests into sessions that know all fields (half a minute)."""
    from listen.bench import trial as typed

    of: typed.Set = "unseen" if unseen else "first"
    known = typed.fields(of)
    for wanted in field or ():
        if wanted not in known:
            raise TraycallError(f"there is no trial of {wanted!r}; there are: {', '.join(known)}.")
    sessions = typed.TrialSessions()
    tried = [sessions.tried(one) for name in field or known for one in typed.trials(name, of)]
    counts = typed.tally(tried)
    print(typed.as_text(counts))
    for one in tried if missed else ():
        if one.outcome in ("wrong", "missed", "asked"):
            wanted = " and ".join(" or ".join(sorted(ids)) for ids in one.trial.wanted) or "nothing"
            print(
                f"{one.outcome:7} {one.trial.field}: {one.trial.text!r} is {wanted}; {', '.join(one.items)}"
            )
    sized = {name: {**sessions.size(name), **of} for name, of in counts.items()}
    _keep(context, keep_as, sized, engine="none takes part")


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
    _keep(context, keep_as, {name: k for name, k in counts.items() if name not in ("engine", "latency_ms")})


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


def _keep(context: typer.Context, name: str | None, counts: dict[str, Any], engine: str = "") -> None:
    """Puts what was measured into the figures of the model card, if it got a name."""
    from listen.bench import card

    if name is None:
        return
    if context.params.get("any_code"):
        engine = "hearings of any code"
    card.keep(
        name,
        card.Measured(
            command=_command(context),
            date=date.today(),
            engine=engine or card.engine(context.params.get("adapter")),
            commit=card.commit(),
            counts=counts,
        ),
    )
    print(f"kept as {name}; now run: python -m listen.bench card", file=sys.stderr)


def _command(context: typer.Context) -> str:
    """The command line, with words for this machine's paths, and without what does not change the counts."""
    words = [str(context.info_name)]
    for option in context.command.params:
        source = context.get_parameter_source(str(option.name))
        if (
            source is None
            or source.name != "COMMANDLINE"
            or option.name in ("keep_as", "out", "folder", "jobs")
        ):
            continue
        value = context.params[str(option.name)]
        if isinstance(value, list) and option.metavar is None:
            words += [word for one in value for word in (option.opts[0], f"{one:g}")]
            continue
        words.append(option.opts[0])
        if isinstance(value, Path | list):
            words.append(str(option.metavar))
        elif value is not True:
            words.append(str(value))
    return f"python -m listen.bench {shlex.join(words)}"


def _hear(
    pack: Pack,
    todo: Sequence[Clip],
    rows: Sequence[systems.System],
    folder: Path | None,
    out: Path,
    jobs: int,
    any_code: bool,
    vosk_model: Path | None,
    adapter: Path | None = None,
) -> list[hearings.Record]:
    keep = folder or user_cache_path("traycall", appauthor=False) / "bench"
    spoken = {(c.text, c.voice, c.rate, c.pitch, c.vocal_tract): c for c in todo}
    hearings.prepare([partial(clips_of.speech, clip, keep) for clip in spoken.values()], jobs)
    if any(clip.kind == "babble" for clip in todo):
        murmurs = dict.fromkeys(clip.voice for clip in todo if clip.kind == "babble")
        hearings.prepare([clips_of.babblers(voice, keep) for voice in murmurs], 1)
    engines = dict.fromkeys(row.engine for row in rows)
    ears = [hearings.Ear(name, pack, vosk_model, adapter) for name in engines]
    return hearings.hear(todo, partial(clips_of.sound, folder=keep), ears, out / HEARINGS, jobs, any_code)


def _size(pack: Pack) -> str:
    return f"{len(pack.items)} items, {sum(len(item.names) for item in pack.items)} names"


def _levels(text: str) -> tuple[float | None, ...]:
    try:
        return tuple(None if part.strip() == "quiet" else float(part) for part in text.split(","))
    except ValueError:
        raise TraycallError(f'--levels {text!r}: write dB and "quiet" with commas, as quiet,20,10') from None


if __name__ == "__main__":
    app()
