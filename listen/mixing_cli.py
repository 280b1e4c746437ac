"""`traycall edit try-name`: a name said to the engine in chair noise, and what lint makes of it.

Options in, calls to `listen.mixing` and `vocab.lint`, text out. What came of it is kept beside the layers, so
that `traycall edit lint` and the browser know it, too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from vocab.edit_cli import Desk


def try_name(
    ctx: typer.Context,
    item: Annotated[
        str | None, typer.Argument(metavar="[ITEM]", help="An id, or a name that only it has.")
    ] = None,
    name: Annotated[
        str | None, typer.Argument(metavar="[NAME]", help="None: every name that was added here.")
    ] = None,
) -> None:
    """Say a name with this machine's voices in chair noise, and tell what it would be mixed up with.

    It need not be saved yet. Without a name, all names of the clinic's layers that were never said to this
    engine.
    """
    from listen.chair import cache_folder
    from listen.mixing import check_name, tried
    from listen.neural.engine import NeuralEngine
    from listen.readings import load_calibration
    from vocab.edit_cli import CommandError
    from vocab.lint import lint_name
    from vocab.lint_sounds import Sounds
    from vocab.mixed_up import measured, own_trials
    from vocab.pronounce import Pronouncer

    desk: Desk = ctx.obj()
    if (item is None) != (name is None):
        raise CommandError("give an item and a name for it, or neither")
    ear = desk.ear()
    kept = own_trials(desk.vocabulary.folder, ear)
    if name is not None:
        check_name(name)
    wanted = [(desk.item(item), name)] if item is not None and name is not None else _new_names(desk)
    todo = [(item_id, text) for item_id, text in wanted if kept.of(text, item_id) is None]
    engine = NeuralEngine(desk.pack, cache_folder()) if todo else None
    say, spoken = Pronouncer(), cache_folder() / "names_spoken"
    for item_id, text in todo:
        assert engine is not None
        trials = tried(desk.pack, item_id, text, engine, load_calibration(), say, spoken)
        kept.keep(text, item_id, trials)
    known = measured(desk.pack, desk.vocabulary.folder, ear)
    sounds = Sounds(desk.pack, say, known.cost)
    for item_id, text in wanted:
        with_it = kept.with_tried(known, desk.pack, text, item_id)
        found = lint_name(text, item_id, desk.pack, sounds, with_it)
        print(f"{text} ({desk.pack.item(item_id).name.text})")
        for finding in found:
            print(f"  {finding}")
        if not found:
            print("  taken for no other name")
    if not wanted:
        print("no name was added here yet")


def _new_names(desk: Desk) -> list[tuple[str, str]]:
    shipped = {(item.id, name.text) for item in desk.vocabulary.pack.items for name in item.names}
    held = [(item.id, name.text) for item in desk.pack.items for name in item.names]
    return [one for one in held if one not in shipped]
