"""What the commands share: the application, options that several take, hearing, and keeping counts."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Sequence
from contextlib import suppress
from datetime import date
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer
from platformdirs import user_cache_path
from typer.core import TyperGroup

from listen.bench import clips as clips_of
from listen.bench import hearings, systems
from listen.bench.clips import Clip
from listen.speech.voices import Kind, Side
from vocab.errors import TraycallError
from vocab.pack.schema import Pack

HEARINGS = "hearings.jsonl"

PEERS = "neural,neural-text,sphinx-text,sphinx-grammar"


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

VoicesOption = Annotated[
    Kind, typer.Option("--voices", help="Of people, styles of the Kokoro network, or rule-made.")
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

AdapterOption = Annotated[
    Path | None, typer.Option(metavar="FILE", help="Hear with this one in place of the shipped one.")
]

AnyCodeOption = Annotated[
    bool, typer.Option("--any-code", help="Take up hearings of other code or another pack, too.")
]

VocabularyOption = Annotated[
    str,
    typer.Option("--vocabulary", metavar="NAME|FOLDER", help="One that comes with traycall, or a folder."),
]

VoskOption = Annotated[Path | None, typer.Option(metavar="FOLDER", help="An English Vosk model.")]


def nameable(name: str | None) -> str | None:
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
        callback=nameable,
        help="Put the counts under this name into the figures of the model card; then: card.",
    ),
]

AllFieldsOption = Annotated[
    bool, typer.Option("--all-fields", help="Hear it as a session does that knows every field's items.")
]


def known_pack(pack: Pack, all_fields: bool) -> Pack:
    """The pack, or the pack with the items of all fields in its language."""
    if not all_fields:
        return pack
    from vocab.pack.load import shipped_languages, shipped_pack
    from vocab.pack.widen import widened

    names = (name for name, language in shipped_languages().items() if language == pack.language)
    return widened(pack, map(shipped_pack, names))


def keep_counts(context: typer.Context, name: str | None, counts: dict[str, Any], engine: str = "") -> None:
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


def hear_clips(
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
    keep = spoken_folder(folder)
    spoken = {(c.text, c.voice, c.rate, c.pitch, c.vocal_tract): c for c in todo}
    hearings.prepare([partial(clips_of.speech, clip, keep) for clip in spoken.values()], jobs)
    if any(clip.kind == "babble" for clip in todo):
        murmurs = dict.fromkeys(clip.voice for clip in todo if clip.kind == "babble")
        hearings.prepare([clips_of.babblers(voice, keep) for voice in murmurs], 1)
    engines = dict.fromkeys(row.engine for row in rows)
    ears = [hearings.Ear(name, pack, vosk_model, adapter) for name in engines]
    return hearings.hear(todo, partial(clips_of.sound, folder=keep), ears, out / HEARINGS, jobs, any_code)


def spoken_folder(folder: Path | None) -> Path:
    """Where spoken sentences are kept."""
    return folder or user_cache_path("traycall", appauthor=False) / "bench"


def size_of(pack: Pack) -> str:
    return f"{len(pack.items)} items, {sum(len(item.names) for item in pack.items)} names"


def levels_db(text: str) -> tuple[float | None, ...]:
    try:
        return tuple(None if part.strip() == "quiet" else float(part) for part in text.split(","))
    except ValueError:
        raise TraycallError(f'--levels {text!r}: write dB and "quiet" with commas, as quiet,20,10') from None
