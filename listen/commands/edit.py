"""`traycall edit ...`: the clinic's vocabulary from the command line.

Options in, calls to `vocab.layers` and `vocab.lint.findings`, text or JSON out; the browser calls the same
functions. Mistakes are raised as `TraycallError`, which the command line prints.
"""

from __future__ import annotations

import getpass
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any

import typer
import yaml
from pydantic import TypeAdapter, ValidationError
from typer.core import TyperGroup

from listen.chairside.pick_list import kept_from_now
from listen.commands.options import ChangesOption, VocabularyOption
from listen.commands.say import counted, say, tell
from vocab.errors import TraycallError, nearest
from vocab.files import write_atomically
from vocab.layers import bulk, starter
from vocab.layers.changes import (
    FIELDS,
    SENTENCES,
    AddItem,
    AskBack,
    ClearSlot,
    Mean,
    MoveName,
    Operation,
    RemoveName,
    RenameItem,
    RetireItem,
    SetField,
    SetPhotograph,
    SetSlot,
    SetSteps,
    in_words,
)
from vocab.layers.draft import ClinicSettings
from vocab.layers.photographs import Photographs
from vocab.layers.store import CLINIC
from vocab.layers.unknown_words import adopted, suggestions, unknown_words
from vocab.layers.values import plain_value
from vocab.layers.vocabulary import Vocabulary, moved_slot, name_added, open_vocabulary
from vocab.pack.labels import same
from vocab.pack.schema import Name, Pack, Step
from vocab.procedure.order import predicted_order
from vocab.requests.lexicon import Lexicon

PROBLEMS = 1
"""Exit code where it ran, but there is something to put right."""


class CommandError(TraycallError):
    """A command that cannot be carried out as it was given."""


@dataclass(frozen=True)
class Opened:
    """What every command works on. `layer` is the one that is written."""

    vocabulary: Vocabulary
    layer: str
    who: str
    why: str

    @cached_property
    def pack(self) -> Pack:
        """The pack in use."""
        return self.vocabulary.composed().pack

    @cached_property
    def settings(self) -> ClinicSettings:
        """What the clinic said while it was set up."""
        return self.vocabulary.composed().settings

    @cached_property
    def lexicon(self) -> Lexicon:
        """Names to items."""
        return Lexicon(self.pack)

    def called(self, dentist: str) -> str:
        """The name of a dentist with this id."""
        return next((one.name for one in self.settings.dentists if one.id == dentist), dentist)

    def item(self, text: str) -> str:
        """The id of the item that an id or exactly one name stands for."""
        ids = self.pack.by_id
        if text in ids:
            return text
        found = self.lexicon.find(text)
        if self.lexicon.is_name(text) and (len(found) == 1 or found[0].p > 2 * found[1].p):
            return found[0].item
        maybe = ", ".join(self.pack.called[candidate.item] for candidate in found[:3])
        hint = f"; did you mean {maybe}?" if maybe else nearest(text, ids)
        raise CommandError(f"no item, or more than one, is called {text!r}{hint}")

    def kept(self, text: str) -> str:
        """The key of the kit, the tray or the item that a name stands for; see `Taking.key`."""
        for kind, some in (("kit", self.pack.kits), ("tray", self.pack.trays)):
            for one in some:
                if text == one.id or same(text) == same(one.name):
                    return f"{kind}:{one.id}"
        return f"item:{self.item(text)}"

    def to_type(self, item: str) -> str:
        """What to type for an item: its name, or its id where the name is not its alone."""
        name = self.pack.called[item]
        try:
            return f'"{name}"' if self.item(name) == item and '"' not in name else item
        except CommandError:
            return item

    def save(self, *operations: Operation) -> None:
        """Saves the operations and says what they did."""
        now = datetime.now(UTC)
        preview = self.vocabulary.preview(self.layer, operations, self.who, now, self.why)
        composed = self.vocabulary.record(self.layer, operations, self.who, now, self.why)
        number = len(self.vocabulary.store(self.layer).read().layer.changes)
        whose = "" if self.layer == CLINIC else f" for {self.called(self.layer)}"
        for i, line in enumerate(preview.lines, start=number - len(preview.lines) + 1):
            say(f"saved c{i}{whose}: {line}")
        for warning in preview.warnings:
            tell(f"note: {warning}")
        if composed.conflicts and not preview.warnings:
            tell(f"{counted(len(composed.conflicts), 'open conflict')}; see: traycall edit conflicts")


class _EditCommands(TyperGroup):
    """Commands that explain what no change can contain, such as an empty name."""

    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except ValidationError as error:
            detail = error.errors(include_url=False)[0]
            where = " ".join(str(part).replace("_", " ") for part in detail["loc"])
            said = detail["msg"].removeprefix("Value error, ")
            raise CommandError(f"{where}: {said[:1].lower()}{said[1:]}".removeprefix(": ")) from None


app = typer.Typer(
    cls=_EditCommands,
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    help="Change the clinic's or a dentist's own names, trays and procedures, and undo it.",
)
unknown_app = typer.Typer(no_args_is_help=True, help="Words nobody knew yet: asked for, and not known.")
app.add_typer(unknown_app, name="unknown")


@app.callback()
def _desk(
    ctx: typer.Context,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: Annotated[
        str | None, typer.Option(metavar="NAME", help="Change this dentist's own, not the clinic's.")
    ] = None,
    who: Annotated[str | None, typer.Option(metavar="NAME", help="Who is editing. [default: you]")] = None,
    why: Annotated[str, typer.Option(metavar="TEXT", help="Why; kept in the history.")] = "",
) -> None:
    def desk() -> Opened:
        vocabulary = open_vocabulary(pack, layers, dentist)
        for said in vocabulary.recovered():
            tell(f"note: {said}")
        return Opened(vocabulary, vocabulary.dentist or CLINIC, who or getpass.getuser(), why)

    ctx.obj = desk


ItemArgument = Annotated[str, typer.Argument(metavar="ITEM", help="A name that no other item has.")]
NameArgument = Annotated[str, typer.Argument(metavar="NAME", help="A name, as it is said.")]
TrayArgument = Annotated[str, typer.Argument(metavar="TRAY", help="A tray's id; `traycall tray` lists them.")]
SlotArgument = Annotated[str, typer.Argument(metavar="SLOT", help="A slot's address, such as 7.")]
SayOption = Annotated[
    list[str] | None,
    typer.Option("--say", metavar="TEXT", help="How it is said, if the spelling does not show it."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object a line.")]


# --- names and items --------------------------------------------------------------------------------


@app.command()
def add_name(
    ctx: typer.Context,
    item: ItemArgument,
    name: NameArgument,
    say: SayOption = None,
    shared: Annotated[
        bool, typer.Option("--shared", help="Other items have it too; whoever says it is asked which.")
    ] = False,
) -> None:
    """Add a synonym to an item."""
    desk: Opened = ctx.obj()
    new = Name(text=name, say=tuple(say or ()), shared=shared)
    desk.save(*name_added(desk.pack, desk.item(item), new))


@app.command()
def remove_name(ctx: typer.Context, item: ItemArgument, name: NameArgument) -> None:
    """Take a synonym from an item."""
    desk: Opened = ctx.obj()
    desk.save(RemoveName(item=desk.item(item), name=name))


@app.command()
def move_name(
    ctx: typer.Context,
    name: NameArgument,
    source: Annotated[str, typer.Argument(metavar="FROM", help="The item that has the name.")],
    target: Annotated[str, typer.Argument(metavar="TO", help="The item that is to have it.")],
) -> None:
    """Move a name from one item to another."""
    desk: Opened = ctx.obj()
    desk.save(MoveName(name=name, source=desk.item(source), item=desk.item(target)))


@app.command(short_help="Let a name mean an item, whatever it meant before.")
def mean(ctx: typer.Context, name: NameArgument, item: ItemArgument) -> None:
    """Let a name mean an item, whatever it meant before; with --dentist, for that dentist only."""
    desk: Opened = ctx.obj()
    desk.save(Mean(name=name, item=desk.item(item)))


@app.command()
def rename(
    ctx: typer.Context,
    item: ItemArgument,
    name: NameArgument,
    drop_old: Annotated[bool, typer.Option("--drop-old", help="Do not keep the old name.")] = False,
) -> None:
    """Give an item another preferred name."""
    desk: Opened = ctx.obj()
    desk.save(RenameItem(item=desk.item(item), name=Name(text=name), keep_old=not drop_old))


@app.command(short_help="Add an item.")
def add_item(
    ctx: typer.Context,
    item_id: Annotated[str, typer.Argument(metavar="ID", help="Its id from now on, such as gingival_knife.")],
    name: NameArgument,
    item_class: Annotated[
        str, typer.Option("--class", metavar="CLASS", help="Its kind, such as examination.")
    ],
    purpose: Annotated[str, typer.Option(metavar="TEXT", help="What it is for, in a sentence.")],
    look: Annotated[str, typer.Option(metavar="TEXT", help="What it looks like, in a sentence.")],
    reprocessing: Annotated[
        str, typer.Option(metavar="TEXT", help="What becomes of it, such as single use.")
    ],
) -> None:
    """Add an item; its other fields can be set afterwards, or all at once with import."""
    desk: Opened = ctx.obj()
    row = {
        "item": item_id,
        "name": name,
        "kind": "preferred",
        "class": item_class,
        "purpose": purpose,
        "look": look,
        "reprocessing": reprocessing,
    }
    if item_id in desk.pack.by_id:
        raise CommandError(f"there is an item {item_id!r} already; choose another id")
    read = bulk.read_names_csv(bulk.rows_csv([row]), desk.pack)
    if read.problems:
        raise CommandError("\n".join(f"{p.column}: {p.message}" for p in read.problems))
    desk.save(*(operation for operation in read.operations if isinstance(operation, AddItem)))


@app.command(short_help="Take an item out of use.")
def retire(ctx: typer.Context, item: ItemArgument) -> None:
    """Retire an item: it leaves the look-up, the trays and the steps."""
    desk: Opened = ctx.obj()
    desk.save(RetireItem(item=desk.item(item)))


@app.command(short_help="Set one field of an item, such as its look.")
def set_field(
    ctx: typer.Context,
    item: ItemArgument,
    field: Annotated[str, typer.Argument(metavar="FIELD", help="Its name in a vocabulary's files.")],
    value: Annotated[str, typer.Argument(metavar="VALUE", help="As those files would give it.")],
) -> None:
    """Set one field of an item, such as look, sharp, handing, variants or cautions."""
    desk: Opened = ctx.obj()
    if field not in FIELDS:
        known = f"there is no such field to set{nearest(field, FIELDS)}; fields: {', '.join(FIELDS)}"
        raise CommandError(known)
    given: object = value
    if field not in SENTENCES and not (field == "handing" and not value.lstrip().startswith("{")):
        given = plain_value(value, "the value")
    desk.save(SetField(item=desk.item(item), field=field, value=given))


@app.command(short_help="Always ask which of two items is meant.")
def ask_back(
    ctx: typer.Context,
    item: ItemArgument,
    other: Annotated[str, typer.Argument(metavar="OTHER", help="The item it may be mistaken for.")],
) -> None:
    """Always ask back where one of two items may have been said for the other."""
    desk: Opened = ctx.obj()
    desk.save(AskBack(items=(desk.item(item), desk.item(other))))


@app.command()
def photograph(
    ctx: typer.Context,
    item: ItemArgument,
    file: Annotated[Path | None, typer.Argument(metavar="FILE", help="A PNG, JPEG or WebP file.")] = None,
    remove: Annotated[bool, typer.Option("--remove", help="Remove the one it has.")] = False,
) -> None:
    """Add the clinic's own photograph of an item, or remove it. No patients, no faces, no logos."""
    desk: Opened = ctx.obj()
    wanted = desk.item(item)
    if (file is None) is not remove:
        raise CommandError("give either the FILE of a photograph or --remove")
    if file is None:
        if desk.settings.photograph_of(wanted) is None:
            raise CommandError(f"{desk.pack.called[wanted]} has no photograph")
        return desk.save(SetPhotograph(item=wanted))
    try:
        raw = file.read_bytes()
    except OSError as error:
        raise CommandError(f"{file} cannot be read ({error.strerror or error}); give another file") from None
    desk.save(SetPhotograph(item=wanted, file=Photographs(desk.vocabulary.folder).add(raw)))


@app.command(short_help="Say where a kit, an item or a tray's pack is kept.")
def keep(
    ctx: typer.Context,
    what: Annotated[
        str, typer.Argument(metavar="WHAT", help="A kit, a tray (for its pack) or an item, by its name.")
    ],
    place: Annotated[
        str | None, typer.Argument(metavar="PLACE", help='Such as "cupboard 2, top drawer".')
    ] = None,
    forget: Annotated[bool, typer.Option("--forget", help="Say no longer where it is kept.")] = False,
) -> None:
    """Say where something is kept between patients; pick lists are grouped by it."""
    desk: Opened = ctx.obj()
    if (place is None) is not forget:
        raise CommandError("give either the PLACE where it is kept or --forget")
    changes = kept_from_now([desk.kept(what)], place, desk.pack, desk.settings)
    if changes:
        desk.save(*changes)
    else:
        say("nothing to change")


# --- trays ------------------------------------------------------------------------------------------


@app.command()
def set_slot(
    ctx: typer.Context,
    tray: TrayArgument,
    slot: SlotArgument,
    item: ItemArgument,
    row: Annotated[str | None, typer.Option(metavar="NAME", help="For a new slot: its row.")] = None,
    count: Annotated[int, typer.Option(metavar="N", min=1, max=9999, help="How many are in it.")] = 1,
    variants: Annotated[
        str, typer.Option(metavar="TEXT", help="The sizes or patterns in it, with commas between.")
    ] = "",
) -> None:
    """Set what is in a slot."""
    desk: Opened = ctx.obj()
    known = desk.pack.item(desk.item(item))
    which = bulk.variants_said(variants, known)
    desk.save(SetSlot(tray=tray, at=slot, item=known.id, row=row, count=count, variants=which))


@app.command()
def clear_slot(ctx: typer.Context, tray: TrayArgument, slot: SlotArgument) -> None:
    """Take a slot off a tray."""
    desk: Opened = ctx.obj()
    desk.save(ClearSlot(tray=tray, at=slot))


@app.command(short_help="Move what is in a slot to another.")
def move_slot(
    ctx: typer.Context,
    tray: TrayArgument,
    source: Annotated[str, typer.Argument(metavar="FROM", help="The slot it is in.")],
    target: Annotated[str, typer.Argument(metavar="TO", help="The slot it moves to.")],
) -> None:
    """Move the contents of a slot to another; two filled slots swap places."""
    desk: Opened = ctx.obj()
    desk.save(*moved_slot(desk.pack, tray, source, target))


@app.command(short_help="Set, or print, the steps of a procedure.")
def steps(
    ctx: typer.Context,
    procedure: Annotated[str, typer.Argument(metavar="PROCEDURE", help="A procedure's id.")],
    file: Annotated[
        Path | None,
        typer.Argument(metavar="FILE", help="A YAML list of steps; leave out to print the present ones."),
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Save; without it only the preview is shown.")] = False,
) -> None:
    """Set the steps of a procedure; the preview shows how the usual order of items changes."""
    desk: Opened = ctx.obj()
    known = next((p for p in desk.pack.procedures if p.id == procedure), None)
    if known is None:
        ids = [p.id for p in desk.pack.procedures]
        raise CommandError(
            f"no procedure is called {procedure!r}{nearest(procedure, ids)}; there are: {', '.join(ids)}"
        )
    if file is None:
        plain = [step.model_dump(mode="json", exclude_defaults=True) for step in known.steps]
        print(yaml.safe_dump(plain, allow_unicode=True, sort_keys=False, width=110), end="")
        return
    operation = SetSteps(procedure=procedure, steps=_steps(file))
    preview = desk.vocabulary.preview(desk.layer, [operation], desk.who, datetime.now(UTC), desk.why)
    if not preview.troubles:
        for when, pack in (("before: ", desk.pack), ("after:  ", preview.composed.pack)):
            names = (pack.called[item] for item in predicted_order(pack, procedure))
            say(f"usual order {when}{', '.join(names)}")
    if yes or preview.troubles:
        desk.save(operation)
    else:
        say("not saved yet: add --yes to save")


def _steps(file: Path) -> tuple[Step, ...]:
    try:
        return TypeAdapter(tuple[Step, ...]).validate_python(_read(file))
    except ValidationError as error:
        detail = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in detail["loc"]) or "the file"
        raise CommandError(
            f"{file}: {where}: {detail['msg']}; write a list of steps as `steps` prints it"
        ) from None


# --- history ----------------------------------------------------------------------------------------


@app.command()
def history(ctx: typer.Context, as_json: JsonOption = False) -> None:
    """List every change: by whom, when and why."""
    from listen.commands import show

    desk = _of(ctx)
    entries = desk.vocabulary.history()
    for entry in entries if as_json else ():
        change = entry.change.model_dump(mode="json", by_alias=True, exclude_none=True)
        print(json.dumps({"layer": entry.layer, "counts": entry.counts, **change}, ensure_ascii=False))
    if not as_json:
        show.out(show.history(entries, {d.id: d.name for d in desk.settings.dentists}))


@app.command()
def undo(
    ctx: typer.Context,
    change: Annotated[str, typer.Argument(metavar="CHANGE", help="Its number, such as c3; see history.")],
) -> None:
    """Take back one change; the history keeps both."""
    desk: Opened = ctx.obj()
    done = desk.vocabulary.store(desk.layer).read().layer.change(change)
    called = desk.pack.called
    composed = desk.vocabulary.undo(desk.layer, change, desk.who, datetime.now(UTC), desk.why)
    say(f"{change} no longer applies: it {in_words(done.do, called) if done else 'did nothing'}")
    for conflict in composed.conflicts:
        tell(f"note: {conflict}")


@app.command(short_help="List what is to be decided.")
def conflicts(ctx: typer.Context, as_json: JsonOption = False) -> None:
    """List what is to be decided: changes that disagree, or do not fit a newer vocabulary.

    Exit code 1 if there is any.
    """
    from listen.commands import show

    found = ctx.obj().vocabulary.composed().conflicts
    if as_json:
        for conflict in found:
            print(json.dumps(asdict(conflict), ensure_ascii=False))
    else:
        show.out(show.conflict_list(found))
    raise typer.Exit(PROBLEMS if found else 0)


# --- in bulk ----------------------------------------------------------------------------------------


@app.command("export")
def export_(
    ctx: typer.Context,
    what: Annotated[str, typer.Argument(metavar="names|trays|yaml", help="What is written.")],
    file: Annotated[
        Path | None, typer.Argument(metavar="FILE", help="Where. [default: standard output]")
    ] = None,
) -> None:
    """Write names or trays as CSV, or everything as YAML."""
    writers = {"names": bulk.names_csv, "trays": bulk.trays_csv, "yaml": bulk.as_yaml}
    if what not in writers:
        raise CommandError(f"{what!r} cannot be exported; choose names, trays or yaml")
    text = writers[what](ctx.obj().pack)
    if file is None:
        print(text, end="")
    else:
        write_atomically(file, text.encode())


@app.command("import", short_help="Read names or trays from a file.")
def import_(
    ctx: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A .csv of names or trays, or a .yaml.")],
    yes: Annotated[bool, typer.Option("--yes", help="Save; without it only the preview is shown.")] = False,
) -> None:
    """Show what a file would change and every problem by row; with --yes save it, all or nothing."""
    desk: Opened = ctx.obj()
    raw = file.read_bytes()
    if len(raw) > bulk.LARGEST_FILE:
        raise CommandError(f"{file} has {len(raw):,} bytes, and at most {bulk.LARGEST_FILE:,} are read")
    if file.suffix.lower() in (".yaml", ".yml"):
        read = bulk.read_yaml(raw, desk.pack)
    elif b"slot" in raw.split(b"\n", 1)[0].lower():
        read = bulk.read_trays_csv(raw, desk.pack)
    else:
        read = bulk.read_names_csv(raw, desk.pack)
    problems = read.problems
    now = datetime.now(UTC)
    if read.operations:
        preview = desk.vocabulary.preview(desk.layer, read.operations, desk.who, now, desk.why)
        problems = read.with_troubles(preview)
        for row, line in zip(read.rows, preview.lines, strict=True):
            say(f"row {row}: {line}")
        for warning in preview.warnings:
            tell(f"note: {warning}")
    for problem in problems:
        tell(f"{file}: {problem}")
    if problems:
        tell(f"{counted(len(problems), 'problem')}; nothing was saved")
        raise typer.Exit(PROBLEMS)
    if not read.operations:
        say("nothing to change")
    elif yes:
        desk.vocabulary.record(desk.layer, read.operations, desk.who, now, desk.why)
        say(f"{counted(len(read.operations), 'change')} saved")
    else:
        say(f"{counted(len(read.operations), 'change')}, not saved yet: add --yes to save")


# --- looking over -------------------------------------------------------------------------------------------


@app.command(short_help="Say what may go wrong with a name, a tray or a procedure.")
def look_over(
    ctx: typer.Context,
    fail_on: Annotated[
        str,
        typer.Option(metavar="high|medium|low|never", help="The least that gives exit code 1."),
    ] = "high",
    as_json: JsonOption = False,
) -> None:
    """Look over names, trays and procedures for what may go wrong at the chair, with what helps.

    Exit code 1 from --fail-on upwards.
    """
    from listen.commands import show
    from vocab.lint.findings import Severity, lint

    order = [*(severity.value for severity in Severity), "never"]
    if fail_on not in order:
        raise CommandError(f"--fail-on is {fail_on!r}; choose {', '.join(order)}")
    desk: Opened = ctx.obj()
    found = lint(desk.pack)
    if as_json:
        for finding in found:
            print(json.dumps(asdict(finding), ensure_ascii=False))
    else:
        show.out(show.finding_list(found, desk.to_type))
    failing = order[: order.index(fail_on) + 1] if fail_on != "never" else []
    raise typer.Exit(PROBLEMS if any(f.severity.value in failing for f in found) else 0)


# --- beginning --------------------------------------------------------------------------------------


@app.command()
def new_vocabulary(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A folder that is new.")],
    field: Annotated[str, typer.Argument(metavar="FIELD", help="Such as endodontics.")],
) -> None:
    """Begin a vocabulary for another field of dentistry."""
    for file in starter.new_pack(folder, field):
        print(file)
    say(f"Read the guide at the top of {folder / 'pack.yaml'}; check with: traycall check {folder}")


@app.command(short_help="Set up the clinic: questions to answer in a file.")
def clinic(
    ctx: typer.Context,
    answers: Annotated[
        Path | None, typer.Argument(metavar="ANSWERS", help="A YAML file, question id: answers.")
    ] = None,
) -> None:
    """Set up the clinic: without a file, write the questions as YAML; with one, save the answers."""
    desk: Opened = ctx.obj()
    if answers is None:
        for question in starter.first_hour(desk.pack, desk.settings):
            choose = "; ".join(f"{value} ({label})" for value, label in question.choices)
            example = f"for example {question.example}" if question.example else ""
            hint = " - ".join(part for part in (choose, example) if part)
            print(f"# {question.text}{f'  [{hint}]' if hint else ''}\n{json.dumps(question.id)}: []")
        return
    operations = starter.answered(desk.pack, _answers(answers), desk.settings)
    if operations:
        desk.save(*operations)
    else:
        say("nothing to change")


def _answers(file: Path) -> dict[str, Sequence[str]]:
    data = _read(file)
    if not isinstance(data, dict):
        raise CommandError(f"{file}: write one line for each question, its id and a list of answers")
    return {
        str(question): [
            str(one) for one in (given if isinstance(given, list) else [given]) if one is not None
        ]
        for question, given in data.items()
    }


def _read(file: Path) -> Any:
    try:
        return plain_value(file.read_text(encoding="utf-8"), str(file))
    except UnicodeDecodeError as error:
        raise CommandError(f"{file} is not a YAML file: {' '.join(str(error).split())}") from None


# --- unknown words ----------------------------------------------------------------------------------


@unknown_app.command("on")
def unknown_on(ctx: typer.Context) -> None:
    """Start to keep names that were asked for and not known."""
    unknown_words(_of(ctx).vocabulary).switch(True)
    say("names that are asked for and not known are kept; nothing else is")


@unknown_app.command("off")
def unknown_off(ctx: typer.Context) -> None:
    """Stop, and delete what was kept."""
    unknown_words(_of(ctx).vocabulary).switch(False)
    say("nothing is kept, and what was kept is deleted")


@unknown_app.command("list")
def unknown_list(ctx: typer.Context) -> None:
    """List the names, the most frequent first, with what each may mean."""
    from listen.commands import show

    desk = _of(ctx)
    called = desk.pack.called
    rows = [
        (
            entry.text,
            str(entry.times),
            ", ".join(called[candidate.item] for candidate in suggestions(entry.text, desk.lexicon)[:3]),
        )
        for entry in unknown_words(desk.vocabulary).entries()
    ]
    show.out(show.listing(("asked for", "times", "perhaps"), rows, (1,), nothing="None so far."))


@unknown_app.command("adopt")
def unknown_adopt(ctx: typer.Context, name: NameArgument, item: ItemArgument) -> None:
    """Make an unknown name a synonym of an item."""
    desk = _of(ctx)
    desk.save(adopted(name, desk.item(item)))
    unknown_words(desk.vocabulary).drop(name)


@unknown_app.command("drop")
def unknown_drop(ctx: typer.Context, name: NameArgument) -> None:
    """Take a name off the list."""
    unknown_words(_of(ctx).vocabulary).drop(name)


def _of(ctx: typer.Context) -> Opened:
    desk: Opened = ctx.obj()
    return desk
